"""Which of the painter's paints to put on the palette for this picture."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan import kernels
from firstwash.plan.bench import Bench
from firstwash.plan.palette_bound import PaletteChoice, grow, settle
from firstwash.plan.palette_table import STACKED, price_mixtures, thick

__all__ = [
    "STACKED",
    "PaletteChoice",
    "choose_paints",
    "choose_palette",
    "colour_groups",
    "floor_for",
    "likeliest",
    "mix_freely",
]

PALE = 2e-3  # amount of every paint that a search starts from, in full coats
DARK_SHARE = 0.15  # of the picture: what counts as its darks
COMPARED = 36  # paints whose triples are priced; of a larger box the likeliest so many


def colour_groups(
    lab: FloatArray, weight: FloatArray, most: int = 96, grain: float = 6.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The picture's colours gathered: (n, 3) mean CIELAB and (n,) weights summing to 1.

    lab (m, 3), weight (m,) ≥ 0; colours of no weight are left out. Colours in the same cube
    of side `grain` (grown until at most `most` groups remain) are one group. The cubes
    start at the smallest L*, a* and b*, so in the end one holds everything.
    Raises ValueError where nothing has any weight, or something is not finite.
    """
    if not (np.isfinite(lab).all() and np.isfinite(weight).all()):
        raise ValueError("colours and weights must be finite")
    lab, weight = lab[weight > 0], weight[weight > 0]
    if not len(lab) or most < 1:
        raise ValueError("needs a colour of some weight, and room for one group")
    corner = lab.min(axis=0)
    while True:
        keys = np.floor((lab - corner) / grain).astype(np.int64)
        _, inverse = np.unique(keys, axis=0, return_inverse=True)
        inverse = inverse.ravel()
        total = np.bincount(inverse, weights=weight)
        if len(total) <= most:
            break
        grain *= 1.15
    mean = np.column_stack([np.bincount(inverse, weights=weight * lab[:, c]) for c in range(3)])
    return mean / total[:, None], total / total.sum()


def mix_freely(
    bench: Bench, targets: FloatArray, rounds: int = 14, starts: tuple[float, ...] = (PALE,)
) -> NDArray[np.float64]:
    """CIELAB (n, 3) of the best single patch of any paints for each target (n, 3).

    starts: amounts of every paint to search from; the best patch found is kept.
    """
    best = _mix_from(bench, targets, rounds, starts[0])
    for start in starts[1:]:
        other = _mix_from(bench, targets, rounds, start)
        closer = delta_e_2000(other, targets) < delta_e_2000(best, targets)
        best[closer] = other[closer]
    return best


def _mix_from(bench: Bench, targets: FloatArray, rounds: int, start: float) -> NDArray[np.float64]:
    roomy = thick(bench)
    out = np.empty((len(targets), 3))
    kernels.mix_freely(
        np.ascontiguousarray(targets),
        start,
        *roomy.arrays,
        rounds,
        out,
    )
    return out


def darkest_lightness(bench: Bench) -> float:
    """L* of the darkest near-neutral these paints reach on this paper."""
    roomy = thick(bench)
    aims = np.array([[1.0, 0.0, 0.0, 0.0, 1.0]])
    found = []
    for start in (1e-3, 0.05, 0.1, 1.0):  # the search is rough down there: from several sides
        amounts, _ = roomy.fit(np.full((1, bench.colours), start), aims, rounds=60)
        found.append(float(roomy.labs(amounts)[1, 0]))
    return min(found)


def floor_for(bench: Bench, lab: FloatArray, weight: FloatArray) -> float:
    """The L* that the picture's own darks reach with these paints on this paper.

    lab (n, 3), weight (n,). A strongly coloured dark cannot be mixed as deep as a neutral
    one, so the floor is what free mixing gives, on average, for the darkest colours of
    this picture (`DARK_SHARE` of its weight), asked for at the neutral floor.
    """
    neutral = darkest_lightness(bench)
    order = np.argsort(lab[:, 0], kind="stable")
    share = np.cumsum(weight[order]) / weight.sum()
    dark = order[: int(np.searchsorted(share, DARK_SHARE)) + 1]
    wanted = lab[dark].copy()
    wanted[:, 0] = np.maximum(wanted[:, 0], neutral)
    reached = mix_freely(bench, wanted, rounds=30)[:, 0]
    # Where the picture has no darks at all the mixes follow them up: the floor does not.
    missed = np.maximum(reached - wanted[:, 0], 0.0)
    return neutral + float(np.average(missed, weights=weight[dark]))


def choose_palette(
    bench: Bench,
    targets: FloatArray,
    weights: FloatArray,
    most: int,
    must: Sequence[int] = (),
    without: Sequence[int] = (),
) -> PaletteChoice:
    """The at most `most` colours of the bench that together mix the targets best.

    targets (n, 3) CIELAB, weights (n,) ≥ 0. must: indices of paints that are on the palette
    in any case; without: of paints that are not. The measure is the weighted mean CIEDE2000
    of the best single patch for each target; the result tells the bound and what it covers.
    Of more than `COMPARED` paints only those likeliest by their pairs are compared.
    Raises ValueError for indices that cannot all be obeyed.
    """
    paints = _allowed(bench, most, must, without)
    paints = likeliest(bench.only(paints), targets, weights, paints, must)
    kept = [paints.index(p) for p in sorted(set(must))]
    box = bench.only(paints)
    choice = settle(price_mixtures(box, targets, weights), box, targets, most, kept)
    return replace(choice, chosen=tuple(paints[i] for i in choice.chosen))


def choose_paints(
    bench: Bench,
    targets: FloatArray,
    weights: FloatArray,
    most: int,
    must: Sequence[int] = (),
    without: Sequence[int] = (),
) -> list[int]:
    """Indices of the palette that `choose_palette` chooses, rising; all where all may stay."""
    paints = _allowed(bench, most, must, without)
    if len(paints) <= most:
        return paints
    return list(choose_palette(bench, targets, weights, most, must, without).chosen)


def _allowed(bench: Bench, most: int, must: Sequence[int], without: Sequence[int]) -> list[int]:
    """Indices of the paints to choose from, rising."""
    named = set(must) | set(without)
    if not named <= set(range(bench.colours)):
        raise ValueError(f"there are paints 0 to {bench.colours - 1}, not all of {sorted(named)}")
    if set(must) & set(without):
        raise ValueError(f"paints {sorted(set(must) & set(without))} are both asked for and barred")
    if not max(1, len(set(must))) <= most:
        raise ValueError(f"a palette of {most} cannot hold {len(set(must))} paints that must be")
    return [p for p in range(bench.colours) if p not in set(without)]


def likeliest(
    bench: Bench, targets: FloatArray, weights: FloatArray, paints: list[int], must: Sequence[int]
) -> list[int]:
    """Those of `paints`, the names of the bench's colours, whose triples are to be priced.

    All where they are at most `COMPARED`; else the palette of that size that grows best
    from mixtures of two, with those that must be. Rising, like `paints`.
    """
    if len(paints) <= COMPARED:
        return paints
    pairs = price_mixtures(bench, targets, weights, triples=False)
    kept = grow(pairs, COMPARED, [paints.index(p) for p in sorted(set(must))])
    return sorted(paints[i] for i in kept)
