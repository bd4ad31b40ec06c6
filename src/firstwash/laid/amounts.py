"""How much paint lies on the sheet, told from its colours with the plan's paints in mind.

A colour alone fixes neither a spectrum nor the layers under it. The plan says which mixture lies
where and how strong it was meant to be; a hand errs by about `HAND` from wash to wash and less
within one. Paints are not quite as they are known, each in its own few ways (`paints.spread`). And
a phone bends all colours of a photo alike, bare paper apart. All of it is found together, for a
plan has many more areas than paints and phones have ways to err.

Everything is a logarithm of what was laid by what was meant, with a normal prior; the likeliest is
found by Gauss-Newton steps with weights that let odd areas go, and its curvature tells how sure
it is (Laplace's approximation [MacKay2003], chapter 27).
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray, as_float
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import xyz_to_lab
from firstwash.paints.spread import plain_spread
from firstwash.plan.bench import Bench
from firstwash.plan.fields import amounts_by_cell, paint_amounts
from firstwash.plan.result import Plan

__all__ = ["HAND", "Laid", "Prior", "amounts_laid", "wash_of_coat"]

HAND: Final = 0.25  # σ of ln(laid / meant) from wash to wash; an assumption, as in `plan.hands`
WITHIN: Final = 0.15  # σ of the same from area to area of one wash; assumed
PHONE: Final = (0.05, 0.02, 0.07)  # σ of how a phone scales a difference from paper, turns it, and
# bends lightness; assumed, the trials' phones (tools/card_camera.py) mostly do less
NOISE: Final = 3.0  # CIELAB of an area that nothing else explains: its paints' curves, uneven paint
ODD: Final = 4.0  # degrees of freedom of Student's t: heavy tails for what went quite otherwise
STEPS: Final = 12
FURTHEST: Final = 2.5  # |ln(laid / meant)| at most: nothing, or twelve times as much
CLOSE: Final = 2e-3  # change of a logarithm that no longer matters
SLOPE: Final = 0.02  # step of a logarithm for slopes
PAINT_SLOPE: Final = 0.1  # step of a paint's factor for the same
PHONE_TERMS: Final = 10
PAINT_FACTORS: Final = 4  # ways in which each paint may be another than it is known; see `spread`


@dataclass(frozen=True, eq=False)
class Prior:
    """What is expected before the photo: mean and σ (washes,) of ln(laid / meant) by wash; within:
    σ from area to area of one wash.
    """

    mean: NDArray[np.float64]
    sigma: NDArray[np.float64]
    within: float = WITHIN

    @classmethod
    def of_hand(cls, washes: int, bias: float = 0.0, sigma: float = HAND) -> "Prior":
        """The same for every wash."""
        return cls(np.full(washes, bias), np.full(washes, sigma))


@dataclass(frozen=True, eq=False)
class Laid:
    """What lies on the sheet, most likely.

    log_ratio, sigma: (cells, layers) ln(laid / meant) of the coat of each layer, and its standard
    deviation; 0 where there is none. wash_log_ratio, wash_sigma: (washes,) of whole washes, in the
    plan's order; those of later layers as in the prior. phone: (10,) how the photo's colours were
    bent. labs: (cells, 3) CIELAB of the areas with that undone. expected: (cells, 3) CIELAB of what
    is taken to lie there. odd: (cells,) CIELAB units between
    the two.
    """

    log_ratio: NDArray[np.float64]
    sigma: NDArray[np.float64]
    wash_log_ratio: NDArray[np.float64]
    wash_sigma: NDArray[np.float64]
    phone: NDArray[np.float64]
    labs: NDArray[np.float64]
    expected: NDArray[np.float64]

    @property
    def odd(self) -> NDArray[np.float64]:
        """(cells,) distance in CIELAB between what is seen and what is taken to lie there."""
        return np.asarray(np.linalg.norm(self.labs - self.expected, axis=1))


def wash_of_coat(plan: Plan) -> NDArray[np.int64]:
    """(cells, layers) number of the wash in `plan.washes` that each coat is of, −1 for none."""
    out = np.full((plan.cells.count, plan.layers), -1, dtype=np.int64)
    for number, wash in enumerate(plan.washes):
        out[list(wash.cells), wash.layer - 1] = number
    return out


def amounts_laid(
    plan: Plan,
    labs: FloatArray,
    sigmas: FloatArray,
    done: int,
    prior: Prior | None = None,
    phone_known: bool = False,
) -> Laid:
    """What lies on the sheet after `done` layers, from the colour found of every area.

    labs: (cells, 3) CIELAB (D65, bare paper as the plan has it); sigmas: (cells,) CIELAB units by
    which each may be off, infinite where it was not seen. phone_known: whether the colours are
    exact, so that no bend is looked for.
    """
    fit = _Fit(plan, as_float(labs), as_float(sigmas), done, prior, phone_known)
    return fit.solve()


class _Fit:
    """Unknowns in order: the phone's terms, one per wash laid, one per area and layer laid."""

    def __init__(
        self, plan: Plan, labs: NDArray[np.float64], sigmas: NDArray[np.float64], done: int,
        prior: Prior | None, phone_known: bool,
    ) -> None:  # fmt: skip
        self.plan, self.done = plan, done
        self.bench = Bench.of(plan.paints, plan.paper)
        self.white = xyz_to_lab(self.bench.white_xyz())
        self.meant = amounts_by_cell(plan.coats, plan.recipes, plan.layers)[:, :done]
        self.seen = np.isfinite(labs).all(axis=1) & np.isfinite(sigmas) & (sigmas > 0)
        self.labs = np.where(self.seen[:, None], labs, self.white)
        self.sigmas = np.where(self.seen, np.hypot(sigmas, NOISE), np.inf)
        self.prior = prior or Prior.of_hand(len(plan.washes))
        self.wash = wash_of_coat(plan)[:, :done]
        self.washes, self.wash_at = _numbered(self.wash)
        part = np.where(self.wash >= 0, plan.cells.shape_of[:, None] * done + np.arange(done), -1)
        self.parts, self.part_at = _numbered(part)
        self.phone_sigma = _phone_sigma(phone_known)
        self.paint_of, self.factors = _paint_factors(plan, self.meant)
        self.scale = np.concatenate(
            [
                self.phone_sigma,
                self.prior.sigma[self.washes],
                np.full(len(self.parts), self.prior.within),
                np.ones(len(self.factors)),
            ]
        )
        self.mean = np.zeros(len(self.scale))
        first = PHONE_TERMS
        self.mean[first : first + len(self.washes)] = self.prior.mean[self.washes]
        self.wash_columns = first + self.wash_at
        self.part_columns = first + len(self.washes) + self.part_at
        self.paint_columns = first + len(self.washes) + len(self.parts)

    def solve(self) -> Laid:
        """Gauss-Newton with Student weights; scaled unknowns have unit prior."""
        x = self.mean.copy()
        hessian = np.eye(len(x))
        for _ in range(STEPS):
            ratio = self.log_ratio(x)
            painted = self._labs(ratio, x)
            design = self._design(ratio, painted, x)
            off = self.labs - self._as_photographed(painted, x)
            weight = self._weights(off)
            rows = (design * self.scale).reshape(-1, len(x)) * np.sqrt(weight).repeat(3)[:, None]
            hessian = rows.T @ rows + np.eye(len(x))
            pull = rows.T @ (off * np.sqrt(weight)[:, None]).ravel() - (x - self.mean) / self.scale
            step = np.linalg.solve(hessian, pull) * self.scale
            x = x + np.clip(step, -0.7, 0.7)
            if np.abs(step).max() < CLOSE:
                break
        spread = np.linalg.inv(hessian) * np.outer(self.scale, self.scale)
        return self._told(x, np.asarray(spread, dtype=np.float64))

    def log_ratio(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """(cells, done) of what the unknowns say of every coat."""
        there = self.wash >= 0
        both = np.where(there, x[self.wash_columns] + x[self.part_columns], 0.0)
        return np.asarray(np.clip(both, -FURTHEST, FURTHEST))

    def bench_at(self, x: NDArray[np.float64]) -> Bench:
        """The bench with paints as the unknowns have them."""
        k, s = self.bench.k.copy(), self.bench.s.copy()
        for paint, factor, z in zip(
            self.paint_of, self.factors, x[self.paint_columns :], strict=True
        ):
            k[paint] *= np.exp(z * factor[:N_BANDS])
            s[paint] *= np.exp(z * factor[N_BANDS:])
        return replace(self.bench, k=k, s=s)

    def _labs(self, ratio: NDArray[np.float64], x: NDArray[np.float64]) -> NDArray[np.float64]:
        """(cells, 3) CIELAB with coats so much stronger than meant, of such paints."""
        xyz = paint_amounts(self.bench_at(x), self.meant * np.exp(ratio)[..., None])[:, -1]
        return np.asarray(xyz_to_lab(xyz))

    def _weights(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """(cells,) of each area's squares: 0 where not seen, less where it is odd."""
        square = (off**2).sum(axis=1) / self.sigmas**2
        robust = (ODD + 3.0) / (ODD + square)
        return np.where(self.seen, robust / self.sigmas**2, 0.0)

    def _design(
        self, ratio: NDArray[np.float64], painted: NDArray[np.float64], x: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Slopes (cells, 3, unknowns) of the photo's colours."""
        cells = len(painted)
        out = np.zeros((cells, 3, len(x)))
        out[:, :, :PHONE_TERMS] = _phone_slopes(painted - self.white)
        bend = _phone_matrix(x[:PHONE_TERMS], painted - self.white)
        for layer in range(self.done):
            own = np.flatnonzero(self.wash[:, layer] >= 0)
            moved = ratio.copy()
            moved[:, layer] += SLOPE
            slope = (self._labs(moved, x) - painted)[own] / SLOPE
            shown = np.einsum("cij,cj->ci", bend[own], slope)
            out[own, :, self.wash_columns[own, layer]] += shown
            out[own, :, self.part_columns[own, layer]] += shown
        for n in range(len(self.factors)):
            other = x.copy()
            other[self.paint_columns + n] += PAINT_SLOPE
            slope = (self._labs(ratio, other) - painted) / PAINT_SLOPE
            out[:, :, self.paint_columns + n] = np.einsum("cij,cj->ci", bend, slope)
        return out

    def _as_photographed(
        self, painted: NDArray[np.float64], x: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        away = painted - self.white
        return np.asarray(painted + _phone_slopes(away) @ x[:PHONE_TERMS])

    def _told(self, x: NDArray[np.float64], spread: NDArray[np.float64]) -> Laid:
        ratio = self.log_ratio(x)
        there = self.wash >= 0
        variance = spread.diagonal()
        both = (
            variance[self.wash_columns]
            + variance[self.part_columns]
            + 2.0 * spread[self.wash_columns, self.part_columns]
        )
        whole, sigma = self.prior.mean.copy(), self.prior.sigma.copy()
        columns = PHONE_TERMS + np.arange(len(self.washes))
        whole[self.washes] = x[columns]
        sigma[self.washes] = np.sqrt(variance[columns])
        painted = self._labs(ratio, x)
        labs = self.labs - (self._as_photographed(painted, x) - painted)
        every = np.zeros((len(ratio), self.plan.layers))
        sure = np.zeros_like(every)
        every[:, : self.done] = ratio
        sure[:, : self.done] = np.where(there, np.sqrt(np.maximum(both, 0.0)), 0.0)
        labs = np.where(self.seen[:, None], labs, np.nan)
        return Laid(every, sure, whole, sigma, x[:PHONE_TERMS].copy(), labs, painted)


def _numbered(names: IntArray) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Names ≥ 0 that occur, and where each stands among them; 0 for −1."""
    every = np.unique(np.asarray(names, dtype=np.int64)[names >= 0])
    at = np.searchsorted(every, np.maximum(names, every[0] if len(every) else 0))
    return every, np.asarray(at, dtype=np.int64)


def _paint_factors(plan: Plan, meant: FloatArray) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Paint of each (n,), and factors (n, 72) of ln K and ln S, one standard deviation each."""
    used = np.flatnonzero(meant.any(axis=(0, 1)))
    paints, factors = [np.empty(0, dtype=np.int64)], [np.empty((0, 2 * N_BANDS))]
    for p in used.tolist():
        own = plan.paints[p].spread
        spread = plain_spread(plan.paints[p].sigma) if own is None else own
        largest = np.argsort(-(spread**2).sum(axis=1))[:PAINT_FACTORS]
        paints.append(np.full(len(largest), p))
        factors.append(spread[largest])
    return np.concatenate(paints), np.concatenate(factors)


# --- what a phone does -----------------------------------------------------------


def _phone_sigma(known: bool) -> NDArray[np.float64]:
    """(10,): three scales, six turns, and a bend of lightness."""
    if known:
        return np.full(PHONE_TERMS, 1e-6)
    scale, turn, bend = PHONE
    return np.array([scale, turn, turn, turn, scale, turn, turn, turn, scale, bend])


def _phone_slopes(away: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3, 10) by the phone's terms, of colours (n, 3) away from paper's."""
    out = np.zeros((len(away), 3, PHONE_TERMS))
    for i in range(3):
        out[:, i, 3 * i : 3 * i + 3] = away
    out[:, 0, 9] = away[:, 0] * (1.0 + away[:, 0] / 90.0)  # nothing at paper and at black
    return out


def _phone_matrix(terms: NDArray[np.float64], away: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3, 3) slopes of the photo's colours by the true ones."""
    out = np.broadcast_to(np.eye(3) + terms[:9].reshape(3, 3), (len(away), 3, 3)).copy()
    out[:, 0, 0] += terms[9] * (1.0 + away[:, 0] / 45.0)
    return out
