"""What the colours of a picture say, on average, about the colour of the lamp.

Each rule is published and each is often wrong by itself; which to trust, and how far, is settled
by `lamps`. All answers are colours of a lamp in linear sRGB, of no particular strength.

- mean: things are grey on average [Buchsbaum1980]; power: the brighter weigh more, Minkowski
  power 6 [Finlayson2004Grey].
- edges, edges_power, edges_second: the differences at edges are grey on average, with powers 1
  and 7, and of second order [vandeWeijer2007].
- gloss_edges: edges that lie along the lamp's own colour weigh more [Gijsenij2012].
- bright: the brightest places that are not burnt out [Joze2012].
- grey: places whose local contrast is the same in all channels are grey [Qian2019].
- surfaces: every colour counts once, however large its place.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.light.channels import largest, least, total

__all__ = ["RULES", "average_lights"]

Plane = NDArray[np.float32]
RULES = (
    "mean", "power", "edges", "edges_power", "edges_second", "gloss_edges", "bright", "grey",
    "surfaces", "brightest",
)  # fmt: skip
LEAST = 1e-4
CELL, HALF = 0.15, 64  # log units of one cell of colours; cells to each side of grey


def average_lights(rgb: Plane, whole: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(rules, 3): the lamp's colour by each of `RULES`; each row sums to 1.

    rgb: (rows, cols, 3) linear sRGB, 0 or more. whole: (rows, cols), False where clipped.
    """
    soft = np.asarray(cv2.GaussianBlur(rgb, (0, 0), 1.0), dtype=np.float32)
    seen = soft[whole].astype(np.float64)
    first, second = _edges(soft)
    near = whole & (largest(soft) > 0.01)
    power = _mean(seen, 6.0)
    told = [
        seen.mean(axis=0),
        power,
        _mean(first[near], 1.0),
        _mean(first[near], 7.0),
        _mean(second[near], 1.0),
        _gloss_edges(first[near].astype(np.float64), power),
        _bright(seen, 0.03),
        _grey(soft, near, power),
        _surfaces(soft[near]),
        _bright(seen, 0.004),
    ]
    lights = np.maximum(np.array(told), LEAST)
    return np.asarray(lights / lights.sum(axis=1, keepdims=True))


def _mean(values: NDArray[np.floating], power: float) -> NDArray[np.float64]:
    """Minkowski mean (3,) of (n, 3)."""
    if len(values) == 0:
        return np.ones(3)
    top = max(float(values.max()), 1e-9)
    scaled = values.astype(np.float64) / top
    return np.asarray((scaled**power).mean(axis=0) ** (1.0 / power))


def _edges(soft: Plane) -> tuple[Plane, Plane]:
    """Strength of first and second order differences (rows, cols, 3)."""
    x = cv2.Sobel(soft, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    y = cv2.Sobel(soft, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    return np.sqrt(x * x + y * y), np.abs(cv2.Laplacian(soft, cv2.CV_32F, ksize=3))


def _gloss_edges(edges: NDArray[np.float64], lamp: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean of the edges, each weighted by how much of it lies along the lamp; three rounds."""
    found = lamp
    strength = np.sqrt(total(edges * edges)) + 1e-9
    for _ in range(3):
        along = np.abs(edges @ (found / np.linalg.norm(found))) / strength
        found = (along[:, None] ** 8 * edges).mean(axis=0) + LEAST if len(edges) else found
    return np.asarray(found)


def _bright(seen: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    """Mean of the brightest share of the places."""
    if len(seen) == 0:
        return np.ones(3)
    sums = total(seen)
    return np.asarray(seen[sums >= np.quantile(sums, 1.0 - share)].mean(axis=0))


def _grey(soft: Plane, near: NDArray[np.bool_], lamp: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean of the places whose contrast in the logarithm is the same in all channels."""
    logs = np.log(np.maximum(soft, 0.004))
    contrast = np.abs(logs - cv2.GaussianBlur(logs, (0, 0), 3.0))
    usable = near & (least(contrast) > 0.01)
    if usable.sum() < 50:
        return lamp
    parts = contrast[usable]
    uneven = parts.std(axis=1) / parts.mean(axis=1)
    colours = soft[usable].astype(np.float64)
    best = uneven <= np.quantile(uneven, 0.05)
    return np.asarray(colours[best].mean(axis=0))


def _surfaces(seen: Plane) -> NDArray[np.float64]:
    """Mean in the logarithm over the distinct colours, each counted once."""
    if len(seen) == 0:
        return np.ones(3)
    logs = np.log(np.maximum(seen.astype(np.float64), 0.004))
    colour = logs[:, (0, 2)] - logs[:, 1:2]
    cells = np.round(colour / CELL).astype(np.int64) + HALF
    codes, count = np.unique(cells[:, 0] * (2 * HALF) + cells[:, 1], return_counts=True)
    cells = np.column_stack(np.divmod(codes, 2 * HALF)) - HALF
    weight = np.minimum(count, max(1.0, 0.002 * len(seen)))
    middle = (cells * CELL * weight[:, None]).sum(axis=0) / weight.sum()
    return np.asarray(np.exp([middle[0], 0.0, middle[1]]), dtype=np.float64)
