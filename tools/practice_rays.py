"""Rays for the practice rooms: what they hit, how it is painted, how much light comes there.

A plain path tracer in three bands: balls, blocks standing square, a floor and a back wall, all
matt with a highlight laid over; a round lamp, perhaps a second one, and a sky that gets a little
lighter upwards. Sources: [Kajiya1986] for paths, [Blinn1977] for the highlight.

Things are rows of a table, see `COLUMNS`. Kernels are plain loops, so that numba compiles them.
"""

import math
from typing import Any, Final

import numpy as np
from numba import njit

__all__ = ["BALL", "BLOCK", "COLUMNS", "FLOOR", "WALL", "trace"]

BALL, BLOCK, FLOOR, WALL = 0, 1, 2, 3
# kind; centre and radius, or least and greatest corner, or height, or depth; two colours;
# pattern and how many of it per unit; highlight and its sharpness; bumps and how many per unit.
COLUMNS: Final = {
    "kind": 0, "place": 1, "colour": 7, "other": 10, "pattern": 13, "often": 14,
    "shine": 15, "sharp": 16, "bumps": 17, "bumpy": 18,
}  # fmt: skip
TILT: Final = -0.38  # radians the camera looks down
BOUNCES: Final = 3
NUDGE: Final = 1e-3
GOLDEN: Final = 0.6180339887

Kernel = Any  # numba's kernels carry no types


@njit(cache=True)
def _hit_ball(thing, o, d):  # type: ignore[no-untyped-def]
    x, y, z = o[0] - thing[1], o[1] - thing[2], o[2] - thing[3]
    b = x * d[0] + y * d[1] + z * d[2]
    under = b * b - (x * x + y * y + z * z) + thing[4] * thing[4]
    if under <= 0.0:
        return 1e9
    root = math.sqrt(under)
    near = -b - root
    return near if near > 1e-4 else (-b + root if -b + root > 1e-4 else 1e9)


@njit(cache=True)
def _hit_block(thing, o, d):  # type: ignore[no-untyped-def]
    """Distance, and the axis of the side that is met."""
    first, last, side = -1e9, 1e9, 0
    for k in range(3):
        step = d[k] if abs(d[k]) > 1e-9 else 1e-9
        one, two = (thing[1 + k] - o[k]) / step, (thing[4 + k] - o[k]) / step
        if min(one, two) > first:
            first, side = min(one, two), k
        last = min(last, max(one, two))
    return (first, side) if first < last and first > 1e-4 else (1e9, side)


@njit(cache=True)
def _hit_plane(thing, o, d, axis):  # type: ignore[no-untyped-def]
    if d[axis] >= -1e-6:
        return 1e9
    t = (thing[1] - o[axis]) / d[axis]
    return t if t > 1e-4 else 1e9


@njit(cache=True)
def _hit(things, o, d):  # type: ignore[no-untyped-def]
    """Distance of the first thing met, its row (-1 is the sky), and its upright there."""
    best, who, which = 1e9, -1, 0
    for i in range(things.shape[0]):
        kind = things[i, 0]
        side = 1 if kind == FLOOR else 2
        if kind == BALL:
            t = _hit_ball(things[i], o, d)
        elif kind == BLOCK:
            t, side = _hit_block(things[i], o, d)
        else:
            t = _hit_plane(things[i], o, d, side)
        if t < best:
            best, who, which = t, i, side
    up = np.zeros(3)
    if who >= 0 and things[who, 0] == BALL:
        for k in range(3):
            up[k] = (o[k] + best * d[k] - things[who, 1 + k]) / things[who, 4]
    else:
        up[which] = -1.0 if d[which] > 0.0 else 1.0
    return best, who, up


@njit(cache=True)
def _hash(a, b):  # type: ignore[no-untyped-def]
    """0-1, as good as random, of two whole numbers."""
    h = (a * 374761393 + b * 668265263) & 0x7FFFFFFF
    h = ((h ^ (h >> 13)) * 1274126177) & 0x7FFFFFFF
    return (h ^ (h >> 16)) / 2147483648.0


@njit(cache=True)
def _noise(x, y):  # type: ignore[no-untyped-def]
    """Smooth noise 0-1 with one bump per unit."""
    i, j = math.floor(x), math.floor(y)
    u, v = x - i, y - j
    u, v = u * u * (3.0 - 2.0 * u), v * v * (3.0 - 2.0 * v)
    above = _hash(i, j) * (1.0 - u) + _hash(i + 1, j) * u
    below = _hash(i, j + 1) * (1.0 - u) + _hash(i + 1, j + 1) * u
    return above * (1.0 - v) + below * v


@njit(cache=True)
def _share(pattern, u, v):  # type: ignore[no-untyped-def]
    """Share 0-1 of the other colour: plain, chequer, stripes, marble, dots, grain of wood."""
    if pattern == 1:
        return float((math.floor(u) + math.floor(v)) % 2)
    if pattern == 2:
        return float(math.floor(u) % 2)
    if pattern == 3:
        cloud = _noise(u, v) + 0.5 * _noise(2 * u, 2 * v) + 0.25 * _noise(4 * u, 4 * v)
        return min(1.0, max(0.0, 1.2 * (cloud - 0.35)))
    if pattern == 4:
        a, b = u - math.floor(u) - 0.5, v - math.floor(v) - 0.5
        return 1.0 if a * a + b * b < 0.09 else 0.0
    if pattern == 5:
        return 0.5 + 0.5 * math.sin(6.0 * u + 4.0 * _noise(0.5 * u, 3.0 * v))
    return 0.0


@njit(cache=True)
def _paint(thing, p, up):  # type: ignore[no-untyped-def]
    """Reflectance (3,) of a thing at a point."""
    if thing[0] == BALL:
        high = max(-1.0, min(1.0, (p[1] - thing[2]) / thing[4]))
        u = math.atan2(p[2] - thing[3], p[0] - thing[1]) * thing[4]
        v = math.acos(high) * thing[4]
    elif abs(up[1]) > 0.5:
        u, v = p[0], p[2]
    elif abs(up[0]) > 0.5:
        u, v = p[2], p[1]
    else:
        u, v = p[0], p[1]
    m = _share(thing[13], u * thing[14], v * thing[14])
    return thing[7:10] * (1.0 - m) + thing[10:13] * m


@njit(cache=True)
def _scattered(up, u1, u2):  # type: ignore[no-untyped-def]
    """A direction about an upright, as often as a matt surface sends light there."""
    r, turn = math.sqrt(u1), 2.0 * math.pi * u2
    other = np.array([0.0, 1.0, 0.0]) if abs(up[0]) > 0.9 else np.array([1.0, 0.0, 0.0])
    b = np.cross(up, other)
    b /= math.sqrt((b * b).sum())
    c = np.cross(up, b)
    return r * math.cos(turn) * b + r * math.sin(turn) * c + math.sqrt(max(0.0, 1.0 - u1)) * up


@njit(cache=True)
def _from_lamp(things, lamp, p, up, u1, u2):  # type: ignore[no-untyped-def]
    """Light (3,) on a surface from a point of a round lamp: place, radius, colour."""
    z, turn = 2.0 * u1 - 1.0, 2.0 * math.pi * u2
    r = lamp[3] * math.sqrt(max(0.0, 1.0 - z * z))
    way = lamp[:3] + np.array([r * math.cos(turn), r * math.sin(turn), lamp[3] * z]) - p
    far = math.sqrt((way * way).sum())
    way /= far
    slant = (way * up).sum()
    if slant <= 0.0:
        return np.zeros(3)
    t, who, _ = _hit(things, p, way)
    return np.zeros(3) if who >= 0 and t < far else lamp[4:7] * slant


@njit(cache=True)
def _bounced(things, lamps, sky, p, up, u1, u2):  # type: ignore[no-untyped-def]
    """Light (3,) that comes by one path over up to three things, or from the sky."""
    light, left = np.zeros(3), np.ones(3)
    d = _scattered(up, u1, (u2 + 0.37) % 1.0)
    for k in range(BOUNCES):
        t, who, there = _hit(things, p, d)
        if who < 0:
            return light + left * sky * (0.6 + 0.4 * d[1])
        q = p + d * t
        left = left * _paint(things[who], q, there)
        p = q + there * NUDGE
        a, b = (7.3 * u1 + 0.31 * k) % 1.0, (3.7 * u2 + 0.77 * k) % 1.0
        light = light + left * _from_lamp(things, lamps[0], p, there, a, b)
        d = _scattered(there, (5.1 * u1 + 0.2 + 0.4 * k) % 1.0, (11.3 * u2 + 0.6) % 1.0)
    return light


@njit(cache=True)
def _bumped(thing, p, up):  # type: ignore[no-untyped-def]
    """The upright of a crumpled surface."""
    f, e = thing[18], 0.02
    here = _noise(p[0] * f + 31.0, (1.3 * p[1] + 0.9 * p[2]) * f)
    right = _noise((p[0] + e) * f + 31.0, (1.3 * p[1] + 0.9 * p[2]) * f)
    down = _noise(p[0] * f + 31.0, (1.3 * (p[1] + e) + 0.9 * (p[2] + e)) * f)
    slope = thing[17] / (e * f)
    out = up - np.array([(right - here) * slope, 0.0, (down - here) * slope])
    return out / math.sqrt((out * out).sum())


@njit(cache=True)
def _highlight(things, thing, lamp, p, q, up, d):  # type: ignore[no-untyped-def]
    way = lamp[:3] - p
    far = math.sqrt((way * way).sum())
    way = way / far
    half = way - d
    slant = (half * up).sum() / math.sqrt((half * half).sum())
    if thing[15] <= 0.0 or slant <= 0.0:
        return np.zeros(3)
    t, who, _ = _hit(things, q, way)
    lit = who < 0 or t > far
    return lamp[4:7] * thing[15] * slant ** thing[16] if lit else np.zeros(3)


@njit(cache=True)
def trace(rows, cols, paths, things, lamps, sky, eye, focal):  # type: ignore[no-untyped-def]
    """Reflectance, light and highlights, each (rows, cols, 3), and the thing seen (rows, cols).

    paths: per pixel. things: (n, 19), see COLUMNS. lamps: (2, 7) place, radius, colour; a lamp
    without green is off. sky: (3,) from straight above. eye: (3,). focal: pixels.
    """
    paint, light = np.zeros((rows, cols, 3)), np.zeros((rows, cols, 3))
    gloss, seen = np.zeros((rows, cols, 3)), np.full((rows, cols), -1)
    ct, st = math.cos(TILT), math.sin(TILT)
    for y in range(rows):
        for x in range(cols):
            for s in range(4):
                right = (x + 0.25 + 0.5 * (s % 2) - cols / 2) / focal
                upwards = -(y + 0.25 + 0.5 * (s // 2) - rows / 2) / focal
                d = np.array([right, upwards * ct + st, -upwards * st - ct])
                d /= math.sqrt((d * d).sum())
                t, who, up = _hit(things, eye, d)
                if who < 0:
                    continue
                p = eye + d * t
                q = p + up * NUDGE
                seen[y, x] = who
                paint[y, x] += 0.25 * _paint(things[who], p, up)
                if things[who, 17] > 0.0:
                    up = _bumped(things[who], p, up)
                turn1, turn2 = _hash(4 * x + s, 3 * y + 1), _hash(5 * x + 7, 9 * y + s)
                for k in range(paths // 4):
                    u1 = ((k + 0.5) / (paths // 4) + turn1) % 1.0
                    u2 = (k * GOLDEN + turn2) % 1.0
                    got = _bounced(things, lamps, sky, q, up, u1, u2)
                    for lamp in lamps:
                        if lamp[5] > 0.0:
                            got = got + _from_lamp(things, lamp, q, up, u1, u2)
                    light[y, x] += got / (4 * (paths // 4))
                gloss[y, x] += 0.25 * _highlight(things, things[who], lamps[0], p, q, up, d)
    return paint, light, gloss, seen
