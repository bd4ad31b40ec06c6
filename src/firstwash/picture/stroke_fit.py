"""Tapering strokes fitted to the thin lines and small spots of a picture.

A line of the picture becomes a stroke where it stands out from both its sides and the
painting lacks it: its width is the distance between the places of half contrast, its course
the smoothest curve that stays near the line's middle, and it thins towards its tips as a
pointed brush does when it is set down and lifted.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.interpolate import splev, splprep
from scipy.ndimage import gaussian_filter1d, map_coordinates, maximum_filter, median_filter

from firstwash.arrays import BoolArray, FloatArray
from firstwash.picture.stroke_lines import (
    JoinRule,
    Ridges,
    find_ridges,
    gaussian_derivatives,
    join_lines,
    resample,
    trace_lines,
)

__all__ = [
    "Candidate",
    "Spots",
    "StrokeLimits",
    "View",
    "fit_dots",
    "fit_lines",
    "lines_of",
    "masking",
    "spots_of",
]

STEP_MM = 0.4  # between the points of a stroke
SMOOTH_MM = 1.0  # along a line, before it is measured
ACROSS_MM = 0.1  # between samples across a line
COURSE_MM = 0.12  # how far a stroke's middle may stray from the line's, root mean square
WIDTH_MM = 2.0  # widths are even over about this length
GUARD = round(6.0 * WIDTH_MM / STEP_MM)  # points: reach of the two filters widths go through
MOVE_MM = 0.4  # most that the places of half contrast may move a line's middle
TIP = 0.35  # width at a tip, of the width inside; a full pointed brush leaves no hairline
TAPER_MM = 5.0  # length of the thinning at a tip, at most
SLIM = 4.0  # a line is at least so many times as long as wide
HALO = 0.3  # least contrast of a line as a share of the step between its sides
TOO_STRONG = 1.0  # most that the painting around may lack, of what the line stands out by
WAVER = math.radians(150.0)  # most that a stroke may turn to and fro
SCALES = 4
FAINT = 0.35  # of the least contrast: down to this a line is followed
LOOKED_AT = 400  # lines of a view measured at most

MASKED_BY = 3.0  # L* of texture by which things are half as visible; chosen by eye
TEXTURE_MM, AROUND_MM = 2.0, 6.0  # reach of the squares that texture is told from
NORMAL_MEDIAN = 0.6745  # median of |x| when x is normal with deviation 1

# σ² times half the Laplacian in the middle of a disc of contrast 1 and radius σ·√2, the scale
# that answers most [Lindeberg1998].
DISC_RESPONSE = math.exp(-1.0)
ROUND = 0.3  # least curvature of a spot along its long axis, of that across it
LONG = 3.0  # a longer spot is a line
FULL = 0.6  # least area of a spot, of the ellipse with its second moments
DOT_SCALES = 5


@dataclass(frozen=True)
class StrokeLimits:
    """What strokes may be asked of a hand.

    most_dark, most_light: strokes and dots at most. min_length_mm: of a line; dots may be
    shorter. min_width_mm, max_width_mm: of a line; thinner ones are drawn at the least width,
    broader ones are left to the washes. max_dot_mm: width of a dot. min_contrast,
    min_dot_contrast: L* by which a line or a dot must stand out in the photo, where there is
    no texture around it. min_gain: squared CIEDE2000 × mm² × importance a stroke must take away.
    """

    most_dark: int = 40
    most_light: int = 25
    min_length_mm: float = 4.0
    min_width_mm: float = 0.3
    max_width_mm: float = 2.5
    max_dot_mm: float = 4.0
    min_contrast: float = 4.0
    min_dot_contrast: float = 12.0
    min_gain: float = 60.0

    def __post_init__(self) -> None:
        """Refuse limits that no stroke can meet."""
        if min(self.most_dark, self.most_light) < 0 or self.min_gain < 0.0:
            raise ValueError("numbers of strokes and min_gain must not be negative")
        if not 0.0 < self.min_width_mm < self.max_width_mm:
            raise ValueError("widths must satisfy 0 < min_width_mm < max_width_mm")
        if not self.max_dot_mm > self.min_width_mm:
            raise ValueError("max_dot_mm must be above min_width_mm")
        if min(self.min_length_mm, self.min_contrast, self.min_dot_contrast) <= 0.0:
            raise ValueError("lengths and contrasts must be above 0")


@dataclass(frozen=True, eq=False)
class View:
    """A plane of the picture in which light lines and spots are looked for.

    photo: (rows, cols) the plane, turned over for dark ones; missing: the same of photo less
    painting; masking: (rows, cols) ≥ 1, how much texture hides; weight: (rows, cols)
    importance; colour: (rows, cols, 3) the photo in a space of even distances, like the
    planes in units of L*.
    """

    photo: NDArray[np.float32]
    missing: NDArray[np.float32]
    masking: NDArray[np.float32]
    weight: NDArray[np.float32]
    colour: NDArray[np.float32]
    ppmm: float

    def sample(self, plane: FloatArray, places_mm: FloatArray) -> NDArray[np.float64]:
        """A plane (rows, cols) at places (..., 2) mm, interpolated."""
        at = places_mm * self.ppmm - 0.5
        where = [at[..., 1], at[..., 0]]
        return np.asarray(map_coordinates(plane, where, np.float64, order=1, mode="nearest"))


@dataclass(frozen=True, eq=False)
class Candidate:
    """A stroke that could be drawn.

    points, radii: (n, 2) and (n,) mm; contrast: by which it stands out; worth: a guess of
    what it would take away, squared contrast × mm² × importance, less where texture hides it.
    """

    points: NDArray[np.float64]
    radii: NDArray[np.float64]
    contrast: float
    worth: float
    kind: Literal["line", "dot"]


def masking(plane: FloatArray, ppmm: float) -> NDArray[np.float32]:
    """By how much texture around each pixel (rows, cols) lowers the contrast that is seen, ≥ 1.

    Contrast is divided by what lies around it, as in models of masking [Foley1994]. Texture
    is what a median takes away, and its spread is told by a median again, so that neither a
    single line nor an edge counts as texture.
    """
    source = np.ascontiguousarray(plane, dtype=np.float32)
    middle = 0.5 * (float(source.min()) + float(source.max()))
    fine = np.abs(source - middle - _median(source - middle, TEXTURE_MM * ppmm, 2.0, 128.0))
    spread = _median(fine, AROUND_MM * ppmm, 8.0, 0.0) / np.float32(NORMAL_MEDIAN)
    return np.asarray(np.sqrt(1.0 + (spread / MASKED_BY) ** 2), dtype=np.float32)


def _median(plane: FloatArray, reach: float, scale: float, zero: float) -> NDArray[np.float32]:
    """Median of a plane (rows, cols) over squares that reach so many pixels from their middle.

    OpenCV takes medians over large squares of bytes only, so values are rounded to 1 / scale
    and clipped at the bytes' ends; zero: the byte that stands for 0.
    """
    size = min(2 * max(round(reach), 1) + 1, 255)
    levels = np.rint(np.clip(scale * plane + zero, 0.0, 255.0)).astype(np.uint8)
    middle = np.asarray(cv2.medianBlur(levels, size), dtype=np.float32)
    return (middle - np.float32(zero)) / np.float32(scale)


# --- lines -----------------------------------------------------------------------


def lines_of(plane: FloatArray, ppmm: float, limits: StrokeLimits) -> tuple[Ridges, Ridges]:
    """Light and dark lines of a plane (rows, cols) of the photo, of the widths allowed."""
    low = max(0.65 * limits.min_width_mm * ppmm, 0.7)
    high = max(0.4 * limits.max_width_mm * ppmm, 1.2 * low)
    sigmas = tuple(np.geomspace(low, high, SCALES))
    return find_ridges(plane, sigmas, FAINT * limits.min_contrast)


def _traced(view: View, found: Ridges, limits: StrokeLimits) -> list[NDArray[np.float64]]:
    """Lines (n, 2) mm of a view, evenly sampled, wherever the painting lacks a part of them."""
    soft = cv2.GaussianBlur(view.missing, (0, 0), max(0.3 * view.ppmm, 0.5))
    # What the painting shows already may carry a line on but not start one.
    lacking = np.where(soft > 0.5 * limits.min_contrast, 1.0, 0.5)
    seen = (found.contrast * lacking / view.masking).astype(np.float32)
    pieces = trace_lines(
        Ridges(seen, found.shift), FAINT * limits.min_contrast, limits.min_contrast, view.ppmm
    )
    rule = JoinRule(
        gap=3.0,
        share=0.4,
        longest=10.0,
        turn=math.radians(35.0),
        reach=max(round(2.0 * view.ppmm), 3),
        blind=1.5 / view.ppmm,
    )
    lines = join_lines([piece / view.ppmm for piece in pieces], rule)
    least = 0.7 * limits.min_length_mm * view.ppmm
    likely = _likeliest(view, [line for line in lines if len(line) >= least])
    return [resample(line, STEP_MM, SMOOTH_MM) for line in likely]


def _likeliest(view: View, lines: list[NDArray[np.float64]]) -> list[NDArray[np.float64]]:
    """Those lines (n, 2) mm along which the painting lacks most; at most LOOKED_AT."""
    if len(lines) <= LOOKED_AT:
        return lines
    starts = np.cumsum([0, *(len(line) for line in lines[:-1])])
    at = np.floor(np.concatenate(lines) * view.ppmm).astype(np.int64)
    row, col = (np.clip(at[:, 1 - k], 0, view.photo.shape[k] - 1) for k in range(2))
    lack = np.maximum(view.missing[row, col], 0.0) ** 2
    hope = np.add.reduceat(lack * view.weight[row, col] / view.masking[row, col], starts)
    best = np.argsort(-hope, kind="stable")[:LOOKED_AT]
    return [lines[k] for k in np.sort(best)]


def _normals(points: FloatArray) -> NDArray[np.float64]:
    """Unit vectors (n, 2) across a line (n, 2)."""
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1), 1e-12)[:, None]
    return np.column_stack([-along[:, 1], along[:, 0]])


@njit(cache=True, nogil=True)
def _one_side(profile, middle, step):  # type: ignore[no-untyped-def]
    """Lowest value on one side of a profile's middle, and samples to half the way down to it.

    The side ends where the profile has risen again by a quarter of its fall.
    """
    top = profile[middle]
    low, last = top, middle
    k = middle + step
    while 0 <= k < profile.size and profile[k] - low <= 0.25 * (top - low) + 1e-9:
        if profile[k] < low:
            low, last = profile[k], k
        k += step
    half = 0.5 * (top + low)
    k = middle
    while k != last and profile[k + step] > half:
        k += step
    if k == last:
        return low, float(abs(k - middle))
    fall = profile[k] - profile[k + step]
    share = (profile[k] - half) / fall if fall > 0.0 else 0.0
    return low, abs(k - middle) + share


@njit(cache=True, nogil=True)
def _measure(profiles, wander, out):  # type: ignore[no-untyped-def]
    """Contrast, half-width and shift of the middle (n, 3) of profiles (n, m), in samples."""
    for i in range(profiles.shape[0]):
        middle = profiles.shape[1] // 2
        at = middle
        for k in range(middle - wander, middle + wander + 1):
            if profiles[i, k] > profiles[i, at]:
                at = k
        left, a = _one_side(profiles[i], at, -1)
        right, b = _one_side(profiles[i], at, 1)
        out[i, 0] = profiles[i, at] - max(left, right)
        out[i, 1] = 0.5 * (a + b)
        out[i, 2] = at - middle + 0.5 * (b - a)


@dataclass(frozen=True, eq=False)
class _Course:
    """A line of the picture as measured, one number or row for each of its points.

    points: its middle, mm; radii: half-widths, mm; stands: contrast to the nearer of its
    sides; lacks, around: what the painting lacks on the line and beside it; step: difference
    in colour between its sides; masking: of the texture there; weight: importance.
    """

    points: NDArray[np.float64]
    radii: NDArray[np.float64]
    stands: NDArray[np.float64]
    lacks: NDArray[np.float64]
    around: NDArray[np.float64]
    step: NDArray[np.float64]
    masking: NDArray[np.float64]
    weight: NDArray[np.float64]

    @cached_property
    def seen(self) -> NDArray[np.float64]:
        """Contrast (n,) that the painting lacks as it would be seen in its texture, ≥ 0."""
        return np.maximum(np.minimum(self.stands, self.lacks), 0.0) / self.masking


def _even(values: FloatArray, length_mm: float) -> NDArray[np.float64]:
    return np.asarray(gaussian_filter1d(values, length_mm / STEP_MM, axis=0, truncate=3.0))


def _mean(values: FloatArray, where: BoolArray) -> NDArray[np.float64]:
    """Means (n,) of the rows of values (n, m) where `where`; 0 where nothing is."""
    return np.asarray((values * where).sum(axis=1) / np.maximum(where.sum(axis=1), 1))


def _distance(view: View, one: FloatArray, other: FloatArray) -> NDArray[np.float64]:
    """Distance (n,) between the photo's colours at two rows of places (n, 2) mm."""
    planes = [np.ascontiguousarray(view.colour[..., c]) for c in range(3)]
    gap = [_even(view.sample(p, one) - view.sample(p, other), SMOOTH_MM) for p in planes]
    return np.asarray(np.linalg.norm(gap, axis=0))


def _measured(view: View, lines: list[NDArray[np.float64]], limits: StrokeLimits) -> _Course:
    """Lines (n, 2) mm measured across, one behind the other with GUARD points between.

    Widths end at half contrast on each side by itself, [Steger1998]'s care for lines whose
    sides differ.
    """
    half = round(0.9 * limits.max_width_mm / ACROSS_MM)
    offsets = np.arange(-half, half + 1) * ACROSS_MM
    # Ends are repeated so that smoothing along one line never reaches the next.
    around = ((GUARD, GUARD), (0, 0))
    points = np.concatenate([np.pad(line, around, mode="edge") for line in lines])
    normals = np.concatenate([np.pad(_normals(line), around, mode="edge") for line in lines])
    places = points[:, None] + offsets[:, None] * normals[:, None]
    profiles = _even(view.sample(view.photo, places), SMOOTH_MM)
    missing = _even(view.sample(view.missing, places), SMOOTH_MM)
    found = np.empty((len(points), 3))
    _measure(profiles, min(3, half), found)
    size = 2 * round(WIDTH_MM / STEP_MM) + 1
    radii = _even(median_filter(found[:, 1], size) * ACROSS_MM, WIDTH_MM)
    shift = _even(np.clip(found[:, 2] * ACROSS_MM, -MOVE_MM, MOVE_MM), WIDTH_MM)
    away = np.abs(offsets - shift[:, None])
    on = away <= np.maximum(0.6 * radii, 1.5 * ACROSS_MM)[:, None]
    beside = (away > radii[:, None] + 0.3) & (away < radii[:, None] + 1.0)
    sides = [points + (shift + s * (radii + 0.5))[:, None] * normals for s in (-1.0, 1.0)]
    return _Course(
        points=points + shift[:, None] * normals,
        radii=radii,
        stands=found[:, 0],
        lacks=_mean(missing, on),
        around=_mean(missing, beside),
        step=_distance(view, *sides),
        masking=view.sample(view.masking, points),
        weight=view.sample(view.weight, points),
    )


def _stretches(score: FloatArray) -> Iterator[tuple[int, int]]:
    """Stretches (start, stop) of a row whose sums are largest, the best one first.

    Each is the stretch of largest sum in what the ones before have left.
    """
    parts = [(0, len(score))]
    while parts:
        low, high = parts.pop()
        total = np.r_[0.0, np.cumsum(score[low:high])]
        rise = total - np.minimum.accumulate(total)
        stop = int(np.argmax(rise))
        if rise[stop] <= 0.0:
            continue
        start = int(np.argmin(total[: stop + 1]))
        yield low + start, low + stop
        parts += [(low + stop, high), (low, low + start)]


def _taper(n: int) -> NDArray[np.float64]:
    """Share (n,) of its width that a stroke has at each point: thin at both tips."""
    place = np.arange(n) * STEP_MM
    reach = max(min(TAPER_MM, 0.4 * place[-1]), STEP_MM)
    near = np.clip(np.minimum(place, place[-1] - place) / reach, 0.0, 1.0)
    return np.asarray(TIP + (1.0 - TIP) * np.sin(0.5 * np.pi * near))


def _smooth_course(points: FloatArray) -> NDArray[np.float64]:
    """The smoothest curve through about these points (n ≥ 5, 2): a smoothing spline whose
    distance from them is COURSE_MM, root mean square [Dierckx1993].
    """
    spline, at = splprep(points.T, s=len(points) * COURSE_MM**2, k=3)
    return np.column_stack(splev(at, spline))


def _wavers(points: FloatArray) -> bool:
    """Whether a line turns to and fro, as a brush led along something does not."""
    way = np.diff(points, axis=0)
    turn = np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0]))))
    return bool(np.abs(turn).sum() - abs(turn.sum()) > WAVER)


def _stroke(course: _Course, own: slice, limits: StrokeLimits) -> Candidate | None:
    """A stroke along a stretch of a line, or None if that is not what a brush would draw."""
    n = own.stop - own.start
    width = 2.0 * float(np.median(course.radii[own]))
    length = (n - 1) * STEP_MM
    if n < 5 or length < max(limits.min_length_mm, SLIM * width) or width > limits.max_width_mm:
        return None
    stands = float(course.stands[own].mean())
    if stands < max(limits.min_contrast, HALO * float(course.step[own].mean())):
        return None
    if float(course.around[own].mean()) > TOO_STRONG * stands:
        return None
    points = _smooth_course(course.points[own])
    if _wavers(points):
        return None
    most = 0.5 * limits.max_width_mm
    radii = np.clip(course.radii[own] * _taper(n), 0.5 * limits.min_width_mm, most)
    visible = course.seen[own] ** 2 * course.masking[own] * course.weight[own]
    worth = float((visible * 2.0 * radii).sum()) * STEP_MM
    return Candidate(points, radii, stands, worth, "line")


def fit_lines(view: View, found: Ridges, limits: StrokeLimits) -> Iterator[Candidate]:
    """Strokes along the lines found in a view."""
    lines = _traced(view, found, limits)
    if not lines:
        return
    course = _measured(view, lines, limits)
    score = course.seen - 0.5 * limits.min_contrast
    first = GUARD
    for line in lines:
        for start, stop in _stretches(score[first : first + len(line)]):
            stroke = _stroke(course, slice(first + start, first + stop), limits)
            if stroke is not None:
                yield stroke
        first += len(line) + 2 * GUARD


# --- dots ------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Spots:
    """Where light spots, or dark ones, lie in a plane.

    contrast: (rows, cols) by how much a disc stands out that answers like this, 0 where
    lines or nothing is; radius: (rows, cols) of that disc, pixels.
    """

    contrast: NDArray[np.float32]
    radius: NDArray[np.float32]


def spots_of(plane: FloatArray, ppmm: float, limits: StrokeLimits) -> tuple[Spots, Spots]:
    """Light and dark spots of a plane (rows, cols) of the photo, of the widths allowed.

    The strongest answers over all scales, as blobs are found by [Lindeberg1998].
    """
    light, dark = (Spots(np.zeros_like(plane), np.zeros_like(plane)) for _ in range(2))
    low = max(0.5 * limits.min_width_mm * ppmm, 0.8)
    high = max(0.5 * limits.max_dot_mm * ppmm, 1.2 * low)
    for radius in np.geomspace(low, high, DOT_SCALES):
        sigma = radius / math.sqrt(2.0)
        d = gaussian_derivatives(plane, sigma)
        mean = 0.5 * (d.xx + d.yy)
        half = np.hypot(0.5 * (d.xx - d.yy), d.xy)
        scale = np.float32(sigma**2 / DISC_RESPONSE)
        for sign, found in ((1, light), (-1, dark)):
            curved = -sign * mean
            spot = curved - half > ROUND * (curved + half)
            wins = spot & (scale * curved > found.contrast)
            found.contrast[wins], found.radius[wins] = scale * curved[wins], radius
    return light, dark


def fit_dots(view: View, found: Spots, limits: StrokeLimits) -> Iterator[Candidate]:
    """Dots on the spots found in a view."""
    least = 0.5 * limits.min_dot_contrast
    peaks = found.contrast >= maximum_filter(found.contrast, 3)
    peaks &= (found.contrast > least * view.masking) & (view.missing > least)
    for row, col in np.argwhere(peaks):
        dot = _dot(view, int(row), int(col), float(found.radius[row, col]), limits)
        if dot is not None:
            yield dot


def _dot(view: View, row: int, col: int, radius: float, limits: StrokeLimits) -> Candidate | None:
    """A dot on the spot around a pixel, or None if it is not small, whole and clear enough."""
    reach = math.ceil(2.5 * radius) + 1
    rows, cols = view.photo.shape
    if not (reach <= row < rows - reach and reach <= col < cols - reach):
        return None
    patch = view.photo[row - reach : row + reach + 1, col - reach : col + reach + 1]
    v, u = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    away = np.hypot(u, v)
    near = np.where(away <= 1.5, patch, -np.inf)
    top = float(near.max())
    ground = float(np.percentile(patch[away >= 0.75 * reach], 75))  # nearly all around
    above = (patch > 0.5 * (top + ground)).astype(np.uint8)
    parts = cv2.connectedComponents(above, connectivity=4)[1]
    inside = (parts == parts.ravel()[int(np.argmax(near))]).astype(np.uint8)
    hidden = float(view.masking[row, col])
    if top - ground < limits.min_dot_contrast * hidden or inside[away >= reach].any():
        return None
    # Pixels on the rim count by their share of the contrast, so that no light is lost or added.
    rim = cv2.dilate(inside, np.ones((3, 3), np.uint8)) > 0
    share = np.where(rim, np.clip((patch - ground) / (top - ground), 0.0, 1.0), 0.0)
    centres = np.column_stack([u[rim] + col, v[rim] + row]) + 0.5
    drawn = _ellipse(centres / view.ppmm, share[rim], view.ppmm, limits)
    if drawn is None:
        return None
    worth = (top - ground) ** 2 * float(share.sum()) / view.ppmm**2 / hidden
    worth *= float(view.weight[row, col])
    return Candidate(*drawn, top - ground, worth, "dot")


def _ellipse(
    places: FloatArray, share: FloatArray, ppmm: float, limits: StrokeLimits
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Points and half-widths of a short stroke of the area and proportions of a spot.

    places, share: (n, 2) mm and (n,) middle of each pixel and how much of it belongs to the
    spot. None if it is too long or too wide for a dot, or does not fill an ellipse.
    """
    area = float(share.sum()) / ppmm**2
    middle = np.asarray(np.average(places, axis=0, weights=share), dtype=np.float64)
    spread = np.cov(places.T, aweights=share, bias=True)
    values, axes = np.linalg.eigh(spread)
    b, a = 2.0 * np.sqrt(np.maximum(values, 1e-12))
    ratio = a / b
    short = math.sqrt(area / (math.pi * ratio))
    if ratio > LONG or 2.0 * short > limits.max_dot_mm or area < FULL * math.pi * a * b:
        return None
    least = 0.5 * limits.min_width_mm
    if ratio < 1.25:
        return middle[None], np.array([max(math.sqrt(area / math.pi), least)])
    tip = 0.75 * short
    way = axes[:, 1] * (ratio * short - tip)
    points = np.array([middle - way, middle, middle + way])
    return points, np.maximum([tip, short, tip], least)
