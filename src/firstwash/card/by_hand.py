"""The swatch card without a printer: pencil lines by ruler, as one web page to read on a phone."""

import math
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Final

from firstwash.card.by_hand_picture import corner_picture, sheet_picture
from firstwash.card.layout import COLUMNS, Box, line_box, slot_box
from firstwash.card.recipe import CardRow
from firstwash.card.steps import CAUTIONS, PHOTO, Step, batch_words, needs, painting
from firstwash.card.words import (
    Batch,
    Loads,
    Names,
    batches,
    check_rows,
    counted,
    hazard_words,
    inches,
    label,
    measure,
    row_letter,
    unknown_hazards,
)
from firstwash.paints.catalogue import Paint

__all__ = ["by_hand_page", "frame_box", "row_lines", "tick_distances"]

TOP: Final = 17.0  # the frame's upper edge on the card: where the first row's caption begins
ROOM: Final = 10.0  # mm of paper to leave around the pencil frame

STYLE: Final = """
:root { --ink: #222; --paper: #fbfaf7; --line: #c9c6bf; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 1.125rem/1.5 "Atkinson Hyperlegible", "Atkinson Hyperlegible Next", Verdana, sans-serif;
  font-variant-numeric: tabular-nums; }
main { max-width: 44rem; margin: 0 auto; padding: 1.5rem 1.25rem 4rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .5rem; }
h2 { font-size: 1.4rem; margin: 2.5rem 0 .75rem; padding-top: 1rem;
  border-top: 1px solid var(--line); }
h3 { font-size: 1.15rem; margin: 2rem 0 .25rem; overflow-wrap: anywhere; }
li { margin: .5rem 0; overflow-wrap: anywhere; }
ol, ul { padding-left: 1.6rem; }
table { border-collapse: collapse; margin: .75rem 0; }
th, td { text-align: left; vertical-align: top; padding: .4rem 1.1rem .4rem 0;
  border-bottom: 1px solid var(--line); }
td { overflow-wrap: anywhere; }
td span, th { white-space: nowrap; }
.scroll { overflow-x: auto; }
figure { margin: 1.25rem 0; }
svg { display: block; width: 100%; height: auto; max-width: 36rem; background: #fff;
  border: 1px solid var(--line); }
svg text { font-family: inherit; fill: var(--ink); }
.caution { border: 2px solid var(--ink); padding: 0 1rem; }
"""


def frame_box(rows: int) -> Box:
    """The pencil frame round 1 to 8 rows, in mm on the card.

    Its corners are what the painter touches in the photo. It begins at the windows' left
    edge, at the first row's caption, and ends with the last window.
    """
    first, last = slot_box(0), slot_box(rows - 1)
    return Box(first.x, TOP, first.width, last.y + last.height - TOP)


def row_lines(row: int) -> tuple[float, float, float]:
    """A row's upper line, pen line and lower line, in mm down from the frame's upper edge."""
    slot, pen = slot_box(row), line_box(row, 0)
    return slot.y - TOP, pen.y + 0.5 * pen.height - TOP, slot.y + slot.height - TOP


def tick_distances() -> tuple[float, ...]:
    """Where the 13 ticks between 14 places lie, in mm from the left, to half a millimetre."""
    pitch = slot_box(0).width / COLUMNS
    return tuple(round(2 * pitch * i) / 2 for i in range(1, COLUMNS))


def by_hand_page(
    rows: Sequence[CardRow], paints: Mapping[str, Paint], loads: Loads = "drops"
) -> bytes:
    """How to draw and paint a swatch card without a printer: one HTML file, UTF-8.

    paints: every paint of the rows, by key. Raises RequestError for more than eight rows,
    PaintError for a paint that is missing.
    """
    check_rows(rows, paints)
    names = Names.of(rows, paints, _clean)
    body = (
        "<h1>A swatch card by hand</h1><p>For painters without a printer: the same card, in "
        "pencil on your own watercolour paper.</p>"
        + _needs(rows, loads)
        + _drawing(len(rows))
        + f"<h2>Paint</h2>{_steps(painting(loads))}"
        + _mixing(rows, names, loads)
        + _photo()
        + _cautions(paints, names)
    )
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>A swatch card by hand</title><style>{STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )
    return page.encode("utf-8")


def _clean(text: str) -> str:
    """Text without control marks or half letters, in one line."""
    return " ".join("".join(c for c in text if c.isprintable() or c.isspace()).split())


def _items(texts: Iterable[str]) -> str:
    """A list of texts."""
    return f"<ul>{''.join(f'<li>{escape(t)}</li>' for t in texts)}</ul>"


def _steps(steps: Sequence[Step]) -> str:
    items = (f"<li><strong>{escape(s.lead)}</strong> {escape(s.text)}</li>" for s in steps)
    return f"<ol>{''.join(items)}</ol>"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; head is text, cells are HTML."""
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join("<tr>" + "".join(f"<td>{c}</td>" for c in row) + "</tr>" for row in rows)
    return (
        f'<div class="scroll"><table><thead><tr>{top}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def _both(mm: float) -> str:
    """A length in mm and below it in inches, as HTML."""
    return f"<span>{mm:g} mm</span><br><span>{inches(mm)}</span>"


def _needs(rows: Sequence[CardRow], loads: Loads) -> str:
    frame = frame_box(len(rows))
    size = measure(frame.width + 2 * ROOM, frame.height + 2 * ROOM, up=True)
    sheet = (
        f"A piece of your own watercolour paper, at least {size}, and a soft pencil. What the "
        "card tells holds for this paper."
    )
    return f"<h2>You need</h2>{_items(needs(sheet, batches(rows), loads))}"


def _drawing(rows: int) -> str:
    frame = frame_box(rows)
    diagonal = round(math.hypot(frame.width, frame.height))
    first = (
        Step(
            f"Draw a frame {frame.width:g} mm wide and {frame.height:g} mm high "
            f"({inches(frame.width)} and {inches(frame.height)}).",
            "It is square when both diagonals are the same, about "
            f"{measure(diagonal)}. Make the corners dark and sharp: they are pointed at in the "
            "photo.",
        ),
        Step(
            "Draw the rows.",
            "Measure down from the upper edge, at the left and at the right, and draw the upper "
            "and the lower line of every row across the frame.",
        ),
    )
    second = Step(
        "Mark the places.",
        "Measure from the left edge. Make a short tick at each distance on the upper and lower "
        "line of every row: 13 ticks, 14 places. A swatch lies in the middle of its place.",
    )
    last = (
        Step("Write the letter and the paint", "in the space above each row."),
        Step(
            "Draw the pen line",
            "through each row with a ruler and let it dry, before any paint. How well a paint "
            "hides it shows how opaque the paint is.",
        ),
    )
    return (
        f"<h2>Draw</h2>{sheet_picture(frame, [row_lines(i) for i in range(rows)])}"
        f"{_list_from(1, first)}{_row_table(rows)}"
        f"{_list_from(3, (second,))}{_tick_table()}"
        f"{corner_picture(row_lines(0), tick_distances())}{_list_from(4, last)}"
    )


def _list_from(number: int, steps: Sequence[Step]) -> str:
    return _steps(steps).replace("<ol>", f'<ol start="{number}">', 1)


def _row_table(rows: int) -> str:
    head = ("Row", "Upper line", "Pen line", "Lower line")
    return _table(head, ((row_letter(i), *map(_both, row_lines(i))) for i in range(rows)))


def _tick_table() -> str:
    cells = (
        (f"{i} and {i + 1}", f"{mm:g} mm", inches(mm)) for i, mm in enumerate(tick_distances(), 1)
    )
    return _table(("Between places", "From left", "or"), cells)


def _mixing(rows: Sequence[CardRow], names: Names, loads: Loads) -> str:
    every = {b.paint: b for b in batches(rows)}
    told = "".join(_one_row(i, row, every[row.paint], names, loads) for i, row in enumerate(rows))
    others = [
        f"{names.with_key(b.paint)}: {batch_words(b, loads)}."
        for b in every.values()
        if b.paint not in names.letters
    ]
    also = f"<h3>Also needed</h3>{_items(others)}" if others else ""
    return f"<h2>What goes where</h2>{_every_row(rows[0])}{told}{also}"


def _every_row(row: CardRow) -> str:
    """What is the same in all rows."""
    cells = ((str(c + 1), escape(label(row, c, {}).does)) for c in range(7))
    return (
        "<h3>In every row</h3>"
        + _table(("Place", "Full puddle : water"), cells)
        + "<p>Place 12 is bare again, place 13 takes two coats of the row’s own paint.</p>"
    )


def _one_row(number: int, row: CardRow, batch: Batch, names: Names, loads: Loads) -> str:
    cells = [("Full puddle", counted(batch.full, loads))]
    for column in (7, 8, 9, 10, 13):
        told = label(row, column, {})
        does = "over dry" if told.does == "over" else "mix with"
        cells.append((f"{column + 1} {does}", escape(names.with_row(told.partner or ""))))
    heading = escape(f"{row_letter(number)}: {names.with_key(row.paint)}")
    return f"<h3>{heading}</h3>{_table(('Place', 'Paint'), cells)}"


def _photo() -> str:
    corners = (
        "All four corners of the pencil frame must show; where they lie is told with the photo "
        "(on the command line: --corners)."
    )
    return f"<h2>The photo</h2>{_items((*PHOTO, corners))}"


def _cautions(paints: Mapping[str, Paint], names: Names) -> str:
    keys = tuple(names.full)
    named = [f"{w}." for w in hazard_words(keys, paints, names)]
    if unknown := unknown_hazards(keys, paints):
        told = ", ".join(names.with_key(key) for key in unknown)
        named.append(f"Nothing is known here of {told}: the label tells.")
    words = "".join(f"<p>{escape(c)}</p>" for c in CAUTIONS)
    here = f"<p>On this card:</p>{_items(named)}" if named else ""
    return f'<h2>Cautions</h2><div class="caution">{words}{here}</div>'
