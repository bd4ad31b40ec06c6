"""The glaze pairs of a plan: which puddle is laid over which, on how much of the sheet."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import triple
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan

__all__ = ["Pair", "Stroke", "glaze_pairs"]

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class Stroke:
    """What a dry stroke shows: CIELAB (D65) and its value step."""

    lab: Lab
    step: int


@dataclass(frozen=True)
class Pair:
    """One puddle glazed over another, straight upon it.

    under, over: of the plan's puddles; share: of the sheet, 0-1, where they meet so. alone_under,
    alone_over, both: dry strokes on this paper at the strengths that most of that area has.
    strengths: those, of the lower and of the upper puddle.
    """

    under: int
    over: int
    share: float
    alone_under: Stroke
    alone_over: Stroke
    both: Stroke
    strengths: tuple[float, float]


def glaze_pairs(plan: Plan) -> tuple[Pair, ...]:
    """Every pair of a plan, the one on most of the sheet first."""
    areas = plan.cells.areas_mm2()
    met: dict[tuple[int, int], list[tuple[float, float, float]]] = {}
    for coats, area in zip(plan.coats, areas.tolist(), strict=True):
        for (_, under, weak), (_, over, strong) in pairwise(coats):
            met.setdefault((under, over), []).append((weak, strong, area))
    bench = Bench.of(plan.paints, plan.paper)
    pairs = [
        _pair(plan, bench, pair, np.array(found), float(areas.sum())) for pair, found in met.items()
    ]
    return tuple(sorted(pairs, key=lambda p: (-p.share, p.under, p.over)))


def _pair(
    plan: Plan,
    bench: Bench,
    pair: tuple[int, int],
    found: NDArray[np.float64],
    sheet_mm2: float,
) -> Pair:
    """found: (n, 3) strength of the lower and of the upper coat, and area in mm²."""
    under, over = pair
    lower, upper = (_median(found[:, i], found[:, 2]) for i in (0, 1))
    coats = np.array([plan.recipes[under] * lower, plan.recipes[over] * upper])
    _, below, whole = bench.labs(coats)
    above = bench.labs(coats[1:])[1]
    share = float(found[:, 2].sum()) / sheet_mm2
    strokes = _stroke(below), _stroke(above), _stroke(whole)
    return Pair(under, over, share, *strokes, (lower, upper))


def _median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    """The value that half the weight lies below."""
    order = np.argsort(values, kind="stable")
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order[int(np.argmax(share >= 0.5))]])


def _stroke(lab: NDArray[np.float64]) -> Stroke:
    return Stroke(triple(lab), int(value_step(lab[0])))
