"""One graded wash over a background: one puddle, more water towards one end.

Every stroke takes the same share more water than the one before, so the strength falls
geometrically along the gradient: that is how a graded wash is laid, and on paper it comes
out close to an even change of lightness.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000_residuals_1
from firstwash.picture.first_drawing import STRIPS, strips
from firstwash.plan.bench import Bench
from firstwash.plan.puddles import TINT_SHARE

__all__ = ["STRIPS", "GradedWash", "fit_graded_wash", "strips"]

STEEPEST = 7.0  # ln of the ratio of the two ends' strengths: 1 : 1000, clear water
FAINTEST = 1e-6  # of a full coat: nothing at all
SHARE_PRICE = 1000.0  # CIEDE2000 per full coat of a paint above its largest share
OVERLOAD = 100.0  # CIEDE2000 per full coat too much: as good as forbidden


@dataclass(frozen=True, eq=False)
class GradedWash:
    """recipe (colours,): one full coat; strengths (strips,): from one end to the other."""

    recipe: NDArray[np.float64]
    strengths: NDArray[np.float64]


def fit_graded_wash(
    bench: Bench, aims: FloatArray, place: FloatArray, paints_per_puddle: int
) -> GradedWash:
    """The one puddle and the two end strengths that follow a gradient best.

    aims (strips, 3) CIELAB; place (strips,) position 0-1 of each strip along the gradient.
    """
    middle = np.array([[1.0, *aims[len(aims) // 2], 1.0]])
    start = bench.fit(np.full((1, bench.colours), 2e-3), middle)[0][0]
    wash = _Fit(bench, aims, place).near(start, 0.0, range(bench.colours))
    while _too_many(bench, wash.amounts, paints_per_puddle):
        wash = _with_one_less(_Fit(bench, aims, place), wash)
    load = float(wash.amounts @ bench.loads)
    if load <= 0.0:  # paper white itself: any paint, hardly any of it
        any_one = np.eye(bench.colours)[np.argmax(bench.shares)]
        return GradedWash(any_one / bench.loads, np.full(len(place), FAINTEST))
    strengths = np.minimum(load * np.exp(wash.slope * (place - 0.5)), 1.0)
    recipe = bench.allowed_mix(wash.amounts)  # to the last digit: the fit only prices it
    return GradedWash(np.asarray(recipe / (recipe @ bench.loads)), np.asarray(strengths))


@dataclass(frozen=True, eq=False)
class _Run:
    """amounts (colours,) half way along; slope of ln(strength); squared CIEDE2000 in all."""

    amounts: NDArray[np.float64]
    slope: float
    cost: float


def _too_many(bench: Bench, amounts: FloatArray, most: int) -> bool:
    """Whether a recipe has more paints than wanted, or one too little to be measured by hand."""
    shares = (amounts * bench.loads)[amounts > 0]
    return len(shares) > 1 and (
        len(shares) > most or bool(shares.min() < TINT_SHARE * shares.sum())
    )


def _with_one_less(fit: "_Fit", wash: _Run) -> _Run:
    """The best wash without one of the paints; those left may fill it by their shares."""
    used = np.flatnonzero(wash.amounts)
    left = [used[used != out] for out in used]
    whole = [rest for rest in left if fit.bench.makes_whole(rest)] or left
    return min(
        (fit.near(wash.amounts, wash.slope, rest) for rest in whole), key=lambda run: run.cost
    )


@dataclass(frozen=True, eq=False)
class _Fit:
    """Least squares over amounts and slope: the misses of every strip, as CIEDE2000."""

    bench: Bench
    aims: FloatArray
    place: FloatArray

    def near(self, amounts: FloatArray, slope: float, allowed: Iterable[int]) -> _Run:
        """The best run of the allowed paints, searched from a start."""
        used = np.array(list(allowed))
        top = 1.0 / self.bench.loads[used]
        low, high = np.append(0.0 * top, -STEEPEST), np.append(top, STEEPEST)
        first = np.clip(np.append(amounts[used], slope), low, high)
        found = least_squares(
            lambda x: self._misses(used, x), first, bounds=(low, high), x_scale=np.append(top, 10.0)
        )
        out = np.zeros(self.bench.colours)
        out[used] = np.where(found.x[:-1] > FAINTEST * top, found.x[:-1], 0.0)
        return _Run(out, float(found.x[-1]), float(found.cost))

    def _misses(self, used: NDArray[np.int64], x: FloatArray) -> NDArray[np.float64]:
        run = np.zeros((len(self.place), self.bench.colours))
        run[:, used] = x[:-1] * np.exp(x[-1] * (self.place - 0.5))[:, None]
        labs = (self.bench.labs(row[None, :])[1] for row in run)
        misses = [
            delta_e_2000_residuals_1(lab, aim) for lab, aim in zip(labs, self.aims, strict=True)
        ]
        loads = run @ self.bench.loads
        over = np.maximum(loads - 1.0, 0.0)  # more than one coat can carry
        middle = x[:-1] * self.bench.loads[used]
        much = np.maximum(middle - self.bench.shares[used] * middle.sum(), 0.0)  # of one paint
        much[self.bench.shares[used] >= 1.0] = 0.0  # where rounding alone would speak
        return np.concatenate([np.ravel(misses), OVERLOAD * over, SHARE_PRICE * much])
