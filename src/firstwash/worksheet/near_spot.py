"""Fine strokes near a touched spot."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.picture.stroke_render import Stroke
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.worksheet.words import Colour, Units, colour_of, length_told, width_told

__all__ = ["NearStroke", "near_strokes"]

NEAR_MM = 4.0  # about half a fingertip; common practice, no source
MOST = 4  # strokes told


@dataclass(frozen=True)
class NearStroke:
    """A fine stroke under the finger or beside it.

    index: in the plan's touches. kind: "line" or "dot". colour: when all is painted. letter: of
    the puddle it is laid with, None where it is kept free. distance_mm: from its rim, 0 on it.
    """

    index: int
    kind: str
    words: str
    colour: Colour
    letter: str | None
    distance_mm: float


def near_strokes(
    plan: Plan, x_mm: float, y_mm: float, units: Units = "cm"
) -> tuple[NearStroke, ...]:
    """Up to four fine strokes within 4 mm of a spot, the nearest first."""
    found = sorted(_within(plan, np.array([x_mm, y_mm])))
    return tuple(_told(plan, i, distance, units) for distance, i in found[:MOST])


def _within(plan: Plan, spot: FloatArray) -> Iterator[tuple[float, int]]:
    for i, touch in enumerate(plan.touches):
        points, half = touch.stroke.points_mm, touch.stroke.half_widths_mm
        reach = NEAR_MM + float(half.max())
        if (points.min(axis=0) - reach <= spot).all() and (
            spot <= points.max(axis=0) + reach
        ).all():
            distance = _distance(touch.stroke, spot)
            if distance <= NEAR_MM:
                yield distance, i


def _distance(stroke: Stroke, spot: FloatArray) -> float:
    """From the rim of a stroke, mm; 0 inside it."""
    points, half = stroke.points_mm, stroke.half_widths_mm
    start, half_start = points[:-1], half[:-1]
    if not len(start):
        return max(float(np.hypot(*(spot - points[0])) - half[0]), 0.0)
    along = np.diff(points, axis=0)
    whole = np.maximum((along * along).sum(axis=1), 1e-12)
    t = np.clip(((spot - start) * along).sum(axis=1) / whole, 0.0, 1.0)
    off = np.linalg.norm(start + t[:, None] * along - spot, axis=1)
    rim = off - (half_start + t * np.diff(half))
    return max(float(rim.min()), 0.0)


def _told(plan: Plan, index: int, distance: float, units: Units) -> NearStroke:
    touch = plan.touches[index]
    letter = None if touch.puddle is None else plan.puddles[touch.puddle].name
    return NearStroke(
        index=index,
        kind=touch.stroke.kind,
        words=_words(touch, letter, units),
        colour=colour_of(touch.lab),
        letter=letter,
        distance_mm=round(distance, 2),
    )


def _words(touch: Touch, letter: str | None, units: Units) -> str:
    width = width_told(2.0 * float(touch.stroke.half_widths_mm.max()), units)
    if touch.stroke.kind == "dot":
        what = f"a dot {width} wide"
    else:
        what = f"a fine line {length_told(touch.stroke.length_mm, units)} long, up to {width} wide"
    if touch.after is None:
        return f"{what}, laid last with puddle {letter}"
    how = "kept under masking fluid" if touch.way == "masked" else "painted round"
    when = "from the start" if touch.after == 0 else f"once layer {touch.after} is dry"
    return f"{what}, {how} {when}"
