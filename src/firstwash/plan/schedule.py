"""The painter's order of work: edges and technique of every wash, order, time, amounts.

Takes the washes as they come out of the solver (who receives what) and adds what a hand needs
to know: which edges of a wash are cut in, softened or lost, how it is laid, what it is dropped
into, in which order washes are laid, what must wait, how long it all takes and how much of every
puddle to mix.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import find_objects

from firstwash.arrays import FloatArray, IntArray
from firstwash.picture.edges import EDGE_KINDS, HARD, Edges
from firstwash.picture.shapes import Cells
from firstwash.plan.board.amounts import PuddleAmount, PuddleUse, puddle_amount
from firstwash.plan.board.drying import Room, drying_of
from firstwash.plan.board.hours import (
    HARD_MM_S,
    MOVE_S,
    PACE,
    BoardTime,
    LayerWork,
    WashWork,
    board_time,
    wash_minutes,
)
from firstwash.plan.board.order import Border, Item, Paint, Step, Wait, order_layer
from firstwash.plan.board.practice import Technique
from firstwash.plan.board.ranges import NOTHING, Range
from firstwash.plan.layin import dropped_into
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash

__all__ = [
    "Schedule",
    "amounts_of",
    "hair_mm",
    "how_laid",
    "in_order",
    "schedule_of",
    "soft_pairs",
    "with_touches",
]

# Hard edge (mm) between two washes of one layer up to which a hair of dry paper is left between
# them instead of waiting. In the pale lay-in that is always done, for the next layer closes the
# gap; elsewhere, however long the edge, by a painter in a hurry. Common practice, no source.
HAIR_MM = 60.0
WET_SHARE = 0.3  # of a first wash's border that is open: then it is laid wet-in-wet
LOST_SHARE = 0.5  # that is lost, of a later wash: so soft that its area is wetted again first
BROKEN = 0.9  # roughness from which a last glaze is skimmed with a dry brush
LAST_SHARE = 0.6  # of such a wash that nothing is glazed over
BROKEN_MM2 = (
    60.0  # smaller patches are no room for a skimming brush. All: common practice, no source
)
DAMP_MINUTES = 24 * 60.0  # minutes: air too damp to dry anything is planned as a day


@dataclass(frozen=True, eq=False)
class Schedule:
    """Steps: per layer, in painting order, numbers of washes and waits. time: at the board.

    room: that it was worked out for. hurried: no later layer is wetted again or waits inside
    for an edge; what saves the time is a hair of dry paper left between washes, and a damp brush.
    """

    steps: tuple[tuple[Step, ...], ...]
    time: BoardTime
    room: Room
    hurried: bool = False

    @property
    def minutes(self) -> Range:
        """From the first puddle to the last stroke."""
        return self.time.total


@dataclass(frozen=True, eq=False)
class _Seams:
    """Borders of the washes of one layer.

    own (washes, 3): mm of hard, soft and lost edge each has; pairs (washes, washes, 3): mm
    between two of them.
    """

    own: NDArray[np.float64]
    pairs: NDArray[np.float64]


def _seams(washes: Sequence[Wash], edges: Edges, cells: int) -> _Seams:
    owner = np.full(cells, -1, dtype=np.int64)
    for w, wash in enumerate(washes):
        owner[list(wash.cells)] = w
    n = len(washes)
    own, pairs = np.zeros((n, 3)), np.zeros((n, n, 3))
    a, b = owner[edges.cells[:, 0]], owner[edges.cells[:, 1]]
    for one, two in ((a, b), (b, a)):
        seen = (one >= 0) & (one != two)
        np.add.at(own, (one[seen], edges.kind[seen]), edges.length_mm[seen])
        both = seen & (two >= 0)
        np.add.at(pairs, (one[both], two[both], edges.kind[both]), edges.length_mm[both])
    return _Seams(own, pairs)


def how_laid(
    washes: Sequence[Wash], edges: Edges, cells: Cells, tops: IntArray, hurried: bool = False
) -> Iterator[Wash]:
    """The washes of one layer with their edges, technique and what they are dropped into.

    tops: (cells,) the last layer laid on each. hurried: see Schedule.
    """
    seams = _seams(washes, edges, cells.count)
    into: list[int | None] = [None] * len(washes)
    if washes and washes[0].layer == 1:
        members = [np.array(w.cells) for w in washes]
        into = dropped_into(members, [w.area_mm2 for w in washes], edges, cells.count)
    for w, wash in enumerate(washes):
        hard, soft, lost = (float(v) for v in seams.own[w])
        technique = "wet-in-wet" if into[w] is not None else _technique(wash, hard, soft, lost)
        if technique == "wet-in-wet" and wash.layer > 1 and hurried:
            technique = "glaze"
        elif technique == "glaze" and _broken(wash, cells, tops):
            technique = "dry-brush"
        yield replace(wash, edges_mm=(hard, soft, lost), technique=technique, into=into[w])


def _broken(wash: Wash, cells: Cells, tops: IntArray) -> bool:
    """Whether a wash is the last one over rough ground, where a skimming brush tells most."""
    own = np.array(wash.cells)
    areas = cells.areas_mm2()[own]
    last = areas[tops[own] == wash.layer].sum() / areas.sum()
    patch = areas.sum() / max(wash.areas, 1)
    return bool(
        last >= LAST_SHARE and patch >= BROKEN_MM2 and cells.roughness(wash.cells) >= BROKEN
    )


def _technique(wash: Wash, hard: float, soft: float, lost: float) -> Technique:
    if wash.kind == "graded wash":
        return "graded"
    if wash.layer == 1:
        border = max(hard + soft + lost, 1e-9)
        return "wet-in-wet" if (soft + lost) / border >= WET_SHARE else "wet-on-dry"
    return "wet-in-wet" if _mostly_lost(hard, soft, lost) else "glaze"


def _mostly_lost(hard: float, soft: float, lost: float) -> bool:
    return lost / max(hard + soft + lost, 1e-9) >= LOST_SHARE


def _work(wash: Wash) -> WashWork:
    soft = wash.edges_mm[1]
    if wash.technique == "wet-in-wet":
        soft = 0.0  # softens by itself
    elif wash.layer > 1 and _mostly_lost(*wash.edges_mm):
        soft += wash.edges_mm[2]  # faded out by hand in a hurry, where water would have done it
    return WashWork(
        area_mm2=wash.area_mm2,
        areas=wash.areas,
        hard_mm=wash.edges_mm[0],
        soft_mm=soft,
        technique=wash.technique,
        puddle=str(wash.puddle),
    )


def _longest_hair(washes: Sequence[Wash], hurried: bool) -> float:
    """Hard edge (mm) between two washes of a layer up to which a hair is left between them."""
    return np.inf if hurried or (washes and washes[0].layer == 1) else HAIR_MM


def hair_mm(washes: Sequence[Wash], edges: Edges, cells: Cells, hurried: bool) -> float:
    """Length (mm) along which a hair of dry paper is left between the washes of one layer."""
    hard = np.triu(_seams(washes, edges, cells.count).pairs[:, :, HARD], 1)
    return float(hard[hard <= _longest_hair(washes, hurried)].sum())


def soft_pairs(washes: Sequence[Wash], edges: Edges, cells: Cells) -> dict[tuple[int, int], bool]:
    """Which washes of one layer share a border, by their numbers, the lower first.

    True where at least half of it is soft or lost, so that they must meet wet.
    """
    pairs = _seams(washes, edges, cells.count).pairs
    met = np.argwhere(np.triu(pairs.sum(axis=2), 1) > 0.0)
    found: dict[tuple[int, int], bool] = {}
    for a, b in met:
        low, high = sorted((washes[a].number, washes[b].number))
        soft = float(pairs[a, b].sum() - pairs[a, b, HARD])
        found[low, high] = soft > 0.0 and soft >= float(pairs[a, b, HARD])
    return dict(sorted(found.items()))


def in_order(
    washes: Sequence[Wash],
    edges: Edges,
    cells: Cells,
    room: Room,
    weight_gsm: float,
    hurried: bool = False,
) -> tuple[tuple[Wash, ...], tuple[Step, ...]]:
    """The washes of one layer in painting order, numbered from 1, and the steps by number.

    A colour dropped in comes right after the wash it is dropped into. hurried: see Schedule.
    """
    seams = _seams(washes, edges, cells.count)
    hair = _longest_hair(washes, hurried)
    boxes = _boxes(cells)
    items = [_item(w, wash, boxes, room, weight_gsm) for w, wash in enumerate(washes)]
    borders = [
        Border(a, b, EDGE_KINDS[k], float(seams.pairs[a, b, k]))
        for a in range(len(washes))
        for b in range(a + 1, len(washes))
        for k in range(3)
        if seams.pairs[a, b, k] > (hair if k == HARD else 0.0)
    ]
    found = _with_drops(order_layer(items, borders), washes)
    laid = (old for step in found if isinstance(step, Paint) for old in step.ids)
    number = {old: i for i, old in enumerate(laid, 1)}
    ordered = sorted(range(len(washes)), key=number.__getitem__)
    numbered = tuple(
        replace(
            washes[old],
            number=number[old],
            into=_renumber(washes[old].into, number),
        )
        for old in ordered
    )
    return numbered, tuple(_renumbered(step, number) for step in found)


def _renumber(old: int | None, number: Mapping[int, int]) -> int | None:
    return None if old is None else number[old]


def _with_drops(steps: Sequence[Step], washes: Sequence[Wash]) -> list[Step]:
    """The steps with every dropped-in colour right after its host, in the host's step."""
    drops = {w.into: i for i, w in enumerate(washes) if w.into is not None}
    out: list[Step] = []
    for step in steps:
        if isinstance(step, Wait):
            out.append(step)
            continue
        ids: list[int] = []
        for id_ in step.ids:
            if washes[id_].into is None:
                ids.append(id_)
                if id_ in drops:
                    ids.append(drops[id_])
        if ids:
            out.append(replace(step, ids=tuple(ids)))
    return out


def _renumbered(step: Step, number: Mapping[int, int]) -> Step:
    def new(ids: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(number[i] for i in ids)

    if isinstance(step, Wait):
        return replace(step, until=new(step.until), before=new(step.before))
    return replace(step, ids=new(step.ids), because=new(step.because))


def _boxes(cells: Cells) -> NDArray[np.float64]:
    """Left, top, right, bottom (cells, 4) in mm."""
    box = np.zeros((cells.count, 4))
    for cell, window in enumerate(find_objects(cells.index + 1, cells.count)):
        if window is not None:
            rows, cols = window
            box[cell] = cols.start, rows.start, cols.stop, rows.stop
    return np.asarray(box / cells.ppmm)


def _item(w: int, wash: Wash, boxes: FloatArray, room: Room, weight_gsm: float) -> Item:
    own = boxes[list(wash.cells)]
    left, top = own[:, :2].min(axis=0)
    right, bottom = own[:, 2:].max(axis=0)
    # Against a hard edge nothing is laid before it is dry: a damp wash would draw it in.
    dry = drying_of(wash.technique, room, weight_gsm).dry.mid
    return Item(
        id=w,
        lightness=float(np.clip(wash.stroke[0], 0.0, 100.0)),
        area_mm2=wash.area_mm2,
        technique=wash.technique,
        box=(float(left), float(top), float(right), float(bottom)),
        paint_minutes=wash_minutes(_work(wash)).mid,
        wet_minutes=min(max(dry, 1e-2), DAMP_MINUTES),
    )


def schedule_of(
    layers: Sequence[tuple[Sequence[Wash], tuple[Step, ...]]],
    room: Room,
    weight_gsm: float,
    hurried: bool = False,
) -> Schedule:
    """The whole plan's order and time; layers: washes in painting order with their steps."""
    work = [
        LayerWork(tuple(_work(w) for w in washes), _pauses(steps))
        for washes, steps in layers
        if washes
    ]
    time = board_time(work, room, weight_gsm)
    return Schedule(tuple(steps for _, steps in layers), time, room, hurried)


def with_touches(
    schedule: Schedule, touches: Sequence[Touch], washes: Sequence[Wash], weight_gsm: float
) -> Schedule:
    """The schedule with the time for fine strokes: reserves at the start, touches at the end."""
    layers = sorted({w.layer for w in washes})
    work = []
    for n in layers:
        own = tuple(_work(w) for w in washes if w.layer == n)
        pauses = _pauses(schedule.steps[n - 1])
        if n == layers[0]:
            pauses = pauses + _kept_minutes([t for t in touches if t.reserved])
        work.append(LayerWork(own, pauses))
    laid = [t for t in touches if not t.reserved]
    strokes = [
        _touch_work([t for t in laid if t.puddle == q], q)
        for q in sorted({t.puddle for t in laid if t.puddle is not None})
    ]
    if strokes:
        work.append(LayerWork(tuple(strokes)))
    return replace(schedule, time=board_time(work, schedule.room, weight_gsm))


def _touch_work(touches: Sequence[Touch], puddle: int) -> WashWork:
    area = sum(t.stroke.area_mm2 for t in touches)
    return WashWork(area, len(touches), 0.0, 0.0, "touch", str(puddle))


def _kept_minutes(reserves: Sequence[Touch]) -> Range:
    """Drawing masking fluid on, or the line to paint round, stroke by stroke."""
    seconds = sum(MOVE_S + t.stroke.length_mm / HARD_MM_S for t in reserves)
    return Range(*(seconds * pace / 60.0 for pace in PACE))


def _pauses(steps: Sequence[Step]) -> Range:
    waits = [s.minutes for s in steps if isinstance(s, Wait)]
    return Range(*(f * sum(waits) for f in (0.7, 1.0, 1.5))) if waits else NOTHING


def amounts_of(
    parts: Sequence[tuple[int, float]], washes: Sequence[Wash], full_coats: Sequence[float]
) -> PuddleAmount:
    """How much of a puddle to mix for its washes.

    parts: (paint, amount) at strength 1. full_coats: per paint the amount in the strongest coat a
    hand lays; how much tube paint a wash takes goes by that.
    """
    loads = [a / full_coats[p] for p, a in parts]
    uses = [
        PuddleUse(w.area_mm2, max(w.strength, w.end_strength or 0.0) * sum(loads), w.technique)
        for w in washes
    ]
    return puddle_amount(uses, loads)
