"""A photo set upright: turned, straightened, mirrored, and its greys made neutral.

Angles are those of the picture as it is seen: clockwise is positive. Points and boxes are
fractions (across, down) of the picture, 0 to 1, from the top left corner of its first pixel;
what the painter touches on the turned picture is carried back to the photo by `to_photo`.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.errors import RequestError

__all__ = [
    "STRAIGHTEN_MOST",
    "Turn",
    "box_in_photo",
    "from_photo",
    "to_photo",
    "turned",
    "turned_size",
]

STRAIGHTEN_MOST = 15.0  # degrees; more is not a horizon held askew
Box = tuple[float, float, float, float]  # left, top, width, height
WHOLE: Box = (0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True)
class Turn:
    """How a photo is set upright: first the quarter turns, then straightened, then mirrored.

    quarter_turns: clockwise, any whole number. straighten_deg: clockwise, -15 to 15 degrees.
    mirrored: left and right exchanged, last of all. Raises RequestError for a larger angle.
    """

    quarter_turns: int = 0
    straighten_deg: float = 0.0
    mirrored: bool = False

    def __post_init__(self) -> None:
        """Check the angle."""
        # The comparison is false for a number that is none.
        if not abs(self.straighten_deg) <= STRAIGHTEN_MOST:
            raise RequestError(
                f"A photo can be straightened by up to {STRAIGHTEN_MOST:g} degrees either way; "
                "turn it by quarters first."
            )


def _lain(width: float, height: float, turn: Turn) -> tuple[float, float]:
    """Width and height after the quarter turns alone."""
    return (height, width) if turn.quarter_turns % 2 else (width, height)


def _kept(width: float, height: float, turn: Turn) -> float:
    """Share of each side that a straightened picture keeps.

    A rectangle of s·w × s·h fits into one of w × h turned by t when its own width and height,
    seen along the turned sides, do: s·(w·cos t + h·sin t) ≤ w and s·(w·sin t + h·cos t) ≤ h.
    The narrower condition gives s. Derived here.
    """
    angle = math.radians(abs(turn.straighten_deg))
    longer = max(width / height, height / width)
    return 1.0 / (math.cos(angle) + longer * math.sin(angle))


def turned_size(width: int, height: int, turn: Turn) -> tuple[int, int]:
    """Width and height in pixels of the turned picture of a photo of that size."""
    wide, high = _lain(width, height, turn)
    kept = _kept(width, height, turn)
    return max(1, round(wide * kept)), max(1, round(high * kept))


def _matrix(width: float, height: float, turn: Turn) -> NDArray[np.float64]:
    """(2, 3) that takes fractions of the turned picture to fractions of the photo."""
    wide, high = _lain(width, height, turn)
    kept, angle = _kept(width, height, turn), math.radians(turn.straighten_deg)
    cos, sin = kept * math.cos(angle), kept * math.sin(angle)
    # About the middle: what is seen at a place was, before, the same angle further back.
    back = np.array([[cos, sin * high / wide], [-sin * wide / high, cos]])
    if turn.mirrored:
        back[:, 0] = -back[:, 0]
    for _ in range(turn.quarter_turns % 4):
        back = np.array([[0.0, 1.0], [-1.0, 0.0]]) @ back
    middle = np.array([0.5, 0.5])
    return np.column_stack([back, middle - back @ middle])


def to_photo(points: ArrayLike, turn: Turn, width: int, height: int) -> NDArray[np.float64]:
    """Fractions (..., 2) of the photo for fractions (..., 2) of its turned picture.

    width, height: of the photo as loaded, in any unit.
    """
    there = as_float(points)
    check_last_axis(there, 2, "points")
    matrix = _matrix(width, height, turn)
    return np.asarray(there @ matrix[:, :2].T + matrix[:, 2])


def from_photo(points: ArrayLike, turn: Turn, width: int, height: int) -> NDArray[np.float64]:
    """Fractions (..., 2) of the turned picture for fractions of the photo; undoes `to_photo`.

    Places that straightening cuts off come out below 0 or above 1.
    """
    here = as_float(points)
    check_last_axis(here, 2, "points")
    matrix = _matrix(width, height, turn)
    return np.asarray((here - matrix[:, 2]) @ np.linalg.inv(matrix[:, :2]).T)


def box_in_photo(box: Box, turn: Turn, width: int, height: int) -> Box:
    """The smallest box of the photo, in fractions, that holds a box of its turned picture."""
    left, top, wide, high = box
    corners = [(left + wide * i, top + high * j) for i in (0, 1) for j in (0, 1)]
    there = np.clip(to_photo(corners, turn, width, height), 0.0, 1.0)
    (x, y), (right, bottom) = there.min(axis=0), there.max(axis=0)
    return float(x), float(y), float(right - x), float(bottom - y)


def turned(linear: FloatArray, turn: Turn, crop: Box = WHOLE) -> NDArray[np.float32]:
    """Linear light (rows, cols, 3) set upright, and cropped to a box of what is then seen.

    crop: left, top, width, height as fractions (0-1) of the turned picture.
    A straightened picture is the largest of the photo's own proportions without empty
    corners, resampled once; no colour leaves the range of the photo's pixels around it.
    Quarter turns and mirroring move pixels and change none.
    Raises RequestError for a crop that is empty or reaches outside.
    """
    source = np.asarray(linear, dtype=np.float32)
    box = _pixel_box(crop, *turned_size(source.shape[1], source.shape[0], turn))
    if turn.straighten_deg == 0.0:
        lain = np.rot90(source, -turn.quarter_turns)
        lain = lain[:, ::-1] if turn.mirrored else lain
        x, y, wide, high = box
        return np.ascontiguousarray(lain[y : y + high, x : x + wide])
    return _resampled(source, turn, box)


def _pixel_box(crop: Box, width: int, height: int) -> tuple[int, int, int, int]:
    if not all(math.isfinite(side) for side in crop):
        raise RequestError("The crop must be four numbers: left, top, width, height.")
    left, top, wide, high = crop
    edges = (left * width, top * height, (left + wide) * width, (top + high) * height)
    x, y, right, bottom = (round(edge) for edge in edges)
    if right <= x or bottom <= y:
        raise RequestError("The crop is empty; drag it open over the part you want.")
    if min(x, y) < 0 or right > width or bottom > height:
        raise RequestError("The crop reaches outside the picture; move it back in.")
    return x, y, right - x, bottom - y


def _resampled(
    source: NDArray[np.float32], turn: Turn, box: tuple[int, int, int, int]
) -> NDArray[np.float32]:
    """The pixels of a box of the turned picture, by a cubic held within its neighbours."""
    rows, cols = source.shape[:2]
    size = turned_size(cols, rows, turn)
    matrix = _matrix(cols, rows, turn)
    scale = np.array([[cols], [rows]]) * matrix[:, :2] / size  # pixels to pixels
    # A pixel's middle lies half a pixel in from its corner, in both pictures.
    shift = scale @ (np.array(box[:2]) + 0.5) + np.array([cols, rows]) * matrix[:, 2] - 0.5
    affine = np.column_stack([scale, shift])
    # A cubic is sharp but overshoots: beside a light it would draw a line darker than the dark.
    cross = cv2.getStructuringElement(cv2.MORPH_RECT, (3, 3))
    lowest = np.asarray(cv2.erode(source, cross), dtype=np.float32)
    highest = np.asarray(cv2.dilate(source, cross), dtype=np.float32)
    smooth = _warped(source, affine, box[2:], cv2.INTER_CUBIC)
    low = _warped(lowest, affine, box[2:], cv2.INTER_NEAREST)
    high = _warped(highest, affine, box[2:], cv2.INTER_NEAREST)
    return np.asarray(np.clip(smooth, low, high), dtype=np.float32)


def _warped(
    source: NDArray[np.float32], affine: FloatArray, size: tuple[int, int], how: int
) -> NDArray[np.float32]:
    flags = how | cv2.WARP_INVERSE_MAP
    warped = cv2.warpAffine(source, affine, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(warped, dtype=np.float32)
