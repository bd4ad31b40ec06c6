"""The picture on the sheet, and what painters may change in it before planning."""

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.picture.load import Photo
from firstwash.picture.reference import (
    BACKGROUND,
    FOCAL_WEIGHT,
    WORK_PIXELS,
    Reference,
    focal_rectangle,
    gradient_place,
    lay_on_sheet,
    load_side,
    with_background,
    with_focal_area,
)
from firstwash.picture.sheet import CropBox, parse_sheet

PAPER_WHITE = np.array([0.80, 0.84, 0.88])


def photo(light: np.ndarray) -> Photo:
    rows, cols = light.shape[:2]
    box = CropBox(0, 0, cols, rows)
    return Photo(light.astype(np.float32), cols, rows, box, 8, "PNG", "sRGB", ())


@pytest.fixture(scope="module")
def noise() -> Photo:
    return photo(np.random.default_rng(1).random((120, 160, 3)))


@pytest.fixture
def reference(noise: Photo) -> Reference:
    return lay_on_sheet(noise, parse_sheet("8x6cm"))


# --- on the sheet ------------------------------------------------------------------


@pytest.mark.parametrize(
    "size", ["28x38cm", "A3", "quarter imperial", "5x7cm", "imperial", "1.5x2m", "3x3cm", "3x3m"]
)
def test_every_sheet_gets_a_sensible_size(size: str) -> None:
    sheet = parse_sheet(size)
    laid = lay_on_sheet(photo(np.full((130, 100, 3), 0.5)), sheet)
    rows, cols = laid.xyz.shape[:2]
    assert rows * cols <= WORK_PIXELS * 1.01  # the sides are rounded to whole pixels
    assert 0 < laid.ppmm <= 2
    assert 0 < laid.judge_ppmm <= 1
    for side, pixels in ((sheet.width_mm, cols), (sheet.height_mm, rows)):
        assert pixels == pytest.approx(side * laid.ppmm, abs=0.51)
    judge_rows, judge_cols = laid.judge_xyz.shape[:2]
    assert judge_cols == pytest.approx(sheet.width_mm * laid.judge_ppmm, abs=0.51)
    assert judge_rows == pytest.approx(sheet.height_mm * laid.judge_ppmm, abs=0.51)
    assert load_side(sheet) == int(np.ceil(4 * max(sheet.width_mm, sheet.height_mm)))


@pytest.mark.parametrize("shape", [(40, 60), (120, 180), (700, 1050)])
def test_an_even_photo_stays_even(shape: tuple[int, int]) -> None:
    """Enlarged, kept or averaged down, by the same colour everywhere."""
    laid = lay_on_sheet(photo(np.tile([0.2, 0.4, 0.1], (*shape, 1))), parse_sheet("9x6cm"))
    expected = linear_srgb_to_xyz(np.array([0.2, 0.4, 0.1]))
    for xyz in (laid.xyz, laid.judge_xyz):
        # Single precision.
        np.testing.assert_allclose(xyz, np.broadcast_to(expected, xyz.shape), rtol=1e-5)


def test_light_is_averaged_not_codes() -> None:
    """A checkerboard of black and white is half the light, not L* 50."""
    board = np.indices((240, 320)).sum(axis=0) % 2
    laid = lay_on_sheet(photo(np.repeat(board[..., None], 3, axis=2)), parse_sheet("8x6cm"))
    np.testing.assert_allclose(laid.judge_xyz[..., 1], 0.5, atol=1e-3)


def test_colours_outside_srgb_do_not_turn_negative() -> None:
    laid = lay_on_sheet(photo(np.tile([-0.4, 0.1, -0.3], (60, 80, 1))), parse_sheet("8x6cm"))
    assert (laid.xyz >= 0).all()
    assert np.isfinite(laid.lab).all()


# --- masks -------------------------------------------------------------------------


@pytest.mark.parametrize("treatment", ["painted", "bare", "graded"])
@pytest.mark.parametrize(
    ("mask", "said"),
    [
        (np.ones((60, 80)), "both a background and a subject"),
        (np.zeros((60, 80)), "both a background and a subject"),
        (np.ones((80, 60)), "other proportions"),
        (np.ones((1, 1)), "plain grey"),
        (np.ones((60, 80, 3)), "plain grey"),
    ],
)
def test_a_mask_that_says_nothing_is_refused(
    reference: Reference, treatment: str, mask: np.ndarray, said: str
) -> None:
    with pytest.raises(RequestError, match=said):
        with_background(reference, mask, treatment, PAPER_WHITE)  # type: ignore[arg-type]


def left_half(shape: tuple[int, int] = (60, 80)) -> np.ndarray:
    mask = np.zeros(shape)
    mask[:, : shape[1] // 2] = 1
    return mask


@pytest.mark.parametrize("shape", [(60, 80), (120, 160), (3, 4), (600, 800)])
def test_a_mask_of_any_size_lies_where_it_should(
    reference: Reference, shape: tuple[int, int]
) -> None:
    edited = with_background(reference, left_half(shape), "painted", PAPER_WHITE)
    share = (edited.zone == BACKGROUND).mean(axis=0)
    middle = len(share) // 2
    assert (share[: middle - 1] == 1).all()
    assert (share[middle + 1 :] == 0).all()


def test_a_painted_background_keeps_the_picture(reference: Reference) -> None:
    edited = with_background(reference, left_half(), "painted", PAPER_WHITE)
    np.testing.assert_array_equal(edited.xyz, reference.xyz)
    np.testing.assert_array_equal(edited.judge_xyz, reference.judge_xyz)
    assert edited.background == "painted"


@pytest.mark.parametrize("treatment", ["bare", "graded"])
def test_the_subject_keeps_its_own_pixels(reference: Reference, treatment: str) -> None:
    edited = with_background(reference, left_half(), treatment, PAPER_WHITE)  # type: ignore[arg-type]
    subject = edited.zone != BACKGROUND
    np.testing.assert_array_equal(edited.xyz[subject], reference.xyz[subject])
    cols = edited.judge_xyz.shape[1]
    # Single precision; the one column that both share is left out.
    np.testing.assert_allclose(
        edited.judge_xyz[:, cols // 2 + 1 :], reference.judge_xyz[:, cols // 2 + 1 :], atol=1e-6
    )


def test_a_bare_background_is_paper(reference: Reference) -> None:
    edited = with_background(reference, left_half(), "bare", PAPER_WHITE)
    behind = edited.xyz[edited.zone == BACKGROUND]
    np.testing.assert_allclose(behind, np.broadcast_to(PAPER_WHITE, behind.shape), atol=1e-6)
    cols = edited.judge_xyz.shape[1]
    np.testing.assert_allclose(
        edited.judge_xyz[:, : cols // 2 - 1],
        np.broadcast_to(PAPER_WHITE, (edited.judge_xyz.shape[0], cols // 2 - 1, 3)),
        atol=1e-5,
    )


@pytest.mark.parametrize("turned", [False, True])
def test_a_background_that_is_a_gradient_is_kept(turned: bool) -> None:
    ends = np.array([[0.1, 0.3, 0.7], [0.8, 0.85, 0.9]])
    along = np.linspace(0, 1, 160)[None, :, None]
    light = np.broadcast_to((1 - along) * ends[0] + along * ends[1], (120, 160, 3))
    sheet = parse_sheet("8x6cm")
    mask = left_half() if not turned else np.rot90(left_half((80, 60)))
    laid = lay_on_sheet(photo(light), sheet)
    edited = with_background(laid, mask, "graded", PAPER_WHITE)
    # Enlarging bends the first and last pixel a little.
    np.testing.assert_allclose(edited.xyz, laid.xyz, atol=5e-3)


def test_an_uneven_background_becomes_an_even_gradient(reference: Reference) -> None:
    edited = with_background(reference, left_half(), "graded", PAPER_WHITE)
    light = edited.xyz[..., 1].astype(float)
    inside = edited.zone == BACKGROUND
    rows, cols = np.indices(light.shape)
    design = np.column_stack([rows[inside], cols[inside], np.ones(inside.sum())])
    plane = np.linalg.lstsq(design, light[inside], rcond=None)[0]
    np.testing.assert_allclose(design @ plane, light[inside], atol=1e-4)


def test_the_place_along_a_gradient_runs_from_0_to_1() -> None:
    rows, cols = np.indices((40, 60))
    inside = np.ones((40, 60), dtype=bool)
    for plane in (rows, cols, rows + cols, -2.0 * rows + cols):
        place = gradient_place((40, 60), plane.astype(float), inside)
        span = (plane - plane.min()) / np.ptp(plane)
        np.testing.assert_allclose(place, span, atol=1e-9)


def test_a_flat_background_is_graded_from_top_to_bottom() -> None:
    place = gradient_place((40, 60), np.full((40, 60), 0.5), np.ones((40, 60), dtype=bool))
    assert place[0, 0] == 0
    assert place[-1, -1] == 1
    assert np.ptp(place[7]) == 0


# --- focal area --------------------------------------------------------------------


@pytest.mark.parametrize(
    "box",
    [
        (-0.1, 0, 0.5, 0.5),
        (0, 0, 0, 0.5),
        (0, 0, 0.5, -0.5),
        (0.6, 0, 0.5, 0.5),
        (0, 0.2, 0.5, 0.9),
        (float("nan"), 0, 1, 1),
        (0, 0, float("inf"), 1),
    ],
)
def test_a_focal_area_off_the_sheet_is_refused(
    reference: Reference, box: tuple[float, float, float, float]
) -> None:
    with pytest.raises(RequestError, match="The focal area"):
        focal_rectangle(reference, box)


def test_a_focal_rectangle_covers_what_it_says(reference: Reference) -> None:
    mask = focal_rectangle(reference, (0.25, 0.5, 0.5, 0.25))
    rows, cols = mask.shape
    assert mask.mean() == pytest.approx(0.125, abs=0.01)  # whole pixels
    assert mask[int(0.6 * rows), int(0.5 * cols)] == 1
    assert mask[int(0.4 * rows), int(0.5 * cols)] == 0


def test_the_smallest_focal_rectangle_is_a_pixel(reference: Reference) -> None:
    assert focal_rectangle(reference, (0.5, 0.5, 1e-9, 1e-9)).sum() == 1
    assert focal_rectangle(reference, (0.0, 0.0, 1.0, 1.0)).all()


def test_a_focal_area_weighs_more(reference: Reference) -> None:
    edited = with_focal_area(reference, left_half())
    cols = edited.weight.shape[1]
    assert (edited.weight[:, : cols // 2 - 1] == FOCAL_WEIGHT).all()
    assert (edited.weight[:, cols // 2 + 1 :] == 1).all()
    np.testing.assert_array_equal(edited.xyz, reference.xyz)


def test_a_focal_mask_of_other_proportions_is_refused(reference: Reference) -> None:
    with pytest.raises(RequestError, match="focal mask has other proportions"):
        with_focal_area(reference, np.ones((80, 60)))
