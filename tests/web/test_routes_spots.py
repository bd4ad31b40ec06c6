"""A touched spot over the wire: what lies there, what could, and washes laid otherwise."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from tests.web.asking import JSON, cup, refusal, told, with_cup
from tests.web.serving import Served

BAD = ["nan", "inf", "-inf", "1e999", "", "x", "1" * 400]


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def get(served: Served, what: str, **params: Any) -> httpx.Response:
    return served.client.get(f"/api/paintings/{cup(served)['id']}/{what}", params=params)


def post(served: Served, what: str, **body: Any) -> httpx.Response:
    one = cup(served)
    path = f"/api/paintings/{one['id']}/{what}"
    return served.client.post(path, json={"base": one["revision"], **body})


def first_wash(served: Served) -> dict[str, Any]:
    return dict(cup(served)["plan"]["layers"][0]["washes"][0])


@pytest.fixture
def undo(served: Served) -> Iterator[None]:
    """Back to the plan as it was, whatever a test accepts."""
    one = cup(served)
    yield
    now = cup(served)
    if now["revision"] != one["revision"]:
        body = {"base": now["revision"], "to": one["revision"]}
        told(served.client.post(f"/api/paintings/{one['id']}/go", json=body))


# --- asked ---------------------------------------------------------------------------------


def test_every_place_of_the_sheet_has_an_answer(served: Served) -> None:
    for x, y in ((0, 0), (150, 0), (0, 110), (150, 110), (75, 55), (0.001, 109.999)):
        told(get(served, "spot", x=x, y=y))
        told(get(served, "hue", x=x, y=y))
        assert told(get(served, "first-washes", x=x, y=y))["choices"]


@pytest.mark.parametrize("place", [(-1, 5), (151, 5), (5, 111), (1e300, 5), (5, -1e300)])
def test_no_place_off_the_sheet_has(served: Served, place: tuple[float, float]) -> None:
    for what in ("spot", "hue", "first-washes"):
        refusal(get(served, what, x=place[0], y=place[1]), 400)


@pytest.mark.parametrize("number", BAD)
def test_places_that_are_none_are_refused(served: Served, number: str) -> None:
    for what in ("spot", "hue", "first-washes"):
        refusal(get(served, what, x=number, y=5), 400, 422)
        refusal(get(served, what, x=5), 422)


@pytest.mark.usefixtures("undo")
def test_another_first_wash_can_be_laid(served: Served) -> None:
    """Of all places some wash can be laid instead, and then the plan lays that one there."""
    places = [(x, y) for x in range(10, 150, 35) for y in range(10, 110, 25)]
    for x, y in places:
        found = told(get(served, "first-washes", x=x, y=y))
        best = [c["either"] for c in found["choices"]]
        assert best == sorted(best, reverse=True)  # those that will do come first
        assert sum(c["planned"] for c in found["choices"]) == 1
        for choice in found["choices"]:
            assert len(choice["strip"]) == 3
            assert len({len(row) for row in choice["strip"]}) == 1
        layable = [c for c in found["choices"] if c["mixture"] is not None]
        if layable:
            break
    else:
        pytest.fail("no place had another first wash to lay")
    mixture, strength = layable[0]["mixture"], layable[0]["strength"]
    told(post(served, "swap", layer=1, number=found["number"], mixture=mixture, strength=strength))
    again = told(get(served, "first-washes", x=x, y=y))
    (now,) = [c for c in again["choices"] if c["planned"]]
    apart = [
        abs(int(now["hex"][i : i + 2], 16) - int(layable[0]["hex"][i : i + 2], 16))
        for i in (1, 3, 5)
    ]
    assert max(apart) <= 6  # recipes are rounded to parts a hand can count


def test_other_mixtures_and_a_strength_tried(served: Served) -> None:
    wash, before = first_wash(served), cup(served)
    others = told(get(served, "others", layer=1, number=wash["number"], most=3))
    assert 1 <= len(others) <= 3
    strength = 0.8 * wash["strength"]
    moved = told(get(served, "try", layer=1, number=wash["number"], strength=strength))
    assert moved["strength"] == pytest.approx(strength)
    assert moved["cells"] == wash["cells"]
    cell = wash["cells"][-1]
    assert told(get(served, "try", layer=1, number=1, strength=strength, cell=cell))["cell"] == cell
    assert cup(served) == before  # nothing is accepted by looking


@pytest.mark.parametrize("strength", [*BAD, "0", "-1", "1.1", "1e-300"])
def test_strengths_that_are_none_are_refused(served: Served, strength: str) -> None:
    refusal(get(served, "try", layer=1, number=1, strength=strength), 400, 422)


def test_washes_that_are_not_there_are_refused(served: Served) -> None:
    for layer, number in ((0, 1), (9, 1), (1, 0), (1, 2001), (-1, -1), (10**400, 1)):
        refusal(get(served, "others", layer=layer, number=number), 422)
        refusal(get(served, "try", layer=layer, number=number, strength=0.2), 422)
    for layer, number in ((8, 1), (1, 2000)):
        refusal(get(served, "others", layer=layer, number=number), 400)
        refusal(get(served, "try", layer=layer, number=number, strength=0.2), 400)
    for cell in (-1, 10**6, 10**40):
        refusal(get(served, "try", layer=1, number=1, strength=0.2, cell=cell), 400, 422)


# --- accepted --------------------------------------------------------------------------------


@pytest.mark.usefixtures("undo")
def test_a_strength_tried_is_accepted_as_it_was_shown(served: Served) -> None:
    wash = first_wash(served)
    key = {"layer": 1, "number": wash["number"], "strength": 0.7 * wash["strength"]}
    shown = told(get(served, "try", **key))
    after = told(post(served, "strength", **key))
    assert after["words"] == f"Laid wash 1.{wash['number']} stronger or weaker"
    now = next(w for w in after["plan"]["layers"][0]["washes"] if w["cells"] == wash["cells"])
    assert now["strength"] == pytest.approx(key["strength"])
    spot = told(get(served, "others", layer=1, number=now["number"]))
    assert spot[0]["before"]["hex"] == shown["end"]["hex"]


@pytest.mark.usefixtures("undo")
def test_another_mixture_is_accepted_as_it_was_offered(served: Served) -> None:
    (one, *_) = told(get(served, "others", layer=1, number=1))
    after = told(
        post(served, "swap", layer=1, number=1, mixture=one["parts"], strength=one["strength"])
    )
    assert after["words"] == "Laid wash 1.1 out of another puddle"


@pytest.mark.usefixtures("undo")
def test_a_shape_gets_another_colour(served: Served) -> None:
    after = told(post(served, "recolour", x_mm=75.0, y_mm=20.0, colour="#9aa3c8"))
    assert after["words"] == "Gave a shape another colour"
    for wrong in ({"colour": "red"}, {"colour": "#9aa3c"}, {"colour": "#9aa3c8\n"}, {"x_mm": "x"}):
        asked = {"x_mm": 75.0, "y_mm": 20.0, "colour": "#9aa3c8", **wrong}
        refusal(post(served, "recolour", **asked), 422)
    refusal(post(served, "recolour", x_mm=-1.0, y_mm=20.0, colour="#9aa3c8"), 400)


@pytest.mark.usefixtures("undo")
def test_what_is_kept_is_not_changed(served: Served) -> None:
    after = told(post(served, "keep", kept={"washes": [[1, 1]]}))
    assert after["plan"]["layers"][0]["washes"][0]["locked"]
    assert "stop keeping it first" in refusal(
        post(served, "strength", layer=1, number=1, strength=0.1), 400
    )
    assert "stop keeping it first" in refusal(
        get(served, "try", layer=1, number=1, strength=0.1), 400
    )
    assert not told(post(served, "keep", kept={}))["plan"]["layers"][0]["washes"][0]["locked"]
    for wrong in (
        {"washes": [[9, 9]]},
        {"puddles": ["☃"]},
        {"paints": ["nothing"]},
        {"layers": [0]},
        {"washes": [[10**40, 1]]},
    ):
        refusal(post(served, "keep", kept=wrong), 400)
    for form in ({"washes": [1]}, {"puddles": ["x" * 500]}, {"nonsense": []}, None, []):
        refusal(post(served, "keep", kept=form), 422)


WRONG = [
    '{"layer": 1, "number": 1, "mixture": {}}',
    '{"layer": 1, "number": 1, "mixture": ""}',
    '{"layer": 1, "number": 1, "mixture": "ZZ"}',
    '{"layer": 1, "number": 1, "mixture": {"PB29": -1}}',
    '{"layer": 1, "number": 1, "mixture": {"PB29": 0}}',
    '{"layer": 1, "number": 1, "mixture": {"PB29": NaN}}',
    '{"layer": 1, "number": 1, "mixture": {"PB29": 1e999}}',
    '{"layer": 1, "number": 1, "mixture": {"nothing": 1}}',
    '{"layer": 1, "number": 1, "mixture": null}',
    '{"layer": 1, "number": 1, "mixture": "A", "strength": 2}',
    '{"layer": 1, "number": 1, "mixture": "A", "strength": NaN}',
    '{"layer": 1, "number": 1, "mixture": [1]}',
]


@pytest.mark.parametrize("text", WRONG)
def test_a_mixture_that_is_none_is_refused(served: Served, text: str) -> None:
    one = cup(served)
    content = text.replace("{", f'{{"base": "{one["revision"]}", ', 1)
    path = f"/api/paintings/{one['id']}/swap"
    refusal(served.client.post(path, content=content, headers=JSON), 400, 422)
    assert cup(served) == one


# --- nothing to touch -----------------------------------------------------------------------------


@pytest.mark.usefixtures("undo")
def test_before_the_first_plan_there_is_no_spot(served: Served) -> None:
    one = cup(served)
    first = told(served.client.get(f"/api/paintings/{one['id']}/history"))[0]["id"]
    body = {"base": one["revision"], "to": first}
    told(served.client.post(f"/api/paintings/{one['id']}/go", json=body))
    for what, params in (
        ("spot", {"x": 5, "y": 5}),
        ("first-washes", {"x": 5, "y": 5}),
        ("others", {"layer": 1, "number": 1}),
        ("try", {"layer": 1, "number": 1, "strength": 0.2}),
    ):
        assert "plan the painting first" in refusal(get(served, what, **params), 400)
    told(get(served, "hue", x=5, y=5))  # the photo is there already
    told(get(served, "values"))


@pytest.mark.parametrize("painting", ["nothing", "%00", "☃"])
def test_a_painting_that_is_not_there_has_no_spots(served: Served, painting: str) -> None:
    for what in ("spot?x=1&y=1", "hue?x=1&y=1", "values", "others?layer=1&number=1"):
        refusal(served.client.get(f"/api/paintings/{painting}/{what}"), 404)


def test_value_steps_are_those_asked_for(served: Served) -> None:
    study = told(get(served, "values"))
    assert len(study["steps"]) == cup(served)["brief"]["values"]["steps"]
    assert sum(s["share"] for s in study["steps"]) == pytest.approx(1.0)
