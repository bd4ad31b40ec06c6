"""The best palette of a table of costs, and a bound that says how far it is from the best."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.plan import palette_search
from firstwash.plan.bench import Bench
from firstwash.plan.palette_table import CostTable, mend

__all__ = ["PaletteChoice", "around", "best_palette", "grow", "improve", "settle"]

BOUND_ROUNDS = 400  # of the ascent: after 100 it is mostly within 1 %, after 400 within 0.1 %
JUST_TRY = 50_000  # so many palettes are scored sooner than bounded
BUDGET = 1_500_000  # palettes scored at most, a second; then the bound is what is told
SLIGHT = 1e-3  # share of the bound: a smaller gap is worth a tenth of that
MENDS = 4  # times at most that a table is mended around the choice
MENDED_FROM = 3  # paints; mixtures of fewer are fitted from each of their paints
SAME = 1e-12  # CIEDE2000: a gain that may be rounding

COVERS = (
    "This covers single patches as thick as four coats, each of at most three paints and as near "
    "as our mixing comes, for the {colours} the picture was gathered into; it says nothing "
    "of layers, shared puddles or the number of washes."
)


@dataclass(frozen=True)
class PaletteChoice:
    """The paints to put on the palette, and how good any other palette could be.

    chosen: indices, rising. score: weighted mean CIEDE2000 of the best single patch for
    each colour of the picture. bound: no palette allowed scores less. whole: what all
    the paints together would score, without a limit on their number. proven: no other
    palette is better at all (then bound = score). covers: what the bound speaks of.
    compared: how many paints there were to choose from.
    """

    chosen: tuple[int, ...]
    score: float
    bound: float
    whole: float
    proven: bool
    covers: str
    compared: int

    @property
    def gap(self) -> float:
        """The most, as a share (0-1) of the score, by which another palette may be better."""
        return 1.0 - self.bound / self.score if self.score > self.bound else 0.0


def best_palette(
    table: CostTable, most: int, must: Sequence[int] = (), hint: Sequence[int] = ()
) -> PaletteChoice:
    """The best palette of at most `most` of the table's paints, with its bound.

    The bound holds for every palette of the table: docs/decisions/0006-palette.md has the proof.
    must: paints that are on it in any case, at most `most`. hint: a palette to begin
    with, may be empty; it changes the time taken, and the choice only among equals.
    """
    whole = float(table.weighted.min(axis=0).sum())
    count = len(table.weights)
    covers = COVERS.format(colours="one colour" if count == 1 else f"{count} colours")
    if table.paints <= most:
        return PaletteChoice(
            tuple(range(table.paints)), whole, whole, whole, True, covers, table.paints
        )
    first = list(hint) if len(hint) == most and set(must) <= set(hint) else grow(table, most, must)
    chosen = improve(table, first, must)
    known = table.score(chosen)
    prices, bound = _bounded(table, most, must, known)
    found, score, all_tried = _try(table, chosen, must, prices, bound)
    bound = score if all_tried else min(bound, score)
    return PaletteChoice(tuple(sorted(found)), score, bound, whole, all_tried, covers, table.paints)


def settle(
    table: CostTable,
    bench: Bench,
    targets: FloatArray,
    most: int,
    must: Sequence[int] = (),
    hint: Sequence[int] = (),
) -> PaletteChoice:
    """The best palette of a table that is mended around it until it stays the best.

    bench, targets: what the table was made from; most, must and hint as in `best_palette`.
    The bound is that of the mended table.
    """
    choice = best_palette(table, most, must, hint)
    if len(choice.chosen) < MENDED_FROM:
        return choice
    for _ in range(MENDS):
        near = around(choice.chosen, table.paints, must)
        table = mend(table, bench, targets, [choice.chosen, *near])
        before, choice = choice, best_palette(table, most, must, choice.chosen)
        if choice.chosen == before.chosen:
            break
    return choice


def grow(table: CostTable, most: int, must: Sequence[int] = ()) -> list[int]:
    """A palette grown one paint at a time, each the one that helps most."""
    chosen = list(must)
    while len(chosen) < most:
        rest = [p for p in range(table.paints) if p not in chosen]
        scores = [table.score([*chosen, p]) for p in rest]
        chosen.append(rest[int(np.argmin(scores))])
    return chosen


def around(chosen: Sequence[int], paints: int, must: Sequence[int] = ()) -> list[list[int]]:
    """All palettes that differ from this one in one paint; those that must be stay."""
    rest = [p for p in range(paints) if p not in chosen]
    return [
        [*chosen[:i], *chosen[i + 1 :], p]
        for i in range(len(chosen))
        if chosen[i] not in must
        for p in rest
    ]


def improve(table: CostTable, first: Sequence[int], must: Sequence[int] = ()) -> list[int]:
    """The palette after exchanging paints one at a time, the best exchange first."""
    chosen, known = list(first), table.score(first)
    while True:
        swaps = around(chosen, table.paints, must)
        scores = [table.score(swap) for swap in swaps]
        if not scores or min(scores) >= known - SAME:
            return chosen
        chosen, known = swaps[int(np.argmin(scores))], min(scores)


def _marked(paints: int, must: Sequence[int]) -> BoolArray:
    out = np.zeros(paints, dtype=np.bool_)
    out[list(must)] = True
    return out


def _bounded(
    table: CostTable, most: int, must: Sequence[int], known: float
) -> tuple[NDArray[np.float64], float]:
    """Prices (colours, paints) and the bound they give; none at all where sets are few."""
    prices = np.zeros((len(table.weights), table.paints))
    rounds = BOUND_ROUNDS
    if comb(table.paints - len(must), most - len(must)) <= JUST_TRY:
        rounds = 1
    keep = palette_search.better_than_parts(table.weighted, table.mixtures, table.place).T
    colours, columns = np.nonzero(keep)
    ends = np.searchsorted(colours, np.arange(len(keep) + 1))
    costs = table.weighted.T[keep]
    bound = palette_search.raise_bound(
        costs,
        columns,
        ends,
        table.mixtures,
        _marked(table.paints, must),
        most,
        known,
        rounds,
        prices,
    )
    return prices, float(bound)


def _try(
    table: CostTable,
    chosen: Sequence[int],
    must: Sequence[int],
    prices: NDArray[np.float64],
    bound: float,
) -> tuple[list[int], float, bool]:
    """The best palette after trying those the prices leave; whether all of them were."""
    earned = prices.sum(axis=0)
    rest = np.setdiff1d(np.argsort(-earned, kind="stable"), must, assume_unique=True)
    order = np.array([*must, *rest], dtype=np.int64)
    most, fixed, known = len(chosen), len(must), table.score(chosen)
    budget = BUDGET if known > (1.0 + SLIGHT) * bound else BUDGET // 10
    room = bound + float(earned[order[fixed:most]].sum())
    best = np.array(chosen, dtype=np.int64)
    score, tried = palette_search.try_sets(
        table.weighted, table.place, order, earned, fixed, room, budget, best, known
    )
    return [int(p) for p in best], float(score), tried <= budget
