"""The paints a picture is made of: where each place's own colour would lie if it were one of few.

A picture has far fewer local colours than pixels (the sparse palette of [Gehler2011]). All local
colours found so far are counted in a box of lightness and two hues; every one of them is then
carried to the mean of the colours about it, a step of mean shift [Comaniciu2002]. Colours that a
shadow's rim or a pattern has smeared come so nearer to the paints on both its sides.
"""

from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["nearest_paints"]

# Natural logarithms: sides of a cell, about the spread of one paint, and half the box about the
# picture's mean colour; what lies outside counts where the box ends.
CELL: Final = np.array([0.1, 0.06, 0.06])
HALF_BOX: Final = np.array([3.2, 1.8, 1.8])
CELLS: Final = 2 * np.ceil(HALF_BOX / CELL).astype(np.int64) + 2
PALE_FROM: Final = -3.0  # level below which a pixel counts less: its hue is noise
BLURS: Final = 2  # binomial passes in each direction: one cell of standard deviation


@njit(cache=True, nogil=True)
def _count(places, weights, values, box):  # type: ignore[no-untyped-def]
    """Add each pixel's weight, and weight times value, to the eight cells about its place."""
    for n in range(places.shape[0]):
        i, j, k = int(places[n, 0]), int(places[n, 1]), int(places[n, 2])
        x, y, z = places[n, 0] - i, places[n, 1] - j, places[n, 2] - k
        for c in range(8):
            a, b, d = c & 1, (c >> 1) & 1, c >> 2
            part = (x if a else 1.0 - x) * (y if b else 1.0 - y) * (z if d else 1.0 - z)
            part *= weights[n]
            cell = box[i + a, j + b, k + d]
            cell[0] += part
            for m in range(3):
                cell[1 + m] += part * values[n, m]


@njit(cache=True, nogil=True)
def _read(places, values, box, out):  # type: ignore[no-untyped-def]
    """The mean value of the colours about each place; its own where there are none."""
    for n in range(places.shape[0]):
        i, j, k = int(places[n, 0]), int(places[n, 1]), int(places[n, 2])
        x, y, z = places[n, 0] - i, places[n, 1] - j, places[n, 2] - k
        total, first, second, third = 0.0, 0.0, 0.0, 0.0
        for c in range(8):
            a, b, d = c & 1, (c >> 1) & 1, c >> 2
            part = (x if a else 1.0 - x) * (y if b else 1.0 - y) * (z if d else 1.0 - z)
            cell = box[i + a, j + b, k + d]
            total += part * cell[0]
            first += part * cell[1]
            second += part * cell[2]
            third += part * cell[3]
        if total > 1e-6:
            out[n, 0], out[n, 1], out[n, 2] = first / total, second / total, third / total
        else:
            out[n] = values[n]


def _blurred(box: NDArray[np.float32]) -> NDArray[np.float32]:
    half, quarter = np.float32(0.5), np.float32(0.25)
    for axis in (0, 1, 2) * BLURS:
        moved = np.moveaxis(box, axis, 0)
        out = half * moved
        out[1:] += quarter * moved[:-1]
        out[:-1] += quarter * moved[1:]
        box = np.moveaxis(out, 0, axis)
    return np.ascontiguousarray(box)


def nearest_paints(colours: FloatArray, level: FloatArray) -> NDArray[np.float64]:
    """Local colours (rows, cols, 3) carried one step towards the picture's paints.

    colours: logarithms of lightness, and of red and blue against green; level: (rows, cols), the
    logarithm of what is seen, 0 for the picture's white.
    """
    values = np.ascontiguousarray(colours.reshape(-1, 3), dtype=np.float64)
    middle = values.mean(axis=0)
    places = np.clip((values - middle + HALF_BOX) / CELL, 0.0, CELLS - 2.0)
    weights = np.minimum(1.0, np.exp(level.ravel() - PALE_FROM)).astype(np.float64)
    box = np.zeros((*CELLS.tolist(), 4), dtype=np.float32)
    _count(places, weights, values - middle, box)
    out = np.empty_like(values)
    _read(places, values - middle, _blurred(box), out)
    return np.asarray((out + middle).reshape(colours.shape), dtype=np.float64)
