"""Compiled trials of shared paint: which puddle or wash each coat of a stack takes, how strong.

Arrays as in `kernels`, with ready puddles or washes for colours. prices (coats, puddles) are
per full coat of a puddle. holds (puddles, pigments): which pigments are in it; every pigment
of a stack beyond its first costs `pigment_price`, squared CIEDE2000.
"""

import numpy as np
from numba import njit

from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import seen_xyz
from firstwash.plan.kernels import coat_slopes, fit_stack, residual_slope, slopes, stack_cost

__all__ = ["assign_puddles", "assign_washes", "fit_strengths", "puddle_normal"]

# Counts of rounds are int64 wherever they come from, or each number would compile a kernel anew.
FIRST_ROUNDS = np.int64(8)  # Gauss-Newton rounds for a stack before other puddles are tried
TRIAL_ROUNDS = np.int64(4)  # and to judge a puddle by; what is kept is fitted again
WORTH_A_CHANGE = 1e-3  # squared CIEDE2000 that another puddle or wash must bring


@njit(cache=True, nogil=True)
def _as_depths(puddle_of, k, s, pk, ps):  # type: ignore[no-untyped-def]
    for i in range(puddle_of.size):
        q = puddle_of[i]
        for b in range(k.shape[1]):
            pk[i, b] = k[q, b]
            ps[i, b] = s[q, b]


@njit(cache=True, nogil=True)
def puddle_normal(  # type: ignore[no-untyped-def]
    strengths, puddle_of, puddle, k, s, pk, ps, sheet, weights, white, aims, hessian, gradient
):
    """Add one stack's share to the normal equations of a puddle's recipe.

    strengths, puddle_of (coats,); puddle curves k, s (puddles, bands); pk, ps (paints,
    bands): the single paints. Variables: parts (paints,) of `puddle`; adds to hessian
    (paints, paints) and gradient (paints,).
    """
    _, _, _, _, k1, k2 = sheet
    coats = puddle_of.size
    paints, bands = pk.shape
    coat_k = np.empty((coats, bands))
    coat_s = np.empty((coats, bands))
    _as_depths(puddle_of, k, s, coat_k, coat_s)
    amounts = np.zeros((coats, coats))
    for i in range(coats):
        amounts[i, i] = strengths[i]
    inside = np.empty((coats + 1, bands))
    through = np.empty((coats, bands))
    gk = np.empty((coats, bands))
    gs = np.empty((coats, bands))
    slopes(amounts, coat_k, coat_s, sheet, inside, through, gk, gs)
    ck = np.empty((coats, 3, bands))
    cs = np.empty((coats, 3, bands))
    slope = np.empty((3, 3))
    xyz = np.empty(3)
    lab = np.empty(3)
    row = np.empty((3, paints))
    for j in range(aims.shape[0]):
        n = int(aims[j, 0])
        if n == 0 or aims[j, 4] <= 0.0:
            continue
        seen_xyz(inside[n], k1, k2, weights, xyz)
        lab[0], lab[1], lab[2] = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
        e = residual_slope(lab, aims[j, 1:4], xyz, white, slope)
        coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
        row[:, :] = 0.0
        for i in range(n):
            a = strengths[i]
            if a <= 0.0 or puddle_of[i] != puddle:
                continue
            for p in range(paints):
                for c in range(3):
                    total = 0.0
                    for b in range(bands):
                        total += ck[i, c, b] * pk[p, b] + cs[i, c, b] * ps[p, b]
                    row[c, p] += a * total
        w = aims[j, 4]
        for u in range(paints):
            gradient[u] += w * (row[0, u] * e[0] + row[1, u] * e[1] + row[2, u] * e[2])
            for v in range(paints):
                hessian[u, v] += w * (
                    row[0, u] * row[0, v] + row[1, u] * row[1, v] + row[2, u] * row[2, v]
                )


@njit(cache=True, nogil=True)
def _pigments(puddle_of, laid, holds, pigment_price):  # type: ignore[no-untyped-def]
    """Price of the pigments in a stack beyond its first; laid (coats,): above 0 where painted."""
    count = 0
    for pigment in range(holds.shape[1]):
        for i in range(puddle_of.size):
            if laid[i] > 0.0 and puddle_of[i] >= 0 and holds[puddle_of[i], pigment]:
                count += 1
                break
    return pigment_price * max(count - 1, 0)


@njit(cache=True, nogil=True)
def fit_strengths(  # type: ignore[no-untyped-def]
    puddle_of, strengths, prices, k, s, loads, shares, sheet, weights, white, aims, cap, rounds,
    held=None,
):  # fmt: skip
    """Best strength (coats,) in place of each coat with its puddle given; returns the cost.

    puddle_of (coats,): the puddle each coat is painted with. k, s (puddles, bands).
    held (coats,): coats whose strength stays.
    """
    coats = puddle_of.size
    pk = np.empty((coats, k.shape[1]))
    ps = np.empty((coats, k.shape[1]))
    pl = np.empty(coats)
    most = np.empty(coats)
    _as_depths(puddle_of, k, s, pk, ps)
    amounts = np.zeros((coats, coats))
    pp = np.zeros((coats, coats))
    own = np.zeros((coats, coats), dtype=np.bool_)
    for i in range(coats):
        pl[i] = loads[puddle_of[i]]
        most[i] = shares[puddle_of[i]]
        amounts[i, i] = strengths[i]
        pp[i, i] = prices[i, puddle_of[i]]
        own[i, i] = True
        if held is not None:
            own[i, i] = not held[i]
    cost = fit_stack(amounts, own, pp, pk, ps, pl, most, sheet, weights, white, aims, cap, rounds)
    for i in range(coats):
        strengths[i] = amounts[i, i]
    return cost


@njit(cache=True, nogil=True)
def _visible_depth(q, k, s, weights):  # type: ignore[no-untyped-def]
    """Optical depth of a puddle as the eye weighs it, per unit amount."""
    total = 0.0
    for b in range(k.shape[1]):
        total += (k[q, b] + s[q, b]) * max(weights[b, 1], 0.0)
    return total


@njit(cache=True, nogil=True)
def assign_puddles(  # type: ignore[no-untyped-def]
    puddle_of,
    strengths,
    worth_trying,
    holds,
    pigment_price,
    prices,
    k,
    s,
    loads,
    shares,
    sheet,
    weights,
    white,
    aims,
    cap,
    sweeps,
    table,
    held=None,
):
    """Try other puddles in every coat, one coat at a time, keeping what helps.

    worth_trying (puddles, puddles): may the second stand in for the first. held (coats,): coats
    that stay as they are.
    Changes puddle_of and strengths in place; table (coats, puddles) receives the cost of
    each choice with all strengths of the stack re-fitted; returns the cost reached.
    """
    coats = puddle_of.size
    cost = fit_strengths(
        puddle_of, strengths, prices, k, s, loads, shares, sheet, weights, white, aims, cap,
        FIRST_ROUNDS, held,
    ) + _pigments(puddle_of, strengths, holds, pigment_price)  # fmt: skip
    trial_of = puddle_of.copy()
    trial = strengths.copy()
    best = strengths.copy()
    for _ in range(sweeps):
        changed = False
        for i in range(coats):
            current = puddle_of[i]
            winner = current
            before = cost
            if held is not None:  # noqa: SIM102 - only so is the branch left out where held is None
                if held[i]:
                    table[i, :] = np.inf
                    table[i, current] = cost
                    continue
            for q in range(k.shape[0]):
                table[i, q] = np.inf
                if q == current:
                    table[i, q] = before
                if q == current or not worth_trying[current, q]:
                    continue
                trial[:] = strengths
                trial_of[i] = q
                ratio = _visible_depth(current, k, s, weights) / _visible_depth(q, k, s, weights)
                trial[i] = max(min(strengths[i] * ratio, 1.0 / loads[q]), 1e-3)
                new = fit_strengths(
                    trial_of, trial, prices, k, s, loads, shares, sheet, weights, white, aims,
                    cap, TRIAL_ROUNDS, held,
                ) + _pigments(trial_of, trial, holds, pigment_price)  # fmt: skip
                table[i, q] = new
                if new < cost - WORTH_A_CHANGE:
                    cost = new
                    winner = q
                    best[:] = trial
            trial_of[i] = winner
            if winner != current:
                puddle_of[i] = winner
                strengths[:] = best
                changed = True
        if not changed:
            break
    return cost


@njit(cache=True, nogil=True)
def _lay(wash_of, i, prices, k, s, loads, shares, pp, pk, ps, pl, most):  # type: ignore[no-untyped-def]
    """Put a coat's wash, or none (−1), into the arrays of a stack."""
    w = wash_of[i]
    if w < 0:
        pp[i, i] = 0.0
        pk[i] = 0.0
        ps[i] = 0.0
        pl[i] = 0.0
        most[i] = 1.0
    else:
        pp[i, i] = prices[i, w]
        pk[i] = k[w]
        ps[i] = s[w]
        pl[i] = loads[w]
        most[i] = shares[w]


@njit(cache=True, nogil=True)
def assign_washes(  # type: ignore[no-untyped-def]
    wash_of,
    layers,
    layer_of,
    near,
    usable,
    holds,
    pigment_price,
    prices,
    k,
    s,
    loads,
    shares,
    sheet,
    weights,
    white,
    aims,
    cap,
    sweeps,
    table,
    held=None,
):
    """Try other washes of the same layer, or none, in every coat; strengths are given.

    wash_of (coats,): wash of each coat, -1 for none, changed in place. layers (coats,).
    layer_of (washes,); near (washes, washes): worth trying the second for the first.
    k, s, loads: the washes as they are laid. table (coats, washes + 1) receives the cost
    of each choice, the last column that of none; returns the cost reached. held (coats,):
    coats that stay as they are.
    """
    coats = wash_of.size
    washes = layer_of.size
    bands = k.shape[1]
    pk = np.zeros((coats, bands))
    ps = np.zeros((coats, bands))
    pl = np.zeros(coats)
    pp = np.zeros((coats, coats))
    amounts = np.eye(coats)
    most = np.ones(coats)
    laid = np.ones(coats)
    for i in range(coats):
        if wash_of[i] >= 0 and not usable[wash_of[i]]:
            wash_of[i] = -1
        _lay(wash_of, i, prices, k, s, loads, shares, pp, pk, ps, pl, most)
    cost = stack_cost(amounts, pp, pk, ps, pl, most, sheet, weights, white, aims, cap)
    cost += _pigments(wash_of, laid, holds, pigment_price)
    for _ in range(sweeps):
        changed = False
        for i in range(coats):
            current = wash_of[i]
            winner = current
            best = cost
            if held is not None:  # noqa: SIM102 - only so is the branch left out where held is None
                if held[i]:
                    table[i, :] = np.inf
                    table[i, current] = cost
                    continue
            for w in range(washes + 1):
                table[i, w] = np.inf
                if w == current or (w == washes and current < 0):
                    table[i, w] = cost
                    continue
                if w < washes and (not usable[w] or layer_of[w] != layers[i]):
                    continue
                if w < washes and current >= 0 and not near[current, w]:
                    continue
                wash_of[i] = w if w < washes else -1
                _lay(wash_of, i, prices, k, s, loads, shares, pp, pk, ps, pl, most)
                new = stack_cost(amounts, pp, pk, ps, pl, most, sheet, weights, white, aims, cap)
                new += _pigments(wash_of, laid, holds, pigment_price)
                table[i, w] = new
                if new < best - WORTH_A_CHANGE:
                    best = new
                    winner = wash_of[i]
            wash_of[i] = winner
            _lay(wash_of, i, prices, k, s, loads, shares, pp, pk, ps, pl, most)
            if winner != current:
                cost = best
                changed = True
        if not changed:
            break
    return cost
