"""What is to be expected of a plan painted by hands that err: ranges over many painters."""

from dataclasses import dataclass, replace

import numpy as np

from firstwash.arrays import FloatArray

__all__ = ["Expected", "Outlook", "WashOutlook"]


@dataclass(frozen=True)
class Expected:
    """CIEDE2000 over painters: what to expect, and what nine of ten lie between.

    mean; low, high: 5th and 95th percentile.
    """

    mean: float
    low: float
    high: float

    @classmethod
    def of(cls, values: FloatArray) -> "Expected":
        """From one value per painter (painters,)."""
        low, high = np.percentile(values, (5, 95))
        return cls(float(values.mean()), float(low), float(high))

    def moved(self, by: float) -> "Expected":
        """All three by as much, never below 0."""
        return Expected(*(max(v + by, 0.0) for v in (self.mean, self.low, self.high)))


@dataclass(frozen=True)
class WashOutlook:
    """How one wash will come out.

    dried: against its own planned colour when its layer is dry, with what lies below as
    painted too. end: the finished painting against what it should show, over its areas.
    """

    dried: Expected
    end: Expected


@dataclass(frozen=True)
class Outlook:
    """What to expect of a plan painted by hand: the whole of it, and wash by wash.

    sigma: of the natural logarithm of the errors; painters: how many were tried. whole:
    against the photo. washes: in the plan's order.
    """

    sigma: float
    painters: int
    whole: Expected
    washes: tuple[WashOutlook, ...]

    def judged(self, by: float) -> "Outlook":
        """The whole corrected by what a finer look finds on average of the same painters."""
        return replace(self, whole=self.whole.moved(by))
