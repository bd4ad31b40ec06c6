"""Compiled core of the planner: one stack of coats, fitted to the colours it should show.

A stack is what one shape receives: coats 0 … n − 1, bottom to top, each a mixture of
`colours` (single paints, or ready puddles). A cell of the shape shows the stack up to
own number of coats. Coat 0 is the one that soaks into the paper. Residuals are those of
CIEDE2000 (their length is the difference itself), so least squares minimises the weighted
sum of squared CIEDE2000. Paint has a price in the same unit, by the coat it lies in.

Arrays: amounts (coats, colours) ≥ 0 in full-strength coats; prices (coats, colours) ≥ 0 in
squared CIEDE2000 per full coat; k, s (colours, bands); loads (colours,) share of one coat's
largest load per unit amount; shares (colours,) largest share of a coat's load, 1 for no
limit; ground, fibre_k (bands,); weights (bands, 3); everything float64 and C-ordered.
"""

import numpy as np
from numba import njit

from firstwash.optics.difference import delta_e_2000_residuals_1
from firstwash.optics.kubelka import over_1, slab_1, slab_gradient_1
from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import first_coat_1, first_coat_gradient_1, seen_xyz
from firstwash.plan.bounded import bounded_step

__all__ = [
    "CAP_PRICE",
    "LIGHTNESS_PRICE",
    "SAVING",
    "coat_slopes",
    "fit_stack",
    "mix_freely",
    "mixed_depths",
    "residual_slope",
    "slopes",
    "stack_cost",
    "stack_labs",
]

SAVING = 0.02**2  # squared CIEDE2000 a full coat must earn, so that idle paint goes to zero
CAP_PRICE = 100.0  # per √(load): a coat over its load
LIGHTNESS_PRICE = 5.0  # per √(L*): a first wash too dark, or a coat that lightens the sheet
SHARE_PRICE = 5000.0  # per √(load): a paint over its share; pale coats weigh little, yet count


@njit(cache=True, nogil=True)
def mixed_depths(amounts, k, s, kx, sx):  # type: ignore[no-untyped-def]
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
def stack_labs(amounts, k, s, sheet, weights, white, labs):  # type: ignore[no-untyped-def]
    """CIELAB of the stack after 0, 1, … coats into labs (coats + 1, 3)."""
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    coats = amounts.shape[0]
    bands = ground.size
    kx = np.empty((coats, bands))
    sx = np.empty((coats, bands))
    mixed_depths(amounts, k, s, kx, sx)
    inside = ground.copy()
    xyz = np.empty(3)
    seen_xyz(inside, k1, k2, weights, xyz)
    labs[0, 0], labs[0, 1], labs[0, 2] = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
    for i in range(coats):
        if i == 0:
            for b in range(bands):
                inside[b] = first_coat_1(kx[i, b], sx[i, b], inside[b], soak, fibre_k[b], fibre_s)
        else:
            for b in range(bands):
                r, t = slab_1(kx[i, b], sx[i, b])
                inside[b] = over_1(r, t, inside[b])
        seen_xyz(inside, k1, k2, weights, xyz)
        labs[i + 1, 0], labs[i + 1, 1], labs[i + 1, 2] = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)


@njit(cache=True, nogil=True)
def _misplaced(labs, n, cap):  # type: ignore[no-untyped-def]
    """L* by which coat n makes the sheet too dark for a first wash, and by which it lightens it."""
    below = max(cap - labs[n, 0], 0.0) if n == 1 else 0.0
    return below, max(labs[n, 0] - labs[n - 1, 0], 0.0)


@njit(cache=True, nogil=True)
def _penalties(amounts, prices, loads, shares, labs, cap):  # type: ignore[no-untyped-def]
    """Price of the paint, and squared price of overloaded coats, of shares above their
    limit, of a first wash darker than `cap` (L*) and of coats that lighten the sheet.
    """
    total = 0.0
    for i in range(amounts.shape[0]):
        load = 0.0
        for p in range(amounts.shape[1]):
            load += amounts[i, p] * loads[p]
            total += prices[i, p] * amounts[i, p] * loads[p]
        if load > 1.0:
            total += (CAP_PRICE * (load - 1.0)) ** 2
        for p in range(amounts.shape[1]):
            over = amounts[i, p] * loads[p] - shares[p] * load
            if shares[p] < 1.0 and over > 0.0:
                total += (SHARE_PRICE * over) ** 2
    for n in range(1, labs.shape[0]):
        below, rise = _misplaced(labs, n, cap)
        total += LIGHTNESS_PRICE**2 * (below * below + rise * rise)
    return total


@njit(cache=True, nogil=True)
def stack_cost(  # type: ignore[no-untyped-def]
    amounts, prices, k, s, loads, shares, sheet, weights, white, aims, cap
):
    """Weighted sum of squared CIEDE2000 residuals over the aims, plus prices and penalties.

    aims (n, 5): number of coats, L*, a*, b*, weight.
    """
    labs = np.empty((amounts.shape[0] + 1, 3))
    stack_labs(amounts, k, s, sheet, weights, white, labs)
    total = _penalties(amounts, prices, loads, shares, labs, cap)
    for j in range(aims.shape[0]):
        n = int(aims[j, 0])
        e0, e1, e2 = delta_e_2000_residuals_1(labs[n], aims[j, 1:4])
        total += aims[j, 4] * (e0 * e0 + e1 * e1 + e2 * e2)
    return total


@njit(cache=True, nogil=True)
def residual_slope(lab, target, xyz, white, out):  # type: ignore[no-untyped-def]
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
def slopes(amounts, k, s, sheet, inside, through, gk, gs):  # type: ignore[no-untyped-def]
    """Inside reflectance after each coat, and how each coat answers its own depths.

    inside (coats + 1, bands); through, gk, gs (coats, bands): slope of the reflectance
    after coat i by the reflectance under it, by its kx and by its sx.
    """
    ground, fibre_k, soak, fibre_s, _, _ = sheet
    coats = amounts.shape[0]
    bands = ground.size
    kx = np.empty((coats, bands))
    sx = np.empty((coats, bands))
    mixed_depths(amounts, k, s, kx, sx)
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
def coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs):  # type: ignore[no-untyped-def]
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
def _price_slopes(amounts, prices, loads, shares, hessian, gradient):  # type: ignore[no-untyped-def]
    """Add prices, overloads and broken shares to the normal equations; returns what they cost."""
    coats, colours = amounts.shape
    price = CAP_PRICE * CAP_PRICE
    cost = 0.0
    for i in range(coats):
        load = 0.0
        for p in range(colours):
            load += amounts[i, p] * loads[p]
            cost += prices[i, p] * amounts[i, p] * loads[p]
            gradient[i * colours + p] += 0.5 * prices[i, p] * loads[p]
        if load > 1.0:
            cost += price * (load - 1.0) ** 2
            for p in range(colours):
                u = i * colours + p
                gradient[u] += price * (load - 1.0) * loads[p]
                for q in range(p + 1):
                    hessian[u, i * colours + q] += price * loads[p] * loads[q]
        for big in range(colours):
            over = amounts[i, big] * loads[big] - shares[big] * load
            if shares[big] >= 1.0 or over <= 0.0:
                continue
            steep = SHARE_PRICE * SHARE_PRICE
            cost += steep * over**2
            for p in range(colours):
                u = i * colours + p
                rise = loads[p] * ((1.0 if p == big else 0.0) - shares[big])
                gradient[u] += steep * over * rise
                for q in range(p + 1):
                    other = loads[q] * ((1.0 if q == big else 0.0) - shares[big])
                    hessian[u, i * colours + q] += steep * rise * other
    return cost


@njit(cache=True, nogil=True)
def _lightness_slope(xyz, white, slope):  # type: ignore[no-untyped-def]
    """Slope (3, 3) of L* alone by XYZ, in the first row."""
    slope[:, :] = 0.0
    y = max(xyz[1] / white[1], 0.01)
    slope[0, 1] = 116.0 / 3.0 * y ** (-2.0 / 3.0) / white[1]


@njit(cache=True, nogil=True)
def _rows(n, allowed, k, s, ck, cs, row):  # type: ignore[no-untyped-def]
    """Slopes (3, coats · colours) by the amounts, from those by the depths of the first n coats."""
    row[:, :] = 0.0
    colours, bands = k.shape
    for i in range(n):
        for p in range(colours):
            if allowed[i, p]:
                for c in range(3):
                    total = 0.0
                    for b in range(bands):
                        total += ck[i, c, b] * k[p, b] + cs[i, c, b] * s[p, b]
                    row[c, i * colours + p] = total


@njit(cache=True, nogil=True)
def _add_rows(n, w, e, row, allowed, hessian, gradient):  # type: ignore[no-untyped-def]
    """Add three residuals e of weight w, answered by the first n coats; returns their cost."""
    colours = allowed.shape[1]
    for u in range(n * colours):
        if not allowed[u // colours, u % colours]:
            continue
        gradient[u] += w * (row[0, u] * e[0] + row[1, u] * e[1] + row[2, u] * e[2])
        for v in range(u + 1):
            hessian[u, v] += w * (
                row[0, u] * row[0, v] + row[1, u] * row[1, v] + row[2, u] * row[2, v]
            )
    return w * (e[0] * e[0] + e[1] * e[1] + e[2] * e[2])


@njit(cache=True, nogil=True)
def _normal(  # type: ignore[no-untyped-def]
    amounts,
    allowed,
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
    hessian,
    gradient,
):
    """Gauss-Newton normal equations of the stack; returns the cost. Variables row by row."""
    _, _, _, _, k1, k2 = sheet
    coats, colours = amounts.shape
    bands = k.shape[1]
    inside = np.empty((coats + 1, bands))
    through = np.empty((coats, bands))
    gk = np.empty((coats, bands))
    gs = np.empty((coats, bands))
    slopes(amounts, k, s, sheet, inside, through, gk, gs)
    ck = np.empty((coats, 3, bands))
    cs = np.empty((coats, 3, bands))
    slope = np.empty((3, 3))
    xyz = np.empty((coats + 1, 3))
    labs = np.empty((coats + 1, 3))
    row = np.empty((3, coats * colours))
    below = np.empty((3, coats * colours))
    hessian[:, :] = 0.0
    gradient[:] = 0.0
    cost = 0.0
    for n in range(coats + 1):
        seen_xyz(inside[n], k1, k2, weights, xyz[n])
        labs[n, 0], labs[n, 1], labs[n, 2] = xyz_to_lab_1(xyz[n, 0], xyz[n, 1], xyz[n, 2], white)
    for j in range(aims.shape[0]):
        n = int(aims[j, 0])
        e = residual_slope(labs[n], aims[j, 1:4], xyz[n], white, slope)
        coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
        _rows(n, allowed, k, s, ck, cs, row)
        cost += _add_rows(n, aims[j, 4], e, row, allowed, hessian, gradient)
    for n in range(1, coats + 1):
        dark, rise = _misplaced(labs, n, cap)
        if dark <= 0.0 and rise <= 0.0:
            continue
        _lightness_slope(xyz[n], white, slope)
        coat_slopes(n, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
        _rows(n, allowed, k, s, ck, cs, row)
        if dark > 0.0:
            e = (-dark, 0.0, 0.0)
            cost += _add_rows(n, LIGHTNESS_PRICE**2, e, row, allowed, hessian, gradient)
        if rise > 0.0:
            _lightness_slope(xyz[n - 1], white, slope)
            coat_slopes(n - 1, inside, through, gk, gs, k1, k2, weights, slope, ck, cs)
            _rows(n - 1, allowed, k, s, ck, cs, below)
            row -= below
            e = (rise, 0.0, 0.0)
            cost += _add_rows(n, LIGHTNESS_PRICE**2, e, row, allowed, hessian, gradient)
    cost += _price_slopes(amounts, prices, loads, shares, hessian, gradient)
    for u in range(coats * colours):
        for v in range(u):
            hessian[v, u] = hessian[u, v]
    return cost


@njit(cache=True, nogil=True)
def fit_stack(  # type: ignore[no-untyped-def]
    amounts, allowed, prices, k, s, loads, shares, sheet, weights, white, aims, cap, rounds
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
    cost = stack_cost(amounts, prices, k, s, loads, shares, sheet, weights, white, aims, cap)
    damping = 1e-3
    for _ in range(rounds):
        _normal(
            amounts, allowed, prices, k, s, loads, shares, sheet, weights, white, aims, cap,
            hessian, gradient,
        )  # fmt: skip
        gained = False
        for _try in range(6):
            bounded_step(amounts.reshape(n), free, hessian, gradient, damping, step)
            for u in range(n):
                trial[u // colours, u % colours] = max(
                    amounts[u // colours, u % colours] + step[u], 0.0
                )
            new = stack_cost(trial, prices, k, s, loads, shares, sheet, weights, white, aims, cap)
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
def mix_freely(targets, start, k, s, loads, shares, sheet, weights, white, rounds, out):  # type: ignore[no-untyped-def]
    """CIELAB (n, 3) of the best single coat for each target (n, 3), from `start` of each."""
    colours = loads.size
    amounts = np.empty((1, colours))
    allowed = np.ones((1, colours), dtype=np.bool_)
    prices = np.full((1, colours), SAVING)
    aims = np.empty((1, 5))
    aims[0, 0] = 1.0
    aims[0, 4] = 1.0
    labs = np.empty((2, 3))
    for j in range(targets.shape[0]):
        amounts[:, :] = start
        aims[0, 1:4] = targets[j]
        fit_stack(
            amounts, allowed, prices, k, s, loads, shares, sheet, weights, white, aims, 0.0, rounds
        )
        stack_labs(amounts, k, s, sheet, weights, white, labs)
        out[j] = labs[1]
