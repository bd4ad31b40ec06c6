"""Edges said to be hard, soft or lost, and reserves cut in hard."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.picture.drawing import Drawing
from firstwash.picture.drawing_edits import with_edge
from firstwash.picture.edge_marks import HARD_MM, LOST_MM, SOFT_MM, drawn_edges, marked
from firstwash.picture.edges import HARD, LOST, SOFT, Edges, find_edges
from firstwash.picture.shapes import Cells

LAB = np.zeros((90, 120, 3))


@pytest.fixture
def cells(squares: Drawing) -> Cells:
    """Every square one cell."""
    n = np.arange(12, dtype=np.int32)
    return Cells(squares.shapes, n, np.zeros(12, dtype=np.int32), 1.0)


@pytest.fixture
def lab(squares: Drawing) -> np.ndarray:
    """Squares of quite different lightness, sharply parted."""
    light = np.array([20, 80, 30, 90, 70, 25, 85, 35, 15, 60, 40, 95.0])
    return np.stack([light[squares.shapes], *(np.zeros((90, 120)),) * 2], axis=-1)


def kinds(edges: Edges, a: int, b: int) -> set[int]:
    own = (edges.cells == (a, b)).all(axis=1)
    return set(edges.kind[own].tolist())


@pytest.mark.parametrize(
    ("word", "kind", "sigma"), [("soft", SOFT, SOFT_MM), ("lost", LOST, LOST_MM)]
)
def test_a_hard_edge_is_opened_where_the_stroke_runs(
    squares: Drawing, cells: Cells, lab: np.ndarray, word: str, kind: int, sigma: float
) -> None:
    plain = find_edges(lab, cells)
    assert kinds(plain, 5, 6) == {HARD}
    drawing = with_edge(squares, [(61, 46), (61, 60)], word)  # type: ignore[arg-type]
    found = marked(plain, cells, drawing)
    assert kinds(found, 5, 6) == {HARD, kind}
    own = found.kind == kind
    assert (found.sigma_mm[own] == sigma).all()
    assert found.length_mm[own].sum() == pytest.approx(14.0, abs=1.0)
    assert not found.hard_across[47:60, 59].any()
    assert found.hard_across[30:45, 59].all()
    assert (found.softness[50:60, 58:62] == np.float32(sigma)).all()
    # Neighbouring borders that begin at its end are not meant.
    for pair in ((5, 9), (6, 10), (1, 2), (9, 10)):
        assert kinds(found, *pair) == kinds(plain, *pair)
    total = plain.length_mm.sum()
    assert found.length_mm.sum() == pytest.approx(total, rel=1e-9)


def test_paint_runs_over_an_opened_edge_and_not_over_a_closed_one(
    squares: Drawing, cells: Cells, lab: np.ndarray
) -> None:
    soft = np.full_like(lab, 50.0)  # one colour: every border is lost
    found = find_edges(soft, cells)
    assert kinds(found, 5, 6) == {LOST}
    shut = marked(found, cells, with_edge(squares, [(60, 30), (60, 60)], "hard"))
    assert kinds(shut, 5, 6) == {HARD}
    assert (shut.sigma_mm[shut.kind == HARD] == 0.0).all()
    assert HARD_MM > 0.0  # a hard edge's own σ; nothing runs over it, so it is told as 0
    field = (squares.shapes == 5).astype(np.float32)[..., None]
    assert found.spread(field)[45, 61, 0] > 0.05
    # Only round the ends of the border that was closed.
    assert shut.spread(field)[45, 61, 0] < 0.2 * found.spread(field)[45, 61, 0]


def test_a_later_mark_wins(squares: Drawing, cells: Cells, lab: np.ndarray) -> None:
    line = [(60.0, 30.0), (60.0, 60.0)]
    drawing = with_edge(with_edge(squares, line, "lost"), line, "soft")
    assert kinds(drawn_edges(lab, cells, drawing), 5, 6) == {SOFT}
    again = with_edge(drawing, line, "hard")
    found = drawn_edges(lab, cells, again)
    assert kinds(found, 5, 6) == {HARD}


def test_a_reserve_ends_hard_unless_marked_otherwise(squares: Drawing, cells: Cells) -> None:
    even = np.full((90, 120, 3), 50.0)
    bare = replace(squares, reserves=frozenset({5}))
    found = drawn_edges(even, cells, bare)
    for other in (1, 4, 6, 9):
        assert kinds(found, *sorted((5, other))) == {HARD}
    field = (squares.shapes != 5).astype(np.float32)[..., None]
    # Nothing runs in, not even in the first wash, where all runs at least 3 mm.
    assert (found.spread(field, 3.0)[squares.shapes == 5] == 0.0).all()
    opened = drawn_edges(even, cells, with_edge(bare, [(60, 30), (60, 60)], "soft"))
    assert kinds(opened, 5, 6) == {SOFT}
    assert kinds(opened, 4, 5) == {HARD}


def test_without_marks_nothing_changes(squares: Drawing, cells: Cells, lab: np.ndarray) -> None:
    plain = find_edges(lab, cells)
    assert marked(plain, cells, squares) is plain
    far = with_edge(squares, [(45, 45), (46, 45)], "soft")  # no border within reach
    assert marked(plain, cells, far) is plain


def test_a_sheet_of_one_shape_has_no_edges_to_mark() -> None:
    one = np.zeros((20, 30), dtype=np.int32)
    cells = Cells(one, np.zeros(1, dtype=np.int32), np.zeros(1, dtype=np.int32), 1.0)
    drawing = with_edge(Drawing(one, 1.0), [(1, 1), (20, 10)], "hard")
    assert len(drawn_edges(np.zeros((20, 30, 3)), cells, drawing).cells) == 0
