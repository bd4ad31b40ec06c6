"""Paper as a ground, and the reflection at the surface of paint.

Light crosses the surface twice: a fraction k1 is thrown back before it enters, and a
fraction k2 of what comes up from inside is thrown back down [Saunderson1942]:

    R = k1 + (1 − k1)·(1 − k2)·Ri / (1 − k2·Ri)

Bare paper is turned inside out with the same two numbers, so that no paint gives
exactly the paper that was measured.
"""

from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float, check_last_axis, check_unit_range
from firstwash.optics.grid import N_BANDS

__all__ = ["Paper", "enter_surface", "leave_surface", "leave_surface_1"]


@njit(cache=True, nogil=True)
def leave_surface_1(inside: float, k1: float, k2: float) -> float:
    """Reflectance seen outside for `inside` reflectance under the surface (one value)."""
    return k1 + (1.0 - k1) * (1.0 - k2) * inside / (1.0 - k2 * inside)


def leave_surface(inside: ArrayLike, k1: float, k2: float) -> NDArray[np.float64]:
    """Reflectance seen outside; inside in [0, 1], 0 ≤ k1, k2 < 1. Source: [Saunderson1942]."""
    ri = as_float(inside)
    return np.asarray(k1 + (1.0 - k1) * (1.0 - k2) * ri / (1.0 - k2 * ri))


def enter_surface(outside: ArrayLike, k1: float, k2: float) -> NDArray[np.float64]:
    """Reflectance under the surface; exact inverse of `leave_surface`, floored at 0.

    Values below k1 cannot come from paint under this surface and give 0.
    """
    r = as_float(outside)
    core = (r - k1) / (1.0 - k1)
    return np.asarray(np.maximum(core / (1.0 - k2 + k2 * core), 0.0))


@dataclass(frozen=True)
class Paper:
    """A sheet's paper as light meets it.

    reflectance: (36,) measured outside the surface, in (0, 1).
    k1, k2: surface reflection, fractions, fixed for every prediction on this paper.
    soak: fraction of the first coat that sinks into the paper, 0-1; later coats lie on top.
    fibre_scattering: scattering depth of the fibres that first coat sinks among.
    provenance: where the numbers come from, in words.
    """

    name: str
    reflectance: NDArray[np.float64]
    k1: float = 0.02
    k2: float = 0.70
    soak: float = 0.0
    fibre_scattering: float = 0.0
    provenance: str = ""
    inside: NDArray[np.float64] = field(init=False, repr=False)
    fibre_absorption: NDArray[np.float64] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the numbers and derive what lies under the surface."""
        white = as_float(self.reflectance)
        check_last_axis(white, N_BANDS, "paper reflectance")
        check_unit_range(white, "paper reflectance")
        if not (0 <= self.k1 < 1 and 0 <= self.k2 < 1 and 0 <= self.soak <= 1):
            raise ValueError("k1, k2 and soak must be fractions")
        if not 0 <= self.fibre_scattering < np.inf:
            raise ValueError("fibre_scattering must be finite and not negative")
        inside = np.clip(enter_surface(white, self.k1, self.k2), 1e-4, 1.0)
        fibre = self.fibre_scattering * (1.0 - inside) ** 2 / (2.0 * inside)
        for name, value in (
            ("reflectance", white),
            ("inside", inside),
            ("fibre_absorption", fibre),
        ):
            value.setflags(write=False)
            object.__setattr__(self, name, value)
