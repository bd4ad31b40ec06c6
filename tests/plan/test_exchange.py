"""Washes exchanged: limits kept, closer to the photo, and better for hands that err."""

from typing import Any

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.plan.exchange import exchange_washes, refine
from firstwash.plan.hands import (
    Handiwork,
    Painters,
    expected_misses,
    handiwork_of_coats,
    wash_numbers,
)
from firstwash.plan.polish import polish
from firstwash.plan.puddles import IDLE, TINT_SHARE, Mixing
from firstwash.plan.stacks import Stack

Shared = Any  # the small plan of conftest.py
Found = tuple[list[Stack], Mixing]
STEADY = Painters(0.0, 1)


@pytest.fixture(scope="module")
def refined(shared: Shared) -> dict[float, Found]:
    s = shared
    return {
        sigma: refine(
            s.bench, s.stacks, s.mixing, s.spots, s.cells, Painters(sigma, 32 if sigma else 1, 1)
        )
        for sigma in (0.0, 0.2, 0.4)
    }


def work_of(shared: Shared, found: Found) -> Handiwork:
    return handiwork_of_coats(shared.bench, *found, shared.cells)


def misses(shared: Shared, found: Found, painters: Painters) -> np.ndarray:
    work = work_of(shared, found)
    return expected_misses(work, work.slips(painters), shared.spots)


@pytest.mark.parametrize("sigma", [0.0, 0.2, 0.4])
def test_limits_are_kept(shared: Shared, refined: dict[float, Found], sigma: float) -> None:
    stacks, mixing = refined[sigma]
    before = wash_numbers(shared.stacks, shared.mixing)[1]
    after = wash_numbers(stacks, mixing)[1]
    assert 0 < len(after) <= len(before)
    assert {q for _, q, _ in after} == set(range(len(mixing.recipes)))
    assert len(mixing.recipes) <= len(shared.mixing.recipes)
    shares = mixing.recipes * shared.bench.loads
    assert shares[shares > 0].min() >= TINT_SHARE - 1e-12
    assert np.all((mixing.recipes > 0).sum(axis=1) <= 3)
    for i, stack in enumerate(stacks):
        old = shared.stacks[i]
        assert np.all(np.diff(stack.layers) > 0)
        assert set(stack.layers.tolist()) <= set(old.layers.tolist())
        np.testing.assert_array_equal(stack.cells, old.cells)
        assert np.all(np.diff(stack.coats_of) >= 0)  # a darker level still gets no fewer coats
        assert len(mixing.strengths[i]) == len(stack.layers)
        assert np.all(mixing.strengths[i] <= 1.0)
        labs = shared.bench.labs(mixing.amounts(i))
        if stack.cap > 0.0 and len(stack.layers):
            assert labs[1, 0] >= stack.cap - 1.0  # priced, and half a unit of slack
        assert np.diff(labs[:, 0]).max(initial=0.0) < 0.5  # only darker, to what can be seen


def test_coats_nobody_would_see_are_left_out(shared: Shared) -> None:
    s = shared
    stacks, mixing = exchange_washes(s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY)
    for i, stack in enumerate(stacks):
        labs = s.bench.labs(mixing.amounts(i))
        # A coat is judged before fainter ones under it go: then it may show a little less.
        assert delta_e_2000(labs[1:], labs[:-1]).min(initial=np.inf) >= IDLE * 0.7
        assert int(stack.coats_of.max()) <= len(stack.layers)


def test_the_first_layer_stays_when_asked(shared: Shared) -> None:
    s = shared
    old, _ = wash_numbers(s.stacks, s.mixing)
    stacks, mixing = exchange_washes(
        s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY, keep_first=True
    )
    moved = 0
    for i, stack in enumerate(stacks):
        for layers in (stack.layers, s.stacks[i].layers):
            assert layers.shape == np.unique(layers).shape
        before = dict(zip(s.stacks[i].layers.tolist(), s.mixing.strengths[i].tolist(), strict=True))
        after = dict(zip(stack.layers.tolist(), mixing.strengths[i].tolist(), strict=True))
        # A first wash too faint to see may still be left out.
        assert after.get(0, before.get(0)) == before.get(0)
        moved += after != before
    assert moved > 0  # the later layers do move
    assert len(old) == len(stacks)


def test_exchanges_come_closer_than_refining_alone(
    shared: Shared, refined: dict[float, Found]
) -> None:
    s = shared
    alone = polish(s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY)
    before = float(misses(shared, (s.stacks, s.mixing), STEADY)[0])
    kept = float(misses(shared, (s.stacks, alone), STEADY)[0])
    found = float(misses(shared, refined[0.0], STEADY)[0])
    print(f"as shared {before:.3f}, refined {kept:.3f}, exchanged too {found:.3f}")
    assert found < kept < before


@pytest.mark.parametrize("sigma", [0.2, 0.4])
def test_the_plan_for_erring_hands_beats_the_best_for_steady_ones(
    shared: Shared, refined: dict[float, Found], sigma: float
) -> None:
    """Painters never seen while planning, compared one by one."""
    painters = Painters(sigma, 300, seed=1000)
    gain = misses(shared, refined[0.0], painters) - misses(shared, refined[sigma], painters)
    mean, half = gain.mean(), 1.96 * gain.std(ddof=1) / np.sqrt(len(gain))
    print(f"sigma {sigma}: better by {mean:.3f} ± {half:.3f}")
    assert mean - half > 0.0


def test_the_same_seed_gives_the_same_plan(shared: Shared) -> None:
    s, painters = shared, Painters(0.2, 8, seed=3)
    one, two = (
        refine(s.bench, s.stacks, s.mixing, s.spots, s.cells, painters, rounds=1) for _ in range(2)
    )
    np.testing.assert_array_equal(one[1].recipes, two[1].recipes)
    for a, b in zip(one[1].strengths, two[1].strengths, strict=True):
        np.testing.assert_array_equal(a, b)


def test_nothing_it_is_given_is_changed(shared: Shared) -> None:
    s = shared
    strengths = [x.copy() for x in s.mixing.strengths]
    puddles = [x.copy() for x in s.mixing.puddle_of]
    exchange_washes(s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY)
    for a, b in zip(s.mixing.strengths, strengths, strict=True):
        np.testing.assert_array_equal(a, b)
    for a, b in zip(s.mixing.puddle_of, puddles, strict=True):
        np.testing.assert_array_equal(a, b)


def test_no_paint_at_all_is_left_as_it_is(shared: Shared) -> None:
    empty = Mixing(np.zeros((0, shared.bench.colours)), [], [], np.zeros(0))
    assert refine(shared.bench, [], empty, shared.spots, shared.cells, STEADY) == ([], empty)
