"""What a finished plan pays to the rules of handling, and where a wash lies in their eyes."""

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.plan.bench import Bench
from firstwash.plan.handling import BY_PLACE, Place, Rule, glows, price_paints
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["handling_cost", "place_of"]


def handling_cost(
    plan: Plan, roughness: FloatArray | None = None, handling: float = 1.0
) -> dict[Rule, float]:
    """What each rule costs a plan: squared CIEDE2000, mean over the sheet.

    roughness: (n_shapes,) 0-1 as `picture.texture.roughness` tells; without it nothing is
    known to be smooth. Also fit for comparing plans made without regard to handling.
    """
    prices = price_paints(Bench.of(plan.paints, plan.paper), plan.paints, handling)
    areas = plan.cells.areas_mm2() / plan.cells.areas_mm2().sum()
    paid = np.zeros(len(BY_PLACE))
    shares = _depth_shares(plan, prices.depth)
    for cell, own in enumerate(plan.coats):
        if own:
            place = _place_in_cell(plan, cell, roughness).rules()
            made_of = shares[[q for _, q, _ in own]]
            paid += areas[cell] * np.einsum("rc,rp,cp->r", place, prices.rates, made_of)
    out = {r.rule: float(x) for r, x in zip(BY_PLACE, paid, strict=True)}
    out[Rule.MANY_PIGMENTS] = prices.pigment * _extra_pigments(plan, prices.holds, areas)
    return out


def _depth_shares(plan: Plan, depth: FloatArray) -> NDArray[np.float64]:
    """(puddles, paints) share of each puddle's visible depth; depth (paints,) of full coats."""
    out = np.zeros((len(plan.puddles), len(plan.paints)))
    for q, puddle in enumerate(plan.puddles):
        for p, amount in puddle.parts:
            out[q, p] = amount / plan.paints[p].full_coat * depth[p]
    return np.asarray(out / np.maximum(out.sum(axis=1, keepdims=True), 1e-300))


def _place_in_cell(plan: Plan, cell: int, roughness: FloatArray | None) -> Place:
    coats = len(plan.coats[cell])
    rough = 1.0 if roughness is None else float(roughness[plan.cells.shape_of[cell]])
    smooth, glow = np.array([1.0 - rough]), glows(plan.aims[cell : cell + 1])
    return Place.of(coats, np.array([coats]), np.ones(1), smooth, glow)


def _extra_pigments(plan: Plan, holds: BoolArray, areas: FloatArray) -> float:
    """Pigments of a shape's stack beyond the first, mean over the sheet."""
    made_of = [holds[[p for p, _ in puddle.parts]].any(axis=0) for puddle in plan.puddles]
    used = np.zeros((plan.cells.shapes, holds.shape[1]), dtype=np.bool_)
    for cell, own in enumerate(plan.coats):
        for _, q, _ in own:
            used[plan.cells.shape_of[cell]] |= made_of[q]
    extra = np.maximum(used.sum(axis=1) - 1, 0)
    return float(areas @ extra[plan.cells.shape_of])


def place_of(plan: Plan, wash: Wash, roughness: FloatArray | None = None) -> Place:
    """Where a wash lies, mean over its area, as a place of one coat."""
    areas = plan.cells.areas_mm2()[list(wash.cells)]
    fields: dict[str, float] = dict.fromkeys(("laid", "later", "last", "smooth", "glow"), 0.0)
    for cell, area in zip(wash.cells, areas / areas.sum(), strict=True):
        coat = [layer for layer, _, _ in plan.coats[cell]].index(wash.layer)
        own = _place_in_cell(plan, cell, roughness)
        for name in fields:
            fields[name] += float(area * getattr(own, name)[coat])
    return Place(**{name: np.array([value]) for name, value in fields.items()})
