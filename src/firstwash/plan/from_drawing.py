"""Plans for a drawing: made for it from the start, or keeping up as the painter changes it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.picture.drawing import Drawing
from firstwash.picture.edge_marks import drawn_edges
from firstwash.picture.edges import core_colours
from firstwash.picture.reference import Reference
from firstwash.plan.around import Decided
from firstwash.plan.assemble import stages_of
from firstwash.plan.bare import clear_of, keeps_bare, paper_lab
from firstwash.plan.board.drying import Room
from firstwash.plan.locks import NO_LOCKS, Locks, held
from firstwash.plan.planner import cells_of, make_plan
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.rebuild import Coat, Coats, rebuilt
from firstwash.plan.redrawn import Redrawn, carried, redrawn
from firstwash.plan.result import Plan
from firstwash.plan.shape_coats import EditDesk, Wish, solve_shape
from firstwash.plan.wash import Wash

LIGHTENS = 0.5  # L* that a coat may dry lighter than the sheet under it, as where plans are edited

__all__ = ["drawing_of_plan", "keep_up", "plan_drawing"]


def drawing_of_plan(plan: Plan) -> Drawing:
    """The drawing a plan was made for; marks of edges, which a plan does not hold, apart."""
    bare = plan.cells.shape_of[keeps_bare(plan.aims, plan.paper)]
    shapes = plan.cells.shape_of[plan.cells.index].astype(np.int32)
    reserves = frozenset(int(s) for s in bare)
    return Drawing(shapes, plan.cells.ppmm, reserves, by_hand=bool(reserves))


def plan_drawing(
    reference: Reference,
    drawing: Drawing,
    paints: Sequence[Paint],
    limits: Limits | None = None,
    paper: Paper | None = None,
    progress: Progress = no_progress,
    room: Room | None = None,
) -> Plan:
    """Plan a painting with just these shapes, reserves and edges; all else as `make_plan`.

    A drawing changed by hand is kept even where it takes longer than the hours asked for. One
    that is not may then be made simpler: the plan's own drawing is `drawing_of_plan`.
    Raises RequestError for a drawing of another picture, or one with nothing to paint.
    """
    asked, ground = limits or Limits(), paper or default_paper()
    _check(reference, drawing)
    if asked.hours is not None and not drawing.by_hand:
        return make_plan(reference, paints, asked, ground, progress, room)
    decided = _decided(reference, drawing, asked, ground)
    return make_plan(reference, paints, asked, ground, progress, room, decided)


def _check(reference: Reference, drawing: Drawing) -> None:
    if drawing.shapes.shape != reference.zone.shape:
        raise RequestError("That drawing is of another picture; start a new one.")
    if len(drawing.reserves) >= drawing.count:
        raise RequestError("The drawing leaves nothing to paint; keep less of the paper free.")


def _decided(reference: Reference, drawing: Drawing, limits: Limits, paper: Paper) -> Decided:
    """The drawing as the planner takes it, no coat decided and the reserves wished for."""
    cells, graded = cells_of(reference, drawing.shapes, limits, drawing.reserves)
    bare = np.flatnonzero(np.isin(cells.shape_of, sorted(drawing.reserves)))
    white = paper_lab(paper)
    return Decided(
        cells=cells,
        edges=drawn_edges(reference.lab, cells, drawing),
        graded=graded,
        closed=np.zeros((cells.count, limits.layers), dtype=np.bool_),
        coats=((),) * cells.count,
        shows=np.zeros(cells.count, dtype=np.int64),
        recipes=(),
        paints=frozenset(),
        wishes={int(c): white for c in bare},
    )


def keep_up(plan: Plan, reference: Reference, drawing: Drawing, locks: Locks = NO_LOCKS) -> Plan:
    """The plan after its drawing was changed, at once: out of its own puddles.

    reference: the picture the plan was made from. Shapes that nothing happened to keep their
    coats to the last bit; changed ones are solved again, as `recolour` does; reserves get no
    coat. Layers that are locked stay as they are in every place. Washes that are locked
    go on with the shape they lie in. The plan has to be judged again (`make_report`).
    Raises RequestError for a drawing of another picture, locks the plan does not have, or a
    reserve in a graded background that is locked.
    """
    _check(reference, drawing)
    if drawing.shapes.shape != plan.cells.index.shape:
        raise RequestError("That drawing is of another picture; start a new one.")
    closed = held(plan, locks).closed
    lab = reference.lab
    found = redrawn(plan, reference, lab, drawing, sorted(locks.layers))
    if closed[found.origin[found.fresh & found.strip]].any():
        raise RequestError(
            "The graded background is kept as it is; stop keeping it to leave a place in it bare."
        )
    edges = drawn_edges(lab, found.cells, drawing)
    base = _aimed(plan, carried(plan, found, edges), found, lab, reference)
    coats = _solved(base, found, _still(base, locks))
    return rebuilt(base, coats, aims=base.aims, redrawn=True)


def _aimed(before: Plan, base: Plan, found: Redrawn, lab: FloatArray, reference: Reference) -> Plan:
    """The carried plan with what its new cells show in the photo and aim at.

    A colour the painter wished for a shape moves the aims of what became of it as far.
    """
    if not found.fresh.any():
        return base
    fresh = found.fresh
    targets, aims = base.targets.copy(), base.aims.copy()
    found_now = core_colours(lab, base.cells, base.edges, reference.weight, fresh)
    targets[fresh] = found_now[fresh]
    wished = before.aims - before.tone(before.targets)
    wished[keeps_bare(before.aims, before.paper)] = 0.0
    aims[fresh] = base.tone(targets[fresh]) + wished[found.origin[fresh]]
    aims[fresh, 0] = np.clip(aims[fresh, 0], base.tone.floor, base.tone.ceiling)
    aims[fresh & found.bare] = paper_lab(base.paper)
    bare = found.bare[base.cells.index]
    touches = clear_of(base.touches, bare, base.cells.ppmm) if bare.any() else base.touches
    return replace(base, targets=targets, aims=aims, touches=touches)


def _still(base: Plan, locks: Locks) -> Locks:
    """The locks without those of washes and puddles that have no place any more."""
    keys = {(w.layer, w.number) for w in base.washes}
    return replace(locks, washes=locks.washes & keys)


def _solved(base: Plan, found: Redrawn, locks: Locks) -> Coats:
    """Coats of all cells, the changed shapes solved one after another, the largest first."""
    closed = held(base, locks).closed
    coats = list(base.coats)
    for cell in np.flatnonzero(found.fresh & found.bare).tolist():
        coats[cell] = tuple(c for c in coats[cell] if closed[cell, c[0] - 1])
    areas = base.cells.areas_mm2()
    todo = found.fresh & ~found.bare & ~found.strip & ~closed.all(axis=1)
    size = np.bincount(base.cells.shape_of, areas * todo, minlength=base.cells.shapes)
    now = _as_laid(base, tuple(coats))
    for shape in np.argsort(-size, kind="stable")[: int((size > 0).sum())].tolist():
        own = np.flatnonzero(base.cells.shape_of == shape)
        order = own[np.argsort(-base.aims[own, 0], kind="stable")]
        wish = Wish(int(shape), order, base.aims[order], bare=True)
        desk = EditDesk(now, locks)
        answer = _only_darker(desk, order, solve_shape(desk, wish).coats)
        for cell, laid in zip(order.tolist(), answer, strict=True):
            coats[cell] = laid
        now = _as_laid(base, tuple(coats))
    return tuple(coats)


def _only_darker(desk: EditDesk, cells: NDArray[np.int64], coats: Coats) -> Coats:
    """Coats of a shape's cells without those that would dry lighter than the sheet under them."""
    open_ = ~desk.held.closed[cells].any(axis=0)
    while True:
        labs = stages_of(desk.bench, coats, desk.plan.layers)
        risen = np.where(open_, np.diff(labs[..., 0], axis=0).max(axis=1), 0.0)
        worst = int(risen.argmax())
        if risen[worst] <= LIGHTENS:
            return coats
        coats = tuple(tuple(c for c in own if c[0] != worst + 1) for own in coats)


def _as_laid(base: Plan, coats: Coats) -> Plan:
    """The plan with other coats, its washes told no further than a search for coats needs."""
    graded = {c for w in base.washes if w.kind == "graded wash" for c in w.cells}
    places: dict[Coat, list[int]] = {}
    for cell, own in enumerate(coats):
        if cell not in graded:
            for coat in own:
                places.setdefault(coat, []).append(cell)
    known = {(w.layer, w.puddle, w.strength): w for w in base.washes if w.kind != "graded wash"}
    washes = [w for w in base.washes if w.kind == "graded wash"]
    for coat, cells in places.items():
        shapes = tuple(int(s) for s in np.unique(base.cells.shape_of[cells]))
        like = known.get(coat) or _unnumbered(base.washes[0], coat)
        washes.append(replace(like, cells=tuple(cells), shapes=shapes))
    return replace(base, coats=coats, washes=tuple(washes))


def _unnumbered(like: Wash, coat: Coat) -> Wash:
    layer, puddle, strength = coat
    return replace(
        like, layer=layer, number=0, puddle=puddle, strength=strength, end_strength=None,
        kind="wash",
    )  # fmt: skip
