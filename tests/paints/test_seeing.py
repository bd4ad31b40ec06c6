"""Who looked: a camera and its inverse, an instrument and its sheen; slopes of both."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.paints.seeing import Camera, Instrument, Look

PAPER = np.linspace(0.80, 0.88, N_BANDS)


def bump(centre: float, width: float) -> np.ndarray:
    return np.exp(-0.5 * ((np.arange(N_BANDS) - centre) / width) ** 2)


RESPONSE = np.stack([bump(22, 4), bump(15, 4), bump(7, 4)], axis=1)


def smooth(rng: np.random.Generator, count: int) -> np.ndarray:
    """(count, 36) reflectances of every colour and depth, 0.02 to 0.9."""
    bands = np.arange(N_BANDS)
    centre, width = rng.uniform(0, N_BANDS, (count, 1)), rng.uniform(4, 15, (count, 1))
    low, high = rng.uniform(0.02, 0.3, (count, 1)), rng.uniform(0.3, 0.9, (count, 1))
    return low + (high - low) * np.exp(-0.5 * ((bands - centre) / width) ** 2)


def camera(rng: np.random.Generator, count: int = 6) -> Camera:
    """One that is unsure about everything it can be unsure about."""
    return Camera(
        rng.uniform(0.1, 0.9, (count, 3)), rng.uniform(0.01, 0.05, (count, 3)), PAPER, RESPONSE,
        0.03 * rng.standard_normal((4, N_BANDS, 3)), np.array([-0.2, -0.1, -0.01]),
        np.diag([0.14, 0.11, 0.06]), (0.1, 0.06), (0.007, 0.004),
    )  # fmt: skip


def instrument(rng: np.random.Generator, sheen: bool, count: int = 6) -> Instrument:
    profiles = 0.02 * rng.random((count, 2)) if sheen else None
    return Instrument(smooth(rng, count), rng.uniform(0.5, 2, count), 0.1, profiles)


LOOKS = st.builds(
    Look,
    st.just(RESPONSE),
    st.tuples(st.floats(-0.4, 0.2), st.floats(-0.25, 0.1), st.floats(-0.05, 0.03)).map(np.array),
    st.floats(-0.1, 0.25),
    st.floats(0.0, 0.02),
)
LOGS = st.lists(st.floats(-2.5, 0.05), min_size=3, max_size=3).map(lambda v: np.array([v]))


# ------------------------------------------------------------------ slopes


@pytest.mark.parametrize("kind", ["camera", "instrument", "shining instrument"])
def test_slopes_are_small_differences(kind: str, rng) -> None:
    watcher = camera(rng) if kind == "camera" else instrument(rng, kind.startswith("shining"))
    seen, own = smooth(rng, 6), 0.5 * rng.standard_normal(watcher.unsure)
    by_r, by_own = watcher.slopes(seen, own)
    step = 1e-6
    # Middle differences over 1e-6 are right to about 1e-6 of slopes of up to some hundred.
    for band in range(0, N_BANDS, 5):
        way = np.zeros(N_BANDS)
        way[band] = step
        up, down = (watcher.residuals(seen + w, own) for w in (way, -way))
        np.testing.assert_allclose(by_r[:, :, band], (up - down) / (2 * step), atol=1e-3)
    assert by_own.shape == (6, by_r.shape[1], watcher.unsure)
    for i in range(watcher.unsure):
        way = np.zeros(watcher.unsure)
        way[i] = step
        up, down = (watcher.residuals(seen, own + w) for w in (way, -way))
        np.testing.assert_allclose(by_own[:, :, i], (up - down) / (2 * step), atol=1e-3)


def test_black_swatches_keep_everything_finite(rng) -> None:
    black = np.zeros((6, N_BANDS))
    for watcher in (camera(rng), instrument(rng, True)):
        own = np.zeros(watcher.unsure)
        assert np.isfinite(watcher.residuals(black, own)).all()
        assert all(np.isfinite(s).all() for s in watcher.slopes(black, own))


# ------------------------------------------------------------------ the camera


@given(LOOKS, LOGS)
def test_shares_undo_seen(look: Look, log: np.ndarray) -> None:
    codes = look._coded(log)[1]
    if codes.min() < 0.02:  # near black a code is held up, and what was below is lost
        return
    np.testing.assert_allclose(look.shares(look.seen(log)), log, atol=1e-7)


@given(LOOKS)
def test_paper_is_paper_to_every_camera(look: Look) -> None:
    """All shares are told of the paper, whatever the camera does to tones and colours."""
    log = look.logs(PAPER[None], PAPER)
    np.testing.assert_allclose(look.seen(log), 1.0, atol=1e-12)
    np.testing.assert_allclose(look.shares(np.ones((1, 3))), 0.0, atol=1e-9)


@given(LOOKS)
def test_more_light_is_seen_as_more(look: Look) -> None:
    grey = np.linspace(-4.0, 0.0, 40)[:, None] * np.ones(3)
    seen = look.seen(grey)
    # Greys stay grey, and steps stay in order, for all tones that phones are thought to have.
    assert (np.diff(seen, axis=0) >= 0.0).all()
    np.testing.assert_allclose(seen[:, 0], seen[:, 1], rtol=1e-9)


def test_a_plain_camera_tells_the_light_itself(rng) -> None:
    seen = smooth(rng, 5)
    share = (seen @ RESPONSE) / (PAPER @ RESPONSE)
    plain = Camera(share, np.full((5, 3), 0.01), PAPER, RESPONSE)
    assert plain.unsure == 2  # colourfulness and stray light, of which it is sure
    np.testing.assert_allclose(plain.residuals(seen, np.zeros(2)), 0.0, atol=1e-9)
    look = plain.now(np.zeros(2))
    np.testing.assert_allclose(look.seen(look.logs(seen, PAPER)), share)


def test_differences_are_told_in_spreads_of_cube_roots() -> None:
    grey = np.array([0.1, 0.4])[:, None] * PAPER
    one = Camera(np.full((2, 3), 0.4), np.full((2, 3), 0.02), PAPER, RESPONSE)
    found = one.residuals(grey, np.zeros(2))
    np.testing.assert_allclose(found[0], (np.cbrt(0.1) - np.cbrt(0.4)) / 0.02)
    np.testing.assert_allclose(found[1], 0.0, atol=1e-9)


def test_the_scale_of_the_response_does_not_matter(rng) -> None:
    seen = smooth(rng, 5)
    one, other = (Look(s * RESPONSE, np.array([-0.2, -0.1, 0.0]), 0.1, 0.01) for s in (1.0, 7.0))
    np.testing.assert_allclose(
        one.seen(one.logs(seen, PAPER)), other.seen(other.logs(seen, PAPER)), rtol=1e-12
    )


def test_colourful_pictures_keep_greys_and_move_colours_apart() -> None:
    look = Look(RESPONSE, np.zeros(3), 0.2, 0.0)
    log = np.log(np.array([[0.5, 0.5, 0.5], [0.6, 0.4, 0.3]]))
    seen = look.seen(log)
    np.testing.assert_allclose(seen[0], 0.5)
    assert seen[1, 0] > 0.6
    assert seen[1, 2] < 0.3


def test_stray_light_lifts_blacks_and_leaves_paper() -> None:
    look = Look(RESPONSE, np.zeros(3), 0.0, 0.02)
    dark, white = np.full((1, 3), np.log(1e-4)), np.zeros((1, 3))
    assert look.seen(dark)[0, 0] == pytest.approx(0.0197, abs=2e-4)  # 0.02 / 1.02, and 1e-4
    np.testing.assert_allclose(look.seen(white), 1.0)


# ------------------------------------------------------------------ the instrument


def test_an_instrument_finds_no_fault_with_the_truth(rng) -> None:
    one = instrument(rng, sheen=False)
    assert one.unsure == 0
    np.testing.assert_allclose(one.residuals(one.seen, np.zeros(0)), 0.0, atol=1e-12)


def test_residuals_are_told_in_spreads(rng) -> None:
    seen, moved = smooth(rng, 3), smooth(rng, 3)
    one = Instrument(seen, lab=2.0, root=0.05)
    found = one.residuals(moved, np.zeros(0))
    assert found.shape == (3, 3 + N_BANDS)
    off = reflectance_to_lab(moved) - reflectance_to_lab(seen)
    np.testing.assert_allclose(found[:, :3], off / 2.0)
    np.testing.assert_allclose(found[:, 3:], (np.sqrt(moved) - np.sqrt(seen)) / 0.05)


def test_sheen_lifts_what_is_dark_and_never_beyond_white() -> None:
    profiles = np.full((6, 1), 0.04)
    dark, white = np.zeros((6, N_BANDS)), np.ones((6, N_BANDS))
    one = Instrument(np.full((6, N_BANDS), 0.04), sheen=profiles)
    # A surface that throws back 4 % shows black as 4 % grey, and white as white.
    np.testing.assert_allclose(one.residuals(dark, np.ones(1)), 0.0, atol=1e-9)
    lit = Instrument(white, sheen=profiles)
    np.testing.assert_allclose(lit.residuals(white, np.ones(1)), 0.0, atol=1e-9)
    assert one.unsure == 1
