"""Photos set upright, and the way from what is touched back to the photo."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.picture.upright import (
    STRAIGHTEN_MOST,
    Turn,
    box_in_photo,
    from_photo,
    to_photo,
    turned,
    turned_size,
)

turns = st.builds(
    Turn,
    st.integers(-5, 9),
    st.floats(-STRAIGHTEN_MOST, STRAIGHTEN_MOST),
    st.booleans(),
)
quarters = st.builds(Turn, st.integers(-5, 9), st.just(0.0), st.booleans())
sides = st.integers(8, 400)
fractions = st.floats(0.0, 1.0)


def noise(rows: int = 30, cols: int = 40) -> np.ndarray:
    return np.random.default_rng(2).random((rows, cols, 3), dtype=np.float32)


def blob(x: float, y: float, rows: int = 240, cols: int = 320) -> np.ndarray:
    """A soft light spot at fractions x, y."""
    down, across = np.mgrid[0:rows, 0:cols] + 0.5
    away = (across - x * cols) ** 2 + (down - y * rows) ** 2
    return np.repeat(np.exp(-away / 50.0)[..., None], 3, axis=2).astype(np.float32)


def middle(picture: np.ndarray) -> tuple[float, float]:
    """Where the light of a picture lies, in fractions."""
    down, across = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]] + 0.5
    light = picture[..., 0] / picture[..., 0].sum()
    return (
        float((light * across).sum()) / picture.shape[1],
        float((light * down).sum()) / picture.shape[0],
    )


# --- pixels ------------------------------------------------------------------------


def test_nothing_asked_changes_nothing() -> None:
    picture = noise()
    np.testing.assert_array_equal(turned(picture, Turn()), picture)


def test_a_quarter_turn_is_clockwise() -> None:
    picture = noise()
    once = turned(picture, Turn(1))
    np.testing.assert_array_equal(once[0, -1], picture[0, 0])  # top left goes to top right
    np.testing.assert_array_equal(once[0, 0], picture[-1, 0])


@pytest.mark.parametrize("mirrored", [False, True])
def test_four_quarter_turns_come_round(mirrored: bool) -> None:
    picture = noise()
    for n in range(-4, 5):
        same = turned(picture, Turn(n, 0.0, mirrored))
        np.testing.assert_array_equal(same, turned(picture, Turn(n + 4, 0.0, mirrored)))
    np.testing.assert_array_equal(
        turned(turned(picture, Turn(1, 0.0, True)), Turn(1, 0.0, True)), picture
    )


def test_mirroring_comes_last_and_is_left_to_right() -> None:
    picture = noise()
    expected = turned(picture, Turn(1))[:, ::-1]
    np.testing.assert_array_equal(turned(picture, Turn(1, 0.0, True)), expected)


def test_straightening_turns_clockwise() -> None:
    """A spot right of the middle comes lower."""
    x, y = middle(turned(blob(0.7, 0.5), Turn(0, 10.0)))
    assert y > 0.55
    assert x > 0.6


@given(turns, sides, sides)
def test_the_size_is_the_largest_without_empty_corners(turn: Turn, w: int, h: int) -> None:
    """Its corners lie on or in the photo, and those of one just larger do not."""
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    there = to_photo(corners, turn, w, h)
    assert there.min() >= -1e-9
    assert there.max() <= 1 + 1e-9
    larger = to_photo(0.5 + (corners - 0.5) * 1.01, turn, w, h)
    assert larger.min() < 0.0 or larger.max() > 1.0
    wide, high = turned_size(w, h, turn)
    lain = (h, w) if turn.quarter_turns % 2 else (w, h)
    # The photo's proportions, to the nearest pixel.
    assert abs(wide - lain[0] * high / lain[1]) <= 0.5 + 0.5 * lain[0] / lain[1]


@pytest.mark.parametrize("shape", [(40, 60), (60, 40), (50, 50), (7, 200), (3, 3)])
@pytest.mark.parametrize("turn", [Turn(0, 7.0), Turn(3, -15.0, True), Turn(2, 0.01)])
def test_pixels_have_the_size_that_was_told(shape: tuple[int, int], turn: Turn) -> None:
    out = turned(noise(*shape), turn)
    assert out.shape[1::-1] == turned_size(shape[1], shape[0], turn)
    assert out.dtype == np.float32


@pytest.mark.parametrize("degrees", [-15.0, -3.3, 0.4, 12.0])
def test_no_colour_leaves_the_range_of_the_photo(degrees: float) -> None:
    """Black and white stripes: a plain cubic would overshoot both ways."""
    stripes = np.repeat((np.arange(60) // 6 % 2).astype(np.float32)[None, :, None], 40, axis=0)
    out = turned(np.repeat(stripes, 3, axis=2), Turn(0, degrees))
    assert out.min() >= 0.0
    assert out.max() <= 1.0


def test_an_even_picture_stays_even_to_its_corners() -> None:
    even = np.full((50, 70, 3), [0.2, 0.5, -0.01], dtype=np.float32)
    out = turned(even, Turn(1, 11.0, True))
    np.testing.assert_allclose(out, np.broadcast_to(even[0, 0], out.shape), atol=1e-6)


@pytest.mark.parametrize("degrees", [-12.0, 2.0, 9.0])
def test_straightened_there_and_back_keeps_the_picture(degrees: float) -> None:
    """The middle of a smooth picture survives two resamplings."""
    soft = blob(0.52, 0.47)
    back = turned(turned(soft, Turn(0, degrees)), Turn(0, -degrees))
    # Both turns keep less and less of the photo, about the same middle.
    kept_x, kept_y = back.shape[1] / soft.shape[1], back.shape[0] / soft.shape[0]
    x, y = middle(back)
    assert (0.5 + (x - 0.5) * kept_x, 0.5 + (y - 0.5) * kept_y) == pytest.approx(
        (0.52, 0.47), abs=0.002
    )
    assert back.max() == pytest.approx(soft.max(), abs=0.02)


# --- points ------------------------------------------------------------------------


@given(turns, sides, sides, fractions, fractions)
def test_points_come_back(turn: Turn, w: int, h: int, x: float, y: float) -> None:
    there = to_photo((x, y), turn, w, h)
    np.testing.assert_allclose(from_photo(there, turn, w, h), (x, y), atol=1e-9)


@given(quarters, fractions, fractions)
def test_quarter_turned_points_name_the_same_pixel(turn: Turn, x: float, y: float) -> None:
    picture = noise(9, 13)
    seen = turned(picture, turn)
    col, row = (
        min(int(x * seen.shape[1]), seen.shape[1] - 1),
        min(int(y * seen.shape[0]), seen.shape[0] - 1),
    )
    at = to_photo(((col + 0.5) / seen.shape[1], (row + 0.5) / seen.shape[0]), turn, 13, 9)
    np.testing.assert_array_equal(picture[int(at[1] * 9), int(at[0] * 13)], seen[row, col])


@pytest.mark.parametrize(
    "turn", [Turn(0, 8.0), Turn(1, -14.0), Turn(3, 5.0, True), Turn(2, 1, True)]
)
@pytest.mark.parametrize("place", [(0.4, 0.6), (0.55, 0.42)])
def test_a_touched_light_is_found_in_the_photo(turn: Turn, place: tuple[float, float]) -> None:
    photo = blob(*place)
    touched = middle(turned(photo, turn))
    # A hundredth of a pixel's worth of resampling, on 320 pixels.
    assert tuple(to_photo(touched, turn, 320, 240)) == pytest.approx(place, abs=1e-3)


def test_points_have_two_numbers() -> None:
    with pytest.raises(ValueError, match="points"):
        to_photo([0.1, 0.2, 0.3], Turn(), 10, 10)
    with pytest.raises(ValueError, match="points"):
        from_photo([0.1], Turn(), 10, 10)


# --- crops -------------------------------------------------------------------------


@pytest.mark.parametrize("turn", [Turn(), Turn(1, 0.0, True), Turn(0, 9.0), Turn(3, -6.0, True)])
def test_a_crop_is_part_of_the_whole(turn: Turn) -> None:
    picture = noise(64, 80)
    whole = turned(picture, turn)
    rows, cols = whole.shape[:2]
    part = turned(picture, turn, (8 / cols, 4 / rows, 24 / cols, 20 / rows))
    # The same places are resampled; float32.
    np.testing.assert_allclose(part, whole[4:24, 8:32], atol=2e-5)


@given(turns, st.floats(0, 0.5), st.floats(0, 0.5))
def test_the_box_in_the_photo_holds_the_crop(turn: Turn, left: float, top: float) -> None:
    x, y, w, h = box_in_photo((left, top, 0.5, 0.5), turn, 300, 200)
    assert min(x, y) >= 0.0
    assert max(x + w, y + h) <= 1.0 + 1e-9
    inside = to_photo([(left + 0.25, top + 0.25), (left, top + 0.5)], turn, 300, 200)
    assert (inside >= np.array([x, y]) - 1e-9).all()
    assert (inside <= np.array([x + w, y + h]) + 1e-9).all()


def test_the_box_of_an_upright_photo_is_the_crop() -> None:
    assert box_in_photo((0.1, 0.2, 0.3, 0.4), Turn(), 30, 20) == pytest.approx((0.1, 0.2, 0.3, 0.4))
    assert box_in_photo((0.1, 0.2, 0.3, 0.4), Turn(0, 0.0, True), 30, 20) == pytest.approx(
        (0.6, 0.2, 0.3, 0.4)
    )


@pytest.mark.parametrize(
    ("crop", "said"),
    [
        ((0.0, 0.0, 0.0, 1.0), "empty"),
        ((0.5, 0.5, -0.2, 0.2), "empty"),
        ((0.5, 0.0, 0.6, 1.0), "outside"),
        ((-0.2, 0.0, 0.6, 1.0), "outside"),
        ((math.nan, 0.0, 0.6, 1.0), "four numbers"),
        ((0.0, 0.0, math.inf, 1.0), "four numbers"),
    ],
)
@pytest.mark.parametrize("turn", [Turn(), Turn(0, 5.0)])
def test_a_crop_off_the_picture_is_refused(
    crop: tuple[float, float, float, float], said: str, turn: Turn
) -> None:
    with pytest.raises(RequestError, match=said):
        turned(noise(), turn, crop)


@pytest.mark.parametrize("degrees", [15.1, -16.0, math.nan, math.inf])
def test_a_larger_angle_is_refused(degrees: float) -> None:
    with pytest.raises(RequestError, match="15 degrees"):
        Turn(0, degrees)
