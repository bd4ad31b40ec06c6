"""The finished painting by address: photos taken in or refused, squared, and taken along."""

import contextlib
import http.client
import io
import json
import zipfile
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.web.asking import cup, ended, refusal, told
from tests.web.photographed import cup_photo, painting_photo, plan_in
from tests.web.serving import Served, running
from tests.worksheet.small import copied, cup_png

CORNERS = [[0.1, 0.1], [0.9, 0.12], [0.88, 0.9], [0.12, 0.9]]
BYTES = {"Content-Type": "application/octet-stream"}


@pytest.fixture(scope="module")
def photo_and_served(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[bytes, Served]]:
    folder = copied(tmp_path_factory.mktemp("finished"))
    photo = painting_photo(plan_in(folder))
    with running(folder) as served:
        yield photo, served


@pytest.fixture
def served(photo_and_served: tuple[bytes, Served]) -> Served:
    return photo_and_served[1]


@pytest.fixture
def photo(photo_and_served: tuple[bytes, Served]) -> bytes:
    return photo_and_served[0]


def path_of(served: Served) -> str:
    return f"/api/paintings/{cup(served)['id']}/finished"


def bring(served: Served, photo: bytes) -> Any:
    """A photo sent as the page sends it."""
    return served.client.post(f"{path_of(served)}/photo", content=photo, headers=BYTES)


def squared(served: Served, corners: Any = None) -> dict[str, Any]:
    """How the work ended."""
    body = {"base": cup(served)["revision"], "corners": corners}
    return ended(served, told(served.client.post(path_of(served), json=body))["job"])


def test_a_photo_is_squared_and_kept(served: Served, photo: bytes) -> None:
    path = path_of(served)
    said = {"title": "A cup", "painter": "A. Painter", "year": "2025", "remark": ""}
    assert told(served.client.put(f"{path}/caption", json=said))["caption"] == said
    assert told(bring(served, photo))["photo"]
    assert squared(served)["ended"]["result"]["lost"] == ""
    there = told(served.client.get(path))
    assert (there["ready"], there["fresh"], there["seen"], there["lost"]) == (True, True, True, "")
    assert there["line"].startswith("A. Painter, A cup, 2025. Transparent watercolour")
    assert there["line"] not in there["notes"]
    assert there["notes"]
    shown = served.client.get(f"{path}/pictures/painting.jpg")
    with Image.open(io.BytesIO(shown.content)) as picture:
        assert picture.size[0] / picture.size[1] == pytest.approx(15 / 11, abs=0.02)
        assert max(picture.size) <= 1600
    zipped = served.client.get(f"{path}/finished.zip")
    assert "a-cup.zip" in zipped.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(zipped.content)) as packed:
        assert packed.testzip() is None
        names = {"finished.txt", "label.pdf", "painting.jpg", "sheet.jpg"}
        assert set(packed.namelist()) == names
        assert there["line"] in packed.read("finished.txt").decode()
    changed = told(served.client.put(f"{path}/caption", json={**said, "year": "2026"}))
    assert changed["ready"]
    assert not changed["fresh"]  # the line says another year


def test_without_its_sheet_the_one_before_stays_until_corners_are_touched(
    served: Served, photo: bytes
) -> None:
    path = path_of(served)
    bring(served, photo)
    squared(served)
    before = told(served.client.get(path))["made"]
    taken = told(bring(served, cup_photo()))
    assert (taken["seen"], taken["ready"]) == (False, True)
    assert "four edges" in squared(served)["ended"]["result"]["lost"]
    there = told(served.client.get(path))
    assert "four edges" in there["lost"]
    assert (there["seen"], there["made"], there["corners"]) == (True, before, None)
    assert squared(served, CORNERS)["ended"]["result"]["lost"] == ""
    there = told(served.client.get(path))
    assert there["lost"] == ""
    assert there["made"] != before
    assert (there["corners"], there["touched"]) == (CORNERS, True)


def test_corners_found_are_told_and_make_the_same_picture(served: Served, photo: bytes) -> None:
    path = path_of(served)
    bring(served, photo)
    squared(served)
    there = told(served.client.get(path))
    assert not there["touched"]
    found = np.array(there["corners"])
    first = served.client.get(f"{path}/pictures/painting.jpg").content
    squared(served, there["corners"])
    second = served.client.get(f"{path}/pictures/painting.jpg").content
    one, other = (grey(data) for data in (first, second))
    assert found.sum(axis=1).argmin() == 0  # the photo's upper left first, however it was held
    assert found.min() > 0
    assert found.max() < 1
    # The edges are looked for again from the touches: the same to a fraction of a pixel.
    assert np.abs(one - other).mean() < 2.0


def grey(data: bytes) -> Any:
    """A picture 150 × 110 in grey levels."""
    with Image.open(io.BytesIO(data)) as picture:
        return np.asarray(picture.convert("L").resize((150, 110)), float)


def test_corners_that_make_no_sheet_are_said_to(served: Served) -> None:
    bring(served, cup_photo())
    crossed = [CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]]
    assert "upper left first" in squared(served, crossed)["ended"]["result"]["lost"]


@pytest.mark.parametrize(
    "corners",
    [CORNERS[:3], [*CORNERS, CORNERS[0]], [[0, 0], [1, 0], [1, 2], [0, 1]], "all", [[0], 1, 2, 3]],
)
def test_wrong_corners_are_refused(served: Served, corners: Any) -> None:
    bring(served, cup_photo())
    body = {"base": cup(served)["revision"], "corners": corners}
    refusal(served.client.post(path_of(served), json=body), 422)


def damaged() -> bytes:
    return cup_photo()[:40]


def huge() -> bytes:
    """A PNG whose head says 40 000 × 40 000."""
    png = bytearray(cup_png())
    png[16:24] = (40_000).to_bytes(4, "big") * 2
    return bytes(png)


HOSTILE = {
    "nothing": b"",
    "words": b"no picture at all, only words" * 4,
    "a zip": b"PK\x03\x04" + bytes(60),
    "damaged": damaged(),
    "huge": huge(),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_photo_is_refused_and_nothing_is_lost(
    served: Served, photo: bytes, name: str
) -> None:
    told(bring(served, photo))
    before = told(served.client.get(path_of(served)))
    refusal(bring(served, HOSTILE[name]), 400)
    assert told(served.client.get(path_of(served))) == before
    assert not list(served.services.uploads().iterdir())


def test_more_than_fits_is_refused_before_it_is_sent(served: Served) -> None:
    most = served.services.settings.photo_bytes
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", served.port)) as line:
        line.putrequest("POST", f"{path_of(served)}/photo")
        told_of = {"Content-Length": str(most + 1), "Origin": served.url}
        for name, value in {**BYTES, **told_of, "X-Firstwash-Token": served.token}.items():
            line.putheader(name, value)
        line.endheaders()
        answer = line.getresponse()
        assert answer.status == 413
        assert "smaller file" in json.loads(answer.read())["error"]["sentence"]


def test_without_a_plan_or_a_photo_there_is_nothing_to_square(served: Served) -> None:
    made = told(served.client.post("/api/paintings", content=cup_png(), headers=BYTES))
    path = f"/api/paintings/{made['id']}/finished"
    refusal(served.client.post(f"{path}/photo", content=cup_photo(), headers=BYTES))
    refusal(served.client.post(path, json={"base": made["revision"]}))
    assert told(served.client.get(path))["caption"]["title"] == "Untitled"
    for name in ("finished.zip", "pictures/painting.jpg", "pictures/photo.jpg"):
        refusal(served.client.get(f"{path}/{name}"), 404)
    refusal(served.client.get(f"{path}/pictures/caption.json"), 422)


def test_what_is_said_of_it_is_checked(served: Served) -> None:
    path = f"{path_of(served)}/caption"
    assert "Shorten" in refusal(served.client.put(path, json={"title": "x" * 121}))
    refusal(served.client.put(path, json={"title": "x" * 401}), 422)
    refusal(served.client.put(path, json={"titel": "x"}), 422)


def test_the_photo_forgets_where_it_was_taken(served: Served) -> None:
    exif = Image.Exif()
    exif[0x010E] = "the kitchen at home"
    out = io.BytesIO()
    with Image.open(io.BytesIO(cup_photo())) as picture:
        picture.save(out, "JPEG", exif=exif)
    told(bring(served, out.getvalue()))
    folder = served.services.folder / "finished" / cup(served)["id"]
    kept = list(folder.glob("photo-*"))
    assert len(kept) == 1  # and the photos before are gone
    assert b"kitchen" not in kept[0].read_bytes()


def test_what_belongs_to_deleted_paintings_goes(served: Served) -> None:
    stray = served.services.folder / "finished" / "gone"
    stray.mkdir(parents=True)
    for work in served.services.when_idle:
        work()
    assert not stray.exists()
