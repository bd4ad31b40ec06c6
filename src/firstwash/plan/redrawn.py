"""A plan carried over to another drawing: what nothing happened to stays, cell by cell.

Shapes with the same pixels as before keep their cells. The others are divided into levels
anew, and each of their cells takes over the coats of the old cell that lies under most of it.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.picture.drawing import Drawing, window_of
from firstwash.picture.edges import Edges
from firstwash.picture.first_drawing import graded_strips
from firstwash.picture.reference import Reference
from firstwash.picture.regions import compact_labels
from firstwash.picture.shapes import Cells, find_cells
from firstwash.picture.texture import roughness
from firstwash.plan.assemble import separate_areas, wash_over
from firstwash.plan.bare import keeps_bare
from firstwash.plan.bench import Bench
from firstwash.plan.planner import most_levels
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["Redrawn", "carried", "redrawn"]

MARGIN_PX = 4  # around what is divided anew: more than a median reaches

Coat = tuple[int, int, float]


@dataclass(frozen=True, eq=False)
class Redrawn:
    """The cells of a new drawing.

    origin: (n,) the old cell each goes on from. fresh: (n,) whether its place is not just that
    of an old cell. bare: (n,) reserves; strip: (n,) steps of a graded background.
    """

    cells: Cells
    origin: NDArray[np.int64]
    fresh: NDArray[np.bool_]
    bare: NDArray[np.bool_]
    strip: NDArray[np.bool_]


def redrawn(
    plan: Plan,
    reference: Reference,
    lab: FloatArray,
    drawing: Drawing,
    locked: Collection[int] = (),
) -> Redrawn:
    """The cells of a drawing, as far as possible those of a plan.

    lab (rows, cols, 3): of the reference. locked: layers whose coats stay where they are: a
    shape that has changed is parted where they differ, so shapes beyond the drawing's may come
    last; otherwise the shapes have the drawing's numbers.
    """
    labels, drawn = drawing.shapes, np.arange(drawing.count)
    same = _same(plan, labels, drawn, drawing.reserves)
    if locked:
        labels, drawn = _parted(plan, labels, np.flatnonzero(same < 0), locked)
        same = _same(plan, labels, drawn, drawing.reserves)
    bare = np.isin(drawn, sorted(drawing.reserves))
    strip = np.isin(drawn, graded_strips(reference, drawing.shapes, drawing.reserves))
    new = _new_cells(plan, reference, lab, labels, same, bare | strip)
    return _joined(plan, same, new, bare, strip)


def _same(
    plan: Plan, labels: IntArray, drawn: IntArray, reserves: Collection[int]
) -> NDArray[np.int64]:
    """For each label the plan's shape with just its pixels, as bare as it is to be; or −1."""
    was = plan.cells.shape_of[plan.cells.index]
    count = plan.cells.shapes
    keys, both = np.unique(labels.astype(np.int64) * count + was, return_counts=True)
    new, old = np.divmod(keys, count)
    whole = (both == np.bincount(labels.ravel())[new]) & (both == np.bincount(was.ravel())[old])
    bare = np.zeros(count, dtype=np.bool_)
    bare[plan.cells.shape_of[keeps_bare(plan.aims, plan.paper)]] = True
    whole &= np.isin(drawn[new], sorted(reserves)) == bare[old]
    same = np.full(len(drawn), -1, dtype=np.int64)
    same[new[whole]] = old[whole]
    return same


def _parted(
    plan: Plan, shapes: IntArray, changed: IntArray, locked: Collection[int]
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Shapes parted where locked coats differ, and the drawing's number of each part."""
    kept = [tuple(c for c in own if c[0] in locked) for own in plan.coats]
    number = {own: i for i, own in enumerate(dict.fromkeys(kept))}
    lies = np.array([number[own] for own in kept])[plan.cells.index]
    labels, drawn = shapes.astype(np.int32), list(range(int(shapes.max()) + 1))
    for shape in changed.tolist():
        inside = shapes == shape
        found, counts = np.unique(lies[inside], return_counts=True)
        for part in found[np.lexsort((found, -counts))][1:]:
            labels[inside & (lies == part)] = len(drawn)
            drawn.append(shape)
    return labels, np.array(drawn, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class _New:
    """Cells of the shapes that changed, in a window of the picture.

    index: (rows, cols) of the window; label_of: (n_cells,) label of each, −1 for all the rest.
    rough: by label.
    """

    window: tuple[slice, slice]
    index: NDArray[np.int32]
    label_of: NDArray[np.int64]
    rough: Mapping[int, float]


def _new_cells(
    plan: Plan,
    reference: Reference,
    lab: FloatArray,
    labels: IntArray,
    same: IntArray,
    flat: BoolArray,
) -> _New | None:
    """Levels of all labels that are not the `same` as an old shape; `flat` ones have just one."""
    changed = same[labels] < 0
    if not changed.any():
        return None
    window = _aligned(window_of(changed, MARGIN_PX), max(1, int(plan.cells.ppmm)))
    near = np.where(changed[window], labels[window], -1)
    here = np.unique(near)
    local, seen = compact_labels(near), lab[window]
    limits = replace(plan.limits.for_shapes(), levels=plan.layers)
    most = most_levels(seen, local, plan.layers)
    most[(here < 0) | flat[here]] = 1
    found = find_cells(seen, local, plan.cells.ppmm, limits, most, reference.weight[window])
    rough = roughness(seen[..., 0], local, plan.cells.ppmm)
    return _New(
        window, found.index, here[found.shape_of], dict(zip(here.tolist(), rough, strict=True))
    )


def _aligned(window: tuple[slice, slice], step: int) -> tuple[slice, slice]:
    """The window begun where the whole picture's samples lie."""
    rows, cols = (slice(s.start - s.start % step, s.stop) for s in window)
    return rows, cols


def _joined(
    plan: Plan,
    same: IntArray,
    new: _New | None,
    bare: BoolArray,
    strip: BoolArray,
) -> Redrawn:
    """Old and new cells in one map, shape by shape."""
    old = plan.cells
    from_old = np.full(old.count, -1, dtype=np.int64)
    from_new = np.full(0 if new is None else len(new.label_of), -1, dtype=np.int64)
    origin: list[int] = []
    label_of: list[int] = []
    for label, was in enumerate(same.tolist()):
        if was >= 0:
            own = np.flatnonzero(old.shape_of == was)
            from_old[own] = len(origin) + np.arange(len(own))
            origin += own.tolist()
        else:
            assert new is not None
            own = np.flatnonzero(new.label_of == label)
            from_new[own] = len(origin) + np.arange(len(own))
            origin += [-1] * len(own)
        label_of += [label] * len(own)
    index = from_old[old.index]
    if new is not None:
        part = from_new[new.index]
        index[new.window] = np.where(part >= 0, part, index[new.window])
    shape_of = np.array(label_of, dtype=np.int32)
    level = np.arange(len(shape_of)) - np.searchsorted(shape_of, shape_of)
    rough = [
        float(old.rough[was]) if was >= 0 else new.rough[label]  # type: ignore[union-attr]
        for label, was in enumerate(same.tolist())
    ]
    cells = Cells(
        index.astype(np.int32), shape_of, level.astype(np.int32), old.ppmm, np.array(rough)
    )
    found = Redrawn(cells, np.array(origin), np.array(origin) < 0, bare[shape_of], strip[shape_of])
    for fresh, goes_on in _origins(plan, found):
        found.origin[fresh] = goes_on
    return found


def _origins(plan: Plan, found: Redrawn) -> Iterator[tuple[int, int]]:
    """Fresh cells, each with the old one it goes on from.

    All cells of a shape go on from one old shape, the painted one it covers most of; a darker
    cell never from one with fewer coats than a lighter.
    """
    fresh = found.fresh[found.cells.index]
    keys, shared = np.unique(
        found.cells.index[fresh].astype(np.int64) * plan.cells.count + plan.cells.index[fresh],
        return_counts=True,
    )
    new, old = np.divmod(keys, plan.cells.count)
    was_bare = keeps_bare(plan.aims, plan.paper)[old]
    for shape in np.unique(found.cells.shape_of[found.fresh]).tolist():
        here = found.cells.shape_of[new] == shape
        if (here & ~was_bare).any():
            here &= ~was_bare
        host = int(np.bincount(plan.cells.shape_of[old[here]], shared[here]).argmax())
        here &= plan.cells.shape_of[old] == host
        last = int(old[here][0])
        for cell in np.flatnonzero(found.cells.shape_of == shape).tolist():
            mine = here & (new == cell)
            best = int(old[mine][shared[mine].argmax()]) if mine.any() else last
            fewer = len(plan.coats[best]) < len(plan.coats[last])
            if not fewer or cell == int(np.searchsorted(found.cells.shape_of, shape)):
                last = best
            yield cell, last


def carried(plan: Plan, found: Redrawn, edges: Edges) -> Plan:
    """The plan on other cells, each with the coats of the one it goes on from.

    Targets and aims are carried over too; the schedule is still the old one.
    """
    coats = tuple(plan.coats[c] for c in found.origin.tolist())
    base = replace(
        plan,
        cells=found.cells,
        edges=edges,
        coats=coats,
        targets=plan.targets[found.origin],
        aims=plan.aims[found.origin],
        stage_labs=np.ascontiguousarray(plan.stage_labs[:, found.origin]),
        doubts=plan.doubts[found.origin],
    )
    return replace(base, washes=tuple(_washes(plan, base, found)))


def _washes(before: Plan, after: Plan, found: Redrawn) -> Iterator[Wash]:
    """The old washes where they lie now, under their old numbers; those without a place go."""
    now: dict[int, list[int]] = {}
    for cell, old in enumerate(found.origin.tolist()):
        now.setdefault(old, []).append(cell)
    ready = Bench.of(after.paints, after.paper).puddles(after.recipes)
    areas = after.cells.areas_mm2()
    for wash in before.washes:
        own = sorted(c for old in wash.cells for c in now.get(old, ()))
        if not own:
            continue
        cells = np.array(own, dtype=np.int64)
        shapes = tuple(int(s) for s in np.unique(after.cells.shape_of[cells]))
        if not found.fresh[cells].any() and len(own) == len(wash.cells):
            yield replace(wash, cells=tuple(own), shapes=shapes)
            continue
        new = wash_over(
            ready, cells, wash.layer, shapes, wash.puddle, (wash.strength, wash.end_strength),
            areas, after.stage_labs, wash.kind,
        )  # fmt: skip
        yield replace(new, number=wash.number, areas=separate_areas(after.cells, new.cells))
