"""Curves at any even step brought to our grid of 10 nm.

A value that stands at one of our wavelengths is taken as it is, whatever the step. Between
values, Sprague's interpolation is used, as [CIE167] recommends for evenly spaced spectra: a
polynomial of the fifth degree whose value, slope and curvature at both ends of each gap come
from the six nearest values.

Finer spectra are not averaged over our bands: the weights that turn 36 values into a colour
([ASTME2022]) are made for values at the wavelengths themselves. For the 24 patches of
[ISO17321-1], given every 5 nm, taking every second value comes within a mean CIEDE2000 of 0.02
of the colour summed at 5 nm, the average over a triangle of 10 nm within 0.06.

Nothing is made up outside the range; a `Sample` holds its bands there at the nearest one inside.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, as_float
from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.samples import FIRST_END, LAST_START

__all__ = ["even", "step_of", "to_grid"]

LARGEST_STEP: Final = 20.0  # nm; wider, and a paint's edge falls between two bands
SMALLEST_STEP: Final = 1.0
_MARGIN: Final = 50  # nm beyond our grid that can still matter to the curve on it
_ROUNDED: Final = 2.0  # nm; from this step on, files round wavelengths to whole nanometres
_SLACK: Final = 1e-6  # nm; two wavelengths this close are one

# Sprague's polynomial [CIE167]: row = power of the way across the gap, column = the values from
# two before the gap to three after it. From memory; checked against colour-science.
_POWERS: Final = np.array([
    [0, 0, 24, 0, 0, 0],
    [2, -16, 0, 16, -2, 0],
    [-1, 16, -30, 16, -1, 0],
    [-9, 39, -70, 66, -33, 7],
    [13, -64, 126, -124, 61, -12],
    [-5, 25, -50, 50, -25, 5],
]) / 24.0  # fmt: skip
# The two values that are wanted before the first one, from the first six; mirrored at the end.
_BEFORE: Final = np.array([
    [884, -1960, 3033, -2648, 1080, -180],
    [508, -540, 488, -367, 144, -24],
]) / 209.0  # fmt: skip


def even(named: Sequence[float], file: str) -> tuple[float, ...]:
    """The wavelengths of a curve, made exactly even.

    named: nm, rising, as the file names them, perhaps rounded to whole nanometres.
    Raises MeasurementError where bands are missing, steps differ or are not between 1 and
    20 nm, or the range does not reach from 420 to 680 nm.
    """
    at = as_float(named)
    if len(at) < 2 or at[0] > LAST_START or at[-1] < FIRST_END:
        raise MeasurementError(
            f"{file} covers {_span(at)}; measure from {LAST_START} to {FIRST_END} nm at least."
        )
    exact = np.linspace(at[0], at[-1], len(at))
    if np.abs(exact - at).max() > _SLACK and not _only_rounded(at, exact):
        steps = np.diff(at)
        gap = int(np.argmax(steps))
        raise MeasurementError(
            f"{file} has missing bands between {at[gap]:g} and {at[gap + 1]:g} nm; "
            f"export the spectra again at even steps."
        )
    step = (at[-1] - at[0]) / (len(at) - 1)
    if not SMALLEST_STEP - _SLACK <= step <= LARGEST_STEP + _SLACK:
        raise MeasurementError(
            f"{file} has a value every {step:.4g} nm; "
            f"export the spectra in steps of 10 nm, or of 1 to 20 nm."
        )
    return tuple(exact.tolist())


def _span(at: FloatArray) -> str:
    return f"{at[0]:g} to {at[-1]:g} nm only" if len(at) > 1 else "less than two wavelengths"


def _only_rounded(at: FloatArray, exact: FloatArray) -> bool:
    """Whether the file's wavelengths are even ones rounded to whole nanometres (3.33 nm, say)."""
    steps = np.diff(at)
    near = np.abs(exact - at).max() <= 0.5 + _SLACK
    return bool(near and steps.min() >= _ROUNDED and np.ptp(steps) <= 1 + _SLACK)


def step_of(wavelengths: Sequence[float]) -> float:
    """The step of even wavelengths in nm."""
    return (wavelengths[-1] - wavelengths[0]) / (len(wavelengths) - 1)


def to_grid(
    wavelengths: tuple[float, ...], values: FloatArray
) -> tuple[NDArray[np.float64], BoolArray]:
    """Curves (samples, n) at even wavelengths (n,), as `even` gives them, on our grid.

    Returns (samples, 36) and which of the 36 bands lie in the measured range.
    """
    at = as_float(wavelengths)
    near = (at >= WAVELENGTHS_NM[0] - _MARGIN) & (at <= WAVELENGTHS_NM[-1] + _MARGIN)
    weights = _weights(float(at[near][0]), step_of(wavelengths), int(near.sum()))
    bands = as_float(WAVELENGTHS_NM)
    inside = (bands >= at[0] - _SLACK) & (bands <= at[-1] + _SLACK)
    return values[:, near] @ weights.T, inside


@lru_cache(maxsize=16)
def _weights(start: float, step: float, n: int) -> NDArray[np.float64]:
    """(36, n) weights of n values from `start` every `step` nm in each band of our grid."""
    at = (WAVELENGTHS_NM - start) / step
    return _sprague(n, np.clip(at, 0, n - 1))


def _sprague(n: int, at: FloatArray) -> NDArray[np.float64]:
    """(m, n) weights of n even values, n ≥ 6, at the places (m,) in [0, n - 1]. [CIE167]."""
    whole = np.rint(at)
    at = np.where(np.abs(at - whole) < _SLACK, whole, at)
    gap = np.minimum(np.floor(at).astype(np.int64), n - 2)
    six = np.vander(at - gap, 6, increasing=True) @ _POWERS
    six[at - gap == 1] = (0, 0, 0, 1, 0, 0)  # the last value itself, free of rounding
    padded = np.zeros((len(at), n + 4))
    np.put_along_axis(padded, gap[:, None] + np.arange(6), six, axis=1)
    out = padded[:, 2:-2].copy()
    out[:, :6] += padded[:, :2] @ _BEFORE
    out[:, -6:] += padded[:, -2:] @ _BEFORE[::-1, ::-1]
    return out
