"""Where a ray meets the scene, and what lies there.

Triangles by [Moller1997]; the start of further rays is moved off a coarse mesh's facets as in
[Hanika2021], so that round things show no facets where the light leaves them.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from still_lifes.grain import slope3
from still_lifes.kernel import kernel
from still_lifes.packed import Packed

__all__ = ["FAR", "Hit", "Spot", "blocked", "dot", "met", "spot_at"]

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
FAR = 1e9
NEAR = 1e-4


class Hit(NamedTuple):
    """Distance (FAR when nothing is met), face (-1), weights of its second and third corner."""

    far: float
    face: int
    u: float
    v: float


class Spot(NamedTuple):
    """A place on a thing: start of further rays, shading normal towards the viewer, pattern place,
    which thing, and whether its outside is seen.
    """

    at: Vector
    normal: Vector
    place: Vector
    thing: int
    outside: bool


@kernel
def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@kernel
def _box_missed(box: Array, at: Vector, inverse: Vector, far: float) -> bool:
    low, high = NEAR, far
    for c in range(3):
        one, two = (box[c] - at[c]) * inverse[c], (box[c + 3] - at[c]) * inverse[c]
        if one > two:
            one, two = two, one
        low, high = max(low, one), min(high, two)
    return low > high


@kernel
def _face_met(face: Array, at: Vector, way: Vector) -> tuple[float, float, float]:
    """Distance and weights where a ray meets a triangle; FAR when it does not."""
    e = (face[3], face[4], face[5])
    f = (face[6], face[7], face[8])
    p = (
        way[1] * f[2] - way[2] * f[1],
        way[2] * f[0] - way[0] * f[2],
        way[0] * f[1] - way[1] * f[0],
    )
    det = dot(e, p)
    if abs(det) < 1e-14:
        return FAR, 0.0, 0.0
    s = (at[0] - face[0], at[1] - face[1], at[2] - face[2])
    u = dot(s, p) / det
    if u < 0.0 or u > 1.0:
        return FAR, 0.0, 0.0
    q = (s[1] * e[2] - s[2] * e[1], s[2] * e[0] - s[0] * e[2], s[0] * e[1] - s[1] * e[0])
    v = dot(way, q) / det
    if v < 0.0 or u + v > 1.0:
        return FAR, 0.0, 0.0
    return dot(f, q) / det, u, v


@kernel
def _inverse(way: Vector) -> Vector:
    x = way[0] if abs(way[0]) > 1e-12 else 1e-12
    y = way[1] if abs(way[1]) > 1e-12 else 1e-12
    z = way[2] if abs(way[2]) > 1e-12 else 1e-12
    return 1.0 / x, 1.0 / y, 1.0 / z


@kernel
def met(scene: Packed, at: Vector, way: Vector, far: float, through_glass: bool) -> Hit:
    """The nearest thing met before `far`; through_glass: glass and flames are not there."""
    inverse = _inverse(way)
    node, face, best, bu, bv = 0, -1, far, 0.0, 0.0
    while node >= 0:
        if _box_missed(scene.boxes[node], at, inverse, best):
            node = scene.jump[node, 0]
            continue
        first = scene.jump[node, 1]
        if first < 0:
            node += 1
            continue
        for t in range(first, first + scene.jump[node, 2]):
            if through_glass and scene.stuff[scene.thing_of[t], 18] >= 2.0:
                continue
            d, u, v = _face_met(scene.faces[t], at, way)
            if NEAR < d < best:
                face, best, bu, bv = t, d, u, v
        node = scene.jump[node, 0]
    return Hit(best if face >= 0 else FAR, face, bu, bv)


@kernel
def blocked(
    scene: Packed, at: Vector, way: Vector, far: float, but: int
) -> tuple[float, float, float]:
    """Share (3,) of light that a ray brings as far as `far`: 0 behind a thing, tinted by glass.

    but: a thing that does not count (-1: all count).
    """
    inverse = _inverse(way)
    node = 0
    r, g, b = 1.0, 1.0, 1.0
    while node >= 0:
        if _box_missed(scene.boxes[node], at, inverse, far):
            node = scene.jump[node, 0]
            continue
        first = scene.jump[node, 1]
        if first < 0:
            node += 1
            continue
        for t in range(first, first + scene.jump[node, 2]):
            thing = scene.thing_of[t]
            kind = scene.stuff[thing, 18]
            if thing == but or kind == 3.0:
                continue
            d, _, _ = _face_met(scene.faces[t], at, way)
            if NEAR < d < far:
                if kind < 2.0:
                    return 0.0, 0.0, 0.0
                tint = scene.stuff[thing]
                r, g, b = r * 0.95 * tint[1], g * 0.95 * tint[2], b * 0.95 * tint[3]
        node = scene.jump[node, 0]
    return r, g, b


@kernel
def _unit(v: Vector) -> Vector:
    n = 1.0 / math.sqrt(max(dot(v, v), 1e-30))
    return v[0] * n, v[1] * n, v[2] * n


@kernel
def _lifted(scene: Packed, hit: Hit, x: float, y: float, z: float, sign: float) -> Vector:
    """The place, moved out to where the smooth surface behind the facets would be."""
    ox, oy, oz = x, y, z
    for k in range(3):
        c = scene.corners[hit.face, k]
        w = (1.0 - hit.u - hit.v) if k == 0 else (hit.u if k == 1 else hit.v)
        n = scene.normals[c]
        p = scene.points[c]
        below = sign * ((x - p[0]) * n[0] + (y - p[1]) * n[1] + (z - p[2]) * n[2])
        if below < 0.0:
            ox -= w * below * sign * n[0]
            oy -= w * below * sign * n[1]
            oz -= w * below * sign * n[2]
    return ox, oy, oz


@kernel
def _bumped(n: Vector, at: Vector, amount: float, pitch: float) -> Vector:
    g = slope3(at[0] / pitch, at[1] / pitch, at[2] / pitch)
    along = dot(g, n)
    return _unit((
        n[0] - amount * (g[0] - along * n[0]),
        n[1] - amount * (g[1] - along * n[1]),
        n[2] - amount * (g[2] - along * n[2]),
    ))  # fmt: skip


@kernel
def spot_at(scene: Packed, at: Vector, way: Vector, hit: Hit) -> Spot:
    """What lies where a ray from `at` along `way` met something."""
    w = 1.0 - hit.u - hit.v
    a, b, c = scene.corners[hit.face, 0], scene.corners[hit.face, 1], scene.corners[hit.face, 2]
    na, nb, nc = scene.normals[a], scene.normals[b], scene.normals[c]
    pa, pb, pc = scene.places[a], scene.places[b], scene.places[c]
    n = _unit((
        w * na[0] + hit.u * nb[0] + hit.v * nc[0],
        w * na[1] + hit.u * nb[1] + hit.v * nc[1],
        w * na[2] + hit.u * nb[2] + hit.v * nc[2],
    ))  # fmt: skip
    place = (
        w * pa[0] + hit.u * pb[0] + hit.v * pc[0],
        w * pa[1] + hit.u * pb[1] + hit.v * pc[1],
        w * pa[2] + hit.u * pb[2] + hit.v * pc[2],
    )
    f = scene.faces[hit.face]
    flat = _unit((
        f[4] * f[8] - f[5] * f[7], f[5] * f[6] - f[3] * f[8], f[3] * f[7] - f[4] * f[6],
    ))  # fmt: skip
    if dot(flat, n) < 0.0:
        flat = (-flat[0], -flat[1], -flat[2])
    outside = dot(flat, way) < 0.0
    sign = 1.0 if outside else -1.0
    x, y, z = at[0] + hit.far * way[0], at[1] + hit.far * way[1], at[2] + hit.far * way[2]
    start = _lifted(scene, hit, x, y, z, sign)
    lift = 2e-3 * sign
    start = (start[0] + lift * flat[0], start[1] + lift * flat[1], start[2] + lift * flat[2])
    thing = scene.thing_of[hit.face]
    stuff = scene.stuff[thing]
    if stuff[14] > 0.0:
        n = _bumped(n, (x, y, z), stuff[14], stuff[15])
    return Spot(start, (sign * n[0], sign * n[1], sign * n[2]), place, thing, outside)
