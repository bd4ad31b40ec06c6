"""A tree of boxes round triangles, so that a ray looks only where it can meet something.

Built top down by the surface area heuristic [MacDonald1990] on binned centres; stored depth first
with the index of where to go on when a box is missed, so that walking it needs no stack.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from still_lifes.kernel import kernel

__all__ = ["Tree", "build_tree"]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
BINS = 12
LEAF = 4


class Tree(NamedTuple):
    """boxes: (nodes, 6) low and high corner; jump: (nodes, 3) where to go when missed, first
    triangle of a leaf (-1 inside the tree) and how many; order: (triangles,) old index of each.
    """

    boxes: Array
    jump: Ints
    order: Ints


@kernel
def _area(box: Array) -> float:
    a, b, c = box[3] - box[0], box[4] - box[1], box[5] - box[2]
    return float(a * b + b * c + c * a)


@kernel
def _grow(box: Array, other: Array) -> None:
    for c in range(3):
        box[c] = min(box[c], other[c])
        box[c + 3] = max(box[c + 3], other[c + 3])


@kernel
def _bounds(boxes: Array, order: Ints, lo: int, hi: int) -> Array:
    box = np.array([1e30, 1e30, 1e30, -1e30, -1e30, -1e30])
    for i in range(lo, hi):
        _grow(box, boxes[order[i]])
    return box


@kernel
def _bin_of(boxes: Array, t: int, axis: int, low: float, wide: float) -> int:
    centre = 0.5 * (boxes[t, axis] + boxes[t, axis + 3])
    return min(BINS - 1, int((centre - low) / wide * BINS))


@kernel
def _spread(boxes: Array, order: Ints, lo: int, hi: int) -> tuple[int, float, float]:
    """The axis along which the centres lie furthest apart, where they start, how wide."""
    low, high = np.full(3, 1e30), np.full(3, -1e30)
    for i in range(lo, hi):
        for c in range(3):
            centre = 0.5 * (boxes[order[i], c] + boxes[order[i], c + 3])
            low[c] = min(low[c], centre)
            high[c] = max(high[c], centre)
    axis = int(np.argmax(high - low))
    return axis, low[axis], high[axis] - low[axis]


@kernel
def _best_cut(
    boxes: Array, order: Ints, lo: int, hi: int, axis: int, low: float, wide: float
) -> int:
    """The bin after which a cut costs least; areas times counts from both sides."""
    counts = np.zeros(BINS, np.int64)
    parts = np.empty((BINS, 6))
    parts[:, :3], parts[:, 3:] = 1e30, -1e30
    for i in range(lo, hi):
        b = _bin_of(boxes, order[i], axis, low, wide)
        counts[b] += 1
        _grow(parts[b], boxes[order[i]])
    after = np.zeros(BINS)
    box, n = np.array([1e30, 1e30, 1e30, -1e30, -1e30, -1e30]), 0
    for b in range(BINS - 1, 0, -1):
        _grow(box, parts[b])
        n += counts[b]
        after[b - 1] = n * _area(box) if n > 0 else 1e30
    box[:3], box[3:] = 1e30, -1e30
    best, cost, n = 0, 1e30, 0
    for b in range(BINS - 1):
        _grow(box, parts[b])
        n += counts[b]
        here = after[b] + n * _area(box) if n > 0 else 1e30
        if here < cost:
            best, cost = b, here
    return best


@kernel
def _part(boxes: Array, order: Ints, lo: int, hi: int) -> int:
    """Sort the range into two sides; where the second begins. Equal centres are halved."""
    axis, low, wide = _spread(boxes, order, lo, hi)
    if wide < 1e-12:
        return (lo + hi) // 2
    cut = _best_cut(boxes, order, lo, hi, axis, low, wide)
    a, b = lo, hi - 1
    while a <= b:
        if _bin_of(boxes, order[a], axis, low, wide) <= cut:
            a += 1
        else:
            order[a], order[b] = order[b], order[a]
            b -= 1
    return a if lo < a < hi else (lo + hi) // 2


@kernel
def _build(boxes: Array, order: Ints, nodes: Array, jump: Ints) -> int:
    """Fill the nodes depth first; returns how many there are."""
    todo = [(0, len(order))]
    count = 0
    ends = [0]  # where each node's triangles end, to find the way past it
    ends.pop()
    while len(todo) > 0:
        lo, hi = todo.pop()
        nodes[count] = _bounds(boxes, order, lo, hi)
        jump[count, 1], jump[count, 2] = -1, 0
        ends.append(hi)
        if hi - lo <= LEAF:
            jump[count, 1], jump[count, 2] = lo, hi - lo
        else:
            middle = _part(boxes, order, lo, hi)
            todo.append((middle, hi))
            todo.append((lo, middle))
        count += 1
    _link(jump, ends, count)
    return count


@kernel
def _link(jump: Ints, ends: list[int], count: int) -> None:
    """A missed node sends the ray on to the first later node that starts where it ends."""
    first_at = np.full(ends[0] + 1, count)
    first_at[ends[0]] = -1
    lo = np.zeros(count, np.int64)
    for n in range(count - 1, -1, -1):
        lo[n] = jump[n, 1] if jump[n, 1] >= 0 else lo[n + 1]
        jump[n, 0] = first_at[ends[n]]
        first_at[lo[n]] = n


def build_tree(corners: Array) -> Tree:
    """The tree of triangles (n, 3 corners, 3), n > 0."""
    boxes = np.concatenate([corners.min(axis=1), corners.max(axis=1)], axis=1)
    order = np.arange(len(corners))
    nodes, jump = np.empty((2 * len(corners), 6)), np.empty((2 * len(corners), 3), np.int64)
    count = _build(boxes, order, nodes, jump)
    return Tree(nodes[:count].copy(), jump[:count].copy(), order)
