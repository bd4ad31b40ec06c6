"""Letters beside a drawing, and the thin lines that lead from them into it.

Every letter has a place in the margin. Which letter takes which place is chosen so that all
lines together are as short as can be; then no two of them cross, for swapping the ends of two
crossing lines would make them shorter. Places are then moved along their side towards square
lines, as far as letters have room and no lines come to cross.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from firstwash.arrays import BoolArray, FloatArray

__all__ = ["Frame", "Lead", "leads_cross", "place_letters", "places"]

Side = Literal["left", "top", "right", "bottom"]
SIDES: Final[tuple[Side, ...]] = ("left", "top", "right", "bottom")
ROW: Final = 1.0  # letter sizes from a letter to the one below it
COLUMN: Final = 1.5  # and to the one beside it: a capital and a small number, and a gap
EASE: Final = (1.0, 0.75, 0.5, 0.25)  # shares of the way to square lines that are tried


@dataclass(frozen=True)
class Frame:
    """A drawing's width and height and the size of the letters around it, mm."""

    width: float
    height: float
    letter: float

    def length(self, side: Side) -> float:
        """Of a side of the drawing, mm."""
        return self.height if side in ("left", "right") else self.width

    def gap(self, side: Side) -> float:
        """From the middle of a letter to that of the next one along a side, mm."""
        return self.letter * (ROW if side in ("left", "right") else COLUMN)

    def point(self, side: Side, along: float) -> tuple[float, float]:
        """The place (x, y) so far along a side."""
        if side in ("left", "right"):
            return (0.0 if side == "left" else self.width), along
        return along, (0.0 if side == "top" else self.height)


@dataclass(frozen=True)
class Lead:
    """A line from a point of the drawing to a letter's place on a side of it, mm.

    others: more points of the drawing that lines lead to from the same place.
    """

    anchor: tuple[float, float]
    side: Side
    along: float
    port: tuple[float, float]
    others: tuple[tuple[float, float], ...] = ()

    @property
    def ends(self) -> tuple[tuple[float, float], ...]:
        """All points that it leads to."""
        return (self.anchor, *self.others)

    def to(self, others: Sequence[tuple[float, float]]) -> "Lead":
        """The same with lines to more points."""
        return replace(self, others=tuple(others))


def places(frame: Frame) -> list[tuple[Side, float]]:
    """Every place for a letter, evenly along the four sides, clear of the corners."""
    out: list[tuple[Side, float]] = []
    for side in SIDES:
        room = frame.length(side)
        count = max(1, int(room / frame.gap(side)))
        out += [(side, room * (i + 0.5) / count) for i in range(count)]
    return out


def place_letters(anchors: FloatArray, frame: Frame) -> list[Lead]:
    """A lead for each anchor (n, 2; x, y in mm), no two of them crossing.

    Raises ValueError for more anchors than there are places.
    """
    free = places(frame)
    if len(anchors) > len(free):
        raise ValueError(f"{len(anchors)} letters do not fit around this drawing")
    if not len(anchors):
        return []
    ports = np.array([frame.point(*place) for place in free])
    away = np.linalg.norm(anchors[:, None] - ports[None], axis=2)
    chosen = linear_sum_assignment(away)[1]
    sides = np.array([SIDES.index(free[int(k)][0]) for k in chosen])
    along = np.array([free[int(k)][1] for k in chosen])
    for number, side in enumerate(SIDES):
        along = _eased(anchors, sides, along, number, frame, side)
    return [
        Lead((float(x), float(y)), SIDES[s], float(a), frame.point(SIDES[s], float(a)))
        for (x, y), s, a in zip(anchors.tolist(), sides.tolist(), along.tolist(), strict=True)
    ]


def _eased(
    anchors: FloatArray, sides: NDArray[np.int64], along: FloatArray, number: int,
    frame: Frame, side: Side,
) -> NDArray[np.float64]:  # fmt: skip
    """The places with those of one side moved towards square lines, if no lines then cross."""
    own = np.flatnonzero(sides == number)
    own = own[np.argsort(along[own], kind="stable")]
    wanted = anchors[own, 1 if side in ("left", "right") else 0]
    square = _spaced(wanted, frame.gap(side), frame.length(side))
    for share in EASE:
        moved = np.array(along, dtype=np.float64)
        moved[own] += share * (square - along[own])
        ports = np.array(
            [frame.point(SIDES[s], a) for s, a in zip(sides.tolist(), moved.tolist(), strict=True)]
        )
        if not leads_cross(anchors, ports).any():
            return moved
    return np.asarray(along, dtype=np.float64)


def _spaced(wanted: FloatArray, gap: float, room: float) -> NDArray[np.float64]:
    """Places in the given order nearest to those wanted, at least a gap apart, within the room.

    Less i gaps each, they need only not fall: the least-squares answer pools what does.
    """
    pools: list[tuple[float, int]] = []
    for i, value in enumerate(wanted.tolist()):
        total, count = value - i * gap, 1
        while pools and pools[-1][0] / pools[-1][1] >= total / count:
            before = pools.pop()
            total, count = total + before[0], count + before[1]
        pools.append((total, count))
    level = np.concatenate([np.full(n, t / n) for t, n in pools]) if pools else np.empty(0)
    top = room - gap / 2 - max(len(wanted) - 1, 0) * gap
    clear = np.clip(level, gap / 2, max(top, gap / 2))
    return np.asarray(clear + gap * np.arange(len(wanted)))


def leads_cross(anchors: FloatArray, ports: FloatArray) -> BoolArray:
    """(n, n) whether two lines from anchors (n, 2) to ports (n, 2) cross."""
    a, b = anchors[:, None], ports[:, None]
    c, d = anchors[None], ports[None]
    apart = _turn(a, b, c) * _turn(a, b, d) < 0.0
    return np.asarray(apart & (_turn(c, d, a) * _turn(c, d, b) < 0.0))


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    u, v = b - a, c - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])
