"""Test strips: empty boxes for every puddle and glaze of a plan, to paint before it is begun.

Nothing is printed in colour: a home print is no colour reference, and a patch beside a stroke
would be taken for one.
"""

from collections.abc import Collection, Iterable, Sequence
from typing import Final

import numpy as np

from firstwash.arrays import FloatArray
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
from firstwash.sheets.told import of_the_sheet

__all__ = [
    "BOX_MM",
    "MOST_PAIRS",
    "NO_REFERENCE",
    "ZONE_MM",
    "strength_words",
    "strip_pages",
    "stroke_ends",
]

BOX_MM: Final = (30.0, 20.0)  # of a puddle's box: wider than 25 mm, higher than 18
ZONE_MM: Final = (25.0, 20.0)  # of each third of a glaze's box
MARK_MM: Final = 3.0
MOST_PAIRS: Final = 16  # two pages hold so many, on the shorter paper too
SMALL_MM: Final = (40.0, 11.0)  # of a box for a pair that meets on less of the sheet
SMALL_ROW: Final = 4
LEAST_SHARE: Final = 0.002  # of the sheet (0-1) on which a pair meets that is told
MOST_FIRST: Final = 10
SAME_STRENGTH: Final = 0.15  # strengths nearer than this are one to the hand
RULE: Final = "0.6pt + luma(35%)"

NO_REFERENCE: Final = mark(
    "A home print is no colour reference, for its inks are not your paints: so no colours are "
    "printed here. Go by the words and value steps, or by the colours on a screen."
)
FIRST_TEN: Final = mark(
    "If time is short, paint those with a dot: these ten cover most and are least sure."
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
    ranges = puddle_ranges(plan)
    puddles, glazes = _that_matter(plan, ranges, pairs[:MOST_PAIRS])
    some = len(puddles) + len(glazes) < len(plan.puddles) + len(pairs[:MOST_PAIRS])
    return page_of(
        [
            heading(1, tr("Test strips")),
            para(tr(PAPER)),
            para(tr(NO_REFERENCE)),
            para(tr(FIRST_TEN)) if some else "",
            *_puddles(plan, ranges, puddles if some else ()),
            *_glazes(plan, pairs, glazes if some else ()),
        ]
    )


def _that_matter(
    plan: Plan, ranges: FloatArray, pairs: Sequence[Pair]
) -> tuple[set[int], set[int]]:
    """Puddles and pairs, by their places, with the most area times doubt: ten in all.

    ranges: as of `puddle_ranges`. A pair is as unsure as its two puddles together.
    """
    doubt = np.ptp(ranges, axis=2).mean(axis=1)
    sheet = float(plan.cells.areas_mm2().sum())
    scores = [(-p.area_mm2 * float(doubt[q]), 0, q) for q, p in enumerate(plan.puddles)]
    scores += [
        (-pair.share * sheet * float(np.hypot(doubt[pair.under], doubt[pair.over])), 1, n)
        for n, pair in enumerate(pairs)
    ]
    first = sorted(scores)[:MOST_FIRST]
    return {i for _, kind, i in first if kind == 0}, {i for _, kind, i in first if kind == 1}


def _dot(matters: bool) -> str:
    """The mark of those to paint first."""
    return "#box(circle(radius: 1.3mm, fill: black)) " if matters else ""


def _two_up(units: Sequence[str]) -> list[str]:
    """Units in two columns, row by row, none of them cut."""
    rows = [(*units[i : i + 2], "")[:2] for i in range(0, len(units), 2)]
    return [kept_whole(both(left, right, "1fr, 1fr", "6mm"), "4.5mm") for left, right in rows]


# --- puddles ---------------------------------------------------------------------


def _puddles(plan: Plan, ranges: FloatArray, matters: Collection[int]) -> Iterable[str]:
    units = [
        _puddle(plan, puddle, span_words(unsure_steps(ranges[q, 0])), q in matters)
        for q, puddle in enumerate(plan.puddles)
    ]
    first, *rest = _two_up(units)
    told = para(
        tr(
            "Left the strongest stroke of each puddle, right the palest; one box where both read "
            "alike. Mix it stronger or weaker until the dry stroke reads as told; in "
            "brackets are the values between which nine of ten such strokes should dry."
        )
    )
    return [kept_whole(f"{heading(2, tr('Puddles'))}\n\n{told}\n\n{first}", "4.5mm"), *rest]


def _puddle(plan: Plan, puddle: Puddle, between: str, matters: bool) -> str:
    low = puddle.value_steps[0]
    rest = f" ({between})" if between != str(low) else ""
    ends = stroke_ends(puddle)
    boxes = [
        stacked([_box(BOX_MM), f"#par[{note(f'{value}{extra}, {colour}')}]"], "1.5mm")
        for (value, colour), extra in zip(ends, (rest, ""), strict=False)
    ]
    boxes += [""] * (2 - len(boxes))
    wide = f"{BOX_MM[0]:g}mm"
    drawn = beside(boxes, f"{wide}, {wide}", "4mm")
    under = f"#par[#text({NOTE_PT}pt)[{paint_words(plan, puddle)}]]"
    letter = stacked([letter_words(puddle), _dot(matters)], "2mm")
    return both(letter, stacked([drawn, under], "2mm"), "10mm, 1fr", "2mm")


def stroke_ends(puddle: Puddle) -> tuple[tuple[str, str], ...]:
    """Value and colour of a puddle's strongest and palest stroke; one where both read alike."""
    told = [
        (tr("value {number}", number=value), _colour(lab))
        for lab, value in zip(puddle.swatch, puddle.value_steps, strict=True)
    ]
    return tuple(dict.fromkeys(told))


def strength_words(puddle: Puddle, strength: float) -> str:
    """A puddle at a strength: "F pale", "F full"; its letter alone where it is laid at one."""
    weak, strong = puddle.strength_range
    if strong <= weak * (1.0 + SAME_STRENGTH):
        return puddle.name
    place = (strength - weak) / (strong - weak)
    if place < 1.0 / 3.0:
        return tr("{puddle} pale", puddle=puddle.name)
    if place > 2.0 / 3.0:
        return tr("{puddle} full", puddle=puddle.name)
    return tr("{puddle} middling", puddle=puddle.name)


def _named(plan: Plan, pair: Pair) -> tuple[str, str]:
    """The lower and the upper puddle of a pair with the strengths that they are laid at."""
    lower, upper = pair.strengths
    return (
        strength_words(plan.puddles[pair.under], lower),
        strength_words(plan.puddles[pair.over], upper),
    )


def _colour(lab: Iterable[float]) -> str:
    lightness, a, b = (float(v) for v in lab)
    return colour_words((lightness, a, b))


def _box(size: tuple[float, float], ticks: str = "") -> str:
    """An empty box to paint in, mm wide and high."""
    wide, high = size
    return f"#block(width: {wide:g}mm, height: {high:g}mm, stroke: {RULE})[{ticks}]"


# --- glazes ----------------------------------------------------------------------


def _glazes(plan: Plan, pairs: Sequence[Pair], matters: Collection[int]) -> list[str]:
    if not pairs:
        return []
    shown = pairs[:MOST_PAIRS]
    first, *rest = _two_up([_glaze(plan, pair, n in matters) for n, pair in enumerate(shown)])
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
    under, over = _named(plan, pair)
    wide, high = SMALL_MM
    box = _box(SMALL_MM, "".join(_mark(wide / 2.0, y) for y in (0.0, high - MARK_MM)))
    told = f"{tr('value {number}', number=pair.both.step)}, {_colour(pair.both.lab)}"
    name = tr("{upper} over {lower}", upper=over, lower=under)
    return stacked([box, f"#par[#text({NOTE_PT}pt)[{strong(name)} {note(told)}]]"], "1.2mm")


def _glaze(plan: Plan, pair: Pair, matters: bool) -> str:
    under, over = _named(plan, pair)
    both_told = tr("{upper} over {lower}", upper=over, lower=under)
    share = tr("on {share}", share=of_the_sheet(pair.share))
    title = f"{_dot(matters)}{strong(both_told)} {note(share)}"
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
