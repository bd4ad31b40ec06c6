"""The sheet seen squarely from above, and where on it the painted picture lies."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.margin_light import MarginLight, strip_samples
from firstwash.picture.plane_map import PlaneMap

__all__ = ["STRIP", "PictureArea", "find_picture", "flatten"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
STRIP: Final = (0.006, 0.018)  # of the shorter side from the sheet's edge: bare, if anything is
DEEPEST: Final = 0.3  # of a side that a margin may take
PAINTED: Final = 0.07  # share by which paint at least changes the light of some channel
RUN_MM: Final = 1.2  # of it in a row: a pencil line or the paper's tooth is thinner
NEAR_MM: Final = 0.8  # from the picture's border: a place that belongs to it
AGREE: Final = 0.35  # share of a side's places that lie on its border at least
TILTED: Final = 0.05  # mm per mm that a border may run askew on the sheet
PLACES: Final = 240  # along each side


def flatten(
    linear: NDArray[np.float32], plane: PlaneMap, box: tuple[float, float, float, float],
    ppmm: float,
) -> NDArray[np.float32]:  # fmt: skip
    """(rows, cols, 3) linear light of left, top, right, bottom in mm; NaN beyond the photo."""
    left, top, right, bottom = box
    cols, rows = max(round((right - left) * ppmm), 2), max(round((bottom - top) * ppmm), 2)
    x = left + (np.arange(cols) + 0.5) / cols * (right - left)
    y = top + (np.arange(rows) + 0.5) / rows * (bottom - top)
    across, down = plane.pixel_maps(x, y)
    finest = float(plane.scale_at(np.array([[0.5 * (left + right), 0.5 * (top + bottom)]])).min())
    seen = linear
    if finest > 1.5 * ppmm:  # smooth what the coarser picture could not hold
        seen = np.asarray(cv2.GaussianBlur(linear, (0, 0), 0.4 * finest / ppmm))
    return np.asarray(
        cv2.remap(
            seen, across, down, cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(np.nan, np.nan, np.nan),
        )
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class PictureArea:
    """The painted picture on its sheet.

    corners: (4, 2) mm, upper left first, then clockwise. support: (4,) share of each side
    (upper, right, lower, left) along which paint begins on its border.
    """

    corners: NDArray[np.float64]
    support: NDArray[np.float64]


def find_picture(flat: NDArray[np.float32], ppmm: float) -> PictureArea | None:
    """Where paint begins inside the margin; None where no bare margin with a straight border is.

    flat: (rows, cols, 3) linear light of the whole sheet, `ppmm` pixels per mm.
    """
    light = MarginLight.of(strip_samples(flat, STRIP, ppmm))
    if light is None:
        return None
    off = light.departure(flat, ppmm)
    soft = cv2.GaussianBlur(np.nan_to_num(off), (0, 0), max(0.25 * ppmm, 0.5))
    sides = [_border(np.rot90(soft, turn), ppmm) for turn in range(4)]
    lines = []
    for n, side in enumerate((sides[0], sides[1], sides[2], sides[3])):
        if side is None:
            return None
        lines.append(_turned_back(side[0], n, flat.shape[1] / ppmm, flat.shape[0] / ppmm))
    upper, right, lower, left = lines
    corners = [
        _meet(left, upper), _meet(upper, right), _meet(right, lower), _meet(lower, left),
    ]  # fmt: skip
    support = np.array([side[1] for side in sides if side is not None])
    return PictureArea(np.array(corners), support)


def _border(off: FloatArray, ppmm: float) -> tuple[tuple[float, float], float] | None:
    """Where paint begins below the upper edge: depth = a + b·x in mm, and the share that agrees."""
    rows, cols = off.shape
    first = round(STRIP[1] * min(rows, cols))
    last = round(DEEPEST * rows)
    at = np.linspace(0.06, 0.94, PLACES) * (cols - 1)
    profiles = np.asarray(off[first:last, np.round(at).astype(int)], dtype=np.float64)
    columns = profiles > PAINTED
    run = max(2, round(RUN_MM * ppmm))
    if len(columns) <= run:
        return None
    sums = np.cumsum(np.pad(columns.astype(np.int32), ((1, 0), (0, 0))), axis=0)
    whole = sums[run:] - sums[:-run] >= run
    begins = np.where(whole.any(axis=0), np.argmax(whole, axis=0), -1)
    known = begins >= 0
    if known.mean() < AGREE:
        return None
    x = (at[known] + 0.5) / ppmm
    depth = (_half_way(profiles[:, known], begins[known], run) + first) / ppmm
    return _outermost_line(x, depth)


def _outermost_line(
    x: NDArray[np.float64], depth: NDArray[np.float64]
) -> tuple[tuple[float, float], float] | None:
    """The first line from the edge on which enough places lie, and their share; None for none.

    Whites along the border let deeper shapes be seen first, and these may be straight as well.
    """
    found = None
    while len(x) >= AGREE * PLACES:
        line = _commonest_line(x, depth)
        off = depth - line[0] - line[1] * x
        share = float((np.abs(off) < NEAR_MM).sum() / PLACES)
        if share >= AGREE:
            found = line, share
        outside = off < -NEAR_MM
        if not outside.any() or outside.all():
            break
        x, depth = x[outside], depth[outside]
    return found


def _half_way(
    profiles: NDArray[np.float64], begins: NDArray[np.int64], run: int
) -> NDArray[np.float64]:
    """Where within a run (n,) half of its paint is reached, in pixels from the first one's edge.

    profiles: (depths, n) logarithms; a seen edge is smooth, and begins before the paint does.
    """
    taken = 1.0 - np.exp(-np.clip(profiles, 0.0, None))
    which = np.arange(taken.shape[1])
    rows = np.minimum(begins[None] + np.arange(-run, run)[:, None], len(taken) - 1)
    near = np.where(rows >= 0, taken[np.maximum(rows, 0), which], 0.0)
    half = 0.5 * near[run:].max(axis=0)
    above = np.argmax(near >= half, axis=0)
    high, low = near[above, which], near[np.maximum(above - 1, 0), which]
    back = np.clip((high - half) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    return np.asarray(begins - run + above - back + 0.5)


def _commonest_line(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """a, b of the line a + b·x that most points lie near."""
    rng = np.random.default_rng(3)
    best, most = (float(np.median(y)), 0.0), -1.0
    for _ in range(200):
        i, j = rng.choice(len(x), 2)
        if abs(x[i] - x[j]) < 0.15 * np.ptp(x):
            continue
        b = float((y[i] - y[j]) / (x[i] - x[j]))
        if abs(b) > TILTED:
            continue
        a = float(y[i] - b * x[i])
        support = float(np.exp(-0.5 * ((y - a - b * x) / (0.5 * NEAR_MM)) ** 2).sum())
        if support > most:
            best, most = (a, b), support
    near = np.abs(y - best[0] - best[1] * x) < NEAR_MM
    if near.sum() < 8:
        return best
    b, a = np.polyfit(x[near], y[near], 1)
    return float(a), float(b)


def _turned_back(
    line: tuple[float, float], turns: int, width: float, height: float
) -> NDArray[np.float64]:
    """(3,) a·x + b·y + c = 0 on the sheet of a border found after `turns` quarter turns.

    `np.rot90` turns anticlockwise: the first brings the right side up, then the lower, the left.
    """
    a, b = line
    if turns == 0:  # y = a + b·x
        return np.array([b, -1.0, a])
    if turns == 1:  # x′ = y, y′ = width − x
        return np.array([-1.0, -b, width - a])
    if turns == 2:  # x′ = width − x, y′ = height − y
        return np.array([b, -1.0, height - a - b * width])
    return np.array([-1.0, -b, a + b * height])  # x′ = height − y, y′ = x


def _meet(one: NDArray[np.float64], other: NDArray[np.float64]) -> tuple[float, float]:
    x, y, w = np.cross(one, other)
    return float(x / w), float(y / w)
