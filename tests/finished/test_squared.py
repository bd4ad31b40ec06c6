"""A photo squared and evenly lit: drawn sheets come back in their own colours and places."""

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from tests.drawn_sheets import PAPER, Drawn, Light, camera, corners, even, sideways, warm

from firstwash.errors import PhotoError
from firstwash.finished.squared import MOST_PPMM, SLIVER_PX, Squared, square, trimmed
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab

SHEET = Drawn(margin=(12.0, 18.0, 22.0, 15.0))
PAPER_XYZ = np.asarray(linear_srgb_to_xyz(PAPER))
EXPECTED = np.asarray(linear_srgb_to_xyz(SHEET.expected()))
VIEW = {"tilt": 15.0, "towards": 40.0, "turn": 3.0, "k1": 0.015}


def photo_of(sheet: Drawn = SHEET, light: Light = even, **view: Any) -> np.ndarray:
    plane = camera(sheet.wide, sheet.high, **(VIEW | view))
    return np.asarray(sheet.photo(plane, light))


def squared(photo: np.ndarray, sheet: Drawn = SHEET, **more: Any) -> Squared:
    return square(photo, PAPER_XYZ, sheet.inner, **more)


def apart(picture: np.ndarray, sheet: Drawn = SHEET) -> np.ndarray:
    """CIEDE2000 (patches,) between the middle of each patch and what was painted."""
    rows, cols = sheet.patches.shape[:2]
    small = cv2.resize(picture, (cols * 24, rows * 24), interpolation=cv2.INTER_AREA)
    patches = small.reshape(rows, 24, cols, 24, 3)[:, 8:16, :, 8:16]
    found = np.median(patches, axis=(1, 3))
    labs = [xyz_to_lab(linear_srgb_to_xyz(np.maximum(p, 0))) for p in (found, sheet.patches)]
    return np.asarray(delta_e_2000(*labs)).ravel()


@pytest.mark.parametrize("light", [even, warm, sideways])
def test_colours_come_back_in_any_light(light: Light) -> None:
    done = squared(photo_of(light=light), expected=EXPECTED)
    assert done.lit
    assert done.notes == ()
    # Light smooth, camera linear: what is left is the fit of the light, less than can be seen.
    assert apart(done.picture).max() < 1.0
    assert done.like is not None
    assert done.like > 0.9


def test_uneven_light_is_evened() -> None:
    done = squared(photo_of(light=sideways))
    rows, cols = done.sheet.shape[:2]
    edge = done.sheet[
        round(0.02 * rows) : round(0.98 * rows), [round(0.02 * cols), round(0.97 * cols)]
    ]
    lightness = xyz_to_lab(linear_srgb_to_xyz(edge))[..., 0]
    # Bare paper left and right, under light that differs by a half: 17 L* before.
    assert np.ptp(np.percentile(lightness, (2, 98))) < 1.0
    assert np.median(edge, axis=(0, 1)) == pytest.approx(PAPER, rel=0.01)


def test_places_and_margins_come_back() -> None:
    plane = camera(SHEET.wide, SHEET.high, **VIEW)
    done = squared(SHEET.photo(plane))
    assert done.margins_mm == pytest.approx(SHEET.margin, abs=0.7)  # two edges, a pixel each
    own = corners(*SHEET.inner)
    px = plane.pixels(SHEET.on_sheet(own))
    assert np.abs(done.plane.pixels(own) - px).max() < 1.5
    wide, high = SHEET.inner
    assert done.picture.shape[1] / done.picture.shape[0] == pytest.approx(wide / high, rel=0.005)
    assert done.ppmm == pytest.approx(done.picture.shape[1] / wide, rel=0.002)
    # Both pictures are of one density, so that both print at their size.
    assert done.sheet.shape[1] / done.ppmm == pytest.approx(SHEET.wide, abs=1.5)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_photo_is_turned_upright(quarters: int) -> None:
    photo = np.ascontiguousarray(np.rot90(photo_of(light=sideways), quarters))
    done = squared(photo, expected=EXPECTED)
    assert apart(done.picture).max() < 1.0
    assert done.margins_mm == pytest.approx(SHEET.margin, abs=0.7)


def test_without_a_size_there_is_no_density() -> None:
    done = square(photo_of(), PAPER_XYZ)
    assert done.ppmm is None
    assert done.margins_mm is None
    assert done.like is None
    assert done.lit
    wide, high = SHEET.inner
    # Sides alone tell the shape but roughly at 15 degrees off square.
    assert done.picture.shape[1] / done.picture.shape[0] == pytest.approx(wide / high, rel=0.05)
    assert apart(done.picture).max() < 1.0


def test_no_file_is_finer_than_printers_ask_for() -> None:
    small = Drawn(30.0, 22.0, margin=(3.0,) * 4)
    done = square(photo_of(small, k1=0.0), PAPER_XYZ, small.inner)
    assert done.ppmm == pytest.approx(MOST_PPMM)


def test_no_margin_is_told_and_nothing_is_changed() -> None:
    full = Drawn(margin=(0.0,) * 4, patches=np.random.default_rng(2).uniform(0.5, 0.7, (5, 7, 3)))
    done = square(photo_of(full), PAPER_XYZ, full.inner)
    assert not done.lit
    assert done.margins_mm is None
    assert any("No bare margin" in note for note in done.notes)
    assert apart(done.picture, full).max() < 0.5
    assert np.array_equal(done.picture, done.sheet)


def test_a_picture_with_a_bare_side_is_lit_from_the_rim_of_its_sheet() -> None:
    patches = SHEET.patches.copy()
    patches[:3] = PAPER
    open_above = Drawn(margin=SHEET.margin, patches=patches)
    expected = np.asarray(linear_srgb_to_xyz(open_above.expected()))
    done = squared(photo_of(open_above, sideways), expected=expected)
    assert done.lit
    assert done.ppmm is None
    assert any("rim of the paper" in note for note in done.notes)
    rows, cols = done.sheet.shape[:2]
    bare = done.sheet[round(0.03 * rows) : rows // 2, round(0.02 * cols) : round(0.98 * cols)]
    # Three hundredths of light at most, where it differed by 60.
    assert np.abs(bare / PAPER - 1.0).max() < 0.03
    # Paint up to the edge of a sheet is no rim of paper, whatever the plan leaves bare.
    full = Drawn(margin=(0.0,) * 4, patches=np.random.default_rng(2).uniform(0.5, 0.7, (5, 7, 3)))
    done = square(photo_of(full), PAPER_XYZ, full.inner, expected=expected)
    assert not done.lit


def test_a_burnt_margin_is_told() -> None:
    done = squared(np.minimum(photo_of() * 1.5, 1.0).astype(np.float32))
    assert not done.lit
    assert len(done.notes) == 1
    assert "burnt out" in done.notes[0]


def test_light_from_one_side_alone_is_told() -> None:
    def steep(u: Any, _v: Any) -> Any:
        return 0.5 * np.exp(-0.4 * u)[..., None] * (1.0, 1.0, 1.0)

    done = squared(photo_of(light=steep), expected=EXPECTED)
    assert done.lit
    assert any("times the light" in note for note in done.notes)
    assert apart(done.picture).max() < 1.5


def test_a_shadow_over_the_margin_is_told() -> None:
    def shaded(u: Any, v: Any) -> Any:
        shade = (u < -0.75) & (v > -0.2) | (v > 0.8) & (u < 0.2)
        return np.where(shade, 0.85, 1.0)[..., None] * (1.0, 1.0, 1.0)

    done = squared(photo_of(light=shaded))
    assert any("not simply bare paper" in note or "too uneven" in note for note in done.notes)


def test_another_painting_is_told() -> None:
    rng = np.random.default_rng(9)
    other = cv2.resize(rng.uniform(0.05, 0.6, (9, 11, 3)).astype(np.float32), (96, 96))
    done = squared(photo_of(), expected=other)
    assert done.like is not None
    assert done.like < 0.35
    assert any("looks little like" in note for note in done.notes)


def test_a_picture_of_another_shape_is_told() -> None:
    done = square(photo_of(tilt=2.0), PAPER_XYZ, (SHEET.inner[0], 1.3 * SHEET.inner[1]))
    assert any("shape" in note for note in done.notes)
    assert squared(photo_of(tilt=2.0)).notes == ()


def test_touched_corners_do_as_well() -> None:
    plane = camera(SHEET.wide, SHEET.high, **VIEW)
    touches = plane.pixels(corners(SHEET.wide, SHEET.high)) + 2.0
    done = squared(SHEET.photo(plane, sideways), touches=touches, expected=EXPECTED)
    assert apart(done.picture).max() < 1.0


def test_the_same_photo_gives_the_same_pixels() -> None:
    photo = photo_of(light=sideways)
    one, two = (squared(photo, expected=EXPECTED) for _ in range(2))
    assert np.array_equal(one.picture, two.picture)
    assert np.isfinite(one.picture).all()
    assert one.picture.dtype == np.float32


@pytest.mark.parametrize("level", [0.0, 0.5, 1.0])
def test_a_photo_of_nothing_is_refused(level: float) -> None:
    with pytest.raises(PhotoError):
        squared(np.full((300, 400, 3), level, np.float32))


def test_corners_touched_on_nothing_give_a_picture_and_say_so() -> None:
    touches = np.array([[40.0, 30.0], [360.0, 30.0], [360.0, 270.0], [40.0, 270.0]])
    done = squared(np.full((300, 400, 3), 0.5, np.float32), touches=touches, expected=EXPECTED)
    assert not done.lit
    assert len(done.notes) == 2  # no border, and not this painting
    assert np.isfinite(done.picture).all()


def test_slivers_beside_the_picture_are_trimmed() -> None:
    done = squared(photo_of())
    rows, cols = done.picture.shape[:2]
    assert trimmed(done).shape[:2] == (rows - 2 * SLIVER_PX, cols - 2 * SLIVER_PX)
    whole = replace(done, picture=done.sheet)  # no border was found, so nothing is cut off
    assert trimmed(whole) is whole.picture
