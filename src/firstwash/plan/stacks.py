"""One stack of coats per shape: who gets how many coats, and of what.

Light to dark: a cell that is painted with n coats shows what the first n coats of its
shape add up to, so a darker level always gets the lighter level's coats and more.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.handling import PaintPrices, StackPrices
from firstwash.plan.kept import HeldCoats

__all__ = [
    "COAT_PRICE",
    "FIRST_WASH_LIGHTNESS",
    "LEAD_IN_WEIGHT",
    "RESERVE_BELOW",
    "STARTS",
    "Stack",
    "aim_rows",
    "coat_choices",
    "lead_in",
    "prices_for",
    "prune",
    "solve_stack",
    "weakest",
]

FIRST_WASH_LIGHTNESS = 70.0  # L*: a first wash stays at value step 7 or lighter
LEAD_IN_LIGHTNESS = 80.0  # L* aimed at by the pale wash under a dark shape
LEAD_IN_CHROMA = 0.55  # share of the shape's own chroma in that wash
LEAD_IN_WEIGHT = 0.1  # against 1 for the shape's own colours
RESERVE_BELOW = 2.5  # CIEDE2000 from paper white that is better left bare
COAT_PRICE = 0.15  # mean squared CIEDE2000 that one more coat must earn
STARTS = (3e-4, 1e-3)  # amounts to start from, in full coats: pale, so nothing is blocked


@dataclass(frozen=True, eq=False)
class Stack:
    """The coats of one shape.

    cells, coats_of: (n,) the shape's cells light to dark and how many coats each shows.
    aims: (m, 5) coats, L*, a*, b*, weight (weights of the cells sum to 1).
    layers: (coats,) the layer in which each coat is painted, rising.
    amounts: (coats, colours) in full-strength coats. area: mm², importance included.
    prices: (coats, colours) squared CIEDE2000 per full coat. cost: what is left of the error,
    with prices and penalties. handling: what the prices come from; None for no rules.
    held: coats that are decided already; None for none.
    """

    shape: int
    cells: NDArray[np.int64]
    coats_of: NDArray[np.int64]
    aims: NDArray[np.float64]
    cap: float
    layers: NDArray[np.int64]
    amounts: NDArray[np.float64]
    area: float
    cost: float
    prices: NDArray[np.float64]
    handling: StackPrices | None = None
    held: HeldCoats | None = None


def prices_for(
    bench: Bench, handling: StackPrices | None, coats: int, coats_of: IntArray, aims: FloatArray
) -> NDArray[np.float64]:
    """Prices (coats, colours) of a stack whose cells get so many coats each.

    aims (n, 5): as in `Stack`; they tell how much each coat is to add.
    """
    base = bench.saving(coats)
    if handling is None or not coats:
        return base
    after = bench.depth_of(aims[:, 1:4])
    known, index = np.unique(aims[:, 0], return_inverse=True)
    mean = np.bincount(index, weights=after) / np.bincount(index)
    reached = np.interp(np.arange(coats + 1), np.append(0.0, known), np.append(0.0, mean))
    return base + handling.table(np.diff(reached), coats_of)


def lead_in(lab: FloatArray) -> NDArray[np.float64]:
    """The pale tint (3,) laid first under a shape whose lightest colour is lab (3,)."""
    light = max(float(lab[0]), LEAD_IN_LIGHTNESS)
    return np.array([light, *(LEAD_IN_CHROMA * np.asarray(lab[1:]))])


def coat_choices(levels: int, layers: int, bare: bool, pale: bool) -> list[list[int]]:
    """Ways to give `levels` levels their coats within `layers`, fewest coats first."""
    painted = levels - bare
    start = 1 if pale or layers == 1 else 2
    if start + painted - 1 <= layers:
        base = [start + i for i in range(painted)]
    else:  # more levels than coats: the lightest ones share
        base = [max(start, layers - painted + 1 + i) for i in range(painted)]
    choices = [[0] * bare + base]
    for extra in range(1, layers - base[-1] + 1 if base else 1):
        choices.append([0] * bare + base[:-1] + [base[-1] + extra])
        if painted > 1:
            choices.append([0] * bare + base[:1] + [n + extra for n in base[1:]])
    return choices


def aim_rows(
    coats: Sequence[int],
    targets: FloatArray,
    weights: FloatArray,
    first: FloatArray | None = None,
) -> NDArray[np.float64]:
    """Aims (m, 5), as in `Stack`, of cells with so many coats each, the lead-in's among them.

    first: CIELAB (3,) of the lead-in if there is one; None for a pale tint of the lightest cell.
    """
    rows = [[n, *lab, w] for n, lab, w in zip(coats, targets, weights, strict=True)]
    seen = {n: np.asarray(lab) for n, lab in zip(coats, targets, strict=True) if n > 0}
    if seen and min(seen) > 1:
        seen[1] = lead_in(seen[min(seen)]) if first is None else np.asarray(first)
        rows.append([1, *seen[1], LEAD_IN_WEIGHT])
    # Coats no cell ends with lead evenly to the next, or one might lighten what lies below.
    for n in set(range(1, max(seen, default=0))) - set(seen):
        shown = sorted(seen)
        between = [np.interp(n, shown, [seen[m][c] for m in shown]) for c in range(3)]
        rows.append([n, *between, LEAD_IN_WEIGHT])
    return np.array(sorted(rows, key=lambda row: row[0]), dtype=np.float64)


def _grow(
    bench: Bench, aims: FloatArray, cap: float, prices: FloatArray, start: float
) -> FloatArray:
    """Amounts built coat by coat, each fitted to the aims it can already answer."""
    amounts = np.zeros(prices.shape)
    for i in range(len(prices)):
        amounts[i] = start
        reached = aims[aims[:, 0] <= i + 1]
        if not len(reached) or reached[-1, 0] < i + 1:
            continue
        allowed = np.zeros((i + 1, bench.colours), dtype=np.bool_)
        allowed[i] = True
        amounts[: i + 1], _ = bench.fit(
            amounts[: i + 1], reached, cap, allowed, rounds=25, prices=prices[: i + 1]
        )
    return amounts


def best_amounts(
    bench: Bench, aims: FloatArray, cap: float, coats: int, prices: FloatArray | None = None
) -> tuple[NDArray[np.float64], float]:
    """All coats of a stack together, from a few starts; ties go to the earlier start."""
    asked = bench.saving(coats) if prices is None else prices
    best, best_cost = np.zeros(asked.shape), np.inf
    for start in STARTS:
        for first in (_grow(bench, aims, cap, asked, start), np.full(asked.shape, start)):
            found, cost = bench.fit(first, aims, cap, prices=asked)
            if cost < best_cost - 1e-6:
                best, best_cost = found, cost
    return best, best_cost


def solve_stack(
    bench: Bench,
    shape: int,
    cells: NDArray[np.int64],
    targets: FloatArray,
    areas: FloatArray,
    layers: int,
    reserve: bool = True,
    handling: StackPrices | None = None,
    first: FloatArray | None = None,
) -> Stack:
    """The stack of one shape with every paint open to every coat.

    cells, targets (n, 3), areas (n,): light to dark. reserve: may the lightest level be
    left as bare paper. handling: where which paint costs what. first: CIELAB (3,) of the lead-in
    if there is one. Choices of coats are tried in order of thrift.
    """
    weights = areas / areas.sum()
    paper = bench.labs(np.zeros((0, bench.colours)))[0]
    bare = reserve and float(delta_e_2000(targets[0], paper)) < RESERVE_BELOW
    painted = targets[int(bare) :]
    pale = not len(painted) or painted[0][0] >= FIRST_WASH_LIGHTNESS
    cap = FIRST_WASH_LIGHTNESS if layers > 1 else 0.0
    best: Stack | None = None
    for coats in coat_choices(len(cells), layers, bare, pale):
        aims = aim_rows(coats, targets, weights, first)
        top = max(coats)
        prices = prices_for(bench, handling, top, np.array(coats), aims)
        amounts, cost = best_amounts(bench, aims, cap, top, prices)
        if best is None or cost + COAT_PRICE * top < best.cost + COAT_PRICE * len(best.amounts):
            best = Stack(
                shape=shape,
                cells=cells,
                coats_of=np.array(coats),
                aims=aims,
                cap=cap,
                layers=np.arange(top),
                amounts=amounts,
                area=float(areas.sum()),
                cost=cost,
                prices=prices,
                handling=handling,
            )
        if bench.cost(best.amounts, best.aims, cap) < 1.0:
            break  # nothing a further coat could earn would be seen, whatever the paints cost
    assert best is not None
    return best


def weakest(bench: Bench, amounts: FloatArray, most: int) -> BoolArray:
    """Which paints each coat keeps: one fewer than it has wherever it has too many.

    A paint stays while without it the others' largest shares would not make a whole; where
    that holds for all, the weakest makes way for the paint of the largest share.
    """
    strength = amounts * (bench.k + bench.s).mean(axis=1)
    keep = amounts > 0
    for i, row in enumerate(strength):
        used = np.flatnonzero(keep[i])
        if len(used) > most:
            gone = bench.least(used, row)
            keep[i, int(np.argmax(bench.shares))] |= not bench.makes_whole(used[used != gone])
            keep[i, gone] = False
    return keep


def _thinned(
    bench: Bench, stack: Stack, amounts: NDArray[np.float64], cost: float, most: int
) -> tuple[NDArray[np.float64], float]:
    """Amounts with at most `most` paints in any coat, re-fitted after each removal."""
    while ((amounts > 0).sum(axis=1) > most).any():
        keep = weakest(bench, amounts, most)
        amounts, cost = bench.fit(
            np.where(keep, amounts, 0.0), stack.aims, stack.cap, keep, 20, stack.prices
        )
    return amounts, cost


def prune(bench: Bench, stack: Stack, most: int) -> Stack:
    """The stack with at most `most` paints in any coat, and none that its price is not worth.

    Down the whole stack a paint goes when that costs less than its pigments are priced at.
    """
    amounts, cost = _thinned(bench, stack, stack.amounts, stack.cost, most)
    thin = replace(stack, amounts=amounts, cost=cost)
    while stack.handling is not None and stack.handling.paints.pigment > 0.0:
        fewer = _one_pigment_less(bench, thin, most, stack.handling.paints)
        if fewer is None:
            break
        thin = fewer
    return thin


def _one_pigment_less(bench: Bench, stack: Stack, most: int, prices: PaintPrices) -> Stack | None:
    """The stack without the paint that is worth least, or None if all are worth their price."""
    used: BoolArray = np.asarray((stack.amounts > 0).any(axis=0))
    best: Stack | None = None
    gain = 0.0
    for out in np.flatnonzero(used):
        left = used.copy()
        left[out] = False
        saved = prices.holds[used].any(axis=0).sum() - prices.holds[left].any(axis=0).sum()
        if not left.any() or not saved:
            continue
        trial = _without(bench, stack, left, most)
        won = saved * prices.pigment - (trial.cost - stack.cost)
        if won > gain:
            best, gain = trial, won
    return best


def _without(bench: Bench, stack: Stack, left: BoolArray, most: int) -> Stack:
    """The stack of the paints `left` alone; a coat that loses its last is open to them all."""
    keep = (stack.amounts > 0) & left
    empty = (stack.amounts > 0).any(axis=1) & ~keep.any(axis=1)
    keep[empty] = left
    start = np.where(keep, np.maximum(stack.amounts, STARTS[0]), 0.0)
    amounts, cost = bench.fit(start, stack.aims, stack.cap, keep, 12, stack.prices)
    amounts, cost = _thinned(bench, stack, amounts, cost, most)
    return replace(stack, amounts=amounts, cost=cost)
