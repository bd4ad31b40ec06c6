"""Paints, paper and light laid out for the compiled solver."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import LightName, lab_to_xyz, light
from firstwash.optics.surface import Paper, leave_surface
from firstwash.paints.catalogue import Paint
from firstwash.plan import kernels

__all__ = ["Bench"]

SheetOptics = tuple[FloatArray, FloatArray, float, float, float, float]


@dataclass(frozen=True, eq=False)
class Bench:
    """What the solver mixes with: colours (paints or puddles) on one paper under one light.

    k, s: (colours, bands) optical depth per unit amount; loads: (colours,) share of one
    coat's largest load per unit amount; shares: (colours,) the largest share (0-1] of a
    coat's load that the painter allows each, all 1 if left out.
    """

    k: NDArray[np.float64]
    s: NDArray[np.float64]
    loads: NDArray[np.float64]
    sheet: SheetOptics
    weights: NDArray[np.float64]
    white: NDArray[np.float64]
    shares: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        """Where no shares are given, none is limited."""
        if not len(self.shares):
            object.__setattr__(self, "shares", np.ones(len(self.loads)))

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
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, SheetOptics, FloatArray, FloatArray]:
        """What the fitting kernels take, in order: k, s, loads, shares, sheet, weights, white."""
        return self.k, self.s, self.loads, self.shares, self.sheet, self.weights, self.white

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
        return replace(
            self,
            k=self.k[pick],
            s=self.s[pick],
            loads=self.loads[pick],
            shares=self.shares[pick],
        )

    def limited(self, shares: FloatArray) -> "Bench":
        """The same bench with the largest share (0-1] of a coat allowed to each colour."""
        return replace(self, shares=np.array(shares, dtype=np.float64))

    def makes_whole(self, used: NDArray[np.int64]) -> bool:
        """Whether these colours may fill a coat by themselves, by their largest shares."""
        return float(self.shares[used].sum()) >= 1.0

    def least(self, used: NDArray[np.int64], worth: FloatArray) -> int:
        """Which of the used colours to take out first: the least worth (colours,).

        Those without which the rest could not fill a coat go last.
        """
        needed = np.array([not self.makes_whole(used[used != p]) for p in used])
        return int(used[np.lexsort((worth[used], needed))[0]])

    def allowed_mix(self, recipe: FloatArray) -> NDArray[np.float64]:
        """The nearest recipe (colours,) of amounts with no share above its limit.

        What is over is taken away. Where all its paints are limited to less than a whole
        together, the least limited colour of the bench fills up, so there should be one free.
        """
        loads = recipe * self.loads
        total = float(loads.sum())
        held = np.zeros(len(loads), dtype=np.bool_)  # those that stand at their limit
        while (over := (loads > self.shares * total * (1.0 + 1e-12)) & ~held).any():
            held |= over
            left = 1.0 - float(self.shares[held].sum())
            free = float(loads[~held].sum())
            if left <= 1e-9 or free <= 0.0:
                total = float((recipe * self.loads).sum())
                loads = np.minimum(recipe * self.loads, self.shares * total)
                loads[int(np.argmax(self.shares))] += total - float(loads.sum())
                break
            total = free / left
            loads[held] = self.shares[held] * total
        return np.asarray(loads / self.loads)

    def visible_depth(self) -> NDArray[np.float64]:
        """Optical depth (colours,) of a full coat as the eye weighs it.

        The mean of the depths that X, Y and Z see, so that a yellow, which takes away only
        blue, counts too. A coat of one unit dries to L* 42 (violets) to 73 (earths).
        """
        seen = (self.weights.clip(0.0) / self.weights.clip(0.0).sum(axis=0)).mean(axis=1)
        return np.asarray((self.k + self.s) @ seen / self.loads)

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
            self.shares,
        )

    def depth_of(self, lab: FloatArray) -> NDArray[np.float64]:
        """Visible depth (n,) that CIELAB colours (n, 3) need over the bare paper, at least 0.

        Light passes an absorbing coat twice: the mean over X, Y, Z of ln(paper / colour) / 2.
        """
        xyz = np.maximum(lab_to_xyz(lab), 1e-3)
        return np.asarray(np.log(self.white_xyz() / xyz).mean(axis=1).clip(0.0) / 2.0)

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

    def saving(self, coats: int) -> NDArray[np.float64]:
        """Prices (coats, colours) where paint costs no more than keeps idle paint away."""
        return np.full((coats, self.colours), kernels.SAVING)

    def cost(
        self,
        amounts: FloatArray,
        aims: FloatArray,
        cap: float = 0.0,
        prices: FloatArray | None = None,
    ) -> float:
        """Weighted squared CIEDE2000 of a stack against aims (n, 5): coats, L*, a*, b*, weight.

        prices (coats, colours): squared CIEDE2000 per full coat; `saving` if left out.
        """
        asked = self.saving(len(amounts)) if prices is None else prices
        return float(kernels.stack_cost(amounts, asked, *self.arrays, aims, cap))

    def fit(
        self,
        amounts: FloatArray,
        aims: FloatArray,
        cap: float = 0.0,
        allowed: BoolArray | None = None,
        rounds: int = 40,
        prices: FloatArray | None = None,
    ) -> tuple[NDArray[np.float64], float]:
        """The best amounts near `amounts` (coats, colours) for the aims, and their cost.

        prices (coats, colours): as in `cost`.
        """
        found = np.array(amounts, dtype=np.float64, order="C")
        open_ = np.ones(found.shape, dtype=np.bool_) if allowed is None else allowed
        cost = kernels.fit_stack(
            found,
            open_,
            self.saving(len(found)) if prices is None else prices,
            *self.arrays,
            aims,
            cap,
            rounds,
        )
        return found, float(cost)
