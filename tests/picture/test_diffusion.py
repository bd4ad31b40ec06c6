"""Soft passages: nothing lost, nothing beyond its range, nothing over a hard edge."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.special import ndtr

from firstwash.picture.diffusion import Links, links_between, spread_fields


def open_links(shape: tuple[int, int], sigma_px: float) -> Links:
    rows, cols = shape
    return links_between(
        np.full(shape, sigma_px),
        np.zeros((rows, cols - 1), dtype=bool),
        np.zeros((rows - 1, cols), dtype=bool),
    )


@pytest.mark.parametrize("sigma", [2.0, 4.0, 8.0, 16.0])
@pytest.mark.parametrize("upright", [True, False])
def test_a_step_becomes_a_blurred_step_of_that_softness(sigma: float, upright: bool) -> None:
    """[Weickert1998]: diffusion for t with D is a Gaussian of σ² = 2Dt.

    Four implicit steps have tails a little longer than a Gaussian's: at most 4 % of the
    step's height off, and the variance itself exact to 2 % (the sheet's rim cuts the tails).
    """
    n = 240
    step = np.zeros((3, n, 1)) if upright else np.zeros((n, 3, 1))
    half = np.arange(n) >= n // 2
    step[(slice(None), half) if upright else half] = 1.0
    out = spread_fields(step, open_links(step.shape[:2], sigma))[..., 0]
    line = out[1] if upright else out[:, 1]
    place = np.arange(n) + 0.5 - n // 2
    assert np.abs(line - ndtr(place / sigma)).max() < 0.04
    kernel = np.diff(line)
    middle = place[:-1] + 0.5
    assert kernel @ middle**2 == pytest.approx(sigma**2, rel=0.02)


@given(
    fields=hnp.arrays(np.float32, (7, 9, 2), elements=st.floats(0, 5, width=32)),
    sigma=hnp.arrays(np.float32, (7, 9), elements=st.floats(0, 12, width=32)),
    seed=st.integers(0, 1000),
)
def test_nothing_is_lost_and_nothing_leaves_its_range(
    fields: np.ndarray, sigma: np.ndarray, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    links = links_between(sigma, rng.random((7, 8)) < 0.3, rng.random((6, 9)) < 0.3)
    out = spread_fields(fields, links)
    # float32 sums over 63 pixels of at most 5 each
    np.testing.assert_allclose(out.sum((0, 1)), fields.sum((0, 1)), rtol=1e-4, atol=1e-4)
    assert (out.max((0, 1)) <= fields.max((0, 1)) + 1e-4).all()
    assert (out.min((0, 1)) >= fields.min((0, 1)) - 1e-4).all()


def test_nothing_passes_a_hard_edge() -> None:
    rng = np.random.default_rng(3)
    fields = rng.random((20, 30, 3)).astype(np.float32)
    hard = np.zeros((20, 29), dtype=bool)
    hard[:, 11] = True
    links = links_between(np.full((20, 30), 5.0), hard, np.zeros((19, 30), dtype=bool))
    out = spread_fields(fields, links)
    moved = fields.copy()
    moved[:, 12:] += 1.0
    np.testing.assert_array_equal(spread_fields(moved, links)[:, :12], out[:, :12])
    np.testing.assert_allclose(
        out[:, :12].sum((0, 1)), fields[:, :12].sum((0, 1)), rtol=1e-5
    )  # float32


def test_without_softness_nothing_moves() -> None:
    fields = np.random.default_rng(1).random((6, 5, 2)).astype(np.float32)
    np.testing.assert_array_equal(spread_fields(fields, open_links((6, 5), 0.0)), fields)


def test_a_soft_pixel_beside_a_hard_one_stays_on_its_side() -> None:
    sigma = np.zeros((1, 6), dtype=np.float32)
    sigma[0, 3:] = 4.0
    fields = np.array([[0, 0, 0, 1, 0, 0]], dtype=np.float32)[..., None]
    links = links_between(sigma, np.zeros((1, 5), dtype=bool), np.zeros((0, 6), dtype=bool))
    out = spread_fields(fields, links)[0, :, 0]
    assert (out[:3] == 0).all()
    assert out[3:].sum() == pytest.approx(1.0, rel=1e-5)
    assert (out[3:] > 0.2).all()
