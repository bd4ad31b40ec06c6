"""Where something lies in a picture, and how much of it: its heart, and words."""

import cv2
import numpy as np

from firstwash.arrays import BoolArray

__all__ = ["heart", "place_words", "share_words"]

DEEP = 0.9  # of the greatest depth: pixels that may be the heart


def heart(mask: BoolArray) -> tuple[int, int]:
    """Row and column of a pixel deep inside a place (rows, cols), near its middle.

    It lies in the place whatever its form. The place must have a pixel.
    """
    padded = np.pad(mask.astype(np.uint8), 1)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    rows, cols = np.nonzero(mask)
    deep_rows, deep_cols = np.nonzero(depth >= DEEP * depth.max())
    away = np.hypot(deep_rows - rows.mean(), deep_cols - cols.mean())
    nearest = int(np.argmin(away))
    return int(deep_rows[nearest]), int(deep_cols[nearest])


def place_words(x: float, y: float) -> str:
    """Where on the sheet, from x, y in 0-1 (left, top): "upper left", "in the middle"."""
    row = ("upper", "", "lower")[_third(y)]
    col = ("left", "", "right")[_third(x)]
    if row and col:
        return f"{row} {col}"
    if row:
        return {"upper": "at the top", "lower": "at the bottom"}[row]
    return f"on the {col}" if col else "in the middle"


def _third(share: float) -> int:
    return int(np.clip(np.floor(3.0 * share), 0, 2))


def share_words(share: float) -> str:
    """A share of the picture as people say it, right to within about a twentieth."""
    named = (
        (0.03, "hardly any"), (0.075, "a twentieth"), (0.15, "a tenth"), (0.225, "a fifth"),
        (0.29, "a quarter"), (0.42, "a third"), (0.58, "half"), (0.71, "two thirds"),
        (0.85, "three quarters"), (2.0, "almost all"),
    )  # fmt: skip
    return next(words for limit, words in named if share < limit)
