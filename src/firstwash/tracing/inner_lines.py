"""Inner lines of an outline: features, folds and edges of shadows inside the shapes.

Edges are ridges of the picture's gradient, thin lines are ridges of its lightness; both are
followed with two thresholds [Canny1986] and told to a part of a pixel [Steger1998]. What stands
among its like, as hairs and leaves do, counts less.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.picture.stroke_fit import masking
from firstwash.picture.stroke_lines import JoinRule, Ridges, find_ridges, join_lines, trace_lines
from firstwash.tracing.curves import STEP_MM, Smooth, along, evenly, smooth
from firstwash.tracing.room import Room
from firstwash.tracing.snapping import Relief, relief

__all__ = ["InnerLine", "InnerPicture", "inner_lines"]

EDGE_MM: Final = 0.8  # σ at which edges are looked for
LINE_MM: Final = (0.4, 0.7, 1.2)  # half-widths of thin lines looked for
APART_MM: Final = 2.2  # between two inner lines
THIN_FIRST: Final = 1.8  # times its worth: a thin line comes before its own two edges
ECHO: Final = 2.0  # times the least contrast, below which what runs along a line is its echo
ECHOING: Final = 0.7  # of a line's length
FOLLOWED: Final = 0.45  # of the contrast that starts a line: down to this it is followed
LONGER: Final = 1.5  # times as long as a stronger one must a line be that hardly stands out
HIDING: Final = 0.8  # power of what texture hides: lines are for the hand as well as the eye
CROWD_MM: Final = 5.0  # σ of the surroundings that a line is told from
CROWDED: Final = 0.6  # times what the surroundings hold is taken away from an edge
STRAY_MM: Final = 0.25  # by which a line may be smoothed, root mean square
WAVER: Final = math.radians(55.0)  # most that a line may turn to and fro in each 10 mm
FEWEST: Final = 5  # points of a line


@dataclass(frozen=True, eq=False)
class InnerPicture:
    """What inner lines are looked for in: lab (rows, cols, 3) and weight (rows, cols) of what
    matters, ppmm pixels to a mm.
    """

    lab: NDArray[np.float64]
    weight: NDArray[np.float32]
    ppmm: float


@dataclass(frozen=True, eq=False)
class InnerLine:
    """A smooth line, by how much it stands out, and what it is worth: contrast × length."""

    line: Smooth
    contrast: float
    worth: float


def inner_lines(
    picture: InnerPicture, room: Room, least: float, shortest_mm: float
) -> list[InnerLine]:
    """Inner lines of a picture, the best first; they take their room.

    least: contrast from which a line is begun; shortest_mm: of a line that stands out half
    as much again; a fainter one must be longer, a stronger one may be half as long.
    """
    lab, ppmm = picture.lab, picture.ppmm
    found = relief(lab, ppmm, EDGE_MM)
    hidden = masking(np.ascontiguousarray(lab[..., 0]), ppmm) ** HIDING / picture.weight
    thin, edges = _thin(lab, hidden, least, ppmm), _edges(found, hidden)
    lines = [*_weighed(thin, found, least, THIN_FIRST), *_weighed(edges, found, least)]
    drawn: list[InnerLine] = []
    for _, line, contrast in sorted(lines, key=lambda item: -item[0]):
        shortest = shortest_mm * float(np.clip(LONGER * least / contrast, 0.5, LONGER))
        for part in _clear(line, room.free(line), shortest):
            echo = contrast < ECHO * least and room.alongside(part) > ECHOING
            ready = None if echo else _smoothed(part, contrast)
            if ready is not None:
                room.take(ready.line.points, APART_MM)
                drawn.append(ready)
    return sorted(drawn, key=lambda own: -own.worth)


def _uncrowded(height: FloatArray, ppmm: float) -> NDArray[np.float32]:
    """Heights (rows, cols) of edges less what their surroundings hold [Grigorescu2003]."""
    near = cv2.GaussianBlur(height, (0, 0), 0.3 * CROWD_MM * ppmm)
    far = cv2.GaussianBlur(height, (0, 0), CROWD_MM * ppmm)
    around = np.minimum(near, far)
    return np.asarray(np.maximum(height - CROWDED * around, 0.0), dtype=np.float32)


def _edges(found: Relief, hidden: FloatArray) -> Ridges:
    """Edges: where the height of the picture's gradient has a ridge."""
    crest, _ = find_ridges(found.edge, (max(0.5 * found.ppmm, 0.8),), 0.5)
    height = _uncrowded(found.edge, found.ppmm) / hidden
    return Ridges(np.where(crest.contrast > 0.0, height, 0.0).astype(np.float32), crest.shift)


def _thin(lab: FloatArray, hidden: FloatArray, least: float, ppmm: float) -> Ridges:
    """Thin lines, dark or light, whichever is stronger in each pixel."""
    plane = np.ascontiguousarray(lab[..., 0], dtype=np.float32)
    sigmas = tuple(max(width * ppmm, 0.8) for width in LINE_MM)
    light, dark = find_ridges(plane, sigmas, 0.3 * least)
    wins = dark.contrast >= light.contrast
    contrast = np.where(wins, dark.contrast, light.contrast)
    around = cv2.GaussianBlur(contrast, (0, 0), CROWD_MM * ppmm)
    contrast = np.maximum(contrast - 4.0 * CROWDED * around, 0.0) / hidden
    shift = np.where(wins[..., None], dark.shift, light.shift)
    return Ridges(contrast.astype(np.float32), shift.astype(np.float32))


def _followed(ridges: Ridges, least: float, ppmm: float) -> list[NDArray[np.float64]]:
    """Lines (n, 2) mm along ridges, joined over gaps where they run on into each other."""
    pieces = trace_lines(ridges, FOLLOWED * least, least, max(ppmm, 3.0))
    rule = JoinRule(
        gap=2.0,
        share=0.3,
        longest=5.0,
        turn=math.radians(35.0),
        reach=max(round(2.0 * ppmm), 3),
        blind=1.5 / ppmm,
    )
    return join_lines([piece / ppmm for piece in pieces], rule)


def _weighed(
    ridges: Ridges, found: Relief, least: float, times: float = 1.0
) -> Iterator[tuple[float, NDArray[np.float64], float]]:
    """Each line along ridges: its worth, `times` over, points STEP_MM apart and contrast."""
    near = np.asarray(cv2.dilate(ridges.contrast, np.ones((3, 3), np.uint8)), dtype=np.float32)
    for line in _followed(ridges, least, found.ppmm):
        even = evenly(line)
        contrast = float(found.sample(near, even).mean())
        yield times * contrast * float(along(line)[-1]), even, contrast


def _clear(
    line: NDArray[np.float64], free: BoolArray, shortest: float
) -> Iterator[NDArray[np.float64]]:
    """The stretches of a line that lie clear of others and are long enough."""
    edge = np.diff(np.r_[0, free.astype(np.int64), 0])
    for a, b in zip(np.flatnonzero(edge > 0), np.flatnonzero(edge < 0), strict=True):
        if (b - a) * STEP_MM >= shortest:
            yield line[a:b]


def _smoothed(line: NDArray[np.float64], contrast: float) -> InnerLine | None:
    """A line as a hand would draw it; None if it turns to and fro too much."""
    if len(line) < FEWEST:
        return None
    ready = smooth(line, False, STRAY_MM)
    length = ready.length_mm
    way = np.diff(ready.points, axis=0)
    turn = np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0]))))
    if np.abs(turn).sum() - abs(turn.sum()) > WAVER * max(length / 10.0, 1.0):
        return None
    return InnerLine(ready, contrast, contrast * length)
