"""Shapes over the wire: each edit is one change, and no stroke does anything else."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from tests.web.asking import JSON, cup, history, refusal, told, with_cup
from tests.web.serving import Served


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def ask(served: Served, what: str, **body: Any) -> httpx.Response:
    one = cup(served)
    path = f"/api/paintings/{one['id']}/shapes/{what}"
    return served.client.post(path, json={"base": one["revision"], **body})


def undone(served: Served) -> dict[str, Any]:
    """One step back."""
    one = cup(served)
    body = {"base": one["revision"]}
    return dict(told(served.client.post(f"/api/paintings/{one['id']}/back", json=body)))


ACROSS = [[75.0, 0.0], [75.0, 110.0]]
ALONG = [[20.0, 60.0], [130.0, 60.0]]


@pytest.mark.parametrize(
    ("what", "body", "words"),
    [
        ("count", {"count": 9}, "Drew about 9 shapes"),
        ("merge", {"stroke": ALONG}, "Joined shapes"),
        ("split", {"stroke": ACROSS}, "Cut a shape"),
        ("reserve", {"stroke": [[75.0, 20.0]]}, "Left a place bare"),
        ("edge", {"stroke": ALONG, "edge": "lost"}, "Made an edge lost"),
    ],
)
def test_an_edit_is_one_change_and_undone_by_one_step(
    served: Served, what: str, body: dict[str, Any], words: str
) -> None:
    before = cup(served)
    after = told(ask(served, what, **body))
    assert after == cup(served)
    assert after["words"] == words
    assert after["revision"] != before["revision"]
    assert after["plan"]["stamp"] != before["plan"]["stamp"]
    assert not after["plan"]["judged"]
    assert after["problem"] == ""
    back = undone(served)
    assert back == {**before, "can_step_forward": True}


def test_a_place_left_bare_is_painted_after_all(served: Served) -> None:
    touched = {"stroke": [[75.0, 20.0]]}
    told(ask(served, "reserve", **touched))
    refusal(ask(served, "reserve", **touched), 400)
    assert told(ask(served, "release", **touched))["words"] == "Painted a bare place"
    refusal(ask(served, "release", **touched), 400)
    undone(served)
    undone(served)


EDITS = ("merge", "split", "border", "reserve", "release", "edge")


@pytest.mark.parametrize("what", EDITS)
@pytest.mark.parametrize(
    "stroke",
    [
        [[-5.0, -5.0], [-9.0, -9.0]],
        [[1e300, 0.0], [0.0, 1e300]],
        [[1e6, 5.0]],
    ],
)
def test_strokes_off_the_sheet_are_refused(
    served: Served, what: str, stroke: list[list[float]]
) -> None:
    before = cup(served)
    more = {"edge": "soft"} if what == "edge" else {}
    refusal(ask(served, what, stroke=stroke, **more), 400)
    assert cup(served) == before


@pytest.mark.parametrize("what", EDITS)
@pytest.mark.parametrize(
    "stroke",
    ["[]", "null", "7", "[[1]]", "[[1, 2, 3]]", '[["a", "b"]]', "[[NaN, 1]]", "[[1, Infinity]]",
     "[[1, 1e999]]", "[" + ", ".join(["[1, 1]"] * 4001) + "]"],
)  # fmt: skip
def test_what_is_no_stroke_is_refused(served: Served, what: str, stroke: str) -> None:
    one = cup(served)
    edge = ', "edge": "soft"' if what == "edge" else ""
    text = f'{{"base": "{one["revision"]}", "stroke": {stroke}{edge}}}'
    path = f"/api/paintings/{one['id']}/shapes/{what}"
    refusal(served.client.post(path, content=text, headers=JSON), 422)


def test_wrong_words_are_refused(served: Served) -> None:
    steps = history(served, cup(served)["id"])
    for count in (0, 4, 601, 10**400, 2.5, "many", None, True):
        refusal(ask(served, "count", count=count), 422)
    refusal(ask(served, "edge", stroke=ALONG, edge="wobbly"), 422)
    refusal(ask(served, "edge", stroke=ALONG), 422)
    refusal(ask(served, "merge", stroke=ALONG, edge="soft"), 422)
    refusal(ask(served, "nothing", stroke=ALONG), 404)
    assert history(served, cup(served)["id"]) == steps


@pytest.mark.parametrize("painting", ["nothing", "%00", "☃"])
def test_a_painting_that_is_not_there_has_no_shapes(served: Served, painting: str) -> None:
    for what in EDITS:
        body: dict[str, Any] = {"base": "x", "stroke": ALONG}
        if what == "edge":
            body["edge"] = "soft"
        refusal(served.client.post(f"/api/paintings/{painting}/shapes/{what}", json=body), 404)
    body = {"base": "x", "count": 9}
    refusal(served.client.post(f"/api/paintings/{painting}/shapes/count", json=body), 404)
