"""Hands that err: the errors themselves, whom they are shared by, and what comes of them."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.reference import Reference, with_background
from firstwash.plan.bench import Bench
from firstwash.plan.hands import (
    Handiwork,
    Painters,
    cell_misses,
    expected_misses,
    handiwork_of_coats,
    handiwork_of_plan,
    outlook,
    wash_numbers,
)
from firstwash.plan.outlook import Expected
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.puddles import Mixing
from firstwash.plan.result import Plan
from firstwash.plan.spots import cell_spots
from firstwash.plan.stacks import Stack

Shared = Any  # the small plan of conftest.py


@pytest.fixture(scope="module")
def work(shared: Shared) -> Handiwork:
    return handiwork_of_coats(shared.bench, shared.stacks, shared.mixing, shared.cells)


# --- the errors ------------------------------------------------------------------


def test_logarithms_have_mean_0_and_the_sigma_asked_for() -> None:
    slips = Painters(0.3, 400, seed=5).slips(10, 4, 50)
    for values in (slips.parts, slips.loads):
        # 16 000 and 20 000 draws: standard error of mean and sigma below 0.0024; four of them.
        assert abs(values.mean()) < 0.01
        assert values.std() == pytest.approx(0.3, abs=0.01)


def test_errors_are_independent() -> None:
    loads = Painters(1.0, 2000, seed=1).slips(2, 2, 12).loads
    with np.errstate(all="raise"):
        together = np.corrcoef(loads.T) - np.eye(12)
    assert np.abs(together).max() < 0.1  # standard error 0.022, the largest of 66


def test_the_same_painters_err_the_same_way() -> None:
    one, two = (Painters(0.2, 5, seed=3).slips(4, 3, 9) for _ in range(2))
    np.testing.assert_array_equal(one.loads, two.loads)
    np.testing.assert_array_equal(one.parts, two.parts)
    other = Painters(0.2, 5, seed=4).slips(4, 3, 9)
    assert not np.array_equal(one.loads, other.loads)


def test_more_of_a_plan_leaves_the_other_errors_alone() -> None:
    small, large = Painters(0.2, 5).slips(4, 3, 9), Painters(0.2, 8).slips(6, 3, 12)
    np.testing.assert_array_equal(small.loads, large.loads[:5, :9])
    np.testing.assert_array_equal(small.parts, large.parts[:5, :4])


def test_twice_the_sigma_is_twice_the_logarithm() -> None:
    one, two = Painters(0.2, 5).slips(4, 3, 9), Painters(0.4, 5).slips(4, 3, 9)
    np.testing.assert_allclose(two.loads, 2.0 * one.loads)


@pytest.mark.parametrize("wrong", [(-0.1, 5, 0), (np.inf, 5, 0), (np.nan, 5, 0), (0.2, 0, 0)])
def test_impossible_painters_are_refused(wrong: tuple[float, int, int]) -> None:
    with pytest.raises(ValueError, match="sigma"):
        Painters(*wrong)


# --- errors spread evenly --------------------------------------------------------


def test_even_errors_cancel_and_have_the_right_size(work: Handiwork) -> None:
    slips = work.even_slips(Painters(0.25, 32, seed=2))
    held = work.recipes > 0
    for values in (slips.loads, slips.parts[:, held]):
        np.testing.assert_allclose(values.mean(axis=0), 0.0, atol=1e-12)
        np.testing.assert_allclose(np.mean(values**2, axis=0), 0.25**2)
    np.testing.assert_array_equal(slips.loads[:16], -slips.loads[16:])


def test_even_errors_of_layers_and_parts_do_not_go_together(work: Handiwork) -> None:
    slips = work.even_slips(Painters(1.0, 32))
    for n, m in ((1, 2), (1, 3), (2, 3)):
        one, two = (slips.loads[:, work.wash_layer == layer][:, 0] for layer in (n, m))
        assert one @ two == pytest.approx(0.0, abs=1e-9)
    parts = slips.parts[:, work.recipes > 0]
    np.testing.assert_allclose(slips.loads.T @ parts, 0.0, atol=1e-9)


def test_washes_of_a_layer_are_tried_by_the_same_hands(work: Handiwork) -> None:
    loads = work.even_slips(Painters(0.2, 8)).loads
    for layer in range(1, work.layers + 1):
        own = loads[:, work.wash_layer == layer]
        np.testing.assert_array_equal(own, np.broadcast_to(own[:, :1], own.shape))


@pytest.mark.parametrize("count", [1, 2, 3, 5, 9])
def test_few_even_painters(work: Handiwork, count: int) -> None:
    slips = work.even_slips(Painters(0.2, count))
    assert slips.count == count
    assert np.all(np.isfinite(slips.parts))
    np.testing.assert_allclose(slips.loads.sum(axis=0), 0.0, atol=1e-12)
    if count % 2:
        assert not slips.loads[-1].any()


# --- what is shared --------------------------------------------------------------


def test_a_puddles_error_is_shared_and_its_load_kept(work: Handiwork) -> None:
    slips = work.slips(Painters(0.4, 6))
    mixed, laid = work.done(slips)
    before = work.recipes @ work.bench.loads
    np.testing.assert_allclose(mixed @ work.bench.loads, np.tile(before, (6, 1)))
    several = (work.recipes > 0).sum(axis=1) > 1
    assert several.any()
    for q in np.flatnonzero(several):
        ratio = mixed[:, q] / np.where(work.recipes[q] > 0, work.recipes[q], np.inf)
        own = ratio[:, work.recipes[q] > 0]
        assert np.ptp(own, axis=1).min() > 1e-3  # proportions did change
        np.testing.assert_allclose(  # by the errors drawn
            np.log(own / own[:, :1]),
            (slips.parts[:, q] - slips.parts[:, q, [np.argmax(work.recipes[q] > 0)]])[
                :, work.recipes[q] > 0
            ],
            atol=1e-9,
        )
    # The load error is each wash's own, in nothing but the strength.
    np.testing.assert_allclose(
        np.log(laid / work.film_strength), slips.loads[:, work.film_wash], atol=1e-9
    )


def test_a_puddle_of_one_paint_cannot_be_mixed_wrong(palette: Bench) -> None:
    recipes = np.zeros((1, palette.colours))
    recipes[0, 2] = 1.0 / palette.loads[2]
    work = one_cell(palette, recipes, [(1, 0, 0.3)])
    mixed, _ = work.done(work.slips(Painters(0.5, 4)))
    np.testing.assert_allclose(mixed, np.tile(recipes, (4, 1, 1)))


def one_cell(bench: Bench, recipes: np.ndarray, coats: list[tuple[int, int, float]]) -> Handiwork:
    """The work of one cell: coats as (layer from 1, puddle, strength)."""
    n = len(coats)
    stack = Stack(
        shape=0,
        cells=np.array([0]),
        coats_of=np.array([n]),
        aims=np.array([[n, 50.0, 0.0, 0.0, 1.0]]),
        cap=0.0,
        layers=np.array([c[0] - 1 for c in coats], dtype=np.int64),
        amounts=np.zeros((n, bench.colours)),
        prices=np.zeros((n, bench.colours)),
        area=1.0,
        cost=0.0,
    )
    mixing = Mixing(
        recipes,
        [np.array([c[1] for c in coats], dtype=np.int64)],
        [np.array([c[2] for c in coats], dtype=np.float64)],
        np.zeros(1),
    )
    return handiwork_of_coats(bench, [stack], mixing, 1)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 5))
def test_every_painters_stack_is_what_the_bench_shows(seed: int, coats: int) -> None:
    bench = Bench.of(load_set("measured-all").paints[:5], default_paper())
    rng = np.random.default_rng(seed)
    recipes = rng.uniform(0.0, 1.0, (3, 5)) * (rng.random((3, 5)) < 0.5)
    recipes[:, 0] += 0.1
    recipes /= (recipes @ bench.loads)[:, None]
    work = one_cell(
        bench,
        recipes,
        [(i + 1, int(rng.integers(3)), rng.uniform(0.01, 0.9)) for i in range(coats)],
    )
    slips = work.slips(Painters(0.3, 3, seed))
    mixed, laid = work.done(slips)
    labs = work.labs(slips)
    path = [0]
    for node in range(1, len(work.parent)):
        assert work.parent[node] == path[-1]
        path.append(node)
    for m in range(3):
        films = work.film_of[1:]
        amounts = mixed[m, work.film_puddle[films]] * laid[m, films][:, None]
        np.testing.assert_allclose(labs[m], bench.labs(amounts.reshape(-1, 5)), atol=1e-9, rtol=0)


# --- finished plans --------------------------------------------------------------


def test_steady_hands_paint_the_stages_of_the_plan(shared: Shared) -> None:
    work = handiwork_of_plan(shared.plan)
    for painters in (Painters(0.0, 3), Painters(0.0, 1)):
        labs = work.labs(work.slips(painters))
        stages = labs[:, work.stage_nodes()]
        for own in stages:
            np.testing.assert_allclose(own, shared.plan.stage_labs[: work.layers + 1], atol=1e-9)
    assert len(work.wash_layer) == len(shared.plan.washes)
    assert [w.layer for w in shared.plan.washes] == work.wash_layer.tolist()


@pytest.fixture(scope="module")
def graded(on_sheet: Callable[..., Reference]) -> Plan:
    reference = on_sheet("flower", "14x19cm")
    mask = np.zeros(reference.zone.shape, dtype=np.float32)
    mask[: mask.shape[0] // 2] = 1.0
    white = Bench.of([], default_paper()).white_xyz()
    reference = with_background(reference, mask, "graded", white)
    limits = Limits(layers=3, shapes=30, puddles=6, washes=12)
    return make_plan(reference, load_set("starter").paints, limits)


def test_a_graded_wash_errs_as_one(graded: Plan) -> None:
    work = handiwork_of_plan(graded)
    np.testing.assert_allclose(
        work.planned()[work.stage_nodes()], graded.stage_labs[: work.layers + 1], atol=1e-9
    )
    number = next(i for i, w in enumerate(graded.washes) if w.kind == "graded wash")
    films = np.flatnonzero(work.film_wash == number)
    assert len(films) > 10
    slips = work.slips(Painters(0.3, 4))
    _, laid = work.done(slips)
    factor = laid[:, films] / work.film_strength[films]
    np.testing.assert_allclose(factor, np.exp(slips.loads[:, [number]]) * np.ones(len(films)))


def test_what_is_one_wash_is_counted_once(shared: Shared, work: Handiwork) -> None:
    own, washes = wash_numbers(shared.stacks, shared.mixing)
    assert len(washes) == len(set(washes)) == len(work.wash_layer) <= 20
    for i, numbers in enumerate(own):
        for coat, w in enumerate(numbers):
            layer, puddle, strength = washes[w]
            assert layer == shared.stacks[i].layers[coat] + 1
            assert puddle == shared.mixing.puddle_of[i][coat]
            assert strength == shared.mixing.strengths[i][coat]


def test_stages_follow_the_layers(work: Handiwork) -> None:
    stages = work.stage_nodes()
    assert not stages[0].any()
    np.testing.assert_array_equal(stages[-1], work.cell_nodes)
    for n in range(work.layers + 1):
        assert np.all(work.node_layers[stages[n]] <= n)


# --- what comes of it ------------------------------------------------------------


def test_steady_hands_have_nothing_to_expect(shared: Shared, work: Handiwork) -> None:
    found = outlook(work, Painters(0.0, 3), shared.spots)
    assert found.whole.low == pytest.approx(found.whole.high)
    for wash in found.washes:
        # Twice the same sum of the same numbers: CIEDE2000 of rounding.
        assert wash.dried.high == pytest.approx(0.0, abs=1e-9)


def test_larger_errors_are_expected_to_cost_more(shared: Shared, work: Handiwork) -> None:
    means = [
        outlook(work, Painters(sigma, 100, 1), shared.spots).whole.mean
        for sigma in (0.0, 0.1, 0.2, 0.4, 0.8)
    ]
    assert means == sorted(means)
    assert means[2] > means[0] + 0.1
    assert means[4] < 40.0  # still a painting, not noise


def test_the_outlook_of_every_wash(shared: Shared, work: Handiwork) -> None:
    painters = Painters(0.2, 60, 1)
    found = outlook(work, painters, shared.spots)
    assert len(found.washes) == len(work.wash_layer)
    for wash in found.washes:
        for r in (wash.dried, wash.end):
            assert 0.0 <= r.low <= r.mean <= r.high
        assert wash.dried.mean > 0.05
    labs = work.labs(work.slips(painters))
    parts = cell_misses(work, labs, shared.spots)
    np.testing.assert_allclose(
        parts.sum(axis=1), expected_misses(work, work.slips(painters), shared.spots)
    )
    assert found.whole == Expected.of(parts.sum(axis=1))
    # One wash by hand: the cells that hold it, weighted by their share of the photo.
    w = int(np.argmax(work.wash_layer))
    paths = [_path(work, node) for node in work.cell_nodes]
    cells = np.array([i for i, films in enumerate(paths) if w in work.film_wash[films]])
    share = shared.spots.cell_weights(shared.cells)[cells].sum()
    assert found.washes[w].end.mean == pytest.approx(parts[:, cells].sum(axis=1).mean() / share)


def _path(work: Handiwork, node: int) -> list[int]:
    films = []
    while node > 0:
        films.append(int(work.film_of[node]))
        node = int(work.parent[node])
    return films


def test_cells_that_hit_their_targets_miss_nothing(work: Handiwork) -> None:
    spots = cell_spots(work.planned()[work.cell_nodes], np.ones(len(work.cell_nodes)))
    calm = work.slips(Painters(0.0, 1))
    np.testing.assert_allclose(expected_misses(work, calm, spots), 0.0, atol=1e-9)
    assert expected_misses(work, work.slips(Painters(0.2, 5)), spots).min() > 0.5


def test_a_range_is_that_of_nine_painters_in_ten() -> None:
    found = Expected.of(np.arange(101.0))
    assert (found.mean, found.low, found.high) == (50.0, 5.0, 95.0)


def test_bare_paper_is_no_work(shared: Shared) -> None:
    empty = Mixing(np.zeros((0, shared.bench.colours)), [], [], np.zeros(0))
    work = handiwork_of_coats(shared.bench, [], empty, 3)
    assert work.layers == 0
    found = outlook(work, Painters(0.3, 4), cell_spots(np.full((3, 3), 50.0), np.ones(3)))
    assert found.washes == ()
    assert found.whole.low == found.whole.high > 10.0
