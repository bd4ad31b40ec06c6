"""The pages printed behind the frame: how to paint the card, what to mix, cautions."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from firstwash.card.drawing import (
    POINT_MM,
    Area,
    Item,
    Line,
    Outline,
    Page,
    Text,
    cut_to,
    printable,
    width_mm,
    wrapped,
)
from firstwash.card.layout import COLUMNS, Box, kind_of, line_box, slot_box, swatch_box
from firstwash.card.page import PAPERS, Paper, card_origin, shifted
from firstwash.card.recipe import CardRow
from firstwash.card.steps import (
    CAUTIONS,
    PHOTO,
    Step,
    batch_words,
    needs,
    painting,
    printing,
    strip_size,
)
from firstwash.card.words import (
    ROLES,
    TITLE,
    Loads,
    Names,
    batches,
    check_rows,
    counted,
    hazard_words,
    measure,
    row_letter,
    shown_title,
    unknown_hazards,
)
from firstwash.paints.catalogue import Paint

__all__ = ["leaflet_pages"]

MARGIN: Final = 20.0  # left and right
ABOVE: Final = 16.0  # at the top and at the foot
INDENT: Final = 10.0  # of a step's words, to the right of its number
BODY: Final = 10.5
TABLE: Final = 9.5
SMALL: Final = 8.5
LEADING: Final = 1.32  # from line to line, in sizes
RULE: Final = 0.75  # grey of the lines between rows of a table


def leaflet_pages(
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    paper: Paper = "A4",
    loads: Loads = "drops",
    title: str = TITLE,
) -> tuple[Page, ...]:
    """How to paint the card of these rows; paints: all of theirs, by key. In mm.

    Raises RequestError and PaintError as `card_page` does.
    """
    check_rows(rows, paints)
    card_origin(paper)
    names = Names.of(rows, paints, printable)
    flow = _Flow(*PAPERS[paper])
    _how(flow, rows, loads)
    flow.new_page()
    _what(flow, rows, names, loads)
    _cautions(flow, paints, names)
    return flow.pages(shown_title(title, printable))


class _Flow:
    """Puts lines below each other and begins a new page where one is full."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.room = width - 2 * MARGIN
        self.sheets: list[list[Item]] = [[]]
        self.y = ABOVE

    def pages(self, title: str) -> tuple[Page, ...]:
        """What was laid out so far, numbered from 2."""
        last = len(self.sheets) + 1
        title = cut_to(title, 0.5 * self.room, SMALL)
        for number, items in enumerate(self.sheets, 2):
            told = f"{title}, page {number} of {last}"
            items.append(Text(self.width - MARGIN, self.height - 9.0, told, SMALL, align="right"))
        return tuple(Page(self.width, self.height, tuple(items)) for items in self.sheets)

    def new_page(self) -> None:
        self.sheets.append([])
        self.y = ABOVE

    def need(self, mm: float) -> None:
        """Begin a new page unless there is room for this much more."""
        if self.y + mm > self.height - ABOVE and self.sheets[-1]:
            self.new_page()

    def add(self, *items: Item) -> None:
        self.sheets[-1].extend(items)

    def heading(self, text: str, size: float = 14.0) -> None:
        self.need(18.0)
        self.y += (4.0 if self.sheets[-1] else 0.0) + size * POINT_MM
        self.add(Text(MARGIN, self.y, text, size, bold=True))
        self.y += 2.5

    def words(self, text: str, x: float = MARGIN, lead: str = "", size: float = BODY) -> None:
        """A paragraph from x to the right margin, its lead in bold."""
        step = size * POINT_MM * LEADING
        first = width_mm(lead + " ", size, True) if lead else 0.0
        lines = wrapped(text, self.width - MARGIN - x, size, first=first)
        self.need(step * len(lines))
        for i, line in enumerate(lines):
            self.y += step
            if lead and i == 0:
                self.add(Text(x, self.y, lead, size, bold=True))
            self.add(Text(x + (0.0 if i else first), self.y, line, size))
        self.y += 1.6

    def bullets(self, texts: Sequence[str]) -> None:
        for text in texts:
            self.need(12.0)
            mark = self.y + BODY * POINT_MM * LEADING
            self.add(Line(MARGIN + 1.0, mark - 1.35, MARGIN + 3.5, mark - 1.35, 0.35))
            self.words(text, MARGIN + 6.0)

    def steps(self, steps: Sequence[Step], start: int) -> None:
        for number, step in enumerate(steps, start):
            self.need(10.0)
            y = self.y + BODY * POINT_MM * LEADING
            self.add(Text(MARGIN + 6.0, y, str(number), BODY, bold=True, align="right"))
            self.words(step.text, MARGIN + INDENT, step.lead)


def _how(flow: _Flow, rows: Sequence[CardRow], loads: Loads) -> None:
    flow.heading("How to paint the card", 20.0)
    flow.heading("You need", 12.0)
    width, height = strip_size(len(rows))
    sheet = f"A piece of your own watercolour paper, at least {measure(width, height, up=True)}."
    flow.bullets(needs(f"{sheet} What the card tells holds for this paper.", batches(rows), loads))
    flow.heading("One row when it is painted, true size", 12.0)
    _example(flow)
    ready = printing()
    flow.steps(ready, 1)
    flow.steps(painting(loads), len(ready) + 1)
    flow.heading("The photo", 12.0)
    flow.bullets(PHOTO)


# ------------------------------------------------------------------ a painted row


def _example(flow: _Flow) -> None:
    """A picture of one row as it looks when painted, at true size."""
    slot = slot_box(0)
    x, y = 0.5 * (flow.width - slot.width) - slot.x, flow.y - slot.y + 5.0
    items: list[Item] = [Outline(slot, 0.2)]
    for column in range(COLUMNS):
        items += _swatch(column)
    line = line_box(0, 0)
    middle = line.y + 0.5 * line.height
    items.append(Line(slot.x, middle, slot.x + slot.width, middle, 0.6))
    flow.add(*(shifted(item, x, y) for item in items))
    flow.y += 5.0 + slot.height
    for first, last, words in (
        (0, 0, "bare"), (1, 6, "the paint alone, pale to strong"), (7, 10, "mixed with others"),
        (11, 11, "bare"), (12, 13, "two coats"),
    ):  # fmt: skip
        left, right = swatch_box(0, first), swatch_box(0, last)
        middle = 0.5 * (left.x + right.x + right.width) + x
        flow.add(Text(middle, flow.y + 4.0, words, SMALL, align="middle"))
    flow.y += 8.0


def _swatch(column: int) -> list[Item]:
    """A swatch in grey, as dark as its place is strong; mixtures and glazes are outlines."""
    box = swatch_box(0, column)
    kind = kind_of(column)
    number = Text(box.x + 0.5 * box.width, box.y - 2.4, str(column + 1), SMALL, align="middle")
    if kind == "bare":
        return [number]
    if kind == "dilution":
        return [number, Area((box,), 0.98 - 0.06 * column)]
    inner = [Outline(box.shrunk(0.8), 0.2, 0.3)] if kind in ("double", "over") else []
    return [number, Outline(box, 0.2, 0.3), *inner]


# ------------------------------------------------------------------ what to mix


def _what(flow: _Flow, rows: Sequence[CardRow], names: Names, loads: Loads) -> None:
    flow.heading("What to mix for this card", 20.0)
    flow.y += 3.0
    every = batches(rows)
    full = {b.paint: b.full for b in every}
    cells = [
        (row_letter(i), names.with_key(row.paint), counted(full[row.paint], loads),
         *(names.with_row(getattr(row, role)) for role in (*ROLES, "over")))
        for i, row in enumerate(rows)
    ]  # fmt: skip
    head = ("", "Paint", "Full puddle", "8 mix", "9 mix", "10 mix", "11 mix", "14 over")
    counts = max(width_mm(row[2], TABLE) for row in cells) + 2.5
    rest = (flow.room - 40.0 - counts) / 5
    _table(flow, head, cells, (6.0, 34.0, counts, *(rest,) * 5))
    others = [
        (names.with_key(b.paint), batch_words(b, loads))
        for b in every
        if b.paint not in names.letters
    ]
    if others:
        flow.y += 5.0
        _table(flow, ("Also needed", ""), others, (64.0, flow.room - 64.0))


def _table(
    flow: _Flow,
    head: Sequence[str],
    cells: Sequence[Sequence[str]],
    widths: Sequence[float],
) -> None:
    """A table with columns of these widths; the paint and what stands before it are bold."""
    names = min(len(head) - 1, 2)
    _table_row(flow, head, widths, lambda _: True)
    for row in cells:
        _table_row(flow, row, widths, lambda column: column < names)


def _table_row(
    flow: _Flow, cells: Sequence[str], widths: Sequence[float], bold: Callable[[int], bool]
) -> None:
    step = TABLE * POINT_MM * 1.22
    columns = [
        wrapped(text, width - 2.0, TABLE, bold(i))
        for i, (text, width) in enumerate(zip(cells, widths, strict=True))
    ]
    height = step * max(map(len, columns)) + 2.4
    flow.need(height)
    x = MARGIN
    for i, (lines, width) in enumerate(zip(columns, widths, strict=True)):
        for j, line in enumerate(lines):
            flow.add(Text(x, flow.y + (j + 1) * step, line, TABLE, bold(i)))
        x += width
    flow.y += height
    flow.add(Line(MARGIN, flow.y, flow.width - MARGIN, flow.y, 0.2, RULE))


def _cautions(flow: _Flow, paints: Mapping[str, Paint], names: Names) -> None:
    """The cautions in a box, which is not broken across pages."""
    keys = tuple(names.full)
    lines = [*CAUTIONS]
    if known := hazard_words(keys, paints, names):
        lines.append(f"On this card: {'; '.join(known)}.")
    if unknown := unknown_hazards(keys, paints):
        told = ", ".join(names.with_key(key) for key in unknown)
        lines.append(f"Nothing is known here of {told}: the label tells.")
    room = flow.room - 10.0
    size = 10.0
    count = sum(len(wrapped(line, room, size)) for line in lines)
    height = count * size * POINT_MM * LEADING + 1.6 * len(lines) + 12.0
    flow.need(height + 5.0)
    flow.y += 5.0
    flow.add(Outline(Box(MARGIN, flow.y, flow.room, height), 0.5))
    flow.y += 6.5
    flow.add(Text(MARGIN + 5.0, flow.y, "Cautions", 12.0, bold=True))
    flow.y += 1.0
    for line in lines:
        _boxed(flow, line, room, size)


def _boxed(flow: _Flow, text: str, room: float, size: float) -> None:
    for line in wrapped(text, room, size):
        flow.y += size * POINT_MM * LEADING
        flow.add(Text(MARGIN + 5.0, flow.y, line, size))
    flow.y += 1.6
