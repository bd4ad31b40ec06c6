"""First washes for an area of a finished plan: the plan's own, its neighbours', the light's."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_area import Area, Neighbour
from firstwash.advice.first_laying import BARELY, Palette, Patch
from firstwash.advice.first_tints import Tint, bare, merged, palest_of, tints
from firstwash.advice.first_washes import FirstWashAdvice, ranked
from firstwash.arrays import FloatArray, IntArray
from firstwash.errors import RequestError
from firstwash.light.split import LightSplit
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.layin import open_borders
from firstwash.plan.local_first import SURE, own_colours
from firstwash.plan.result import Plan
from firstwash.plan.say import largest_shares
from firstwash.plan.wash import Wash

__all__ = ["first_washes_for"]

MOST_SHAPES = 6  # of an area that are worked out, the largest first
MOST_BESIDE = 2  # neighbours' washes that are tried, those of the longest open border
PALEST_PART = 0.05  # of an area's tinted pixels whose mean is its palest tint
LEAST_PIXELS = 20

Laid = tuple[int, float]
"""A wash of the first layer: puddle and strength."""


def first_washes_for(
    plan: Plan,
    where: int | Wash | Sequence[int],
    reference: Reference | None = None,
    light: LightSplit | None = None,
) -> FirstWashAdvice:
    """First washes for an area of a plan, each with all that follows worked out again.

    where: a shape, a first wash (all of its shapes), or cells. reference: the plan's own, to look
    for the palest tint among its pixels and not only among the cells; light: its light split,
    which tells local colour and the light's tint. Raises RequestError for an area not there.
    """
    cells = _cells(plan, where)
    patches, covered = _patches(plan, cells)
    kept = np.concatenate([p.cells for p in patches])
    bench = Bench.of(plan.paints, plan.paper).limited(largest_shares(plan.paints, plan.limits))
    limits = plan.limits
    palette = Palette(bench, plan.paints, plan.layers, limits.paints_per_puddle, limits.handling)
    area = Area(
        palette=palette,
        patches=patches,
        mm2=float(plan.cells.areas_mm2()[kept].sum()),
        sigma=limits.hand,
        neighbours=_neighbours(plan, bench, kept),
        looked=None if reference is None else _looked(plan, reference, patches, palette),
    )
    local, lamp = (None, None) if light is None else _lit(plan, light, kept)
    found = [
        *_plans_own(plan, palette, kept),
        *_beside(area),
        *tints(palette, patches, local, lamp, area.looked),
    ]
    off = delta_e_2000(plan.stage_labs[-1][area.cells], area.aims)
    return FirstWashAdvice(area, ranked(area, merged(found)), covered, float(area.share @ off))


def _cells(plan: Plan, where: int | Wash | Sequence[int]) -> NDArray[np.int64]:
    shapes: NDArray[np.int64] | None = None
    if isinstance(where, Wash):
        shapes = np.array(where.shapes, dtype=np.int64)
    elif isinstance(where, int | np.integer):
        shapes = np.array([where], dtype=np.int64)
    if shapes is None:
        found = np.unique(np.asarray(where, dtype=np.int64))
    else:
        found = np.flatnonzero(np.isin(plan.cells.shape_of, shapes))
    if not len(found) or found[0] < 0 or found[-1] >= plan.cells.count:
        raise RequestError("There is no such area in this plan.")
    return found


def _patches(plan: Plan, cells: NDArray[np.int64]) -> tuple[tuple[Patch, ...], float]:
    """The largest shapes of an area, light to dark each, and what share of it they are."""
    areas = plan.cells.areas_mm2()
    shapes = plan.cells.shape_of[cells]
    sizes = np.bincount(shapes, areas[cells])
    order = np.argsort(-sizes, kind="stable")[:MOST_SHAPES]
    largest = order[sizes[order] > 0]
    total = float(sizes[largest].sum())
    out = []
    for shape in largest.tolist():
        own = cells[shapes == shape]
        own = own[np.argsort(-plan.aims[own, 0], kind="stable")]
        rough = float(plan.cells.rough[shape]) if len(plan.cells.rough) else None
        out.append(Patch(own, plan.aims[own], areas[own] / total, rough))
    return tuple(out), total / float(areas[cells].sum())


def _first(plan: Plan, cell: int) -> Laid | None:
    """What the plan lays there in the first layer."""
    coats = plan.coats[cell]
    return (coats[0][1], coats[0][2]) if coats and coats[0][0] == 1 else None


def _by_area(plan: Plan, cells: IntArray) -> dict[Laid | None, float]:
    """mm² of the cells under each first wash."""
    areas = plan.cells.areas_mm2()
    out: dict[Laid | None, float] = defaultdict(float)
    for cell in cells.tolist():
        out[_first(plan, cell)] += float(areas[cell])
    return out


def _plans_own(plan: Plan, palette: Palette, cells: NDArray[np.int64]) -> list[Tint]:
    """The plan's first wash there, the one that covers most of the area; bare paper if none."""
    found = _by_area(plan, cells)
    washes = [laid for laid in found if laid is not None]
    if not washes:
        return [replace(bare(palette), origins=("plan", "bare paper"))]
    puddle, strength = max(washes, key=lambda laid: (found[laid], laid))
    amounts = plan.recipes[puddle] * strength
    lab = palette.bench.labs(amounts[None])[1]
    return [Tint(("plan",), amounts, lab, puddle, strength)]


def _neighbours(plan: Plan, bench: Bench, cells: NDArray[np.int64]) -> tuple[Neighbour, ...]:
    """First washes of the shapes around, with the length of border that is not hard."""
    inside = np.unique(plan.cells.shape_of[cells])
    open_mm = open_borders(plan.cells, plan.edges)[inside].sum(axis=0)
    open_mm[inside] = 0.0
    border: dict[Laid, float] = defaultdict(float)
    for shape in np.flatnonzero(open_mm > 0.0).tolist():
        there = _by_area(plan, np.flatnonzero(plan.cells.shape_of == shape))
        most = max(there, key=lambda laid: there[laid])
        if most is not None:
            border[most] += float(open_mm[shape])
    out = []
    for (puddle, strength), mm in sorted(border.items(), key=lambda item: (-item[1], item[0])):
        amounts = plan.recipes[puddle] * strength
        out.append(Neighbour(bench.labs(amounts[None])[1], mm, amounts, puddle, strength))
    return tuple(out)


def _beside(area: Area) -> list[Tint]:
    return [
        Tint(("neighbour",), n.amounts, n.lab, n.puddle, n.strength)
        for n in area.neighbours[:MOST_BESIDE]
    ]


def _looked(
    plan: Plan, reference: Reference, patches: Sequence[Patch], palette: Palette
) -> NDArray[np.float64] | None:
    """Mean CIELAB (3,) of the lightest pixels that are not paper, as these paints reach it.

    None where the cells themselves tell of a lighter tint.
    """
    inside = np.isin(plan.cells.index, np.concatenate([p.cells for p in patches]))
    labs = plan.tone(reference.lab[inside])
    labs = labs[delta_e_2000(labs, palette.paper) >= BARELY]
    if len(labs) < LEAST_PIXELS:
        return None
    least = np.quantile(labs[:, 0], 1.0 - PALEST_PART)
    found = np.asarray(labs[labs[:, 0] >= least].mean(axis=0))
    cells = palest_of(palette, patches)
    return found if cells is None or found[0] >= cells[0] else None


def _lit(
    plan: Plan, light: LightSplit, cells: NDArray[np.int64]
) -> tuple[FloatArray | None, FloatArray | None]:
    """The area's own colour in the light, None where the split is unsure, and the light's tint."""
    inside = np.isin(plan.cells.index, cells).astype(np.int64)
    own = own_colours(light, inside)
    here = int(inside.max())
    local = own.labs[here] if own.sure[here] >= SURE[0] else None
    return local, light.lamp_lab()
