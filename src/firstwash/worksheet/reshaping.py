"""Changes of the shapes, as the painter's strokes say them; the plan keeps up with each."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing, shape_at
from firstwash.picture.drawing_borders import border_redrawn
from firstwash.picture.drawing_edits import (
    merged,
    released,
    reserved,
    shape_reserved,
    split,
    with_edge,
)
from firstwash.picture.edge_marks import drawn_edges
from firstwash.picture.edges import EdgeKind
from firstwash.picture.first_drawing import drawing_of
from firstwash.picture.pencil import length_within, stroke_points
from firstwash.picture.shapes import ShapeLimits
from firstwash.worksheet.desk import Desk
from firstwash.worksheet.editing import redrawn
from firstwash.worksheet.studio import Looked, Studio

__all__ = [
    "Place",
    "another_border",
    "another_count",
    "another_edge",
    "merged_shapes",
    "released_shape",
    "reserved_shape",
    "split_shapes",
]

Place = tuple[float, float]

STUMBLE_MM: Final = 1.5  # of a stroke within a shape; less only brushes its corner
COUNTS: Final = (5, 600)  # as a brief allows
TOUCH_MM: Final = 3.0  # a smaller stroke is a touch


def _limits(desk: Desk) -> ShapeLimits:
    return desk.plan.limits.for_shapes()


def another_count(studio: Studio, painting: str, base: str, count: int) -> Looked:
    """The picture drawn in about so many shapes; reserves and edge marks stay."""
    if not COUNTS[0] <= count <= COUNTS[1]:
        raise RequestError(f"A picture is drawn in {COUNTS[0]} to {COUNTS[1]} shapes.")

    def change(desk: Desk) -> Drawing:
        limits = replace(_limits(desk), count=count)
        return drawing_of(desk.reference, limits, desk.drawing)

    return redrawn(studio, painting, base, f"Drew about {count} shapes", change)


def merged_shapes(studio: Studio, painting: str, base: str, stroke: Sequence[Place]) -> Looked:
    """One shape of all that a stroke touches."""

    def change(desk: Desk) -> Drawing:
        shapes = _touched(desk.drawing, stroke)
        if len(shapes) < 2:
            raise RequestError("Draw from one shape into its neighbour; that stroke stays in one.")
        return merged(desk.drawing, desk.reference, shapes)

    return redrawn(studio, painting, base, "Joined shapes", change)


def _touched(drawing: Drawing, stroke: Sequence[Place]) -> list[int]:
    """Shapes in which a stroke runs for more than a stumble; both ends always count."""
    if len(stroke) < 2:
        return [shape_at(drawing, *stroke[0])]
    points = stroke_points(stroke, drawing.shapes.shape, drawing.ppmm)
    lengths = length_within(points, drawing.shapes)
    ends = {shape_at(drawing, *stroke[0]), shape_at(drawing, *stroke[-1])}
    return sorted(ends | {s for s, px in lengths.items() if px >= STUMBLE_MM * drawing.ppmm})


def split_shapes(studio: Studio, painting: str, base: str, stroke: Sequence[Place]) -> Looked:
    """A shape cut along a stroke."""
    return redrawn(
        studio, painting, base, "Cut a shape",
        lambda d: split(d.drawing, d.reference, stroke, _limits(d)),
    )  # fmt: skip


def another_border(studio: Studio, painting: str, base: str, stroke: Sequence[Place]) -> Looked:
    """The border of two shapes as a stroke draws it."""
    return redrawn(
        studio, painting, base, "Redrew a border",
        lambda d: border_redrawn(d.drawing, d.reference, stroke, _limits(d)),
    )  # fmt: skip


def reserved_shape(studio: Studio, painting: str, base: str, stroke: Sequence[Place]) -> Looked:
    """Bare paper: the shape touched, or what a stroke goes round."""

    def change(desk: Desk) -> Drawing:
        if _reach_mm(stroke) < TOUCH_MM:
            shape = shape_at(desk.drawing, *stroke[0])
            return shape_reserved(desk.drawing, desk.reference, shape)
        return reserved(desk.drawing, desk.reference, stroke, _limits(desk))

    return redrawn(studio, painting, base, "Left a place bare", change)


def _reach_mm(stroke: Sequence[Place]) -> float:
    """The longer side of the box around a stroke."""
    xs, ys = [x for x, _ in stroke], [y for _, y in stroke]
    return max(max(xs) - min(xs), max(ys) - min(ys))


def released_shape(studio: Studio, painting: str, base: str, place: Place) -> Looked:
    """A place painted after all that was left bare."""
    return redrawn(
        studio, painting, base, "Painted a bare place",
        lambda d: released(
            d.drawing, d.reference, shape_at(d.drawing, *place), _limits(d)
        ),
    )  # fmt: skip


def another_edge(
    studio: Studio, painting: str, base: str, stroke: Sequence[Place], edge: EdgeKind
) -> Looked:
    """Edges along a stroke made hard, soft or lost."""

    def change(desk: Desk) -> Drawing:
        drawing = with_edge(desk.drawing, stroke, edge)
        before = desk.plan.edges
        after = drawn_edges(desk.reference.lab, desk.plan.cells, drawing)
        if np.array_equal(before.kind, after.kind) and np.array_equal(
            before.sigma_mm, after.sigma_mm
        ):
            raise RequestError(
                "No border that is otherwise runs along that stroke; draw along one."
            )
        return drawing

    return redrawn(studio, painting, base, f"Made an edge {edge}", change)
