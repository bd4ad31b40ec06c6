"""From a reference and paints to a plan: the main road."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.picture.reference import BACKGROUND, Reference
from firstwash.picture.shapes import Cells, find_cells, find_shapes, lightest
from firstwash.picture.texture import roughness
from firstwash.plan.assemble import Coats, Solution, assemble
from firstwash.plan.bench import Bench
from firstwash.plan.graded import GradedWash, fit_graded_wash, strips
from firstwash.plan.handling import PaintPrices, StackPrices, glows, price_paints
from firstwash.plan.palette import choose_paints, colour_groups, floor_for
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.puddles import Mixing, drop_idle_coats, own_puddles, share_puddles
from firstwash.plan.report import make_report
from firstwash.plan.result import Plan
from firstwash.plan.say import Say, heard
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS, Stack, in_parallel, prune, solve_stack
from firstwash.plan.tone import ToneMap
from firstwash.plan.washes import share_washes

__all__ = ["make_plan"]


def make_plan(
    reference: Reference,
    paints: Sequence[Paint],
    limits: Limits | None = None,
    paper: Paper | None = None,
    progress: Progress = no_progress,
) -> Plan:
    """Plan the painting of a reference with these paints.

    paints: all the painter owns; at most `limits.paints` of them go on the palette.
    progress: called between steps; what it raises stops the work.
    Raises PaintError for paints that cannot make a plan.
    """
    asked = limits or Limits()
    ground = paper or default_paper()
    say = heard(tuple(paints), asked, ground)
    owned = say.paints
    progress("Finding the shapes", 0.0)
    cells, graded = _find_cells(reference, asked)
    targets = cells.mean(reference.lab, reference.weight)
    areas = np.bincount(cells.index.ravel(), reference.weight.ravel()) / reference.ppmm**2
    progress("Choosing the paints", 0.3)
    box = Bench.of(owned, ground).limited(say.shares)
    chosen = _choose(box, targets, areas, asked.paints, say.must)
    bench = box.only(chosen)
    tone = _tone(bench, targets, areas)
    progress("Working out the layers", 0.5)
    rough = roughness(reference.lab[..., 0], cells.shape_of[cells.index], reference.ppmm)
    prices = price_paints(bench, [owned[i] for i in chosen], asked.handling)
    job = _Job(bench, cells, tone(targets), areas, asked, graded, prices, rough)
    coats = _solve(job, progress)
    progress("Checking the result", 0.85)
    plan = assemble(
        Solution(bench, cells, coats, asked.layers, graded),
        sheet=reference.sheet,
        paper=ground,
        paints=tuple(owned[i] for i in chosen),
        limits=asked,
        tone=tone,
        background=reference.background,
        targets=targets,
        aims=job.aims,
        photo_px=reference.photo_px,
    )
    plan = replace(plan, report=make_report(plan, reference, box), notes=_notes(plan, say))
    progress("Done", 1.0)
    return plan


@dataclass(frozen=True, eq=False)
class _Job:
    """What the solving steps share.

    areas (n_cells,): mm², importance included. rough (n_shapes,): 0-1, how rough each looks.
    """

    bench: Bench
    cells: Cells
    aims: NDArray[np.float64]
    areas: NDArray[np.float64]
    limits: Limits
    graded: NDArray[np.int64]
    prices: PaintPrices
    rough: NDArray[np.float64]


def _find_cells(reference: Reference, limits: Limits) -> tuple[Cells, NDArray[np.int64]]:
    """Cells, and those among them that are strips of a graded background, in order."""
    lab = reference.lab
    shape_limits = limits.for_shapes()
    shapes = find_shapes(lab, reference.ppmm, shape_limits, reference.weight, reference.zone)
    graded = reference.background == "graded"
    if graded:
        inside = reference.zone == BACKGROUND
        shapes = np.where(inside, shapes.max() + 1 + strips(reference), shapes)
        shapes = np.unique(shapes, return_inverse=True)[1].reshape(shapes.shape).astype(np.int32)
    pale = lightest(lab, shapes) >= FIRST_WASH_LIGHTNESS
    most = np.where(pale, limits.layers, max(limits.layers - 1, 1))
    strip_shapes = np.unique(shapes[reference.zone == BACKGROUND]) if graded else np.empty(0, int)
    most[strip_shapes] = 1
    cells = find_cells(lab, shapes, reference.ppmm, shape_limits, most)
    return cells, np.flatnonzero(np.isin(cells.shape_of, strip_shapes))


def _choose(
    box: Bench, targets: FloatArray, areas: FloatArray, most: int, must: Sequence[int]
) -> list[int]:
    """At most `most` paints for the palette, those of `must` among them, in the set's order.

    One at least may fill a puddle alone: where all are limited, the last gives way to one.
    """
    groups, weights = colour_groups(_tone(box, targets, areas)(targets), areas)
    rest = [p for p in range(box.colours) if p not in must]
    room = most - len(must)
    added = choose_paints(box.only(rest), groups, weights, room) if rest and room else []
    chosen = [*must, *(rest[i] for i in added)]
    free = np.flatnonzero(box.shares >= 1.0)
    if not set(chosen) & set(free.tolist()):
        only = choose_paints(box.only(free.tolist()), groups, weights, 1)
        chosen[min(len(chosen), most - 1) :] = [int(free[only[0]])]
    return sorted(chosen)


def _tone(bench: Bench, targets: FloatArray, areas: FloatArray) -> ToneMap:
    white = float(bench.labs(np.zeros((0, bench.colours)))[0][0])
    return ToneMap(floor=min(floor_for(bench, targets, areas), white), ceiling=white)


def _solve(job: _Job, progress: Progress) -> Coats:
    limits = job.limits
    plain = np.setdiff1d(np.unique(job.cells.shape_of), job.cells.shape_of[job.graded])
    stacks = in_parallel(lambda shape: _stack(job, int(shape)), plain)
    progress("Sharing the puddles", 0.65)
    graded = _graded(job)
    room = None if limits.puddles is None else limits.puddles - (graded is not None)
    stacks, mixing = _mix(job.bench, stacks, room, limits.paints_per_puddle)
    if limits.washes is not None:
        most = max(limits.washes - (graded is not None), 1)
        stacks, mixing = share_washes(job.bench, stacks, mixing, most, limits.paints_per_puddle)
    return Coats(stacks, mixing, graded)


def _stack(job: _Job, shape: int) -> Stack:
    cells = np.flatnonzero(job.cells.shape_of == shape)
    aims, areas = job.aims[cells], job.areas[cells]
    handling = StackPrices(
        job.prices, areas / areas.sum(), 1.0 - float(job.rough[shape]), glows(aims)
    )
    return solve_stack(job.bench, shape, cells, aims, areas, job.limits.layers, handling=handling)


def _mix(
    bench: Bench, stacks: list[Stack], most: int | None, paints_per_puddle: int
) -> tuple[list[Stack], Mixing]:
    thinned = in_parallel(lambda s: prune(bench, s, paints_per_puddle), stacks)
    washes = sum(len(s.amounts) for s in thinned)
    if most is None or washes <= most:
        mixing = own_puddles(bench, thinned)
    else:
        mixing = share_puddles(bench, thinned, max(most, 1), paints_per_puddle)
    return drop_idle_coats(bench, thinned, mixing)


def _graded(job: _Job) -> GradedWash | None:
    if not len(job.graded):
        return None
    place = (np.arange(len(job.graded)) + 0.5) / max(len(job.graded), 1)
    aims = job.aims[job.graded]
    return fit_graded_wash(job.bench, aims, place, job.limits.paints_per_puddle)


def _notes(plan: Plan, say: Say) -> tuple[str, ...]:
    notes = list(say.notes)
    used = {p for puddle in plan.puddles for p, _ in puddle.parts}
    wanted = {say.paints[i].key for i in say.must}
    idle = [p.name for i, p in enumerate(plan.paints) if p.key in wanted and i not in used]
    if idle:
        notes.append(f"On the palette as you asked, though no puddle needs it: {', '.join(idle)}.")
    if any(p.provenance == "estimated" for p in plan.paints):
        names = ", ".join(p.name for p in plan.paints if p.provenance == "estimated")
        notes.append(f"Estimated paints, not measured: {names}.")
    notes.append(
        "Pale washes and glazes over dry paint are predicted by the model; no open "
        "measurement covers them. Paint a test strip first."
    )
    return tuple(notes)
