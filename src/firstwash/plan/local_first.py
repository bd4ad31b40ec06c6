"""First washes that go by an object's own colour where the picture shows it only in shadow.

A shape that is dark all over gets a pale lead-in under its glazes. What the photo shows there is
the object's colour with the shadow's in it. Painters lay the object's own colour first, light and
shadow alike, and glaze the shadow over it (common practice, no source). The split of the picture
into local colour and light says what that colour is, and how sure it is; where it is unsure the
photo's own colour counts, as it does without a split.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.light.split import LightSplit
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.parallel import in_parallel
from firstwash.picture.shapes import Cells
from firstwash.plan.bench import Bench
from firstwash.plan.stacks import (
    FIRST_WASH_LIGHTNESS,
    LEAD_IN_WEIGHT,
    Stack,
    lead_in,
    solve_stack,
)

__all__ = ["LocalFirst", "OwnColours", "TintChange", "compared", "own_colours"]

# Own judgement; no source. SURE: from where the split's word begins to count, and counts in full.
SURE = (0.5, 0.8)
CHANGED = 2.0  # CIEDE2000 between two first washes below which nobody would mix another
MOST_COMPARED = 24  # areas worked out both ways, the largest first


@dataclass(frozen=True, eq=False)
class OwnColours:
    """Objects' own colours as the picture's light shows them.

    labs: (n_shapes, 3) CIELAB of each shape as if it lay in the light; sure: (n_shapes,) 0-1.
    """

    labs: NDArray[np.float64]
    sure: NDArray[np.float64]

    def lead_in(self, shape: int, lab: FloatArray) -> NDArray[np.float64]:
        """The pale tint (3,) laid first under a shape whose lightest colour is lab (3,).

        The seen colour's own, unless the object's is another by as much as one would mix anew.
        """
        seen, own = lead_in(lab), lead_in(self.labs[shape])
        counts = float(np.clip((self.sure[shape] - SURE[0]) / (SURE[1] - SURE[0]), 0.0, 1.0))
        tint = np.asarray(seen + counts * (own - seen))
        return tint if float(delta_e_2000(tint, seen)) >= CHANGED else seen


@dataclass(frozen=True)
class TintChange:
    """One area whose first wash is another one because of the split.

    area_mm2; sure: 0-1. tint_with, tint_without: CIELAB of the first wash when dry, worked out
    for the area alone. error_with, error_without: root mean square CIEDE2000 of the area's
    colours in the end.
    """

    shape: int
    area_mm2: float
    sure: float
    tint_with: tuple[float, float, float]
    tint_without: tuple[float, float, float]
    error_with: float
    error_without: float


@dataclass(frozen=True)
class LocalFirst:
    """What the split of light and local colour changes: the 24 largest areas at most, in order.

    share: of the sheet, 0-1, that those areas take.
    """

    changes: tuple[TintChange, ...]
    share: float


def own_colours(split: LightSplit, shapes: IntArray) -> OwnColours:
    """Each shape's local colour in the light that falls on what is lit; shapes: (rows, cols)."""
    flat = shapes.ravel()
    sizes = np.maximum(np.bincount(flat), 1)
    local = [np.bincount(flat, split.local[..., c].ravel()) / sizes for c in range(3)]
    # Lighter than paper no wash can be.
    seen = np.clip(np.column_stack(local) * split.key(), 0.0, 1.0)
    sure = np.bincount(flat, split.sure.ravel()) / sizes
    return OwnColours(xyz_to_lab(linear_srgb_to_xyz(seen)), np.asarray(sure))


def compared(
    bench: Bench, cells: Cells, aims: FloatArray, own: OwnColours, layers: int,
    shapes: Sequence[int],
) -> LocalFirst:  # fmt: skip
    """With and without: first washes and what is left of the error, area by area.

    aims: (n_cells, 3); shapes: those that are painted and free to change.
    """
    areas = cells.areas_mm2()
    found = []
    for shape in shapes:
        cell = int(np.flatnonzero(cells.shape_of == shape)[0])
        if aims[cell][0] < FIRST_WASH_LIGHTNESS:
            without = lead_in(aims[cell])
            if float(delta_e_2000(own.lead_in(shape, aims[cell]), without)) >= CHANGED:
                found.append(shape)
    size = {s: float(areas[cells.shape_of == s].sum()) for s in found}
    found.sort(key=lambda s: (-size[s], s))

    def both_ways(shape: int) -> TintChange:
        own_cells = np.flatnonzero(cells.shape_of == shape)
        wanted = (bench, shape, own_cells, aims[own_cells], areas[own_cells], layers)
        first = own.lead_in(shape, aims[own_cells[0]])
        with_it, without = solve_stack(*wanted, first=first), solve_stack(*wanted)
        return TintChange(
            shape, size[shape], float(own.sure[shape]),
            _tint(bench, with_it), _tint(bench, without),
            _left(bench, with_it), _left(bench, without),
        )  # fmt: skip

    told = found[:MOST_COMPARED]
    changes = in_parallel(both_ways, told)
    return LocalFirst(tuple(changes), sum(size[s] for s in told) / float(areas.sum()))


def _tint(bench: Bench, stack: Stack) -> tuple[float, float, float]:
    """CIELAB of a stack's first coat when it is dry."""
    lightness, a, b = bench.labs(stack.amounts[:1])[-1].tolist()
    return lightness, a, b


def _left(bench: Bench, stack: Stack) -> float:
    """Root mean square CIEDE2000 of the colours a stack is to show, lead-ins not counted."""
    shown = stack.aims[(stack.aims[:, 4] != LEAD_IN_WEIGHT) & (stack.aims[:, 0] > 0)]
    labs = bench.labs(stack.amounts)[shown[:, 0].astype(np.int64)]
    weight = shown[:, 4] / shown[:, 4].sum()
    return float(np.sqrt(weight @ delta_e_2000(labs, shown[:, 1:4]) ** 2))
