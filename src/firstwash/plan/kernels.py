"""Compiled core of the planner: one stack of coats, fitted to the colours it should show.

A stack is what one shape receives: coats 0 … n − 1, bottom to top, each a mixture of
`colours` (single paints, or ready puddles). A cell of the shape shows the stack up to
own number of coats. Coat 0 is the one that soaks into the paper. Residuals are those of
CIEDE2000 (their length is the difference itself), so least squares minimises the weighted
sum of squared CIEDE2000.

Arrays: amounts (coats, colours) ≥ 0 in full-strength coats; k, s (colours, bands);
ground, fibre_k (bands,); weights (bands, 3); everything float64 and C-ordered.
"""

import numpy as np
from numba import njit

from firstwash.optics.difference import delta_e_2000_residuals_1
from firstwash.optics.kubelka import over_1, slab_1, slab_gradient_1
from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import first_coat_1, first_coat_gradient_1
from firstwash.optics.surface import leave_surface_1
from firstwash.plan.bounded import bounded_step

__all__ = [
    "assign_puddles",
    "assign_washes",
    "fit_stack",
    "fit_strengths",
    "mix_freely",
    "puddle_normal",
    "stack_cost",
    "stack_labs",
]

CAP_PRICE = 100.0  # per √(unit): a coat over its load, or a first wash under its lightness
# Counts of rounds are int64 wherever they come from, or each number would compile a kernel anew.
FIRST_ROUNDS = np.int64(8)  # Gauss-Newton rounds for a stack before other puddles are tried
TRIAL_ROUNDS = np.int64(4)  # and to judge a puddle by; what is kept is fitted again
SAVING = 0.02  # CIEDE2000 a full coat must earn, so that idle paint goes to zero


@njit(cache=True, nogil=True)
def _depths(amounts, k, s, kx, sx):  # type: ignore[no-untyped-def]
    """Optical depths (coats, bands) of every coat."""
    coats, colours = amounts.shape
    for i in range(coats):
        for b in range(k.shape[1]):
            kx[i, b] = 0.0
            sx[i, b] = 0.0
        for p in range(colours):
            a = amounts[i, p]
            if a > 0.0:
                for b in range(k.shape[1]):
                    kx[i, b] += a * k[p, b]
                    sx[i, b] += a * s[p, b]


@njit(cache=True, nogil=True)
def _show(inside, bands, k1, k2, weights, white):  # type: ignore[no-untyped-def]
    x = 0.0
    y = 0.0
    z = 0.0
    for b in range(bands):
        r = leave_surface_1(inside[b], k1, k2)
        x += r * weights[b, 0]
        y += r * weights[b, 1]
        z += r * weights[b, 2]
    return xyz_to_lab_1(x, y, z, white)


@njit(cache=True, nogil=True)
def stack_labs(amounts, k, s, sheet, weights, white, labs):  # type: ignore[no-untyped-def]
    """CIELAB of the stack after 0, 1, … coats into labs (coats + 1, 3)."""
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    coats = amounts.shape[0]
    bands = ground.size
    kx = np.empty((coats, bands))
    sx = np.empty((coats, bands))
    _depths(amounts, k, s, kx, sx)
    inside = ground.copy()
    labs[0, 0], labs[0, 1], labs[0, 2] = _show(inside, bands, k1, k2, weights, white)
    for i in range(coats):
        if i == 0:
            for b in range(bands):
                inside[b] = first_coat_1(kx[i, b], sx[i, b], inside[b], soak, fibre_k[b], fibre_s)
        else:
            for b in range(bands):
                r, t = slab_1(kx[i, b], sx[i, b])
                inside[b] = over_1(r, t, inside[b])
        labs[i + 1, 0], labs[i + 1, 1], labs[i + 1, 2] = _show(
            inside, bands, k1, k2, weights, white
        )


@njit(cache=True, nogil=True)
def _penalties(amounts, loads, labs, cap):  # type: ignore[no-untyped-def]
    """Squared price of overloaded coats and of a first wash darker than `cap` (L*)."""
    total = 0.0
    for i in range(amounts.shape[0]):
        load = 0.0
        for p in range(amounts.shape[1]):
            load += amounts[i, p] * loads[p]
            total += SAVING * SAVING * amounts[i, p] * loads[p]
        if load > 1.0:
            total += (CAP_PRICE * (load - 1.0)) ** 2
    if labs.shape[0] > 1 and labs[1, 0] < cap:
        total += (CAP_PRICE * 0.05 * (cap - labs[1, 0])) ** 2
    return total


@njit(cache=True, nogil=True)
def stack_cost(amounts, k, s, loads, sheet, weights, white, aims, cap):  # type: ignore[no-untyped-def]
    """Weighted sum of squared CIEDE2000 residuals over the aims, plus the price of broken caps.

    loads (colours,): share of one coat's largest load per unit amount.
    aims (n, 5): number of coats, L*, a*, b*, weight.
    """
    labs = np.empty((amounts.shape[0] + 1, 3))
    stack_labs(amounts, k, s, sheet, weights, white, labs)
    total = _penalties(amounts, loads, labs, cap)
    for j in range(aims.shape[0]):
        n = int(aims[j, 0])
        e0, e1, e2 = delta_e_2000_residuals_1(labs[n], aims[j, 1:4])
        total += aims[j, 4] * (e0 * e0 + e1 * e1 + e2 * e2)
    return total


@njit(cache=True, nogil=True)
def _residual_slope(lab, target, xyz, white, out):  # type: ignore[no-untyped-def]
    """Residuals (3,) of one colour and their slope (3, 3) by XYZ, by forward differences."""
    base = delta_e_2000_residuals_1(lab, target)
    moved = np.empty(3)
    for c in range(3):
        step = 1e-8 * (white[c] + xyz[c])
        q0 = xyz[0] + (step if c == 0 else 0.0)
        q1 = xyz[1] + (step if c == 1 else 0.0)
        q2 = xyz[2] + (step if c == 2 else 0.0)
        moved[0], moved[1], moved[2] = xyz_to_lab_1(q0, q1, q2, white)
        e = delta_e_2000_residuals_1(moved, target)
        out[0, c] = (e[0] - base[0]) / step
        out[1, c] = (e[1] - base[1]) / step
        out[2, c] = (e[2] - base[2]) / step
    return base


@njit(cache=True, nogil=True)
def _slopes(amounts, k, s, sheet, inside, through, gk, gs):  # type: ignore[no-untyped-def]
    """Inside reflectance after each coat, and how each coat answers its own depths.

    inside (coats + 1, bands); through, gk, gs (coats, bands): slope of the reflectance
    after coat i by the reflectance under it, by its kx and by its sx.
    """
    ground, fibre_k, soak, fibre_s, _, _ = sheet
    coats = amounts.shape[0]
    bands = ground.size
    kx = np.empty((coats, bands))
    sx = np.empty((coats, bands))
    _depths(amounts, k, s, kx, sx)
    for b in range(bands):
        inside[0, b] = ground[b]
        for i in range(coats):
            below = inside[i, b]
            if i == 0:
                r, gk[i, b], gs[i, b] = first_coat_gradient_1(
                    kx[i, b], sx[i, b], below, soak, fibre_k[b], fibre_s
                )
                inside[i + 1, b] = r
                through[i, b] = 0.0  # nothing that varies lies under the first coat
                continue
            r, t, r_k, r_s, t_k, t_s = slab_gradient_1(kx[i, b], sx[i, b])
            gap = 1.0 - r * below
            inside[i + 1, b] = r + t * t * below / gap
            through[i, b] = (t / gap) ** 2
            w_r = 1.0 + (t * below / gap) ** 2
            w_t = 2.0 * t * below / gap
            gk[i, b] = w_r * r_k + w_t * t_k
            gs[i, b] = w_r * r_s + w_t * t_s


@njit(cache=True, nogil=True)
def _coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs):  # type: ignore[no-untyped-def]
    """Slope of three residuals after n coats by the depths of each coat.

    slope (3, 3): residuals by XYZ. Fills ck, cs (coats, 3, bands) for coats below n.
    """
    bands = inside.shape[1]
    for b in range(bands):
        gap = 1.0 - k2 * inside[n, b]
        surface = (1.0 - k1) * (1.0 - k2) / (gap * gap)
        w0 = surface * weights[b, 0]
        w1 = surface * weights[b, 1]
        w2 = surface * weights[b, 2]
        for i in range(n - 1, -1, -1):
            for c in range(3):
                w = w0 * slope[c, 0] + w1 * slope[c, 1] + w2 * slope[c, 2]
                ck[i, c, b] = w * gk[i, b]
                cs[i, c, b] = w * gs[i, b]
            w0 *= through[i, b]
            w1 *= through[i, b]
            w2 *= through[i, b]


@njit(cache=True, nogil=True)
def _normal(  # type: ignore[no-untyped-def]
    amounts, allowed, k, s, loads, sheet, weights, white, aims, cap, hessian, gradient
):
    """Gauss-Newton normal equations of the stack; returns the cost. Variables row by row."""
    _, _, _, _, k1, k2 = sheet
    coats, colours = amounts.shape
    bands = k.shape[1]
    inside = np.empty((coats + 1, bands))
    through = np.empty((coats, bands))
    gk = np.empty((coats, bands))
    gs = np.empty((coats, bands))
    _slopes(amounts, k, s, sheet, inside, through, gk, gs)
    ck = np.empty((coats, 3, bands))
    cs = np.empty((coats, 3, bands))
    slope = np.empty((3, 3))
    xyz = np.empty(3)
    labs = np.empty((coats + 1, 3))
    row = np.empty((3, coats * colours))
    hessian[:, :] = 0.0
    gradient[:] = 0.0
    cost = 0.0
    cap_row = labs.shape[0] > 1 and cap > 0.0
    for j in range(aims.shape[0] + (1 if cap_row else 0)):
        at_cap = j == aims.shape[0]
        n = 1 if at_cap else int(aims[j, 0])
        for c in range(3):
            xyz[c] = 0.0
        for b in range(bands):
            r = leave_surface_1(inside[n, b], k1, k2)
            for c in range(3):
                xyz[c] += r * weights[b, c]
        lab = labs[n]
        lab[0], lab[1], lab[2] = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
        if at_cap:
            if lab[0] >= cap:
                continue
            slope[:, :] = 0.0
            y = max(xyz[1] / white[1], 0.01)
            slope[0, 1] = 116.0 / 3.0 * y ** (-2.0 / 3.0) / white[1]
            e = (lab[0] - cap, 0.0, 0.0)
            w = (CAP_PRICE * 0.05) ** 2
        else:
            e = _residual_slope(lab, aims[j, 1:4], xyz, white, slope)
            w = aims[j, 4]
        cost += w * (e[0] * e[0] + e[1] * e[1] + e[2] * e[2])
        if n == 0:
            continue
        _coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
        for i in range(n):
            for p in range(colours):
                v = i * colours + p
                for c in range(3):
                    row[c, v] = 0.0
                if allowed[i, p]:
                    for c in range(3):
                        total = 0.0
                        for b in range(bands):
                            total += ck[i, c, b] * k[p, b] + cs[i, c, b] * s[p, b]
                        row[c, v] = total
        m = n * colours
        for u in range(m):
            if not allowed[u // colours, u % colours]:
                continue
            gradient[u] += w * (row[0, u] * e[0] + row[1, u] * e[1] + row[2, u] * e[2])
            for v in range(u + 1):
                hessian[u, v] += w * (
                    row[0, u] * row[0, v] + row[1, u] * row[1, v] + row[2, u] * row[2, v]
                )
    for i in range(coats):
        load = 0.0
        for p in range(colours):
            load += amounts[i, p] * loads[p]
            cost += SAVING * SAVING * amounts[i, p] * loads[p]
            gradient[i * colours + p] += 0.5 * SAVING * SAVING * loads[p]
        if load > 1.0:
            price = CAP_PRICE * CAP_PRICE
            cost += price * (load - 1.0) ** 2
            for p in range(colours):
                u = i * colours + p
                gradient[u] += price * (load - 1.0) * loads[p]
                for q in range(p + 1):
                    hessian[u, i * colours + q] += price * loads[p] * loads[q]
    for u in range(coats * colours):
        for v in range(u):
            hessian[v, u] = hessian[u, v]
    return cost


@njit(cache=True, nogil=True)
def fit_stack(  # type: ignore[no-untyped-def]
    amounts, allowed, k, s, loads, sheet, weights, white, aims, cap, rounds
):
    """Improve `amounts` in place by bounded Gauss-Newton; returns the cost reached.

    allowed (coats, colours): which colours each coat may hold; others stay as they are.
    Accepts a step only when the true cost falls; `rounds` bounds the work, never the clock.
    """
    coats, colours = amounts.shape
    n = coats * colours
    hessian = np.empty((n, n))
    gradient = np.empty(n)
    step = np.empty(n)
    free = allowed.copy().reshape(n)
    trial = np.empty_like(amounts)
    cost = stack_cost(amounts, k, s, loads, sheet, weights, white, aims, cap)
    damping = 1e-3
    for _ in range(rounds):
        _normal(amounts, allowed, k, s, loads, sheet, weights, white, aims, cap, hessian, gradient)
        gained = False
        for _try in range(6):
            bounded_step(amounts.reshape(n), free, hessian, gradient, damping, step)
            for u in range(n):
                trial[u // colours, u % colours] = max(
                    amounts[u // colours, u % colours] + step[u], 0.0
                )
            new = stack_cost(trial, k, s, loads, sheet, weights, white, aims, cap)
            if new < cost:
                gained = True
                break
            damping = max(damping * 8.0, 1e-3)
        if not gained:
            break
        amounts[:, :] = trial
        drop = cost - new
        cost = new
        damping = max(damping * 0.3, 1e-6)
        if drop < 1e-4 * cost + 1e-9:
            break
    return cost


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
    load = np.empty(coats)
    _as_depths(puddle_of, k, s, np.zeros(k.shape[0]), coat_k, coat_s, load)
    amounts = np.zeros((coats, coats))
    for i in range(coats):
        amounts[i, i] = strengths[i]
    inside = np.empty((coats + 1, bands))
    through = np.empty((coats, bands))
    gk = np.empty((coats, bands))
    gs = np.empty((coats, bands))
    _slopes(amounts, coat_k, coat_s, sheet, inside, through, gk, gs)
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
        for c in range(3):
            xyz[c] = 0.0
        for b in range(bands):
            r = leave_surface_1(inside[n, b], k1, k2)
            for c in range(3):
                xyz[c] += r * weights[b, c]
        lab[0], lab[1], lab[2] = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
        e = _residual_slope(lab, aims[j, 1:4], xyz, white, slope)
        _coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
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
def _as_depths(puddle_of, k, s, loads, pk, ps, pl):  # type: ignore[no-untyped-def]
    for i in range(puddle_of.size):
        q = puddle_of[i]
        pl[i] = loads[q]
        for b in range(k.shape[1]):
            pk[i, b] = k[q, b]
            ps[i, b] = s[q, b]


@njit(cache=True, nogil=True)
def fit_strengths(  # type: ignore[no-untyped-def]
    puddle_of, strengths, k, s, loads, sheet, weights, white, aims, cap, rounds
):
    """Best strength (coats,) in place of each coat with its puddle given; returns the cost.

    puddle_of (coats,): the puddle each coat is painted with. k, s (puddles, bands).
    """
    coats = puddle_of.size
    pk = np.empty((coats, k.shape[1]))
    ps = np.empty((coats, k.shape[1]))
    pl = np.empty(coats)
    _as_depths(puddle_of, k, s, loads, pk, ps, pl)
    amounts = np.zeros((coats, coats))
    own = np.zeros((coats, coats), dtype=np.bool_)
    for i in range(coats):
        amounts[i, i] = strengths[i]
        own[i, i] = True
    cost = fit_stack(amounts, own, pk, ps, pl, sheet, weights, white, aims, cap, rounds)
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
    puddle_of, strengths, worth_trying, k, s, loads, sheet, weights, white, aims, cap, sweeps, table
):
    """Try other puddles in every coat, one coat at a time, keeping what helps.

    worth_trying (puddles, puddles): may the second stand in for the first.
    Changes puddle_of and strengths in place; table (coats, puddles) receives the cost of
    each choice with all strengths of the stack re-fitted; returns the cost reached.
    """
    coats = puddle_of.size
    cost = fit_strengths(
        puddle_of, strengths, k, s, loads, sheet, weights, white, aims, cap, FIRST_ROUNDS
    )
    trial_of = puddle_of.copy()
    trial = strengths.copy()
    best = strengths.copy()
    for _ in range(sweeps):
        changed = False
        for i in range(coats):
            current = puddle_of[i]
            winner = current
            for q in range(k.shape[0]):
                table[i, q] = np.inf
                if q == current:
                    table[i, q] = cost
                if q == current or not worth_trying[current, q]:
                    continue
                trial[:] = strengths
                trial_of[i] = q
                ratio = _visible_depth(current, k, s, weights) / _visible_depth(q, k, s, weights)
                trial[i] = max(min(strengths[i] * ratio, 1.0 / loads[q]), 1e-3)
                new = fit_strengths(
                    trial_of, trial, k, s, loads, sheet, weights, white, aims, cap, TRIAL_ROUNDS
                )
                table[i, q] = new
                if new < cost - 1e-3:
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
def mix_freely(targets, start, k, s, loads, sheet, weights, white, rounds, out):  # type: ignore[no-untyped-def]
    """CIELAB (n, 3) of the best single coat for each target (n, 3), from `start` of each."""
    colours = loads.size
    amounts = np.empty((1, colours))
    allowed = np.ones((1, colours), dtype=np.bool_)
    aims = np.empty((1, 5))
    aims[0, 0] = 1.0
    aims[0, 4] = 1.0
    labs = np.empty((2, 3))
    for j in range(targets.shape[0]):
        amounts[:, :] = start
        aims[0, 1:4] = targets[j]
        fit_stack(amounts, allowed, k, s, loads, sheet, weights, white, aims, 0.0, rounds)
        stack_labs(amounts, k, s, sheet, weights, white, labs)
        out[j] = labs[1]


@njit(cache=True, nogil=True)
def assign_washes(  # type: ignore[no-untyped-def]
    wash_of,
    layers,
    layer_of,
    near,
    usable,
    k,
    s,
    loads,
    sheet,
    weights,
    white,
    aims,
    cap,
    sweeps,
    table,
):
    """Try other washes of the same layer, or none, in every coat; strengths are given.

    wash_of (coats,): wash of each coat, -1 for none, changed in place. layers (coats,).
    layer_of (washes,); near (washes, washes): worth trying the second for the first.
    k, s, loads: the washes as they are laid. table (coats, washes + 1) receives the cost
    of each choice, the last column that of none; returns the cost reached.
    """
    coats = wash_of.size
    washes = layer_of.size
    bands = k.shape[1]
    pk = np.zeros((coats, bands))
    ps = np.zeros((coats, bands))
    pl = np.zeros(coats)
    amounts = np.zeros((coats, coats))
    for i in range(coats):
        amounts[i, i] = 1.0
        if wash_of[i] >= 0 and not usable[wash_of[i]]:
            wash_of[i] = -1
        if wash_of[i] >= 0:
            pk[i] = k[wash_of[i]]
            ps[i] = s[wash_of[i]]
            pl[i] = loads[wash_of[i]]
    cost = stack_cost(amounts, pk, ps, pl, sheet, weights, white, aims, cap)
    for _ in range(sweeps):
        changed = False
        for i in range(coats):
            current = wash_of[i]
            winner = current
            best = cost
            for w in range(washes + 1):
                table[i, w] = np.inf
                if w == current or (w == washes and current < 0):
                    table[i, w] = cost
                    continue
                if w < washes:
                    if not usable[w] or layer_of[w] != layers[i]:
                        continue
                    if current >= 0 and not near[current, w]:
                        continue
                    pk[i] = k[w]
                    ps[i] = s[w]
                    pl[i] = loads[w]
                else:
                    pk[i] = 0.0
                    ps[i] = 0.0
                    pl[i] = 0.0
                new = stack_cost(amounts, pk, ps, pl, sheet, weights, white, aims, cap)
                table[i, w] = new
                if new < best - 1e-3:
                    best = new
                    winner = w if w < washes else -1
            wash_of[i] = winner
            if winner >= 0:
                pk[i] = k[winner]
                ps[i] = s[winner]
                pl[i] = loads[winner]
            else:
                pk[i] = 0.0
                ps[i] = 0.0
                pl[i] = 0.0
            if winner != current:
                cost = best
                changed = True
        if not changed:
            break
    return cost
