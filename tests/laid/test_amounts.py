"""Amounts told from colours: exact colours give them back, doubts are as large as the errors."""

import numpy as np
import pytest
from tests.halfway_photos import by_coat, hand, laid_labs, small

from firstwash.laid.amounts import HAND, Prior, amounts_laid, wash_of_coat
from firstwash.optics.observer import xyz_to_lab
from firstwash.plan.bench import Bench


def white() -> np.ndarray:
    return np.asarray(xyz_to_lab(Bench.of([], small().paper).white_xyz()))


def found(log: np.ndarray, done: int, labs: np.ndarray | None = None, **more):
    plan = small()
    seen = laid_labs(log, done) if labs is None else labs
    return amounts_laid(plan, seen, np.full(len(seen), 0.5), done, **more)


def test_what_was_painted_as_meant_is_found_as_meant() -> None:
    laid = found(np.zeros(len(small().washes)), 2)
    assert np.abs(laid.log_ratio).max() < 1e-3
    np.testing.assert_allclose(laid.labs, laid.expected, atol=2e-2)


@pytest.mark.parametrize("done", [1, 2, 3])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_amounts_come_back_within_what_is_asked(seed: int, done: int) -> None:
    log = hand(seed)
    laid = found(log, done)
    there = wash_of_coat(small())[:, :done] >= 0
    off = np.abs(np.expm1((laid.log_ratio - by_coat(log))[:, :done][there]))
    # Exact colours; what is left is the prior's pull, layers that one photo cannot part, and how
    # strong the paint itself is, which a shade more of everything cannot be told from.
    assert np.median(off) < 0.12


def test_a_phone_that_bends_colours_is_seen_through() -> None:
    log, done = hand(4), 2
    true = laid_labs(log, done)
    bend = np.eye(3) + np.array([[0.08, 0.0, 0.02], [0.03, 0.12, 0.0], [0.0, -0.04, 0.1]])
    photographed = white() + (true - white()) @ bend.T
    laid = found(log, done, photographed)
    before = np.linalg.norm(photographed - true, axis=1).mean()
    after = np.linalg.norm(laid.labs - true, axis=1).mean()
    assert before > 3.0
    assert after < 0.75 * before  # a part of it may be the paints', and is left to them


def test_doubts_are_about_as_large_as_the_errors() -> None:
    """Standardised errors over many hands: an rms of 1 would be perfect."""
    plan, done = small(), 2
    there = wash_of_coat(plan)[:, :done] >= 0
    scores = []
    for seed in range(12):
        log = hand(100 + seed)
        rng = np.random.default_rng(seed)
        labs = laid_labs(log, done) + rng.normal(0.0, 1.5, (plan.cells.count, 3))
        laid = found(log, done, labs)
        off = (laid.log_ratio - by_coat(log))[:, :done][there]
        scores.append(off / laid.sigma[:, :done][there])
    assert 0.5 < np.sqrt(np.mean(np.concatenate(scores) ** 2)) < 1.3


def test_what_was_not_seen_stays_as_the_prior_says() -> None:
    plan = small()
    nothing = np.full((plan.cells.count, 3), np.nan)
    prior = Prior.of_hand(len(plan.washes), bias=0.1)
    laid = amounts_laid(plan, nothing, np.full(plan.cells.count, np.inf), 2, prior)
    assert laid.wash_log_ratio == pytest.approx(0.1)
    assert laid.wash_sigma == pytest.approx(HAND)
    assert np.isnan(laid.labs).all()


def test_more_paint_never_reads_as_less() -> None:
    plan = small()
    one = next(n for n, w in enumerate(plan.washes) if w.layer == 1)
    before = -np.inf
    for much in (-0.6, -0.3, 0.0, 0.3, 0.6):
        log = np.zeros(len(plan.washes))
        log[one] = much
        ratio = float(found(log, 1).wash_log_ratio[one])
        assert ratio > before
        before = ratio


def test_one_odd_area_does_not_drag_its_wash_along() -> None:
    plan, log = small(), np.zeros(len(small().washes))
    labs = laid_labs(log, 1)
    wash = max((w for w in plan.washes if w.layer == 1), key=lambda w: len(w.cells))
    labs[wash.cells[0]] = (30.0, 40.0, -40.0)  # a stain that is in no puddle
    laid = found(log, 1, labs)
    number = plan.washes.index(wash)
    assert abs(float(laid.wash_log_ratio[number])) < 0.2
    assert laid.odd[wash.cells[0]] > 10.0


def test_later_layers_are_left_alone() -> None:
    laid = found(hand(5), 1)
    assert not laid.log_ratio[:, 1:].any()
    assert not laid.sigma[:, 1:].any()
