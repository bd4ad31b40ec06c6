"""Which of the painter's paints to put on the palette for this picture."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan import kernels
from firstwash.plan.bench import Bench
from firstwash.plan.stacks import in_parallel

__all__ = ["choose_paints", "colour_groups", "floor_for", "mix_freely"]

PALE = 2e-3  # amount of every paint that a search starts from, in full coats
SCORE_ROUNDS = 8  # solver rounds per colour while sets of paints are ranked
NEWCOMERS = 8  # paints tried in exchange for each one chosen
DARK_SHARE = 0.15  # of the picture: what counts as its darks
STACKED = 4.0  # coats that a single mixed patch stands for when paints are compared


def colour_groups(
    lab: FloatArray, weight: FloatArray, most: int = 96, grain: float = 6.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The picture's colours gathered: (n, 3) mean CIELAB and (n,) weights summing to 1.

    lab (m, 3), weight (m,). Colours in the same cube of side `grain` (grown until at most
    `most` groups remain) are one group.
    """
    while True:
        keys = np.floor(lab / grain).astype(np.int64)
        _, inverse = np.unique(keys, axis=0, return_inverse=True)
        inverse = inverse.ravel()
        total = np.bincount(inverse, weights=weight)
        if len(total) <= most:
            break
        grain *= 1.15
    mean = np.column_stack([np.bincount(inverse, weights=weight * lab[:, c]) for c in range(3)])
    return mean / total[:, None], total / total.sum()


def _thick(bench: Bench) -> Bench:
    """The bench with room for several coats' worth of paint in one."""
    return Bench(bench.k, bench.s, bench.loads / STACKED, bench.sheet, bench.weights, bench.white)


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
    thick = _thick(bench)
    out = np.empty((len(targets), 3))
    kernels.mix_freely(
        np.ascontiguousarray(targets),
        start,
        *thick.arrays,
        rounds,
        out,
    )
    return out


def darkest_lightness(bench: Bench) -> float:
    """L* of the darkest near-neutral these paints reach on this paper."""
    thick = _thick(bench)
    aims = np.array([[1.0, 0.0, 0.0, 0.0, 1.0]])
    found = []
    for start in (1e-3, 0.05, 0.1, 1.0):  # the search is rough down there: from several sides
        amounts, _ = thick.fit(np.full((1, bench.colours), start), aims, rounds=60)
        found.append(float(thick.labs(amounts)[1, 0]))
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


def choose_paints(bench: Bench, targets: FloatArray, weights: FloatArray, most: int) -> list[int]:
    """Indices of at most `most` colours that together mix the targets best.

    targets (n, 3) CIELAB, weights (n,). Grown one paint at a time, then improved by
    exchanging single paints until none helps. The measure is the weighted mean CIEDE2000
    of the best single patch for each target.
    """
    if bench.colours <= most:
        return list(range(bench.colours))
    scores = _Scores(bench.coarse(), targets, weights)
    chosen: list[int] = []
    while len(chosen) < most:
        rest = [p for p in range(bench.colours) if p not in chosen]
        chosen = scores.best([[*chosen, p] for p in rest])
    return sorted(_exchange(chosen, bench.colours, scores))


class _Scores:
    """Weighted mean errors of sets of paints, each worked out once."""

    def __init__(self, bench: Bench, targets: FloatArray, weights: FloatArray) -> None:
        self._bench, self._targets, self._weights = bench, targets, weights
        self._known: dict[tuple[int, ...], float] = {}

    def of(self, chosen: Sequence[int]) -> float:
        key = tuple(sorted(chosen))
        if key not in self._known:
            found = mix_freely(self._bench.only(key), self._targets, SCORE_ROUNDS)
            errors = delta_e_2000(found, self._targets)
            self._known[key] = float(self._weights @ errors)
        return self._known[key]

    def best(self, sets: Sequence[list[int]]) -> list[int]:
        scores = in_parallel(self.of, sets)
        return sets[int(np.argmin(scores))]


def _exchange(chosen: list[int], colours: int, scores: _Scores) -> list[int]:
    """Swap one paint at a time for one of those that would help most as an addition."""
    while True:
        rest = [p for p in range(colours) if p not in chosen]
        gains = in_parallel(scores.of, [[*chosen, p] for p in rest])
        likely = [rest[i] for i in np.argsort(gains, kind="stable")[:NEWCOMERS]]
        swaps = [[*chosen[:i], *chosen[i + 1 :], p] for i in range(len(chosen)) for p in likely]
        better = scores.best(swaps)
        if scores.of(better) >= scores.of(chosen) - 1e-4:
            return chosen
        chosen = better
