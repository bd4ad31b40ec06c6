"""The card seen squarely from above, and the light on it judged from its bare paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.finding import CardMap
from firstwash.card.layout import BARE, COLUMNS, HEIGHT_MM, WIDTH_MM, Box, sample_box, slot_box

__all__ = ["PPMM", "BarePaper", "LightField", "bare_paper", "cut", "straighten"]

PPMM: Final = 8.0  # pixels per mm of the straightened card
# Chosen by trials on made-up photos (tools/card_trials.py).
EVEN: Final = 0.05  # share by which bare paper may stray from an even light before it is odd
# How light runs on from the card to a target beside it: assumed, no source.
SLOPE: Final = 0.06  # spread of the slope of ln light per 100 mm, before it is seen
BEND: Final = 0.03  # rms of ln light about an even slope
CURVE: Final = 0.01  # by which ln light strays from it in 100 mm beyond the samples
LOCAL_MM: Final = 14.0  # over which what is left of the light is carried to a swatch


def straighten(linear: NDArray[np.float32], card: CardMap) -> NDArray[np.float32]:
    """(rows, cols, 3) linear light of the card at `PPMM` pixels per mm; NaN outside the photo."""
    cols, rows = round(WIDTH_MM * PPMM), round(HEIGHT_MM * PPMM)
    x, y = ((np.arange(n) + 0.5) / PPMM for n in (cols, rows))
    across, down = card.pixel_maps(x, y)
    return np.asarray(
        cv2.remap(
            linear, across, down, cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(np.nan, np.nan, np.nan),
        )
    )  # fmt: skip


def cut(picture: NDArray[np.float32], box: Box) -> NDArray[np.float32]:
    """The pixels (rows, cols, 3) of a box on the straightened card."""
    left, top = round(box.x * PPMM), round(box.y * PPMM)
    right, bottom = round((box.x + box.width) * PPMM), round((box.y + box.height) * PPMM)
    return picture[max(top, 0) : bottom, max(left, 0) : right]


@dataclass(frozen=True, eq=False)
class BarePaper:
    """Samples of bare paper: place (n, 2) mm, row (n,), colour (n, 3) linear light."""

    place: NDArray[np.float64]
    row: NDArray[np.int64]
    colour: NDArray[np.float64]


def bare_paper(picture: NDArray[np.float32], rows: Sequence[int]) -> BarePaper:
    """Bare paper in the windows of these rows: between swatches and in the bare places."""
    places, owners, colours = [], [], []
    for row in rows:
        for box in _bare_boxes(row):
            pixels = cut(picture, box).reshape(-1, 3)
            if not np.isfinite(pixels).all():
                continue
            places.append((box.x + 0.5 * box.width, box.y + 0.5 * box.height))
            owners.append(row)
            colours.append(np.median(pixels, axis=0))
    return BarePaper(
        np.array(places).reshape(-1, 2), np.array(owners, dtype=np.int64),
        np.array(colours, dtype=np.float64).reshape(-1, 3),
    )  # fmt: skip


def _bare_boxes(row: int) -> list[Box]:
    pitch = slot_box(row).width / COLUMNS
    gaps = [
        Box(slot_box(row).x + column * pitch - 0.7, sample_box(row, 0).y, 1.4, 6.0)
        for column in range(1, COLUMNS)
    ]
    return [*gaps, *(sample_box(row, column) for column in BARE)]


@dataclass(frozen=True, eq=False)
class LightField:
    """How bright bare paper is at any place: a low polynomial, and what is left near samples.

    odd: (n,) samples that stray by more than `EVEN`: spilt paint, a shadow's edge, a glare.
    uneven: greatest over least of the polynomial on the card. ragged: rms share by which the
    samples that are not odd stray from it.
    """

    terms: tuple[tuple[int, int], ...]
    coefficients: NDArray[np.float64]
    samples: NDArray[np.float64]
    left: NDArray[np.float64]
    odd: NDArray[np.bool_]
    uneven: float
    ragged: float

    @classmethod
    def of(cls, bare: BarePaper, rows: int) -> "LightField":
        """The light from samples of bare paper in that many rows."""
        terms = tuple((i, j) for i in range(5) for j in range(min(rows, 5)) if i + j <= 4)
        design = _design(bare.place, terms)
        log = np.log(np.maximum(bare.colour, 1e-4))
        weight = np.ones(len(log))
        ridge = 1e-3 * np.eye(len(terms))
        for _ in range(12):  # bisquare weights; the common light decides, not the few odd ones
            heavy = design * weight[:, None]
            found = np.linalg.solve(heavy.T @ design + ridge, heavy.T @ log)
            off = np.abs(log - design @ found).max(axis=1)
            scale = max(1.5 * float(np.median(off)), 0.004)
            weight = np.clip(1.0 - (off / (4.5 * scale)) ** 2, 0.0, 1.0) ** 2
        left = log - design @ found
        odd = np.abs(left).max(axis=1) > EVEN
        left = np.asarray(left, dtype=np.float64)
        brightness = design @ found[:, 1]
        calm = left[~odd] if (~odd).any() else left
        return cls(
            terms, np.asarray(found, dtype=np.float64), bare.place, left, odd,
            float(np.exp(np.ptp(brightness))), float(np.sqrt((calm**2).mean())),
        )  # fmt: skip

    def at(self, places: FloatArray) -> NDArray[np.float64]:
        """(n, 3) linear light of bare paper at places (n, 2) mm."""
        base = _design(np.asarray(places, dtype=np.float64), self.terms) @ self.coefficients
        good = ~self.odd
        if good.any():
            away = np.asarray(places)[:, None] - self.samples[None, good]
            near = np.exp(-0.5 * (away**2).sum(axis=2) / (0.5 * LOCAL_MM) ** 2)
            base = base + near @ self.left[good] / (near.sum(axis=1, keepdims=True) + 0.5)
        return np.asarray(np.exp(base))

    def beyond(self, place: FloatArray) -> tuple[NDArray[np.float64], float]:
        """(3,) light of bare paper beside the card, and how unsure its logarithm is.

        The even slope over all samples goes on, as far as they show one.
        """
        good = ~self.odd if (~self.odd).sum() > 3 else np.ones(len(self.odd), dtype=bool)
        log = (_design(self.samples, self.terms) @ self.coefficients + self.left)[good]
        middle = self.samples[good].mean(axis=0)
        away = (self.samples[good] - middle) / 100.0
        plane = np.column_stack([np.ones(len(away)), away])
        # Curves of the light hide in the samples' noise; slopes are small before they are seen.
        precision = plane.T @ plane / BEND**2 / len(away) * 8 + np.diag([0.0, *(SLOPE**-2.0,) * 2])
        found = np.linalg.solve(precision, plane.T @ log / BEND**2 / len(away) * 8)
        there = np.append(1.0, (np.asarray(place) - middle) / 100.0)
        far = float(np.linalg.norm(there[1:]))
        unsure = float(np.sqrt(there @ np.linalg.solve(precision, there))) + CURVE * far**2
        return np.asarray(np.exp(there @ found)), unsure


def _design(places: NDArray[np.float64], terms: Sequence[tuple[int, int]]) -> NDArray[np.float64]:
    x = 2.0 * places[:, 0] / WIDTH_MM - 1.0
    y = 2.0 * places[:, 1] / HEIGHT_MM - 1.0
    return np.stack([x**i * y**j for i, j in terms], axis=1)
