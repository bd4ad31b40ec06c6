"""Which wash lies where, chosen anew for the measure a plan is judged by.

The planner shares washes by least squares on the mean colours of cells. Here every coat of
every shape tries the other washes of its layer, and none, by the mean CIEDE2000 over the
photo's spots and over painters who err: what two washes have in common in the mean they
need not have under errors. What paint costs for its handling counts as it did before.
Between two rounds all strengths and recipes are refined.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray
from firstwash.optics.difference import delta_e_2000
from firstwash.parallel import in_parallel
from firstwash.plan import polish_kernels
from firstwash.plan.bench import Bench
from firstwash.plan.hands import Handiwork, Painters, handiwork_of_coats, wash_numbers
from firstwash.plan.polish import PRICE_RATE, Goal, polish, shown
from firstwash.plan.puddles import IDLE, Mixing, mixed_prices, only_used, without_coats
from firstwash.plan.spots import Spots
from firstwash.plan.stacks import Stack

__all__ = ["exchange_washes", "refine"]

ROUNDS = 2  # a third gains less than its time is worth
ROUGH = 15  # steps of the search between exchanges
SWEEPS = 2
GAIN = 1e-6  # mean CIEDE2000 of the whole picture that a change must save
LIGHTER = 0.5  # L* by which a coat may lighten what lies below: not seen
CAP_SLACK = 0.5  # L* that a first wash may be darker than its cap, which is a price, not a wall


def refine(
    bench: Bench,
    stacks: list[Stack],
    mixing: Mixing,
    spots: Spots,
    cells: int,
    painters: Painters,
    rounds: int = ROUNDS,
    keep_first: bool = False,
) -> tuple[list[Stack], Mixing]:
    """Shared washes refined and exchanged in turn; never more washes or puddles than before.

    spots: what the cells should show. painters: those planned for; a sigma of 0 plans for
    hands that never err. rounds: 0 keeps every coat's wash; keep_first: those of the first
    layer stay where they are, where a lay-in was calmed on purpose. All rounds but the last
    are made with half the painters and a short search, for what they find is refined again.
    """
    few = replace(painters, count=(painters.count + 1) // 2)
    if rounds:
        mixing = polish(bench, stacks, mixing, spots, cells, few, ROUGH)
    for left in range(rounds - 1, -1, -1):
        stacks, mixing = exchange_washes(
            bench, stacks, mixing, spots, cells, few if left else painters, keep_first
        )
        if left:
            mixing = polish(bench, stacks, mixing, spots, cells, few, ROUGH)
    mixing = polish(bench, stacks, mixing, spots, cells, painters)
    return stacks, only_used(mixing) if len(mixing.recipes) else mixing


def exchange_washes(
    bench: Bench,
    stacks: list[Stack],
    mixing: Mixing,
    spots: Spots,
    cells: int,
    painters: Painters,
    keep_first: bool = False,
) -> tuple[list[Stack], Mixing]:
    """One round of exchanges for every stack, the washes themselves as they are.

    keep_first: leave the first layer's washes where they are.
    Coats without a wash, and those too faint to be seen, are left out of the stacks. All
    puddles are kept, used or not.
    """
    own, washes = wash_numbers(stacks, mixing)
    if not washes:
        return stacks, mixing
    decided = [_decided(stack) for stack in stacks]
    closed = np.unique(np.concatenate([n[d] for n, d in zip(own, decided, strict=True)]))
    tables = _Tables.of(handiwork_of_coats(bench, stacks, mixing, cells), painters, closed)
    total = sum(s.area for s in stacks)

    def run(i: int) -> NDArray[np.int64]:
        fixed = decided[i] | ((stacks[i].layers == 0) & keep_first)
        coats, goal = shown(stacks[i], spots, total)
        return _exchanged(tables, stacks[i], own[i], fixed, coats, goal, total)

    found = in_parallel(run, range(len(stacks)))
    chosen = _with_washes(mixing, found, washes)
    for i in range(len(stacks)):
        if _rise(bench, chosen, i) > max(_rise(bench, mixing, i), LIGHTER):
            found[i] = own[i]
    return _settled(bench, stacks, _with_washes(mixing, found, washes), found)


@dataclass(frozen=True, eq=False)
class _Tables:
    """Every painter's washes as optics (painters, washes, bands), and where each may go.

    recipes: (puddles, colours). puddle, layer, strength: (washes,). lightness: (washes,) L* of
    each alone on the bare paper. closed: washes that no further coat may join.
    """

    bench: Bench
    first: NDArray[np.float64]
    r: NDArray[np.float64]
    t: NDArray[np.float64]
    recipes: NDArray[np.float64]
    puddle: NDArray[np.int64]
    layer: NDArray[np.int64]
    strength: NDArray[np.float64]
    lightness: NDArray[np.float64]
    closed: NDArray[np.int64]

    @classmethod
    def of(cls, work: Handiwork, painters: Painters, closed: NDArray[np.int64]) -> "_Tables":
        """The washes of a work, one film each."""
        k, s, _, _, sheet, _, _ = work.bench.arrays
        order = np.argsort(work.film_wash)
        mixed, laid = work.done(work.even_slips(painters))
        shape = (len(laid), len(order), k.shape[1])
        tables = cls(
            work.bench, np.empty(shape), np.empty(shape), np.empty(shape),
            work.recipes, work.wash_puddle, work.wash_layer, work.film_strength[order],
            _lightness_alone(work, order), closed,
        )  # fmt: skip
        polish_kernels.film_optics(
            work.wash_puddle, mixed, np.ascontiguousarray(laid[:, order]), k, s, sheet,
            tables.first, tables.r, tables.t,
        )  # fmt: skip
        return tables


def _lightness_alone(work: Handiwork, order: NDArray[np.int64]) -> NDArray[np.float64]:
    """L* (washes,) of each wash alone on the bare paper."""
    ready = work.bench.puddles(work.recipes)
    coat = np.zeros((1, ready.colours))
    out = np.empty(len(order))
    for w, f in enumerate(order.tolist()):
        coat[:] = 0.0
        coat[0, work.wash_puddle[w]] = work.film_strength[f]
        out[w] = ready.labs(coat)[1, 0]
    return out


def _exchanged(
    tables: _Tables,
    stack: Stack,
    own: NDArray[np.int64],
    fixed: BoolArray,
    coats: NDArray[np.int64],
    spots: Spots,
    total: float,
) -> NDArray[np.int64]:
    """The washes (coats,) of a stack after its exchanges, -1 for none; fixed ones stay.

    coats, spots: what it should show; total: area of all stacks.
    """
    goal = Goal.of(len(own) + 1, coats, spots.labs, spots.weights, spots.spreads)
    allowed = np.ones((len(own), len(tables.layer) + 1), dtype=np.bool_)
    allowed[:, :-1] = tables.layer == stack.layers[:, None] + 1
    if stack.cap > 0.0 and len(own):
        allowed[0, :-1] &= tables.lightness >= stack.cap - CAP_SLACK
    allowed[:, tables.closed] = False
    allowed[fixed] = False
    price = np.zeros(allowed.shape)
    price[:, :-1] = mixed_prices(tables.bench, stack, tables.recipes)[:, tables.puddle]
    price[:, :-1] *= tables.strength * PRICE_RATE * stack.area / total
    film = own.copy()
    _, _, _, _, sheet, weights, white = tables.bench.arrays
    polish_kernels.exchange(
        film, allowed, price, tables.first, tables.r, tables.t, sheet, weights, white,
        goal.starts, goal.lab, goal.weight, goal.spread, GAIN, SWEEPS,
    )  # fmt: skip
    return film


def _with_washes(
    mixing: Mixing, own: list[NDArray[np.int64]], washes: list[tuple[int, int, float]]
) -> Mixing:
    """The mixing with these washes (coats,) per stack; -1 is a coat of nothing."""
    puddle = np.array([q for _, q, _ in washes] + [0], dtype=np.int64)
    strength = np.array([s for _, _, s in washes] + [0.0])
    return Mixing(
        mixing.recipes,
        [puddle[w] for w in own],
        [strength[w] for w in own],
        mixing.costs.copy(),
        mixing.rules,
    )


def _decided(stack: Stack) -> NDArray[np.bool_]:
    """Which of a stack's coats (coats,) may not change."""
    return np.zeros(len(stack.layers), dtype=np.bool_) if stack.held is None else stack.held.mask


def _rise(bench: Bench, mixing: Mixing, i: int) -> float:
    """L* by which a coat of stack i lightens the sheet, at most."""
    return float(np.diff(bench.labs(mixing.amounts(i))[:, 0]).max(initial=0.0))


def _settled(
    bench: Bench, stacks: list[Stack], mixing: Mixing, own: list[NDArray[np.int64]]
) -> tuple[list[Stack], Mixing]:
    """Stacks and mixing without coats of nothing, or of nothing that can be seen."""
    left = []
    for i, stack in enumerate(stacks):
        labs = bench.labs(mixing.amounts(i))
        keep = (own[i] >= 0) & (delta_e_2000(labs[1:], labs[:-1]) >= IDLE) | _decided(stack)
        left.append(without_coats(bench, stack, keep))
        mixing.puddle_of[i] = mixing.puddle_of[i][keep]
        mixing.strengths[i] = mixing.strengths[i][keep]
    return left, mixing
