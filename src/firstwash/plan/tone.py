"""The photo's lightness mapped into what this paper and these paints can span.

Between two knees nothing changes. Below the lower knee a parabola bends away from the
diagonal and meets the darkest lightness the paints reach; above the upper one the same
happens towards the paper's white. The map is monotone and has a continuous slope. Paints
that span less than about half of the lightness leave no middle unchanged: the two parabolas
then meet, less steep than the diagonal.
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
    def slope(self) -> float:
        """Slope where the map changes least: 1, or less for paints of little range."""
        return min((self.ceiling - self.floor) / (50.0 * (1.0 + END_SLOPE)), 1.0)

    @property
    def knees(self) -> tuple[float, float]:
        """L* between which the map changes nothing, or twice the L* where the bends meet."""
        dark, light = max(self.floor, 0.0), max(100.0 - self.ceiling, 0.0)
        if self.slope < 1.0:
            return (100.0 * dark / (dark + light),) * 2
        reach = 2.0 / (1.0 - END_SLOPE)
        return reach * dark, 100.0 - reach * light

    def lightness(self, value: ArrayLike) -> NDArray[np.float64]:
        """Mapped L* of L* in [0, 100]; monotone, slope continuous, within the span."""
        light = np.clip(as_float(value), 0.0, 100.0)
        low, high = self.knees
        out = light.copy()
        below = (light <= low) & (low > 0.0)
        above = (light > high) & ~below
        out[below] = self.floor + _bend(light[below], low, self.slope)
        out[above] = self.ceiling - _bend(100.0 - light[above], 100.0 - high, self.slope)
        return out

    def __call__(self, lab: ArrayLike) -> NDArray[np.float64]:
        """Mapped CIELAB (..., 3): lightness moved, a* and b* kept."""
        out = np.array(lab, dtype=np.float64)
        out[..., 0] = self.lightness(out[..., 0])
        return out


def _bend(value: NDArray[np.float64], knee: float, slope: float) -> NDArray[np.float64]:
    """Parabola from 0 at 0, arriving at the knee with `slope`, starting with its small share."""
    start = END_SLOPE * slope
    return np.asarray(start * value + (slope - start) * value**2 / (2.0 * knee))
