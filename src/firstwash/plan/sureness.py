"""How sure a plan's colours are: what nine of ten such puddles and stacks should lie between."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.paints.doubt import StackDoubt, doubt_of_stacks
from firstwash.plan.result import Plan

__all__ = ["beyond_swatches", "cell_ranges", "puddle_ranges", "stack_amounts"]

Stack = tuple[tuple[int, int, float], ...]  # layer, puddle, strength of each coat


def recipes_of(plan: Plan) -> NDArray[np.float64]:
    """(puddles, paints) amounts of each puddle at strength 1."""
    out = np.zeros((len(plan.puddles), len(plan.paints)))
    for row, puddle in zip(out, plan.puddles, strict=True):
        for paint, amount in puddle.parts:
            row[paint] = amount
    return out


def stack_amounts(stacks: Sequence[Stack], recipes: FloatArray) -> NDArray[np.float64]:
    """(n, coats, paints) amounts of stacks of puddles, bottom to top, filled up with nothing."""
    deepest = max((len(own) for own in stacks), default=0)
    out = np.zeros((len(stacks), max(deepest, 1), recipes.shape[1]))
    for i, own in enumerate(stacks):
        for c, (_, puddle, strength) in enumerate(own):
            out[i, c] = strength * recipes[puddle]
    return out


def _doubts(plan: Plan, stacks: Sequence[Stack]) -> StackDoubt:
    return doubt_of_stacks(plan.paper, plan.paints, stack_amounts(stacks, recipes_of(plan)))


def puddle_ranges(plan: Plan) -> NDArray[np.float64]:
    """(puddles, 2, 2) L* of a dry test stroke, strongest and weakest use: low and high end."""
    if not plan.puddles:
        return np.zeros((0, 2, 2))
    strokes: list[Stack] = [
        ((1, q, strength),)
        for q, puddle in enumerate(plan.puddles)
        for strength in reversed(puddle.strength_range)
    ]
    return np.asarray(_doubts(plan, strokes).lightness.reshape(-1, 2, 2))


def beyond_swatches(plan: Plan) -> dict[int, float]:
    """Paints, by index, laid paler than any swatch behind their curves: the least amount laid.

    A paint without any swatch is not among them: all of it is the model's word.
    """
    recipes = recipes_of(plan)
    least: dict[int, float] = {}
    for wash in plan.washes:
        for p in np.flatnonzero(recipes[wash.puddle]):
            ends = (s for s in (wash.strength, wash.end_strength) if s is not None)
            amount = min(ends) * float(recipes[wash.puddle, p])
            least[int(p)] = min(amount, least.get(int(p), np.inf))
    return {
        p: amount
        for p, amount in sorted(least.items())
        if (thinnest := plan.paints[p].thinnest_measured) is not None and amount < thinnest
    }


def cell_ranges(plan: Plan) -> NDArray[np.float64]:
    """(n_cells, 2) L* of the finished sheet: low and high end of each cell."""
    known = list(dict.fromkeys(plan.coats))
    place = {own: i for i, own in enumerate(known)}
    return np.asarray(_doubts(plan, known).lightness[[place[own] for own in plan.coats]])
