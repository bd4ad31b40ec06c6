"""The picture, row by row: everything a pixel shows, kept apart.

Every pixel is cut in `fine` x `fine` parts, each seen through its middle; parts are averaged by
`render`, so edges are as soft as a camera's.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from still_lifes.gloss import coat_passes, glass_seen, gloss
from still_lifes.kernel import kernel
from still_lifes.lighting import gathered, lamp_light, lamp_sample, open_light, pair, sky_at
from still_lifes.packed import Packed
from still_lifes.rays import FAR, Spot, blocked, dot, met, spot_at
from still_lifes.surfaces import reflectance

__all__ = [
    "Counts",
    "Planes",
    "draw_rows",
    "empty_planes",
    "keep_bounce",
    "keep_lamps",
    "shadow_share",
]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Vector = tuple[float, float, float]
OPEN = 64  # samples of a window that need no ray


class Counts(NamedTuple):
    """Rays per part: to each lamp, more where a shadow's edge is, gathered, for gloss."""

    lamp: int = 8
    edge: int = 48
    gather: int = 16
    gloss: int = 12


class Planes(NamedTuple):
    """(rows, cols, 3): reflectance, key and other lamps' light, gathered light, gloss, normal,
    at (place, cm); (rows, cols): passes (share the coat lets out), shadow, facing; thing int32.
    """

    reflectance: Floats
    key: Floats
    lamps: Floats
    gathered: Floats
    gloss: Floats
    normal: Floats
    at: Floats
    passes: Floats
    shadow: Floats
    facing: Floats
    thing: NDArray[np.int32]


def empty_planes(rows: int, cols: int) -> Planes:
    """Planes full of nothing; thing is -1, the sky."""
    a, b, c, d, e, f, g = np.zeros((7, rows, cols, 3), np.float32)
    h, i, j = np.zeros((3, rows, cols), np.float32)
    return Planes(a, b, c, d, e, f, g, h, i, j, np.full((rows, cols), -1, np.int32))


@kernel
def _lamp_well(
    scene: Packed, which: int, at: Vector, n: Vector, counts: Counts, pixel: int
) -> Vector:
    """Light of a lamp, looked at more closely where its shadow has an edge."""
    count, use = counts.lamp, which
    r, g, b, even = lamp_light(scene, which, at, n, count, pixel, use)
    if even < 1.0 and counts.edge > 0:
        count, use = counts.edge, 9 + which
        r, g, b, _ = lamp_light(scene, which, at, n, count, pixel, use)
    lamp = scene.lamps[which]
    if lamp[0] == 2.0 and g > 0.0:  # the grain of a wide window's few samples
        k = open_light(lamp, at, n, OPEN, pixel, 19) / open_light(lamp, at, n, count, pixel, use)
        return k * r, k * g, k * b
    return r, g, b


@kernel
def shadow_share(scene: Packed, spot: Spot, count: int, pixel: int) -> float:
    """Share of the key that something stands in front of.

    Where a surface turns away from the key only other things count: that is form shadow.
    """
    total = 0.0
    for i in range(count):
        u, v = pair(i, count, pixel, 0)
        way, far, _ = lamp_sample(scene.lamps[0], spot.at, u, v)
        but = -1 if dot(spot.normal, way) > 0.0 else spot.thing
        total += blocked(scene, spot.at, way, far - 1e-3, but)[1]
    return 1.0 - total / count


@kernel
def _place_light(
    scene: Packed, cache: Array, at: Vector, n: Vector, counts: Counts, pixel: int
) -> tuple[Vector, Vector, Vector]:
    """Light on one side of a place: of the key, of the other lamps, gathered."""
    key = _lamp_well(scene, 0, at, n, counts, pixel)
    r, g, b = 0.0, 0.0, 0.0
    for k in range(1, scene.lamps.shape[0]):
        add = _lamp_well(scene, k, at, n, counts, pixel)
        r, g, b = r + add[0], g + add[1], b + add[2]
    return key, (r, g, b), gathered(scene, cache, at, n, counts.gather, pixel, 21)


@kernel
def _write_solid(
    scene: Packed, cache: Array, planes: Planes, y: int, x: int, spot: Spot, way: Vector,
    counts: Counts, pixel: int,
) -> None:  # fmt: skip
    stuff = scene.stuff[spot.thing]
    planes.reflectance[y, x] = reflectance(stuff, spot.place[0], spot.place[1], spot.place[2])
    key, lamps, rest = _place_light(scene, cache, spot.at, spot.normal, counts, pixel)
    if stuff[17] > 0.0:
        n, k = (-spot.normal[0], -spot.normal[1], -spot.normal[2]), stuff[17]
        at = (spot.at[0] + 0.01 * n[0], spot.at[1] + 0.01 * n[1], spot.at[2] + 0.01 * n[2])
        back = _place_light(scene, cache, at, n, counts, pixel)
        key = (key[0] + k * back[0][0], key[1] + k * back[0][1], key[2] + k * back[0][2])
        lamps = (lamps[0] + k * back[1][0], lamps[1] + k * back[1][1], lamps[2] + k * back[1][2])
        rest = (rest[0] + k * back[2][0], rest[1] + k * back[2][1], rest[2] + k * back[2][2])
    planes.key[y, x], planes.lamps[y, x], planes.gathered[y, x] = key, lamps, rest
    if stuff[12] > 0.0:
        base = (stuff[12], stuff[12], stuff[12])
        planes.gloss[y, x] = gloss(scene, cache, spot, way, base, counts.gloss, pixel)


@kernel
def _write(
    scene: Packed, cache: Array, planes: Planes, y: int, x: int, at: Vector, way: Vector,
    counts: Counts, pixel: int,
) -> None:  # fmt: skip
    """Everything about one part of a pixel, seen along a ray."""
    hit = met(scene, at, way, FAR, False)
    planes.passes[y, x] = 1.0
    if hit.face < 0:
        planes.gloss[y, x] = sky_at(scene.sky, way)
        return
    spot = spot_at(scene, at, way, hit)
    stuff = scene.stuff[spot.thing]
    planes.thing[y, x], planes.normal[y, x], planes.at[y, x] = spot.thing, spot.normal, spot.at
    lamp, _, _ = lamp_sample(scene.lamps[0], spot.at, 0.25, 0.25)
    if scene.lamps[0, 0] < 2.0:
        lamp, _, _ = lamp_sample(scene.lamps[0], spot.at, 0.0, 0.0)
    planes.facing[y, x] = dot(lamp, spot.normal)
    planes.shadow[y, x] = shadow_share(scene, spot, counts.lamp * 2, pixel)
    base = (stuff[1], stuff[2], stuff[3])
    if stuff[18] == 0.0:
        planes.passes[y, x] = coat_passes(stuff[12], -dot(way, spot.normal))
        _write_solid(scene, cache, planes, y, x, spot, way, counts, pixel)
        return
    planes.reflectance[y, x] = base
    if stuff[18] == 1.0:
        planes.gloss[y, x] = gloss(scene, cache, spot, way, base, 2 * counts.gloss, pixel)
    elif stuff[18] == 2.0:
        planes.gloss[y, x] = glass_seen(scene, cache, spot, way, counts.gloss, pixel)
    else:
        bright = stuff[12]
        planes.gloss[y, x] = (bright * base[0], bright * base[1], bright * base[2])


@kernel
def draw_rows(
    scene: Packed, cache: Array, eye: Array, planes: Planes, first: int, last: int,
    counts: Counts, seed: int,
) -> None:  # fmt: skip
    """Fill rows first to last - 1. eye: (4, 3) place, middle of view, one part right, one down."""
    rows, cols = planes.thing.shape
    at = (eye[0, 0], eye[0, 1], eye[0, 2])
    for y in range(first, last):
        for x in range(cols):
            i, j = x + 0.5 - 0.5 * cols, y + 0.5 - 0.5 * rows
            dx = eye[1, 0] + i * eye[2, 0] + j * eye[3, 0]
            dy = eye[1, 1] + i * eye[2, 1] + j * eye[3, 1]
            dz = eye[1, 2] + i * eye[2, 2] + j * eye[3, 2]
            f = 1.0 / math.sqrt(dx * dx + dy * dy + dz * dz)
            pixel = (seed * 4099 + y) * 16411 + x
            _write(scene, cache, planes, y, x, at, (f * dx, f * dy, f * dz), counts, pixel)


@kernel
def _raised(scene: Packed, i: int, side: int) -> tuple[Vector, Vector]:
    """Just above a mesh's point on one of its sides, and the normal there."""
    s = 1.0 if side == 0 else -1.0
    p, n = scene.points[i], scene.normals[i]
    normal = (s * n[0], s * n[1], s * n[2])
    lift = 0.02
    return (p[0] + lift * normal[0], p[1] + lift * normal[1], p[2] + lift * normal[2]), normal


@kernel
def _has_side(scene: Packed, i: int, side: int) -> bool:
    return side == 0 or scene.stuff[scene.stuff_of_point[i], 16] > 0.0


@kernel
def keep_lamps(scene: Packed, out: Array, first: int, last: int, count: int) -> None:
    """Light (points, 2 sides, 3) of all lamps on the meshes' points first to last - 1."""
    for i in range(first, last):
        for side in range(2):
            if not _has_side(scene, i, side):
                continue
            at, n = _raised(scene, i, side)
            for k in range(scene.lamps.shape[0]):
                r, g, b, _ = lamp_light(scene, k, at, n, count, i, side)
                out[i, side, 0] += r
                out[i, side, 1] += g
                out[i, side, 2] += b


@kernel
def keep_bounce(
    scene: Packed, lamps: Array, before: Array, out: Array, first: int, last: int, count: int,
    bounce: int,
) -> None:  # fmt: skip
    """Light of the lamps plus what is gathered from the light `before`: one bounce more."""
    for i in range(first, last):
        for side in range(2):
            if not _has_side(scene, i, side):
                continue
            at, n = _raised(scene, i, side)
            r, g, b = gathered(scene, before, at, n, count, i, 60 + bounce)
            out[i, side, 0] = lamps[i, side, 0] + r
            out[i, side, 1] = lamps[i, side, 1] + g
            out[i, side, 2] = lamps[i, side, 2] + b
