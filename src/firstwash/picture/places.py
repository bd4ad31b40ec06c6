"""Where something lies in a picture, and how much of it: its heart, and words."""

import cv2
import numpy as np

from firstwash.arrays import BoolArray
from firstwash.language import mark, tr

__all__ = ["heart", "place_words", "share_words"]

NINTHS = (
    (mark("upper left"), mark("at the top"), mark("upper right")),
    (mark("on the left"), mark("in the middle"), mark("on the right")),
    (mark("lower left"), mark("at the bottom"), mark("lower right")),
)
DEEP = 0.9  # of the greatest depth: pixels that may be the heart

SHARES = (
    (0.03, mark("hardly any")), (0.075, mark("a twentieth")), (0.15, mark("a tenth")),
    (0.225, mark("a fifth")), (0.29, mark("a quarter")), (0.42, mark("a third")),
    (0.58, mark("half")), (0.71, mark("two thirds")), (0.85, mark("three quarters")),
    (2.0, mark("almost all")),
)  # fmt: skip


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
    return tr(NINTHS[_third(y)][_third(x)])


def _third(share: float) -> int:
    return int(np.clip(np.floor(3.0 * share), 0, 2))


def share_words(share: float) -> str:
    """A share of the picture as people say it, right to within about a twentieth."""
    return tr(next(words for limit, words in SHARES if share < limit))
