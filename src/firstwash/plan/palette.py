"""Which of the painter's paints to put on the palette for this picture."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.plan.bench import Bench
from firstwash.plan.stacks import in_parallel

__all__ = ["choose_paints", "colour_groups", "darkest_lightness", "mix_errors"]

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
    return Bench(
        bench.k, bench.s, bench.loads / STACKED, bench.sheet, bench.weights, bench.white
    )


def mix_errors(
    bench: Bench, targets: FloatArray, rounds: int = 14, starts: Sequence[float] = (2e-3,)
) -> NDArray[np.float64]:
    """CIEDE2000 (n,) of the best single patch of paint for each target (n, 3)."""
    thick = _thick(bench)

    def error(target: FloatArray) -> float:
        aims = np.array([[1.0, *target, 1.0]])
        first = np.empty((1, bench.colours))
        return min(
            thick.fit(np.full_like(first, start), aims, rounds=rounds)[1] for start in starts
        )

    return np.sqrt(np.maximum(in_parallel(error, targets), 0.0))


def darkest_lightness(bench: Bench) -> float:
    """L* of the darkest near-neutral these paints reach on this paper."""
    thick = _thick(bench)
    aims = np.array([[1.0, 0.0, 0.0, 0.0, 1.0]])
    found = []
    for start in (0.02, 0.2):
        amounts, _ = thick.fit(np.full((1, bench.colours), start), aims, rounds=60)
        found.append(float(thick.labs(amounts)[1, 0]))
    return min(found)


def choose_paints(
    bench: Bench, targets: FloatArray, weights: FloatArray, most: int
) -> list[int]:
    """Indices of at most `most` colours that together mix the targets best.

    targets (n, 3) CIELAB, weights (n,). Grown one paint at a time, then improved by
    exchanging single paints until none helps. The measure is the weighted mean CIEDE2000
    of the best single patch for each target.
    """
    if bench.colours <= most:
        return list(range(bench.colours))
    known: dict[tuple[int, ...], float] = {}

    def score(chosen: Sequence[int]) -> float:
        key = tuple(sorted(chosen))
        if key not in known:
            known[key] = float(weights @ mix_errors(bench.only(key), targets))
        return known[key]

    chosen: list[int] = []
    while len(chosen) < most:
        rest = [p for p in range(bench.colours) if p not in chosen]
        chosen.append(min(rest, key=lambda p: score([*chosen, p])))
    return sorted(_exchange(chosen, bench.colours, score))


def _exchange(chosen: list[int], colours: int, score: Callable[[Sequence[int]], float]) -> list[int]:
    while True:
        swaps = [
            [*chosen[:i], *chosen[i + 1 :], p]
            for i in range(len(chosen))
            for p in range(colours)
            if p not in chosen
        ]
        better = min(swaps, key=score, default=chosen)
        if score(better) >= score(chosen) - 1e-4:
            return chosen
        chosen = better
