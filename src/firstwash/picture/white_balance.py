"""White balance from something the painter knows to be grey.

The touched spot tells the colour of the light. The whole picture is then carried from that
light to D65 by the linear Bradford transform ([ICC1]), which leaves the spot as light as
it was. Which colours can be a light's at all is judged by their distance from the line of
glowing bodies ([Krystek1985]).
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float, triple
from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.icc import BRADFORD

__all__ = ["Balance", "balanced", "glowing_uv", "neutral_balance", "neutralised"]

# From memory: what clips, noise, temperatures. Own judgement: the fingertip and the words.
RADIUS = 0.012  # of the shorter side: a fingertip on a picture as large as a tablet's
CLIPPED = 0.98  # a channel this near the photo's white has lost its colour
TOO_DARK = 0.015  # luminance, L* 13: below it a camera's noise has more colour than the light
COOLEST, WARMEST = 15000.0, 2200.0  # K: a northern sky and a candle with a little daylight
NO_LIGHT = (
    0.025  # distance in u, v; lamps stay under 0.006 (from memory), light under leaves may not
)
TOUCHES = ((1.5, "hardly changed"), (7.0, "a little"), (18.0, "clearly"), (math.inf, "strongly"))


@dataclass(frozen=True, eq=False)
class Balance:
    """What a touched grey says about the light, and the way back to white light.

    matrix: (3, 3), to be applied to linear sRGB. light: how the light was, "warm", "cool",
    "greenish", "pinkish" or "neutral". words: one sentence for the painter.
    numbers: the spot's L*, a*, b* before, and the matching temperature in kelvin.
    """

    matrix: NDArray[np.float64]
    light: str
    words: str
    numbers: dict[str, float]


def neutralised(
    linear: FloatArray, point: tuple[float, float], radius: float = RADIUS
) -> tuple[NDArray[np.float32], Balance]:
    """The picture with the touched spot neutral, and what was done; see `neutral_balance`."""
    balance = neutral_balance(linear, point, radius)
    return balanced(linear, balance), balance


def balanced(linear: FloatArray, balance: Balance) -> NDArray[np.float32]:
    """Linear light (rows, cols, 3) in white light; values below 0 become 0."""
    matrix = balance.matrix.T.astype(np.float32)
    light = np.asarray(linear, dtype=np.float32) @ matrix
    return np.asarray(np.maximum(light, np.float32(0.0)))


def neutral_balance(
    linear: FloatArray, point: tuple[float, float], radius: float = RADIUS
) -> Balance:
    """The balance that makes a touched spot neutral and keeps its luminance.

    linear: (rows, cols, 3) linear sRGB. point: fractions (across, down) of the picture.
    radius: of the disc that is looked at, as a share of the shorter side; its median counts,
    without pixels in which a channel is clipped.
    Raises RequestError where the spot is off the picture, too dark, burnt out, or of a colour
    that no light has.
    """
    spot = _spot(np.asarray(linear), point, radius)
    xyz = linear_srgb_to_xyz(spot)
    if not xyz[1] >= TOO_DARK:
        raise RequestError(
            "That spot is too dark to show the light's colour; touch a lighter grey."
        )
    kelvin, away = _nearest_glow(xyz)
    if away > NO_LIGHT or xyz.min() <= 0.0:
        raise RequestError("That spot has a colour of its own; touch something grey or white.")
    matrix = _adaptation(xyz)
    light, words = _told(xyz)
    lightness, a, b = triple(xyz_to_lab(xyz))
    return Balance(matrix, light, words, {"L": lightness, "a": a, "b": b, "kelvin": kelvin})


def _spot(linear: FloatArray, point: tuple[float, float], radius: float) -> FloatArray:
    """Median (3,) of the unclipped pixels of a disc."""
    x, y = point
    if not (0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
        raise RequestError("That spot lies outside the picture; touch inside it.")
    rows, cols = linear.shape[:2]
    reach = max(1.0, radius * min(rows, cols))
    middle = min(x * cols, cols - 0.5) - 0.5, min(y * rows, rows - 0.5) - 0.5
    left, top = (max(0, math.floor(m - reach)) for m in middle)
    part = linear[top : math.ceil(middle[1] + reach) + 1, left : math.ceil(middle[0] + reach) + 1]
    down, across = np.indices(part.shape[:2])
    near = np.hypot(across + left - middle[0], down + top - middle[1]) <= reach + 0.5
    pixels = as_float(part[near])
    whole = pixels[(pixels < CLIPPED).all(axis=1)]
    if 2 * len(whole) < len(pixels):
        raise RequestError("That spot is burnt out to white; touch a grey a little darker.")
    return np.asarray(np.median(whole, axis=0))


def _adaptation(xyz: FloatArray) -> NDArray[np.float64]:
    """(3, 3) on linear sRGB: from the light in which a grey looks `xyz` to D65."""
    white = linear_srgb_to_xyz(np.ones(3))
    gains = (BRADFORD @ white) / (BRADFORD @ (xyz / xyz[1]))
    adapt = np.linalg.solve(BRADFORD, gains[:, None] * BRADFORD)
    # Rows of identity go through both changes of primaries, so columns come out: transpose.
    return np.asarray(xyz_to_linear_srgb(linear_srgb_to_xyz(np.eye(3)) @ adapt.T).T)


def glowing_uv(kelvin: FloatArray) -> NDArray[np.float64]:
    """CIE 1960 u, v (..., 2) of a glowing black body at 1000 to 15000 K. [Krystek1985]."""
    t = as_float(kelvin)
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t**2) / (
        1.0 + 8.42420235e-4 * t + 7.08145163e-7 * t**2
    )
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t**2) / (
        1.0 - 2.89741816e-5 * t + 1.61456053e-7 * t**2
    )
    return np.stack([u, v], axis=-1)


def _uv(xyz: FloatArray) -> NDArray[np.float64]:
    """CIE 1960 u, v (2,) of XYZ (3,). [CIE15]."""
    x, y, z = triple(xyz)
    return np.array([4.0 * x, 6.0 * y]) / (x + 15.0 * y + 3.0 * z)


@cache
def _glow() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    kelvin = 1.0 / np.linspace(1.0 / COOLEST, 1.0 / WARMEST, 400)  # even steps in mired
    return kelvin, glowing_uv(kelvin)


def _nearest_glow(xyz: FloatArray) -> tuple[float, float]:
    """Temperature (K) of the nearest glowing body, and the distance from it in u, v."""
    kelvin, line = _glow()
    away = np.hypot(*(_uv(xyz) - line).T)
    best = int(np.argmin(away))
    return float(kelvin[best]), float(away[best])


def _told(xyz: FloatArray) -> tuple[str, str]:
    """The light's name, and the sentence about it, from the XYZ of a grey in it."""
    # The eye judges the cast on a white thing, whatever the touched grey's own lightness.
    _, a, b = triple(xyz_to_lab(xyz / xyz[1]))
    amount = next(word for limit, word in TOUCHES if math.hypot(a, b) < limit)
    if amount == "hardly changed":
        return "neutral", "That spot was neutral already, so the picture has hardly changed."
    if abs(a) > abs(b):
        light, done = ("greenish", "made pinker") if a < 0 else ("pinkish", "made greener")
    else:
        light, done = ("warm", "cooled") if b > 0 else ("cool", "warmed")
    return light, f"The light was {light}, so the picture was {done} {amount}."
