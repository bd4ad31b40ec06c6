"""Any sheet over any page: nothing missing, overlaps as asked, marks that meet, all printable."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.picture.sheet import Sheet
from firstwash.tracing.tiles import BAR_MM, PAGES_MM, STRIP_MM, Page, letters, tiles_of, whole_tile

sheets = st.builds(Sheet, st.floats(30.0, 3000.0), st.floats(30.0, 3000.0))
pages = st.sampled_from(["A4", "Letter"])
overlaps, margins = st.floats(6.0, 40.0), st.floats(5.0, 40.0)
NEAR = 1e-6  # mm, rounding


@given(sheets, pages, overlaps, margins, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_every_point_of_the_sheet_is_on_some_page(
    sheet: Sheet, page: Page, overlap: float, margin: float, across: float, down: float
) -> None:
    x, y = across * sheet.width_mm, down * sheet.height_mm
    assert any(
        left - NEAR <= x <= left + wide + NEAR and top - NEAR <= y <= top + high + NEAR
        for left, top, wide, high in (
            tile.window for tile in tiles_of(sheet, page, overlap, margin)
        )
    )


@given(sheets, pages, overlaps, margins)
def test_neighbours_overlap_and_share_their_marks(
    sheet: Sheet, page: Page, overlap: float, margin: float
) -> None:
    by_place = {(t.row, t.column): t for t in tiles_of(sheet, page, overlap, margin)}
    for (row, column), tile in by_place.items():
        left, top, wide, high = tile.window
        right = by_place.get((row, column + 1))
        below = by_place.get((row + 1, column))
        if right:
            assert left + wide - right.window[0] == pytest.approx(overlap, abs=NEAR)
            assert right.window[1::2] == tile.window[1::2]
            shared = [m for m in tile.marks if m in right.marks and m[0] > left + wide - overlap]
            assert len(shared) >= 2
        if below:
            assert top + high - below.window[1] == pytest.approx(overlap, abs=NEAR)
            assert below.window[::2] == tile.window[::2]
            shared = [m for m in tile.marks if m in below.marks and m[1] > top + high - overlap]
            assert len(shared) >= 2


@given(sheets, pages, overlaps, margins)
def test_all_is_printable(sheet: Sheet, page: Page, overlap: float, margin: float) -> None:
    for tile in tiles_of(sheet, page, overlap, margin):
        wide, high = tile.page_mm
        assert sorted(tile.page_mm) == sorted(PAGES_MM[page])
        (x, y), (_, _, w, h) = tile.place, tile.window
        assert x >= margin - NEAR
        assert y >= margin - NEAR
        assert x + w <= wide - margin + NEAR
        assert y + h <= tile.strip[1] + NEAR
        left, top, across, down = tile.strip
        assert (left, left + across) == pytest.approx((margin, wide - margin))
        assert (top + down, down) == pytest.approx((high - margin, STRIP_MM))
        assert left <= tile.bar[0] <= tile.bar[0] + BAR_MM <= left + across
        for mark in tile.marks:
            px, py = tile.on_page(*mark)
            assert margin - NEAR <= px <= wide - margin + NEAR
            assert margin - NEAR <= py <= tile.strip[1] + NEAR


@given(sheets, pages, overlaps, margins)
def test_names_are_told_apart(sheet: Sheet, page: Page, overlap: float, margin: float) -> None:
    tiles = tiles_of(sheet, page, overlap, margin)
    assert len({tile.name for tile in tiles}) == len(tiles)
    assert len({(tile.rows, tile.columns, tile.page_mm) for tile in tiles}) == 1
    assert len(tiles) == tiles[0].rows * tiles[0].columns


def test_a_small_sheet_fits_one_page() -> None:
    (tile,) = tiles_of(Sheet(150.0, 110.0), "A4")
    assert tile.name == "A1"
    assert tile.window == (0.0, 0.0, 150.0, 110.0)
    assert tile.marks == ()
    assert tile.landscape


def test_the_fewest_pages_are_taken() -> None:
    # 186 × 255 mm of a page of A4 upright are drawn on: a quarter imperial sheet needs 2 × 2.
    assert len(tiles_of(Sheet(381.0, 279.4), "A4")) == 4
    # A tall strip: upright pages one above the other, or lying ones would be twice as many.
    assert [(t.rows, t.columns) for t in tiles_of(Sheet(180.0, 480.0), "A4")] == [(2, 1)] * 2


def test_only_letter_has_inches() -> None:
    assert not tiles_of(Sheet(150.0, 110.0), "A4")[0].inches
    assert tiles_of(Sheet(150.0, 110.0), "Letter")[0].inches


def test_letters_run_on() -> None:
    assert [letters(n) for n in (0, 25, 26, 27, 51, 52, 701, 702)] == [
        "A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("page", "overlap", "margin"),
    [
        ("A3", 10.0, 12.0),
        ("A4", 5.0, 12.0),
        ("A4", 41.0, 12.0),
        ("A4", 10.0, 4.0),
        ("A4", 10.0, 60.0),
    ],
)
def test_what_cannot_be_printed_is_refused(page: Page, overlap: float, margin: float) -> None:
    with pytest.raises(RequestError):
        tiles_of(Sheet(300.0, 200.0), page, overlap, margin)


@given(sheets, pages)
def test_a_whole_page_is_the_sheet_and_a_strip(sheet: Sheet, page: Page) -> None:
    tile = whole_tile(sheet, page)
    assert tile.alone
    assert tile.window == (0.0, 0.0, sheet.width_mm, sheet.height_mm)
    assert tile.on_page(0.0, 0.0) == (0.0, 0.0)
    assert tile.page_mm[0] == max(sheet.width_mm, 160.0)
    left, top, across, down = tile.strip
    assert top == sheet.height_mm
    assert left + across <= tile.page_mm[0]
    assert top + down <= tile.page_mm[1] <= sheet.height_mm + 30.0 + NEAR
    assert tile.bar[0] + BAR_MM <= left + across
    assert tile.inches == (page == "Letter")


def test_a_whole_page_asks_for_a_known_page() -> None:
    with pytest.raises(RequestError):
        whole_tile(Sheet(300.0, 200.0), "A3")  # type: ignore[arg-type]
