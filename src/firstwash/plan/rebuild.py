"""An edited plan put together again, with everything that did not change taken over.

Cells whose coats, and whose puddles, are the same keep their predicted colours; washes, puddles
and layers that nothing happened to are the same objects as before. Puddles keep their letters.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.plan.assemble import (
    UNJUDGED,
    doubts_of,
    puddle_of,
    separate_areas,
    stages_of,
    top_layers,
    wash_over,
)
from firstwash.plan.bench import Bench
from firstwash.plan.board.order import Paint, Step
from firstwash.plan.result import Plan
from firstwash.plan.retouch import retouched
from firstwash.plan.schedule import how_laid, in_order, schedule_of, with_touches
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Puddle, Wash, WashKind

__all__ = ["Coat", "Coats", "Mixed", "rebuilt"]

Coat = tuple[int, int, float]
Coats = tuple[tuple[Coat, ...], ...]


@dataclass(frozen=True, eq=False)
class Mixed:
    """Puddles of an edited plan: recipes (puddles, paints), one full coat each, and letters."""

    recipes: NDArray[np.float64]
    names: tuple[str, ...]

    @classmethod
    def of(cls, plan: Plan) -> "Mixed":
        """Those the plan has."""
        return cls(plan.recipes, tuple(p.name for p in plan.puddles))


def rebuilt(
    plan: Plan,
    coats: Coats,
    mixed: Mixed | None = None,
    aims: FloatArray | None = None,
    hurried: bool | None = None,
    redrawn: bool = False,
) -> Plan:
    """The plan with other coats per cell, puddles, aims or haste; it is not judged again.

    coats: puddle indices are those of `mixed`, whose first ones are the plan's own puddles, so
    that each keeps its index; puddles that no cell takes are left out. Fine strokes stay
    where they are and are predicted again where the sheet under them changed. hurried: as in
    Schedule; as the plan is unless given. redrawn: whether edges may be others than those the
    washes were laid by, so that layers they matter in are put in order again.
    """
    haste = plan.schedule.hurried if hurried is None else hurried
    work = _Rebuild(plan, coats, Mixed.of(plan) if mixed is None else mixed, haste, redrawn)
    washes, steps = work.layers()
    schedule = schedule_of(
        [(tuple(w for w in washes if w.layer == n), s) for n, s in enumerate(steps, 1)],
        plan.schedule.room,
        plan.sheet.weight_gsm,
        haste,
    )
    touches = work.touches()
    # Where no cell looks different, the picture drawn of the washes stays what it is.
    other = replace if work.changed.any() else Plan.told_more
    return other(
        plan,
        puddles=tuple(work.puddles(washes)),
        washes=washes,
        schedule=with_touches(schedule, touches, washes, plan.sheet.weight_gsm),
        coats=work.coats,
        aims=plan.aims if aims is None else np.array(aims, dtype=np.float64),
        stage_labs=work.stage_labs,
        doubts=work.doubts,
        report=UNJUDGED,
        touches=touches,
    )


class _Rebuild:
    def __init__(
        self, plan: Plan, coats: Coats, mixed: Mixed, hurried: bool, redrawn: bool
    ) -> None:
        self.plan, self.hurried, self.redrawn = plan, hurried, redrawn
        used = sorted({q for own in coats for _, q, _ in own})
        self.moved = {q: i for i, q in enumerate(used)}
        self.mixed = Mixed(mixed.recipes[used], tuple(mixed.names[q] for q in used))
        same = [q < len(plan.puddles) and _same(plan, mixed, q) for q in used]
        # Old number of each puddle that is as it was.
        self.kept = {i: q for i, (q, ok) in enumerate(zip(used, same, strict=True)) if ok}
        self.coats = tuple(_renumbered(own, self.moved) for own in coats)
        self.bench = Bench.of(plan.paints, plan.paper)
        self.ready = self.bench.puddles(self.mixed.recipes)
        self.areas = plan.cells.areas_mm2()
        self.changed = self._changed_cells()
        self.stage_labs, self.doubts = self._colours()
        self.old_washes = self._old_washes()

    def _changed_cells(self) -> NDArray[np.bool_]:
        before = {q: i for i, q in self.kept.items()}
        return np.array(
            [
                any(q not in before for _, q, _ in old) or _renumbered(old, before) != new
                for old, new in zip(self.plan.coats, self.coats, strict=True)
            ],
            dtype=np.bool_,
        )

    def _colours(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        labs, doubts = self.plan.stage_labs.copy(), self.plan.doubts.copy()
        cells = np.flatnonzero(self.changed)
        own = [self.coats[c] for c in cells]
        if len(cells):
            labs[:, cells] = stages_of(self.ready, own, self.plan.layers)
            doubts[cells] = doubts_of(self.plan.paper, self.plan.paints, self.mixed.recipes, own)
        return labs, doubts

    def _old_washes(self) -> Mapping[Coat, Wash]:
        """The plan's washes whose puddle is as it was, by what they are called now."""
        now = {q: i for i, q in self.kept.items()}
        return {
            (w.layer, now[w.puddle], w.strength): w for w in self.plan.washes if w.puddle in now
        }

    # --- washes ------------------------------------------------------------------

    def layers(self) -> tuple[tuple[Wash, ...], tuple[tuple[Step, ...], ...]]:
        """All washes, layer by layer in painting order, and the steps of every layer."""
        found = list(self._washes())
        washes: list[Wash] = []
        steps: list[tuple[Step, ...]] = []
        for layer in range(1, self.plan.layers + 1):
            own = [w for w in found if w.layer == layer]
            laid, order = self._layer(layer, own)
            washes += laid
            steps.append(order)
        return tuple(washes), tuple(steps)

    def _layer(self, layer: int, own: list[Wash]) -> tuple[tuple[Wash, ...], tuple[Step, ...]]:
        """The layer in painting order; worked out again only if painted otherwise."""
        plan, hurried = self.plan, self.hurried
        if self._as_before(layer, own):
            return tuple(own), plan.schedule.steps[layer - 1]
        laid = tuple(how_laid(own, plan.edges, plan.cells, top_layers(self.coats), hurried))
        room, weight = plan.schedule.room, plan.sheet.weight_gsm
        return in_order(laid, plan.edges, plan.cells, room, weight, hurried)

    def _as_before(self, layer: int, own: list[Wash]) -> bool:
        """Whether a layer's washes are those of the plan, and laid alike."""
        plan, hurried = self.plan, self.hurried
        before = plan.washes_of(layer)
        if hurried != plan.schedule.hurried or [w.number for w in own] != [
            w.number for w in before
        ]:
            return False
        if not all(
            a.cells == b.cells and a.stroke == b.stroke for a, b in zip(own, before, strict=True)
        ):
            return False
        if not self.redrawn:
            return True
        steps = plan.schedule.steps[layer - 1]
        if sum(len(s.ids) for s in steps if isinstance(s, Paint)) != len(own):
            return False  # one of the old washes has no place any more
        laid = how_laid(own, plan.edges, plan.cells, top_layers(self.coats), hurried)
        return all(
            a.technique == b.technique and np.allclose(a.edges_mm, b.edges_mm)
            for a, b in zip(laid, own, strict=True)
        )

    def _washes(self) -> Iterator[Wash]:
        """Washes of all layers, old ones first and in their order; new ones have number 0."""
        holders = self._holders()
        ordered = sorted(holders, key=self._place)
        for key in ordered:
            yield self._wash(key, holders[key])

    def _place(self, key: Coat) -> tuple[int, int, int, float]:
        old = self.old_washes.get(key)
        last = len(self.plan.washes) + 1
        return key[0], last if old is None else old.number, key[1], key[2]

    def _holders(self) -> dict[Coat, list[int]]:
        """Cells of every wash; a graded wash stands under its first strength."""
        graded = {c: w for w in self.plan.washes if w.kind == "graded wash" for c in w.cells}
        holders: dict[Coat, list[int]] = {}
        for cell, own in enumerate(self.coats):
            if cell in graded and own:
                first = self.coats[graded[cell].cells[0]][0]
                holders.setdefault(first, []).append(cell)
                continue
            for coat in own:
                holders.setdefault(coat, []).append(cell)
        return holders

    def _wash(self, key: Coat, members: list[int]) -> Wash:
        old = self.old_washes.get(key)
        kind = self._kind(key, members)
        same = old is not None and old.cells == tuple(members) and old.kind == kind
        if old is not None and same and not self.changed[members].any():
            return old if old.puddle == key[1] else replace(old, puddle=key[1])
        graded = kind == "graded wash"
        cells = np.array(members, dtype=np.int64)
        new = wash_over(
            self.ready,
            cells,
            key[0],
            tuple(int(s) for s in np.unique(self.plan.cells.shape_of[cells])),
            key[1],
            (key[2], self.coats[members[-1]][0][2] if graded else None),
            self.areas,
            self.stage_labs,
            kind,
        )
        if old is not None and same:  # the same areas over another ground
            return replace(old, puddle=key[1], before=new.before, after=new.after)
        return replace(new, areas=separate_areas(self.plan.cells, new.cells))

    def _kind(self, key: Coat, members: list[int]) -> WashKind:
        if any(w.kind == "graded wash" and members[0] in w.cells for w in self.plan.washes):
            return "graded wash"
        shape_of = self.plan.cells.shape_of
        first = all(self.coats[c][0] == key for c in members)
        return (
            "lead-in"
            if first and all(self._fewest(int(s)) > 1 for s in np.unique(shape_of[members]))
            else "wash"
        )

    def _fewest(self, shape: int) -> int:
        """Coats of the cell of a shape that has fewest, bare ones apart."""
        own = [len(self.coats[c]) for c in np.flatnonzero(self.plan.cells.shape_of == shape)]
        return min(n for n in own if n)

    # --- puddles and strokes -----------------------------------------------------

    def puddles(self, washes: Sequence[Wash]) -> Iterator[Puddle]:
        """The puddles; one whose recipe and washes are as they were is the same object."""
        for i, (name, recipe) in enumerate(zip(self.mixed.names, self.mixed.recipes, strict=True)):
            own = [w for w in washes if w.puddle == i]
            if i in self.kept and self._used_alike(self.kept[i], own):
                yield self.plan.puddles[self.kept[i]]
            else:
                yield puddle_of(i, name, recipe, self.ready, own, self.plan.paints)

    def _used_alike(self, old: int, own: Sequence[Wash]) -> bool:
        def use(washes: Sequence[Wash]) -> set[tuple[float, float, str]]:
            return {(w.area_mm2, w.strength, w.technique) for w in washes}

        return use(own) == use([w for w in self.plan.washes if w.puddle == old])

    def touches(self) -> tuple[Touch, ...]:
        """The fine strokes over the sheet as it will be."""
        return retouched(
            self.plan, self.bench, self.mixed.recipes, self.kept, self.stage_labs, self.changed
        )


def _same(plan: Plan, mixed: Mixed, q: int) -> bool:
    return plan.puddles[q].name == mixed.names[q] and bool(
        (mixed.recipes[q] == plan.recipes[q]).all()
    )


def _renumbered(own: tuple[Coat, ...], moved: Mapping[int, int]) -> tuple[Coat, ...]:
    """The coats with new puddle numbers; the same object if nothing changes."""
    if all(moved.get(q) == q for _, q, _ in own):
        return own
    return tuple((layer, moved[q], s) for layer, q, s in own)
