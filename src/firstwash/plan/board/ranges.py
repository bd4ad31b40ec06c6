"""A quantity known only as a range, and minutes as people say them."""

import math
from dataclasses import dataclass

from firstwash.errors import RequestError
from firstwash.language import tr, tr_count

__all__ = ["NOTHING", "Range", "minutes_words", "range_words"]


@dataclass(frozen=True)
class Range:
    """low ≤ mid ≤ high, all at least 0; infinity means "never".

    low and high are bounds for careful guessing, not standard deviations; mid is the value to
    plan with. Raises RequestError for numbers out of order, negative or not numbers.
    """

    low: float
    mid: float
    high: float

    def __post_init__(self) -> None:
        """Refuse numbers that are no range."""
        if not 0.0 <= self.low <= self.mid <= self.high:
            raise RequestError(
                f"A range runs from low over middle to high, none below 0, not {self.low:g}, "
                f"{self.mid:g}, {self.high:g}."
            )

    def __add__(self, other: "Range") -> "Range":
        """Both one after the other."""
        return Range(self.low + other.low, self.mid + other.mid, self.high + other.high)

    def times(self, factor: float) -> "Range":
        """Stretched by a factor of 0 or more."""
        return Range(self.low * factor, self.mid * factor, self.high * factor)

    def after(self, passed: "Range") -> "Range":
        """What is left of it once `passed` has gone by: never below 0.

        The least is left if much has passed, the most if little has.
        """
        left = (self.low - passed.high, self.mid - passed.mid, self.high - passed.low)
        return Range(*(max(v, 0.0) for v in left))

    def or_longer(self, other: "Range") -> "Range":
        """Whichever of two waits is longer."""
        return Range(max(self.low, other.low), max(self.mid, other.mid), max(self.high, other.high))


NOTHING = Range(0.0, 0.0, 0.0)


def minutes_words(minutes: float) -> str:
    """Minutes as a person says them: "1 minute", "25 minutes", "2½ hours", "never".

    Rounded to 1 minute below 10, to 5 below an hour and a half, then to a quarter of an hour.
    """
    if math.isinf(minutes):
        return tr("never")
    if _whole(minutes / 5.0) * 5 < 90:
        return _short_words(minutes)
    quarters = _whole(minutes / 15.0)
    hours, part = divmod(quarters, 4)
    told = f"{hours}{('', '¼', '½', '¾')[part]}"
    # Half an hour more is more than one: English has no "1½ hour".
    return tr_count("{hours} hour", "{hours} hours", hours + (part > 0), hours=told)


def _short_words(minutes: float) -> str:
    count = _whole(minutes) if minutes < 9.5 else _whole(minutes / 5.0) * 5
    if count == 0:
        return tr("no time") if minutes < 0.05 else tr("less than a minute")
    return tr_count("{count} minute", "{count} minutes", count)


def range_words(span: Range) -> str:
    """A span of minutes: "about 25 minutes (10 to 45 minutes)"."""
    low, mid, high = (minutes_words(v) for v in (span.low, span.mid, span.high))
    if low == high:
        return mid
    if math.isinf(span.mid):
        return mid if math.isinf(span.low) else tr("{mid}, or {low} at best", mid=mid, low=low)
    unit = high.rpartition(" ")[2]
    low = low.removesuffix(f" {unit}")  # "10 to 45 minutes", but "50 minutes to 2 hours"
    return tr("about {mid} ({low} to {high})", mid=mid, low=low, high=high)


def _whole(value: float) -> int:
    """To the nearest whole number, halves upwards."""
    return math.floor(value + 0.5)
