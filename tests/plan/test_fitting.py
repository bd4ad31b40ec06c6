"""Plans made to fit the hours: simpler, never looser than the painter asked, and stoppable."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import Cancelled
from firstwash.paints.catalogue import load_set
from firstwash.picture.reference import Reference
from firstwash.plan.board.drying import Room
from firstwash.plan.fitting import ENOUGH, _less_work, minutes_of, within_hours
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import LAYERS, Limits, no_progress
from firstwash.plan.result import Plan

FEW = Limits(layers=3, puddles=8, washes=20, shapes=40)


@pytest.fixture(scope="module")
def coffee(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("coffee", "14x19cm")


@pytest.fixture(scope="module")
def plan(coffee: Reference) -> Plan:
    return make_plan(coffee, load_set("starter").paints, FEW)


def test_a_beginners_evening_fits(coffee: Reference) -> None:
    limits = replace(FEW, layers=4, washes=15, hours=1.5)
    room = Room(hair_dryer=True)
    found = make_plan(coffee, load_set("starter").paints, limits, room=room)
    assert minutes_of(found) <= ENOUGH * 90.0
    assert len(found.washes) <= 15
    assert found.limits == limits  # what was asked, not what it came to
    assert any(note.startswith("To fit ") for note in found.notes)


def test_what_cannot_fit_says_so(coffee: Reference) -> None:
    limits = replace(FEW, hours=0.25)
    found = make_plan(coffee, load_set("starter").paints, limits)
    assert minutes_of(found) > 15.0
    assert any("longer than was asked for" in note for note in found.notes)
    assert (
        not any("hair dryer" in note for note in found.notes) or not found.schedule.room.hair_dryer
    )


def test_air_in_which_nothing_dries_is_told_at_once(coffee: Reference) -> None:
    calls: list[str] = []
    limits = replace(FEW, hours=2.0)
    damp = Room(humidity=1.0)
    found = make_plan(
        coffee, load_set("starter").paints, limits, room=damp,
        progress=lambda step, _: calls.append(step),
    )  # fmt: skip
    assert any("nothing dries" in note for note in found.notes)
    assert "Fitting the plan into the hours" not in calls  # simpler plans would dry no sooner


@settings(max_examples=60)
@given(
    shapes=st.integers(1, 300), area=st.floats(1.0, 5000.0), puddles=st.none() | st.integers(1, 20),
    touches=st.integers(0, 80), hours=st.floats(0.25, 8.0),
)  # fmt: skip
def test_no_limit_is_loosened(
    plan: Plan, shapes: int, area: float, puddles: int | None, touches: int, hours: float
) -> None:
    asked = replace(
        plan.limits, shapes=shapes, min_area_mm2=area, puddles=puddles, touches=touches, hours=hours
    )
    found = _less_work(replace(plan, limits=asked), hours)
    assert LAYERS[0] <= found.layers <= asked.layers
    assert found.shapes <= asked.shapes
    assert found.min_area_mm2 >= asked.min_area_mm2
    assert found.touches <= asked.touches
    assert puddles is None or (found.puddles or 99) <= puddles
    same = ("washes", "paints", "hand", "ban", "caps", "min_width_mm")
    assert all(getattr(found, name) == getattr(asked, name) for name in same)


def test_it_stops_when_the_painter_says_so(plan: Plan) -> None:
    def stop(*_: Any) -> None:
        raise Cancelled

    def simpler(_: Limits, progress: Any) -> Plan:
        progress("Working out the layers", 0.5)
        raise AssertionError("nobody stopped it")

    with pytest.raises(Cancelled):
        within_hours(simpler, plan, replace(plan.limits, hours=0.5), stop)


def test_a_plan_that_fits_is_left_alone(plan: Plan) -> None:
    def never(*_: Any) -> Plan:
        raise AssertionError("made again for nothing")

    long = replace(plan.limits, hours=24.0)
    assert within_hours(never, plan, long, no_progress) is plan
    assert within_hours(never, plan, replace(long, hours=None), no_progress) is plan
