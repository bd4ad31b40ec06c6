"""What every mixture of up to three paints makes of every colour of the picture: a table.

A palette's score then is a matter of looking up: each colour takes the best mixture whose
paints are all on the palette. Three paints and water are enough: three amounts meet three
numbers of a colour, and where no mixture reaches it the nearest lies on the rim of what
can be reached, which two paints span (docs/decisions/0006-palette.md has the figures).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, permutations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.parallel import in_parallel
from firstwash.plan import palette_kernels, palette_search
from firstwash.plan.bench import Bench
from firstwash.plan.kernels import SAVING, fit_stack

__all__ = ["STACKED", "CostTable", "mend", "price_mixtures", "thick"]

STACKED = 4.0  # coats that a single mixed patch stands for when paints are compared
ROUNDS = 12  # of the solver per mixture; nearly all end after four
MEND_ROUNDS = 20  # of the solver for all paints of a palette
MEND_STARTS = np.array([2e-3, 5e-2])  # full coats of each of them
WELL = 0.1  # CIEDE2000: a colour met so well by a palette is not looked at again
STARTS = np.array([1e-3, 1e-2, 0.1, 1.0])  # full coats a single paint is tried from


def thick(bench: Bench) -> Bench:
    """The bench with room for several coats' worth of paint in one."""
    return replace(bench, loads=bench.loads / STACKED)


def mixtures_of(paints: int, late: int, triples: bool = True) -> NDArray[np.int64]:
    """Paints of every mixture (n, 3) in the table's order; smaller ones repeat the last paint.

    late: of the paints from this index on no two meet.
    """
    rows = [(p, p, p) for p in range(paints)]
    rows += [(a, b, b) for a, b in combinations(range(paints), 2) if a < late]
    if triples:
        rows += [(a, b, c) for a, b, c in combinations(range(paints), 3) if b < late]
    return np.array(rows, dtype=np.int64).reshape(-1, 3)


@dataclass(frozen=True, eq=False)
class CostTable:
    """CIEDE2000 from each colour of the best thick patch of each mixture.

    paints: how many there are. mixtures (n, 3): their paints, rising, smaller mixtures
    repeating the last. cost (colours, n); weights (colours,), summing to 1.
    Holds: no mixture costs more than a part of it.
    """

    paints: int
    mixtures: NDArray[np.int64]
    cost: NDArray[np.float64]
    weights: NDArray[np.float64]

    @cached_property
    def place(self) -> NDArray[np.int64]:
        """Column (paints, paints, paints) of the mixture of three paints, -1 for none.

        In any order; a pair is found with either of its paints named twice.
        """
        out = np.full((self.paints,) * 3, -1, dtype=np.int64)
        a, b, c = self.mixtures.T
        for named in ((a, b, c), (a, a, c)):  # the second spelling is for pairs
            fits = (named[1] == b) | (b == c)
            for x, y, z in permutations(named):
                out[x[fits], y[fits], z[fits]] = np.flatnonzero(fits)
        return out

    @cached_property
    def weighted(self) -> NDArray[np.float64]:
        """Each mixture's share (n, colours) of a score."""
        return np.ascontiguousarray((self.cost * self.weights[:, None]).T)

    def score(self, chosen: Sequence[int]) -> float:
        """Weighted mean CIEDE2000 of the colours, each with the best mixture of these paints."""
        return float(palette_search.score(self.weighted, self.place, np.array(chosen, np.int64)))

    def only(self, paints: Sequence[int]) -> "CostTable":
        """The table for just these paints, renumbered in their order, which must rise."""
        new = np.full(self.paints, -1, dtype=np.int64)
        new[list(paints)] = np.arange(len(paints))
        keep = (new[self.mixtures] >= 0).all(axis=1)
        return CostTable(
            len(paints), new[self.mixtures[keep]], self.cost[:, keep].copy(), self.weights
        )


def price_mixtures(
    bench: Bench,
    targets: FloatArray,
    weights: FloatArray,
    late: int | None = None,
    triples: bool = True,
) -> CostTable:
    """The table for a bench: all its paints, or those from index `late` on one at a time.

    targets (n, 3) CIELAB, weights (n,), not negative, of any positive sum. All 36 bands.
    Raises ValueError for anything else.
    """
    aims, shares = _checked(targets, weights)
    paints = bench.colours
    alone_from = paints if late is None else late
    mixtures = mixtures_of(paints, alone_from, triples)
    cost = np.empty((len(aims), len(mixtures)))
    arrays = thick(bench).arrays

    def row(i: int) -> None:
        palette_kernels.price_target(aims[i], arrays, STARTS, ROUNDS, alone_from, triples, cost[i])

    in_parallel(row, range(len(aims)))
    return CostTable(paints, mixtures, cost, shares)


def mend(
    table: CostTable, bench: Bench, targets: FloatArray, palettes: Sequence[Sequence[int]]
) -> CostTable:
    """The table with lower costs where these palettes, mixed from all their paints, show so.

    bench, targets: what the table was made from. palettes: of one size, at least three.
    The fits of a mixture may end in a dead end; those of a whole palette seldom do, for it
    has more ways out.
    """
    aims = as_float(targets)
    cost = table.cost.copy()
    arrays, chosen = thick(bench).arrays, np.sort(np.array(palettes, dtype=np.int64), axis=1)

    def row(i: int) -> None:
        _mend_row(aims[i], arrays, chosen, table.place, cost[i])

    in_parallel(row, range(len(aims)))
    return replace(table, cost=cost)


def _mend_row(
    target: FloatArray,
    arrays: tuple[Any, ...],
    palettes: NDArray[np.int64],
    place: NDArray[np.int64],
    costs: NDArray[np.float64],
) -> None:
    """Lower costs (mixtures,) of a target (3,) where a palette's paints all together do better.

    Its loops are Python's: as one kernel with the whole solver inside it took as long to compile
    as all else of the palette's choice.
    """
    k, s, loads, shares, sheet, weights, white = arrays
    n = palettes.shape[1]
    aims = np.array([[1.0, *target, 1.0]])
    allowed, prices = np.ones((1, n), dtype=np.bool_), np.full((1, n), SAVING)
    for palette in palettes:
        own = (k[palette], s[palette], loads[palette], shares[palette])
        for start in MEND_STARTS:
            if palette_kernels.best_of(palette, place, costs) <= WELL:
                break
            amounts = np.full((1, n), start)
            fit_stack(amounts, allowed, prices, *own, sheet, weights, white, aims, 0.0, MEND_ROUNDS)
            palette_kernels.mend_by_three(
                target, arrays, palette, place, amounts[0], MEND_ROUNDS, costs
            )


def _checked(
    targets: FloatArray, weights: FloatArray
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    aims, given = as_float(targets), as_float(weights)
    check_last_axis(aims, 3, "targets")
    if aims.ndim != 2 or not len(aims) or given.shape != (len(aims),):
        raise ValueError("targets must be (n, 3) with n ≥ 1, weights (n,)")
    if not (np.isfinite(aims).all() and np.isfinite(given).all()) or (given < 0).any():
        raise ValueError("targets and weights must be finite, weights not negative")
    if not given.sum() > 0:
        raise ValueError("some weight must be positive")
    return aims, given / given.sum()
