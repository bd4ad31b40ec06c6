"""Measuring every dry layer and adapting the next: fair, and worth it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from firstwash.plan.adapt import _adapted as adapted
from firstwash.plan.adapt import _Easel as Easel
from firstwash.plan.adapt import _Eye as Eye
from firstwash.plan.adapt import adapted_misses
from firstwash.plan.hands import Handiwork, Painters, Slips, expected_misses, handiwork_of_coats
from firstwash.plan.polish import REACH

Shared = Any  # the small plan of conftest.py


@pytest.fixture(scope="module")
def work(shared: Shared) -> Handiwork:
    return handiwork_of_coats(shared.bench, shared.stacks, shared.mixing, shared.cells)


@pytest.fixture(scope="module")
def easel(shared: Shared, work: Handiwork) -> Easel:
    return Easel.of(work, Painters(0.3, 1), shared.spots)


def one(slips: Slips, m: int = 0) -> Slips:
    return Slips(slips.parts[m : m + 1], slips.loads[m : m + 1])


@pytest.mark.parametrize(("sigma", "noise"), [(0.2, 0.0), (0.4, 0.0), (0.4, 1.5)])
def test_measuring_and_adapting_pays(
    shared: Shared, work: Handiwork, sigma: float, noise: float
) -> None:
    """The same painters with the same errors, with and without a look at the sheet."""
    painters = Painters(sigma, 40, seed=500)
    blind = expected_misses(work, work.slips(painters), shared.spots)
    gain = blind - adapted_misses(work, painters, shared.spots, noise)
    mean, half = gain.mean(), 1.96 * gain.std(ddof=1) / np.sqrt(len(gain))
    print(f"sigma {sigma}, noise {noise}: better by {mean:.3f} ± {half:.3f} of {blind.mean():.2f}")
    assert mean - half > 0.0


def test_a_better_instrument_helps_more(shared: Shared, work: Handiwork) -> None:
    painters = Painters(0.4, 16, seed=500)
    means = [
        adapted_misses(work, painters, shared.spots, noise).mean() for noise in (0.0, 1.5, 20.0)
    ]
    print(means)
    assert means[0] < means[1] + 0.05  # nearly the same: much is measured
    assert means[1] < means[2]
    # Colours off by 20 say nothing, and are hardly listened to.
    blind = expected_misses(work, work.slips(painters), shared.spots).mean()
    assert means[2] < blind + 0.2


def test_what_is_still_to_come_is_not_known(work: Handiwork, easel: Easel) -> None:
    """Errors of later layers and of puddles not yet used do not change a decision."""
    own = one(work.slips(Painters(0.3, 1, seed=9)))
    for layer in range(1, work.layers):
        other = Slips(own.parts.copy(), own.loads.copy())
        other.loads[:, work.wash_layer > layer] += 1.0
        other.parts[:, easel.first > layer] -= 1.0
        calm = np.zeros(len(work.wash_layer))
        np.testing.assert_array_equal(
            adapted(easel, calm, own, layer), adapted(easel, calm, other, layer)
        )
        noise = np.random.default_rng(0).standard_normal((len(work.parent), 3))
        seen = [Eye(easel, slips, 1.5, noise).look(calm, layer) for slips in (own, other)]
        np.testing.assert_array_equal(seen[0].loads, seen[1].loads)
        np.testing.assert_array_equal(seen[0].parts, seen[1].parts)
        assert not seen[0].loads[:, work.wash_layer > layer].any()


def test_only_later_layers_are_adapted(work: Handiwork, easel: Easel) -> None:
    own = one(work.slips(Painters(0.3, 1, seed=9)))
    factors = np.linspace(-0.1, 0.1, len(work.wash_layer))
    found = adapted(easel, factors, own, 1)
    done = work.wash_layer <= 1
    np.testing.assert_array_equal(found[done], factors[done])
    assert np.abs(found[~done] - factors[~done]).max() > 0.02
    assert np.all(np.abs(found) <= np.log(REACH) + 1e-9)
    strongest = work.film_strength * np.exp(found)[work.film_wash]
    assert np.all(
        strongest <= np.maximum(1.0, work.film_strength * np.exp(factors)[work.film_wash]) + 1e-9
    )


def test_a_sheet_that_came_out_too_dark_gets_paler_washes(work: Handiwork, easel: Easel) -> None:
    calm = np.zeros(len(work.wash_layer))
    nothing = one(work.slips(Painters(0.0, 1)))
    means = []
    for error in (-0.7, 0.0, 0.7):
        slips = Slips(nothing.parts, np.where(work.wash_layer == 1, error, 0.0)[None])
        found = adapted(easel, calm, slips, 1)
        means.append(float(found[work.wash_layer == 2].mean()))
    assert means[0] > means[1] > means[2]


def test_a_good_instrument_finds_what_was_laid(work: Handiwork, easel: Easel) -> None:
    own = one(work.slips(Painters(0.3, 1, seed=4)))
    noise = np.random.default_rng(0).standard_normal((len(work.parent), 3))
    calm = np.zeros(len(work.wash_layer))
    off = {}
    for size in (0.02, 1.5, 30.0):
        found = Eye(easel, own, size, noise).look(calm, 1)
        first = work.wash_layer == 1
        off[size] = float(np.abs(found.loads - own.loads)[0, first].mean())
    print(off, float(np.abs(own.loads).mean()))
    assert off[0.02] < 0.06  # the error was 0.24 on average
    assert off[0.02] < off[1.5] < off[30.0]


def test_a_perfect_instrument_is_believed(work: Handiwork, easel: Easel) -> None:
    own = one(work.slips(Painters(0.3, 1, seed=4)))
    assert Eye(easel, own, 0.0, np.zeros((len(work.parent), 3))).look(np.zeros(1), 1) is own


def test_steady_hands_need_no_adapting(shared: Shared, work: Handiwork) -> None:
    """They lose nothing by it either, and gain what refining the plan would have gained."""
    blind = expected_misses(work, work.slips(Painters(0.0, 2)), shared.spots)
    for noise in (0.0, 1.5):
        found = adapted_misses(work, Painters(0.0, 2), shared.spots, noise)
        assert found[0] == found[1]
        assert found[0] <= blind[0] + 1e-6


def test_one_layer_leaves_nothing_to_adapt(shared: Shared, work: Handiwork) -> None:
    flat = replace(work, wash_layer=np.ones_like(work.wash_layer))
    painters = Painters(0.3, 3)
    np.testing.assert_array_equal(
        adapted_misses(flat, painters, shared.spots),
        expected_misses(flat, flat.slips(painters), shared.spots),
    )


def test_the_same_seed_gives_the_same_painting(shared: Shared, work: Handiwork) -> None:
    painters = Painters(0.3, 3, seed=8)
    runs = [adapted_misses(work, painters, shared.spots, 1.5) for _ in range(2)]
    np.testing.assert_array_equal(*runs)


@pytest.mark.parametrize("noise", [-1.0, np.nan, np.inf])
def test_impossible_noise_is_refused(shared: Shared, work: Handiwork, noise: float) -> None:
    with pytest.raises(ValueError, match="noise"):
        adapted_misses(work, Painters(0.2, 1), shared.spots, noise)
