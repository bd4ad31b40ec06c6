"""Ranges of a plan's puddles and cells, and what is laid paler than any swatch."""

from dataclasses import replace

import numpy as np

from firstwash.plan.sureness import beyond_swatches, cell_ranges, puddle_ranges, recipes_of


def test_puddle_ranges_hold_their_swatches(coffee_plan) -> None:
    plan = coffee_plan
    ranges = puddle_ranges(plan)
    assert ranges.shape == (len(plan.puddles), 2, 2)
    for own, puddle in zip(ranges, plan.puddles, strict=True):
        for (low, high), lab in zip(own, puddle.swatch, strict=True):
            assert low < lab[0] < high


def test_cell_ranges_hold_the_finished_sheet(coffee_plan) -> None:
    plan = coffee_plan
    ranges = cell_ranges(plan)
    last = plan.stage_labs[-1][:, 0]
    painted = np.array([bool(own) for own in plan.coats])
    assert (ranges[:, 0] <= last + 1e-9).all()
    assert (last <= ranges[:, 1] + 1e-9).all()
    assert (np.ptp(ranges[painted], axis=1) > 2.0).all()  # the model's own error alone is 3.3
    np.testing.assert_allclose(np.ptp(ranges[~painted], axis=1), 0.0, atol=1e-3)


def test_sure_paints_narrow_the_ranges(coffee_plan) -> None:
    plan = coffee_plan
    sure = plan.told_more(paints=tuple(replace(p, spread=np.zeros((1, 72))) for p in plan.paints))
    assert (np.ptp(cell_ranges(sure), axis=1) <= np.ptp(cell_ranges(plan), axis=1) + 1e-9).all()


def test_what_is_paler_than_any_swatch_is_told(coffee_plan) -> None:
    plan = coffee_plan
    recipes = recipes_of(plan)
    used = {int(p) for w in plan.washes for p in np.flatnonzero(recipes[w.puddle])}
    fine = plan.told_more(paints=tuple(replace(p, thinnest_measured=1e-9) for p in plan.paints))
    assert beyond_swatches(fine) == {}
    coarse = plan.told_more(paints=tuple(replace(p, thinnest_measured=99.0) for p in plan.paints))
    assert set(beyond_swatches(coarse)) == used
    none = plan.told_more(paints=tuple(replace(p, thinnest_measured=None) for p in plan.paints))
    assert beyond_swatches(none) == {}
