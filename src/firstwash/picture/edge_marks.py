"""Edges as the painter wants them: drawn along by hand, and hard around every reserve."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.picture.drawing import Drawing, EdgeMark
from firstwash.picture.edges import (
    EDGE_KINDS,
    HARD,
    Border,
    Edges,
    border_pieces,
    edges_along,
    find_edges,
)
from firstwash.picture.shapes import Cells

__all__ = ["HARD_MM", "LOST_MM", "MARK_REACH_MM", "SOFT_MM", "drawn_edges", "marked"]

HARD_MM, SOFT_MM, LOST_MM = 0.15, 2.5, 6.0  # σ of an edge said to be so; own judgement
SIGMAS = dict(zip(EDGE_KINDS, (HARD_MM, SOFT_MM, LOST_MM), strict=True))
# Own judgement too.
MARK_REACH_MM = 4.0  # a finger's aim
MEANT_MM, MEANT = 2.0, 0.3  # of a stroke's way, in mm or as a share, along a border it means
PAST_MM = 0.5  # how far past its ends a stroke still speaks
STEP_MM = 0.5  # between the places of a stroke at which the nearest border is looked for


def drawn_edges(lab: FloatArray, cells: Cells, drawing: Drawing) -> Edges:
    """The edges of a picture (rows, cols, 3) CIELAB, reserves cut in hard, and as marked.

    cells: of the drawing's shapes or finer.
    """
    return marked(find_edges(lab, cells), cells, drawing)


def marked(edges: Edges, cells: Cells, drawing: Drawing) -> Edges:
    """The edges with the drawing's marks on the borders near each stroke, later over earlier.

    edges: of these cells, unmarked, as `find_edges` gives them; cells: of the drawing's shapes or
    finer. A piece of border that a stroke runs along in part is divided there. Where a
    reserve ends the edge is hard unless marked otherwise.
    """
    if not drawing.reserves and not drawing.edge_marks:
        return edges
    border = border_pieces(cells.index, cells.ppmm)
    said = _said(cells, border, drawing.edge_marks, drawing.bare())
    if (said < 0).all():
        return edges
    # Pieces as they were come first where nothing was said of them.
    keys, start, piece = np.unique(
        np.column_stack([border.piece, said]), axis=0, return_index=True, return_inverse=True
    )
    old, kind = border.piece[start], keys[:, 1]
    now = Border(border.down, border.row, border.col, piece.ravel(), border.cells[old])
    sigma = np.where(kind < 0, edges.sigma_mm[old], np.array([HARD_MM, SOFT_MM, LOST_MM])[kind])
    kinds = np.where(kind < 0, edges.kind[old], kind)
    return edges_along(cells, now, sigma, edges.contrast[old], kinds)


def _said(
    cells: Cells, border: Border, marks: Sequence[EdgeMark], bare: BoolArray
) -> NDArray[np.int64]:
    """Kind (links,) that was asked for, −1 for nothing."""
    said = np.full(len(border.piece), -1, dtype=np.int64)
    (row, col), (row2, col2) = border.ends()
    said[bare[row, col] != bare[row2, col2]] = HARD
    if not marks or not len(said):
        return said
    middle = 0.5 * np.column_stack([col + col2 + 1.0, row + row2 + 1.0]) / cells.ppmm
    for mark in marks:
        said[_near(middle, border, mark)] = EDGE_KINDS.index(mark.kind)
    return said


def _near(middle: FloatArray, border: Border, mark: EdgeMark) -> NDArray[np.int64]:
    """Links beside a stroke, of those borders that lie nearest to it along its way."""
    points = _walked(np.array(mark.points_mm, dtype=np.float64))
    low, high = points.min(axis=0) - mark.reach_mm, points.max(axis=0) + mark.reach_mm
    inside = np.flatnonzero(((middle >= low) & (middle <= high)).all(axis=1))
    if not len(inside):
        return np.empty(0, dtype=np.int64)
    distance, beside = cKDTree(points).query(middle[inside])
    use = (distance <= mark.reach_mm) & ~_past_ends(middle[inside], beside, points)
    close = inside[use]
    if not len(close):
        return np.empty(0, dtype=np.int64)
    pairs = np.unique(border.cells[border.piece[close]], axis=0, return_inverse=True)[1].ravel()
    reach, nearest = cKDTree(middle[close]).query(points)
    votes = np.bincount(pairs[nearest[reach <= mark.reach_mm]], minlength=int(pairs.max()) + 1)
    meant = votes >= min(MEANT_MM / STEP_MM, MEANT * len(points))
    return np.asarray(close[meant[pairs]], dtype=np.int64)


def _past_ends(places: FloatArray, beside: IntArray, points: FloatArray) -> BoolArray:
    """Which places (n, 2) lie past either end of a stroke; beside: its point nearest to each."""
    out = np.zeros(len(places), dtype=np.bool_)
    if len(points) < 2:
        return out
    for end, inner in ((0, 1), (len(points) - 1, len(points) - 2)):
        way = points[end] - points[inner]
        way = way / max(float(np.hypot(*way)), 1e-9)
        out |= (beside == end) & ((places - points[end]) @ way > PAST_MM)
    return out


def _walked(points: FloatArray) -> NDArray[np.float64]:
    """Places (n, 2) along a stroke (m, 2), in mm, closely enough that none is missed."""
    out = [points[:1]]
    for one, two in pairwise(points):
        steps = int(np.ceil(np.hypot(*(two - one)) / STEP_MM))
        share = np.arange(1, steps + 1)[:, None] / max(steps, 1)
        out.append(one + share * (two - one))
    return np.concatenate(out)
