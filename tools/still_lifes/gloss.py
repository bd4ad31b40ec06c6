"""Highlights and mirror images: coats, metal and glass.

Coats and metal: [TrowbridgeReitz1975] facets, masked after [Smith1967], Fresnel's factor after
[Schlick1994]. A lamp that looks larger than the lobe is met by rays of the lobe, a smaller one is
sampled itself. Glass bends with index 1.5 and is clear but for its colour.
"""

import math

import numpy as np
from numpy.typing import NDArray

from still_lifes.kernel import kernel
from still_lifes.lighting import BAR, basis, lamp_sample, pair, radiance
from still_lifes.packed import Packed
from still_lifes.rays import FAR, Spot, blocked, dot, met, spot_at

__all__ = ["coat_passes", "glass_seen", "gloss"]

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
INDEX = 1.5
WIDER = 4.0  # a lamp wider than this many lobes is met by the lobe's rays


@kernel
def _schlick(at_right_angle: float, cosine: float) -> float:
    return at_right_angle + (1.0 - at_right_angle) * (1.0 - min(max(cosine, 0.0), 1.0)) ** 5


@kernel
def coat_passes(shine: float, cosine: float) -> float:
    """Share of body light that a coat lets out at this angle, against looking straight down."""
    return (1.0 - _schlick(shine, cosine)) / (1.0 - shine) if shine > 0.0 else 1.0


@kernel
def _mask(alpha2: float, c: float) -> float:
    return 2.0 / (1.0 + math.sqrt(1.0 + alpha2 * (1.0 - c * c) / (c * c)))


@kernel
def _half_width(lamp: Array, at: Vector) -> float:
    """Half the width (radians) that a lamp seems to have."""
    if lamp[0] == 1.0:
        return float(lamp[10])
    d = math.sqrt((lamp[1] - at[0]) ** 2 + (lamp[2] - at[1]) ** 2 + (lamp[3] - at[2]) ** 2)
    if lamp[0] == 0.0:
        return float(lamp[10] / d)
    wide = math.sqrt(lamp[4] ** 2 + lamp[5] ** 2 + lamp[6] ** 2)
    return 0.5 * min(wide, math.sqrt(lamp[7] ** 2 + lamp[8] ** 2 + lamp[9] ** 2)) / d


@kernel
def _lamp_along(lamp: Array, at: Vector, way: Vector) -> tuple[float, float]:
    """Radiance (× rgb) and distance of a ball or window met by a ray; 0 when it is not."""
    if lamp[0] == 0.0:
        p = (lamp[1] - at[0], lamp[2] - at[1], lamp[3] - at[2])
        d = dot(p, way)
        off2 = dot(p, p) - d * d
        return (1.0 / lamp[10] ** 2, d) if d > 0.0 and off2 < lamp[10] ** 2 else (0.0, FAR)
    if lamp[0] == 1.0:
        c = lamp[1] * way[0] + lamp[2] * way[1] + lamp[3] * way[2]
        inside = c > 1.0 / math.sqrt(1.0 + lamp[10] ** 2)
        return (1.0 / lamp[10] ** 2, FAR) if inside else (0.0, FAR)
    n = (lamp[16], lamp[17], lamp[18])
    c = dot(n, way)
    p = (lamp[1] - at[0], lamp[2] - at[1], lamp[3] - at[2])
    d = dot(p, n) / c if abs(c) > 1e-6 else -1.0
    if d <= 0.0:
        return 0.0, FAR
    q = (d * way[0] - p[0], d * way[1] - p[1], d * way[2] - p[2])
    across, up = (lamp[4], lamp[5], lamp[6]), (lamp[7], lamp[8], lamp[9])
    s, t = abs(dot(q, across) / dot(across, across)), abs(dot(q, up) / dot(up, up))
    pane = BAR < s < 0.5 and BAR < t < 0.5
    return (math.pi, d) if pane else (0.0, FAR)


@kernel
def _lamp_gloss(
    scene: Packed, which: int, spot: Spot, view: Vector, alpha: float, base: Vector, count: int,
    pixel: int,
) -> Vector:  # fmt: skip
    """Highlight of a lamp smaller than the lobe."""
    lamp, n = scene.lamps[which], spot.normal
    nv, a2 = max(dot(n, view), 0.02), alpha * alpha
    total, r, g, b = 0.0, 0.0, 0.0, 0.0
    for i in range(count):
        u, v = pair(i, count, pixel, 31 + which)
        way, far, strength = lamp_sample(lamp, spot.at, u, v)
        nl = dot(n, way)
        if nl <= 0.0:
            continue
        h = (way[0] + view[0], way[1] + view[1], way[2] + view[2])
        f = 1.0 / math.sqrt(dot(h, h))
        nh, vh = dot(n, h) * f, dot(view, h) * f
        spread = a2 / (math.pi * (nh * nh * (a2 - 1.0) + 1.0) ** 2)
        fs = math.pi * spread * _mask(a2, nl) * _mask(a2, nv) / (4.0 * nv) * strength / count
        if fs < 1e-5:
            continue
        share = blocked(scene, spot.at, way, far - 1e-3, -1)
        total = fs * share[1]
        r += total * _schlick(base[0], vh) * lamp[11]
        g += total * _schlick(base[1], vh) * lamp[12]
        b += total * _schlick(base[2], vh) * lamp[13]
    return r, g, b


@kernel
def _lobe_ray(
    n: Vector, view: Vector, alpha: float, u: float, v: float
) -> tuple[Vector, float, float]:
    """A mirrored ray off a random facet: way, weight without Fresnel, cosine at the facet."""
    a2 = alpha * alpha
    c = math.sqrt((1.0 - u) / (1.0 + (a2 - 1.0) * u))
    s, angle = math.sqrt(max(0.0, 1.0 - c * c)), 2.0 * math.pi * v
    t1, t2 = basis(n)
    x, y = s * math.cos(angle), s * math.sin(angle)
    h = (
        x * t1[0] + y * t2[0] + c * n[0],
        x * t1[1] + y * t2[1] + c * n[1],
        x * t1[2] + y * t2[2] + c * n[2],
    )
    vh = dot(view, h)
    way = (2.0 * vh * h[0] - view[0], 2.0 * vh * h[1] - view[1], 2.0 * vh * h[2] - view[2])
    nl, nv = dot(n, way), max(dot(n, view), 0.02)
    if nl <= 0.0 or vh <= 0.0:
        return way, 0.0, 1.0
    return way, min(4.0, _mask(a2, nl) * _mask(a2, nv) * vh / (nv * c)), vh


@kernel
def _along(scene: Packed, cache: Array, at: Vector, way: Vector, alpha: float) -> Vector:
    """Radiance along a ray, with the lamps that look larger than the lobe."""
    r, g, b = radiance(scene, cache, at, way, True)
    for k in range(scene.lamps.shape[0]):
        lamp = scene.lamps[k]
        if _half_width(lamp, at) < WIDER * alpha:
            continue
        strength, far = _lamp_along(lamp, at, way)
        if strength > 0.0:
            share = blocked(scene, at, way, far - 1e-3, -1)
            r += strength * share[0] * lamp[11]
            g += strength * share[1] * lamp[12]
            b += strength * share[2] * lamp[13]
    return r, g, b


@kernel
def gloss(
    scene: Packed, cache: Array, spot: Spot, way: Vector, base: Vector, count: int, pixel: int
) -> Vector:
    """What a coat or metal of reflectance `base` at right angles throws back along -way."""
    view = (-way[0], -way[1], -way[2])
    rough = scene.stuff[spot.thing, 13]
    alpha = max(rough * rough, 1e-3)
    r, g, b = 0.0, 0.0, 0.0
    for k in range(scene.lamps.shape[0]):
        if _half_width(scene.lamps[k], spot.at) < WIDER * alpha:
            add = _lamp_gloss(scene, k, spot, view, alpha, base, count, pixel)
            r, g, b = r + add[0], g + add[1], b + add[2]
    for i in range(count):
        u, v = pair(i, count, pixel, 51)
        out, weight, vh = _lobe_ray(spot.normal, view, alpha, u, v)
        if weight <= 0.0:
            continue
        seen = _along(scene, cache, spot.at, out, alpha)
        weight /= count
        r += weight * seen[0] * _schlick(base[0], vh)
        g += weight * seen[1] * _schlick(base[1], vh)
        b += weight * seen[2] * _schlick(base[2], vh)
    return r, g, b


@kernel
def _bent(way: Vector, n: Vector, ratio: float) -> tuple[Vector, float]:
    """Refracted ray and the share mirrored (1 when all is)."""
    c = -dot(way, n)
    k = 1.0 - ratio * ratio * (1.0 - c * c)
    if k < 0.0:
        return (way[0] + 2 * c * n[0], way[1] + 2 * c * n[1], way[2] + 2 * c * n[2]), 1.0
    f = ratio * c - math.sqrt(k)
    out = (ratio * way[0] + f * n[0], ratio * way[1] + f * n[1], ratio * way[2] + f * n[2])
    return out, _schlick(0.04, c if ratio < 1.0 else math.sqrt(k))


@kernel
def glass_seen(
    scene: Packed, cache: Array, spot: Spot, way: Vector, count: int, pixel: int
) -> Vector:
    """What is seen through glass, mirror images of its outer faces on top."""
    r, g, b = 0.0, 0.0, 0.0
    tr, tg, tb = 1.0, 1.0, 1.0
    for _ in range(8):
        stuff = scene.stuff[spot.thing]
        tr, tg, tb = tr * stuff[1], tg * stuff[2], tb * stuff[3]
        out, mirrored = _bent(way, spot.normal, 1.0 / INDEX if spot.outside else INDEX)
        if spot.outside:
            add = gloss(scene, cache, spot, way, (0.04, 0.04, 0.04), count, pixel)
            r, g, b = r + tr * add[0], g + tg * add[1], b + tb * add[2]
        if mirrored < 1.0:
            tr, tg, tb = tr * (1.0 - mirrored), tg * (1.0 - mirrored), tb * (1.0 - mirrored)
        lift = 4e-3 if mirrored < 1.0 else 0.0
        at = (
            spot.at[0] - lift * spot.normal[0],
            spot.at[1] - lift * spot.normal[1],
            spot.at[2] - lift * spot.normal[2],
        )
        hit = met(scene, at, out, FAR, False)
        if hit.face < 0 or scene.stuff[scene.thing_of[hit.face], 18] != 2.0:
            seen = radiance(scene, cache, at, out, False)
            return r + tr * seen[0], g + tg * seen[1], b + tb * seen[2]
        spot = spot_at(scene, at, out, hit)
        way = out
    return r, g, b
