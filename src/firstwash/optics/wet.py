"""How a wash looks while it is wet: paper and paint scatter less, and water lies on top.

Dry paper and dry paint scatter at the walls between fibre or pigment and air. Water fills the
gaps, the walls grow faint, and light goes deeper before it comes back: more of it is absorbed
[Twomey1986]. So wetting leaves absorption K as it is and multiplies scattering S by a factor
below one, `Water.paint` for paint and `Water.fibre` for the paper. Light then leaves through a
film of water, which is flat, over a layer of about the refractive index of gum. That change of
the surface alone would make paper lighter where the dry paper's own inner reflection is fitted
higher; the loss of scattering outweighs it [Lekner1988].

Everything under a fresh wash counts as soaked: paper, and paint that had dried.

**Unvalidated.** No open measurement of wet washes is known. The surface and the fibres' factor
are derived from refractive indices; the paints' factor is fitted to one published figure, the
mean change of lightness of 75 watercolours at full strength [DryingShifts75]; see
docs/decisions/0015-wet-and-dry.md for what speaks for and against it.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float
from firstwash.optics.kubelka import absorption_to_scattering, infinite_reflectance
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper, leave_surface

__all__ = ["WATER", "WET_LOOK", "Water", "wet_paper", "wet_stages"]

WET_LOOK: Final[Literal["unvalidated", "validated"]] = "unvalidated"


@dataclass(frozen=True)
class Water:
    """What wetting does.

    paint, fibre: scattering while wet as a share of the dry one, above 0, at most 1 as a rule.
    k1, k2: reflection of the wet surface from outside and from inside, fractions, as in `Paper`.
    k1 is 0.02 for all light thrown back; less where the wet shine goes past the eye.
    """

    paint: float
    fibre: float
    k1: float
    k2: float

    def __post_init__(self) -> None:
        """Refuse what no surface and no powder does."""
        if not (0.0 < self.paint < np.inf and 0.0 < self.fibre < np.inf):
            raise ValueError("paint and fibre must be positive and finite")
        if not (0.0 <= self.k1 < 1.0 and 0.0 <= self.k2 < 1.0):
            raise ValueError("k1 and k2 must be fractions")


# tools/fit_wet.py derives and fits these; refractive indices from memory.
# k1: light from above on water (1.333), Fresnel. k2: diffuse light inside a layer of index 1.50,
# gum and soaked fibre, under a flat surface; water between changes nothing, for what is thrown
# back totally is so at either side. fibre: backward share of light by a long round fibre of
# cellulose (1.53), geometrical optics, in water against in air. paint: the published mean.
WATER: Final = Water(paint=0.5, fibre=0.21, k1=0.0204, k2=0.596)


def wet_paper(paper: Paper, water: Water = WATER) -> Paper:
    """The same paper soaked: its fibres absorb as before and scatter less; unvalidated.

    Its `reflectance` is that of the bare wet sheet. Holds: water that changes neither scattering
    nor surface gives the dry paper.
    """
    ratio = absorption_to_scattering(paper.inside) / water.fibre
    inside = infinite_reflectance(ratio, np.ones_like(ratio))
    return Paper(
        name=f"{paper.name}, wet",
        reflectance=leave_surface(inside, water.k1, water.k2),
        k1=water.k1,
        k2=water.k2,
        soak=paper.soak,
        fibre_scattering=paper.fibre_scattering * water.fibre,
        provenance=f"{paper.provenance}; soaked, {WET_LOOK}",
    )


def wet_stages(
    paper: Paper, kx: ArrayLike, sx: ArrayLike, water: Water = WATER
) -> NDArray[np.float64]:
    """Reflectance (coats + 1, 36) of the sheet with each coat just laid; unvalidated.

    kx, sx: (coats, 36) optical depths of the coats when dry, bottom to top, finite and ≥ 0.
    Row 0 is the bare paper under clear water, row n the sheet with its nth coat still wet and
    all below it soaked; `stack.stages` gives the same rows dry.
    Holds: all values in (0, 1); with sx = 0 a coat changes as much as the paper lets it.
    """
    return stages(wet_paper(paper, water), kx, water.paint * as_float(sx))
