"""One coat inside many stacks mixed anew, everything under and over it as it is.

What lies over a coat turns the light that comes up from it, band by band, into what is seen:
every dry layer of reflectance r and transmittance t, and the surface too, is a map
g → (a·g + b)/(c·g + d) of the reflectance g below [Kubelka1954], [Saunderson1942], and such
maps compose like 2 × 2 matrices. So however many glazes lie over it, a trial of another mixture
costs one coat per stack.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000_residuals_1
from firstwash.optics.kubelka import over_1, slab_1
from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import first_coat_1
from firstwash.plan.bench import Bench
from firstwash.plan.bounded import bounded_step
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS
from firstwash.plan.whatif import Footprint, Scenario

__all__ = ["LOOK_WEIGHT", "Slot", "fit_mixtures", "slot_of", "slot_over"]

LOOK_WEIGHT = 0.1  # of the look right after the wash against 1 for the finished look, as lead-ins
CAP_PRICE = 5.0  # per L* that a first wash is darker than it may be, or per % of overload


@dataclass(frozen=True, eq=False)
class Slot:
    """A coat's place in its stacks.

    below: (stacks, bands) inside reflectance under it; lens: (stacks, 4, bands) a, b, c, d of
    the map from the reflectance after it to what is seen at the end; first: (stacks,) whether
    it is the coat that sinks into the paper; share: (stacks,) of its amount. aims: (m, 6) rows of
    stack, 1 for the finished look or 0 for the look right after it, L*, a*, b*, weight; or of
    stack, 2 for no chroma in the finished look, L*, price of L* missed, 0, weight.
    cap: L* it must not be darker than right after it, 0 for none.
    """

    below: NDArray[np.float64]
    lens: NDArray[np.float64]
    first: NDArray[np.bool_]
    share: NDArray[np.float64]
    aims: NDArray[np.float64]
    cap: float


def slot_of(foot: Footprint, planned: Scenario, aims: FloatArray, cap_first: bool) -> Slot:
    """The slot of a footprint's wash; aims: (every cell of the plan, 3).

    cap_first: hold a wash of layer 1 as pale as first washes are (or as this one is).
    """
    ready = planned.ready
    bands = ready.k.shape[1]
    stacks = len(foot.coats)
    below, lens = np.empty((stacks, bands)), np.empty((stacks, 4, bands))
    _slots(
        planned.counts, planned.puddles, planned.strengths, foot.place,
        ready.k, ready.s, ready.sheet, below, lens,
    )  # fmt: skip
    looks = planned.labs()[np.arange(stacks), foot.place + 1]
    cap = min(FIRST_WASH_LIGHTNESS, float(looks[:, 0].min())) if cap_first else 0.0
    return Slot(
        below=below,
        lens=lens,
        first=foot.place == 0,
        share=foot.share,
        aims=_aims(foot, looks, aims),
        cap=cap,
    )


def slot_over(under: Scenario, aims: FloatArray) -> Slot:
    """The slot of a new coat on top of a single stack; aims as in `Slot`."""
    ready = under.ready
    below, lens = np.empty((1, ready.k.shape[1])), np.empty((1, 4, ready.k.shape[1]))
    _slots(
        under.counts, under.puddles, under.strengths, under.counts,
        ready.k, ready.s, ready.sheet, below, lens,
    )  # fmt: skip
    rows = np.asarray(aims, dtype=np.float64)
    return Slot(below, lens, under.counts == 0, np.ones(1), rows, 0.0)


def _aims(foot: Footprint, looks: FloatArray, aims: FloatArray) -> NDArray[np.float64]:
    weight = foot.areas / foot.areas.sum()
    shown = np.bincount(foot.stack_of, weight, minlength=len(foot.coats))
    ends = np.column_stack(
        [foot.stack_of, np.ones(len(weight)), aims[foot.cells], weight],
    )
    stages = np.column_stack(
        [np.arange(len(shown)), np.zeros(len(shown)), looks, LOOK_WEIGHT * shown],
    )
    return np.ascontiguousarray(np.vstack([ends, stages]), dtype=np.float64)


@njit(cache=True, nogil=True)
def _slots(counts, puddles, strengths, place, k, s, sheet, below, lens):  # type: ignore[no-untyped-def]
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    for i in range(counts.size):
        for b in range(ground.size):
            g = ground[b]
            for j in range(place[i]):
                kx = strengths[i, j] * k[puddles[i, j], b]
                sx = strengths[i, j] * s[puddles[i, j], b]
                if j == 0:
                    g = first_coat_1(kx, sx, g, soak, fibre_k[b], fibre_s)
                else:
                    r, t = slab_1(kx, sx)
                    g = over_1(r, t, g)
            below[i, b] = g
            a0, b0, c0, d0 = 1.0, 0.0, 0.0, 1.0
            for j in range(place[i] + 1, counts[i]):
                r, t = slab_1(
                    strengths[i, j] * k[puddles[i, j], b], strengths[i, j] * s[puddles[i, j], b]
                )
                a1 = t * t - r * r
                a0, b0, c0, d0 = a1 * a0 + r * c0, a1 * b0 + r * d0, c0 - r * a0, d0 - r * b0
            a1 = (1.0 - k1) * (1.0 - k2) - k1 * k2
            lens[i, 0, b] = a1 * a0 + k1 * c0
            lens[i, 1, b] = a1 * b0 + k1 * d0
            lens[i, 2, b] = c0 - k2 * a0
            lens[i, 3, b] = d0 - k2 * b0


@njit(cache=True, nogil=True)
def _looks(amounts, chosen, k, s, below, lens, first, share, sheet, weights, white, out):  # type: ignore[no-untyped-def]
    """CIELAB (stacks, 2, 3): right after the coat, and at the end."""
    _, fibre_k, soak, fibre_s, k1, k2 = sheet
    for i in range(first.size):
        x0 = y0 = z0 = x1 = y1 = z1 = 0.0
        for b in range(below.shape[1]):
            kx = 0.0
            sx = 0.0
            for p in range(chosen.size):
                kx += share[i] * amounts[p] * k[chosen[p], b]
                sx += share[i] * amounts[p] * s[chosen[p], b]
            if first[i]:
                g = first_coat_1(kx, sx, below[i, b], soak, fibre_k[b], fibre_s)
            else:
                r, t = slab_1(kx, sx)
                g = over_1(r, t, below[i, b])
            seen = k1 + (1.0 - k1) * (1.0 - k2) * g / (1.0 - k2 * g)
            x0 += seen * weights[b, 0]
            y0 += seen * weights[b, 1]
            z0 += seen * weights[b, 2]
            seen = (lens[i, 0, b] * g + lens[i, 1, b]) / (lens[i, 2, b] * g + lens[i, 3, b])
            x1 += seen * weights[b, 0]
            y1 += seen * weights[b, 1]
            z1 += seen * weights[b, 2]
        out[i, 0, 0], out[i, 0, 1], out[i, 0, 2] = xyz_to_lab_1(x0, y0, z0, white)
        out[i, 1, 0], out[i, 1, 1], out[i, 1, 2] = xyz_to_lab_1(x1, y1, z1, white)


@njit(cache=True, nogil=True)
def _fill(labs, aims, cap, amounts, loads, chosen, out):  # type: ignore[no-untyped-def]
    """Residuals (rows + 1, 4): three of CIEDE2000 and one of the cap; last row the overload."""
    cost = 0.0
    for j in range(aims.shape[0]):
        i = int(aims[j, 0])
        last = int(aims[j, 1])
        w = np.sqrt(aims[j, 5])
        if last == 2:
            lab = labs[i, 1]
            e = (aims[j, 3] * (lab[0] - aims[j, 2]), lab[1], lab[2])
        else:
            e = delta_e_2000_residuals_1(labs[i, last], aims[j, 2:5])
        out[j, 0] = w * e[0]
        out[j, 1] = w * e[1]
        out[j, 2] = w * e[2]
        out[j, 3] = 0.0
        if last == 0:
            out[j, 3] = w * CAP_PRICE * max(cap - labs[i, 0, 0], 0.0)
        for c in range(4):
            cost += out[j, c] ** 2
    load = 0.0
    for p in range(chosen.size):
        load += amounts[p] * loads[chosen[p]]
    out[-1, :] = 0.0
    out[-1, 0] = 100.0 * CAP_PRICE * max(load - 1.0, 0.0)
    return cost + out[-1, 0] ** 2


@njit(cache=True, nogil=True)
def _fit(  # type: ignore[no-untyped-def]
    mixtures, amounts, costs, k, s, loads, sheet, weights, white, below, lens, first, share, aims,
    cap, rounds,
):  # fmt: skip
    n, most = mixtures.shape
    rows = aims.shape[0] + 1
    labs = np.empty((first.size, 2, 3))
    now = np.empty((rows, 4))
    new = np.empty((rows, 4))
    slope = np.empty((most, rows, 4))
    hessian = np.empty((most, most))
    gradient = np.empty(most)
    move = np.empty(most)
    free = np.ones(most, dtype=np.bool_)
    for m in range(n):
        chosen = mixtures[m]
        x = amounts[m]
        _looks(x, chosen, k, s, below, lens, first, share, sheet, weights, white, labs)
        cost = _fill(labs, aims, cap, x, loads, chosen, now)
        damping = 1e-3
        for _ in range(rounds):
            trial = x.copy()
            for p in range(most):
                step = 1e-5 / loads[chosen[p]] + 1e-4 * x[p]
                trial[p] = x[p] + step
                _looks(trial, chosen, k, s, below, lens, first, share, sheet, weights, white, labs)
                _fill(labs, aims, cap, trial, loads, chosen, new)
                slope[p] = (new - now) / step
                trial[p] = x[p]
            for p in range(most):
                gradient[p] = (slope[p] * now).sum()
                for q in range(p + 1):
                    hessian[p, q] = (slope[p] * slope[q]).sum()
                    hessian[q, p] = hessian[p, q]
            gained = False
            before = cost
            for _try in range(5):
                bounded_step(x, free, hessian, gradient, damping, move)
                for p in range(most):
                    trial[p] = max(x[p] + move[p], 0.0)
                _looks(trial, chosen, k, s, below, lens, first, share, sheet, weights, white, labs)
                cost = _fill(labs, aims, cap, trial, loads, chosen, new)
                if cost < before:
                    gained = True
                    break
                damping = max(damping * 8.0, 1e-3)
            if not gained:
                cost = before
                break
            x[:] = trial
            now[:, :] = new
            damping = max(damping * 0.3, 1e-6)
            if before - cost < 1e-4 * cost + 1e-9:
                break
        costs[m] = cost


def fit_mixtures(
    slot: Slot, colours: Bench, mixtures: IntArray, amounts: FloatArray, rounds: int = 12
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Amounts and cost of every mixture, each fitted to all the stacks at once.

    colours: bench of single paints, or of ready puddles; mixtures, amounts: (n, paints) of
    indices into it and of what to start from, ≥ 0. Cost: weighted squared CIEDE2000 (or L*
    and chroma). No coat holds more than its full load.
    """
    found = np.array(amounts, dtype=np.float64, order="C")
    which = np.ascontiguousarray(mixtures, dtype=np.int64)
    costs = np.empty(len(which))
    loads = colours.loads * float(slot.share.max())
    _fit(
        which, found, costs, colours.k, colours.s, loads, colours.sheet, colours.weights,
        colours.white, slot.below, slot.lens, slot.first, slot.share, slot.aims, slot.cap, rounds,
    )  # fmt: skip
    found /= np.maximum((found * loads[which]).sum(axis=1), 1.0)[:, None]
    return found, costs
