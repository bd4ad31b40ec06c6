"""What another set of paints makes of the same picture: where it falls short, in words."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.handout.words import colour_words
from firstwash.language import mark, tr
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.values import steps_words
from firstwash.plan.result import Plan

__all__ = ["Shortfall", "nearness_words", "shortfalls"]

# Own judgement, after what painters call the same and another colour.
TOLD: Final = 4.0  # CIEDE2000 from which a patch is another colour than in the other painting
LEAST_SHARE: Final = 0.004  # of the sheet
HUE: Final = 8.0  # CIELAB along the hue circle from which a colour is another one
CHROMA: Final = 7.0  # of CIELAB chroma: duller or stronger
LIGHT: Final = 4.0  # of L*: about half a value step
NEAR: Final = (0.7, 2.0, 4.0)  # mean CIEDE2000 over the sheet: as near, nearly, further, far


@dataclass(frozen=True)
class Shortfall:
    """A colour that comes out otherwise. colour: as in the painting compared with; share: of the
    sheet (0-1); off: mean CIEDE2000 there; words: what becomes of it.
    """

    colour: str
    share: float
    off: float
    words: str


def shortfalls(plan: Plan, wanted: Plan, most: int = 4) -> tuple[Shortfall, ...]:
    """Colours of `wanted` that `plan` misses, the ones that show most first.

    Both plans must be on the same drawing: raises ValueError otherwise.
    """
    if plan.cells.index.shape != wanted.cells.index.shape or len(plan.coats) != len(wanted.coats):
        raise ValueError("plans: both must be on the same drawing")
    ours, theirs = plan.stage_labs[-1], wanted.stage_labs[-1]
    off = delta_e_2000(ours, theirs)
    areas = wanted.cells.areas_mm2() / wanted.cells.areas_mm2().sum()
    groups: dict[str, list[int]] = {}
    for cell, lab in enumerate(theirs.tolist()):
        if off[cell] >= TOLD:
            groups.setdefault(colour_words((lab[0], lab[1], lab[2])), []).append(cell)
    found = []
    for colour, cells in groups.items():
        weight = areas[cells]
        if weight.sum() < LEAST_SHARE:
            continue
        mine, other = (np.average(labs[cells], axis=0, weights=weight) for labs in (ours, theirs))
        mean = float(np.average(off[cells], weights=weight))
        found.append(Shortfall(colour, float(weight.sum()), mean, _becomes(mine, other)))
    return tuple(sorted(found, key=lambda s: (-s.share * s.off, s.colour))[:most])


def _becomes(mine: NDArray[np.float64], other: NDArray[np.float64]) -> str:
    """What becomes of a colour: "half a value step lighter and duller"."""
    lightness = float(mine[0] - other[0])
    chroma, wanted = float(np.hypot(mine[1], mine[2])), float(np.hypot(other[1], other[2]))
    told = []
    if abs(lightness) >= LIGHT:
        steps = steps_words(abs(lightness))
        told.append(
            tr("{steps} lighter", steps=steps)
            if lightness > 0
            else tr("{steps} darker", steps=steps)
        )
    if abs(chroma - wanted) >= CHROMA:
        told.append(tr("duller") if chroma < wanted else tr("stronger"))
    along = mine[1:] - other[1:]
    turned = np.sqrt(max(float(along @ along) - (chroma - wanted) ** 2, 0.0))
    if turned >= HUE or not told:
        told.append(tr(_lean(along)))
    return tr("{one} and {other}", one=told[0], other=told[1]) if len(told) > 1 else told[0]


def _lean(along: NDArray[np.float64]) -> str:
    """Where a colour leans by its change along a* and b*."""
    a, b = float(along[0]), float(along[1])
    if abs(a) >= abs(b):
        return mark("redder") if a > 0 else mark("greener")
    return mark("yellower") if b > 0 else mark("bluer")


def nearness_words(plan: Plan, wanted: Plan) -> str:
    """How near a painting comes to the photo beside another one's, in words."""
    more = plan.report.against_photo.mean - wanted.report.against_photo.mean
    if more <= NEAR[0]:
        return tr("comes as near to the photo as the teacher's")
    if more <= NEAR[1]:
        return tr("comes nearly as near to the photo as the teacher's")
    if more <= NEAR[2]:
        return tr("stays clearly further from the photo than the teacher's")
    return tr("stays far from the photo")
