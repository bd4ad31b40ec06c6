"""The borders of a plan's cells drawn on the lines of its outline, so that maps agree with it.

Every border is walked in short steps. Where a line of the outline runs beside it, it is moved
onto that line; where none does, it is smoothed. Points where borders meet are moved once for all
of them, so that areas stay closed.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from firstwash.arrays import FloatArray
from firstwash.handout.contours import OUTSIDE, Contours
from firstwash.handout.layer_map import Ruling, frame_for
from firstwash.tracing.model import Tracing

__all__ = ["drawn_on"]

STEP: Final = 0.14  # letter sizes between two points: half a mm in print
STEPS_MM: Final = (0.3, 1.6)  # that step at least and at most
REACH_MM: Final = 1.8  # from a border to the line it is drawn on, at most
ALONG: Final = 0.75  # cosine of the angle between the two, at least
OTHERS_MM: Final = 0.3  # by which another border must be nearer to that line to have it alone
PER_CURVE: Final = 4  # points by which a traced curve's length is told
FINE_MM: Final = 0.5  # between two points of the outline, about
LOOKED_AT: Final = 4  # points of the outline near a border's point
EASED_MM: Final = (0.9, 1.8)  # σ of smoothing: of all points, and of those on no line


def drawn_on(ruled: Ruling, tracing: Tracing) -> Ruling:
    """A plan's borders, moved onto the outline where it runs beside them; the rest smoothed."""
    walk = _walked(ruled, float(np.clip(STEP * frame_for(ruled.plan).letter, *STEPS_MM)))
    if not len(walk.points):
        return ruled
    guided = np.zeros(len(walk.points), dtype=np.bool_)
    points = walk.points.copy()
    if tracing.lines:
        guided = _led(walk, _outline(tracing), points)
    first, last = (max(round(2.0 * (s / walk.step) ** 2), 1) for s in EASED_MM)
    _ease(walk, points, walk.free & ~guided, last)
    _ease(walk, points, walk.free, first)
    return _as_ruling(ruled, walk, points)


@dataclass(frozen=True, eq=False)
class _Walk:
    """Points (n, 2) mm along all borders, one border after another.

    arc: (n,) its number; start: (arcs + 1,) its first point. before, after: (n,) the points beside
    each; inner: (n,) whether it is off the sheet's border; free: (n,) whether it may be moved
    alone, as no end can; node: (n,) number of the point where borders end, or −1. kind: (n,) of
    the edge from here on. step: mm between two points, about.
    """

    points: NDArray[np.float64]
    arc: NDArray[np.int64]
    start: NDArray[np.int64]
    before: NDArray[np.int64]
    after: NDArray[np.int64]
    inner: NDArray[np.bool_]
    free: NDArray[np.bool_]
    node: NDArray[np.int64]
    kind: NDArray[np.int64]
    step: float

    def ways(self) -> NDArray[np.float64]:
        """Unit directions (n, 2) along the borders."""
        way = self.points[self.after] - self.points[self.before]
        return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None])


def _walked(ruled: Ruling, step: float) -> _Walk:
    """Points evenly along every border, both of its ends among them."""
    c = ruled.contours
    flat, at, first = _flattened(c)
    length = at[first[1:] - 1] - at[first[:-1]]
    count = np.maximum(np.ceil(length / step), 1).astype(np.int64) + 1
    start = np.concatenate([[0], np.cumsum(count)])
    arc = np.repeat(np.arange(c.arcs), count)
    place = np.arange(start[-1]) - start[arc]
    wanted = at[first[arc]] + length[arc] * place / (count[arc] - 1)
    points = np.column_stack([np.interp(wanted, at, flat[:, k]) for k in (0, 1)])
    owner = np.searchsorted(at, wanted + 0.25 * step, side="right") - 1
    own = np.clip(owner, first[arc], first[arc + 1] - 2)  # never of the next border
    curve = (own - first[arc]) // PER_CURVE + c.start[arc]
    here = np.arange(start[-1])
    begins, ends = place == 0, place == count[arc] - 1
    closed = (c.ends[:, 0] == c.ends[:, 1])[arc]
    before = np.where(begins, np.where(closed, start[arc + 1] - 2, here), here - 1)
    after = np.where(ends, np.where(closed, start[arc] + 1, here), here + 1)
    inner = ((c.left != OUTSIDE) & (c.right != OUTSIDE))[arc]
    node = np.full(len(here), -1, dtype=np.int64)
    node[begins], node[ends] = c.ends[arc[begins], 0], c.ends[arc[ends], 1]
    free = inner & ~begins & ~ends
    return _Walk(points, arc, start, before, after, inner, free, node, ruled.kinds[curve], step)


def _flattened(c: Contours) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Points on all curves, lengths up to each with a gap after every border, first of each."""
    t = np.arange(PER_CURVE) / PER_CURVE
    basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
    inner = np.einsum("tk,nkx->ntx", basis, c.curves).reshape(-1, 2)
    last = c.start[1:]
    flat = np.insert(inner, PER_CURVE * last, c.curves[last - 1, 3], axis=0)
    first = PER_CURVE * c.start + np.arange(c.arcs + 1)
    steps = np.linalg.norm(np.diff(flat, axis=0), axis=1)
    steps[first[1:-1] - 1] = 1.0  # between two borders there is no way
    return flat, np.concatenate([[0.0], np.cumsum(steps)]), first


# --- onto the outline ----------------------------------------------------------------


def _outline(tracing: Tracing) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points (n, 2) mm along all lines of an outline, and unit directions (n, 2) there."""
    every, ways = [], []
    for line in tracing.lines:
        reach = np.abs(np.diff(line.curves, axis=1)).sum(axis=(1, 2)).max()
        points = line.points(max(round(float(reach) / FINE_MM), 2))
        way = np.gradient(points, axis=0)
        every.append(points)
        ways.append(way / np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None])
    return np.concatenate(every), np.concatenate(ways)


def _led(
    walk: _Walk, outline: tuple[FloatArray, FloatArray], points: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Points moved onto the outline, in place; returns which (n,) were."""
    spots, ways = outline
    tree = cKDTree(spots)
    away, near = tree.query(
        walk.points, k=min(LOOKED_AT, len(spots)), distance_upper_bound=REACH_MM
    )
    away, near = away.reshape(len(points), -1), near.reshape(len(points), -1)
    held = near.clip(max=len(spots) - 1)
    along = np.abs(np.einsum("nkx,nx->nk", ways[held], walk.ways())) > ALONG
    fits = np.isfinite(away) & along
    best = fits.argmax(axis=1)
    spot = held[np.arange(len(points)), best]
    onto = _foot(walk.points, spots[spot], ways[spot])
    led = walk.free & fits.any(axis=1)
    led &= np.linalg.norm(onto - walk.points, axis=1) <= REACH_MM
    led[led] = _alone(walk, onto[led], np.flatnonzero(led))
    points[led] = onto[led]
    _move_nodes(walk, points, spots, ways, away[:, 0], held[:, 0])
    return np.asarray(led)


def _foot(points: FloatArray, spots: FloatArray, ways: FloatArray) -> NDArray[np.float64]:
    """Where the nearest lines pass points: through spots (n, 2), along ways (n, 2)."""
    past = ((points - spots) * ways).sum(axis=1)
    return np.asarray(spots + past[:, None] * ways)


def _alone(walk: _Walk, onto: FloatArray, own: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether no other border runs nearer to the places that points (numbers own) shall take."""
    away, near = cKDTree(walk.points).query(onto)
    mine = np.linalg.norm(onto - walk.points[own], axis=1)
    return np.asarray((walk.arc[near] == walk.arc[own]) | (mine - away < OTHERS_MM))


def _move_nodes(
    walk: _Walk, points: NDArray[np.float64], spots: FloatArray, ways: FloatArray,
    away: FloatArray, near: NDArray[np.int64],
) -> None:  # fmt: skip
    """Ends of borders that lie beside the outline moved onto it, all that meet by the same way."""
    ends = np.flatnonzero(walk.node >= 0)
    border = walk.node[ends[~walk.inner[ends]]]  # the sheet's border stays where it is
    moved = np.isfinite(away[ends]) & ~np.isin(walk.node[ends], border)
    own = ends[moved]
    points[own] = _foot(walk.points[own], spots[near[own]], ways[near[own]])


# --- smoothing, and back -------------------------------------------------------------


def _ease(walk: _Walk, points: NDArray[np.float64], moved: NDArray[np.bool_], times: int) -> None:
    """Points evened with their neighbours, in place; σ in steps is the root of half of times."""
    own = np.flatnonzero(moved)
    before, after = walk.before[own], walk.after[own]
    for _ in range(times):
        points[own] += 0.25 * (points[before] + points[after] - 2.0 * points[own])


def _as_ruling(ruled: Ruling, walk: _Walk, points: FloatArray) -> Ruling:
    """Straight pieces from point to point."""
    last = np.zeros(len(points), dtype=np.bool_)
    last[walk.start[1:] - 1] = True
    begin = np.flatnonzero(~last)
    a, b = points[begin], points[begin + 1]
    share = np.arange(4)[None, :, None] / 3.0
    contours = replace(
        ruled.contours,
        curves=a[:, None] + share * (b - a)[:, None],
        straight=np.ones(len(begin), dtype=np.bool_),
        start=walk.start - np.arange(len(walk.start)),
        span=np.zeros((len(begin), 2), dtype=np.int64),
    )
    return Ruling(ruled.plan, contours, walk.kind[begin])
