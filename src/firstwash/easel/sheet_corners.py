"""The four edges of a sheet of paper in a photo, to a fraction of a pixel, and the lens's bend.

Each guess is judged by what a sheet's edges are: straight but for the lens, clear along most of
their length, with bare paper on the inner side. Edges are then fitted together with the lens.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from firstwash.arrays import FloatArray
from firstwash.easel.outer_edges import guesses, in_turn
from firstwash.errors import PhotoError
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.plane_map import LENS_SPREAD, PlaneMap

__all__ = ["SheetSeen", "find_sheet", "sheet_at"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
SEARCH_PX: Final = 1200  # longest side of the picture in which the sheet is looked for
POINTS: Final = 90  # along each side
REACH: Final = (0.020, 0.008)  # of the picture's diagonal across a side, first and second look
LEAST_REACH_PX: Final = 3.0  # fewer pixels show no edge
NEAR_PX: Final = 1.6  # from its side's line: an edge point that belongs to it
CLEAR: Final = 4.0  # CIELAB across an edge that can be seen
ENOUGH: Final = 18.0  # and from which it is no clearer
LIGHTER: Final = 0.8  # how much an edge that leads on to lighter paper counts beside others
SUPPORT: Final = 0.5  # share of a side's points that lie on its line, at least
SUPPORT_ALL: Final = 0.68  # the same for all four together
PAPER_SHARE: Final = 0.55  # of the brightest light in the photo that bare paper has at least
STEEPEST: Final = 60.0  # degrees off square
ROUNDS: Final = 3

NONE: Final = (
    "The four edges of the sheet were not found; photograph the whole sheet flat on a darker "
    "board with a little of the board all round, or touch its four corners."
)
TOUCH: Final = "Touch the four corners of the sheet, upper left first, then clockwise."
STEEP: Final = "The photo is taken too much from the side; hold the phone more squarely above it."


@dataclass(frozen=True, eq=False)
class SheetSeen:
    """A sheet in a photo.

    corners: (4, 2) pixels of a lens without distortion, upper left first, then clockwise. k1:
    the lens's bend as in `PlaneMap`. size: width and height of the photo. support: (4,) share of
    each side (upper, right, lower, left) that shows as an edge on its line.
    """

    corners: NDArray[np.float64]
    k1: float
    size: tuple[int, int]
    support: NDArray[np.float64]

    def plane(self, width_mm: float, height_mm: float, quarter_turns: int = 0) -> PlaneMap:
        """The map from mm on the sheet, from its upper left corner.

        quarter_turns: how often the photo must be turned clockwise until the sheet is upright.
        """
        there = np.array(
            [[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]], np.float32
        )
        own = np.roll(self.corners, quarter_turns, axis=0).astype(np.float32)
        return PlaneMap(
            np.asarray(cv2.getPerspectiveTransform(there, own), dtype=np.float64),
            self.k1, self.size,
        )  # fmt: skip


def find_sheet(linear: NDArray[np.float32]) -> SheetSeen:
    """The sheet in a photo of linear light (rows, cols, 3).

    Raises PhotoError, one sentence, if there is none or its edges cannot be told.
    """
    small, shrink = _small(linear)
    lab = _lab(small)
    best: tuple[float, _Quad] | None = None
    for guess in guesses(lab):
        quad = _refined(lab, guess)
        if quad is None or not _holds(quad, small):
            continue
        score = float(quad.support.mean()) + 0.5 * quad.share(lab.shape)
        if best is None or score > best[0]:
            best = (score, quad)
    if best is None:
        raise PhotoError(NONE)
    return _seen(best[1], linear.shape, shrink)


def sheet_at(linear: NDArray[np.float32], touches: FloatArray) -> SheetSeen:
    """The sheet whose corners were touched: (4, 2) pixels, upper left first, then clockwise.

    Corners are moved to the edges near by where these are clear, else taken as touched.
    Raises PhotoError if the four do not make a sheet.
    """
    px = np.asarray(touches, dtype=np.float64)
    rows, cols = linear.shape[:2]
    inside = px.shape == (4, 2) and bool(((px >= -1.0) & (px <= (cols, rows))).all())
    if not inside or not _convex(px):
        raise PhotoError(TOUCH)
    small, shrink = _small(linear)
    touched = (px + 0.5) / shrink - 0.5
    quad = _refined(_lab(small), touched, looks=(REACH[1],))
    if quad is None or (quad.support < SUPPORT).any():
        quad = _Quad(touched, np.empty((0, 2)), np.empty(0, dtype=np.int64), np.zeros(4))
    return _seen(quad, linear.shape, shrink)


def _small(linear: NDArray[np.float32]) -> tuple[NDArray[np.float32], float]:
    rows, cols = linear.shape[:2]
    shrink = max(max(rows, cols) / SEARCH_PX, 1.0)
    if shrink == 1.0:
        return linear, 1.0
    size = (round(cols / shrink), round(rows / shrink))
    return np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA)), shrink


def _lab(linear: NDArray[np.float32]) -> NDArray[np.float32]:
    top = max(float(np.percentile(linear, 99.0)), 1e-3)
    xyz = linear_srgb_to_xyz(np.clip(linear / top, 0.0, 1.5))
    return np.asarray(xyz_to_lab(xyz), dtype=np.float32)


# --- edges -----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Quad:
    """Corners (4, 2); edge points (n, 2) on the sides, the side (n,) of each; support (4,)."""

    corners: NDArray[np.float64]
    points: NDArray[np.float64]
    side: NDArray[np.int64]
    support: NDArray[np.float64]

    def share(self, shape: tuple[int, ...]) -> float:
        """Share of the picture that it fills."""
        return abs(cv2.contourArea(self.corners.astype(np.float32))) / (shape[0] * shape[1])


def _refined(
    lab: NDArray[np.float32], guess: FloatArray, looks: tuple[float, ...] = REACH
) -> _Quad | None:
    """A guess moved to the edges near it; None where they do not make four sides."""
    corners = np.asarray(guess, dtype=np.float64)
    diagonal = float(np.hypot(*lab.shape[:2]))
    quad = None
    for look in looks:
        for _ in range(ROUNDS):
            found = [_edge_points(lab, corners, n, look * diagonal) for n in range(4)]
            lines = [_line(points) for points, _ in found]
            moved = _corners_of(lines)
            if moved is None or not _convex(moved):
                return None
            still = np.abs(moved - corners).max() < 0.2
            corners = moved
            if still:
                break
        quad = _judged(corners, [points for points, _ in found], [asked for _, asked in found])
    return quad


def _edge_points(
    lab: NDArray[np.float32], corners: NDArray[np.float64], n: int, reach: float
) -> tuple[NDArray[np.float64], int]:
    """Places (m, 2) of the clearest change across side n, and how many places were looked at."""
    start, end = corners[n], corners[(n + 1) % 4]
    along = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
    inward = np.array([-along[1], along[0]])  # corners run clockwise as seen
    spots = start + np.linspace(0.03, 0.97, POINTS)[:, None] * (end - start)
    most = np.ceil(max(reach, LEAST_REACH_PX))
    steps = np.arange(-most, most + 1)
    where = (spots[:, None] + steps[None, :, None] * inward).astype(np.float32)
    rows, cols = lab.shape[:2]
    seen = (where >= 1.0).all(axis=(1, 2)) & (where <= (cols - 2, rows - 2)).all(axis=(1, 2))
    if not seen.any():
        return np.empty((0, 2)), POINTS
    where, spots = where[seen], spots[seen]
    profile = cv2.remap(lab, where[..., 0], where[..., 1], cv2.INTER_LINEAR)
    smooth = cv2.GaussianBlur(profile, (0, 0), sigmaX=1.0, sigmaY=0.01)
    change = np.linalg.norm(smooth[:, 2:] - smooth[:, :-2], axis=2)
    # Paper is lighter than what is around it, as a rule, and the border of the picture within a
    # bare margin is clearer, but the other way round.
    rise = np.clip((smooth[:, 2:, 0] - smooth[:, :-2, 0]) / np.maximum(change, 1e-6), -1.0, 1.0)
    weighed = np.minimum(change, ENOUGH) * (1.0 + LIGHTER * rise)
    peak = np.argmax(weighed, axis=1)
    clear = np.take_along_axis(change, peak[:, None], axis=1)[:, 0] > CLEAR
    at = 1.0 + peak + _top(weighed, peak)
    points = spots + (at[:, None] + steps[0]) * inward
    return np.asarray(points[clear]), int(len(spots) + (~seen).sum())


def _top(values: NDArray[np.float32], peak: NDArray[np.int64]) -> NDArray[np.float64]:
    """Where between neighbours a parabola through three values has its top, -0.5 to 0.5."""
    last = values.shape[1] - 1
    middle = np.clip(peak, 1, last - 1)[:, None]
    left, here, right = (
        np.take_along_axis(values, middle + d, axis=1)[:, 0].astype(np.float64) for d in (-1, 0, 1)
    )
    bend = left - 2.0 * here + right
    shift = np.where(bend < -1e-9, 0.5 * (left - right) / np.where(bend < -1e-9, bend, -1.0), 0.0)
    return np.where(middle[:, 0] == peak, np.clip(shift, -0.5, 0.5), 0.0)


def _line(points: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(3,) a·x + b·y + c = 0, a² + b² = 1, of the line most points lie on; None for too few."""
    if len(points) < 8:
        return None
    best, most = None, -1.0
    rng = np.random.default_rng(7)
    for _ in range(60):
        i, j = rng.choice(len(points), 2, replace=False)
        d = points[j] - points[i]
        length = float(np.hypot(*d))
        if length < 5.0:
            continue
        normal = np.array([-d[1], d[0]]) / length
        off = np.abs((points - points[i]) @ normal)
        support = float(np.exp(-0.5 * (off / NEAR_PX) ** 2).sum())
        if support > most:
            best, most = off < 2.0 * NEAR_PX, support
    if best is None:
        return None
    vx, vy, x, y = np.ravel(
        cv2.fitLine(points[best].astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
    ).astype(float)
    return np.array([-vy, vx, vy * x - vx * y])


def _corners_of(lines: list[NDArray[np.float64] | None]) -> NDArray[np.float64] | None:
    """Corners (4, 2) where neighbouring sides meet."""
    if any(line is None for line in lines):
        return None
    out = []
    for n in range(4):
        x, y, w = np.cross(lines[n - 1], lines[n])  # type: ignore[arg-type]
        if abs(w) < 1e-9:
            return None
        out.append((x / w, y / w))
    return np.array(out)


def _judged(
    corners: NDArray[np.float64], points: list[NDArray[np.float64]], asked: list[int]
) -> _Quad:
    kept, side, support = [], [], []
    for n in range(4):
        start, end = corners[n], corners[(n + 1) % 4]
        along = (end - start) / np.linalg.norm(end - start)
        away = np.asarray(points[n]).reshape(-1, 2) - start
        off = away[:, 1] * along[0] - away[:, 0] * along[1]
        # A lens bends a side: what lies on a shallow arc over it is on it, too.
        on = np.abs(off - _arc(away @ along, off)) < NEAR_PX
        kept.append(points[n][on])
        side.append(np.full(int(on.sum()), n))
        support.append(on.sum() / max(asked[n], 1))
    return _Quad(corners, np.concatenate(kept), np.concatenate(side), np.array(support))


def _arc(along: NDArray[np.float64], off: NDArray[np.float64]) -> NDArray[np.float64]:
    """A parabola through most of the points of a side, as offsets at each of them."""
    if len(along) < 12:
        return np.zeros_like(off)
    weight = np.ones_like(off)
    scale = max(float(np.abs(along).max()), 1.0)
    design = np.stack([np.ones_like(along), along / scale, (along / scale) ** 2], axis=1)
    arc = np.zeros_like(off)
    for _ in range(6):
        heavy = design * weight[:, None]
        bent = np.linalg.solve(heavy.T @ design + 1e-6 * np.eye(3), heavy.T @ off)
        arc = design @ bent
        weight = 1.0 / (1.0 + ((off - arc) / NEAR_PX) ** 2)
    return np.asarray(arc)


def _convex(quad: FloatArray) -> bool:
    """Whether corners run clockwise (y down) around a four-sided figure without a dent."""
    turns = np.roll(quad, -1, axis=0) - quad
    after = np.roll(turns, -1, axis=0)
    return bool((turns[:, 0] * after[:, 1] - turns[:, 1] * after[:, 0]).min() > 0.0)


def _holds(quad: _Quad, linear: NDArray[np.float32]) -> bool:
    """Whether the edges are clear enough and what lies just inside them may be bare paper."""
    if (quad.support < SUPPORT).any() or quad.support.mean() < SUPPORT_ALL:
        return False
    light = linear.mean(axis=2)
    brightest = float(np.percentile(cv2.GaussianBlur(light, (0, 0), 4.0), 99.0))
    return _inner_light(quad, light) >= PAPER_SHARE * brightest


def _inner_light(quad: _Quad, light: NDArray[np.float32]) -> float:
    """Light just inside the edges, of the three sides that have most of it.

    Light falls off across a board, and a hand may lie on one side.
    """
    middle = quad.corners.mean(axis=0)
    inset = quad.corners + 0.015 * (middle - quad.corners)
    levels = []
    for n in range(4):
        spots = inset[n] + np.linspace(0.05, 0.95, 60)[:, None] * (inset[(n + 1) % 4] - inset[n])
        at = spots.astype(np.float32)
        levels.append(float(np.median(cv2.remap(light, at[:, 0], at[:, 1], cv2.INTER_LINEAR))))
    return sorted(levels)[1]


# --- edges and lens together -----------------------------------------------------


def _seen(quad: _Quad, shape: tuple[int, ...], shrink: float) -> SheetSeen:
    rows, cols = shape[:2]
    corners = (quad.corners + 0.5) * shrink - 0.5
    points = (quad.points + 0.5) * shrink - 0.5
    k1 = 0.0
    if len(points) >= 4 * 20:
        corners, k1 = _with_lens(corners, points, quad.side, (cols, rows), shrink)
    seen = SheetSeen(in_turn(corners), k1, (cols, rows), quad.support)
    if not _convex(seen.corners):
        raise PhotoError(NONE)
    if _tilt(seen) > STEEPEST:
        raise PhotoError(STEEP)
    return seen


def _tilt(seen: SheetSeen) -> float:
    """Degrees off square if the sheet were as wide and high as its sides seem on average."""
    sides = np.linalg.norm(np.roll(seen.corners, -1, axis=0) - seen.corners, axis=1)
    wide, high = 0.5 * (sides[0] + sides[2]), 0.5 * (sides[1] + sides[3])
    shortest = min(sides[0], sides[2]) / wide, min(sides[1], sides[3]) / high
    return float(np.degrees(np.arccos(np.clip(min(shortest), 0.0, 1.0))))


def _with_lens(
    corners: NDArray[np.float64], points: NDArray[np.float64], side: NDArray[np.int64],
    size: tuple[int, int], grain: float,
) -> tuple[NDArray[np.float64], float]:  # fmt: skip
    """Corners without the lens's bend, and the bend, under which the sides are straightest."""
    centre = 0.5 * (np.array(size) - 1.0)
    half = 0.5 * float(np.hypot(*size))
    seen = (points - centre) / half
    unit = grain / half

    def residuals(x: FloatArray) -> NDArray[np.float64]:
        quad = x[:8].reshape(4, 2)
        straight = _unbent(seen, float(x[8]) * LENS_SPREAD)
        start, end = quad[side], quad[(side + 1) % 4]
        along = end - start
        away = straight - start
        off = (away[:, 1] * along[:, 0] - away[:, 0] * along[:, 1]) / np.linalg.norm(along, axis=1)
        return np.append(off / unit / 0.5, x[8])

    x0 = np.append(((corners - centre) / half).ravel(), 0.0)
    found = least_squares(residuals, x0, loss="soft_l1")
    return centre + half * found.x[:8].reshape(4, 2), float(found.x[8]) * LENS_SPREAD


def _unbent(seen: NDArray[np.float64], k1: float) -> NDArray[np.float64]:
    """(n, 2) where a lens without bend would show points (n, 2), in half diagonals."""
    straight = seen
    for _ in range(6):
        straight = seen / (1.0 + k1 * (straight**2).sum(axis=1, keepdims=True))
    return np.asarray(straight)
