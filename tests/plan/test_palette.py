"""Choosing paints: near the best of all subsets; colours gathered; what paints can reach."""

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.optics.difference import delta_e_2000
from firstwash.plan import palette as palette_module
from firstwash.plan.bench import Bench
from firstwash.plan.palette import choose_paints, colour_groups, floor_for, mix_freely

NINE = (0, 1, 3, 4, 5, 6, 8, 9, 10)  # of the measured paints: all round the circle, no black

Colours = Callable[[np.random.Generator, int], np.ndarray]


@pytest.fixture(scope="module")
def nine(box: Bench) -> Bench:
    return box.only(NINE)


def picture(colours: Colours, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A few dozen colours (n, 3) of ten shapes, and weights that sum to 1."""
    rng = np.random.default_rng(seed)
    targets = np.concatenate([colours(rng, 3) for _ in range(10)])
    weights = rng.uniform(0.2, 1.0, len(targets))
    return targets, weights / weights.sum()


def score(bench: Bench, chosen: tuple[int, ...], targets: np.ndarray, weights: np.ndarray) -> float:
    """Mean error with every colour mixed anew from all the chosen paints."""
    found = mix_freely(bench.only(chosen), targets, rounds=40, starts=(2e-3, 0.05))
    return float(weights @ delta_e_2000(found, targets))


@pytest.mark.parametrize("seed", range(4))
def test_four_of_nine_paints_are_the_best_four(nine: Bench, painterly: Colours, seed: int) -> None:
    targets, weights = picture(painterly, seed)
    chosen = choose_paints(nine, targets, weights, 4)
    best = min(score(nine, four, targets, weights) for four in combinations(range(9), 4))
    assert score(nine, tuple(chosen), targets, weights) <= 1.01 * best  # as promised


def test_a_choice_is_in_order_without_doubles_and_the_same_each_time(
    nine: Bench, painterly: Colours
) -> None:
    targets, weights = picture(painterly, 5)
    chosen = choose_paints(nine, targets, weights, 4)
    assert len(chosen) == 4
    assert chosen == sorted(set(chosen))
    assert choose_paints(nine, targets, weights, 4) == chosen
    assert choose_paints(nine, targets, 2.0 * weights, 4) == chosen


def test_few_paints_are_all_taken(nine: Bench, painterly: Colours) -> None:
    targets, weights = picture(painterly, 5)
    for most in (9, 10, 24):
        assert choose_paints(nine, targets, weights, most) == list(range(9))


def test_the_choice_serves_the_picture(nine: Bench) -> None:
    # Colours mixed from three of the nine: those three, or as good, are found.
    rng = np.random.default_rng(1)
    three = (1, 4, 6)
    amounts = rng.uniform(0.0, 0.2, (30, 3))
    bench = nine.only(three)
    targets = np.array([bench.labs(a[None])[1] for a in amounts])
    weights = np.full(30, 1 / 30)
    chosen = tuple(choose_paints(nine, targets, weights, 3))
    assert score(nine, chosen, targets, weights) <= score(nine, three, targets, weights) + 1e-4


def test_coarse_bands_look_as_fine_ones_do(box: Bench) -> None:
    rng = np.random.default_rng(2)
    coarse = box.coarse()
    for _ in range(20):
        amounts = rng.uniform(0.0, 0.1, (2, 13))
        shift = delta_e_2000(box.labs(amounts), coarse.labs(amounts))
        assert shift.max() < 0.5  # "a few tenths", as the bench says


# --- gathering colours -----------------------------------------------------------

pixels = arrays(float, st.tuples(st.integers(1, 60), st.just(3)), elements=st.floats(-60, 90))


@given(lab=pixels, data=st.data())
def test_groups_keep_the_mean_and_the_weight(lab: np.ndarray, data: st.DataObject) -> None:
    weight = data.draw(arrays(float, len(lab), elements=st.floats(0.1, 10.0)))
    mean, share = colour_groups(lab, weight, most=12)
    assert len(mean) == len(share) <= 12
    assert share.sum() == pytest.approx(1.0)
    assert (share > 0).all()
    expected = np.average(lab, axis=0, weights=weight)
    np.testing.assert_allclose(share @ mean, expected, atol=1e-9)  # rounding of 60 sums


@given(lab=pixels)
def test_a_group_is_small(lab: np.ndarray) -> None:
    mean, _ = colour_groups(lab, np.ones(len(lab)), most=60, grain=4.0)
    nearest = np.abs(lab[:, None] - mean[None]).max(axis=2).min(axis=1)
    assert nearest.max() <= 4.0 + 1e-9  # a cube of side 4 holds its own mean


def test_groups_may_be_as_few_as_one() -> None:
    # Around the origin of a* and b* cubes with a corner there never become fewer than eight.
    rng = np.random.default_rng(4)
    lab = rng.uniform(-60.0, 60.0, (40, 3))
    for most in range(1, 8):
        mean, share = colour_groups(lab, np.ones(40), most=most)
        assert 1 <= len(mean) <= most
        np.testing.assert_allclose(share @ mean, lab.mean(axis=0), atol=1e-9)  # rounding


def test_colours_without_weight_are_left_out() -> None:
    lab = np.array([[50.0, 0.0, 0.0], [90.0, 80.0, 80.0]])
    mean, share = colour_groups(lab, np.array([2.0, 0.0]))
    np.testing.assert_array_equal(mean, lab[:1])
    assert share.tolist() == [1.0]


@pytest.mark.parametrize(
    ("lab", "weight", "most"),
    [
        (np.zeros((2, 3)), np.zeros(2), 5),
        (np.zeros((0, 3)), np.zeros(0), 5),
        (np.full((2, 3), np.nan), np.ones(2), 5),
        (np.zeros((2, 3)), np.array([1.0, np.inf]), 5),
        (np.zeros((2, 3)), np.ones(2), 0),
    ],
)
def test_nothing_to_gather_is_refused(lab: np.ndarray, weight: np.ndarray, most: int) -> None:
    with pytest.raises(ValueError, match=r"weight"):
        colour_groups(lab, weight, most=most)


# --- free mixing -----------------------------------------------------------------


@settings(max_examples=30)
@given(amounts=arrays(float, (4, 9), elements=st.floats(0.0, 0.05)))
def test_mixtures_of_these_paints_are_mixed_again(nine: Bench, amounts: np.ndarray) -> None:
    targets = np.array([nine.labs(a[None])[1] for a in amounts])
    found = mix_freely(nine, targets, rounds=60, starts=(2e-3, 0.05, 0.4))
    # Without white there is no thick, opaque look-alike to be caught in.
    assert delta_e_2000(found, targets).max() < 0.3


def test_more_starts_are_never_worse(palette: Bench, painterly: Colours) -> None:
    targets, _ = picture(painterly, 3)
    one = delta_e_2000(mix_freely(palette, targets), targets)
    three = delta_e_2000(mix_freely(palette, targets, starts=(2e-3, 0.05, 0.4)), targets)
    assert (three <= one).all()


def test_free_mixing_beats_any_single_paint(palette: Bench, painterly: Colours) -> None:
    targets, _ = picture(painterly, 4)
    all_six = delta_e_2000(mix_freely(palette, targets, rounds=40), targets)
    for p in range(6):
        alone = delta_e_2000(mix_freely(palette.only([p]), targets, rounds=40), targets)
        assert all_six.mean() < alone.mean()


# --- the floor -------------------------------------------------------------------


def test_the_floor_lies_between_the_darkest_mix_and_the_darks(palette: Bench) -> None:
    neutral = palette_module.darkest_lightness(palette)
    assert 0 < neutral < 35
    white = palette.labs(np.zeros((0, 6)))[0]
    dark = np.array([[0.0, 0, 0], [5.0, 2, 2], [50.0, 0, 0], [80.0, 0, 0]])
    floor = floor_for(palette, dark, np.ones(4))
    assert neutral - 1e-9 <= floor < 45
    # Without any darks there is nothing to lift: the floor stays at what paints can do.
    assert floor_for(palette, white[None], np.ones(1)) == pytest.approx(neutral, abs=0.5)


def test_more_paints_reach_no_less_dark(box: Bench, palette: Bench) -> None:
    # Rough ground: the search may stall half a unit of L* above its best.
    assert palette_module.darkest_lightness(box) <= (
        palette_module.darkest_lightness(palette) + 0.5
    )


def test_a_deeply_coloured_dark_lifts_the_floor(palette: Bench) -> None:
    grey = np.array([[10.0, 0.0, 0.0]])
    purple = np.array([[10.0, 50.0, -50.0]])
    one = np.ones(1)
    assert floor_for(palette, purple, one) >= floor_for(palette, grey, one)
