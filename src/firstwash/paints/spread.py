"""How unsure a paint's curves are, and what that means for what is seen.

ln K and ln S of a paint, laid end to end (72 numbers), are taken as normally distributed. A
spread is a matrix (m, 72): the curves may be off by z @ spread, z being m independent standard
normal numbers, so that spread.T @ spread is their covariance. A painter's own swatches give
a spread of their own (`paints.posterior`); a paint without one has that of `plain_spread`,
made from the one number `sigma`.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM

__all__ = ["N_CURVES", "drawn_curves", "plain_spread", "smooth_factors", "squeezed"]

N_CURVES: Final = 2 * N_BANDS
KEPT: Final = 0.995  # share of the variance that the factors kept carry
# Assumed; with them nine of ten unseen measured mixtures lie where they should
# (tools/add_paint.py, [Chen2019]).
SHARED: Final = 0.6  # share of the variance of ln K, and of ln S, that all bands share
LENGTH_NM: Final = 60.0  # over which the rest of it varies


@lru_cache(maxsize=64)
def smooth_factors(sigma: float, shared: float, length_nm: float) -> NDArray[np.float64]:
    """(m, 36) factors of a curve that is off by `sigma` everywhere.

    shared: share 0-1 of the variance that is one factor for all bands; the rest varies
    smoothly, as a Gaussian process of that length over wavelength.
    """
    away = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM[None]) / length_nm
    covariance = sigma**2 * (shared + (1.0 - shared) * np.exp(-0.5 * away**2))
    return squeezed_covariance(covariance)


def squeezed_covariance(covariance: FloatArray) -> NDArray[np.float64]:
    """(m, n) factors that carry `KEPT` of a covariance (n, n), the largest first."""
    values, vectors = np.linalg.eigh(covariance)
    values, vectors = np.maximum(values[::-1], 0.0), vectors[:, ::-1]
    total = float(values.sum())
    if total == 0.0:
        return np.zeros((0, len(values)))
    count = int(np.searchsorted(np.cumsum(values), KEPT * total)) + 1
    return np.asarray((vectors[:, :count] * np.sqrt(values[:count])).T)


def squeezed(spread: FloatArray) -> NDArray[np.float64]:
    """The same spread in fewer factors, `KEPT` of its variance."""
    return squeezed_covariance(np.asarray(spread).T @ spread)


@lru_cache(maxsize=256)
def plain_spread(sigma: float) -> NDArray[np.float64]:
    """(m, 72) spread of a paint of which only `sigma` is known; K and S err independently."""
    one = smooth_factors(sigma, SHARED, LENGTH_NM)
    nothing = np.zeros_like(one)
    both = np.vstack([np.hstack([one, nothing]), np.hstack([nothing, one])])
    both.setflags(write=False)
    return both


def drawn_curves(
    curves: Sequence[tuple[FloatArray, FloatArray, FloatArray]], count: int, seed: int = 0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """K and S (count, paints, 36) of paints that each err in their own way.

    curves: of each paint its K (36,), S (36,) and spread (m, 72). Every draw has its opposite
    (count is even), so that the middle stays where the paint's own curves put it.
    """
    rng = np.random.default_rng(seed)
    out = np.empty((2, count, len(curves), N_BANDS))
    for p, (k, s, spread) in enumerate(curves):
        z = rng.standard_normal((count // 2, len(spread)))
        off = np.vstack([z, -z]) @ spread
        out[0, :, p] = k * np.exp(off[:, :N_BANDS])
        out[1, :, p] = s * np.exp(off[:, N_BANDS:])
    return out[0], out[1]
