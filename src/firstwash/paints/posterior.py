"""Paints learned from painted swatches: the most plausible curves, and how sure they are.

Everything unknown is written as standard normal numbers x: the curves of each paint around
what was thought of them before (`Belief`), the slips of the hand (`SwatchData.slips`), the
paper's three numbers, and what is unsure about who looked (`Watcher`). The most plausible x
minimises |x|² plus the robust squares of the residuals, by damped Gauss-Newton; around it the
doubt left over is taken as normal (Laplace's approximation), scaled by the noise met.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

from firstwash.arrays import FloatArray
from firstwash.optics.grid import N_BANDS
from firstwash.optics.slopes import see_stacks
from firstwash.optics.surface import Paper
from firstwash.paints.seeing import Watcher
from firstwash.paints.spread import squeezed
from firstwash.paints.swatches import SwatchData

__all__ = ["Belief", "Learned", "learn"]

STEPS: Final = 40
ENOUGH: Final = 1e-5  # relative gain below which two steps in a row end the fit
FREEDOM: Final = 5.0  # of the t-distribution that swatches err by; a few are spoiled
# Assumed, no source; a card narrows the paper's spread further (card.outcome).
PAPER_SPREAD: Final = (0.8, 0.5, 0.25)  # of logit soak, ln fibre scattering, logit k2
LOG_LIMITS: Final = (-12.0, 6.0)


@dataclass(frozen=True, eq=False)
class Belief:
    """What is thought of one paint: ln K and ln S (72,), and its spread (m, 72)."""

    mean: NDArray[np.float64]
    spread: NDArray[np.float64]

    @property
    def k(self) -> NDArray[np.float64]:
        """(36,) absorption depth of amount 1."""
        return np.asarray(np.exp(self.mean[:N_BANDS]))

    @property
    def s(self) -> NDArray[np.float64]:
        """(36,) scattering depth of amount 1."""
        return np.asarray(np.exp(self.mean[N_BANDS:]))


@dataclass(frozen=True, eq=False)
class Learned:
    """What swatches taught.

    beliefs: of each paint, now. paper: with the soak found. predicted: (n, 36) reflectance of
    each swatch. residuals: (n, q) as the watcher tells them, for the amounts found. amounts:
    (parts,). own: what was found of the watcher. noise: the factor by which residuals are
    larger than the watcher expected, at least 1.
    """

    beliefs: tuple[Belief, ...]
    paper: Paper
    predicted: NDArray[np.float64]
    residuals: NDArray[np.float64]
    amounts: NDArray[np.float64]
    own: NDArray[np.float64]
    noise: float


def learn(
    data: SwatchData,
    watcher: Watcher,
    before: Sequence[Belief],
    paper: Paper,
    paper_spread: Sequence[float] = PAPER_SPREAD,
    believe: bool = True,
) -> Learned:
    """The paints as the swatches show them.

    before: a belief for each of data.paints; one with no factors (0, 72) stays as it is.
    paper: the painter's bare paper, with a first guess of soak, fibres and k2.
    believe: let the swatches teach about the watcher, too. If not, the watcher stays as it is
    thought of, and what is unsure about it only widens the paints' spreads: right where the
    layer model's own error would otherwise pass for the watcher's.
    """
    problem = _Problem(data, watcher, tuple(before), paper, np.array(paper_spread), believe)
    with threadpool_limits(1):  # the matrices are small; waiting threads cost more than work
        x = _most_plausible(problem)
        return _told(problem, x)


@dataclass(frozen=True, eq=False)
class _Problem:
    data: SwatchData
    watcher: Watcher
    before: tuple[Belief, ...]
    paper: Paper
    paper_spread: NDArray[np.float64]
    believe: bool = True

    @property
    def starts(self) -> list[int]:
        """Where in x each paint begins, then the slips, the paper and the watcher; the end."""
        sizes = [len(b.spread) for b in self.before]
        sizes += [self.data.n_slips, len(self.paper_spread), self.watcher.unsure]
        return [0, *np.cumsum(sizes).tolist()]

    @property
    def free(self) -> int:
        """How many of the numbers in x are fitted: the watcher's come last."""
        return self.starts[-1] if self.believe else self.starts[-2]

    def covariance(self, curvature: FloatArray) -> NDArray[np.float64]:
        """Of the fitted numbers; what is unsure about a watcher not fitted passes through."""
        free = self.free
        inverse = np.linalg.inv(curvature[:free, :free])
        passed = inverse @ curvature[:free, free:]
        return np.asarray(inverse + passed @ passed.T)

    def split(self, x: FloatArray) -> tuple[list[FloatArray], FloatArray, FloatArray, FloatArray]:
        at = self.starts
        pieces = [x[a:b] for a, b in pairwise(at)]
        return pieces[:-3], pieces[-3], pieces[-2], pieces[-1]

    def curves(self, z: Sequence[FloatArray]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        logs = np.array([b.mean + own @ b.spread for b, own in zip(self.before, z, strict=True)])
        both = np.exp(np.clip(logs, *LOG_LIMITS))
        return both[:, :N_BANDS], both[:, N_BANDS:]

    def sheet(self, g: FloatArray) -> Paper:
        """The paper with its soak, fibres and k2 moved by g (3,)."""
        if not len(g):
            return self.paper
        moved = g * self.paper_spread
        soak, k2 = self.paper.soak, self.paper.k2
        return replace(
            self.paper,
            soak=_moved_share(soak, float(moved[0])),
            fibre_scattering=max(self.paper.fibre_scattering, 1e-3) * float(np.exp(moved[1])),
            k2=_moved_share(k2, float(moved[2])),
        )

    def value(self, x: FloatArray) -> float:
        """The loss: |x|² and the robust squares."""
        z, u, g, own = self.split(x)
        k, s = self.curves(z)
        depths = self.data.depths(k, s, self.data.amounts(u))
        seen = see_stacks(self.sheet(g), *depths, self.data.ground)
        r = self.watcher.residuals(seen.reflectance, own)
        squares = (r**2).sum(axis=1)
        return float(x @ x + ((FREEDOM + r.shape[1]) * np.log1p(squares / FREEDOM)).sum())

    def quadratic(self, x: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Half the gradient and half the Gauss-Newton curvature of the loss at x."""
        r, jacobian = self.linear(x)
        weight = (FREEDOM + r.shape[1]) / (FREEDOM + (r**2).sum(axis=1))
        flat = jacobian.reshape(-1, len(x))
        heavy = np.repeat(weight, r.shape[1])[:, None] * flat
        gradient, curvature = heavy.T @ r.ravel() + x, heavy.T @ flat + np.eye(len(x))
        return gradient, curvature

    def linear(self, x: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Residuals (n, q) and their slopes (n, q, len(x))."""
        z, u, g, own = self.split(x)
        k, s = self.curves(z)
        amounts = self.data.amounts(u)
        depths = self.data.depths(k, s, amounts)
        seen = see_stacks(self.sheet(g), *depths, self.data.ground)
        r = self.watcher.residuals(seen.reflectance, own)
        by_r, by_own = self.watcher.slopes(seen.reflectance, own)
        out = np.zeros((*r.shape, len(x)))
        d, at = self.data, self.starts
        where = (d.swatch, d.coat)
        by_log_k = seen.by_k[where] * amounts[:, None] * k[d.paint]  # (parts, 36)
        by_log_s = seen.by_s[where] * amounts[:, None] * s[d.paint]
        eye = by_r[d.swatch]  # (parts, q, 36)
        for p, belief in enumerate(self.before):
            mine = d.paint == p
            if not len(belief.spread) or not mine.any():
                continue
            both = np.concatenate(
                [eye[mine] * by_log_k[mine, None], eye[mine] * by_log_s[mine, None]], axis=2
            )
            np.add.at(out[:, :, at[p] : at[p + 1]], d.swatch[mine], both @ belief.spread.T)
        by_amount = (eye * (by_log_k + by_log_s)[:, None]).sum(axis=2)
        n = len(self.before)
        np.add.at(out[:, :, at[n] : at[n + 1]], d.swatch, by_amount[:, :, None] * d.slips[:, None])
        for j in range(len(g)):
            step = 1e-5  # x is of order one; error of the slope near 1e-5
            moved = g.copy()
            moved[j] += step
            other = see_stacks(self.sheet(moved), *depths, d.ground).reflectance
            by_g = (other - seen.reflectance) / step
            out[:, :, at[n + 1] + j] = (by_r * by_g[:, None]).sum(axis=2)
        out[:, :, at[n + 2] :] = by_own
        return r, out


def _moved_share(share: float, by: float) -> float:
    """A share 0-1 moved by `by` on the logistic scale."""
    odds = np.log(np.clip(share, 1e-3, 1 - 1e-3) / (1.0 - np.clip(share, 1e-3, 1 - 1e-3)))
    return float(1.0 / (1.0 + np.exp(-(odds + by))))


def _most_plausible(problem: _Problem) -> NDArray[np.float64]:
    x = np.zeros(problem.starts[-1])
    value, damping, idle = problem.value(x), 1e-2, 0
    for _ in range(STEPS):
        gradient, curvature = problem.quadratic(x)
        free = problem.free
        diagonal = np.diag(curvature)[:free]
        before = value
        while damping < 1e8:
            matrix = curvature[:free, :free] + np.diag(damping * diagonal)
            move = cho_solve(
                cho_factor(matrix, check_finite=False), gradient[:free], check_finite=False
            )
            trial = x.copy()
            trial[:free] -= np.clip(move, -2.0, 2.0)
            if (found := problem.value(trial)) < value:
                x, value, damping = trial, found, max(damping / 4.0, 1e-9)
                break
            damping *= 5.0
        idle = idle + 1 if before - value < ENOUGH * before else 0
        if idle >= 2 or damping >= 1e8:
            break
    return x


def _told(problem: _Problem, x: FloatArray) -> Learned:
    """The beliefs at x with the doubt left over."""
    r, _ = problem.linear(x)
    _, curvature = problem.quadratic(x)
    covariance = problem.covariance(curvature)
    noise = _noise(r, covariance)
    z, u, g, own = problem.split(x)
    at = problem.starts
    beliefs = []
    for p, belief in enumerate(problem.before):
        if not len(belief.spread):
            beliefs.append(belief)
            continue
        block = covariance[at[p] : at[p + 1], at[p] : at[p + 1]]
        # No more doubt than before: the noise factor stretches what the swatches told only.
        block = _between(np.asarray(block * noise**2))
        root = np.linalg.cholesky(block + 1e-12 * np.eye(len(block)))
        mean = np.clip(belief.mean + z[p] @ belief.spread, *LOG_LIMITS)
        beliefs.append(Belief(mean, squeezed(root.T @ belief.spread)))
    k, s = problem.curves(z)
    amounts = problem.data.amounts(u)
    paper = problem.sheet(g)
    seen = see_stacks(paper, *problem.data.depths(k, s, amounts), problem.data.ground)
    return Learned(
        tuple(beliefs),
        paper,
        seen.reflectance,
        r,
        amounts,
        np.asarray(own, dtype=np.float64),
        noise,
    )


def _between(block: NDArray[np.float64]) -> NDArray[np.float64]:
    """A covariance with no direction wider than 1, which is what was thought before."""
    values, vectors = np.linalg.eigh(block)
    return np.asarray((vectors * np.clip(values, 0.0, 1.0)) @ vectors.T)


def _noise(r: FloatArray, covariance: FloatArray) -> float:
    """How many times larger the residuals are than expected; at least 1."""
    weight = (FREEDOM + r.shape[1]) / (FREEDOM + (r**2).sum(axis=1))
    used = len(covariance) - float(np.trace(covariance))  # numbers that the swatches settled
    free = max(r.size - used, 0.25 * r.size)
    return float(max(np.sqrt((weight[:, None] * r**2).sum() / free), 1.0))
