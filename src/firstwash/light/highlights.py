"""Highlights against reflected light: two places where a form is lighter than about them.

A highlight is the lamp's, mirrored: gloss. Reflected light lies
within a shadow: beyond the core, away from the lit side, the light rises again, thrown back by
something lit nearby and tinted by it (common practice, no source). A painter keeps the first
for the paper and the second below the lightest halftone.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.light.shadows import Shadows
from firstwash.light.split import LightSplit

__all__ = ["Highlights", "find_highlights"]

Plane = NDArray[np.float32]

# Own judgement; no source.
WORK_PIXELS: Final = 60_000
SIDE: Final = 240.0  # rows of the picture that distances are told for
GLOSS: Final = (0.08, 0.3)  # share of gloss at which a highlight begins, and is one for certain
NEARLY: Final = 0.06  # natural logarithm: light this near a shadow's core is as dark to the eye
# By how much light above the core begins to be, and is, reflected light; natural logarithm.
RISES: Final = (0.06, 0.35)
SMALLEST: Final = 30  # px of a shadow in which reflected light is looked for
FLOOR: Final = np.float32(0.002)


@dataclass(frozen=True, eq=False)
class Highlights:
    """gloss: (rows, cols) 0-1, mirrored light of the lamp. reflected: (rows, cols) 0-1, light that
    rises again within a shadow.
    """

    gloss: Plane
    reflected: Plane


def find_highlights(split: LightSplit, shadows: Shadows) -> Highlights:
    """Highlights and reflected light of a split picture."""
    rows, cols = split.light.shape[:2]
    by = min(1.0, (WORK_PIXELS / (rows * cols)) ** 0.5)
    size = max(1, round(cols * by)), max(1, round(rows * by))
    light, lit = (_resized(p, size) for p in (split.light, shadows.lit))
    level = np.log(_soft(light).mean(axis=2) + FLOOR)
    reflected = np.zeros_like(level) if shadows.even else _reflected(level, lit)
    seen = (split.local * split.light).mean(axis=2) + split.gloss.mean(axis=2)
    share = split.gloss.mean(axis=2) / np.maximum(seen, FLOOR)
    gloss = np.clip((share - GLOSS[0]) / (GLOSS[1] - GLOSS[0]), 0.0, 1.0).astype(np.float32)
    return Highlights(gloss, _resized(reflected, (cols, rows)))


def _resized(plane: Plane, size: tuple[int, int]) -> Plane:
    source = np.ascontiguousarray(plane, dtype=np.float32)
    smaller = size[0] * size[1] < source.shape[0] * source.shape[1]
    how = cv2.INTER_AREA if smaller else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(source, size, interpolation=how), dtype=np.float32)


def _soft(light: Plane) -> Plane:
    sigma = max(0.5, 1.5 * min(light.shape[:2]) / SIDE)
    return np.asarray(cv2.GaussianBlur(light, (0, 0), sigma), dtype=np.float32)


def _reflected(level: Plane, lit: Plane) -> Plane:
    """How far (0-1) each place in shadow is lighter than the core, on the side away from light."""
    dark = (lit < 0.5).astype(np.uint8)
    away = cv2.distanceTransform(np.pad(dark, 1, mode="edge"), cv2.DIST_L2, 5)[1:-1, 1:-1]
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=4)
    out = np.zeros_like(level)
    for label in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[label])
        if area < SMALLEST:
            continue
        box = slice(top, top + high), slice(left, left + wide)
        mine = labels[box] == label
        core_level = float(np.quantile(level[box][mine], 0.15))
        core = mine & (level[box] <= core_level + NEARLY / 2)
        depth = float(np.median(away[box][core]))
        rise = (level[box] - core_level - RISES[0]) / (RISES[1] - RISES[0])
        beyond = np.clip((away[box] - depth) / 2.0, 0.0, 1.0)
        out[box] = np.where(mine, np.clip(rise, 0.0, 1.0) * beyond, out[box])
    return np.asarray(out * np.clip(1.0 - 2.0 * lit, 0.0, 1.0), dtype=np.float32)
