"""Shapes that come apart when they are cut: pieces, the small ones among them, and places cut out.

Nobody paints a splinter: a piece smaller than the painter's smallest area joins a neighbour.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, IntArray
from firstwash.errors import RequestError
from firstwash.picture.drawing import MOST_SHAPES, Drawing, window_of
from firstwash.picture.regions import connected_parts

__all__ = ["join_to_neighbours", "numbered", "stamped"]


def stamped(
    drawing: Drawing,
    masks: Iterable[BoolArray],
    zone: IntArray,
    min_area_mm2: float,
    whole: IntArray | None = None,
) -> Drawing:
    """The drawing with places (rows, cols) cut out of its shapes as reserves.

    A place that lies in two zones becomes a shape in each. What is left of a shape falls into
    pieces; small ones join a neighbour. whole: shapes that stay one though in pieces.
    """
    shapes, reserves = drawing.shapes.copy(), set(drawing.reserves)
    hit: set[int] = set()
    top = drawing.count
    for mask in masks:
        hit |= set(np.unique(shapes[mask]).tolist())
        for part in np.unique(zone[mask]):
            shapes[mask & (zone == part)] = top
            reserves.add(top)
            top += 1
    stay = set() if whole is None else set(whole.tolist())
    pieces = hit - reserves - stay
    return join_to_neighbours(
        replace(drawing, shapes=shapes, reserves=frozenset(reserves)), pieces, zone, min_area_mm2
    )


def join_to_neighbours(
    drawing: Drawing,
    touched: Iterable[int],
    zone: IntArray,
    min_area_mm2: float,
    family: IntArray | None = None,
) -> Drawing:
    """The drawing with its shapes in one piece each and numbered without gaps.

    touched: shapes that may have come apart; the largest piece keeps the number, others become
    shapes of their own, last. One smaller than `min_area_mm2` joins the neighbour in its zone
    with which it has the longest border, reserves only if there is no other. family: (rows,
    cols) pieces join neighbours of their own family first.
    """
    shapes, least = drawing.shapes.copy(), min_area_mm2 * drawing.ppmm**2
    top = max(int(shapes.max()) + 1, max(drawing.reserves, default=-1) + 1)
    small: list[int] = []
    for label in sorted(set(touched)):
        top = _apart(shapes, label, least, top, small)
    kin = np.zeros(shapes.shape, dtype=np.int32) if family is None else family
    for label in sorted(small, key=lambda s: (int((shapes == s).sum()), s)):
        host = _host(shapes, label, zone, kin, drawing.reserves)
        if host is not None:
            shapes[shapes == label] = host
    return numbered(drawing, shapes)


def _apart(shapes: NDArray[np.int32], label: int, least: float, top: int, small: list[int]) -> int:
    """Number the pieces of a shape, note the small ones; the next free number."""
    inside = shapes == label
    if not inside.any():
        return top
    window = window_of(inside)
    own = inside[window]
    parts = connected_parts(own.astype(np.int32))
    found, counts = np.unique(parts[own], return_counts=True)
    order = np.lexsort((found, -counts))
    for rank, at in enumerate(order.tolist()):
        number = label if rank == 0 else top
        if rank:
            shapes[window][parts == found[at]] = number
            top += 1
        if counts[at] < least:
            small.append(number)
    return top


def _host(
    shapes: IntArray, label: int, zone: IntArray, family: IntArray, reserves: frozenset[int]
) -> int | None:
    """The neighbour a small piece joins, None if it has none in its zone."""
    inside = shapes == label
    if not inside.any():
        return None
    window = window_of(inside, 1)
    own, other, here = inside[window], shapes[window], zone[window]
    kin = family[window]
    zone_of, kin_of = int(here[own][0]), int(kin[own][0])
    votes: dict[int, tuple[bool, bool, int]] = {}
    for a, b in (
        (np.s_[:, 1:], np.s_[:, :-1]), (np.s_[:, :-1], np.s_[:, 1:]),
        (np.s_[1:], np.s_[:-1]), (np.s_[:-1], np.s_[1:]),
    ):  # fmt: skip
        side = own[a] & ~own[b] & (here[b] == zone_of)
        for found, near in zip(other[b][side].tolist(), kin[b][side].tolist(), strict=True):
            before = votes.get(found, (False, False, 0))
            votes[found] = (before[0] or near == kin_of, found not in reserves, before[2] + 1)
    return max(votes, key=lambda s: (*votes[s], -s)) if votes else None


def numbered(drawing: Drawing, shapes: IntArray) -> Drawing:
    """The drawing with these shapes, numbered without gaps in order of their numbers."""
    used = np.unique(shapes)
    if len(used) > MOST_SHAPES:
        raise RequestError(f"A drawing holds at most {MOST_SHAPES} shapes; join some first.")
    now = {int(old): new for new, old in enumerate(used.tolist())}
    return replace(
        drawing,
        shapes=np.searchsorted(used, shapes).astype(np.int32),
        reserves=frozenset(now[s] for s in drawing.reserves if s in now),
    )
