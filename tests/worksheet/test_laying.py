"""A scene laid on its sheet: by the road the command line takes, and as the painter asked."""

import hashlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from tests.worksheet.small import cup_png, is_sentence, png
from tests.worksheet.test_brief import scenes

from firstwash.errors import FirstwashError, Missing, PhotoError, RequestError, SheetError
from firstwash.optics.observer import lab_to_srgb8
from firstwash.paints.catalogue import default_paper
from firstwash.picture.load import load_photo, photo_size
from firstwash.picture.reference import BACKGROUND, Reference, lay_on_sheet, load_side
from firstwash.picture.sheet import crop_box, parse_sheet
from firstwash.worksheet.brief import Area, Background, Mark, Picture, Place, Scene, SheetAsked
from firstwash.worksheet.laying import (
    background_mask,
    crop_of,
    lab_of_hex,
    lay,
    photographed,
    sheet_of,
)

PAPER = default_paper()
SMALL = SheetAsked(size="8x6cm")
FILES: dict[str, bytes] = {}


def kept(data: bytes) -> str:
    key = hashlib.sha256(data).hexdigest()
    FILES[key] = data
    return key


def fetch(key: str) -> bytes:
    if key not in FILES:
        raise Missing("This file is not here.")
    return FILES[key]


def picture(data: bytes, **more: Any) -> Picture:
    return Picture(file=kept(data), size=photo_size(data), **more)


def scene(*pictures: Picture, sheet: SheetAsked = SMALL, **more: Any) -> Scene:
    return Scene(pictures=pictures, sheet=sheet, **more)


def laid(asked: Scene) -> Reference:
    return lay(asked, fetch, PAPER)


@pytest.fixture(scope="module")
def pixels() -> np.ndarray:
    """A photo of the sheet's proportions whose four quarters differ; some noise, no symmetry."""
    rng = np.random.default_rng(1)
    out = rng.integers(90, 130, (240, 320, 3)).astype(np.uint8)
    out[:120, :160] = (200, 60, 40)
    out[120:, 160:, 2] = 220
    return out


def same(one: Reference, other: Reference) -> None:
    np.testing.assert_array_equal(one.xyz, other.xyz)
    np.testing.assert_array_equal(one.judge_xyz, other.judge_xyz)
    np.testing.assert_array_equal(one.weight, other.weight)
    np.testing.assert_array_equal(one.zone, other.zone)
    assert (one.sheet, one.ppmm, one.photo_px) == (other.sheet, other.ppmm, other.photo_px)


# --- one photo -------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ["15x11cm", "8x8cm", "5x7in"])
def test_a_plain_photo_is_laid_as_the_command_line_lays_it(size: str) -> None:
    data = cup_png()
    wide, high = photo_size(data)
    sheet = parse_sheet(size).oriented_for(wide, high)
    crop = crop_box(wide, high, sheet)
    photo = load_photo(data, crop=crop, max_pixels_per_side=load_side(sheet))
    same(laid(scene(picture(data), sheet=SheetAsked(size=size))), lay_on_sheet(photo, sheet))


def test_a_photo_set_upright_is_laid_as_if_it_had_been_taken_so(pixels: np.ndarray) -> None:
    """Quarter turns and mirroring move pixels and change none, so to the last digit."""
    for turns in range(4):
        for mirrored in (False, True):
            taken = np.rot90(pixels, -turns)
            taken = np.ascontiguousarray(taken[:, ::-1] if mirrored else taken)
            one = laid(scene(picture(png(pixels), turns=turns, mirrored=mirrored)))
            same(one, laid(scene(picture(png(taken)))))


def test_the_sheet_lies_as_the_photo_or_as_asked(pixels: np.ndarray) -> None:
    data = png(pixels)
    assert sheet_of(scene(picture(data))).landscape
    assert not sheet_of(scene(picture(data, turns=1))).landscape
    assert not sheet_of(scene(picture(data, crop=(0.0, 0.0, 0.3, 1.0)))).landscape
    for lie in ("upright", "across"):
        asked = SheetAsked(size="8x6cm", lie=lie)
        sheet = sheet_of(scene(picture(data), sheet=asked))
        assert sheet.landscape == (lie == "across")
        found = laid(scene(picture(data), sheet=asked))
        assert (found.xyz.shape[1] > found.xyz.shape[0]) == (lie == "across")


def test_a_crop_is_laid_as_if_nothing_else_had_been_taken(pixels: np.ndarray) -> None:
    part = np.ascontiguousarray(pixels[60:180, 40:200])  # 4 to 3, as the sheet
    cropped = picture(png(pixels), crop=(40 / 320, 60 / 240, 160 / 320, 120 / 240))
    same(laid(scene(cropped)), laid(scene(picture(png(part)))))
    turned = picture(png(pixels), turns=2, crop=(120 / 320, 60 / 240, 160 / 320, 120 / 240))
    other = laid(scene(picture(png(np.ascontiguousarray(part[::-1, ::-1])))))
    same(laid(scene(turned)), other)


def test_a_crop_of_other_proportions_gives_way_to_the_sheets() -> None:
    data = cup_png()
    asked = picture(data, crop=(0.2, 0.2, 0.6, 0.2))
    sheet = sheet_of(scene(asked))
    box = crop_of(asked, sheet)
    # One pixel of rounding in the shorter side.
    assert box.width / box.height == pytest.approx(8 / 6, abs=8 / 6 / (box.height - 1))
    middle = (box.x + box.width / 2) / 380, (box.y + box.height / 2) / 280
    np.testing.assert_allclose(middle, (0.5, 0.3), atol=0.01)


def test_a_straightened_photo_shows_its_middle_where_it_was(pixels: np.ndarray) -> None:
    plain, tilted = (laid(scene(picture(png(pixels), tilt=t))) for t in (0.0, 8.0))
    assert tilted.xyz.shape == plain.xyz.shape
    quarter = (slice(20, 40), slice(25, 55))  # well within the red one
    # The red is even, so a cubic over it moves nothing but rounding.
    np.testing.assert_allclose(tilted.xyz[quarter], plain.xyz[quarter], atol=1e-4)
    assert not np.array_equal(tilted.xyz, plain.xyz)


@pytest.mark.parametrize("turns", [0, 1])
def test_the_spot_touched_as_neutral_becomes_neutral(pixels: np.ndarray, turns: int) -> None:
    """White balance is told in the turned picture: the spot must be found in the photo."""
    tinted = pixels.copy()
    tinted[:120, :160] = (150, 120, 90)
    place = (0.25, 0.25) if turns == 0 else (0.75, 0.25)
    data = png(tinted)
    before = laid(scene(picture(data, turns=turns)))
    after = laid(scene(picture(data, turns=turns, neutral=place)))
    rows, cols = after.lab.shape[:2]
    at = int(place[1] * rows), int(place[0] * cols)
    assert np.hypot(*before.lab[at][1:]) > 15.0
    assert np.hypot(*after.lab[at][1:]) < 0.5  # what single precision and rounding leave
    told = photographed(picture(data, turns=turns, neutral=place), fetch, 320)
    assert told.balance is not None


# --- several photos, and what is changed -----------------------------------------------------


def plain_colour(red: int, green: int, blue: int, size: tuple[int, int] = (72, 96)) -> bytes:
    return png(np.full((*size, 3), (red, green, blue), dtype=np.uint8))


def code(found: Reference, across: float, down: float) -> tuple[int, ...]:
    """The colour at a place (fractions of the sheet), as a screen shows it."""
    rows, cols = found.lab.shape[:2]
    return tuple(lab_to_srgb8(found.lab[int(down * rows), int(across * cols)]).tolist())


def test_photos_are_laid_over_each_other_where_they_were_placed() -> None:
    ground, blue = plain_colour(210, 200, 190), plain_colour(20, 40, 200)
    green = plain_colour(30, 160, 60)
    found = laid(
        scene(
            picture(ground),
            picture(blue, place=Place(left=0.5, top=0.5, width=0.4)),
            picture(green, place=Place(left=-0.2, top=-0.2, width=0.5)),
        )
    )
    # Within two codes: single precision, and a picture brought to another size.
    near = {"rtol": 0, "atol": 2}
    np.testing.assert_allclose(code(found, 0.7, 0.7), (20, 40, 200), **near)
    np.testing.assert_allclose(code(found, 0.1, 0.1), (30, 160, 60), **near)
    np.testing.assert_allclose(code(found, 0.9, 0.1), (210, 200, 190), **near)
    np.testing.assert_allclose(code(found, 0.97, 0.97), (210, 200, 190), **near)


def test_a_placed_photo_alone_lies_on_white() -> None:
    found = laid(scene(picture(plain_colour(20, 40, 200), place=Place(left=0, top=0, width=0.5))))
    np.testing.assert_allclose(code(found, 0.9, 0.9), (255, 255, 255), atol=1)
    np.testing.assert_allclose(code(found, 0.2, 0.2), (20, 40, 200), atol=2)


def test_a_photo_off_the_sheet_or_a_second_that_fills_it_is_refused() -> None:
    ground = picture(plain_colour(210, 200, 190))
    off = ground.but(place=Place(left=1.0, top=1.0, width=0.5))
    for wrong in ((ground, off), (ground, ground), (off,)):
        with pytest.raises(RequestError) as error:
            laid(scene(*wrong))
        assert is_sentence(str(error.value))


@pytest.fixture(scope="module")
def disc() -> bytes:
    """A dark red disc on a pale ground."""
    rows, cols = np.mgrid[:240, :320]
    inside = (rows - 120) ** 2 + (cols - 160) ** 2 < 60**2
    return png(np.where(inside[..., None], (120, 20, 30), (205, 210, 215)).astype(np.uint8))


def marked(treatment: str) -> Background:
    return Background(
        treatment=treatment,
        marks=(
            Mark(kind="background", points=((0.1, 0.1), (0.9, 0.1))),
            Mark(kind="subject", points=((0.45, 0.5), (0.55, 0.5))),
        ),
    )


@pytest.mark.parametrize("treatment", ["painted", "bare", "graded"])
def test_the_background_is_treated_as_asked(disc: bytes, treatment: str) -> None:
    asked = scene(picture(disc), background=marked(treatment))
    plain, found = laid(scene(picture(disc))), laid(asked)
    assert found.background == treatment
    assert found.zone[5, 5] == BACKGROUND
    middle = tuple(n // 2 for n in found.zone.shape)
    assert found.zone[middle] != BACKGROUND
    np.testing.assert_array_equal(found.xyz[middle], plain.xyz[middle])
    assert (found.xyz[5, 5] == plain.xyz[5, 5]).all() == (treatment == "painted")
    if treatment == "bare":
        assert (found.xyz[found.zone == BACKGROUND] == found.xyz[5, 5]).all()
    mask = background_mask(asked, plain)
    assert mask.shape == plain.zone.shape
    assert mask[5, 5] > 0.5 > mask[middle]


def test_the_painters_marks_correct_the_cut_out(disc: bytes) -> None:
    """The whole disc called background by a stroke goes over to it."""
    asked = scene(picture(disc), background=marked("painted"))
    stroke = Mark(kind="background", points=((0.4, 0.5), (0.6, 0.5)), width=0.2)
    keep = Mark(kind="subject", points=((0.1, 0.9), (0.9, 0.9)))
    turned = asked.but(background=Background(marks=(stroke, keep)))
    reference = laid(scene(picture(disc)))
    middle = tuple(n // 2 for n in reference.zone.shape)
    assert background_mask(turned, reference)[middle] > 0.5
    assert background_mask(asked, reference)[middle] < 0.5


def test_the_focal_area_weighs_more(disc: bytes) -> None:
    found = laid(scene(picture(disc), focal=(0.4, 0.4, 0.2, 0.2)))
    rows, cols = found.weight.shape
    assert found.weight[rows // 2, cols // 2] > found.weight[2, 2] == 1.0


SQUARE = ((0.35, 0.3), (0.65, 0.3), (0.65, 0.7), (0.35, 0.7))


def test_areas_are_changed_in_their_order(disc: bytes) -> None:
    def changed(*areas: Area) -> Reference:
        return laid(scene(picture(disc), areas=areas))

    plain = changed()
    middle = tuple(n // 2 for n in plain.zone.shape)
    lighter = changed(Area(kind="lighten", outline=SQUARE))
    darker = changed(Area(kind="darken", outline=SQUARE))
    assert darker.lab[middle][0] < plain.lab[middle][0] < lighter.lab[middle][0]
    blue = changed(Area(kind="recolour", outline=SQUARE, colour="#2030c0"))
    assert blue.lab[middle][2] < -20.0 < plain.lab[middle][2]
    wide = ((0.25, 0.2), (0.75, 0.2), (0.75, 0.8), (0.25, 0.8))
    gone = changed(Area(kind="leave out", outline=wide, amount=1.0))
    np.testing.assert_allclose(code(gone, 0.5, 0.5), (205, 210, 215), atol=3)  # as its ground
    last = changed(
        Area(kind="leave out", outline=wide, amount=1.0), Area(kind="darken", outline=SQUARE)
    )
    assert last.lab[middle][0] < gone.lab[middle][0]
    for one in (lighter, darker, blue, gone):
        np.testing.assert_array_equal(one.xyz[2, 2], plain.xyz[2, 2])


def test_a_colour_is_the_one_the_screen_shows() -> None:
    for hexed in ("#000000", "#ffffff", "#2030c0", "#7F8081"):
        there = lab_to_srgb8(lab_of_hex(hexed)).tolist()
        assert "#{:02x}{:02x}{:02x}".format(*there) == hexed.lower()


# --- what cannot be laid ---------------------------------------------------------------------


def test_another_photo_than_was_told_is_refused(pixels: np.ndarray) -> None:
    """Places are told in fractions of a photo of that size; of another they mean nothing."""
    for more in (
        {},
        {"turns": 1},
        {"neutral": (0.5, 0.5)},
        {"place": Place(left=0, top=0, width=1)},
    ):
        wrong = picture(png(pixels), **more).but(size=(321, 240))
        with pytest.raises(PhotoError, match="add it again"):
            laid(scene(wrong))


@pytest.mark.parametrize(
    "size", ["", "0x0cm", "-3x4cm", "1e9x1e9cm", "nan x nan cm", "A99", "☃", "9" * 40]
)
def test_a_size_that_is_none_is_refused(pixels: np.ndarray, size: str) -> None:
    with pytest.raises(SheetError) as error:
        laid(scene(picture(png(pixels)), sheet=SheetAsked(size=size)))
    assert is_sentence(str(error.value))


def test_no_photo_no_sheet() -> None:
    with pytest.raises(Missing):
        laid(scene(Picture(file="0" * 64, size=(10, 10))))
    broken = kept(b"\x89PNG\r\n\x1a\n" + b"\0" * 40)
    with pytest.raises(PhotoError):
        laid(scene(Picture(file=broken, size=(10, 10))))
    cut = cup_png()[:20_000]
    with pytest.raises(PhotoError):
        laid(scene(Picture(file=kept(cut), size=(380, 280))))


TINY = plain_colour(180, 90, 30)


@given(scenes)
@settings(max_examples=60)
def test_any_scene_is_laid_or_refused_in_a_sentence(asked: Scene) -> None:
    """Whatever passes the brief's own checks: no other error than one meant for the painter."""
    there = Place(left=0.0, top=0.0, width=0.3)
    first, *more = (p.but(file=kept(TINY), size=(96, 72)) for p in asked.pictures)
    own = (first, *(p.but(place=p.place or there) for p in more))
    told = asked.but(pictures=own, sheet=asked.sheet.but(size="4x3cm"))
    refused = "Laid."
    try:
        found = laid(told)
        assert np.isfinite(found.xyz).all()
        assert found.xyz.min() >= 0.0
    except FirstwashError as error:
        refused = str(error)
    assert is_sentence(refused)
