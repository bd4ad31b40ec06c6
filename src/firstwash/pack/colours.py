"""The colour list as a spreadsheet: puddles, washes and paints, one sheet each.

Plain cells only, no formulas: what begins like one is written as text. No dates but a fixed one,
so the same plan makes the same bytes.
"""

import csv
import io
import re
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
from firstwash.language import listed, mark, tr
from firstwash.optics.observer import lab_to_srgb8
from firstwash.paints.catalogue import Paint
from firstwash.paints.facts import facts_of
from firstwash.plan.result import Plan
from firstwash.plan.wash import Puddle
from firstwash.sheets.told import layer_title

__all__ = ["colour_list", "colour_list_csv"]

MADE: Final = datetime(1980, 1, 1)
FORMULA: Final = ("=", "+", "-", "@")  # what a spreadsheet may take for the start of a formula
LONGEST: Final = 1000  # characters of a cell
KNOWN_BY: Final = {
    "measured": mark("measurement"),
    "estimated": mark("estimate"),
    "calibrated": mark("your swatches"),
}
NOT_KNOWN: Final = mark("not known")
SOURCE: Final = re.compile(r"published \(([^()]*)\)(, computed from it)?")
KINDS_OF_SOURCE: Final = (mark("published"), mark("memory"), mark("mixed"), mark("your own list"))
SHEET_NAME: Final = 31  # letters of a sheet's name at most
NOT_IN_NAMES: Final = set("[]:*?/\\'")  # from memory
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
    book.set_properties({"title": tr("Colour list"), "created": MADE})
    styles = _Styles(book)
    sheets = (_puddles(plan), _washes(plan), _paints(plan))
    for name, sheet in zip(_names(sheets), sheets, strict=True):
        _write(book, styles, sheet, name)
    book.close()
    return out.getvalue()


def colour_list_csv(plan: Plan) -> str:
    """The sheet Puddles as comma-separated text; lines end in CR LF.

    It begins with the byte order mark, which tells spreadsheets that the file is UTF-8 once it is
    encoded so. An apostrophe stands before what might be taken for a formula.
    """
    sheet = _puddles(plan)
    kept = [i for i, (head, _) in enumerate(sheet.columns) if head != tr(SWATCH_HEAD)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_csv_cell(sheet.columns[i][0]) for i in kept])
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


def _names(sheets: Sequence[_Sheet]) -> list[str]:
    """Names that every spreadsheet takes, whatever a translation says; numbered where it must be.

    No name may be another's, long or empty, nor hold some signs.
    """
    plain = ["".join(c for c in s.name if c not in NOT_IN_NAMES).strip() for s in sheets]
    kept = all(0 < len(name) <= SHEET_NAME for name in plain)
    if kept and len({name.casefold() for name in plain}) == len(plain):
        return plain
    return [f"{number} {name}"[:SHEET_NAME].strip() for number, name in enumerate(plain, 1)]


def _write(book: Any, styles: _Styles, sheet: _Sheet, name: str) -> None:
    page = book.add_worksheet(name)
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

SWATCH_HEAD: Final = mark("Colour (predicted, for screens)")


def _puddles(plan: Plan) -> _Sheet:
    columns = (
        (tr("Puddle"), 9.0), (tr(SWATCH_HEAD), 12.0), (tr("Paints"), 30.0),
        (tr("Colour Index name"), 14.0), (tr("Parts at full strength"), 14.0),
        (tr("From tubes"), 34.0), (tr("From pans, in brush-loads"), 34.0),
        (tr("As runny as"), 24.0), (tr("Test stroke dries to value, strongest"), 13.0),
        (tr("Test stroke dries to value, palest"), 13.0), (tr("Washes"), 22.0),
        (tr("Mix, ml"), 9.0), (tr("Water to let down, ml"), 11.0),
    )  # fmt: skip
    rows = (_puddle(plan, q, puddle) for q, puddle in enumerate(plan.puddles))
    return _Sheet(tr("Puddles"), columns, tuple(rows))


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
    return "; ".join(
        tr("layer {layer}: {washes}", layer=n, washes=", ".join(own))
        for n, own in sorted(numbers.items())
    )


def _rgb(lab: Any) -> Colour:
    r, g, b = (int(v) for v in lab_to_srgb8(np.asarray(lab, dtype=np.float64)))
    return r, g, b


def _index(paint: Paint) -> str:
    return ", ".join(paint.pigments) or tr(NOT_KNOWN)


def _washes(plan: Plan) -> _Sheet:
    columns = (
        (tr("Layer"), 8.0), (tr("Wash"), 8.0), (tr("Called"), 16.0), (tr("Puddle"), 9.0),
        (tr("How"), 34.0), (tr("Dries to value"), 10.0), (tr("Area, cm²"), 10.0),
        (tr("Areas"), 8.0), (tr("Edges"), 34.0),
        (tr("Colour when dry (predicted, for screens)"), 14.0), (tr("Goes from"), 36.0),
    )  # fmt: skip
    rows = tuple(
        (
            w.layer,
            w.number,
            layer_title(plan, w.layer),
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
    return _Sheet(tr("Washes"), columns, rows)


def _paints(plan: Plan) -> _Sheet:
    columns = (
        (tr("Paint"), 26.0), (tr("Colour Index name"), 14.0), (tr("In puddles"), 14.0),
        (tr("Transparency (0 opaque to 4 transparent)"), 15.0),
        (tr("Staining (0 lifts to 4 stains)"), 13.0),
        (tr("Granulation (0 to 4)"), 13.0), (tr("Lightfastness (I best to V)"), 14.0),
        (tr("Lightfastness tested in"), 16.0), (tr("Lightfastness from"), 18.0),
        (tr("Under the brush"), 24.0), (tr("Cautions"), 28.0), (tr("Colour known by"), 16.0),
    )  # fmt: skip
    return _Sheet(tr("Paints"), columns, tuple(_paint_rows(plan)))


def _paint_rows(plan: Plan) -> Iterator[tuple[Cell | _Swatch, ...]]:
    unknown = tr(NOT_KNOWN)
    for number, paint in enumerate(plan.paints):
        h = paint.handling
        used = [q.name for q in plan.puddles if number in (p for p, _ in q.parts)]
        yield (
            paint.name,
            _index(paint),
            listed(used) or tr("none"),
            *(unknown if g is None else g for g in (h.transparency, h.staining, h.granulation)),
            h.lightfast or unknown,
            tr(h.lightfast_medium or ""),
            _lightfast_source(paint),
            handling_words(paint),
            hazard_words(paint) or (tr("none known") if h.hazard == "none" else unknown),
            tr(KNOWN_BY[paint.provenance]),
        )


def _lightfast_source(paint: Paint) -> str:
    """Where a category comes from: "published (S11)", "memory"; "" where there is none."""
    if not paint.handling.lightfast:
        return ""
    known = facts_of(paint.key)
    if known is not None and known.lightfast == paint.handling.lightfast:
        return _source_words(known.source_of("lightfast"))
    return _source_words(paint.handling.sources.get("lightfast", "your own list"))


def _source_words(told: str) -> str:
    """What the facts say of a source, in the language spoken."""
    found = SOURCE.fullmatch(told)
    if found is None:
        return tr(told)
    if found[2]:
        return tr("published ({sources}), computed from it", sources=found[1])
    return tr("published ({sources})", sources=found[1])
