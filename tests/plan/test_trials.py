"""Trials of shared paint: slopes of a recipe, strengths, and which puddle or wash a coat takes."""

from collections.abc import Callable

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.plan import trials
from firstwash.plan.bench import Bench

STEP = 1e-6  # of finite differences, in full coats
CASES = range(12)
PIGMENT = 0.7  # squared CIEDE2000 for each pigment of a stack beyond its first


def random_stack(
    rng: np.random.Generator, coats: int, colours: int, load: float = 0.7
) -> np.ndarray:
    """Amounts (coats, colours) > 0; each coat carries about `load` of a full one."""
    return rng.uniform(0.02, 1.0, (coats, colours)) * load / (0.51 * colours)


def random_aims(
    rng: np.random.Generator, bench: Bench, amounts: np.ndarray, miss: float = 8.0
) -> np.ndarray:
    """Four aims some way off what the stack shows, light to dark; the last coat is seen."""
    labs = bench.labs(amounts)
    after = np.append(np.sort(rng.integers(0, len(labs), 3)), len(labs) - 1)
    colours = labs[after] + rng.normal(0.0, miss, (4, 3))
    return np.column_stack([after, colours, rng.uniform(0.1, 1.0, 4)])


def by_differences(cost: Callable[[np.ndarray], float], at: np.ndarray) -> np.ndarray:
    """Half the gradient of a cost, by central differences."""
    moves = STEP * np.eye(at.size)
    return np.array([(cost(at + m) - cost(at - m)) / (4.0 * STEP) for m in moves])


def extra_pigments(held: np.ndarray) -> float:
    """Price of the pigments (coats, pigments) beyond the first."""
    return PIGMENT * max(int(held.any(axis=0).sum()) - 1, 0)


# --- recipes ---------------------------------------------------------------------


@pytest.mark.parametrize("seed", CASES)
def test_gradient_of_a_shared_puddle_is_that_of_the_cost(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    bench = box.only(rng.permutation(13)[:5])
    coats, puddles = int(rng.integers(1, 5)), 3
    recipes = random_stack(rng, puddles, 5, load=0.8)
    puddle_of = rng.integers(0, puddles, coats)
    strengths = rng.uniform(0.02, 0.5, coats)
    q = int(puddle_of[-1])

    def amounts(recipe: np.ndarray) -> np.ndarray:
        changed = recipes.copy()
        changed[q] = recipe
        return np.ascontiguousarray(changed[puddle_of] * strengths[:, None])

    aims = random_aims(rng, bench, amounts(recipes[q]))
    ready = bench.puddles(recipes)
    hessian, gradient = np.zeros((5, 5)), np.zeros(5)
    trials.puddle_normal(
        strengths, puddle_of, q, ready.k, ready.s, bench.k, bench.s, bench.sheet, bench.weights,
        bench.white, aims, hessian, gradient,
    )  # fmt: skip

    def misses(recipe: np.ndarray) -> float:
        """Weighted squared CIEDE2000 alone: prices and penalties are added elsewhere."""
        labs = bench.labs(amounts(recipe))[aims[:, 0].astype(int)]
        return float(aims[:, 4] @ delta_e_2000(labs, aims[:, 1:4]) ** 2)

    expected = by_differences(misses, recipes[q])
    # Residuals' slopes are forward differences: three digits hold even where a near-neutral's
    # hue swings, four elsewhere (test_kernels.py).
    noise = 1e-15 * max(misses(recipes[q]), 1.0) / STEP
    near = noise + 3e-4 * np.abs(gradient).max()
    np.testing.assert_allclose(gradient, expected, rtol=3e-4, atol=near)
    np.testing.assert_allclose(hessian, hessian.T, rtol=1e-12)


# --- puddles ---------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
def test_fitting_strengths_never_raises_the_cost(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    coats = int(rng.integers(1, 5))
    ready = box.puddles(random_stack(rng, 6, 13))
    puddle_of = rng.integers(0, 6, coats)
    strengths = rng.uniform(0.0, 1.0, coats)
    start = np.zeros((coats, 6))
    start[np.arange(coats), puddle_of] = strengths
    aims = random_aims(rng, ready, start, miss=30.0)
    found, prices = strengths.copy(), rng.uniform(0.0, 5.0, (coats, 6))
    cost = trials.fit_strengths(puddle_of, found, prices, *ready.arrays, aims, 70.0, 20)
    assert (found >= 0).all()
    assert cost <= ready.cost(start, aims, 70.0, prices) * (1 + 1e-12)
    start[np.arange(coats), puddle_of] = found
    assert cost == pytest.approx(ready.cost(start, aims, 70.0, prices), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_trying_other_puddles_never_raises_the_cost(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    ready = box.puddles(random_stack(rng, 6, 13))
    puddle_of, strengths = rng.integers(0, 6, 3), rng.uniform(0.1, 0.6, 3)
    amounts = np.zeros((3, 6))
    amounts[np.arange(3), puddle_of] = strengths
    aims = random_aims(rng, ready, amounts, miss=20.0)
    prices, holds = rng.uniform(0.0, 5.0, (3, 6)), rng.random((6, 8)) < 0.3

    def pigments() -> float:
        return extra_pigments(holds[puddle_of[strengths > 0]])

    before = ready.cost(amounts, aims, 70.0, prices) + pigments()
    table = np.empty((3, 6))
    cost = trials.assign_puddles(
        puddle_of, strengths, np.ones((6, 6), dtype=np.bool_), holds, PIGMENT, prices,
        *ready.arrays, aims, 70.0, 2, table,
    )  # fmt: skip
    assert cost <= before
    amounts[:] = 0.0
    amounts[np.arange(3), puddle_of] = strengths
    assert cost == pytest.approx(ready.cost(amounts, aims, 70.0, prices) + pigments(), rel=1e-9)
    assert np.isfinite(table).all()


def test_a_dear_puddle_gives_way_to_its_twin(palette: Bench) -> None:
    recipe = np.array([0.1, 0, 0, 0.2, 0.7, 0.0])
    ready = palette.puddles(np.array([recipe, recipe]) / float(recipe @ palette.loads))
    aims = np.array([[1.0, *ready.labs(np.array([[0.05, 0.0]]))[1], 1.0]])
    for dear in (0, 1):
        puddle_of, strengths = np.array([dear]), np.array([0.05])
        prices, table = np.zeros((1, 2)), np.empty((1, 2))
        prices[0, dear] = 5.0
        trials.assign_puddles(
            puddle_of, strengths, np.ones((2, 2), dtype=np.bool_), np.zeros((2, 0), dtype=np.bool_),
            0.0, prices, *ready.arrays, aims, 0.0, 1, table,
        )  # fmt: skip
        assert puddle_of.tolist() == [1 - dear]
        assert table[0, dear] > table[0, 1 - dear]


def test_a_puddle_of_pigments_already_there_is_taken(palette: Bench) -> None:
    recipe = np.array([0.1, 0, 0, 0.2, 0.7, 0.0])
    ready = palette.puddles(np.array([recipe] * 3) / float(recipe @ palette.loads))
    amounts = np.diag([0.05, 0.05, 0.0])[:2]
    aims = np.column_stack([[1.0, 2.0], ready.labs(amounts)[1:], [1.0, 1.0]])
    holds = np.array([[True, False], [False, True], [True, False]])
    puddle_of, strengths = np.array([0, 1]), np.array([0.05, 0.05])
    cost = trials.assign_puddles(
        puddle_of, strengths, np.ones((3, 3), dtype=np.bool_), holds, PIGMENT, np.zeros((2, 3)),
        *ready.arrays, aims, 0.0, 2, np.empty((2, 3)),
    )  # fmt: skip
    assert holds[puddle_of].any(axis=0).sum() == 1
    assert cost < 0.01  # one pigment is free, and twins match to the solver's stopping rule


# --- washes ----------------------------------------------------------------------


@pytest.mark.parametrize("seed", CASES)
def test_trying_other_washes_never_raises_the_cost(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    coats, washes = 3, 9
    ready = box.puddles(random_stack(rng, washes, 13, load=0.3))
    layer_of, layers = np.arange(washes) % coats, np.arange(coats)
    wash_of = np.array([rng.choice([*np.flatnonzero(layer_of == n), -1]) for n in layers])
    usable = rng.random(washes) < 0.8
    prices, holds = rng.uniform(0.0, 5.0, (coats, washes)), rng.random((washes, 8)) < 0.3

    def rows(own: np.ndarray) -> np.ndarray:
        return (own[:, None] == np.arange(washes)).astype(np.float64)

    def cost_of(own: np.ndarray) -> float:
        return ready.cost(rows(own), aims, 70.0, prices) + extra_pigments(holds[own[own >= 0]])

    aims = random_aims(rng, ready, rows(wash_of), miss=20.0)
    before = cost_of(np.where(usable[wash_of], wash_of, -1))
    table = np.empty((coats, washes + 1))
    cost = trials.assign_washes(
        wash_of, layers, layer_of, np.ones((washes, washes), dtype=np.bool_), usable, holds,
        PIGMENT, prices, *ready.arrays, aims, 70.0, 3, table,
    )  # fmt: skip
    assert cost <= before + 1e-9
    assert cost == pytest.approx(cost_of(wash_of), rel=1e-9)
    laid = wash_of >= 0
    assert usable[wash_of[laid]].all()
    np.testing.assert_array_equal(layer_of[wash_of[laid]], layers[laid])
    # No other wash of the same layer, nor none, is better by more than is worth a change.
    for i in range(coats):
        for other in (*np.flatnonzero(usable & (layer_of == layers[i])), -1):
            tried = wash_of.copy()
            tried[i] = other
            assert cost_of(tried) >= cost - trials.WORTH_A_CHANGE - 1e-9
