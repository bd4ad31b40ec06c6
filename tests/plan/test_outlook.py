"""Ranges over painters, and how they follow a finer look."""

import numpy as np
import pytest

from firstwash.plan.outlook import Expected, Outlook


def test_a_finer_look_moves_the_whole_and_never_below_nothing() -> None:
    rough = Outlook(0.2, 3, Expected(4.0, 3.0, 5.5), ())
    finer = rough.judged(-0.5)
    assert finer.whole == Expected(3.5, 2.5, 5.0)
    assert rough.judged(0.0) == rough
    assert rough.judged(-3.5).whole == Expected(0.5, 0.0, 2.0)


def test_painters_all_alike_leave_no_range() -> None:
    found = Expected.of(np.full(7, 2.5))
    assert (found.mean, found.low, found.high) == pytest.approx((2.5, 2.5, 2.5))
