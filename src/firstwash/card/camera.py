"""What a phone's camera may be: how its three numbers come from light, and how sure that is.

No phone says how its sensor sees, what its maker's colour matrix does, or how it bends the
tones. So several hundred made-up phones are drawn: smooth sensors of plausible peaks and
widths (from memory), under lamps and daylights, each with the matrix that brings natural
reflectances nearest to the screen's colours, a little more or less colourful. Their mean and
main directions are what is thought of a camera before a picture is seen. A 24-patch colour
target in the picture narrows it down.
"""

import csv
import io
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from firstwash.arrays import FloatArray
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.optics.observer import light, xyz_to_linear_srgb
from firstwash.paints.seeing import Camera
from firstwash.paints.spread import squeezed_covariance

__all__ = ["CameraBelief", "learn_camera", "target_reflectance", "usual_camera"]

PHONES: Final = 400
UNLIKE: Final = 2.0  # real phones may differ by more than made-up ones; from trials
# The tone terms of `seeing.Camera`, colourfulness and stray light: means and spreads of what the
# target told of made-up phones in trials (tools/card_trials.py).
BEND: Final = (-0.20, -0.20, -0.01)
BENDS: Final = (0.14, 0.11, 0.06)
COLOURFUL: Final = (0.10, 0.06)
STRAY: Final = (0.007, 0.008)
PATCH_SPREAD: Final = 0.009  # of a target patch's cube root: print, glare and noise together
STEPS: Final = 25


@dataclass(frozen=True, eq=False)
class CameraBelief:
    """What is thought of a camera; see `seeing.Camera` for response, bend and their factors.

    known_by: "target" if a colour target was in the picture, else "habit". misfit: median
    difference left on the target's patches, about in steps of L*, or None. white: linear light
    (3,) that a perfect white would give at the target's centre, or None.
    """

    response: NDArray[np.float64]
    responses: NDArray[np.float64]
    bend: NDArray[np.float64]
    bends: NDArray[np.float64]
    colourful: tuple[float, float]
    stray: tuple[float, float]
    known_by: str
    misfit: float | None = None
    white: NDArray[np.float64] | None = None

    def told_of(self, share: float) -> "CameraBelief":
        """The same camera with its tones told from a paper that is `share` of a perfect white."""
        log = float(np.log(share))
        shift = np.array([[1.0, 0.0, 0.0], [log, 1.0, 0.0], [0.75 * log**2, 1.5 * log, 1.0]])
        return replace(self, bend=self.bend @ shift, bends=self.bends @ shift)

    def looking(self, seen: FloatArray, spread: FloatArray, paper: FloatArray) -> Camera:
        """This camera looking at swatches (n, 3) on a paper (36,)."""
        return Camera(
            np.asarray(seen), np.asarray(spread), np.asarray(paper), self.response,
            self.responses, self.bend, self.bends, self.colourful, self.stray,
        )  # fmt: skip


@cache
def target_reflectance() -> NDArray[np.float64]:
    """(24, 36) reflectance of the usual 24-patch target, row by row, the greys last. [colour]."""
    text = resources.files("firstwash.card").joinpath("data/target24.csv").read_text("utf-8")
    rows = list(csv.reader(io.StringIO(text)))[1:]
    return np.array(rows, dtype=float)[:, 1:].T.copy()


def _planck(kelvin: float) -> NDArray[np.float64]:
    """(36,) a black body's light, 1 at 560 nm."""
    metres = WAVELENGTHS_NM * 1e-9
    power = metres**-5 / np.expm1(0.014388 / (metres * kelvin))
    return np.asarray(power / power[WAVELENGTHS_NM == 560])


def _bump(centre: float, below: float, above: float) -> NDArray[np.float64]:
    width = np.where(centre > WAVELENGTHS_NM, below, above)
    return np.asarray(np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2))


def _lamp(rng: np.random.Generator) -> NDArray[np.float64]:
    kelvin = 1e6 / rng.uniform(130.0, 370.0)
    if rng.random() < 0.75:
        return _planck(kelvin)
    warm = (kelvin - 2700.0) / 5000.0  # a white LED: a blue line and a phosphor's broad hump
    return np.asarray(
        (0.35 + 0.9 * warm) * _bump(rng.uniform(445, 460), 10, 12)
        + _bump(rng.uniform(560, 600), rng.uniform(50, 60), rng.uniform(55, 70))
        + 0.02
    )


def _sensor(rng: np.random.Generator) -> NDArray[np.float64]:
    """(36, 3) a sensor's red, green and blue."""
    red = _bump(rng.normal(603, 8), rng.uniform(18, 32), rng.uniform(30, 48))
    green = _bump(rng.normal(533, 6), rng.uniform(30, 42), rng.uniform(30, 45))
    blue = _bump(rng.normal(459, 7), rng.uniform(22, 34), rng.uniform(24, 38))
    leak = rng.uniform(0.0, 0.10, (3, 3)) * (1 - np.eye(3))
    return np.asarray(np.stack([red, green, blue], 1) @ (np.eye(3) + leak))


def _natural(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """(count, 36) smooth reflectances: edges and humps of every colour."""
    out = np.empty((count, N_BANDS))
    for row in out:
        edge = 1.0 / (1.0 + np.exp(-(WAVELENGTHS_NM - rng.uniform(400, 700)) / rng.uniform(8, 40)))
        hump = _bump(rng.uniform(400, 700), rng.uniform(20, 80), rng.uniform(20, 80))
        shape = edge if rng.random() < 0.5 else hump
        shape = 1.0 - shape if rng.random() < 0.4 else shape
        low, high = np.sort(rng.uniform(0.03, 0.9, 2))
        row[:] = low + (high - low) * shape
    return out


def _phone(rng: np.random.Generator, natural: FloatArray, wanted: FloatArray) -> FloatArray:
    """(36, 3) what one made-up phone's linear screen colours answer to, white at 1."""
    raw = _sensor(rng) * _lamp(rng)[:, None]
    raw /= raw.sum(axis=0)
    seen = natural @ raw
    # The makers' matrix keeps greys grey: its rows sum to one, so only two columns are free.
    base = seen[:, :1]
    rest = seen[:, 1:] - base
    matrix = np.linalg.lstsq(rest, wanted - base, rcond=None)[0]
    whole = np.vstack([1.0 - matrix.sum(axis=0), matrix])
    response = raw @ whole
    luminance = response @ np.array([0.2126, 0.7152, 0.0722])  # [IEC61966-2-1]
    colourful = 1.0 + rng.uniform(-0.08, 0.08)
    response = luminance[:, None] + colourful * (response - luminance[:, None])
    mixed = np.eye(3) + rng.normal(0.0, 0.02, (3, 3))
    return np.asarray(response @ mixed)


def usual_camera(to_srgb: FloatArray | None = None) -> CameraBelief:
    """What is thought of a phone before its picture is seen.

    to_srgb: (3, 3) of the file's own primaries (`picture.load.Photo`); those of sRGB if left out.
    """
    matrix = np.eye(3) if to_srgb is None else np.asarray(to_srgb)
    return _usual(tuple(np.round(matrix, 6).ravel().tolist()))


@cache
def _usual(to_srgb: tuple[float, ...]) -> CameraBelief:
    rng = np.random.default_rng(20)
    natural = _natural(rng, 300)
    d65 = light("D65").weights
    wanted = xyz_to_linear_srgb(natural @ d65) @ np.linalg.inv(np.reshape(to_srgb, (3, 3))).T
    phones = np.array([_phone(rng, natural, wanted) for _ in range(PHONES)])
    phones /= phones.sum(axis=1, keepdims=True)
    mean = phones.mean(axis=0)
    off = (phones - mean).reshape(PHONES, -1)
    factors = UNLIKE * squeezed_covariance(off.T @ off / PHONES)
    return CameraBelief(
        mean, factors.reshape(-1, N_BANDS, 3), np.array(BEND), np.diag(BENDS), COLOURFUL, STRAY,
        known_by="habit",
    )  # fmt: skip


def learn_camera(before: CameraBelief, seen: FloatArray, places: FloatArray) -> CameraBelief:
    """The camera after it was seen to see the 24-patch target.

    seen: (24, 3) linear light of each patch, any scale common to all. places: (24, 2) where it
    lies on the target, from -1 to 1: the light may run evenly across it. Patches too dark or
    too bright to tell (not finite) are left out. Its tones are told from a perfect white.
    """
    fit = _TargetFit(before, np.asarray(seen, dtype=np.float64), np.asarray(places))
    return fit.learned()


class _TargetFit:
    """Gauss-Newton over the camera's own numbers and the light on the target."""

    LIGHT: Final = np.array([0.5, 0.10, 0.10])  # spread of ln exposure and of its two slopes

    def __init__(self, before: CameraBelief, seen: FloatArray, places: FloatArray) -> None:
        good = np.isfinite(seen).all(axis=1)
        self.before, self.places = before, places[good]
        self.reflectance = target_reflectance()[good]
        white = np.ones(N_BANDS)  # shares are told of a perfect white
        self.level = float(np.exp(np.median(np.log(np.maximum(seen[good], 1e-3)))))
        plain = np.exp(np.median(np.log(np.maximum(self.reflectance, 1e-3))))
        self.plain = float(plain)
        scaled = seen[good] * plain / self.level
        spread = PATCH_SPREAD + 0.02 * (scaled < 0.02)
        self.camera = before.looking(scaled, spread, white)
        self.own = np.zeros(self.camera.unsure)
        self.lit = np.zeros(3)

    def _linear(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Residuals (n, 3), and their slopes (n, 3, unsure + 3)."""
        c = self.camera
        basis = np.column_stack([np.ones(len(self.places)), self.places]) * self.LIGHT
        gain = np.exp(basis @ self.lit)
        plain = c.residuals(self.reflectance, self.own) * c.spread
        predicted = plain + np.cbrt(np.maximum(c.seen, 1e-4))  # cube roots
        lifted = predicted * np.cbrt(gain)[:, None]
        r = (lifted - np.cbrt(np.maximum(c.seen, 1e-4))) / c.spread
        _, by_own = c.slopes(self.reflectance, self.own)
        by_lit = (lifted / 3.0 / c.spread)[:, :, None] * basis[:, None]
        return r, np.concatenate([by_own * np.cbrt(gain)[:, None, None], by_lit], axis=2)

    def learned(self) -> CameraBelief:
        """The belief at the most plausible numbers."""
        size = len(self.own)
        for _ in range(STEPS):
            r, jacobian = self._linear()
            flat, weight = self._weighted(r, jacobian)
            x = np.concatenate([self.own, self.lit])
            curvature = flat.T @ (weight[:, None] * flat) + np.eye(len(x))
            move = cho_solve(cho_factor(curvature), flat.T @ (weight * r.ravel()) + x)
            move = np.clip(move, -1.0, 1.0)
            self.own, self.lit = self.own - move[:size], self.lit - move[size:]
            if np.abs(move).max() < 1e-5:
                break
        r, jacobian = self._linear()
        flat, weight = self._weighted(r, jacobian)
        curvature = flat.T @ (weight[:, None] * flat) + np.eye(len(x))
        covariance = np.linalg.inv(curvature)[:size, :size]
        return self._belief(covariance, r)

    @staticmethod
    def _weighted(
        r: FloatArray, jacobian: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        weight = 8.0 / (5.0 + (r**2).sum(axis=1))  # a t-distribution of 5 degrees of freedom
        flat = np.asarray(jacobian, dtype=np.float64).reshape(-1, jacobian.shape[2])
        return flat, np.asarray(np.repeat(weight, 3), dtype=np.float64)

    def _belief(self, covariance: FloatArray, r: FloatArray) -> CameraBelief:
        look = self.camera.now(self.own)
        n = len(self.before.responses)
        root = _root(covariance[:n, :n])
        tones = _root(covariance[n:-2, n:-2])
        left = np.sqrt(np.clip(np.diag(covariance)[-2:], 0.0, 1.0))
        misfit = float(np.median(np.sqrt(((r * self.camera.spread) ** 2).sum(axis=1))))
        return CameraBelief(
            look.response,
            np.tensordot(root, self.before.responses, 1),
            look.bend,
            tones @ self.before.bends,
            (look.colourful, float(left[0]) * self.before.colourful[1]),
            (look.stray, float(left[1]) * self.before.stray[1]),
            known_by="target",
            misfit=100.0 * misfit,  # a cube root of one hundredth is about one step of L*
            white=np.full(3, np.exp(self.LIGHT[0] * self.lit[0]) * self.level / self.plain),
        )


def _root(covariance: FloatArray) -> NDArray[np.float64]:
    """Rows whose squares add to a covariance of which no direction is wider than 1."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.clip(values, 0.0, 1.0))).T)
