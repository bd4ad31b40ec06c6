"""What goes wrong with a photo of a card: glare, a shadow, blur, half of it missing.

Each comes in degrees, from a veil that only shifts colours to places that are lost. What a
spoiled place has lost is told, so that a reader can be held to it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from card_camera import Pixels
from card_optics import Floats
from firstwash.card.layout import COLUMNS, HEIGHT_MM, WIDTH_MM, place_name, sample_box, slot_box

__all__ = [
    "Glare",
    "Shadow",
    "blurred",
    "cover",
    "harm",
    "left_over",
    "random_glare",
    "random_shadow",
]

Field = Callable[[Floats], Floats]  # (..., 2) mm → (...)


@dataclass(frozen=True, eq=False)
class Glare:
    """A lamp or window mirrored by the sheet: light of its own, on top of everything.

    at, reach: mm; turn: radians; peak: by the light of perfect white; flat: how much its
    middle is cut off, as a lamp's image is.
    """

    at: Floats
    reach: Floats
    turn: float
    peak: float
    flat: float

    def __call__(self, mm: Floats) -> Floats:
        """(...) light added at (..., 2) mm, by the light of perfect white."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        away = (mm - self.at) @ np.array([[c, -s], [s, c]]) / self.reach
        near = np.exp(-0.5 * (away**2).sum(axis=-1))
        return np.asarray(self.peak * np.minimum(near * self.flat, 1.0))


def random_glare(rng: np.random.Generator, rows: int) -> Glare:
    """Over one to three of the painted rows, from a thin veil to white."""
    hit = min(int(rng.integers(1, 4)), rows)
    first = int(rng.integers(0, rows - hit + 1))
    low, high = slot_box(first), slot_box(first + hit - 1)
    middle = np.array([rng.uniform(30, WIDTH_MM - 30), 0.5 * (low.y + high.y + high.height)])
    reach = np.array([rng.uniform(15, 60), 0.32 * (high.y + high.height - low.y)])
    peak = np.exp(rng.uniform(np.log(0.06), np.log(1.5)))
    return Glare(middle, reach, rng.normal(0, 0.2), float(peak), float(rng.uniform(1, 2)))


@dataclass(frozen=True, eq=False)
class Shadow:
    """A shadow with an edge: distance (mm, inside > 0), how much light is left, softness."""

    distance: Field
    left: float
    soft: float
    tint: Floats

    def __call__(self, mm: Floats) -> Floats:
        """(...) share of the light that is left at (..., 2) mm."""
        inside = 1 / (1 + np.exp(-np.clip(self.distance(mm) / self.soft, -30, 30)))
        return np.asarray(1 - (1 - self.left) * inside)


def _capsule(mm: Floats, start: Floats, end: Floats, radius: float) -> Floats:
    """Distance into a finger from start to end."""
    line = end - start
    along = np.clip(((mm - start) @ line) / (line @ line), 0, 1)
    return np.asarray(radius - np.linalg.norm(mm - start - along[..., None] * line, axis=-1))


def _hand(at: Floats, towards: Floats) -> Field:
    """A hand whose finger tips reach `at`, coming from `towards` (unit)."""
    across = np.array([-towards[1], towards[0]])
    palm = at + 95 * towards

    def distance(mm: Floats) -> Floats:
        parts = [_capsule(mm, palm, palm + 150 * towards, 38.0)]
        for k, length in enumerate((0, 8, 4, -12)):
            knuckle = palm + (k - 1.5) * 20 * across
            tip = at + (k - 1.5) * 26 * across - length * towards
            parts.append(_capsule(mm, tip, knuckle, 8.5))
        return np.asarray(np.max(parts, axis=0))

    return distance


def _edge(at: Floats, towards: Floats) -> Field:
    return lambda mm: np.asarray((mm - at) @ towards)


def _phone(at: Floats, towards: Floats) -> Field:
    """The phone itself, a corner of it over `at`."""
    across = np.array([-towards[1], towards[0]])

    def distance(mm: Floats) -> Floats:
        away = mm - at
        long, wide = away @ towards, away @ across
        inside = np.minimum(np.minimum(long, 155 - long), np.minimum(wide + 40, 38 - wide))
        return np.asarray(inside)

    return distance


def random_shadow(rng: np.random.Generator, rows: int) -> Shadow:
    """Of a hand, the phone or a straight edge, across some of the painted rows."""
    low, high = slot_box(0), slot_box(rows - 1)
    at = np.array([rng.uniform(30, WIDTH_MM - 30), rng.uniform(low.y, high.y + high.height)])
    angle = rng.uniform(0, 2 * np.pi)
    towards = np.array([np.cos(angle), np.sin(angle)])
    shape = (_hand, _phone, _edge)[int(rng.integers(3))]
    left = float(rng.uniform(0.4, 0.75) if rng.random() < 0.7 else rng.uniform(0.75, 0.92))
    soft = float(np.exp(rng.uniform(np.log(0.15), np.log(2.5))))
    return Shadow(shape(at, towards), left, soft, rng.normal(0, 0.02, 3))


def blurred(rng: np.random.Generator, picture: Pixels) -> tuple[Pixels, float]:
    """The picture out of focus or moved, and by how many pixels."""
    size = float(rng.uniform(4, 12)) * max(picture.shape) / 4000
    n = 2 * int(np.ceil(0.5 * size)) + 1
    y, x = np.mgrid[0:n, 0:n] - 0.5 * (n - 1)
    if rng.random() < 0.5:  # out of focus: a disc
        kernel = np.clip(0.5 * size + 0.5 - np.hypot(x, y), 0, 1)
    else:  # moved: a line
        angle = rng.uniform(0, np.pi)
        along, across = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
        kernel = np.clip(1 - abs(across), 0, 1) * np.clip(0.5 * size + 0.5 - abs(along), 0, 1)
    return np.asarray(cv2.filter2D(picture, -1, kernel / kernel.sum())), size


def left_over(rng: np.random.Generator) -> Floats:
    """(4, 2) mm corners of the part of a card that is still in the picture."""
    kept = rng.uniform(0.35, 0.75)
    low, high = np.zeros(2), np.array([WIDTH_MM, HEIGHT_MM])
    axis = int(rng.random() < 0.7)  # more often rows are missing than columns
    if rng.random() < 0.5:
        high[axis] *= kept
    else:
        low[axis] = (1 - kept) * high[axis]
    return np.array([low, [high[0], low[1]], high, [low[0], high[1]]])


def cover(rng: np.random.Generator) -> Field:
    """Distance (mm, covered > 0) into a cloth that hides a part of the card."""
    box = left_over(rng)
    hidden = np.array([WIDTH_MM / 2, HEIGHT_MM / 2]) - box.mean(axis=0)
    towards = hidden / np.linalg.norm(hidden)
    across = np.array([-towards[1], towards[0]])
    reach = float((box @ towards).max())
    waves = rng.normal(0, 2.5, 4)
    phase = rng.uniform(0, 6.3, 4)

    def distance(mm: Floats) -> Floats:
        along = mm @ across
        edge = sum(
            w * np.sin(along / (12.0 * (k + 1)) + p)
            for k, (w, p) in enumerate(zip(waves, phase, strict=True))
        )
        return np.asarray(mm @ towards - reach - edge)

    return distance


def harm(rows: int, field: Field) -> dict[str, float]:
    """The field at every place of the painted rows: the largest in its sample box."""
    out = {}
    for row in range(rows):
        for column in range(COLUMNS):
            box = sample_box(row, column)
            grid = np.stack(
                np.meshgrid(np.linspace(0, box.width, 5), np.linspace(0, box.height, 5)), -1
            )
            corner = np.array([box.x, box.y])
            out[place_name(row, column)] = float(field(corner + grid).max())
    return out
