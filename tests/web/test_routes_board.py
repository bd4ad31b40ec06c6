"""At the board over the wire: all steps, ticks that survive, a clock, two tabs."""

from collections.abc import Iterator
from typing import Any

import pytest
from tests.web.asking import JSON, cup, refusal, told, with_cup
from tests.web.serving import Served


@pytest.fixture
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


@pytest.fixture(scope="module")
def shared() -> Iterator[Served]:
    """For tests that leave everything as it is."""
    with with_cup() as it:
        yield it


def board(served: Served) -> str:
    return f"/api/paintings/{cup(served)['id']}/board"


def test_the_session_is_that_of_the_plan(served: Served) -> None:
    one, session = cup(served), told(served.client.get(board(served)))
    assert session["plan"] == one["plan"]["stamp"]
    assert session["steps"]
    ids = [s["id"] for s in session["steps"]]
    assert len(set(ids)) == len(ids)
    assert session["marks"] == {"version": 0, "plan": "", "step": "", "ticked": [], "clock": None}


def test_marks_and_the_clock_survive(served: Served) -> None:
    where = board(served)
    clock = {"step": "dry-1", "ends": 1_800_000_000.5, "minutes": 12.0}
    marks = {"version": 0, "plan": "abc", "step": "wash-1-1", "ticked": ["A", "B"], "clock": clock}
    kept = told(served.client.put(f"{where}/marks", json=marks))
    assert kept == {**marks, "version": 1}
    assert told(served.client.get(f"{where}/marks")) == kept
    assert told(served.client.get(where))["marks"] == kept
    # It is no change of the painting: nothing is added to its history.
    assert cup(served)["words"] == "Planned"


def test_the_slower_of_two_tabs_is_told(served: Served) -> None:
    where = f"{board(served)}/marks"
    told(served.client.put(where, json={"version": 0, "step": "one"}))
    answer = served.client.put(where, json={"version": 0, "step": "two"})
    refusal(answer, 409)
    assert answer.json()["error"]["current"] == 1
    for version in (2, 10**18, 10**30):
        refusal(served.client.put(where, json={"version": version}), 409, 422)
    assert told(served.client.get(where))["step"] == "one"


WRONG: list[dict[str, Any] | list[Any]] = [
    {"version": -1},
    {"version": None},
    {"nonsense": 1},
    {"step": "x" * 41},
    {"ticked": ["x"] * 2001},
    {"ticked": ["x" * 61]},
    {"clock": {}},
    {"clock": {"step": "a", "ends": 1.0, "minutes": -1.0}},
    {"clock": {"step": "a", "ends": 1.0, "minutes": 1e9}},
    {"clock": {"step": "a", "ends": 1.0, "minutes": 1.0, "sound": "loud"}},
    [],
]


@pytest.mark.parametrize("body", WRONG)
def test_marks_that_are_none_are_refused(shared: Served, body: Any) -> None:
    refusal(shared.client.put(f"{board(shared)}/marks", json=body), 422)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_a_clock_that_never_rings_is_refused(shared: Served, number: str) -> None:
    text = f'{{"clock": {{"step": "a", "ends": {number}, "minutes": 5}}}}'
    refusal(shared.client.put(f"{board(shared)}/marks", content=text, headers=JSON), 422)


def test_marks_that_cannot_be_read_are_as_if_never_made(served: Served) -> None:
    one = cup(served)["id"]
    for version, text in enumerate(('"odd"', "[1]", '{"step": 7}', '{"version": "x"}')):
        served.services.store.keep_note(one, "board", text, version)
        marks = told(served.client.get(f"{board(served)}/marks"))
        assert marks["version"] == version + 1
        assert marks["step"] == ""
        assert told(served.client.get(board(served)))["steps"]


def test_without_a_plan_there_is_no_session(served: Served) -> None:
    one = cup(served)
    first = told(served.client.get(f"/api/paintings/{one['id']}/history"))[0]["id"]
    body = {"base": one["revision"], "to": first}
    told(served.client.post(f"/api/paintings/{one['id']}/go", json=body))
    assert "plan the painting first" in refusal(served.client.get(board(served)), 400)
    assert told(served.client.get(f"{board(served)}/marks"))["version"] == 0


@pytest.mark.parametrize("painting", ["nothing", "%00", "☃"])
def test_a_painting_that_is_not_there_has_no_board(shared: Served, painting: str) -> None:
    where = f"/api/paintings/{painting}/board"
    refusal(shared.client.get(where), 404)
    refusal(shared.client.get(f"{where}/marks"), 404)
    refusal(shared.client.put(f"{where}/marks", json={}), 404)
