"""Which first wash to lay where the painter touched: told for choosing, in a form edits take."""

from collections.abc import Iterator
from dataclasses import dataclass

from firstwash.advice.first_on_plan import first_washes_for
from firstwash.advice.first_washes import FirstWash, FirstWashAdvice
from firstwash.advice.first_words import (
    rule_words,
    strip_hex,
    verdict_words,
    wash_details,
    wash_points,
)
from firstwash.light.split import LightSplit
from firstwash.picture.reference import Reference
from firstwash.plan.puddles import TINT_SHARE
from firstwash.plan.result import Plan
from firstwash.worksheet.spot import cell_at, washes_over
from firstwash.worksheet.words import Numbers, hex_of

__all__ = ["FirstChoice", "FirstChoices", "first_choices"]

MOST = 6  # candidates told; the rest only repeat what is worse


@dataclass(frozen=True)
class FirstChoice:
    """One first wash for the area.

    name, points, rules: what it is, what it does and costs, which rules of thumb it breaks and
    what that gains. hex: "#rrggbb" when dry. strip: "#rrggbb" of the predicted stages, rows for
    the area's light, middle and dark, bare paper first. either: practically as good as the
    best; planned: the plan's own. mixture, strength: what `/swap` takes, None where it cannot
    be laid in place of the plan's.
    """

    name: str
    points: tuple[str, ...]
    rules: tuple[str, ...]
    hex: str
    strip: tuple[tuple[str, ...], ...]
    either: bool
    planned: bool
    mixture: dict[str, float] | str | None
    strength: float | None
    numbers: Numbers


@dataclass(frozen=True)
class FirstChoices:
    """First washes for the area touched, best first.

    verdict: in a sentence or two. layer, number: the plan's first wash there, None for bare paper.
    """

    verdict: str
    number: int | None
    choices: tuple[FirstChoice, ...]


def first_choices(
    plan: Plan, x_mm: float, y_mm: float, reference: Reference, light: LightSplit | None
) -> FirstChoices:
    """First washes for the shape at a place of the sheet.

    Raises RequestError for a place off the sheet.
    """
    cell = cell_at(plan, x_mm, y_mm)
    advice = first_washes_for(plan, int(plan.cells.shape_of[cell]), reference, light)
    own = next((w for w in washes_over(plan, cell) if w.layer == 1), None)
    swappable = own is not None and own.kind != "graded wash"
    best = advice.washes[:MOST]
    planned = [w for w in advice.washes[MOST:] if "plan" in w.judged.origins]
    return FirstChoices(
        verdict=verdict_words(advice),
        number=None if own is None else own.number,
        choices=tuple(_choice(plan, w, advice, swappable) for w in (*best, *planned)),
    )


def _choice(plan: Plan, wash: FirstWash, advice: FirstWashAdvice, swappable: bool) -> FirstChoice:
    judged = wash.judged
    planned = "plan" in judged.origins
    name, points = wash_points(wash, advice)
    broken, told = len(wash.broken), rule_words(wash)
    mixture = _mixture(plan, wash) if swappable and not planned else None
    return FirstChoice(
        name=name,
        points=points,
        rules=tuple(told[:broken]),
        hex=hex_of(judged.lab),
        strip=strip_hex(judged.strip),
        either=wash.either,
        planned=planned,
        mixture=mixture,
        strength=None if mixture is None else min(judged.strength, 1.0),
        numbers=tuple(_figures(told[broken:], wash_details(wash, advice))),
    )


def _figures(kept: list[str], details: list[str]) -> Iterator[tuple[str, str]]:
    """The rules it keeps, and each figure with what it is of."""
    for line in kept:
        yield "rules of thumb", line
    for line in details:
        what, colon, value = line.partition(": ")
        yield (what, value) if colon else ("toll" if line.startswith("Toll") else "error", line)


def _mixture(plan: Plan, wash: FirstWash) -> dict[str, float] | str | None:
    """A puddle's letter, or shares of its paints by key; None where a hand could not mix it."""
    judged = wash.judged
    if judged.is_bare or "graded" in judged.origins:
        return None
    if judged.tint.puddle is not None:
        return plan.puddles[judged.tint.puddle].name
    loads = {paint.key: amount / paint.full_coat for paint, amount in judged.parts}
    whole = sum(loads.values())
    shares = {key: load / whole for key, load in loads.items()}
    return shares if min(shares.values()) >= TINT_SHARE else None
