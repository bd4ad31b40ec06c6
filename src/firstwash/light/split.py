"""A picture as local colour times light."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LightSplit", "split_light"]


@dataclass(frozen=True, eq=False)
class LightSplit:
    """placeholder of the contract"""

    local: NDArray[np.float32]
    light: NDArray[np.float32]
    gloss: NDArray[np.float32]
    sure: NDArray[np.float32]


def split_light(xyz: NDArray[np.float32]) -> LightSplit:
    """placeholder until the real one is written: nothing is sure."""
    from firstwash.optics.observer import xyz_to_linear_srgb

    rgb = xyz_to_linear_srgb(xyz).astype(np.float32)
    one = np.ones_like(rgb)
    return LightSplit(rgb, one, 0 * one, 0 * one[..., 0])
