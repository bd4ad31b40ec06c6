"""Colour differences: CIE 1976 ΔE*ab and CIEDE2000.

CIEDE2000 is also given as a vector of three residuals whose Euclidean length is the
difference, which is what a least-squares solver wants: lightness over its weight, chroma
with half of the rotation term, and hue with what the rotation term leaves.
Sources: [CIE15], [Sharma2005].
"""

import math

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis

__all__ = ["delta_e_1976", "delta_e_2000", "delta_e_2000_1", "delta_e_2000_residuals_1"]

_25_7 = 25.0**7


@njit(cache=True, nogil=True)
def _primed(lab: FloatArray, g: float) -> tuple[float, float]:
    """Chroma and hue (radians in [0, 2π)) after stretching a* by 1 + g."""
    a = lab[1] * (1.0 + g)
    c = math.sqrt(a * a + lab[2] * lab[2])
    if c == 0.0:
        return 0.0, 0.0
    h = math.atan2(lab[2], a)
    return c, h if h >= 0.0 else h + 2.0 * math.pi


@njit(cache=True, nogil=True)
def _hue_difference_and_mean(h1: float, h2: float, grey: bool) -> tuple[float, float]:
    """Signed hue difference and mean hue by the shorter way round, [Sharma2005] eq. 10-14."""
    if grey:
        return 0.0, h1 + h2
    dh = h2 - h1
    mean = 0.5 * (h1 + h2)
    if abs(dh) > math.pi:
        mean += math.pi if h1 + h2 < 2.0 * math.pi else -math.pi
        dh += -2.0 * math.pi if dh > 0.0 else 2.0 * math.pi
    return dh, mean


@njit(cache=True, nogil=True)
def delta_e_2000_residuals_1(lab: FloatArray, target: FloatArray) -> tuple[float, float, float]:
    """Three residuals (lightness, chroma, hue) of lab (3,) against target (3,).

    The square root of the sum of their squares is CIEDE2000 with kL = kC = kH = 1.
    """
    mean_c = 0.5 * (
        math.sqrt(lab[1] ** 2 + lab[2] ** 2) + math.sqrt(target[1] ** 2 + target[2] ** 2)
    )
    c7 = mean_c**7
    g = 0.5 * (1.0 - math.sqrt(c7 / (c7 + _25_7)))
    c1, h1 = _primed(target, g)
    c2, h2 = _primed(lab, g)
    dh, hm = _hue_difference_and_mean(h1, h2, c1 * c2 == 0.0)
    d_hue = 2.0 * math.sqrt(c1 * c2) * math.sin(0.5 * dh)
    cm = 0.5 * (c1 + c2)
    l50 = (0.5 * (lab[0] + target[0]) - 50.0) ** 2
    s_l = 1.0 + 0.015 * l50 / math.sqrt(20.0 + l50)
    s_c = 1.0 + 0.045 * cm
    t = (
        1.0
        - 0.17 * math.cos(hm - math.radians(30.0))
        + 0.24 * math.cos(2.0 * hm)
        + 0.32 * math.cos(3.0 * hm + math.radians(6.0))
        - 0.20 * math.cos(4.0 * hm - math.radians(63.0))
    )
    s_h = 1.0 + 0.015 * cm * t
    swing = math.radians(30.0) * math.exp(-(((math.degrees(hm) - 275.0) / 25.0) ** 2))
    cm7 = cm**7
    r_t = -2.0 * math.sqrt(cm7 / (cm7 + _25_7)) * math.sin(2.0 * swing)
    u = (c2 - c1) / s_c
    v = d_hue / s_h
    return (
        (lab[0] - target[0]) / s_l,
        u + 0.5 * r_t * v,
        v * math.sqrt(max(1.0 - 0.25 * r_t * r_t, 0.0)),
    )


@njit(cache=True, nogil=True)
def delta_e_2000_1(lab: FloatArray, target: FloatArray) -> float:
    """CIEDE2000 between two CIELAB colours (3,)."""
    e0, e1, e2 = delta_e_2000_residuals_1(lab, target)
    return math.sqrt(e0 * e0 + e1 * e1 + e2 * e2)


@njit(cache=True, nogil=True)
def _rows(a, b, out):  # type: ignore[no-untyped-def]
    for i in range(a.shape[0]):
        out[i] = delta_e_2000_1(a[i], b[i])


def delta_e_2000(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 (...) between CIELAB (..., 3) arrays that broadcast together. [Sharma2005]."""
    a, b = np.broadcast_arrays(as_float(lab_1), as_float(lab_2))
    check_last_axis(a, 3, "lab")
    out = np.empty(a.shape[:-1])
    _rows(
        np.ascontiguousarray(a).reshape(-1, 3),
        np.ascontiguousarray(b).reshape(-1, 3),
        out.reshape(-1),
    )
    return out


def delta_e_1976(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """ΔE*ab (...) between CIELAB (..., 3) arrays that broadcast together. [CIE15]."""
    a, b = as_float(lab_1), as_float(lab_2)
    check_last_axis(a, 3, "lab")
    check_last_axis(b, 3, "lab")
    return np.asarray(np.linalg.norm(a - b, axis=-1))
