"""Compiled search for one shape's coats when puddles, and many washes, are given.

A shape has one slot for every layer. A slot is empty (puddle −1), holds a coat of its own
(strength free), one of a wash that is laid anyway (strength given), or one that may not change.
Arrays as in `trials`, puddles for colours.
"""

import numpy as np
from numba import njit

from firstwash.plan.kernels import fit_stack, stack_cost

__all__ = ["EMPTY", "KEPT", "OWN", "SHARED", "refit_slots", "settle", "settle_pairs"]

OWN, SHARED, KEPT = np.int64(0), np.int64(1), np.int64(2)
EMPTY = np.int64(-1)
DEPTHS = (0.1, 0.5)  # visible optical depths at which a puddle is first looked at
ROUNDS = np.int64(4)  # Gauss-Newton rounds to judge a likely choice by
WORTH_A_CHANGE = 1e-3  # squared CIEDE2000 that another choice must bring


@njit(cache=True, nogil=True)
def _cost(puddle_of, strengths, kind, prices, ready, light, aims, cap, rounds):  # type: ignore[no-untyped-def]
    """Cost of the slots, free strengths improved in place by up to `rounds` rounds.

    Empty slots are left out of the stack, for the first coat laid is the one that sinks in.
    """
    k, s, loads = ready
    sheet, weights, white = light
    slots = puddle_of.size
    left = np.zeros(slots + 1, dtype=np.int64)  # coats laid among the first n slots
    for i in range(slots):
        left[i + 1] = left[i] + (puddle_of[i] >= 0)
    coats = left[slots]
    pk = np.empty((coats, k.shape[1]))
    ps = np.empty((coats, k.shape[1]))
    pl = np.empty(coats)
    pp = np.zeros((coats, coats))
    amounts = np.zeros((coats, coats))
    own = np.zeros((coats, coats), dtype=np.bool_)
    free = 0
    for i in range(slots):
        q, j = puddle_of[i], left[i]
        if q < 0:
            continue
        for b in range(k.shape[1]):
            pk[j, b] = k[q, b]
            ps[j, b] = s[q, b]
        pl[j] = loads[q]
        pp[j, j] = prices[i, q]
        amounts[j, j] = strengths[i]
        own[j, j] = kind[i] == OWN
        free += own[j, j]
    rows = aims.copy()
    for j in range(rows.shape[0]):
        rows[j, 0] = left[int(rows[j, 0])]
    held = cap if slots > 0 and puddle_of[0] >= 0 else 0.0
    shares = np.ones(coats)
    if free == 0 or rounds == 0:
        return stack_cost(amounts, pp, pk, ps, pl, shares, sheet, weights, white, rows, held)
    cost = fit_stack(
        amounts, own, pp, pk, ps, pl, shares, sheet, weights, white, rows, held, rounds
    )
    for i in range(slots):
        if puddle_of[i] >= 0 and kind[i] == OWN:
            strengths[i] = amounts[left[i], left[i]]
    return cost


@njit(cache=True, nogil=True)
def refit_slots(puddle_of, strengths, kind, prices, ready, light, aims, cap, rounds):  # type: ignore[no-untyped-def]
    """Best strength, in place, of every slot of its own; returns the cost.

    puddle_of, strengths, kind (slots,); ready: k, s (puddles, bands) and loads (puddles,);
    light: the sheet's optics, weights and white. rounds: of Gauss-Newton, 0 to look only.
    """
    return _cost(puddle_of, strengths, kind, prices, ready, light, aims, cap, rounds)


@njit(cache=True, nogil=True)
def _own_count(puddle_of, strengths, kind):  # type: ignore[no-untyped-def]
    count = 0
    for i in range(puddle_of.size):
        count += puddle_of[i] >= 0 and kind[i] == OWN and strengths[i] > 0.0
    return count


@njit(cache=True, nogil=True)
def _depth(q, ready, weights):  # type: ignore[no-untyped-def]
    """Optical depth of a puddle as the eye weighs it, per unit strength."""
    total = 0.0
    for b in range(weights.shape[0]):
        total += (ready[0][q, b] + ready[1][q, b]) * max(weights[b, 1], 0.0)
    return max(total, 1e-9)


@njit(cache=True, nogil=True)
def _look(  # type: ignore[no-untyped-def]
    i, washes, puddle_of, strengths, kind, open_, prices, ready, light, aims, cap, found
):
    """Cost of every choice for slot i, all else as it is; found (choices, 2): cost, strength.

    Choices: the shared washes, then the puddles as a wash of their own, then nothing.
    """
    layer_of, wash_puddle, wash_strength = washes
    q0, s0, k0 = puddle_of[i], strengths[i], kind[i]
    n = layer_of.size
    puddles = ready[2].size
    here = _depth(q0, ready, light[1]) * s0 if q0 >= 0 else 0.0
    found[:, 0] = np.inf
    kind[i] = SHARED
    for w in range(n):
        if layer_of[w] == i:
            puddle_of[i], strengths[i] = wash_puddle[w], wash_strength[w]
            found[w, 1] = strengths[i]
            found[w, 0] = _cost(
                puddle_of, strengths, kind, prices, ready, light, aims, cap, np.int64(0)
            )
    for q in range(puddles if open_ else 0):
        unit = _depth(q, ready, light[1])
        puddle_of[i] = q
        for d in range(len(DEPTHS) + 1):
            depth = here if d == len(DEPTHS) else DEPTHS[d]
            if depth <= 0.0:
                continue
            strengths[i] = min(depth / unit, 1.0 / ready[2][q])
            new = _cost(puddle_of, strengths, kind, prices, ready, light, aims, cap, np.int64(0))
            if new < found[n + q, 0]:
                found[n + q, 0] = new
                found[n + q, 1] = strengths[i]
    puddle_of[i], strengths[i] = EMPTY, 0.0
    found[n + puddles, 1] = 0.0
    found[n + puddles, 0] = _cost(
        puddle_of, strengths, kind, prices, ready, light, aims, cap, np.int64(0)
    )
    puddle_of[i], strengths[i], kind[i] = q0, s0, k0


@njit(cache=True, nogil=True)
def _drop_idle(puddle_of, strengths, kind):  # type: ignore[no-untyped-def]
    """Empty own slots in which nothing is laid: no wash now, a later fit might revive them."""
    for i in range(puddle_of.size):
        if kind[i] == OWN and puddle_of[i] >= 0 and strengths[i] <= 0.0:
            puddle_of[i], kind[i] = EMPTY, SHARED


@njit(cache=True, nogil=True)
def settle(  # type: ignore[no-untyped-def]
    puddle_of,
    strengths,
    kind,
    washes,
    most_own,
    own_price,
    prices,
    ready,
    light,
    aims,
    cap,
    sweeps,
    likely,
):
    """Choose what each slot holds, one slot at a time, keeping what helps; returns the cost.

    Changes puddle_of, strengths, kind (slots,) in place. washes: layer, puddle, strength
    (washes,) of those that may be joined. most_own: coats with a wash of their own at most;
    own_price: squared CIEDE2000 that each must earn. likely: how many choices for a slot are
    tried with all free strengths fitted again, the best ones as seen at first sight.
    """
    slots = puddle_of.size
    n = washes[0].size
    puddles = ready[2].size
    found = np.empty((n + puddles + 1, 2))
    trial_of, trial, trial_kind = puddle_of.copy(), strengths.copy(), kind.copy()
    cost = _cost(puddle_of, strengths, kind, prices, ready, light, aims, cap, ROUNDS)
    _drop_idle(puddle_of, strengths, kind)
    cost += own_price * _own_count(puddle_of, strengths, kind)
    for _ in range(sweeps):
        changed = False
        for i in range(slots):
            if kind[i] == KEPT:
                continue
            others = _own_count(puddle_of, strengths, kind)
            others -= puddle_of[i] >= 0 and kind[i] == OWN and strengths[i] > 0.0
            _look(
                i, washes, puddle_of, strengths, kind, others < most_own, prices, ready, light,
                aims, cap, found,
            )  # fmt: skip
            found[n : n + puddles, 0] += own_price
            winner, of, strength, sort = -1, puddle_of.copy(), strengths.copy(), kind.copy()
            for _try in range(likely):
                c = np.argmin(found[:, 0])
                if not np.isfinite(found[c, 0]):
                    break
                trial_of[:], trial[:], trial_kind[:] = puddle_of, strengths, kind
                trial[i] = found[c, 1]
                trial_kind[i] = OWN if n <= c < n + puddles else SHARED
                trial_of[i] = washes[1][c] if c < n else (c - n if c < n + puddles else EMPTY)
                found[c, 0] = np.inf
                new = _cost(
                    trial_of, trial, trial_kind, prices, ready, light, aims, cap, ROUNDS
                ) + own_price * _own_count(trial_of, trial, trial_kind)
                if new < cost - WORTH_A_CHANGE:
                    cost, winner = new, int(c)
                    of[:], strength[:], sort[:] = trial_of, trial, trial_kind
            if winner >= 0:
                puddle_of[:], strengths[:], kind[:] = of, strength, sort
                _drop_idle(puddle_of, strengths, kind)
                changed = True
        if not changed:
            break
    return cost


@njit(cache=True, nogil=True)
def _shortlist(found, n, last, count, out):  # type: ignore[no-untyped-def]
    """Into out: the `count` best of the first n choices, and the last one; returns how many."""
    taken = 0
    order = np.argsort(found[:n, 0])
    for c in order[:count]:
        if np.isfinite(found[c, 0]):
            out[taken] = c
            taken += 1
    out[taken] = last
    return taken + 1


@njit(cache=True, nogil=True)
def settle_pairs(  # type: ignore[no-untyped-def]
    puddle_of, strengths, kind, washes, prices, ready, light, aims, cap, count
):
    """Choose shared washes for two slots at a time; returns whether anything was gained.

    One slot at a time is caught where a paler coat below only helps with a darker one above.
    Arguments as in `settle`; count: washes of each slot that are paired, the best as seen alone.
    """
    slots = puddle_of.size
    n = washes[0].size
    last = n + ready[2].size
    found = np.empty((last + 1, 2))
    lists = np.empty((slots, count + 1), dtype=np.int64)
    sizes = np.zeros(slots, dtype=np.int64)
    no_rounds = np.int64(0)
    for i in range(slots):
        if kind[i] != KEPT and not (kind[i] == OWN and puddle_of[i] >= 0):
            _look(
                i, washes, puddle_of, strengths, kind, False, prices, ready, light, aims, cap, found
            )
            sizes[i] = _shortlist(found, n, last, count, lists[i])
    cost = _cost(puddle_of, strengths, kind, prices, ready, light, aims, cap, no_rounds)
    gained = False
    for i in range(slots):
        for j in range(i):
            of, strength = puddle_of.copy(), strengths.copy()
            for a in lists[i, : sizes[i]]:
                of[i] = washes[1][a] if a < n else EMPTY
                strength[i] = washes[2][a] if a < n else 0.0
                for b in lists[j, : sizes[j]]:
                    of[j] = washes[1][b] if b < n else EMPTY
                    strength[j] = washes[2][b] if b < n else 0.0
                    new = _cost(of, strength, kind, prices, ready, light, aims, cap, no_rounds)
                    if new < cost - WORTH_A_CHANGE:
                        cost = new
                        gained = True
                        puddle_of[i], puddle_of[j] = of[i], of[j]
                        strengths[i], strengths[j] = strength[i], strength[j]
    return gained
