"""The colour of the lamp, and of the light in the shadows.

Three kinds of evidence from one picture: averages over its colours (`averages`), slopes from
shadow to light (`penumbra`) and highlights (`gloss_cues`), weighed together in `lamp_grid`. How
far off the answer may be is stated with it, meant to hold in 80 of 100 pictures; how often it did,
kind by kind, `tools/light_colour_trials.py` tells.
"""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.light.averages import RULES, average_lights
from firstwash.light.channels import largest
from firstwash.light.gloss_cues import Rises, gloss_lean, gloss_rises, no_rises
from firstwash.light.lamp_grid import Fitted, believed, evidence, fitted
from firstwash.light.lamp_likes import Likes, known_likes
from firstwash.light.lamp_words import (
    angle_between,
    kelvin_of,
    light_words,
    log_colour,
    rgb_of,
    warmth_of,
    xy_of,
)
from firstwash.light.penumbra import lamp_over_shade

__all__ = ["LampCues", "Lamps", "LightColour", "ShadeIs", "find_lamps", "lamp_cues", "lamps_from"]

WORK_PIXELS = 80_000
WHITE_QUANTILE = 0.995
PLAIN = RULES.index("power")
BURNT = 0.97  # of the picture's white: a channel has lost its colour
DARK = 1e-4  # white below which nothing can be told
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB, [IEC61966-2-1]
# From how many degrees of error the words change; own judgement. Between a lamp and daylight lie
# about 25 degrees, between two lamps that one would call alike about 3.
SURE, VAGUE = 6.0, 12.0
CLEARLY = 0.6  # of its error: lamp and shade less apart than that are not told apart
LEAST_TURN = 6.0  # b* + a*/2 of white: a difference in warmth that a painter would notice
APART = 4.0  # degrees between lamp and shade that a painter would notice


ShadeIs = Literal["warmer", "cooler", "alike", "unclear", "hidden"]


@dataclass(frozen=True)
class LightColour:
    """The colour of a light.

    rgb: linear sRGB of luminance 1. xy: CIE 1931. kelvin: correlated colour temperature. within:
    degrees of angular error that 80 of 100 such answers are meant to keep within. words: how it
    looks.
    """

    rgb: tuple[float, float, float]
    xy: tuple[float, float]
    kelvin: float
    within: float
    words: str

    @property
    def warmth(self) -> float:
        """b* + a*/2 of a white thing in it: above 0 warm, below 0 cool."""
        return warmth_of(np.array(self.rgb))


@dataclass(frozen=True)
class Lamps:
    """key: the lamp's light; shade: the light in its shadows (sky, bounce, second lamps).

    shade_is: how that differs, as far as it can be told: "hidden" where no shadow is soft enough
    to show it. sure: 0-1. words: a sentence. numbers: (what it is, its value) pairs.
    """

    key: LightColour
    shade: LightColour
    shade_is: ShadeIs
    sure: float
    words: str
    numbers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class LampCues:
    """What a picture shows: averages (10, 2) and slopes (3, 2) as log colours, and hills.

    dark: nothing can be told.
    """

    averages: NDArray[np.float64]
    slopes: NDArray[np.float64]
    rises: Rises
    dark: bool = False

    def signs(self) -> NDArray[np.float64]:
        """Hills, averages and slopes in a row (32,)."""
        lean = gloss_lean(self.rises, self.averages[PLAIN])
        return np.concatenate([lean, self.averages.ravel(), self.slopes.ravel()])


def find_lamps(rgb: FloatArray) -> Lamps:
    """Lamp and shade of a picture rgb (rows, cols, 3), linear sRGB; exposure does not matter."""
    return lamps_from(lamp_cues(rgb))


def lamp_cues(rgb: FloatArray) -> LampCues:
    """What the picture shows of its lamp."""
    picture = np.maximum(np.asarray(rgb, dtype=np.float32), 0.0)
    white = float(np.quantile(largest(picture), WHITE_QUANTILE)) if picture.size else 0.0
    if white <= DARK or min(picture.shape[:2]) < 4:
        return LampCues(np.zeros((10, 2)), np.zeros((3, 2)), no_rises(), dark=True)
    picture = np.asarray(picture / white, dtype=np.float32)
    small, whole = _shrunk(picture, largest(picture) < BURNT)
    if whole.sum() < 16:
        whole = np.ones(whole.shape, dtype=bool)
    averages = average_lights(small, whole)
    rises = gloss_rises(small, whole, averages[1])
    return LampCues(log_colour(averages), lamp_over_shade(small, whole), rises)


def _shrunk(
    picture: NDArray[np.float32], whole: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    rows, cols = whole.shape
    by = (WORK_PIXELS / whole.size) ** 0.5
    if by >= 1.0:
        return np.ascontiguousarray(np.minimum(picture, 1.0)), whole
    size = max(4, round(cols * by)), max(4, round(rows * by))
    small = cv2.resize(np.minimum(picture, 1.0), size, interpolation=cv2.INTER_AREA)
    part = cv2.resize(whole.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(small), part > 0.999


def lamps_from(cues: LampCues, use: Fitted | None = None, likes: Likes | None = None) -> Lamps:
    """Lamp and shade by what a picture shows."""
    use = use or fitted()
    if cues.dark:
        plain = _light(np.ones(3), 30.0)
        words = "The picture is too dark or too small to tell the colour of its light."
        return Lamps(plain, plain, "hidden", 0.0, words, ())
    told = (likes or known_likes()).told(cues.signs())
    belief = believed(evidence(cues.rises, told[:2], use.spread[:2, :2]), use)
    unit = belief.mean()
    key = _light(unit, use.within * belief.spread())
    has_slopes = bool(np.abs(cues.slopes).sum() > 0.0)
    by = np.clip(told[2:4], -3.0, 3.0) if has_slopes else np.zeros(2)
    off = float(np.hypot(key.within, use.shade * (1.0 if has_slopes else 2.0)))
    shade = _light(rgb_of(log_colour(unit) - by), off)
    sure = float(np.clip(1.0 - (key.within - 2.0) / 16.0, 0.0, 1.0))
    shade_is = _shade_is(key, shade) if has_slopes else "hidden"
    return Lamps(key, shade, shade_is, sure, _words(key), _numbers(key, shade))


def _light(rgb: FloatArray, within: float) -> LightColour:
    light = rgb / float(rgb @ LUMINANCE)
    xy = xy_of(light)
    return LightColour(triple(light), xy, kelvin_of(xy)[0], within, light_words(light))


def _words(key: LightColour) -> str:
    if key.within >= VAGUE:
        return f"The colour of the light cannot be told well here; perhaps it is {key.words}."
    return f"The light is {'probably ' if key.within >= SURE else ''}{key.words}."


def _shade_is(key: LightColour, shade: LightColour) -> ShadeIs:
    apart = angle_between(np.array(key.rgb), np.array(shade.rgb))
    warmer = shade.warmth - key.warmth
    if apart < APART:
        return "alike"
    if apart < CLEARLY * shade.within or abs(warmer) < LEAST_TURN:
        return "unclear"
    return "warmer" if warmer > 0 else "cooler"


def _numbers(key: LightColour, shade: LightColour) -> tuple[tuple[str, str], ...]:
    told = []
    for name, light in (("Light", key), ("Shadow light", shade)):
        told.append((f"{name}, colour temperature", f"{round(light.kelvin, -2):.0f} K"))
        told.append((f"{name}, CIE x, y", f"{light.xy[0]:.3f}, {light.xy[1]:.3f}"))
        told.append((f"{name}, right within", f"{light.within:.0f}°, meant for 80 of 100 pictures"))
    return tuple(told)
