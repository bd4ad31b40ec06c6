"""What the solver may not change: coats already decided, recipes already mixed.

Both are told in the solver's own terms, stacks and rows of recipes; what a painter locks is in
`firstwash.plan.locks`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray

__all__ = ["FREE", "HeldCoats", "RecipeRules"]

FREE = -1


@dataclass(frozen=True, eq=False)
class HeldCoats:
    """Decided coats of a stack: (coats,) index of the kept recipe, `FREE` for open ones; and
    their strengths.
    """

    puddle: NDArray[np.int64]
    strength: NDArray[np.float64]

    @property
    def mask(self) -> NDArray[np.bool_]:
        """(coats,) which are decided."""
        return np.asarray(self.puddle != FREE)

    def only(self, keep: BoolArray) -> "HeldCoats":
        """Those of the coats that are left."""
        return HeldCoats(self.puddle[keep], self.strength[keep])

    def put(self, puddles: IntArray, strengths: FloatArray) -> None:
        """Write the decided coats over (coats,) arrays of kept recipes and strengths."""
        puddles[self.mask] = self.puddle[self.mask]
        strengths[self.mask] = self.strength[self.mask]


@dataclass(frozen=True, eq=False)
class RecipeRules:
    """Which recipes stay.

    kept: how many rows, the first ones, are never given up. fixed: (recipes,) those that do
    not change at all. must: (recipes, colours) colours a recipe keeps some of.
    """

    kept: int
    fixed: NDArray[np.bool_]
    must: NDArray[np.bool_]

    def more(self, count: int) -> "RecipeRules":
        """The rules when `count` free recipes follow."""
        return RecipeRules(
            self.kept,
            np.append(self.fixed, np.zeros(count, dtype=np.bool_)),
            np.vstack([self.must, np.zeros((count, self.must.shape[1]), dtype=np.bool_)]),
        )

    def only(self, used: IntArray) -> "RecipeRules":
        """The rules of the recipes that are left, in rising order."""
        return RecipeRules(int((used < self.kept).sum()), self.fixed[used], self.must[used])
