"""The colour list as a spreadsheet: puddles, washes and paints, one sheet each.

Plain cells only, no formulas: what begins like one is written as text. No dates but a fixed one,
so the same plan makes the same bytes.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import numpy as np
import xlsxwriter

from firstwash.handout.cautions import hazard_words
from firstwash.handout.steps import consistency_words, edges_words, mix_words, technique_words
from firstwash.handout.table import handling_words
from firstwash.handout.words import change_words, proportions
from firstwash.optics.observer import lab_to_srgb8
from firstwash.pack.words import layer_name, listed
from firstwash.paints.catalogue import Paint
from firstwash.paints.facts import facts_of
from firstwash.plan.result import Plan
from firstwash.plan.wash import Puddle

__all__ = ["colour_list", "colour_list_csv"]

MADE: Final = datetime(1980, 1, 1)
FORMULA: Final = ("=", "+", "-", "@")  # what a spreadsheet may take for the start of a formula
LONGEST: Final = 1000  # characters of a cell
KNOWN_BY: Final = {
    "measured": "measurement", "estimated": "estimate", "calibrated": "your swatches",
}  # fmt: skip
NOT_KNOWN: Final = "not known"
FACE: Final = "Atkinson Hyperlegible Next"  # where it is not installed, the program takes its own
LINE_PT: Final = 15.0  # height of a line of text
Cell = str | int | float | None
Colour = tuple[int, int, int]


@dataclass(frozen=True)
class _Swatch:
    """A cell filled with a predicted colour, sRGB."""

    colour: Colour


@dataclass(frozen=True)
class _Sheet:
    """One sheet. columns: heading and width in characters. rows: cells, as many in each."""

    name: str
    columns: tuple[tuple[str, float], ...]
    rows: tuple[tuple[Cell | _Swatch, ...], ...]


def colour_list(plan: Plan) -> bytes:
    """An .xlsx workbook with the sheets Puddles, Washes and Paints."""
    out = io.BytesIO()
    as_text = {f"strings_to_{kind}": False for kind in ("formulas", "urls", "numbers")}
    book = xlsxwriter.Workbook(out, {"in_memory": True, **as_text})
    book.set_properties({"title": "Colour list", "created": MADE})
    styles = _Styles(book)
    for sheet in (_puddles(plan), _washes(plan), _paints(plan)):
        _write(book, styles, sheet)
    book.close()
    return out.getvalue()


def colour_list_csv(plan: Plan) -> str:
    """The sheet Puddles as comma-separated text; lines end in CR LF.

    It begins with the byte order mark, which tells spreadsheets that the file is UTF-8 once it is
    encoded so. An apostrophe stands before what might be taken for a formula.
    """
    sheet = _puddles(plan)
    kept = [i for i, (head, _) in enumerate(sheet.columns) if head != SWATCH_HEAD]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([sheet.columns[i][0] for i in kept])
    for row in sheet.rows:
        writer.writerow([_csv_cell(row[i]) for i in kept])
    return "\ufeff" + out.getvalue()


def _csv_cell(value: Cell | _Swatch) -> Cell:
    if not isinstance(value, str):
        return None if isinstance(value, _Swatch) else value
    plain = _plain(value)
    return f"'{plain}" if plain.startswith(FORMULA) else plain


def _plain(text: str) -> str:
    """Text that a cell holds: lines kept, control characters gone, not endless."""
    lines = ("".join(c for c in line if c.isprintable()).strip() for line in text.splitlines())
    plain = "\n".join(line for line in lines if line)
    return plain if len(plain) <= LONGEST else plain[: LONGEST - 1] + "…"


# --- writing -----------------------------------------------------------------


class _Styles:
    """Cell formats of a workbook, each made once."""

    def __init__(self, book: Any) -> None:
        plain = {"font_name": FACE, "font_size": 11, "text_wrap": True, "valign": "top"}
        self.book = book
        self.head = book.add_format({**plain, "bold": True, "bottom": 1})
        self.text = book.add_format(plain)
        self.quoted = book.add_format({**plain, "quote_prefix": True})
        self.bold = book.add_format({**plain, "bold": True})
        self.number = book.add_format({**plain, "align": "left"})
        self.swatches: dict[Colour, Any] = {}

    def swatch(self, colour: Colour) -> Any:
        """A cell of one colour."""
        if colour not in self.swatches:
            code = "#" + "".join(f"{v:02X}" for v in colour)
            self.swatches[colour] = self.book.add_format({"bg_color": code, "pattern": 1})
        return self.swatches[colour]


def _write(book: Any, styles: _Styles, sheet: _Sheet) -> None:
    page = book.add_worksheet(sheet.name)
    for col, (head, width) in enumerate(sheet.columns):
        page.set_column(col, col, width, styles.text)
        page.write_string(0, col, head, styles.head)
    page.set_row(0, LINE_PT * _lines([h for h, _ in sheet.columns], sheet.columns))
    for number, row in enumerate(sheet.rows, 1):
        page.set_row(number, LINE_PT * _lines(row, sheet.columns))
        for col, value in enumerate(row):
            _write_cell(page, styles, number, col, value)
    page.freeze_panes(1, 1)
    if sheet.rows:
        page.autofilter(0, 0, len(sheet.rows), len(sheet.columns) - 1)
    page.set_landscape()
    page.set_paper(9)  # A4; fits Letter too, as it is fitted to one page's width
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)


def _write_cell(page: Any, styles: _Styles, row: int, col: int, value: Cell | _Swatch) -> None:
    if isinstance(value, _Swatch):
        page.write_blank(row, col, None, styles.swatch(value.colour))
    elif isinstance(value, str):
        plain = _plain(value)
        usual = styles.bold if col == 0 else styles.text
        page.write_string(row, col, plain, styles.quoted if plain.startswith(FORMULA) else usual)
    elif value is not None:
        page.write_number(row, col, value, styles.number)


def _lines(row: Sequence[Cell | _Swatch], columns: Sequence[tuple[str, float]]) -> int:
    """Lines that the fullest cell of a row takes, so that nothing is cut."""
    most = 1
    for value, (_, width) in zip(row, columns, strict=True):
        if isinstance(value, str):
            per_line = max(width - 2.0, 4.0)  # room for the cell's margin and for broken words
            most = max(most, sum(-(-max(len(p), 1) // int(per_line)) for p in value.split("\n")))
    return min(most, 27)  # a spreadsheet's row is at most 409 points high


# --- what is told ------------------------------------------------------------

SWATCH_HEAD: Final = "Colour (predicted, for screens)"


def _puddles(plan: Plan) -> _Sheet:
    columns = (
        ("Puddle", 9.0), (SWATCH_HEAD, 12.0), ("Paints", 30.0), ("Colour Index name", 14.0),
        ("Parts at full strength", 14.0), ("From tubes", 34.0), ("From pans, in brush-loads", 34.0),
        ("As runny as", 24.0), ("Test stroke dries to value, strongest", 13.0),
        ("Test stroke dries to value, palest", 13.0), ("Washes", 22.0),
        ("Mix, ml", 9.0), ("Water to let down, ml", 11.0),
    )  # fmt: skip
    rows = (_puddle(plan, q, puddle) for q, puddle in enumerate(plan.puddles))
    return _Sheet("Puddles", columns, tuple(rows))


def _puddle(plan: Plan, q: int, puddle: Puddle) -> tuple[Cell | _Swatch, ...]:
    paints = [plan.paints[p] for p, _ in puddle.parts]
    names = [p.name for p in paints]
    low, high = sorted(puddle.value_steps)
    return (
        puddle.name,
        _Swatch(_rgb(puddle.swatch[0])),
        "\n".join(names),
        "\n".join(_index(p) for p in paints),
        "\n".join(str(n) for _, n in proportions(puddle)),
        mix_words(puddle.amount, names),
        mix_words(puddle.amount, names, pans=True),
        consistency_words(puddle),
        low,
        high,
        _where_laid(plan, q),
        round(puddle.amount.ml, 1),
        round(puddle.amount.thinning_ml, 1),
    )


def _where_laid(plan: Plan, q: int) -> str:
    """A puddle's washes: "layer 1: 3; layer 2: 2, 5". No "2.10", which would be read as 2.1."""
    numbers: dict[int, list[str]] = {}
    for wash in plan.washes:
        if wash.puddle == q:
            numbers.setdefault(wash.layer, []).append(str(wash.number))
    return "; ".join(f"layer {n}: {', '.join(own)}" for n, own in sorted(numbers.items()))


def _rgb(lab: Any) -> Colour:
    r, g, b = (int(v) for v in lab_to_srgb8(np.asarray(lab, dtype=np.float64)))
    return r, g, b


def _index(paint: Paint) -> str:
    return ", ".join(paint.pigments) or NOT_KNOWN


def _washes(plan: Plan) -> _Sheet:
    columns = (
        ("Layer", 8.0), ("Wash", 8.0), ("Called", 16.0), ("Puddle", 9.0), ("How", 34.0),
        ("Dries to value", 10.0), ("Area, cm²", 10.0), ("Areas", 8.0), ("Edges", 34.0),
        ("Colour when dry (predicted, for screens)", 14.0), ("Goes from", 36.0),
    )  # fmt: skip
    rows = tuple(
        (
            w.layer,
            w.number,
            layer_name(plan, w.layer),
            plan.puddles[w.puddle].name,
            technique_words(w),
            w.value_step,
            round(w.area_mm2 / 100.0, 1),
            w.areas,
            edges_words(w),
            _Swatch(_rgb(w.after)),
            change_words(w, plan),
        )
        for w in plan.washes
    )
    return _Sheet("Washes", columns, rows)


def _paints(plan: Plan) -> _Sheet:
    columns = (
        ("Paint", 26.0), ("Colour Index name", 14.0), ("In puddles", 14.0),
        ("Transparency (0 opaque to 4 transparent)", 15.0),
        ("Staining (0 lifts to 4 stains)", 13.0),
        ("Granulation (0 to 4)", 13.0), ("Lightfastness (I best to V)", 14.0),
        ("Lightfastness tested in", 16.0), ("Lightfastness from", 18.0), ("Under the brush", 24.0),
        ("Cautions", 28.0), ("Colour known by", 16.0),
    )  # fmt: skip
    return _Sheet("Paints", columns, tuple(_paint_rows(plan)))


def _paint_rows(plan: Plan) -> Iterator[tuple[Cell | _Swatch, ...]]:
    for number, paint in enumerate(plan.paints):
        h = paint.handling
        used = [q.name for q in plan.puddles if number in (p for p, _ in q.parts)]
        yield (
            paint.name,
            _index(paint),
            listed(used) or "none",
            *(NOT_KNOWN if g is None else g for g in (h.transparency, h.staining, h.granulation)),
            h.lightfast or NOT_KNOWN,
            h.lightfast_medium or "",
            _lightfast_source(paint),
            handling_words(paint),
            hazard_words(paint) or ("none known" if h.hazard == "none" else NOT_KNOWN),
            KNOWN_BY[paint.provenance],
        )


def _lightfast_source(paint: Paint) -> str:
    """Where a category comes from: "published (S11)", "memory"; "" where there is none."""
    if not paint.handling.lightfast:
        return ""
    known = facts_of(paint.key)
    if known is not None and known.lightfast == paint.handling.lightfast:
        return known.source_of("lightfast")
    return paint.handling.sources.get("lightfast", "your own list")
