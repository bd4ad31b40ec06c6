"""Lifting: only the last layer, only what is too strong, only paints that do not stain."""

from dataclasses import replace

import numpy as np
import pytest
from tests.halfway_photos import by_coat, laid_labs, small

from firstwash.laid.amounts import Laid
from firstwash.laid.endings import LIFTS, lifted
from firstwash.laid.told import WashFound, washes_found

DONE = 2


def staining(grade: int | None):
    """The small plan with paints that all stain as much."""
    plan = small()
    paints = [replace(p, handling=replace(p.handling, staining=grade)) for p in plan.paints]
    return plan.told_more(paints=tuple(paints))


def strong(ratio: float) -> tuple[Laid, tuple[WashFound, ...]]:
    """Every wash laid so much stronger than meant, and known well."""
    plan = small()
    log = np.full(len(plan.washes), np.log(ratio))
    labs = laid_labs(log, DONE)
    every = by_coat(log)
    every[:, DONE:] = 0.0
    sure = np.full(len(log), 0.02)
    laid = Laid(every, np.zeros_like(every), log, sure, np.zeros(10), labs, labs)
    return laid, washes_found(plan, laid, DONE)


@pytest.mark.parametrize("ratio", [1.3, 2.0])
def test_what_lifts_loses_a_third_but_never_ends_weaker_than_meant(ratio: float) -> None:
    plan, (laid, found) = staining(0), strong(ratio)
    after, names = lifted(plan, laid, found, DONE)
    assert after is not None
    assert names == [f"{w.layer}.{w.number}" for w in plan.washes_of(DONE)]
    last = by_coat(np.ones(len(plan.washes)))[:, DONE - 1] > 0
    assert after.log_ratio[last, DONE - 1] == pytest.approx(max(np.log(ratio * (1 - LIFTS)), 0.0))
    np.testing.assert_array_equal(after.log_ratio[:, 0], laid.log_ratio[:, 0])  # lies beneath


@pytest.mark.parametrize(("grade", "ratio"), [(3, 2.0), (None, 2.0), (0, 1.1), (0, 0.6)])
def test_what_stains_is_unknown_or_not_too_strong_is_left(grade, ratio: float) -> None:
    assert lifted(staining(grade), *strong(ratio), DONE) == (None, [])
