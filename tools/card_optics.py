"""How a painted swatch reflects light: radiative transfer in several directions.

An independent model for testing. It shares nothing with the planner's own optics: light runs
in six directions down and six up instead of one each, paint scatters by the phase function of
[Henyey1941] with the forward peak cut as in [Wiscombe1977], layers are made and joined by
adding and doubling [vandeHulst1980] [Prahl1993], and the surface of the binder reflects by
Fresnel's equations, direction by direction. Light falls from everywhere, the eye looks from
straight above.

Amounts are in full-strength coats. Per coat and wavelength a paint has an absorption and a
scattering optical depth. Wavelengths: the grid of `firstwash.optics.grid`, 36 bands.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numba import njit
from numpy.polynomial import legendre
from numpy.typing import NDArray

__all__ = [
    "BINDER_INDEX",
    "FIBRES",
    "Floats",
    "Paper",
    "Streams",
    "hidden",
    "layers_of",
    "reflectance",
    "slab",
    "streams",
    "surface_reflection",
]

Floats = NDArray[np.float64]

BINDER_INDEX: Final = 1.5  # gum arabic, and cellulose nearly so; from memory
FORWARD: Final = 0.6  # mean cosine of scattering by pigment, between Rayleigh and large particles
FIBRES: Final = 3.0  # scattering depth of the fibres that a wash soaks into
ANGLES: Final = 3  # on each side of the critical angle
_STEP: Final = 0.3  # first layer's depth by the cosine of its most slanting direction


@dataclass(frozen=True, eq=False)
class Streams:
    """Directions of light in a layer and how paint turns one into another.

    mu: (n,) cosines to the normal, the last one 1. weight: (n,) of the half sphere, sum 1.
    ahead, back: (n, n) phase function into the same and the other half sphere, averaged
    over azimuth, mean 1. kept: share of the scattering that is not the forward peak.
    mirror: (n,) reflection of the surface from within.
    """

    mu: Floats
    weight: Floats
    ahead: Floats
    back: Floats
    kept: float
    mirror: Floats


def _radau(n: int) -> tuple[Floats, Floats]:
    """Nodes and weights on [0, 1] with a node at 1, exact up to degree 2n - 2."""
    lower = legendre.Legendre.basis(n - 1)
    both = legendre.Legendre.basis(n) - lower  # zero at 1 and at the other nodes
    x = np.sort(np.real(both.roots()))
    x[-1] = 1.0
    w = (1.0 + x) / (n * lower(x)) ** 2
    return 0.5 * (1.0 + x), 0.5 * w


def surface_reflection(mu: Floats, index: float) -> Floats:
    """Fresnel reflection of unpolarised light that meets the air from within; mu: cosines."""
    outside = np.sqrt(np.maximum(1.0 - index**2 * (1.0 - mu**2), 0.0))
    across = (index * mu - outside) / (index * mu + outside)
    along = (index * outside - mu) / (index * outside + mu)
    return np.asarray(0.5 * (across**2 + along**2))


@cache
def streams(angles: int = ANGLES, forward: float = FORWARD, index: float = BINDER_INDEX) -> Streams:
    """Directions: `angles` beyond the critical angle and `angles` within it (Prahl's choice)."""
    critical = np.sqrt(1.0 - 1.0 / index**2)
    inner, inner_weight = _radau(angles if critical > 0 else 2 * angles)
    mu, weight = critical + (1 - critical) * inner, (1 - critical) * inner_weight
    if critical > 0:
        node, node_weight = np.polynomial.legendre.leggauss(angles)
        mu = np.concatenate([0.5 * critical * (1 + node), mu])
        weight = np.concatenate([0.5 * critical * node_weight, weight])
    terms = 2 * angles - 1  # as many as the quadrature keeps normalised
    cut = forward**terms
    order = np.arange(terms)
    moments = (2 * order + 1) * (forward**order - cut) / (1 - cut)
    p = legendre.legvander(mu, terms - 1)
    ahead, back = (p * moments) @ p.T, (p * moments * (-1.0) ** order) @ p.T
    return Streams(mu, weight, ahead, back, 1 - cut, surface_reflection(mu, index))


# ------------------------------------------------------------------ compiled core


@njit(cache=True, nogil=True)
def _solve(m, y):  # type: ignore[no-untyped-def]
    """y ← m⁻¹ y. Without pivoting: every m here is an M-matrix. Spoils m."""
    n, width = y.shape
    for k in range(n):
        inverse = 1.0 / m[k, k]
        for i in range(k + 1, n):
            f = m[i, k] * inverse
            for j in range(k + 1, n):
                m[i, j] -= f * m[k, j]
            for j in range(width):
                y[i, j] -= f * y[k, j]
    for k in range(n - 1, -1, -1):
        inverse = 1.0 / m[k, k]
        for j in range(width):
            total = y[k, j]
            for i in range(k + 1, n):
                total -= m[k, i] * y[i, j]
            y[k, j] = total * inverse


@njit(cache=True, nogil=True)
def _product(a, b, out):  # type: ignore[no-untyped-def]
    n, width = a.shape[0], b.shape[1]
    for i in range(n):
        for j in range(width):
            out[i, j] = 0.0
        for k in range(a.shape[1]):
            f = a[i, k]
            for j in range(width):
                out[i, j] += f * b[k, j]


@njit(cache=True, nogil=True)
def _take_from_unit(m):  # type: ignore[no-untyped-def]
    """m ← 1 - m."""
    for i in range(m.shape[0]):
        for j in range(m.shape[1]):
            m[i, j] = (1.0 if i == j else 0.0) - m[i, j]


@njit(cache=True, nogil=True)
def _first(absorb, paint, fibre, step, mu, weight, ahead, back, r, t, m):  # type: ignore[no-untyped-def]
    """r, t of a thin layer (diamond start of [Prahl1993]): a `step` of the whole."""
    n = mu.size
    a, b = np.empty((n, n)), np.empty((n, n))
    depth = absorb + paint + fibre
    for i in range(n):
        half = 0.5 * step / mu[i]
        for j in range(n):
            a[i, j] = -0.5 * half * weight[j] * (paint * ahead[i, j] + fibre)
            b[i, j] = 0.5 * half * weight[j] * (paint * back[i, j] + fibre)
        a[i, i] += half * depth
    x = b.copy()
    m[:] = a
    for i in range(n):
        m[i, i] += 1.0
    _solve(m, x)  # x = (1 + a)⁻¹ b
    _product(b, x, m)
    for i in range(n):
        for j in range(n):
            m[i, j] = (1.0 if i == j else 0.0) + a[i, j] - m[i, j]
            t[i, j] = 2.0 if i == j else 0.0
    _solve(m, t)
    _product(x, t, r)
    for i in range(n):
        t[i, i] -= 1.0


@njit(cache=True, nogil=True)
def _slab(absorb, paint, fibre, mu, weight, ahead, back, r, t):  # type: ignore[no-untyped-def]
    """Reflection r and transmission t (n, n) of radiance by a layer."""
    n = mu.size
    m, both, turned = np.empty((n, n)), np.empty((n, 2 * n)), np.empty((n, n))
    depth, doublings = absorb + paint + fibre, 0
    while depth > _STEP * mu[0]:
        depth *= 0.5
        doublings += 1
    _first(absorb, paint, fibre, 0.5**doublings, mu, weight, ahead, back, r, t, m)
    for _ in range(doublings):
        _product(r, r, m)
        _take_from_unit(m)
        _product(r, t, turned)
        both[:, :n] = t
        both[:, n:] = turned
        _solve(m, both)
        turned[:] = t
        for i in range(n):
            for j in range(n):
                passed, sent = 0.0, 0.0
                for k in range(n):
                    passed += turned[i, k] * both[k, j]
                    sent += turned[i, k] * both[k, n + j]
                t[i, j] = passed
                r[i, j] += sent


@njit(cache=True, nogil=True)
def _cover(r, t, ground, m, turned):  # type: ignore[no-untyped-def]
    """ground ← the ground under a layer r, t: light goes down, back and forth, and up."""
    n = r.shape[0]
    _product(ground, r, m)
    _take_from_unit(m)
    _product(ground, t, turned)
    _solve(m, turned)
    for i in range(n):
        for j in range(n):
            up = r[i, j]
            for k in range(n):
                up += t[i, k] * turned[k, j]
            ground[i, j] = up


@njit(cache=True, nogil=True)
def _look(ground, mirror):  # type: ignore[no-untyped-def]
    """What leaves along the normal when light falls from everywhere, through the surface."""
    n = mirror.size
    m, down = np.empty((n, n)), np.empty((n, 1))
    for i in range(n):
        down[i, 0] = 1.0 - mirror[i]
        for j in range(n):
            m[i, j] = (1.0 if i == j else 0.0) - mirror[i] * ground[i, j]
    _solve(m, down)
    up = 0.0
    for k in range(n):
        up += ground[n - 1, k] * down[k, 0]
    return (1.0 - mirror[n - 1]) * up


@njit(cache=True, nogil=True)
def _seen(layers, base, mu, weight, ahead, back, kept, mirror, out):  # type: ignore[no-untyped-def]
    """out (m,) of stacks: layers (m, l, 3) from the bottom up, base (m,) of even reflection."""
    n = mu.size
    r, t = np.empty((n, n)), np.empty((n, n))
    m, turned, ground = np.empty((n, n)), np.empty((n, n)), np.empty((n, n))
    for q in range(layers.shape[0]):
        for i in range(n):
            for j in range(n):
                ground[i, j] = 2.0 * base[q] * mu[j] * weight[j]
        for k in range(layers.shape[1]):
            absorb, paint, fibre = layers[q, k]
            if absorb + paint + fibre > 1e-12:
                _slab(absorb, kept * paint, fibre, mu, weight, ahead, back, r, t)
                _cover(r, t, ground, m, turned)
        out[q] = _look(ground, mirror)


# ------------------------------------------------------------------ layers, paper, coats


def slab(
    absorb: float, scatter: float, light: Streams, fibre: float = 0.0
) -> tuple[Floats, Floats]:
    """Radiance (n, n) sent back and let through by one layer: row out, column in."""
    n = len(light.mu)
    r, t = np.empty((n, n)), np.empty((n, n))
    depths = (absorb, light.kept * scatter, fibre)
    _slab(*depths, light.mu, light.weight, light.ahead, light.back, r, t)
    return r, t


def reflectance(layers: Floats, base: Floats) -> Floats:
    """Reflectance factor (...) of stacks without the outer surface's own reflection.

    layers: (..., l, 3) absorption, scattering by paint and by fibres, from the bottom up.
    base: (...) share sent back evenly below them all.
    """
    light = streams()
    shape = np.broadcast_shapes(layers.shape[:-2], np.shape(base))
    stacks = np.broadcast_to(layers, (*shape, *layers.shape[-2:])).reshape(-1, *layers.shape[-2:])
    below = np.broadcast_to(base, shape).reshape(-1)
    out = np.empty(len(below))
    args = (light.mu, light.weight, light.ahead, light.back, light.kept, light.mirror)
    _seen(np.ascontiguousarray(stacks), np.ascontiguousarray(below), *args, out)
    return out.reshape(shape)


def hidden(seen: Floats, sheen: float) -> Floats:
    """Even reflection (...) below the fibres that makes bare paper look as `seen`.

    As the base sends light back evenly, what is seen is (a + b·x) / (1 + c·x) of it, and
    three looks tell a, b and c.
    """
    layers = np.array([[0.0, 0.0, FIBRES]])
    none, half, whole = (float(reflectance(layers, np.array(x))) for x in (0.0, 0.5, 1.0))
    c = (2 * (half - none) - (whole - none)) / (whole - half)
    b = (whole - none) + whole * c
    inside = np.asarray(seen) - sheen
    return np.clip((inside - none) / (b - c * inside), 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Paper:
    """A sheet and how it takes paint.

    seen: (36,) reflectance of the bare paper. soak: share of the first coat that ends up
    between its fibres. later: the same of every later coat. sheen: the bare surface's own
    reflection that reaches the eye.
    """

    seen: Floats
    soak: float
    later: float
    sheen: float

    @property
    def base(self) -> Floats:
        """(36,) of what lies below the fibres."""
        return hidden(self.seen, self.sheen)


def layers_of(
    coats: Sequence[tuple[Floats, Floats]], soak: float, later: float, fibres: float
) -> Floats:
    """(..., 1 + coats, 3) layers from the bottom up; coats: absorption and scattering (...)."""
    share = [soak, *[later] * (len(coats) - 1)]
    absorb = np.array([a for a, _ in coats])
    scatter = np.array([s for _, s in coats])
    part = np.array(share).reshape(-1, *[1] * (absorb.ndim - 1))
    inside = ((part * absorb).sum(axis=0), (part * scatter).sum(axis=0))
    lowest = np.stack([*inside, np.full_like(inside[0], fibres)], axis=-1)
    rest = np.stack([(1 - part) * absorb, (1 - part) * scatter, 0 * absorb], axis=-1)
    return np.concatenate([lowest[..., None, :], np.moveaxis(rest, 0, -2)], axis=-2)
