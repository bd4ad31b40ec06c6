"""Paints learned from swatches: known paints are found again, doubt shrinks, slips show."""

import numpy as np
import pytest

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.slopes import see_stacks
from firstwash.paints.catalogue import default_paper, paint
from firstwash.paints.posterior import Belief, _Problem, learn
from firstwash.paints.seeing import Camera, Instrument
from firstwash.paints.spread import N_CURVES, plain_spread
from firstwash.paints.swatches import Part, gather

PAPER = default_paper()
AMOUNTS = (0.03, 0.06, 0.12, 0.25, 0.5, 1.0)


def series(slip: float = 0.05):
    """A dilution series of paint 0, two mixtures with paint 1 and a glaze over it."""
    parts = [Part(i, 0, 0, a, {("lay", i): slip}) for i, a in enumerate(AMOUNTS)]
    parts += [Part(6, 0, 0, 0.25, {}), Part(6, 0, 1, 0.25, {})]
    parts += [Part(7, 0, 1, 0.25, {}), Part(7, 1, 0, 0.25, {})]
    return gather(parts, 8, 2)


def told(key: str, spread=None) -> Belief:
    one = paint(key)
    mean = np.log(np.concatenate([one.k, one.s]))
    return Belief(mean, np.zeros((0, N_CURVES)) if spread is None else spread)


def shown(data, true: Belief, other: Belief, amounts=None):
    curves = np.array([true.k, other.k]), np.array([true.s, other.s])
    amounts = np.exp(data.log_amount) if amounts is None else amounts
    return see_stacks(PAPER, *data.depths(*curves, amounts)).reflectance


@pytest.fixture
def true() -> Belief:
    """A paint that is what the catalogue's is not: its K a third stronger, bent towards red."""
    one = told("PB28", plain_spread(0.5))
    bend = 0.3 + 0.2 * np.linspace(-1, 1, N_BANDS)
    return Belief(one.mean + np.concatenate([bend, np.full(N_BANDS, -0.4)]), one.spread)


def test_the_gradient_is_the_slope_of_the_loss(true, rng) -> None:
    data = series()
    seen = shown(data, true, told("PY154"))
    response = np.abs(rng.standard_normal((N_BANDS, 3)))
    watchers = (
        Instrument(seen),
        Camera(
            rng.uniform(0.2, 0.9, (8, 3)), np.full((8, 3), 0.02), PAPER.reflectance, response,
            0.05 * rng.standard_normal((2, N_BANDS, 3)), np.zeros(3), 0.1 * np.eye(3),
            (0.05, 0.05), (0.01, 0.01),
        ),
    )  # fmt: skip
    for watcher in watchers:
        beliefs = (told("PB28", plain_spread(0.5)), told("PY154", plain_spread(0.2)))
        problem = _Problem(data, watcher, beliefs, PAPER, np.array([0.8, 0.5, 0.25]))
        x = 0.3 * rng.standard_normal(problem.starts[-1])
        gradient, _ = problem.quadratic(x)
        for _ in range(4):
            way, step = rng.standard_normal(len(x)), 1e-5
            slope = (problem.value(x + step * way) - problem.value(x - step * way)) / (2 * step)
            # 1e-3: the paper's slopes are themselves differences over 1e-5
            assert 2 * gradient @ way == pytest.approx(slope, rel=1e-3, abs=1e-3)


def test_a_measured_paint_is_found_again(true) -> None:
    data = series()
    other = told("PY154")
    watcher = Instrument(shown(data, true, other), lab=0.1, root=0.01)
    found = learn(data, watcher, [told("PB28", plain_spread(0.5)), other], PAPER, ())
    unseen = np.array([[[0.08, 0.3]], [[0.7, 0.1]]])
    labs = []
    for belief in (true, found.beliefs[0]):
        k, s = (np.array([getattr(b, c) for b in (belief, other)]) for c in ("k", "s"))
        labs.append(reflectance_to_lab(see_stacks(PAPER, unseen @ k, unseen @ s).reflectance))
    # Prior and slips are still there, hence not zero.
    assert np.linalg.norm(labs[0] - labs[1], axis=1).max() < 1.0


def test_doubt_shrinks_and_never_grows(true) -> None:
    data, other, before = series(), told("PY154"), told("PB28", plain_spread(0.5))
    found = learn(data, Instrument(shown(data, true, other)), [before, other], PAPER)
    was, now = (b.spread.T @ b.spread for b in (before, found.beliefs[0]))
    assert np.trace(now) < 0.6 * np.trace(was)
    assert np.linalg.eigvalsh(was - now).min() > -0.01 * np.trace(was)


def test_a_slip_of_the_hand_is_told_from_the_paint(true) -> None:
    """One swatch laid half as strong again is seen as such, not as another paint."""
    data, other = series(slip=0.2), told("PY154")
    amounts = np.exp(data.log_amount)
    amounts[3] *= 1.5
    watcher = Instrument(shown(data, true, other, amounts), lab=0.5, root=0.05)
    found = learn(data, watcher, [told("PB28", plain_spread(0.5)), other], PAPER, ())
    others = np.delete(found.amounts[:6] / AMOUNTS, 3)
    assert found.amounts[3] / AMOUNTS[3] > 1.2 * others.mean()


def test_a_spoiled_swatch_does_not_spoil_the_paint(true) -> None:
    data, other = series(), told("PY154")
    seen = shown(data, true, other)
    clean = learn(data, Instrument(seen), [told("PB28", plain_spread(0.5)), other], PAPER, ())
    seen[4] = 0.5  # grey: a dirty brush
    dirty = learn(data, Instrument(seen), [told("PB28", plain_spread(0.5)), other], PAPER, ())
    off = np.abs(clean.beliefs[0].mean - dirty.beliefs[0].mean)[:N_BANDS]
    assert off.mean() < 0.15
    worst = int(np.argmax((dirty.residuals**2).sum(axis=1)))
    assert worst == 4


def test_a_belief_without_factors_stays(true) -> None:
    data, other = series(), told("PY154")
    found = learn(data, Instrument(shown(data, true, other)), [true, other], PAPER)
    np.testing.assert_array_equal(found.beliefs[1].mean, other.mean)


def test_it_repeats(true) -> None:
    data, other = series(), told("PY154")
    watcher = Instrument(shown(data, true, other))
    a, b = (learn(data, watcher, [told("PB28", plain_spread(0.5)), other], PAPER) for _ in range(2))
    np.testing.assert_array_equal(a.beliefs[0].mean, b.beliefs[0].mean)


def test_a_camera_that_knows_its_response_finds_the_colour(true) -> None:
    data, other = series(), told("PY154")
    seen = shown(data, true, other)
    bump = lambda c: np.exp(-0.5 * ((np.arange(N_BANDS) - c) / 5.0) ** 2)  # noqa: E731
    response = np.stack([bump(22), bump(15), bump(8)], axis=1)
    share = (seen @ response) / (PAPER.reflectance @ response)
    watcher = Camera(share, np.full(share.shape, 0.005), PAPER.reflectance, response)
    found = learn(data, watcher, [told("PB28", plain_spread(0.5)), other], PAPER, ())
    wrong = np.linalg.norm(reflectance_to_lab(found.predicted) - reflectance_to_lab(seen), axis=1)
    # Three numbers leave the spectrum open; the catalogue's curve fills in.
    assert np.median(wrong) < 1.5
