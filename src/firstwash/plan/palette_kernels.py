"""Compiled core of the palette choice: the best thick patch of one, two or three paints.

A patch is one coat on bare paper. Mixtures grow from their parts: a pair starts from the
better of its single paints, a triple from the best of its pairs, and is fitted only where
the slope by the newcomer says that it would help. So a mixture is never worse than its
parts, and a fit starts a few steps from its end.

Arrays: `bench` is the tuple k, s (paints, bands), loads, shares (paints,), sheet, weights
(bands, 3), white (3,), as in the planner's other kernels; `mix` (n,) holds the indices of 1 to 3
paints and `amounts` (n,) how much of each; everything float64 and C-ordered.
"""

import math

import numpy as np
from numba import njit

from firstwash.optics.difference import delta_e_2000_residuals_1
from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import first_coat_gradient_1
from firstwash.plan.bounded import bounded_step
from firstwash.plan.kernels import residual_slope

__all__ = ["best_of", "fit_patch", "mend_by_three", "price_target", "scratch"]

OVERLOAD_PRICE = 100.0  # per √(unit) of load over what the bench allows
SHARE_PRICE = 5000.0  # per √(load): a paint over its share; pale patches weigh little, yet count
SAVING = 0.02  # CIEDE2000 a full coat must earn, so that idle paint goes to zero
CLOSE_ENOUGH = 0.02  # CIEDE2000 below which no third paint is tried: nobody could tell
ENOUGH_SHARE, ENOUGH = 1e-3, 1e-5  # share and size of the squared difference not worth a round
LEAST_DAMPING = 1e-3  # of a round whose first step failed, and of the first round
TRIES = 6  # dampings tried before a round gives up
FREE = np.ones(3, np.bool_)  # all paints of a mixture may move


@njit(cache=True, nogil=True)
def _look(mix, amounts, bench, slopes, seen):  # type: ignore[no-untyped-def]
    """Colour of a patch: XYZ and CIELAB into seen (2, 3).

    slopes (2, bands): of the outside reflectance by the patch's two optical depths.
    """
    k, s, _, _, sheet, weights, white = bench
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    seen[0] = 0.0
    for b in range(ground.size):
        kx = 0.0
        sx = 0.0
        for i in range(mix.size):
            kx += amounts[i] * k[mix[i], b]
            sx += amounts[i] * s[mix[i], b]
        r, r_k, r_s = first_coat_gradient_1(kx, sx, ground[b], soak, fibre_k[b], fibre_s)
        gap = 1.0 / (1.0 - k2 * r)
        surface = (1.0 - k1) * (1.0 - k2) * gap  # the interface of [Saunderson1942]
        slopes[0, b] = surface * gap * r_k
        slopes[1, b] = surface * gap * r_s
        r = k1 + surface * r
        for c in range(3):
            seen[0, c] += r * weights[b, c]
    seen[1, 0], seen[1, 1], seen[1, 2] = xyz_to_lab_1(seen[0, 0], seen[0, 1], seen[0, 2], white)


@njit(cache=True, nogil=True)
def _load(mix, amounts, loads):  # type: ignore[no-untyped-def]
    total = 0.0
    for i in range(mix.size):
        total += amounts[i] * loads[mix[i]]
    return total


@njit(cache=True, nogil=True)
def _over_share(i, mix, amounts, load, bench):  # type: ignore[no-untyped-def]
    """By how much the i-th paint exceeds its largest share of the load; 0 for most."""
    share = bench[3][mix[i]]
    return max(amounts[i] * bench[2][mix[i]] - share * load, 0.0) if share < 1.0 else 0.0


@njit(cache=True, nogil=True)
def _cost(e, mix, amounts, load, bench):  # type: ignore[no-untyped-def]
    """Squared CIEDE2000, and the prices of paint, of overload and of too large shares."""
    over = max(load - 1.0, 0.0)
    total = e[0] * e[0] + e[1] * e[1] + e[2] * e[2]
    total += SAVING * SAVING * load + (OVERLOAD_PRICE * over) ** 2
    for i in range(mix.size):
        total += (SHARE_PRICE * _over_share(i, mix, amounts, load, bench)) ** 2
    return total


@njit(cache=True, nogil=True)
def _price_normal(mix, amounts, load, bench, hessian, gradient):  # type: ignore[no-untyped-def]
    """Normal equations of the prices alone, in place of what the arrays held."""
    _, _, loads, shares, _, _, _ = bench
    over = max(load - 1.0, 0.0)
    price = OVERLOAD_PRICE**2 if over > 0.0 else 0.0
    for i in range(mix.size):
        own = loads[mix[i]]
        gradient[i] = (0.5 * SAVING * SAVING + price * over) * own
        for j in range(mix.size):
            hessian[i, j] = price * own * loads[mix[j]]
    for big in range(mix.size):
        over = _over_share(big, mix, amounts, load, bench)
        if over > 0.0:
            for i in range(mix.size):
                rise = loads[mix[i]] * ((1.0 if i == big else 0.0) - shares[mix[big]])
                gradient[i] += SHARE_PRICE**2 * over * rise
                for j in range(mix.size):
                    other = loads[mix[j]] * ((1.0 if j == big else 0.0) - shares[mix[big]])
                    hessian[i, j] += SHARE_PRICE**2 * rise * other


@njit(cache=True, nogil=True)
def _normal(mix, amounts, bench, e, pull, slopes, load, row, hessian, gradient):  # type: ignore[no-untyped-def]
    """Gauss-Newton normal equations by the amounts; row (3, 3) is scratch."""
    k, s, _, _, _, weights, _ = bench
    n = mix.size
    _price_normal(mix, amounts, load, bench, hessian, gradient)
    for i in range(n):
        x = 0.0
        y = 0.0
        z = 0.0
        for b in range(k.shape[1]):
            v = slopes[0, b] * k[mix[i], b] + slopes[1, b] * s[mix[i], b]
            x += v * weights[b, 0]
            y += v * weights[b, 1]
            z += v * weights[b, 2]
        for r in range(3):
            row[r, i] = pull[r, 0] * x + pull[r, 1] * y + pull[r, 2] * z
    for i in range(n):
        for r in range(3):
            gradient[i] += row[r, i] * e[r]
            for j in range(n):
                hessian[i, j] += row[r, i] * row[r, j]


@njit(cache=True, nogil=True)
def _promise(hessian, gradient, step):  # type: ignore[no-untyped-def]
    """How much the quadratic model says that a step saves."""
    total = 0.0
    for i in range(step.size):
        total -= 2.0 * gradient[i] * step[i]
        for j in range(step.size):
            total -= step[i] * hessian[i, j] * step[j]
    return total


@njit(cache=True, nogil=True)
def scratch(bands):  # type: ignore[no-untyped-def]
    """Working arrays of `fit_patch`: slopes twice, colours twice, small matrices."""
    return np.empty((2, 2, bands)), np.empty((2, 2, 3)), np.empty((4, 3, 3))


@njit(cache=True, nogil=True)
def _slopes_by_all(mix, amounts, bench, e, pull, slopes, load, out):  # type: ignore[no-untyped-def]
    """Slope (paints,) of half the cost of a patch by the amount of every paint not in it."""
    k, s, loads, shares, _, weights, _ = bench
    price = 0.5 * SAVING * SAVING + OVERLOAD_PRICE**2 * max(load - 1.0, 0.0)
    for i in range(mix.size):
        over = _over_share(i, mix, amounts, load, bench)
        price -= SHARE_PRICE**2 * over * shares[mix[i]]
    for p in range(loads.size):
        out[p] = price * loads[p]
    for b in range(k.shape[1]):
        v = 0.0
        for c in range(3):
            v += weights[b, c] * (e[0] * pull[0, c] + e[1] * pull[1, c] + e[2] * pull[2, c])
        for p in range(loads.size):
            out[p] += v * (slopes[0, b] * k[p, b] + slopes[1, b] * s[p, b])


@njit(cache=True, nogil=True)
def fit_patch(mix, amounts, bench, target, rounds, work, slopes_by):  # type: ignore[no-untyped-def]
    """Improve `amounts` in place towards target (3,); returns (cost, CIEDE2000).

    Bounded Gauss-Newton with Levenberg damping; a step counts only when the true cost
    falls. work: from `scratch`. slopes_by: (paints,) receives the slopes at the end, or (0,).
    """
    slopes, seen, small = work
    n = mix.size
    pull, row, hessian = small[0], small[1], small[2]
    gradient, step, trial = small[3, 0, :n], small[3, 1, :n], small[3, 2, :n]
    now = 0
    _look(mix, amounts, bench, slopes[0], seen[0])
    e = delta_e_2000_residuals_1(seen[0, 1], target)
    load = _load(mix, amounts, bench[2])
    cost = _cost(e, mix, amounts, load, bench)
    damping = LEAST_DAMPING
    for _ in range(rounds):
        residual_slope(seen[now, 1], target, seen[now, 0], bench[6], pull)
        _normal(mix, amounts, bench, e, pull, slopes[now], load, row, hessian, gradient)
        worth = ENOUGH_SHARE * cost + ENOUGH
        drop = 0.0
        for _try in range(TRIES):
            bounded_step(amounts, FREE[:n], hessian[:n, :n], gradient, damping, step)
            if _promise(hessian, gradient, step) < worth:
                break
            for i in range(n):
                trial[i] = max(amounts[i] + step[i], 0.0)
            _look(mix, trial, bench, slopes[1 - now], seen[1 - now])
            e_new = delta_e_2000_residuals_1(seen[1 - now, 1], target)
            load_new = _load(mix, trial, bench[2])
            drop = cost - _cost(e_new, mix, trial, load_new, bench)
            if drop > 0.0:
                break
            damping = max(damping * 8.0, LEAST_DAMPING)
        if drop <= 0.0:
            break
        amounts[:] = trial
        cost -= drop
        e, load, now = e_new, load_new, 1 - now
        damping *= 0.3
        if drop < worth:
            break
    if slopes_by.size:
        residual_slope(seen[now, 1], target, seen[now, 0], bench[6], pull)
        _slopes_by_all(mix, amounts, bench, e, pull, slopes[now], load, slopes_by)
    return cost, math.sqrt(e[0] * e[0] + e[1] * e[1] + e[2] * e[2])


@njit(cache=True, nogil=True)
def _fit_single(paint, bench, target, starts, rounds, work, slopes_by, kept):  # type: ignore[no-untyped-def]
    """The best amount of one paint from several starts; cost, CIEDE2000, amount.

    slopes_by (paints,): scratch; kept (paints,): slopes at the best amount.
    """
    mix = np.array([paint])
    amounts = np.empty(1)
    best, shown, amount = np.inf, 0.0, 0.0
    for start in starts:
        amounts[0] = start
        cost, error = fit_patch(mix, amounts, bench, target, rounds, work, slopes_by)
        if cost < best:
            best, shown, amount = cost, error, amounts[0]
            kept[:] = slopes_by
    return best, shown, amount


@njit(cache=True, nogil=True)
def _fit_pair(  # type: ignore[no-untyped-def]
    pair, singles, bench, target, rounds, work, slopes_by, amounts, kept
):
    """The best amounts (2,) of a pair, begun at either paint alone; cost, CIEDE2000.

    singles: costs, amounts (paints,) and slopes (paints, paints) of the single paints.
    kept (paints,): slopes at the best amounts. CIEDE2000 is inf where a single paint wins.
    """
    costs, amounts_of, slopes = singles
    mine = 0 if costs[pair[0]] <= costs[pair[1]] else 1
    best, shown = costs[pair[mine]], np.inf
    amounts[:] = 0.0
    amounts[mine] = amounts_of[pair[mine]]
    kept[:] = slopes[pair[mine]]
    trial = np.empty(2)
    for i in range(2):
        if slopes[pair[i], pair[1 - i]] >= 0.0:
            continue  # the other paint would not help
        trial[i] = amounts_of[pair[i]]
        trial[1 - i] = 0.0
        cost, error = fit_patch(pair, trial, bench, target, rounds, work, slopes_by)
        if cost < best:
            best, shown = cost, error
            amounts[:] = trial
            kept[:] = slopes_by
    return best, shown


@njit(cache=True, nogil=True)
def _best_pair(a, b, c, costs, mix):  # type: ignore[no-untyped-def]
    """Into mix (3,): the cheapest pair of three paints, then the third."""
    mix[0], mix[1], mix[2] = a, b, c
    if costs[a, c] < costs[mix[0], mix[1]]:
        mix[0], mix[1], mix[2] = a, c, b
    if costs[b, c] < costs[mix[0], mix[1]]:
        mix[0], mix[1], mix[2] = b, c, a


@njit(cache=True, nogil=True)
def _price_triples(  # type: ignore[no-untyped-def]
    target, bench, rounds, late, work, costs, errors, amounts_of, slopes, out
):
    """CIEDE2000 of every triple, in order, into out; the rest are facts about the pairs."""
    n = bench[2].size
    mix, amounts, nothing = np.empty(3, np.int64), np.empty(3), np.empty(0)
    place = 0
    for a in range(min(n, late)):
        for b in range(a + 1, min(n, late)):
            for c in range(b + 1, n):
                out[place] = min(errors[a, b], min(errors[a, c], errors[b, c]))
                _best_pair(a, b, c, costs, mix)
                i, j, newcomer = mix
                if out[place] > CLOSE_ENOUGH and slopes[i, j, newcomer] < 0.0:
                    amounts[:2] = amounts_of[i, j]
                    amounts[2] = 0.0
                    _, shown = fit_patch(mix, amounts, bench, target, rounds, work, nothing)
                    out[place] = min(out[place], shown)
                place += 1


@njit(cache=True, nogil=True)
def price_target(target, bench, starts, rounds, late, triples, out):  # type: ignore[no-untyped-def]
    """CIEDE2000 from target (3,) of the best patch of every mixture, into out (mixtures,).

    Mixtures in order: single paints; pairs a < b; triples a < b < c if asked for; each in
    rising order. Of the paints from index `late` on no two meet in one mixture: such
    mixtures are left out. Holds: no mixture is worse than a part of it.
    """
    n = bench[2].size
    work = scratch(bench[0].shape[1])
    slopes_by = np.empty(n)
    singles = np.empty(n), np.empty(n), np.empty((n, n))
    for p in range(n):
        singles[0][p], out[p], singles[1][p] = _fit_single(
            p, bench, target, starts, rounds, work, slopes_by, singles[2][p]
        )
    place = n
    pair = np.empty(2, np.int64)
    costs, errors = np.full((n, n), np.inf), np.full((n, n), np.inf)
    amounts, slopes = np.empty((n, n, 2)), np.empty((n, n, n))
    for a in range(min(n, late)):
        for b in range(a + 1, n):
            pair[0], pair[1] = a, b
            costs[a, b], shown = _fit_pair(
                pair, singles, bench, target, rounds, work, slopes_by, amounts[a, b], slopes[a, b]
            )
            errors[a, b] = min(shown, min(out[a], out[b]))
            out[place] = errors[a, b]
            place += 1
    if triples:
        _price_triples(
            target, bench, rounds, late, work, costs, errors, amounts, slopes, out[place:]
        )


@njit(cache=True, nogil=True)
def best_of(palette, place, costs):  # type: ignore[no-untyped-def]
    """The least cost of the mixtures of a palette's paints."""
    best = np.inf
    for i in range(palette.size):
        for j in range(i + 1):
            for k in range(j + 1):
                best = min(best, costs[place[palette[k], palette[j], palette[i]]])
    return best


@njit(cache=True, nogil=True)
def mend_by_three(target, bench, palette, place, amounts, rounds, costs):  # type: ignore[no-untyped-def]
    """Lower the cost in costs (mixtures,) of the three paints that load a patch most.

    amounts (paints of the palette,): of the patch that was fitted with all of them; the three
    are fitted once more from there, as the mixture they are.
    """
    most = np.sort(np.argsort(-amounts * bench[2][palette])[:3])
    mix, three = palette[most], amounts[most]
    work = scratch(bench[0].shape[1])
    _, shown = fit_patch(mix, three, bench, target, rounds, work, np.empty(0))
    m = place[mix[0], mix[1], mix[2]]
    costs[m] = min(costs[m], shown)
