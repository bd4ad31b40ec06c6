"""Wavering polylines made into the smooth curves of a drawing hand; corners stay corners.

A line is split at its corners, each stretch is smoothed along itself with its ends held, and
cubic Bézier curves are laid through it, shorter where it bends, that share their directions
where they meet.
"""

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import splev, splprep
from scipy.ndimage import gaussian_filter1d

from firstwash.arrays import FloatArray, IntArray
from firstwash.picture.stroke_lines import resample

__all__ = ["STEP_MM", "Smooth", "along", "as_curves", "corners_of", "evenly", "normals", "smooth"]

STEP_MM: Final = 0.5  # between two points of a line
CORNER: Final = np.deg2rad(55.0)  # a turn from which a corner is meant; tuned by eye
CORNER_MM: Final = 3.5  # length to both sides that tells its turn
FEWEST: Final = 5  # points of a spline
HELD: Final = 50.0  # weight of an end that is held
WAVER_MM: Final = 5.0  # σ of the bell that tells wavering from bends
FEW: Final = 0.06  # of a line's points, the most that this bell is wide
FREE: Final = 1.5  # times as far as its points waver may a line stray from them
LEAST_STRAY_MM: Final = 0.08
CORNER_SMOOTH_MM: Final = 1.0  # by which a line is smoothed before corners are looked for
LONGEST_MM: Final = 10.0  # of a curve
PER_TURN: Final = 2.6  # curves to a radian of bend


class Smooth(NamedTuple):
    """A smooth polyline.

    points: (n, 2) mm; a closed one ends where it begins. stretches: (k ≥ 2,) places that split it
    at its corners: first, corners, last. ring: closed without a corner where it closes. turned:
    how many points a closed one was started later.
    """

    points: NDArray[np.float64]
    stretches: NDArray[np.int64]
    ring: bool = False
    turned: int = 0

    @property
    def length_mm(self) -> float:
        """Its length, mm."""
        return float(along(self.points)[-1])

    def piece(self, first: int, last: int) -> "Smooth":
        """The part from one of its points to another."""
        inside = self.stretches[(self.stretches > first) & (self.stretches < last)] - first
        ends = np.r_[0, inside, last - first]
        return Smooth(self.points[first : last + 1].copy(), ends.astype(np.int64))


def along(points: FloatArray) -> NDArray[np.float64]:
    """Length (n,) from the start of a polyline (n, 2) to each of its points."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.asarray(np.r_[0.0, np.cumsum(steps)], dtype=np.float64)


def evenly(points: FloatArray, step: float = STEP_MM) -> NDArray[np.float64]:
    """Points about `step` apart along a polyline (n ≥ 2, 2), its ends among them."""
    return resample(points, step, 0.0)


def normals(points: FloatArray) -> NDArray[np.float64]:
    """Unit vectors (n, 2) across a polyline (n ≥ 2, 2)."""
    way = np.gradient(points, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    return np.column_stack([-way[:, 1], way[:, 0]])


def _soft(points: FloatArray, sigma_mm: float, closed: bool) -> NDArray[np.float64]:
    """Points STEP_MM apart smoothed along the line; a closed one's last point is its first."""
    if not closed:
        return resample(points, STEP_MM, sigma_mm)
    ring = gaussian_filter1d(points[:-1], sigma_mm / STEP_MM, axis=0, mode="wrap")
    return np.concatenate([ring, ring[:1]])


def corners_of(points: FloatArray, closed: bool) -> NDArray[np.int64]:
    """Which points, STEP_MM apart, are corners, in order; the ends of an open line are not."""
    n = len(points) - 1
    reach = min(round(CORNER_MM / STEP_MM), n // (3 if closed else 2))
    if reach < 2:
        return np.empty(0, dtype=np.int64)
    soft = _soft(points, CORNER_SMOOTH_MM, closed)
    if len(soft) != len(points):  # a line hardly longer than a step
        return np.empty(0, dtype=np.int64)
    here = np.arange(n) if closed else np.arange(reach, n - reach + 1)
    before, after = (here - reach, here + reach) if not closed else (
        (here - reach) % n, (here + reach) % n
    )  # fmt: skip
    turn = _turn(soft[here] - soft[before], soft[after] - soft[here])
    return _peaks(here, turn, reach, n if closed else 0)


def _turn(one: FloatArray, other: FloatArray) -> NDArray[np.float64]:
    """Angle (n,) between two rows of ways (n, 2), radians."""
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (one * other).sum(axis=1))))


def _peaks(here: IntArray, turn: FloatArray, apart: int, around: int) -> NDArray[np.int64]:
    """Places of the sharpest turns, none nearer than `apart` to a sharper one."""
    kept: list[int] = []
    for k in np.argsort(-turn, kind="stable").tolist():
        if turn[k] < CORNER:
            break
        away = [abs(int(here[k]) - other) for other in kept]
        if around:
            away = [min(gap, around - gap) for gap in away]
        if all(gap > apart for gap in away):
            kept.append(int(here[k]))
    return np.array(sorted(kept), dtype=np.int64)


def smooth(points: FloatArray, closed: bool, stray_mm: float) -> Smooth:
    """A polyline with points about STEP_MM apart, each moved onto a smooth line.

    points: (n ≥ 2, 2) mm, no two alike in turn but that a closed one ends where it begins.
    stray_mm: how far the smooth line may stray at most, root mean square. Corners are held.
    """
    corners = corners_of(points, closed)
    turned = 0
    if closed and len(corners):  # start at a corner instead of from anywhere
        turned = int(corners[0])
        points = np.concatenate([points[turned:-1], points[: turned + 1]])
        corners = corners[1:] - turned
    elif closed:
        line = _spline(points, stray_mm, True)
        return Smooth(line, np.array([0, len(points) - 1]), True)
    at = np.r_[0, corners, len(points) - 1].astype(np.int64)
    parts = [
        _spline(points[first : last + 1], stray_mm, False)[(0 if first == 0 else 1) :]
        for first, last in pairwise(at.tolist())
    ]
    return Smooth(np.concatenate(parts), at, False, turned)


def _spline(points: FloatArray, stray_mm: float, ring: bool) -> NDArray[np.float64]:
    """The smoothest curve beside points (n, 2) [Dierckx1993], at its places beside them.

    It strays somewhat more than the points waver, but by no more than stray_mm. Ends are held.
    """
    if len(points) < FEWEST:
        return np.asarray(points, dtype=np.float64)
    stray = min(stray_mm, max(FREE * _wavering(points, ring), LEAST_STRAY_MM))
    weight = np.ones(len(points))
    if not ring:
        weight[[0, -1]] = HELD
    spline, at = splprep(points.T, w=weight, s=len(points) * stray**2, k=3, per=ring)
    out = np.column_stack(splev(at, spline))
    if not ring:
        out[[0, -1]] = points[[0, -1]]
    else:
        out[-1] = out[0]
    return np.asarray(out, dtype=np.float64)


def _wavering(points: FloatArray, ring: bool) -> float:
    """By how much points (n, 2) lie to and fro, root mean square, mm; a bend is no wavering."""
    row = points[:-1] if ring else points
    sigma = min(WAVER_MM / STEP_MM, FEW * len(row))
    mode = "wrap" if ring else "nearest"
    rest = row - gaussian_filter1d(row, sigma, axis=0, mode=mode)
    rest -= gaussian_filter1d(rest, sigma, axis=0, mode=mode)
    inner = slice(None) if ring else slice(len(row) // 8, len(row) - len(row) // 8)
    return float(np.sqrt((rest[inner] ** 2).sum(axis=1).mean()))


def as_curves(line: Smooth) -> NDArray[np.float64]:
    """Cubic Bézier curves (n, 4, 2) along a smooth line, within a tenth of a mm or so of it."""
    at = line.stretches.tolist()
    return np.concatenate([
        _stretch(line.points[first : last + 1], line.ring)
        for first, last in pairwise(at)
        if last > first
    ])  # fmt: skip


def _stretch(points: FloatArray, ring: bool) -> NDArray[np.float64]:
    length = along(points)
    if len(points) < 3:
        share = np.arange(4)[None, :, None] / 3.0
        return np.asarray(points[:1, None] + share * (points[-1:, None] - points[:1, None]))
    tangent = _tangents(points, length, ring)
    knots = _knots(tangent, length)
    size = np.diff(length[knots])[:, None] / 3.0
    a, b = points[knots[:-1]], points[knots[1:]]
    curves = np.stack([a, a + size * tangent[knots[:-1]], b - size * tangent[knots[1:]], b], axis=1)
    return np.asarray(curves, dtype=np.float64)


def _tangents(points: FloatArray, length: FloatArray, ring: bool) -> NDArray[np.float64]:
    """Unit directions (n, 2) at each point of a polyline."""
    way = np.gradient(points, np.maximum.accumulate(length + 1e-9 * np.arange(len(length))), axis=0)
    # At an end the first step tells the direction halfway along it: half a step back is added.
    way[0], way[-1] = 1.5 * way[0] - 0.5 * way[1], 1.5 * way[-1] - 0.5 * way[-2]
    if ring:
        way[0] = way[-1] = points[1] - points[-2]
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None])


def _knots(tangent: FloatArray, length: FloatArray) -> NDArray[np.int64]:
    """Where one curve ends and the next begins: even in turn and, where straight, in length."""
    turn = np.r_[0.0, np.cumsum(_turn(tangent[:-1], tangent[1:]))]
    measure = PER_TURN * turn + length / LONGEST_MM
    pieces = max(1, int(np.ceil(measure[-1])))
    wanted = np.linspace(0.0, measure[-1], pieces + 1)
    inner = np.searchsorted(measure, wanted[1:-1] - 1e-9).clip(0, len(length) - 1)
    return np.unique(np.r_[0, inner, len(length) - 1])
