"""Other mixtures for a wash, told for choosing, in a form that an edit of the plan takes."""

from dataclasses import dataclass

import numpy as np

from firstwash.errors import RequestError
from firstwash.handout.reasons import alternative_details, alternative_words
from firstwash.plan.alternatives import Alternative, alternatives
from firstwash.plan.edits import change_strength, replace_puddle
from firstwash.plan.locks import NO_LOCKS, Locks, find_wash
from firstwash.plan.puddles import TINT_SHARE
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.worksheet.parts import Part, recipe_words, whole_shares
from firstwash.worksheet.words import Colour, Numbers, colour_of, hex_of

__all__ = ["OtherMixture", "alternatives_at", "largest_cell", "stronger_end", "with_mixture"]

SPARE = 3  # mixtures looked at beyond those told, for some cannot be measured by hand


@dataclass(frozen=True)
class OtherMixture:
    """Another mixture for a wash.

    parts: what `edits.replace_puddle` takes, by key, or a puddle's letter; strength: what
    `edits.change_strength` takes after it. paints: the same for reading. stroke: "#rrggbb" of its
    test stroke, step: value step of that. end: colour at the spot when all is painted, before:
    what the plan shows there. words: what it gains and loses.
    """

    parts: dict[str, float] | str
    strength: float
    paints: tuple[Part, ...]
    parts_words: str
    puddle: str | None
    stroke: str
    step: int
    end: Colour
    before: Colour
    words: str
    numbers: Numbers


def stronger_end(wash: Wash) -> float:
    """The strength that edits go by: of a graded wash, at its stronger end."""
    return max(wash.strength, wash.end_strength or 0.0)


def largest_cell(plan: Plan, wash: Wash) -> int:
    """The cell of a wash that covers most."""
    cells = np.array(wash.cells)
    return int(cells[np.argmax(plan.cells.areas_mm2()[cells])])


def alternatives_at(
    plan: Plan, layer: int, number: int, most: int = 5, cell: int | None = None
) -> tuple[OtherMixture, ...]:
    """Up to `most` other mixtures from the palette for a wash, the nearest first.

    cell: where the end is told, one of the wash's own; its largest if left out.
    Raises RequestError where there is no such wash, or the cell is not one of its own.
    """
    wash = find_wash(plan, (layer, number))
    where = largest_cell(plan, wash) if cell is None else cell
    if where not in wash.cells:
        raise RequestError(f"Wash {layer}.{number} does not lie there; touch one of its areas.")
    found = alternatives(plan, wash, most + SPARE)
    told = [m for one in found if (m := _mixture(plan, wash, one, where)) is not None]
    return tuple(told[:most])


def _mixture(plan: Plan, wash: Wash, one: Alternative, cell: int) -> OtherMixture | None:
    """None where a part is too small to be measured by hand."""
    loads = [amount / paint.full_coat for paint, amount in one.parts]
    shares = [load / sum(loads) for load in loads]
    if one.puddle is None and min(shares) < TINT_SHARE:
        return None
    letter = None if one.puddle is None else plan.puddles[one.puddle].name
    paints = whole_shares([(p, s) for (p, _), s in zip(one.parts, shares, strict=True)])
    parts = {p.key: s for (p, _), s in zip(one.parts, shares, strict=True)}
    row = wash.cells.index(cell)
    return OtherMixture(
        parts=parts if letter is None else letter,
        strength=min(one.strength * stronger_end(wash) / wash.strength, 1.0),
        paints=paints,
        parts_words=recipe_words(paints),
        puddle=letter,
        stroke=hex_of(one.stroke),
        step=one.value_step,
        end=colour_of(one.finals[row]),
        before=colour_of(plan.stage_labs[-1, cell]),
        words=alternative_words(one, plan),
        numbers=(("all of it", alternative_details(one)),),
    )


def with_mixture(
    plan: Plan, layer: int, number: int, other: OtherMixture, locks: Locks = NO_LOCKS
) -> Plan:
    """The plan with a wash laid out of another mixture, as strong as that asks.

    Raises RequestError for what is locked, or what would lighten the sheet.
    """
    wash = find_wash(plan, (layer, number))
    after = replace_puddle(plan, (layer, number), other.parts, locks)
    now = next(w for w in after.washes if w.layer == layer and wash.cells[0] in w.cells)
    return change_strength(after, (layer, now.number), other.strength, locks)
