"""The lay-in: calm where nothing hard parts two shapes, second colours where they run in."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.picture.edges import HARD, LOST, SOFT, Edges, all_hard
from firstwash.picture.shapes import Cells
from firstwash.plan.layin import SEAM_PRICE, calm_first_washes, dropped_into, open_borders
from firstwash.plan.stacks import Stack


def row_of(count: int, side: int = 20) -> Cells:
    """Squares of `side` mm side by side, one shape each, 1 px per mm."""
    index = np.repeat(np.arange(count, dtype=np.int32), side)[None, :].repeat(side, axis=0)
    return Cells(index, np.arange(count, dtype=np.int32), np.zeros(count, np.int32), 1.0)


def edged(cells: Cells, kinds: dict[tuple[int, int], int]) -> Edges:
    edges = all_hard(cells)
    kind = [kinds.get((int(a), int(b)), HARD) for a, b in edges.cells]
    return replace(edges, kind=np.array(kind))


def stack(shape: int, first: int = 0) -> Stack:
    return Stack(
        shape=shape,
        cells=np.array([shape]),
        coats_of=np.array([1]),
        aims=np.array([[1.0, 80.0, 0.0, 0.0, 1.0]]),
        cap=70.0,
        layers=np.array([first]),
        amounts=np.ones((1, 1)),
        prices=np.zeros((1, 1)),
        area=400.0,
        cost=0.0,
    )


def test_open_borders_are_those_not_hard() -> None:
    cells = row_of(3)
    open_mm = open_borders(cells, edged(cells, {(0, 1): SOFT}))
    np.testing.assert_array_equal(open_mm, open_mm.T)
    assert open_mm[0, 1] == pytest.approx(20.0)
    assert open_mm[1, 2] == 0.0
    assert not open_mm.diagonal().any()


def calmed(price_of_change: float, kind: int) -> list[int]:
    """Three shapes in a row, washes 0, 1, 0: what the middle one takes."""
    cells = row_of(3)
    open_mm = open_borders(cells, edged(cells, {(0, 1): kind, (1, 2): kind}))
    stacks = [stack(i) for i in range(3)]
    wash_of = [np.array([w]) for w in (0, 1, 0)]
    tables = [np.array([[0.0, 5.0, 9.0]]), np.array([[price_of_change, 0.0, 9.0]])]
    tables.append(tables[0])
    calm_first_washes(stacks, wash_of, tables, np.ones(2, dtype=bool), open_mm)
    return [int(w[0]) for w in wash_of]


def test_a_seam_stays_only_where_it_earns_its_price() -> None:
    worth = 2 * 20.0 * SEAM_PRICE / 400.0  # two seams of 20 mm against 400 mm²
    assert calmed(0.9 * worth, SOFT) == [0, 0, 0]
    assert calmed(0.9 * worth, LOST) == [0, 0, 0]
    assert calmed(1.1 * worth, SOFT) == [0, 1, 0]
    assert calmed(0.9 * worth, HARD) == [0, 1, 0]


def test_later_coats_and_closed_washes_are_left_alone() -> None:
    cells = row_of(2)
    open_mm = open_borders(cells, edged(cells, {(0, 1): SOFT}))
    wash_of = [np.array([0]), np.array([1])]
    tables = [np.array([[0.0, 0.0, 0.0]])] * 2
    late = [stack(0), stack(1, first=1)]
    assert not calm_first_washes(late, wash_of, tables, np.ones(2, dtype=bool), open_mm)
    closed = np.array([False, True])
    calm_first_washes([stack(0), stack(1)], wash_of, tables, closed, open_mm)
    assert [w[0] for w in wash_of] == [1, 1]


def test_the_smaller_wash_is_dropped_into_the_larger_it_runs_into() -> None:
    cells = row_of(4)
    edges = edged(cells, {(0, 1): SOFT, (1, 2): SOFT})
    members = [np.array([0, 3]), np.array([1]), np.array([2])]
    assert dropped_into(members, [800.0, 400.0, 400.0], edges, 4) == [None, 0, None]
    assert dropped_into(members, [800.0, 400.0, 400.0], all_hard(cells), 4) == [None] * 3
    assert dropped_into([], [], edges, 4) == []


def test_nothing_is_dropped_into_what_is_itself_dropped_in() -> None:
    rng = np.random.default_rng(4)
    cells = row_of(9)
    for _ in range(30):
        kinds = {(i, i + 1): int(rng.integers(0, 3)) for i in range(8)}
        into = dropped_into(
            [np.array([i]) for i in range(9)],
            rng.uniform(100, 900, 9).tolist(),
            edged(cells, kinds),
            9,
        )
        hosts = [h for h in into if h is not None]
        assert len(hosts) == len(set(hosts))
        assert all(into[h] is None for h in hosts)
