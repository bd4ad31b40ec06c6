"""The areas of a layer that a letter may lead to, and which of them share a letter.

An area is what hangs together of one wash. Large enough is where a brush finds room: a circle
that fits into it. Areas of one wash that lie near each other may share a letter, with a line to
each; the lines may not cross.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from firstwash.arrays import IntArray
from firstwash.handout.map_letters import Frame, Lead, leads_cross, place_letters, places
from firstwash.picture.regions import connected_parts
from firstwash.plan.result import Plan

__all__ = ["Area", "areas_of", "leads_to"]

WIDE: Final = 0.5  # letter sizes, of a circle in an area that has a letter: 2 mm in print
CLEAR: Final = 0.6  # of the most room an area offers, that its letter's line must end with
ENOUGH: Final = 0.5  # letter sizes of room that are enough in any case
NEAR: Final = 6.0  # letter sizes between areas that may share a letter
SHARED: Final = 4  # areas to a letter, at most
CROWD: Final = 0.97  # share of the places in the margin that letters may fill
ROUNDS: Final = 5  # of parting areas whose lines would cross


@dataclass(frozen=True)
class Area:
    """What hangs together of a wash: its number, the widest circle in it, mm, and a point there.

    end: (x, y) mm, where a line to it ends.
    """

    wash: int
    wide_mm: float
    end: tuple[float, float]


def areas_of(plan: Plan, owner: NDArray[np.int64], frame: Frame) -> list[Area]:
    """All areas of a layer, the widest first; owner: (cells,) number of its wash, 0 for none."""
    ppmm = plan.cells.ppmm
    washes = owner[plan.cells.index]
    parts = connected_parts(washes)
    room = _room(parts) / ppmm
    out = []
    for number, window in enumerate(ndimage.find_objects(parts + 1)):
        own = parts[window] == number
        first = int(own.ravel().argmax())
        wash = int(washes[window].ravel()[first])
        if wash:
            corner = (window[1].start / ppmm, window[0].start / ppmm)
            end = _end_in(own, room[window], frame, ppmm, corner)
            out.append(Area(wash, 2.0 * float(room[window][own].max()), end))
    return sorted(out, key=lambda a: (-a.wide_mm, a.end))


def _room(parts: IntArray) -> NDArray[np.float32]:
    """Distance in pixels (rows, cols) to the nearest other area or the sheet's border."""
    same = np.zeros((parts.shape[0] + 2, parts.shape[1] + 2), dtype=np.uint8)
    inner = same[1:-1, 1:-1]
    inner[:] = 1
    across, down = parts[:, :-1] != parts[:, 1:], parts[:-1] != parts[1:]
    inner[:, :-1][across] = inner[:, 1:][across] = 0
    inner[:-1][down] = inner[1:][down] = 0
    found = cv2.distanceTransform(same, cv2.DIST_L2, 5)
    return np.asarray(found[1:-1, 1:-1], dtype=np.float32)


def _end_in(
    inside: NDArray[np.bool_], room: NDArray[np.float32], frame: Frame, ppmm: float,
    corner: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """The point (x, y) of an area nearest to the margin that has room enough around it."""
    rows, cols = np.nonzero(inside)
    own = room[rows, cols]
    keep = own >= min(CLEAR * float(own.max()), ENOUGH * frame.letter)
    x, y = (cols[keep] + 0.5) / ppmm + corner[0], (rows[keep] + 0.5) / ppmm + corner[1]
    away = np.minimum(np.minimum(x, frame.width - x), np.minimum(y, frame.height - y))
    best = int(np.argmin(away - 0.5 * own[keep]))  # a little further in for more room
    return float(x[best]), float(y[best])


# --- letters -------------------------------------------------------------------------


def leads_to(areas: Sequence[Area], frame: Frame) -> dict[int, list[Lead]]:
    """Number of each wash → its letters' leads. The largest area of a wash is always led to.

    areas: of a layer, the widest first. As many of those that are wide enough are led to as the
    margin has room for.
    """
    groups = _fitting(_near_ones(_worth(areas, frame), frame), frame)
    leads: list[Lead] = []
    for _ in range(ROUNDS):
        leads = place_letters(np.array([g[0].end for g in groups]).reshape(-1, 2), frame)
        crossing = _crossing(groups, leads)
        if not any(crossing):
            break
        groups = _fitting(_parted(groups, crossing), frame)
    else:
        leads = place_letters(np.array([g[0].end for g in groups]).reshape(-1, 2), frame)
        groups = [
            [a for k, a in enumerate(g) if k not in bad]
            for g, bad in zip(groups, _crossing(groups, leads), strict=True)
        ]
    out: dict[int, list[Lead]] = {}
    for group, lead in zip(groups, leads, strict=True):
        out.setdefault(group[0].wash, []).append(lead.to([a.end for a in group[1:]]))
    return out


def _worth(areas: Sequence[Area], frame: Frame) -> list[Area]:
    """The areas that should have a letter: the widest of each wash, then all wide ones."""
    seen: set[int] = set()
    out = []
    for area in areas:
        if area.wide_mm >= WIDE * frame.letter or area.wash not in seen:
            out.append(area)
        seen.add(area.wash)
    return out


def _near_ones(areas: Sequence[Area], frame: Frame) -> list[list[Area]]:
    """Areas of one wash gathered that lie near the widest of them."""
    groups: list[list[Area]] = []
    for area in areas:
        fits = [
            g for g in groups
            if g[0].wash == area.wash and len(g) < SHARED
            and np.hypot(*np.subtract(g[0].end, area.end)) < NEAR * frame.letter
        ]  # fmt: skip
        if fits:
            fits[0].append(area)
        else:
            groups.append([area])
    return groups


def _fitting(groups: Sequence[list[Area]], frame: Frame) -> list[list[Area]]:
    """The groups that the margin has places for: the first of every wash, then the widest."""
    seen: set[int] = set()
    firsts: list[list[Area]] = []
    others: list[list[Area]] = []
    for group in groups:
        (others if group[0].wash in seen else firsts).append(group)
        seen.add(group[0].wash)
    every = len(places(frame))
    room = max(int(CROWD * every) - len(firsts), 0)
    return [*firsts[:every], *sorted(others, key=lambda g: -g[0].wide_mm)[:room]]


def _crossing(groups: Sequence[list[Area]], leads: Sequence[Lead]) -> list[set[int]]:
    """Of each group, which areas after the first would be led to across another line."""
    ends = np.array([a.end for g in groups for a in g]).reshape(-1, 2)
    ports = [lead.port for g, lead in zip(groups, leads, strict=True) for _ in g]
    place = [(i, k) for i, g in enumerate(groups) for k in range(len(g))]
    cross = leads_cross(ends, np.array(ports).reshape(-1, 2))
    later = np.array([k > 0 for _, k in place], dtype=np.bool_)
    out: list[set[int]] = [set() for _ in groups]
    while len(place):  # what crosses most goes first, for then others cross no more
        many = np.where(later, cross.sum(axis=1), 0)
        worst = int(many.argmax())
        if not many[worst]:
            break
        cross[worst] = cross[:, worst] = False
        out[place[worst][0]].add(place[worst][1])
    return out


def _parted(groups: Sequence[list[Area]], crossing: Sequence[set[int]]) -> list[list[Area]]:
    """The areas whose lines would cross given a letter of their own, after all others."""
    kept = [
        [a for k, a in enumerate(g) if k not in bad]
        for g, bad in zip(groups, crossing, strict=True)
    ]
    alone = [[g[k]] for g, bad in zip(groups, crossing, strict=True) for k in sorted(bad)]
    return [*kept, *alone]
