"""Paints, paper and light laid out for the compiled solver."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import LightName, light
from firstwash.optics.surface import Paper, leave_surface
from firstwash.paints.catalogue import Paint
from firstwash.plan import kernels

__all__ = ["Bench"]

SheetOptics = tuple[FloatArray, FloatArray, float, float, float, float]


@dataclass(frozen=True, eq=False)
class Bench:
    """What the solver mixes with: colours (paints or puddles) on one paper under one light.

    k, s: (colours, bands) optical depth per unit amount; loads: (colours,) share of one
    coat's largest load per unit amount.
    """

    k: NDArray[np.float64]
    s: NDArray[np.float64]
    loads: NDArray[np.float64]
    sheet: SheetOptics
    weights: NDArray[np.float64]
    white: NDArray[np.float64]

    @classmethod
    def of(cls, paints: Sequence[Paint], paper: Paper, under: LightName = "D65") -> "Bench":
        """The bench for these paints on this paper."""
        lamp = light(under)
        sheet = (
            np.array(paper.inside),
            np.array(paper.fibre_absorption),
            float(paper.soak),
            float(paper.fibre_scattering),
            float(paper.k1),
            float(paper.k2),
        )
        return cls(
            k=np.array([p.k for p in paints]).reshape(-1, N_BANDS),
            s=np.array([p.s for p in paints]).reshape(-1, N_BANDS),
            loads=np.array([1.0 / p.full_coat for p in paints]),
            sheet=sheet,
            weights=np.array(lamp.weights),
            white=np.array(lamp.white),
        )

    @property
    def arrays(
        self,
    ) -> tuple[FloatArray, FloatArray, FloatArray, SheetOptics, FloatArray, FloatArray]:
        """What every kernel takes, in its order: k, s, loads, sheet, weights, white."""
        return self.k, self.s, self.loads, self.sheet, self.weights, self.white

    @property
    def colours(self) -> int:
        """How many colours there are to mix."""
        return len(self.loads)

    def white_xyz(self) -> NDArray[np.float64]:
        """XYZ (3,) of the bare paper."""
        ground, _, _, _, k1, k2 = self.sheet
        return np.asarray(leave_surface(ground, k1, k2) @ self.weights)

    def only(self, chosen: Sequence[int]) -> "Bench":
        """The same bench with just these colours, in this order."""
        pick = list(chosen)
        return Bench(
            self.k[pick], self.s[pick], self.loads[pick], self.sheet, self.weights, self.white
        )

    def coarse(self) -> "Bench":
        """The bench on half as many bands, for ranking: neighbouring bands averaged.

        Colours differ from the full bench by a few tenths of CIEDE2000 at most.
        """

        def pairs(values: FloatArray) -> NDArray[np.float64]:
            return np.ascontiguousarray(0.5 * (values[..., 0::2] + values[..., 1::2]))

        ground, fibre, *rest = self.sheet
        return Bench(
            pairs(self.k),
            pairs(self.s),
            self.loads,
            (pairs(ground), pairs(fibre), *rest),  # type: ignore[arg-type]
            np.ascontiguousarray(self.weights[0::2] + self.weights[1::2]),
            self.white,
        )

    def puddles(self, recipes: FloatArray) -> "Bench":
        """Ready mixtures as colours; recipes (puddles, colours) of amounts per unit."""
        return Bench(
            recipes @ self.k,
            recipes @ self.s,
            recipes @ self.loads,
            self.sheet,
            self.weights,
            self.white,
        )

    def labs(self, amounts: FloatArray) -> NDArray[np.float64]:
        """CIELAB (coats + 1, 3) of a stack after 0, 1, … coats; amounts (coats, colours)."""
        out = np.empty((len(amounts) + 1, 3))
        kernels.stack_labs(amounts, self.k, self.s, self.sheet, self.weights, self.white, out)
        return out

    def cost(self, amounts: FloatArray, aims: FloatArray, cap: float = 0.0) -> float:
        """Weighted squared CIEDE2000 of a stack against aims (n, 5): coats, L*, a*, b*, weight."""
        return float(kernels.stack_cost(amounts, *self.arrays, aims, cap))

    def fit(
        self,
        amounts: FloatArray,
        aims: FloatArray,
        cap: float = 0.0,
        allowed: BoolArray | None = None,
        rounds: int = 40,
    ) -> tuple[NDArray[np.float64], float]:
        """The best amounts near `amounts` (coats, colours) for the aims, and their cost."""
        found = np.array(amounts, dtype=np.float64, order="C")
        open_ = np.ones(found.shape, dtype=np.bool_) if allowed is None else allowed
        cost = kernels.fit_stack(
            found,
            open_,
            *self.arrays,
            aims,
            cap,
            rounds,
        )
        return found, float(cost)
