"""Cloth: on a table, and hanging behind it."""

import numpy as np
from numpy.typing import NDArray

from still_lifes.scene import Mesh
from still_lifes.shapes import sheet

__all__ = ["hanging", "laid"]

Array = NDArray[np.float64]


def _folds(seed: int, count: int, spread: float) -> Array:
    """Rows of (direction x, y, offset, width, height) of ridges."""
    rng = np.random.default_rng(seed)
    angle = rng.uniform(-spread, spread, count) + rng.choice([0.0, np.pi / 2], count, p=[0.7, 0.3])
    return np.stack(
        [
            np.cos(angle), np.sin(angle), rng.uniform(-1, 1, count),
            rng.uniform(0.035, 0.09, count), rng.uniform(0.4, 1.0, count),
        ],
        axis=1,
    )  # fmt: skip


def _ridges(x: Array, y: Array, folds: Array) -> Array:
    """Height (0-1 about) of ridges that bend and die away; x, y in -1..1."""
    total = np.zeros_like(x)
    for c, s, offset, width, height in folds:
        across = c * x + s * y - 0.9 * offset + 0.06 * np.sin(3 * (c * y - s * x) + 9 * offset)
        along = c * y - s * x
        fade = np.exp(-(((along - 1.3 * offset) / 0.7) ** 4))
        total += height * fade * np.exp(-((across / width) ** 2))
    return total


def laid(
    size: tuple[float, float],
    height: float,
    seed: int,
    count: int = 9,
    clear: float = 0.45,
    cells: int = 180,
) -> Mesh:
    """Cloth on z = 0 with folds up to `height` cm, flattened in the middle where things stand.

    clear: share of the half size that is nearly flat. Places: (x, y, 0) in cm.
    """
    folds = _folds(seed, count, 1.2)

    def surface(u: Array, v: Array) -> Array:
        x, y = 2 * u - 1, 2 * v - 1
        r = np.hypot(x * 1.0, (y + 0.1) * 1.2)
        open_ = 1.0 / (1.0 + np.exp(-(r - clear) / 0.07))
        z = height * (0.04 + 0.96 * open_) * _ridges(x, y, folds) + 0.15
        return np.stack([x * size[0] / 2, y * size[1] / 2, z], axis=-1)

    u, v = np.meshgrid(np.linspace(0, 1, cells), np.linspace(0, 1, cells), indexing="ij")
    places = np.stack([(u - 0.5) * size[0], (v - 0.5) * size[1], 0 * u], axis=-1)
    return sheet(surface, cells, cells, places)


def hanging(width: float, height: float, depth: float, seed: int, folds: int = 7) -> Mesh:
    """A curtain from z = 0 up in the plane y = 0, seen from -y; folds `depth` cm deep."""
    rng = np.random.default_rng(seed)
    waves = [(folds * f, rng.uniform(0, 6.28), rng.uniform(0.3, 1.0)) for f in (0.5, 1.0, 1.6, 2.3)]

    def surface(u: Array, v: Array) -> Array:
        lean = u + 0.05 * np.sin(2.5 * v + waves[0][1]) * (1 - v)
        y = sum(a * np.sin(2 * np.pi * f * lean + p) for f, p, a in waves) * depth / 2.0
        return np.stack([(u - 0.5) * width, y * (0.5 + 0.5 * v), v * height], axis=-1)

    u, v = np.meshgrid(np.linspace(0, 1, 160), np.linspace(0, 1, 40), indexing="ij")
    places = np.stack([(u - 0.5) * width * 1.3, v * height, 0 * u], axis=-1)
    return sheet(surface, 160, 40, places)
