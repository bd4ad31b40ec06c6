"""Sheets for students with the answers left out: values to shade, puddles to think of.

Each layer shows the sheet before it and the map with its letters. What to mix, how strong and how
to lay it is for the student to write down before the step sheet is opened.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from firstwash.handout.words import washes_by_puddle
from firstwash.language import listed, tr, tr_count
from firstwash.picture.reference import Reference
from firstwash.plan.result import Plan
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.front import reference_picture
from firstwash.sheets.map_key import map_key
from firstwash.sheets.pages import (
    Pages,
    both,
    heading,
    joined,
    kept_whole,
    note,
    page_of,
    para,
    picture,
    stacked,
    strong,
    table_of,
)
from firstwash.sheets.told import layer_title

__all__ = ["exercise_pages"]

ROW_MM: Final = 11.0  # room to write in
MOST_ROWS: Final = 14  # puddles asked for in one layer: the largest ones
VALUES: Final = 5
ACROSS: Final = "62%"  # of the page for a picture that lies across: two and three questions fit


def exercise_pages(plan: Plan, reference: Reference, drawn: Drawn | None = None) -> Pages:
    """The students' sheets: values first, then one sheet for each layer that is painted.

    drawn: the plan's pictures, if other sheets have them drawn too.
    """
    ready = drawn or Drawn(plan)
    layers = sorted({w.layer for w in plan.washes})
    sheets = [_values(plan, reference, ready)]
    return joined([*sheets, *(_layer(plan, b, n, ready) for b, n in pairwise([0, *layers]))])


def _values(plan: Plan, reference: Reference, ready: Drawn) -> Pages:
    """The photo, and the outline to shade in a few values."""
    photo, outline = reference_picture(reference), ready.outline()
    upright = plan.sheet.height_mm > plan.sheet.width_mm
    shown = [
        picture(photo[0], tr("The photo that is painted from")),
        picture(
            outline[0], tr("The outline, to be shaded"),
            tr("Shade it with a pencil in {count} values, from bare paper to the darkest dark.",
               count=VALUES),
        ),
    ]  # fmt: skip
    pictures = both(shown[0], shown[1], "1fr, 1fr", "6mm") if upright else _one_below_another(shown)
    names = listed([paint.name for paint in plan.paints])
    told = [
        heading(1, tr("Your plan first")),
        para(
            tr(
                "Write your own answers before you open the step sheets; then compare. There is "
                "more than one good way."
            )
        ),
        pictures,
        para(tr("The paints to choose from: {paints}.", paints=names)),
        _asked(tr("Which whites stay bare paper?")),
        _asked(tr("Where does the light come from, and what colour are the shadows?")),
        _asked(tr("Which colour lies under most of the picture, as the first wash?")),
    ]
    return page_of(told, dict([photo, outline]))


def _one_below_another(shown: Sequence[str]) -> str:
    return f"#align(center, block(width: {ACROSS})[{stacked(shown, '4mm')}])"


def _asked(question: str) -> str:
    line = "#v(7mm)#line(length: 100%, stroke: 0.5pt + luma(62%))"
    return kept_whole(f"{para(question)}{line}", "0.6em")


def _layer(plan: Plan, last: int, layer: int, ready: Drawn) -> Pages:
    """The sheet of a layer; last: the one painted before it, 0 for none."""
    before = ready.stage(last) if last else ready.outline()
    name, svg = ready.asked_map(layer)  # what stays white is for the student to find
    told = tr("Map of the washes of this layer, with the letters of their puddles.")
    stage = picture(
        before[0],
        tr("The sheet before this layer"),
        tr("Before: bare paper") if last == 0 else tr("Before: layer {layer} is dry", layer=last),
    )
    layout = ready.layout
    key, pieces = map_key(ready, layer, asked=True)
    named = stacked([key, note(tr("Letters name the puddles."))], "2mm")
    drawing = picture(name, told, frame=False)
    if layout.beside or layout.in_row:
        row = both(stage, drawing, f"{100 * max(layout.stage_share, 0.24):.1f}%, 1fr", "6mm")
        shown = stacked([row, named], "3mm")
    else:
        share = f"{100 * layout.stage_share:.1f}%"
        shown = stacked([f"#block(width: {share})[{stage}]", drawing, named], "4mm")
    return page_of(
        [
            heading(1, tr("{layer}: your plan", layer=layer_title(plan, layer))),
            shown,
            para(tr("Value steps run from 1, black, to 10, white paper.")),
            _table(plan, layer),
        ],
        dict([before, (name, svg)]) | pieces,
    )


def _table(plan: Plan, layer: int) -> str:
    groups = washes_by_puddle(plan.washes_of(layer))
    heads = (
        tr("Puddle"), tr("Paints, and how much of each"), tr("Value"), tr("Wet or dry paper"),
    )  # fmt: skip
    table = table_of(heads, "auto, 2.6fr, 0.7fr, 1.1fr", _rows(plan, groups[:MOST_ROWS]))
    left = len(groups) - MOST_ROWS
    if left <= 0:
        return table
    more = tr_count(
        "One more puddle, for the smallest areas, is not asked for here.",
        "{count} more puddles, for the smallest areas, are not asked for here.",
        left,
    )
    return f"{table}\n\n{para(more)}"


def _rows(plan: Plan, groups: Sequence[tuple[int, object]]) -> Iterator[Sequence[str]]:
    for q, _ in groups:
        yield [f"{strong(plan.puddles[q].name)}#v({ROW_MM - 6:g}mm)", "", "", ""]
