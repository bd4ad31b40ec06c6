"""Photos laid out on one sheet, and the pencil grid that helps to draw them.

Every photo is resampled once, straight from its own pixels to the working size and to the
judging size. Going down, each pixel of the sheet averages the area of the photo it covers,
whole or in part; going up, a cubic is laid through the photo's pixels ([Keys1981]).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from firstwash.arrays import FloatArray, IntArray
from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.picture.load import Photo
from firstwash.picture.reference import Reference, lay_on_sheet
from firstwash.picture.sheet import CropBox, Sheet

__all__ = ["GridLine", "Laid", "Placement", "arranged", "grid_lines", "third_lines"]

FEATHER_MM = 0.4  # standard deviation: an edge fades within about a millimetre
SMALLEST_WIDTH, LARGEST_WIDTH = 0.02, 20.0  # of the sheet's width
CLOSEST_MM, MOST_LINES = 3.0, 60  # a grid closer than that hides the drawing


@dataclass(frozen=True)
class Placement:
    """Where a picture lies: fractions of the sheet's width and height, from the top left.

    left, top: of the picture's corner; may lie off the sheet. width: of the sheet's width,
    0.02 to 20; the height follows from the picture's own proportions.
    Raises RequestError for a size that cannot be placed.
    """

    left: float
    top: float
    width: float

    def __post_init__(self) -> None:
        """Check the numbers."""
        if not all(math.isfinite(v) for v in (self.left, self.top, self.width)):
            raise RequestError("A picture's place must be three numbers: left, top and width.")
        if not SMALLEST_WIDTH <= self.width <= LARGEST_WIDTH:
            raise RequestError("That picture is too small or too large to place; scale it again.")


@dataclass(frozen=True, eq=False)
class Laid:
    """One picture on the sheet.

    linear: (rows, cols, 3) linear sRGB, upright. placement: None fills the sheet, whose
    proportions the picture should have. mask: (rows, cols) of any size and the picture's
    proportions, 1 what is kept, 0 what is left away; None keeps all.
    """

    linear: FloatArray
    placement: Placement | None = None
    mask: FloatArray | None = None


def arranged(
    sheet: Sheet, pictures: Sequence[Laid], *, photo_px: tuple[int, int] | None = None
) -> Reference:
    """The pictures on the sheet, later ones over earlier ones; what stays empty is white.

    Only the first may fill the sheet. Edges fade over about a millimetre, inwards, so that
    nothing of a cut-out's old surroundings comes along. One picture that fills the sheet
    gives exactly what `lay_on_sheet` gives. photo_px: width and height in pixels the first
    picture has in its file, if it was shrunk since.
    Raises RequestError when there is no picture, or one lies off the sheet.
    """
    if not pictures:
        raise RequestError("Place at least one picture on the sheet.")
    if any(laid.placement is None for laid in pictures[1:]):
        raise RequestError("Only the first picture can fill the sheet; place the others on it.")
    first = pictures[0]
    size = photo_px or (first.linear.shape[1], first.linear.shape[0])
    filled = first.placement is None and first.mask is None
    ground = first.linear if filled else np.ones((2, 2, 3))
    reference = replace(lay_on_sheet(_as_photo(ground), sheet), photo_px=size)
    above = pictures[1:] if filled else pictures
    xyz, judge = reference.xyz, reference.judge_xyz
    for laid in above:
        xyz = _over(xyz, laid, sheet, reference.ppmm)
        judge = _over(judge, laid, sheet, reference.judge_ppmm)
    return replace(reference, xyz=xyz, judge_xyz=judge)


def _as_photo(linear: FloatArray) -> Photo:
    rows, cols = linear.shape[:2]
    pixels = np.asarray(linear, dtype=np.float32)
    return Photo(pixels, cols, rows, CropBox(0, 0, cols, rows), 8, "", "", ())


def _over(
    ground: NDArray[np.float32], laid: Laid, sheet: Sheet, ppmm: float
) -> NDArray[np.float32]:
    """XYZ (rows, cols, 3) of the sheet with a picture laid over it."""
    (left, width), (top, height) = _spans(laid, sheet)
    rows, cols = ground.shape[:2]
    across = _Span(left * cols, width * cols, cols)
    down = _Span(top * rows, height * rows, rows)
    if across.empty or down.empty:
        raise RequestError("One of the pictures lies off the sheet; move it back onto it.")
    light = _resampled(np.asarray(laid.linear, dtype=np.float32), down, across)
    cover = _cover(laid.mask, down, across, ppmm)
    here = (slice(*down.seen), slice(*across.seen))
    xyz = np.maximum(linear_srgb_to_xyz(light), 0.0)
    out = ground.copy()
    out[here] += (xyz - out[here]) * cover[..., None]
    return out


def _spans(laid: Laid, sheet: Sheet) -> tuple[tuple[float, float], tuple[float, float]]:
    """(left, width) and (top, height) as fractions of the sheet."""
    if laid.placement is None:
        return (0.0, 1.0), (0.0, 1.0)
    place, (rows, cols) = laid.placement, laid.linear.shape[:2]
    height = place.width * sheet.width_mm * rows / cols / sheet.height_mm
    return (place.left, place.width), (place.top, height)


class _Span:
    """Pixels of the sheet, along one of its sides, that a picture reaches.

    start, length: of the picture, in pixels of the sheet. seen: first pixel and the one past
    the last, cut at the sheet's ends; a pixel may be reached in part.
    """

    def __init__(self, start: float, length: float, room: int) -> None:
        self.start, self.length, self.room = start, length, room
        self.seen = (max(0, math.floor(start)), min(room, math.ceil(start + length)))

    @property
    def empty(self) -> bool:
        return self.seen[0] >= self.seen[1]

    def edges(self, pixels: int) -> tuple[FloatArray, FloatArray]:
        """Where each seen pixel begins and ends, in a source of so many pixels."""
        first = np.arange(*self.seen)
        scale = pixels / self.length
        low, high = (first - self.start) * scale, (first + 1 - self.start) * scale
        return np.clip(low, 0.0, pixels), np.clip(high, 0.0, pixels)

    def covered(self) -> FloatArray:
        """Share (0-1) of each seen pixel that the picture covers; all of it at a sheet's end."""
        low, high = self.edges(1)
        share = (high - low) * self.length
        return np.clip(share, 0.0, 1.0)


def _resampled(source: NDArray[np.float32], down: _Span, across: _Span) -> NDArray[np.float64]:
    """Source (rows, cols[, channels]) on the seen pixels of the sheet."""
    rows, cols = source.shape[:2]
    flat = _weights(down, rows) @ source.reshape(rows, -1)
    turned = np.moveaxis(flat.reshape(len(flat), cols, -1), 1, 0)
    wide = _weights(across, cols) @ turned.reshape(cols, -1)
    out = np.moveaxis(wide.reshape(len(wide), len(flat), -1), 0, 1)
    return np.asarray(out.reshape(out.shape[:2] + source.shape[2:]))


def _weights(span: _Span, pixels: int) -> csr_array:
    """(seen, pixels) weights of the source's pixels in each seen pixel; rows sum to 1."""
    low, high = span.edges(pixels)
    rows, cols, values = _areas(low, high) if pixels >= span.length else _cubic(low, high)
    cols = np.clip(cols, 0, pixels - 1)
    weights = csr_array((values.ravel(), (rows.ravel(), cols.ravel())), (len(low), pixels))
    return csr_array(weights.multiply(1.0 / weights.sum(axis=1)[:, None]), dtype=np.float32)


def _areas(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Rows, columns and weights: how much of each source pixel lies between low and high."""
    reach = int(np.ceil((high - low).max())) + 1
    cols = np.floor(low).astype(np.int64)[:, None] + np.arange(reach)
    shared = np.minimum(high[:, None], cols + 1) - np.maximum(low[:, None], cols)
    rows = np.broadcast_to(np.arange(len(low))[:, None], cols.shape)
    return rows, cols, np.maximum(shared, 0.0) + 1e-12


def _cubic(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Rows, columns and weights of the cubic of [Keys1981] (a = -1/2) at the pixels' middles."""
    middle = 0.5 * (low + high) - 0.5
    cols = np.floor(middle).astype(np.int64)[:, None] + np.arange(-1, 3)
    t = np.abs(middle[:, None] - cols)
    near = (1.5 * t - 2.5) * t * t + 1.0
    far = ((-0.5 * t + 2.5) * t - 4.0) * t + 2.0
    rows = np.broadcast_to(np.arange(len(low))[:, None], cols.shape)
    return rows, cols, np.where(t < 1.0, near, np.where(t < 2.0, far, 0.0))


def _cover(mask: FloatArray | None, down: _Span, across: _Span, ppmm: float) -> NDArray[np.float32]:
    """How much (0-1) of each seen pixel the picture hides; edges fade inwards."""
    kept = np.asarray(np.ones((2, 2)) if mask is None else mask, dtype=np.float32)
    if kept.ndim != 2 or min(kept.shape) < 2:
        raise RequestError("A picture's mask must be a plain grey picture.")
    inside = np.clip(_resampled(np.clip(kept, 0.0, 1.0), down, across), 0.0, 1.0)
    inside = (inside * down.covered()[:, None] * across.covered()).astype(np.float32)
    # Nothing surrounds the picture but bare sheet; past the sheet's end it goes on as it is.
    margin = math.ceil(4 * FEATHER_MM * ppmm)
    (top, bottom), (left, right) = _margins(down, margin), _margins(across, margin)
    wide = np.pad(inside, ((top, bottom), (left, right)))
    whole = np.minimum(2.0 * wide, 1.0)
    soft = cv2.GaussianBlur(whole, (0, 0), FEATHER_MM * ppmm, borderType=cv2.BORDER_REPLICATE)
    faded = np.minimum(wide, np.clip(2.0 * soft - 1.0, 0.0, 1.0))
    rows, cols = inside.shape
    return np.asarray(faded[top : top + rows, left : left + cols], dtype=np.float32)


def _margins(span: _Span, margin: int) -> tuple[int, int]:
    """Bare pixels to add before and after: none where the picture reaches the sheet's end."""
    before = margin if span.seen[0] > 0 or span.start > 0.25 else 0
    end = span.start + span.length
    return before, margin if span.seen[1] < span.room or end < span.room - 0.25 else 0


# --- a drawing grid ----------------------------------------------------------------


class GridLine(NamedTuple):
    """A straight pencil line on the sheet, mm from its top left corner."""

    x1: float
    y1: float
    x2: float
    y2: float


def grid_lines(
    sheet: Sheet, *, every_mm: float | None = None, across: int | None = None
) -> tuple[GridLine, ...]:
    """Lines of a grid of squares from the top left corner: upright ones first, then level ones.

    every_mm: the squares' side; or across: how many squares make the sheet's width. The last
    row is narrower where the height is no multiple. The sheet's own edges are left out.
    Raises RequestError for squares too small to draw in, and unless one of the two is given.
    """
    if (every_mm is None) == (across is None):
        raise RequestError("Say how wide the squares are or how many lie across, one of the two.")
    if across is not None and not 1 <= across <= MOST_LINES:
        raise RequestError(f"A grid has 1 to {MOST_LINES} squares across.")
    side = sheet.width_mm / across if across is not None else float(every_mm or 0.0)
    longest = max(sheet.width_mm, sheet.height_mm)
    smallest = max(CLOSEST_MM, longest / (2 * MOST_LINES))
    if not smallest <= side < math.inf:
        raise RequestError(f"Squares of a grid need at least {math.ceil(smallest)} mm a side.")
    return _lines(sheet, _steps(side, sheet.width_mm), _steps(side, sheet.height_mm))


def third_lines(sheet: Sheet) -> tuple[GridLine, ...]:
    """The two upright and two level lines that part the sheet into thirds."""
    thirds = [[side / 3, side * 2 / 3] for side in (sheet.width_mm, sheet.height_mm)]
    return _lines(sheet, *thirds)


def _steps(side: float, length: float) -> list[float]:
    """Multiples of `side` inside a length; one within a pencil line of its end is left out."""
    return [n * side for n in range(1, int(length / side) + 1) if n * side < length - 0.5]


def _lines(sheet: Sheet, xs: list[float], ys: list[float]) -> tuple[GridLine, ...]:
    upright = [GridLine(x, 0.0, x, sheet.height_mm) for x in xs]
    level = [GridLine(0.0, y, sheet.width_mm, y) for y in ys]
    return tuple(upright + level)
