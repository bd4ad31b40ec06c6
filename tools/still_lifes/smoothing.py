"""Gathered light without the grain of few rays: a mean over neighbours on the same surface.

A cross bilateral filter [Eisemann2004] on light alone, guided by things, normals and planes of
the true geometry, so neither texture nor edges of things are blurred; two passes, the second
with wider steps [Dammertz2010].
"""

import math

import numpy as np
from numpy.typing import NDArray

from firstwash.parallel import in_parallel
from still_lifes.drawing import Planes
from still_lifes.kernel import kernel

__all__ = ["smoothed_light"]

Floats = NDArray[np.float32]
REACH = 3


@kernel
def _alike(planes: Planes, y: int, x: int, v: int, u: int, size: float) -> float:
    """How far two parts lie on the same piece of surface, 0-1. size: cm per part."""
    if planes.thing[v, u] != planes.thing[y, x]:
        return 0.0
    n, m = planes.normal[y, x], planes.normal[v, u]
    p, q = planes.at[y, x], planes.at[v, u]
    turn, plane, apart = 0.0, 0.0, 0.0
    for c in range(3):
        turn += n[c] * m[c]
        plane += n[c] * (q[c] - p[c])
        apart += (q[c] - p[c]) ** 2
    near = 8.0 * REACH * size
    return (
        max(0.0, turn) ** 32 * math.exp(-((plane / (2.0 * size)) ** 2) - apart / (near * near))
    )  # fmt: skip


@kernel
def _pass(planes: Planes, light: Floats, out: Floats, size: float, step: int, y: int) -> None:
    rows, cols = planes.thing.shape
    for x in range(cols):
        r, g, b, whole = 0.0, 0.0, 0.0, 0.0
        if planes.thing[y, x] < 0:
            continue
        for dy in range(-REACH, REACH + 1):
            for dx in range(-REACH, REACH + 1):
                v, u = y + dy * step, x + dx * step
                if v < 0 or u < 0 or v >= rows or u >= cols:
                    continue
                w = _alike(planes, y, x, v, u, size)
                r, g, b = r + w * light[v, u, 0], g + w * light[v, u, 1], b + w * light[v, u, 2]
                whole += w
        out[y, x, 0], out[y, x, 1], out[y, x, 2] = r / whole, g / whole, b / whole


def smoothed_light(planes: Planes, size: float) -> Floats:
    """`planes.gathered` (rows, cols, 3) without grain. size: cm per part at the scene's middle."""
    light = planes.gathered
    for step in (1, 2):
        out = np.zeros_like(light)
        _run(planes, light, out, size, step)
        light = out
    return light


def _run(planes: Planes, light: Floats, out: Floats, size: float, step: int) -> None:
    in_parallel(lambda y: _pass(planes, light, out, size, step, y), range(len(light)))
