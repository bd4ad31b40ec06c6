"""The colour of each swatch on a straightened card, with its spread, its grain and its pen line."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.layout import BARE, COLUMNS, line_box, sample_box, slot_box
from firstwash.card.straight import PPMM, LightField, cut

__all__ = ["Window", "paper_texture", "pen_line", "read_windows"]

# Chosen by trials on made-up photos (tools/card_trials.py).
TRIM: Final = 5.0  # percent of the pixels left out at either end
GRAIN_MM: Final = 1.2  # what varies over less than this is grain; over more, a sloping wash
DARK: Final = 0.004  # share of paper below which a camera's number says little


@dataclass(frozen=True, eq=False)
class Window:
    """One place as the photo shows it.

    colour: (3,) share of what bare paper gives there, linear light. spread: (3,) of its cube
    root, from the wash's own unevenness. uneven: share by which the wash slopes, low against
    high end. grain: share by which it is speckled beyond what bare paper is. line: (3,) the
    painted-over pen line, as a share of paper, or None where it cannot be told.
    """

    row: int
    column: int
    colour: NDArray[np.float64]
    spread: NDArray[np.float64]
    uneven: float
    grain: float
    line: NDArray[np.float64] | None


def read_windows(
    picture: NDArray[np.float32], field: LightField, rows: Sequence[int]
) -> tuple[Window, ...]:
    """Every place of these rows, in reading order; places not wholly in the photo are left out."""
    out = []
    for row in rows:
        flats = [_flat(picture, field, row, column) for column in range(COLUMNS)]
        speckle = [_speckle(flats[c]) for c in BARE if flats[c] is not None]
        paper = float(np.median(speckle)) if speckle else 0.0
        lines = pen_line(picture, field, row)
        for column, flat in enumerate(flats):
            if flat is not None:
                out.append(_window(row, column, flat, paper, lines[column]))
    return tuple(out)


def paper_texture(
    picture: NDArray[np.float32], field: LightField, rows: Sequence[int]
) -> float | None:
    """Share by which bare paper varies over less than `GRAIN_MM`, in the middle of its places.

    Its tooth under this light, with the camera's noise in it; None where no bare place is whole.
    """
    flats = [_flat(picture, field, row, column) for row in rows for column in BARE]
    found = [_speckle(f) for f in flats if f is not None]
    return float(np.median(found)) if found else None


def _flat(
    picture: NDArray[np.float32], field: LightField, row: int, column: int
) -> NDArray[np.float64] | None:
    """The pixels (rows, cols, 3) of a place as shares of bare paper, None if some are missing."""
    box = sample_box(row, column)
    pixels = cut(picture, box).astype(np.float64)
    if not pixels.size or not np.isfinite(pixels).all():
        return None
    corners = field.at(box.corners)  # upper left, upper right, lower right, lower left
    height, width = pixels.shape[:2]
    down, across = np.linspace(0, 1, height)[:, None, None], np.linspace(0, 1, width)[:, None]
    top = corners[0] + across * (corners[1] - corners[0])
    bottom = corners[3] + across * (corners[2] - corners[3])
    return np.asarray(pixels / (top + down * (bottom - top)))


def _speckle(flat: FloatArray | None) -> float:
    """Share by which a place varies over less than `GRAIN_MM`, in green."""
    if flat is None:
        return 0.0
    green = np.log(np.maximum(np.asarray(flat)[:, :, 1], 1e-3))
    smooth = cv2.GaussianBlur(green, (0, 0), 0.5 * GRAIN_MM * PPMM)
    return float(np.std(green - smooth))


def _window(
    row: int, column: int, flat: FloatArray, paper: float, line: NDArray[np.float64] | None
) -> Window:
    pixels = np.sort(np.asarray(flat).reshape(-1, 3), axis=0)
    left = round(len(pixels) * TRIM / 100.0)
    colour = pixels[left : len(pixels) - left].mean(axis=0)
    smooth = cv2.blur(np.asarray(flat), (round(2 * PPMM), round(2 * PPMM)))
    low, high = np.percentile(smooth[:, :, 1], [5, 95])
    cube = np.cbrt(np.maximum(smooth, 1e-4)).reshape(-1, 3)
    slope = 0.5 * (np.percentile(cube, 90, axis=0) - np.percentile(cube, 10, axis=0))
    grain = float(np.sqrt(max(_speckle(flat) ** 2 - paper**2, 0.0)))
    spread = np.sqrt(0.006**2 + (slope / 2.0) ** 2) + 0.08 * (colour < DARK)
    uneven = float((high - low) / max(high, 1e-3))
    return Window(row, column, np.maximum(colour, 0.0), spread, uneven, grain, line)


def pen_line(
    picture: NDArray[np.float32], field: LightField, row: int
) -> list[NDArray[np.float64] | None]:
    """How the pen line looks in each place of a row: (3,) shares of paper, None where not found.

    The line is drawn by hand, so its height is looked for: darkest where paper is bare, taken
    to run evenly between. In a place the middle of the line's width is read.
    """
    heights = _line_heights(picture, row)
    if heights is None:
        return [None] * COLUMNS
    places, tops = heights
    out: list[NDArray[np.float64] | None] = []
    for column in range(COLUMNS):
        box = sample_box(row, column)
        middle = box.x + 0.5 * box.width
        y = float(np.interp(middle, places, tops))
        found = _line_colour(picture, box.x, box.x + box.width, y)
        white = field.at(np.array([[middle, y]]))[0]
        out.append(None if found is None else np.maximum(found / white, 0.0))
    return out


def _line_heights(
    picture: NDArray[np.float32], row: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Where (mm) bare paper shows the line and how far down it runs there (mm)."""
    pitch = slot_box(row).width / COLUMNS
    places, heights = [], []
    for edge in range(1, COLUMNS):
        x = slot_box(row).x + edge * pitch
        box = line_box(row, 0)
        strip = picture[
            round(box.y * PPMM) : round((box.y + box.height) * PPMM),
            round((x - 0.6) * PPMM) : round((x + 0.6) * PPMM), 1,
        ]  # fmt: skip
        if not strip.size or not np.isfinite(strip).all():
            continue
        profile = cv2.GaussianBlur(np.median(strip, axis=1).astype(np.float64), (0, 0), 2.0).ravel()
        darkest = int(np.argmin(profile))
        if profile[darkest] < 0.6 * np.percentile(profile, 90):
            places.append(x)
            heights.append(box.y + (darkest + 0.5) / PPMM)
    if len(places) < 4:
        return None
    found = np.array(heights)
    calm = np.abs(found - np.median(found)) < 1.0
    if calm.sum() < 4:
        return None
    return np.array(places)[calm], found[calm]


def _line_colour(
    picture: NDArray[np.float32], left: float, right: float, y: float
) -> NDArray[np.float64] | None:
    """(3,) of the darkest 0.4 mm within 0.6 mm of a height, across a stretch of the line."""
    reach, half = 0.6, 0.2
    top = round((y - reach) * PPMM)
    rows = picture[top : round((y + reach) * PPMM) + 1, round(left * PPMM) : round(right * PPMM)]
    if not rows.size or not np.isfinite(rows).all():
        return None
    profile = np.median(rows.astype(np.float64), axis=1)
    width = max(round(2 * half * PPMM), 1)
    sums = np.array([profile[i : i + width].mean(axis=0) for i in range(len(profile) - width + 1)])
    return np.asarray(sums[int(np.argmin(sums[:, 1]))])
