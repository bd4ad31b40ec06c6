"""Reflectance of many stacks at once, and how it answers to each coat's depths.

What a fit of paints to painted swatches needs: the same layers as `optics.stack`, each stack
on its own ground, with the slopes by every coat's KX and SX.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.kubelka import slab_gradient_1
from firstwash.optics.observer import Light
from firstwash.optics.stack import first_coat_gradient_1
from firstwash.optics.surface import Paper, enter_surface

__all__ = ["Seen", "lab_slopes", "see_stacks"]


@dataclass(frozen=True, eq=False)
class Seen:
    """reflectance (n, 36) outside the surface; by_k, by_s (n, coats, 36) its slopes."""

    reflectance: NDArray[np.float64]
    by_k: NDArray[np.float64]
    by_s: NDArray[np.float64]


@njit(cache=True, nogil=True)
def _see(kx, sx, ground, soak, fibre_k, fibre_s, k1, k2, out, by_k, by_s):  # type: ignore[no-untyped-def]
    stacks, coats, bands = kx.shape
    pass_on = np.empty(coats)
    for i in range(stacks):
        for b in range(bands):
            below = ground[i, b]
            first = True
            for c in range(coats):
                k, s = kx[i, c, b], sx[i, c, b]
                pass_on[c] = 1.0
                by_k[i, c, b] = 0.0
                by_s[i, c, b] = 0.0
                if k <= 0.0 and s <= 0.0:
                    continue
                if first:
                    below, slope_k, slope_s = first_coat_gradient_1(
                        k, s, below, soak, fibre_k[b], fibre_s
                    )
                    first = False
                else:
                    r, t, r_k, r_s, t_k, t_s = slab_gradient_1(k, s)
                    gap = 1.0 - r * below
                    through = t / gap
                    w_r = 1.0 + (through * below) ** 2
                    w_t = 2.0 * through * below
                    slope_k = w_r * r_k + w_t * t_k
                    slope_s = w_r * r_s + w_t * t_s
                    pass_on[c] = through * through
                    below = r + t * t * below / gap
                by_k[i, c, b] = slope_k
                by_s[i, c, b] = slope_s
            gap = 1.0 - k2 * below
            out[i, b] = k1 + (1.0 - k1) * (1.0 - k2) * below / gap
            chain = (1.0 - k1) * (1.0 - k2) / (gap * gap)
            for c in range(coats - 1, -1, -1):
                by_k[i, c, b] *= chain
                by_s[i, c, b] *= chain
                chain *= pass_on[c]


def see_stacks(
    paper: Paper,
    kx: NDArray[np.float64],
    sx: NDArray[np.float64],
    ground: FloatArray | None = None,
) -> Seen:
    """What dry stacks of coats show.

    kx, sx: (n, coats, 36) depths, bottom to top, ≥ 0; a coat of nothing is passed over.
    ground: (n, 36) reflectance, seen from outside, of what each stack was painted on; the
    bare paper if left out. The first coat that holds paint soaks in, as in `optics.stack`.
    """
    n, _, bands = kx.shape
    inside = np.broadcast_to(paper.inside, (n, bands))
    if ground is not None:
        inside = np.clip(enter_surface(ground, paper.k1, paper.k2), 1e-4, 1.0)
    out, by_k, by_s = np.empty((n, bands)), np.empty(kx.shape), np.empty(kx.shape)
    _see(
        kx, sx, np.ascontiguousarray(inside), paper.soak, paper.fibre_absorption,
        paper.fibre_scattering, paper.k1, paper.k2, out, by_k, by_s,
    )  # fmt: skip
    return Seen(out, by_k, by_s)


def lab_slopes(reflectance: FloatArray, lamp: Light) -> NDArray[np.float64]:
    """(n, 3, 36) slopes of CIELAB under a light by reflectance (n, 36). [CIE15]."""
    v = reflectance @ lamp.weights / lamp.white
    cut = (6.0 / 29.0) ** 3
    f = np.where(v > cut, 1.0 / (3.0 * np.cbrt(np.maximum(v, cut)) ** 2), (29.0 / 6.0) ** 2 / 3.0)
    mix = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    return np.asarray(np.einsum("lx,nx,bx->nlb", mix, f / lamp.white, lamp.weights))
