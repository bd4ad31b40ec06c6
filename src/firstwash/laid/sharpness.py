"""How sharp a photo is, judged by the sheet's own edges: nothing on a board is cut straighter."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.easel.looked_at import NOMINAL_MM, LookedAt

__all__ = ["edge_width"]

PROFILES: Final = 40  # along each side
REACH: Final = 0.02  # of the sheet's longer side, to either side of its edge
CLEAR: Final = 0.04  # of full light across an edge that can be measured
FEWEST: Final = 12


def edge_width(linear: NDArray[np.float32], looked: LookedAt) -> tuple[float, float]:
    """Pixels that an edge takes from 10 to 90 %, of the blurrier of two directions; pixels per mm.

    mm: as if the sheet were `NOMINAL_MM` long. 0 where too few edges are clear.
    """
    corners = looked.edges()
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    longest = float(sides.max())
    reach = max(REACH * longest, 8.0)
    widths: list[list[float]] = [[], []]
    steps = np.arange(-reach, reach, 0.5)
    for n in range(4):
        start, end = corners[n], corners[(n + 1) % 4]
        along = (end - start) / max(np.linalg.norm(end - start), 1e-9)
        inwards = np.array([-along[1], along[0]])
        for share in np.linspace(0.06, 0.94, PROFILES):
            middle = start + share * (end - start)
            points = (middle + steps[:, None] * inwards).astype(np.float32)
            seen = cv2.remap(
                linear, points[None, :, 0], points[None, :, 1], cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )[0].mean(axis=1)  # fmt: skip
            width = _width(seen.astype(np.float64))
            if width is not None:
                widths[n % 2].append(0.5 * width)
    medians = [float(np.quantile(w, 0.35)) for w in widths if len(w) >= FEWEST]
    return max(medians, default=0.0), longest / NOMINAL_MM


def _width(seen: NDArray[np.float64]) -> float | None:
    """Samples from 10 to 90 % of the way up from the dark board to light paper."""
    quarter = len(seen) // 4
    low, high = float(np.median(seen[:quarter])), float(np.median(seen[-quarter:]))
    if high - low < CLEAR:
        return None
    share = (seen - low) / (high - low)
    above = np.flatnonzero(share >= 0.9)
    if not len(above):
        return None
    top = int(above[0])
    below = np.flatnonzero(share[: top + 1] <= 0.1)
    return float(top - below[-1]) if len(below) else None
