"""Strengths and recipes refined: slopes, limits kept, never worse, and better for real hands."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from firstwash.plan.bench import Bench
from firstwash.plan.hands import (
    Handiwork,
    Painters,
    expected_misses,
    handiwork_of_coats,
    wash_numbers,
)
from firstwash.plan.polish import REACH, Goal, even_steps, polish, reach, shown, slopes, within
from firstwash.plan.polish import _search as search
from firstwash.plan.puddles import TINT_SHARE, Mixing
from firstwash.plan.stacks import LEAD_IN_WEIGHT

Shared = Any  # the small plan of conftest.py
STEADY = Painters(0.0, 1)
ERRING = Painters(0.2, 16, seed=1)


@pytest.fixture(scope="module")
def polished(shared: Shared) -> dict[float, Mixing]:
    """The small plan refined for steady hands and for two sizes of error."""
    s = shared
    return {
        sigma: polish(
            s.bench, s.stacks, s.mixing, s.spots, s.cells, Painters(sigma, 32 if sigma else 1, 1)
        )
        for sigma in (0.0, 0.2, 0.4)
    }


def work_of(shared: Shared, mixing: Mixing) -> Handiwork:
    return handiwork_of_coats(shared.bench, shared.stacks, mixing, shared.cells)


def value(shared: Shared, mixing: Mixing, painters: Painters) -> float:
    """What `polish` makes small, at its start from this mixing."""
    found = search(work_of(shared, mixing), shared.stacks, mixing, shared.spots, painters)
    return found.value_and_slopes(found.start)[0]


# --- slopes ----------------------------------------------------------------------


@pytest.mark.parametrize("painters", [STEADY, ERRING])
def test_slopes_of_the_whole_search(shared: Shared, painters: Painters) -> None:
    found = search(
        work_of(shared, shared.mixing), shared.stacks, shared.mixing, shared.spots, painters
    )
    rng = np.random.default_rng(0)
    x = found.start + rng.normal(0.0, 0.1, len(found.start))
    _, slope = found.value_and_slopes(x)
    for i in range(len(x)):
        step = np.zeros(len(x))
        step[i] = 1e-5
        high, low = (found.value_and_slopes(x + sign * step)[0] for sign in (1, -1))
        # Central differences of a sum near 10 over 2e-5: 1e-9 of rounding, 1e-6 of bend.
        assert slope[i] == pytest.approx((high - low) / 2e-5, rel=1e-4, abs=2e-6)


def test_slopes_of_prices(shared: Shared) -> None:
    """Prices and shares above their limits alone, large enough to be seen."""
    bench = replace(shared.bench, shares=np.full(shared.bench.colours, 0.4))
    work = replace(work_of(shared, shared.mixing), bench=bench)
    found = search(work, shared.stacks, shared.mixing, shared.spots, STEADY)
    found.prices = np.random.default_rng(1).uniform(0.0, 5.0, found.prices.shape)
    x = found.start + 0.1
    value, slope = found._price(x, found.work_at(x))
    assert value > 1.0
    for i in range(len(x)):
        step = np.zeros(len(x))
        step[i] = 1e-6
        high, low = (found._price(x + d, found.work_at(x + d))[0] for d in (step, -step))
        assert slope[i] == pytest.approx((high - low) / 2e-6, rel=1e-4, abs=1e-5)


def test_dear_paint_gives_way(shared: Shared) -> None:
    """A price on one paint in every coat: less of it is laid, and more for a higher price."""
    s = shared
    paint = int(np.argmax((s.mixing.recipes > 0).sum(axis=0)))
    laid = []
    for price in (0.0, 3.0, 30.0):
        prices = np.zeros(s.bench.colours)
        prices[paint] = price
        stacks = [replace(x, prices=np.tile(prices, (len(x.layers), 1))) for x in s.stacks]
        found = polish(s.bench, stacks, s.mixing, s.spots, s.cells, STEADY)
        laid.append(
            sum(
                stack.area * float(found.amounts(i)[:, paint].sum())
                for i, stack in enumerate(stacks)
            )
        )
    assert laid[0] > laid[1] > laid[2]


def test_the_search_starts_from_the_plan(shared: Shared) -> None:
    work = work_of(shared, shared.mixing)
    found = search(work, shared.stacks, shared.mixing, shared.spots, STEADY)
    again = found.work_at(found.start)
    np.testing.assert_allclose(again.film_strength, work.film_strength)
    # A paint at its least share starts 0.1 % above it, for the search to have a slope there.
    np.testing.assert_allclose(
        again.recipes * work.bench.loads, work.recipes * work.bench.loads, atol=2e-3
    )


def test_the_sum_is_the_expected_miss(shared: Shared) -> None:
    """Without lead-ins and first washes, and with the smoothing, it is that of `hands`."""
    work = work_of(shared, shared.mixing)
    slips = work.slips(Painters(0.3, 3))
    s = shared.spots
    goal = Goal.of(len(work.parent), work.cell_nodes[s.cells], s.labs, s.weights, s.spreads)
    found = slopes(work, *work.done(slips), goal).sums
    expected = expected_misses(work, slips, s)
    assert np.all(found > expected)
    np.testing.assert_allclose(found, expected, atol=0.05)


def test_even_steps_change_the_picture_alike(shared: Shared) -> None:
    work = work_of(shared, shared.mixing)
    s = shared.spots
    goal = Goal.of(len(work.parent), work.cell_nodes[s.cells], s.labs, s.weights, s.spreads)
    labs = np.zeros((4, len(work.parent), 3))
    labs[1] = 1.0
    labs[2] = 2.0
    sizes = even_steps(labs, goal)
    assert sizes.mean() == pytest.approx(1.0)
    assert sizes[0] == pytest.approx(2.0 * sizes[1], rel=0.05)  # less the floor for faint ones
    assert np.isfinite(sizes[2])
    assert sizes[2] == sizes.max()
    assert len(even_steps(labs[:1], goal)) == 0


# --- what a stack should show ----------------------------------------------------


def test_a_stack_shows_its_cells_and_its_lead_in(shared: Shared) -> None:
    total = sum(s.area for s in shared.stacks)
    lead_ins = 0
    for stack in shared.stacks:
        coats, spots = shown(stack, shared.spots, total)
        cells = np.isin(shared.spots.cells, stack.cells)
        n = int(cells.sum())
        np.testing.assert_array_equal(
            np.sort(spots.labs[:n], axis=0), np.sort(shared.spots.labs[cells], axis=0)
        )
        for cell, own in zip(stack.cells, stack.coats_of, strict=True):
            assert np.all(coats[:n][spots.cells[:n] == cell] == own)
        assert not np.isin(coats[n:], stack.coats_of).any()
        np.testing.assert_allclose(spots.weights[n:], LEAD_IN_WEIGHT * stack.area / total)
        lead_ins += len(coats) - n
    assert lead_ins > 0


# --- limits ----------------------------------------------------------------------


@pytest.mark.parametrize("sigma", [0.0, 0.2, 0.4])
def test_the_structure_is_kept(shared: Shared, polished: dict[float, Mixing], sigma: float) -> None:
    before, after = shared.mixing, polished[sigma]
    assert after.recipes.shape == before.recipes.shape
    np.testing.assert_array_equal(after.recipes > 0, before.recipes > 0)
    old, washes = wash_numbers(shared.stacks, before)
    new, now = wash_numbers(shared.stacks, after)
    # Two washes of one puddle that both end at a full coat are one wash from then on.
    assert len(now) <= len(washes)
    became = {}
    for i in range(len(shared.stacks)):
        np.testing.assert_array_equal(after.puddle_of[i], before.puddle_of[i])
        for a, b in zip(old[i].tolist(), new[i].tolist(), strict=True):
            assert became.setdefault(a, b) == b  # what was one wash still is, exactly
    merged = [w for w in set(became.values()) if list(became.values()).count(w) > 1]
    assert all(now[w][2] == 1.0 for w in merged)


@pytest.mark.parametrize("sigma", [0.0, 0.2, 0.4])
def test_limits_are_kept(shared: Shared, polished: dict[float, Mixing], sigma: float) -> None:
    mixing = polished[sigma]
    shares = mixing.recipes * shared.bench.loads
    np.testing.assert_allclose(shares.sum(axis=1), 1.0)
    assert shares[shares > 0].min() >= TINT_SHARE - 1e-12
    for before, after in zip(shared.mixing.strengths, mixing.strengths, strict=True):
        assert np.all(after <= 1.0)
        assert np.all(after > 0.0)
        assert np.all(after <= before * REACH * (1 + 1e-9))
        assert np.all(after >= np.minimum(before / REACH, 1.0) * (1 - 1e-9))
    for i, stack in enumerate(shared.stacks):
        if stack.cap > 0.0 and len(stack.layers):
            first = shared.bench.labs(mixing.amounts(i))[1, 0]
            assert first >= stack.cap - 0.5  # priced: settles a little below
        # Only darker, priced likewise.
        assert np.diff(shared.bench.labs(mixing.amounts(i))[:, 0]).max(initial=0.0) < 0.5


def test_reach_leaves_room_for_one_coat_at_most(shared: Shared) -> None:
    work = work_of(shared, shared.mixing)
    strong = replace(work, film_strength=np.full(len(work.film_wash), 0.9))
    np.testing.assert_allclose(np.exp(reach(strong)[:, 1]), 1.0 / 0.9)
    over = replace(work, film_strength=np.full(len(work.film_wash), 1.1))
    assert np.all(reach(over)[:, 1] < 0.0)  # back within the coat
    weak = replace(work, film_strength=np.full(len(work.film_wash), 0.01))
    np.testing.assert_allclose(np.exp(reach(weak)), [[1 / REACH, REACH]] * len(work.wash_layer))


def test_a_wash_over_its_load_is_brought_back(shared: Shared) -> None:
    s = shared
    heavy = replace_strengths(s.mixing, 1.5, largest=True)
    found = polish(s.bench, s.stacks, heavy, s.spots, s.cells, STEADY, rounds=3)
    assert max(float(x.max(initial=0.0)) for x in found.strengths) <= 1.0


def test_shares_the_painter_allows_are_kept(shared: Shared) -> None:
    """The paint with the largest share of any mixed puddle, held to less than it has."""
    s = shared
    shares = s.mixing.recipes * s.bench.loads
    mixed = (shares > 0).sum(axis=1) > 1
    top = int(np.argmax(shares[mixed].max(axis=0)))
    most = np.ones(s.bench.colours)
    most[top] = 0.5
    bench = replace(s.bench, shares=most)
    # From within the limit, and only puddles that can be: a single paint has no choice.
    allowed = np.where(s.mixing.recipes > 0, most, 0.0)
    start = Mixing(
        within(shares, allowed) / bench.loads,
        s.mixing.puddle_of,
        s.mixing.strengths,
        s.mixing.costs,
    )
    for painters in (STEADY, ERRING):
        found = polish(bench, s.stacks, start, s.spots, s.cells, painters)
        after = found.recipes * bench.loads
        assert after[mixed][:, top].max() <= 0.5 + 1e-9
        assert after[mixed][:, top].max() > 0.45  # it would take more
        np.testing.assert_allclose(after.sum(axis=1), 1.0)
        assert found.recipes.shape == s.mixing.recipes.shape
        assert value(replace_bench(s, bench), found, painters) <= value(
            replace_bench(s, bench), start, painters
        )


def replace_bench(shared: Shared, bench: Bench) -> Shared:
    return replace(shared, bench=bench)


def test_shares_are_brought_within_their_limits() -> None:
    shares = np.array([[0.7, 0.2, 0.1], [0.3, 0.3, 0.4], [0.9, 0.1, 0.0]])
    most = np.array([[0.5, 1.0, 1.0], [0.5, 0.5, 0.5], [0.5, 0.3, 0.0]])
    found = within(shares, most)
    np.testing.assert_allclose(found.sum(axis=1), 1.0)
    assert np.all(found[:2] <= most[:2] + 1e-12)
    np.testing.assert_array_equal(found[1:], shares[1:])  # nothing to do; nothing can be done
    assert found[0, 1] > 0.2
    assert found[0, 2] > 0.1


def replace_strengths(mixing: Mixing, strength: float, largest: bool) -> Mixing:
    top = max(float(x.max(initial=0.0)) for x in mixing.strengths)
    new = [np.where(x == top, strength, x) if largest else x for x in mixing.strengths]
    return Mixing(mixing.recipes, mixing.puddle_of, new, mixing.costs)


# --- how good --------------------------------------------------------------------


@pytest.mark.parametrize("painters", [STEADY, ERRING, Painters(0.4, 5, seed=2)])
@pytest.mark.parametrize("rounds", [1, 5, 40])
def test_its_own_measure_never_rises(shared: Shared, painters: Painters, rounds: int) -> None:
    s = shared
    found = polish(s.bench, s.stacks, s.mixing, s.spots, s.cells, painters, rounds)
    assert value(shared, found, painters) <= value(shared, s.mixing, painters) + 1e-6


def test_more_rounds_come_closer(shared: Shared) -> None:
    s = shared
    values = [
        value(
            shared,
            polish(s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY, rounds),
            STEADY,
        )
        for rounds in (1, 4, 16, 64)
    ]
    assert all(b <= a + 1e-6 for a, b in pairwise(values))


def test_steady_hands_are_served_best_by_the_steady_plan(
    shared: Shared, polished: dict[float, Mixing]
) -> None:
    misses = {
        sigma: float(
            expected_misses(work := work_of(shared, mixing), work.slips(STEADY), shared.spots)[0]
        )
        for sigma, mixing in polished.items()
    }
    print(misses)
    assert misses[0.0] <= misses[0.2] + 0.02  # the measure also holds lead-ins and a smoothing
    assert misses[0.2] <= misses[0.4] + 0.02


@pytest.mark.parametrize("sigma", [0.2, 0.4])
def test_erring_hands_are_served_better_by_the_plan_made_for_them(
    shared: Shared, polished: dict[float, Mixing], sigma: float
) -> None:
    """Painters never seen while planning, compared one by one."""
    painters = Painters(sigma, 300, seed=1000)
    gain = difference(shared, polished[0.0], polished[sigma], painters)
    mean, half = gain.mean(), 1.96 * gain.std(ddof=1) / np.sqrt(len(gain))
    print(f"sigma {sigma}: better by {mean:.3f} ± {half:.3f}")
    assert mean - half > 0.0


def difference(shared: Shared, one: Mixing, two: Mixing, painters: Painters) -> np.ndarray:
    work_1, work_2 = work_of(shared, one), work_of(shared, two)
    return expected_misses(work_1, work_1.slips(painters), shared.spots) - expected_misses(
        work_2, work_2.slips(painters), shared.spots
    )


# --- the rest --------------------------------------------------------------------


def test_the_same_seed_gives_the_same_plan(shared: Shared) -> None:
    s = shared
    one, two = (polish(s.bench, s.stacks, s.mixing, s.spots, s.cells, ERRING, 8) for _ in range(2))
    np.testing.assert_array_equal(one.recipes, two.recipes)
    for a, b in zip(one.strengths, two.strengths, strict=True):
        np.testing.assert_array_equal(a, b)


def test_nothing_it_is_given_is_changed(shared: Shared) -> None:
    s = shared
    recipes = s.mixing.recipes.copy()
    strengths = [x.copy() for x in s.mixing.strengths]
    polish(s.bench, s.stacks, s.mixing, s.spots, s.cells, STEADY, 3)
    np.testing.assert_array_equal(s.mixing.recipes, recipes)
    for a, b in zip(s.mixing.strengths, strengths, strict=True):
        np.testing.assert_array_equal(a, b)


def test_every_coat_may_be_its_own_wash(shared: Shared) -> None:
    """Without a limit on washes all strengths differ; they are refined all the same."""
    s = shared
    rng = np.random.default_rng(0)
    own = Mixing(
        s.mixing.recipes,
        s.mixing.puddle_of,
        [np.minimum(x * rng.uniform(0.8, 1.2, len(x)), 1.0) for x in s.mixing.strengths],
        s.mixing.costs,
    )
    found = polish(s.bench, s.stacks, own, s.spots, s.cells, STEADY)
    assert value(shared, found, STEADY) < value(shared, own, STEADY) - 0.1
    assert len(wash_numbers(s.stacks, found)[1]) > 2 * len(wash_numbers(s.stacks, s.mixing)[1])


def test_no_paint_at_all_is_left_as_it_is(shared: Shared) -> None:
    empty = Mixing(np.zeros((0, shared.bench.colours)), [], [], np.zeros(0))
    assert polish(shared.bench, [], empty, shared.spots, shared.cells) is empty
