"""What commonly goes wrong with the paints and techniques of one layer, and what to do.

Nothing is told that this layer's own paints and washes do not give reason for.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.handout.words import puddles_words
from firstwash.language import listed, mark, tr, tr_count
from firstwash.paints.catalogue import Handling, Paint
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.sheets.pages import upper
from firstwash.sheets.told import HABITS, chief_paints

__all__ = ["Mistake", "mistakes_of"]

TECHNIQUE_NAMES: Final = {
    "wet-on-dry": mark("Streaks"),
    "graded": mark("A step in the fade"),
    "wet-in-wet": mark("Backruns"),
    "glaze": mark("Paint stirred up"),
    "dry-brush": mark("Grain filled up"),
    "touch": mark("A stroke too many"),
}
WET: Final = ("wet-in-wet", "graded", "wet-on-dry", "glaze", "dry-brush", "touch")
Advice = Callable[[int, str], str]
"""A sentence about so many paints, which are named with their puddles."""


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
            name, habit = tr(TECHNIQUE_NAMES[technique]), tr(HABITS[technique])
            yield Mistake(name, f"{upper(puddles_words(letters))}: {_lower(habit)}")


def _by_paint(plan: Plan, washes: Sequence[Wash], layer: int) -> Iterable[Mistake]:
    here = _letters_by_paint(plan, {w.puddle for w in washes})
    under = _letters_by_paint(plan, _under(plan, washes))
    traces = _traces(plan, {w.puddle for w in washes})
    later = here if layer < plan.layers else {}
    rules: tuple[tuple[str, Callable[[Handling], bool], Advice, dict[Paint, list[str]]], ...] = (
        (tr("Granulation"), _granulates, _on_grain, here),
        (tr("Staining"), _stains, _on_stains, here),
        (tr("Lifting below"), _lifts, _on_lifting_below, under),
        (tr("Lifting"), _lifts, _on_lifting, later),
        (tr("Chalkiness"), _covers, _on_chalk, here),
        (tr("Too strong"), _strong, _on_strength, traces),
        (tr("Drying paler"), _shifts, _on_drying, here),
    )
    for name, holds, advice, paints in rules:
        own = {paint: letters for paint, letters in paints.items() if holds(paint.handling)}
        if own:
            where = listed([f"{p.name} ({puddles_words(letters)})" for p, letters in own.items()])
            yield Mistake(name, upper(advice(len(own), where)))


# --- advice on one paint or several: common practice, no source ---------------------


def _on_grain(count: int, paints: str) -> str:
    return tr_count(
        "{paints} grains: lay it once and leave it, for brushing again breaks the grain.",
        "{paints} grain: lay them once and leave them, for brushing again breaks the grain.",
        count,
        paints=paints,
    )


def _on_stains(count: int, paints: str) -> str:
    return tr_count(
        "{paints} stains: go round the lights with care, for it will not lift.",
        "{paints} stain: go round the lights with care, for they will not lift.",
        count,
        paints=paints,
    )


def _on_lifting_below(count: int, paints: str) -> str:
    return tr_count(
        "{paints} lifts: go over it once with a soft full brush, for scrubbing stirs it up.",
        "{paints} lift: go over them once with a soft full brush, for scrubbing stirs them up.",
        count,
        paints=paints,
    )


def _on_lifting(count: int, paints: str) -> str:
    return tr_count(
        "{paints} lifts easily: a slip can be taken out with a clean damp brush, but the next "
        "layer must go over it in one stroke.",
        "{paints} lift easily: a slip can be taken out with a clean damp brush, but the next "
        "layer must go over them in one stroke.",
        count,
        paints=paints,
    )


def _on_chalk(count: int, paints: str) -> str:
    return tr_count(
        "{paints} is not transparent: keep it thin, or it turns chalky and hides what is below.",
        "{paints} are not transparent: keep them thin, or they turn chalky and hide what is below.",
        count,
        paints=paints,
    )


def _on_strength(count: int, paints: str) -> str:
    return tr_count(
        "{paints} is very strong: add it last and a touch at a time, for too much takes the whole "
        "puddle over.",
        "{paints} are very strong: add them last and a touch at a time, for too much takes the "
        "whole puddle over.",
        count,
        paints=paints,
    )


def _on_drying(count: int, paints: str) -> str:
    return tr_count(
        "{paints} dries much paler than it looks wet: go by a dry test stroke, not by the wet "
        "paint.",
        "{paints} dry much paler than they look wet: go by a dry test stroke, not by the wet "
        "paint.",
        count,
        paints=paints,
    )


# --- where ---------------------------------------------------------------------------


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
