"""Two-constant Kubelka-Munk layers of finite thickness.

A layer is given by its optical depths KX (absorption) and SX (scattering), both ≥ 0 and
without unit. With q = √(KX·(KX + 2·SX)), h = sinh q / q, c = cosh q and
D = (KX + SX)·h + c:

    r = SX·h / D        reflectance of the layer alone
    t = 1 / D           transmittance

This is Kubelka's hyperbolic solution [Kubelka1948] written so that the limits need no
special formula: SX → 0 gives t = exp(−KX), KX → 0 gives r = SX/(1 + SX), and both vanish
for no paint. Everything is scaled by exp(−q), so very thick layers do not overflow.
Layers compose by [Kubelka1954].

Functions whose names end in `_1` are compiled scalar kernels for the hot paths; the
others take arrays of any matching shapes.
"""

import math

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float

__all__ = [
    "absorption_to_scattering",
    "infinite_reflectance",
    "invert_over_white_black",
    "over",
    "over_1",
    "slab",
    "slab_1",
    "slab_gradient_1",
    "stack_pair",
]

SERIES_BELOW = 1e-3  # below this q the series of sinh q / q is exact to 1e-14


@njit(cache=True, nogil=True)
def slab_1(kx: float, sx: float) -> tuple[float, float]:
    """Reflectance and transmittance of one layer at one wavelength; kx, sx ≥ 0."""
    q2 = kx * (kx + 2.0 * sx)
    q = math.sqrt(q2)
    decay = math.exp(-q)
    c = 0.5 * (1.0 + decay * decay)
    h = decay * (1.0 + q2 / 6.0) if q < SERIES_BELOW else 0.5 * (1.0 - decay * decay) / q
    d = (kx + sx) * h + c
    return sx * h / d, decay / d


@njit(cache=True, nogil=True)
def slab_gradient_1(kx: float, sx: float) -> tuple[float, float, float, float, float, float]:
    """r, t and their derivatives: (r, t, ∂r/∂kx, ∂r/∂sx, ∂t/∂kx, ∂t/∂sx)."""
    q2 = kx * (kx + 2.0 * sx)
    q = math.sqrt(q2)
    decay = math.exp(-q)
    if q < SERIES_BELOW:
        c = 1.0 + q2 / 2.0
        h = 1.0 + q2 / 6.0
        dh = 1.0 / 6.0 + q2 / 60.0  # dh/d(q²)
        dc = 0.5 * h  # dc/d(q²) = sinh q / (2q)
        scale = 1.0
    else:
        scale = decay  # c, h and their slopes all carry a factor exp(−q) here
        c = 0.5 * (1.0 + decay * decay)
        h = 0.5 * (1.0 - decay * decay) / q
        dh = (c - h) / (2.0 * q2)
        dc = 0.5 * h
    d = (kx + sx) * h + c
    r = sx * h / d
    t = scale / d
    q2_k = 2.0 * (kx + sx)
    q2_s = 2.0 * kx
    d_k = h + ((kx + sx) * dh + dc) * q2_k
    d_s = h + ((kx + sx) * dh + dc) * q2_s
    r_k = (sx * dh * q2_k - r * d_k) / d
    r_s = (h + sx * dh * q2_s - r * d_s) / d
    return r, t, r_k, r_s, -t * d_k / d, -t * d_s / d


@njit(cache=True, nogil=True)
def over_1(r: float, t: float, ground: float) -> float:
    """Reflectance of a layer (r, t) over an opaque ground, at one wavelength."""
    return r + t * t * ground / (1.0 - r * ground)


@njit(cache=True, nogil=True)
def _slab_flat(kx, sx, r, t):  # type: ignore[no-untyped-def]
    for i in range(kx.size):
        r[i], t[i] = slab_1(kx[i], sx[i])


def slab(kx: ArrayLike, sx: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Reflectance and transmittance of a layer.

    kx, sx: optical depths, any shapes that broadcast together, finite and ≥ 0.
    Returns (r, t), each of the broadcast shape, r + t ≤ 1.
    Raises ValueError for negative or non-finite depths. Source: [Kubelka1948].
    """
    k, s = np.broadcast_arrays(as_float(kx), as_float(sx))
    if not (np.all(np.isfinite(k)) and np.all(np.isfinite(s))) or (k < 0).any() or (s < 0).any():
        raise ValueError("kx and sx must be finite and not negative")
    r = np.empty(k.shape)
    t = np.empty(k.shape)
    _slab_flat(k.ravel(), s.ravel(), r.reshape(-1), t.reshape(-1))
    return r, t


def over(r: ArrayLike, t: ArrayLike, ground: ArrayLike) -> NDArray[np.float64]:
    """Reflectance of a layer over an opaque ground.

    r, t: the layer alone; ground: reflectance under it; all in [0, 1], broadcastable.
    Holds: result ≤ 1; clear layer (0, 1) → ground. Source: [Kubelka1948].
    """
    r_, t_, g = as_float(r), as_float(t), as_float(ground)
    # A perfect mirror over a perfect mirror traps light; with t = 0 there is none to trap.
    gap = np.maximum(1.0 - r_ * g, 1e-300)
    return np.asarray(r_ + t_ * t_ * g / gap)


def stack_pair(
    upper: tuple[ArrayLike, ArrayLike, ArrayLike], lower: tuple[ArrayLike, ArrayLike, ArrayLike]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Two layers as one, each given as (r lit from above, r lit from below, t).

    Transmittance is the same both ways even when the pair is not symmetric.
    Source: [Kubelka1954], non-homogeneous layers.
    """
    ra, rb, t1 = (as_float(v) for v in upper)
    rc, rd, t2 = (as_float(v) for v in lower)
    gap = np.maximum(1.0 - rb * rc, 1e-300)
    return ra + t1 * t1 * rc / gap, rd + t2 * t2 * rb / gap, t1 * t2 / gap


def infinite_reflectance(k: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Reflectance of a layer so thick that its ground does not show; 0 where s = 0 < k."""
    k_, s_ = np.broadcast_arrays(as_float(k), as_float(s))
    root = np.sqrt(k_ * (k_ + 2.0 * s_))
    total = k_ + s_ + root
    # s / (k + s + root) is the smaller root of r² − 2r(1 + k/s) + 1 = 0, without cancellation.
    return np.asarray(np.divide(s_, total, out=np.zeros(total.shape), where=total > 0))


def absorption_to_scattering(r_inf: ArrayLike) -> NDArray[np.float64]:
    """K/S of a layer so thick that its ground does not show: (1 − R)²/(2R), R in (0, 1]."""
    r = as_float(r_inf)
    if (r <= 0).any() or (r > 1).any():
        raise ValueError("reflectance must lie in (0, 1]")
    return np.asarray((1.0 - r) ** 2 / (2.0 * r))


def invert_over_white_black(
    rw: ArrayLike, rb: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Optical depths (kx, sx) of the layer seen as rw over white and as rb over black.

    rw, rb: reflectance over a perfect white and over a perfect black, under the surface,
    0 ≤ rb < rw ≤ 1, broadcastable. Returns kx, sx of the broadcast shape, ≥ 0.
    Inverse of `slab` and `over`: r = rb, t² = (rw − rb)·(1 − rb), and with
    P = (1 − r² + t²)/2, β = ½·√(((1 − r)² − t²)·((1 + r)² − t²)), y = ln((P + β)/t):
    sx = r·y/β, kx = ((1 − r)² − t²)·y/(2β). Same result as the arcoth form of
    [Curtis1997] section 5.1, but exact also where rb = 0 (no scattering) or rw = 1 (no absorption).
    Raises ValueError outside that range.
    """
    white, r = np.broadcast_arrays(as_float(rw), as_float(rb))
    if not np.all((r >= 0) & (r < white) & (white <= 1 + 1e-12)):  # forgives rounding
        raise ValueError("needs 0 ≤ over black < over white ≤ 1")
    white = np.minimum(white, 1.0)
    t = np.sqrt((white - r) * (1.0 - r))
    lost = (1.0 - r) * (1.0 - white)  # (1 − r)² − t² without cancellation
    beta = 0.5 * np.sqrt(lost * ((1.0 + r) ** 2 - t * t))
    gain = beta + 0.5 * (lost / (1.0 - r + t)) * (1.0 - t + r)  # P + β − t
    y = np.log1p(gain / t)
    limit = np.asarray(1.0 / t)  # of y/β where nothing is absorbed
    per_beta = np.divide(y, beta, out=limit, where=beta > 0)
    return np.asarray(0.5 * lost * per_beta), np.asarray(r * per_beta)
