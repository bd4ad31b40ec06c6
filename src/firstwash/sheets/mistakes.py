"""What commonly goes wrong with the paints and techniques of one layer, and what to do.

Nothing is told that this layer's own paints and washes do not give reason for.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.paints.catalogue import Handling, Paint
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.sheets.pages import upper
from firstwash.sheets.told import COVERS, GRAINS, HABITS, LIFTS, STAINS, chief_paints, listed

__all__ = ["Mistake", "mistakes_of"]

# Advice of our own: common practice, no source.
CAN_LIFT = (
    "lifts easily: a slip can be taken out with a clean damp brush, but the next layer must go "
    "over it in one stroke"
)
STRONG = (
    "is very strong: add it last and a touch at a time, for too much takes the whole puddle over"
)
SHIFTS = "dries much paler than it looks wet: go by a dry test stroke, not by the wet paint"
# What "it" is of one paint, "they" are of several.
MANY: Final = (
    ("it will", "they will"),
    ("lay it once and leave it", "lay them once and leave them"),
    ("over it", "over them"),
    ("stirs it", "stirs them"),
    ("keep it thin, or it turns chalky and hides", "keep them thin, or they turn chalky and hide"),
    ("add it last", "add them last"),
    ("than it looks", "than they look"),
)
TECHNIQUE_NAMES: Final = {
    "wet-on-dry": "Streaks",
    "graded": "A step in the fade",
    "wet-in-wet": "Backruns",
    "glaze": "Paint stirred up",
    "dry-brush": "Grain filled up",
    "touch": "A stroke too many",
}
WET: Final = ("wet-in-wet", "graded", "wet-on-dry", "glaze", "dry-brush", "touch")


@dataclass(frozen=True)
class Mistake:
    """One thing that goes wrong. name: of it; advice: where it is met and what to do."""

    name: str
    advice: str


def mistakes_of(plan: Plan, layer: int) -> tuple[Mistake, ...]:
    """The usual mistakes of one layer, by its techniques first, then by its paints."""
    washes = plan.washes_of(layer)
    return (*_by_technique(plan, washes), *_by_paint(plan, washes, layer))


def _by_technique(plan: Plan, washes: Sequence[Wash]) -> Iterable[Mistake]:
    for technique in WET:
        own = [w for w in washes if w.technique == technique]
        if own:
            letters = [plan.puddles[q].name for q in sorted({w.puddle for w in own})]
            name = TECHNIQUE_NAMES[technique]
            yield Mistake(name, f"{upper(_puddles(letters))}: {_lower(HABITS[technique])}")


def _puddles(letters: Sequence[str]) -> str:
    return f"puddle{'s' * (len(letters) != 1)} {listed(letters)}"


def _by_paint(plan: Plan, washes: Sequence[Wash], layer: int) -> Iterable[Mistake]:
    here = _letters_by_paint(plan, {w.puddle for w in washes})
    under = _letters_by_paint(plan, _under(plan, washes))
    later = layer < plan.layers
    rules: tuple[tuple[str, Callable[[Handling], bool], str, dict[Paint, list[str]]], ...] = (
        ("Granulation", _granulates, GRAINS, here),
        ("Staining", _stains, STAINS, here),
        ("Lifting below", _lifts, LIFTS, under),
        ("Lifting", _lifts, CAN_LIFT, here if later else {}),
        ("Chalkiness", _covers, COVERS, here),
        ("Too strong", _strong, STRONG, _traces(plan, {w.puddle for w in washes})),
        ("Drying paler", _shifts, SHIFTS, here),
    )
    for name, holds, words, paints in rules:
        own = {paint: letters for paint, letters in paints.items() if holds(paint.handling)}
        if own:
            does, _, advice = words.partition(": ")
            where = listed([f"{p.name} ({_puddles(letters)})" for p, letters in own.items()])
            told = f"{upper(where)} {_plural(does, len(own))}: {_it(advice, len(own))}."
            yield Mistake(name, told)


def _plural(does: str, paints: int) -> str:
    """The verb for one paint or several: "grains" or "grain"."""
    if paints == 1:
        return does
    verb, _, rest = _it(does, paints).partition(" ")
    other = {"is": "are", "dries": "dry"}.get(verb, verb.removesuffix("s"))
    return f"{other} {rest}".strip()


def _it(advice: str, paints: int) -> str:
    """Advice on one paint, or on several."""
    if paints == 1:
        return advice
    for one, many in MANY:
        advice = advice.replace(one, many)
    return advice


def _lower(sentence: str) -> str:
    return f"{sentence[:1].lower()}{sentence[1:]}"


def _letters_by_paint(plan: Plan, puddles: Iterable[int]) -> dict[Paint, list[str]]:
    """Chief paints of some puddles, each with the letters of those it is in."""
    found: dict[Paint, list[str]] = {}
    for q in sorted(puddles):
        for paint in chief_paints(plan, q):
            found.setdefault(paint, []).append(plan.puddles[q].name)
    return found


def _traces(plan: Plan, puddles: Iterable[int]) -> dict[Paint, list[str]]:
    """Every paint that is mixed with others in some puddles, with their letters."""
    found: dict[Paint, list[str]] = {}
    for q in sorted(puddles):
        parts = plan.puddles[q].parts if len(plan.puddles[q].parts) > 1 else ()
        for p, _ in parts:
            found.setdefault(plan.paints[p], []).append(plan.puddles[q].name)
    return found


def _under(plan: Plan, washes: Sequence[Wash]) -> set[int]:
    """Puddles that these washes are laid over."""
    return {
        q
        for wash in washes
        for cell in wash.cells
        for layer, q, _ in plan.coats[cell]
        if layer < wash.layer
    }


def _granulates(h: Handling) -> bool:
    return h.granulation is not None and h.granulation >= 2


def _stains(h: Handling) -> bool:
    return h.staining is not None and h.staining >= 3


def _lifts(h: Handling) -> bool:
    return h.staining is not None and h.staining <= 1


def _covers(h: Handling) -> bool:
    return h.transparency is not None and h.transparency <= 1


def _strong(h: Handling) -> bool:
    return h.tinting is not None and h.tinting >= 4


def _shifts(h: Handling) -> bool:
    return (h.drying_shift or "").startswith("large")
