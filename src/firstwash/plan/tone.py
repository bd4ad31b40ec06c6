"""The photo's lightness mapped into what this paper and these paints can span.

Between two knees nothing changes. Below the lower knee a parabola bends away from the
diagonal and meets the darkest lightness the paints reach; above the upper one the same
happens towards the paper's white. The map is monotone and has a continuous slope.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float

__all__ = ["ToneMap"]

END_SLOPE = 0.08  # slope left at the ends, so that no two darks become one


@dataclass(frozen=True)
class ToneMap:
    """L* of the photo → L* to aim at; floor and ceiling are the darkest and lightest L*."""

    floor: float
    ceiling: float

    @property
    def knees(self) -> tuple[float, float]:
        """L* between which the map changes nothing."""
        reach = 2.0 / (1.0 - END_SLOPE)
        low, high = reach * max(self.floor, 0.0), 100.0 - reach * max(100.0 - self.ceiling, 0.0)
        if low <= high:
            return low, high
        middle = 100.0 * low / (low + 100.0 - high)  # paints of almost no range: meet between
        return middle, middle

    def lightness(self, value: ArrayLike) -> NDArray[np.float64]:
        """Mapped L* of L* in [0, 100]; monotone, slope continuous, within the span."""
        light = np.clip(as_float(value), 0.0, 100.0)
        low, high = self.knees
        out = light.copy()
        below, above = light < low, light > high
        out[below] = _bend(light[below], low, self.floor)
        out[above] = 100.0 - _bend(100.0 - light[above], 100.0 - high, 100.0 - self.ceiling)
        return out

    def __call__(self, lab: ArrayLike) -> NDArray[np.float64]:
        """Mapped CIELAB (..., 3): lightness moved, a* and b* kept."""
        out = np.array(lab, dtype=np.float64)
        out[..., 0] = self.lightness(out[..., 0])
        return out


def _bend(value: NDArray[np.float64], knee: float, end: float) -> NDArray[np.float64]:
    """Parabola from (0, end) to (knee, knee), arriving with slope 1."""
    if knee <= 0.0:
        return value
    slope = 2.0 * (knee - end) / knee - 1.0
    return np.asarray(end + slope * value + (1.0 - slope) * value**2 / (2.0 * knee))
