"""The outline on printed pages: true to the mm, told what to do, fit for both standards."""

import io

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from tests.pdf_paths import MM, Drawn, paths
from tests.pdf_tables import faults

from firstwash.picture.sheet import Sheet
from firstwash.sheets.tracing_pages import MIRRORED, tile_pages
from firstwash.sheets.typeset import typeset
from firstwash.tracing.model import Line, Tracing
from firstwash.tracing.svg import INKJET_WARNING
from firstwash.tracing.tile_page import foot_box
from firstwash.tracing.tiles import PAGES_MM, STRIP_MM, Page, Tile, tiles_of, whole_tile

SHEETS = ((150.0, 110.0), (280.0, 380.0), (380.0, 280.0), (250.0, 250.0), (381.0, 558.8))
NEAR = 0.02  # mm: an SVG tells hundredths, and a PDF's numbers have few digits
FINE = 0.15  # width of the line drawn in the tests' own drawing, mm


def drawing(wide: float, high: float) -> Tracing:
    """Two lines from corner to corner, and a square of 40 mm in the middle of the sheet."""
    x, y = wide / 2.0, high / 2.0
    around = np.array([(-20.0, -20.0), (20.0, -20.0), (20.0, 20.0), (-20.0, 20.0)])
    corners = around + np.array([x, y])
    lines = [
        Line(straight((0, 0), (wide, high)), False, FINE, 1.0, "contour"),
        Line(straight((0, high), (wide, 0)), False, FINE, 0.9, "inner"),
        *(
            Line(straight(tuple(a), tuple(b)), False, FINE, 0.8, "contour")
            for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)
        ),
    ]
    return Tracing(tuple(lines), wide, high, 0.5)


def straight(start: tuple[float, ...], end: tuple[float, ...]) -> NDArray[np.float64]:
    share = np.arange(4)[:, None] / 3.0
    a, b = np.array(start), np.array(end)
    return (a + share * (b - a))[None]


def made(size: tuple[float, float], page: Page, **how: bool) -> tuple[bytes, tuple[Tile, ...]]:
    tiles = tiles_of(Sheet(*size), page)
    pages = tile_pages(drawing(*size), tiles, "outline", **how)  # type: ignore[arg-type]
    return typeset(pages.source, pages.files, title="Outline"), tiles


def rings(page: list[Drawn]) -> NDArray[np.float64]:
    """Middles (n, 2) of the registration marks, mm on the page."""
    found = [d.box for d in page if abs(d.box[2] - 2.6) < 0.1 and abs(d.box[3] - 2.6) < 0.1]
    return np.array([(x + w / 2.0, y + h / 2.0) for x, y, w, h in found]).reshape(-1, 2)


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("size", SHEETS)
def test_bars_measure_what_they_say(size: tuple[float, float], page: Page) -> None:
    pdf, tiles = made(size, page)
    for drawn, tile in zip(paths(pdf), tiles, strict=True):
        bars = [d.box for d in drawn if abs(d.box[0] - tile.bar[0]) < NEAR and d.box[3] < 5.0]
        lengths = sorted(box[2] for box in bars)
        assert lengths == pytest.approx([100.0, 101.6] if page == "Letter" else [100.0], abs=NEAR)


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("size", SHEETS)
def test_marks_of_two_pages_lie_one_over_the_other(size: tuple[float, float], page: Page) -> None:
    """Laid mark on mark, the drawing goes on: each mark is one place of the sheet."""
    pdf, tiles = made(size, page)
    seen: dict[tuple[float, float], int] = {}
    for drawn, tile in zip(paths(pdf), tiles, strict=True):
        middles = rings(drawn)
        assert len(middles) == len(tile.marks)
        expected = np.array([tile.on_page(*mark) for mark in tile.marks]).reshape(-1, 2)
        assert np.abs(np.sort(middles, 0) - np.sort(expected, 0)).max(initial=0.0) < NEAR
        for mark in tile.marks:
            seen[mark] = seen.get(mark, 0) + 1
        if len(middles) > 1:  # how far apart they are on paper is how far apart on the sheet
            apart = np.linalg.norm(expected[0] - expected[1])
            own = np.linalg.norm(np.subtract(tile.marks[0], tile.marks[1]))
            assert apart == pytest.approx(own, abs=NEAR)
    assert all(count >= 2 for count in seen.values())
    assert bool(seen) == (len(tiles) > 1)


@pytest.mark.parametrize("how", [{}, {"mirrored": True}, {"pale": True}], ids=str)
@pytest.mark.parametrize("size", SHEETS)
def test_the_sheet_s_border_and_a_square_are_true(
    size: tuple[float, float], how: dict[str, bool]
) -> None:
    """The border is told whole on each page, and cut there by the page's window."""
    pdf, tiles = made(size, "A4", **how)
    sides = 0
    for drawn, tile in zip(paths(pdf), tiles, strict=True):
        boxes = [d.box for d in drawn]
        left, top = tile.on_page(0.0, 0.0)
        assert any(np.abs(np.subtract(b, (left, top, *size))).max() < NEAR for b in boxes)
        square = [b for b in boxes if abs(max(b[2:]) - 40.0) < NEAR and min(b[2:]) < NEAR]
        sides += len(square)
        x, y = tile.on_page(size[0] / 2.0 - 20.0, size[1] / 2.0 - 20.0)
        assert all(x - NEAR <= b[0] <= x + 40.0 + NEAR for b in square)
        assert all(y - NEAR <= b[1] <= y + 40.0 + NEAR for b in square)
    assert sides >= 4


def test_a_printed_bar_is_100_mm_of_dots() -> None:
    """At 600 dots to the inch, as a printer lays them: to a tenth of a mm."""
    pdf, tiles = made((150.0, 110.0), "A4")
    dots = 600.0
    shown = pypdfium2.PdfDocument(pdf)[0].render(scale=dots / 72.0, grayscale=True).to_numpy()
    shown = shown.reshape(shown.shape[:2])
    x, y = (round(v / 25.4 * dots) for v in tiles[0].bar)
    row = np.flatnonzero(shown[y, x - 20 : x + round(130 / 25.4 * dots)] < 128)
    gap = np.flatnonzero(np.diff(row) > 5)
    end = row[gap[0]] if len(gap) else row[-1]
    line = 0.35  # mm, the tick at each end is half its width longer
    assert (end - row[0] + 1) / dots * 25.4 == pytest.approx(100.0 + line, abs=0.1)


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("size", SHEETS)
def test_pages_tell_how_to_print_them(size: tuple[float, float], page: Page) -> None:
    for pale in (False, True):
        pdf, tiles = made(size, page, pale=pale)
        for shown, tile in zip(pypdfium2.PdfDocument(pdf), tiles, strict=True):
            wide, high = shown.get_size()
            assert (wide / MM, high / MM) == pytest.approx(tile.page_mm, abs=0.05)
            assert sorted(tile.page_mm) == sorted(PAGES_MM[page])
            text = shown.get_textpage()
            told = " ".join(text.get_text_range().split())
            assert "Print at 100 %" in told
            assert (INKJET_WARNING in told) == pale
            assert ("cross on cross" in told) == (len(tiles) > 1 and not pale)
            _in_the_strip(text, tile, high)


def _in_the_strip(text: pypdfium2.PdfTextPage, tile: Tile, high: float) -> None:
    """Words stand below the drawing, inside the margins, and clear of the bar."""
    left, top, wide, deep = tile.strip
    inked = [i for i, c in enumerate(text.get_text_range()) if not c.isspace()]
    boxes = np.array([text.get_charbox(i) for i in inked if i < text.count_chars()]) / MM
    upper, lower = high / MM - boxes[:, 3], high / MM - boxes[:, 1]
    assert boxes[:, 0].min() >= left - 0.1
    assert boxes[:, 2].max() <= left + wide + 0.1
    assert upper.min() >= top
    assert lower.max() <= top + deep + 0.1
    bar = tile.bar[1] - 1.6
    words = (upper < bar - 0.5) & (boxes[:, 0] < left + 90.0)  # the bar's own words are right of it
    assert words.sum() > 40
    assert lower[words].max() <= bar + 0.1


@pytest.mark.parametrize("how", [{}, {"mirrored": True}, {"pale": True}], ids=str)
def test_pages_are_as_both_standards_ask(how: dict[str, bool]) -> None:
    pdf, _ = made((380.0, 280.0), "Letter", **how)
    assert faults(pdf) == []


def test_a_sheet_of_one_page_is_one_page_and_pale_lines_are_pale() -> None:
    pdf, tiles = made((150.0, 110.0), "A4", pale=True)
    assert len(tiles) == 1
    (page,) = pypdfium2.PdfDocument(io.BytesIO(pdf))
    pixels = page.render(scale=4.0).to_numpy()
    x, y, wide, high = (*tiles[0].place, *tiles[0].window[2:])
    inner = pixels[round((y + 2) * MM * 4) : round((y + high - 2) * MM * 4)]
    inner = inner[:, round((x + 2) * MM * 4) : round((x + wide - 2) * MM * 4)]
    assert 150 < inner.min() < 250  # lines are there, and none is dark


LARGE = ((280.0, 380.0), (380.0, 280.0), (381.0, 558.8), (50.0, 600.0), (3000.0, 2000.0))
FOOT = "A cup, A. Teacher, For this class only."


def told_on(page: pypdfium2.PdfPage) -> str:
    return " ".join(page.get_textpage().get_text_range().split())


@pytest.mark.parametrize("pale", [False, True])
@pytest.mark.parametrize("size", LARGE)
def test_a_whole_outline_is_one_page_of_the_sheet_s_size(
    size: tuple[float, float], pale: bool
) -> None:
    """The drawing is true to the mm, the bar below it too, and nothing lies over the picture."""
    tile = whole_tile(Sheet(*size), "Letter")
    pages = tile_pages(drawing(*size), [tile], "whole", pale=pale, foot=FOOT)
    pdf = typeset(pages.source, pages.files, title="Outline")
    (page,) = pypdfium2.PdfDocument(pdf)
    wide, high = (side / MM for side in page.get_size())
    assert wide == pytest.approx(max(size[0], 160.0), abs=0.05)  # room for the bar
    assert size[1] + STRIP_MM < high < size[1] + STRIP_MM + 10.0
    told = told_on(page)
    assert (INKJET_WARNING in told) == pale
    assert f"{tile.page_mm[0]:.0f} × {tile.page_mm[1]:.0f} mm" in told
    assert FOOT in told
    assert "A1" not in told  # which would be taken for a size of paper
    _in_the_strip(page.get_textpage(), tile, page.get_size()[1])
    (drawn,) = paths(pdf)
    boxes = [d.box for d in drawn]
    assert any(np.abs(np.subtract(b, (0.0, 0.0, *size))).max() < NEAR for b in boxes)
    bars = [b[2] for b in boxes if abs(b[0] - tile.bar[0]) < NEAR and b[3] < 5.0]
    assert sorted(bars) == pytest.approx([100.0, 101.6], abs=NEAR)
    square = [b for b in boxes if abs(max(b[2:]) - 40.0) < NEAR and min(b[2:]) < NEAR]
    assert len(square) == 4
    assert not len(rings(drawn))


@pytest.mark.parametrize("size", SHEETS)
def test_only_the_sheet_s_border_is_a_line(size: tuple[float, float]) -> None:
    """Where a page ends inside the sheet no line runs: ticks stand there, outside the drawing."""
    pdf, tiles = made(size, "A4")
    for drawn, tile in zip(paths(pdf), tiles, strict=True):
        (x, y), (_, _, wide, high) = tile.place, tile.window
        left, top = tile.on_page(0.0, 0.0)
        for box in (d.box for d in drawn):
            if np.abs(np.subtract(box, (left, top, *size))).max() < NEAR:
                continue  # the border itself
            assert np.abs(np.subtract(box, (x, y, wide, high))).max() > 1.0
    assert '<g id="cuts"' in str(tile_pages(drawing(*size), tiles, "o").files.values())


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_page_tells_its_foot_and_that_it_is_mirrored(page: Page, mirrored: bool) -> None:
    tiles = tiles_of(Sheet(380.0, 280.0), page)
    for foot in (
        FOOT,
        "A very long licence line with a lot to say. " * 12,
        "x" * 900,
        "# $a$ * _b",
    ):
        pages = tile_pages(drawing(380.0, 280.0), tiles, "o", mirrored=mirrored, foot=foot)
        pdf = typeset(pages.source, pages.files, title="Outline")
        for shown, tile in zip(pypdfium2.PdfDocument(pdf), tiles, strict=True):
            told = told_on(shown)
            assert (MIRRORED in told) == mirrored
            assert (f"{tile.name} mirrored" in told) == mirrored
            assert foot[:30].strip()[:8] in told
            _, top, _, high = foot_box(tile)
            assert top + high <= tile.page_mm[1] - 9.0  # a printer's margin stays free
            if len(foot) < 100:
                assert foot in told
