"""Where a sheet of paper on a board may lie in a photo: rough four-sided guesses.

Paper is lighter than most boards, or at least unlike what runs along the rim of the photo. Both
are tried at several levels, and every mass that is nearly four-sided is a guess; which of them
is the sheet is judged by its edges (`firstwash.easel.sheet_corners`).
"""

from collections.abc import Iterator
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray

__all__ = ["guesses", "in_turn"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
LEAST_SHARE: Final = 0.08  # of the photo that a sheet fills
FOUR_SIDED: Final = 0.90  # share of its four-sided hull that a mass fills at least
LIGHTNESS: Final = tuple(range(35, 96, 5))  # share in 100 of the way from dark to light
UNLIKE_RIM: Final = (8.0, 13.0, 20.0, 30.0)  # in CIELAB
RIM: Final = 0.025  # of the longer side that counts as the photo's rim
RIM_COLOURS: Final = 3
CLOSED: Final = 0.004  # of the longer side: grain and pencil lines smaller than this are closed


def in_turn(quad: FloatArray) -> NDArray[np.float64]:
    """Four corners (4, 2) in order: the upper left first, then clockwise as seen (y runs down)."""
    points = np.asarray(quad, dtype=np.float64)
    away = points - points.mean(axis=0)
    clockwise = points[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    first = int(np.argmin(clockwise.sum(axis=1)))
    return np.asarray(np.roll(clockwise, -first, axis=0))


def guesses(lab: FloatArray) -> list[NDArray[np.float64]]:
    """Corners (4, 2), x and y in pixels, of masses that may be the sheet; lab (rows, cols, 3)."""
    plane = np.asarray(cv2.GaussianBlur(np.asarray(lab, np.float32), (0, 0), 1.2), np.float32)
    found: list[NDArray[np.float64]] = []
    for mask in _masks(plane):
        for quad in _four_sided(mask):
            if not any(np.abs(quad - other).max() < 0.004 * max(lab.shape) for other in found):
                found.append(quad)
    return found


def _masks(lab: NDArray[np.float32]) -> Iterator[BoolArray]:
    low, high = np.percentile(lab[..., 0], (2.0, 98.0))
    for share in LIGHTNESS:
        yield np.asarray(lab[..., 0] > low + share / 100.0 * (high - low))
    apart = _from_rim(lab)
    for least in UNLIKE_RIM:
        yield np.asarray(apart > least)


def _from_rim(lab: NDArray[np.float32]) -> NDArray[np.float32]:
    """(rows, cols) CIELAB distance of every pixel from the nearest colour of the photo's rim."""
    wide = max(2, round(RIM * max(lab.shape)))
    rim = np.concatenate(
        [side.reshape(-1, 3) for side in (lab[:wide], lab[-wide:], lab[:, :wide], lab[:, -wide:])]
    )[::7]
    cv2.setRNGSeed(1)  # the same photo gives the same guesses
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.3)
    _, _, colours = cv2.kmeans(
        np.ascontiguousarray(rim), RIM_COLOURS, np.empty(0), stop, 2, cv2.KMEANS_PP_CENTERS
    )
    apart = [np.linalg.norm(lab - colour, axis=2) for colour in np.asarray(colours)]
    return np.asarray(np.min(apart, axis=0), dtype=np.float32)


def _four_sided(mask: BoolArray) -> Iterator[NDArray[np.float64]]:
    rows, cols = mask.shape
    size = 2 * max(1, round(CLOSED * max(rows, cols))) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
    tidy = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, brush)
    tidy = cv2.morphologyEx(tidy, cv2.MORPH_OPEN, brush)
    contours, _ = cv2.findContours(tidy, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    for contour in contours:
        area = cv2.contourArea(contour)
        if area < LEAST_SHARE * rows * cols:
            continue
        hull = cv2.convexHull(contour)
        if len(hull) < 4:
            continue
        quad = np.asarray(cv2.approxPolyN(hull, 4), dtype=np.float64).reshape(-1, 2)
        if len(quad) == 4 and area >= FOUR_SIDED * abs(cv2.contourArea(quad.astype(np.float32))):
            yield in_turn(quad)
