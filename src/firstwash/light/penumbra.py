"""How the lamp's light differs in colour from the light in the shadows.

Where a shadow begins the light changes gradually while the paint stays the same. What is gained
from shadow to light is the lamp's alone, what is there before is the light of sky and bounce;
the paint's own colour drops out of their ratio. Where lights are known to glow, that ratio
narrows down which two they can be [Finlayson1995].
"""

from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.light.channels import least, total

__all__ = ["lamp_over_shade"]

Plane = NDArray[np.float32]

# Own judgement, settled on drawn pictures of our own (`tools/light_colour_trials.py`).
OFFSETS = (3, 6)  # pixels, in a picture 240 high: a quarter of the slopes looked at
SIDE = 240  # rows of the picture that OFFSETS are told for
LEAST_RISE = 0.01  # of the picture's white
EVEN = (0.08, 0.5)  # share of the gain in each quarter; a step in paint has it all in one or two
GAINS = (0.15, 0.5, 1.0)  # how much is gained, of what is there before
FEW = 20  # slopes of a kind below which they tell nothing
MOST = 1.0  # log units; lamps and skies differ no more


def lamp_over_shade(rgb: Plane, whole: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(3, 2): log red/green and log blue/green of lamp over shade, at three sizes of gain.

    rgb: (rows, cols, 3) linear sRGB. whole: (rows, cols), False where clipped. A row is 0, 0
    where there are too few places to tell.
    """
    soft = np.asarray(cv2.GaussianBlur(rgb, (3, 3), 0), dtype=np.float32)
    scale = min(whole.shape) / SIDE
    pairs = []
    for offset in sorted({max(1, round(o * scale)) for o in OFFSETS}):
        if min(whole.shape) > 6 * offset:
            steps = ((0, offset), (offset, 0), (offset, offset), (offset, -offset))
            pairs += [_slopes(soft, whole, *step) for step in steps]
    if not pairs:
        return np.zeros((len(GAINS), 2))
    low, gain = (np.vstack(part) for part in zip(*pairs, strict=True))
    share = gain.sum(axis=1) / low.sum(axis=1)
    ratio = np.log(np.maximum(gain, 1e-4) / np.maximum(low, 1e-4))
    ratio = ratio[:, (0, 2)] - ratio[:, 1:2]
    told = [ratio[share > least] for least in GAINS]
    medians = [np.median(t, axis=0) if len(t) > FEW else np.zeros(2) for t in told]
    return np.clip(np.array(medians, dtype=np.float64), -MOST, MOST)


def _slopes(soft: Plane, whole: NDArray[np.bool_], down: int, across: int) -> tuple[Plane, Plane]:
    """Low end and gain (n, 3) of the even slopes in one direction, five places long."""
    rows, cols = whole.shape
    side = abs(across)

    def moved(plane: NDArray[Any], steps: int) -> NDArray[Any]:
        top, left = 2 * down + steps * down, 2 * side + steps * across
        return plane[top : top + rows - 4 * down, left : left + cols - 4 * side]

    first, last = moved(soft, -2), moved(soft, 2)
    rise = last - first
    square, base = total(rise * rise), total(first * first)
    steep = (square > LEAST_RISE**2) & (square > 0.005 * base)  # told exactly below
    at = np.nonzero(steep & moved(whole, -2) & moved(whole, 2))
    points = [moved(soft, k)[at] for k in range(-2, 3)]
    rise, square = rise[at], square[at]
    brighter = total(rise) > 0
    low = np.where(brighter[:, None], points[0], points[-1])
    gain = np.where(brighter[:, None], rise, -rise)
    base = np.sqrt(total(low * low))
    good = (square > (0.1 * base) ** 2) & (base > 0.02) & (least(gain) > 0)
    for one, two in pairwise(points):
        part = total((two - one) * rise)
        good &= (part > EVEN[0] * square) & (part < EVEN[1] * square)
    return low[good], gain[good]
