"""Benches: visible depth, largest shares of a recipe, and what is kept when colours are picked."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.paints.catalogue import default_paper, load_set
from firstwash.plan.bench import Bench

STARTER = load_set("starter").paints
FIVE = Bench.of(STARTER[:5], default_paper())

recipes = arrays(np.float64, 5, elements=st.floats(0.0, 1.0).map(lambda v: round(v, 6)))
limits = arrays(np.float64, 4, elements=st.floats(0.05, 1.0).map(lambda v: round(v, 3)))


@given(recipes, limits)
def test_an_allowed_mix_keeps_every_share(recipe: np.ndarray, shares: np.ndarray) -> None:
    bench = FIVE.limited(np.append(shares, 1.0))  # the last may fill a puddle alone
    loads = bench.allowed_mix(recipe) * bench.loads
    before = recipe * bench.loads
    assert (loads >= 0.0).all()
    assert (loads <= bench.shares * loads.sum() * (1.0 + 1e-9)).all()
    assert loads.sum() <= before.sum() * (1.0 + 1e-9)
    # Only the one that is free may grow, and only where the rest could not make a whole.
    assert (loads[:4] <= before[:4] * (1.0 + 1e-9)).all()
    if loads[4] > before[4] * (1.0 + 1e-9):
        assert shares[before[:4] > 0.0].sum() < 1.0 + 1e-6
    assert (loads.sum() > 0.0) == (before.sum() > 0.0)


@given(recipes)
def test_without_limits_a_recipe_stays(recipe: np.ndarray) -> None:
    np.testing.assert_allclose(FIVE.allowed_mix(recipe), recipe, rtol=1e-12)


def test_what_is_over_is_taken_away_and_no_more() -> None:
    bench = FIVE.limited(np.array([0.25, 1.0, 1.0, 1.0, 1.0]))
    mixed = bench.allowed_mix(np.array([1.0, 0.6, 0.0, 0.0, 0.3])) * bench.loads
    assert mixed == pytest.approx([0.3, 0.6, 0.0, 0.0, 0.3])


def test_the_least_goes_first_unless_the_rest_need_it() -> None:
    bench = FIVE.limited(np.array([0.4, 0.4, 1.0, 1.0, 1.0]))
    worth = np.array([3.0, 2.0, 1.0, 5.0, 6.0])
    assert bench.least(np.array([0, 1, 2]), worth) == 1  # 0 and 1 make no whole without 2
    assert bench.least(np.array([0, 1, 2, 3]), worth) == 2
    assert bench.makes_whole(np.array([2]))
    assert not bench.makes_whole(np.array([0, 1]))


def test_picking_colours_keeps_what_belongs_to_them() -> None:
    bench = FIVE.limited(np.array([0.1, 0.2, 0.3, 0.4, 1.0])).only([3, 0])
    assert bench.shares.tolist() == [0.4, 0.1]
    assert bench.coarse().shares.tolist() == [0.4, 0.1]
    assert bench.puddles(np.eye(2)).shares.tolist() == [1.0, 1.0]
    np.testing.assert_array_equal(bench.k[1], FIVE.k[0])


def test_depth_of_a_colour_is_the_depth_that_shows_it() -> None:
    bench = Bench.of(STARTER, default_paper())
    clear = [i for i in range(bench.colours) if bench.s[i].max() < 0.02 * bench.k[i].mean()]
    assert len(clear) > 5  # paints that hardly scatter
    for i in clear:
        amounts = np.zeros((1, bench.colours))
        for depth in (0.02, 0.1):
            amounts[0, i] = depth / bench.visible_depth()[i] / bench.loads[i]
            found = float(bench.depth_of(bench.labs(amounts)[1:])[0])
            # The mean of a logarithm is not that of what it is taken of, half the coat soaks in,
            # and light bounces below the surface: the right size is all that prices need.
            assert 0.5 * depth < found < 3.0 * depth


def test_the_paper_itself_has_no_depth() -> None:
    bench = Bench.of(STARTER, default_paper())
    white = bench.labs(np.zeros((0, bench.colours)))
    assert bench.depth_of(white)[0] == pytest.approx(0.0, abs=1e-9)
    assert bench.depth_of(np.array([[100.0, 0.0, 0.0]]))[0] == 0.0
    assert np.isfinite(bench.depth_of(np.array([[0.0, 0.0, 0.0]]))).all()
