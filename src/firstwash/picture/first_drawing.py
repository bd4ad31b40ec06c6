"""The drawing the program makes by itself, and the reference as the painter left it bare."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing
from firstwash.picture.pieces import stamped
from firstwash.picture.reference import BACKGROUND, Reference, gradient_place, shrink_xyz
from firstwash.picture.regions import compact_labels
from firstwash.picture.shapes import ShapeLimits, find_shapes

__all__ = [
    "STRIPS",
    "drawing_of",
    "graded_strips",
    "refuse_strips",
    "shapes_of",
    "strips",
    "strips_of",
    "with_bare",
]

STRIPS = 24  # steps a gradient is drawn in; each differs from the next by far less than 1 L*


def strips(reference: Reference) -> NDArray[np.int32]:
    """Strip 0 … STRIPS − 1 (rows, cols) of each background pixel along the gradient."""
    inside = reference.zone == BACKGROUND
    place = gradient_place(inside.shape, reference.xyz[..., 1].astype(np.float64), inside)
    return np.asarray(np.minimum((place * STRIPS).astype(np.int32), STRIPS - 1))


def shapes_of(reference: Reference, limits: ShapeLimits) -> NDArray[np.int32]:
    """Shapes (rows, cols) as found in a reference; those of a graded background are strips.

    The strips come last, in their order along the gradient.
    """
    shapes = find_shapes(reference.lab, reference.ppmm, limits, reference.weight, reference.zone)
    if reference.background == "graded":
        inside = reference.zone == BACKGROUND
        shapes = compact_labels(np.where(inside, shapes.max() + 1 + strips(reference), shapes))
    return shapes


def graded_strips(
    reference: Reference, shapes: IntArray, reserves: Iterable[int] = ()
) -> NDArray[np.int64]:
    """Shapes that are strips of a graded background, in order; none of another background."""
    if reference.background != "graded":
        return np.empty(0, dtype=np.int64)
    own = np.unique(shapes[reference.zone == BACKGROUND])
    return np.asarray(np.setdiff1d(own, sorted(reserves)), dtype=np.int64)


def strips_of(drawing: Drawing, reference: Reference) -> frozenset[int]:
    """A drawing's strips of a graded background. Raises RequestError for another picture's."""
    if drawing.shapes.shape != reference.zone.shape:
        raise RequestError("That drawing is of another picture; start a new one.")
    return frozenset(graded_strips(reference, drawing.shapes, drawing.reserves).tolist())


def refuse_strips(drawing: Drawing, reference: Reference, shapes: Iterable[int]) -> None:
    """Raise RequestError if one of the shapes is a strip of a graded background."""
    if set(shapes) & strips_of(drawing, reference):
        raise RequestError(
            "The graded background is one wash and keeps its shape; ask for it painted instead."
        )


def drawing_of(reference: Reference, limits: ShapeLimits, like: Drawing | None = None) -> Drawing:
    """The drawing the program makes by itself, with at most `limits.count` shapes.

    like: a drawing of the same sheet whose reserves and edge marks are kept; reserves are cut
    in again. Shapes merged, split or redrawn by hand are not kept.
    Raises RequestError if `like` is of another sheet.
    """
    shapes = shapes_of(reference, limits)
    plain = Drawing(shapes, reference.ppmm)
    if like is None:
        return plain
    if like.shapes.shape != shapes.shape:
        raise RequestError("That drawing is of another sheet; start a new one.")
    strip = graded_strips(reference, shapes)
    masks = [like.shapes == s for s in sorted(like.reserves)]
    kept = replace(plain, edge_marks=like.edge_marks, by_hand=bool(masks or like.edge_marks))
    return stamped(kept, masks, reference.zone, limits.min_area_mm2, strip) if masks else kept


def with_bare(reference: Reference, bare: BoolArray, white_xyz: FloatArray) -> Reference:
    """The reference with some places (rows, cols) as paper; white_xyz (3,): of the bare sheet.

    Pixels of the judged picture that lie there in part change by that part.
    """
    if not bare.any():
        return reference
    edited = reference.xyz.copy()
    edited[bare] = white_xyz
    judge = reference.judge_xyz
    share = shrink_xyz(bare.astype(np.float32), judge)[..., None].clip(0.0, 1.0)
    judge = judge + (shrink_xyz(edited, judge) - judge) * share
    return replace(reference, xyz=edited, judge_xyz=judge.astype(np.float32))
