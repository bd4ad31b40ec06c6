"""Munsell value of a lightness: the scale of greys that painters' value steps come from.

A perfect white has Munsell value 10 and L* 100, but in between the two are not ten to one: L* 50
is Munsell value 4.9. Source: [ASTMD1535], luminance from value as a polynomial; the way back by
Newton's method.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float

__all__ = ["munsell_value", "value_luminance"]

# [ASTMD1535]: Y in per cent of the perfect diffuser, powers of the value from 1 to 5.
POLYNOMIAL = (1.1914, -0.22533, 0.23352, -0.020484, 0.00081939)
NEWTON_STEPS = 12  # from L* / 10 it is settled to rounding after four


def value_luminance(value: ArrayLike) -> NDArray[np.float64]:
    """Luminance Y (0-1, perfect white 1) of Munsell value in [0, 10]."""
    v = np.clip(as_float(value), 0.0, 10.0)
    return np.asarray(np.polyval([*POLYNOMIAL[::-1], 0.0], v) / 100.0)


def munsell_value(lightness: ArrayLike) -> NDArray[np.float64]:
    """Munsell value (0-10) of L* in [0, 100]."""
    light = np.clip(as_float(lightness), 0.0, 100.0)
    # CIE 1976 lightness turned round [CIE15].
    luminance = np.where(light > 8.0, ((light + 16.0) / 116.0) ** 3, light * 27.0 / 24389.0)
    slope = np.polyder([*POLYNOMIAL[::-1], 0.0])
    v = light / 10.0
    for _ in range(NEWTON_STEPS):
        v = v - (value_luminance(v) - luminance) * 100.0 / np.polyval(slope, v)
        v = np.clip(v, 0.0, 10.0)
    return np.asarray(v)
