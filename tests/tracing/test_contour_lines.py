"""Contours: through forks without a kink, moved to the picture's edge, lost edges left out."""

import numpy as np
import pytest

from firstwash.picture.edges import all_hard, find_edges
from firstwash.picture.shapes import Cells
from firstwash.tracing.contour_lines import Course, contour_courses
from firstwash.tracing.snapping import relief, snapped

PPMM = 2.0
ROWS, COLS = 160, 200  # 80 × 100 mm


def cells_of(index: np.ndarray) -> Cells:
    count = int(index.max()) + 1
    shapes = np.arange(count, dtype=np.int32)
    return Cells(index.astype(np.int32), shapes, np.zeros(count, np.int32), PPMM)


def courses(index: np.ndarray, lab: np.ndarray, bare: list[int] | None = None) -> list[Course]:
    cells = cells_of(index)
    left = np.isin(np.arange(cells.count), bare or [])
    edges = find_edges(lab, cells)
    return contour_courses(index.astype(np.int64), left, index, edges, relief(lab, PPMM), 4.0)


def lab_of(lightness: np.ndarray) -> np.ndarray:
    lab = np.zeros((*lightness.shape, 3))
    lab[..., 0] = lightness
    return lab


def three() -> np.ndarray:
    """A left half, and a right half cut in two: one fork in the middle."""
    index = np.zeros((ROWS, COLS), dtype=np.int64)
    index[:80, 100:] = 1
    index[80:, 100:] = 2
    return index


def test_a_fork_is_one_straight_line_and_one_that_ends_on_it() -> None:
    index = three()
    found = courses(index, lab_of(np.array([30.0, 60.0, 90.0])[index]))
    assert len(found) == 2
    through, ending = sorted(found, key=lambda c: -c.line.length_mm)
    assert through.line.points[:, 0] == pytest.approx(50.0, abs=0.1)
    assert through.line.length_mm == pytest.approx(80.0, abs=0.3)
    assert ending.line.points[:, 1] == pytest.approx(40.0, abs=0.3)
    assert ending.line.points[:, 0].min() == pytest.approx(50.0, abs=0.2)


def test_every_border_is_drawn_once() -> None:
    index = three()
    found = courses(index, lab_of(np.array([30.0, 60.0, 90.0])[index]))
    assert sum(c.line.length_mm for c in found) == pytest.approx(80.0 + 50.0, abs=1.0)


def test_a_border_that_nobody_sees_is_left_out() -> None:
    index = three()
    found = courses(index, lab_of(np.array([30.0, 60.0, 61.0])[index]))
    assert len(found) == 1
    assert found[0].line.points[:, 0] == pytest.approx(50.0, abs=0.1)


def test_bare_paper_is_outlined_even_if_nobody_sees_its_border() -> None:
    index = three()
    found = courses(index, lab_of(np.array([30.0, 60.0, 61.0])[index]), bare=[2])
    assert sum(c.line.length_mm for c in found if c.bare) == pytest.approx(40.0 + 50.0, abs=1.5)


def test_a_soft_border_is_told_as_soft() -> None:
    index = np.zeros((ROWS, COLS), dtype=np.int64)
    index[:, 100:] = 1
    across = (np.arange(COLS) - 99.5) / PPMM
    light = np.broadcast_to(40.0 + 40.0 / (1.0 + np.exp(-1.7 * across / 2.5)), index.shape)
    (soft,) = courses(index, lab_of(light))
    assert soft.soft
    (hard,) = courses(index, lab_of(np.where(index > 0, 80.0, 40.0)))
    assert not hard.soft


def test_a_line_is_moved_to_the_picture_s_edge() -> None:
    index = np.zeros((ROWS, COLS), dtype=np.int64)
    index[:, 100:] = 1  # the border is found at 50 mm, but the picture's edge is at 51
    light = np.broadcast_to(np.where(np.arange(COLS) < 102, 30.0, 80.0), index.shape)
    found = courses(index, lab_of(light))
    middle = found[0].line.points[20:-20, 0]  # the ends are held
    # A tenth of a pixel would be the edge's own; the line may stray by a third of a mm.
    assert middle == pytest.approx(51.0, abs=0.35)


def test_a_line_is_not_moved_where_another_is_nearer() -> None:
    lab = lab_of(np.where(np.arange(COLS) < 102, 30.0, 80.0) + np.zeros((ROWS, COLS)))
    line = np.column_stack([np.full(101, 50.0), np.linspace(10.0, 60.0, 101)])
    other = np.abs((np.arange(COLS) + 0.5) / PPMM - 51.4) + np.zeros((ROWS, COLS))
    near = np.minimum(other, np.abs((np.arange(COLS) + 0.5) / PPMM - 50.0))
    held = snapped(relief(lab, PPMM), line, False, near)
    assert np.abs(held[:, 0] - 50.0).max() <= 1.0  # not all the way, where the other one runs


def test_one_region_has_no_contour() -> None:
    index = np.zeros((ROWS, COLS), dtype=np.int64)
    cells = cells_of(index)
    lab = lab_of(np.full((ROWS, COLS), 50.0))
    bare = np.zeros(1, dtype=np.bool_)
    assert contour_courses(index, bare, index, all_hard(cells), relief(lab, PPMM), 4.0) == []
