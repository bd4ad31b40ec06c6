"""Largest, least and sum of three channels; much faster than numpy's along so short an axis."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["largest", "least", "total"]


def largest(picture: NDArray[Any]) -> NDArray[Any]:
    """Largest of the three channels (...) of a picture (..., 3)."""
    first = np.maximum(picture[..., 0], picture[..., 1])
    return np.asarray(np.maximum(first, picture[..., 2]))


def least(picture: NDArray[Any]) -> NDArray[Any]:
    """Least of the three channels (...) of a picture (..., 3)."""
    first = np.minimum(picture[..., 0], picture[..., 1])
    return np.asarray(np.minimum(first, picture[..., 2]))


def total(picture: NDArray[Any]) -> NDArray[Any]:
    """Sum of the three channels (...) of a picture (..., 3)."""
    return np.asarray(picture[..., 0] + picture[..., 1] + picture[..., 2])
