"""Spectra → XYZ → CIELAB and sRGB, for the CIE 1931 2° observer.

XYZ is scaled so that the perfect white has Y = 1 under any of the lights. CIELAB uses
that light's own white, summed from the same weights, so a perfect white is exactly
(100, 0, 0). Sources: [CIE15], [ASTME308], [IEC61966-2-1].
"""

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final, Literal

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.optics.grid import N_BANDS

__all__ = [
    "LIGHTS",
    "Light",
    "LightName",
    "lab_to_srgb8",
    "lab_to_xyz",
    "lab_to_xyz_1",
    "light",
    "linear_srgb_to_xyz",
    "munsell_value",
    "reflectance_to_lab",
    "reflectance_to_xyz",
    "srgb_decode",
    "srgb_encode",
    "xyz_to_lab",
    "xyz_to_lab_1",
    "xyz_to_linear_srgb",
]

LightName = Literal["D65", "D50", "A", "LED"]
LIGHTS: Final[tuple[LightName, ...]] = ("D65", "D50", "A", "LED")

# [IEC61966-2-1] gives the XYZ → RGB matrix to four digits; these are recomputed from its
# chromaticities (R .64 .33, G .30 .60, B .15 .06, white .3127 .3290) to full precision.
_PRIMARIES = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
_WHITE_XY = (0.3127, 0.3290)

_DELTA: Final = 6.0 / 29.0  # [CIE15] joins the cube root and the straight line here
_CUBE: Final = _DELTA**3
_SLOPE: Final = 1.0 / (3.0 * _DELTA**2)


@dataclass(frozen=True)
class Light:
    """One light: its name, (36, 3) weights that turn reflectance into XYZ, its white XYZ."""

    name: LightName
    weights: NDArray[np.float64]
    white: NDArray[np.float64]


@cache
def _table() -> dict[str, NDArray[np.float64]]:
    text = resources.files("firstwash.optics").joinpath("data/lights.csv").read_text("utf-8")
    head, *rows = text.strip().splitlines()
    values = np.array([[float(v) for v in row.split(",")] for row in rows])
    return {name: values[:, i] for i, name in enumerate(head.split(","))}


@cache
def light(name: LightName) -> Light:
    """The light of that name: D65 (screens), D50 (prints), A (lamp), LED (CIE LED-B3)."""
    if name not in LIGHTS:
        raise ValueError(f"unknown light {name!r}; known: {', '.join(LIGHTS)}")
    weights = np.column_stack([_table()[f"{name}_{axis}"] for axis in "xyz"])
    white = weights.sum(axis=0)
    weights.setflags(write=False)
    white.setflags(write=False)
    return Light(name, weights, white)


def reflectance_to_xyz(reflectance: ArrayLike, under: LightName = "D65") -> NDArray[np.float64]:
    """XYZ (..., 3) of reflectance (..., 36) in [0, 1]; a perfect white gives Y = 1."""
    r = as_float(reflectance)
    check_last_axis(r, N_BANDS, "reflectance")
    return np.asarray(r @ light(under).weights)


@njit(cache=True, nogil=True)
def _f(v: float) -> float:
    if v > _CUBE:
        return float(np.cbrt(v))
    return v * _SLOPE + 4.0 / 29.0


@njit(cache=True, nogil=True)
def _f_slope(v: float) -> float:
    if v > _CUBE:
        root = float(np.cbrt(v))
        return 1.0 / (3.0 * root * root)
    return _SLOPE


@njit(cache=True, nogil=True)
def xyz_to_lab_1(x: float, y: float, z: float, white: FloatArray) -> tuple[float, float, float]:
    """L*, a*, b* of one XYZ against white (3,)."""
    fx, fy, fz = _f(x / white[0]), _f(y / white[1]), _f(z / white[2])
    return 116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)


@njit(cache=True, nogil=True)
def _f_inverse(v: float) -> float:
    return v * v * v if v > _DELTA else (v - 4.0 / 29.0) / _SLOPE


@njit(cache=True, nogil=True)
def lab_to_xyz_1(lab: FloatArray, white: FloatArray) -> tuple[float, float, float]:
    """XYZ of one L*a*b* (3,) against white (3,)."""
    fy = (lab[0] + 16.0) / 116.0
    return (
        _f_inverse(fy + lab[1] / 500.0) * white[0],
        _f_inverse(fy) * white[1],
        _f_inverse(fy - lab[2] / 200.0) * white[2],
    )


@njit(cache=True, nogil=True)
def _xyz_to_lab_rows(xyz, white, out):  # type: ignore[no-untyped-def]
    for i in range(xyz.shape[0]):
        out[i, 0], out[i, 1], out[i, 2] = xyz_to_lab_1(xyz[i, 0], xyz[i, 1], xyz[i, 2], white)


@njit(cache=True, nogil=True)
def _lab_to_xyz_rows(lab, white, out):  # type: ignore[no-untyped-def]
    for i in range(lab.shape[0]):
        out[i, 0], out[i, 1], out[i, 2] = lab_to_xyz_1(lab[i], white)


def xyz_to_lab(xyz: ArrayLike, under: LightName = "D65") -> NDArray[np.float64]:
    """CIELAB (..., 3) of XYZ (..., 3), white Y = 1, against that light's own white. [CIE15]."""
    values = as_float(xyz)
    check_last_axis(values, 3, "xyz")
    out = np.empty(values.shape)
    _xyz_to_lab_rows(values.reshape(-1, 3), light(under).white, out.reshape(-1, 3))
    return out


def lab_to_xyz(lab: ArrayLike, under: LightName = "D65") -> NDArray[np.float64]:
    """XYZ (..., 3), white Y = 1, of CIELAB (..., 3); inverse of `xyz_to_lab`."""
    values = as_float(lab)
    check_last_axis(values, 3, "lab")
    out = np.empty(values.shape)
    _lab_to_xyz_rows(values.reshape(-1, 3), light(under).white, out.reshape(-1, 3))
    return out


def reflectance_to_lab(reflectance: ArrayLike, under: LightName = "D65") -> NDArray[np.float64]:
    """CIELAB (..., 3) of reflectance (..., 36) in [0, 1] under that light."""
    return xyz_to_lab(reflectance_to_xyz(reflectance, under), under)


@cache
def _rgb_to_xyz_matrix() -> NDArray[np.float64]:
    primaries = np.column_stack([_PRIMARIES, 1.0 - _PRIMARIES.sum(axis=1)]).T
    x, y = _WHITE_XY
    white = np.array([x / y, 1.0, (1.0 - x - y) / y])
    return np.asarray(primaries * np.linalg.solve(primaries, white))


def linear_srgb_to_xyz(rgb: ArrayLike) -> NDArray[np.float64]:
    """XYZ (..., 3), D65 white Y = 1, of linear sRGB (..., 3); values outside [0, 1] pass."""
    values = as_float(rgb)
    check_last_axis(values, 3, "rgb")
    return np.asarray(values @ _rgb_to_xyz_matrix().T)


def xyz_to_linear_srgb(xyz: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB (..., 3), not clipped, of D65 XYZ (..., 3). [IEC61966-2-1]."""
    values = as_float(xyz)
    check_last_axis(values, 3, "xyz")
    return np.asarray(values @ np.linalg.inv(_rgb_to_xyz_matrix()).T)


def srgb_encode(linear: ArrayLike) -> NDArray[np.float64]:
    """sRGB signal in [0, 1] of linear light; input is clipped to [0, 1]. [IEC61966-2-1]."""
    v = np.clip(as_float(linear), 0.0, 1.0)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def srgb_decode(signal: ArrayLike) -> NDArray[np.float64]:
    """Linear light of an sRGB signal in [0, 1]. [IEC61966-2-1]."""
    v = as_float(signal)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)


def lab_to_srgb8(lab: ArrayLike) -> NDArray[np.uint8]:
    """8-bit sRGB (..., 3) of D65 CIELAB (..., 3), clipped to the screen's gamut."""
    signal = srgb_encode(xyz_to_linear_srgb(lab_to_xyz(lab)))
    return np.asarray(np.rint(signal * 255.0), dtype=np.uint8)


def munsell_value(luminance: ArrayLike) -> NDArray[np.float64]:
    """Munsell value 0-10 of luminance factor Y in [0, 1] (perfect white 1). [ASTMD1535].

    The standard's quintic gives Y in per cent of the perfect white from the value; here it
    is inverted by Newton's method.
    """
    target = np.clip(as_float(luminance), 0.0, 1.0) * 100.0
    value = 10.0 * np.sqrt(target / 100.0)
    for _ in range(40):
        slope = np.polyval(np.polyder(_D1535), value)
        value = np.clip(value - (np.polyval(_D1535, value) - target) / slope, 0.0, 10.5)
    return np.asarray(value)


_D1535: Final = np.array([0.00081939, -0.020484, 0.23352, -0.22533, 1.1914, 0.0])
