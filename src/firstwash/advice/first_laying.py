"""What becomes of an area over a given first wash: the coats above it fitted to that wash.

The wash is decided; the coats over it are open to every paint, light to dark as everywhere, so
each darker level shows the lighter levels' coats and more. The lights may be left bare where the
paper comes nearer to them than the wash does.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint
from firstwash.plan.bench import Bench
from firstwash.plan.handling import PaintPrices, StackPrices, glows, price_paints
from firstwash.plan.reasons import THRESHOLDS
from firstwash.plan.stacks import (
    COAT_PRICE,
    FIRST_WASH_LIGHTNESS,
    STARTS,
    aim_rows,
    coat_choices,
    prices_for,
    weakest,
)

__all__ = [
    "BARELY",
    "Laid",
    "Palette",
    "Patch",
    "gathered",
    "handling_of",
    "lay",
    "lay_graded",
    "laying_prices",
]

BARELY = 2.5  # CIEDE2000 from the bare paper up to which a light is paper
SMOOTH = 0.3  # roughness up to which a wash may be graded
MOST_WAYS = 6  # ways to give the levels their coats that are tried


@dataclass(frozen=True, eq=False)
class Palette:
    """What there is to paint with.

    layers: times the sheet is painted, the first wash included; most: paints in a puddle.
    """

    bench: Bench
    paints: tuple[Paint, ...]
    layers: int
    most: int
    handling: float = 1.0

    @cached_property
    def prices(self) -> PaintPrices:
        """What the rules of handling ask for each paint."""
        return price_paints(self.bench, self.paints, self.handling)

    @cached_property
    def paper(self) -> NDArray[np.float64]:
        """CIELAB (3,) of the bare sheet."""
        return np.asarray(self.bench.labs(np.zeros((0, self.bench.colours)))[0])


@dataclass(frozen=True, eq=False)
class Patch:
    """Colours of one shape, light to dark.

    cells (n,): where they come from; aims (n, 3) CIELAB; share (n,): of the whole area, which
    may hold other patches too; rough: 0-1 how rough it looks, None where nobody looked.
    """

    cells: NDArray[np.int64]
    aims: NDArray[np.float64]
    share: NDArray[np.float64]
    rough: float | None = None

    @property
    def smooth(self) -> bool:
        """Whether it is known to look so smooth that a wash may be graded over it."""
        return self.rough is not None and self.rough <= SMOOTH

    @property
    def weight(self) -> NDArray[np.float64]:
        """(n,) shares of the patch."""
        return np.asarray(self.share / self.share.sum())


@dataclass(frozen=True, eq=False)
class Laid:
    """One patch as it would be painted.

    coats_of (n,): coats each colour shows; layers (coats,): 0 … when each is painted; amounts
    (coats, colours): bottom to top; washed: whether the lowest is the first wash asked about.
    labs (coats + 1, 3): CIELAB after 0, 1, … coats; finals (n, 3): at the end. match: mean
    squared CIEDE2000 against the aims; paint: what its paints cost by the rules of handling,
    coats: what the number of coats does, in the same unit. without_first (coats, 3): CIELAB
    after 0, 1, … coats if the lowest were left out and all else as it is. strengths (n,): of a
    graded wash, the one coat there is, by colour, against `amounts`; None for even washes.
    """

    patch: Patch
    coats_of: NDArray[np.int64]
    layers: NDArray[np.int64]
    amounts: NDArray[np.float64]
    washed: bool
    labs: NDArray[np.float64]
    match: float
    paint: float
    without_first: NDArray[np.float64]
    finals: NDArray[np.float64]
    strengths: NDArray[np.float64] | None = None

    @property
    def coats(self) -> float:
        """What the coats cost by their number."""
        return COAT_PRICE * len(self.amounts)

    @property
    def cost(self) -> float:
        """Everything together, squared CIEDE2000."""
        return self.match + self.paint + self.coats

    @property
    def misses(self) -> NDArray[np.float64]:
        """CIEDE2000 (n,) at the end against the aims."""
        return delta_e_2000(self.finals, self.patch.aims)

    def stages(self, layers: int) -> NDArray[np.float64]:
        """CIELAB (layers + 1, n, 3) after 0, 1, … layers."""
        if self.strengths is not None:
            return np.concatenate(
                [np.broadcast_to(self.labs[:1], self.finals.shape)[None]]
                + layers * [self.finals[None]]
            )
        dry = np.searchsorted(self.layers, np.arange(layers + 1))
        return self.labs[np.minimum(dry[:, None], self.coats_of[None])]


def gathered(patch: Patch, palette: Palette) -> Patch:
    """No more levels than can be painted one over the other; the likest neighbours are joined.

    As the planner does: one level fewer where a pale wash has to come under the lightest. Lights
    near enough to paper to be left bare count for none and are not joined. A joined level goes
    by the name of its largest part.
    """
    white = delta_e_2000(patch.aims, palette.paper) < THRESHOLDS.tint
    tinted = patch.aims[~white]
    pale = not len(tinted) or float(tinted[0, 0]) >= FIRST_WASH_LIGHTNESS
    groups = [[i] for i in range(len(patch.aims)) if not white[i]]
    while len(groups) > max(palette.layers - (not pale), 1):
        means = np.array([patch.share[g] @ patch.aims[g] / patch.share[g].sum() for g in groups])
        size = np.array([patch.share[g].sum() for g in groups])
        gap = delta_e_2000(means[1:], means[:-1])
        i = int(np.argmin(gap**2 * size[1:] * size[:-1] / (size[1:] + size[:-1])))
        groups[i : i + 2] = [groups[i] + groups[i + 1]]
    groups = sorted([*([i] for i in np.flatnonzero(white).tolist()), *groups])
    return replace(
        patch,
        cells=np.array([patch.cells[g[int(np.argmax(patch.share[g]))]] for g in groups]),
        aims=np.array([patch.share[g] @ patch.aims[g] / patch.share[g].sum() for g in groups]),
        share=np.array([patch.share[g].sum() for g in groups]),
    )


def handling_of(palette: Palette, patch: Patch) -> StackPrices:
    """The rules of handling for a patch.

    Where nobody looked how rough it is, grain costs half of what it would on a smooth place.
    """
    smooth = 0.5 if patch.rough is None else 1.0 - patch.rough
    return StackPrices(palette.prices, patch.weight, smooth, glows(patch.aims))


def laying_prices(
    palette: Palette, patch: Patch, coats_of: IntArray, rows: FloatArray
) -> NDArray[np.float64]:
    """Prices (coats, colours) of the patch's coats; rows: its aims, of `stacks.aim_rows`."""
    asked = handling_of(palette, patch)
    return prices_for(palette.bench, asked, int(coats_of.max(initial=0)), coats_of, rows)


def lay(palette: Palette, patch: Patch, wash: FloatArray | None) -> Laid:
    """The cheapest coats over a wash (colours,) of so much paint; None for bare paper.

    Without a wash the first layer passes by, and one coat fewer is there to paint with.
    """
    best: Laid | None = None
    for coats_of in _ways(palette, patch, wash):
        found = _fitted(palette, patch, wash, coats_of)
        if best is None or found.cost < best.cost - 1e-9:
            best = found
    assert best is not None
    return best


def _ways(palette: Palette, patch: Patch, wash: FloatArray | None) -> Iterator[NDArray[np.int64]]:
    """Ways to give the colours their coats, fewest first, no way twice."""
    n = len(patch.aims)
    layers = palette.layers - (wash is None)
    seen: set[tuple[int, ...]] = set()
    for bare in _bare(palette, patch, wash):
        tried = 0
        for pale in (True, False) if wash is not None else (True,):
            for counts in coat_choices(n - bare, layers, False, pale) if bare < n else [[]]:
                way = (*([0] * bare), *counts)
                if way not in seen and tried < MOST_WAYS:
                    seen.add(way)
                    tried += 1
                    yield np.array(way, dtype=np.int64)


def _bare(palette: Palette, patch: Patch, wash: FloatArray | None) -> list[int]:
    """How many of the lightest colours may be left bare: none, or all that the paper suits best."""
    to_paper = delta_e_2000(patch.aims, palette.paper)
    if wash is None:
        suits = to_paper < BARELY
    else:
        tint = palette.bench.labs(wash[None])[1]
        suits = to_paper < delta_e_2000(patch.aims, tint)
    bare = int(np.argmin(np.append(suits, False)))
    return sorted({0, bare} if wash is not None or bare < len(suits) else {bare})


def _fitted(
    palette: Palette, patch: Patch, wash: FloatArray | None, coats_of: NDArray[np.int64]
) -> Laid:
    """The coats of one way, from a few starts, thinned to what a puddle may hold."""
    bench, top = palette.bench, int(coats_of.max(initial=0))
    tint = None if wash is None else bench.labs(wash[None])[1]
    rows = aim_rows(coats_of.tolist(), patch.aims, patch.weight, tint)
    prices = laying_prices(palette, patch, coats_of, rows)
    free = np.ones((top, bench.colours), dtype=np.bool_)
    if wash is not None:
        free[:1] = False
    best, cost = np.zeros((top, bench.colours)), np.inf
    for first in _starts(bench, rows, prices, free, wash) if top else ():
        found, reached = bench.fit(first, rows, 0.0, free, 25, prices)
        if reached < cost - 1e-6:
            best, cost = found, reached
    best = _thinned(palette, best, rows, prices, free)
    return _told(palette, patch, wash is not None, coats_of, _within(bench, best), prices)


def _starts(
    bench: Bench, rows: FloatArray, prices: FloatArray, free: NDArray[np.bool_],
    wash: FloatArray | None,
) -> Iterator[NDArray[np.float64]]:  # fmt: skip
    """Amounts to search from: pale all over, and grown coat by coat over what lies there."""
    for start in STARTS:
        even = np.where(free, start, 0.0)
        if wash is not None:
            even[0] = wash
        yield even
    grown = even
    for i in np.flatnonzero(free.any(axis=1)).tolist():
        reached = rows[rows[:, 0] <= i + 1]
        if not len(reached) or reached[-1, 0] < i + 1:
            continue
        only = np.zeros((i + 1, bench.colours), dtype=np.bool_)
        only[i] = True
        grown[: i + 1], _ = bench.fit(grown[: i + 1], reached, 0.0, only, 15, prices[: i + 1])
    yield grown


def _thinned(
    palette: Palette, amounts: NDArray[np.float64], rows: FloatArray, prices: FloatArray,
    free: NDArray[np.bool_],
) -> NDArray[np.float64]:  # fmt: skip
    """At most so many paints in any open coat, fitted again after each removal."""
    open_ = free.any(axis=1)
    while ((amounts[open_] > 0).sum(axis=1) > palette.most).any():
        keep = weakest(palette.bench, amounts, palette.most) & free
        start = np.where(keep | ~free, amounts, 0.0)
        amounts, _ = palette.bench.fit(start, rows, 0.0, keep, 20, prices)
    return amounts


def _within(bench: Bench, amounts: FloatArray) -> NDArray[np.float64]:
    """No coat beyond its full load."""
    load = amounts @ bench.loads
    return np.asarray(amounts / np.maximum(load, 1.0)[:, None])


def _told(
    palette: Palette, patch: Patch, washed: bool, coats_of: NDArray[np.int64],
    amounts: NDArray[np.float64], prices: FloatArray,
) -> Laid:  # fmt: skip
    labs = palette.bench.labs(amounts)
    misses = delta_e_2000(labs[coats_of], patch.aims)
    held = palette.prices.holds[(amounts > 0).any(axis=0)]
    pigments = int(held.any(axis=0).sum()) if len(held) else 0
    paint = float((prices * amounts * palette.bench.loads).sum())
    return Laid(
        patch=patch,
        coats_of=coats_of,
        layers=np.arange(len(amounts)) + (not washed),
        amounts=amounts,
        washed=washed and bool(len(amounts)),
        labs=labs,
        match=float(patch.weight @ misses**2),
        paint=paint + palette.prices.pigment * max(pigments - 1, 0),
        without_first=palette.bench.labs(np.ascontiguousarray(amounts[1:])),
        finals=labs[coats_of],
    )


def lay_graded(palette: Palette, patch: Patch, wash: FloatArray, strengths: FloatArray) -> Laid:
    """One wash (colours,) alone, graded while it is wet: strengths (n,) of it colour by colour."""
    bench, coats_of = palette.bench, np.ones(len(patch.aims), dtype=np.int64)
    rows = aim_rows(coats_of.tolist(), patch.aims, patch.weight)
    prices = laying_prices(palette, patch, coats_of, rows)
    evenly = _told(palette, patch, True, coats_of, np.array([wash], dtype=np.float64), prices)
    finals = np.array([bench.labs(s * wash[None])[1] for s in strengths])
    match = float(patch.weight @ delta_e_2000(finals, patch.aims) ** 2)
    return replace(evenly, finals=finals, match=match, strengths=np.asarray(strengths))
