"""The photo in few colours per cell, to judge a painting by without its pixels.

A plan is judged on the photo's pixels, not on means of cells: a flat wash over a mottled
passage misses every pixel of it. A cell's pixels are gathered into a few spots, each the
mean of similar pixels together with how far they scatter around it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.reference import Reference
from firstwash.picture.shapes import Cells

__all__ = ["SPOTS_PER_CELL", "Spots", "cell_spots", "gather", "halfway", "photo_spots"]

SPOTS_PER_CELL = 6
EVEN = 0.5  # mean squared distance in CIELAB below which a spot is not divided further
# Share of a spot's scatter that counts. For pixels spread evenly about a spot, the mean of
# √(d² + …) takes 2/3 of their variance where the colour laid is far off (what lies along the
# way there cancels) and 8/(3π) where it hits; between the two:
SCATTER = 0.75
# Weight of a judged pixel that several cells share. There the painting is blended as the photo
# is, so each cell's colour alone misses it by more than the blend will.
SHARED = 0.5


@dataclass(frozen=True, eq=False)
class Spots:
    """Colours to come close to, gathered by cell.

    cells: (spots,) rising cell numbers. labs: (spots, 3) CIELAB. weights: (spots,) share of
    the picture, summing to 1. spreads: (spots,) squared CIEDE2000 added to that of the spot's
    mean colour for the scatter of its pixels.
    """

    cells: NDArray[np.int64]
    labs: NDArray[np.float64]
    weights: NDArray[np.float64]
    spreads: NDArray[np.float64]

    def cell_weights(self, count: int) -> NDArray[np.float64]:
        """Share of the picture (count,) of each cell."""
        return _sums(self.cells, self.weights, count)

    def mapped(self, labs: FloatArray) -> "Spots":
        """The same spots in other colours (spots, 3): of the tone-mapped photo, say."""
        return Spots(self.cells, np.ascontiguousarray(labs), self.weights, self.spreads)


def cell_spots(labs: FloatArray, areas: FloatArray) -> Spots:
    """One spot a cell: its mean colour labs (cells, 3), weighted by areas (cells,)."""
    count = len(labs)
    return Spots(
        np.arange(count),
        np.ascontiguousarray(labs, dtype=np.float64),
        np.asarray(areas / areas.sum(), dtype=np.float64),
        np.zeros(count),
    )


def photo_spots(
    cells: Cells, reference: Reference, most: int = SPOTS_PER_CELL, weighted: bool = False
) -> Spots:
    """The photo as it is judged (1 pixel per mm), gathered by cell.

    most: spots of a cell at most. weighted: count the painter's focal area as he asked,
    instead of every mm² alike.
    """
    rows, cols = cells.index.shape
    number = np.arange(reference.judge_lab[..., 0].size, dtype=np.float64)
    pixel = number.reshape(reference.judge_lab.shape[:2])
    # A pixel as judged covers several as planned; each of those looks at the one it lies in.
    at = cv2.resize(pixel, (cols, rows), interpolation=cv2.INTER_NEAREST_EXACT)
    at = at.astype(np.int64).ravel()
    cell = cells.index.ravel()
    weight = np.where(_shared(at, cell, number.size)[at], SHARED, 1.0)
    if weighted:
        weight *= reference.weight.ravel()
    return gather(cell, reference.judge_lab.reshape(-1, 3)[at], weight, cells.count, most)


def _shared(at: IntArray, cell: IntArray, pixels: int) -> BoolArray:
    """(pixels,) whether the places at (n,) of a judged pixel lie in several cells (n,)."""
    least = np.full(pixels, np.iinfo(np.int64).max)
    most = np.full(pixels, -1)
    np.minimum.at(least, at, cell)
    np.maximum.at(most, at, cell)
    return np.asarray(least < most)


def halfway(one: Spots, other: Spots) -> Spots:
    """Both at half their weight: to come close to the photo and to its tone-mapped self."""
    order = np.argsort(np.concatenate([one.cells, other.cells]), kind="stable")
    return Spots(
        np.concatenate([one.cells, other.cells])[order],
        np.concatenate([one.labs, other.labs])[order],
        0.5 * np.concatenate([one.weights, other.weights])[order],
        np.concatenate([one.spreads, other.spreads])[order],
    )


def gather(index: IntArray, labs: FloatArray, weight: FloatArray, count: int, most: int) -> Spots:
    """Spots of pixels labs (n, 3) with weights (n,) that lie in cells index (n,)."""
    order = np.argsort(index, kind="stable")
    starts = np.searchsorted(index[order], np.arange(count + 1))
    sorted_labs = np.ascontiguousarray(labs[order], dtype=np.float64)
    sorted_weight = np.ascontiguousarray(weight[order])
    spot = np.zeros(len(order), dtype=np.int64)
    found = _divide(sorted_labs, sorted_weight, starts, most, spot)
    total = _sums(spot, sorted_weight, found)
    sums = [_sums(spot, sorted_weight * sorted_labs[:, c], found) for c in range(3)]
    mean = np.column_stack(sums) / total[:, None]
    square = delta_e_2000(sorted_labs, mean[spot]) ** 2
    scatter = _sums(spot, sorted_weight * square, found) / total
    cell = np.zeros(found, dtype=np.int64)
    cell[spot] = index[order]
    return Spots(cell, mean, total / total.sum(), SCATTER * scatter)


def _sums(index: IntArray, values: FloatArray, count: int) -> NDArray[np.float64]:
    """Sum (count,) of the values at each index."""
    return np.asarray(np.bincount(index, values, count), dtype=np.float64)


@njit(cache=True, nogil=True)
def _divide(labs, weight, starts, most, spot):  # type: ignore[no-untyped-def]
    """Number (n,) of the spot of every pixel, cell by cell; returns how many spots.

    The spot that scatters most is cut across its longest axis at its mean until a cell has
    `most` spots or none scatters visibly; then every pixel joins the nearest mean, twice.
    """
    mean = np.empty((most, 3))
    found = 0
    for cell in range(starts.size - 1):
        first, last = starts[cell], starts[cell + 1]
        if first == last:
            continue
        have = 1
        spot[first:last] = 0
        loss = np.zeros(most)
        axis = np.zeros(most, dtype=np.int64)
        middle = np.zeros(most)
        _scatter(labs, weight, spot, first, last, 0, loss, axis, middle)
        while have < most:
            worst = np.argmax(loss[:have])
            if loss[worst] <= 0.0:
                break
            for i in range(first, last):
                if spot[i] == worst and labs[i, axis[worst]] > middle[worst]:
                    spot[i] = have
            have += 1
            _scatter(labs, weight, spot, first, last, worst, loss, axis, middle)
            _scatter(labs, weight, spot, first, last, have - 1, loss, axis, middle)
        for _ in range(2):
            _join_nearest(labs, weight, spot, first, last, have, mean)
        # Numbers without pixels are left out.
        new = np.full(have, -1, dtype=np.int64)
        for i in range(first, last):
            if new[spot[i]] < 0:
                new[spot[i]] = found
                found += 1
            spot[i] = new[spot[i]]
    return found


@njit(cache=True, nogil=True)
def _scatter(labs, weight, spot, first, last, which, loss, axis, middle):  # type: ignore[no-untyped-def]
    """Weighted squares about the mean of one spot, its longest axis and the mean there."""
    total = 0.0
    sums = np.zeros(3)
    squares = np.zeros(3)
    for i in range(first, last):
        if spot[i] == which:
            total += weight[i]
            for c in range(3):
                sums[c] += weight[i] * labs[i, c]
                squares[c] += weight[i] * labs[i, c] * labs[i, c]
    loss[which] = 0.0
    if total <= 0.0:
        return
    for c in range(3):
        squares[c] -= sums[c] * sums[c] / total
    if squares.sum() > EVEN * total:
        loss[which] = squares.sum()
    axis[which] = np.argmax(squares)
    middle[which] = sums[axis[which]] / total


@njit(cache=True, nogil=True)
def _join_nearest(labs, weight, spot, first, last, have, mean):  # type: ignore[no-untyped-def]
    total = np.zeros(have)
    mean[:have] = 0.0
    for i in range(first, last):
        total[spot[i]] += weight[i]
        for c in range(3):
            mean[spot[i], c] += weight[i] * labs[i, c]
    for q in range(have):
        for c in range(3):
            mean[q, c] = mean[q, c] / total[q] if total[q] > 0.0 else 1e9
    for i in range(first, last):
        best = np.inf
        for q in range(have):
            d0 = labs[i, 0] - mean[q, 0]
            d1 = labs[i, 1] - mean[q, 1]
            d2 = labs[i, 2] - mean[q, 2]
            d = d0 * d0 + d1 * d1 + d2 * d2
            if d < best:
                best = d
                spot[i] = q
