"""Pictures by address: the right ones kept for ever, and nothing else under any name."""

import io
from collections.abc import Iterator

import pytest
from PIL import Image
from tests.web.asking import cup, refusal, told, with_cup
from tests.web.serving import Served


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def scene(served: Served, name: str, width: int = 300) -> str:
    one = cup(served)
    return f"/prints/{one['id']}/scene/{one['scene']}/{name}?w={width}"


def plan(served: Served, name: str, width: int = 300) -> str:
    one = cup(served)
    return f"/prints/{one['id']}/plan/{one['plan']['stamp']}/{name}?w={width}"


SEEN = ["reference", "photo-0", "squint-40", "values-5-20", "hue", "whites", "background"]


@pytest.mark.parametrize("name", SEEN)
def test_pictures_of_the_scene(served: Served, name: str) -> None:
    for _ in range(2):  # drawn, then kept
        answer = served.client.get(scene(served, name))
        assert answer.status_code == 200
        assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
        with Image.open(io.BytesIO(answer.content)) as image:
            assert Image.MIME[str(image.format)] == answer.headers["content-type"]
            assert max(image.size) <= 300


@pytest.mark.parametrize(
    ("name", "kind"),
    [("stage-0", "image/jpeg"), ("finished", "image/jpeg"), ("cells", "image/png"),
     ("difference", "image/png"), ("outline", "image/svg+xml"), ("map-1", "image/svg+xml"),
     ("wash-1-1", "image/svg+xml")],
)  # fmt: skip
def test_pictures_of_the_plan(served: Served, name: str, kind: str) -> None:
    answer = served.client.get(plan(served, name))
    assert answer.status_code == 200
    if name != "difference":  # whichever is smaller
        assert answer.headers["content-type"] == kind
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


NAMES = ["", "nothing", "photo-9", "stage-99", "map-0", "wash-9-9", "..", "..%2f..%2fpaintings.db",
         "%2e%2e%2f%2e%2e%2fetc%2fpasswd", "finished.jpg", "stage-1%00", "<script>", "%0d%0aX:%20y",
         "a" * 3000, "☃", "finished%20", "FINISHED", "-1", "con", "stage-%D9%A1"]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_is_none_is_refused(served: Served, name: str) -> None:
    for address in (scene(served, name), plan(served, name)):
        answer = served.client.get(address)
        refusal(answer, 400, 404)
        assert "x" not in answer.headers
        assert answer.headers["cache-control"] == "no-store"


def test_a_stamp_that_is_none_is_not_found(served: Served) -> None:
    one = cup(served)
    for stamp in ("0" * 16, "..", "%2e%2e", "nothing", one["scene"].upper() + "x", "☃", "a" * 3000):
        for kind in ("scene", "plan"):
            refusal(served.client.get(f"/prints/{one['id']}/{kind}/{stamp}/finished"), 404)
    # A stamp of the scene is none of the plan, nor the other way round.
    refusal(served.client.get(f"/prints/{one['id']}/plan/{one['scene']}/finished"), 404)
    refusal(served.client.get(f"/prints/{one['id']}/scene/{one['plan']['stamp']}/hue"), 404)
    for painting in ("nothing", "..", "%00"):
        refusal(served.client.get(f"/prints/{painting}/scene/{one['scene']}/hue"), 404)


@pytest.mark.parametrize("width", ["0", "-1", "39", "2401", "1e3", "9" * 400, "", "x", "NaN"])
def test_a_width_nobody_needs_is_refused(served: Served, width: str) -> None:
    address = scene(served, "reference").partition("?")[0]
    refusal(served.client.get(address, params={"w": width}), 422)


def test_pictures_of_an_earlier_revision_are_still_shown(served: Served) -> None:
    """The page may ask for a picture of what it still shows while another tab goes on."""
    one = cup(served)
    other = {**one["brief"]["scene"], "focal": [0.1, 0.1, 0.3, 0.3]}
    body = {"base": one["revision"], "words": "Focal", "scene": other}
    now = told(served.client.post(f"/api/paintings/{one['id']}/change", json=body))
    assert now["scene"] != one["scene"]
    old = f"/prints/{one['id']}/scene/{one['scene']}/squint-33?w=200"
    assert served.client.get(old).status_code == 200
    assert served.client.get(scene(served, "squint-33")).status_code == 200
    told(served.client.post(f"/api/paintings/{one['id']}/back", json={"base": now["revision"]}))
    ahead = f"/prints/{one['id']}/scene/{now['scene']}/squint-34?w=200"
    assert served.client.get(ahead).status_code == 200  # stepped back, not forgotten


def test_nothing_is_written_under_a_name_that_is_none(served: Served) -> None:
    folder = served.services.folder / "prints"
    named = [p.name for p in folder.rglob("*") if p.is_file()]
    assert named
    assert all(n.split(".")[1].isdigit() and n.count(".") == 2 for n in named)
    assert not list(folder.rglob("*passwd*"))
