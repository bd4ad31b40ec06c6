"""Absorption and scattering of 13 measured watercolours in the model of `card_optics`.

Fitted jointly to the single pigments and two-pigment mixtures of [Chen2019]; nothing of the
planner's own paints is used. The data end at a quarter of a full coat, where many swatches
still look full: thinner washes follow from the physics alone, so the curves are kept smooth
along the spectrum where the data leave them open. The result is kept in the repository's
.cache folder, which git ignores.

Run: python tools/card_pigments.py
"""

import hashlib
import inspect
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline
from scipy.optimize import least_squares
from scipy.sparse import coo_array, csr_array, vstack

import card_optics
import fetch_reference
import ntu
from card_camera import lab_d65
from card_optics import FIBRES, Floats, Paper, layers_of, reflectance
from firstwash.optics.grid import N_BANDS

__all__ = ["KEYS", "MATT", "Pigments", "errors", "fit", "measured_pigments", "sheen_of", "stack"]

KEYS: Final = (
    "PR108", "PR83", "PBr7-burnt", "lemon-yellow", "PY35", "PBr7-raw", "sap-green", "PB35",
    "PB28", "PB29", "PB27", "PBk9", "PW4",
)  # fmt: skip
COAT_ML: Final = 0.04  # of the data set's paint: one full-strength coat
SURFACE: Final = 0.04  # Fresnel reflection of the binder; what the glossiest film hides of it
MATT: Final = 0.035  # of it that a matt surface sends to the eye
FILM: Final = 0.4  # coats after which the surface is the paint's own
GRID: Final = np.linspace(np.log(1e-3), np.log(80.0), 46)  # depths of the table
NOISE: Final = 0.012  # of the square root of reflectance, model and measurement together


@dataclass(frozen=True, eq=False)
class Pigments:
    """Per full coat: absorb, scatter (13, 36) optical depths; sheen (13,) of a thick film.

    soak: share of the first coat between the fibres. crowd: how much less pigment scatters
    where it lies thick, per coat.
    """

    absorb: Floats
    scatter: Floats
    sheen: Floats
    soak: float
    crowd: float


def sheen_of(amounts: Floats, sheen: Floats, matt: float = MATT) -> Floats:
    """(...) surface reflection that reaches the eye; amounts (..., 13) of all coats together."""
    whole = amounts.sum(axis=-1)
    own = (amounts @ sheen) / np.maximum(whole, 1e-9)
    return np.asarray(own + (matt - own) * np.exp(-whole / FILM))


def _crowding(coat: Floats, crowd: float) -> Floats:
    """(..., 1) by how much pigments that lie close scatter less; levels off in thick paint."""
    whole = coat.sum(axis=-1, keepdims=True)
    return np.asarray(1.0 + crowd * whole / (1.0 + whole / 8.0))


def stack(
    pigments: Pigments, paper: Paper, coats: Sequence[Floats], sealed: bool = False
) -> Floats:
    """Reflectance (..., 36) of coats (..., 13) over each other, bottom to top.

    sealed: paper.seen is then the even reflection of a ground without fibres, as under ink.
    """
    if not coats:
        return paper.seen.copy()
    pairs = []
    for coat in coats:
        scatter = coat @ pigments.scatter / _crowding(coat, pigments.crowd)
        pairs.append((coat @ pigments.absorb, scatter))
    fibres, base = (0.0, paper.seen) if sealed else (FIBRES, paper.base)
    inside = reflectance(layers_of(pairs, paper.soak, paper.later, fibres), base)
    whole = np.sum(coats, axis=0)
    return inside + sheen_of(whole, pigments.sheen, paper.sheen)[..., None]


# ------------------------------------------------------------------ the fit


class _Table:
    """Square root of what one coat sends back, by absorption and scattering, per band."""

    def __init__(self, paper: Paper) -> None:
        depth = np.exp(GRID)
        a, s = (g[..., None] for g in np.meshgrid(depth, depth, indexing="ij"))
        layers = layers_of([(a, s)], paper.soak, paper.later, FIBRES)
        seen = np.sqrt(reflectance(np.repeat(layers, N_BANDS, axis=2), paper.base))
        self.bands = [RectBivariateSpline(GRID, GRID, seen[:, :, b]) for b in range(N_BANDS)]

    def __call__(self, absorb: Floats, scatter: Floats) -> tuple[Floats, Floats, Floats]:
        """Values and slopes by ln absorption and ln scattering, all (n, 36)."""
        out = []
        x, y = (np.clip(np.log(v), GRID[0], GRID[-1]) for v in (absorb, scatter))
        for dx, dy in ((0, 0), (1, 0), (0, 1)):
            columns = [f.ev(x[:, b], y[:, b], dx, dy) for b, f in enumerate(self.bands)]
            out.append(np.stack(columns, axis=1))
        return out[0], out[1], out[2]


class _Problem:
    """Residuals and slopes by ln absorption, ln scattering (13, 36 each) and sheen (13,)."""

    def __init__(self, swatches: ntu.Swatches, soak: float, crowd: float) -> None:
        self.coats = swatches.amounts / COAT_ML
        self.root = np.sqrt(swatches.reflectance)
        self.thick = _crowding(self.coats, crowd)
        self.table = _Table(Paper(swatches.paper, soak, 0.0, MATT))
        self.n = len(KEYS) * N_BANDS
        self.smooth = _smoothness()
        self.seen: tuple[bytes, list[Floats]] = (b"", [])

    def _state(self, x: Floats) -> list[Floats]:
        if self.seen[0] != x.tobytes():
            absorb, scatter = np.exp(x[: 2 * self.n]).reshape(2, len(KEYS), N_BANDS)
            a, s = self.coats @ absorb, self.coats @ scatter / self.thick
            root, by_a, by_s = self.table(a, s)
            surface = sheen_of(self.coats, x[2 * self.n :])[:, None]
            out = np.sqrt(root**2 + surface)
            self.seen = (x.tobytes(), [absorb, scatter, a, s, root, by_a, by_s, out])
        return self.seen[1]

    def residuals(self, x: Floats) -> Floats:
        """How far every swatch is off, in units of noise, then how rough the curves are."""
        out = self._state(x)[-1]
        fit = (out - self.root) / NOISE
        return np.concatenate([fit.ravel(), self.smooth @ x])

    def slopes(self, x: Floats) -> csr_array:
        """Sparse: a swatch depends on its own pigments, band by band."""
        absorb, scatter, a, s, root, by_a, by_s, out = self._state(x)
        chain = root / out / NOISE
        i, p = np.nonzero(self.coats)
        q = self.coats[i, p][:, None]
        da = chain[i] * by_a[i] * q * absorb[p] / a[i]
        ds = chain[i] * by_s[i] * q * scatter[p] / (self.thick[i] * s[i])
        row = i[:, None] * N_BANDS + np.arange(N_BANDS)
        column = p[:, None] * N_BANDS + np.arange(N_BANDS)
        whole = self.coats.sum(axis=1)
        film = self.coats[i, p] / whole[i] * (1 - np.exp(-whole[i] / FILM))
        dg = film[:, None] * 0.5 / out[i] / NOISE
        last = np.broadcast_to(2 * self.n + p[:, None], row.shape)
        entries = ((da, column), (ds, self.n + column), (dg, last))
        value = np.concatenate([v.ravel() for v, _ in entries])
        where = np.concatenate([c.ravel() for _, c in entries])
        shape = (self.root.size, len(x))
        return vstack([coo_array((value, (np.tile(row.ravel(), 3), where)), shape), self.smooth])


def _smoothness() -> csr_array:
    """Second differences along the spectrum; scattering also bends little and slopes little."""
    n = len(KEYS) * N_BANDS
    blocks = []
    for start, weight, order in ((0, 1.0, 2), (n, 8.0, 2), (n, 4.0, 1)):
        step = weight * np.diff(np.eye(N_BANDS), order, axis=0)
        for p in range(len(KEYS)):
            i, j = np.nonzero(step)
            shape = (len(step), 2 * n + len(KEYS))
            blocks.append(coo_array((step[i, j], (i, start + p * N_BANDS + j)), shape))
    return csr_array(vstack(blocks))


def fit(swatches: ntu.Swatches, soak: float = 0.3, crowd: float = 0.05) -> Pigments:
    """Pigments whose coats look most like the measured swatches."""
    problem = _Problem(swatches, soak, crowd)
    n = problem.n
    start = np.concatenate([np.full(n, np.log(4.0)), np.full(n, np.log(2.0)), np.full(13, 0.02)])
    low = np.concatenate([np.full(n, np.log(2e-3)), np.full(n, np.log(0.02)), np.zeros(13)])
    high = np.concatenate([np.full(2 * n, np.log(100.0)), np.full(13, SURFACE)])
    found = least_squares(
        problem.residuals, start, problem.slopes, bounds=(low, high), loss="soft_l1",
        x_scale="jac", max_nfev=60, ftol=1e-5,
    )  # fmt: skip
    absorb, scatter = np.exp(found.x[: 2 * n]).reshape(2, 13, N_BANDS)
    return Pigments(absorb, scatter, found.x[2 * n :], soak, crowd)


# ------------------------------------------------------------------ kept result


def _fingerprint() -> str:
    """Changes with the code of the model and of the fit."""
    text = inspect.getsource(card_optics) + inspect.getsource(sys.modules[__name__])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def measured_pigments() -> Pigments:
    """The fit to all measured swatches, from the cache when it is there.

    Raises CannotFetchError when the data are needed and cannot be had.
    """
    path = fetch_reference.CACHE / f"card-pigments-{_fingerprint()}.npz"
    if not path.is_file():
        found = fit(ntu.read(fetch_reference.open_ntu()))
        path.parent.mkdir(exist_ok=True)
        half = path.with_suffix(f".{os.getpid()}.npz")  # another run may read meanwhile
        np.savez(half, **vars(found))
        half.replace(path)
    with np.load(path) as kept:
        absorb, scatter, sheen = (kept[name] for name in ("absorb", "scatter", "sheen"))
        return Pigments(absorb, scatter, sheen, float(kept["soak"]), float(kept["crowd"]))


def errors(pigments: Pigments, swatches: ntu.Swatches) -> Floats:
    """(n,) CIE 1976 difference of every swatch under D65 [CIE15]."""
    paper = Paper(swatches.paper, pigments.soak, 0.0, MATT)
    fitted = stack(pigments, paper, [swatches.amounts[:, None, :] / COAT_ML])[:, 0]
    return np.asarray(np.linalg.norm(lab_d65(fitted) - lab_d65(swatches.reflectance), axis=1))


def main() -> None:
    """Say how well the model fits."""
    swatches = ntu.read(fetch_reference.open_ntu())
    off = errors(measured_pigments(), swatches)
    rows: dict[str, NDArray[np.bool_]] = {"single": ~swatches.mixed, "mixed": swatches.mixed}
    for name, chosen in rows.items():
        part = off[chosen]
        print(f"{name}: median {np.median(part):.2f}, 95 % {np.quantile(part, 0.95):.1f}")


if __name__ == "__main__":
    main()
