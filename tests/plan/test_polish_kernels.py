"""Compiled slopes against finite differences, and exchanges against trying everything."""

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.optics.difference import delta_e_2000, delta_e_2000_1
from firstwash.paints.catalogue import default_paper
from firstwash.plan import polish_kernels
from firstwash.plan.bench import Bench

# Down to absurdly small chroma the slopes are still exact, but a finite difference is not.
lightness = st.floats(0.0, 100.0)
colour = st.tuples(lightness, st.floats(-90.0, 90.0), st.floats(-90.0, 90.0)).map(np.array)


@given(colour, colour)
def test_the_squared_difference_is_ciede2000(lab: np.ndarray, target: np.ndarray) -> None:
    square = polish_kernels.difference_slope_1(*lab, target)[0]
    assert square == pytest.approx(delta_e_2000_1(lab, target) ** 2, rel=1e-9, abs=1e-12)


def test_published_pairs_are_kept() -> None:
    # Three of the 34 pairs of [Sharma2005] around the hue discontinuity.
    pairs = [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, -1.0, 2.0), (50.0, 0.0, 0.0), 2.3669),
        ((50.0, 2.5, 0.0), (50.0, 3.2592, 0.335), 1.0),
    ]
    for lab, target, known in pairs:
        square = polish_kernels.difference_slope_1(*lab, np.array(target))[0]
        assert np.sqrt(square) == pytest.approx(known, abs=5e-5)  # printed to four decimals


def test_slopes_of_the_difference() -> None:
    rng = np.random.default_rng(0)
    for _ in range(2000):
        target = np.array([rng.uniform(0.0, 100.0), *rng.normal(0.0, 35.0, 2)])
        lab = target + rng.normal(0.0, rng.choice([0.5, 5.0, 30.0]), 3)
        hues = np.arctan2([lab[2], target[2]], [lab[1], target[1]])
        apart = abs(hues[0] - hues[1]) % (2 * np.pi)
        if abs(apart - np.pi) < 0.05 or min(np.hypot(*lab[1:]), np.hypot(*target[1:])) < 0.1:
            continue  # the formula itself jumps at opposite hues
        slopes = polish_kernels.difference_slope_1(*lab, target)[1:]
        for axis in range(3):
            step = np.zeros(3)
            step[axis] = 1e-5
            high = polish_kernels.difference_slope_1(*(lab + step), target)[0]
            low = polish_kernels.difference_slope_1(*(lab - step), target)[0]
            # Rounding of squares up to 1e4 over a step of 2e-5 leaves about 1e-7.
            assert slopes[axis] == pytest.approx((high - low) / 2e-5, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("target", [(50.0, 0.0, 0.0), (50.0, 20.0, -10.0)])
@pytest.mark.parametrize("lab", [(50.0, 0.0, 0.0), (60.0, 0.0, 0.0), (50.0, 20.0, -10.0)])
def test_greys_and_perfect_hits_give_finite_slopes(
    lab: tuple[float, ...], target: tuple[float, ...]
) -> None:
    found = polish_kernels.difference_slope_1(*lab, np.array(target))
    assert np.all(np.isfinite(found))
    if lab == target:
        np.testing.assert_allclose(found, 0.0, atol=1e-12)


# --- a small tree of films -------------------------------------------------------

PARENT = np.array([-1, 0, 1, 2, 1, 0], dtype=np.int64)
FILM_OF = np.array([-1, 0, 1, 2, 2, 1], dtype=np.int64)  # film 1 lies on paper and on paint
PUDDLE_OF = np.array([0, 1, 1], dtype=np.int64)


@pytest.fixture
def paint(palette: Bench) -> dict[str, Any]:
    """Two puddles and three films of two painters, and spots at four of the nodes."""
    rng = np.random.default_rng(3)
    mixed = rng.uniform(0.0, 0.3, (2, 2, palette.colours))
    mixed[:, :, 3:] = 0.0
    at = np.array([0, 2, 3, 3, 5])
    return {
        "bench": palette,
        "mixed": mixed,
        "laid": rng.uniform(0.05, 0.5, (2, 3)),
        "starts": np.searchsorted(at, np.arange(len(PARENT) + 1)).astype(np.int64),
        "lab": rng.uniform((30.0, -20.0, -20.0), (80.0, 20.0, 20.0), (5, 3)),
        "weight": rng.uniform(0.1, 1.0, 5),
        "spread": rng.uniform(0.0, 4.0, 5),
        "floor": np.full(len(PARENT), 97.0),
        "price": np.array([[0.0, 0.0], [0.3, 0], [0, 0.4], [0, 0.7], [0.2, 0.1], [0, 0.5]]),
        "squared": False,
    }


def run(p: dict[str, Any]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    k, s, _, _, sheet, weights, white = p["bench"].arrays
    by_mixed, by_laid = np.empty(p["mixed"].shape), np.empty(p["laid"].shape)
    out = np.empty(2)
    polish_kernels.slopes(
        PARENT, FILM_OF, PUDDLE_OF, p["mixed"], p["laid"], k, s, sheet, weights, white,
        p["starts"], p["lab"], p["weight"], p["spread"], p["squared"], p["floor"], p["price"],
        by_mixed, by_laid, out,
    )  # fmt: skip
    return out, by_mixed, by_laid


def node_labs(p: dict[str, Any]) -> np.ndarray:
    k, s, _, _, sheet, weights, white = p["bench"].arrays
    labs = np.empty((2, len(PARENT), 3))
    polish_kernels.node_labs(
        PARENT, FILM_OF, PUDDLE_OF, p["mixed"], p["laid"], k, s, sheet, weights, white, labs
    )
    return labs


def test_nodes_show_what_the_bench_shows(paint: dict[str, Any]) -> None:
    labs = node_labs(paint)
    chains = {0: [], 1: [0], 2: [0, 1], 3: [0, 1, 2], 4: [0, 2], 5: [1]}
    for m, (node, films) in itertools.product(range(2), chains.items()):
        amounts = np.array(
            [paint["mixed"][m, PUDDLE_OF[f]] * paint["laid"][m, f] for f in films]
        ).reshape(-1, paint["bench"].colours)
        np.testing.assert_allclose(labs[m, node], paint["bench"].labs(amounts)[-1], atol=1e-9)


@pytest.mark.parametrize("squared", [False, True])
def test_sums_are_those_of_the_spots(paint: dict[str, Any], squared: bool) -> None:
    paint["squared"] = squared
    labs = node_labs(paint)
    at = np.repeat(np.arange(len(PARENT)), np.diff(paint["starts"]))
    off = delta_e_2000(labs[:, at], paint["lab"])
    each = off**2 if squared else np.sqrt(off**2 + paint["spread"])
    dark = np.maximum(paint["floor"] - labs[..., 0], 0.0)
    assert dark.max() > 1.0  # the floor is felt
    rise = np.maximum(labs[:, 1:, 0] - labs[:, PARENT[1:], 0], 0.0)
    expected = each @ paint["weight"] + dark**2 @ paint["price"][:, 0]
    expected += rise**2 @ paint["price"][1:, 1]
    np.testing.assert_allclose(run(paint)[0], expected, rtol=1e-10)


@pytest.mark.parametrize("squared", [False, True])
def test_slopes_by_what_is_mixed_and_laid(paint: dict[str, Any], squared: bool) -> None:
    paint["squared"] = squared
    _, by_mixed, by_laid = run(paint)
    for name, slope in (("mixed", by_mixed), ("laid", by_laid)):
        for index in np.ndindex(slope.shape):
            if paint[name][index] == 0.0:
                assert slope[index] == 0.0  # what is not held does not join
                continue
            sums = []
            for sign in (1.0, -1.0):
                moved = paint[name].copy()
                moved[index] += sign * 1e-6
                sums.append(run({**paint, name: moved})[0][index[0]])
            # Central differences of a sum near 100: 1e-14·100/1e-6 of rounding.
            assert slope[index] == pytest.approx((sums[0] - sums[1]) / 2e-6, rel=1e-4, abs=1e-4)


def test_coats_that_lighten_pull_and_are_pulled(paint: dict[str, Any], box: Bench) -> None:
    """An opaque white over a dark: its price has slopes by the white and by what lies below."""
    k = np.stack([box.k[np.argmax(box.k.sum(axis=1))], box.k[np.argmin(box.k.sum(axis=1))]])
    s = np.stack([np.full(k.shape[1], 0.1), np.full(k.shape[1], 60.0)])
    bench = Bench.of([], default_paper())
    opaque = replace(bench, k=k, s=s, loads=np.ones(2), shares=np.ones(2))
    mixed = np.tile(np.eye(2), (2, 1, 1))
    trial = {**paint, "bench": opaque, "mixed": mixed, "weight": np.zeros(5)}
    trial["price"] = np.tile([0.0, 1.0], (len(PARENT), 1))
    assert run(trial)[0].min() > 1.0
    _, _, by_laid = run(trial)
    for index in np.ndindex(by_laid.shape):
        sums = []
        for sign in (1.0, -1.0):
            moved = trial["laid"].copy()
            moved[index] += sign * 1e-6
            sums.append(run({**trial, "laid": moved})[0][index[0]])
        slope = (sums[0] - sums[1]) / 2e-6
        assert by_laid[index] == pytest.approx(slope, rel=1e-4, abs=1e-3)


def test_one_painter_does_not_touch_another(paint: dict[str, Any]) -> None:
    before = run(paint)
    moved = paint["laid"].copy()
    moved[1] *= 1.5
    after = run({**paint, "laid": moved})
    for b, a in zip(before, after, strict=True):
        np.testing.assert_array_equal(b[0], a[0])
        assert not np.array_equal(b[1], a[1])


# --- exchanges -------------------------------------------------------------------


PRICES = np.array([[0.1, 0.0, 2.0, 0.5], [0.0, 3.0, 0.2, 0.0]])  # the last column for none


def exchanged(
    paint: dict[str, Any], film: np.ndarray, price: np.ndarray, sweeps: int = 3
) -> tuple[np.ndarray, float]:
    k, s, _, _, sheet, weights, white = paint["bench"].arrays
    shape = (2, 3, k.shape[1])
    first, r, t = np.empty(shape), np.empty(shape), np.empty(shape)
    polish_kernels.film_optics(PUDDLE_OF, paint["mixed"], paint["laid"], k, s, sheet, first, r, t)
    allowed = np.ones((len(film), 4), dtype=np.bool_)
    starts = np.array([0, 1, 3, 5], dtype=np.int64)
    found = film.copy()
    value = polish_kernels.exchange(
        found, allowed, price, first, r, t, sheet, weights, white, starts,
        paint["lab"], paint["weight"], paint["spread"], 1e-9, sweeps,
    )  # fmt: skip
    return found, value


def by_hand(paint: dict[str, Any], film: tuple[int, ...], price: np.ndarray) -> float:
    """Mean over painters of the stack's misses, from the bench, and its prices."""
    total = 2.0 * sum(float(price[coat, f]) for coat, f in enumerate(film))
    for m in range(2):
        labs = [paint["bench"].labs(np.zeros((0, paint["bench"].colours)))[0]]
        rows: list[np.ndarray] = []
        for f in film:
            if f >= 0:
                rows.append(paint["mixed"][m, PUDDLE_OF[f]] * paint["laid"][m, f])
            stack = np.array(rows).reshape(-1, paint["bench"].colours)
            labs.append(paint["bench"].labs(stack)[-1])
        off = delta_e_2000(np.array(labs)[[0, 1, 1, 2, 2]], paint["lab"])
        total += float(np.sqrt(off**2 + paint["spread"]) @ paint["weight"])
    return total / 2


@pytest.mark.parametrize("price", [np.zeros((2, 4)), PRICES, 10.0 * PRICES])
def test_an_exchange_ends_where_no_single_change_helps(
    paint: dict[str, Any], price: np.ndarray
) -> None:
    for start in itertools.product((-1, 0, 1, 2), repeat=2):
        found, value = exchanged(paint, np.array(start, dtype=np.int64), price, sweeps=20)
        assert value == pytest.approx(by_hand(paint, tuple(found.tolist()), price), rel=1e-9)
        assert value <= by_hand(paint, start, price) + 1e-9
        for coat, other in itertools.product(range(2), (-1, 0, 1, 2)):
            trial = found.copy()
            trial[coat] = other
            assert by_hand(paint, tuple(trial.tolist()), price) >= value - 1e-8


def test_no_sweep_changes_nothing(paint: dict[str, Any]) -> None:
    start = np.array([2, -1], dtype=np.int64)
    found, value = exchanged(paint, start, PRICES, sweeps=0)
    np.testing.assert_array_equal(found, start)
    assert value == pytest.approx(by_hand(paint, (2, -1), PRICES), rel=1e-9)
