"""The lightest lights and the darkest darks of a picture: where they are, how light, how dark."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.language import listed, tr
from firstwash.picture.places import heart, place_words
from firstwash.picture.studies import NumberedFrom, numbered
from firstwash.picture.values import value_step

__all__ = ["Extreme", "Extremes", "extremes"]

# Own judgement, by looking at photos; no source.
MOST_PLACES = 3  # of each kind
SHARE = 0.02  # of the picture that its lightest, or darkest, places are looked for in
LEAST_MM2 = 6.0  # a smaller light is a glint, a smaller dark a crack
WITHIN = 4.0  # L* of the lightest (darkest) place that others must lie within to be named
SMOOTH_MM = 1.5
FLAT = 20.0  # L* between lightest and darkest, below which there are hardly any


@dataclass(frozen=True)
class Extreme:
    """One place. x_mm, y_mm: its heart; area_mm2; lightness: mean L*; step: 1-10."""

    kind: Literal["light", "dark"]
    x_mm: float
    y_mm: float
    area_mm2: float
    lightness: float
    step: int


@dataclass(frozen=True)
class Extremes:
    """The lightest and the darkest places, the most extreme first; words: one or two sentences."""

    lights: tuple[Extreme, ...]
    darks: tuple[Extreme, ...]
    words: str


def extremes(
    lightness: FloatArray, ppmm: float, steps: int = 10, numbered_from: NumberedFrom = "dark"
) -> Extremes:
    """Lightest lights and darkest darks of L* (rows, cols); ppmm: pixels per mm of the sheet.

    steps, numbered_from: how the words count value steps.
    """
    sigma = max(0.5 * SMOOTH_MM * ppmm, 0.3)
    plane = as_float(cv2.GaussianBlur(as_float(lightness), (0, 0), sigma)).astype(np.float64)
    rows_mm, cols_mm = (side / ppmm for side in plane.shape)
    lights, darks = _places(plane, ppmm, "light"), _places(plane, ppmm, "dark")

    def value(place: Extreme) -> str:
        step = int(value_step(place.lightness, steps))
        number = numbered(step, steps, numbered_from)
        return tr("value {number} of {steps}", number=number, steps=steps)

    values = [value(lights[0]), value(darks[0])]
    return Extremes(lights, darks, _told(lights, darks, values, (cols_mm, rows_mm)))


def _places(
    plane: NDArray[np.float64], ppmm: float, kind: Literal["light", "dark"]
) -> tuple[Extreme, ...]:
    signed = plane if kind == "light" else -plane
    least = float(np.quantile(signed, 1.0 - SHARE))
    # What the smallest place that counts reaches; a little below it still belongs to a place.
    rank = min(max(round(LEAST_MM2 * ppmm**2), 1), signed.size)
    top = float(np.partition(signed.ravel(), -rank)[-rank])
    mask = (signed >= max(least, top - 2.0 * WITHIN)).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    sizes = stats[1:, cv2.CC_STAT_AREA]
    # Where all pieces are small the largest stands for them, so that no picture is without.
    wanted = min(LEAST_MM2 * ppmm**2, float(sizes.max()))
    found = [
        _place(plane, labels == i, ppmm, kind) for i in range(1, count) if sizes[i - 1] >= wanted
    ]
    sign = 1.0 if kind == "light" else -1.0
    found.sort(key=lambda e: (-sign * e.lightness, -e.area_mm2))
    near = [e for e in found if abs(e.lightness - found[0].lightness) <= WITHIN]
    return tuple(near[:MOST_PLACES])


def _place(
    plane: NDArray[np.float64], mask: NDArray[np.bool_], ppmm: float, kind: Literal["light", "dark"]
) -> Extreme:
    """The place at the pixel deepest inside it, which is in it whatever its form."""
    row, col = heart(mask)
    mean = float(plane[mask].mean())
    area = float(mask.sum()) / ppmm**2
    x, y = (col + 0.5) / ppmm, (row + 0.5) / ppmm
    return Extreme(kind, x, y, area, mean, int(value_step(mean)))


def _told(
    lights: tuple[Extreme, ...],
    darks: tuple[Extreme, ...],
    values: list[str],
    size_mm: tuple[float, float],
) -> str:
    if lights[0].lightness - darks[0].lightness < FLAT:
        return tr("Lightest and darkest are close together here: a picture almost of one value.")

    def where(found: tuple[Extreme, ...]) -> str:
        places = [place_words(e.x_mm / size_mm[0], e.y_mm / size_mm[1]) for e in found]
        return listed(list(dict.fromkeys(places)))

    return tr(
        "The lightest lights ({light}) are {lights}; the darkest darks ({dark}) {darks}.",
        light=values[0],
        lights=where(lights),
        dark=values[1],
        darks=where(darks),
    )
