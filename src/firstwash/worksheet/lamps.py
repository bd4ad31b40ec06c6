"""Colours under another light, as a screen can show them.

A screen is white like daylight (D65). Under a lamp the eye takes the lamp's white for white, so a
colour seen there is moved to where it stands against D65 as it stood against the lamp: a Bradford
adaptation, [ICC1] Annex E. What is left is the relative change that a painter sees when a sheet is
carried from the window to the lamp; the lamp's own warmth is not shown.
"""

from functools import cache
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.optics.observer import LIGHTS, LightName, lab_to_xyz, light, xyz_to_lab
from firstwash.picture.icc import adapt_to_d50

__all__ = ["LIGHT_WORDS", "light_named", "to_daylight", "to_screen"]

LIGHT_WORDS: Final = MappingProxyType(
    {"D65": "daylight", "D50": "warm daylight", "A": "lamplight", "LED": "LED light"}
)


def light_named(word: str) -> LightName:
    """The light of that name; raises RequestError if there is none."""
    for name in LIGHTS:
        if name == word:
            return name
    raise RequestError(f"There is no light “{word[:40]}”; choose one of {', '.join(LIGHTS)}.")


@cache
def _adaptation(under: LightName) -> NDArray[np.float64]:
    """(3, 3) from XYZ under a light to XYZ under D65. [ICC1]."""
    from_light, from_day = (adapt_to_d50(_chromaticity(name)) for name in (under, "D65"))
    return np.asarray(np.linalg.solve(from_day, from_light))


def _chromaticity(name: LightName) -> tuple[float, float]:
    white = light(name).white
    return float(white[0] / white.sum()), float(white[1] / white.sum())


def to_daylight(xyz: FloatArray, under: LightName) -> NDArray[np.float64]:
    """CIELAB (..., 3) under D65 of XYZ (..., 3) seen under a light, the eye used to it.

    Holds: the light's own white becomes (100, 0, 0); under D65 nothing changes.
    """
    if under == "D65":
        return xyz_to_lab(xyz)
    return xyz_to_lab(np.asarray(xyz) @ _adaptation(under).T)


def to_screen(lab: FloatArray, under: LightName) -> NDArray[np.float64]:
    """The same of CIELAB (..., 3) against the light's own white."""
    return to_daylight(lab_to_xyz(lab, under), under)
