"""The drawing: a picture's shapes as the painter left them, with reserves and marked edges.

A drawing starts as what the program finds by itself (`first_drawing`) and is changed by
`drawing_edits`. It is never changed in place: every edit gives a new one, so undo is keeping the
old. Written, it is a grey PNG of shape numbers and a small document for the rest.
"""

import json
import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray
from firstwash.errors import RequestError
from firstwash.picture.edges import EDGE_KINDS, EdgeKind
from firstwash.picture.profile import decode_numbers, encode_png
from firstwash.picture.regions import border_edges

__all__ = [
    "MOST_SHAPES",
    "Drawing",
    "EdgeMark",
    "neighbours",
    "read_drawing",
    "shape_at",
    "window_of",
    "write_drawing",
]

FORMAT: Final = "firstwash-drawing"
VERSION: Final = 1
MOST_SHAPES = 4000  # in a drawing, however often it is split
MOST_MARKS = 1000
MOST_POINTS = 5000  # of one stroke
MOST_PIXELS = 4_000_000  # several times the largest working picture
MOST_TEXT = 20_000_000  # characters of a document
FARTHEST_MM = 10_000.0
WIDEST_MM = 100.0  # reach of a mark
DAMAGES = (KeyError, TypeError, ValueError, OverflowError, AttributeError, RecursionError)


@dataclass(frozen=True)
class EdgeMark:
    """An edge the painter drew along: hard, soft or lost where a border lies near the stroke.

    points_mm: (x, y) in mm from the sheet's left top; reach_mm: how far off a border may lie.
    """

    points_mm: tuple[tuple[float, float], ...]
    reach_mm: float
    kind: EdgeKind


@dataclass(frozen=True, eq=False)
class Drawing:
    """Shapes of one sheet.

    shapes: int32 (rows, cols), 0 … n − 1, every number used; ppmm: pixels per mm. reserves:
    shapes left bare to the end. edge_marks: in the order made; a later one wins. by_hand:
    whether the painter has changed anything, so that nothing may be drawn afresh unasked.
    """

    shapes: NDArray[np.int32]
    ppmm: float
    reserves: frozenset[int] = frozenset()
    edge_marks: tuple[EdgeMark, ...] = ()
    by_hand: bool = False

    @property
    def count(self) -> int:
        """Number of shapes, reserves among them."""
        return int(self.shapes.max()) + 1

    def areas_mm2(self) -> NDArray[np.float64]:
        """Area (n,) of each shape, mm²."""
        return np.asarray(np.bincount(self.shapes.ravel(), minlength=self.count) / self.ppmm**2)

    def bare(self) -> BoolArray:
        """(rows, cols) where the paper is reserved."""
        return np.isin(self.shapes, sorted(self.reserves))


def shape_at(drawing: Drawing, x_mm: float, y_mm: float) -> int:
    """The shape at a point in mm from the sheet's left top.

    Raises RequestError for a point off the sheet.
    """
    rows, cols = drawing.shapes.shape
    if not (0.0 <= x_mm * drawing.ppmm <= cols and 0.0 <= y_mm * drawing.ppmm <= rows):
        raise RequestError("That point is not on the sheet; touch a place on it.")
    row, col = (int(v * drawing.ppmm) for v in (y_mm, x_mm))
    return int(drawing.shapes[min(row, rows - 1), min(col, cols - 1)])


def neighbours(drawing: Drawing, shape: int) -> tuple[int, ...]:
    """Shapes that a shape has a border with, the longest border first.

    Raises RequestError if there is no such shape.
    """
    if not (isinstance(shape, int | np.integer) and 0 <= shape < drawing.count):
        raise RequestError(f"The drawing has shapes 0 to {drawing.count - 1}, not {shape}.")
    window = window_of(drawing.shapes == shape, 1)
    us, vs, lengths = border_edges(drawing.shapes[window])
    own = (us == shape) | (vs == shape)
    others = np.where(us == shape, vs, us)[own]
    order = np.lexsort((others, -lengths[own]))
    return tuple(int(s) for s in others[order])


def window_of(inside: BoolArray, margin: int = 0) -> tuple[slice, slice]:
    """Rows and columns of the smallest window around a mask that is not empty, and a margin."""
    rows, cols = (np.flatnonzero(inside.any(axis=axis)) for axis in (1, 0))
    return (
        slice(max(int(rows[0]) - margin, 0), int(rows[-1]) + 1 + margin),
        slice(max(int(cols[0]) - margin, 0), int(cols[-1]) + 1 + margin),
    )


def write_drawing(drawing: Drawing) -> tuple[bytes, str]:
    """The shape numbers as a grey PNG of 16 bits, and all else as JSON; always the same bytes."""
    told = {
        "format": FORMAT,
        "version": VERSION,
        "by_hand": drawing.by_hand,
        "reserves": sorted(drawing.reserves),
        "edge_marks": [
            {"points_mm": mark.points_mm, "reach_mm": mark.reach_mm, "kind": mark.kind}
            for mark in drawing.edge_marks
        ],
    }
    return encode_png(drawing.shapes.astype(np.uint16), ppmm=drawing.ppmm), json.dumps(told)


def read_drawing(labels: bytes, details: str, ppmm: float) -> Drawing:
    """The drawing of the two things that `write_drawing` wrote; ppmm: pixels per mm.

    Raises RequestError for anything that is damaged or was not written by it.
    """
    shapes = _shapes(labels)
    try:
        if len(details) > MOST_TEXT:
            raise ValueError("too long")
        told = json.loads(details)
        if told["format"] != FORMAT or told["version"] != VERSION:
            raise ValueError("format")
        reserves = frozenset(_whole(s, int(shapes.max())) for s in told["reserves"])
        marks = list(told["edge_marks"])
        if len(marks) > MOST_MARKS or not isinstance(told["by_hand"], bool):
            raise ValueError("marks")
        return Drawing(shapes, ppmm, reserves, tuple(_mark(m) for m in marks), told["by_hand"])
    except DAMAGES:
        raise RequestError("The drawing is damaged; take an earlier one.") from None


def _shapes(png: bytes) -> NDArray[np.int32]:
    try:
        if not _fits(png):
            raise ValueError("size")
        shapes = decode_numbers(png).astype(np.int32)
        used = np.unique(shapes)
        if shapes.ndim != 2 or used[-1] != len(used) - 1 or len(used) > MOST_SHAPES:
            raise ValueError("numbers")
    except (TypeError, ValueError):
        raise RequestError("The map of the shapes is damaged; take an earlier drawing.") from None
    return shapes


def _fits(png: bytes) -> bool:
    """Whether the header tells of a picture that may be decoded; looked at before decoding."""
    if len(png) < 33 or png[:8] != b"\x89PNG\r\n\x1a\n" or png[12:16] != b"IHDR":
        return False
    width, height = struct.unpack(">II", png[16:24])
    return bool(0 < width * height <= MOST_PIXELS)


def _whole(value: object, most: int) -> int:
    if type(value) is not int or not 0 <= value <= most:
        raise ValueError("number")
    return value


def _between(value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError("number")
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError("number")
    return float(value)


def _mark(told: Mapping[str, Any]) -> EdgeMark:
    points = list(told["points_mm"])
    if not 1 <= len(points) <= MOST_POINTS or told["kind"] not in EDGE_KINDS:
        raise ValueError("mark")
    ends = tuple(
        (_between(x, -FARTHEST_MM, FARTHEST_MM), _between(y, -FARTHEST_MM, FARTHEST_MM))
        for x, y in points
    )
    return EdgeMark(ends, _between(told["reach_mm"], 1e-3, WIDEST_MM), told["kind"])
