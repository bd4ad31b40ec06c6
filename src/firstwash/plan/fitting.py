"""A plan made simpler until it fits the hours at the board.

What takes the time decides what gives way: waiting goes by layers, mixing by puddles, painting
by shapes and fine strokes.
"""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from firstwash.plan.problem import LAYERS, Limits, Progress
from firstwash.plan.result import Plan

__all__ = ["ENOUGH", "minutes_of", "within_hours"]

ATTEMPTS = 5  # times a plan is made simpler
ENOUGH = 1.05  # times the hours asked for: nobody works to the minute
AIM = 0.95  # of the hours, for an attempt comes out as guessed only about
WAITING_SHARE = 0.6  # of the hours spent waiting, from which a layer less helps more than less work
FEWEST_SHAPES, FEWEST_PUDDLES = 12, 3
LARGEST_MM2 = 400.0  # no smallest area is made larger than this for the hours
STEP_DOWN = (0.4, 0.9)  # work of one attempt, as a share of that of the last


def within_hours(
    plan_for: Callable[[Limits, Progress], Plan], plan: Plan, asked: Limits, progress: Progress
) -> Plan:
    """The plan, or a simpler one that fits the hours; the shortest one if none does.

    plan_for: makes a plan within limits, hours apart. No limit of the painter's is loosened.
    """
    if asked.hours is None or math.isinf(minutes_of(plan)):  # in such air nothing ever dries
        return plan
    best = plan
    for attempt in range(ATTEMPTS):
        if minutes_of(best) <= ENOUGH * 60.0 * asked.hours:
            break
        smaller = _less_work(plan, asked.hours)
        if smaller == plan.limits:
            break
        plan = plan_for(smaller, _part_of(progress, attempt))
        best = min(best, plan, key=minutes_of)
    return best


def _part_of(progress: Progress, attempt: int) -> Progress:
    def tell(_: str, done: float) -> None:
        progress("Fitting the plan into the hours", 0.8 + 0.05 * (attempt + done) / ATTEMPTS)

    return tell


def minutes_of(plan: Plan) -> float:
    """Minutes at the board, as one plans with."""
    return plan.schedule.minutes.mid


def _less_work(plan: Plan, hours: float) -> Limits:
    """Limits for about as much work as fits."""
    limits, time = plan.limits, plan.schedule.time
    waiting, busy = time.waiting.mid, time.mixing.mid + time.painting.mid
    layers = limits.layers
    while layers > LAYERS[0] and waiting > WAITING_SHARE * 60.0 * hours:
        waiting *= (layers - 1) / layers  # about, for layers take turns to be the slowest
        busy *= (layers - 0.5) / layers
        layers -= 1
    room = max(AIM * 60.0 * hours - waiting, 5.0)
    if busy <= room:
        return replace(limits, layers=layers)
    share = float(np.clip(room / busy, *STEP_DOWN))
    puddles = len(plan.puddles)
    return replace(
        limits,
        layers=layers,
        shapes=min(limits.shapes, max(round(plan.cells.shapes * share), FEWEST_SHAPES)),
        min_area_mm2=max(limits.min_area_mm2, min(limits.min_area_mm2 / share, LARGEST_MM2)),
        puddles=min(max(round(puddles * share), FEWEST_PUDDLES), limits.puddles or puddles),
        touches=round(limits.touches * share),
    )
