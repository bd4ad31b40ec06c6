"""A border between two shapes drawn anew."""

from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import ArrayLike

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing, window_of
from firstwash.picture.first_drawing import refuse_strips, strips_of
from firstwash.picture.pencil import (
    length_within,
    line_pixels,
    nearest_side,
    parts_between,
    stroke_points,
)
from firstwash.picture.pieces import join_to_neighbours
from firstwash.picture.reference import Reference
from firstwash.picture.shapes import ShapeLimits

__all__ = ["border_redrawn"]

END_REACH_MM = 8.0  # from a border, where a stroke that redraws it may begin and end
CROSS = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], dtype=np.uint8)


class _Reached(NamedTuple):
    """How far (px) a border is from the end of a stroke, and where it is nearest (x, y)."""

    distance: float
    place: tuple[float, float]


def border_redrawn(
    drawing: Drawing, reference: Reference, stroke_mm: ArrayLike, limits: ShapeLimits
) -> Drawing:
    """The drawing with the border between two shapes moved to a stroke.

    The stroke runs from one point of their border to another; what lies between it and the
    old border changes sides. Which two shapes are meant follows from where it begins and ends.
    Raises RequestError where that is no border of two shapes, or one of them would be gone.
    """
    points = stroke_points(stroke_mm, drawing.shapes.shape, drawing.ppmm)
    (a, b), start, end = _border_meant(drawing, reference, points)
    line = np.vstack([[start.place], points, [end.place]])
    both = (drawing.shapes == a) | (drawing.shapes == b)
    window = window_of(both, 1)
    walls = line_pixels(line, drawing.shapes.shape)[window]
    sides, crossed = np.zeros(both[window].shape, dtype=np.int32), False
    for own, other, number in ((a, b, 1), (b, a, 2)):
        stays, leaves = _stays(drawing.shapes[window], walls, own, other, both[window])
        sides[stays], sides[leaves] = number, 3 - number
        crossed |= bool(leaves.any())
    if not crossed:
        raise RequestError("The border runs there already; draw it where it should be.")
    sides = nearest_side(both[window], sides)
    shapes = drawing.shapes.copy()
    shapes[window][both[window]] = np.where(sides == 1, a, b)[both[window]]
    gone = [s for s in (a, b) if (shapes == s).sum() < limits.min_area_mm2 * drawing.ppmm**2]
    if any((drawing.shapes == s).sum() > (shapes == s).sum() for s in gone):
        raise RequestError("That would leave too little of one shape to paint; join the two.")
    return replace(
        join_to_neighbours(
            replace(drawing, shapes=shapes), {a, b} - drawing.reserves, reference.zone,
            limits.min_area_mm2, both.astype(np.int32),
        ),
        by_hand=True,
    )  # fmt: skip


def _stays(
    shapes: IntArray, walls: BoolArray, own: int, other: int, both: BoolArray
) -> tuple[BoolArray, BoolArray]:
    """Pixels of a shape that stay its own, and those between the stroke and the old border.

    Of the parts the stroke divides the shape into, the one most open to other shapes (or else
    the largest) is what the shape is; the others change sides if they lie at the border.
    """
    parts = parts_between(shapes == own, walls)
    count = int(parts.max()) + 1
    size = np.bincount(parts.ravel(), minlength=count)
    outside = cv2.dilate(np.pad(~both, 1, constant_values=True).astype(np.uint8), CROSS)
    open_ = np.bincount(parts[outside[1:-1, 1:-1] > 0], minlength=count)
    beside = cv2.dilate((shapes == other).astype(np.uint8), CROSS) > 0
    at_border = np.bincount(parts[beside], minlength=count) > 0
    main = int(np.lexsort((size[1:], open_[1:]))[-1]) + 1 if count > 1 else 0
    leaves = at_border.copy()
    leaves[[0, main]] = False
    return (parts > 0) & ~leaves[parts], leaves[parts]


def _border_meant(
    drawing: Drawing, reference: Reference, points: FloatArray
) -> tuple[tuple[int, int], _Reached, _Reached]:
    fixed = strips_of(drawing, reference)
    first, last = (_borders_near(drawing, p) for p in (points[0], points[-1]))
    inside = length_within(points, drawing.shapes)
    total = sum(inside.values())
    best: tuple[float, tuple[int, int]] | None = None
    for pair in sorted(set(first) & set(last)):
        off = total - sum(inside.get(s, 0.0) for s in pair)
        cost = first[pair].distance + last[pair].distance + off
        if best is None or cost < best[0]:
            best = (cost, pair)
    if best is None:
        raise RequestError("Begin and end the stroke on the border that is to be redrawn.")
    pair = best[1]
    zones = [int(reference.zone[drawing.shapes == s][0]) for s in pair]
    if zones[0] != zones[1]:
        raise RequestError("That is the background's border; change its cut-out instead.")
    if fixed & set(pair):
        refuse_strips(drawing, reference, pair)
    return pair, first[pair], last[pair]


def _borders_near(drawing: Drawing, point: FloatArray) -> dict[tuple[int, int], _Reached]:
    """Borders (u < v) near a point (x, y) in pixels."""
    reach = END_REACH_MM * drawing.ppmm
    low = np.maximum((point - reach).astype(int), 0)
    high = (point + reach).astype(int) + 2
    near = drawing.shapes[low[1] : high[1], low[0] : high[0]]
    found: dict[tuple[int, int], _Reached] = {}
    for down in (False, True):
        here, there = (near[:-1], near[1:]) if down else (near[:, :-1], near[:, 1:])
        y, x = np.nonzero(here != there)
        place = np.column_stack([x + 0.5, y + 0.5]) + low
        distance = np.hypot(*(place - point).T)
        for i in np.argsort(distance, kind="stable").tolist():
            if distance[i] > reach:
                break
            u, v = int(here[y[i], x[i]]), int(there[y[i], x[i]])
            pair = (min(u, v), max(u, v))
            if pair not in found or distance[i] < found[pair].distance:
                where = (float(place[i, 0]), float(place[i, 1]))
                found[pair] = _Reached(float(distance[i]), where)
    return found
