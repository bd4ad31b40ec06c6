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

__all__ = ["Camera", "Instrument", "Look", "Watcher"]

LEAST: Final = 1e-4  # reflectance below which a root is not taken any smaller
GAMMA: Final = 2.2  # about how a file's codes answer to light [IEC61966-2-1]
LUMINANCE: Final = np.array([0.2126, 0.7152, 0.0722])  # of red, green, blue [IEC61966-2-1]


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
    that is unsure. They make the picture more colourful as well: in the file's own codes, about
    the 2.2nd root, each number moves away from their luminance by the share `colourful`. stray:
    light, as a share of paper, that lies over everything. The last two are (mean, spread).
    """

    seen: NDArray[np.float64]
    spread: NDArray[np.float64]
    paper: NDArray[np.float64]
    response: NDArray[np.float64]
    responses: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, N_BANDS, 3)))
    bend: NDArray[np.float64] = field(default_factory=lambda: np.zeros(3))
    bends: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 3)))
    colourful: tuple[float, float] = (0.0, 0.0)
    stray: tuple[float, float] = (0.0, 0.0)

    @property
    def unsure(self) -> int:
        """The response's directions, the tones', colourfulness and stray light."""
        return len(self.responses) + len(self.bends) + 2

    def now(self, own: FloatArray) -> "Look":
        """How it looks for its own numbers (unsure,)."""
        r = len(self.responses)
        return Look(
            self.response + np.tensordot(own[:r], self.responses, 1),
            self.bend + own[r:-2] @ self.bends,
            float(self.colourful[0] + self.colourful[1] * own[-2]),
            float(self.stray[0] + self.stray[1] * own[-1]),
        )

    def residuals(self, reflectance: FloatArray, own: FloatArray) -> NDArray[np.float64]:
        """(n, 3) differences of cube roots, over their spread."""
        look = self.now(own)
        seen = look.seen(look.logs(reflectance, self.paper))
        return np.asarray((np.cbrt(seen) - np.cbrt(np.maximum(self.seen, LEAST))) / self.spread)

    def slopes(
        self, reflectance: FloatArray, own: FloatArray
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, 3, 36) by reflectance, (n, 3, unsure) by the camera's own numbers."""
        look = self.now(own)
        log = look.logs(reflectance, self.paper)
        seen, by_toned, by_colourful, by_stray = look.slopes(log)
        outer = 1.0 / (3.0 * np.cbrt(seen) ** 2) / self.spread
        by_toned = by_toned * outer[:, :, None]  # (n, 3 seen, 3 toned)
        half = 0.5 * log
        bend = look.bend
        slope = 1.0 + bend[0] + 2.0 * bend[1] * half + 3.0 * bend[2] * half**2
        raw, white = reflectance @ look.response, self.paper @ look.response
        given = np.maximum(raw, LEAST)
        by_share = by_toned * np.where(raw > LEAST, slope, 0.0)[:, None, :]
        r = len(self.responses)
        by_own = np.empty((*log.shape, self.unsure))
        for j, way in enumerate(self.responses):
            moved = (reflectance @ way) / given - (self.paper @ way) / white
            by_own[:, :, j] = np.einsum("nij,nj->ni", by_share, moved)
        ways = np.stack([log, log * half, log * half**2], axis=2) @ self.bends.T
        by_own[:, :, r:-2] = np.einsum("nij,njb->nib", by_toned, ways)
        by_own[:, :, -2] = by_colourful * outer * self.colourful[1]
        by_own[:, :, -1] = by_stray * outer * self.stray[1]
        return np.einsum("nij,bj->nib", by_share / given[:, None, :], look.response), by_own


@dataclass(frozen=True, eq=False)
class Look:
    """A camera with all its numbers told; see `Camera`."""

    response: NDArray[np.float64]
    bend: NDArray[np.float64]
    colourful: float
    stray: float

    def logs(self, reflectance: FloatArray, paper: FloatArray) -> NDArray[np.float64]:
        """ln of the true shares of paper (n, 3)."""
        white = paper @ self.response
        return np.asarray(np.log(np.maximum(reflectance @ self.response, LEAST) / white))

    def toned(self, log: FloatArray) -> NDArray[np.float64]:
        """ln of the shares with the tones bent."""
        half = 0.5 * np.asarray(log)
        bent = 1.0 + self.bend[0] + self.bend[1] * half + self.bend[2] * half**2
        return np.asarray(log * bent)

    def _coded(self, log: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Codes (n, 3) before and after the picture is made more colourful."""
        plain = np.exp(self.toned(log) / GAMMA)
        grey = (plain @ LUMINANCE)[:, None]
        return plain, np.maximum(plain + self.colourful * (plain - grey), 0.01)

    def seen(self, log: FloatArray) -> NDArray[np.float64]:
        """(n, 3) shares of paper as the file tells them."""
        light_ = self._coded(log)[1] ** GAMMA
        return np.asarray(np.maximum((light_ + self.stray) / (1.0 + self.stray), LEAST))

    def slopes(self, log: FloatArray) -> tuple[NDArray[np.float64], ...]:
        """seen; its slopes (n, 3, 3) by `toned`; and (n, 3) by colourful and by stray."""
        plain, code = self._coded(log)
        seen = self.seen(log)
        by_code = np.where(code > 0.01, GAMMA * code ** (GAMMA - 1.0), 0.0) / (1.0 + self.stray)
        mix = (1.0 + self.colourful) * np.eye(3) - self.colourful * LUMINANCE[None]
        by_toned = by_code[:, :, None] * mix[None] * (plain / GAMMA)[:, None, :]
        away = plain - (plain @ LUMINANCE)[:, None]
        return seen, by_toned, by_code * away, (1.0 - seen) / (1.0 + self.stray)

    def shares(self, seen: FloatArray) -> NDArray[np.float64]:
        """ln of the true shares (n, 3) behind what the file tells; inverse of `seen`."""
        share = np.maximum(np.asarray(seen) * (1.0 + self.stray) - self.stray, LEAST)
        code = share ** (1.0 / GAMMA)
        grey = (code @ LUMINANCE)[:, None]  # making it colourful keeps the luminance of the codes
        plain = np.maximum(grey + (code - grey) / (1.0 + self.colourful), 0.01)
        goal = GAMMA * np.log(plain)
        log = goal.copy()
        for _ in range(15):  # Newton on the tone curve
            half = 0.5 * log
            slope = 1.0 + self.bend[0] + 2 * self.bend[1] * half + 3 * self.bend[2] * half**2
            log -= np.clip((self.toned(log) - goal) / np.maximum(slope, 0.2), -1.0, 1.0)
        return np.asarray(log)
