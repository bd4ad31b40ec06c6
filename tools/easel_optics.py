"""Colours of washes over washes, by radiative transfer, quick enough for every pixel of a sheet.

A stack of coats is solved a few times with its coats a little thinner and thicker than meant.
In between, the logarithm of each of three colours is a quadratic of the root of the amounts:
`tests/tools/test_easel_painter.py` states how far that is off.
"""

from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from card_camera import Pixels
from card_optics import Floats, Paper
from card_pigments import KEYS, MATT, Pigments, measured_pigments, stack

__all__ = ["Table", "pigments", "seen", "sheet_of", "table_of"]

SOAK: Final = 0.3  # share of the first coat between the fibres, as the pigments were fitted
LATER: Final = 0.09
FLOOR: Final = 0.02  # added before the logarithm
STEP: Final = 0.25  # of the root of a multiplier: solved at 0.56, 1 and 1.56 times what is meant
RANGE: Final = (0.6, 1.38)  # roots of multipliers beyond which nothing is told


@cache
def pigments() -> Pigments:
    """Those of the measured paints."""
    return measured_pigments()


def sheet_of(white: Floats) -> Paper:
    """A sheet whose bare paper reflects `white` (36,)."""
    return Paper(np.asarray(white, float), SOAK, LATER, MATT)


def _packed(amounts: Floats) -> Floats:
    """(n, layers, 13) with what is laid moved down to the bottom: the first coat soaks in."""
    empty = amounts.sum(axis=2) <= 0
    order = np.argsort(empty, axis=1, kind="stable")
    return np.asarray(np.take_along_axis(amounts, order[..., None], axis=1))


def seen(sheet: Paper, amounts: Floats) -> Floats:
    """Reflectance (n, 36) of stacks (n, layers, 13), the first layer lowest."""
    out = np.empty((len(amounts), len(sheet.seen)))
    packed = _packed(amounts)
    coats = (packed.sum(axis=2) > 0).sum(axis=1)
    out[coats == 0] = sheet.seen
    for count in range(1, amounts.shape[1] + 1):
        own = coats == count
        if own.any():
            layers = [packed[own, layer][:, None, :] for layer in range(count)]
            out[own] = stack(pigments(), sheet, layers)[:, 0]
    return out


@dataclass(frozen=True, eq=False)
class Table:
    """Stacks a little thinner and thicker. spectra: (stacks, points, 36); inverse: (terms,
    points) from logarithms at the points to the terms of a quadratic in the layers.
    """

    spectra: Floats
    inverse: Floats

    def colours(
        self, weights: Floats, number: NDArray[np.int32], times: NDArray[np.float32]
    ) -> Pixels:
        """(rows, cols, 3) linear colours. weights: (36, 3) of the spectrum; number: (rows, cols)
        stack; times: (layers, rows, cols) multiplier of every layer.
        """
        logs = np.log(np.maximum(self.spectra @ weights, 0.0) + FLOOR)
        terms = np.einsum("tp,spc->stc", self.inverse, logs).astype(np.float32)
        out = np.empty((*number.shape, 3), np.float32)
        _fill(terms, number, times, *RANGE, out)
        return np.asarray(np.exp(out) - np.float32(FLOOR))


def _terms(u: Floats) -> Floats:
    """(points, terms) of a quadratic in u (points, layers): 1, u, u², products."""
    n = u.shape[1]
    pairs = [u[:, i] * u[:, j] for i, j in combinations(range(n), 2)]
    return np.stack([np.ones(len(u)), *u.T, *(u**2).T, *pairs], axis=1)


def _points(layers: int) -> Floats:
    """(points, layers) roots of multipliers, less 1, just enough for a quadratic."""
    eye = STEP * np.eye(layers)
    pairs = [eye[i] + eye[j] for i, j in combinations(range(layers), 2)]
    return np.array([np.zeros(layers), *eye, *-eye, *pairs])


def table_of(sheet: Paper, stacks: Floats) -> Table:
    """Table of stacks (n, layers, 13)."""
    u = _points(stacks.shape[1])
    thicker = stacks[:, None] * ((1 + u) ** 2)[None, :, :, None]
    spectra = seen(
        sheet, thicker.reshape(len(stacks) * len(u), -1, len(KEYS)) if u.size else stacks
    )
    return Table(
        spectra.reshape(len(stacks), len(u), -1), np.asarray(np.linalg.inv(_terms(u)), float)
    )


@njit(cache=True, nogil=True)
def _fill(terms, number, times, low, high, out):  # type: ignore[no-untyped-def]
    """Logarithms (rows, cols, 3) of a pixel's stack at its multipliers."""
    layers, rows, cols = times.shape
    u = np.empty(layers, np.float32)
    for y in range(rows):
        for x in range(cols):
            own = terms[number[y, x]]
            for i in range(layers):
                u[i] = min(max(np.sqrt(max(times[i, y, x], 0.0)), low), high) - 1.0
            for c in range(3):
                value = own[0, c]
                at = 1 + 2 * layers
                for i in range(layers):
                    value += u[i] * own[1 + i, c] + u[i] * u[i] * own[1 + layers + i, c]
                for i in range(layers):
                    for j in range(i + 1, layers):
                        value += u[i] * u[j] * own[at, c]
                        at += 1
                out[y, x, c] = value
