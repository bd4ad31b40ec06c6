"""The stack of coats at one place: what it shows, how unsure that is, what each coat does to it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.paints.doubt import StackDoubt, doubt_of_stacks
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan

__all__ = ["LESS", "MORE", "Section", "section_of"]

LESS, MORE = 0.75, 1.25  # times the strength: a quarter weaker and stronger

Coat = tuple[int, int, float]
Labs = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Section:
    """A stack of n coats, told by CIELAB under D65.

    coats: (layer, puddle, strength) bottom to top. labs: (n + 1, 3) after 0, 1, … coats; lighter,
    darker: the ends of what nine of ten such stacks, so painted by hand, lie between. strokes:
    (n, 3) each coat alone on the paper. less, more: (n, n + 1, 3) all stages with the nth coat a
    quarter weaker, a quarter stronger. without: (n, n, 3) with it left out. thickness: what each
    coat takes from the light against the deepest full coat on the palette, 0-1.
    """

    coats: tuple[Coat, ...]
    labs: Labs
    lighter: Labs
    darker: Labs
    strokes: Labs
    less: Labs
    more: Labs
    without: Labs
    thickness: tuple[float, ...]


def section_of(plan: Plan, coats: Sequence[Coat]) -> Section:
    """The section through a stack of (layer, puddle, strength) of the plan's own puddles."""
    bench, recipes = Bench.of(plan.paints, plan.paper), plan.recipes
    amounts = amounts_of(coats, recipes)
    labs = bench.labs(amounts)
    less, more = (_scaled(bench, amounts, by) for by in (LESS, MORE))
    by_hand = _hand_moves(bench, coats, amounts, recipes, plan.limits.hand)
    lighter, darker = _ends(plan, amounts, by_hand, labs[0])
    return Section(
        coats=tuple(coats),
        labs=labs,
        lighter=lighter,
        darker=darker,
        strokes=np.array([bench.labs(a[None])[1] for a in amounts]).reshape(-1, 3),
        less=less,
        more=more,
        without=np.array([bench.labs(np.delete(amounts, i, axis=0)) for i in range(len(amounts))]),
        thickness=_thickness(bench, amounts),
    )


def amounts_of(coats: Sequence[Coat], recipes: FloatArray) -> NDArray[np.float64]:
    """(n, paints) amounts of a stack; recipes (puddles, paints) at strength 1."""
    rows = [strength * recipes[q] for _, q, strength in coats]
    return np.array(rows, dtype=np.float64).reshape(-1, recipes.shape[1])


def _scaled(bench: Bench, amounts: FloatArray, by: float) -> Labs:
    """(n, n + 1, 3) all stages with each coat in turn so many times as strong."""
    factors = np.where(np.eye(len(amounts), dtype=np.bool_), by, 1.0)
    shown = [bench.labs(amounts * f[:, None]) for f in factors]
    return np.array(shown).reshape(len(amounts), len(amounts) + 1, 3)


def _hand_moves(
    bench: Bench, coats: Sequence[Coat], amounts: FloatArray, recipes: FloatArray, sigma: float
) -> Labs:
    """(moves, n + 1, 3) by how much one spread of each slip of the hand shifts every stage.

    The slips are those of `plan.hands`: each coat laid stronger or paler, and each part of a
    puddle more or less with the puddle as strong as before, in all its coats alike.
    """
    if sigma <= 0.0 or not len(coats):
        return np.zeros((0, len(amounts) + 1, 3))
    up, down = (_scaled(bench, amounts, float(np.exp(way * sigma))) for way in (1.0, -1.0))
    moves = [(up - down) / 2.0]
    for q in sorted({q for _, q, _ in coats}):
        used = np.flatnonzero(recipes[q])
        for part in used.tolist() if len(used) > 1 else ():
            ends = [_remixed(bench, coats, amounts, q, part, way * sigma) for way in (1.0, -1.0)]
            moves.append((ends[0] - ends[1])[None] / 2.0)
    return np.concatenate(moves)


def _remixed(
    bench: Bench, coats: Sequence[Coat], amounts: FloatArray, q: int, part: int, by: float
) -> Labs:
    """All stages with one part of a puddle off by a factor e^by, the load kept."""
    out = np.array(amounts)
    for i, (_, own, _) in enumerate(coats):
        if own == q:
            out[i, part] *= np.exp(by)
            out[i] *= (amounts[i] @ bench.loads) / (out[i] @ bench.loads)
    return bench.labs(out)


def _ends(plan: Plan, amounts: FloatArray, by_hand: Labs, paper: FloatArray) -> tuple[Labs, Labs]:
    """(n + 1, 3) lighter and darker ends at every stage; bare paper is what it is."""
    n = len(amounts)
    done = np.arange(n)[None] < np.arange(n + 1)[:, None]
    stages = amounts[None] * done[:, :, None] if n else np.zeros((1, 1, len(plan.paints)))
    found = doubt_of_stacks(plan.paper, plan.paints, stages)
    lighter, darker = with_slips(found, by_hand).ends
    lighter[0] = darker[0] = paper
    return lighter, darker


def with_slips(found: StackDoubt, moves: Labs) -> StackDoubt:
    """The doubt of stacks (stages) with slips (moves, stages, 3), one spread each, added."""
    slips = np.einsum("msa,msb->sab", moves, moves)
    return replace(found, covariance=found.covariance + slips)


def _thickness(bench: Bench, amounts: FloatArray) -> tuple[float, ...]:
    full = bench.visible_depth()
    depths = (amounts * bench.loads) @ full / max(float(full.max()), 1e-12)
    return tuple(float(v) for v in np.clip(depths, 0.0, 1.0))
