"""Thin lines of a plane: where a ridge runs, traced into polylines and joined over gaps.

A ridge is where the plane's first derivative across the line vanishes and its second is
strongly negative, at any of several scales [Steger1998]; scales are compared by derivatives
normalised with σ² [Lindeberg1998]. Dark lines are the ridges of the plane turned over.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from scipy.special import ndtr
from skimage.filters import apply_hysteresis_threshold
from skimage.morphology import skeletonize

from firstwash.arrays import BoolArray, FloatArray, IntArray

__all__ = [
    "Derivatives",
    "JoinRule",
    "Ridges",
    "find_ridges",
    "gaussian_derivatives",
    "join_lines",
    "resample",
    "trace_lines",
]

# σ² times the second derivative at the middle of a bar of contrast 1 and half-width σ. At other
# scales the answer is weaker, so the strongest one tells the bar's contrast [Lindeberg1998].
BAR_RESPONSE = 2.0 * math.exp(-0.5) / math.sqrt(2.0 * math.pi)
OWN = 0.55  # least answer of a line, of the strongest answer at any scale in that pixel
# Pixels from a pixel's centre to a line that runs through it. Half a pixel seems up to 0.8 for
# the narrowest lines, because the second derivative is taken beside their middle.
LINE_REACH = 0.8


class Derivatives(NamedTuple):
    """Gaussian derivatives (rows, cols) of a plane, per pixel: x to the right, y down."""

    x: NDArray[np.float32]
    y: NDArray[np.float32]
    xx: NDArray[np.float32]
    xy: NDArray[np.float32]
    yy: NDArray[np.float32]


def _kernels(sigma: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A Gaussian and its first two derivatives, averaged over pixels as [Steger1998] does."""
    reach = math.ceil(4.0 * sigma) + 1
    edge = np.arange(-reach, reach + 2) - 0.5
    bell = np.exp(-0.5 * (edge / sigma) ** 2) / (sigma * math.sqrt(2.0 * math.pi))
    smooth = np.diff(ndtr(edge / sigma))
    # The filter correlates, so the odd derivative changes its sign.
    return smooth, -np.diff(bell), np.diff(-edge / sigma**2 * bell)


def gaussian_derivatives(plane: FloatArray, sigma: float) -> Derivatives:
    """Derivatives of a plane (rows, cols) smoothed by a Gaussian of `sigma` pixels."""
    source = np.ascontiguousarray(plane, dtype=np.float32)
    kernels = _kernels(sigma)

    def filtered(across: int, down: int) -> NDArray[np.float32]:
        out = cv2.sepFilter2D(
            source, cv2.CV_32F, kernels[across], kernels[down], borderType=cv2.BORDER_REFLECT
        )
        return np.asarray(out, dtype=np.float32)

    return Derivatives(
        filtered(1, 0), filtered(0, 1), filtered(2, 0), filtered(1, 1), filtered(0, 2)
    )


# --- where lines run -------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Ridges:
    """Where light lines, or dark ones, run in a plane.

    contrast: (rows, cols) by how much a bar stands out that answers like this, in the
    plane's unit, ≥ 0; 0 off the lines. shift: (rows, cols, 2) x and y in pixels from the pixel's
    centre to the line's middle.
    """

    contrast: NDArray[np.float32]
    shift: NDArray[np.float32]


@njit(cache=True, nogil=True)
def _crests(dx, dy, i, j, nx, ny, sign):  # type: ignore[no-untyped-def]
    """Whether a plane rises in the pixel before (i, j) along a normal and falls in the next.

    sign −1: the other way round.
    """
    rows, cols = dx.shape
    down, right = round(ny), round(nx)
    y0, x0 = min(max(i - down, 0), rows - 1), min(max(j - right, 0), cols - 1)
    y1, x1 = min(max(i + down, 0), rows - 1), min(max(j + right, 0), cols - 1)
    before = dx[y0, x0] * nx + dy[y0, x0] * ny
    after = dx[y1, x1] * nx + dy[y1, x1] * ny
    return sign * before >= 0.0 >= sign * after


@njit(cache=True, nogil=True)
def _strongest(dx, dy, dxx, dxy, dyy, sign, scale, margin, least, reach, any_, contrast, shift):  # type: ignore[no-untyped-def]
    rows, cols = dx.shape
    for i in range(rows):
        for j in range(cols):
            xx, xy, yy = sign * dxx[i, j], sign * dxy[i, j], sign * dyy[i, j]
            half = 0.5 * (xx - yy)
            bend = 0.5 * (xx + yy) - math.sqrt(half * half + xy * xy)
            found = -bend * scale
            any_[i, j] = max(any_[i, j], found)
            if found < least or found <= contrast[i, j]:
                continue
            nx, ny = (bend - yy, xy) if half < 0.0 else (xy, bend - xx)  # across the line
            long = math.sqrt(nx * nx + ny * ny)
            if long > 0.0:
                nx, ny = nx / long, ny / long
            t = -sign * (dx[i, j] * nx + dy[i, j] * ny) / bend
            if max(abs(t * nx), abs(t * ny)) > reach:
                continue
            if not _crests(dx, dy, i, j, nx, ny, sign):
                continue
            # Beyond its border the plane is mirrored, which turns any slope into a ridge there.
            if min(i, rows - 1 - i) < margin and abs(ny) > 0.7:
                continue
            if min(j, cols - 1 - j) < margin and abs(nx) > 0.7:
                continue
            contrast[i, j] = found
            shift[i, j, 0], shift[i, j, 1] = t * nx, t * ny


def find_ridges(
    plane: FloatArray, sigmas: tuple[float, ...], least: float
) -> tuple[Ridges, Ridges]:
    """Light and dark lines of a plane (rows, cols): those that differ from both their sides.

    sigmas: scales in pixels, about the half-widths of the lines looked for. least: contrast
    below which there is no line, > 0.
    """
    shape = plane.shape
    light, dark = (
        Ridges(np.zeros(shape, dtype=np.float32), np.zeros((*shape, 2), dtype=np.float32))
        for _ in range(2)
    )
    strongest = np.zeros((2, *shape), dtype=np.float32)
    for sigma in sigmas:
        derivatives = gaussian_derivatives(plane, sigma)
        scale = sigma**2 / BAR_RESPONSE
        for sign, found, any_ in zip((1.0, -1.0), (light, dark), strongest, strict=True):
            rule = (sign, scale, sigma, least, LINE_REACH)
            _strongest(*derivatives, *rule, any_, found.contrast, found.shift)
    for found, any_ in zip((light, dark), strongest, strict=True):
        # Fine scales see ripples inside a broad line, which are no lines of their own.
        found.contrast[found.contrast < OWN * any_] = 0.0
    return light, dark


# --- tracing ---------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _neighbours(thin, y, x):  # type: ignore[no-untyped-def]
    """How many of the eight pixels around one are set, and the nearest of them (or −1, −1)."""
    rows, cols = thin.shape
    n, near, ny, nx = 0, 3, -1, -1
    for i in range(max(y - 1, 0), min(y + 2, rows)):
        for j in range(max(x - 1, 0), min(x + 2, cols)):
            away = abs(i - y) + abs(j - x)
            if away == 0 or not thin[i, j]:
                continue
            n += 1
            if away < near:
                near, ny, nx = away, i, j
    return n, ny, nx


@njit(cache=True, nogil=True)
def _walk(thin, paths, starts):  # type: ignore[no-untyped-def]
    """Pixels of curves without forks in walking order, curve by curve; returns how many.

    Open curves come first, each from one of its ends; then closed ones from anywhere.
    """
    n, filled = 0, 0
    for only_ends in (True, False):
        for i in range(thin.shape[0]):
            for j in range(thin.shape[1]):
                if not thin[i, j] or (only_ends and _neighbours(thin, i, j)[0] > 1):
                    continue
                starts[n] = filled
                n += 1
                y, x = i, j
                while y >= 0:
                    thin[y, x] = False
                    paths[filled, 0], paths[filled, 1] = y, x
                    filled += 1
                    _, y, x = _neighbours(thin, y, x)
    starts[n] = filled
    return n


def _without_forks(thin: BoolArray) -> BoolArray:
    """A skeleton without the pixels that have three or more neighbours."""
    around = np.ones((3, 3), dtype=np.uint8)
    count = cv2.filter2D(thin.astype(np.uint8), -1, around, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(thin & (count <= 3))


def trace_lines(
    ridges: Ridges, low: float, high: float, least_px: float
) -> list[NDArray[np.float64]]:
    """Polylines (n, 2: x, y) in pixels along ridges; (0, 0) is the corner of the first pixel.

    A line is followed while its contrast is at least `low`, if it reaches `high` somewhere
    [Canny1986]. Lines are split where they meet; pieces of fewer pixels are dropped.
    """
    on = apply_hysteresis_threshold(ridges.contrast, low, high)  # type: ignore[no-untyped-call]
    thin = _without_forks(skeletonize(on))  # type: ignore[no-untyped-call]
    paths = np.empty((int(thin.sum()), 2), dtype=np.int64)
    starts = np.zeros(len(paths) + 1, dtype=np.int64)
    n = _walk(thin, paths, starts)
    # The skeleton may run beside the pixel that holds the line, never farther than its diagonal.
    shift = np.clip(ridges.shift[paths[:, 0], paths[:, 1]], -1.0, 1.0)
    places = np.asarray(paths[:, ::-1] + 0.5 + shift, dtype=np.float64)
    lines = [places[starts[k] : starts[k + 1]] for k in range(n)]
    return [line for line in lines if len(line) >= max(least_px, 2.0)]


# --- joining ---------------------------------------------------------------------


@dataclass(frozen=True)
class JoinRule:
    """Which ends of lines continue each other; lengths in the lines' unit.

    gap: that may always be bridged; share: of the shorter line's length that a longer gap
    may have, up to `longest`. turn: largest angle (radians) between an end and the gap and
    between two ends; the longer a gap, the smaller. reach: length of line that tells an
    end's direction.
    """

    gap: float
    share: float
    longest: float
    turn: float
    reach: int
    blind: float


@dataclass(frozen=True, eq=False)
class _Ends:
    """Ends 2 k and 2 k + 1 of line k: place and outward direction (2 n, 2), line length (2 n,)."""

    place: NDArray[np.float64]
    outward: NDArray[np.float64]
    length: NDArray[np.float64]


def _ends(lines: list[NDArray[np.float64]], reach: int) -> _Ends:
    sizes = np.array([len(line) for line in lines])
    points = np.concatenate(lines)
    last = np.cumsum(sizes) - 1
    first = last - sizes + 1
    run = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    inner = np.minimum(reach, sizes - 1)
    place = points[np.column_stack([first, last]).ravel()]
    step = place - points[np.column_stack([first + inner, last - inner]).ravel()]
    outward = step / np.maximum(np.linalg.norm(step, axis=1), 1e-9)[:, None]
    return _Ends(place, outward, np.repeat(run[last] - run[first], 2))


def _costs(ends: _Ends, pairs: IntArray, rule: JoinRule) -> NDArray[np.float64]:
    """Cost (n_pairs,) of joining two ends; infinite where they do not continue each other."""
    a, b = pairs[:, 0], pairs[:, 1]
    across = ends.place[b] - ends.place[a]
    gap = np.linalg.norm(across, axis=1)
    way = across / np.maximum(gap, 1e-9)[:, None]
    ahead = np.minimum((ends.outward[a] * way).sum(axis=1), -(ends.outward[b] * way).sum(axis=1))
    ahead = np.where(gap < rule.blind, 1.0, ahead)
    worst = np.minimum(ahead, -(ends.outward[a] * ends.outward[b]).sum(axis=1))
    allowed = np.maximum(rule.gap, rule.share * np.minimum(ends.length[a], ends.length[b]))
    turn = rule.turn * np.minimum(1.0, rule.gap / np.maximum(gap, 1e-9))
    fits = (worst >= np.cos(turn)) & (gap <= allowed)
    return np.where(fits, gap / rule.gap + 2.0 * (1.0 - worst), np.inf)


def join_lines(lines: list[NDArray[np.float64]], rule: JoinRule) -> list[NDArray[np.float64]]:
    """Lines (n, 2) with those joined whose ends continue each other.

    The best pair first, each end once, and no line with its own other end.
    """
    if len(lines) < 2:
        return list(lines)
    ends = _ends(lines, rule.reach)
    near = cKDTree(ends.place).query_pairs(rule.longest, output_type="ndarray")
    pairs = near[np.lexsort((near[:, 1], near[:, 0]))]
    costs = _costs(ends, pairs, rule)
    partner = np.full(len(ends.place), -1)
    chain = np.arange(len(lines))
    for p in np.argsort(costs, kind="stable"):
        a, b = int(pairs[p, 0]), int(pairs[p, 1])
        if not np.isfinite(costs[p]):
            break
        one, other = chain[a // 2], chain[b // 2]
        if partner[a] < 0 and partner[b] < 0 and one != other:
            partner[a], partner[b] = b, a
            chain[chain == other] = one
    return list(_strung(lines, partner))


def _strung(lines: list[NDArray[np.float64]], partner: IntArray) -> list[NDArray[np.float64]]:
    """Lines strung together at partnered ends, each chain from its first free end."""
    out, used = [], np.zeros(len(lines), dtype=np.bool_)
    for free in np.flatnonzero(partner < 0):
        if used[free // 2]:
            continue
        pieces, end = [], int(free)
        while end >= 0:
            used[end // 2] = True
            pieces.append(lines[end // 2][:: 1 if end % 2 == 0 else -1])
            end = int(partner[end ^ 1])
        out.append(np.concatenate(pieces))
    return out


def resample(line: FloatArray, step: float, smooth: float) -> NDArray[np.float64]:
    """Points (n ≥ 2, 2) about `step` apart along a line, smoothed along it by a Gaussian.

    step, smooth: in the line's unit. The ends stay where they are, because the line is
    continued beyond each by its own image turned half around.
    """
    run = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]
    n = max(round(float(run[-1]) / step), 1) + 1
    even = np.linspace(0.0, run[-1], n)
    points = np.column_stack([np.interp(even, run, line[:, c]) for c in range(2)])
    sigma = smooth / step
    pad = min(math.ceil(3.0 * sigma), n - 1)
    if sigma < 1e-3 or pad < 1:
        return points
    before = 2 * points[0] - points[pad:0:-1]
    after = 2 * points[-1] - points[-2 : -pad - 2 : -1]
    longer = np.concatenate([before, points, after])
    return np.asarray(gaussian_filter1d(longer, sigma, axis=0, radius=pad)[pad : pad + n])
