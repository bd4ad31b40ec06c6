"""Planning what is left, over the paint that lies on the sheet.

What was laid is a plan of its own: the same drawing, with the strengths found instead of those
meant. Of it the painted layers stay as they are, and the rest can be left as planned, made a
little stronger or weaker wash by wash, or planned anew.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.fields import amounts_by_cell, paint_amounts
from firstwash.plan.locks import Locks
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.rebuild import rebuilt
from firstwash.plan.replan import replan
from firstwash.plan.result import Plan

__all__ = ["as_laid", "ending_error", "plan_rest", "strengths_refitted"]

STEP: Final = 0.08  # of ln strength: nearer areas of one wash are told as one
NEAR: Final = 0.6  # σ of ln(new strength / planned): a wash stays the wash it was; own judgement
HELD: Final = 0.02  # squared CIEDE2000 of the whole sheet that one such σ must save; own judgement
ROUNDS: Final = 8
SLOPE: Final = 0.02
MOST: Final = 1.6  # |ln| by which a wash may change
FULL: Final = 1.0  # strongest coat


def as_laid(plan: Plan, log_ratio: FloatArray, done: int) -> Plan:
    """The plan with the coats of its first `done` layers as strong as they were laid.

    log_ratio: (cells, layers) ln(laid / meant). Areas of a shape get one strength in a layer, for
    they were laid with one brush; near strengths of one wash count as one.
    """
    ratio = _by_shape(plan, as_float(log_ratio)[:, :done])
    coats = tuple(
        tuple((n, q, s * float(np.exp(ratio[cell, n - 1])) if n <= done else s) for n, q, s in own)
        for cell, own in enumerate(plan.coats)
    )
    return rebuilt(plan, coats)


def _by_shape(plan: Plan, log_ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """(cells, done) means over each shape by area, in steps."""
    area = plan.cells.areas_mm2()
    shape = plan.cells.shape_of
    out = np.zeros_like(log_ratio)
    for layer in range(log_ratio.shape[1]):
        has = np.array([any(c[0] == layer + 1 for c in own) for own in plan.coats])
        sums = np.bincount(shape[has], (area * log_ratio[:, layer])[has], plan.cells.shapes)
        total = np.bincount(shape[has], area[has], plan.cells.shapes)
        mean = sums / np.maximum(total, 1e-12)
        out[has, layer] = np.round(mean / STEP)[shape[has]] * STEP
    return out


def strengths_refitted(plan: Plan, done: int) -> Plan:
    """The plan with the washes after layer `done` stronger or weaker, so that it ends best.

    Mixtures, areas and the number of washes stay. Least squares in CIEDE2000-like units by area
    against what the areas should show, each wash held near what it was.
    """
    bench = Bench.of(plan.paints, plan.paper)
    amounts = amounts_by_cell(plan.coats, plan.recipes, plan.layers)
    left = [i for i, w in enumerate(plan.washes) if w.layer > done]
    if not left:
        return plan
    column = np.full((plan.cells.count, plan.layers), -1)
    for n, i in enumerate(left):
        column[list(plan.washes[i].cells), plan.washes[i].layer - 1] = n
    area = plan.cells.areas_mm2()
    share = np.sqrt(area / area.sum())
    most = np.array([np.log(FULL / max(plan.washes[i].strength, 1e-6)) for i in left])
    most = np.clip(most, 0.0, MOST)
    x = np.zeros(len(left))
    best, held = x, np.inf
    for _ in range(ROUNDS):
        painted, slopes = _slopes(bench, amounts, column, x)
        scale = share[:, None] / _units(plan.aims)
        off = (plan.aims - painted) * scale
        cost = float((off**2).sum()) + _hold(x)
        if cost < held:
            best, held = x, cost
        design = (slopes * scale[..., None]).reshape(-1, len(x))
        ridge = np.eye(len(x)) * (HELD / NEAR**2)
        step = np.linalg.solve(design.T @ design + ridge, design.T @ off.ravel() - ridge @ x)
        x = np.clip(x + np.clip(step, -0.5, 0.5), -MOST, most)
    factor = np.exp(best)
    coats = tuple(
        tuple(
            (layer, q, s if (n := column[cell, layer - 1]) < 0 else s * float(factor[n]))
            for layer, q, s in own
        )
        for cell, own in enumerate(plan.coats)
    )
    return rebuilt(plan, coats)


def _hold(x: NDArray[np.float64]) -> float:
    return float(HELD * (x**2).sum() / NEAR**2)


def _units(aims: NDArray[np.float64]) -> NDArray[np.float64]:
    """(cells, 3) CIELAB units that are about one of CIEDE2000 near these colours: its own
    weights of lightness and chroma, from memory.
    """
    chroma = np.hypot(aims[:, 1], aims[:, 2])
    light = (aims[:, 0] - 50.0) ** 2
    s_l = 1.0 + 0.015 * light / np.sqrt(20.0 + light)
    s_c = 1.0 + 0.045 * chroma
    return np.stack([s_l, s_c, s_c], axis=1)


def _slopes(
    bench: Bench, amounts: FloatArray, column: NDArray[np.int64], x: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """CIELAB (cells, 3) at the end, and its slopes (cells, 3, washes) by ln strength."""
    there = column >= 0
    log = np.where(there, x[np.maximum(column, 0)], 0.0)

    def labs(shift: NDArray[np.float64]) -> NDArray[np.float64]:
        xyz = paint_amounts(bench, amounts * np.exp(log + shift)[..., None])[:, -1]
        return np.asarray(xyz_to_lab(xyz))

    painted = labs(np.zeros_like(log))
    slopes = np.zeros((len(amounts), 3, len(x)))
    for layer in range(column.shape[1]):
        own = np.flatnonzero(there[:, layer])
        if len(own):
            moved = np.zeros_like(log)
            moved[own, layer] = SLOPE
            slopes[own, :, column[own, layer]] += (labs(moved) - painted)[own] / SLOPE
    return painted, slopes


def plan_rest(
    plan: Plan, reference: Reference, done: int, locks: Locks, progress: Progress = no_progress
) -> Plan:
    """What is left planned anew: mixtures, strengths and washes, over layers that stay.

    plan: as it was laid (`as_laid`). locks: what else the painter keeps.
    Raises RequestError where locks and limits contradict each other.
    """
    if not 0 <= done <= plan.layers:
        raise RequestError(f"The plan has layers 1 to {plan.layers}, not {done}.")
    laid = sum(w.layer <= done for w in plan.washes)
    kept = replace(locks, layers=locks.layers | frozenset(range(1, done + 1)))
    limits = plan.limits
    if limits.washes is not None:
        limits = replace(limits, washes=max(limits.washes, laid + limits.washes // 2))
    found = replan(plan, reference, limits, kept, progress=progress)
    return found.told_more(limits=plan.limits)


def ending_error(plan: Plan) -> float:
    """Mean CIEDE2000 by area between what the areas end as and what they should show."""
    area = plan.cells.areas_mm2()
    return float(delta_e_2000(plan.stage_labs[-1], plan.aims) @ area / area.sum())
