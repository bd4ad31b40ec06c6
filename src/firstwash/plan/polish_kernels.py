"""Compiled core of the human error: many hands paint one plan, and slopes back to the paint.

What is laid is a tree. Node 0 is the bare paper, every other node one film of paint over an
earlier node, so whatever several areas have in common is worked out once. A film is one
puddle at one strength; where it lies on bare paper it soaks in.

Arrays: parent, film_of (nodes,), a parent before its children; puddle_of (films,);
mixed (hands, puddles, colours) and laid (hands, films) as each hand mixed and laid them;
k, s, sheet, weights, white as in `firstwash.plan.kernels`. Everything float64 or int64, C-ordered.
"""

import math

import numpy as np
from numba import njit

from firstwash.optics.kubelka import over_1, slab_1, slab_gradient_1
from firstwash.optics.observer import xyz_to_lab_1
from firstwash.optics.stack import first_coat_1, first_coat_gradient_1, seen_xyz
from firstwash.plan.kernels import mixed_depths

__all__ = ["difference_slope_1", "exchange", "film_optics", "misses", "node_labs", "slopes"]

_25_7 = 25.0**7
_LINEAR = (6.0 / 29.0) ** 3  # below this share of white CIELAB is a straight line, [CIE15]
_RAD = math.pi / 180.0
_COS = (math.cos(30 * _RAD), math.cos(6 * _RAD), math.cos(63 * _RAD))
_SIN = (math.sin(30 * _RAD), math.sin(6 * _RAD), math.sin(63 * _RAD))


@njit(cache=True, nogil=True)
def _grey_share(c):  # type: ignore[no-untyped-def]
    """√(c⁷/(c⁷ + 25⁷)) of a chroma, and its slope."""
    c7 = c**7
    root = math.sqrt(c7 / (c7 + _25_7))
    return root, (3.5 * root / c * _25_7 / (c7 + _25_7) if c > 0.0 else 0.0)


@njit(cache=True, nogil=True)
def _lightness_part(lightness, target):  # type: ignore[no-untyped-def]
    """Weighted lightness difference and its slope by lightness."""
    middle = 0.5 * (lightness + target) - 50.0
    square = middle * middle
    root = math.sqrt(20.0 + square)
    weight = 1.0 + 0.015 * square / root
    weight_slope = 0.015 * (1.0 / root - 0.5 * square / root**3) * middle
    part = (lightness - target) / weight
    return part, (1.0 - part * weight_slope) / weight


@njit(cache=True, nogil=True)
def _hue_weight(h):  # type: ignore[no-untyped-def]
    """T of the mean hue h (radians) and its slope, [Sharma2005] eq. 15."""
    c = math.cos(h)
    s = math.sin(h)
    c2 = c * c - s * s
    s2 = 2.0 * s * c
    c3 = c2 * c - s2 * s
    s3 = s2 * c + c2 * s
    c4 = c2 * c2 - s2 * s2
    s4 = 2.0 * s2 * c2
    one_c = c * _COS[0] + s * _SIN[0]
    one_s = s * _COS[0] - c * _SIN[0]
    three_c = c3 * _COS[1] - s3 * _SIN[1]
    three_s = s3 * _COS[1] + c3 * _SIN[1]
    four_c = c4 * _COS[2] + s4 * _SIN[2]
    four_s = s4 * _COS[2] - c4 * _SIN[2]
    weight = 1.0 - 0.17 * one_c + 0.24 * c2 + 0.32 * three_c - 0.20 * four_c
    return weight, 0.17 * one_s - 0.48 * s2 - 0.96 * three_s + 0.80 * four_s


@njit(cache=True, nogil=True)
def _rotation(h, c):  # type: ignore[no-untyped-def]
    """R_T of mean hue and mean chroma and its slopes by both, [Sharma2005] eq. 19-21."""
    z = (h / _RAD - 275.0) / 25.0
    if abs(z) > 6.0:  # exp(−36): far below rounding of what it is added to
        return 0.0, 0.0, 0.0
    swing = 30.0 * _RAD * math.exp(-z * z)
    swing_h = -2.0 * z * swing / (25.0 * _RAD)
    share, share_c = _grey_share(c)
    turn = math.sin(2.0 * swing)
    return (
        -2.0 * share * turn,
        -4.0 * share * math.cos(2.0 * swing) * swing_h,
        -2.0 * share_c * turn,
    )


@njit(cache=True, nogil=True)
def _turned(a, b, g):  # type: ignore[no-untyped-def]
    """Chroma and hue (radians in [0, 2π)) after stretching a* by 1 + g."""
    stretched = a * (1.0 + g)
    c = math.sqrt(stretched * stretched + b * b)
    h = math.atan2(b, stretched) if c > 0.0 else 0.0
    return stretched, c, (h if h >= 0.0 else h + 2.0 * math.pi)


@njit(cache=True, nogil=True)
def difference_slope_1(lightness, a, b, target):  # type: ignore[no-untyped-def]
    """Squared CIEDE2000 of a colour against target (3,), and its slopes by L*, a* and b*.

    The same value as `firstwash.optics.difference` gives; the slopes are exact, and zero by
    hue where one of the colours is a perfect grey. Source: [Sharma2005].
    """
    light, light_slope = _lightness_part(lightness, target[0])
    chroma = math.sqrt(a * a + b * b)
    mean = 0.5 * (chroma + math.sqrt(target[1] * target[1] + target[2] * target[2]))
    share, share_slope = _grey_share(mean)
    g = 0.5 * (1.0 - share)
    a1, c1, h1 = _turned(target[1], target[2], g)
    a2, c2, h2 = _turned(a, b, g)
    grey = c1 * c2 == 0.0
    dh = 0.0
    hm = h1 + h2
    if not grey:
        dh = h2 - h1
        hm = 0.5 * (h1 + h2)
        if abs(dh) > math.pi:
            hm += math.pi if h1 + h2 < 2.0 * math.pi else -math.pi
            dh += -2.0 * math.pi if dh > 0.0 else 2.0 * math.pi
    cm = 0.5 * (c1 + c2)
    t, t_h = _hue_weight(hm)
    turn, turn_h, turn_c = _rotation(hm, cm)
    s_c = 1.0 + 0.045 * cm
    s_h = 1.0 + 0.015 * cm * t
    root = math.sqrt(c1 * c2)
    sine = math.sin(0.5 * dh)
    cosine = math.cos(0.5 * dh)
    u = (c2 - c1) / s_c
    v = 2.0 * root * sine / s_h
    slope_a = 0.0
    slope_b = 0.0
    for axis in range(2):
        g_x = 0.0
        if chroma > 0.0:
            g_x = -0.25 * share_slope * ((a if axis == 0 else b) / chroma)
        a1_x = target[1] * g_x
        a2_x = a * g_x + (1.0 + g if axis == 0 else 0.0)
        b2_x = 0.0 if axis == 0 else 1.0
        c1_x = a1 * a1_x / c1 if c1 > 0.0 else 0.0
        c2_x = (a2 * a2_x + b * b2_x) / c2 if c2 > 0.0 else 0.0
        h1_x = 0.0
        h2_x = 0.0
        d_x = 0.0
        if not grey:
            h1_x = -target[2] * a1_x / (c1 * c1)
            h2_x = (a2 * b2_x - b * a2_x) / (c2 * c2)
            d_x = (c1 * c2_x + c2 * c1_x) / root * sine + root * cosine * (h2_x - h1_x)
        cm_x = 0.5 * (c1_x + c2_x)
        hm_x = 0.5 * (h1_x + h2_x)
        u_x = (c2_x - c1_x - u * 0.045 * cm_x) / s_c
        v_x = (d_x - v * 0.015 * (cm_x * t + cm * t_h * hm_x)) / s_h
        turn_x = turn_h * hm_x + turn_c * cm_x
        slope = 2.0 * u * u_x + 2.0 * v * v_x + turn_x * u * v + turn * (u_x * v + u * v_x)
        if axis == 0:
            slope_a = slope
        else:
            slope_b = slope
    square = max(light * light + u * u + v * v + turn * u * v, 0.0)
    return square, 2.0 * light * light_slope, slope_a, slope_b


@njit(cache=True, nogil=True)
def _uses(parent, film_of, films):  # type: ignore[no-untyped-def]
    """(2, films): does a film lie on bare paper anywhere, and on paint anywhere."""
    uses = np.zeros((2, films), dtype=np.bool_)
    for n in range(1, parent.size):
        uses[0 if parent[n] == 0 else 1, film_of[n]] = True
    return uses


@njit(cache=True, nogil=True)
def node_labs(  # type: ignore[no-untyped-def]
    parent, film_of, puddle_of, mixed, laid, k, s, sheet, weights, white, labs
):
    """CIELAB of every node as each hand paints it, into labs (hands, nodes, 3)."""
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    films, nodes, bands = puddle_of.size, parent.size, ground.size
    uses = _uses(parent, film_of, films)
    pk = np.empty((mixed.shape[1], bands))
    ps = np.empty_like(pk)
    first = np.empty((films, bands))
    r = np.empty((films, bands))
    t = np.empty((films, bands))
    inside = np.empty((nodes, bands))
    inside[0] = ground
    xyz = np.empty(3)
    for m in range(laid.shape[0]):
        mixed_depths(mixed[m], k, s, pk, ps)
        for f in range(films):
            q = puddle_of[f]
            for b in range(bands):
                kx = laid[m, f] * pk[q, b]
                sx = laid[m, f] * ps[q, b]
                if uses[0, f]:
                    first[f, b] = first_coat_1(kx, sx, ground[b], soak, fibre_k[b], fibre_s)
                if uses[1, f]:
                    r[f, b], t[f, b] = slab_1(kx, sx)
        for n in range(nodes):
            if n > 0:
                f = film_of[n]
                below = parent[n]
                for b in range(bands):
                    if below == 0:
                        inside[n, b] = first[f, b]
                    else:
                        inside[n, b] = over_1(r[f, b], t[f, b], inside[below, b])
            seen_xyz(inside[n], k1, k2, weights, xyz)
            labs[m, n, 0], labs[m, n, 1], labs[m, n, 2] = xyz_to_lab_1(
                xyz[0], xyz[1], xyz[2], white
            )


@njit(cache=True, nogil=True)
def misses(  # type: ignore[no-untyped-def]
    labs, spot_node, spot_cell, spot_lab, spot_weight, spot_spread, out
):
    """Add weight·√(CIEDE2000² + spread) of every spot to its cell in out (hands, cells).

    labs: (hands, nodes, 3), as `node_labs` fills it; spot_node, spot_cell (spots,).
    """
    for m in range(labs.shape[0]):
        for j in range(spot_node.size):
            lab = labs[m, spot_node[j]]
            square = difference_slope_1(lab[0], lab[1], lab[2], spot_lab[j])[0]
            out[m, spot_cell[j]] += spot_weight[j] * math.sqrt(square + spot_spread[j])


@njit(cache=True, nogil=True)
def _cube_slope(v):  # type: ignore[no-untyped-def]
    if v > _LINEAR:
        root = np.cbrt(v)
        return 1.0 / (3.0 * root * root)
    return (29.0 / 6.0) ** 2 / 3.0


@njit(cache=True, nogil=True)
def _spots_at(  # type: ignore[no-untyped-def]
    xyz, white, first, last, spot_lab, spot_weight, spot_spread, squared, by_lightness, by_xyz
):
    """Sum over spots first … last − 1, all at one node, and its slope by XYZ into by_xyz.

    by_lightness: slope by L* that the node has from elsewhere.
    """
    lightness, a, b = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
    total = 0.0
    by_l = by_lightness
    by_a = 0.0
    by_b = 0.0
    for j in range(first, last):
        square, s_l, s_a, s_b = difference_slope_1(lightness, a, b, spot_lab[j])
        w = spot_weight[j]
        if squared:
            total += w * square
        else:
            miss = math.sqrt(square + spot_spread[j])
            total += w * miss
            w = 0.5 * w / miss if miss > 0.0 else 0.0
        by_l += w * s_l
        by_a += w * s_a
        by_b += w * s_b
    by_xyz[0] = 500.0 * by_a * _cube_slope(xyz[0] / white[0]) / white[0]
    by_xyz[1] = (116.0 * by_l - 500.0 * by_a + 200.0 * by_b) * _cube_slope(xyz[1] / white[1])
    by_xyz[1] /= white[1]
    by_xyz[2] = -200.0 * by_b * _cube_slope(xyz[2] / white[2]) / white[2]
    return total


@njit(cache=True, nogil=True)
def _misplaced(parent, lightness, floor, price, by_lightness):  # type: ignore[no-untyped-def]
    """Price of nodes darker than their floor or lighter than what they lie on; slopes by L*.

    floor (nodes,); price (nodes, 2): per squared unit of L* too dark, and too light.
    """
    total = 0.0
    by_lightness[:] = 0.0
    for n in range(1, parent.size):
        dark = max(floor[n] - lightness[n], 0.0)
        rise = max(lightness[n] - lightness[parent[n]], 0.0)
        total += price[n, 0] * dark * dark + price[n, 1] * rise * rise
        by_lightness[n] += 2.0 * (price[n, 1] * rise - price[n, 0] * dark)
        by_lightness[parent[n]] -= 2.0 * price[n, 1] * rise
    return total


@njit(cache=True, nogil=True)
def slopes(  # type: ignore[no-untyped-def]
    parent,
    film_of,
    puddle_of,
    mixed,
    laid,
    k,
    s,
    sheet,
    weights,
    white,
    spot_from,
    spot_lab,
    spot_weight,
    spot_spread,
    squared,
    floor,
    price,
    by_mixed,
    by_laid,
    out,
):
    """Weighted sum over spots for each hand into out (hands,), and its slopes.

    spot_from (nodes + 1,): spots of node n are spot_from[n] … spot_from[n + 1] − 1.
    squared: CIEDE2000² is summed, else √(CIEDE2000² + spread). floor (nodes,), price
    (nodes, 2): what each squared unit of L* costs that a node is darker than its floor, or
    lighter than what it lies on. Fills by_mixed, shaped as mixed, and by_laid, as laid.
    """
    ground, fibre_k, soak, fibre_s, k1, k2 = sheet
    films, nodes, bands = puddle_of.size, parent.size, ground.size
    uses = _uses(parent, film_of, films)
    pk = np.empty((mixed.shape[1], bands))
    ps = np.empty_like(pk)
    qk = np.empty_like(pk)
    qs = np.empty_like(pk)
    first = np.empty((films, 3, bands))  # reflectance on paper and its slopes by both depths
    slab = np.empty((films, 6, bands))
    inside = np.empty((nodes, bands))
    inside[0] = ground
    back = np.empty((nodes, bands))  # slope of the sum by each inside reflectance
    fk = np.empty((films, bands))
    fs = np.empty((films, bands))
    xyz = np.empty((nodes, 3))
    by_xyz = np.empty(3)
    lightness = np.empty(nodes)
    by_lightness = np.empty(nodes)
    for m in range(laid.shape[0]):
        mixed_depths(mixed[m], k, s, pk, ps)
        for f in range(films):
            q = puddle_of[f]
            for b in range(bands):
                kx = laid[m, f] * pk[q, b]
                sx = laid[m, f] * ps[q, b]
                if uses[0, f]:
                    first[f, 0, b], first[f, 1, b], first[f, 2, b] = first_coat_gradient_1(
                        kx, sx, ground[b], soak, fibre_k[b], fibre_s
                    )
                if uses[1, f]:
                    (
                        slab[f, 0, b],
                        slab[f, 1, b],
                        slab[f, 2, b],
                        slab[f, 3, b],
                        slab[f, 4, b],
                        slab[f, 5, b],
                    ) = slab_gradient_1(kx, sx)
        for n in range(nodes):
            if n > 0:
                f = film_of[n]
                below = parent[n]
                for b in range(bands):
                    if below == 0:
                        inside[n, b] = first[f, 0, b]
                    else:
                        inside[n, b] = over_1(slab[f, 0, b], slab[f, 1, b], inside[below, b])
            seen_xyz(inside[n], k1, k2, weights, xyz[n])
            lightness[n] = xyz_to_lab_1(xyz[n, 0], xyz[n, 1], xyz[n, 2], white)[0]
        total = _misplaced(parent, lightness, floor, price, by_lightness)
        for n in range(nodes):
            if spot_from[n] == spot_from[n + 1] and by_lightness[n] == 0.0:
                back[n] = 0.0
                continue
            total += _spots_at(
                xyz[n],
                white,
                spot_from[n],
                spot_from[n + 1],
                spot_lab,
                spot_weight,
                spot_spread,
                squared,
                by_lightness[n],
                by_xyz,
            )
            for b in range(bands):
                gap = 1.0 - k2 * inside[n, b]
                seen = weights[b, 0] * by_xyz[0] + weights[b, 1] * by_xyz[1]
                seen += weights[b, 2] * by_xyz[2]
                back[n, b] = (1.0 - k1) * (1.0 - k2) / (gap * gap) * seen
        out[m] = total
        fk[:, :] = 0.0
        fs[:, :] = 0.0
        for n in range(nodes - 1, 0, -1):
            f = film_of[n]
            below = parent[n]
            for b in range(bands):
                w = back[n, b]
                if below == 0:
                    fk[f, b] += w * first[f, 1, b]
                    fs[f, b] += w * first[f, 2, b]
                    continue
                t = slab[f, 1, b]
                gap = 1.0 - slab[f, 0, b] * inside[below, b]
                lit = t * inside[below, b] / gap
                w_r = w * (1.0 + lit * lit)
                w_t = w * 2.0 * lit
                fk[f, b] += w_r * slab[f, 2, b] + w_t * slab[f, 4, b]
                fs[f, b] += w_r * slab[f, 3, b] + w_t * slab[f, 5, b]
                back[below, b] += w * (t / gap) ** 2
        qk[:, :] = 0.0
        qs[:, :] = 0.0
        for f in range(films):
            q = puddle_of[f]
            by = 0.0
            for b in range(bands):
                by += fk[f, b] * pk[q, b] + fs[f, b] * ps[q, b]
                qk[q, b] += laid[m, f] * fk[f, b]
                qs[q, b] += laid[m, f] * fs[f, b]
            by_laid[m, f] = by
        for q in range(mixed.shape[1]):
            for p in range(mixed.shape[2]):
                by = 0.0
                if mixed[m, q, p] > 0.0:
                    for b in range(bands):
                        by += qk[q, b] * k[p, b] + qs[q, b] * s[p, b]
                by_mixed[m, q, p] = by


@njit(cache=True, nogil=True)
def film_optics(puddle_of, mixed, laid, k, s, sheet, first, r, t):  # type: ignore[no-untyped-def]
    """Each hand's films: on bare paper into first, by themselves into r and t.

    All three (hands, films, bands).
    """
    ground, fibre_k, soak, fibre_s, _, _ = sheet
    pk = np.empty((mixed.shape[1], ground.size))
    ps = np.empty_like(pk)
    for m in range(laid.shape[0]):
        mixed_depths(mixed[m], k, s, pk, ps)
        for f in range(puddle_of.size):
            q = puddle_of[f]
            for b in range(ground.size):
                kx = laid[m, f] * pk[q, b]
                sx = laid[m, f] * ps[q, b]
                first[m, f, b] = first_coat_1(kx, sx, ground[b], soak, fibre_k[b], fibre_s)
                r[m, f, b], t[m, f, b] = slab_1(kx, sx)


@njit(cache=True, nogil=True)
def _miss_at(inside, k1, k2, weights, white, low, high, spot_lab, spot_weight, spot_spread, xyz):  # type: ignore[no-untyped-def]
    if low == high:
        return 0.0
    seen_xyz(inside, k1, k2, weights, xyz)
    lightness, a, b = xyz_to_lab_1(xyz[0], xyz[1], xyz[2], white)
    total = 0.0
    for j in range(low, high):
        square = difference_slope_1(lightness, a, b, spot_lab[j])[0]
        total += spot_weight[j] * math.sqrt(square + spot_spread[j])
    return total


@njit(cache=True, nogil=True)
def _miss_from(  # type: ignore[no-untyped-def]
    coat, film, first, r, t, sheet, weights, white, starts, spot_lab, spot_weight, spot_spread,
    most, under, bare, misses
):  # fmt: skip
    """Sum of a stack's misses over hands with coats `coat` … as in film (coats,), -1 for none.

    under (hands, coats + 1, bands), bare (coats + 1,) and misses (hands, coats + 1): what was
    kept of the coats below; brought up to date from `coat` on. Gives up above `most`.
    """
    _, _, _, _, k1, k2 = sheet
    bands = under.shape[2]
    xyz = np.empty(3)
    for n in range(coat, film.size):
        bare[n + 1] = bare[n] and film[n] < 0
    total = 0.0
    for m in range(under.shape[0]):
        for n in range(coat + 1):
            total += misses[m, n]
    for m in range(under.shape[0]):
        for n in range(coat, film.size):
            f = film[n]
            if f < 0:
                under[m, n + 1] = under[m, n]
            elif bare[n]:
                under[m, n + 1] = first[m, f]
            else:
                for b in range(bands):
                    under[m, n + 1, b] = over_1(r[m, f, b], t[m, f, b], under[m, n, b])
            misses[m, n + 1] = _miss_at(
                under[m, n + 1], k1, k2, weights, white, starts[n + 1], starts[n + 2],
                spot_lab, spot_weight, spot_spread, xyz,
            )  # fmt: skip
            total += misses[m, n + 1]
        if total > most:
            break
    return total


@njit(cache=True, nogil=True)
def exchange(  # type: ignore[no-untyped-def]
    film, allowed, price, first, r, t, sheet, weights, white,
    starts, spot_lab, spot_weight, spot_spread, gain, sweeps
):  # fmt: skip
    """Try other films in every coat of one stack, one coat at a time, keeping what helps.

    film (coats,): film of each coat, -1 for none, changed in place. allowed, price (coats,
    films + 1): films worth trying and what each costs there beside its misses, the last column
    for none. first, r, t as `film_optics` fills them.
    starts (coats + 2,): spots of the stack after n coats are starts[n] … starts[n + 1] − 1.
    A change must save `gain` in the mean over hands. Returns that mean, with the prices.
    """
    hands, films, bands = r.shape
    coats = film.size
    under = np.empty((hands, coats + 1, bands))
    bare = np.ones(coats + 1, dtype=np.bool_)
    misses = np.zeros((hands, coats + 1))
    xyz = np.empty(3)
    for m in range(hands):
        under[m, 0] = sheet[0]
        misses[m, 0] = _miss_at(
            sheet[0], sheet[4], sheet[5], weights, white, starts[0], starts[1],
            spot_lab, spot_weight, spot_spread, xyz,
        )  # fmt: skip
    best = _miss_from(
        0, film, first, r, t, sheet, weights, white, starts, spot_lab, spot_weight, spot_spread,
        np.inf, under, bare, misses,
    )  # fmt: skip
    for _ in range(sweeps):
        changed = False
        for i in range(coats):
            kept = film[i]
            paid = hands * price[i, kept]  # -1, none, is the last column
            for choice in range(films + 1):
                trial = choice if choice < films else -1
                if trial == kept or not allowed[i, choice]:
                    continue
                film[i] = trial
                cost = hands * price[i, choice]
                total = _miss_from(
                    i, film, first, r, t, sheet, weights, white, starts,
                    spot_lab, spot_weight, spot_spread, best + paid - cost, under, bare, misses,
                )  # fmt: skip
                if total + cost < best + paid - gain * hands:
                    best = total
                    paid = cost
                    kept = trial
                    changed = True
            film[i] = kept
            _miss_from(
                i, film, first, r, t, sheet, weights, white, starts,
                spot_lab, spot_weight, spot_spread, np.inf, under, bare, misses,
            )  # fmt: skip
        if not changed:
            break
    mean = best / hands
    for i in range(coats):
        mean += price[i, film[i]]
    return mean
