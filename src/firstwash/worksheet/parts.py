"""What a puddle is mixed of, for reading: whole parts of each paint."""

from collections.abc import Sequence
from dataclasses import dataclass

from firstwash.handout.words import proportions
from firstwash.paints.catalogue import Paint
from firstwash.plan.board.amounts import whole_parts
from firstwash.plan.result import Plan

__all__ = ["Part", "parts_of", "recipe_words", "whole_shares"]


@dataclass(frozen=True)
class Part:
    """One paint in a puddle. parts: whole parts at its own full strength; share: of them, 0-1."""

    key: str
    name: str
    parts: int
    share: float


def parts_of(plan: Plan, q: int) -> tuple[Part, ...]:
    """The paints of one puddle of a plan, in the order of its recipe."""
    whole = proportions(plan.puddles[q])
    total = sum(n for _, n in whole)
    return tuple(Part(plan.paints[p].key, plan.paints[p].name, n, n / total) for p, n in whole)


def whole_shares(shares: Sequence[tuple[Paint, float]]) -> tuple[Part, ...]:
    """Paints by share of the puddle (each above 0, in full coats) as whole parts."""
    whole = whole_parts([s for _, s in shares])
    total = sum(whole)
    return tuple(Part(p.key, p.name, n, n / total) for (p, _), n in zip(shares, whole, strict=True))


def recipe_words(parts: Sequence[Part]) -> str:
    """The recipe: "7 parts burnt sienna, 3 parts ultramarine blue", or one paint's name alone."""
    if len(parts) == 1:
        return parts[0].name
    return ", ".join(f"{p.parts} part{'s' * (p.parts != 1)} {p.name}" for p in parts)
