"""Ranges stay in order whatever is done with them, and minutes read as people say them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.plan.board.ranges import NOTHING, Range, minutes_words, range_words

numbers = st.floats(0.0, 1e6)
spans = st.tuples(numbers, numbers, numbers).map(lambda v: Range(*sorted(v)))


@given(a=spans, b=spans, factor=st.floats(0.0, 100.0))
def test_what_is_made_of_ranges_is_a_range(a: Range, b: Range, factor: float) -> None:
    # Range refuses disorder itself, so that making one is the check.
    assert (a + b).mid == a.mid + b.mid
    assert a.times(factor).high == a.high * factor
    assert a.or_longer(b).low == max(a.low, b.low)
    assert (a + NOTHING) == a


@given(wait=spans, passed=spans)
def test_what_is_left_of_a_wait_is_widest_guess(wait: Range, passed: Range) -> None:
    left = wait.after(passed)
    assert left.low == max(wait.low - passed.high, 0.0)
    assert left.high == max(wait.high - passed.low, 0.0)


def test_an_endless_wait_stays_endless() -> None:
    endless = Range(math.inf, math.inf, math.inf)
    assert endless.after(Range(1, 2, 3)) == endless
    assert (endless + NOTHING) == endless


@pytest.mark.parametrize("numbers", [(2, 1, 3), (1, 3, 2), (-1, 0, 1), (0, math.nan, 1)])
def test_disorder_is_refused(numbers: tuple[float, float, float]) -> None:
    with pytest.raises(RequestError, match="from low over middle to high"):
        Range(*numbers)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.0, "no time"),
        (0.3, "less than a minute"),
        (1.2, "1 minute"),
        (7.4, "7 minutes"),
        (9.6, "10 minutes"),
        (12.6, "15 minutes"),
        (87.0, "85 minutes"),
        (88.0, "1½ hours"),
        (104.0, "1¾ hours"),
        (119.0, "2 hours"),
        (195.0, "3¼ hours"),
        (math.inf, "never"),
    ],
)
def test_minutes_read_as_people_say_them(minutes: float, words: str) -> None:
    assert minutes_words(minutes) == words


@given(minutes=st.floats(0.6, 5000.0))
def test_rounding_misses_little(minutes: float) -> None:
    # Half of the step: of 1 minute, of 5 below an hour and a half, of 15 above.
    step = 1.0 if minutes < 9.5 else 5.0 if minutes < 87.5 else 15.0
    assert abs(_read(minutes_words(minutes)) - minutes) <= step / 2 + 1e-9


def _read(words: str) -> float:
    number, unit = words.split()
    whole = number.strip("¼½¾")
    part = {"¼": 0.25, "½": 0.5, "¾": 0.75}.get(number[-1], 0.0)
    return (float(whole or 0) + part) * (60 if unit == "hours" else 1)


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Range(10, 24, 44), "about 25 minutes (10 to 45 minutes)"),
        (Range(50, 80, 130), "about 80 minutes (50 minutes to 2¼ hours)"),
        (Range(100, 180, 300), "about 3 hours (1¾ to 5 hours)"),
        (Range(30, 31, 32), "30 minutes"),
        (Range(0, 0, 0), "no time"),
        (Range(math.inf, math.inf, math.inf), "never"),
        (Range(600, math.inf, math.inf), "never, or 10 hours at best"),
        (Range(60, 90, math.inf), "about 1½ hours (60 minutes to never)"),
    ],
)
def test_a_span_reads_as_a_guess_with_its_ends(span: Range, words: str) -> None:
    assert range_words(span) == words
