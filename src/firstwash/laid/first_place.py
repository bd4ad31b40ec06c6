"""A first guess of where the picture lies on its sheet, where paint shows no border all round.

A pale first wash, or whites at the edge, hide where the picture begins. So the whole picture as
planned is slid over the sheet at several sizes, and the place where both look most alike is taken.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.looked_at import LookedAt
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.plane_map import PlaneMap

__all__ = ["first_place"]

LONG_PX: Final = 240.0  # of the sheet in which it is looked for
MARGINS: Final = np.arange(0.0, 0.161, 0.008)  # of both, as shares of the picture's longer side
UNEVEN: Final = 0.02  # by which the two margins, left with right and upper with lower, may differ
SMOOTH: Final = 0.012  # of the longer side: first washes are soft


def first_place(looked: LookedAt, size: tuple[float, float], expected: FloatArray) -> PlaneMap:
    """The map from mm on the picture to the photo under which both look most alike.

    size: width and height of the picture in mm; expected: XYZ (rows, cols, 3) of the stage.
    """
    flat = np.nan_to_num(looked.flat)
    scale = LONG_PX / max(flat.shape[:2])
    small = cv2.resize(flat, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    sheet = _plane_of(linear_srgb_to_xyz(np.maximum(small, 1e-5)))
    best, where = -2.0, (0.0, 0.0, float(flat.shape[1]), float(flat.shape[0]))
    for across in MARGINS:
        for down in across + np.array([-2, -1, 0, 1, 2]) * UNEVEN / 2:
            found = _slid(sheet, expected, size, (float(across), float(down)))
            if found is not None and found[0] > best:
                best, where = found[0], tuple(v / scale for v in found[1])
    left, top, right, bottom = where
    there = np.array([[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]], np.float32)
    onto = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float32)
    to_flat = cv2.getPerspectiveTransform(there, onto)
    return PlaneMap(looked.plane.homography @ to_flat, looked.plane.k1, looked.plane.size)


def _plane_of(xyz: FloatArray) -> NDArray[np.float32]:
    light = np.asarray(xyz_to_lab(xyz), dtype=np.float32)
    return np.asarray(cv2.GaussianBlur(light, (0, 0), SMOOTH * max(light.shape)))


def _slid(
    sheet: NDArray[np.float32], expected: FloatArray, size: tuple[float, float],
    margins: tuple[float, float],
) -> tuple[float, tuple[float, float, float, float]] | None:  # fmt: skip
    """Best correlation and box (pixels of the sheet) with margins of such widths on the whole."""
    rows, cols = sheet.shape[:2]
    longer = max(size)
    wide = cols * size[0] / (size[0] + 2 * margins[0] * longer)
    high = rows * size[1] / (size[1] + 2 * margins[1] * longer)
    if margins[1] < 0 or wide < 8 or high < 8:
        return None
    shape = min(round(wide), cols), min(round(high), rows)
    meant = cv2.resize(np.asarray(expected, np.float32), shape, interpolation=cv2.INTER_AREA)
    score = cv2.matchTemplate(sheet, _plane_of(np.asarray(meant, np.float32)), cv2.TM_CCOEFF_NORMED)
    y, x = np.unravel_index(int(np.argmax(score)), score.shape)
    # What is outside the picture should be bare: of equal likeness the larger explains more.
    return float(score[y, x]), (float(x), float(y), float(x + wide), float(y + high))
