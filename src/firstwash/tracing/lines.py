"""The outline to trace: a plan's contours, the inner lines that matter, and what stays bare."""

import math
from typing import Final

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.picture.reference import Reference
from firstwash.plan.result import Plan
from firstwash.tracing.contour_lines import Course, contour_courses
from firstwash.tracing.curves import Smooth, as_curves
from firstwash.tracing.fine_strokes import dark_lines, light_lines
from firstwash.tracing.inner_lines import InnerLine, InnerPicture, inner_lines
from firstwash.tracing.merging import Ground, MergeRule, link_contrast, merged
from firstwash.tracing.model import Kind, Line, Tracing
from firstwash.tracing.room import Room
from firstwash.tracing.snapping import Relief, relief
from firstwash.tracing.wash_borders import wash_courses

__all__ = ["trace"]

# From detail 0 to 1; between them even in the logarithm. All tuned by eye.
CONTRAST: Final = (20.0, 4.0)  # between two shapes drawn apart
AREA: Final = (0.008, 0.0003)  # of the sheet: shapes drawn
INNER_CONTRAST: Final = (20.0, 6.0)  # that begins an inner line
INNER_LENGTH: Final = (0.06, 0.014)  # of the sheet's mean side: shortest inner line
INNER_SHARE: Final = (0.25, 1.2)  # of the contours' length: all inner lines together
SEEN: Final = 0.4  # of the contrast between shapes: a stretch of border with less is left out
STRONG, ORDINARY = 90.0, 34.0  # percentile of the contrasts between shapes, and its value
KEYS: Final = (0.55, 1.1)  # bounds of how strong a picture's contrasts are taken to be
INNER_KEY: Final = 0.85  # at least, for inner lines: low contrasts inside shapes are texture
WASH_MM: Final = (150.0, 1.0)  # shortest hard border of a wash that is drawn for the brush's sake
DARK: Final = 1.8  # times that contrast must a fine dark stroke have to be drawn
FULL: Final = 45.0  # contrast from which a line is as important as can be
SIZE_MM: Final = 330.0  # mean side of a sheet whose lines are as wide and long as told here
WIDTHS: Final[dict[Kind, tuple[float, float]]] = {  # mm, of the least and the most important
    "contour": (0.25, 0.6), "inner": (0.2, 0.35), "reserve": (0.25, 0.45), "wash": (0.2, 0.35)
}  # fmt: skip
SOFTER: Final = 0.7  # times as wide: a soft edge


def trace(plan: Plan, reference: Reference, detail: float = 0.5) -> Tracing:
    """The outline of a plan's painting at the sheet's true size.

    detail: 0-1, from the main shapes only to all that is worth a line. Raises RequestError for
    another number. The same plan always gives the same lines.
    """
    if not (math.isfinite(detail) and 0.0 <= detail <= 1.0):
        raise RequestError("The detail of an outline goes from 0 to 1; give a number between them.")
    sheet = plan.sheet
    side = math.sqrt(sheet.width_mm * sheet.height_mm)
    lab = reference.lab
    found = relief(lab, plan.cells.ppmm)
    key = _key(plan, found)
    weight = np.sqrt(reference.weight)
    contours = _contours(plan, weight, found, key * _at(CONTRAST, detail), detail)
    room = Room(plan.cells.index.shape, plan.cells.ppmm)
    for course in contours:
        room.take(course.line.points)
    inner_contrast = max(key, INNER_KEY) * _at(INNER_CONTRAST, detail)
    lights = light_lines(plan.touches, detail, room)
    darks = dark_lines(plan.touches, DARK * inner_contrast, room)
    most = _at(INNER_SHARE, detail) * sum(c.line.length_mm for c in contours)
    inner = _inner(
        InnerPicture(lab, weight, plan.cells.ppmm),
        room,
        inner_contrast,
        _at(INNER_LENGTH, detail) * side,
        max(most, side),
    )
    drawn = [*(c.line for c in contours), *lights, *darks, *(own.line for own in inner)]
    size = (side / SIZE_MM) ** 0.5
    borders = wash_courses(plan, found, drawn, _at(WASH_MM, detail) * size)
    lines = [
        *(_contour(course, size) for course in contours),
        *(_border(course, size) for course in borders),
        *(_stroke(outline, "reserve", size) for outline in lights),
        *(_stroke(outline, "inner", size) for outline in darks),
        *(_inner_line(line, size) for line in inner),
    ]
    lines.sort(key=lambda line: -line.importance)
    return Tracing(tuple(lines), sheet.width_mm, sheet.height_mm, detail)


def _at(ends: tuple[float, float], detail: float) -> float:
    """A number between those for detail 0 and 1."""
    return float(ends[0] * (ends[1] / ends[0]) ** detail)


def _key(plan: Plan, found: Relief) -> float:
    """How strong the picture's own contrasts are beside an ordinary picture's, about 1."""
    shapes = plan.cells.shape_of[plan.cells.index]
    across, down = link_contrast(found.picture, found.ppmm)
    borders = [across[shapes[:, 1:] != shapes[:, :-1]], down[shapes[1:] != shapes[:-1]]]
    every = np.concatenate(borders)
    if not len(every):
        return 1.0
    return float(np.clip(np.percentile(every, STRONG) / ORDINARY, *KEYS))


def _contours(
    plan: Plan, weight: FloatArray, found: Relief, contrast: float, detail: float
) -> list[Course]:
    """The borders of the plan's shapes that are drawn; contrast: at least, between two shapes."""
    cells = plan.cells
    across, down = link_contrast(found.picture, cells.ppmm)
    bare = np.array([not coats for coats in plan.coats], dtype=np.bool_)
    ground = Ground(
        shape=cells.shape_of[cells.index],
        bare=bare[cells.index],
        picture=found.picture,
        contrast=(across * weight[:, 1:], down * weight[1:]),
        ppmm=cells.ppmm,
    )
    least = _at(AREA, detail) * plan.sheet.width_mm * plan.sheet.height_mm
    regions, left = merged(ground, MergeRule(contrast, least))
    if len(left) < 2:
        return []
    return contour_courses(regions, left, cells.index, plan.edges, found, SEEN * contrast)


def _inner(
    picture: InnerPicture, room: Room, contrast: float, shortest_mm: float, most_mm: float
) -> list[InnerLine]:
    """The best inner lines, of about most_mm together."""
    found = inner_lines(picture, room, contrast, shortest_mm)
    length = np.cumsum([own.line.length_mm for own in found])
    return found[: int(np.searchsorted(length, most_mm))]


def _importance(contrast: float, length_mm: float, size: float) -> float:
    """0-1: how much a line stands out, and how long it is."""
    strong = min(contrast / FULL, 1.0)
    long = 1.0 - math.exp(-length_mm / (60.0 * size))
    return float(strong**0.7 * (0.4 + 0.6 * long))


def _width(kind: Kind, importance: float, size: float) -> float:
    least, most = WIDTHS[kind]
    return (least + (most - least) * importance) * size


def _contour(course: Course, size: float) -> Line:
    importance = _importance(course.contrast, course.line.length_mm, size)
    kind: Kind = "reserve" if course.bare else "contour"
    width = _width(kind, importance, size) * (SOFTER if course.soft else 1.0)
    curves = as_curves(course.line)
    return Line(curves, course.closed, width, importance, kind, course.soft)


def _border(course: Course, size: float) -> Line:
    """A border that only a wash has: as thin as a line inside a shape."""
    importance = 0.8 * _importance(course.contrast, course.line.length_mm, size)
    curves = as_curves(course.line)
    return Line(curves, course.closed, _width("wash", importance, size), importance, "wash")


def _inner_line(own: InnerLine, size: float) -> Line:
    importance = 0.8 * _importance(own.contrast, own.line.length_mm, size)
    width = _width("inner", importance, size)
    return Line(as_curves(own.line), False, width, importance, "inner")


def _stroke(outline: Smooth, kind: Kind, size: float) -> Line:
    return Line(as_curves(outline), outline.ring, _width(kind, 0.3, size), 0.3, kind)
