"""How painters work, in numbers: the one table of trade figures that time and amounts rest on.

All figures: common practice, no source. No measurement of how much water a wash leaves on the
sheet was found. The water loads are therefore chosen so that the published law of evaporation
gives the drying times painters report (a flat wash dry in 10 to 30 minutes at 20 °C and half
humidity); how they were set, and what other loads would mean, is in
docs/decisions/0007-time-at-the-board.md.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from firstwash.errors import RequestError

__all__ = [
    "PRACTICE",
    "TECHNIQUES",
    "Practice",
    "Technique",
    "brush_mm",
    "checked",
    "practice_of",
]

Technique = Literal["wet-on-dry", "graded", "wet-in-wet", "glaze", "dry-brush", "touch"]
TECHNIQUES: tuple[Technique, ...] = get_args(Technique)

NARROWEST_MM, WIDEST_MM = 1.5, 40.0  # the mark of a small round brush, of the widest flat
PATCH_PER_BRUSH = 3.0  # a brush about a third as wide as the patch: room to turn, few strokes


@dataclass(frozen=True)
class Practice:
    """Figures of one technique.

    water_gsm: water left on the sheet, g/m². stroke_mm_s: how fast the brush travels, mm/s.
    passes: how often it goes over the same paper. carried: share (0-1) of a full brush-load
    that the brush holds for this technique. why: in a few words, where the figures come from.
    """

    water_gsm: float
    stroke_mm_s: float
    passes: int
    carried: float
    why: str


PRACTICE: Mapping[Technique, Practice] = MappingProxyType(
    {
        "wet-on-dry": Practice(
            30.0, 40.0, 1, 1.0, "a flat wash drawn down with a bead, the bead taken up at the end"
        ),
        "graded": Practice(
            35.0, 25.0, 1, 1.0, "as a flat wash, a little wetter, water added at every stroke"
        ),
        "wet-in-wet": Practice(
            70.0, 50.0, 2, 1.0, "clear water first, then paint into the shine: twice the water"
        ),
        "glaze": Practice(
            18.0, 30.0, 1, 0.7, "laid once with a brush not too full, so as not to stir what is dry"
        ),
        "dry-brush": Practice(
            6.0, 60.0, 1, 0.15, "the brush wiped before it skims the grain of the paper"
        ),
        "touch": Practice(6.0, 10.0, 1, 0.3, "the tip of a small brush, slow and placed with care"),
    }
)


def practice_of(technique: str) -> Practice:
    """The figures of a technique; raises RequestError if there is none of that name."""
    for name, figures in PRACTICE.items():
        if name == technique:
            return figures
    raise RequestError(f'There is no technique "{technique}"; use one of {", ".join(TECHNIQUES)}.')


def brush_mm(area_mm2: float, areas: int = 1) -> float:
    """Width (mm) of the brush a painter takes for an area (mm²) in so many patches.

    A third of the side of a patch of average size, within 1.5 to 40 mm.
    """
    side = math.sqrt(checked("area", area_mm2) / max(areas, 1))
    return min(max(side / PATCH_PER_BRUSH, NARROWEST_MM), WIDEST_MM)


def checked(what: str, value: float, low: float = 0.0, high: float = 1e9) -> float:
    """The number itself, if it lies within low … high; otherwise RequestError."""
    if not low <= value <= high:
        raise RequestError(f"The {what} must lie between {low:g} and {high:g}, not {value:g}.")
    return value
