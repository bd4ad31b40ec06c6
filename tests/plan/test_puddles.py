"""Few puddles for many washes: limits hold, the error falls with more, nothing is lost."""

from collections.abc import Callable

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.plan import puddles as puddles_module
from firstwash.plan.bench import Bench
from firstwash.plan.puddles import Mixing, drop_idle_coats, own_puddles, share_puddles
from firstwash.plan.stacks import Stack, prune, solve_stack

COUNTS = (1, 2, 4, 8, 16)


@pytest.fixture(scope="module")
def stacks(
    palette: Bench, painterly: Callable[[np.random.Generator, int], np.ndarray]
) -> list[Stack]:
    """Twenty shapes of one to three levels, at most three paints a coat."""
    made = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        n = int(rng.integers(1, 4))
        cells = np.arange(n) + 10 * seed
        areas = rng.uniform(50.0, 900.0, n)
        stack = solve_stack(palette, seed, cells, painterly(rng, n), areas, 4)
        made.append(prune(palette, stack, 3))
    return made


@pytest.fixture(scope="module")
def shared(palette: Bench, stacks: list[Stack]) -> dict[int, Mixing]:
    return {most: share_puddles(palette, stacks, most, 3) for most in COUNTS}


def total(stacks: list[Stack], mixing: Mixing) -> float:
    """Root mean squared CIEDE2000 over the area."""
    area = sum(s.area for s in stacks)
    cost = sum(s.area * c for s, c in zip(stacks, mixing.costs, strict=True))
    return float(np.sqrt(cost / area))


def assert_consistent(bench: Bench, stacks: list[Stack], mixing: Mixing) -> None:
    """Shapes of the arrays, unit loads, every puddle used, and costs that are the true ones."""
    np.testing.assert_allclose(mixing.recipes @ bench.loads, 1.0, rtol=1e-12)
    assert (mixing.recipes >= 0).all()
    used = np.unique(np.concatenate(mixing.puddle_of))
    np.testing.assert_array_equal(used, np.arange(len(mixing.recipes)))
    for i, stack in enumerate(stacks):
        coats = len(stack.layers)
        assert len(mixing.puddle_of[i]) == len(mixing.strengths[i]) == coats
        assert (mixing.strengths[i] >= 0).all()
        assert stack.coats_of.max() <= coats
        assert stack.aims[:, 0].max(initial=0) <= coats
        cost = bench.cost(mixing.amounts(i), stack.aims, stack.cap)
        # Puddles are mixed before they are laid: the same sums in another order.
        assert mixing.costs[i] == pytest.approx(cost, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("most", COUNTS)
def test_shared_puddles_keep_their_limits(
    palette: Bench, stacks: list[Stack], shared: dict[int, Mixing], most: int
) -> None:
    mixing = shared[most]
    assert 1 <= len(mixing.recipes) <= most
    assert ((mixing.recipes > 0).sum(axis=1) <= 3).all()
    assert_consistent(palette, stacks, mixing)
    # No paint is asked for in traces nobody can measure out.
    shares = mixing.recipes * palette.loads
    assert shares[shares > 0].min() >= puddles_module.TINT_SHARE


def test_more_puddles_match_better(
    palette: Bench, stacks: list[Stack], shared: dict[int, Mixing]
) -> None:
    errors = [total(stacks, shared[most]) for most in COUNTS]
    own = total(stacks, own_puddles(palette, stacks))
    print(
        "rms CIEDE2000 with",
        [f"{n}: {e:.2f}" for n, e in zip(COUNTS, errors, strict=True)],
        f"own: {own:.2f}",
    )
    # The search is local: one more puddle may end a little worse than one fewer.
    assert max(np.diff(errors)) < 0.1
    assert errors[-1] < 0.5 * errors[0]
    # Sharing re-fits recipes to what shows, so sixteen may even beat one puddle per wash, whose
    # paints were taken out one by one; far above it they must not be.
    assert errors[-1] < own + 1.0


def test_sharing_twice_gives_the_same_bits(palette: Bench, stacks: list[Stack]) -> None:
    first, second = (share_puddles(palette, stacks[:8], 5, 3) for _ in range(2))
    np.testing.assert_array_equal(first.recipes, second.recipes)
    for a, b in zip(first.strengths, second.strengths, strict=True):
        np.testing.assert_array_equal(a, b)


@pytest.mark.parametrize("paints", [1, 2])
def test_fewer_paints_per_puddle_can_be_asked(
    palette: Bench, stacks: list[Stack], paints: int
) -> None:
    mixing = share_puddles(palette, stacks[:8], 6, paints)
    assert ((mixing.recipes > 0).sum(axis=1) <= paints).all()
    assert_consistent(palette, stacks[:8], mixing)


def test_areas_decide_who_is_served(palette: Bench) -> None:
    blue, brown = (
        solve_stack(palette, i, np.arange(1), np.array([lab]), np.array([area]), 4)
        for i, (lab, area) in enumerate((((60.0, 0.0, -35.0), 10_000.0), ((60.0, 15.0, 30.0), 1.0)))
    )
    mixing = share_puddles(palette, [blue, brown], 1, 3)
    served = [
        float(delta_e_2000(palette.labs(mixing.amounts(i))[-1], s.aims[-1, 1:4]))
        for i, s in enumerate((blue, brown))
    ]
    assert served[0] < 1.0
    assert served[1] > 10.0


def test_own_puddles_predict_what_the_stacks_do(palette: Bench, stacks: list[Stack]) -> None:
    mixing = own_puddles(palette, stacks)
    assert len(mixing.recipes) == sum(len(s.amounts) for s in stacks)
    for i, stack in enumerate(stacks):
        np.testing.assert_allclose(mixing.amounts(i), stack.amounts, rtol=1e-12, atol=1e-15)
    assert_consistent(palette, stacks, mixing)


def test_no_stacks_need_no_puddles(palette: Bench) -> None:
    mixing = own_puddles(palette, [])
    assert mixing.recipes.shape == (0, 6)
    assert mixing.puddle_of == []


# --- coats nobody would see ------------------------------------------------------


@pytest.mark.parametrize("most", [2, 8, None])
def test_idle_coats_go_and_the_rest_stays_consistent(
    palette: Bench, stacks: list[Stack], shared: dict[int, Mixing], most: int | None
) -> None:
    before = own_puddles(palette, stacks) if most is None else shared[most]
    copy = Mixing(
        before.recipes.copy(),
        [p.copy() for p in before.puddle_of],
        [s.copy() for s in before.strengths],
        before.costs.copy(),
    )
    thin, mixing = drop_idle_coats(palette, stacks, copy)
    assert_consistent(palette, thin, mixing)
    for i, (old, new) in enumerate(zip(stacks, thin, strict=True)):
        assert new.shape == old.shape
        np.testing.assert_array_equal(new.cells, old.cells)
        assert set(new.layers) <= set(old.layers)
        assert (new.coats_of <= old.coats_of).all()
        assert (np.diff(new.coats_of) >= 0).all()
        if len(new.layers) < len(old.layers):
            # What goes changed less than 0.7 a coat; strengths are fitted again after that.
            gone = len(old.layers) - len(new.layers)
            was = palette.labs(before.amounts(i))[old.coats_of]
            now = palette.labs(mixing.amounts(i))[new.coats_of]
            assert delta_e_2000(was, now).mean() < puddles_module.IDLE * gone + 1.0
    # Nothing of what is seen gets worse by more than what was given up.
    assert total(thin, mixing) <= total(stacks, before) + 0.2


def test_a_coat_of_nothing_is_idle(palette: Bench) -> None:
    stack = solve_stack(
        palette, 0, np.arange(2), np.array([[80.0, 5, 5], [50.0, 10, 10]]), np.ones(2), 4
    )
    mixing = own_puddles(palette, [stack])
    mixing.strengths[0][:] = 0.0
    thin, left = drop_idle_coats(palette, [stack], mixing)
    assert len(thin[0].layers) == 0
    assert left.recipes.shape == (0, 6)
    assert thin[0].coats_of.tolist() == [0, 0]


def test_a_lost_lead_in_takes_its_aim_along(palette: Bench) -> None:
    stack = solve_stack(palette, 0, np.arange(1), np.array([[40.0, 15.0, 10.0]]), np.ones(1), 4)
    assert len(stack.aims) == 2  # the lead-in's and the shape's own
    mixing = own_puddles(palette, [stack])
    mixing.strengths[0][0] = 0.0
    thin, left = drop_idle_coats(palette, [stack], mixing)
    assert (thin[0].aims[:, 0] > 0).all()
    assert thin[0].cap == 0.0  # what is left starts in a later layer: it need not be pale
    assert len(thin[0].layers) == len(stack.layers) - 1
    assert_consistent(palette, thin, left)
