"""The plan's fine strokes: lights kept free, outlined, and darks that are laid last."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.picture.stroke_lines import resample
from firstwash.plan.touches import Touch
from firstwash.tracing.curves import STEP_MM, Smooth, evenly, normals, smooth
from firstwash.tracing.room import Room

__all__ = ["dark_lines", "light_lines"]

THIN_MM: Final = 1.8  # a stroke that is thinner is one line: two would run together
FEWEST: Final = 4  # points of such a line; a dot is always a ring
STRAY_MM: Final = 0.1  # by which such a line may be smoothed, root mean square
ROUND: Final = 7  # points of a rounded tip
SHARE: Final = (0.1, 1.0)  # of the lights drawn at detail 0 and 1, those with most gain first
CROWDED: Final = 0.5  # of its length that must lie clear of other lines


def light_lines(touches: Sequence[Touch], detail: float, room: Room) -> list[Smooth]:
    """The fine lights kept, those with most gain first, fewer with less detail (0-1).

    Closed outlines, one line for a thin light; they take their room.
    """
    kept = sorted((t for t in touches if t.reserved), key=lambda t: -t.gain)
    most = round((SHARE[0] + (SHARE[1] - SHARE[0]) * detail) * len(kept))
    return _lines(kept[:most], room)


def dark_lines(touches: Sequence[Touch], least: float, room: Room) -> list[Smooth]:
    """The fine darks laid last that stand out by `least` L* or more, drawn as the lights are."""
    strong = [t for t in touches if not t.reserved and t.stroke.contrast >= least]
    return _lines(sorted(strong, key=lambda t: -t.stroke.contrast), room)


def _lines(touches: Sequence[Touch], room: Room) -> list[Smooth]:
    out = []
    for touch in touches:
        line = touch.stroke.points_mm
        if room.free(line).mean() < CROWDED:
            continue
        thin = touch.stroke.width_mm < THIN_MM and len(line) > FEWEST
        radii = touch.stroke.half_widths_mm
        outline = smooth(evenly(line), False, STRAY_MM) if thin else _outline(line, radii)
        room.take(outline.points)
        out.append(outline)
    return out


def _outline(line: FloatArray, radii: FloatArray) -> Smooth:
    """The border of a stroke, closed."""
    wide = radii
    if len(line) == 1:
        turn = np.linspace(0.0, 2.0 * np.pi, 4 * ROUND)
        return _ring(line[0] + wide[0] * np.column_stack([np.cos(turn), np.sin(turn)]))
    across = normals(line)
    left, right = line + wide[:, None] * across, line - wide[:, None] * across
    ring = np.concatenate([
        left, _tip(line[-1], across[-1], wide[-1]), right[::-1], _tip(line[0], -across[0], wide[0]),
        left[:1],
    ])  # fmt: skip
    return _ring(resample(ring, 0.5 * STEP_MM, 0.0))


def _ring(points: FloatArray) -> Smooth:
    return Smooth(np.asarray(points, dtype=np.float64), np.array([0, len(points) - 1]), True)


def _tip(end: FloatArray, across: FloatArray, radius: float) -> NDArray[np.float64]:
    """Half a circle around an end, from one side to the other; across: the normal it starts on."""
    turn = np.linspace(0.0, np.pi, ROUND)[1:-1, None]
    ahead = np.array([across[1], -across[0]])
    return np.asarray(end + radius * (np.cos(turn) * across + np.sin(turn) * ahead))
