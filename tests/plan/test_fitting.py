"""Plans made to fit the hours: simpler, never looser than the painter asked, and stoppable."""

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import Cancelled
from firstwash.paints.catalogue import load_set
from firstwash.picture.reference import Reference
from firstwash.plan.board.drying import HAIR_DRYER, Room
from firstwash.plan.board.hours import LayerTime
from firstwash.plan.fitting import (
    ENOUGH,
    LEAST_WORK,
    _fitting,
    _limits_of,
    _Size,
    _sizes,
    in_a_hurry,
    minutes_of,
    within_hours,
)
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
    (told,) = [note for note in found.notes if "longer than was asked for" in note]
    assert "a hair dryer" in told
    assert HAIR_DRYER in told  # never named without how to use it
    dry = make_plan(coffee, load_set("starter").paints, limits, room=Room(hair_dryer=True))
    assert not any("a hair dryer" in note for note in dry.notes)


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
    touches=st.integers(0, 80), washes=st.none() | st.integers(4, 80), work=st.floats(0.001, 1.0),
    layers=st.integers(2, 4),
)  # fmt: skip
def test_no_limit_is_loosened(
    plan: Plan, shapes: int, area: float, puddles: int | None, touches: int, washes: int | None,
    work: float, layers: int,
) -> None:  # fmt: skip
    asked = replace(
        plan.limits, shapes=shapes, min_area_mm2=area, puddles=puddles, touches=touches,
        washes=washes, layers=4,
    )  # fmt: skip
    found = _limits_of(_Size(layers, work), replace(plan, limits=asked))
    assert found.layers == layers
    assert found.shapes <= asked.shapes
    assert found.min_area_mm2 >= asked.min_area_mm2
    assert found.touches <= asked.touches
    assert puddles is None or (found.puddles or 99) <= puddles
    assert washes is None or (found.washes or 999) <= washes
    same = ("paints", "hand", "ban", "caps", "min_width_mm", "handling")
    assert all(getattr(found, name) == getattr(asked, name) for name in same)


@settings(max_examples=60)
@given(
    hours=st.floats(0.25, 8.0), work=st.floats(0.05, 1.0), layers=st.integers(2, 3),
    most=st.integers(3, 8),
)  # fmt: skip
def test_the_next_size_is_one_that_should_fit(
    plan: Plan, hours: float, work: float, layers: int, most: int
) -> None:
    size = _Size(layers, work)
    for found in _sizes(size, plan, most, hours):
        assert LAYERS[0] <= found.layers <= most
        assert LEAST_WORK <= found.work <= 1.0
    chosen = _fitting(size, plan, most, hours)
    assert all(chosen.cost <= found.cost for found in _sizes(size, plan, most, hours))
    more = _fitting(size, plan, most, hours + 1.0)
    assert more.cost <= chosen.cost + 1e-9  # more time never asks for a poorer plan


def test_what_costs_no_colour_comes_first(plan: Plan) -> None:
    """Waiting and wetting again go before any shape does."""
    quick = in_a_hurry(plan)
    assert minutes_of(quick) < minutes_of(plan)
    np.testing.assert_array_equal(quick.stage_labs, plan.stage_labs)
    assert [w.strength for w in quick.washes] != []
    assert {(w.layer, w.puddle, w.strength, w.cells) for w in quick.washes} == {
        (w.layer, w.puddle, w.strength, w.cells) for w in plan.washes
    }
    assert in_a_hurry(quick) is quick

    def never(*_: Any) -> Plan:
        raise AssertionError("made simpler for nothing")

    asked = replace(plan.limits, hours=minutes_of(quick) / 60.0)
    found = within_hours(never, plan, asked, never, no_progress)  # type: ignore[arg-type]
    assert minutes_of(found) == pytest.approx(minutes_of(quick))


def test_of_plans_that_fit_the_truest_is_taken(plan: Plan) -> None:
    hours = minutes_of(in_a_hurry(plan)) / 60.0 * 0.6
    made: list[Plan] = []

    def pretend(limits: Limits, _: Any) -> Plan:
        """A plan that leaves much of the time idle, each time a little less."""
        factor = (0.75 + 0.04 * len(made)) * 60.0 * hours / minutes_of(plan)
        layers = tuple(
            LayerTime(*(getattr(t, f.name).times(factor) for f in fields(t)))
            for t in plan.schedule.time.layers
        )
        time = replace(plan.schedule.time, layers=layers)
        schedule = replace(plan.schedule, hurried=True, time=time)
        made.append(replace(plan, limits=limits, schedule=schedule))
        return made[-1]

    def error(found: Plan) -> float:
        return abs(next(i for i, p in enumerate(made) if p is found) - 1.0)

    found = within_hours(pretend, plan, replace(plan.limits, hours=hours), error, no_progress)
    assert len(made) >= 3
    assert all(minutes_of(p) <= ENOUGH * 60.0 * hours for p in made)
    assert found is made[1]


def test_it_stops_when_the_painter_says_so(plan: Plan) -> None:
    def stop(*_: Any) -> None:
        raise Cancelled

    def simpler(_: Limits, progress: Any) -> Plan:
        progress("Working out the layers", 0.5)
        raise AssertionError("nobody stopped it")

    with pytest.raises(Cancelled):
        within_hours(simpler, plan, replace(plan.limits, hours=0.5), lambda _: 0.0, stop)


def test_a_plan_that_fits_is_left_alone(plan: Plan) -> None:
    def never(*_: Any) -> Plan:
        raise AssertionError("made again for nothing")

    long = replace(plan.limits, hours=24.0)
    for asked in (long, replace(long, hours=None)):
        assert within_hours(never, plan, asked, lambda _: 0.0, no_progress) is plan
