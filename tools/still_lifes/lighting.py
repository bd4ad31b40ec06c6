"""Light that reaches a place: lamps by sampling their faces, sky and things by gathering.

Sampling: strata with a shift of its own for every pixel [Cranley1976]; the second number is van
der Corput's radical inverse. Light is irradiance/π: the radiance that a white surface there shows.
"""

import math

import numpy as np
from numpy.typing import NDArray

from still_lifes.grain import hash01, layers3
from still_lifes.kernel import kernel
from still_lifes.packed import Packed
from still_lifes.rays import FAR, Hit, blocked, dot, met, spot_at
from still_lifes.surfaces import reflectance

__all__ = [
    "BAR",
    "basis",
    "gathered",
    "lamp_light",
    "lamp_sample",
    "open_light",
    "pair",
    "radiance",
    "sky_at",
]

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
BAR = 0.03  # half the width of a window's bars, as a share of the window's


@kernel
def pair(i: int, n: int, pixel: int, use: int) -> tuple[float, float]:
    """The i-th of n well spread points in the unit square, shifted for a pixel and a use."""
    u = (i + 0.5) / n + hash01(pixel, use, 1)
    v, half, k = 0.0, 0.5, i
    while k > 0:
        v += half * (k & 1)
        k >>= 1
        half *= 0.5
    v += hash01(pixel, use, 2)
    return u - math.floor(u), v - math.floor(v)


@kernel
def basis(n: Vector) -> tuple[Vector, Vector]:
    """Two directions square to a unit vector and to each other."""
    a = (0.0, 0.0, 1.0) if abs(n[2]) < 0.9 else (1.0, 0.0, 0.0)
    s = (a[1] * n[2] - a[2] * n[1], a[2] * n[0] - a[0] * n[2], a[0] * n[1] - a[1] * n[0])
    f = 1.0 / math.sqrt(dot(s, s))
    s = (s[0] * f, s[1] * f, s[2] * f)
    return s, (n[1] * s[2] - n[2] * s[1], n[2] * s[0] - n[0] * s[2], n[0] * s[1] - n[1] * s[0])


@kernel
def sky_at(sky: Array, way: Vector) -> Vector:
    """Radiance of the sky along a unit vector."""
    up = way[2]
    if up >= 0.0:
        t = math.sqrt(up)
        r = sky[3] + (sky[0] - sky[3]) * t
        g = sky[4] + (sky[1] - sky[4]) * t
        b = sky[5] + (sky[2] - sky[5]) * t
    else:
        t = min(1.0, -6.0 * up)
        r = sky[3] + (sky[6] - sky[3]) * t
        g = sky[4] + (sky[7] - sky[4]) * t
        b = sky[5] + (sky[8] - sky[5]) * t
    if sky[9] > 0.0 and up > -0.02:
        high = max(up, 0.0) + 0.12
        x, y = way[0] / high, way[1] / high
        k = 1.0 + sky[9] * 1.1 * layers3(0.8 * x, 0.8 * y, 3.0, 5)
        r, g, b = r * k, g * k, b * k
    return r, g, b


@kernel
def _faded(lamp: Array, way: Vector) -> float:
    """Share of a spot's light that goes towards -way."""
    if lamp[14] < -1.0:
        return 1.0
    c = -(lamp[16] * way[0] + lamp[17] * way[1] + lamp[18] * way[2])
    t = min(1.0, max(0.0, (c - lamp[15]) / (lamp[14] - lamp[15])))
    return float(t * t * (3.0 - 2.0 * t))


@kernel
def _pane(u: float) -> float:
    """From 0-1 to -0.5-0.5 without the bar in the middle."""
    glass = (u - 0.5) * (1.0 - 2.0 * BAR)
    return glass + BAR if u >= 0.5 else glass - BAR


@kernel
def lamp_sample(lamp: Array, at: Vector, u: float, v: float) -> tuple[Vector, float, float]:
    """A point of a lamp as seen from a place: way, distance, light on what faces it (× rgb)."""
    kind = lamp[0]
    if kind == 2.0:
        s, t = _pane(u), _pane(v)
        p = (
            lamp[1] + s * lamp[4] + t * lamp[7] - at[0],
            lamp[2] + s * lamp[5] + t * lamp[8] - at[1],
            lamp[3] + s * lamp[6] + t * lamp[9] - at[2],
        )
    else:
        p = (lamp[1], lamp[2], lamp[3])
        if kind == 0.0:
            p = (p[0] - at[0], p[1] - at[1], p[2] - at[2])
        d = math.sqrt(dot(p, p))
        s1, s2 = basis((p[0] / d, p[1] / d, p[2] / d))
        r, angle = lamp[10] * math.sqrt(u), 2.0 * math.pi * v
        a, b = r * math.cos(angle), r * math.sin(angle)
        p = (
            p[0] + a * s1[0] + b * s2[0],
            p[1] + a * s1[1] + b * s2[1],
            p[2] + a * s1[2] + b * s2[2],
        )
    d2 = dot(p, p)
    d = math.sqrt(d2)
    way = (p[0] / d, p[1] / d, p[2] / d)
    if kind == 1.0:
        return way, FAR, 1.0
    if kind == 0.0:
        return way, d, _faded(lamp, way) / d2
    side = math.sqrt(lamp[4] ** 2 + lamp[5] ** 2 + lamp[6] ** 2)
    high = math.sqrt(lamp[7] ** 2 + lamp[8] ** 2 + lamp[9] ** 2)
    cosine = -(lamp[16] * way[0] + lamp[17] * way[1] + lamp[18] * way[2])
    return way, d, abs(cosine) * side * high * (1.0 - 2.0 * BAR) ** 2 / d2


@kernel
def lamp_light(
    scene: Packed, which: int, at: Vector, n: Vector, count: int, pixel: int, use: int
) -> tuple[float, float, float, float]:
    """Light (3,) of a lamp on a place, and how evenly it was blocked: 0 or 1 all alike."""
    lamp = scene.lamps[which]
    r, g, b = 0.0, 0.0, 0.0
    lit, faced = 0, 0
    for i in range(count):
        u, v = pair(i, count, pixel, use)
        way, far, strength = lamp_sample(lamp, at, u, v)
        cosine = dot(n, way)
        if cosine <= 0.0:
            continue
        faced += 1
        share = blocked(scene, at, way, far - 1e-3, -1)
        if share[1] > 0.0:
            lit += 1
            e = cosine * strength / count
            r, g, b = r + e * share[0], g + e * share[1], b + e * share[2]
    even = 1.0 if lit in (0, faced) and faced in (0, count) else 0.5
    return r * lamp[11], g * lamp[12], b * lamp[13], even


@kernel
def open_light(lamp: Array, at: Vector, n: Vector, count: int, pixel: int, use: int) -> float:
    """Light (× rgb) of a lamp that nothing blocks; the samples are those of `lamp_light`."""
    total = 0.0
    for i in range(count):
        u, v = pair(i, count, pixel, use)
        way, _, strength = lamp_sample(lamp, at, u, v)
        total += max(0.0, dot(n, way)) * strength
    return total / count


@kernel
def radiance(scene: Packed, cache: Array, at: Vector, way: Vector, through: bool) -> Vector:
    """What is seen along a ray: things by the light kept at their mesh's points, else sky.

    cache: (points, 2 sides, 3) light, as `lamp_light` gives it. Metal counts as a matte thing here.
    """
    hit = met(scene, at, way, FAR, through)
    if hit.face < 0:
        return sky_at(scene.sky, way)
    spot = spot_at(scene, at, way, hit)
    stuff = scene.stuff[spot.thing]
    colour = reflectance(stuff, spot.place[0], spot.place[1], spot.place[2])
    side = 0 if spot.outside else 1
    light = kept(scene, cache, hit, side)
    if stuff[17] > 0.0:
        other = kept(scene, cache, hit, 1 - side)
        k = stuff[17]
        light = (light[0] + k * other[0], light[1] + k * other[1], light[2] + k * other[2])
    return colour[0] * light[0], colour[1] * light[1], colour[2] * light[2]


@kernel
def kept(scene: Packed, cache: Array, hit: Hit, side: int) -> Vector:
    w = 1.0 - hit.u - hit.v
    a = cache[scene.corners[hit.face, 0], side]
    b = cache[scene.corners[hit.face, 1], side]
    c = cache[scene.corners[hit.face, 2], side]
    return (
        w * a[0] + hit.u * b[0] + hit.v * c[0],
        w * a[1] + hit.u * b[1] + hit.v * c[1],
        w * a[2] + hit.u * b[2] + hit.v * c[2],
    )


@kernel
def gathered(
    scene: Packed, cache: Array, at: Vector, n: Vector, count: int, pixel: int, use: int
) -> Vector:
    """Light (3,) from the sky and from all things on a place: cosine-weighted rays."""
    s, t = basis(n)
    r, g, b = 0.0, 0.0, 0.0
    for i in range(count):
        u, v = pair(i, count, pixel, use)
        radius, angle = math.sqrt(u), 2.0 * math.pi * v
        x, y, z = radius * math.cos(angle), radius * math.sin(angle), math.sqrt(1.0 - u)
        way = (
            x * s[0] + y * t[0] + z * n[0],
            x * s[1] + y * t[1] + z * n[1],
            x * s[2] + y * t[2] + z * n[2],
        )
        seen = radiance(scene, cache, at, way, True)
        r, g, b = r + seen[0], g + seen[1], b + seen[2]
    return r / count, g / count, b / count
