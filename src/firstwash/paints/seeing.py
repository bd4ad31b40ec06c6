"""Who looked at the swatches: an instrument that tells spectra, or a camera with three numbers.

A watcher turns predicted reflectances into residuals that would each have spread 1 if paints
and amounts were right, and says how they answer to the reflectance and to what is unsure about
the watcher itself (`unsure`, standard normal numbers).
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import light, reflectance_to_lab
from firstwash.optics.slopes import lab_slopes

__all__ = ["Camera", "Instrument", "Watcher"]

LEAST: Final = 1e-4  # reflectance below which a root is not taken any smaller


class Watcher(Protocol):
    """What a fit needs of whoever looked."""

    @property
    def unsure(self) -> int:
        """How many standard normal numbers the watcher's own doubt takes."""

    def residuals(self, reflectance: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        """(n, q) residuals for reflectances (n, 36); own: (unsure,)."""

    def slopes(
        self, reflectance: FloatArray, own: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, q, 36) slopes by reflectance and (n, q, unsure) by the watcher's own doubt."""


@dataclass(frozen=True, eq=False)
class Instrument:
    """A spectrophotometer: reflectance (n, 36) of each swatch.

    lab: spread of CIELAB per axis that measuring and the layer model leave, one for all or
    (n,). root: spread of the square root of reflectance in one band, likewise; large, because
    the bands err together: it only settles what the colour leaves open. sheen: (n, u) or None,
    how far each of u unsure numbers lifts each swatch's surface reflection: a glossy film sends
    more light straight into some instruments; it is the instrument's, and no prediction
    carries it. Defaults: as the measured paints are fitted
    (`tools/fit_measured.py`).
    """

    seen: NDArray[np.float64]
    lab: NDArray[np.float64] | float = 1.2
    root: NDArray[np.float64] | float = 0.11
    sheen: NDArray[np.float64] | None = None

    @property
    def unsure(self) -> int:
        """One number for each profile of the surface's sheen."""
        return 0 if self.sheen is None else int(self.sheen.shape[1])

    def _shining(self, reflectance: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        if self.sheen is None:
            return np.asarray(reflectance, dtype=np.float64)
        return np.asarray(reflectance + (self.sheen @ own)[:, None] * (1.0 - reflectance))

    @cached_property
    def _spread(self) -> NDArray[np.float64]:
        """(n, 39) what each residual is told in."""
        out = np.empty((len(self.seen), 3 + N_BANDS))
        out[:, :3] = np.reshape(self.lab, (-1, 1))
        out[:, 3:] = np.reshape(self.root, (-1, 1))
        return out

    @cached_property
    def _goal(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return reflectance_to_lab(self.seen), np.sqrt(np.maximum(self.seen, LEAST))

    def residuals(self, reflectance: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        """(n, 39): CIELAB, then the roots band by band."""
        reflectance = self._shining(reflectance, own)
        lab, root = self._goal
        off = reflectance_to_lab(reflectance) - lab
        return np.hstack([off, np.sqrt(np.maximum(reflectance, LEAST)) - root]) / self._spread

    def slopes(
        self, reflectance: FloatArray, own: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, 39, 36) by reflectance, (n, 39, unsure) by the sheen."""
        n, inside = len(reflectance), 1.0 - np.asarray(reflectance)
        reflectance = self._shining(reflectance, own)
        out = np.zeros((n, 3 + N_BANDS, N_BANDS))
        out[:, :3] = lab_slopes(np.asarray(reflectance), light("D65"))
        bands = np.arange(N_BANDS)
        out[:, 3 + bands, bands] = 0.5 / np.sqrt(np.maximum(reflectance, LEAST))
        out /= self._spread[:, :, None]
        if self.sheen is None:
            return out, np.zeros((n, 3 + N_BANDS, 0))
        by_own = np.einsum("nqb,nb->nq", out, inside)[:, :, None] * self.sheen[:, None]
        return out * (1.0 - self.sheen @ own)[:, None, None], by_own


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera: three numbers per swatch, each as a share of what bare paper gave there.

    seen: (n, 3) in linear light as far as the file tells, paper = 1. spread: (n, 3) of their
    cube roots, which are about even steps to the eye. paper: (36,) reflectance of the bare
    paper. response: (36, 3) light times sensor, any scale; responses: (r, 36, 3) directions in
    which it is unsure, one spread each. Phones bend the tones: with e the true share of paper,
    ln seen = ln e · (1 + bend · (1, ln e / 2, (ln e / 2)²)); bends: (b, 3) directions in which
    that is unsure. stray: spread of stray light, as a share of paper, that lies over everything.
    """

    seen: NDArray[np.float64]
    spread: NDArray[np.float64]
    paper: NDArray[np.float64]
    response: NDArray[np.float64]
    responses: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, N_BANDS, 3)))
    bend: NDArray[np.float64] = field(default_factory=lambda: np.zeros(3))
    bends: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 3)))
    stray: float = 0.0

    @property
    def unsure(self) -> int:
        """The response's directions, the tones', and stray light."""
        return len(self.responses) + len(self.bends) + 1

    def now(self, own: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
        """Response (36, 3), bend (3,) and stray light for its own numbers (unsure,)."""
        r = len(self.responses)
        response = self.response + np.tensordot(own[:r], self.responses, 1)
        return response, self.bend + own[r:-1] @ self.bends, float(self.stray * own[-1])

    def _toned(
        self, reflectance: FloatArray, own: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """ln of the share of paper (n, 3), that as toned, and the slope between them."""
        response, bend, _ = self.now(own)
        log = np.log(np.maximum(reflectance @ response, LEAST) / (self.paper @ response))
        half = 0.5 * log
        toned = log * (1.0 + bend[0] + bend[1] * half + bend[2] * half**2)
        slope = 1.0 + bend[0] + 2.0 * bend[1] * half + 3.0 * bend[2] * half**2
        return log, toned, slope

    def _seen(self, toned: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        stray = self.now(own)[2]
        return np.asarray(np.maximum((np.exp(toned) + stray) / (1.0 + stray), LEAST))

    def residuals(self, reflectance: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        """(n, 3) differences of cube roots, over their spread."""
        seen = self._seen(self._toned(reflectance, own)[1], own)
        return np.asarray((np.cbrt(seen) - np.cbrt(np.maximum(self.seen, LEAST))) / self.spread)

    def slopes(
        self, reflectance: FloatArray, own: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, 3, 36) by reflectance, (n, 3, unsure) by response, tones and stray light."""
        response, _, stray = self.now(own)
        log, toned, slope = self._toned(reflectance, own)
        seen = self._seen(toned, own)
        outer = 1.0 / (3.0 * np.cbrt(seen) ** 2) / self.spread / (1.0 + stray)
        inner = outer * np.exp(toned) * slope  # by ln of the share
        raw, white = reflectance @ response, self.paper @ response
        given = np.maximum(raw, LEAST)
        inner = np.where(raw > LEAST, inner, 0.0)  # darker than the sensor tells apart
        by_own = np.empty((*log.shape, self.unsure))
        for j, way in enumerate(self.responses):
            by_own[:, :, j] = inner * ((reflectance @ way) / given - (self.paper @ way) / white)
        ways = np.stack([log, log * (0.5 * log), log * (0.5 * log) ** 2], axis=2) @ self.bends.T
        by_own[:, :, len(self.responses) : -1] = (outer * np.exp(toned))[:, :, None] * ways
        by_own[:, :, -1] = outer * (1.0 - seen) * self.stray
        return (inner / given)[:, :, None] * response.T[None], by_own
