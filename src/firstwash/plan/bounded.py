"""Least squares with lower bounds: the step a Gauss-Newton solver takes without going negative.

The solution is found by its active set: which variables stand on their bound, and a
Cholesky solve for the others. Block principal pivoting [Portugal1994] finds the set fast:
all variables on the wrong side change sides together, as long as that makes them fewer.
Where it does not, bounded-variable least squares [Stark1995] takes over: one variable
joins or leaves at a time and the error falls at every step, so it ends, and may be stopped
anywhere. The two are exact; they differ in speed alone.
"""

import numpy as np
from numba import njit

__all__ = ["bounded_step"]

EXCHANGES = 3  # of whole blocks that may bring no gain before the slow way is taken
SLACK = 1e-10  # share of the largest slope or move that is taken for rounding
LEAST_PIVOT = 1e-13  # of a unit diagonal: below it the matrix is taken for singular
RIDGE = 1e-12  # keeps a variable that does nothing from having no curvature at all


@njit(cache=True, nogil=True, error_model="numpy")
def _solve(count, factor, right):  # type: ignore[no-untyped-def]
    """Solve in place by Cholesky: factor (upper half used) · x = right; False if singular."""
    for j in range(count):
        if not factor[j, j] > LEAST_PIVOT:  # not a number ends here too
            return False
        root = np.sqrt(factor[j, j])
        for m in range(j, count):
            factor[j, m] /= root
        for i in range(j + 1, count):
            gain = factor[j, i]
            for m in range(i, count):
                factor[i, m] -= gain * factor[j, m]
    for i in range(count):
        right[i] /= factor[i, i]
        for m in range(i + 1, count):
            right[m] -= factor[i, m] * right[i]
    for i in range(count - 1, -1, -1):
        for m in range(i + 1, count):
            right[i] -= factor[i, m] * right[m]
        right[i] /= factor[i, i]
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _lowest(matrix, slope, low, inside, chosen, factor, right, found):  # type: ignore[no-untyped-def]
    """Where the variables `inside` would go by themselves, the others on their bounds.

    Fills found (n,). chosen, factor, right: room to work in. False if there is no one place.
    """
    n = slope.size
    count = np.int64(0)  # a bare 0 would compile `_solve` a second time, for that number
    for u in range(n):
        found[u] = low[u]
        if inside[u]:
            chosen[count] = u
            right[count] = -slope[u]
            count += 1
    for v in range(n):
        if low[v] != 0.0 and not inside[v]:
            for i in range(count):
                right[i] -= matrix[v, chosen[i]] * low[v]
    for i in range(count):
        for m in range(i, count):
            factor[i, m] = matrix[chosen[i], chosen[m]]
    if not _solve(count, factor, right):
        return False
    for i in range(count):
        found[chosen[i]] = right[i]
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _slope_at(matrix, slope, u, move):  # type: ignore[no-untyped-def]
    total = slope[u]
    for v in range(move.size):
        total += matrix[u, v] * move[v]
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _mark_wrong(free, matrix, slope, low, inside, move, wrong):  # type: ignore[no-untyped-def]
    """Mark and count the variables that stand on the wrong side."""
    steepest = 0.0
    farthest = 0.0
    for u in range(slope.size):
        if free[u]:
            steepest = max(steepest, abs(slope[u]))
            farthest = max(farthest, abs(move[u]))
    count = 0
    for u in range(slope.size):
        wrong[u] = False
        if inside[u]:
            wrong[u] = move[u] < low[u] - SLACK * farthest
        elif free[u]:
            wrong[u] = _slope_at(matrix, slope, u, move) < -SLACK * steepest
        count += wrong[u]
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _exchange_blocks(free, matrix, slope, low, inside, move, room):  # type: ignore[no-untyped-def]
    """Solve by block pivoting [Portugal1994] from a guess of `inside`; False if it circles."""
    n = slope.size
    wrong = np.empty(n, dtype=np.bool_)
    fewest = n + 1
    patience = EXCHANGES
    while patience > 0:
        if not _lowest(matrix, slope, low, inside, room[0], room[1], room[2], move):
            return False
        count = _mark_wrong(free, matrix, slope, low, inside, move, wrong)
        if count == 0:
            return True
        if count < fewest:
            fewest = count
            patience = EXCHANGES
        else:
            patience -= 1
        for u in range(n):
            if wrong[u]:
                inside[u] = not inside[u]
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _go_towards(found, low, inside, move):  # type: ignore[no-untyped-def]
    """Go from `move` towards `found` until a bound stops it: which variable's, or −1."""
    share = 1.0
    blocker = -1
    for u in range(low.size):
        if inside[u] and found[u] < low[u]:
            reach = (low[u] - move[u]) / (found[u] - move[u])
            if blocker < 0 or reach < share:
                share = reach
                blocker = u
    for u in range(low.size):
        if inside[u]:
            move[u] = max(move[u] + share * (found[u] - move[u]), low[u])
    return blocker


@njit(cache=True, nogil=True, error_model="numpy")
def _exchange_singly(free, matrix, slope, low, inside, move, room):  # type: ignore[no-untyped-def]
    """Improve `move` one exchange at a time [Stark1995]; each lowers the error or ends it."""
    n = slope.size
    steepest = 0.0
    for u in range(n):
        inside[u] = free[u] and low[u] < 0.0
        move[u] = 0.0
        if free[u]:
            steepest = max(steepest, abs(slope[u]))
    found = np.empty(n)
    newest = -1
    for _ in range(10 * n + 10):
        if not _lowest(matrix, slope, low, inside, room[0], room[1], room[2], found):
            return
        blocker = _go_towards(found, low, inside, move)
        if blocker >= 0:
            inside[blocker] = False
            move[blocker] = low[blocker]
            if blocker == newest:  # it was let go by rounding alone
                return
            continue
        newest = -1
        least = -SLACK * steepest
        for u in range(n):
            if free[u] and not inside[u]:
                pull = _slope_at(matrix, slope, u, move)
                if pull < least:
                    least = pull
                    newest = u
        if newest < 0:
            return
        inside[newest] = True


@njit(cache=True, nogil=True, error_model="numpy")
def bounded_step(x, free, hessian, gradient, damping, step):  # type: ignore[no-untyped-def]
    """Minimise g·d + d·H·d/2 + damping·d·diag(H)·d/2 with x + d ≥ 0 into step (n,).

    x (n,) ≥ 0; free (n,) bool: the others keep d = 0; hessian (n, n) symmetric, a sum of
    squares; gradient (n,); damping > 0. The minimum is exact to rounding; where the matrix
    is so nearly singular that this means nothing, the step at least leads down.
    Sources: [Stark1995], [Portugal1994].
    """
    n = x.size
    scale = np.empty(n)
    slope = np.empty(n)
    low = np.zeros(n)
    matrix = np.empty((n, n))
    inside = np.empty(n, dtype=np.bool_)
    for u in range(n):  # units in which every variable has the curvature 1
        bend = np.sqrt(hessian[u, u] * (1.0 + damping) + RIDGE)
        scale[u] = 1.0 / bend
        slope[u] = gradient[u] * scale[u]
        if free[u]:
            low[u] = -x[u] * bend
        inside[u] = free[u] and (x[u] > 0.0 or slope[u] < 0.0)
    for u in range(n):
        for v in range(n):
            matrix[u, v] = hessian[u, v] * scale[u] * scale[v]
        matrix[u, u] = 1.0
    move = np.zeros(n)
    room = (np.empty(n, dtype=np.int64), np.empty((n, n)), np.empty(n))
    if not _exchange_blocks(free, matrix, slope, low, inside, move, room):
        _exchange_singly(free, matrix, slope, low, inside, move, room)
    for u in range(n):
        step[u] = 0.0
        if free[u]:
            step[u] = max(move[u] * scale[u], -x[u]) if inside[u] else -x[u]
