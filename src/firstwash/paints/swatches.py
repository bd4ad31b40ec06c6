"""Painted swatches as data: what was laid, as far as it is known, and how it was seen.

A swatch is a stack of coats on a ground; a part is one paint in one coat of one swatch. A
painter's amounts are never exact, so the logarithm of a part's amount is

    ln amount = ln nominal + slips @ u

with u independent standard normal numbers, one per slip of the hand: a cup that came out too
weak makes all that was laid from it too weak, and each laying has a slip of its own.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.grid import N_BANDS

__all__ = ["Part", "SwatchData", "gather"]

Slips = Mapping[Hashable, float]


@dataclass(frozen=True)
class Part:
    """One paint in one coat of one swatch; slips: by name, how much each moves ln amount."""

    swatch: int
    coat: int
    paint: int
    amount: float
    slips: Slips


@dataclass(frozen=True, eq=False)
class SwatchData:
    """Parts of all swatches as arrays.

    swatch, coat, paint: (parts,) indices. log_amount: (parts,) nominal. slips: (parts, u).
    swatches, coats, paints: how many there are. ground: (swatches, 36) seen from outside, or
    None where all lie on bare paper.
    """

    swatch: IntArray
    coat: IntArray
    paint: IntArray
    log_amount: NDArray[np.float64]
    slips: NDArray[np.float64]
    swatches: int
    coats: int
    paints: int
    ground: NDArray[np.float64] | None = None

    @property
    def n_slips(self) -> int:
        """How many slips there are."""
        return int(self.slips.shape[1])

    def amounts(self, u: FloatArray) -> NDArray[np.float64]:
        """(parts,) amounts for slips u (n_slips,)."""
        return np.asarray(np.exp(self.log_amount + self.slips @ u))

    def depths(
        self, k: FloatArray, s: FloatArray, amounts: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """KX, SX (swatches, coats, 36) for curves (paints, 36) and amounts (parts,)."""
        out = np.zeros((2, self.swatches, self.coats, N_BANDS))
        at = (self.swatch, self.coat)
        np.add.at(out[0], at, amounts[:, None] * k[self.paint])
        np.add.at(out[1], at, amounts[:, None] * s[self.paint])
        return out[0], out[1]


def gather(
    parts: Sequence[Part], swatches: int, paints: int, ground: FloatArray | None = None
) -> SwatchData:
    """The arrays of these parts; slips of one name are one slip."""
    names = list(dict.fromkeys(name for part in parts for name in part.slips))
    column = {name: i for i, name in enumerate(names)}
    slips = np.zeros((len(parts), len(names)))
    for i, part in enumerate(parts):
        for name, size in part.slips.items():
            slips[i, column[name]] = size
    numbers = np.array([(p.swatch, p.coat, p.paint) for p in parts], dtype=np.int64).reshape(-1, 3)
    return SwatchData(
        numbers[:, 0], numbers[:, 1], numbers[:, 2],
        np.log([p.amount for p in parts]), slips, swatches,
        1 + max((p.coat for p in parts), default=0), paints,
        None if ground is None else np.asarray(ground, dtype=np.float64),
    )  # fmt: skip
