"""A painting over the wire: made, changed, planned, stepped back; and what is refused."""

import io
import json
import threading
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import httpx
import numpy as np
import pytest
from PIL import Image
from tests.web.asking import JSON, cup, ended, history, refusal, told, with_cup
from tests.web.serving import Served
from tests.worksheet.small import cup_png, png

from firstwash.web.jobs import Job

PHOTO = {"Content-Type": "application/octet-stream"}


@pytest.fixture(scope="module")
def shared() -> Iterator[Served]:
    """For tests that leave the cup as it is."""
    with with_cup() as it:
        yield it


@pytest.fixture
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def new(served: Served, photo: bytes, name: str = "cup.png", sheet: str = "") -> httpx.Response:
    headers = {**PHOTO, "X-File-Name": quote(name)}
    if sheet:
        headers["X-Sheet"] = quote(sheet)
    return served.client.post("/api/paintings", content=photo, headers=headers)


def post(served: Served, painting: str, what: str, **body: Any) -> httpx.Response:
    return served.client.post(f"/api/paintings/{painting}/{what}", json=body)


# --- new ---------------------------------------------------------------------------------


def test_a_photo_becomes_a_painting(shared: Served) -> None:
    made = told(new(shared, cup_png(), "Grüne Tasse ☃.png", "9x12in"))
    assert made["name"] == "Grüne Tasse ☃"
    assert made["brief"]["scene"]["sheet"]["size"] == "9x12in"
    assert made["plan"] is None
    assert (made["can_step_back"], made["can_step_forward"]) == (False, False)
    assert told(shared.client.get(f"/api/paintings/{made['id']}")) == made
    assert list(shared.services.uploads().iterdir()) == []


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd.jpg", "passwd"),
        ("C:\\fotos\\cup.jpg", "cup"),
        ('<img src=x onerror="alert(1)">.jpg', '<img src=x onerror="alert(1)">'),
        ("", "Untitled"),
        (".jpg", ".jpg"),
        ("a\r\nSet-Cookie: b.jpg", "a Set-Cookie: b"),
        ("x" * 5000 + ".jpg", "x" * 120),
    ],
)
def test_a_files_name_is_for_people_to_read(shared: Served, name: str, shown: str) -> None:
    made = told(new(shared, cup_png(), name))
    assert made["name"].startswith(shown)
    told(shared.client.delete(f"/api/shelf/{made['id']}"))


def test_where_a_photo_was_taken_is_not_kept(shared: Served) -> None:
    image = Image.open(io.BytesIO(cup_png())).convert("RGB")
    exif = image.getexif()
    exif[0x010F] = "a maker of cameras"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (48.0, 12.0, 34.0)
    out = io.BytesIO()
    image.save(out, "jpeg", exif=exif)
    assert b"a maker of cameras" in out.getvalue()
    made = told(new(shared, out.getvalue()))
    kept = shared.services.store.files.get(made["brief"]["scene"]["pictures"][0]["file"])
    assert b"a maker of cameras" not in kept
    assert not Image.open(io.BytesIO(kept)).getexif().get_ifd(0x8825)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a" + bytes(100),
        b"\xff\xd8\xff" + bytes(100),
        b"\x89PNG\r\n\x1a\n" + bytes(100),
        cup_png()[:9000],
        b"<svg xmlns='http://www.w3.org/2000/svg'/>" + bytes(100),
        png(np.zeros((10, 10, 3), dtype=np.uint8)),
    ],
)
def test_what_is_no_photo_is_refused(shared: Served, data: bytes) -> None:
    before = told(shared.client.get("/api/shelf"))
    refusal(new(shared, data), 400)
    assert told(shared.client.get("/api/shelf")) == before
    assert list(shared.services.uploads().iterdir()) == []


def test_a_photo_of_far_too_many_pixels_is_refused_by_its_head(shared: Served) -> None:
    """12,000 pixels a side in a few bytes: told by the header before any is unpacked."""
    out = io.BytesIO()
    Image.new("1", (12_000, 12_000)).save(out, "png")
    assert len(out.getvalue()) < 200_000
    refusal(new(shared, out.getvalue()), 400)


@pytest.mark.parametrize("sheet", ["three elephants", "0x0cm", "1e999x3cm", "x" * 5000, "\0"])
def test_a_sheet_that_is_none_is_refused(shared: Served, sheet: str) -> None:
    before = told(shared.client.get("/api/shelf"))
    refusal(new(shared, cup_png(), sheet=sheet), 400)
    assert told(shared.client.get("/api/shelf")) == before


# --- changes and history -----------------------------------------------------------------


def test_changes_are_kept_and_stepped_through(served: Served) -> None:
    one = cup(served)
    two = told(
        post(served, one["id"], "change", base=one["revision"], words="Ticked", paints=["PB29"])
    )
    assert two["brief"]["paints"] == ["PB29"]
    assert two["plan"]["stale"]
    assert history(served, one["id"])[-1] == "Ticked"
    back = told(post(served, one["id"], "back", base=two["revision"]))
    assert back["brief"] == one["brief"]
    assert back["revision"] == one["revision"]
    assert back["can_step_forward"]
    forward = told(post(served, one["id"], "forward", base=back["revision"]))
    assert forward["revision"] == two["revision"]
    first = told(served.client.get(f"/api/paintings/{one['id']}/history"))[0]["id"]
    gone = told(post(served, one["id"], "go", base=two["revision"], to=first))
    assert gone["plan"] is None
    refusal(post(served, one["id"], "back", base=first), 400)
    refusal(post(served, one["id"], "go", base=first, to="nothing"), 404)
    refusal(post(served, one["id"], "go", base=first, to="\0☃"), 404)


def test_an_old_base_changes_nothing_and_is_told_the_new_one(served: Served) -> None:
    one = cup(served)
    old = {"base": one["revision"]}
    now = told(post(served, one["id"], "change", **old, words="Grid", grid={"across": 4}))
    stroke = {"stroke": [[10.0, 10.0], [60.0, 60.0]]}
    asks = {
        "change": {"words": "Late", "grid": {"across": 6}},
        "back": {},
        "forward": {},
        "go": {"to": one["revision"]},
        "plan": {},
        "judge": {},
        "strength": {"layer": 1, "number": 1, "strength": 0.2},
        "swap": {"layer": 1, "number": 1, "mixture": "A"},
        "recolour": {"x_mm": 5.0, "y_mm": 5.0, "colour": "#336699"},
        "keep": {"kept": {"layers": [1]}},
        "shapes/count": {"count": 12},
        "shapes/merge": stroke,
        "shapes/split": stroke,
        "shapes/border": stroke,
        "shapes/reserve": stroke,
        "shapes/release": stroke,
        "shapes/edge": {**stroke, "edge": "soft"},
    }
    steps = history(served, one["id"])
    for what, body in asks.items():
        answer = post(served, one["id"], what, **old, **body)
        refusal(answer, 409)
        assert answer.json()["error"]["current"] == now["revision"], what
    more = served.client.post(
        f"/api/paintings/{one['id']}/photos",
        params={"base": one["revision"]},
        content=cup_png(),
        headers=PHOTO,
    )
    refusal(more, 409)
    assert history(served, one["id"]) == steps
    assert cup(served) == now


def test_of_two_tabs_one_wins_and_the_other_is_told(served: Served) -> None:
    one, answers = cup(served), []

    def tab(across: int) -> None:
        body = {"base": one["revision"], "words": "G", "grid": {"across": across}}
        answers.append(post(served, one["id"], "change", **body))

    threads = [threading.Thread(target=tab, args=(n,)) for n in (2, 3, 4, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(a.status_code for a in answers) == [200, 409, 409, 409]
    (won,) = (a.json() for a in answers if a.status_code == 200)
    assert cup(served) == won
    for answer in answers:
        if answer.status_code == 409:
            refusal(answer, 409)
            assert answer.json()["error"]["current"] == won["revision"]


def test_words_of_a_change_are_one_line(served: Served) -> None:
    one = cup(served)
    words = "<script>\n\0alert(1)\u202e</script>"
    told(post(served, one["id"], "change", base=one["revision"], words=words, grid={"across": 4}))
    assert history(served, one["id"])[-1] == "<script> alert(1)</script>"


def test_one_photo_more(served: Served) -> None:
    one = cup(served)
    path = f"/api/paintings/{one['id']}/photos"
    now = one
    for n in range(7):
        answer = served.client.post(
            path,
            params={"base": now["revision"]},
            content=cup_png(),
            headers={**PHOTO, "X-File-Name": f"more-{n}.png"},
        )
        now = told(answer)
    assert len(now["photos"]) == 8
    assert [p["name"] for p in now["photos"][1:3]] == ["more-0.png", "more-1.png"]
    assert now["plan"]["stale"]
    answer = served.client.post(
        path, params={"base": now["revision"]}, content=cup_png(), headers=PHOTO
    )
    refusal(answer, 400)  # eight are enough
    refusal(served.client.post(path, content=cup_png(), headers=PHOTO), 422)  # no base
    assert cup(served) == now
    assert list(served.services.uploads().iterdir()) == []


WRONG: list[dict[str, Any]] = [
    {},
    {"words": "x"},
    {"base": 7, "words": "x"},
    {"base": "{base}"},
    {"base": "{base}", "words": ""},
    {"base": "{base}", "words": "x" * 121},
    {"base": "{base}", "words": "x", "nonsense": 1},
    {"base": "{base}", "words": "x", "scene": {}},
    {"base": "{base}", "words": "x", "scene": {"pictures": []}},
    {"base": "{base}", "words": "x", "work": {"layers": 99}},
    {"base": "{base}", "words": "x", "work": {"layers": 10**400}},
    {"base": "{base}", "words": "x", "values": {"steps": 1}},
    {"base": "{base}", "words": "x", "values": {"squint": float("nan")}},
    {"base": "{base}", "words": "x", "values": {"squint": float("inf")}},
    {"base": "{base}", "words": "x", "paints": "PB29"},
    {"base": "{base}", "words": "x", "paints": ["x" * 121]},
    {"base": "{base}", "words": "x", "plan": None},
    {"base": "{base}", "words": "x", "grid": {"across": True}},
]


@pytest.mark.parametrize("body", WRONG)
def test_a_wrong_form_is_refused(shared: Served, body: dict[str, Any]) -> None:
    one = cup(shared)
    sent = json.dumps(body).replace("{base}", one["revision"])
    path = f"/api/paintings/{one['id']}/change"
    refusal(shared.client.post(path, content=sent, headers=JSON), 422)
    assert cup(shared) == one


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"null", b"\xff\xfe", b"[" * 50_000, b'{"base": "\\ud800"}', b"1" * 5000],
)
def test_what_is_no_json_is_refused(shared: Served, content: bytes) -> None:
    one = cup(shared)
    for what in ("change", "back", "strength", "shapes/merge"):
        path = f"/api/paintings/{one['id']}/{what}"
        refusal(shared.client.post(path, content=content, headers=JSON), 400, 422)
    assert cup(shared) == one


def test_a_scene_of_other_files_is_refused(shared: Served) -> None:
    """A page can name only photos: no plan, no file that is not there, none of another size."""
    one = cup(shared)
    brief, picture = one["brief"], one["brief"]["scene"]["pictures"][0]
    for other in (
        {"file": brief["plan"]["document"]},
        {"file": brief["plan"]["cells"]},
        {"file": "0" * 64},
        {"size": [380, 281]},
        {"size": [1_000_000, 1_000_000], "turns": 1},
        {"size": [1, 1], "tilt": 15.0},
    ):
        scene = {**brief["scene"], "pictures": [{**picture, **other}]}
        answer = post(shared, one["id"], "change", base=one["revision"], words="x", scene=scene)
        refusal(answer, 400, 404)
    assert cup(shared) == one


# --- planning ------------------------------------------------------------------------------


def test_a_painting_is_planned_by_a_worker(served: Served) -> None:
    """The whole road once: the work is begun, runs in its own process, and its plan is there."""
    one = cup(served)
    work = {**one["brief"]["work"], "paints": 3, "touches": 0}
    now = told(post(served, one["id"], "change", base=one["revision"], words="Less", work=work))
    assert now["plan"]["stale"]
    job = told(post(served, one["id"], "plan", base=now["revision"]))["job"]
    end = ended(served, job)
    assert end["state"] == "finished", end
    assert end["ended"]["result"] == {"painting": one["id"]}
    made = cup(served)
    assert not made["plan"]["stale"]
    assert len(made["plan"]["palette"]) <= 3
    assert history(served, one["id"])[-1] == "Planned"
    stamp = made["plan"]["stamp"]
    shown = served.client.get(f"/prints/{one['id']}/plan/{stamp}/finished")
    assert shown.headers["content-type"] == "image/jpeg"


def test_work_that_cannot_be_done_is_said_and_changes_nothing(served: Served) -> None:
    one = cup(served)
    now = told(post(served, one["id"], "change", base=one["revision"], words="T", paints=["gone"]))
    job = told(post(served, one["id"], "plan", base=now["revision"]))["job"]
    end = ended(served, job)
    assert end["state"] == "failed"
    assert "tick some" in end["ended"]["sentence"]
    assert cup(served) == now


def test_what_a_work_is_given_is_what_was_seen(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[tuple[str, str, dict[str, Any], str]] = []

    def start(kind: str, work: str, args: dict[str, Any], *, key: str, **_: Any) -> Job:
        begun.append((kind, work, args, key))
        jobs = served.services.jobs
        return Job(kind, key, work, args, jobs._folder, None, (), None)

    monkeypatch.setattr(served.services.jobs, "start", start)
    one = cup(served)
    for what in ("plan", "judge"):
        told(post(served, one["id"], what, base=one["revision"]))
    assert [(b[0], b[3]) for b in begun] == [
        ("plan", f"plan {one['id']}"),
        ("judge", f"judge {one['id']}"),
    ]
    assert [b[1].rpartition(":")[2] for b in begun] == ["plan_work", "judge_work"]
    assert begun[0][2]["paints"] == "starter"


def test_a_first_look_is_there_once_the_work_gives_one(served: Served) -> None:
    one = cup(served)
    job = told(post(served, one["id"], "plan", base=one["revision"]))["job"]
    looks: list[httpx.Response] = []
    while served.client.get(f"/api/jobs/{job}").json()["state"] in ("waiting", "running"):
        looks.append(served.client.get(f"/api/jobs/{job}/look"))
    assert looks[0].status_code == 404  # nothing yet, said in a sentence
    refusal(looks[0], 404)
    seen = [one for one in looks if one.status_code == 200]
    assert seen, "the plan was made before there was anything to see"
    with Image.open(io.BytesIO(seen[0].content)) as image:
        assert image.format == "JPEG"
        image.load()  # whole: never half written


# --- preferences ----------------------------------------------------------------------------


def test_preferences_are_kept(served: Served) -> None:
    liked = {"units": "in", "measure": "pans"}
    assert told(served.client.put("/api/paintings/preferences", json=liked)) == liked
    assert cup(served)["liked"] == liked
    for wrong in ({"units": "miles"}, {"measure": "<b>"}, {"units": ""}):
        refusal(served.client.put("/api/paintings/preferences", json=wrong), 400, 422)
    for wrong in ({"units": 7}, {"units": None}, [], "cm"):
        refusal(served.client.put("/api/paintings/preferences", json=wrong), 422)
    assert cup(served)["liked"] == liked
