"""How a sheet is cut over pages of an ordinary printer. All lengths are mm.

Windows of one size lie in rows and columns and overlap by the same width everywhere. Marks in
the overlaps are given on the sheet, so that two neighbours show them in the same places. Below
the drawing each page keeps a strip for its scale bar, its name and the map of all pages.
"""

import math
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Final, Literal, get_args

from firstwash.errors import RequestError
from firstwash.picture.sheet import Sheet

__all__ = ["PAGES_MM", "Page", "Tile", "letters", "tiles_of", "whole_tile"]

Page = Literal["A4", "Letter"]
# [ISO216]; Letter is 8½ × 11 inches. Portrait.
PAGES_MM: Final[dict[Page, tuple[float, float]]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
STRIP_MM: Final = 22.0  # below the drawing: words, bars, and a foot
BAR_MM: Final = 100.0
BAR_DOWN_MM: Final = 12.0  # from the strip's top: words stand above it
WHOLE_MARGIN_MM: Final = 8.0  # beside and below the strip of a page of the sheet's own size
WHOLE_LEAST_MM: Final = 160.0  # width of such a page at least, or the bar finds no room
MARKS: Final = (0.2, 0.8)  # places along an overlap, as shares of a window's side
LEAST_OVERLAP, MOST_OVERLAP = 6.0, 40.0
LEAST_MARGIN, MOST_MARGIN = 5.0, 40.0  # a printer may not reach less; common practice, no source

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Tile:
    """One page of an outline.

    row, column: 0 …; rows, columns: of all pages. page_mm: width and height of the page as it
    lies. window: left, top, width, height on the sheet. place: left and top of the window on the
    page. marks: (x, y) on the sheet, of the registration marks inside the window. strip: left,
    top, width, height on the page of what is kept for scale bar, name and map. bar: left and
    top of the scale bar on the page. inches: whether a bar of 4 in belongs beside it.
    """

    row: int
    column: int
    rows: int
    columns: int
    page_mm: tuple[float, float]
    window: Box
    place: tuple[float, float]
    marks: tuple[tuple[float, float], ...]
    strip: Box
    bar: tuple[float, float]
    inches: bool

    @property
    def name(self) -> str:
        """A letter for the row and a number for the column: "B2"."""
        return f"{letters(self.row)}{self.column + 1}"

    @property
    def alone(self) -> bool:
        """Whether the page holds the whole sheet."""
        return self.rows * self.columns == 1

    @property
    def landscape(self) -> bool:
        """Whether the page lies wider than high."""
        return self.page_mm[0] > self.page_mm[1]

    def on_page(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the sheet lies on the page."""
        return x - self.window[0] + self.place[0], y - self.window[1] + self.place[1]


def letters(number: int) -> str:
    """0 → A … 25 → Z, AA, AB, …"""
    out = ""
    while number >= 0:
        number, last = divmod(number, 26)
        out = ascii_uppercase[last] + out
        number -= 1
    return out


def tiles_of(
    sheet: Sheet, page: Page, overlap_mm: float = 10.0, margin_mm: float = 12.0
) -> tuple[Tile, ...]:
    """The fewest pages that hold a sheet, portrait or landscape, row by row.

    overlap_mm: between neighbours, 6 to 40. margin_mm: around all that is printed, 5 to 40.
    Raises RequestError for a page, overlap or margin outside these.
    """
    _check(page, overlap_mm, margin_mm)
    wide, high = PAGES_MM[page]
    lying = [(high, wide), (wide, high)] if sheet.landscape else [(wide, high), (high, wide)]
    cuts = [_cut(sheet, size, overlap_mm, margin_mm) for size in lying]
    best = min((0, 1), key=lambda k: (cuts[k][0] * cuts[k][1], k))
    rows, columns = cuts[best]
    across = _windows(sheet.width_mm, columns, overlap_mm)
    down = _windows(sheet.height_mm, rows, overlap_mm)
    marks = _marks(across, down, overlap_mm)
    return tuple(
        _tile((row, column), across, down, marks, lying[best], margin_mm, page)
        for row in range(rows)
        for column in range(columns)
    )


def whole_tile(sheet: Sheet, page: Page) -> Tile:
    """One page of the sheet's own size, a strip below it: for a printer that takes the sheet.

    The sheet lies in the page's upper left corner and fills its width; only a sheet narrower than
    160 mm leaves some of it free. page: what else is printed on, which tells whether inches
    belong beside the bar. Raises RequestError for another page.
    """
    _check(page, LEAST_OVERLAP, LEAST_MARGIN)
    wide = max(sheet.width_mm, WHOLE_LEAST_MM)
    strip = (WHOLE_MARGIN_MM, sheet.height_mm, wide - 2 * WHOLE_MARGIN_MM, STRIP_MM)
    return Tile(
        row=0,
        column=0,
        rows=1,
        columns=1,
        page_mm=(wide, sheet.height_mm + STRIP_MM + WHOLE_MARGIN_MM),
        window=(0.0, 0.0, sheet.width_mm, sheet.height_mm),
        place=(0.0, 0.0),
        marks=(),
        strip=strip,
        bar=(strip[0], strip[1] + BAR_DOWN_MM),
        inches=page == "Letter",
    )


def _check(page: str, overlap: float, margin: float) -> None:
    if page not in get_args(Page):
        raise RequestError("An outline is cut over pages of A4 or Letter; choose one of them.")
    for what, value, least, most in (
        ("an overlap", overlap, LEAST_OVERLAP, MOST_OVERLAP),
        ("a margin", margin, LEAST_MARGIN, MOST_MARGIN),
    ):
        if not least <= value <= most:
            raise RequestError(f"Give the pages {what} of {least:g} to {most:g} mm.")


def _room(size: tuple[float, float], margin: float) -> tuple[float, float]:
    """Width and height that the drawing may have on a page."""
    return size[0] - 2 * margin, size[1] - 2 * margin - STRIP_MM


def _cut(sheet: Sheet, size: tuple[float, float], overlap: float, margin: float) -> tuple[int, int]:
    """Rows and columns of pages of a size that a sheet needs."""
    wide, high = _room(size, margin)
    return _pages(sheet.height_mm, high, overlap), _pages(sheet.width_mm, wide, overlap)


def _pages(side: float, room: float, overlap: float) -> int:
    return max(1, math.ceil((side - overlap) / (room - overlap) - 1e-9))


def _windows(side: float, count: int, overlap: float) -> list[tuple[float, float]]:
    """Start and length of windows of one length that cover a side and overlap."""
    length = (side + (count - 1) * overlap) / count
    return [(k * (length - overlap), length) for k in range(count)]


def _marks(
    across: list[tuple[float, float]], down: list[tuple[float, float]], overlap: float
) -> list[tuple[float, float]]:
    """On the middle line of each overlap, two for each pair of neighbours."""
    upright = [x + overlap / 2 for x, _ in across[1:]]
    level = [y + overlap / 2 for y, _ in down[1:]]
    return [
        *((x, y + share * high) for x in upright for y, high in down for share in MARKS),
        *((x + share * wide, y) for y in level for x, wide in across for share in MARKS),
    ]


def _tile(
    at: tuple[int, int],
    across: list[tuple[float, float]],
    down: list[tuple[float, float]],
    marks: list[tuple[float, float]],
    size: tuple[float, float],
    margin: float,
    page: Page,
) -> Tile:
    (x, wide), (y, high) = across[at[1]], down[at[0]]
    room = _room(size, margin)
    strip = (margin, size[1] - margin - STRIP_MM, room[0], STRIP_MM)
    inside = [(mx, my) for mx, my in marks if x <= mx <= x + wide and y <= my <= y + high]
    return Tile(
        row=at[0],
        column=at[1],
        rows=len(down),
        columns=len(across),
        page_mm=size,
        window=(x, y, wide, high),
        place=(margin + (room[0] - wide) / 2, margin + (room[1] - high) / 2),
        marks=tuple(inside),
        strip=strip,
        bar=(strip[0], strip[1] + BAR_DOWN_MM),
        inches=page == "Letter",
    )
