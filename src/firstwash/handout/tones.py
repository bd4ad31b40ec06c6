"""A quiet tone for each puddle of a layer's map: greys and fine lines, never its colour.

What is painted in this layer is told from what is not by its tint, and neighbours from each
other by having different tones: tints, or tints with level, upright, falling or crossed lines
or dots. The slanting lines that rise to the right are bare paper's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.contours import OUTSIDE, Contours
from firstwash.handout.hatching import hatched
from firstwash.plan.result import Plan

__all__ = ["SPACING", "TONES", "Tone", "tone_lines", "tones_of"]


@dataclass(frozen=True)
class Tone:
    """A grey (0-1, how dark) and lines over it at some degrees; dotted: dots in rows instead."""

    dark: float
    degrees: tuple[float, ...] = ()
    dotted: bool = False

    @property
    def grey(self) -> str:
        """Its tint as #rrggbb."""
        return "#" + 3 * f"{round(255.0 * (1.0 - self.dark)):02x}"


# A laser printer makes dots of a grey; below a fourteenth they are lost on many. From memory.
PALE, MIDDLE = 0.085, 0.19
TONES: Final = (
    Tone(PALE), Tone(MIDDLE), Tone(PALE, (0.0,)), Tone(PALE, (90.0,)), Tone(PALE, (0.0,), True),
    Tone(PALE, (-45.0,)), Tone(MIDDLE, (0.0,)), Tone(MIDDLE, (90.0,)), Tone(PALE, (0.0, 90.0)),
    Tone(MIDDLE, (-45.0,)), Tone(MIDDLE, (0.0,), True), Tone(MIDDLE, (0.0, 90.0)),
)  # fmt: skip
SPACING: Final = 0.42  # letter sizes between two lines


def tones_of(plan: Plan, layer: int, contours: Contours) -> dict[int, Tone]:
    """Puddle → tone in a layer: the largest first, each the one that its neighbours have not.

    Where there are more puddles than tones, those far from each other share one.
    """
    painted = np.full(plan.cells.count + 1, -1, dtype=np.int64)
    area: dict[int, float] = {}
    for wash in plan.washes_of(layer):
        painted[list(wash.cells)] = wash.puddle
        area[wash.puddle] = area.get(wash.puddle, 0.0) + wash.area_mm2
    shared = _shared(contours, painted)
    out: dict[int, int] = {}
    for puddle in sorted(area, key=lambda q: (-area[q], q)):
        costs = [0.0] * len(TONES)
        for other, tone in out.items():
            beside = shared.get((min(puddle, other), max(puddle, other)), 0.0)
            costs[tone] += 1.0 + beside
        out[puddle] = min(range(len(TONES)), key=lambda k: (costs[k], k))
    return {puddle: TONES[k] for puddle, k in out.items()}


def _shared(contours: Contours, painted: NDArray[np.int64]) -> dict[tuple[int, int], float]:
    """Pairs of puddles → mm of border between them; painted: (cells + 1,) −1 for none."""
    own = np.minimum(painted[contours.left], painted[contours.right])
    other = np.maximum(painted[contours.left], painted[contours.right])
    beside = (contours.left != OUTSIDE) & (contours.right != OUTSIDE) & (own >= 0) & (own != other)
    size = np.linalg.norm(contours.curves[:, 3] - contours.curves[:, 0], axis=1)
    length = np.add.reduceat(size, contours.start[:-1])
    out: dict[tuple[int, int], float] = {}
    for i in np.flatnonzero(beside).tolist():
        pair = (int(own[i]), int(other[i]))
        out[pair] = out.get(pair, 0.0) + float(length[i])
    return out


def tone_lines(tone: Tone, outlines: Sequence[FloatArray], spacing: float) -> NDArray[np.float64]:
    """The lines (n, 4) of a tone over closed polygons; rows of dots begin in step."""
    found = [hatched(outlines, spacing, degrees) for degrees in tone.degrees]
    lines = np.concatenate(found) if found else np.empty((0, 4))
    if tone.dotted and len(lines):
        row = np.rint(lines[:, 1] / spacing) % 2
        left = np.ceil(lines[:, 0] / spacing - 0.5 * row) + 0.5 * row
        lines = lines.copy()
        lines[:, 0] = left * spacing
        lines = lines[lines[:, 0] < lines[:, 2]]
    return np.asarray(lines)
