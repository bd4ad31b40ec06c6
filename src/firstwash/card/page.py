"""The printed pages of a swatch card, in mm: the frame to cut out, then how to paint it."""

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Final, Literal

import cv2
import numpy as np

from firstwash.card.drawing import (
    Area,
    Item,
    Line,
    Outline,
    Page,
    Shape,
    Text,
    cut_to,
    printable,
    width_mm,
)
from firstwash.card.layout import (
    COLUMNS,
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    kind_of,
    line_box,
    printed_number,
    slot_box,
    swatch_box,
)
from firstwash.card.recipe import CardRow
from firstwash.card.words import (
    TITLE,
    Label,
    Names,
    check_rows,
    label,
    row_letter,
    short_name,
    shown_title,
)
from firstwash.errors import RequestError
from firstwash.paints.catalogue import Paint

__all__ = ["PAPERS", "Paper", "card_origin", "card_page", "shifted"]

Paper = Literal["A4", "Letter"]
PAPERS: Final[Mapping[str, tuple[float, float]]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

CUT: Final = 0.2  # width of the lines to cut along
BAR: Final = 0.45  # thickness of the bars that show how wide a swatch is
NAME_SIZES: Final = (11.0, 10.0, 9.0)  # of the paint's name, the largest that fits
LABEL: Final = 7.0  # size of what stands above a place
STRENGTH: Final = 7.5  # of figures, which are short
QUIET: Final = 0.62  # grey of what is seldom looked at
_BASE: Final = (-6.3, -3.75, -1.2)  # base lines of the three lines above a window
_NAME_BASE, _NUMBER_BASE = -6.45, -3.7  # of a paint's name and the numbers below it


def card_origin(paper: Paper) -> tuple[float, float]:
    """Where the card's upper left corner lies on the page, in mm: the card is centred."""
    if paper not in PAPERS:
        raise RequestError(f"Print the card on A4 or Letter, not on “{paper}”.")
    width, height = PAPERS[paper]
    return 0.5 * (width - WIDTH_MM), 0.5 * (height - HEIGHT_MM)


def card_page(
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    paper: Paper = "A4",
    title: str = TITLE,
    number: int | None = None,
) -> Page:
    """The frame: windows, markers, captions and the rulers, in mm on the page.

    Raises RequestError for more than eight rows or an unknown paper, PaintError for a paint
    that is missing from `paints`, which are by key. number: 0-79, told by the small markers.
    """
    check_rows(rows, paints)
    x, y = card_origin(paper)
    names = Names.of(rows, paints, printable)
    items = [*_markers(number), *_margins(shown_title(title, printable)), *_rulers()]
    for i, row in enumerate(rows):
        items += [*_window(i), *_pen_marks(i), *_name(i, row, names)]
        items += [item for c in range(COLUMNS) for item in _place(i, c, row, names)]
    return Page(*PAPERS[paper], tuple(shifted(item, x, y) for item in items))


def shifted(item: Item, x: float, y: float) -> Item:
    """The same item, moved by x, y in mm."""
    match item:
        case Line():
            ends = (item.x1 + x, item.y1 + y, item.x2 + x, item.y2 + y)
            return Line(*ends, item.width, item.grey)
        case Outline():
            return Outline(_moved(item.box, x, y), item.width, item.grey)
        case Area():
            return Area(tuple(_moved(b, x, y) for b in item.boxes), item.grey)
        case Shape():
            return Shape(tuple((px + x, py + y) for px, py in item.corners), item.grey)
        case Text():
            return Text(
                item.x + x, item.y + y, item.text, item.size, item.bold, item.grey, item.align
            )  # fmt: skip


def _moved(box: Box, x: float, y: float) -> Box:
    return Box(box.x + x, box.y + y, box.width, box.height)


# ------------------------------------------------------------------ markers, margins, rulers


@cache
def _modules(number: int) -> tuple[tuple[int, int, int], ...]:
    """Black runs of a marker: (row, first, last + 1), in its 8 × 8 modules."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    black = np.pad(cv2.aruco.generateImageMarker(family, number, 8) == 0, 1)
    step = np.diff(black.astype(np.int8), axis=1)
    starts, ends = np.argwhere(step == 1), np.argwhere(step == -1)
    runs = zip(starts, ends, strict=True)
    return tuple((int(s[0]) - 1, int(s[1]), int(e[1])) for s, e in runs)


def _markers(card: int | None) -> Iterator[Item]:
    for place, box in MARKERS.items():
        m = box.width / 8
        yield Area(
            tuple(
                Box(box.x + m * first, box.y + m * row, m * (last - first), m)
                for row, first, last in _modules(printed_number(place, card))
            )
        )


def _margins(title: str) -> Iterator[Item]:
    """Words between the large markers, above and below the windows."""
    left, right, room = 17.0, 103.0, 66.0
    yield Text(left, 5.0, cut_to(title, room, 14.0, True), 14.0, bold=True)
    yield Text(left, 10.6, "Cut out the windows along the thin lines.", 8.5)
    for y, word in ((4.5, "Paper"), (11.5, "Date")):
        yield Text(right, y, word, 8.5)
        yield Line(right + 11.0, y + 0.3, right + room, y + 0.3, 0.2, QUIET)
    low = HEIGHT_MM - 14.0
    yield Text(left, low + 5.5, "1 : 3 means one part of full-strength", 8.5)
    yield Text(left, low + 9.5, "puddle and three parts of water.", 8.5)
    yield Text(right, low + 5.5, "Paint below the short bars; leave the", 8.5)
    yield Text(right, low + 9.5, "paper bare between one swatch and the next.", 8.5)


def _rulers() -> Iterator[Item]:
    """One line below the card, divided in millimetres above and inches below."""
    y = HEIGHT_MM + 5.1
    inch = 25.4
    yield Line(0.0, y, 4 * inch, y, 0.25)
    for mm in range(101):
        long = 2.4 if mm % 10 == 0 else 1.7 if mm % 5 == 0 else 1.1
        yield Line(mm, y - long, mm, y, 0.25 if mm % 10 == 0 else 0.15)
    for part in range(33):
        long = 2.4 if part % 8 == 0 else 1.7 if part % 4 == 0 else 1.1
        yield Line(part * inch / 8, y, part * inch / 8, y + long, 0.25 if part % 8 == 0 else 0.15)
    yield Text(103.0, y - 0.6, "100 mm", 8.0, bold=True)
    yield Text(103.0, y + 2.5, "4 in", 8.0, bold=True)
    yield Text(117.0, y - 0.6, "If these lines are not 100 mm and 4 in long,", 8.0)
    yield Text(117.0, y + 2.5, "print again at 100 % (“actual size”).", 8.0)


# ------------------------------------------------------------------ a row


def _window(row: int) -> Iterator[Item]:
    slot = slot_box(row)
    yield Outline(slot, CUT)
    bottom = slot.y + slot.height
    for i in range(COLUMNS + 1):
        x = slot.x + i * slot.width / COLUMNS
        yield Line(x, slot.y - 1.2, x, slot.y, 0.25)
        yield Line(x, bottom, x, bottom + 0.6, 0.25)
    for column in range(COLUMNS):
        if kind_of(column) != "bare":
            swatch = swatch_box(row, column)
            yield Area((Box(swatch.x, slot.y - 0.15 - BAR, swatch.width, BAR),))


def _pen_marks(row: int) -> Iterator[Item]:
    """Triangles at both ends of a window that point along the pen line."""
    slot, line = slot_box(row), line_box(row, 0)
    y, right = line.y + 0.5 * line.height, slot.x + slot.width
    for edge, out in ((slot.x, -1.0), (right, 1.0)):
        back = edge + 0.95 * out
        yield Shape(((edge + 0.15 * out, y), (back, y - 0.8), (back, y + 0.8)))
    yield Text(slot.x - 1.1, slot.y + 2.9, "pen line", LABEL, align="right")


def _name(row: int, own: CardRow, names: Names) -> Iterator[Item]:
    """The row's letter at both ends, and its paint above places 1 to 7."""
    slot = slot_box(row)
    for x in (5.0, WIDTH_MM - 5.0):
        yield Text(x, slot.y - 1.45, row_letter(row), 20.0, bold=True, align="middle")
    room = 0.5 * slot.width - 2.0
    key = names.keys[own.paint] if names.with_key(own.paint) != names.full[own.paint] else ""
    key = cut_to(key, 0.3 * room, LABEL)
    room -= width_mm(key, LABEL) + 1.5 if key else 0.0
    full = names.full[own.paint]
    size = next((s for s in NAME_SIZES if width_mm(full, s, True) <= room), NAME_SIZES[-1])
    name = Text(slot.x + 0.6, slot.y + _NAME_BASE, cut_to(full, room, size, True), size, bold=True)
    yield name
    if key:
        yield Text(name.x + name.width + 1.5, name.y, key, LABEL)


def _place(row: int, column: int, own: CardRow, names: Names) -> Iterator[Item]:
    """A place's number and what goes there, in the lowest two or three lines above it."""
    slot = slot_box(row)
    pitch = slot.width / COLUMNS
    x = slot.x + (column + 0.5) * pitch
    told = label(own, column, names.letters)
    lines = _partner_lines(told, names, pitch - 0.7)
    bases = _BASE[-1 - len(lines) :] if lines else (_NUMBER_BASE, _BASE[-1])
    heights = [slot.y + base for base in bases]
    yield from _numbered(x, heights[0], column, told if lines else None)
    for y, line in zip(heights[1:], lines or (told.does,), strict=True):
        size = STRENGTH if kind_of(column) == "dilution" else LABEL
        yield Text(x, y, line, size, align="middle")


def _partner_lines(told: Label, names: Names, room: float) -> tuple[str, ...]:
    """One or two lines that name the other paint of a place; none if there is no other."""
    if told.does == "again":
        return ("two coats",)
    if told.partner is None:
        return ()
    return short_name(names.full[told.partner], lambda t: width_mm(t, LABEL) <= room)


def _numbered(x: float, y: float, column: int, told: Label | None) -> Iterator[Item]:
    """A place's number in bold, and beside it what to do there; x: the middle of both."""
    number = str(column + 1)
    words = f" {told.does} {told.letter}".rstrip() if told else ""
    wide = width_mm(number, LABEL, True)
    left = x - 0.5 * (wide + width_mm(words, LABEL))
    yield Text(left, y, number, LABEL, bold=True)
    if words:
        yield Text(left + wide, y, words, LABEL)
