"""The lay-in: a few large washes for the whole first layer, and colours dropped into them wet.

The first layer is one wet passage over the sheet, not a patchwork. So shapes that meet along
a soft edge share their first wash unless the picture gains more than `SEAM_PRICE` by parting
them, and a wash that runs softly into a larger one is a second colour, dropped into that one
while it is wet.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.picture.edges import HARD, Edges
from firstwash.picture.shapes import Cells
from firstwash.plan.stacks import Stack

__all__ = ["calm_first_washes", "dropped_into", "open_borders"]

SEAM_PRICE = 3.0  # squared CIEDE2000 × mm² that a mm of seam between two first washes must earn
DROP_LENGTH_MM = 12.0  # of open border at least, for a colour to be dropped into its neighbour
DROP_SHARE = 0.08  # of its own border at least, that is open to that neighbour


def open_borders(cells: Cells, edges: Edges) -> NDArray[np.float64]:
    """Length in mm (shapes, shapes) of the borders between two shapes that are not hard."""
    out = np.zeros((cells.shapes, cells.shapes))
    a, b = cells.shape_of[edges.cells[:, 0]], cells.shape_of[edges.cells[:, 1]]
    use = (edges.kind != HARD) & (a != b)
    np.add.at(out, (a[use], b[use]), edges.length_mm[use])
    return np.asarray(out + out.T)


def calm_first_washes(
    stacks: Sequence[Stack],
    wash_of: Sequence[NDArray[np.int64]],
    tables: Sequence[FloatArray],
    usable: BoolArray,
    open_mm: FloatArray,
    sweeps: int = 3,
) -> bool:
    """Let first coats take their neighbours' wash where that costs little; says if any did.

    tables: per stack (coats, washes + 1) cost of every choice, mean squared CIEDE2000;
    wash_of is changed in place. Choices are made one shape at a time, in order, until none
    changes (iterated conditional modes [Besag1986]).
    """
    first = {
        stack.shape: i
        for i, stack in enumerate(stacks)
        if len(stack.layers) and stack.layers[0] == 0 and wash_of[i][0] >= 0
    }
    shapes = sorted(first)
    changed = False
    for _ in range(sweeps):
        moved = False
        for shape in shapes:
            i = first[shape]
            cost = stacks[i].area * np.where(usable, tables[i][0, :-1], np.inf)
            seams = np.zeros(len(cost))
            for other in shapes:
                if other != shape and open_mm[shape, other] > 0.0:
                    seams += SEAM_PRICE * open_mm[shape, other]
                    seams[wash_of[first[other]][0]] -= SEAM_PRICE * open_mm[shape, other]
            best = int(np.argmin(cost + seams))
            if best != wash_of[i][0] and np.isfinite(cost[best]):
                wash_of[i][0] = best
                moved = changed = True
        if not moved:
            break
    return changed


def dropped_into(
    members: Sequence[NDArray[np.int64]], areas: Sequence[float], edges: Edges, cells: int
) -> list[int | None]:
    """For each first wash the one it is dropped into while that is wet, or None.

    members: cells of each wash; areas: mm². Every wash takes at most one second colour, and
    none that is itself dropped in.
    """
    owner = np.full(cells, -1, dtype=np.int64)
    for w, own in enumerate(members):
        owner[own] = w
    n = len(members)
    open_mm, border = np.zeros((n, n)), np.zeros(n)
    a, b = owner[edges.cells[:, 0]], owner[edges.cells[:, 1]]
    for one, two in ((a, b), (b, a)):
        seen = (one >= 0) & (one != two)
        np.add.at(border, one[seen], edges.length_mm[seen])
        soft = seen & (two >= 0) & (edges.kind != HARD)
        np.add.at(open_mm, (one[soft], two[soft]), edges.length_mm[soft])
    share = open_mm / np.maximum(border, 1e-9)[:, None]
    chosen: list[int | None] = [None] * n
    taken = np.zeros(n, dtype=np.bool_)
    for flat in np.argsort(-share, axis=None, kind="stable").tolist():
        second, host = divmod(flat, n)
        if share[second, host] < DROP_SHARE:
            break
        fits = open_mm[second, host] >= DROP_LENGTH_MM and areas[second] <= areas[host]
        if fits and not taken[second] and not taken[host]:
            chosen[second] = host
            taken[[second, host]] = True
    return chosen
