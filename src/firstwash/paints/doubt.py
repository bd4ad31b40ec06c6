"""What the doubt about paints means for what is seen: a covariance in CIELAB for every stack.

Two doubts add: each paint's curves may be off (`Paint.doubt`), the same way in every coat that
holds it; and the layer model itself misses, by `MODEL_LAB` per axis for a coat on paper, which
is what unseen measured mixtures leave beyond the paints [Chen2019], and by `GLAZE_LAB` more for
each further coat. No open data measures watercolour over watercolour: that last number is
assumed, and process inks over one another [FOGRA39] are missed by two to five times as much.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import LightName, light, reflectance_to_lab
from firstwash.optics.slopes import lab_slopes, see_stacks
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint

__all__ = ["GLAZE_LAB", "MODEL_LAB", "NINE_OF_TEN", "StackDoubt", "doubt_of_stacks"]

MODEL_LAB: Final = 1.0
GLAZE_LAB: Final = 1.0
NINE_OF_TEN: Final = 1.6449  # standard deviations to each side that hold 90 % of a normal
WITHIN: Final = 6.2514  # squared, in three dimensions: the 90 % point of chi-squared
DRAWS: Final = 256


@dataclass(frozen=True, eq=False)
class StackDoubt:
    """What stacks show and how far that may be off.

    lab: (n, 3) predicted. covariance: (n, 3, 3) of CIELAB. moves: (n, 3, m) how one spread of
    each factor of each paint moves it; the model's own error is not among them.
    """

    lab: NDArray[np.float64]
    covariance: NDArray[np.float64]
    moves: NDArray[np.float64]

    @property
    def lightness(self) -> NDArray[np.float64]:
        """(n, 2) L* that nine of ten such stacks lie between."""
        reach = NINE_OF_TEN * np.sqrt(self.covariance[:, 0, 0])
        return np.clip(np.stack([self.lab[:, 0] - reach, self.lab[:, 0] + reach], 1), 0.0, 100.0)

    @property
    def ends(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, 3) CIELAB at the lighter and the darker end of that range.

        The other two coordinates go with L* as the covariance says.
        """
        reach = NINE_OF_TEN / np.sqrt(self.covariance[:, :1, 0])
        way = self.covariance[:, :, 0] * reach
        lighter, darker = self.lab + way, self.lab - way
        for end in (lighter, darker):
            np.clip(end[:, 0], 0.0, 100.0, out=end[:, 0])
        return lighter, darker

    def holds(self, lab: FloatArray) -> NDArray[np.bool_]:
        """(n,) whether colours (n, 3) lie in the region said to hold nine of ten."""
        off = np.asarray(lab) - self.lab
        steps = np.linalg.solve(self.covariance, off[:, :, None])[:, :, 0]
        return np.asarray((off * steps).sum(axis=1) <= WITHIN)

    def differences(self, seed: int = 0) -> NDArray[np.float64]:
        """(n,) CIEDE2000 that nine of ten such stacks stay within."""
        rng = np.random.default_rng(seed)
        half = rng.standard_normal((DRAWS // 2, 3))
        z = np.vstack([half, -half])
        root = np.linalg.cholesky(self.covariance)
        drawn = self.lab[:, None] + z[None] @ root.transpose(0, 2, 1)
        plain = np.broadcast_to(self.lab[:, None], drawn.shape)
        return np.asarray(np.quantile(delta_e_2000(drawn, plain), 0.9, axis=1))


def doubt_of_stacks(
    paper: Paper, paints: Sequence[Paint], amounts: FloatArray, under: LightName = "D65"
) -> StackDoubt:
    """What stacks of coats show on a paper and how unsure that is.

    amounts: (n, coats, paints) bottom to top, ≥ 0, in units of the paints' own curves.
    """
    k, s = (np.array([getattr(p, name) for p in paints]) for name in ("k", "s"))
    seen = see_stacks(paper, amounts @ k, amounts @ s)
    lab = reflectance_to_lab(seen.reflectance, under)
    by_r = lab_slopes(seen.reflectance, light(under))
    moves = [
        _moves(by_r, seen.by_k, seen.by_s, np.asarray(amounts)[:, :, i], one)
        for i, one in enumerate(paints)
    ]
    both = np.concatenate(moves, axis=2)
    coats = (np.asarray(amounts) > 0).any(axis=2).sum(axis=1)
    model = MODEL_LAB**2 * (coats > 0) + GLAZE_LAB**2 * np.maximum(coats - 1, 0)
    covariance = both @ both.transpose(0, 2, 1) + np.maximum(model, 1e-8)[:, None, None] * np.eye(3)
    return StackDoubt(lab, covariance, both)


def _moves(
    by_r: FloatArray, by_k: FloatArray, by_s: FloatArray, amount: FloatArray, paint: Paint
) -> NDArray[np.float64]:
    """(n, 3, m) CIELAB by each factor of one paint, through every coat that holds it."""
    in_k = (by_k * amount[:, :, None]).sum(axis=1) * paint.k
    in_s = (by_s * amount[:, :, None]).sum(axis=1) * paint.s
    factors = paint.doubt
    return np.asarray(
        (by_r * in_k[:, None]) @ factors[:, :N_BANDS].T
        + (by_r * in_s[:, None]) @ factors[:, N_BANDS:].T
    )
