"""Supplies: paints with amounts and what could stand in for them, paper, brushes, kit, cautions."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from firstwash.errors import RequestError
from firstwash.handout.cautions import CAUTIONS, MASKING, UNMASKING, caution_lines
from firstwash.handout.table import handling_words
from firstwash.paints.catalogue import Paint
from firstwash.plan.board.amounts import BEADS, LOADS
from firstwash.plan.result import Plan
from firstwash.sheets.brushes import Brushes, Span, brushes_for
from firstwash.sheets.pages import (
    NOTE_PT,
    Pages,
    both,
    bullets,
    heading,
    kept_whole,
    note,
    page_of,
    painted_strip,
    para,
    soft,
    stacked,
    strong,
    table_of,
    upper,
)
from firstwash.sheets.replacements import Replacement, replacements
from firstwash.sheets.told import LIGHTFAST, listed, paint_strip

__all__ = ["Needed", "amounts_needed", "supplies_pages"]

MOST_STUDENTS: Final = 500
# All of these: common practice, no source.
TUBE_ML: Final = 5.0  # a small tube
PEA_ML: Final = dict(BEADS)["pea"]
LOAD_ML: Final = dict(LOADS)["medium brush"]
SPARE_EACH: Final = 6  # students for whom one spare sheet is kept
STRIPS_EACH: Final = 4  # students who share a sheet cut into test strips
STRIP_MM: Final = 7.5


@dataclass(frozen=True)
class Needed:
    """How much of one paint a painting takes.

    tube_ml: of tube paint, as counted in beads, margin included. pan_ml: the same as brush-loads
    pick it up from pans. puddles: letters of those it is in.
    """

    tube_ml: float
    pan_ml: float
    puddles: tuple[str, ...]

    @property
    def loads(self) -> int:
        """Loads of a medium brush from a pan."""
        return max(1, round(self.pan_ml / LOAD_ML))


def amounts_needed(plan: Plan) -> dict[int, Needed]:
    """What one painting takes of every paint that some puddle holds, by its number."""
    tubes: dict[int, float] = {}
    pans: dict[int, float] = {}
    letters: dict[int, list[str]] = {}
    for puddle in plan.puddles:
        for where, counted in ((tubes, puddle.amount.tubes), (pans, puddle.amount.pans)):
            each = counted.paint_ml / sum(counted.counts)
            for (p, _), n in zip(puddle.parts, counted.counts, strict=True):
                where[p] = where.get(p, 0.0) + n * each
        for p, _ in puddle.parts:
            letters.setdefault(p, []).append(puddle.name)
    return {p: Needed(tubes[p], pans[p], tuple(letters[p])) for p in sorted(tubes)}


def supplies_pages(plan: Plan, students: int = 1) -> Pages:
    """The list of supplies for one painter, or for a class.

    Raises RequestError for fewer than 1 or more than 500 students.
    """
    if not 1 <= students <= MOST_STUDENTS:
        raise RequestError(f"Tell a class of 1 to {MOST_STUDENTS} students.")
    for_all = f" What {students} students need together is told as well." * (students > 1)
    parts = [
        heading(1, "Supplies"),
        para(f"For one painting of {plan.sheet} in {plan.layers} layers.{for_all}"),
        _paints(plan, students),
        _paper(plan, students),
        _brushes(plan),
        _kit(plan, students),
        _lightfast(plan),
        _cautions(plan),
    ]
    return page_of(parts)


# --- paints ----------------------------------------------------------------------


def _paints(plan: Plan, students: int) -> str:
    found = replacements(plan)
    needed = amounts_needed(plan)
    blocks = [
        _paint(plan, plan.paints[p], own, found[plan.paints[p].key], students)
        for p, own in needed.items()
    ]
    first = para(
        "Amounts are half as much again as the sheet should take. Strips run from full strength "
        "to bare paper. What could stand in for a paint is told by its predicted colour; the plan "
        "is not worked out for it."
    )
    if not blocks:
        return heading(2, "Paints") + para("None: the whole sheet stays bare paper.")
    head = kept_whole(f"{heading(2, 'Paints')}\n\n{first}\n\n{blocks[0]}")
    return "\n".join([head, *(kept_whole(block) for block in blocks[1:])])


def _paint(
    plan: Plan, paint: Paint, needed: Needed, others: Sequence[Replacement], students: int
) -> str:
    index = f" {note(', '.join(paint.pigments))}" if paint.pigments else f" {note('no index name')}"
    name = f"#par[{strong(paint.name)}{index}]"
    handles = handling_words(paint)
    told = [
        name,
        para(f"{_amount(needed, students)}. {_used(needed)}."),
        f"#par[{note(f'Under the brush: {handles}.')}]" if handles else "",
        f"#par[{_instead(others)}]",
    ]
    strip = painted_strip(paint_strip(paint, plan.paper), STRIP_MM)
    return both(strip, stacked(told, "2.2mm"), "44mm, 1fr", "5mm")


def _amount(needed: Needed, students: int) -> str:
    """ "About 0.6 ml from a tube (3 peas), or 20 loads of a medium brush from a pan"."""
    peas = needed.tube_ml / PEA_ML
    size = f" ({_count(round(peas), 'pea')})" if peas >= 0.75 else " (less than a pea)"
    one = (
        f"{upper(_ml(needed.tube_ml))} from a tube{size}, or "
        f"{_count(needed.loads, 'load')} of a medium brush from a pan"
    )
    if students == 1:
        return one
    whole = students * needed.tube_ml
    tubes = ceil(whole / TUBE_ML - 1e-9)
    return f"{one}. For {students}: {_ml(whole)}, {_count(tubes, 'tube')} of {TUBE_ML:g} ml"


def _ml(ml: float) -> str:
    """Tube paint with the digits that matter: "about 0.04 ml", "about 2 ml"."""
    digits = 2 if ml < 0.095 else 1 if ml < 9.5 else 0
    return f"about {max(ml, 0.01):.{digits}f} ml"


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'s' * (n != 1)}"


def _used(needed: Needed) -> str:
    return f"In puddle{'s' * (len(needed.puddles) != 1)} {listed(needed.puddles)}"


def _instead(others: Sequence[Replacement]) -> str:
    """What could stand in for a paint, as markup in small type."""
    if not others:
        return note("Nothing common comes near it: do not replace it.")
    told = [_one_instead(other) for other in others]
    whole = '#"; or "'.join(told)
    return f"#text({NOTE_PT}pt)[Could stand in: {whole}.]"


def _one_instead(other: Replacement) -> str:
    pigments = f" #{soft(', '.join(other.paint.pigments))}" if other.paint.pigments else ""
    return f"{strong(other.paint.name)}{pigments}, #{soft(other.words)}"


# --- paper, brushes, kit ---------------------------------------------------------


def _paper(plan: Plan, students: int) -> str:
    sheet = plan.sheet
    spare, strips = ceil(students / SPARE_EACH), ceil(students / STRIPS_EACH)
    pounds = f"{sheet.weight_gsm:g} g/m²"
    items = [
        f"Watercolour paper, {sheet.surface}, {pounds}, {sheet}: "
        f"{_count(students, 'sheet')} and {spare} spare.",
        f"{_count(strips, 'more sheet')} of the same paper, cut into strips: test strokes on "
        "another paper dry to another colour.",
    ]
    return kept_whole(heading(2, "Paper") + bullets([f"#{soft(item)}" for item in items]))


def _brushes(plan: Plan) -> str:
    found = brushes_for(plan)
    if found is None:
        return ""
    told = bullets([f"#{soft(item)}" for item in _brush_items(*found)])
    span = found[1]
    narrow, wide = f"{span.narrow:.0f}", f"{span.wide:.0f}"
    width = f"{wide} mm" if narrow == wide else f"{narrow} mm, the narrowest, to {wide} mm"
    first = para(
        f"The passages of this plan are {width} wide. A brush about a third as wide has room to "
        "turn. Numbers on handles differ; go by the width of the mark."
    )
    return kept_whole(f"{heading(2, 'Brushes')}\n\n{first}\n\n{told}")


def _brush_items(brushes: Brushes, span: Span) -> list[str]:
    names = ("small", "large") if len(brushes.rounds) == 2 else ("", "medium", "large")
    items = []
    for i, mark in enumerate(brushes.rounds):
        size = names[i] if len(brushes.rounds) > 1 else "medium"
        items.append(f"A {size or 'small'} round with a good point, mark {mark:g} mm wide.")
    if brushes.flat is not None:
        items.append(f"A flat, {brushes.flat:g} mm wide, for passages up to {span.wide:.0f} mm.")
    if brushes.pointed is not None:
        items.append(
            f"A long pointed brush for the fine strokes, up to {brushes.pointed:.1f} mm wide."
        )
    return items


def _kit(plan: Plan, students: int) -> str:
    items = _kit_items(plan)
    if students == 1:
        rows = [[f"#{soft(what)}", f"#{soft(str(each))}"] for what, each, _ in items]
        told = table_of(("On the table", "Number"), "1fr, 24mm", rows)
        return kept_whole(f"{heading(2, 'Kit')}\n\n{told}")
    rows = [_kit_row(*item, students) for item in items]
    told = table_of(("On the table", "Each", f"For {students}"), "1fr, 34mm, 24mm", rows)
    return kept_whole(f"{heading(2, f'Kit for {students} students')}\n\n{told}")


def _kit_row(what: str, each: int, share: int, students: int) -> list[str]:
    needed = ceil(each * students / share)
    one = str(each) if share == 1 else f"1 for {share}"
    return [f"#{soft(what)}", f"#{soft(one)}", f"#{soft(str(needed))}"]


def _kit_items(plan: Plan) -> list[tuple[str, int, int]]:
    """What else stands on a table: its name, how many, and how many painters share one."""
    layers = range(1, plan.layers + 1)
    wells = max((len({w.puddle for w in plan.washes_of(n)}) for n in layers), default=0)
    items = [
        ("Palette wells, as many as one layer has puddles", max(wells, 1), 1),
        ("Water pots, one to rinse and one kept clean", 2, 1),
        ("Dropper, for the drops of water", 1, 1),
        ("Board, a little larger than the sheet", 1, 1),
        ("Paper tape, a roll, to hold the sheet flat", 1, 6),
        ("Soft pencil and kneaded eraser, one of each", 1, 1),
        ("Rag or kitchen paper, to blot the brush", 1, 1),
    ]
    if any(w.technique in ("wet-in-wet", "graded") for w in plan.washes):
        items.append(("Spray bottle or large soft brush, for clear water", 1, 3))
    if any(t.way == "masked" for t in plan.touches):
        items.append(("Masking fluid, and an old brush for nothing else", 1, 3))
    return items


# --- lasting and cautions --------------------------------------------------------


def _lightfast(plan: Plan) -> str:
    """How well the colours of this plan last: the lasting ones together, each other one alone."""
    used = [plan.paints[p] for p in amounts_needed(plan)]
    by: dict[str, list[Paint]] = {}
    for paint in used:
        by.setdefault(paint.handling.lightfast or "", []).append(paint)
    items = [_lasts(words, by[c]) for c, words in LIGHTFAST.items() if c in by]
    if "" in by:
        names = listed([p.name for p in by[""]])
        items.append(f"{upper(names)}: nothing published was found; hang a test stroke in a window "
                     "with half of it covered, and look again after a month.")  # fmt: skip
    items += [f"{upper(p.name)}: {p.handling.lightfast_note}." for p in used if
              p.handling.lightfast_note]  # fmt: skip
    if not items:
        return ""
    told = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, 'How well the colours last')}\n\n{told}")


def _lasts(words: str, paints: Sequence[Paint]) -> str:
    category = paints[0].handling.lightfast
    verb = words if len(paints) == 1 else _many(words)
    return f"{upper(listed([p.name for p in paints]))} {verb} (category {category})."


def _many(words: str) -> str:
    """What one paint does, said of several: "keeps its colour well" to "keep their colour"."""
    verb, _, rest = words.partition(" ")
    return f"{verb.removesuffix('s')} {rest.replace('its', 'their')}".strip()


def _cautions(plan: Plan) -> str:
    used = [plan.paints[p] for p in amounts_needed(plan)]
    items = [f"{upper(line)}." for line in caution_lines(used)]
    if any(t.way == "masked" for t in plan.touches):
        items += [MASKING, UNMASKING]
    told = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, 'Cautions')}\n\n{para(CAUTIONS)}\n\n{told}")
