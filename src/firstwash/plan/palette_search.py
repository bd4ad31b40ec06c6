"""Compiled search for the best palette in a table of costs, and the bound that proves it.

The choice is a facility-location problem: every colour g picks one mixture, at the cost of
the table, and a mixture may be picked only if its paints are among the `most` chosen ones.
Prices on "this colour uses that paint" relax the tie between the two halves [Fisher1981];
then each colour picks its cheapest mixture, prices included, the paints that earn most are
taken, and the sum is a lower bound for every palette. The same prices bound every single
palette: what all colours would pay, less what its paints earn. Only palettes whose bound
lies below the best known score need scoring, and few do.

Arrays: weighted (mixtures, colours): share of the score; mixtures (n, 3) paints, smaller
ones repeating the last; place (paints, paints, paints): column of a mixture.
"""

import numpy as np
from numba import njit

__all__ = ["better_than_parts", "raise_bound", "score", "try_sets"]

PATIENCE = 10  # rounds without a better bound before the steps are halved
SMALLEST = 1e-3  # step, as a share of what would close the gap, at which the ascent ends
INERTIA = 0.3  # share of the last direction kept: the prices swing less
LEAST_GAP = 1e-9  # in CIEDE2000: nobody needs a tighter proof


@njit(cache=True, nogil=True)
def _lower(row, weighted, place, chosen, depth):  # type: ignore[no-untyped-def]
    """Lower row (colours,) to what chosen[depth] adds, alone and with those before it."""
    p = chosen[depth]
    for u in range(depth + 1):
        for v in range(u + 1):
            m = place[chosen[v], chosen[u], p]
            if m >= 0:
                for g in range(row.size):
                    row[g] = min(row[g], weighted[m, g])


@njit(cache=True, nogil=True)
def score(weighted, place, chosen):  # type: ignore[no-untyped-def]
    """Score of a palette chosen (n,), n ≥ 1."""
    row = np.full(weighted.shape[1], np.inf)
    for depth in range(chosen.size):
        _lower(row, weighted, place, chosen, depth)
    return row.sum()


@njit(cache=True, nogil=True)
def better_than_parts(weighted, mixtures, place):  # type: ignore[no-untyped-def]
    """Which (mixtures, colours) cost less than every part of the mixture.

    The others may be left out of the bound: their best part costs no more and pays the
    price of fewer paints, so the cheapest choice stays the same.
    """
    out = np.ones(weighted.shape, np.bool_)
    for m in range(len(mixtures)):
        a, b, c = mixtures[m]
        for g in range(weighted.shape[1]):
            own = weighted[m, g]
            if a == b:
                continue
            if b == c:
                parts = min(weighted[place[a, a, a], g], weighted[place[b, b, b], g])
            else:
                parts = min(weighted[place[a, b, b], g], weighted[place[a, c, c], g])
                parts = min(parts, weighted[place[b, c, c], g])
            out[m, g] = own < parts
    return out


@njit(cache=True, nogil=True)
def _pick(costs, columns, ends, mixtures, prices, picked):  # type: ignore[no-untyped-def]
    """Every colour's cheapest mixture at these prices into picked (colours,); their sum.

    costs, columns: what each mixture worth having costs and which it is, colour after
    colour; ends (colours + 1,). prices (colours, paints).
    """
    total = 0.0
    for g in range(picked.size):
        best = np.inf
        for i in range(ends[g], ends[g + 1]):
            a, b, c = mixtures[columns[i]]
            cost = costs[i] + prices[g, a]
            if b != a:
                cost += prices[g, b]
            if c != b:
                cost += prices[g, c]
            if cost < best:
                best = cost
                picked[g] = columns[i]
        total += best
    return total


@njit(cache=True, nogil=True)
def _take(earned, must, most, taken):  # type: ignore[no-untyped-def]
    """The paints that earn most, and those that must be, into taken (paints,); their sum."""
    taken[:] = must
    left = most - must.sum()
    total = 0.0
    order = np.argsort(-earned, kind="mergesort")
    for p in order:
        if left > 0 and not taken[p]:
            taken[p] = True
            total += earned[p]
            left -= 1
    return total


@njit(cache=True, nogil=True)
def _turn(picked, mixtures, taken, must, prices, direction):  # type: ignore[no-untyped-def]
    """Bend the direction (colours, paints) of the ascent; returns its squared length.

    A paint used by a colour but not taken becomes dearer for it, one taken but not used
    cheaper, down to nothing. Paints that must be taken have no price.
    """
    length = 0.0
    for g in range(picked.size):
        a, b, c = mixtures[picked[g]]
        for p in range(taken.size):
            used = p in (a, b, c)
            slope = (1.0 if used else 0.0) - (1.0 if taken[p] else 0.0)
            slope = 0.0 if must[p] else (1.0 - INERTIA) * slope + INERTIA * direction[g, p]
            direction[g, p] = slope
            if slope > 0.0 or prices[g, p] > 0.0:
                length += slope * slope
    return length


@njit(cache=True, nogil=True)
def raise_bound(costs, columns, ends, mixtures, must, most, known, rounds, prices):  # type: ignore[no-untyped-def]
    """The best lower bound found for all palettes, by subgradient ascent on the prices.

    known: the best score so far, which sets the steps. must (paints,) bool. prices
    (colours, paints): where to start; receives those of the bound.
    """
    direction = np.zeros(prices.shape)
    trial = prices.copy()
    picked = np.zeros(len(prices), np.int64)
    taken = np.zeros(must.size, np.bool_)
    bound, share, stale = -np.inf, 1.0, 0
    for _ in range(rounds):
        value = _pick(costs, columns, ends, mixtures, trial, picked)
        value -= _take(trial.sum(axis=0), must, most, taken)
        stale += 1
        if value > bound:
            stale = 0 if value > bound + LEAST_GAP else stale
            bound = value
            prices[:] = trial
        if stale >= PATIENCE:
            share *= 0.5
            stale = 0
        if bound >= known - LEAST_GAP or share < SMALLEST:
            break
        length = _turn(picked, mixtures, taken, must, trial, direction)
        if length == 0.0:
            break
        step = share * (known - value) / length
        for g in range(len(trial)):
            for p in range(must.size):
                trial[g, p] = max(trial[g, p] + step * direction[g, p], 0.0)
    return bound


@njit(cache=True, nogil=True)
def try_sets(weighted, place, order, earned, fixed, room, budget, best_set, known):  # type: ignore[no-untyped-def]
    """Score every palette that the prices do not rule out; returns (best score, sets tried).

    order (paints,): the `fixed` first ones are in every palette, the rest by falling
    `earned` (paints,). A palette is ruled out when room, what all colours pay, less what
    it earns is no less than the best score so far. best_set (most,) is the best palette
    known, with its score, and receives a better one. More than `budget` tried: not all were.
    """
    most, n = best_set.size, order.size
    gathered = np.zeros(n + 1)
    for i in range(n):
        gathered[i + 1] = gathered[i] + earned[order[i]]
    rows = np.full((most + 1, weighted.shape[1]), np.inf)
    chosen = np.empty(most, np.int64)
    earning = np.zeros(most + 1)
    at = np.zeros(most, np.int64)
    tried, depth = 0, 0
    while depth >= 0:
        i, left = at[depth], most - depth
        over = i + left > n or (depth < fixed and i > depth)
        if over or earning[depth] + gathered[i + left] - gathered[i] <= room - known:
            depth -= 1
            continue
        at[depth] += 1
        tried += 1
        if tried > budget:
            break
        chosen[depth] = order[i]
        rows[depth + 1] = rows[depth]
        _lower(rows[depth + 1], weighted, place, chosen, depth)
        if left == 1:
            found = rows[most].sum()
            if found < known:
                known = found
                best_set[:] = chosen
        else:
            earning[depth + 1] = earning[depth] + earned[order[i]]
            depth += 1
            at[depth] = i + 1
    return known, tried
