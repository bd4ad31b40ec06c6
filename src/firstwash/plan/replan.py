"""Planning again with the painter's decisions kept: everything locked stays, all else is free.

The drawing stays too: shapes and their edges are those of the plan, for a locked wash keeps its
areas. Locked washes and layers lie in the stacks as they are and the other coats are fitted
around them; locked puddles are offered to every coat and never changed; locked paints stay on
the palette and in their puddles. Colours wished for single shapes are still aimed at.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.paints.catalogue import Paint
from firstwash.picture.reference import Reference
from firstwash.plan.around import Decided, Recipe
from firstwash.plan.assemble import puddle_letter
from firstwash.plan.board.drying import Room
from firstwash.plan.locks import NO_LOCKS, Held, Locks, held
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.result import Plan

__all__ = ["replan"]

DRAWING = ("shapes", "min_area_mm2", "min_width_mm")  # limits the drawing was made by

Coat = tuple[int, int, float]


def replan(
    plan: Plan,
    reference: Reference,
    limits: Limits | None = None,
    locks: Locks = NO_LOCKS,
    owned: Sequence[Paint] | None = None,
    progress: Progress = no_progress,
    room: Room | None = None,
) -> Plan:
    """A new plan on the same drawing with everything locked kept.

    reference: the picture the plan was made from. limits: those of the plan unless given; hours
    are told but nothing is made simpler for them, unless the plan was already and the same is
    asked again. owned: paints to choose from; those of the plan's palette unless given. room:
    whose air dries the washes; the plan's unless given.
    Holds: locked washes keep areas, puddle and strength to the last bit, locked puddles their
    recipe and letter. A locked puddle that no wash takes is left out, and a note says so.
    Raises RequestError where locks and limits contradict each other, or the picture is another.
    """
    asked = _as_fitted(plan, plan.limits if limits is None else limits)
    keep = held(plan, locks)
    paints = plan.paints if owned is None else tuple(owned)
    _check(plan, reference, asked, locks, keep)
    _check_paints(plan, paints, asked, keep)
    decided = _decided(plan, keep)
    found = make_plan(
        reference, paints, asked, plan.paper, progress, room or plan.schedule.room, decided
    )
    return _with_letters(plan, found, keep)


def _as_fitted(plan: Plan, asked: Limits) -> Limits:
    """Where a plan was made simpler for its hours, the same request means as simple a plan."""
    same = asked.hours is not None and asked.layers == plan.limits.layers
    if not same or not plan.schedule.hurried or not plan.puddles:  # hurried before made simpler
        return asked
    puddles, washes = len(plan.puddles), len(plan.washes)
    return replace(
        asked,
        layers=plan.layers,
        puddles=min(puddles, asked.puddles or puddles),
        washes=min(washes, asked.washes or washes),
    )


def _check(plan: Plan, reference: Reference, asked: Limits, locks: Locks, keep: Held) -> None:
    if reference.xyz.shape[:2] != plan.cells.index.shape or reference.sheet != plan.sheet:
        raise RequestError("That is not the picture this plan was made from.")
    other = [n for n in DRAWING if getattr(asked, n) != getattr(plan.limits, n)]
    if other:
        raise RequestError(
            "Planning again keeps the shapes as they are drawn; for other shapes make a new plan."
        )
    top = max((w.layer for w in plan.washes if _stays(keep, w.cells, w.layer)), default=0)
    top = max([top, *locks.layers])
    if top > asked.layers:
        raise RequestError(
            f"Layer {top} is locked, so the plan needs at least {top} layers, not {asked.layers}."
        )
    if asked.puddles is not None and len(keep.recipes) > asked.puddles:
        raise RequestError(
            f"{len(keep.recipes)} puddles are locked, more than the {asked.puddles} allowed."
        )
    washes = sum(_stays(keep, w.cells, w.layer) for w in plan.washes)
    if asked.washes is not None and washes > asked.washes:
        raise RequestError(f"{washes} washes are locked, more than the {asked.washes} allowed.")


def _check_paints(plan: Plan, paints: Sequence[Paint], asked: Limits, keep: Held) -> None:
    keys = {p.key for p in paints}
    missing = [plan.paints[p].name for p in sorted(keep.paints) if plan.paints[p].key not in keys]
    if missing:
        raise RequestError(f"{missing[0]} is locked but not among the paints to choose from.")
    if len(keep.paints) > asked.paints:
        raise RequestError(
            f"{len(keep.paints)} paints are locked or in locked puddles, more than the "
            f"{asked.paints} allowed on the palette."
        )
    for q in sorted(keep.recipes):
        parts = len(plan.puddles[q].parts)
        if parts > asked.paints_per_puddle:
            raise RequestError(
                f"Puddle {plan.puddles[q].name} is locked and holds {parts} paints, more than the "
                f"{asked.paints_per_puddle} allowed."
            )


def _stays(keep: Held, cells: tuple[int, ...], layer: int) -> bool:
    return bool(keep.closed[list(cells), layer - 1].all())


def _decided(plan: Plan, keep: Held) -> Decided:
    tied = {int(q) for q in np.flatnonzero(keep.tied.any(axis=1))}
    kept = [*sorted(keep.recipes), *sorted(tied - keep.recipes)]  # those that stay come first
    index = {q: i for i, q in enumerate(kept)}
    coats = tuple(
        tuple((c[0], index[c[1]], c[2]) for c in own if keep.closed[cell, c[0] - 1])
        for cell, own in enumerate(plan.coats)
    )
    graded = [list(w.cells) for w in plan.washes if w.kind == "graded wash"]
    return Decided(
        cells=plan.cells,
        edges=plan.edges,
        graded=np.array(graded[0] if graded else [], dtype=np.int64),
        closed=keep.closed,
        coats=coats,
        shows=np.array([max((c[0] for c in own), default=0) for own in plan.coats], dtype=np.int64),
        recipes=tuple(_recipe(plan, q, keep) for q in kept),
        paints=frozenset(plan.paints[p].key for p in keep.paints),
        wishes=_wishes(plan),
    )


def _recipe(plan: Plan, q: int, keep: Held) -> Recipe:
    return Recipe(
        amounts={plan.paints[p].key: a for p, a in plan.puddles[q].parts},
        fixed=q in keep.recipes,
        must=frozenset(plan.paints[int(p)].key for p in np.flatnonzero(keep.tied[q])),
    )


def _wishes(plan: Plan) -> Mapping[int, FloatArray]:
    """Aims the painter set: those that are not the photo's own, tone-mapped."""
    plain = plan.tone(plan.targets)
    return {int(c): plan.aims[c] for c in np.flatnonzero((plain != plan.aims).any(axis=1))}


def _with_letters(before: Plan, after: Plan, keep: Held) -> Plan:
    """Locked puddles by their old letters, the others by the letters that are left."""
    now = [p.key for p in after.paints]
    locked = {
        before.puddles[q].name: frozenset(
            (now.index(before.paints[p].key), a) for p, a in before.puddles[q].parts
        )
        for q in sorted(keep.recipes)
    }
    taken: dict[int, str] = {}
    for name, parts in locked.items():
        for i, puddle in enumerate(after.puddles):
            if i not in taken and frozenset(puddle.parts) == parts:
                taken[i] = name
                break
    free = (n for i in range(2 * len(after.puddles) + 26) if (n := puddle_letter(i)) not in locked)
    puddles = tuple(
        replace(p, name=taken[i] if i in taken else next(free)) for i, p in enumerate(after.puddles)
    )
    idle = sorted(set(locked) - set(taken.values()))
    notes = after.notes
    if idle:
        notes = (*notes, f"Locked, though nothing here needs it: puddle {', '.join(idle)}.")
    return after.told_more(puddles=puddles, notes=notes)
