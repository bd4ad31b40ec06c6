"""A picture as local colour times light, plus gloss (intrinsic images, [Barrow1978]).

At working size each step between neighbouring pixels is shared out between light and paint
(`firstwash.light.clues`, `firstwash.light.steps`); steps of which it is plain whose they are count
for more, and the light is put together again from its steps in all three channels, with few paints
for the local colours (`firstwash.light.field`). It is then brought to the picture's size along the
picture's own edges ([He2013]), and what the light does not explain is the local colour, so that
nothing is lost.

Two things no picture tells. How bright the light is as a whole, and so how light every local
colour is: a grey card in bright light looks like a white one in dim light; by convention the
lightest matt colours are given the reflectance of pale paper. And the light's mean colour, which
is guessed (`firstwash.light.cast`).
"""

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, check_last_axis
from firstwash.light.cast import colour_of_light
from firstwash.light.clues import Logs, clues, logs_of
from firstwash.light.field import light_logs
from firstwash.light.highlight import gloss_share
from firstwash.light.steps import light_shares
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb

__all__ = ["LightSplit", "split_light"]

Picture = NDArray[np.float32]

WORK_PIXELS: Final = 120_000
WHITE_QUANTILE: Final = 0.99  # of the picture's light: its white
# Reflectance given to the lightest matt colours, so that none but gloss passes that of fresh
# white paint; own judgement.
LIGHTEST: Final = 0.85
LIGHTEST_QUANTILE: Final = 0.98
LIT: Final = 0.75  # quantile of the light's luminance from which a place counts as lit
BLACK: Final = 1e-7  # a picture whose white is darker shows nothing
# Error of local colour to be expected, as a natural logarithm: by doubtful steps within so many
# pixels, by darkness, where a channel is burnt out. Fitted on rendered pictures; how well it holds
# `tools/light_trials.py` tells. What is sure by half has an error of 8 %.
NEAR_DOUBT: Final = ((2.0, 0.5), (5.0, 0.8))
DARK_DOUBT, BURNT_DOUBT = 0.001, 0.03
BURNT: Final = 0.98
HALF_SURE: Final = 0.083
FINE: Final = 2  # px at working size within which light follows the picture's level to full size
LEVEL_NOISE: Final = np.float32(0.003)  # variance of the level below which it does not


@dataclass(frozen=True, eq=False)
class LightSplit:
    """A picture as local colour times light, plus gloss: rgb = local · light + gloss.

    local: (rows, cols, 3) float32, linear light in the sRGB primaries, the object's own colour (a
    little below 0 where the picture is outside sRGB); light: (rows, cols, 3) float32 > 0, the
    light there in the same primaries, where (1, 1, 1) shows paper white as the picture's white;
    gloss: (rows, cols, 3) float32 ≥ 0; sure: (rows, cols) float32, 0-1, how far local colour may
    be trusted against its surroundings.
    """

    local: Picture
    light: Picture
    gloss: Picture
    sure: NDArray[np.float32]

    def key(self) -> NDArray[np.float64]:
        """The mean light (3,), linear sRGB, of the lit quarter of the picture."""
        luminance = linear_srgb_to_xyz(self.light)[..., 1]
        lit = luminance >= np.quantile(luminance, LIT)
        return np.asarray(self.light[lit].mean(axis=0, dtype=np.float64))

    def lamp_lab(self) -> NDArray[np.float64]:
        """CIELAB (3,) of white paper in the key light, its brightest channel full."""
        key = self.key()
        return xyz_to_lab(linear_srgb_to_xyz(key / max(float(key.max()), 1e-9)))

    def smaller(self, rows: int, cols: int) -> "LightSplit":
        """The same at another size, light averaged."""

        def shrunk(plane: Picture) -> Picture:
            small = cv2.resize(plane, (cols, rows), interpolation=cv2.INTER_AREA)
            return np.asarray(small, dtype=np.float32)

        return LightSplit(*(shrunk(p) for p in (self.local, self.light, self.gloss, self.sure)))


def split_light(xyz: NDArray[np.float32]) -> LightSplit:
    """Local colour, light and gloss of a picture xyz (rows, cols, 3), D65, white Y = 1.

    Twice the exposure is twice the light and the same local colour. Raises ValueError for
    values that are not finite or an array that is not a picture.
    """
    check_last_axis(xyz, 3, "xyz")
    if xyz.ndim != 3 or xyz.size == 0:
        raise ValueError(f"xyz: must be (rows, cols, 3), got shape {xyz.shape}")
    if not np.all(np.isfinite(xyz)):
        raise ValueError("xyz: values must be finite")
    rgb = xyz_to_linear_srgb(xyz).astype(np.float32)
    white = float(np.quantile(rgb.max(axis=-1), WHITE_QUANTILE))
    if white <= BLACK:
        return _dark(rgb)
    small = np.asarray(np.maximum(_shrunk(rgb), 0.0) / white, dtype=np.float32)
    cast = colour_of_light(small).astype(np.float32)
    share = gloss_share(np.asarray(small / cast, dtype=np.float32))
    matt = small - _gloss(small, share, cast)
    logs = logs_of(matt)
    shares = light_shares(clues(logs))
    sure = _grown(_sure(logs, shares, small), rgb.shape)
    gloss = _gloss(rgb, share, cast)
    light = np.exp(_fine(light_logs(logs, shares), logs, (rgb - gloss) / np.float32(white)))
    return _scaled(rgb, gloss, light * cast, sure)


def _dark(rgb: Picture) -> LightSplit:
    """A black picture: nothing is known."""
    none = np.zeros(rgb.shape[:2], dtype=np.float32)
    return LightSplit(rgb, np.ones_like(rgb), np.zeros_like(rgb), none)


def _shrunk(rgb: Picture) -> Picture:
    rows, cols = rgb.shape[:2]
    ratio = math.sqrt(WORK_PIXELS / (rows * cols))
    if ratio >= 1.0:
        return rgb
    size = max(1, round(cols * ratio)), max(1, round(rows * ratio))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _grown(plane: Picture, shape: tuple[int, ...]) -> Picture:
    """A plane or picture brought to a picture's size."""
    size = shape[1], shape[0]
    if plane.shape[:2] == shape[:2]:
        return plane
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _gloss(rgb: Picture, share: Picture, cast: Picture) -> Picture:
    """Gloss (rows, cols, 3) of the light's colour; nowhere more than there is of any channel."""
    part = np.maximum(rgb, 0.0) / cast
    amount = np.minimum(part.mean(axis=-1) * _grown(share, rgb.shape), part.min(axis=-1))
    return np.asarray(amount[..., None] * cast, dtype=np.float32)


def _sure(logs: Logs, shares: tuple[Picture, Picture], small: Picture) -> Picture:
    """How sure the split is, 0-1, from the doubt left in the steps about each pixel."""
    doubt = np.zeros(logs.level.shape, dtype=np.float32)
    for axis, share in ((1, shares[0][..., 0]), (0, shares[1][..., 0])):
        half = 0.5 * np.sqrt(share * (1 - share)) * np.abs(np.diff(logs.level, axis=axis))
        first, last = ((slice(None), slice(None, -1)), (slice(None), slice(1, None)))
        if axis == 0:
            first, last = first[::-1], last[::-1]
        doubt[first] += half
        doubt[last] += half
    error = DARK_DOUBT / np.exp(logs.level) + BURNT_DOUBT * (small.max(axis=-1) > BURNT)
    for sigma, weight in NEAR_DOUBT:
        error += weight * cv2.GaussianBlur(doubt, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
    return np.asarray(np.exp2(-error / HALF_SURE), dtype=np.float32)


def _fine(light: Picture, logs: Logs, matt: Picture) -> Picture:
    """The light's logarithms at the picture's size: near by, a straight line in its level."""
    if matt.shape[:2] == light.shape[:2]:
        return light
    side = (2 * FINE + 1,) * 2

    def mean(plane: Picture) -> Picture:
        return np.asarray(cv2.blur(plane, side, borderType=cv2.BORDER_REFLECT), dtype=np.float32)

    level, light_mean = mean(logs.level), mean(light)
    spread = mean(logs.level**2) - level**2 + LEVEL_NOISE
    slope = (mean(light * logs.level[..., None]) - light_mean * level[..., None]) / spread[
        ..., None
    ]
    rest = light_mean - slope * level[..., None]
    at_full = logs_of(matt).level[..., None]
    return _grown(mean(slope), matt.shape) * at_full + _grown(mean(rest), matt.shape)


def _scaled(rgb: Picture, gloss: Picture, light: FloatArray, sure: Picture) -> LightSplit:
    """The parts, with the lightest matt colours as light as pale paper."""
    matt = rgb - gloss
    local = matt / light
    top = float(np.quantile(local.max(axis=-1), LIGHTEST_QUANTILE))
    scale = np.float32(max(top, 1e-9) / LIGHTEST)
    light = (light * scale).astype(np.float32)
    return LightSplit((matt / light).astype(np.float32), light, gloss, sure)
