"""The borders of a plan's shapes as long smooth lines: each once, lost edges left out.

Borders that run on into one another past a fork are one line, as a hand would draw them; the
third border ends on it.
"""

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d
from scipy.spatial import cKDTree

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.handout.border_kinds import curve_kinds
from firstwash.handout.contours import OUTSIDE, Contours, trace_contours
from firstwash.picture.edges import LOST, SOFT, Edges
from firstwash.tracing.curves import STEP_MM, Smooth, along, evenly, smooth
from firstwash.tracing.room import Room
from firstwash.tracing.snapping import Relief, sides, snapped

__all__ = [
    "Arc",
    "Course",
    "arc_of",
    "border_distance",
    "chains_of",
    "contour_courses",
    "joined_arcs",
    "met",
    "stretches",
]

STRAIGHT: Final = np.deg2rad(60.0)  # the most two borders may turn to be one line past a fork
TOLD_BY_MM: Final = 4.0  # length from a fork that tells a border's direction
STRAY_MM: Final = 0.35  # by which a line may be smoothed, root mean square
PER_CURVE: Final = 5  # points that a traced curve is walked by
SOFT_RUN_MM: Final = 25.0  # of a stretch that is soft, when the rest of its line is not seen
GAP_MM, RUN_MM = 6.0, 9.0  # least length of a gap, and of a piece beside a gap
MEET_MM: Final = 2.0  # an end so near to another line ends on it
SOFT_NEEDS: Final = 1.6  # times the contrast of a hard edge must a soft one have
SHORTEST_MM: Final = 2.5  # of a line
ONCE_MM: Final = 1.3  # a line that runs so near along a stronger one is the same line
FADE_MM: Final = 6.0  # over which an end is led to the line it ends on
EVEN_MM: Final = 4.0  # σ along a line of what is told of its contrast


@dataclass(frozen=True, eq=False)
class Course:
    """A line of an outline before its curves are fitted.

    contrast: mean of the colours' distance on its two sides; soft: whether its edge is mostly a
    soft one. bare: whether it bounds paper left bare.
    """

    line: Smooth
    closed: bool
    contrast: float
    soft: bool
    bare: bool


@dataclass(frozen=True, eq=False)
class Arc:
    """A border from fork to fork, or several on end, before it is smoothed.

    points: (n, 2) mm; kinds, bare: (n,) kind of edge there, and whether paper is left beside it.
    """

    points: NDArray[np.float64]
    kinds: NDArray[np.int64]
    bare: NDArray[np.bool_]
    ends: tuple[int, int]

    def walked(self, back: bool) -> "Arc":
        """The same from its end to its start."""
        if not back:
            return self
        return Arc(self.points[::-1], self.kinds[::-1], self.bare[::-1], self.ends[::-1])

    @property
    def closed(self) -> bool:
        """Whether it comes home."""
        return self.ends[0] == self.ends[1] and len(self.points) > 8

    def turned(self, by: int) -> "Arc":
        """The same ring begun so many points later."""
        if not by:
            return self
        order = np.r_[np.arange(by, len(self.kinds) - 1), np.arange(by + 1)]
        return replace(self, kinds=self.kinds[order], bare=self.bare[order])


def contour_courses(
    regions: IntArray, bare: BoolArray, cells: IntArray, edges: Edges, found: Relief, least: float
) -> list[Course]:
    """The borders of regions (rows, cols), smooth, with what is invisible left out.

    bare: (regions,) left as paper: their borders are drawn whole. cells: (rows, cols) cells that
    edges speak of. least: contrast below which a stretch of border is not drawn.
    """
    arcs = _arcs(regions, bare, cells, edges, found.ppmm)
    near = border_distance(regions, found.ppmm)
    courses = []
    for chain in chains_of(arcs):
        courses += _visible(joined_arcs(arcs, chain), found, near, least)
    ended = met(_once(courses, Room(regions.shape, found.ppmm)))
    return [course for course in ended if course.line.length_mm >= SHORTEST_MM]


def _arcs(
    regions: IntArray, bare: BoolArray, cells: IntArray, edges: Edges, ppmm: float
) -> list[Arc]:
    contours = trace_contours(regions, ppmm)
    kinds = curve_kinds(contours, _edges_of(regions, cells, edges))
    left, right = contours.left, contours.right
    inner = np.flatnonzero((left != OUTSIDE) & (right != OUTSIDE))
    return [
        arc_of(contours, kinds, i, bool(bare[left[i]] or bare[right[i]])) for i in inner.tolist()
    ]


def arc_of(contours: Contours, kinds: NDArray[np.int64], number: int, bare: bool) -> Arc:
    """One border of traced contours, with the kind (curves,) of edge each of its curves is."""
    own = slice(contours.start[number], contours.start[number + 1])
    curves = contours.curves[own]
    t = np.arange(PER_CURVE) / PER_CURVE
    basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
    points = np.concatenate([
        np.einsum("tk,nkx->ntx", basis, curves).reshape(-1, 2), curves[-1:, 3]
    ])  # fmt: skip
    told = np.append(np.repeat(kinds[own], PER_CURVE), kinds[own][-1])
    even = evenly(points)
    at = np.searchsorted(along(points), np.linspace(0.0, along(points)[-1], len(even)) - 1e-9)
    start, end = contours.ends[number].tolist()
    kind = told[at.clip(max=len(told) - 1)]
    return Arc(even, kind, np.full(len(even), bare), (start, end))


def border_distance(regions: IntArray, ppmm: float) -> NDArray[np.float64]:
    """Distance (rows, cols), mm, to the nearest border of any region."""
    inside = np.ones(regions.shape, dtype=np.bool_)
    across, down = regions[:, :-1] != regions[:, 1:], regions[:-1] != regions[1:]
    inside[:, :-1][across] = inside[:, 1:][across] = False
    inside[:-1][down] = inside[1:][down] = False
    return np.asarray((distance_transform_edt(inside) + 0.5) / ppmm)


def _edges_of(regions: IntArray, cells: IntArray, edges: Edges) -> Edges:
    """What is known of the cells' borders, told of the regions they lie in; longest first."""
    owner = np.zeros(int(cells.max()) + 1, dtype=np.int64)
    owner[cells.ravel()] = regions.ravel()
    pairs = np.sort(owner[edges.cells], axis=1)
    keep = np.flatnonzero(pairs[:, 0] != pairs[:, 1])
    keep = keep[np.argsort(-edges.length_mm[keep], kind="stable")]
    return replace(edges, cells=pairs[keep], kind=edges.kind[keep], centre_mm=edges.centre_mm[keep])


# --- chains ----------------------------------------------------------------------

Chain = list[tuple[int, bool]]


def chains_of(arcs: list[Arc]) -> list[Chain]:
    """Arcs strung together where they run on into each other."""
    at: dict[int, list[tuple[int, int]]] = {}
    for i, arc in enumerate(arcs):
        for side in (0, 1):
            at.setdefault(arc.ends[side], []).append((i, side))
    partner = {}
    for node in sorted(at):
        for one, other in _pairs(arcs, at[node]):
            partner[one], partner[other] = other, one
    return _strung(len(arcs), partner)


def _pairs(
    arcs: list[Arc], meeting: list[tuple[int, int]]
) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Which of the arcs' ends that meet in a point run on into each other, straightest first."""
    if len(meeting) == 2:
        return [(meeting[0], meeting[1])]
    ways = [_outward(arcs[i], side) for i, side in meeting]
    turns = sorted(
        (float(np.arccos(np.clip(-(ways[a] @ ways[b]), -1.0, 1.0))), a, b)
        for a in range(len(ways))
        for b in range(a)
        if meeting[a][0] != meeting[b][0]
    )
    out, used = [], set[int]()
    for turn, a, b in turns:
        if turn < STRAIGHT and not {a, b} & used:
            out.append((meeting[a], meeting[b]))
            used |= {a, b}
    return out


def _outward(arc: Arc, side: int) -> NDArray[np.float64]:
    """Direction (2,) in which a border leaves one of its ends."""
    points = arc.points if side == 0 else arc.points[::-1]
    far = min(round(TOLD_BY_MM / STEP_MM), len(points) - 1)
    way = points[far] - points[0]
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-12))


def _strung(count: int, partner: dict[tuple[int, int], tuple[int, int]]) -> list[Chain]:
    chains, used = [], set[int]()
    free = [(i, side) for i in range(count) for side in (0, 1) if (i, side) not in partner]
    for start in [*free, *((i, 0) for i in range(count))]:
        if start[0] in used:
            continue
        chain, end = [], start
        while end[0] not in used:
            used.add(end[0])
            chain.append((end[0], end[1] == 1))
            follow = partner.get((end[0], 1 - end[1]))
            if follow is None:
                break
            end = follow
        chains.append(chain)
    return chains


def joined_arcs(arcs: list[Arc], chain: Chain) -> Arc:
    """The arcs of a chain as one."""
    own = [arcs[i].walked(back) for i, back in chain]
    if len(own) == 1:
        return own[0]

    def whole(name: str) -> NDArray[Any]:
        rest = [getattr(arc, name)[1:] for arc in own[1:]]  # where two meet they have one point
        return np.concatenate([getattr(own[0], name), *rest])

    ends = (own[0].ends[0], own[-1].ends[1])
    return Arc(whole("points"), whole("kinds"), whole("bare"), ends)


def _once(courses: list[Course], room: Room) -> list[Course]:
    """Lines without the stretches that run close along a stronger one."""
    out = []
    for course in sorted(courses, key=lambda c: -c.contrast * c.line.length_mm**0.5):
        free = room.free(course.line.points)
        keep = np.asarray(free | _short(~free), dtype=np.bool_)
        parts = [course]
        if not keep.all():
            parts = [
                replace(course, line=course.line.piece(a, b), closed=False)
                for a, b in _pieces(keep, np.zeros_like(keep))
                if (b - a) * STEP_MM >= GAP_MM
            ]
        for part in parts:
            room.take(part.line.points, ONCE_MM)
        out += parts
    return out


def _short(seen: BoolArray) -> NDArray[np.bool_]:
    """Which points belong to runs too short to be a line drawn twice, as where two lines meet."""
    out = np.zeros(len(seen), dtype=np.bool_)
    for part, _ in stretches(seen, False):
        out[part] = len(part) * STEP_MM < GAP_MM
    return out


def met(courses: list[Course], still: int = 0) -> list[Course]:
    """Ends led to the line they end on, which was moved and smoothed; the first few stay."""
    if len(courses) < 2:
        return courses
    every = np.concatenate([c.line.points for c in courses])
    owner = np.repeat(np.arange(len(courses)), [len(c.line.points) for c in courses])
    tree = cKDTree(every)
    for number, course in enumerate(courses):
        if number < still or course.closed or course.line.length_mm < 2.0 * MEET_MM:
            continue
        for points in (course.line.points, course.line.points[::-1]):
            near = np.array(tree.query_ball_point(points[0], MEET_MM), dtype=np.int64)
            near = near[owner[near] != number]
            if len(near):
                away = np.linalg.norm(every[near] - points[0], axis=1)
                _lead(points, every[near[int(away.argmin())]])
    return courses


def _lead(points: NDArray[np.float64], end: FloatArray) -> None:
    """Move the first point of a line to `end` and what follows less and less, in place."""
    away = along(points)
    reach = min(FADE_MM, max(float(away[-1]), 1e-9))
    share = np.clip(1.0 - away / reach, 0.0, 1.0)
    share = share**2 * (3.0 - 2.0 * share)  # without a kink where it begins and at the end
    points += share[:, None] * (end - points[0])


# --- what is seen of a line ------------------------------------------------------


def _visible(arc: Arc, found: Relief, near: FloatArray, least: float) -> list[Course]:
    """A border moved to the picture's edge and smoothed, without its lost stretches."""
    if len(arc.points) < 2:
        return []
    line = smooth(snapped(found, arc.points, arc.closed, near), arc.closed, STRAY_MM)
    told = arc.turned(line.turned)
    contrast = _evened(sides(found, line.points), arc.closed)
    needed = np.where(told.kinds == SOFT, SOFT_NEEDS * least, least)
    seen = told.bare | ((contrast >= needed) & (told.kinds != LOST))
    seen = _runs_only(seen, arc.closed)
    if seen.all() and (told.bare == told.bare[0]).all():
        return [_course(line, arc.closed, told, contrast, slice(None))]
    parts = [
        _course(line.piece(a, b), False, told, contrast, slice(a, b + 1))
        for a, b in _pieces(seen, told.bare)
    ]
    return [part for part in parts if not part.soft or part.line.length_mm >= SOFT_RUN_MM]


def _course(line: Smooth, closed: bool, told: Arc, contrast: FloatArray, own: slice) -> Course:
    kinds = told.kinds[own]
    soft = float((kinds == SOFT).mean()) > 0.5
    return Course(line, closed, float(contrast[own].mean()), soft, bool(told.bare[own][0]))


def _pieces(seen: BoolArray, bare: BoolArray) -> list[tuple[int, int]]:
    """First and last point of each stretch that is seen and all bare's or none; they touch."""
    state = np.where(seen, 1 + bare.astype(np.int64), 0)
    cut = np.r_[0, np.flatnonzero(np.diff(state)) + 1, len(state)]
    last = len(state) - 1
    return [
        (a, min(b, last) if b <= last and state[b] else b - 1)
        for a, b in zip(cut[:-1].tolist(), cut[1:].tolist(), strict=True)
        if state[a] and b - a > 1
    ]


def _evened(values: FloatArray, ring: bool) -> NDArray[np.float64]:
    mode = "wrap" if ring else "nearest"
    return np.asarray(gaussian_filter1d(values, EVEN_MM / STEP_MM, mode=mode))


def _runs_only(seen: BoolArray, ring: bool) -> NDArray[np.bool_]:
    """Short gaps filled, then short pieces dropped, unless that is all there is."""
    out = np.asarray(seen, dtype=np.bool_)
    for value, least in ((False, GAP_MM), (True, RUN_MM)):
        for part, goes_round in stretches(out == value, ring):
            if not goes_round and len(part) * STEP_MM < least and len(part) < len(out):
                out[part] = not value
    return out


def stretches(seen: BoolArray, ring: bool) -> list[tuple[NDArray[np.int64], bool]]:
    """Places of each unbroken run, and whether it is the whole of a ring."""
    if seen.all():
        return [(np.arange(len(seen)), ring)]
    if not seen.any():
        return []
    turn = int(np.flatnonzero(~seen)[0]) if ring else 0
    order = np.roll(np.arange(len(seen)), -turn)
    edge = np.diff(np.r_[0, seen[order].astype(np.int64), 0])
    starts, stops = np.flatnonzero(edge > 0), np.flatnonzero(edge < 0)
    return [(order[a:b], False) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]
