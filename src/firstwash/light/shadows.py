"""Light, form shadow and cast shadow: where each lies, and how sure that is.

Form shadow: the surface turns away from the lamp. Cast shadow: something else stands before the
lamp. What a place shows (`shadow_signs`) is weighed twice, first for shadow at all, then for cast
against form; the weights were fitted on drawn pictures (`tools/fit_shadows.py`,
`data/shadows.csv`). One photo often does not tell the two kinds apart, and then neither is sure.
"""

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.light.shadow_signs import shadow_signs
from firstwash.light.split import LightSplit

__all__ = ["Shadows", "find_shadows"]

Plane = NDArray[np.float32]

WORK_PIXELS: Final = 60_000
FAR: Final = 4.0  # a sign counts for no more than this many of its spreads
LEAST_RANGE: Final = 0.22  # natural logarithm: a quarter; light that varies less is even
CALM: Final = 1.0  # px of smoothing of the belief, in a picture 240 high


@dataclass(frozen=True, eq=False)
class Shadows:
    """lit, form, cast: (rows, cols) 0-1, together 1: in light, turned away, blocked.

    sure: (rows, cols) 0-1, how far the likeliest of the three may be trusted. even: the light is
    so even that there are no shadows to speak of.
    """

    lit: Plane
    form: Plane
    cast: Plane
    sure: Plane
    even: bool

    @property
    def shadow(self) -> Plane:
        """Form and cast shadow together (rows, cols)."""
        return np.asarray(1.0 - self.lit, dtype=np.float32)


@cache
def _weights() -> dict[str, NDArray[np.float32]]:
    """mean and width of each sign; shadow and cast: offset and weights."""
    text = resources.files("firstwash.light").joinpath("data/shadows.csv").read_text("utf-8")
    rows = (line.split(",") for line in text.strip().splitlines()[1:])
    return {name: np.array(values, dtype=np.float32) for name, *values in rows}


def find_shadows(split: LightSplit) -> Shadows:
    """Where light, form shadow and cast shadow lie, from a split picture."""
    rows, cols = split.light.shape[:2]
    light, local = (_shrunk(p) for p in (split.light, split.local))
    if min(light.shape[:2]) < 8 or _range(light) < LEAST_RANGE:
        one, none = np.ones((rows, cols), np.float32), np.zeros((rows, cols), np.float32)
        return Shadows(one, none, none, np.full_like(one, 0.3), even=True)
    shadow, cast = (_grown(p, (cols, rows)) for p in _beliefs(shadow_signs(light, local)))
    lit, blocked = 1.0 - shadow, shadow * cast
    turned = shadow - blocked
    most = np.maximum(np.maximum(lit, turned), blocked)
    sure = np.clip(1.5 * (most - 1.0 / 3.0), 0.0, 1.0) * (0.5 + 0.5 * split.sure)
    return Shadows(lit, turned, blocked, np.asarray(sure, dtype=np.float32), even=False)


def _grown(plane: Plane, size: tuple[int, int]) -> Plane:
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _shrunk(picture: FloatArray) -> Plane:
    rows, cols = picture.shape[:2]
    by = (WORK_PIXELS / (rows * cols)) ** 0.5
    source = np.ascontiguousarray(picture, dtype=np.float32)
    if by >= 1.0:
        return source
    size = max(1, round(cols * by)), max(1, round(rows * by))
    return np.asarray(cv2.resize(source, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _range(light: Plane) -> float:
    """Natural logarithm between light and dark places, the outermost twentieths left out."""
    level = cv2.GaussianBlur(light.mean(axis=2), (0, 0), 1.5)
    low, high = np.quantile(level, [0.05, 0.95])
    return float(np.log((high + 1e-4) / (low + 1e-4)))


def _beliefs(signs: Plane) -> tuple[Plane, Plane]:
    """Belief (rows, cols) in shadow, and in cast shadow where there is shadow."""
    use = _weights()
    z = np.clip((signs - use["mean"]) / use["width"], -FAR, FAR)
    sigma = max(0.5, CALM * min(signs.shape[:2]) / 240.0)
    told = []
    for name in ("shadow", "cast"):
        logit = z @ use[name][1:] + use[name][0]
        told.append(1.0 / (1.0 + np.exp(-cv2.GaussianBlur(logit, (0, 0), sigma))))
    return np.asarray(told[0], np.float32), np.asarray(told[1], np.float32)
