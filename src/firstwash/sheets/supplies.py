"""Supplies: paints with amounts and what could stand in for them, paper, brushes, kit, cautions."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from firstwash.errors import RequestError
from firstwash.handout.cautions import CAUTIONS, MASKING, UNMASKING, caution_lines
from firstwash.handout.table import handling_words
from firstwash.language import listed, tr, tr_count
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
from firstwash.sheets.told import paint_strip
from firstwash.sheets.typeset import lit

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
    parts = [
        heading(1, tr("Supplies")),
        para(_for_whom(plan, students)),
        _paints(plan, students),
        _paper(plan, students),
        _brushes(plan),
        _kit(plan, students),
        _lightfast(plan),
        _cautions(plan),
    ]
    return page_of(parts)


def _for_whom(plan: Plan, students: int) -> str:
    told = tr_count(
        "For one painting of {sheet} in {count} layer.",
        "For one painting of {sheet} in {count} layers.",
        plan.layers,
        sheet=plan.sheet,
    )
    if students == 1:
        return told
    for_all = tr_count(
        "What {count} student needs is told as well.",
        "What {count} students need together is told as well.",
        students,
    )
    return f"{told} {for_all}"


# --- paints ----------------------------------------------------------------------


def _paints(plan: Plan, students: int) -> str:
    found = replacements(plan)
    needed = amounts_needed(plan)
    blocks = [
        _paint(plan, plan.paints[p], own, found[plan.paints[p].key], students)
        for p, own in needed.items()
    ]
    first = para(
        tr(
            "Amounts are half as much again as the sheet should take. Strips run from full "
            "strength to bare paper. What could stand in for a paint is told by its predicted "
            "colour; the plan is not worked out for it."
        )
    )
    if not blocks:
        return heading(2, tr("Paints")) + para(tr("None: the whole sheet stays bare paper."))
    head = kept_whole(f"{heading(2, tr('Paints'))}\n\n{first}\n\n{blocks[0]}")
    return "\n".join([head, *(kept_whole(block) for block in blocks[1:])])


def _paint(
    plan: Plan, paint: Paint, needed: Needed, others: Sequence[Replacement], students: int
) -> str:
    index = (
        f" {note(', '.join(paint.pigments))}" if paint.pigments else f" {note(tr('no index name'))}"
    )
    name = f"#par[{strong(paint.name)}{index}]"
    handles = handling_words(paint)
    told = [
        name,
        para(f"{_amount(needed, students)} {_used(needed)}"),
        f"#par[{note(tr('Under the brush: {words}.', words=handles))}]" if handles else "",
        f"#par[{_instead(others)}]",
    ]
    strip = painted_strip(paint_strip(paint, plan.paper), STRIP_MM)
    return both(strip, stacked(told, "2.2mm"), "44mm, 1fr", "5mm")


def _amount(needed: Needed, students: int) -> str:
    """ "About 0.6 ml from a tube (3 peas), or 20 loads of a medium brush from a pan"."""
    peas = needed.tube_ml / PEA_ML
    many = peas >= 0.75
    size = tr_count("{count} pea", "{count} peas", round(peas)) if many else tr("less than a pea")
    one = tr_count(
        "{amount} from a tube ({size}), or {count} load of a medium brush from a pan.",
        "{amount} from a tube ({size}), or {count} loads of a medium brush from a pan.",
        needed.loads,
        amount=_ml(needed.tube_ml),
        size=size,
    )
    if students == 1:
        return upper(one)
    whole = students * needed.tube_ml
    for_all = tr_count(
        "For {students}: {amount}, {count} tube of {size} ml.",
        "For {students}: {amount}, {count} tubes of {size} ml.",
        ceil(whole / TUBE_ML - 1e-9),
        students=students,
        amount=_ml(whole),
        size=f"{TUBE_ML:g}",
    )
    return f"{upper(one)} {for_all}"


def _ml(ml: float) -> str:
    """Tube paint with the digits that matter: "about 0.04 ml", "about 2 ml"."""
    digits = 2 if ml < 0.095 else 1 if ml < 9.5 else 0
    return tr("about {amount} ml", amount=f"{max(ml, 0.01):.{digits}f}")


def _used(needed: Needed) -> str:
    return tr_count(
        "In puddle {letters}.",
        "In puddles {letters}.",
        len(needed.puddles),
        letters=listed(needed.puddles),
    )


def _instead(others: Sequence[Replacement]) -> str:
    """What could stand in for a paint, as markup in small type."""
    if not others:
        return note(tr("Nothing common comes near it: do not replace it."))
    told = [_one_instead(other) for other in others]
    between = lit(f"; {tr('or')}")[:-1] + ' "'  # `lit` keeps no white space at an end
    whole = f"#{between}".join(told)
    return f"#text({NOTE_PT}pt)[#{lit(tr('Could stand in:'))} {whole}.]"


def _one_instead(other: Replacement) -> str:
    pigments = f" #{soft(', '.join(other.paint.pigments))}" if other.paint.pigments else ""
    return f"{strong(other.paint.name)}{pigments}, #{soft(other.words)}"


# --- paper, brushes, kit ---------------------------------------------------------


def _paper(plan: Plan, students: int) -> str:
    sheet = plan.sheet
    spare, strips = ceil(students / SPARE_EACH), ceil(students / STRIPS_EACH)
    items = [
        tr_count(
            "Watercolour paper, {surface}, {weight} g/m², for a picture of {sheet}: {count} sheet "
            "and {spare} spare.",
            "Watercolour paper, {surface}, {weight} g/m², for a picture of {sheet}: {count} sheets "
            "and {spare} spare.",
            students,
            surface=tr(sheet.surface),
            weight=f"{sheet.weight_gsm:g}",
            sheet=sheet,
            spare=spare,
        ),
        tr_count(
            "{count} more sheet of the same paper, cut into strips: test strokes on another paper "
            "dry to another colour.",
            "{count} more sheets of the same paper, cut into strips: test strokes on another paper "
            "dry to another colour.",
            strips,
        ),
        # Common practice, no source.
        tr("Cut them three centimetres larger each way: the tape needs a margin that stays bare."),
    ]
    return kept_whole(heading(2, tr("Paper")) + bullets([f"#{soft(item)}" for item in items]))


def _brushes(plan: Plan) -> str:
    found = brushes_for(plan)
    if found is None:
        return ""
    told = bullets([f"#{soft(item)}" for item in _brush_items(*found)])
    span = found[1]
    narrow, wide = f"{span.narrow:.0f}", f"{span.wide:.0f}"
    if narrow == wide:
        width = f"{wide} mm"
    else:
        width = tr("{narrow} mm, the narrowest, to {wide} mm", narrow=narrow, wide=wide)
    first = para(
        tr(
            "The passages of this plan are {width} wide. A brush about a third as wide has room to "
            "turn. Numbers on handles differ; go by the width of the mark.",
            width=width,
        )
    )
    return kept_whole(f"{heading(2, tr('Brushes'))}\n\n{first}\n\n{told}")


def _brush_items(brushes: Brushes, span: Span) -> list[str]:
    items = [_round_words(i, brushes.rounds) for i in range(len(brushes.rounds))]
    if brushes.flat is not None:
        items.append(
            tr(
                "A flat, {flat} mm wide, for passages up to {wide} mm.",
                flat=f"{brushes.flat:g}",
                wide=f"{span.wide:.0f}",
            )
        )
    if brushes.pointed is not None:
        width = f"{brushes.pointed:.1f}"
        items.append(
            tr("A long pointed brush for the fine strokes, up to {width} mm wide.", width=width)
        )
    return items


def _round_words(place: int, rounds: Sequence[float]) -> str:
    """One of the round brushes, from the smallest to the largest."""
    mark = f"{rounds[place]:g}"
    if len(rounds) > 1 and place == 0:
        return tr("A small round with a good point, mark {mark} mm wide.", mark=mark)
    if len(rounds) > 1 and place == len(rounds) - 1:
        return tr("A large round with a good point, mark {mark} mm wide.", mark=mark)
    return tr("A medium round with a good point, mark {mark} mm wide.", mark=mark)


def _kit(plan: Plan, students: int) -> str:
    items = _kit_items(plan)
    if students == 1:
        rows = [[f"#{soft(what)}", f"#{soft(str(each))}"] for what, each, _ in items]
        told = table_of((tr("On the table"), tr("Number")), "1fr, 24mm", rows)
        return kept_whole(f"{heading(2, tr('Kit'))}\n\n{told}")
    rows = [_kit_row(*item, students) for item in items]
    heads = (tr("On the table"), tr("Each"), tr("For {students}", students=students))
    told = table_of(heads, "1fr, 34mm, 24mm", rows)
    title = tr_count("Kit for {count} student", "Kit for {count} students", students)
    return kept_whole(f"{heading(2, title)}\n\n{told}")


def _kit_row(what: str, each: int, share: int, students: int) -> list[str]:
    needed = ceil(each * students / share)
    one = str(each) if share == 1 else tr("1 for {share}", share=share)
    return [f"#{soft(what)}", f"#{soft(one)}", f"#{soft(str(needed))}"]


def _kit_items(plan: Plan) -> list[tuple[str, int, int]]:
    """What else stands on a table: its name, how many, and how many painters share one."""
    layers = range(1, plan.layers + 1)
    wells = max((len({w.puddle for w in plan.washes_of(n)}) for n in layers), default=0)
    items = [
        (tr("Palette wells, as many as one layer has puddles"), max(wells, 1), 1),
        (tr("Water pots, one to rinse and one kept clean"), 2, 1),
        (tr("Dropper, for the drops of water"), 1, 1),
        (tr("Board, a little larger than the sheet"), 1, 1),
        (tr("Paper tape, a roll, to hold the sheet flat"), 1, 6),
        (tr("Soft pencil and kneaded eraser, one of each"), 1, 1),
        (tr("Rag or kitchen paper, to blot the brush"), 1, 1),
    ]
    if any(w.technique in ("wet-in-wet", "graded") for w in plan.washes):
        items.append((tr("Spray bottle or large soft brush, for clear water"), 1, 3))
    if any(t.way == "masked" for t in plan.touches):
        items.append((tr("Masking fluid, and an old brush for nothing else"), 1, 3))
    return items


# --- lasting and cautions --------------------------------------------------------


def _lightfast(plan: Plan) -> str:
    """How well the colours of this plan last: the lasting ones together, each other one alone."""
    used = [plan.paints[p] for p in amounts_needed(plan)]
    by: dict[str, list[Paint]] = {}
    for paint in used:
        by.setdefault(paint.handling.lightfast or "", []).append(paint)
    items = [_lasts(words, by[c]) for c, words in LASTS.items() if c in by]
    if "" in by:
        told = tr(
            "{paints}: nothing published was found; hang a test stroke in a window with half of it "
            "covered, and look again after a month.",
            paints=listed([p.name for p in by[""]]),
        )
        items.append(upper(told))
    items += [
        upper(tr("{paint}: {note}.", paint=p.name, note=tr(p.handling.lightfast_note)))
        for p in used
        if p.handling.lightfast_note
    ]
    if not items:
        return ""
    shown = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, tr('How well the colours last'))}\n\n{shown}")


def _lasts(words: Callable[[int, str], str], paints: Sequence[Paint]) -> str:
    return upper(words(len(paints), listed([p.name for p in paints])))


def _very_well(count: int, paints: str) -> str:
    return tr_count(
        "{paints} keeps its colour very well (category I).",
        "{paints} keep their colour very well (category I).",
        count,
        paints=paints,
    )


def _well(count: int, paints: str) -> str:
    return tr_count(
        "{paints} keeps its colour well (category II).",
        "{paints} keep their colour well (category II).",
        count,
        paints=paints,
    )


def _in_time(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades in time (category III).",
        "{paints} fade in time (category III).",
        count,
        paints=paints,
    )


def _fades(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades (category IV).", "{paints} fade (category IV).", count, paints=paints
    )


def _fast(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades fast (category V).",
        "{paints} fade fast (category V).",
        count,
        paints=paints,
    )


# By category of [ASTMD4303].
LASTS: Final = {"I": _very_well, "II": _well, "III": _in_time, "IV": _fades, "V": _fast}


def _cautions(plan: Plan) -> str:
    used = [plan.paints[p] for p in amounts_needed(plan)]
    items = [f"{upper(line)}." for line in caution_lines(used)]
    if any(t.way == "masked" for t in plan.touches):
        items += [tr(MASKING), tr(UNMASKING)]
    told = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, tr('Cautions'))}\n\n{para(tr(CAUTIONS))}\n\n{told}")
