"""Fit K and S of the 13 measured paints jointly, and write src/firstwash/paints/data/measured.*.

All single-pigment swatches and all mixtures of NTU WPSM [Chen2019] are explained at once by
the very layer model that predicts a painting (`firstwash.optics.stack`): a puddle adds its
paints' K and S by amount, the coat soaks partly into the paper, and one frozen surface lies
on top. Free are ln K and ln S per paint and band, and three numbers shared by all swatches:
the fraction that soaks in, the scattering of the fibres there, and k2 of the surface.

Loss of one swatch, e its CIE 1976 ΔE*ab (D65, 2°), R in [0, 1]:

    robust · ln(1 + e²/robust) + spectral · mean over bands of (√R̂ − √R)²

averaged over swatches (single pigments count less), plus second differences of ln K and
ln S over wavelength and a weak pull towards K = S = 1. Minimised by damped Gauss-Newton
from a start that looks at single pigments only.

Run: python tools/fit_measured.py           fit everything, write the tables
     python tools/fit_measured.py --check   figures on unseen mixtures; 1 if they fall short
"""

import argparse
import json
import math
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import nnls
from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

from fetch_reference import CannotFetchError, open_ntu
from firstwash.optics.difference import delta_e_1976
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.optics.observer import light, reflectance_to_lab
from firstwash.optics.slopes import lab_slopes
from firstwash.optics.stack import first_coat_gradient_1, stages
from firstwash.optics.surface import Paper
from ntu import N_PIGMENTS, PIGMENTS, Swatches, read

__all__ = [
    "FOLDS",
    "UNIT_ML",
    "Figures",
    "Fit",
    "LeakError",
    "Settings",
    "as_tables",
    "check_unseen",
    "figures",
    "fit",
    "fold_of_pair",
    "leave_pairs_out",
    "naive",
    "predict",
    "relative_uncertainty",
    "thin_end",
    "unseen_mixtures",
]

Floats = NDArray[np.float64]

OUT: Final = Path(__file__).parents[1] / "src/firstwash/paints/data"
UNIT_ML: Final = 0.04  # amount 1.0: one full-strength coat; the data go up to 0.16 ml
K1: Final = 0.02  # outer surface reflection, held fixed as in every prediction
FOLDS: Final = 5
WITHIN: Final = 5.0  # ΔE*ab that counts as a match in [Chen2019]
NOISE: Final = 0.8  # ΔE*ab of one swatch: second differences along the dilution series, rms/√6

# What --check asks for: share of the test mixtures and of left-out pairs within 5, and the
# median on the test mixtures.
REQUIRED_TEST: Final = 0.93
REQUIRED_MEDIAN: Final = 2.1
REQUIRED_LEFT_OUT: Final = 0.87

N_CURVES: Final = 2 * N_PIGMENTS * N_BANDS
N_SHARED: Final = 3  # logit soak, ln fibre scattering, logit k2
SHARED_START: Final = np.array([math.log(0.68 / 0.32), math.log(2.0), math.log(0.7 / 0.3)])
SHARED_PULL: Final = np.array([0.3, 0.01, 0.05])  # weights of a weak pull to that start
LOG_LIMITS: Final = (-9.0, 5.0)

# A full coat does this much of what 0.04 ml does, and is this much of the strongest coat of a
# hand, as with the estimated paints. Common practice, no source.
MOST_DARKENING: Final = 0.9
OF_FULL: Final = 0.7

# Catalogue key and Colour Index names in the data set's order; names assumed, see NOTE.
PAINTS: Final[tuple[tuple[str, tuple[str, ...]], ...]] = (
    ("PR108", ("PR108",)),
    ("PR83", ("PR83",)),
    ("PBr7-burnt", ("PBr7",)),
    ("lemon-yellow", ()),
    ("PY35", ("PY35",)),
    ("PBr7-raw", ("PBr7",)),
    ("sap-green", ()),
    ("PB35", ("PB35",)),
    ("PB28", ("PB28",)),
    ("PB29", ("PB29",)),
    ("PB27", ("PB27",)),
    ("PBk9", ("PBk9",)),
    ("PW4", ("PW4",)),
)
ASSUMED: Final = "Colour Index name assumed from the trade name; the data give trade names only."
UNKNOWN: Final = "Pigments unknown: the data give the trade name only, and makers differ."


class LeakError(AssertionError):
    """A mixture that should be predicted unseen was among the fitted ones."""


@dataclass(frozen=True)
class Settings:
    """Weights of the loss; chosen by leaving out pairs of the training rows only."""

    smooth_k: float = 0.005  # on squared second differences of ln K per 10 nm
    smooth_s: float = 10.0  # scattering varies slowly with wavelength
    ridge: float = 1e-4  # on (ln K)² and (ln S)²: decides only what no swatch shows
    robust: float = 30.0  # ΔE², beyond which a swatch counts as an outlier
    spectral: float = 4000.0
    colour: float = 1.0
    single: float = 0.3  # weight of a single-pigment swatch against a mixture's 1
    steps: int = 60
    tolerance: float = 1e-6  # relative gain below which three steps in a row end the fit


@dataclass(frozen=True)
class Fit:
    """Fitted curves of all paints and the paper they lie on, with the swatches they saw.

    theta: (936 + 3,) ln K (13, 36), ln S (13, 36), then the shared three.
    """

    theta: Floats
    seen: Swatches
    loss: float
    steps: int

    @cached_property
    def k(self) -> Floats:
        """(13, 36) absorption depth of one full-strength coat."""
        return _curves(self.theta)[0]

    @cached_property
    def s(self) -> Floats:
        """(13, 36) scattering depth of one full-strength coat."""
        return _curves(self.theta)[1]

    @cached_property
    def paper(self) -> Paper:
        """The data set's paper with the fitted soak, fibres and k2."""
        return _paper(self.theta, self.seen.paper)


def _curves(theta: Floats) -> tuple[Floats, Floats]:
    both = np.exp(theta[:N_CURVES]).reshape(2, N_PIGMENTS, N_BANDS)
    return both[0], both[1]


def _logistic(v: float) -> float:
    return 1.0 / (1.0 + math.exp(-v))


def _paper(theta: Floats, white: Floats) -> Paper:
    soak, fibres, k2 = (float(v) for v in theta[N_CURVES:])
    return Paper(
        "white paper of the measurements",
        white,
        k1=K1,
        k2=_logistic(k2),
        soak=_logistic(soak),
        fibre_scattering=math.exp(fibres),
    )


@njit(cache=True)
def _swatches(kx, sx, ground, soak, fibre_k, fibre_s, k1, k2, out, by_k, by_s):  # type: ignore[no-untyped-def]
    """Reflectance (n, 36) of one coat on the paper, and its slopes by kx and sx."""
    for i in range(kx.shape[0]):
        for b in range(kx.shape[1]):
            inside, slope_k, slope_s = first_coat_gradient_1(
                kx[i, b], sx[i, b], ground[b], soak, fibre_k[b], fibre_s
            )
            gap = 1.0 - k2 * inside
            out[i, b] = k1 + (1.0 - k1) * (1.0 - k2) * inside / gap
            slope = (1.0 - k1) * (1.0 - k2) / (gap * gap)
            by_k[i, b] = slope * slope_k
            by_s[i, b] = slope * slope_s


def _forward(theta: Floats, data: Swatches) -> tuple[Floats, Floats, Floats]:
    """Reflectance (n, 36) of the swatches and its slopes by kx and sx."""
    k, s = _curves(theta)
    paper = _paper(theta, data.paper)
    amounts = data.amounts / UNIT_ML
    out, by_k, by_s = (np.empty((len(amounts), N_BANDS)) for _ in range(3))
    fibres = (paper.soak, paper.fibre_absorption, paper.fibre_scattering)
    _swatches(amounts @ k, amounts @ s, paper.inside, *fibres, paper.k1, paper.k2, out, by_k, by_s)
    return out, by_k, by_s


def _by_shared(theta: Floats, data: Swatches, base: Floats) -> Floats:
    """(n, 36, 3) slopes of reflectance by the shared numbers, by small differences."""
    step = 1e-6  # numbers of order one; error of the slope near 1e-6
    slopes = []
    for j in range(N_SHARED):
        moved = theta.copy()
        moved[N_CURVES + j] += step
        slopes.append((_forward(moved, data)[0] - base) / step)
    return np.asarray(np.stack(slopes, axis=-1))


class Quadratic(NamedTuple):
    """A loss, its gradient, and its Gauss-Newton curvature, all in `theta`."""

    value: float
    gradient: Floats
    curvature: Floats


@dataclass(frozen=True)
class _Problem:
    """One fit: what is to be explained and how errors count."""

    data: Swatches
    settings: Settings

    @cached_property
    def lab(self) -> Floats:
        return reflectance_to_lab(self.data.reflectance)

    @cached_property
    def root(self) -> Floats:
        return np.sqrt(self.data.reflectance)

    @cached_property
    def weight(self) -> Floats:
        weight = np.where(self.data.mixed, 1.0, self.settings.single)
        return np.asarray(weight / weight.sum())

    @cached_property
    def pull(self) -> tuple[Floats, Floats]:
        """Curvature and centre of the quadratic in `theta` that holds the curves smooth."""
        bend = np.diff(np.eye(N_BANDS), n=2, axis=0)
        eye = self.settings.ridge * np.eye(N_BANDS)
        out = np.zeros((N_CURVES + N_SHARED,) * 2)
        for i in range(2 * N_PIGMENTS):
            smooth = self.settings.smooth_k if i < N_PIGMENTS else self.settings.smooth_s
            block = slice(i * N_BANDS, (i + 1) * N_BANDS)
            out[block, block] = smooth * bend.T @ bend + eye
        shared = np.arange(N_CURVES, N_CURVES + N_SHARED)
        out[shared, shared] = SHARED_PULL
        return out, np.concatenate([np.zeros(N_CURVES), SHARED_START])

    @cached_property
    def groups(self) -> list[tuple[tuple[int, ...], NDArray[np.int64]]]:
        """Pigments of each pair (or the one pigment) and the rows that hold it."""
        pairs, which = np.unique(self.data.pair, axis=0, return_inverse=True)
        return [
            (tuple(dict.fromkeys(int(p) for p in pair)), np.flatnonzero(which.ravel() == i))
            for i, pair in enumerate(pairs)
        ]

    def _errors(self, reflectance: Floats) -> tuple[Floats, Floats, Floats]:
        """CIELAB differences (n, 3), root of reflectance and its differences (n, 36)."""
        root = np.sqrt(np.maximum(reflectance, 1e-6))
        return reflectance_to_lab(reflectance) - self.lab, root, root - self.root

    def _value(self, theta: Floats, d_lab: Floats, d_root: Floats) -> float:
        s = self.settings
        colour = s.robust * np.log1p((d_lab**2).sum(axis=1) / s.robust)
        each = s.colour * colour + s.spectral * (d_root**2).mean(axis=1)
        pull, centre = self.pull
        away = theta - centre
        return float(self.weight @ each + away @ pull @ away)

    def value(self, theta: Floats) -> float:
        """The loss alone."""
        d_lab, _, d_root = self._errors(_forward(theta, self.data)[0])
        return self._value(theta, d_lab, d_root)

    def _in_reflectance(
        self, reflectance: Floats, d_lab: Floats, root: Floats, d_root: Floats
    ) -> tuple[Floats, Floats]:
        """Gradient (n, 36) and curvature (n, 36, 36) of the loss by reflectance."""
        s = self.settings
        slopes = lab_slopes(reflectance, light("D65"))
        w_lab = 2.0 * s.colour * self.weight / (1.0 + (d_lab**2).sum(axis=1) / s.robust)
        w_root = 2.0 * s.spectral * self.weight[:, None] / N_BANDS * 0.5 / root
        gradient = np.einsum("n,nl,nlb->nb", w_lab, d_lab, slopes) + w_root * d_root
        curvature = np.matmul(slopes.transpose(0, 2, 1) * w_lab[:, None, None], slopes)
        bands = np.arange(N_BANDS)
        curvature[:, bands, bands] += w_root * 0.5 / root
        return gradient, curvature

    def quadratic(self, theta: Floats) -> Quadratic:
        """Loss, gradient and Gauss-Newton curvature at `theta`."""
        reflectance, by_k, by_s = _forward(theta, self.data)
        d_lab, root, d_root = self._errors(reflectance)
        local = self._in_reflectance(reflectance, d_lab, root, d_root)
        shared = _by_shared(theta, self.data, reflectance)
        pull, centre = self.pull
        gradient = 2.0 * pull @ (theta - centre)
        curvature = 2.0 * pull
        for pigments, rows in self.groups:
            amounts = self.data.amounts[rows][:, pigments, None] / UNIT_ML
            curves = [c[list(pigments)] for c in _curves(theta)]
            slopes = np.concatenate(
                [by[rows, None] * amounts * c for by, c in zip((by_k, by_s), curves, strict=True)],
                axis=1,
            )
            _add(gradient, curvature, _columns(pigments), slopes, shared[rows], local, rows)
        return Quadratic(self._value(theta, d_lab, d_root), gradient, curvature)


def _columns(pigments: tuple[int, ...]) -> NDArray[np.int64]:
    """Places in `theta` of these pigments' ln K, then ln S, then the shared numbers."""
    starts = [(half * N_PIGMENTS + p) * N_BANDS for half in (0, 1) for p in pigments]
    curves = [np.arange(start, start + N_BANDS) for start in starts]
    return np.concatenate([*curves, np.arange(N_CURVES, N_CURVES + N_SHARED)])


def _add(
    gradient: Floats,
    curvature: Floats,
    columns: NDArray[np.int64],
    slopes: Floats,
    shared: Floats,
    local: tuple[Floats, Floats],
    rows: NDArray[np.int64],
) -> None:
    """Add swatches with the same pigments; slopes (rows, curves, 36), shared (rows, 36, 3)."""
    by_r, bend = local[0][rows], local[1][rows]
    n = slopes.shape[1] * N_BANDS
    half = slopes[:, :, :, None] * bend[:, None]  # (rows, curves, 36, 36)
    block = np.empty((len(columns),) * 2)
    block[:n, :n] = np.einsum("rpab,rqb->paqb", half, slopes).reshape(n, n)
    block[:n, n:] = np.einsum("rpab,rbg->pag", half, shared).reshape(n, -1)
    block[n:, :n] = block[:n, n:].T
    bent = np.einsum("rab,rbh->rah", bend, shared)
    block[n:, n:] = np.einsum("rag,rah->gh", shared, bent)
    curvature[np.ix_(columns, columns)] += block
    gradient[columns[:n]] += np.einsum("rpb,rb->pb", slopes, by_r).ravel()
    gradient[columns[n:]] += np.einsum("rbg,rb->g", shared, by_r)


def _start(data: Swatches) -> Floats:
    """Curves guessed from each pigment's single swatch at one unit, as if it hid the paper."""
    log_k, log_s = np.zeros((2, N_PIGMENTS, N_BANDS))
    for p in range(N_PIGMENTS):
        own = ~data.mixed & np.isclose(data.amounts[:, p], UNIT_ML)
        r = np.clip(data.reflectance[own][0], 0.03, 0.95)
        ratio = np.log((1.0 - r) ** 2 / (2.0 * r))
        log_k[p] = np.clip(0.5 * ratio + math.log(0.8), -4.0, 2.0)
        log_s[p] = np.clip(-0.5 * ratio + math.log(0.5), -4.0, 1.0)
    return np.concatenate([log_k.ravel(), log_s.ravel(), SHARED_START])


def _step(problem: _Problem, theta: Floats, at: Quadratic, damping: float) -> tuple[Floats, float]:
    """The first damped Gauss-Newton step that lowers the loss; damping inf when none does."""
    diagonal = np.diag(at.curvature) + 1e-4
    while damping < 1e6:
        matrix = at.curvature + np.diag(damping * diagonal)
        move = cho_solve(cho_factor(matrix, check_finite=False), at.gradient, check_finite=False)
        trial = theta - np.clip(move, -1.5, 1.5)
        trial[:N_CURVES] = np.clip(trial[:N_CURVES], *LOG_LIMITS)
        if problem.value(trial) < at.value:
            return trial, damping
        damping *= 4.0
    return theta, math.inf


def _minimise(problem: _Problem, theta: Floats) -> tuple[Floats, Quadratic, int]:
    """Where three steps in a row gain next to nothing; its loss and the steps taken."""
    damping, idle, steps = 1e-2, 0, 0
    at = problem.quadratic(theta)
    while steps < problem.settings.steps and idle < 3:
        theta, damping = _step(problem, theta, at, damping)
        if math.isinf(damping):
            break
        before, at = at.value, problem.quadratic(theta)
        idle = idle + 1 if before - at.value < problem.settings.tolerance * before else 0
        damping = max(damping / 3.0, 1e-7)
        steps += 1
    return theta, at, steps


def fit(data: Swatches, settings: Settings | None = None) -> Fit:
    """Curves of all 13 paints that explain `data` best; every pigment needs its 0.04 ml swatch.

    Runs on one thread: the matrices are small, and waiting threads would cost more than work.
    """
    with threadpool_limits(1):
        theta, at, steps = _minimise(_Problem(data, settings or Settings()), _start(data))
    return Fit(theta, data, at.value, steps)


def naive(data: Swatches) -> Fit:
    """Each band by itself, from single pigments only: what a joint fit is to be compared with."""
    lone = Settings(smooth_k=0.0, smooth_s=0.0, ridge=1e-6, colour=0.0, single=1.0)
    return fit(data.take(~data.mixed), lone)


def predict(fitted: Fit, data: Swatches) -> Floats:
    """Reflectance (n, 36) of swatches, by the function that predicts paintings."""
    amounts = data.amounts / UNIT_ML
    coats = zip(amounts @ fitted.k, amounts @ fitted.s, strict=True)
    return np.array([stages(fitted.paper, kx[None], sx[None])[-1] for kx, sx in coats])


def errors(fitted: Fit, data: Swatches) -> Floats:
    """(n,) CIE 1976 ΔE*ab of the predictions, D65, CIE 1931 2°."""
    return delta_e_1976(
        reflectance_to_lab(predict(fitted, data)), reflectance_to_lab(data.reflectance)
    )


class Figures(NamedTuple):
    """Share within ΔE*ab 5, median and 95th percentile."""

    within: float
    median: float
    p95: float
    swatches: int

    def __str__(self) -> str:
        """One line for people."""
        return (
            f"{100 * self.within:5.1f} % within ΔE*ab {WITHIN:g}, median {self.median:.2f}, "
            f"95th percentile {self.p95:.2f} ({self.swatches} swatches)"
        )


def figures(error: Floats) -> Figures:
    """What is quoted of a set of ΔE*ab (n,)."""
    middle, high = (float(v) for v in np.percentile(error, [50, 95]))
    return Figures(float((error <= WITHIN).mean()), middle, high, len(error))


def check_unseen(fitted: Fit, held_out: Swatches) -> None:
    """Raise LeakError if any held-out swatch is among the swatches the fit really saw.

    Compared are the amounts of all 13 pigments, so the order of a pair cannot hide a leak,
    and the measured spectra.
    """
    for name in ("amounts", "reflectance"):
        seen, held = (np.round(getattr(d, name), 6) + 0.0 for d in (fitted.seen, held_out))
        both = {row.tobytes() for row in seen} & {row.tobytes() for row in held}
        if both:
            raise LeakError(f"{len(both)} held-out swatches were seen in fitting (same {name})")


def unseen_mixtures(data: Swatches, settings: Settings | None = None) -> tuple[Fit, Floats]:
    """Fit without the data set's test mixtures, and ΔE*ab (156,) of exactly those."""
    fitted = fit(data.take(~data.test), settings)
    held = data.take(data.test)
    check_unseen(fitted, held)
    return fitted, errors(fitted, held)


def fold_of_pair(data: Swatches) -> NDArray[np.int64]:
    """(n,) fold 0-4 of each mixture, the same for all ten recipes of a pair; -1 for one pigment."""
    pairs, which = np.unique(data.pair[data.mixed], axis=0, return_inverse=True)
    folds = np.random.default_rng(0).permutation(len(pairs)) % FOLDS
    out = np.full(len(data.pair), -1)
    out[data.mixed] = folds[which.ravel()]
    return out


def leave_pairs_out(data: Swatches, settings: Settings | None = None) -> Floats:
    """CIELAB (n, 3) of each mixture by a fit that saw none of its pair; NaN for one pigment."""
    fold = fold_of_pair(data)
    out = np.full((len(fold), 3), np.nan)
    for i in range(FOLDS):
        held = data.take(fold == i)
        fitted = fit(data.take(fold != i), settings)
        check_unseen(fitted, held)
        out[fold == i] = reflectance_to_lab(predict(fitted, held))
    return out


def relative_uncertainty(fitted: Fit, data: Swatches, error: Floats) -> Floats:
    """(13,) relative one-sigma uncertainty of each paint's K and S.

    error: (n,) ΔE*ab of the mixtures in `data`, each predicted without its pair. K and S of a
    paint are taken as off by two independent factors exp(σ·z); σ² ≥ 0 per paint is the
    least-squares match of the squared errors so predicted to those met beyond the noise.
    """
    reflectance, by_k, by_s = _forward(fitted.theta, data)
    slopes = lab_slopes(reflectance, light("D65"))
    amounts = data.amounts / UNIT_ML
    gain = np.zeros((len(amounts), N_PIGMENTS))
    for by, curves in ((by_k, fitted.k), (by_s, fitted.s)):
        moved = by[:, None] * amounts[:, :, None] * curves  # (n, 13, 36), by ln of the curve
        gain += (np.einsum("nlb,npb->npl", slopes, moved) ** 2).sum(axis=-1)
    excess = np.maximum(error**2 - NOISE**2, 0.0)
    return np.asarray(np.sqrt(nnls(gain, excess)[0]))


def as_tables(fitted: Fit, left_out: Floats) -> tuple[str, str]:
    """measured.csv and measured.json as text; left_out: (n, 3) from `leave_pairs_out`."""
    data = fitted.seen
    own = errors(fitted, data)
    mixed = data.mixed
    beyond = delta_e_1976(left_out[mixed], reflectance_to_lab(data.reflectance[mixed]))
    sigma = relative_uncertainty(fitted, data.take(mixed), beyond)
    head = ["nm", *(f"{key} {name}" for key, _ in PAINTS for name in "KS")]
    curves = np.stack([fitted.k, fitted.s], axis=1).reshape(2 * N_PIGMENTS, N_BANDS)
    lines = [
        f"{nm}," + ",".join(f"{v:.5g}" for v in column)
        for nm, column in zip(WAVELENGTHS_NM, curves.T, strict=True)
    ]
    told = _description(fitted, own, sigma)
    return "\n".join([",".join(head), *lines]) + "\n", json.dumps(
        told, ensure_ascii=False, indent=1
    ) + "\n"


def full_coat(k: Floats, s: Floats, paper: Paper) -> float:
    """Amount of a paint (36,) (36,) in the strongest coat that a hand lays, at most 1.

    Some swatches hold many times the paint that shows. The least amount that does nine tenths of
    what 0.04 ml does, to lightness or to the mean of the cube roots of X, Y and Z (a yellow
    hardly darkens but takes all the blue), counts as seven tenths of a full coat.
    """
    amounts = np.geomspace(1e-3, 1.0, 400)
    coats = [stages(paper, a * k[None], a * s[None]) for a in amounts]
    roots = np.cbrt([[r @ light("D65").weights / light("D65").white for r in c] for c in coats])
    darker = roots[:, 0] - roots[:, 1]
    seen = np.stack([darker[:, 1], darker.mean(axis=1)])
    first = (seen >= MOST_DARKENING * seen[:, -1:]).argmax(axis=1).min()
    return float(min(amounts[first] / OF_FULL, 1.0))


def _description(fitted: Fit, own: Floats, sigma: Floats) -> dict[str, Any]:
    paper, data, k, s = fitted.paper, fitted.seen, fitted.k, fitted.s
    paints = []
    for i, (key, pigments) in enumerate(PAINTS):
        rows = data.amounts[:, i] > 0
        paints.append(
            {
                "key": key,
                "name": PIGMENTS[i],
                "pigments": list(pigments),
                "note": ASSUMED if pigments else UNKNOWN,
                "fit_error": round(float(np.median(own[rows])), 2),
                "sigma": round(float(sigma[i]), 3),
                "thinnest_measured": round(float(data.amounts[rows, i].min()) / UNIT_ML, 3),
                "full_coat": round(full_coat(k[i], s[i], paper), 3),
            }
        )
    return {
        "format": 1,
        "provenance": "measured",
        "source": "NTU WPSM spectra [Chen2019], fitted by tools/fit_measured.py",
        "paper": {
            "name": paper.name,
            "reflectance": [round(float(v), 3) for v in paper.reflectance],
            "k1": paper.k1,
            "k2": round(paper.k2, 4),
            "soak": round(paper.soak, 4),
            "fibre_scattering": round(paper.fibre_scattering, 4),
            "provenance": "bare paper of NTU WPSM [Chen2019]; k1 assumed; k2, soak and "
            "fibre_scattering fitted together with the paints by tools/fit_measured.py",
        },
        "paints": paints,
    }


def thin_end(fitted: Fit, data: Swatches) -> list[str]:
    """Per paint, how dense its thinnest swatch by itself already is: where the data end."""
    lines = [f"{'paint':<16}{'ml':>6}{'L*':>6}{'largest K+S':>14}{'smallest K+S':>14}"]
    for i, name in enumerate(PIGMENTS):
        rows = np.flatnonzero(~data.mixed & (data.amounts[:, i] > 0))
        row = rows[np.argmin(data.amounts[rows, i])]
        depth = data.amounts[row, i] / UNIT_ML * (fitted.k[i] + fitted.s[i])
        lightness = reflectance_to_lab(data.reflectance[row])[0]
        lines.append(
            f"{name:<16}{data.amounts[row, i]:6.2f}{lightness:6.0f}"
            f"{depth.max():14.1f}{depth.min():14.2f}"
        )
    return lines


def report(data: Swatches) -> bool:
    """Print the figures on unseen mixtures; True if they are as good as required."""
    mixtures = data.mixed
    plain = naive(data)
    check_unseen(plain, data.take(mixtures))
    fitted, error = unseen_mixtures(data)
    known = reflectance_to_lab(data.reflectance[mixtures])
    left_out = figures(delta_e_1976(leave_pairs_out(data)[mixtures], known))
    test = figures(error)
    lines = {
        "naive (single pigments only), test mixtures": figures(errors(plain, data.take(data.test))),
        "naive (single pigments only), all mixtures": figures(errors(plain, data.take(mixtures))),
        "joint, fitted mixtures": figures(errors(fitted, data.take(mixtures & ~data.test))),
        "joint, fitted single pigments": figures(errors(fitted, data.take(~mixtures))),
        "joint, unseen test mixtures": test,
        f"joint, whole pairs left out, {FOLDS}-fold": left_out,
    }
    print("CIE 1976 ΔE*ab, D65, CIE 1931 2°, surface frozen as in every prediction")
    for name, value in lines.items():
        print(f"{name:<44}{value}")
    print("Thinnest swatch of each paint by itself, optical depth over the bands:")
    print("\n".join(thin_end(fitted, data)))
    return (
        test.within >= REQUIRED_TEST
        and test.median <= REQUIRED_MEDIAN
        and left_out.within >= REQUIRED_LEFT_OUT
    )


def write(data: Swatches) -> None:
    """Fit everything and write the shipped tables."""
    table, told = as_tables(fit(data), leave_pairs_out(data))
    (OUT / "measured.csv").write_text(table, encoding="utf-8")
    (OUT / "measured.json").write_text(told, encoding="utf-8")


def main() -> int:
    """Check or write; the exit status says whether the figures are as required."""
    parser = argparse.ArgumentParser(description="Fit the measured paints.")
    parser.add_argument("--check", action="store_true", help="print figures on unseen mixtures")
    wanted = parser.parse_args()
    try:
        data = read(open_ntu())
    except CannotFetchError as error:
        sys.exit(str(error))
    if not wanted.check:
        write(data)
        return 0
    try:
        return 0 if report(data) else 1
    except LeakError as error:
        print(error)
        return 2


if __name__ == "__main__":
    sys.exit(main())
