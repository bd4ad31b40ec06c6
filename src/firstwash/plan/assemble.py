"""From solved stacks to a plan people read: puddles with letters, numbered washes, stages."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.surface import Paper, leave_surface
from firstwash.optics.wet import wet_stages
from firstwash.paints.catalogue import Paint
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.edges import Edges
from firstwash.picture.shapes import Cells
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.board.drying import Room
from firstwash.plan.graded import GradedWash
from firstwash.plan.puddles import Mixing
from firstwash.plan.result import Agreement, Errors, Plan, Report, Rung
from firstwash.plan.schedule import Schedule, amounts_of, how_laid, in_order, schedule_of
from firstwash.plan.stacks import Stack
from firstwash.plan.sureness import stack_amounts
from firstwash.plan.wash import Puddle, Wash

__all__ = [
    "UNJUDGED",
    "Coats",
    "Solution",
    "assemble",
    "doubts_of",
    "puddle_letter",
    "puddle_of",
    "separate_areas",
    "stages_of",
    "top_layers",
    "wash_over",
]

UNJUDGED = Report(
    (Rung("not judged yet", Errors(0, 0, 0), Errors(0, 0, 0), None, None),),
    Agreement(0, 0, 0),
    Agreement(0, 0, 0),
    0,
    0,
    0,
    0,
)


@dataclass(frozen=True, eq=False)
class Coats:
    """All paint of a plan: stacks with their mixing, and a graded background if any."""

    stacks: list[Stack]
    mixing: Mixing
    graded: GradedWash | None


@dataclass(frozen=True, eq=False)
class Solution:
    """What the solver found. graded: cells that are strips of the graded wash, in order."""

    bench: Bench
    cells: Cells
    coats: Coats
    layers: int
    graded: NDArray[np.int64]


def puddle_letter(index: int) -> str:
    """A, B, … Z, AA, AB, …"""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def assemble(
    solution: Solution, paints: Sequence[Paint], edges: Edges, room: Room, **known: Any
) -> Plan:
    """A plan without its report; `known` are the Plan fields that need no work here."""
    recipes, order = _ordered_recipes(solution)
    coats = _coats_of_cells(solution, order)
    ready = solution.bench.puddles(recipes)
    stage_labs = stages_of(ready, coats, solution.layers)
    laid = [
        replace(w, areas=separate_areas(solution.cells, w.cells))
        for w in _washes(solution, order, ready, stage_labs)
    ]
    tops = top_layers(coats)
    washes, schedule = _in_layers(laid, tops, solution, edges, room, known["sheet"].weight_gsm)
    return Plan(
        paints=tuple(paints),
        cells=solution.cells,
        edges=edges,
        puddles=tuple(_puddles(recipes, ready, washes, paints)),
        washes=washes,
        schedule=schedule,
        coats=coats,
        stage_labs=stage_labs,
        doubts=doubts_of(known["paper"], paints, recipes, coats),
        report=UNJUDGED,
        **known,
    )


def top_layers(coats: Sequence[tuple[tuple[int, int, float], ...]]) -> NDArray[np.int64]:
    """The last layer laid on each cell, 0 for bare paper."""
    return np.array([own[-1][0] if own else 0 for own in coats], dtype=np.int64)


def _in_layers(
    washes: Sequence[Wash],
    tops: NDArray[np.int64],
    solution: Solution,
    edges: Edges,
    room: Room,
    weight_gsm: float,
) -> tuple[tuple[Wash, ...], Schedule]:
    layers = []
    for number in range(1, solution.layers + 1):
        own = [w for w in washes if w.layer == number]
        laid = tuple(how_laid(own, edges, solution.cells, tops))
        layers.append(in_order(laid, edges, solution.cells, room, weight_gsm))
    every = tuple(w for own, _ in layers for w in own)
    return every, schedule_of(layers, room, weight_gsm)


def separate_areas(cells: Cells, members: tuple[int, ...]) -> int:
    """How many separate areas some cells make together."""
    inside = np.zeros(cells.count, dtype=np.uint8)
    inside[list(members)] = 1
    return int(cv2.connectedComponents(inside[cells.index], connectivity=4)[0]) - 1


def _ordered_recipes(solution: Solution) -> tuple[FloatArray, NDArray[np.int64]]:
    """Recipes in the order they are first needed, and where each old number went.

    The graded wash, if any, is the first puddle; order[-1] is then its number.
    """
    mixing, graded = solution.coats.mixing, solution.coats.graded
    first: dict[int, tuple[float, ...]] = {}
    for stack, puddles, strengths in zip(
        solution.coats.stacks, mixing.puddle_of, mixing.strengths, strict=True
    ):
        for layer, q, strength in zip(stack.layers, puddles, strengths, strict=True):
            early = (float(layer), float(strength))
            first[int(q)] = min(first.get(int(q), early), early)
    ranked = sorted(first, key=lambda q: (first[q], q))
    recipes = [mixing.recipes[q] for q in ranked]
    order = np.full(len(mixing.recipes) + 1, -1, dtype=np.int64)
    shift = int(graded is not None)
    order[ranked] = np.arange(len(ranked)) + shift
    if graded is not None:
        recipes.insert(0, graded.recipe)
        order[-1] = 0
    return np.array(recipes).reshape(-1, solution.bench.colours), order


Coat = tuple[int, int, float]


def _coats_of_cells(solution: Solution, order: NDArray[np.int64]) -> tuple[tuple[Coat, ...], ...]:
    """Per cell the (layer, puddle, strength) of its coats; layers count from 1."""
    coats: list[tuple[Coat, ...]] = [()] * solution.cells.count
    mixing = solution.coats.mixing
    for stack, puddles, strengths in zip(
        solution.coats.stacks, mixing.puddle_of, mixing.strengths, strict=True
    ):
        all_coats = [
            (int(layer) + 1, int(order[q]), float(s))
            for layer, q, s in zip(stack.layers, puddles, strengths, strict=True)
        ]
        for cell, n in zip(stack.cells, stack.coats_of, strict=True):
            coats[cell] = tuple(all_coats[:n])
    if solution.coats.graded is not None:
        for cell, s in zip(solution.graded, solution.coats.graded.strengths, strict=True):
            coats[cell] = ((1, int(order[-1]), float(s)),)
    return tuple(coats)


def _amounts(coats: Sequence[Coat], puddles: int) -> NDArray[np.float64]:
    amounts = np.zeros((len(coats), puddles))
    for i, (_, puddle, strength) in enumerate(coats):
        amounts[i, puddle] = strength
    return amounts


def stages_of(ready: Bench, coats: Sequence[tuple[Coat, ...]], layers: int) -> NDArray[np.float64]:
    """(layers + 1, n_cells, 3) CIELAB after each layer, from the whole stack each time."""
    labs = np.empty((layers + 1, len(coats), 3))
    known: dict[tuple[Coat, ...], FloatArray] = {}
    for cell, own in enumerate(coats):
        if own not in known:
            known[own] = ready.labs(_amounts(own, ready.colours))
        done = np.searchsorted([c[0] for c in own], np.arange(layers + 1), side="right")
        labs[:, cell] = known[own][done]
    return labs


def _washes(
    solution: Solution, order: NDArray[np.int64], ready: Bench, stage_labs: FloatArray
) -> Iterator[Wash]:
    areas = solution.cells.areas_mm2()
    for (layer, puddle, strength), members in _same_paint(solution, order).items():
        cells = np.unique(np.concatenate([c for c, _, _ in members]))
        lead_in = all(lead for _, lead, _ in members)
        shapes = tuple(sorted({shape for _, _, shape in members}))
        yield wash_over(
            ready, cells, layer, shapes, puddle, (strength, None),
            areas, stage_labs, "lead-in" if lead_in else "wash",
        )  # fmt: skip
    if solution.coats.graded is not None:
        ends = solution.coats.graded.strengths[[0, -1]]
        shapes = tuple(int(s) for s in np.unique(solution.cells.shape_of[solution.graded]))
        yield wash_over(
            ready, solution.graded, 1, shapes, int(order[-1]), (float(ends[0]), float(ends[1])),
            areas, stage_labs, "graded wash",
        )  # fmt: skip


def _same_paint(
    solution: Solution, order: NDArray[np.int64]
) -> dict[tuple[int, int, float], list[tuple[NDArray[np.int64], bool, int]]]:
    """Areas by (layer, puddle, strength): what is the same in all three is one wash.

    Each area: its cells, whether it is a lead-in, its shape.
    """
    mixing = solution.coats.mixing
    found: dict[tuple[int, int, float], list[tuple[NDArray[np.int64], bool, int]]] = {}
    for i, stack in enumerate(solution.coats.stacks):
        for coat, layer in enumerate(stack.layers.tolist()):
            cells = stack.cells[stack.coats_of > coat]
            if not len(cells):
                continue
            puddle = int(order[mixing.puddle_of[i][coat]])
            paint = (layer + 1, puddle, float(mixing.strengths[i][coat]))
            lead_in = coat == 0 and int(stack.coats_of[stack.coats_of > 0].min()) > 1
            found.setdefault(paint, []).append((cells, lead_in, stack.shape))
    return found


def wash_over(
    ready: Bench,
    cells: NDArray[np.int64],
    layer: int,
    shapes: tuple[int, ...],
    puddle: int,
    strengths: tuple[float, float | None],
    areas: FloatArray,
    stage_labs: FloatArray,
    kind: Any,
) -> Wash:
    """The wash of a puddle over some cells; its number, areas and technique are still to come.

    ready: all puddles as colours; strengths: at one end and, of a graded wash, at the other.
    """
    share = areas[cells] / areas[cells].sum()
    stroke = _patch(ready, puddle, max(s for s in strengths if s is not None))
    before, after = (tuple((share @ stage_labs[n][cells]).tolist()) for n in (layer - 1, layer))
    return Wash(
        layer=layer,
        number=0,
        shapes=shapes,
        cells=tuple(int(c) for c in cells),
        puddle=puddle,
        strength=strengths[0],
        end_strength=strengths[1],
        area_mm2=float(areas[cells].sum()),
        areas=0,
        before=before,
        after=after,
        stroke=tuple(stroke.tolist()),
        value_step=int(value_step(stroke[0])),
        kind=kind,
    )


def _patch(ready: Bench, puddle: int, strength: float) -> NDArray[np.float64]:
    """CIELAB (3,) of one dry coat of a puddle on the bare paper."""
    return np.asarray(ready.labs(_amounts([(1, puddle, strength)], ready.colours))[1])


def _test_stroke(ready: Bench, puddle: int, strength: float) -> int:
    return int(value_step(_patch(ready, puddle, strength)[0]))


def _puddles(
    recipes: FloatArray, ready: Bench, washes: Sequence[Wash], paints: Sequence[Paint]
) -> Iterator[Puddle]:
    for q, recipe in enumerate(recipes):
        own = [w for w in washes if w.puddle == q]
        yield puddle_of(q, puddle_letter(q), recipe, ready, own, paints)


def puddle_of(
    q: int,
    name: str,
    recipe: FloatArray,
    ready: Bench,
    own: Sequence[Wash],
    paints: Sequence[Paint],
) -> Puddle:
    """The puddle of a recipe (paints,) as its own washes, one at least, use it.

    ready: all puddles as colours, this one the q-th.
    """
    strengths = [s for w in own for s in (w.strength, w.end_strength) if s is not None]
    weakest, strongest = min(strengths), max(strengths)
    ordered = sorted(((float(a), p) for p, a in enumerate(recipe) if a > 0), reverse=True)
    parts = tuple((p, a) for a, p in ordered)
    return Puddle(
        name=name,
        parts=parts,
        strength_range=(weakest, strongest),
        area_mm2=sum(w.area_mm2 for w in own),
        value_steps=(_test_stroke(ready, q, strongest), _test_stroke(ready, q, weakest)),
        swatch=np.array([_patch(ready, q, s) for s in (strongest, weakest)]),
        wet=_wet(ready, q, strongest),
        amount=amounts_of(parts, own, [p.full_coat for p in paints]),
    )


def _wet(ready: Bench, puddle: int, strength: float) -> tuple[float, float, float]:
    """CIELAB of a coat while it is wet, by `optics.wet`: unvalidated."""
    ground, _, soak, fibre_s, k1, k2 = ready.sheet
    paper = Paper("", leave_surface(ground, k1, k2), k1, k2, soak, fibre_s)
    kx, sx = (strength * c[puddle][None] for c in (ready.k, ready.s))
    lab = reflectance_to_lab(wet_stages(paper, kx, sx)[1])
    return float(lab[0]), float(lab[1]), float(lab[2])


def doubts_of(
    paper: Paper, paints: Sequence[Paint], recipes: FloatArray, coats: Sequence[tuple[Coat, ...]]
) -> NDArray[np.float64]:
    """CIEDE2000 (n_cells,) by which the paints' one-sigma uncertainty may shift each cell.

    recipes: (puddles, paints). Each factor of each paint's doubt moves the last stage, to
    first order; the differences add as squares, for the factors are independent.
    """
    known = list(dict.fromkeys(coats))
    found = doubt_of_stacks(paper, paints, stack_amounts(known, recipes))
    moved = found.lab[:, None] + found.moves.transpose(0, 2, 1)
    plain = np.broadcast_to(found.lab[:, None], moved.shape)
    each = np.sqrt((delta_e_2000(moved, plain) ** 2).sum(axis=1))
    place = {own: i for i, own in enumerate(known)}
    return np.asarray(each[[place[own] for own in coats]])
