"""Shapes of the still life: how they are made, and where a ray meets them.

Surfaces of revolution are chains of short cones, the jug's handle is a chain of capsules,
the towel a height field. Centimetres; x right, y away from the camera, z up. A ray is six
floats, o + t·d with d of length 1; a world is what `build_world` returns.
"""

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = [
    "CUT",
    "HANDLE",
    "JUG",
    "LEMON",
    "PLUM",
    "TABLE",
    "TOWEL",
    "TOWEL_MIDDLE",
    "TOWEL_TURN",
    "WALL",
    "blocked",
    "build_world",
    "first_hit",
    "lathe_surface",
    "towel_normal",
]

JUG, LEMON, CUT, PLUM, HANDLE, TOWEL, TABLE, WALL = range(8)

Float64 = NDArray[np.float64]
World = tuple[Float64, Float64, Float64, Float64, Float64]
Vector = tuple[float, float, float]

JUG_PLACE: Final[Vector] = (-5.0, 9.5, 0.0)
PLACES: Final[tuple[Vector, ...]] = (  # of the jug, the lemon, the cut lemon, the plum
    JUG_PLACE,
    (9.8, 4.6, 3.02),
    (13.4, -7.6, 3.2),
    (4.2, -6.2, 2.6),
)
AXES: Final[tuple[Vector, ...]] = (
    (0.0, 0.0, 1.0),
    (0.9, -0.42, 0.06),
    (0.3, 0.78, -0.42),
    (0.3, -0.16, 1.0),
)
HANDLE_TURN = -22.0  # degrees, seen from above: towards the camera's right
TABLE_END, WALL_Y = 31.0, 60.0
TOWEL_MIDDLE, TOWEL_TURN = (-14.0, -8.6), 17.0  # cm, degrees
TOWEL_BOX = (-29.5, 2.5, -23.5, 7.5)  # left, right, front, back
TOWEL_GRAIN = 0.05  # cm between samples of its height
TOWEL_TOP = 3.6
FAR = 1e9
SKIN = 1e-4  # a ray this close to its start has met nothing


# --- making them -----------------------------------------------------------------


def _smooth(points: list[tuple[float, float]], steps: int) -> Float64:
    """A Catmull-Rom curve (n, 2) through points, `steps` pieces between each two."""
    p = np.array([points[0], *points, points[-1]], dtype=np.float64)
    t = np.linspace(0.0, 1.0, steps, endpoint=False)[:, None]
    pieces = []
    for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True):
        cubic = 2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2
        pieces.append(0.5 * (cubic + (3 * b - 3 * c + d - a) * t**3))
    curve = np.concatenate([*pieces, p[-1:]])
    curve[:, 0] = np.maximum(curve[:, 0], 0.0)
    return curve


def _cones(curve: Float64) -> Float64:
    """Pieces (n, 8): r, z at both ends, then the outward normal (r, z) at both ends."""
    along = np.gradient(curve, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    return np.column_stack([curve[:-1], curve[1:], normal[:-1], normal[1:]])


def _jug() -> Float64:
    outside = [(0.0, 0.0), (4.9, 0.0), (5.7, 0.35), (6.5, 3.2), (6.75, 6.6), (6.25, 10.6)]
    outside += [(5.1, 14.6), (4.4, 17.2), (4.45, 18.8), (5.1, 21.3), (5.55, 22.4), (5.5, 22.7)]
    inside = [(5.3, 22.6), (4.9, 21.3), (4.2, 18.8), (4.15, 17.2), (5.9, 10.6), (6.1, 2.0)]
    return _cones(_smooth([*outside, *inside, (0.0, 1.0)], 7))


def _half_lemon() -> Float64:
    """Outline (n, 2) of half a lemon, from its waist at z = 0 to its tip."""
    z = np.concatenate([np.linspace(0.0, 3.3, 40, endpoint=False), np.linspace(3.3, 4.72, 30)])
    body = 3.05 * np.sqrt(np.clip(1 - (z / 4.1) ** 2.1, 0, 1))
    tip = 1.05 * np.sqrt(np.clip(1 - ((z - 3.3) / 1.43) ** 2, 0, 1)) * (z > 2.5)
    r = np.cbrt(body**3 + tip**3)
    r[-1] = 0.0
    return np.column_stack([r, z])


def _lemon() -> Float64:
    half = _half_lemon()
    return _cones(np.concatenate([half[:0:-1] * [1, -1], half]))


def _cut_lemon() -> Float64:
    face = np.array([[0.0, 0.0, 3.05, 0.0, 0.0, -1.0, 0.0, -1.0]])
    return np.concatenate([face, _cones(_half_lemon())])


def _plum() -> Float64:
    angle = np.linspace(-np.pi / 2, np.pi / 2, 70)
    dimple = 0.45 * np.exp(-(((angle - np.pi / 2) / 0.3) ** 2))
    curve = np.column_stack([2.55 * np.cos(angle), 2.75 * np.sin(angle) - dimple])
    curve[[0, -1], 0] = 0.0
    return _cones(curve)


def _handle() -> Float64:
    """Capsules (n, 7) of the jug's handle: two ends and a radius."""
    arm = [(4.6, 19.6), (7.4, 20.1), (9.9, 18.6), (10.5, 15.2), (9.6, 11.4), (8.0, 8.6), (6.2, 7.2)]
    curve = _smooth(arm, 9)
    turn = math.radians(HANDLE_TURN)
    x = JUG_PLACE[0] + curve[:, 0] * math.cos(turn)
    y = JUG_PLACE[1] + curve[:, 0] * math.sin(turn)
    ends = np.column_stack([x, y, curve[:, 1]])
    return np.column_stack([ends[:-1], ends[1:], np.full(len(ends) - 1, 0.62)])


def _frame(axis: Vector) -> Float64:
    """Rows are a shape's own x, y and z axes; z points along `axis`."""
    z = np.array(axis, dtype=np.float64) / np.linalg.norm(axis)
    side = np.cross([0.0, 1.0, 0.0] if abs(z[1]) < 0.7 else [1.0, 0.0, 0.0], z)
    x = side / np.linalg.norm(side)
    return np.array([x, np.cross(z, x), z])


def _towel() -> Float64:
    """Height (rows, cols) over TOWEL_BOX: three folds, rounded at their edges, and creases."""
    left, right, front, back = TOWEL_BOX
    x, y = np.meshgrid(np.arange(left, right, TOWEL_GRAIN), np.arange(front, back, TOWEL_GRAIN))
    turn = math.radians(TOWEL_TURN)
    x, y = x - TOWEL_MIDDLE[0], y - TOWEL_MIDDLE[1]
    u = x * math.cos(turn) + y * math.sin(turn)
    v = y * math.cos(turn) - x * math.sin(turn)
    v = v + 0.35 * np.sin(0.31 * u + 0.6) + 0.12 * np.sin(0.9 * u)
    u = u + 0.30 * np.sin(0.37 * v + 1.1) + 0.10 * np.sin(1.1 * v)
    height = _fold(u, v, (-11.5, 11.8, -8.4, 8.2), 0.55)
    height += _fold(u, v, (-11.3, 11.5, -7.9, 4.6), 0.62)
    height += _fold(u, v, (-11.0, 7.4, -7.4, 1.2), 0.70)
    inside = np.clip(height, 0.0, 1.0)
    return np.ascontiguousarray(height + inside * _creases(u, v))


def _fold(u: Float64, v: Float64, box: tuple[float, ...], height: float) -> Float64:
    inward = np.minimum.reduce([u - box[0], box[1] - u, v - box[2], box[3] - v])
    part = np.clip(inward / (1.1 * height), 0.0, 1.0)
    return np.asarray(height * np.sqrt(1.0 - (1.0 - part) ** 2))


def _creases(u: Float64, v: Float64) -> Float64:
    ridge = 0.75 * np.exp(-(((u - 2.0 + 0.55 * v + 0.8 * np.sin(0.5 * v)) / 0.9) ** 2))
    ridge += 0.45 * np.exp(-(((u + 6.0 - 0.3 * v + 0.5 * np.sin(0.8 * v)) / 0.7) ** 2))
    ripple = 0.09 * np.sin(0.9 * u + 0.7 * np.sin(0.6 * v)) + 0.05 * np.sin(1.7 * v + 0.5 * u)
    return np.asarray(np.maximum(ridge * np.exp(-((v + 1) ** 2) / 60) + ripple + 0.1, 0.0))


def build_world() -> World:
    """The still life as arrays.

    Cones of all lathed shapes; per shape start, stop, place, lowest and highest z, radius;
    their frames; the handle's capsules; the towel's height.
    """
    profiles = [_jug(), _lemon(), _cut_lemon(), _plum()]
    rows, start = [], 0
    for profile, place in zip(profiles, PLACES, strict=True):
        z, reach = profile[:, [1, 3]], profile[:, [0, 2]].max()
        rows.append([start, start + len(profile), *place, z.min(), z.max(), reach * 1.001])
        start += len(profile)
    frames = np.array([_frame(a) for a in AXES])
    return np.concatenate(profiles), np.array(rows), frames, _handle(), _towel()


# --- meeting them ----------------------------------------------------------------


@njit(cache=True, nogil=True)
def ball_span(ox, oy, oz, dx, dy, dz, cx, cy, cz, radius):  # type: ignore[no-untyped-def]
    """Where a ray is inside a ball: (from, to), from > to when it misses."""
    px, py, pz = ox - cx, oy - cy, oz - cz
    b = px * dx + py * dy + pz * dz
    gap = b * b - (px * px + py * py + pz * pz - radius * radius)
    if gap <= 0.0:
        return 1.0, -1.0
    root = math.sqrt(gap)
    return -b - root, -b + root


@njit(cache=True, nogil=True)
def _to_frame(f, x, y, z):  # type: ignore[no-untyped-def]
    return (
        f[0, 0] * x + f[0, 1] * y + f[0, 2] * z,
        f[1, 0] * x + f[1, 1] * y + f[1, 2] * z,
        f[2, 0] * x + f[2, 1] * y + f[2, 2] * z,
    )


@njit(cache=True, nogil=True)
def _cone_roots(r0, slope, z0, x, y, z, u, v, w):  # type: ignore[no-untyped-def]
    """The two t at which a local ray meets the cone r = r0 + slope·(z − z0)."""
    rho = r0 + slope * (z - z0)
    a = u * u + v * v - slope * slope * w * w
    b = x * u + y * v - rho * slope * w
    c = x * x + y * y - rho * rho
    gap = b * b - a * c
    if gap < 0.0 or a == 0.0:
        return FAR, FAR
    root = math.sqrt(gap)
    t0, t1 = (-b - root) / a, (-b + root) / a
    return min(t0, t1), max(t0, t1)


@njit(cache=True, nogil=True)
def _meet_piece(p, x, y, z, u, v, w, nearest):  # type: ignore[no-untyped-def]
    """Nearest t (FAR if none) at which a local ray meets one cone piece or disc."""
    r0, z0, r1, z1 = p[0], p[1], p[2], p[3]
    if abs(z1 - z0) < 1e-9:
        if w == 0.0:
            return FAR
        t = (z0 - z) / w
        r = math.hypot(x + t * u, y + t * v)
        return t if SKIN < t < nearest and min(r0, r1) <= r <= max(r0, r1) else FAR
    low, high = min(z0, z1), max(z0, z1)
    slope = (r1 - r0) / (z1 - z0)
    for t in _cone_roots(r0, slope, z0, x, y, z, u, v, w):
        at = z + t * w
        if SKIN < t < nearest and low <= at <= high and r0 + slope * (at - z0) >= 0.0:
            return t
    return FAR


@njit(cache=True, nogil=True)
def _cylinder_span(row, x, y, z, u, v, w):  # type: ignore[no-untyped-def]
    """Where a local ray is inside a shape's cylinder: (from, to), from > to when it misses."""
    a, b, c = u * u + v * v + 1e-18, x * u + y * v, x * x + y * y - row[7] * row[7]
    gap = b * b - a * c
    if gap <= 0.0:
        return 1.0, -1.0
    root = math.sqrt(gap)
    w = w if abs(w) > 1e-12 else 1e-12
    low, high = (row[5] - z) / w, (row[6] - z) / w
    enter, leave = max((-b - root) / a, min(low, high)), min((-b + root) / a, max(low, high))
    return enter, leave


@njit(cache=True, nogil=True)
def meet_lathe(i, ray, nearest, world):  # type: ignore[no-untyped-def]
    """(t, piece) at which a ray meets lathed shape i before `nearest`; t = FAR if not."""
    cones, rows, frames, _, _ = world
    f, row = frames[i], rows[i]
    x, y, z = _to_frame(f, ray[0] - row[2], ray[1] - row[3], ray[2] - row[4])
    u, v, w = _to_frame(f, ray[3], ray[4], ray[5])
    enter, leave = _cylinder_span(row, x, y, z, u, v, w)
    if leave < SKIN or enter > leave or enter > nearest:
        return FAR, -1
    za, zb = z + max(enter, 0.0) * w, z + leave * w
    low, high = min(za, zb), max(za, zb)
    best, piece = FAR, -1
    for j in range(int(row[0]), int(row[1])):
        p = cones[j]
        if max(p[1], p[3]) < low or min(p[1], p[3]) > high:
            continue
        t = _meet_piece(p, x, y, z, u, v, w, min(best, nearest))
        if t < best:
            best, piece = t, j
    return best, piece


@njit(cache=True, nogil=True)
def lathe_surface(i, piece, px, py, pz, world):  # type: ignore[no-untyped-def]
    """World normal, then local x, y, z, of a point on piece `piece` of lathed shape i."""
    cones, rows, frames, _, _ = world
    f, row, p = frames[i], rows[i], cones[piece]
    x, y, z = _to_frame(f, px - row[2], py - row[3], pz - row[4])
    r = math.hypot(x, y)
    span = p[3] - p[1]
    part = min(max((z - p[1]) / span, 0.0), 1.0) if abs(span) > 1e-9 else 0.5
    n_r = p[4] + part * (p[6] - p[4])
    n_z = p[5] + part * (p[7] - p[5])
    size = math.sqrt(n_r * n_r + n_z * n_z) + 1e-12
    a, b, c = n_r * x / (r + 1e-12) / size, n_r * y / (r + 1e-12) / size, n_z / size
    nx = f[0, 0] * a + f[1, 0] * b + f[2, 0] * c
    ny = f[0, 1] * a + f[1, 1] * b + f[2, 1] * c
    nz = f[0, 2] * a + f[1, 2] * b + f[2, 2] * c
    return nx, ny, nz, x, y, z


@njit(cache=True, nogil=True)
def _meet_capsule(c, ray, nearest):  # type: ignore[no-untyped-def]
    """Nearest t of one capsule (7,), FAR if none; the ends are balls."""
    ax, ay, az = c[3] - c[0], c[4] - c[1], c[5] - c[2]
    px, py, pz = ray[0] - c[0], ray[1] - c[1], ray[2] - c[2]
    aa = ax * ax + ay * ay + az * az
    ad = ax * ray[3] + ay * ray[4] + az * ray[5]
    ap = ax * px + ay * py + az * pz
    dp = ray[3] * px + ray[4] * py + ray[5] * pz
    pp = px * px + py * py + pz * pz
    a = aa - ad * ad
    b = aa * dp - ap * ad
    k = aa * pp - ap * ap - c[6] * c[6] * aa
    gap = b * b - a * k
    if gap >= 0.0 and a > 1e-12:
        t = (-b - math.sqrt(gap)) / a
        if SKIN < t < nearest and 0.0 < ap + t * ad < aa:
            return t
    enter, leave = ball_span(ray[0], ray[1], ray[2], ray[3], ray[4], ray[5], c[0], c[1], c[2], c[6])
    return enter if leave > enter and SKIN < enter < nearest else FAR


@njit(cache=True, nogil=True)
def meet_handle(ray, nearest, world):  # type: ignore[no-untyped-def]
    """(t, capsule) at which a ray meets the jug's handle."""
    capsules = world[3]
    best, which = FAR, -1
    n = capsules.shape[0]
    enter, leave = ball_span(
        ray[0], ray[1], ray[2], ray[3], ray[4], ray[5],
        0.5 * (capsules[0, 0] + capsules[n // 2, 0]) + 1.0, capsules[n // 2, 1], 13.8, 9.0,
    )  # fmt: skip
    if leave < SKIN or enter > leave or enter > nearest:
        return FAR, -1
    for j in range(n):
        t = _meet_capsule(capsules[j], ray, min(best, nearest))
        if t < best:
            best, which = t, j
    return best, which


@njit(cache=True, nogil=True)
def towel_height(x, y, towel):  # type: ignore[no-untyped-def]
    """Height of the towel over (x, y), 0 beside it; bilinear."""
    u = (x - TOWEL_BOX[0]) / TOWEL_GRAIN
    v = (y - TOWEL_BOX[2]) / TOWEL_GRAIN
    if u < 0.0 or v < 0.0 or u >= towel.shape[1] - 1 or v >= towel.shape[0] - 1:
        return 0.0
    j, i = int(u), int(v)
    p, q = u - j, v - i
    top = towel[i, j] * (1 - p) + towel[i, j + 1] * p
    return top * (1 - q) + (towel[i + 1, j] * (1 - p) + towel[i + 1, j + 1] * p) * q


@njit(cache=True, nogil=True)
def _box_span(ray):  # type: ignore[no-untyped-def]
    """Where a ray is inside the towel's box: (from, to)."""
    low = (TOWEL_BOX[0], TOWEL_BOX[2], 0.0)
    high = (TOWEL_BOX[1], TOWEL_BOX[3], TOWEL_TOP)
    enter, leave = 0.0, FAR
    for c in range(3):
        d = ray[3 + c] if abs(ray[3 + c]) > 1e-12 else 1e-12
        a, b = (low[c] - ray[c]) / d, (high[c] - ray[c]) / d
        enter, leave = max(enter, min(a, b)), min(leave, max(a, b))
    return enter, leave


@njit(cache=True, nogil=True)
def meet_towel(ray, nearest, towel, steps):  # type: ignore[no-untyped-def]
    """t at which a ray first goes under the towel's top, FAR if it does not."""
    enter, leave = _box_span(ray)
    leave = min(leave, nearest)
    if enter >= leave:
        return FAR
    step = (leave - enter) / steps
    for k in range(1, steps + 1):
        t = enter + k * step
        x, y, z = ray[0] + t * ray[3], ray[1] + t * ray[4], ray[2] + t * ray[5]
        h = towel_height(x, y, towel)
        if h > 0.01 and z < h:
            a, b = t - step, t
            for _ in range(9):
                m = 0.5 * (a + b)
                h = towel_height(ray[0] + m * ray[3], ray[1] + m * ray[4], towel)
                a, b = (a, m) if ray[2] + m * ray[5] < h else (m, b)
            return b
    return FAR


@njit(cache=True, nogil=True)
def towel_normal(x, y, towel):  # type: ignore[no-untyped-def]
    """Normal of the towel's top, its weave left out."""
    e = 1.5 * TOWEL_GRAIN
    gx = (towel_height(x + e, y, towel) - towel_height(x - e, y, towel)) / (2 * e)
    gy = (towel_height(x, y + e, towel) - towel_height(x, y - e, towel)) / (2 * e)
    size = math.sqrt(gx * gx + gy * gy + 1.0)
    return -gx / size, -gy / size, 1.0 / size


@njit(cache=True, nogil=True)
def blocked(ray, reach, world):  # type: ignore[no-untyped-def]
    """Whether anything stands in a ray's way before `reach`."""
    for i in range(4):
        if meet_lathe(i, ray, reach, world)[0] < reach:
            return True
    if meet_handle(ray, reach, world)[0] < reach:
        return True
    return meet_towel(ray, reach, world[4], 14) < reach


@njit(cache=True, nogil=True)
def first_hit(ray, world):  # type: ignore[no-untyped-def]
    """(t, what, piece) of the first thing a ray meets; the wall stands behind everything."""
    best, what, piece = (WALL_Y - ray[1]) / max(ray[4], 1e-9), WALL, -1
    if ray[5] < 0.0:
        t = -ray[2] / ray[5]
        if ray[1] + t * ray[4] < TABLE_END and t < best:
            best, what = t, TABLE
    for i in range(4):
        t, j = meet_lathe(i, ray, best, world)
        if t < best:
            best, what, piece = t, i, j
    t, j = meet_handle(ray, best, world)
    if t < best:
        best, what, piece = t, HANDLE, j
    t = meet_towel(ray, best, world[4], 60)
    if t < best:
        best, what, piece = t, TOWEL, -1
    return best, what, piece
