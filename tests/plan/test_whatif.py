"""A wash left out, laid with other paint, or with the later washes at other strengths."""

import numpy as np
import pytest

from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.plan.whatif import (
    as_planned,
    find_wash,
    footprint,
    left_out,
    misses,
    refit_later,
    relaid,
)


@pytest.fixture(params=["block_plan", "coffee_plan"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return request.getfixturevalue(request.param)


def test_as_planned_is_what_the_plan_predicts(plan: Plan) -> None:
    """The same model, so to the last digit but rounding."""
    for wash in plan.washes:
        foot = footprint(plan, wash)
        assert foot.areas.sum() == pytest.approx(wash.area_mm2)
        finals = as_planned(plan, foot).finals()[foot.stack_of]
        np.testing.assert_allclose(finals, plan.stage_labs[-1][foot.cells], atol=1e-9)


def test_the_same_puddle_laid_again_changes_nothing(plan: Plan) -> None:
    bench = Bench.of(plan.paints, plan.paper)
    for wash in plan.washes:
        foot = footprint(plan, wash)
        again = relaid(plan, foot, bench, plan.recipes[wash.puddle], wash.strength)
        np.testing.assert_allclose(again.labs(), as_planned(plan, foot).labs(), atol=1e-9)


def test_a_wash_left_out_leaves_the_other_coats(plan: Plan) -> None:
    """Recomputed by hand: the stack without that coat, the next one on the bare paper."""
    bench = Bench.of(plan.paints, plan.paper)
    for wash in plan.washes_of(1):
        foot = footprint(plan, wash)
        finals = left_out(plan, foot).finals()
        for cell, row in zip(foot.cells.tolist(), foot.stack_of.tolist(), strict=True):
            rest = [c for c in plan.coats[cell] if c[0] != wash.layer]
            amounts = np.array([s * plan.recipes[q] for _, q, s in rest])
            expected = bench.labs(amounts.reshape(-1, bench.colours))[-1]
            np.testing.assert_allclose(finals[row], expected, atol=1e-9)


def test_refitting_never_makes_the_squared_difference_larger(plan: Plan) -> None:
    for wash in plan.washes_of(1):
        foot = footprint(plan, wash)
        for there in (as_planned(plan, foot), left_out(plan, foot)):
            again = refit_later(foot, there, wash.layer, plan.aims)
            before, after = (
                float(foot.mean(misses(foot, s.finals(), plan.aims) ** 2)) for s in (there, again)
            )
            assert after <= before + 1e-9
            kept = there.layers <= wash.layer
            np.testing.assert_array_equal(again.strengths[kept], there.strengths[kept])
            loads = again.strengths * again.ready.loads[again.puddles]
            planned = there.strengths * there.ready.loads[there.puddles]
            # No coat is loaded beyond full, or beyond what the plan gave it.
            assert (loads <= np.maximum(planned, 1.0) + 1e-9).all()


def test_a_later_wash_keeps_one_strength(plan: Plan) -> None:
    wash = plan.washes_of(1)[0]
    foot = footprint(plan, wash)
    there = left_out(plan, foot)
    again = refit_later(foot, there, wash.layer, plan.aims)
    seen: dict[tuple[int, int, float], set[float]] = {}
    for i, count in enumerate(there.counts.tolist()):
        for j in range(count):
            key = (
                int(there.layers[i, j]), int(there.puddles[i, j]), float(there.strengths[i, j])
            )  # fmt: skip
            seen.setdefault(key, set()).add(float(again.strengths[i, j]))
    assert all(len(found) == 1 for found in seen.values())


def test_an_unknown_wash_is_refused(plan: Plan) -> None:
    assert find_wash(plan, 1, 1) is plan.washes_of(1)[0]
    with pytest.raises(LookupError, match="no wash 99"):
        find_wash(plan, 1, 99)
