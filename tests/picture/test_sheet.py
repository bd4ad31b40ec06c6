"""Sheet sizes as painters write them, and crops with a sheet's proportions."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import SheetError
from firstwash.picture.sheet import (
    CropBox,
    Sheet,
    crop_box,
    explicit_crop,
    format_length,
    format_size,
    parse_sheet,
)

SIZES = [
    ("28x38cm", 280, 380),
    ("28 x 38 cm", 280, 380),
    ("28 cm x 38 cm", 280, 380),
    ("28CM × 38cm", 280, 380),
    ("28 by 38 cm", 280, 380),
    ("280x380mm", 280, 380),
    ("28cm x 380mm", 280, 380),
    ("0.28 x 0.38 m", 280, 380),
    ("29,7 x 42 cm", 297, 420),
    ("11x15in", 279.4, 381),
    ('11 x 15"', 279.4, 381),
    ("11″ × 15″", 279.4, 381),
    ("11'' x 15''", 279.4, 381),
    ("11 x 15 inches", 279.4, 381),
    ("11 inch x 15 inch", 279.4, 381),
    ("7.5 x 11 in", 190.5, 279.4),
    ("A4", 210, 297),
    ("a3", 297, 420),
    (" A2 ", 420, 594),
    ("imperial", 558.8, 762),
    ("full imperial sheet", 558.8, 762),
    ("half imperial", 381, 558.8),
    ("1/2 imperial", 381, 558.8),
    ("Quarter Imperial", 279.4, 381),
    ("1/4 imperial", 279.4, 381),
    ("eighth imperial", 190.5, 279.4),
]


@pytest.mark.parametrize(("text", "width", "height"), SIZES)
def test_sizes(text: str, width: float, height: float) -> None:
    sheet = parse_sheet(text)
    assert (sheet.width_mm, sheet.height_mm) == pytest.approx((width, height))
    assert (sheet.weight_gsm, sheet.surface, sheet.fixed) == (300, "cold-pressed", False)


@pytest.mark.parametrize(("text", "width", "height"), SIZES)
def test_orientation_words_turn_and_fix(text: str, width: float, height: float) -> None:
    short, long = sorted((width, height))
    wide, tall = parse_sheet(f"{text} landscape"), parse_sheet(f"Portrait {text}")
    assert (wide.width_mm, wide.height_mm) == pytest.approx((long, short))
    assert (tall.width_mm, tall.height_mm) == pytest.approx((short, long))
    assert wide.fixed
    assert tall.fixed


NONSENSE = [
    *("", "big", "28x38", "28x38 ft", "x", "28 cm", "1x2x3 cm", "-28x38cm", "A9", "B3", "A4 x A4"),
    *("2x38cm", "28x3001mm", "0x0cm", "1e9x1cm", "A3 landscape portrait", "nan x nan cm"),
    *("third imperial", "half A3", "9" * 400 + "x1cm"),
]


@pytest.mark.parametrize("text", NONSENSE)
def test_nonsense_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(SheetError) as caught:
        parse_sheet(text)
    message = str(caught.value)
    assert message.endswith(".")
    assert "\n" not in message
    assert len(message) < 300


def test_refusal_lists_examples_that_work() -> None:
    with pytest.raises(SheetError) as caught:
        parse_sheet("huge")
    for example in str(caught.value).split('"')[3::2]:
        parse_sheet(example)


@given(st.text(max_size=30) | st.text('0123456789x.,"cmina34 portrait', max_size=20))
def test_any_text_is_a_sheet_or_a_sheet_error(text: str) -> None:
    with suppress(SheetError):
        assert isinstance(parse_sheet(text), Sheet)


@pytest.mark.parametrize(
    "wrong", [{"weight_gsm": 3}, {"weight_gsm": float("nan")}, {"surface": "shiny"}]
)
def test_no_such_paper(wrong: dict[str, float | str]) -> None:
    with pytest.raises(SheetError):
        Sheet(280, 380, **wrong)  # type: ignore[arg-type]


def test_iso_sizes_halve() -> None:
    # [ISO216]: each size is the one before it cut across, to the millimetre below.
    for larger, smaller in (("A2", "A3"), ("A3", "A4"), ("A4", "A5"), ("A5", "A6")):
        big, small = parse_sheet(larger), parse_sheet(smaller)
        assert (small.width_mm, small.height_mm) == (big.height_mm // 2, big.width_mm)


# --- lying -----------------------------------------------------------------------


def test_sheet_lies_as_the_photo_does() -> None:
    sheet = parse_sheet("28x38cm")
    assert sheet.oriented_for(4000, 3000) == parse_sheet("38x28cm")
    assert sheet.oriented_for(3000, 4000) is sheet
    assert sheet.oriented_for(3000, 3000) is sheet
    assert parse_sheet("A3").oriented_for(4000, 3000).name == "A3"


def test_fixed_and_square_sheets_stay() -> None:
    fixed = parse_sheet("A3 portrait")
    assert fixed.oriented_for(4000, 3000) is fixed
    square = parse_sheet("30x30cm")
    assert square.oriented_for(4000, 3000) is square


# --- crops -----------------------------------------------------------------------

sides = st.integers(64, 12000)
lengths = st.floats(30, 3000)
fractions = st.floats(0, 1)


@given(sides, sides, lengths, lengths, fractions, fractions)
def test_crop_is_inside_maximal_and_in_proportion(
    photo_width: int, photo_height: int, width: float, height: float, across: float, down: float
) -> None:
    box = crop_box(photo_width, photo_height, Sheet(width, height), (across, down))
    assert box.x >= 0
    assert box.y >= 0
    assert box.right <= photo_width
    assert box.bottom <= photo_height
    assert box.width == photo_width or box.height == photo_height
    # Each side is within a pixel of what the other asks for (at least one pixel).
    wanted = max(1.0, box.height * width / height), max(1.0, box.width * height / width)
    if box.height == photo_height:
        assert abs(box.width - wanted[0]) <= 1
    else:
        assert abs(box.height - wanted[1]) <= 1


@given(sides, sides, lengths, lengths)
def test_a_centred_crop_is_centred(
    photo_width: int, photo_height: int, width: float, height: float
) -> None:
    box = crop_box(photo_width, photo_height, Sheet(width, height))
    assert abs(box.x + box.width / 2 - photo_width / 2) <= 1
    assert abs(box.y + box.height / 2 - photo_height / 2) <= 1


def test_crop_follows_its_centre_to_the_edges() -> None:
    square = Sheet(300, 300)
    assert crop_box(400, 100, square, (0.0, 0.5)) == (0, 0, 100, 100)
    assert crop_box(400, 100, square, (1.0, 0.5)) == (300, 0, 100, 100)
    assert crop_box(400, 100, square, (0.25, 0.5)) == (50, 0, 100, 100)
    with pytest.raises(SheetError):
        crop_box(400, 100, square, (1.5, 0.5))


def test_crop_within_a_crop() -> None:
    inner = CropBox(100, 50, 200, 100)
    assert crop_box(400, 300, Sheet(300, 300), within=inner) == (150, 50, 100, 100)


@given(sides, sides, st.tuples(fractions, fractions, fractions, fractions))
def test_fractions_give_a_box_inside_or_an_error(
    width: int, height: int, crop: tuple[float, float, float, float]
) -> None:
    try:
        box = explicit_crop(width, height, crop, unit="fraction")
    except SheetError:
        return
    assert min(box.x, box.y) >= 0
    assert min(box.width, box.height) > 0
    assert box.right <= width
    assert box.bottom <= height


def test_explicit_crops() -> None:
    assert explicit_crop(400, 300, (0, 0, 400, 300), unit="px") == (0, 0, 400, 300)
    assert explicit_crop(400, 300, (0.25, 0, 0.5, 1), unit="fraction") == (100, 0, 200, 300)
    for wrong in ((0, 0, 401, 300), (-1, 0, 10, 10), (0, 0, 0, 10), (0, 0, float("nan"), 1)):
        with pytest.raises(SheetError):
            explicit_crop(400, 300, wrong, unit="px")


# --- words -----------------------------------------------------------------------


def test_sizes_in_words() -> None:
    assert format_size(280, 380) == "28 × 38 cm (11 × 15 in)"
    assert format_size(297, 420) == "29.7 × 42 cm (11.7 × 16.5 in)"
    assert format_length(25.4) == "2.5 cm (1 in)"
    assert str(parse_sheet("A4")) == "A4, 21 × 29.7 cm (8.3 × 11.7 in)"
    assert str(parse_sheet("28x38cm")) == "28 × 38 cm (11 × 15 in)"
