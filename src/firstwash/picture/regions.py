"""Region bookkeeping shared by shapes and value bands: adjacency, merging, smoothing.

Label maps are int32 (rows, cols), labels 0 … n − 1, every label used. All loops run in a
fixed order, so the same picture always gives the same regions.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray

__all__ = [
    "MergeRule",
    "border_edges",
    "compact_labels",
    "connected_parts",
    "merge_regions",
    "mode_filter",
    "region_moments",
    "smooth_within",
]

N_MOMENTS = 11  # weight, L, a, b, LL, aa, bb, La, Lb, area (mm²), largest area of its parts


@dataclass(frozen=True)
class MergeRule:
    """When to join neighbouring regions.

    target: stop when this many regions remain (1 … ); areas are mm² on the sheet.
    min_area: regions smaller than this join a neighbour before anything else.
    light_levels: how many value levels a region may later be split into; lightness
    variance counts 1/light_levels², since the levels will absorb most of it.
    worth: below the target too, a border goes when keeping it takes away less squared error
    than this per pixel side (error × importance, summed over pixels).
    """

    target: int
    min_area: float
    light_levels: float = 2.5
    worth: float = 0.0


@njit(cache=True, nogil=True)
def _collect_edges(labels, us, vs):  # type: ignore[no-untyped-def]
    rows, cols = labels.shape
    n = 0
    for i in range(rows):
        for j in range(cols):
            here = labels[i, j]
            if j + 1 < cols and labels[i, j + 1] != here:
                us[n], vs[n] = min(here, labels[i, j + 1]), max(here, labels[i, j + 1])
                n += 1
            if i + 1 < rows and labels[i + 1, j] != here:
                us[n], vs[n] = min(here, labels[i + 1, j]), max(here, labels[i + 1, j])
                n += 1
    return n


def border_edges(labels: IntArray) -> tuple[NDArray[np.int64], NDArray[np.int64], FloatArray]:
    """Pairs (u < v) of touching labels and the length of their border in pixel sides."""
    us = np.empty(2 * labels.size, dtype=np.int64)
    vs = np.empty(2 * labels.size, dtype=np.int64)
    n = _collect_edges(labels, us, vs)
    width = int(labels.max()) + 1
    keys, counts = np.unique(us[:n] * width + vs[:n], return_counts=True)
    return keys // width, keys % width, counts.astype(np.float64)


def region_moments(labels: IntArray, colour: FloatArray, weight: FloatArray) -> FloatArray:
    """First and second moments (n, N_MOMENTS) of colour (rows, cols, 3) in each region.

    weight: (rows, cols), > 0; the last two columns are left 0 for the caller's areas.
    """
    flat = labels.ravel()
    n = int(flat.max()) + 1
    w = np.asarray(weight, dtype=np.float64).ravel()
    c = np.asarray(colour, dtype=np.float64).reshape(-1, 3)
    light, a, b = c[:, 0], c[:, 1], c[:, 2]
    terms = (np.ones_like(w), light, a, b, light**2, a**2, b**2, light * a, light * b)
    out = np.zeros((n, N_MOMENTS))
    for i, term in enumerate(terms):
        out[:, i] = np.bincount(flat, weights=w * term, minlength=n)
    return out


@njit(cache=True, nogil=True)
def _misfit(m, light_share):  # type: ignore[no-untyped-def]
    """Squared colour error left in a region once value levels have followed its lightness."""
    w = m[0]
    if w <= 0.0:
        return 0.0
    var_l = max(m[4] / w - (m[1] / w) ** 2, 0.0)
    var_a = max(m[5] / w - (m[2] / w) ** 2, 0.0)
    var_b = max(m[6] / w - (m[3] / w) ** 2, 0.0)
    cov_a = m[7] / w - m[1] * m[2] / (w * w)
    cov_b = m[8] / w - m[1] * m[3] / (w * w)
    explained = (cov_a * cov_a + cov_b * cov_b) / (var_l + 1.0)
    return w * (light_share * var_l + max(var_a + var_b - explained, 0.0))


@njit(cache=True, nogil=True)
def _cost(moments, areas, u, v, length, light_share, min_area, scratch):  # type: ignore[no-untyped-def]
    for i in range(scratch.size):
        scratch[i] = moments[u, i] + moments[v, i]
    gain = _misfit(scratch, light_share)
    gain -= _misfit(moments[u], light_share) + _misfit(moments[v], light_share)
    cost = max(gain, 0.0) / length
    if min(areas[u], areas[v]) < min_area:
        return cost * 1e-9  # too small to paint: goes first, to its most similar neighbour
    return cost


@njit(cache=True, nogil=True)
def _merge(us, vs, lengths, moments, areas, target, min_area, light_share, worth):  # type: ignore[no-untyped-def]
    n_edges = us.size
    n_regions = moments.shape[0]
    parent = np.arange(n_regions)
    scratch = np.empty(moments.shape[1])
    costs = np.empty(n_edges)
    for e in range(n_edges):
        costs[e] = _cost(moments, areas, us[e], vs[e], lengths[e], light_share, min_area, scratch)
    seen = np.full(n_regions, -1)
    alive = n_regions
    while n_edges > 0:
        best = 0
        for e in range(1, n_edges):
            if costs[e] < costs[best]:
                best = e
        u, v = us[best], vs[best]
        if alive <= target and min(areas[u], areas[v]) >= min_area and costs[best] >= worth:
            break
        parent[v] = u
        alive -= 1
        for i in range(scratch.size):
            moments[u, i] += moments[v, i]
        areas[u] += areas[v]
        kept = 0
        for e in range(n_edges):  # drop the joined border, fold doubled ones, keep the order
            a = u if us[e] == v else us[e]
            b = u if vs[e] == v else vs[e]
            if a == b:
                continue
            touched = a == u or b == u
            if touched:
                other = b if a == u else a
                if seen[other] >= 0:
                    lengths[seen[other]] += lengths[e]
                    continue
                seen[other] = kept
            us[kept], vs[kept] = a, b
            lengths[kept] = lengths[e]
            costs[kept] = costs[e]
            kept += 1
        n_edges = kept
        for e in range(n_edges):
            if us[e] == u or vs[e] == u:
                seen[vs[e] if us[e] == u else us[e]] = -1
                costs[e] = _cost(
                    moments, areas, us[e], vs[e], lengths[e], light_share, min_area, scratch
                )
    for i in range(n_regions):
        root = i
        while parent[root] != root:
            root = parent[root]
        parent[i] = root
    return parent


def merge_regions(
    labels: IntArray,
    colour: FloatArray,
    weight: FloatArray,
    area_mm2: FloatArray,
    rule: MergeRule,
    groups: IntArray | None = None,
) -> NDArray[np.int32]:
    """Join neighbouring regions, cheapest gain per border length first.

    labels: (rows, cols); colour: (rows, cols, 3) in a space where Euclidean distance is
    perceptual; weight: (rows, cols) importance of each pixel; area_mm2: area (rows, cols)
    each pixel counts towards the smallest area; groups: (n,) regions of different groups
    never join. Source: the merging scheme of [Koepfler1994] for the Mumford-Shah model.
    """
    moments = region_moments(labels, colour, weight)
    n = len(moments)
    areas = np.bincount(labels.ravel(), weights=area_mm2.ravel(), minlength=n)
    us, vs, lengths = border_edges(labels)
    if groups is not None:
        same = groups[us] == groups[vs]
        us, vs, lengths = us[same], vs[same], lengths[same]
    share = 1.0 / rule.light_levels**2
    parent = _merge(
        us,
        vs,
        lengths,
        moments[:, :9].copy(),
        areas,
        rule.target,
        rule.min_area,
        share,
        rule.worth,
    )
    return compact_labels(parent[labels])


def compact_labels(labels: IntArray) -> NDArray[np.int32]:
    """The same regions numbered 0 … n − 1 in order of their old numbers."""
    used, inverse = np.unique(labels, return_inverse=True)
    del used
    return np.asarray(inverse.reshape(labels.shape), dtype=np.int32)


@njit(cache=True, nogil=True)
def _parts(labels, out, stack):  # type: ignore[no-untyped-def]
    rows, cols = labels.shape
    n = 0
    for i0 in range(rows):
        for j0 in range(cols):
            if out[i0, j0] >= 0:
                continue
            label = labels[i0, j0]
            top = 0
            stack[0] = i0 * cols + j0
            out[i0, j0] = n
            while top >= 0:
                p = stack[top]
                top -= 1
                i, j = p // cols, p % cols
                for k in range(4):
                    y = i + (1 if k == 0 else -1 if k == 1 else 0)
                    x = j + (1 if k == 2 else -1 if k == 3 else 0)
                    if 0 <= y < rows and 0 <= x < cols and out[y, x] < 0 and labels[y, x] == label:
                        out[y, x] = n
                        top += 1
                        stack[top] = y * cols + x
            n += 1
    return n


def connected_parts(labels: IntArray) -> NDArray[np.int32]:
    """Labels of the 4-connected pieces of every region, numbered in reading order."""
    out = np.full(labels.shape, -1, dtype=np.int32)
    _parts(labels, out, np.empty(labels.size, dtype=np.int64))
    return out


def _disc(radius_px: float) -> tuple[IntArray, IntArray, FloatArray]:
    """Offsets and Gaussian weights of a disc that reaches `radius_px` pixels."""
    reach = max(1, math.ceil(radius_px))
    dy, dx = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    keep = dy**2 + dx**2 <= radius_px**2 + 0.5
    sigma = max(radius_px / 1.5, 0.5)
    weight = np.exp(-(dy[keep] ** 2 + dx[keep] ** 2) / (2 * sigma**2))
    return dy[keep], dx[keep], weight


@njit(cache=True, nogil=True)
def _mode(labels, groups, dy, dx, weight, out):  # type: ignore[no-untyped-def]
    rows, cols = labels.shape
    found = np.empty(dy.size, dtype=np.int64)
    votes = np.empty(dy.size)
    for i in range(rows):
        for j in range(cols):
            n = 0
            here = labels[i, j]
            for k in range(dy.size):
                y, x = i + dy[k], j + dx[k]
                if not (0 <= y < rows and 0 <= x < cols) or groups[y, x] != groups[i, j]:
                    continue
                label = labels[y, x]
                m = 0
                while m < n and found[m] != label:
                    m += 1
                if m == n:
                    found[n] = label
                    votes[n] = 0.0
                    n += 1
                votes[m] += weight[k]
            best = here
            most = -1.0
            for m in range(n):
                if votes[m] > most or (votes[m] == most and found[m] == here):
                    most = votes[m]
                    best = found[m]
            out[i, j] = best


def mode_filter(
    labels: IntArray, radius_px: float, groups: IntArray | None = None, times: int = 1
) -> NDArray[np.int32]:
    """Each pixel takes the label that fills most of a soft disc around it.

    Smooths borders and removes parts thinner than about the radius; pixels of different
    `groups` (rows, cols) do not vote for each other.
    """
    same = np.zeros(labels.shape, dtype=np.int32) if groups is None else groups
    dy, dx, weight = _disc(radius_px)
    current = np.asarray(labels, dtype=np.int32)
    for _ in range(times):
        out = np.empty_like(current)
        _mode(current, same, dy, dx, weight, out)
        current = out
    return current


@njit(cache=True, nogil=True)
def _blur(plane, labels, dy, dx, weight, out):  # type: ignore[no-untyped-def]
    rows, cols = labels.shape
    for i in range(rows):
        for j in range(cols):
            total = 0.0
            norm = 0.0
            for k in range(dy.size):
                y, x = i + dy[k], j + dx[k]
                if 0 <= y < rows and 0 <= x < cols and labels[y, x] == labels[i, j]:
                    total += weight[k] * plane[y, x]
                    norm += weight[k]
            out[i, j] = total / norm


def smooth_within(plane: FloatArray, labels: IntArray, radius_px: float) -> NDArray[np.float32]:
    """`plane` (rows, cols) blurred by a soft disc that never crosses a region's border."""
    dy, dx, weight = _disc(radius_px)
    out = np.empty(plane.shape, dtype=np.float32)
    _blur(np.asarray(plane, dtype=np.float32), labels, dy, dx, weight, out)
    return out


def soften(colour: FloatArray, ppmm: float, width_mm: float) -> NDArray[np.float32]:
    """Colour (rows, cols, 3) with texture finer than `width_mm` removed by a median."""
    size = 2 * round(width_mm * ppmm / 2) + 1
    picture = np.ascontiguousarray(colour, dtype=np.float32)
    if size <= 1:
        return picture
    return np.asarray(cv2.medianBlur(picture, min(size, 5)), dtype=np.float32)
