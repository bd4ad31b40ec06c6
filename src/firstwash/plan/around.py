"""Stacks solved around coats that are decided already.

An earlier plan hands on its drawing, and with it coats that stay: a painted layer, a wash the
painter likes. They lie in the stacks as they are; the coats between and over them are fitted as
in any other stack.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint
from firstwash.picture.edges import Edges
from firstwash.picture.shapes import Cells
from firstwash.plan.bench import Bench
from firstwash.plan.graded import GradedWash
from firstwash.plan.handling import StackPrices
from firstwash.plan.kept import FREE, HeldCoats, RecipeRules
from firstwash.plan.problem import Limits
from firstwash.plan.stacks import (
    COAT_PRICE,
    FIRST_WASH_LIGHTNESS,
    RESERVE_BELOW,
    STARTS,
    Stack,
    aim_rows,
    coat_choices,
    prices_for,
    weakest,
)

__all__ = ["Decided", "HeldShape", "KeptCoats", "Recipe", "solve_around"]

Coat = tuple[int, int, float]


@dataclass(frozen=True)
class Recipe:
    """A puddle of an earlier plan: amounts by paint key; whether it may not change; keys of
    paints that must stay in it.
    """

    amounts: Mapping[str, float]
    fixed: bool
    must: frozenset[str] = frozenset()


@dataclass(frozen=True, eq=False)
class Decided:
    """What an earlier plan hands on.

    cells, edges: the drawing; graded: cells that are strips of a graded wash. closed:
    (cells, layers) where the coat, or its absence, stays. coats: per cell the (layer 1 …,
    index into recipes, strength) of the coats that stay. shows: (cells,) coats up to which
    layer each cell had. recipes; paints: keys that stay on the palette. wishes: aims of cells
    that the painter set.
    """

    cells: Cells
    edges: Edges
    graded: NDArray[np.int64]
    closed: NDArray[np.bool_]
    coats: tuple[tuple[Coat, ...], ...]
    shows: NDArray[np.int64]
    recipes: tuple[Recipe, ...]
    paints: frozenset[str]
    wishes: Mapping[int, FloatArray]

    def preferring(self, limits: Limits, owned: Sequence[Paint]) -> Limits:
        """The limits with all paints that stay wanted on the palette, each said once."""
        said = {word.strip().casefold() for word in limits.prefer}
        known = {p.key for p in owned if {p.key.casefold(), p.name.casefold()} & said}
        return replace(limits, prefer=(*limits.prefer, *sorted(self.paints - known)))

    def aims_over(self, aims: FloatArray) -> NDArray[np.float64]:
        """Aims (cells, 3) with the painter's own wishes."""
        out = np.array(aims, dtype=np.float64)
        for cell, lab in self.wishes.items():
            out[cell] = lab
        return out

    def on(self, palette: Sequence[Paint]) -> "KeptCoats":
        """The same for the paints chosen, which hold all that stay."""
        keys = [p.key for p in palette]
        table = np.zeros((len(self.recipes), len(keys)))
        must = np.zeros(table.shape, dtype=np.bool_)
        for q, recipe in enumerate(self.recipes):
            for key, amount in recipe.amounts.items():
                if key in keys:
                    table[q, keys.index(key)] = amount
            must[q, [keys.index(k) for k in recipe.must]] = True
        return KeptCoats(self, table, must)


@dataclass(frozen=True, eq=False)
class KeptCoats:
    """Decided coats with recipes (n, colours) of the palette; must: as in `RecipeRules`."""

    decided: Decided
    recipes: NDArray[np.float64]
    must: NDArray[np.bool_]

    def rules(self, bench: Bench) -> tuple[NDArray[np.float64], RecipeRules]:
        """The recipes and which of them stay.

        One that may change is a full coat of those of its paints that are still on the palette.
        """
        fixed = np.array([r.fixed for r in self.decided.recipes], dtype=np.bool_)
        loads = np.where(fixed, 1.0, self.recipes @ bench.loads)
        return self.recipes / loads[:, None], RecipeRules(int(fixed.sum()), fixed, self.must)

    def holds(self, cells: NDArray[np.int64]) -> bool:
        """Whether anything about these cells is decided."""
        return bool(self.decided.closed[cells].any())

    def graded_wash(self, strips: NDArray[np.int64]) -> GradedWash:
        """The graded wash over the strips as it was."""
        own = [self.decided.coats[c][0] for c in strips]
        return GradedWash(self.recipes[own[0][1]].copy(), np.array([s for _, _, s in own]))

    def of(self, cells: NDArray[np.int64], layers: int) -> "HeldShape":
        """What is decided in a shape."""
        closed = np.zeros((len(cells), layers), dtype=np.bool_)
        known = min(layers, self.decided.closed.shape[1])
        closed[:, :known] = self.decided.closed[cells][:, :known]
        puddle, strength = np.full(layers, FREE), np.zeros(layers)
        has = np.zeros_like(closed)
        for i, cell in enumerate(cells.tolist()):
            for layer, q, s in self.decided.coats[cell]:
                has[i, layer - 1] = True
                puddle[layer - 1], strength[layer - 1] = q, s
        shows = np.minimum(self.decided.shows[cells], layers)
        return HeldShape(closed, has, puddle, strength, shows, self.recipes)


@dataclass(frozen=True, eq=False)
class HeldShape:
    """One shape's decided coats.

    closed, has: (cells, layers) where nothing may change, and where there is a decided coat;
    puddle, strength: (layers,), `FREE` where no coat is decided;
    shows: (cells,) coats up to which layer each cell had; recipes: (n, colours).
    """

    closed: NDArray[np.bool_]
    has: NDArray[np.bool_]
    puddle: NDArray[np.int64]
    strength: NDArray[np.float64]
    shows: NDArray[np.int64]
    recipes: NDArray[np.float64]

    @property
    def layers(self) -> NDArray[np.int64]:
        """Layers (0 …) in which there is, or may be, a coat: the slots of the stack."""
        empty = self.closed.any(axis=0) & (self.puddle == FREE)
        return np.flatnonzero(~empty).astype(np.int64)

    @property
    def slots(self) -> HeldCoats:
        """Decided coats slot by slot."""
        return HeldCoats(self.puddle[self.layers], self.strength[self.layers])

    def order(self, aims: FloatArray) -> NDArray[np.int64]:
        """Cells in the order in which they may get more coats: as decided, then light to dark."""
        return np.lexsort((-aims[:, 0], self.has.sum(axis=1))).astype(np.int64)

    def counts(self, bare: bool, pale: bool) -> Iterator[NDArray[np.int64]]:
        """Ways to give the cells (in order) their slots that keep what is decided."""
        slots = self.layers
        plain = coat_choices(len(self.shows), len(slots), bare, pale) if len(slots) else []
        as_was = np.searchsorted(slots, self.shows)
        found = [np.array(c, dtype=np.int64) for c in plain if self.keeps(np.array(c))]
        yield from found or [as_was]

    def keeps(self, counts: NDArray[np.int64]) -> bool:
        """Whether every cell shows the decided coats it had, and no others."""
        slots = self.layers
        held = self.puddle[slots] != FREE
        shown = counts[:, None] > np.arange(len(slots))
        return bool((shown == self.has[:, slots])[:, held].all())

    def ordered(self, order: NDArray[np.int64]) -> "HeldShape":
        """The same with the cells in another order."""
        return replace(
            self, closed=self.closed[order], has=self.has[order], shows=self.shows[order]
        )


def solve_around(
    bench: Bench,
    shape: int,
    cells: NDArray[np.int64],
    aims: FloatArray,
    areas: FloatArray,
    held: HeldShape,
    handling: StackPrices,
    most: int,
    first: FloatArray | None = None,
) -> Stack:
    """The stack of a shape in which some coats are decided, the others open to every paint.

    cells, aims (n, 3), areas (n,), held: in one order; most: paints in an open coat; first:
    CIELAB (3,) of the lead-in if there is one.
    """
    order = held.order(aims)
    cells, aims, areas, held = cells[order], aims[order], areas[order], held.ordered(order)
    asked = replace(handling, shares=handling.shares[order], glow=handling.glow[order])
    paper = bench.labs(np.zeros((0, bench.colours)))[0]
    bare = float(delta_e_2000(aims[0], paper)) < RESERVE_BELOW
    painted = aims[int(bare) :]
    pale = not len(painted) or bool(painted[0][0] >= FIRST_WASH_LIGHTNESS)
    best: Stack | None = None
    for counts in held.counts(bare, pale):
        found = _fitted(bench, shape, cells, counts, (aims, areas, first), held, asked, most)
        if best is None or found.cost + COAT_PRICE * len(found.amounts) < (
            best.cost + COAT_PRICE * len(best.amounts)
        ):
            best = found
        if best.cost < 1.0:
            break
    assert best is not None
    return best


def _fitted(
    bench: Bench,
    shape: int,
    cells: NDArray[np.int64],
    counts: NDArray[np.int64],
    wanted: tuple[FloatArray, FloatArray, FloatArray | None],
    held: HeldShape,
    handling: StackPrices,
    most: int,
) -> Stack:
    aims, areas, tint = wanted
    top = int(counts.max(initial=0))
    slots = held.slots.only(np.arange(len(held.layers)) < top)
    rows = aim_rows(counts.tolist(), aims, areas / areas.sum(), tint)
    prices = prices_for(bench, handling, top, counts, rows)
    first = top > 0 and held.layers[0] == 0 and not slots.mask[0] and held.closed.shape[1] > 1
    stack = Stack(
        shape=shape,
        cells=cells,
        coats_of=counts,
        aims=rows,
        cap=FIRST_WASH_LIGHTNESS if first else 0.0,
        layers=held.layers[:top],
        amounts=np.zeros((top, bench.colours)),
        area=float(areas.sum()),
        cost=np.inf,
        prices=prices,
        handling=handling,
        held=slots,
    )
    return _filled(bench, stack, held.recipes, most)


def _filled(bench: Bench, stack: Stack, recipes: FloatArray, most: int) -> Stack:
    """The stack with its open coats fitted, from a few starts, to at most `most` paints each."""
    assert stack.held is not None
    fixed = stack.held.mask
    allowed = np.repeat(~fixed[:, None], bench.colours, axis=1)
    best, cost = stack.amounts, np.inf
    for start in STARTS:
        first = np.full(stack.amounts.shape, start)
        first[fixed] = recipes[stack.held.puddle[fixed]] * stack.held.strength[fixed, None]
        found, reached = bench.fit(first, stack.aims, stack.cap, allowed, prices=stack.prices)
        if reached < cost - 1e-6:
            best, cost = found, reached
    return _thin(bench, replace(stack, amounts=best, cost=cost), fixed, most)


def _thin(bench: Bench, stack: Stack, fixed: BoolArray, most: int) -> Stack:
    amounts, cost = stack.amounts, stack.cost
    while ((amounts[~fixed] > 0).sum(axis=1) > most).any():
        keep = weakest(bench, amounts, most)
        keep[fixed] = False
        start = np.where(keep | fixed[:, None], amounts, 0.0)
        amounts, cost = bench.fit(start, stack.aims, stack.cap, keep, 20, stack.prices)
    return replace(stack, amounts=amounts, cost=cost)
