"""Walking the net of borders between pixels, and fitting curves to it: the inner loops.

Points are (row, column) corners of pixels, in pixels. See `contours`.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import IntArray

__all__ = ["fit_arcs", "trace_arcs"]

BESIDE = 1.05  # pixels a stretch may pass beside the corners it follows, before it is moved
NEAR, SHORT = 0.85, 14  # the same for stretches of less than so many steps
WIDE = 1.1  # pixels from side to side that those corners may lie apart; stairs of a line lie 1
BOW = 0.15  # pixels by which the middle half of a stretch may lie beside its outer quarters
LONGEST = 200  # steps of a stretch
BACK = 0.5  # pixels that a border may come back along a stretch: no spike is cut off
FAR, ROUNDS = 0.8, 4  # pixels from a moved stretch at which a border is followed more closely
SMALLEST_LOOP = 8  # steps of a closed border from which it is simplified twice
STRAY = 0.5  # pixels that a corner may be moved along each axis
SHARP = 1.0  # from this a turn is a corner and stays one; below, a curve replaces it
LEAST_BEND = 0.62  # of a curve's control points towards its corner: less cuts too much off it
# Steps to the right, down, left, up: what is added to row and column, and, of the four pixels
# around the point they start from, the one on the left and the one on the right of the step.
DOWN = np.array([0, 1, 0, -1])
ACROSS = np.array([1, 0, -1, 0])
LEFT_Y = np.array([0, 1, 1, 0])
LEFT_X = np.array([1, 1, 0, 0])
RIGHT_Y = np.array([1, 1, 0, 0])
RIGHT_X = np.array([1, 0, 0, 1])


@njit(cache=True, nogil=True)
def _net(padded, links, node):  # type: ignore[no-untyped-def]
    """Bits 1, 2, 4, 8 of links: borders to the right, down, left, up. Returns how many."""
    rows, cols = links.shape
    total = 0
    for y in range(rows):
        for x in range(cols):
            bits = 0
            degree = 0
            for d in range(4):
                left = padded[y + LEFT_Y[d], x + LEFT_X[d]]
                if left != padded[y + RIGHT_Y[d], x + RIGHT_X[d]]:
                    bits |= 1 << d
                    degree += 1
            links[y, x] = bits
            node[y, x] = degree > 2
            total += degree
    node[0, 0] = node[0, cols - 1] = node[rows - 1, 0] = node[rows - 1, cols - 1] = True
    return total // 2


@njit(cache=True, nogil=True)
def _walk(y, x, d, links, node, steps, at):  # type: ignore[no-untyped-def]
    """Follow a border from a point until the next junction, or home; clears what it walks."""
    y0, x0 = y, x
    steps[at, 0], steps[at, 1] = y, x
    at += 1
    while True:
        links[y, x] &= ~(1 << d)
        y += DOWN[d]
        x += ACROSS[d]
        links[y, x] &= ~(1 << ((d + 2) % 4))
        steps[at, 0], steps[at, 1] = y, x
        at += 1
        if node[y, x] or (y == y0 and x == x0):
            return at
        d = 0
        while not (links[y, x] >> d) & 1:
            d += 1


@njit(cache=True, nogil=True)
def _trace(padded, links, node, steps, start, left, right):  # type: ignore[no-untyped-def]
    rows, cols = links.shape
    arcs = 0
    at = 0
    for closed in range(2):  # from junctions first; what is left then are closed lines
        for y in range(rows):
            for x in range(cols):
                if closed == 0 and not node[y, x]:
                    continue
                for d in range(4):
                    if (links[y, x] >> d) & 1:
                        left[arcs] = padded[y + LEFT_Y[d], x + LEFT_X[d]]
                        right[arcs] = padded[y + RIGHT_Y[d], x + RIGHT_X[d]]
                        at = _walk(y, x, d, links, node, steps, at)
                        arcs += 1
                        start[arcs] = at
    return arcs


def trace_arcs(
    padded: IntArray,
) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.int32], NDArray[np.int32]]:
    """Borders of a label map that has one more row and column of another label around it.

    Returns steps (m, 2), start (arcs + 1,), and the labels left and right of each arc.
    """
    size = (padded.shape[0] - 1, padded.shape[1] - 1)
    links, node = np.empty(size, dtype=np.uint8), np.empty(size, dtype=np.bool_)
    total = int(_net(padded, links, node))
    steps = np.empty((2 * total, 2), dtype=np.int32)
    start = np.zeros(total + 1, dtype=np.int64)
    left, right = np.empty(total, dtype=np.int32), np.empty(total, dtype=np.int32)
    arcs = int(_trace(padded, links, node, steps, start, left, right))
    return steps[: start[arcs]].copy(), start[: arcs + 1].copy(), left[:arcs], right[:arcs]


@njit(cache=True, nogil=True)
def _reach(p, n, reach):  # type: ignore[no-untyped-def]
    """reach[i]: the last point up to which a line from point i passes beside all between."""
    for i in range(n):
        set_ = False
        lo_y = lo_x = hi_y = hi_x = 0.0
        last = i + 1
        furthest = 0.0
        for k in range(i + 1, min(n, i + LONGEST) + 1):
            dy, dx = float(p[k, 0] - p[i, 0]), float(p[k, 1] - p[i, 1])
            away = np.sqrt(dy * dy + dx * dx)
            furthest = max(furthest, away)
            if away < furthest - BACK:
                break
            if set_ and (lo_x * dy - lo_y * dx < 0.0 or dx * hi_y - dy * hi_x < 0.0):
                break
            last = k
            if away <= BESIDE:
                continue
            sine = BESIDE / away
            cosine = np.sqrt(1.0 - sine * sine)
            a_y, a_x = dy * cosine - dx * sine, dx * cosine + dy * sine
            b_y, b_x = dy * cosine + dx * sine, dx * cosine - dy * sine
            if not set_ or lo_x * a_y - lo_y * a_x > 0.0:
                lo_y, lo_x = a_y, a_x
            if not set_ or hi_x * b_y - hi_y * b_x < 0.0:
                hi_y, hi_x = b_y, b_x
            set_ = True
        reach[i] = last


@njit(cache=True, nogil=True)
def _moments(p, n, s):  # type: ignore[no-untyped-def]
    """Sums s[k] of y, x, yy, xx, xy over the points before k, from the first point."""
    s[0] = 0.0
    for k in range(n + 1):
        y, x = float(p[k, 0] - p[0, 0]), float(p[k, 1] - p[0, 1])
        s[k + 1, 0] = s[k, 0] + y
        s[k + 1, 1] = s[k, 1] + x
        s[k + 1, 2] = s[k, 2] + y * y
        s[k + 1, 3] = s[k, 3] + x * x
        s[k + 1, 4] = s[k, 4] + x * y


@njit(cache=True, nogil=True)
def _misfit(p, s, i, j):  # type: ignore[no-untyped-def]
    """Sum of squared distances of points i … j from the line through both ends."""
    count = j - i + 1.0
    y0, x0 = float(p[i, 0] - p[0, 0]), float(p[i, 1] - p[0, 1])
    dy, dx = float(p[j, 0] - p[i, 0]), float(p[j, 1] - p[i, 1])
    sy, sx = s[j + 1, 0] - s[i, 0], s[j + 1, 1] - s[i, 1]
    yy = s[j + 1, 2] - s[i, 2] - 2.0 * y0 * sy + count * y0 * y0
    xx = s[j + 1, 3] - s[i, 3] - 2.0 * x0 * sx + count * x0 * x0
    xy = s[j + 1, 4] - s[i, 4] - x0 * sy - y0 * sx + count * x0 * y0
    return (dx * dx * yy - 2.0 * dx * dy * xy + dy * dy * xx) / max(dx * dx + dy * dy, 1e-9)


@njit(cache=True, nogil=True)
def _is_line(p, i, j):  # type: ignore[no-untyped-def]
    """Whether points i … j lie in a narrow band along the line through both ends, and unbowed."""
    dy, dx = float(p[j, 0] - p[i, 0]), float(p[j, 1] - p[i, 1])
    size = np.sqrt(dy * dy + dx * dx)
    near = size * (NEAR if j - i < SHORT else BESIDE)
    low = high = inner = outer = 0.0
    quarter = (j - i) / 4.0
    inside = outside = 0
    for k in range(i, j + 1):
        aside = dx * (p[k, 0] - p[i, 0]) - dy * (p[k, 1] - p[i, 1])
        low, high = min(low, aside), max(high, aside)
        if high - low > WIDE * size or max(high, -low) > near:
            return False
        if quarter <= k - i <= 3.0 * quarter:
            inner += aside
            inside += 1
        else:
            outer += aside
            outside += 1
    if outside == 0 or inside == 0:
        return True
    return abs(inner / inside - outer / outside) <= BOW * size


@njit(cache=True, nogil=True)
def _fewest(p, n, reach, s, few, cost, came, chosen):  # type: ignore[no-untyped-def]
    """Points 0 … n kept: the fewest stretches, and of those the nearest. Returns how many."""
    few[0], cost[0] = 0, 0.0
    for k in range(1, n + 1):
        few[k] = n + 1
    for i in range(n):
        for j in range(i + 1, reach[i] + 1):
            if few[i] + 1 > few[j]:
                continue
            price = cost[i] + _misfit(p, s, i, j)
            if (few[i] + 1 < few[j] or price < cost[j]) and (j == i + 1 or _is_line(p, i, j)):
                few[j], cost[j], came[j] = few[i] + 1, price, i
    k, count = n, few[n]
    for q in range(count, -1, -1):
        chosen[q] = k
        k = came[k]
    return count + 1


@njit(cache=True, nogil=True)
def _add_line(s, i, j, form):  # type: ignore[no-untyped-def]
    """Add the squared distance from the best line through points i … j to a quadratic form.

    form: yy, xx, xy, then the linear parts of y and x, about the first point.
    """
    count = j - i + 1.0
    my, mx = (s[j + 1, 0] - s[i, 0]) / count, (s[j + 1, 1] - s[i, 1]) / count
    cyy = (s[j + 1, 2] - s[i, 2]) / count - my * my
    cxx = (s[j + 1, 3] - s[i, 3]) / count - mx * mx
    cxy = (s[j + 1, 4] - s[i, 4]) / count - mx * my
    turn = 0.5 * np.arctan2(2.0 * cxy, cxx - cyy)  # the main axis, from x
    ny, nx = np.cos(turn), -np.sin(turn)
    form[0] += ny * ny
    form[1] += nx * nx
    form[2] += ny * nx
    away = ny * my + nx * mx
    form[3] -= ny * away
    form[4] -= nx * away


@njit(cache=True, nogil=True)
def _corner(p, s, before, here, after, form, out):  # type: ignore[no-untyped-def]
    """Where the best lines of two stretches meet, as far as a corner may be moved."""
    y0, x0 = float(p[here, 0] - p[0, 0]), float(p[here, 1] - p[0, 1])
    form[:] = 0.0
    _add_line(s, before[0], before[1], form)
    _add_line(s, after[0], after[1], form)
    hold = 1e-3  # to the corner itself, where both lines are one
    y, x = y0, x0
    for _ in range(20):  # each axis in turn: a box and two unknowns settle at once or nearly
        y = (-form[3] - form[2] * x + hold * y0) / (form[0] + hold)
        y = min(max(y, y0 - STRAY), y0 + STRAY)
        x = (-form[4] - form[2] * y + hold * x0) / (form[1] + hold)
        x = min(max(x, x0 - STRAY), x0 + STRAY)
    out[0], out[1] = y + p[0, 0], x + p[0, 1]


@njit(cache=True, nogil=True)
def _line(curves, straight, span, at, v, a, b, part, first, last):  # type: ignore[no-untyped-def]
    """The straight way from a corner to another, part: from and to which share (0-1) of it."""
    for k in range(4):
        share = part[0] + (part[1] - part[0]) * k / 3.0
        for c in range(2):
            curves[at, k, c] = v[a, c] + (v[b, c] - v[a, c]) * share
    straight[at] = True
    span[at, 0], span[at, 1] = first, last
    return at + 1


@njit(cache=True, nogil=True)
def _bend(v, a, b, c):  # type: ignore[no-untyped-def]
    """How far towards a corner its curve reaches, so that it touches the pixel around it."""
    dy, dx = v[c, 0] - v[a, 0], v[c, 1] - v[a, 1]
    size = abs(dy) + abs(dx)
    if size < 1e-9:
        return 4.0 / 3.0
    height = abs(dx * (v[b, 0] - v[a, 0]) - dy * (v[b, 1] - v[a, 1])) / size
    return (1.0 - 1.0 / height) * 4.0 / 3.0 if height > 1.0 else 0.0


@njit(cache=True, nogil=True)
def _round(v, b, spans, curves, straight, span, at):  # type: ignore[no-untyped-def]
    """The way past corner b, from halfway to the one before until halfway to the one after."""
    bend = _bend(v, b - 1, b, b + 1)
    if bend >= SHARP:
        at = _line(curves, straight, span, at, v, b - 1, b, (0.5, 1.0), spans[0], spans[1])
        return _line(curves, straight, span, at, v, b, b + 1, (0.0, 0.5), spans[1], spans[2])
    share = 0.5 + 0.5 * max(bend, LEAST_BEND)
    for c in range(2):
        curves[at, 0, c] = 0.5 * (v[b - 1, c] + v[b, c])
        curves[at, 1, c] = v[b - 1, c] + share * (v[b, c] - v[b - 1, c])
        curves[at, 2, c] = v[b + 1, c] + share * (v[b, c] - v[b + 1, c])
        curves[at, 3, c] = 0.5 * (v[b, c] + v[b + 1, c])
    straight[at] = False
    span[at, 0], span[at, 1] = spans[0], spans[2]
    return at + 1


@njit(cache=True, nogil=True)
def _turns(p, n, chosen):  # type: ignore[no-untyped-def]
    """Every point where the border turns, for outlines too small to be simplified."""
    count = 1
    chosen[0] = 0
    for k in range(1, n):
        if p[k - 1, 0] != p[k + 1, 0] and p[k - 1, 1] != p[k + 1, 1]:
            chosen[count] = k
            count += 1
    chosen[count] = n
    return count + 1


@njit(cache=True, nogil=True)
def _turned(p, n, by, scratch):  # type: ignore[no-untyped-def]
    """A closed line started `by` points later; its last point is its first again."""
    for k in range(n + 1):
        scratch[k, 0], scratch[k, 1] = p[(k + by) % n, 0], p[(k + by) % n, 1]
    for k in range(n + 1):
        p[k, 0], p[k, 1] = scratch[k, 0], scratch[k, 1]


@njit(cache=True, nogil=True)
def _simplified(p, n, s, whole, sums):  # type: ignore[no-untyped-def]
    """Numbers of the points kept of a line, into whole[3]; returns how many."""
    _moments(p, n, s)
    _reach(p, n, whole[0])
    return _fewest(p, n, whole[0], s, whole[1], sums, whole[2], whole[3])


@njit(cache=True, nogil=True)
def _corners(p, count, chosen, s, form, v):  # type: ignore[no-untyped-def]
    """The kept points, all but the first and last moved to where their stretches meet."""
    for q in range(count):
        v[q, 0], v[q, 1] = p[chosen[q], 0], p[chosen[q], 1]
        if 0 < q < count - 1:
            before, after = (chosen[q - 1], chosen[q]), (chosen[q], chosen[q + 1])
            _corner(p, s, before, chosen[q], after, form, v[q])


@njit(cache=True, nogil=True)
def _furthest(p, first, last, v, q):  # type: ignore[no-untyped-def]
    """The point between first and last furthest from the moved stretch, −1 if all are near."""
    dy, dx = v[q + 1, 0] - v[q, 0], v[q + 1, 1] - v[q, 1]
    size = max(dy * dy + dx * dx, 1e-9)
    most, found = FAR * FAR, -1
    for k in range(first + 1, last):
        y, x = p[k, 0] - v[q, 0], p[k, 1] - v[q, 1]
        share = min(max((y * dy + x * dx) / size, 0.0), 1.0)
        away = (y - share * dy) ** 2 + (x - share * dx) ** 2
        if away > most:
            most, found = away, k
    return found


@njit(cache=True, nogil=True)
def _bent_in(p, count, chosen, v, more):  # type: ignore[no-untyped-def]
    """Keep one point more in every stretch that came to lie too far away; returns how many."""
    out = 0
    for q in range(count):
        more[out] = chosen[q]
        out += 1
        if q + 1 < count:
            found = _furthest(p, chosen[q], chosen[q + 1], v, q)
            if found >= 0:
                more[out] = found
                out += 1
    for q in range(out):
        chosen[q] = more[q]
    return out


@njit(cache=True, nogil=True)
def _draw(v, count, chosen, base, curves, straight, span, at):  # type: ignore[no-untyped-def]
    """Curves through the corners of one border; returns where the next one begins."""
    n = base + chosen[count - 1]
    if count == 2:
        return _line(curves, straight, span, at, v, 0, 1, (0.0, 1.0), base, n)
    middle = base + (chosen[0] + chosen[1]) // 2
    at = _line(curves, straight, span, at, v, 0, 1, (0.0, 0.5), base, middle)
    for q in range(1, count - 1):
        after = base + (chosen[q] + chosen[q + 1]) // 2
        at = _round(v, q, (middle, base + chosen[q], after), curves, straight, span, at)
        middle = after
    return _line(curves, straight, span, at, v, count - 2, count - 1, (0.5, 1.0), middle, n)


@njit(cache=True, nogil=True)
def _fit(steps, start, widest, curves, straight, span, curve_start):  # type: ignore[no-untyped-def]
    size = widest + 2
    whole, sums = np.empty((4, size), dtype=np.int64), np.empty(size)
    s, form, v = np.empty((size + 1, 5)), np.empty(5), np.empty((size, 2))
    scratch = np.empty((size, 2), dtype=np.int32)
    at = 0
    for arc in range(len(start) - 1):
        p = steps[start[arc] : start[arc + 1]]
        n = len(p) - 1
        count = _simplified(p, n, s, whole, sums)
        if p[0, 0] == p[n, 0] and p[0, 1] == p[n, 1]:
            if n > SMALLEST_LOOP:  # again, from a corner it chose itself instead of from anywhere
                _turned(p, n, whole[3, count // 2], scratch)
                count = _simplified(p, n, s, whole, sums)
            if count < 5:
                count = _turns(p, n, whole[3])
        for _ in range(ROUNDS):
            _corners(p, count, whole[3], s, form, v)
            kept = count
            count = _bent_in(p, count, whole[3], v, whole[2])
            if count == kept:
                break
        _corners(p, count, whole[3], s, form, v)
        at = _draw(v, count, whole[3], start[arc], curves, straight, span, at)
        curve_start[arc + 1] = at
    return at


def fit_arcs(
    steps: NDArray[np.int32], start: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:
    """Curves (n, 4, 2) for arcs of steps (m, 2), see `Contours`; pixels, row before column.

    Returns curves, straight (n,), curve_start (arcs + 1,), span (n, 2). Closed arcs may be
    started elsewhere: steps is changed in place.
    """
    room = 2 * len(steps) + 2
    curves, straight = np.empty((room, 4, 2)), np.empty(room, dtype=np.bool_)
    span = np.empty((room, 2), dtype=np.int64)
    curve_start = np.zeros(len(start), dtype=np.int64)
    widest = int(np.diff(start).max())
    used = int(_fit(steps, start, widest, curves, straight, span, curve_start))
    return curves[:used].copy(), straight[:used].copy(), curve_start, span[:used].copy()
