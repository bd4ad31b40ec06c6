"""Coats of paint over paper, bottom to top, as they look when dry.

The first coat sinks partly among the paper's fibres (`Paper.soak`), later coats lie on
top; the surface reflection is applied once, at the top of the whole stack.
"""

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.optics.grid import N_BANDS
from firstwash.optics.kubelka import over_1, slab_1, slab_gradient_1
from firstwash.optics.surface import Paper, leave_surface, leave_surface_1

__all__ = ["coats_inside", "stages"]


@njit(cache=True, nogil=True)
def first_coat_1(
    kx: float, sx: float, ground: float, soak: float, fibre_k: float, fibre_s: float
) -> float:
    """Inside reflectance of the first coat over bare paper, one wavelength."""
    r, t = slab_1(soak * kx + fibre_k, soak * sx + fibre_s)
    sunk = over_1(r, t, ground)
    r, t = slab_1((1.0 - soak) * kx, (1.0 - soak) * sx)
    return over_1(r, t, sunk)


@njit(cache=True, nogil=True)
def first_coat_gradient_1(
    kx: float, sx: float, ground: float, soak: float, fibre_k: float, fibre_s: float
) -> tuple[float, float, float]:
    """Inside reflectance of the first coat and its slopes by kx and sx."""
    r, t, r_k, r_s, t_k, t_s = slab_gradient_1(soak * kx + fibre_k, soak * sx + fibre_s)
    gap = 1.0 - r * ground
    sunk = r + t * t * ground / gap
    w_r = 1.0 + (t * ground / gap) ** 2
    w_t = 2.0 * t * ground / gap
    sunk_k = soak * (w_r * r_k + w_t * t_k)
    sunk_s = soak * (w_r * r_s + w_t * t_s)
    top = 1.0 - soak
    r, t, r_k, r_s, t_k, t_s = slab_gradient_1(top * kx, top * sx)
    gap = 1.0 - r * sunk
    w_r = 1.0 + (t * sunk / gap) ** 2
    w_t = 2.0 * t * sunk / gap
    through = (t / gap) ** 2
    return (
        r + t * t * sunk / gap,
        top * (w_r * r_k + w_t * t_k) + through * sunk_k,
        top * (w_r * r_s + w_t * t_s) + through * sunk_s,
    )


@njit(cache=True, nogil=True)
def seen_xyz(inside, k1, k2, weights, xyz):  # type: ignore[no-untyped-def]
    """XYZ (3,) of what is seen over inside reflectances (bands,), into xyz."""
    xyz[:] = 0.0
    for b in range(inside.size):
        r = leave_surface_1(inside[b], k1, k2)
        for c in range(3):
            xyz[c] += r * weights[b, c]


@njit(cache=True, nogil=True)
def coats_inside(
    kx: FloatArray,
    sx: FloatArray,
    ground: FloatArray,
    soak: float,
    fibre_k: FloatArray,
    fibre_s: float,
    out: FloatArray,
) -> None:
    """Inside reflectance after each coat.

    kx, sx: (coats, bands); ground, fibre_k: (bands,); out: (coats + 1, bands), out[0] is
    the bare ground. The first coat that holds any paint is the one that soaks in.
    """
    coats, bands = kx.shape
    first = coats
    for i in range(coats):
        if first == coats and (np.any(kx[i] > 0.0) or np.any(sx[i] > 0.0)):
            first = i
    for b in range(bands):
        below = ground[b]
        out[0, b] = below
        for i in range(coats):
            if i == first:
                below = first_coat_1(kx[i, b], sx[i, b], below, soak, fibre_k[b], fibre_s)
            elif i > first:
                r, t = slab_1(kx[i, b], sx[i, b])
                below = over_1(r, t, below)
            out[i + 1, b] = below


def stages(paper: Paper, kx: ArrayLike, sx: ArrayLike) -> NDArray[np.float64]:
    """Reflectance (coats + 1, 36) of the sheet: bare, then after each coat has dried.

    kx, sx: (coats, 36) optical depths of the coats, bottom to top, finite and ≥ 0.
    Holds: no coats → the paper itself; all values in (0, 1); with sx = 0 no coat lightens.
    """
    k, s = as_float(kx), as_float(sx)
    check_last_axis(k, N_BANDS, "kx")
    if k.ndim != 2 or k.shape != s.shape:
        raise ValueError("kx and sx must both be (coats, 36)")
    if not (np.isfinite(k).all() and np.isfinite(s).all()) or (k < 0).any() or (s < 0).any():
        raise ValueError("kx and sx must be finite and not negative")
    out = np.empty((len(k) + 1, N_BANDS))
    coats_inside(
        k, s, paper.inside, paper.soak, paper.fibre_absorption, paper.fibre_scattering, out
    )
    return leave_surface(out, paper.k1, paper.k2)
