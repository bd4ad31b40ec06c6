"""What a painter does to the shapes: merge, split, redraw a border, reserve, mark an edge.

Each edit gives a new drawing and leaves the old one as it is. No shape ever crosses a zone's
border (background against subject), and the strips of a graded background stay one wash:
nothing but a reserve can be cut out of them. Strokes are points (n, 2) of (x, y) in mm from the
sheet's left top.
"""

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from firstwash.arrays import BoolArray, FloatArray
from firstwash.errors import RequestError
from firstwash.picture.drawing import MOST_MARKS, WIDEST_MM, Drawing, EdgeMark, window_of
from firstwash.picture.edge_marks import MARK_REACH_MM
from firstwash.picture.edges import EDGE_KINDS, EdgeKind
from firstwash.picture.first_drawing import refuse_strips, strips, strips_of
from firstwash.picture.pencil import (
    along_gradient,
    is_closed,
    length_within,
    line_pixels,
    nearest_side,
    outline_mask,
    parts_between,
    reaching_border,
    stroke_points,
)
from firstwash.picture.pieces import join_to_neighbours, numbered, stamped
from firstwash.picture.reference import BACKGROUND, Reference
from firstwash.picture.regions import border_edges
from firstwash.picture.shapes import ShapeLimits

__all__ = [
    "SNAP_MM",
    "merged",
    "released",
    "reserved",
    "shape_reserved",
    "split",
    "with_edge",
]

# Own judgement, but for what is marked.
SNAP_MM = 1.5  # how far a cut may move to find the picture's own border
MEANT = 0.5  # share of the way across a shape that a stroke runs for the cut to be meant there
RESERVE_MM2 = (
    4.0  # of a reserve at least: the blob of masking fluid a small brush leaves, from memory
)


def merged(drawing: Drawing, reference: Reference, shapes: Collection[int]) -> Drawing:
    """The drawing with some shapes made one.

    Raises RequestError unless they are two or more, touch, and lie on one side of the
    background's border, all reserves or none.
    """
    own = sorted({_known(drawing, s) for s in shapes})
    if len(own) < 2:
        raise RequestError("Name two shapes or more to join.")
    refuse_strips(drawing, reference, own)
    if len({s in drawing.reserves for s in own}) > 1:
        raise RequestError(
            "A place left bare and a painted shape cannot be joined; have it painted first."
        )
    inside = np.isin(drawing.shapes, own)
    if len(np.unique(reference.zone[inside])) > 1:
        raise RequestError("The subject and the background stay apart; join within one of them.")
    if not _touch(drawing, own):
        raise RequestError("Only shapes that touch can be joined; name the ones between them too.")
    joined = np.where(inside, own[0], drawing.shapes)
    left = drawing.reserves - set(own[1:])
    return numbered(replace(drawing, reserves=left, by_hand=True), joined)


def _known(drawing: Drawing, shape: int) -> int:
    if isinstance(shape, bool) or shape not in range(drawing.count):
        raise RequestError(f"The drawing has shapes 0 to {drawing.count - 1}, not {shape}.")
    return int(shape)


def _touch(drawing: Drawing, shapes: list[int]) -> bool:
    """Whether one can walk from any of the shapes to any other within them."""
    us, vs, _ = border_edges(drawing.shapes)
    use = np.isin(us, shapes) & np.isin(vs, shapes)
    reached = {shapes[0]}
    pairs = list(zip(us[use].tolist(), vs[use].tolist(), strict=True))
    for _ in shapes:
        for u, v in pairs:
            if u in reached or v in reached:
                reached |= {u, v}
    return reached == set(shapes)


# --- splitting -------------------------------------------------------------------


def split(
    drawing: Drawing,
    reference: Reference,
    stroke_mm: ArrayLike,
    limits: ShapeLimits,
    snap_mm: float = SNAP_MM,
) -> Drawing:
    """The drawing with the shapes that a stroke crosses cut along it.

    An end inside a shape goes on in its own direction to the border, unless the stroke only just
    ran over into that shape; a stroke that comes back to its start cuts out what it runs round.
    snap_mm: how far the cut may move to find a border of the picture, 0 for none. Pieces too
    small to paint stay with the piece beside them.
    Raises RequestError if nothing is cut.
    """
    points = stroke_points(stroke_mm, drawing.shapes.shape, drawing.ppmm)
    fixed = strips_of(drawing, reference) | drawing.reserves
    crossed = {s: v for s, v in length_within(points, drawing.shapes).items() if s not in fixed}
    if not crossed:
        raise RequestError("That stroke crosses no shape that can be split; draw it across one.")
    line, meant = _cut(drawing, points, crossed)
    reach = min(snap_mm, 10.0) * drawing.ppmm
    if reach >= 1.0:
        line = _snapped(line, reference.xyz, reach)
    after = _split_along(drawing, line_pixels(line, drawing.shapes.shape), meant)
    found = join_to_neighbours(
        after, {*meant, *range(drawing.count, after.count)}, reference.zone,
        limits.min_area_mm2, drawing.shapes,
    )  # fmt: skip
    if found.count <= drawing.count:
        raise RequestError(
            "That stroke cuts off nothing large enough to paint; draw it right across the shape."
        )
    return replace(found, by_hand=True)


def _cut(
    drawing: Drawing, points: FloatArray, crossed: dict[int, float]
) -> tuple[FloatArray, set[int]]:
    """The line of a cut from border to border, and the shapes it is meant for."""
    meant = set(crossed)
    if is_closed(points, drawing.ppmm):
        return np.vstack([points, points[:1]]), meant
    main = max(crossed, key=lambda s: (crossed[s], -s))
    line = points
    ways = reaching_border(points, drawing.shapes, drawing.ppmm)
    for way, at_start in zip(ways, (True, False), strict=True):
        end = points[0] if at_start else points[-1]
        label = int(drawing.shapes[int(end[1]), int(end[0])])
        more = float(np.hypot(*(way[1] - way[0])))
        if label == main or crossed.get(label, 0.0) >= MEANT * (crossed.get(label, 0.0) + more):
            line = np.vstack([way[:1], line]) if at_start else np.vstack([line, way[:1]])
        else:
            meant.discard(label)
    return line, meant


def _snapped(line: FloatArray, xyz: FloatArray, reach_px: float) -> FloatArray:
    """The line on the picture's nearest border; in two halves, so that a ring stays a ring."""
    half = max(len(line) // 2, 1)
    one = along_gradient(line[: half + 1], xyz, reach_px)
    if half + 1 >= len(line):
        return one
    return np.vstack([one, along_gradient(line[half:], xyz, reach_px)])


def _split_along(drawing: Drawing, walls: BoolArray, meant: set[int]) -> Drawing:
    """The drawing with shapes parted by walls; new pieces are numbered last."""
    shapes, top = drawing.shapes.copy(), drawing.count
    for label in sorted(meant):
        inside = drawing.shapes == label
        window = window_of(inside)
        own = inside[window]
        sides = parts_between(own, walls[window])
        found, counts = np.unique(sides[sides > 0], return_counts=True)
        if len(found) < 2:
            continue
        sides = nearest_side(own, sides)
        for part in found[np.lexsort((found, -counts))][1:]:
            shapes[window][sides == part] = top
            top += 1
    return replace(drawing, shapes=shapes)


# --- reserves --------------------------------------------------------------------


def reserved(
    drawing: Drawing, reference: Reference, outline_mm: ArrayLike, limits: ShapeLimits
) -> Drawing:
    """The drawing with what an outline runs round left as paper to the end.

    It is cut out of the shapes there; reserves that it meets become one with it, and what
    crosses the background's border becomes a reserve on either side.
    Raises RequestError for an outline round too little, or round all there is to paint.
    """
    mask = outline_mask(outline_mm, drawing.shapes.shape, drawing.ppmm)
    least = RESERVE_MM2 * drawing.ppmm**2
    for part in np.unique(reference.zone[mask]):
        there = mask & (reference.zone == part)
        if there.sum() < least:
            mask &= ~there
    if not mask.any():
        raise RequestError("That is too small to keep free; draw a larger outline.")
    old = sorted(drawing.reserves & set(np.unique(drawing.shapes[mask]).tolist()))
    mask |= np.isin(drawing.shapes, old)
    strip = strips_of(drawing, reference)
    whole = np.array(sorted(strip), dtype=np.int64)
    found = stamped(drawing, [mask], reference.zone, limits.min_area_mm2, whole)
    if len(strips_of(found, reference)) < len(strip):
        raise RequestError(
            "That leaves nothing of a step of the graded background; draw a smaller outline."
        )
    return _something_left(replace(found, by_hand=True))


def shape_reserved(drawing: Drawing, reference: Reference, shape: int) -> Drawing:
    """The drawing with a whole shape left as paper to the end.

    Raises RequestError for no such shape, one that is reserved, or the last one to paint.
    """
    own = _known(drawing, shape)
    refuse_strips(drawing, reference, [own])
    if own in drawing.reserves:
        raise RequestError("That shape is reserved already.")
    return _something_left(replace(drawing, reserves=drawing.reserves | {own}, by_hand=True))


def _something_left(drawing: Drawing) -> Drawing:
    if len(drawing.reserves) >= drawing.count:
        raise RequestError("That would leave nothing to paint; keep less of the paper free.")
    return drawing


def released(drawing: Drawing, reference: Reference, shape: int, limits: ShapeLimits) -> Drawing:
    """The drawing with a reserve painted again.

    It becomes a shape of its own, or joins a neighbour where it is too small for one; in a
    graded background it becomes part of that again.
    Raises RequestError for a shape that is not reserved.
    """
    own = _known(drawing, shape)
    if own not in drawing.reserves:
        raise RequestError("That shape is not reserved.")
    strip = sorted(strips_of(drawing, reference))
    free = replace(drawing, reserves=drawing.reserves - {own}, by_hand=True)
    inside = drawing.shapes == own
    if strip and reference.zone[inside][0] == BACKGROUND:
        place = strips(reference)
        steps = np.unique(place[reference.zone == BACKGROUND])
        shapes = drawing.shapes.copy()
        shapes[inside] = np.array(strip)[np.searchsorted(steps, place[inside])]
        return numbered(free, shapes)
    return join_to_neighbours(free, [own], reference.zone, limits.min_area_mm2)


# --- edges -----------------------------------------------------------------------


def with_edge(
    drawing: Drawing, stroke_mm: ArrayLike, kind: EdgeKind, reach_mm: float = MARK_REACH_MM
) -> Drawing:
    """The drawing with the borders along a stroke marked hard, soft or lost.

    reach_mm: how far from the stroke a border may lie. Raises RequestError for another kind, or
    more marks than a drawing holds.
    """
    if kind not in EDGE_KINDS:
        raise RequestError(f'An edge is "hard", "soft" or "lost", not {kind!r}.')
    if not (isinstance(reach_mm, int | float) and 0.1 <= reach_mm <= WIDEST_MM):
        raise RequestError("A mark reaches between a tenth of a millimetre and 100 mm.")
    if len(drawing.edge_marks) >= MOST_MARKS:
        raise RequestError(f"A drawing holds at most {MOST_MARKS} marked edges; undo some.")
    points = stroke_points(stroke_mm, drawing.shapes.shape, drawing.ppmm) / drawing.ppmm
    mark = EdgeMark(tuple((float(x), float(y)) for x, y in points), float(reach_mm), kind)
    return replace(drawing, edge_marks=(*drawing.edge_marks, mark), by_hand=True)
