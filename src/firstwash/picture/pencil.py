"""A stroke of the painter's pencil: checked, brought to pixels, made to reach a border.

Strokes come as points (n, 2) of (x, y) in mm from the sheet's left top, as a finger leaves
them: they begin a little early, end a little late and tremble.
"""

from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import distance_transform_edt
from skimage.graph import MCP_Geometric

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.errors import RequestError
from firstwash.optics.observer import xyz_to_lab

__all__ = [
    "along_gradient",
    "is_closed",
    "length_within",
    "line_pixels",
    "nearest_side",
    "outline_mask",
    "parts_between",
    "reaching_border",
    "stroke_points",
]

MOST_POINTS = 5000
FARTHEST_MM = 10_000.0
# Own choice, by eye on photos; no source.
DIRECTION_MM = 4.0  # of a stroke's end that tell where it is going
CLOSED_MM, CLOSED_SHARE = 8.0, 0.2  # ends so near, in mm and of its length, make a ring
SHARP = 4.0  # change of CIELAB per pixel that counts as a strong border
STRAY = 0.3  # what keeping to the stroke counts beside finding the border


def stroke_points(points_mm: ArrayLike, shape: tuple[int, ...], ppmm: float) -> FloatArray:
    """A stroke in pixels (n, 2; x, y), as far as it runs on a picture of shape (rows, cols).

    Raises RequestError for what is no stroke on the sheet.
    """
    pixels = _checked(points_mm) * ppmm
    size = np.array([shape[1], shape[0]], dtype=np.float64) - 1e-6
    parts = [_clipped(one, two, size) for one, two in pairwise(pixels)]
    kept = [part for part in parts if part is not None]
    if not kept:
        raise RequestError("That stroke does not touch the sheet; draw it on the picture.")
    line = np.concatenate(kept)
    moved = np.hypot(*np.diff(line, axis=0).T) > 1e-9
    return np.asarray(line[np.concatenate([[True], moved])])


def outline_mask(points_mm: ArrayLike, shape: tuple[int, ...], ppmm: float) -> BoolArray:
    """(rows, cols) what a stroke in mm runs round, itself and loops within it included.

    It may run off the sheet and come back. Raises RequestError for what is no stroke.
    """
    line = np.floor(_checked(points_mm) * ppmm).astype(np.int32)[:, None]
    mask = np.zeros(shape, dtype=np.uint8)
    cv2.fillPoly(mask, [line], 1)
    cv2.polylines(mask, [line], True, 1, thickness=1, lineType=cv2.LINE_8)
    _, parts = cv2.connectedComponents(np.pad(1 - mask, 1, constant_values=1), connectivity=4)
    return np.asarray((parts != parts[0, 0])[1:-1, 1:-1])


def _checked(points_mm: ArrayLike) -> FloatArray:
    try:
        points = np.asarray(points_mm, dtype=np.float64)
    except (TypeError, ValueError):
        points = np.empty(0)
    if points.ndim != 2 or points.shape[1:] != (2,) or not 2 <= len(points) <= MOST_POINTS:
        raise RequestError(f"A stroke is 2 to {MOST_POINTS} points, each so far right and down.")
    if not (np.isfinite(points).all() and np.abs(points).max() <= FARTHEST_MM):
        raise RequestError("A stroke's points must be distances in mm; draw it again.")
    return points


def _clipped(one: FloatArray, two: FloatArray, size: FloatArray) -> FloatArray | None:
    """The part (2, 2) of a straight line that lies on the sheet, None if there is none."""
    way = two - one
    if ((way == 0.0) & ((one < 0.0) | (one > size))).any():
        return None
    # A way next to nothing overflows to infinity, which is past the other end all the same.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ends = np.sort(np.array([-one / way, (size - one) / way]), axis=0)
    enter, leave = (
        max(0.0, float(np.where(way == 0.0, 0.0, ends[0]).max())),
        min(1.0, float(np.where(way == 0.0, 1.0, ends[1]).min())),
    )
    if enter > leave:
        return None
    return np.asarray(np.clip([one + enter * way, one + leave * way], 0.0, size))


def line_pixels(points: FloatArray, shape: tuple[int, ...]) -> BoolArray:
    """(rows, cols) pixels of a line through points (n, 2; x, y), connected over corners too."""
    mask = np.zeros(shape, dtype=np.uint8)
    line = np.floor(points).astype(np.int32)[:, None]
    cv2.polylines(mask, [line], False, 1, thickness=1, lineType=cv2.LINE_8)
    return np.asarray(mask > 0)


def is_closed(points: FloatArray, ppmm: float) -> bool:
    """Whether a stroke runs back to where it began."""
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    gap = float(np.hypot(*(points[-1] - points[0])))
    return len(points) > 3 and gap <= min(CLOSED_MM * ppmm, CLOSED_SHARE * length)


def length_within(points: FloatArray, labels: IntArray) -> dict[int, float]:
    """Pixels of a stroke that run in each label it passes."""
    found: dict[int, float] = {}
    for one, two in pairwise(points):
        steps = int(np.ceil(2.0 * np.hypot(*(two - one)))) or 1
        share = (np.arange(steps) + 0.5)[:, None] / steps
        x, y = (one + share * (two - one)).astype(np.int64).T
        each = float(np.hypot(*(two - one))) / steps
        for label in labels[y, x].tolist():
            found[label] = found.get(label, 0.0) + each
    return found


def reaching_border(points: FloatArray, labels: IntArray, ppmm: float) -> tuple[FloatArray, ...]:
    """What has to be put before and after a stroke so that both ends reach a border.

    Each end goes on in its own direction until it leaves the label it ends in, or the sheet.
    Two pairs of points (2, 2): from the border found to the stroke's end.
    """
    return tuple(
        np.array([_ray(way[0], _direction(way, ppmm), labels), way[0]])
        for way in (points, points[::-1])
    )


def _direction(points: FloatArray, ppmm: float) -> FloatArray:
    """Unit vector (2,) in which a stroke arrives at its first point."""
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    back = min(DIRECTION_MM * ppmm, float(walked[-1]))
    past = np.array([np.interp(back, walked, points[:, c]) for c in (0, 1)])
    way = points[0] - past
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9))


def _ray(start: FloatArray, way: FloatArray, labels: IntArray) -> FloatArray:
    rows, cols = labels.shape
    here = labels[int(start[1]), int(start[0])]
    place = start
    for _ in range(4 * (rows + cols)):
        ahead = place + 0.5 * way
        if not (0.0 <= ahead[0] < cols and 0.0 <= ahead[1] < rows):
            break
        place = ahead
        if labels[int(place[1]), int(place[0])] != here:
            break
    return place


def nearest_side(inside: BoolArray, sides: IntArray) -> NDArray[np.int32]:
    """Sides (rows, cols; 0 where open) with every open pixel of a mask given to the nearest."""
    open_ = sides == 0
    y, x = distance_transform_edt(open_, return_distances=False, return_indices=True)
    return np.where(inside & open_, sides[y, x], sides).astype(np.int32)


def parts_between(inside: BoolArray, walls: BoolArray) -> NDArray[np.int32]:
    """Parts 1 … of a mask that walls divide, 0 on the walls and outside."""
    return np.asarray(
        cv2.connectedComponents((inside & ~walls).astype(np.uint8), connectivity=4)[1],
        dtype=np.int32,
    )


def along_gradient(points: FloatArray, xyz: FloatArray, reach_px: float) -> FloatArray:
    """The stroke (n, 2; x, y) moved by at most `reach_px` onto the picture's nearest border.

    xyz: (rows, cols, 3). The way of least cost through a band around the stroke, where strong
    changes of colour cost little; its ends stay where they are.
    """
    low = np.maximum(np.floor(points.min(axis=0) - reach_px - 3).astype(int), 0)
    high = np.ceil(points.max(axis=0) + reach_px + 3).astype(int)
    window = xyz[low[1] : high[1] + 1, low[0] : high[0] + 1]
    line = line_pixels(points - low, window.shape[:2])
    off = cv2.distanceTransform((~line).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    cost = 0.05 + np.exp(-_steepness(window) / SHARP) + STRAY * (off / reach_px) ** 2
    ends = [tuple(np.floor(p - low).astype(int)[::-1].tolist()) for p in (points[0], points[-1])]
    band = np.where(off <= reach_px, cost, -1.0)
    way = MCP_Geometric(band, fully_connected=True)
    way.find_costs([ends[0]], [ends[1]])
    path = way.traceback(ends[1])
    found = np.array(path, dtype=np.float64)[:, ::-1] + low + 0.5
    return found if len(found) > 1 else points


def _steepness(xyz: FloatArray) -> NDArray[np.float64]:
    """Change of CIELAB per pixel (rows, cols)."""
    lab = cv2.GaussianBlur(xyz_to_lab(xyz).astype(np.float32), (0, 0), 1.0)
    right, down = (np.asarray(cv2.Scharr(lab, -1, dx, 1 - dx)) / 32.0 for dx in (1, 0))
    return np.asarray(np.sqrt((right**2 + down**2).sum(axis=-1)), dtype=np.float64)
