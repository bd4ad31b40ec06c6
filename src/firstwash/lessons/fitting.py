"""Amounts of paint fitted to colours, many places at once, in the same optics as the pictures.

Levenberg's damped Gauss-Newton on the logarithms of the amounts, slopes by small differences; a
step is kept only where CIEDE2000 falls. The method is from memory.
"""

from collections.abc import Callable, Sequence
from itertools import combinations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench

__all__ = ["MOST_IN_PUDDLE", "fit_amounts", "fit_few"]

MOST_IN_PUDDLE: Final = 3

ROUNDS: Final = 18
SETTLED, PATIENCE = 0.01, 2  # CIEDE2000 that a round must gain somewhere; rounds without
FAINTEST: Final = 1e-6  # amount that shows nothing
NUDGE: Final = 0.01  # of a logarithm


def fit_amounts(
    seen: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    wanted: FloatArray,
    most: FloatArray,
) -> NDArray[np.float64]:
    """Amounts (n, paints) near `start` whose colours come nearest to `wanted` (n, 3) CIELAB.

    seen: CIELAB (n, 3) of amounts (n, paints). most: (paints,) the largest amount of each.
    What shows nothing comes back as 0. No place comes out further off than it starts.
    """
    top = np.log(np.asarray(most, dtype=np.float64))
    logs = np.clip(np.log(np.maximum(start, 4.0 * FAINTEST)), np.log(FAINTEST), top)
    lab = seen(np.exp(logs))
    miss, damp = delta_e_2000(lab, wanted), np.full(len(logs), 1.0)
    idle = 0
    for _ in range(ROUNDS):
        slopes = _slopes(seen, logs, lab)
        turn = slopes.transpose(0, 2, 1)
        square = turn @ slopes + damp[:, None, None] * np.eye(logs.shape[1])
        pull = turn @ (wanted - lab)[..., None]
        step = np.clip(np.linalg.solve(square, pull)[..., 0], -1.5, 1.5)
        tried = np.clip(logs + step, np.log(FAINTEST), top)
        there = seen(np.exp(tried))
        now = delta_e_2000(there, wanted)
        better = now < miss
        gain = float((miss - now).max())
        logs[better], lab[better], miss[better] = tried[better], there[better], now[better]
        damp = np.where(better, damp * 0.3, damp * 5.0).clip(1e-4, 1e6)
        idle = 0 if gain >= SETTLED else idle + 1
        if idle == PATIENCE:
            break
    found = np.exp(logs)
    return np.where(found <= 8.0 * FAINTEST, 0.0, found)


def fit_few(
    bench: Bench,
    seen: Callable[[FloatArray], FloatArray],
    wanted: FloatArray,
    depths: Sequence[float],
) -> NDArray[np.float64]:
    """Amounts (n, paints) of at most three paints each that come nearest to `wanted` (n, 3).

    seen: as in `fit_amounts`, of all the bench's paints. depths: visible depths to start from.
    """
    most = min(MOST_IN_PUDDLE, bench.colours)
    groups = list(combinations(range(bench.colours), most))
    full = 1.0 / bench.loads
    found, off = [], []
    for group, depth in product(groups, depths):
        here = list(group)

        whole = _in_places(here, bench.colours)
        start = np.tile(depth * full[here] / bench.visible_depth()[here] / most, (len(wanted), 1))

        def looks(
            amounts: FloatArray, whole: Callable[[FloatArray], FloatArray] = whole
        ) -> FloatArray:
            return seen(whole(amounts))

        amounts = whole(fit_amounts(looks, start, wanted, full[here]))
        found.append(amounts)
        off.append(delta_e_2000(seen(amounts), wanted))
    best = np.argmin(off, axis=0)
    return np.asarray(np.array(found)[best, np.arange(len(wanted))])


def _in_places(here: list[int], colours: int) -> Callable[[FloatArray], FloatArray]:
    """What writes amounts (n, few) into the columns `here` of (n, colours)."""

    def whole(amounts: FloatArray) -> FloatArray:
        out = np.zeros((len(amounts), colours))
        out[:, here] = amounts
        return out

    return whole


def _slopes(
    seen: Callable[[FloatArray], FloatArray], logs: FloatArray, lab: FloatArray
) -> NDArray[np.float64]:
    """(n, 3, paints): change of CIELAB by the logarithm of each amount."""
    out = []
    for p in range(logs.shape[1]):
        moved = logs.copy()
        moved[:, p] += NUDGE
        out.append((seen(np.exp(moved)) - lab) / NUDGE)
    return np.stack(out, axis=-1)
