"""Small studies: squinting, value steps, hue without value, whites."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz, srgb_decode, xyz_to_lab
from firstwash.picture.studies import (
    FEWEST_STEPS,
    HUE_LIGHTNESS,
    MOST_STEPS,
    hue_against_grey,
    hue_beside_grey,
    in_value_steps,
    numbered,
    squinted,
    squinted_lab,
    step_grey,
    step_names,
    step_shares,
    whites,
)

PAPER = (95.0, 0.0, 2.0)
planes = arrays(float, (12, 15), elements=st.floats(0.0, 100.0))


def seen(codes: np.ndarray) -> np.ndarray:
    """CIELAB of an 8-bit sRGB picture."""
    return xyz_to_lab(linear_srgb_to_xyz(srgb_decode(codes / 255.0)))


def masses(rows: int = 200, cols: int = 300, grain: float = 6.0) -> np.ndarray:
    """A dark half and a light half, both grainy."""
    lab = np.zeros((rows, cols, 3))
    lab[..., 0] = np.where(np.arange(cols) < cols // 2, 25.0, 80.0)
    return lab + np.random.default_rng(1).normal(0.0, grain, lab.shape)


# --- squinting -------------------------------------------------------------------------


def test_open_eyes_see_everything() -> None:
    lab = masses()
    np.testing.assert_array_equal(squinted_lab(lab, 0.0), lab.astype(np.float32))


def test_the_harder_the_squint_the_less_detail() -> None:
    left = [np.std(squinted_lab(masses(), s)[:, 20:120, 0]) for s in (0.0, 0.3, 0.6, 1.0)]
    assert left == sorted(left, reverse=True)
    assert left[-1] < 0.05 * left[0]


def test_masses_keep_their_place_and_value() -> None:
    out = squinted_lab(masses(), 1.0)[..., 0]
    # Grain melts as light does, which is a little lighter than its mean L*.
    assert out[:, 20:120].mean() == pytest.approx(25.0, abs=2.0)
    assert out[:, 180:280].mean() == pytest.approx(80.0, abs=2.0)
    border = np.argmin(np.abs(out - 52.5), axis=1)
    assert np.abs(border - 149.5).max() <= 3


def test_a_fine_line_goes_and_a_wide_band_stays() -> None:
    lab = np.full((200, 300, 3), [80.0, 0.0, 0.0])
    lab[:, 100:102] = lab[:, 200:240] = [20.0, 0.0, 0.0]
    out = squinted_lab(lab, 0.7)[..., 0]
    assert out[:, 101].min() > 70.0
    assert out[:, 220].max() < 25.0


@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (40, 1), (64, 64)])
def test_any_size_can_be_squinted_at(shape: tuple[int, int]) -> None:
    lab = np.random.default_rng(2).uniform(0, 100, (*shape, 3))
    out = squinted(lab, 1.0)
    assert out.shape == (*shape, 3)
    assert out.dtype == np.uint8


@pytest.mark.parametrize("strength", [-0.1, 1.1, np.nan])
def test_an_impossible_squint_is_refused(strength: float) -> None:
    with pytest.raises(RequestError, match="Squint between 0"):
        squinted_lab(masses(), strength)
    with pytest.raises(RequestError, match="Squint between 0"):
        in_value_steps(masses()[..., 0], 5, strength)


# --- value steps -----------------------------------------------------------------------


@given(planes, st.integers(FEWEST_STEPS, MOST_STEPS))
def test_each_place_is_drawn_at_the_middle_of_its_step(plane: np.ndarray, steps: int) -> None:
    drawn = in_value_steps(plane, steps)
    assert (drawn == drawn[..., :1]).all()  # neutral
    # Half a step, and half an 8-bit code, which is up to 0.3 L* in the darks.
    assert np.abs(seen(drawn)[..., 0] - plane).max() <= 50.0 / steps + 0.3
    assert len(np.unique(drawn)) <= steps


@given(planes, st.integers(FEWEST_STEPS, MOST_STEPS), st.sampled_from([0.0, 0.8]))
def test_shares_add_up_and_match_the_picture(plane: np.ndarray, steps: int, squint: float) -> None:
    shares = step_shares(plane, steps, squint)
    assert len(shares) == steps
    assert sum(shares) == pytest.approx(1.0)
    drawn = in_value_steps(plane, steps, squint)[..., 0]
    for step, share in enumerate(shares, start=1):
        assert (drawn == step_grey(step, steps)[0]).mean() == pytest.approx(share)


def test_steps_count_from_the_dark() -> None:
    plane = np.array([[5.0, 15.0], [95.0, 99.0]])
    assert step_shares(plane, 5) == (0.5, 0.0, 0.0, 0.0, 0.5)
    greys = [step_grey(step, 10)[0] for step in range(1, 11)]
    assert greys == sorted(greys)


def test_squinting_leaves_few_pieces_and_no_contours() -> None:
    """Between a dark and a light mass no band of middle values appears."""
    lightness = masses()[..., 0]
    shares = step_shares(lightness, 5, 0.6)
    assert shares[2] == 0.0
    assert shares[1] + shares[3] + shares[4] == pytest.approx(1.0)
    raw = step_shares(lightness, 5)
    assert raw[2] + raw[0] > 0.05


@pytest.mark.parametrize("steps", range(FEWEST_STEPS, MOST_STEPS + 1))
def test_every_step_has_its_own_name(steps: int) -> None:
    dark, light = step_names(steps, "dark"), step_names(steps, "light")
    assert [name.number for name in dark] == list(range(1, steps + 1))
    assert [name.number for name in light] == list(range(steps, 0, -1))
    words = [name.words for name in dark]
    assert words == [name.words for name in light]
    assert len(set(words)) == steps
    assert "dark" in words[0]
    assert "light" in words[-1]
    assert ("middle" in words) == bool(steps % 2)
    assert [w.replace("dark", "light") for w in words[: steps // 2]] == words[::-1][: steps // 2]


def test_numbers_run_from_either_end() -> None:
    assert numbered(2, 5, "dark") == 2
    assert numbered(2, 5, "light") == 4


@pytest.mark.parametrize("steps", [-1, 0, 1, 11])
def test_other_numbers_of_steps_are_refused(steps: int) -> None:
    for ask in (
        lambda: in_value_steps(np.zeros((3, 3)), steps),
        lambda: step_shares(np.zeros((3, 3)), steps),
        lambda: step_names(steps),
        lambda: hue_beside_grey((50.0, 0.0, 0.0), steps),
    ):
        with pytest.raises(RequestError, match="2 to 10"):
            ask()


# --- hue -------------------------------------------------------------------------------


def test_every_place_is_equally_light() -> None:
    lab = np.random.default_rng(3).uniform([0, -90, -90], [100, 90, 90], (40, 50, 3))
    shown = seen(hue_against_grey(lab))
    # 8-bit codes.
    assert np.abs(shown[..., 0] - HUE_LIGHTNESS).max() < 0.6


def test_hue_is_kept_even_where_chroma_cannot_be() -> None:
    angle = np.radians(np.arange(0, 360, 5))
    lab = np.stack([np.full(72, 20.0), 120 * np.cos(angle), 120 * np.sin(angle)], axis=-1)[None]
    shown = seen(hue_against_grey(lab))[0]
    turn = np.degrees(np.arctan2(shown[:, 2], shown[:, 1])) - np.arange(0, 360, 5)
    # 8-bit codes, at chroma of 35 and more.
    assert np.abs((turn + 180) % 360 - 180).max() < 1.5


def test_small_chroma_is_kept_and_greys_are_grey() -> None:
    lab = np.array([[[20.0, 2.0, -2.0], [90.0, 15.0, 15.0], [40.0, 0.0, 0.0]]])
    shown = seen(hue_against_grey(lab, tolerance=4.0))[0]
    assert np.hypot(*shown[0, 1:]) < 0.5
    np.testing.assert_allclose(shown[1, 1:], [15.0, 15.0], atol=0.6)
    np.testing.assert_allclose(shown[2], [60.0, 0.0, 0.0], atol=0.3)
    np.testing.assert_allclose(seen(hue_against_grey(lab, 0.0))[0, 0, 1:], [2.0, -2.0], atol=0.6)


@pytest.mark.parametrize(
    ("lab", "step", "leans", "strength"),
    [
        ((55.0, 36.0, 56.0), 6, "warm", "strong"),
        ((55.0, 0.0, -40.0), 6, "cool", "clear"),
        ((20.0, 5.0, 5.0), 3, "warm", "almost grey"),
        ((80.0, 1.0, 1.0), 9, "neither", "grey"),
        ((50.0, -15.0, 8.0), 6, "neither", "quiet"),
        ((100.0, 0.0, 0.0), 10, "neither", "grey"),
    ],
)
def test_a_touched_colour_is_told(
    lab: tuple[float, float, float], step: int, leans: str, strength: str
) -> None:
    told = hue_beside_grey(lab)
    assert (told.step, told.leans, told.strength) == (step, leans, strength)
    assert told.grey == (lab[0], 0.0, 0.0)
    assert told.lab == lab
    assert f"value step {step} of 10 from dark." in told.words


def test_a_touched_colour_is_counted_from_the_light_if_asked() -> None:
    told = hue_beside_grey((25.0, 0.0, 0.0), 5, "light")
    assert told.step == 2
    assert told.words == "A grey, value step 4 of 5 from light."


# --- whites ----------------------------------------------------------------------------


def with_white(size: int, lightness: float = 94.0) -> np.ndarray:
    lab = np.full((100, 150, 3), [50.0, 10.0, 20.0])
    lab[40 : 40 + size, 60 : 60 + size] = [lightness, 0.0, 2.0]
    return lab


def test_a_white_is_found_where_it_is() -> None:
    found = whites(with_white(20), PAPER, 2.0)
    expected = with_white(20)[..., 0] > 60
    # Corners are rounded by a median of a millimetre.
    assert (found.mask ^ expected).sum() <= 8
    assert found.share == found.mask.mean()
    assert found.places == 1
    assert found.words == "One place stays bare paper, a few hundredths of the sheet."


@pytest.mark.parametrize(("size", "ppmm", "places"), [(6, 2.0, 1), (3, 2.0, 0), (6, 1.0, 1)])
def test_specks_are_left_out_by_their_size_on_paper(size: int, ppmm: float, places: int) -> None:
    assert whites(with_white(size), PAPER, ppmm).places == places


def test_a_gap_in_a_white_is_closed() -> None:
    lab = with_white(40)
    lab[55:58, 75:78] = [50.0, 10.0, 20.0]
    assert whites(lab, PAPER, 2.0).mask[56, 76]


def test_a_white_is_measured_by_the_lightest_of_the_picture() -> None:
    """An underexposed photo's white counts, its lights do not."""
    lab = with_white(30, 86.0)
    lab[:20] = [76.0, 0.0, 2.0]
    found = whites(lab, PAPER, 2.0)
    assert found.mask[50, 70]
    assert not found.mask[:20].any()


@pytest.mark.parametrize(
    "lab",
    [with_white(30, 70.0), np.full((50, 50, 3), [95.0, 30.0, 60.0]), np.zeros((20, 30, 3))],
)
def test_where_nothing_is_white_nothing_stays(lab: np.ndarray) -> None:
    found = whites(lab, PAPER, 2.0)
    assert not found.mask.any()
    assert (found.share, found.places) == (0.0, 0)
    assert "no white" in found.words


def test_an_empty_sheet_is_all_white() -> None:
    found = whites(np.full((30, 40, 3), PAPER), PAPER, 2.0)
    assert found.mask.all()
    assert found.words == "One place stays bare paper, most of the sheet."


def test_a_glint_lighter_than_the_paper_is_white() -> None:
    assert whites(with_white(20, 100.0), PAPER, 2.0).places == 1
