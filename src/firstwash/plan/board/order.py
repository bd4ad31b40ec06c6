"""In which order to lay the washes of one layer.

- What meets along a soft or lost border must be wet together: painted straight one after the
  other, as a group.
- What meets along a hard border must not be laid while its neighbour is wet. Other washes are
  painted meanwhile; only when nothing else is left to do, the order says "wait".
- Otherwise wet-in-wet before wet-on-dry, large before small, light before dark, and from the
  top of the sheet downwards, so that the hand does not rest in wet paint; dry-brush and then
  touches come last.

All of this is common practice, no source. Which group to take next is list scheduling
[Graham1969]: the first in the painter's order that need not wait. From that, and from the
painter's order itself, groups are then moved about while that saves waiting.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations, permutations
from typing import Literal

from firstwash.errors import RequestError
from firstwash.plan.board.practice import Technique, checked, practice_of

__all__ = [
    "Border",
    "Item",
    "Paint",
    "Reason",
    "Step",
    "Wait",
    "order_layer",
    "waiting_minutes",
]

SIZE_RATIO = 4.0  # areas within a factor of four count as the same size: light before dark decides
SOON = 1e-6  # minutes that nobody waits for
SAVES = 0.25  # minutes of waiting that are worth leaving the painter's order for
MOST_MOVED = 32  # groups; beyond, moving them about would take seconds and little waiting is left
STAGE = {"dry-brush": 1, "touch": 2}  # all other techniques come before these

Kind = Literal["hard", "soft", "lost"]


@dataclass(frozen=True)
class Item:
    """One wash (or one area of it) of the layer.

    id: any whole number, its own. lightness: L* of its test stroke, 0-100. area_mm2: 0 or more.
    box: left, top, right, bottom on the sheet, mm. paint_minutes: how long it takes, 0 or more.
    wet_minutes: above 0, from then until a neighbour may be laid against it: until it no
    longer shines, or, as the schedule has it, until it is dry (drying.py).
    Raises RequestError for numbers that make no sense, an infinite wait among them.
    """

    id: int
    lightness: float
    area_mm2: float
    technique: Technique = "wet-on-dry"
    box: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    paint_minutes: float = 1.0
    wet_minutes: float = 10.0

    def __post_init__(self) -> None:
        """Check every number."""
        practice_of(self.technique)
        checked("lightness", self.lightness, 0.0, 100.0)
        checked("area (mm²)", self.area_mm2)
        checked("painting time (minutes)", self.paint_minutes, 0.0, 1e6)
        checked("time a wash stays wet (minutes)", self.wet_minutes, 1e-3, 1e6)
        left, top, right, bottom = (checked("box (mm)", side, -1e6, 1e6) for side in self.box)
        if right < left or bottom < top:
            raise RequestError("A box runs from left to right and from top to bottom.")


@dataclass(frozen=True)
class Border:
    """Where two washes of the layer meet: their ids, the kind, and its length (mm, 0 or more)."""

    first: int
    second: int
    kind: Kind
    length_mm: float = 1.0

    def __post_init__(self) -> None:
        """Check the kind and the length."""
        if self.kind not in ("hard", "soft", "lost"):
            raise RequestError(f'A border is hard, soft or lost, not "{self.kind}".')
        if self.first == self.second:
            raise RequestError(f"Wash {self.first} cannot border on itself.")
        checked("length of a border (mm)", self.length_mm)


class Reason(Enum):
    """Why a step stands where it does."""

    WET_TOGETHER = "wet together"
    PARTED = "parted by a hard border"
    WHILE_OTHERS_DRY = "while others dry"
    EARLY = "early, so that it is dry in time"
    WETTEST_FIRST = "wettest first"
    LARGE_FIRST = "large before small"
    LIGHT_FIRST = "light before dark"
    TOP_FIRST = "from the top down"
    BY_NUMBER = "in the order of their numbers"
    BEFORE_DETAIL = "before the details"
    DETAIL_LAST = "details come last"
    LAST = "nothing else is left"
    STILL_WET = "a neighbour is still wet"


@dataclass(frozen=True)
class Paint:
    """Lay these washes one straight after the other.

    because: the ids the reason speaks of: those that come later, those that dry meanwhile, or
    the group itself.
    """

    ids: tuple[int, ...]
    reason: Reason
    because: tuple[int, ...] = ()


@dataclass(frozen=True)
class Wait:
    """Wait so many minutes: until the washes `until` are dry enough, before laying `before`."""

    minutes: float
    until: tuple[int, ...]
    before: tuple[int, ...]
    reason: Reason = Reason.STILL_WET


Step = Paint | Wait


@dataclass(frozen=True)
class _Group:
    """Washes to be wet together, in order, and how they rank.

    starts: minutes from the group's start to each wash's, waits inside the group included.
    """

    ids: tuple[int, ...]
    starts: tuple[float, ...]
    minutes: float
    rank: tuple[float, ...]


class _Layer:
    """Items and borders, looked up by id."""

    def __init__(self, items: Sequence[Item], borders: Sequence[Border]) -> None:
        self.items = {item.id: item for item in items}
        if len(self.items) != len(items):
            raise RequestError("Two washes of a layer have the same id; give each its own.")
        self.soft: dict[int, set[int]] = {item.id: set() for item in items}
        self.hard: dict[int, set[int]] = {item.id: set() for item in items}
        for (a, b), kinds in sorted(self._pairs(borders).items()):
            hard, soft = (math.fsum(kinds.get(kind, ())) for kind in ("hard", "soft"))
            table = self.soft if "soft" in kinds and soft >= hard else self.hard
            table[a].add(b)
            table[b].add(a)

    def _pairs(self, borders: Sequence[Border]) -> dict[tuple[int, int], dict[str, list[float]]]:
        """Per pair of ids, ascending: lengths of its hard and of its soft (or lost) borders."""
        out: dict[tuple[int, int], dict[str, list[float]]] = {}
        for border in borders:
            for end in (border.first, border.second):
                if end not in self.items:
                    raise RequestError(f"A border names wash {end}, which is not in the layer.")
            pair = (min(border.first, border.second), max(border.first, border.second))
            kind = "hard" if border.kind == "hard" else "soft"
            out.setdefault(pair, {}).setdefault(kind, []).append(border.length_mm)
        return out

    def rank(self, ids: Sequence[int]) -> tuple[float, ...]:
        """The painter's order of groups: the smallest comes first."""
        items = [self.items[i] for i in ids]
        area = sum(item.area_mm2 for item in items)
        weights = [item.area_mm2 + 1e-9 for item in items]
        bright = sum(w * i.lightness for w, i in zip(weights, items, strict=True))
        return (
            min(STAGE.get(item.technique, 0) for item in items),
            0.0 if any(item.technique == "wet-in-wet" for item in items) else 1.0,
            -math.floor(math.log(area + 1.0, SIZE_RATIO)),
            -round(bright / sum(weights), 6),
            min(item.box[1] for item in items),
            min(item.box[0] for item in items),
            min(ids),
        )


RANKS = (
    Reason.BEFORE_DETAIL,
    Reason.WETTEST_FIRST,
    Reason.LARGE_FIRST,
    Reason.LIGHT_FIRST,
    Reason.TOP_FIRST,
    Reason.TOP_FIRST,
    Reason.BY_NUMBER,
)  # what decides between two groups, place by place of their ranks


def order_layer(items: Sequence[Item], borders: Sequence[Border] = ()) -> tuple[Step, ...]:
    """Steps of one layer: what to lay, in which order, and where to wait.

    items: the washes, ids unlike. borders: where two of them meet; of a pair that meets along
    several borders, the longer kind decides. Every item appears in exactly one Paint step.
    Deterministic: the order in which items and borders are given does not matter.
    Raises RequestError for unknown or double ids.
    """
    layer = _Layer(items, borders)
    groups = [_group(layer, ids) for ids in _components(layer)]
    groups.sort(key=lambda group: group.rank)
    starts = (groups, _listed(layer, groups))
    orders = [_tidied(layer, _less_waiting(layer, start)) for start in starts]
    return _steps(layer, min(orders, key=lambda order: _cost(layer, order)))


def waiting_minutes(steps: Sequence[Step]) -> float:
    """Minutes of waiting in all."""
    return sum(step.minutes for step in steps if isinstance(step, Wait))


# --- groups ----------------------------------------------------------------------


def _components(layer: _Layer) -> list[tuple[int, ...]]:
    """Washes linked by soft or lost borders, each set in ascending order."""
    out, seen = [], set()
    for start in sorted(layer.items):
        if start in seen:
            continue
        found, todo = {start}, [start]
        while todo:
            fresh = layer.soft[todo.pop()] - found
            found |= fresh
            todo.extend(sorted(fresh))
        seen |= found
        out.append(tuple(sorted(found)))
    return out


def _group(layer: _Layer, members: tuple[int, ...]) -> _Group:
    """Members in the order that keeps soft neighbours together and hard ones apart."""
    left = set(members)
    done: list[int] = []
    while left:
        linked = [i for i in sorted(left) if layer.soft[i] & set(done)] or sorted(left)
        done.append(min(linked, key=lambda i: _next_in_group(layer, i, done)))
        left.discard(done[-1])
    starts, minutes = _inner_times(layer, done)
    return _Group(tuple(done), starts, minutes, layer.rank(members))


def _next_in_group(layer: _Layer, i: int, done: list[int]) -> tuple[float, ...]:
    """Smallest for the best successor: no hard neighbour lately, a soft one just now."""
    since = [len(done) - k for k, j in enumerate(done) if j in layer.hard[i]]
    clash = 1.0 / min(since) if since else 0.0
    follows = 0.0 if done and done[-1] in layer.soft[i] else 1.0
    return (clash, follows, *layer.rank((i,)))


def _inner_times(layer: _Layer, ids: Sequence[int]) -> tuple[tuple[float, ...], float]:
    """Start of each member within its group, and the minutes of all."""
    dry_at: dict[int, float] = {}
    starts, now = [], 0.0
    for i in ids:
        now = max([now, *(dry_at[j] for j in layer.hard[i] if j in dry_at)])
        starts.append(now)
        now += layer.items[i].paint_minutes
        dry_at[i] = now + layer.items[i].wet_minutes
    return tuple(starts), now


# --- sequence --------------------------------------------------------------------


class _Clock:
    """What has been painted, and when it stops being wet."""

    def __init__(self, layer: _Layer) -> None:
        self.layer, self.now = layer, 0.0
        self.dry_at: dict[int, float] = {}

    def wet_for(self, group: _Group) -> dict[int, float]:
        """Hard neighbours that a group would meet wet if it began now: id → minutes too early."""
        out: dict[int, float] = {}
        for i, start in zip(group.ids, group.starts, strict=True):
            for j in sorted(self.layer.hard[i]):
                early = self.dry_at.get(j, 0.0) - start - self.now
                if early > SOON:
                    out[j] = max(early, out.get(j, 0.0))
        return out

    def wait_for(self, group: _Group) -> float:
        """Minutes until every member of a group will find its hard neighbours dry."""
        return max(self.wet_for(group).values(), default=0.0)

    def paint(self, group: _Group) -> float:
        """Wait if need be, and paint; returns the wait."""
        wait = self.wait_for(group)
        self.now += wait
        for i, start in zip(group.ids, group.starts, strict=True):
            item = self.layer.items[i]
            self.dry_at[i] = self.now + start + item.paint_minutes + item.wet_minutes
        self.now += group.minutes
        return wait


def _listed(layer: _Layer, groups: list[_Group]) -> list[_Group]:
    """List scheduling of groups in rank, stage by stage: the first that waits least."""
    clock, left, out = _Clock(layer), list(groups), []
    while left:
        stage = [g for g in left if g.rank[0] == left[0].rank[0]]
        best = min(stage, key=clock.wait_for)  # the first of equals
        clock.paint(best)
        left.remove(best)
        out.append(best)
    return out


def _total_wait(layer: _Layer, groups: Sequence[_Group]) -> float:
    clock = _Clock(layer)
    return sum(clock.paint(group) for group in groups)


def _less_waiting(layer: _Layer, groups: list[_Group]) -> list[_Group]:
    """Groups moved or swapped within their stage while that saves waiting."""
    best, waits = list(groups), _total_wait(layer, groups)
    improved = len(groups) <= MOST_MOVED
    while improved and waits > SOON:
        improved = False
        for here, there in permutations(range(len(groups)), 2):
            if best[here].rank[0] != best[there].rank[0]:
                continue
            for trial in (_moved(best, here, there), _swapped(best, here, there)):
                total = _total_wait(layer, trial)
                if total < waits - SAVES:
                    best, waits, improved = trial, total, True
                    break
    return best


def _tidied(layer: _Layer, groups: list[_Group]) -> list[_Group]:
    """The painter's order restored where it costs no waiting."""
    best, waits = list(groups), _total_wait(layer, groups)
    tidying = True
    while tidying:
        tidying = False
        for early, late in combinations(range(len(best)), 2):
            if best[early].rank <= best[late].rank:
                continue
            trial = _swapped(best, early, late)  # always fewer pairs out of order
            total = _total_wait(layer, trial)
            if total <= waits + SOON:
                best, waits, tidying = trial, min(total, waits), True
    return best


def _cost(layer: _Layer, groups: list[_Group]) -> tuple[int, int]:
    """Waiting, in steps that are worth saving, then pairs out of the painter's order."""
    wait = math.floor(_total_wait(layer, groups) / SAVES + 0.5)
    return wait, sum(a.rank > b.rank for a, b in combinations(groups, 2))


def _moved(groups: list[_Group], here: int, there: int) -> list[_Group]:
    out = groups[:here] + groups[here + 1 :]
    out.insert(there, groups[here])
    return out


def _swapped(groups: list[_Group], here: int, there: int) -> list[_Group]:
    out = list(groups)
    out[here], out[there] = out[there], out[here]
    return out


# --- steps -----------------------------------------------------------------------


def _steps(layer: _Layer, groups: list[_Group]) -> tuple[Step, ...]:
    clock = _Clock(layer)
    out: list[Step] = []
    for k, group in enumerate(groups):
        wet, runs = clock.wet_for(group), _runs(layer, group)
        if wet:
            out.append(Wait(max(wet.values()), tuple(sorted(wet)), runs[0][1]))
            clock.now += max(wet.values())
        reason, because = _reason(group, groups[k + 1 :], clock)
        for wait, ids in runs:
            if wait is not None:
                out.append(wait)
            out.append(Paint(ids, reason if len(runs) == 1 else Reason.PARTED, because))
        clock.paint(group)
    return tuple(out)


def _runs(layer: _Layer, group: _Group) -> list[tuple[Wait | None, tuple[int, ...]]]:
    """The group in one run; or in several, each after a wait, where hard borders part it."""
    out: list[tuple[Wait | None, tuple[int, ...]]] = [(None, ())]
    dry_at: dict[int, float] = {}
    now = 0.0
    for i, start in zip(group.ids, group.starts, strict=True):
        if start - now > SOON:
            wet = tuple(sorted(j for j in layer.hard[i] if dry_at.get(j, 0.0) - now > SOON))
            out.append((Wait(start - now, wet, (i,)), ()))
        out[-1] = (out[-1][0], (*out[-1][1], i))
        now = start + layer.items[i].paint_minutes
        dry_at[i] = now + layer.items[i].wet_minutes
    return out


def _reason(group: _Group, later: list[_Group], clock: _Clock) -> tuple[Reason, tuple[int, ...]]:
    """Why a group comes before the next, and the ids that has to do with."""
    if len(group.ids) > 1:
        return Reason.WET_TOGETHER, group.ids
    if not later:
        return (Reason.DETAIL_LAST if group.rank[0] else Reason.LAST), ()
    rival = later[0]
    if rival.rank < group.rank:
        return _out_of_order(group, rival, later, clock)
    place = next(k for k, (a, b) in enumerate(zip(group.rank, rival.rank, strict=True)) if a != b)
    return RANKS[place], rival.ids


def _out_of_order(
    group: _Group, rival: _Group, later: list[_Group], clock: _Clock
) -> tuple[Reason, tuple[int, ...]]:
    """Why a group comes before the next, which ranks first.

    Orders are tidied, so that the two cannot be swapped for nothing: either the next one would
    still meet wet neighbours, or this one's own neighbours would meet it wet.
    """
    blocking = clock.wet_for(rival)
    if blocking:
        return Reason.WHILE_OTHERS_DRY, tuple(sorted(blocking))
    neighbours = {j for i in group.ids for j in clock.layer.hard[i]}
    return Reason.EARLY, tuple(sorted(neighbours & {i for g in later for i in g.ids}))
