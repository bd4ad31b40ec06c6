"""Photos laid out on one sheet, and the drawing grid."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.picture.arrange import Laid, Placement, arranged, grid_lines, third_lines
from firstwash.picture.load import Photo
from firstwash.picture.reference import Reference, lay_on_sheet
from firstwash.picture.sheet import CropBox, Sheet, parse_sheet

SHEET = parse_sheet("12x8cm")
WHITE = linear_srgb_to_xyz(np.ones(3))
RED, BLUE = np.array([0.6, 0.1, 0.05]), np.array([0.05, 0.1, 0.6])


def noise(rows: int, cols: int) -> np.ndarray:
    return np.random.default_rng(1).random((rows, cols, 3), dtype=np.float32)


def even(colour: np.ndarray, rows: int = 60, cols: int = 90) -> np.ndarray:
    return np.broadcast_to(colour, (rows, cols, 3)).astype(np.float32)


def on_sheet(light: np.ndarray) -> Reference:
    rows, cols = light.shape[:2]
    photo = Photo(light, cols, rows, CropBox(0, 0, cols, rows), 8, "PNG", "sRGB", ())
    return lay_on_sheet(photo, SHEET)


def both(reference: Reference) -> tuple[np.ndarray, np.ndarray]:
    return reference.xyz, reference.judge_xyz


# --- one picture -------------------------------------------------------------------


@pytest.mark.parametrize("shape", [(60, 90), (160, 240), (400, 600), (401, 599)])
def test_one_picture_is_laid_as_ever(shape: tuple[int, int]) -> None:
    light = noise(*shape)
    ours, theirs = arranged(SHEET, [Laid(light)]), on_sheet(light)
    for name in ("xyz", "judge_xyz", "weight", "zone"):
        np.testing.assert_array_equal(getattr(ours, name), getattr(theirs, name))
    for name in ("ppmm", "judge_ppmm", "sheet", "photo_px", "background"):
        assert getattr(ours, name) == getattr(theirs, name)


@pytest.mark.parametrize("shape", [(160, 240), (320, 480), (400, 600), (230, 345)])
def test_a_placed_picture_that_fills_the_sheet_is_the_same(shape: tuple[int, int]) -> None:
    """Going down, areas are averaged as they are without a place. float32."""
    light = noise(*shape)
    for a, b in zip(
        both(arranged(SHEET, [Laid(light, Placement(0, 0, 1))])), both(on_sheet(light)), strict=True
    ):
        if a.shape[0] <= shape[0]:
            np.testing.assert_allclose(a, b, atol=2e-5)


def test_the_photos_own_size_can_be_told() -> None:
    assert arranged(SHEET, [Laid(noise(60, 90))], photo_px=(6000, 4000)).photo_px == (6000, 4000)
    assert arranged(SHEET, [Laid(noise(60, 90))]).photo_px == (90, 60)


# --- places ------------------------------------------------------------------------


def test_a_picture_lies_where_it_is_placed() -> None:
    """A quarter of the sheet's width, its own proportions, white around."""
    laid = arranged(SHEET, [Laid(even(RED, 40, 40), Placement(0.5, 0.25, 0.25))])
    for xyz in both(laid):
        rows, cols = xyz.shape[:2]
        # 3 cm from 6 cm across; 3 cm from 2 cm down.
        inside = xyz[int(rows * 0.30) : int(rows * 0.57), int(cols * 0.54) : int(cols * 0.71)]
        np.testing.assert_allclose(
            inside, np.broadcast_to(linear_srgb_to_xyz(RED), inside.shape), atol=1e-4
        )
        white = (np.abs(xyz - WHITE).max(axis=-1) < 1e-6).mean()
        assert white == pytest.approx(1 - 3 * 3 / 96, abs=0.01)  # whole pixels
        np.testing.assert_allclose(xyz[0, 0], WHITE, rtol=1e-6)


def test_the_edge_fades_inwards_over_a_millimetre() -> None:
    laid = arranged(SHEET, [Laid(even(np.zeros(3), 40, 40), Placement(0.25, 0.25, 0.25))])
    row = laid.xyz[80, :, 1]  # 2 pixels per mm; the picture spans columns 60 to 120
    assert row[:60].min() == pytest.approx(1.0, abs=1e-6)
    assert row[60] > 0.3
    assert row[63:117].max() < 0.03
    assert (np.diff(row[58:64]) <= 1e-6).all()


@pytest.mark.parametrize(
    "place", [Placement(-0.5, 0.0, 1.0), Placement(0.7, 0.7, 0.9), Placement(-2.0, -3.0, 6.0)]
)
def test_a_picture_may_hang_over_the_edge(place: Placement) -> None:
    """No fading at the sheet's own edge: the picture goes on past it."""
    laid = arranged(SHEET, [Laid(even(RED), place)])
    for xyz in both(laid):
        rows, cols = xyz.shape[:2]
        y, x = (rows - 1, cols - 1) if place.left > 0 else (0, 0)
        np.testing.assert_allclose(xyz[y, x], linear_srgb_to_xyz(RED), atol=1e-5)


def test_later_pictures_lie_over_earlier_ones() -> None:
    first, over = Laid(even(RED)), Laid(even(BLUE), Placement(0.25, 0.25, 0.5))
    laid = arranged(SHEET, [first, over])
    under = arranged(SHEET, [first, over, Laid(even(RED), Placement(0.2, 0.2, 0.6))])
    for xyz, hidden in zip(both(laid), both(under), strict=True):
        middle = xyz.shape[0] // 2, xyz.shape[1] // 2
        np.testing.assert_allclose(xyz[middle], linear_srgb_to_xyz(BLUE), atol=1e-5)
        np.testing.assert_allclose(hidden[middle], linear_srgb_to_xyz(RED), atol=1e-5)
        np.testing.assert_allclose(xyz[0, 0], linear_srgb_to_xyz(RED), atol=1e-5)


@given(st.floats(-0.4, 0.9), st.floats(-0.4, 0.9), st.floats(0.05, 1.5))
def test_no_colour_is_invented(left: float, top: float, width: float) -> None:
    """Every pixel lies between the picture's colour and white."""
    # The picture's height on this sheet; some of it must lie on the sheet.
    assume(left + width > 0 and top + width * 120 * 21 / 34 / 80 > 0)
    laid = arranged(SHEET, [Laid(even(RED, 21, 34), Placement(left, top, width))])
    ends = np.stack([linear_srgb_to_xyz(RED), WHITE])
    for xyz in both(laid):
        assert (xyz >= ends.min(axis=0) - 1e-5).all()
        assert (xyz <= ends.max(axis=0) + 1e-5).all()


def test_moving_by_a_pixel_moves_the_picture_by_one() -> None:
    picture = noise(90, 120)
    cols = arranged(SHEET, [Laid(picture, Placement(0.2, 0.2, 0.5))]).xyz.shape[1]
    one = arranged(SHEET, [Laid(picture, Placement(0.25, 0.2, 0.5))]).xyz
    two = arranged(SHEET, [Laid(picture, Placement(0.25 + 1 / cols, 0.2, 0.5))]).xyz
    np.testing.assert_allclose(one[:, :-1], two[:, 1:], atol=1e-5)


def test_light_is_averaged_from_every_pixel_once() -> None:
    """A checkerboard far finer than the sheet's pixels becomes half the light."""
    board = (np.indices((600, 900)).sum(axis=0) % 2).astype(np.float32)
    laid = arranged(SHEET, [Laid(np.repeat(board[..., None], 3, axis=2), Placement(0, 0, 0.9))])
    for xyz in both(laid):
        rows, cols = (int(0.8 * n) for n in xyz.shape[:2])
        np.testing.assert_allclose(xyz[:rows, :cols, 1], 0.5, atol=0.03)  # odd counts a pixel


# --- masks -------------------------------------------------------------------------


@pytest.mark.parametrize("shape", [(60, 90), (12, 18), (300, 450)])
def test_a_mask_keeps_what_it_says(shape: tuple[int, int]) -> None:
    mask = np.zeros(shape)
    mask[:, : shape[1] // 2] = 1
    laid = arranged(SHEET, [Laid(even(RED)), Laid(even(BLUE), Placement(0, 0, 1), mask)])
    for xyz in both(laid):
        cols = xyz.shape[1]
        for part, colour in ((xyz[:, : cols // 2 - 12], BLUE), (xyz[:, cols // 2 + 12 :], RED)):
            expected = np.broadcast_to(linear_srgb_to_xyz(colour), part.shape)
            np.testing.assert_allclose(part, expected, atol=1e-5)


def test_nothing_of_a_cut_outs_surroundings_comes_along() -> None:
    """The picture is black outside its mask; over white no pixel turns dark."""
    picture, mask = np.zeros((160, 240, 3), dtype=np.float32), np.zeros((160, 240))
    picture[40:120, 60:180] = 0.8
    mask[40:120, 60:180] = 1
    laid = arranged(SHEET, [Laid(picture, Placement(0, 0, 1), mask)])
    assert laid.xyz[..., 1].min() > 0.79


def test_a_mask_of_halves_lets_half_through() -> None:
    laid = arranged(
        SHEET, [Laid(even(RED)), Laid(even(BLUE), Placement(0, 0, 1), np.full((60, 90), 0.5))]
    )
    expected = 0.5 * linear_srgb_to_xyz(RED) + 0.5 * linear_srgb_to_xyz(BLUE)
    np.testing.assert_allclose(laid.xyz[80, 120], expected, atol=1e-5)


def test_a_masked_picture_may_fill_the_sheet() -> None:
    mask = np.zeros((60, 90))
    mask[20:40, 30:60] = 1
    xyz = arranged(SHEET, [Laid(even(RED), None, mask)]).xyz
    np.testing.assert_allclose(xyz[0, 0], WHITE, atol=1e-6)
    np.testing.assert_allclose(xyz[80, 120], linear_srgb_to_xyz(RED), atol=1e-5)


def test_the_photos_are_left_as_they_are() -> None:
    picture, mask = noise(60, 90), np.ones((60, 90))
    picture.setflags(write=False)
    mask.setflags(write=False)
    arranged(SHEET, [Laid(picture), Laid(picture, Placement(0.1, 0.1, 0.5), mask)])


# --- nonsense ----------------------------------------------------------------------


def test_what_cannot_be_laid_out_is_refused() -> None:
    picture = noise(60, 90)
    for pictures, said in (
        ([], "at least one"),
        ([Laid(picture), Laid(picture)], "Only the first"),
        ([Laid(picture, Placement(1.01, 0, 0.5))], "off the sheet"),
        ([Laid(picture), Laid(picture, Placement(0, -2, 0.5))], "off the sheet"),
        ([Laid(picture, Placement(0, 0, 1), np.ones((60, 90, 3)))], "plain grey"),
        ([Laid(picture, Placement(0, 0, 1), np.ones((1, 1)))], "plain grey"),
    ):
        with pytest.raises(RequestError, match=said):
            arranged(SHEET, pictures)


@pytest.mark.parametrize(
    "place", [(math.nan, 0, 1), (0, math.inf, 1), (0, 0, 0), (0, 0, -1), (0, 0, 21), (0, 0, 0.01)]
)
def test_a_place_that_is_none_is_refused(place: tuple[float, float, float]) -> None:
    with pytest.raises(RequestError, match="picture"):
        Placement(*place)


# --- grid --------------------------------------------------------------------------


@pytest.mark.parametrize("across", [1, 2, 3, 6])
def test_squares_across(across: int) -> None:
    lines = grid_lines(SHEET, across=across)
    upright = [line for line in lines if line.x1 == line.x2]
    level = [line for line in lines if line.y1 == line.y2]
    side = 120 / across
    assert [line.x1 for line in upright] == pytest.approx([side * n for n in range(1, across)])
    assert all((line.y1, line.y2) == (0, 80) for line in upright)
    assert [line.y1 for line in level] == pytest.approx(
        [side * n for n in range(1, 12) if side * n < 79.5]
    )
    assert all((line.x1, line.x2) == (0, 120) for line in level)


@given(st.floats(40, 800), st.floats(40, 800), st.floats(10, 900))
def test_lines_of_squares_lie_inside_and_even(width: float, height: float, side: float) -> None:
    lines = grid_lines(Sheet(width, height), every_mm=side)
    assert len(lines) <= (width + height) / side
    for line in lines:
        place = line.x1 if line.x1 == line.x2 else line.y1
        assert place / side == pytest.approx(round(place / side))
        assert 0 < place < (width if line.x1 == line.x2 else height)


def test_thirds() -> None:
    assert [tuple(line) for line in third_lines(SHEET)] == [
        (40, 0, 40, 80),
        (80, 0, 80, 80),
        (0, pytest.approx(80 / 3), 120, pytest.approx(80 / 3)),
        (0, pytest.approx(160 / 3), 120, pytest.approx(160 / 3)),
    ]


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"every_mm": 30.0, "across": 3},
        {"across": 0},
        {"across": 61},
        {"every_mm": 0.0},
        {"every_mm": -5.0},
        {"every_mm": 2.0},
        {"every_mm": math.nan},
        {"every_mm": math.inf},
    ],
)
def test_a_grid_nobody_could_draw_is_refused(asked: dict[str, float]) -> None:
    with pytest.raises(RequestError):
        grid_lines(SHEET, **asked)  # type: ignore[arg-type]
