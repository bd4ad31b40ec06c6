"""The solver's core: its slopes, its predictions, its fits, and hostile input."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.plan import kernels
from firstwash.plan.bench import Bench

STEP = 1e-6  # of finite differences, in full coats
CASES = range(12)


def random_stack(
    rng: np.random.Generator, coats: int, colours: int, load: float = 0.7
) -> np.ndarray:
    """Amounts (coats, colours) > 0; each coat carries about `load` of a full one."""
    return rng.uniform(0.02, 1.0, (coats, colours)) * load / (0.51 * colours)


def random_aims(
    rng: np.random.Generator, bench: Bench, amounts: np.ndarray, n: int = 4, miss: float = 8.0
) -> np.ndarray:
    """Aims (n, 5) some way off what the stack shows, light to dark."""
    labs = bench.labs(amounts)
    after = np.sort(rng.integers(0, len(labs), n))
    after[-1] = len(labs) - 1  # the last coat is always seen
    colours = labs[after] + rng.normal(0.0, miss, (n, 3))
    return np.column_stack([after, colours, rng.uniform(0.1, 1.0, n)])


def slopes(
    bench: Bench,
    amounts: np.ndarray,
    aims: np.ndarray,
    cap: float,
    prices: np.ndarray | None = None,
) -> tuple[float, np.ndarray, np.ndarray]:
    """Cost, half its gradient (coats · colours,) and the Gauss-Newton matrix."""
    n = amounts.size
    hessian, gradient = np.empty((n, n)), np.empty(n)
    cost = kernels._normal(
        amounts, np.ones(amounts.shape, dtype=np.bool_),
        bench.saving(len(amounts)) if prices is None else prices,
        *bench.arrays, aims, cap, hessian, gradient,
    )  # fmt: skip
    return cost, gradient, hessian


def by_differences(cost: Callable[[np.ndarray], float], at: np.ndarray) -> np.ndarray:
    """Half the gradient of a cost, by central differences."""
    out = np.empty(at.size)
    for i in range(at.size):
        up, down = at.copy(), at.copy()
        up.flat[i] += STEP
        down.flat[i] -= STEP
        out[i] = (cost(up) - cost(down)) / (4.0 * STEP)
    return out


def assert_slopes_agree(found: np.ndarray, expected: np.ndarray, cost: float) -> None:
    # The residuals' own slopes are forward differences over 1e-8 of the white, a hundredth of a
    # unit of chroma at most, so four digits hold even where a near-neutral's hue swings; the
    # central differences here carry the cost's rounding, 1e-15 of it, over their step.
    noise = 1e-15 * max(cost, 1.0) / STEP
    np.testing.assert_allclose(found, expected, rtol=1e-4, atol=noise + 1e-4 * np.abs(found).max())


# --- slopes ----------------------------------------------------------------------


@pytest.mark.parametrize("seed", CASES)
@pytest.mark.parametrize("cap", [0.0, 70.0, 99.0])
def test_gradient_of_the_stack_is_that_of_its_cost(box: Bench, seed: int, cap: float) -> None:
    rng = np.random.default_rng(seed)
    bench = box.only(rng.permutation(13)[: rng.integers(1, 6)])
    amounts = random_stack(rng, int(rng.integers(1, 5)), bench.colours, load=0.15)
    aims = random_aims(rng, bench, amounts)
    cost, gradient, _ = slopes(bench, amounts, aims, cap)
    assert cost == pytest.approx(bench.cost(amounts, aims, cap), rel=1e-12)
    expected = by_differences(lambda a: bench.cost(a, aims, cap), amounts)
    assert_slopes_agree(gradient, expected, cost)


def test_the_cap_bound_in_some_of_those_stacks_and_not_in_others(box: Bench) -> None:
    lightness = []
    for seed in CASES:
        rng = np.random.default_rng(seed)
        bench = box.only(rng.permutation(13)[: rng.integers(1, 6)])
        amounts = random_stack(rng, int(rng.integers(1, 5)), bench.colours, load=0.15)
        lightness.append(bench.labs(amounts)[1, 0])
    assert min(lightness) < 70 < max(lightness) < 99


@pytest.mark.parametrize("seed", CASES)
def test_gradient_holds_for_coats_with_too_much_paint(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    bench = box.only(rng.permutation(13)[:3])
    amounts = random_stack(rng, 2, 3, load=0.2)
    heavy = replace(bench, loads=bench.loads * rng.uniform(6.0, 12.0, 3))
    assert ((amounts @ heavy.loads) > 1.0).any()
    aims = random_aims(rng, bench, amounts)
    cost, gradient, _ = slopes(heavy, amounts, aims, 70.0)
    assert cost > bench.cost(amounts, aims, 70.0) + 1.0
    expected = by_differences(lambda a: heavy.cost(a, aims, 70.0), amounts)
    assert_slopes_agree(gradient, expected, cost)


def test_a_coat_that_lightens_the_sheet_is_dear(box: Bench) -> None:
    keys = [p.key for p in load_set("measured-all").paints]
    bench = box.only([keys.index("PBk9"), keys.index("PW4")])
    over = np.array([[0.5, 0.0], [0.0, 1.0]]) / bench.loads  # white over black
    rise = float(np.diff(bench.labs(over)[:, 0])[1])
    assert rise > 5.0
    mute = np.array([[2.0, 50.0, 0.0, 0.0, 0.0]])
    extra = bench.cost(over, mute) - bench.cost(over[:1], np.array([[1.0, 50, 0, 0, 0.0]]))
    assert extra == pytest.approx((kernels.LIGHTNESS_PRICE * rise) ** 2, rel=1e-3)


def test_some_random_stacks_lighten_and_are_in_the_tests_of_the_slopes(box: Bench) -> None:
    rises = []
    for seed in CASES:
        rng = np.random.default_rng(seed)
        bench = box.only(rng.permutation(13)[: rng.integers(1, 6)])
        amounts = random_stack(rng, int(rng.integers(1, 5)), bench.colours, load=0.15)
        rises.append(np.diff(bench.labs(amounts)[:, 0]).max())
    assert min(rises) < 0 < max(rises)


@pytest.mark.parametrize("seed", CASES)
def test_gradient_holds_with_prices_and_limited_shares(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    bench = box.only(rng.permutation(13)[: rng.integers(2, 6)])
    limited = bench.limited(rng.uniform(0.1, 0.6, bench.colours))
    amounts = random_stack(rng, int(rng.integers(1, 5)), bench.colours, load=0.15)
    aims, prices = random_aims(rng, bench, amounts), rng.uniform(0.0, 50.0, amounts.shape)
    cost, gradient, hessian = slopes(limited, amounts, aims, 70.0, prices)
    plain = bench.cost(amounts, aims, 70.0)
    paid = float(((prices - kernels.SAVING) * amounts * bench.loads).sum())
    assert cost == pytest.approx(limited.cost(amounts, aims, 70.0, prices), rel=1e-12)
    assert bench.cost(amounts, aims, 70.0, prices) == pytest.approx(plain + paid, rel=1e-9)
    assert cost >= (plain + paid) * (1 - 1e-12)  # more where a paint is over its share
    expected = by_differences(lambda a: limited.cost(a, aims, 70.0, prices), amounts)
    assert_slopes_agree(gradient, expected, cost)
    np.testing.assert_array_equal(hessian, hessian.T)


def test_the_normal_matrix_is_symmetric_and_never_bends_down(box: Bench) -> None:
    rng = np.random.default_rng(3)
    amounts = random_stack(rng, 3, 5)
    bench = box.only(range(5))
    _, _, hessian = slopes(bench, amounts, random_aims(rng, bench, amounts), 70.0)
    np.testing.assert_array_equal(hessian, hessian.T)
    # A sum of squares: eigenvalues below 0 are rounding against the largest.
    values = np.linalg.eigvalsh(hessian)
    assert values[0] > -1e-10 * values[-1]


def test_a_colour_that_is_not_allowed_has_no_part_in_the_step(box: Bench) -> None:
    rng = np.random.default_rng(4)
    bench = box.only(range(4))
    amounts = random_stack(rng, 2, 4)
    aims = random_aims(rng, bench, amounts)
    allowed = np.ones((2, 4), dtype=np.bool_)
    allowed[0, 1] = allowed[1, 3] = False
    found, _ = bench.fit(amounts, aims, allowed=allowed)
    np.testing.assert_array_equal(found[~allowed], amounts[~allowed])
    assert not np.array_equal(found[allowed], amounts[allowed])


# --- predictions -----------------------------------------------------------------


@pytest.mark.parametrize("seed", CASES)
def test_predictions_are_those_of_the_optics(box: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    amounts = random_stack(rng, int(rng.integers(1, 6)), 13, load=rng.choice([0.01, 0.3, 1.0]))
    amounts[1:][rng.random((len(amounts) - 1, 13)) < 0.5] = 0.0  # clear water may come later
    seen = stages(default_paper(), amounts @ box.k, amounts @ box.s)
    # The same arithmetic in another order; L* of black multiplies rounding by 900.
    np.testing.assert_allclose(box.labs(amounts), reflectance_to_lab(seen), atol=1e-9)


def test_no_coats_show_the_paper(box: Bench) -> None:
    bare = box.labs(np.zeros((0, 13)))
    np.testing.assert_allclose(
        bare, reflectance_to_lab(default_paper().reflectance)[None], atol=1e-9
    )
    # A first coat of clear water leaves the paper as it is.
    np.testing.assert_allclose(box.labs(np.zeros((2, 13))), bare.repeat(3, axis=0), atol=1e-9)


# --- fitting ---------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("cap", [0.0, 70.0])
def test_a_fit_never_raises_the_cost(box: Bench, seed: int, cap: float) -> None:
    rng = np.random.default_rng(seed)
    amounts = random_stack(rng, int(rng.integers(1, 5)), 13, load=rng.choice([1e-3, 0.3, 2.0]))
    aims = random_aims(rng, box, amounts, miss=30.0)
    found, cost = box.fit(amounts, aims, cap)
    assert (found >= 0).all()
    assert cost <= box.cost(amounts, aims, cap)
    assert cost == pytest.approx(box.cost(found, aims, cap), rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_a_colour_that_can_be_mixed_is_found_again(palette: Bench, seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = palette.labs(random_stack(rng, 1, 6, load=0.3) / palette.loads)[1]
    aims = np.array([[1.0, *wanted, 1.0]])
    found, cost = palette.fit(2e-3 / palette.loads[None], aims)
    # What is left is the small price of paint itself, and the solver's stopping rule.
    assert cost < 0.01
    np.testing.assert_allclose(palette.labs(found)[1], wanted, atol=0.1)


def test_a_price_sends_paint_to_the_coat_where_it_is_cheap(palette: Bench) -> None:
    coats = np.array([[0.02, 0, 0, 0.0, 0.03, 0.0], [0.03, 0, 0, 0, 0.05, 0.0]])
    aims = np.array([[2.0, *palette.labs(coats)[2], 1.0]])  # only the sum of both is seen
    blue = 4
    for dear in (0, 1):
        prices = palette.saving(2)
        prices[dear, blue] += 10.0
        found, _ = palette.fit(np.full((2, 6), 1e-3), aims, prices=prices)
        # Not nothing: the first coat soaks in, so a little on top matches better.
        assert found[dear, blue] < 0.2 * found[1 - dear, blue]
        np.testing.assert_allclose(palette.labs(found)[2], aims[0, 1:4], atol=0.5)


def test_a_limited_share_is_kept_almost_to_the_letter(palette: Bench) -> None:
    wanted = palette.labs(np.array([[0, 0, 0, 0.0, 0.02, 0.0]]))[1]  # the blue alone
    aims = np.array([[1.0, *wanted, 1.0]])
    limited = palette.limited(np.array([1, 1, 1, 1, 0.4, 1.0]))
    found, cost = limited.fit(np.full((1, 6), 1e-3), aims)
    loads = found[0] * palette.loads
    assert loads[4] > 0.0
    assert loads[4] <= 0.41 * loads.sum()  # a price, not a wall: recipes are cut to it later
    assert cost > palette.fit(np.full((1, 6), 1e-3), aims)[1]


# --- hostile input ---------------------------------------------------------------


@pytest.mark.parametrize(
    "colour", [(0, 0, 0), (100, 0, 0), (0, 120, -120), (50, 0, 0), (100, 200, 200), (-5, 0, 0)]
)
@pytest.mark.parametrize("weight", [0.0, 1.0, 1e6])
@pytest.mark.parametrize("paints", [1, 13])
def test_impossible_colours_give_numbers(
    box: Bench, colour: tuple[float, ...], weight: float, paints: int
) -> None:
    bench = box.only(range(paints))
    aims = np.array([[0.0, *colour, weight], [1.0, *colour, weight], [3.0, *colour, weight]])
    for start in (0.0, 1e-3, 5.0):
        first = np.full((3, paints), start)
        found, cost = bench.fit(first, aims, 70.0)
        assert np.isfinite(found).all()
        assert (found >= 0).all()
        assert np.isfinite(cost)
        assert cost <= bench.cost(first, aims, 70.0)
        assert np.isfinite(bench.labs(found)).all()


def test_an_aim_at_the_paper_itself_wants_no_paint(box: Bench) -> None:
    white = box.labs(np.zeros((0, 13)))[0]
    # From a pale start; from a dark one, white paint over the dark is a local best.
    found, cost = box.fit(np.full((1, 13), 1e-3), np.array([[1.0, *white, 1.0]]))
    assert found.max() < 1e-3  # the price of paint pulls to zero; steps stop at 1e-4 of the cost
    assert cost < 1e-3


def test_weights_of_zero_say_nothing(box: Bench) -> None:
    rng = np.random.default_rng(5)
    amounts = random_stack(rng, 2, 13)
    aims = random_aims(rng, box, amounts)
    mute = np.vstack([aims, [2.0, 10.0, 60.0, 60.0, 0.0]])
    assert box.cost(amounts, mute) == pytest.approx(box.cost(amounts, aims), rel=1e-12)


def test_free_mixing_of_anything_gives_numbers(box: Bench) -> None:
    targets = np.array([[0, 0, 0], [100, 0, 0], [50, 127, -128], [100, -128, 127.0]])
    out = np.empty((4, 3))
    kernels.mix_freely(targets, 2e-3, *box.arrays, 14, out)
    assert np.isfinite(out).all()
