"""Test strips: empty boxes for every puddle and glaze of a plan, to paint before it is begun.

Nothing is printed in colour: a home print is no colour reference, and a patch beside a stroke
would be taken for one.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from firstwash.handout.words import colour_words, unsure_steps
from firstwash.language import mark, tr, tr_count
from firstwash.plan.result import Plan
from firstwash.plan.sureness import puddle_ranges
from firstwash.plan.wash import Puddle
from firstwash.sheets.pages import (
    NOTE_PT,
    Pages,
    beside,
    both,
    heading,
    kept_whole,
    note,
    page_of,
    para,
    stacked,
    strong,
)
from firstwash.sheets.pairs import Pair, Stroke, glaze_pairs
from firstwash.sheets.puddle_rows import letter_words, paint_words, span_words
from firstwash.sheets.told import share_words

__all__ = ["BOX_MM", "MOST_PAIRS", "NO_REFERENCE", "ZONE_MM", "strip_pages"]

BOX_MM: Final = (30.0, 20.0)  # of a puddle's box: wider than 25 mm, higher than 18
ZONE_MM: Final = (25.0, 20.0)  # of each third of a glaze's box
MARK_MM: Final = 3.0
MOST_PAIRS: Final = 16  # two pages hold so many, on the shorter paper too
SMALL_MM: Final = (40.0, 11.0)  # of a box for a pair that meets on less of the sheet
SMALL_ROW: Final = 4
LEAST_SHARE: Final = 0.002  # of the sheet (0-1) on which a pair meets that is told
RULE: Final = "0.6pt + luma(35%)"

NO_REFERENCE: Final = mark(
    "A home print is no colour reference, for its inks are not your paints: so no colours are "
    "printed here. Go by the words and value steps, or by the colours on a screen."
)
PAPER: Final = mark(
    "Paint these before you begin, on the paper of the painting: print this page on it if your "
    "printer takes it, or rule the boxes on an offcut. Let every stroke dry before you judge it; "
    "value 10 is the bare paper, value 1 the darkest."
)


def strip_pages(plan: Plan) -> Pages:
    """Boxes for every puddle, strong and weak, and for the glaze pairs on most of the sheet."""
    if not plan.puddles:
        nothing = para(tr("Nothing is mixed: the whole sheet stays bare paper."))
        return page_of([heading(1, tr("Test strips")), nothing])
    pairs = glaze_pairs(plan)
    return page_of(
        [
            heading(1, tr("Test strips")),
            para(tr(PAPER)),
            para(tr(NO_REFERENCE)),
            *_puddles(plan),
            *_glazes(plan, pairs),
        ]
    )


def _two_up(units: Sequence[str]) -> list[str]:
    """Units in two columns, row by row, none of them cut."""
    rows = [(*units[i : i + 2], "")[:2] for i in range(0, len(units), 2)]
    return [kept_whole(both(left, right, "1fr, 1fr", "6mm"), "4.5mm") for left, right in rows]


# --- puddles ---------------------------------------------------------------------


def _puddles(plan: Plan) -> Iterable[str]:
    ranges = puddle_ranges(plan)
    units = [
        _puddle(plan, puddle, span_words(unsure_steps(ranges[q, 0])))
        for q, puddle in enumerate(plan.puddles)
    ]
    first, *rest = _two_up(units)
    told = para(
        tr(
            "Left the strongest stroke of each puddle, right the palest. Mix it darker or lighter "
            "until the dry stroke reads as told; in brackets is what nine of ten should lie "
            "between."
        )
    )
    return [kept_whole(f"{heading(2, tr('Puddles'))}\n\n{told}\n\n{first}", "4.5mm"), *rest]


def _puddle(plan: Plan, puddle: Puddle, between: str) -> str:
    low, high = puddle.value_steps
    rest = f" ({between})" if between != str(low) else ""
    ends = (
        (puddle.swatch[0], f"{tr('value {number}', number=low)}{rest}"),
        (puddle.swatch[1], tr("value {number}", number=high)),
    )
    boxes = [
        stacked([_box(BOX_MM), f"#par[{note(f'{step}, {_colour(lab)}')}]"], "1.5mm")
        for lab, step in ends
    ]
    wide = f"{BOX_MM[0]:g}mm"
    drawn = beside(boxes, f"{wide}, {wide}", "4mm")
    under = f"#par[#text({NOTE_PT}pt)[{paint_words(plan, puddle)}]]"
    return both(letter_words(puddle), stacked([drawn, under], "2mm"), "10mm, 1fr", "2mm")


def _colour(lab: Iterable[float]) -> str:
    lightness, a, b = (float(v) for v in lab)
    return colour_words((lightness, a, b))


def _box(size: tuple[float, float], ticks: str = "") -> str:
    """An empty box to paint in, mm wide and high."""
    wide, high = size
    return f"#block(width: {wide:g}mm, height: {high:g}mm, stroke: {RULE})[{ticks}]"


# --- glazes ----------------------------------------------------------------------


def _glazes(plan: Plan, pairs: Sequence[Pair]) -> list[str]:
    if not pairs:
        return []
    shown = pairs[:MOST_PAIRS]
    first, *rest = _two_up([_glaze(plan, pair) for pair in shown])
    told = para(
        tr(
            "Lay the lower puddle from the left edge to the second mark. When it is dry, glaze the "
            "upper one from the first mark to the right edge: in the middle they lie one over the "
            "other."
        )
    )
    head = kept_whole(f"{heading(2, tr('Glazes'))}\n\n{told}\n\n{first}", "4.5mm")
    small = [pair for pair in pairs[MOST_PAIRS:] if pair.share >= LEAST_SHARE]
    left = len(pairs) - len(shown) - len(small)
    return [head, *rest, *_small_glazes(plan, small), para(_left_out(left))]


def _left_out(count: int) -> str:
    if not count:
        return ""
    return tr_count(
        "One more pair meets on less than a five-hundredth of the sheet, and may be left out.",
        "{count} more pairs meet on less than a five-hundredth of the sheet, and may be left out.",
        count,
    )


def _small_glazes(plan: Plan, pairs: Sequence[Pair]) -> list[str]:
    """A small box for each pair, in rows, the first with its heading."""
    wide = ", ".join([f"{SMALL_MM[0]:g}mm"] * SMALL_ROW)
    units = [_small_glaze(plan, pair) for pair in pairs]
    rows = [
        f"#grid(columns: ({wide}), column-gutter: 1fr, {', '.join(f'[{u}]' for u in row)})"
        for row in (
            (*units[i : i + SMALL_ROW], *[""] * SMALL_ROW)[:SMALL_ROW]
            for i in range(0, len(units), SMALL_ROW)
        )
    ]
    if not rows:
        return []
    told = para(
        tr(
            "Pairs that meet on less of the sheet. Lay the lower puddle in the whole box and, when "
            "it is dry, the upper one from the mark to the right edge."
        )
    )
    head = f"{heading(2, tr('Glazes in small places'))}\n\n{told}\n\n{rows[0]}"
    return [kept_whole(head, "4mm"), *(kept_whole(row, "4mm") for row in rows[1:])]


def _small_glaze(plan: Plan, pair: Pair) -> str:
    under, over = plan.puddles[pair.under].name, plan.puddles[pair.over].name
    wide, high = SMALL_MM
    box = _box(SMALL_MM, "".join(_mark(wide / 2.0, y) for y in (0.0, high - MARK_MM)))
    told = f"{tr('value {number}', number=pair.both.step)}, {_colour(pair.both.lab)}"
    name = tr("{upper} over {lower}", upper=over, lower=under)
    return stacked([box, f"#par[#text({NOTE_PT}pt)[{strong(name)} {note(told)}]]"], "1.2mm")


def _glaze(plan: Plan, pair: Pair) -> str:
    under, over = plan.puddles[pair.under].name, plan.puddles[pair.over].name
    both_told = tr("{upper} over {lower}", upper=over, lower=under)
    share = tr("on {share} of the sheet", share=share_words(pair.share))
    title = f"{strong(both_told)} {note(share)}"
    wide, high = ZONE_MM
    ends = (
        (tr("{puddle} alone", puddle=under), pair.alone_under),
        (both_told, pair.both),
        (tr("{puddle} alone", puddle=over), pair.alone_over),
    )
    labels = [f"#par[{_reads(name, stroke)}]" for name, stroke in ends]
    columns = ", ".join([f"{wide:g}mm"] * 3)
    cells = ", ".join(f"block(width: {wide - 2.0:g}mm)[{label}]" for label in labels)
    told = f"#grid(columns: ({columns}), {cells})"
    box = _box((3 * wide, high), "".join(_marks(wide, high)))
    return stacked([f"#par[{title}]", box, told], "1.5mm")


def _reads(name: str, stroke: Stroke) -> str:
    value = tr("value {number}", number=stroke.step)
    return f"{note(name)} #linebreak() {note(f'{value}, {_colour(stroke.lab)}')}"


def _marks(wide: float, high: float) -> Iterable[str]:
    """Short lines inside, at the upper and lower edge, one and two thirds of the way."""
    for third in (1, 2):
        for y in (0.0, high - MARK_MM):
            yield _mark(third * wide, y)


def _mark(x: float, y: float) -> str:
    line = f"line(start: (0mm, 0mm), end: (0mm, {MARK_MM:g}mm), stroke: {RULE})"
    return f"#place(dx: {x:g}mm, dy: {y:g}mm, {line})"
