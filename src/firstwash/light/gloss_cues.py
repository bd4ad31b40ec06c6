"""What the highlights in a picture say about the colour of the lamp.

On anything but metal the gloss has the lamp's own colour, so from the skin around a highlight
towards its middle a picture gains light of the lamp's colour, and a little more or less of the
skin's own: the dichromatic model [Shafer1985]. Each highlight so gives a plane of colours in
which the lamp's must lie, and where it is strong, nearly the colour itself; several, on things
of different colour, agree only in the lamp's [Lee1986]. Even one is enough where the lamp is
known to glow as lamps do [FinlaysonSchaefer2001].

A highlight is looked for as a small hill of light: it falls off to both sides in at least three
of four directions, and evenly, for a dab of white paint falls in one step.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.light.channels import least
from firstwash.light.highlight import gloss_share
from firstwash.light.lamp_words import log_colour

__all__ = ["QUALITIES", "Rises", "gloss_lean", "gloss_rises", "likeness", "no_rises"]

Plane = NDArray[np.float32]
Mask = NDArray[np.bool_]

# Own judgement, settled on drawn pictures of our own (`tools/light_colour_trials.py`).
REACHES = (2, 4, 6, 10, 16)  # pixels from a hill's top to its foot, in a picture 240 high
SIDE = 240
ROUND_ABOUT = ((0, 1), (1, 1), (1, 0), (1, -1))
LEAST_WAYS = 3
LEAST_RISE = 0.015  # of the picture's white; less is grain
LEAST_SHARE = 0.08  # of the light there already; less is a turn of the form
EVEN = (0.06, 0.9)  # part of the fall that half the way may have: an even slope, not a step
ALIKE = 0.15  # log units within which two hills say the same
ENOUGH = 0.15  # weight of hills from which they are half believed
TILE = 10  # pixels: hills as near as this are one
QUALITIES = ("size", "reach", "strength", "brightness", "apart", "least", "gloss")


@dataclass(frozen=True, eq=False)
class Rises:
    """The hills of light of a picture, n of them.

    foot, rise: (n, 3) linear sRGB around each, and what is gained at its top.
    qualities: (n, 7) what tells a highlight from a pale dab, in the order of `QUALITIES`.
    place: (n, 2) row and column.
    """

    foot: NDArray[np.float64]
    rise: NDArray[np.float64]
    qualities: NDArray[np.float64]
    place: NDArray[np.int64]


def no_rises() -> Rises:
    """A picture without hills."""
    none = np.zeros((0, 3))
    return Rises(none, none, np.zeros((0, len(QUALITIES))), np.zeros((0, 2), np.int64))


def gloss_rises(rgb: Plane, whole: Mask, lamp: FloatArray) -> Rises:
    """The hills of a picture (rows, cols, 3) in linear sRGB, a few hundred pixels a side.

    whole: (rows, cols), False where a channel is clipped. lamp: (3,) a first guess of its
    colour, used only to find the places, not to tell their colour.
    """
    soft = np.asarray(cv2.GaussianBlur(rgb, (3, 3), 0), dtype=np.float32)
    guess = np.maximum(lamp / np.max(lamp), 0.05).astype(np.float32)
    low = np.ascontiguousarray(least(soft / guess))
    burnt = cv2.dilate((~whole).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    scale = min(low.shape) / SIDE
    reaches = sorted({max(2, round(r * scale)) for r in REACHES})
    found = [_hills(soft, low, burnt, r) for r in reaches if min(low.shape) >= 4 * r]
    if not found or sum(map(len, found)) == 0:
        return no_rises()
    share = np.asarray(
        cv2.dilate(gloss_share(rgb / guess), np.ones((5, 5), np.uint8)), dtype=np.float32
    )
    return _gathered(np.vstack(found), share, max(3, round(TILE * scale)), _bright(rgb))


def _bright(rgb: Plane) -> float:
    return float(np.percentile(rgb, 99))


def _hills(soft: Plane, low: Plane, burnt: Mask, far: int) -> NDArray[np.float64]:
    """(n, 9): foot, rise, row, column and reach of every pixel that tops a hill."""
    rows, cols = low.shape

    def moved(down: int, across: int) -> Plane:
        return low[far + down : rows - far + down, far + across : cols - far + across]

    steps = [_steps(way, far) for way in ROUND_ABOUT]
    falling = []
    for foot, half in steps:
        falling.append(np.ones((rows - 2 * far, cols - 2 * far), bool))
        for sign in (1, -1):
            ends = (moved(sign * s[0], sign * s[1]) for s in (half, foot))
            falling[-1] &= _falls(moved(0, 0), *ends)
    found = np.argwhere(np.sum(falling, axis=0, dtype=np.int8) >= LEAST_WAYS)
    places = found + far
    sums = np.zeros((2, len(places), 4))  # of foot and half way: colour and count
    for pair, both in zip(steps, falling, strict=True):
        falls = both[found[:, 0], found[:, 1]]
        for total, step in zip(sums, pair, strict=True):
            for sign in (1, -1):
                at = tuple((places + sign * np.array(step)).T)
                use = falls & ~burnt[at]
                total[:, :3] += soft[at] * use[:, None]
                total[:, 3] += use
    top = tuple(places.T)
    return _tops(soft[top], burnt[top], places, sums, far)


def _steps(way: tuple[int, int], far: int) -> list[tuple[int, int]]:
    """Rows and columns from a top to its foot, and half the way."""
    slant = 0.7071 if way[0] and way[1] else 1.0
    sizes = [max(1, round(r * slant)) for r in (far, far // 2)]
    return [(s * way[0], s * way[1]) for s in sizes]


def _falls(middle: Plane, half: Plane, foot: Plane) -> Mask:
    fall = middle - foot
    part = (middle - half) / np.maximum(fall, np.float32(1e-6))
    enough = (fall > LEAST_RISE) & (fall > LEAST_SHARE * foot)
    return np.asarray(enough & (part > EVEN[0]) & (part < EVEN[1]))


def _tops(
    top: Plane, burnt: Mask, places: NDArray[np.int64], sums: NDArray[np.float64], far: int
) -> NDArray[np.float64]:
    """The hills whose foot, and whose top or slope, are not burnt out."""
    needed = 2 * LEAST_WAYS - 1
    foot, half = sums
    good = (foot[:, 3] >= needed) & (~burnt | (half[:, 3] >= needed))
    foot, half, top, burnt, places = (v[good] for v in (foot, half, top, burnt, places))
    low = foot[:, :3] / foot[:, 3:]
    high = np.where(burnt[:, None], half[:, :3] / np.maximum(half[:, 3:], 1), top)
    told = np.column_stack([low, high - low, places, np.full(len(places), far)])
    return np.asarray(told[(high > low).all(axis=1)], dtype=np.float64)


def _gathered(hills: NDArray[np.float64], share: Plane, tile: int, bright: float) -> Rises:
    """Hills that are near each other as one: the mean of its strongest third."""
    strength = np.linalg.norm(hills[:, 3:6], axis=1)
    cell = (hills[:, 6] // tile) * 1e5 + hills[:, 7] // tile
    order = np.lexsort((-strength, cell))
    starts = np.flatnonzero(np.diff(cell[order], prepend=-1.0))
    ends = np.append(starts[1:], len(order))
    rows, counts = [], []
    for start, end in zip(starts, ends, strict=True):
        best = order[start : start + max(1, (end - start) // 3)]
        row = hills[best].mean(axis=0)
        row[8] = hills[order[start:end], 8].max()
        rows.append(row)
        counts.append(end - start)
    table = np.array(rows)
    foot, rise = table[:, :3], table[:, 3:6]
    place = table[:, 6:8].astype(np.int64)
    told = _qualities(foot, rise, np.array(counts), table[:, 8] / tile, bright)
    return Rises(foot, rise, np.column_stack([told, share[place[:, 0], place[:, 1]]]), place)


def _qualities(
    foot: FloatArray, rise: FloatArray, count: FloatArray, reach: FloatArray, bright: float
) -> NDArray[np.float64]:
    """(n, 6), all `QUALITIES` but the last; sizes and strengths in the logarithm."""
    low, gain = np.linalg.norm(foot, axis=1) + 1e-6, np.linalg.norm(rise, axis=1) + 1e-6
    cosine = np.clip((foot * rise).sum(axis=1) / (low * gain), -1.0, 1.0)
    return np.column_stack(
        [
            np.log(count),
            np.log(reach),
            np.log(gain / low),
            np.log((foot + rise).max(axis=1) / max(bright, 1e-6)),
            np.log1p(np.degrees(np.arccos(cosine))),
            rise.min(axis=1) / np.maximum(rise.max(axis=1), 1e-9),
        ]
    )


def likeness(rises: Rises) -> NDArray[np.float64]:
    """How many hills (n,) say about the same as each, itself included."""
    keys = np.hstack([log_colour(rises.foot), log_colour(rises.rise)])
    away = ((keys[:, None] - keys) ** 2).sum(axis=-1)
    return np.asarray(np.exp(-0.5 * away / ALIKE**2).sum(axis=1))


def gloss_lean(rises: Rises, plain: FloatArray) -> NDArray[np.float64]:
    """(6,): how far the hills lean from a plain guess, in log colour, and how much that counts.

    plain: (2,) log colour. Twice three: the hills weighed by their gloss, and by their brightness.
    """
    if len(rises.foot) == 0:
        return np.zeros(6)
    lean = np.clip(log_colour(rises.rise) - plain, -1.5, 1.5)
    size, same = np.linalg.norm(rises.rise, axis=1), likeness(rises)
    bright, gloss = np.exp(rises.qualities[:, 3]), rises.qualities[:, 6]
    told: list[float] = []
    for weight in (gloss * size / same, bright * size / np.sqrt(same)):
        total = float(weight.sum())
        counts = total / (total + ENOUGH)
        told += [*(counts * (weight @ lean) / max(total, 1e-9)), counts]
    return np.array(told)
