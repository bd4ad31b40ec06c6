"""What makes a photo of a half-painted sheet useless, or only harder to read.

Everything works on the linear light of the photo, perfect white in full light near 1; `mm` is
(rows, cols, 2), where each pixel lies on the sheet.
"""

from typing import Final, Literal

import cv2
import numpy as np

from card_camera import Camera, Pixels, smooth_field
from card_flat import raw_of
from card_optics import Floats
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM

__all__ = ["USABLE", "Spoil", "cover_by_hand", "shaken", "wet"]

Spoil = Literal[
    "glare", "other", "empty", "blur", "night", "cropped", "upside-down", "sideways", "mirrored",
    "tiny", "hand",
]  # fmt: skip
USABLE: Final = ("upside-down", "sideways", "hand")
SHEEN: Final = 0.035  # light from the dry, matt surface that a wet one sends elsewhere
COVERED: Final = 0.10  # share of the photo that a hand hides, at least
SHAKE_MM: Final = (3.0, 6.0)


def wet(pixels: Pixels, where: Pixels, rng: np.random.Generator) -> Pixels:
    """Raw colours (rows, cols, 3) of a sheet that is still wet in part, (rows, cols) 0-1.

    Wet paint is darker, and where the film is tilted right a window shines in it.
    """
    share = where[..., None]
    dark = np.maximum(pixels - SHEEN, 0.005) ** 1.15
    film = smooth_field(rng, where.shape, 5) + 0.6 * smooth_field(rng, where.shape, 22)
    shine = 1 / (1 + np.exp(-7 * (film - rng.uniform(0.5, 0.9))))
    lit = dark + (rng.uniform(0.5, 1.4) * shine * where)[..., None]
    return np.asarray(pixels + share * (lit - pixels), np.float32)


def shaken(pixels: Pixels, per_mm: float, rng: np.random.Generator) -> tuple[Pixels, float]:
    """The photo of a phone that moved meanwhile, and by how many mm on the sheet."""
    moved = float(rng.uniform(*SHAKE_MM))
    long, angle = max(moved * per_mm, 3.0), rng.uniform(0, np.pi)
    n = 2 * int(np.ceil(0.5 * long)) + 3
    y, x = np.mgrid[0:n, 0:n] - 0.5 * (n - 1)
    bend = 0.15 * rng.normal() * (x * np.cos(angle) + y * np.sin(angle)) ** 2 / long
    along = x * np.cos(angle) + y * np.sin(angle)
    across = y * np.cos(angle) - x * np.sin(angle) - bend
    kernel = np.clip(1.2 - abs(across), 0, 1) * np.clip(0.5 * long + 0.5 - abs(along), 0, 1)
    return np.asarray(cv2.filter2D(pixels, -1, kernel / kernel.sum())), moved


def _skin() -> Floats:
    """(36,) reflectance of some skin: reddish, with the dip of blood; drawn from memory."""
    nm = WAVELENGTHS_NM.astype(float)
    rise = 0.16 + 0.34 / (1 + np.exp(-(nm - 590) / 28))
    return np.asarray(rise - 0.03 * np.exp(-(((nm - 555) / 22) ** 2)))


def _wood() -> Floats:
    return np.asarray(0.10 + 0.35 * np.linspace(0, 1, N_BANDS) ** 1.2)


def _depth(shape: tuple[int, int], start: Floats, end: Floats, radius: float) -> Pixels:
    """(rows, cols) pixels inward of a finger or a brush from start to end (x, y)."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    line = end - start
    along = ((x - start[0]) * line[0] + (y - start[1]) * line[1]) / (line @ line)
    along = np.clip(along, 0, 1)
    away = np.hypot(x - start[0] - along * line[0], y - start[1] - along * line[1])
    return np.asarray(radius - away, np.float32)


def _hand(shape: tuple[int, int], tip: Floats, inward: Floats, size: float) -> Pixels:
    """(rows, cols) pixels into a hand whose middle finger ends at tip, from beyond the rim."""
    across = np.array([-inward[1], inward[0]])
    palm = tip - 1.0 * size * inward
    parts = [_depth(shape, palm, palm - 3 * size * inward, 0.42 * size)]
    for k, short in enumerate((0.1, 0.0, 0.06, 0.25)):
        end = tip - short * size * inward + (k - 1.5) * 0.25 * size * across
        knuckle = palm + (k - 1.5) * 0.21 * size * across
        parts.append(_depth(shape, end, knuckle, 0.095 * size))
    return np.asarray(np.max(parts, axis=0))


def cover_by_hand(pixels: Pixels, camera: Camera, rng: np.random.Generator) -> tuple[Pixels, float]:
    """A hand, and often a brush, over the rim of the photo; and the share they hide."""
    small = pixels.shape[0] // 8, pixels.shape[1] // 8
    high, wide = small
    from_left = rng.random() < 0.5
    low = np.array([0.0 if from_left else wide, rng.uniform(0.6, 1.0) * high])
    inward = np.array([0.35 * wide if from_left else 0.65 * wide, 0.45 * high]) - low
    inward /= np.linalg.norm(inward)
    size, reach = 0.30 * max(small), 0.2
    while True:
        hand = _hand(small, low + reach * max(small) * inward, inward, size)
        if (hand > 0).mean() > COVERED or reach > 0.8:
            break
        reach += 0.04
    layers = [(hand, _skin())]
    if rng.random() < 0.6:
        start = np.array([rng.uniform(0.2, 0.8) * wide, -0.1 * high])
        end = start + np.array([rng.normal(0, 0.1) * wide, 0.4 * high])
        layers.append((_depth(small, start, end, 0.007 * max(small)), _wood()))
    out, hidden = pixels, np.zeros(small, bool)
    for depth, colour in layers:
        out = _over(out, depth, raw_of(camera, colour))
        hidden |= depth > 0
    return out, float(hidden.mean())


def _over(pixels: Pixels, depth: Pixels, colour: Pixels) -> Pixels:
    """Something round lies over the picture; it throws a soft shadow beside."""
    size = pixels.shape[1::-1]
    full = cv2.resize(depth, size, interpolation=cv2.INTER_CUBIC)
    on = np.clip(full * 4 + 0.5, 0, 1)[..., None]
    thick = max(float(depth.max()), 1e-3)
    round_ = (0.55 + 0.45 * np.sqrt(np.clip(full / thick, 0, 1)))[..., None]
    near = cv2.GaussianBlur((depth > 0).astype(np.float32), (0, 0), max(depth.shape) / 60)
    shadow = 1 - 0.4 * cv2.resize(near, size)[..., None]
    return np.asarray(pixels * shadow * (1 - on) + on * round_ * colour, np.float32)
