"""The local error and the rank correlation, by what they must ignore and what they must not."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr

from firstwash.light.measure import lmse, rank_correlation

RNG = np.random.default_rng(0)
TRUE = RNG.uniform(0.1, 0.9, (50, 70, 3))
EVERYWHERE = np.ones((50, 70), dtype=bool)


@given(st.floats(1e-3, 1e3))
def test_a_factor_costs_nothing(factor: float) -> None:
    assert lmse(TRUE, factor * TRUE, EVERYWHERE) < 1e-12


def test_black_costs_everything() -> None:
    assert lmse(TRUE, np.zeros_like(TRUE), EVERYWHERE) == 1.0


def test_a_wrong_hue_costs_in_colour() -> None:
    assert lmse(TRUE, TRUE * [1.0, 0.7, 0.5], EVERYWHERE) > 0.01


def test_one_window_by_hand() -> None:
    true, told = np.array([[1.0, 2.0], [3.0, 4.0]]), np.array([[1.0, 1.0], [1.0, 1.0]])
    # Best factor 10/4; what is left 30 − 100/4 of 30.
    assert np.isclose(lmse(true, told, np.ones((2, 2), dtype=bool)), 5.0 / 30.0)


def test_what_is_not_valid_does_not_count() -> None:
    half = EVERYWHERE.copy()
    half[:, 35:] = False
    spoiled = TRUE.copy()
    spoiled[:, 35:] = 7.0
    assert lmse(TRUE, spoiled, half) < 1e-12


def test_rank_correlation_as_scipy_with_ties() -> None:
    a = RNG.integers(0, 9, 300).astype(float)
    b = a + RNG.normal(size=300)
    assert np.isclose(rank_correlation(a, b), spearmanr(a, b).statistic)
    assert rank_correlation(a, np.ones(300)) == 0.0
