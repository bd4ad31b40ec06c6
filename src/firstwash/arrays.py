"""Array aliases and the checks made where arrays enter the library.

Axis order is always (row, column, channel) for pictures and (..., wavelength)
for spectra; nothing is rescaled silently.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "BoolArray",
    "FloatArray",
    "IntArray",
    "as_float",
    "check_last_axis",
    "check_unit_range",
    "triple",
]

FloatArray = NDArray[np.floating[Any]]
IntArray = NDArray[np.integer[Any]]
BoolArray = NDArray[np.bool_]


def as_float(values: ArrayLike) -> NDArray[np.float64]:
    """Values as a C-contiguous float64 array of the same shape; integers are not rescaled."""
    return np.asarray(values, dtype=np.float64, order="C")


def triple(values: FloatArray) -> tuple[float, float, float]:
    """Three numbers, of a colour say, as plain floats."""
    return float(values[0]), float(values[1]), float(values[2])


def check_last_axis(values: FloatArray, length: int, name: str) -> None:
    """Raise ValueError unless the last axis of `values` has `length` entries."""
    if values.ndim == 0 or values.shape[-1] != length:
        raise ValueError(f"{name}: last axis must have {length} entries, got shape {values.shape}")


def check_unit_range(values: FloatArray, name: str, slack: float = 1e-9) -> None:
    """Raise ValueError unless every value is finite and in [0, 1]; `slack` forgives rounding."""
    if not np.all(np.isfinite(values)):
        raise ValueError(f"{name}: values must be finite")
    if values.size and (values.min() < -slack or values.max() > 1 + slack):
        raise ValueError(f"{name}: values must lie in [0, 1]")
