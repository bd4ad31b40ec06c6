"""From coats per cell to paint per pixel: washes as fields of paint with soft edges.

In every layer each paint is a field, its amount on the sheet. It is even inside a cell and
runs over into the next cell as softly as the picture's edge there is; across hard edges it
stops. The first layer is laid wet-in-wet, so there whatever is not hard runs at least
`LAY_IN_MM` wide. What a pixel shows follows from the paint that lies on it.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.kubelka import over_1, slab_1
from firstwash.optics.stack import first_coat_1, seen_xyz
from firstwash.parallel import in_parallel
from firstwash.picture.edges import Edges
from firstwash.plan.bench import Bench

__all__ = ["LAY_IN_MM", "SOAKED_DEPTH", "amounts_by_cell", "paint_amounts", "paint_fields"]

LAY_IN_MM = 3.0  # σ at least of what runs together in the first wash; common practice, no source
SOAKED_DEPTH = 0.002  # mean optical depth, hardly visible, that fills the paper; less, in part
SAME = 1e-4  # relative difference of amounts below which a pixel looks like its cell
CHUNKS = 16

Coats = tuple[tuple[int, int, float], ...]


def amounts_by_cell(coats: tuple[Coats, ...], recipes: FloatArray, layers: int) -> FloatArray:
    """Amount (cells, layers, paints) of every paint in every layer of each cell.

    coats: per cell (layer 1 …, puddle, strength); recipes: (puddles, paints).
    """
    out = np.zeros((len(coats), layers, recipes.shape[1]))
    for cell, own in enumerate(coats):
        for layer, puddle, strength in own:
            out[cell, layer - 1] += strength * recipes[puddle]
    return out


@njit(cache=True, nogil=True)
def _paint(amounts, k, s, sheet, weights, out):  # type: ignore[no-untyped-def]
    """XYZ (n, layers + 1, 3) of amounts (n, layers, paints) of paint laid layer by layer."""
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    n, layers, paints = amounts.shape
    bands = ground.size
    inside = np.empty(bands)
    xyz = np.empty(3)
    kx = np.empty(bands)
    sx = np.empty(bands)
    for q in range(n):
        before = 0.0
        inside[:] = ground
        for layer in range(layers + 1):
            depth = 0.0
            if layer > 0:
                kx[:] = 0.0
                sx[:] = 0.0
                for p in range(paints):
                    a = amounts[q, layer - 1, p]
                    if a > 0.0:
                        for b in range(bands):
                            kx[b] += a * k[p, b]
                            sx[b] += a * s[p, b]
                for b in range(bands):
                    depth += (kx[b] + sx[b]) / bands
                if depth <= 1e-9:
                    out[q, layer] = out[q, layer - 1]
                    continue
                thirst = max(1.0 - before / SOAKED_DEPTH, 0.0)
                for b in range(bands):
                    seen = 0.0
                    if thirst < 1.0:
                        r, t = slab_1(kx[b], sx[b])
                        seen += (1.0 - thirst) * over_1(r, t, inside[b])
                    if thirst > 0.0:
                        seen += thirst * first_coat_1(
                            kx[b], sx[b], inside[b], soak, fibre_k[b], fibre_s
                        )
                    inside[b] = seen
                before += depth
            seen_xyz(inside, k1, k2, weights, xyz)
            for c in range(3):
                out[q, layer, c] = xyz[c]


def paint_amounts(bench: Bench, amounts: FloatArray) -> NDArray[np.float64]:
    """XYZ (n, layers + 1, 3) of the bare sheet and after each layer.

    amounts: (n, layers, paints) ≥ 0. The first coat on bare paper sinks in; paper that holds
    a trace of paint already takes in only the rest, so that a wash may fade out to nothing
    without a step.
    """
    out = np.empty((amounts.shape[0], amounts.shape[1] + 1, 3))
    whole = np.ascontiguousarray(amounts, dtype=np.float64)
    parts = [slice(*ends) for ends in _chunks(len(whole))]

    def work(part: slice) -> None:
        _paint(whole[part], bench.k, bench.s, bench.sheet, bench.weights, out[part])

    in_parallel(work, parts)
    return out


def _chunks(count: int) -> list[tuple[int, int]]:
    ends = np.linspace(0, count, CHUNKS + 1).astype(int)
    return list(zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True))


@njit(cache=True, nogil=True)
def _differs(spread, amounts, index, out):  # type: ignore[no-untyped-def]
    """Whether what lies on a pixel (rows, cols, layers, paints) differs from what its cell got."""
    rows, cols, layers, paints = spread.shape
    for y in range(rows):
        for x in range(cols):
            plain = amounts[index[y, x]]
            scale, far = np.float32(1e-6), np.float32(0.0)
            for n in range(layers):
                for p in range(paints):
                    scale = max(scale, plain[n, p])
                    far = max(far, abs(spread[y, x, n, p] - plain[n, p]))
            out[y, x] = far > SAME * scale


@dataclass(frozen=True, eq=False)
class _Field:
    index: IntArray
    amounts: FloatArray  # (cells, layers, paints)


def _spread(field: _Field, edges: Edges) -> NDArray[np.float32]:
    """Amounts (rows, cols, layers, paints) with their edges softened."""
    rows, cols = field.index.shape
    _, layers, paints = field.amounts.shape
    flat = np.asarray(field.amounts, dtype=np.float32)
    first = edges.spread(flat[:, 0][field.index], LAY_IN_MM)
    rest = edges.spread(flat[:, 1:].reshape(len(flat), -1)[field.index])
    joined = [first[..., None, :], rest.reshape(rows, cols, layers - 1, paints)]
    return np.concatenate(joined, axis=2)


def paint_fields(
    bench: Bench, index: IntArray, amounts: FloatArray, edges: Edges
) -> NDArray[np.float32]:
    """XYZ (layers + 1, rows, cols, 3) of the sheet after 0, 1, … layers, with soft edges.

    index: (rows, cols) cells; amounts: (cells, layers, paints).
    """
    spread = _spread(_Field(index, amounts), edges)
    mixed = np.empty(index.shape, dtype=np.bool_)
    _differs(spread, np.asarray(amounts, dtype=np.float32), index, mixed)
    out = paint_amounts(bench, amounts).astype(np.float32)[index]
    out[mixed] = paint_amounts(bench, spread[mixed])
    return np.ascontiguousarray(np.moveaxis(out, 2, 0))
