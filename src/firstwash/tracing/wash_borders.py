"""The hard borders of a plan's washes that its outline would lack without them.

Maps ask the brush to cut in at every hard border of a layer; where pencil has no line there is
nothing to cut in at. What is shorter than a few millimetres is left to the brush, and so is
every soft border, which paint makes and not pencil.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.handout.border_kinds import curve_kinds
from firstwash.handout.contours import OUTSIDE, Contours, trace_contours
from firstwash.picture.edges import HARD
from firstwash.plan.result import Plan
from firstwash.tracing.contour_lines import (
    Arc,
    Course,
    arc_of,
    border_distance,
    chains_of,
    joined_arcs,
    met,
    stretches,
)
from firstwash.tracing.curves import STEP_MM, Smooth, smooth
from firstwash.tracing.room import Room
from firstwash.tracing.snapping import Relief, snapped

__all__ = ["hard_borders", "wash_borders", "wash_courses"]

NEAR_MM: Final = 0.8  # from a line that is drawn: there a border is drawn already
STRAY_MM: Final = 0.3  # by which such a line may be smoothed, root mean square
FILLED_MM: Final = 4.0  # of a line that is drawn already, drawn again rather than broken off
SURELY: Final = 0.8  # of the shortest line must a border be missing before it is smoothed
TOLD_BY: Final = 4  # of so many points of a line, one tells how strong its edge is
TOUCH_MM: Final = 1.0  # by which a line reaches onto the one it ends at


def wash_borders(plan: Plan, contours: Contours) -> NDArray[np.bool_]:
    """(arcs,) which borders of a plan's cells part two washes in any layer."""
    names: dict[object, int] = {}
    coats = [names.setdefault(tuple(sorted(own)), len(names)) for own in plan.coats]
    inner = (contours.left != OUTSIDE) & (contours.right != OUTSIDE)
    return np.asarray(inner & contours.between(np.array(coats, dtype=np.int64)))


def hard_borders(plan: Plan, room: Room | None = None) -> list[Arc]:
    """The borders of washes that are hard somewhere, strung together.

    Each point has the kind of its edge. room: leaves out those that lie wholly beside lines that
    are drawn.
    """
    contours = trace_contours(plan.cells.index, plan.cells.ppmm)
    kinds = curve_kinds(contours, plan.edges)
    wanted = kinds == HARD
    if room is not None:
        wanted &= room.free(contours.curves[:, 0]) | room.free(contours.curves[:, 3])
    some = np.maximum.reduceat(wanted, contours.start[:-1])
    shown = np.flatnonzero(wash_borders(plan, contours) & some).tolist()
    arcs = [arc_of(contours, kinds, i, False) for i in shown]
    return [joined_arcs(arcs, chain) for chain in chains_of(arcs)]


def wash_courses(
    plan: Plan, found: Relief, drawn: list[Smooth], shortest_mm: float
) -> list[Course]:
    """The hard borders of washes beside which none of the drawn lines runs, smooth.

    shortest_mm: of such a line. The longest come first; each is drawn once.
    """
    room = Room(plan.cells.index.shape, found.ppmm)
    for line in drawn:
        room.take(line.points, NEAR_MM)
    near = border_distance(plan.cells.index, found.ppmm)
    courses: list[Course] = []
    for arc in sorted(hard_borders(plan, room), key=lambda a: -len(a.points)):
        for course in _missing(arc, found, near, room, shortest_mm):
            room.take(course.line.points, NEAR_MM)
            courses.append(course)
    fixed = [Course(line, line.ring, 0.0, False, False) for line in drawn]
    return met([*fixed, *courses], len(fixed))[len(fixed) :]


def _missing(
    arc: Arc, found: Relief, near: FloatArray, room: Room, shortest_mm: float
) -> list[Course]:
    """The stretches of a border that are hard and not drawn."""
    hard = (arc.kinds == HARD) & room.free(arc.points)
    if len(arc.points) < 2 or hard.sum() * STEP_MM < SURELY * shortest_mm:
        return []  # not worth smoothing
    line = smooth(snapped(found, arc.points, arc.closed, near), arc.closed, STRAY_MM)
    told = arc.turned(line.turned)
    wanted = _filled((told.kinds == HARD) & room.free(line.points), told.kinds == HARD, arc.closed)
    if wanted.all():
        return [_course(line, arc.closed, found)]
    parts = [_piece(line, run) for run, _ in stretches(wanted, arc.closed)]
    return [_course(p, False, found) for p in parts if p.length_mm >= shortest_mm]


def _filled(wanted: BoolArray, hard: BoolArray, ring: bool) -> NDArray[np.bool_]:
    """With short stretches filled that are drawn already, as where another line is crossed."""
    out = np.asarray(wanted, dtype=np.bool_).copy()
    for run, _ in stretches(~out, ring):
        if len(run) * STEP_MM < FILLED_MM and hard[run].all() and len(run) < len(out):
            out[run] = True
    return out


def _piece(line: Smooth, run: NDArray[np.int64]) -> Smooth:
    """A stretch of a smooth line, a little longer at both ends; it may go through a ring's end."""
    reach = round(TOUCH_MM / STEP_MM)
    first, last = int(run[0]), int(run[-1])
    if first <= last:
        return line.piece(max(first - reach, 0), min(last + reach, len(line.points) - 1))
    points = np.concatenate([line.points[first:-1], line.points[: last + 1]])
    return Smooth(points, np.array([0, len(points) - 1]))


def _course(line: Smooth, closed: bool, found: Relief) -> Course:
    contrast = float(found.sample(found.edge, line.points[::TOLD_BY]).mean())
    return Course(line, closed, contrast, False, False)
