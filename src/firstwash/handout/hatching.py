"""Slanting lines over an area, each cut where the area ends."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["hatched"]

SHORTEST = 0.25  # of the spacing: shorter strokes are only dirt


def hatched(
    outlines: Sequence[FloatArray], spacing: float, degrees: float = 45.0
) -> NDArray[np.float64]:
    """Lines (n, 4; x1, y1, x2, y2) over the inside of closed polygons, even-odd.

    outlines: (m, 2) corners each, x and y; spacing: from line to line, in the same unit; degrees:
    how steeply the lines rise to the right. Lines of areas beside each other run on from one to
    the next.
    """
    if degrees != 45.0:
        turn = _turning(degrees - 45.0)
        lines = hatched([corners @ turn for corners in outlines], spacing)
        return np.asarray((lines.reshape(-1, 2) @ turn.T).reshape(-1, 4))
    crossings = [_crossings(corners, spacing) for corners in outlines if len(corners) > 2]
    if not crossings:
        return np.empty((0, 4))
    line, along = (np.concatenate([c[k] for c in crossings]) for k in (0, 1))
    order = np.lexsort((along, line))
    line, along = line[order], along[order]
    # Every line crosses closed outlines an even number of times: in, out, in, out.
    start, end = along[0::2], along[1::2]
    across = line[0::2] * spacing
    keep = end - start > SHORTEST * spacing
    ends = [_point(across[keep], v[keep]) for v in (start, end)]
    return np.column_stack([*ends[0], *ends[1]])


def _turning(degrees: float) -> NDArray[np.float64]:
    """What corners (n, 2), y downwards, are multiplied by to turn them so far clockwise."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, s], [-s, c]])


def _point(across: FloatArray, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """x, y of places across and along the slant."""
    half = np.sqrt(0.5)
    return (across + along) * half, (across - along) * half


def _crossings(corners: FloatArray, spacing: float) -> tuple[FloatArray, FloatArray]:
    """Number of the line and place along it for each crossing of a closed polygon."""
    half = np.sqrt(0.5)
    across = (corners[:, 0] + corners[:, 1]) * half / spacing
    along = (corners[:, 0] - corners[:, 1]) * half
    next_across, next_along = np.roll(across, -1), np.roll(along, -1)
    # A side from a to b crosses the lines whose number lies in [a, b): corners count once.
    low, high = np.minimum(across, next_across), np.maximum(across, next_across)
    first = np.ceil(low)
    count = np.maximum(np.ceil(high) - first, 0.0).astype(np.int64)
    side = np.repeat(np.arange(len(corners)), count)
    start = np.cumsum(count) - count
    line = first[side] + np.arange(len(side)) - start[side]
    share = (line - across[side]) / (next_across[side] - across[side])
    return line, along[side] + share * (next_along[side] - along[side])
