"""What becomes of a finished plan's sheet when one of its washes is another one, or none.

A wash lies in many stacks: the coats under it and over it differ from cell to cell. The
footprint of a wash gathers those stacks once; a scenario is the same footprint with other
paint in some coats, whose colours follow from the model the plan was made with. Reserves and
strokes are left aside: these are the colours inside the cells, as `Plan.stage_labs` tells them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000, delta_e_2000_residuals_1
from firstwash.plan.bench import Bench
from firstwash.plan.kernels import stack_labs
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = [
    "Footprint",
    "Scenario",
    "as_planned",
    "find_wash",
    "footprint",
    "left_out",
    "misses",
    "refit_later",
    "relaid",
    "scenario",
]

REACH = (0.2, 5.0)  # times its planned strength that a later wash may be laid at instead
STEP = 1e-4  # of the logarithm of a strength, for its slope

Coat = tuple[int, int, float]


@dataclass(frozen=True, eq=False)
class Footprint:
    """Where a wash lies.

    cells, areas (mm²): (n,); stack_of: (n,) which of the stacks each cell shows; coats: per
    stack the (layer, puddle, strength) bottom to top; place: (stacks,) which coat is the wash;
    share: (stacks,) that coat's strength over the wash's own, 1 but for a graded wash.
    """

    cells: NDArray[np.int64]
    areas: NDArray[np.float64]
    stack_of: NDArray[np.int64]
    coats: tuple[tuple[Coat, ...], ...]
    place: NDArray[np.int64]
    share: NDArray[np.float64]

    def mean(self, per_cell: FloatArray) -> NDArray[np.float64]:
        """Mean over the cells by area of (n, ...) values."""
        return np.asarray(np.tensordot(self.areas / self.areas.sum(), per_cell, axes=1))


@dataclass(frozen=True, eq=False)
class Scenario:
    """Stacks as they would be laid.

    ready: bench of puddles; counts: (stacks,) coats of each; layers, puddles, strengths:
    (stacks, most coats), what lies beyond the count is idle.
    """

    ready: Bench
    counts: NDArray[np.int64]
    layers: NDArray[np.int64]
    puddles: NDArray[np.int64]
    strengths: NDArray[np.float64]

    def labs(self) -> NDArray[np.float64]:
        """CIELAB (stacks, most coats + 1, 3) after 0, 1, … coats; the last one is repeated."""
        out = np.empty((len(self.counts), self.puddles.shape[1] + 1, 3))
        ready = self.ready
        _labs(
            self.counts, self.puddles, self.strengths, ready.k, ready.s,
            ready.sheet, ready.weights, ready.white, out,
        )  # fmt: skip
        return out

    def finals(self) -> NDArray[np.float64]:
        """CIELAB (stacks, 3) when all is dry."""
        return self.labs()[:, -1]


@njit(cache=True, nogil=True)
def _labs(counts, puddles, strengths, k, s, sheet, weights, white, out):  # type: ignore[no-untyped-def]
    most = puddles.shape[1]
    for i in range(counts.size):
        n = counts[i]
        amounts = np.zeros((n, n))
        kx = np.empty((n, k.shape[1]))
        sx = np.empty((n, k.shape[1]))
        for j in range(n):
            amounts[j, j] = strengths[i, j]
            kx[j] = k[puddles[i, j]]
            sx[j] = s[puddles[i, j]]
        stack_labs(amounts, kx, sx, sheet, weights, white, out[i, : n + 1])
        for j in range(n + 1, most + 1):
            out[i, j] = out[i, n]


def find_wash(plan: Plan, layer: int, number: int) -> Wash:
    """The wash of that layer and number. Raises LookupError if there is none."""
    for wash in plan.washes:
        if (wash.layer, wash.number) == (layer, number):
            return wash
    raise LookupError(f"The plan has no wash {number} in layer {layer}.")


def footprint(plan: Plan, wash: Wash) -> Footprint:
    """The stacks a wash lies in; wash: one of the plan's own."""
    rows: dict[tuple[Coat, ...], int] = {}
    cells = np.array(wash.cells, dtype=np.int64)
    own = np.array([rows.setdefault(plan.coats[c], len(rows)) for c in cells.tolist()])
    place = [next(i for i, coat in enumerate(s) if coat[0] == wash.layer) for s in rows]
    strengths = [s[i][2] for s, i in zip(rows, place, strict=True)]
    return Footprint(
        cells=cells,
        areas=plan.cells.areas_mm2()[cells],
        stack_of=own,
        coats=tuple(rows),
        place=np.array(place, dtype=np.int64),
        share=np.array(strengths) / max(wash.strength, 1e-12),
    )


def scenario(ready: Bench, coats: Sequence[Sequence[Coat]]) -> Scenario:
    """Stacks of (layer, puddle, strength) bottom to top, with these puddles."""
    most = max((len(c) for c in coats), default=0)
    layers = np.zeros((len(coats), most), dtype=np.int64)
    puddles = np.zeros((len(coats), most), dtype=np.int64)
    strengths = np.zeros((len(coats), most))
    for i, own in enumerate(coats):
        for j, (layer, puddle, strength) in enumerate(own):
            layers[i, j], puddles[i, j], strengths[i, j] = layer, puddle, strength
    counts = np.array([len(c) for c in coats], dtype=np.int64)
    return Scenario(ready, counts, layers, puddles, strengths)


def as_planned(plan: Plan, foot: Footprint) -> Scenario:
    """The footprint as the plan has it."""
    ready = Bench.of(plan.paints, plan.paper).puddles(plan.recipes)
    return scenario(ready, foot.coats)


def left_out(plan: Plan, foot: Footprint) -> Scenario:
    """The footprint without its wash; what lay over it then lies on what lay under it."""
    ready = Bench.of(plan.paints, plan.paper).puddles(plan.recipes)
    rest = [
        [coat for i, coat in enumerate(own) if i != place]
        for own, place in zip(foot.coats, foot.place.tolist(), strict=True)
    ]
    return scenario(ready, rest)


def relaid(
    plan: Plan, foot: Footprint, box: Bench, recipe: FloatArray, strength: float
) -> Scenario:
    """The footprint with another puddle in place of its wash.

    box: the plan's paints first, others after them; recipe: (colours,) of one full coat.
    """
    own = np.zeros((len(plan.puddles) + 1, box.colours))
    own[:-1, : len(plan.paints)] = plan.recipes
    own[-1] = recipe
    planned = scenario(box.puddles(own), foot.coats)
    rows = np.arange(len(foot.coats))
    puddles, strengths = planned.puddles.copy(), planned.strengths.copy()
    puddles[rows, foot.place] = len(plan.puddles)
    strengths[rows, foot.place] = strength * foot.share
    return replace(planned, puddles=puddles, strengths=strengths)


@njit(cache=True, nogil=True)
def _residuals(labs, targets, out):  # type: ignore[no-untyped-def]
    for i in range(labs.shape[0]):
        out[i, 0], out[i, 1], out[i, 2] = delta_e_2000_residuals_1(labs[i], targets[i])


def misses(foot: Footprint, finals: FloatArray, targets: FloatArray) -> NDArray[np.float64]:
    """CIEDE2000 (n,) of the footprint's cells against targets (every cell of the plan, 3)."""
    return delta_e_2000(finals[foot.stack_of], targets[foot.cells])


def refit_later(
    foot: Footprint, scenario: Scenario, layer: int, aims: FloatArray, sweeps: int = 2
) -> Scenario:
    """The washes over the footprint laid stronger or weaker there, one by one, bottom to top.

    layer: of the wash itself; aims: (every cell of the plan, 3). Each later wash keeps one
    strength all over the footprint. A strength is changed only if the squared CIEDE2000 there
    falls.
    """
    strengths = scenario.strengths.copy()
    for _ in range(sweeps):
        for where in _later(scenario, layer):
            _refit_one(foot, scenario, strengths, where, aims)
    return replace(scenario, strengths=strengths)


def _later(scenario: Scenario, layer: int) -> list[tuple[IntArray, IntArray]]:
    """Rows and coats of every wash above that layer, bottom to top."""
    found: dict[Coat, list[tuple[int, int]]] = {}
    for i, count in enumerate(scenario.counts.tolist()):
        for j in range(count):
            if scenario.layers[i, j] > layer:
                key = (
                    int(scenario.layers[i, j]),
                    int(scenario.puddles[i, j]),
                    float(scenario.strengths[i, j]),
                )
                found.setdefault(key, []).append((i, j))
    places = [np.array(found[key]) for key in sorted(found)]
    return [(p[:, 0], p[:, 1]) for p in places]


def _refit_one(
    foot: Footprint,
    scenario: Scenario,
    strengths: NDArray[np.float64],
    where: tuple[IntArray, IntArray],
    aims: FloatArray,
) -> None:
    """Gauss-Newton on the logarithm of one wash's strength; changes `strengths`."""
    rows, _ = where
    row_of = np.full(len(scenario.counts), -1)
    row_of[rows] = np.arange(len(rows))
    inside = np.flatnonzero(row_of[foot.stack_of] >= 0)
    own, weight = row_of[foot.stack_of[inside]], foot.areas[inside]
    targets = aims[foot.cells[inside]]
    planned = scenario.strengths[where]
    load = float((planned * scenario.ready.loads[scenario.puddles[where]]).max())
    low, high = REACH[0], max(min(REACH[1], 1.0 / max(load, 1e-12)), 1.0)

    def residuals(factor: float) -> NDArray[np.float64]:
        trial = strengths[rows]
        trial[np.arange(len(rows)), where[1]] = planned * factor
        part = Scenario(
            scenario.ready, scenario.counts[rows], scenario.layers[rows],
            scenario.puddles[rows], trial,
        )  # fmt: skip
        out = np.empty((len(inside), 3))
        _residuals(part.finals()[own], targets, out)
        return np.asarray(out * np.sqrt(weight)[:, None])

    factor = float(strengths[rows[0], where[1][0]] / planned[0])
    now = residuals(factor)
    for _ in range(4):
        slope = (residuals(factor * np.exp(STEP)) - now) / STEP
        bend = float((slope * slope).sum())
        if bend <= 1e-12:
            break
        move = -float((slope * now).sum()) / bend
        gained = False
        for _ in range(4):
            trial = float(np.clip(factor * np.exp(np.clip(move, -1.0, 1.0)), low, high))
            new = residuals(trial)
            if (new * new).sum() < (now * now).sum() * (1.0 - 1e-9):
                factor, now, gained = trial, new, True
                break
            move *= 0.25
        if not gained:
            break
    strengths[where] = planned * factor
