"""Hashed noise in space, the same at every run: the raw stuff of wood, marble, bloom and weave."""

import math

from still_lifes.kernel import kernel

__all__ = ["hash01", "layers3", "noise3", "slope3"]

MASK = 0xFFFFFFFF


@kernel
def hash01(i: int, j: int, k: int) -> float:
    """A number in [0, 1) that looks random, from three whole numbers."""
    h = (i * 374761393 + j * 668265263 + k * 1442695041 + 1274126177) & MASK
    h = ((h ^ (h >> 13)) * 1274126177) & MASK
    h = ((h ^ (h >> 15)) * 2246822519) & MASK
    return ((h ^ (h >> 16)) & 0xFFFFFF) / 16777216.0


@kernel
def _ease(t: float) -> float:
    return t * t * t * (t * (6.0 * t - 15.0) + 10.0)


@kernel
def noise3(x: float, y: float, z: float) -> float:
    """Smooth noise in [-1, 1], features about 1 wide."""
    i, j, k = math.floor(x), math.floor(y), math.floor(z)
    u, v, w = _ease(x - i), _ease(y - j), _ease(z - k)
    total = 0.0
    for n in range(8):
        a, b, c = n & 1, (n >> 1) & 1, n >> 2
        share = (u if a else 1.0 - u) * (v if b else 1.0 - v) * (w if c else 1.0 - w)
        total += share * hash01(i + a, j + b, k + c)
    return 2.0 * total - 1.0


@kernel
def layers3(x: float, y: float, z: float, octaves: int) -> float:
    """Noise of `octaves` scales, each twice as fine and half as strong; in (-1, 1)."""
    total, size, scale = 0.0, 0.5, 1.0
    for o in range(octaves):
        total += size * noise3(x * scale + 17.3 * o, y * scale, z * scale)
        size *= 0.5
        scale *= 2.03
    return total


@kernel
def slope3(x: float, y: float, z: float) -> tuple[float, float, float]:
    """Gradient of two octaves of noise, for the small bumps of peel, plaster and cloth."""
    e = 0.05
    here = layers3(x, y, z, 2)
    return (
        (layers3(x + e, y, z, 2) - here) / e,
        (layers3(x, y + e, z, 2) - here) / e,
        (layers3(x, y, z + e, 2) - here) / e,
    )
