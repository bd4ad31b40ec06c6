"""Derives and fits what wetting does (`firstwash.optics.wet.WATER`).

Run: python tools/fit_wet.py    prints the four numbers, and what they predict

Three are derived from refractive indices (from memory), one is fitted: the paints' scattering
while wet, so that the catalogue's paints at full strength are on average by `PUBLISHED_SHIFT`
darker wet than dry.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.wet import WATER, Water, wet_stages
from firstwash.paints.catalogue import Paint, all_paints, default_paper

Array = NDArray[np.float64]

AIR: Final = 1.0
WATER_INDEX: Final = 1.333
GUM: Final = 1.50  # gum arabic 1.48, gelatine 1.52
CELLULOSE: Final = 1.53
PUBLISHED_SHIFT: Final = 2.3  # mean L*, dry less wet, of 75 paints [DryingShifts75]
STRENGTHS: Final = (0.06, 0.125, 0.25, 0.5, 1.0, 3.0)  # of a full coat
RAYS: Final = 100_000
BOUNCES: Final = 60


def fresnel(cosine: Array, index: float) -> tuple[Array, Array, Array]:
    """Reflectance of a wall for both polarisations, and the cosine beyond it.

    index: of the far side by that of the near side; 1 where all light is thrown back.
    """
    sine = np.sqrt(1.0 - cosine**2) / index
    beyond = np.sqrt(np.maximum(1.0 - sine**2, 0.0))
    s = ((cosine - index * beyond) / (cosine + index * beyond)) ** 2
    p = ((index * cosine - beyond) / (index * cosine + beyond)) ** 2
    total = sine >= 1.0
    return np.where(total, 1.0, s), np.where(total, 1.0, p), beyond


def straight(index: float) -> float:
    """Reflectance of a wall that light meets at a right angle."""
    return ((index - 1.0) / (index + 1.0)) ** 2


def diffuse(index: float) -> float:
    """Reflectance of a wall for diffuse light; index below 1 for light from the denser side."""
    cosine = (np.arange(RAYS) + 0.5) / RAYS
    s, p, _ = fresnel(cosine, index)
    return float(np.mean(2.0 * cosine * 0.5 * (s + p)))


def forwardness(index: float) -> float:
    """Mean cosine of the angle by which a long round fibre turns light that meets it squarely.

    Geometrical optics without diffraction; index: of the fibre by that of what is around it.
    """
    height = (np.arange(RAYS) + 0.5) / RAYS
    cosine = np.sqrt(1.0 - height**2)
    s, p, inside = fresnel(cosine, index)
    outer, inner = np.arccos(cosine), np.arccos(inside)
    found = 0.0
    for r in (s, p):
        turned = r * np.cos(np.pi - 2.0 * outer)
        for n in range(BOUNCES):
            angle = 2.0 * (outer - inner) + n * (np.pi - 2.0 * inner)
            turned = turned + (1.0 - r) ** 2 * r**n * np.cos(angle)
        found += 0.5 * float(turned.mean())
    return found


def fibre_share() -> float:
    """How much a soaked fibre scatters, of what it scatters in air."""
    wet, dry = (forwardness(CELLULOSE / around) for around in (WATER_INDEX, AIR))
    return (1.0 - wet) / (1.0 - dry)


def shifts(paints: Sequence[Paint], strength: float, water: Water) -> tuple[Array, Array]:
    """By how much paints are darker (L*) and more chromatic (C*ab) wet than dry, each (n,)."""
    paper = default_paper()
    labs = []
    for p in paints:
        kx, sx = (strength * p.full_coat * c[None] for c in (p.k, p.s))
        both = stages(paper, kx, sx)[-1], wet_stages(paper, kx, sx, water)[-1]
        labs.append([reflectance_to_lab(r) for r in both])
    found = np.array(labs)
    chroma = np.hypot(found[..., 1], found[..., 2])
    return found[:, 0, 0] - found[:, 1, 0], chroma[:, 1] - chroma[:, 0]


def fitted_paint(water: Water) -> float:
    """The paints' scattering while wet that gives the published mean."""
    paints = all_paints()

    def missing(share: float) -> float:
        darker, _ = shifts(paints, 1.0, replace(water, paint=share))
        return float(darker.mean()) - PUBLISHED_SHIFT

    return float(brentq(missing, 0.05, 1.5, xtol=1e-4))


def derived() -> Water:
    """All four numbers."""
    surface = Water(1.0, fibre_share(), straight(WATER_INDEX), diffuse(AIR / GUM))
    return replace(surface, paint=fitted_paint(surface))


def main() -> None:
    """Print what is derived and fitted, and what is predicted with it."""
    print(derived())
    bare, wet = (
        reflectance_to_lab(r) for r in (default_paper().reflectance, wet_stages(
            default_paper(), np.zeros((0, 36)), np.zeros((0, 36)))[0])
    )  # fmt: skip
    print(f"bare paper: L* {bare[0]:.1f} dry, {wet[0]:.1f} wet")
    for strength in STRENGTHS:
        darker, clearer = shifts(all_paints(), strength, WATER)
        print(
            f"{strength:5.3f} coats: darker by {darker.mean():.1f} ({darker.min():.1f} to "
            f"{darker.max():.1f}) L*, chroma {clearer.mean():+.1f} ({clearer.min():+.1f} to "
            f"{clearer.max():+.1f})"
        )


if __name__ == "__main__":
    main()
