"""Supplies: paints with amounts and what could stand in for them, paper, brushes, kit, cautions."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from firstwash.errors import RequestError
from firstwash.handout.table import handling_words
from firstwash.language import listed, tr, tr_count
from firstwash.paints.catalogue import Paint
from firstwash.plan.board.amounts import BEADS, LOADS
from firstwash.plan.result import Plan
from firstwash.sheets.kit import brushes_needed, kit_needed, paper_needed
from firstwash.sheets.lasting import cautions, lasting
from firstwash.sheets.pages import (
    NOTE_PT,
    Pages,
    both,
    heading,
    kept_whole,
    note,
    page_of,
    painted_strip,
    para,
    soft,
    stacked,
    strong,
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
    used = [plan.paints[p] for p in amounts_needed(plan)]
    parts = [
        heading(1, tr("Supplies")),
        para(_for_whom(plan, students)),
        _paints(plan, students),
        paper_needed(plan, students),
        brushes_needed(plan),
        kit_needed(plan, students),
        lasting(used),
        cautions(plan, used),
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
