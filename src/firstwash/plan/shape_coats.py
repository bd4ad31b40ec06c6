"""New coats for one shape, from the puddles and washes that a plan has already.

This is what happens while a painter waits with the finger on a shape: no recipe changes and no
other shape is touched. Each coat either joins a wash that is laid anyway, or is a wash of its
own out of one of the puddles; the second only where it earns its place and washes are left.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench, SheetOptics
from firstwash.plan.kernels import SAVING
from firstwash.plan.locks import NO_LOCKS, Held, Locks, held
from firstwash.plan.puddles import IDLE
from firstwash.plan.result import Plan
from firstwash.plan.shape_kernels import EMPTY, KEPT, OWN, SHARED, refit_slots, settle, settle_pairs
from firstwash.plan.stacks import (
    COAT_PRICE,
    FIRST_WASH_LIGHTNESS,
    LEAD_IN_WEIGHT,
    RESERVE_BELOW,
    coat_choices,
    lead_in,
)

__all__ = ["EditDesk", "ShapeCoats", "Wish", "solve_shape"]

OWN_PRICE = (
    1.0  # mean squared CIEDE2000 that a wash of the shape's own must earn, where few are left
)
SWEEPS = np.int64(2)  # through the slots
LIKELY = np.int64(3)  # choices per slot that are tried in earnest
PAIRED = np.int64(12)  # washes of a slot that are tried together with those of another
LAST_ROUNDS = np.int64(12)
CHOICES = 3  # ways to give levels their coats that are tried
GOOD = 1.0  # mean squared CIEDE2000 below which no further way is tried: nobody would see it

Coat = tuple[int, int, float]


@dataclass(frozen=True, eq=False)
class _Ready:
    """Puddles as the kernels take them: curves (k, s, loads) and light (sheet, weights, white)."""

    curves: tuple[FloatArray, FloatArray, FloatArray]
    light: tuple[SheetOptics, FloatArray, FloatArray]

    @classmethod
    def of(cls, bench: Bench) -> "_Ready":
        return cls((bench.k, bench.s, bench.loads), (bench.sheet, bench.weights, bench.white))


@dataclass(frozen=True, eq=False)
class _Washes:
    """Washes that may be joined: slot (0 …), puddle, strength, and the shapes that hold each."""

    slot: NDArray[np.int64]
    puddle: NDArray[np.int64]
    strength: NDArray[np.float64]
    shapes: tuple[frozenset[int], ...]
    open_: NDArray[np.bool_]

    @classmethod
    def of(cls, plan: Plan, keep: Held) -> "_Washes":
        plain = [w for w in plan.washes if w.kind != "graded wash"]
        return cls(
            np.array([w.layer - 1 for w in plain], dtype=np.int64),
            np.array([w.puddle for w in plain], dtype=np.int64),
            np.array([w.strength for w in plain], dtype=np.float64),
            tuple(frozenset(w.shapes) for w in plain),
            np.array(
                [(w.layer, w.puddle, w.strength) not in keep.shut for w in plain], dtype=np.bool_
            ),
        )

    def without(self, shape: int) -> NDArray[np.bool_]:
        """Which of them are laid even without this shape."""
        return np.array([bool(s - {shape}) for s in self.shapes], dtype=np.bool_)


class EditDesk:
    """What all edits of shapes of one plan share; made once per plan and locks."""

    def __init__(self, plan: Plan, locks: Locks = NO_LOCKS) -> None:
        """Raises RequestError for locks that the plan does not have."""
        self.plan, self.held = plan, held(plan, locks)
        self.bench = Bench.of(plan.paints, plan.paper).puddles(plan.recipes)
        self.fine, self.coarse = _Ready.of(self.bench), _Ready.of(self.bench.coarse())
        self.areas = plan.cells.areas_mm2()
        self.washes = _Washes.of(plan, self.held)
        self.paper = self.bench.labs(np.zeros((0, self.bench.colours)))[0]
        self.prices = np.full((plan.layers, self.bench.colours), SAVING)
        self.graded = frozenset(s for w in plan.washes if w.kind == "graded wash" for s in w.shapes)

    def room(self, elsewhere: int) -> int:
        """How many washes of its own a shape may have beside those laid elsewhere."""
        most = self.plan.limits.washes
        return self.plan.layers if most is None else max(most - elsewhere, 0)


@dataclass(frozen=True, eq=False)
class Wish:
    """Colours wanted for cells of one shape.

    cells (n,), aims (n, 3) CIELAB: light to dark. bare: whether the lightest may be left, or
    become, bare paper.
    """

    shape: int
    cells: NDArray[np.int64]
    aims: NDArray[np.float64]
    bare: bool


@dataclass(frozen=True, eq=False)
class ShapeCoats:
    """What a shape gets.

    coats: per cell of the wish, bottom to top, the (layer 1 …, puddle, strength). labs:
    (layers + 1, n, 3) predicted CIELAB after 0, 1, … layers. own: which of the coats are a
    wash that nothing else in the plan has. miss: mean CIEDE2000 by area from what was wished.
    """

    wish: Wish
    coats: tuple[tuple[Coat, ...], ...]
    labs: NDArray[np.float64]
    own: tuple[Coat, ...]
    miss: float


@dataclass(eq=False)
class _Slots:
    """State of a search: puddle, strength and kind of every slot, and its cost."""

    puddle: NDArray[np.int64]
    strength: NDArray[np.float64]
    kind: NDArray[np.int64]
    cost: float = np.inf

    def copy(self) -> "_Slots":
        return _Slots(self.puddle.copy(), self.strength.copy(), self.kind.copy(), self.cost)


def solve_shape(desk: EditDesk, wish: Wish) -> ShapeCoats:
    """The coats that bring a shape closest to a wish, nothing else in the plan changed.

    Holds: cells take coats in the order of the wish, each one those of the cell before and
    maybe more; what is locked stays; coats over their load, and coats that lighten the sheet,
    are priced as in the planner.
    """
    weights = desk.areas[wish.cells] / desk.areas[wish.cells].sum()
    search = _Search(desk, wish, weights)
    best: tuple[float, _Slots, NDArray[np.int64]] | None = None
    for counts in search.choices():
        slots = search.best(counts)
        price = slots.cost + COAT_PRICE * int((slots.puddle[: counts.max(initial=0)] >= 0).sum())
        if best is None or price < best[0] - 1e-9:
            best = (price, slots, counts)
        if slots.cost < GOOD:
            break
    assert best is not None
    return search.told(best[1], best[2])


class _Search:
    """One shape's search."""

    def __init__(self, desk: EditDesk, wish: Wish, weights: FloatArray) -> None:
        self.desk, self.wish, self.weights = desk, wish, weights
        self.layers = desk.plan.layers
        washes = desk.washes
        others = washes.without(wish.shape)
        graded = sum(w.kind == "graded wash" for w in desk.plan.washes)
        self.most_own = desk.room(int(others.sum()) + graded)
        limited = desk.plan.limits.washes is not None
        join = others & washes.open_ & limited
        self.joined = tuple(
            np.ascontiguousarray(a[join]) for a in (washes.slot, washes.puddle, washes.strength)
        )
        self.own_price = OWN_PRICE if limited else 0.0
        self.shared = {
            (int(s) + 1, int(q), float(x))
            for s, q, x in zip(
                washes.slot[others], washes.puddle[others], washes.strength[others], strict=True
            )
        }
        self.now = self._now()
        self.holds = self._decided()

    def _now(self) -> _Slots:
        """The slots as the plan has them: every cell shows the first so many of them."""
        slots = self._empty()
        for cell in self.wish.cells.tolist():
            for layer, puddle, strength in self.desk.plan.coats[cell]:
                slots.puddle[layer - 1], slots.strength[layer - 1] = puddle, strength
                joined = (layer, puddle, strength) in self.shared
                slots.kind[layer - 1] = SHARED if joined else OWN
        closed = self.desk.held.closed[self.wish.cells].any(axis=0)
        slots.kind[closed] = KEPT
        return slots

    def _decided(self) -> NDArray[np.bool_]:
        """Where (n, layers) the cells have a coat that may not change."""
        out = np.zeros((len(self.wish.cells), self.layers), dtype=np.bool_)
        for i, cell in enumerate(self.wish.cells.tolist()):
            for layer, _, _ in self.desk.plan.coats[cell]:
                out[i, layer - 1] = self.desk.held.closed[cell, layer - 1]
        return out

    def _empty(self) -> _Slots:
        n = self.layers
        return _Slots(np.full(n, EMPTY), np.zeros(n), np.full(n, SHARED))

    def _blank(self) -> _Slots:
        """Nothing but what may not change."""
        slots = self.now.copy()
        free = slots.kind != KEPT
        slots.puddle[free], slots.strength[free], slots.kind[free] = EMPTY, 0.0, SHARED
        return slots

    def counts_now(self) -> NDArray[np.int64]:
        """Slots (n,) that each cell of the wish shows in the plan, made to rise."""
        tops = [max((c[0] for c in self.desk.plan.coats[i]), default=0) for i in self.wish.cells]
        return np.maximum.accumulate(np.array(tops, dtype=np.int64))

    def choices(self) -> Iterator[NDArray[np.int64]]:
        """Ways to give the cells their coats that keep what is locked where it is."""
        light = self.wish.aims[0]
        bare = self.wish.bare and float(delta_e_2000(light, self.desk.paper)) < RESERVE_BELOW
        painted = self.wish.aims[int(bare) :]
        pale = not len(painted) or painted[0][0] >= FIRST_WASH_LIGHTNESS
        plain = coat_choices(len(self.wish.cells), self.layers, bare, bool(pale))
        every = [self.counts_now(), *(np.array(c, dtype=np.int64) for c in plain)]
        if not bare:
            every[0] = np.maximum(every[0], 1)
        seen: list[tuple[int, ...]] = []
        for counts in every:
            if tuple(counts) not in seen and self._keeps(counts) and len(seen) < CHOICES:
                seen.append(tuple(counts))
                yield counts
        if not seen:
            yield self.counts_now()

    def _keeps(self, counts: NDArray[np.int64]) -> bool:
        """Whether every cell shows the locked coats it has, and no others."""
        kept = (self.now.kind == KEPT) & (self.now.puddle != EMPTY)
        shown = counts[:, None] > np.arange(self.layers)
        return bool((shown == self.holds)[:, kept].all())

    def rows(self, counts: NDArray[np.int64]) -> NDArray[np.float64]:
        """Aims (m, 5) of the kernels: the cells, and the pale lead-in under a dark shape."""
        rows = [
            [float(n), *aim, w]
            for n, aim, w in zip(counts, self.wish.aims, self.weights, strict=True)
        ]
        painted = counts[counts > 0]
        if len(painted) and painted.min() > 1 and self.now.kind[0] != KEPT:
            lightest = self.wish.aims[int(np.flatnonzero(counts > 0)[0])]
            rows.append([1.0, *lead_in(lightest), LEAD_IN_WEIGHT])
        return np.array(rows, dtype=np.float64)

    def best(self, counts: NDArray[np.int64]) -> _Slots:
        """The best coats for one way, from bare paper and from what is there."""
        rows = self.rows(counts)
        top = int(counts.max(initial=0))
        starts = [self._blank()]
        if (counts >= self.counts_now()).all():  # what is there shows what it showed
            starts.append(self.now.copy())
        views = [_Slots(s.puddle[:top], s.strength[:top], s.kind[:top]) for s in starts]
        cap = FIRST_WASH_LIGHTNESS if self.layers > 1 else 0.0
        for view in views:
            self._make_room(view)
            self._settle(view, rows, cap)
        chosen = min(range(len(starts)), key=lambda i: views[i].cost)
        slots, view = starts[chosen], views[chosen]
        if len(self.joined[0]) and self._pair(view, rows, cap):
            self._settle(view, rows, cap)
        slots.cost = self._finish(view, rows, cap)
        slots.cost += self.own_price * int(((view.kind == OWN) & (view.puddle >= 0)).sum())
        return slots

    def _settle(self, slots: _Slots, rows: FloatArray, cap: float) -> None:
        ready = self.desk.coarse
        slots.cost = settle(
            slots.puddle, slots.strength, slots.kind, self.joined, np.int64(self.most_own),
            self.own_price, self.desk.prices, ready.curves, ready.light, rows, cap, SWEEPS, LIKELY,
        )  # fmt: skip

    def _pair(self, slots: _Slots, rows: FloatArray, cap: float) -> bool:
        ready = self.desk.coarse
        return bool(
            settle_pairs(
                slots.puddle, slots.strength, slots.kind, self.joined, self.desk.prices,
                ready.curves, ready.light, rows, cap, PAIRED,
            )
        )  # fmt: skip

    def _make_room(self, slots: _Slots) -> None:
        """Drop own coats, faintest first, beyond those there is room for."""
        own = np.flatnonzero((slots.kind == OWN) & (slots.puddle >= 0))
        order = own[np.argsort(slots.strength[own], kind="stable")]
        for i in order[: max(len(own) - self.most_own, 0)]:
            slots.puddle[i], slots.strength[i], slots.kind[i] = EMPTY, 0.0, SHARED

    def _refit(self, slots: _Slots, rows: FloatArray, cap: float) -> float:
        ready = self.desk.fine
        cost = refit_slots(
            slots.puddle, slots.strength, slots.kind, self.desk.prices, ready.curves, ready.light,
            rows, cap, LAST_ROUNDS,
        )  # fmt: skip
        return float(cost)

    def _finish(self, slots: _Slots, rows: FloatArray, cap: float) -> float:
        """Strengths at full precision, without coats that nobody would see."""
        cost = self._refit(slots, rows, cap)
        labs = self._labs(slots)
        idle = (delta_e_2000(labs[1:], labs[:-1]) < IDLE) & (slots.kind != KEPT)
        if (idle & (slots.puddle != EMPTY)).any():
            slots.puddle[idle], slots.strength[idle], slots.kind[idle] = EMPTY, 0.0, SHARED
            cost = self._refit(slots, rows, cap)
        own = slots.kind == OWN
        slots.strength[own] = np.minimum(slots.strength[own], 1.0)
        return cost

    def _labs(self, slots: _Slots) -> NDArray[np.float64]:
        """CIELAB (slots + 1, 3) after each slot."""
        amounts = np.zeros((len(slots.puddle), self.desk.bench.colours))
        laid = np.flatnonzero(slots.puddle != EMPTY)
        amounts[laid, slots.puddle[laid]] = slots.strength[laid]
        # A coat sinks into bare paper wherever it is the first, so the empty slots go.
        labs = self.desk.bench.labs(np.ascontiguousarray(amounts[laid]))
        shown = np.searchsorted(laid, np.arange(len(slots.puddle) + 1))
        return labs[shown]

    def told(self, slots: _Slots, counts: NDArray[np.int64]) -> ShapeCoats:
        """The answer, cell by cell."""
        laid: list[Coat] = [
            (i + 1, int(q), float(x))
            for i, (q, x) in enumerate(zip(slots.puddle, slots.strength, strict=True))
            if q != EMPTY and x > 0.0
        ]
        coats = tuple(tuple(c for c in laid if c[0] <= n) for n in counts.tolist())
        labs = self._labs(slots)
        until = np.minimum(np.arange(self.layers + 1)[:, None], counts)
        shown = labs[until]
        miss = float(delta_e_2000(shown[-1], self.wish.aims) @ self.weights)
        used = {c for own in coats for c in own}
        return ShapeCoats(
            wish=self.wish,
            coats=coats,
            labs=shown,
            own=tuple(c for c in laid if c in used and c not in self.shared),
            miss=miss,
        )
