"""What is left, over the paint that lies on the sheet: painted layers stay, endings get better."""

import numpy as np
import pytest
from tests.finished_photos import planned
from tests.halfway_photos import by_coat, hand, laid_labs, small

from firstwash.errors import RequestError
from firstwash.plan.locks import NO_LOCKS
from firstwash.plan.rest import as_laid, ending_error, plan_rest, strengths_refitted


def test_a_sheet_laid_as_meant_is_the_plan() -> None:
    plan = small()
    same = as_laid(plan, np.zeros((plan.cells.count, plan.layers)), 2)
    assert same.coats == plan.coats
    np.testing.assert_array_equal(same.stage_labs, plan.stage_labs)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_stage_predicted_is_the_one_painted(seed: int) -> None:
    log = hand(seed)
    ground = as_laid(small(), by_coat(log), 2)
    # Strengths are told in steps of 8 %, so the colours differ by that at most.
    off = np.linalg.norm(ground.stage_labs[2] - laid_labs(log, 2), axis=1)
    assert off.max() < 3.0
    assert np.median(off) < 1.0


@pytest.mark.parametrize("done", [1, 2])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_other_strengths_never_end_worse_and_leave_the_rest(seed: int, done: int) -> None:
    ground = as_laid(small(), by_coat(hand(seed)), done)
    after = strengths_refitted(ground, done)
    assert ending_error(after) <= ending_error(ground) + 0.05
    for old, new in zip(ground.coats, after.coats, strict=True):
        assert [c for c in old if c[0] <= done] == [c for c in new if c[0] <= done]
        assert [c[:2] for c in old] == [c[:2] for c in new]
    assert max(w.strength for w in after.washes if w.layer > done) <= 1.0 + 1e-9


def test_what_is_left_is_planned_anew_over_what_lies_there() -> None:
    done = 1
    ground = as_laid(small(), by_coat(hand(3, 0.4)), done)
    after = plan_rest(ground, planned().reference, done, NO_LOCKS)
    for old, new in zip(ground.coats, after.coats, strict=True):
        kept = [c[2] for c in old if c[0] <= done]
        assert [c[2] for c in new if c[0] <= done] == pytest.approx(kept)
    np.testing.assert_allclose(after.stage_labs[done], ground.stage_labs[done], atol=1e-6)
    assert after.limits == ground.limits
    assert ending_error(after) < ending_error(ground) + 0.3


def test_a_layer_there_is_not_is_refused() -> None:
    with pytest.raises(RequestError, match="layers 1 to 3"):
        plan_rest(small(), planned().reference, 4, NO_LOCKS)
