"""A line moved to where the picture's own edge runs beside it.

Every point may move across the line; the cheapest course of all by dynamic programming is
along strong edges without jumps, so that a border found coarsely becomes a drawn one.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from firstwash.arrays import FloatArray
from firstwash.picture.stroke_lines import gaussian_derivatives
from firstwash.picture.values import even_space
from firstwash.tracing.curves import STEP_MM, normals

__all__ = ["Relief", "relief", "sides", "snapped"]

EDGE_MM: Final = 0.7  # σ by which the picture is smoothed before its edges are told
REACH_MM: Final = 1.5  # how far a line may be moved
ACROSS_MM: Final = 0.25  # between two places tried
FLOOR: Final = 6.0  # edge height, CIELAB, below which all of a profile counts as weak
STRAY: Final = 0.35  # cost of the furthest place, of what the strongest edge is worth
JUMP: Final = 0.25  # cost of moving one place from point to point
OTHERS_MM: Final = 0.5  # by which another line must be nearer than a point's own
ASIDE_MM: Final = 1.2  # from a line, where its two sides are compared
EVEN_MM: Final = 3.0  # along a line, by which what is told of it is evened


@dataclass(frozen=True, eq=False)
class Relief:
    """What a picture's lines are told from.

    picture: (rows, cols, 3) CIELAB with chroma compressed, smoothed a little; edge: (rows, cols)
    height of the edge at each pixel in the same units, as if it were a sharp step.
    """

    picture: NDArray[np.float32]
    edge: NDArray[np.float32]
    ppmm: float

    def sample(self, plane: FloatArray, places_mm: FloatArray) -> NDArray[np.float64]:
        """A plane (rows, cols) at places (..., 2) mm, interpolated; outside as at its border."""
        at = places_mm * self.ppmm - 0.5
        where = [at[..., 1], at[..., 0]]
        return np.asarray(map_coordinates(plane, where, np.float64, order=1, mode="nearest"))


def relief(lab: FloatArray, ppmm: float, sigma_mm: float = EDGE_MM) -> Relief:
    """A picture (rows, cols, 3) CIELAB made ready to look for its edges at a scale."""
    even = even_space(lab)
    sigma = max(sigma_mm * ppmm, 0.7)
    squared = np.zeros(even.shape[:2], dtype=np.float32)
    for c in range(3):
        d = gaussian_derivatives(even[..., c], sigma)
        squared += d.x**2 + d.y**2
    height = np.sqrt(squared) * np.float32(sigma * np.sqrt(2.0 * np.pi))
    soft = cv2.GaussianBlur(even, (0, 0), max(0.5 * ppmm * sigma_mm, 0.4))
    return Relief(np.asarray(soft, dtype=np.float32), height, ppmm)


@njit(cache=True, nogil=True)
def _cheapest(worth, jump, stray, held):  # type: ignore[no-untyped-def]
    """Place (n,) of each point of the course of least cost; worth: (n, places), 0-1."""
    n, m = worth.shape
    middle = m // 2
    cost, came = np.empty((n, m)), np.zeros((n, m), dtype=np.int64)
    for i in range(n):
        for k in range(m):
            off = (k - middle) / middle
            here = 1.0 - worth[i, k] + stray * off * off
            if held and (i == 0 or i == n - 1) and k != middle:
                here += 1e6
            if i == 0:
                cost[i, k] = here
                continue
            best = cost[i - 1, k]
            came[i, k] = k
            for j in (k - 1, k + 1):
                if 0 <= j < m and cost[i - 1, j] + jump < best:
                    best = cost[i - 1, j] + jump
                    came[i, k] = j
            cost[i, k] = here + best
    out = np.empty(n, dtype=np.int64)
    out[n - 1] = np.argmin(cost[n - 1])
    for i in range(n - 1, 0, -1):
        out[i - 1] = came[i, out[i]]
    return out


def snapped(
    found: Relief, points: FloatArray, closed: bool, near: FloatArray
) -> NDArray[np.float64]:
    """Points (n, 2) mm, STEP_MM apart, moved to the edge beside them; open ends are held.

    near: (rows, cols) distance in mm to the nearest of all such lines: no point is moved to where
    another line is nearer than its own.
    """
    n = len(points)
    if n < 4:
        return np.asarray(points, dtype=np.float64)
    around = min(n - 1, round(10.0 / STEP_MM)) if closed else 0
    line = points
    if closed:
        line = np.concatenate([points[-1 - around : -1], points[:-1], points[: around + 1]])
    across = normals(line)
    places = np.arange(-round(REACH_MM / ACROSS_MM), round(REACH_MM / ACROSS_MM) + 1) * ACROSS_MM
    spots = line[:, None] + places[:, None] * across[:, None]
    height = found.sample(found.edge, spots)
    height[found.sample(near, spots) < np.abs(places) - OTHERS_MM] = 0.0
    worth = height / np.maximum(height.max(axis=1, keepdims=True), FLOOR)
    course = _cheapest(worth, JUMP, STRAY, not closed)
    moved = line + places[course][:, None] * across
    if closed:
        ring = moved[around : around + n - 1]
        return np.concatenate([ring, ring[:1]])
    return np.asarray(moved)


def sides(found: Relief, points: FloatArray) -> NDArray[np.float64]:
    """How far apart (n,) the picture's colours are on a line's two sides."""
    if len(points) < 2:
        return np.zeros(len(points))
    across = ASIDE_MM * normals(points)
    planes = [np.ascontiguousarray(found.picture[..., c]) for c in range(3)]
    gap = [found.sample(p, points + across) - found.sample(p, points - across) for p in planes]
    return np.asarray(np.linalg.norm(gap, axis=0))
