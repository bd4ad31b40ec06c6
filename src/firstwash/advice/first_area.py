"""The area a first wash is wanted for: its colours, its neighbours, what paint reaches."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_laying import Palette, Patch
from firstwash.advice.first_tints import palest_of
from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.stacks import STARTS

__all__ = ["Area", "Neighbour", "one_coat"]


@dataclass(frozen=True, eq=False)
class Neighbour:
    """The first wash beside an area: CIELAB (3,) when dry, mm of border that is not hard."""

    lab: NDArray[np.float64]
    open_mm: float
    amounts: NDArray[np.float64] | None = None
    puddle: int | None = None
    strength: float | None = None


@dataclass(frozen=True, eq=False)
class Area:
    """Where a first wash is wanted.

    patches: its shapes, shares summing to 1; mm2; sigma: how far the hand errs; palest: CIELAB
    (3,) of the palest tint to be seen, None where all is paper.
    """

    palette: Palette
    patches: tuple[Patch, ...]
    mm2: float
    sigma: float
    neighbours: tuple[Neighbour, ...] = ()
    looked: NDArray[np.float64] | None = field(default=None, repr=False)

    @cached_property
    def palest(self) -> NDArray[np.float64] | None:
        """The palest tint."""
        return palest_of(self.palette, self.patches) if self.looked is None else self.looked

    @cached_property
    def aims(self) -> NDArray[np.float64]:
        """(n, 3) every colour, patch by patch."""
        return np.vstack([p.aims for p in self.patches])

    @cached_property
    def share(self) -> NDArray[np.float64]:
        """(n,) its share of the area."""
        return np.concatenate([p.share for p in self.patches])

    @cached_property
    def cells(self) -> NDArray[np.int64]:
        """(n,) where it comes from."""
        return np.concatenate([p.cells for p in self.patches])

    @cached_property
    def darkest(self) -> float:
        """L* of the darkest colour."""
        return float(self.aims[:, 0].min())

    @cached_property
    def in_reach(self) -> NDArray[np.float64]:
        """CIEDE2000 (n,) that a single coat on bare paper, or none, misses every colour by."""
        to_paper = delta_e_2000(self.aims, self.palette.paper)
        one = np.array([one_coat(self.palette, aim, None) for aim in self.aims])
        return np.asarray(np.minimum(to_paper, one))


def one_coat(palette: Palette, aim: FloatArray, wash: FloatArray | None) -> float:
    """CIEDE2000 that the best single coat misses a colour by, over a wash or on the paper."""
    bench = palette.bench
    n = 1 + (wash is not None)
    free = np.ones((n, bench.colours), dtype=np.bool_)
    rows = np.array([[float(n), *aim, 1.0]])
    least = np.inf
    for start in STARTS:
        first = np.full((n, bench.colours), start)
        if wash is not None:
            first[0], free[0] = wash, False
        found, _ = bench.fit(first, rows, 0.0, free)
        least = min(least, float(delta_e_2000(bench.labs(found)[-1], aim)))
    return least
