"""The colour of a light in figures and in words.

Correlated colour temperature: the glowing body nearest in CIE 1960 u, v ([CIE15]), by the
polynomials of [Krystek1985].
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.white_balance import glowing_uv

__all__ = [
    "angle_between",
    "glow_rgb",
    "kelvin_of",
    "light_words",
    "log_colour",
    "rgb_of",
    "warmth_of",
    "xy_of",
]

LEAST = 0.002  # of the largest channel: a lamp has a little of everything
# Lab b* + a*/2 of a white thing in the light at which one word gives way to the next, and
# a* from which a light is greenish or pinkish instead; own judgement.
WORDS = (
    (-24.0, "very cool, like light from a blue sky"),
    (-7.0, "cool, like a north window"),
    (7.0, "neutral"),
    (24.0, "warm, like late sun or a white lamp"),
    (60.0, "warm, like a lamp"),
    (1e9, "very warm, like a candle"),
)
ODD = 14.0  # L*a*b* away from what a glowing body of that warmth has: a coloured light


def glow_rgb(kelvin: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB (..., 3), luminance 1, of glowing bodies of 1000 to 17000 K."""
    u, v = np.moveaxis(glowing_uv(as_float(kelvin)), -1, 0)
    rest = 2.0 * u - 8.0 * v + 4.0
    x, y = 3.0 * u / rest, 2.0 * v / rest
    rgb = xyz_to_linear_srgb(np.stack([x / y, np.ones_like(x), (1.0 - x - y) / y], axis=-1))
    return np.asarray(np.maximum(rgb, LEAST * rgb.max(axis=-1, keepdims=True)))


def angle_between(one: FloatArray, other: FloatArray) -> float:
    """Angle in degrees (0 to 180) between two colours (3,) as vectors: the angular error."""
    a, b = as_float(one), as_float(other)
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def xy_of(rgb: FloatArray) -> tuple[float, float]:
    """CIE 1931 x, y of linear sRGB (3,)."""
    xyz = linear_srgb_to_xyz(rgb)
    total = float(xyz.sum())
    return float(xyz[0]) / total, float(xyz[1]) / total


@cache
def _glows() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    mired = np.linspace(1e6 / 17000.0, 1e6 / 1500.0, 2500)
    return mired, glowing_uv(1e6 / mired)


def kelvin_of(xy: tuple[float, float]) -> tuple[float, float]:
    """Correlated colour temperature (K, 1500 to 17000), and the distance from it in u, v."""
    x, y = xy
    rest = -2.0 * x + 12.0 * y + 3.0
    mired, line = _glows()
    away = np.hypot(*(np.array([4.0 * x, 6.0 * y]) / rest - line).T)
    best = int(np.argmin(away))
    return float(1e6 / mired[best]), float(away[best])


def _white_lab(rgb: FloatArray) -> NDArray[np.float64]:
    """CIELAB (3,) of a white thing in the light, seen by an eye at home in D65."""
    xyz = linear_srgb_to_xyz(rgb)
    return xyz_to_lab(xyz / max(float(xyz[1]), 1e-9))


def warmth_of(rgb: FloatArray) -> float:
    """How warm a light (3,) is: b* + a*/2 of a white thing in it; above 0 warm, below 0 cool."""
    _, a, b = _white_lab(rgb)
    return float(b + a / 2.0)


def light_words(rgb: FloatArray) -> str:
    """A light (3,) in words: "warm, like a lamp", "cool, like a north window", "neutral"."""
    _, a, b = _white_lab(rgb)
    kelvin, _ = kelvin_of(xy_of(rgb))
    _, glow_a, glow_b = _white_lab(glow_rgb(kelvin))
    if np.hypot(a - glow_a, b - glow_b) > ODD:
        return "greenish" if a < glow_a else "pinkish"
    return next(words for limit, words in WORDS if b + a / 2.0 < limit)


def log_colour(rgb: FloatArray) -> NDArray[np.float64]:
    """Log red/green and log blue/green (..., 2) of linear sRGB (..., 3)."""
    logs = np.log(np.maximum(rgb, 1e-4))
    return np.asarray(logs[..., (0, 2)] - logs[..., 1:2], dtype=np.float64)


def rgb_of(logs: FloatArray) -> NDArray[np.float64]:
    """Linear sRGB (..., 3) with green 1; inverse of `log_colour`."""
    return np.stack([np.exp(logs[..., 0]), np.ones(logs.shape[:-1]), np.exp(logs[..., 1])], -1)
