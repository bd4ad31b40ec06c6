"""Spreads of curves: their covariance, their size, what is drawn from them."""

import numpy as np
import pytest

from firstwash.optics.grid import N_BANDS
from firstwash.paints.spread import (
    N_CURVES,
    drawn_curves,
    plain_spread,
    smooth_factors,
    squeezed,
)


@pytest.mark.parametrize("sigma", [0.1, 0.5, 1.5])
def test_a_plain_spread_is_sigma_everywhere(sigma: float) -> None:
    spread = plain_spread(sigma)
    found = np.sqrt((spread**2).sum(axis=0))
    assert spread.shape[1] == N_CURVES
    # 99.5 % of the variance is kept on the whole; single bands at the ends lose a little more.
    np.testing.assert_allclose(found, sigma, rtol=0.03)


def test_no_sigma_no_spread() -> None:
    assert (plain_spread(0.0) == 0).all()


def test_near_bands_err_together_and_far_ones_less_so() -> None:
    factors = smooth_factors(1.0, 0.3, 40.0)
    covariance = factors.T @ factors
    near, far = covariance[10, 11], covariance[0, 35]
    assert near > 0.95 * covariance[10, 10]
    assert far == pytest.approx(0.3, abs=0.02)  # only what all bands share


def test_squeezing_keeps_the_covariance(rng) -> None:
    spread = rng.standard_normal((40, N_CURVES)) * np.exp(-np.arange(40))[:, None]
    small = squeezed(spread)
    assert len(small) < len(spread)
    whole, kept = spread.T @ spread, small.T @ small
    assert np.trace(kept) >= 0.995 * np.trace(whole)
    assert np.trace(kept) <= np.trace(whole) * (1 + 1e-12)


def test_draws_have_the_covariance_and_the_middle_they_should() -> None:
    k, s = np.full(N_BANDS, 2.0), np.full(N_BANDS, 0.1)
    spread = plain_spread(0.3)
    drawn_k, drawn_s = drawn_curves([(k, s, spread)], 4000)
    for drawn, curve in ((drawn_k, k), (drawn_s, s)):
        off = np.log(drawn[:, 0] / curve)
        np.testing.assert_allclose(off.mean(axis=0), 0.0, atol=1e-12)  # draws come in pairs
        # 4,000 draws: standard error of a spread is its 90th part
        np.testing.assert_allclose(off.std(axis=0), 0.3, rtol=0.08)


def test_draws_repeat() -> None:
    one = (np.ones(N_BANDS), np.ones(N_BANDS), plain_spread(0.2))
    np.testing.assert_array_equal(
        drawn_curves([one], 8, seed=3)[0], drawn_curves([one], 8, seed=3)[0]
    )
