"""What a place in a picture shows of whether it lies in light, form shadow or cast shadow.

All from the split light (`split`): how dark it is there against the light about it, at several
distances; how sharply the nearest shadow begins, for a cast shadow has an edge and a form turns
away gradually ([Witkin1982]; painters' common practice); and how the light slopes just before it.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["SIGNS", "shadow_signs"]

Plane = NDArray[np.float32]

SIDE: Final = 240.0  # rows of the picture that distances are told for
# Own judgement; what each sign is worth is fitted (`tools/fit_shadows.py`).
SCALES: Final = (1.5, 5.0, 14.0, 40.0)  # px
FLOOR: Final = np.float32(0.004)  # of light, added before its logarithm is taken: below it is noise
SIGNS: Final = 19  # told of every place


def shadow_signs(light: Plane, local: Plane) -> NDArray[np.float32]:
    """(rows, cols, `SIGNS`) of a split's light and local colour (rows, cols, 3).

    The picture should have some 60,000 pixels; distances are taken relative to its height.
    """
    unit = min(light.shape[:2]) / SIDE
    level = np.log(light @ np.array([0.2126, 0.7152, 0.0722], np.float32) + FLOOR)
    level = level - np.float32(np.quantile(level, 0.9))
    blurred = [_blur(level, s * unit) for s in SCALES]
    signs = [level, *blurred[1:], *(np.hypot(*_slope(b)) * s * unit for b, s in _pairs(blurred))]
    signs += _spreads(level, unit)
    signs += _colours(light, unit)
    signs += _border(level, blurred[0], unit)
    signs += _place(level.shape)
    paint = np.log(local.mean(axis=2) + FLOOR)
    signs.append(np.hypot(*_slope(_blur(paint, 1.5 * unit))) * np.float32(1.5 * unit))
    return np.stack(signs, axis=-1).astype(np.float32)


def _pairs(blurred: list[Plane]) -> list[tuple[Plane, float]]:
    return list(zip(blurred, SCALES, strict=True))[:3]


def _blur(plane: Plane, sigma: float) -> Plane:
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), max(0.5, sigma)), dtype=np.float32)


def _slope(plane: Plane) -> tuple[Plane, Plane]:
    """Slopes to the right and downwards, per pixel."""
    across = cv2.Sobel(plane, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    down = cv2.Sobel(plane, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


def _spreads(level: Plane, unit: float) -> list[Plane]:
    """The lightest and darkest nearby, against the place: near and far."""
    told = []
    soft = _blur(level, unit)
    for reach in (8.0, 30.0):
        side = 2 * max(1, round(reach * unit)) + 1
        square = np.ones((side, side), np.uint8)
        told += [cv2.dilate(soft, square) - level, level - cv2.erode(soft, square)]
    return told


def _colours(light: Plane, unit: float) -> list[Plane]:
    """Red and blue against green, against the picture's middle."""
    logs = np.log(light + FLOOR)
    told = []
    for channel in (0, 2):
        lean = _blur(logs[..., channel] - logs[..., 1], 2.0 * unit)
        told.append(lean - np.float32(np.median(lean)))
    return told


def split_level(level: Plane) -> float:
    """Where the levels part best into two groups, by [Otsu1979]; -1 if there is one only."""
    low = float(np.quantile(level, 0.005))
    steps = np.clip((level - low) / max(0.02 - low, 1e-3) * 255, 0, 255).astype(np.uint8)
    cut, _ = cv2.threshold(steps, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    return low + float(cut) / 255 * (0.02 - low)


def _border(level: Plane, soft: Plane, unit: float) -> list[Plane]:
    """Of the nearest border between light and dark: its steepness, slope on either side, away."""
    dark = (soft < split_level(soft)).astype(np.uint8)
    edge = cv2.morphologyEx(dark, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    if not edge.any():
        none = np.zeros_like(level)
        return [dark.astype(np.float32), none, none, none + 3.0]
    steep = np.hypot(*_slope(soft)) * np.float32(4.0 * unit)
    wide = np.hypot(*_slope(_blur(level, 5.0 * unit))) * np.float32(8.0 * unit)
    away, nearest = cv2.distanceTransformWithLabels(
        1 - edge, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    places = np.flatnonzero(edge.ravel())
    order = np.zeros(int(nearest.max()) + 1, np.int64)
    order[nearest.ravel()[places]] = places
    spot = order[nearest]
    calm = 2.0 * unit
    sharp, broad = _blur(steep, calm).ravel()[spot], _blur(wide, calm).ravel()[spot]
    far = np.log1p(away / np.float32(6.0 * unit))
    return [dark.astype(np.float32), _blur(sharp, 3 * unit), _blur(broad, 3 * unit), far]


def _place(shape: tuple[int, ...]) -> list[Plane]:
    """How far down the picture, 0 to 1."""
    down = np.linspace(0.0, 1.0, shape[0], dtype=np.float32)
    return [np.broadcast_to(down[:, None], shape).astype(np.float32)]
