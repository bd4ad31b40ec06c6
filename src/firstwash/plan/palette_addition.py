"""Which one paint, of those the painter does not own, would help this picture most."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.plan.bench import Bench
from firstwash.plan.palette import likeliest
from firstwash.plan.palette_bound import PaletteChoice, settle
from firstwash.plan.palette_table import CostTable, price_mixtures

__all__ = ["Addition", "best_addition"]


@dataclass(frozen=True)
class Addition:
    """What one further paint would do for the picture.

    paint: its index. chosen: the best palette then, rising, with or without it. score:
    of that palette. gain: by how much that is less than with the owned paints alone, ≥ 0;
    both in mean CIEDE2000 as for `choose_palette`.
    """

    paint: int
    chosen: tuple[int, ...]
    score: float
    gain: float


def best_addition(
    bench: Bench,
    owned: Sequence[int],
    targets: FloatArray,
    weights: FloatArray,
    most: int,
    must: Sequence[int] = (),
) -> list[Addition]:
    """What each paint of the bench that is not owned would add, the most helpful first.

    owned: indices of the painter's own paints, at least one. The palette of at most `most`
    is chosen anew for every candidate; must: owned paints that stay on it. targets (n, 3)
    CIELAB and weights (n,) as for `choose_palette`; they are the same for all, so map the
    picture's tones once, for the owned paints. Candidates that help equally keep their
    order. Raises ValueError for indices that cannot be obeyed.
    """
    mine, others = _checked(bench, owned, must, most)
    mine = likeliest(bench.only(mine), targets, weights, mine, must)
    names = [*mine, *others]
    table = price_mixtures(bench.only(names), targets, weights, late=len(mine))
    kept = [mine.index(p) for p in sorted(set(must))]
    box = bench.only(names)
    base = settle(table.only(range(len(mine))), box.only(range(len(mine))), targets, most, kept)

    def with_one(column: int) -> Addition:
        columns = [*range(len(mine)), column]
        part = table.only(columns), box.only(columns), targets
        choice = _with_one(part, base, most, kept)
        chosen = sorted(names[i] if i < len(mine) else names[column] for i in choice.chosen)
        return Addition(names[column], tuple(chosen), choice.score, base.score - choice.score)

    found = [with_one(column) for column in range(len(mine), len(names))]
    return sorted(found, key=lambda a: -a.gain)


def _checked(
    bench: Bench, owned: Sequence[int], must: Sequence[int], most: int
) -> tuple[list[int], list[int]]:
    """Indices of the owned paints and of the others, rising."""
    mine = sorted(set(owned))
    if not mine or mine[0] < 0 or mine[-1] >= bench.colours:
        raise ValueError(f"owned must name some of the paints 0 to {bench.colours - 1}")
    if not set(must) <= set(mine):
        raise ValueError("paints that must be on the palette must be owned")
    if not max(1, len(set(must))) <= most:
        raise ValueError(f"a palette of {most} cannot hold {len(set(must))} paints that must be")
    return mine, [p for p in range(bench.colours) if p not in set(mine)]


def _with_one(
    part: tuple[CostTable, Bench, FloatArray], base: PaletteChoice, most: int, must: Sequence[int]
) -> PaletteChoice:
    """The best palette with the table's last paint on it, or `base` where that is no worse.

    part: a table with the bench and the targets it was made from.
    """
    table, bench, targets = part
    new = table.paints - 1
    kept = [*must, new]
    if len(kept) > most:
        return base
    hint = [*base.chosen, new]
    if len(hint) > most:
        rest = [p for p in base.chosen if p not in must]
        swaps = [[*(p for p in base.chosen if p != out), new] for out in rest]
        hint = swaps[int(np.argmin([table.score(swap) for swap in swaps]))]
    choice = settle(table, bench, targets, most, kept, hint)
    return choice if choice.score < base.score else base
