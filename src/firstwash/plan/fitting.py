"""A plan made to fit the hours at the board: first hurried, then simpler.

A painter short of time first stops waiting inside a layer and wetting the paper again, which
changes no wash's colour. What is still too long is made simpler by one measure, the work: shapes
and fine strokes go with it, puddles and washes with its square root, for they cost less time and
more colour. A layer less is taken where that costs less than what work would have to go for it.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from firstwash.plan.problem import LAYERS, Limits, Progress
from firstwash.plan.rebuild import rebuilt
from firstwash.plan.result import Plan

__all__ = ["ENOUGH", "in_a_hurry", "is_too_long", "minutes_of", "within_hours"]

ATTEMPTS = 5  # times a plan is made simpler, or fuller again
ENOUGH = 1.05  # times the hours asked for: nobody works to the minute
AIM, IDLE = 0.97, 0.85  # of the hours: what an attempt aims at; below which there is room for more
# What simplicity costs in CIEDE2000, as measured on the test photos (decision 7).
LAYERS_COST = {2: 1.3, 3: 0.2}  # of so few layers
WORK_COST = 0.6  # of work e times smaller
# Minutes of mixing and painting go with work to this power (measured likewise).
WORK_POWER = 0.5
LEAST_WORK, SAME_WORK = 0.03, 1.06
# Fewer are no painting of a photo (washes: of each layer). Common practice, no source.
FEWEST_SHAPES, FEWEST_PUDDLES, FEWEST_WASHES = 12, 3, 4
LARGEST_MM2 = 400.0  # no smallest area is made larger than this for the hours


@dataclass(frozen=True)
class _Size:
    """How much is painted: in so many layers, and of the full plan's work (0-1]."""

    layers: int
    work: float

    @property
    def cost(self) -> float:
        """CIEDE2000 it is expected to lose."""
        return LAYERS_COST.get(self.layers, 0.0) - WORK_COST * math.log(self.work)

    def is_near(self, other: "_Size") -> bool:
        """Whether nothing new is to be expected from the other."""
        ratio = self.work / other.work
        return self.layers == other.layers and 1.0 / SAME_WORK < ratio < SAME_WORK


def minutes_of(plan: Plan) -> float:
    """Minutes at the board, as one plans with."""
    return plan.schedule.minutes.mid


def is_too_long(plan: Plan, hours: float | None) -> bool:
    """Whether a plan takes more than these hours."""
    return hours is not None and minutes_of(plan) > ENOUGH * 60.0 * hours


def in_a_hurry(plan: Plan) -> Plan:
    """The same plan laid without waiting or wetting inside its layers (see Schedule)."""
    return plan if plan.schedule.hurried else rebuilt(plan, plan.coats, hurried=True)


def within_hours(
    plan_for: Callable[[Limits, Progress], Plan],
    plan: Plan,
    asked: Limits,
    error: Callable[[Plan], float],
    progress: Progress,
) -> Plan:
    """The plan, or a hurried and perhaps simpler one that fits the hours; the shortest if none.

    plan_for: makes a plan within limits, hours apart. error: of a plan, by which the best is
    taken where several fit. No limit of the painter's is loosened.
    """
    hours = asked.hours
    if hours is None or math.isinf(minutes_of(plan)):  # in such air nothing ever dries
        return plan
    if not is_too_long(plan, hours):
        return plan
    full = in_a_hurry(plan)
    tried = [(_Size(plan.limits.layers, 1.0), full)]
    for attempt in range(ATTEMPTS):
        size, last = tried[-1]
        if not is_too_long(last, hours) and (
            size.work == 1.0 or minutes_of(last) >= IDLE * 60.0 * hours
        ):
            break
        wanted = _fitting(size, last, asked.layers, hours)
        if any(wanted.is_near(other) for other, _ in tried):
            break  # nothing new would come of it
        smaller = _limits_of(wanted, full)
        tried.append((wanted, in_a_hurry(plan_for(smaller, _part_of(progress, attempt)))))
    fit = [found for _, found in tried if not is_too_long(found, hours)]
    if len(fit) > 1:
        return min(fit, key=error)
    return fit[0] if fit else min((found for _, found in tried), key=minutes_of)


def _part_of(progress: Progress, attempt: int) -> Progress:
    def tell(_: str, done: float) -> None:
        progress("Fitting the plan into the hours", 0.8 + 0.05 * (attempt + done) / ATTEMPTS)

    return tell


def _fitting(size: _Size, plan: Plan, most_layers: int, hours: float) -> _Size:
    """The size that should fit and costs least, judging by the minutes of a plan of some size."""
    least = _Size(LAYERS[0], LEAST_WORK)
    return min(_sizes(size, plan, most_layers, hours), key=lambda s: s.cost, default=least)


def _sizes(size: _Size, plan: Plan, most_layers: int, hours: float) -> Iterator[_Size]:
    """Per number of layers the work that should fit, where any does."""
    time = plan.schedule.time
    first, *later = (layer.drying.mid for layer in time.layers)
    busy = time.total.mid - first - sum(later)
    for layers in range(LAYERS[0], most_layers + 1):
        # Each takes its turn to dry, the strokes after the last one too.
        drying = first + sum(later) * (layers - 1) / max(size.layers - 1, 1)
        full = busy * (layers + 1) / (size.layers + 1)  # a layer less saves less than its share
        room = AIM * 60.0 * hours - drying
        if room > 0.0:
            work = size.work * (room / full) ** (1.0 / WORK_POWER)
            if work >= LEAST_WORK:
                yield _Size(layers, min(work, 1.0))


def _limits_of(size: _Size, full: Plan) -> Limits:
    """Limits for a plan of that size, none looser than those of the full plan."""
    limits, work, root = full.limits, size.work, math.sqrt(size.work)
    puddles, washes = len(full.puddles), len(full.washes)
    few = max(round(washes * root), FEWEST_WASHES * size.layers)
    return replace(
        limits,
        layers=size.layers,
        shapes=min(limits.shapes, max(round(full.cells.shapes * work), FEWEST_SHAPES)),
        min_area_mm2=max(limits.min_area_mm2, min(limits.min_area_mm2 / root, LARGEST_MM2)),
        puddles=min(max(round(puddles * root), FEWEST_PUDDLES), limits.puddles or puddles),
        washes=few if limits.washes is None else min(few, limits.washes),
        touches=round(limits.touches * work),
    )
