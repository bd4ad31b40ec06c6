"""The lamp of a picture by its likeness to pictures whose lamps are known.

The averages, slopes and hills of a picture are compared with those of drawn examples; kernel
ridge regression ([Saunders1998]), as [Agarwal2006] use it for lamps. The examples are in
`data/lamp_likes.csv`, made by `tools/fit_lamps.py`.
"""

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["Likes", "known_likes"]


@dataclass(frozen=True, eq=False)
class Likes:
    """mean, width: (m,) of each sign. examples: (n, m), in widths from the mean. weights: (n, 4)
    and middle: (4,), for the log colours of the lamp and of lamp over shade. narrow: the kernel.
    """

    mean: NDArray[np.float64]
    width: NDArray[np.float64]
    examples: NDArray[np.float64]
    weights: NDArray[np.float64]
    middle: NDArray[np.float64]
    narrow: float

    def told(self, signs: FloatArray) -> NDArray[np.float64]:
        """Log colours (..., 4) of the lamp and of lamp over shade, by signs (..., m)."""
        z = (signs - self.mean) / self.width
        return np.asarray(kernel(z, self.examples, self.narrow) @ self.weights + self.middle)


def kernel(one: FloatArray, other: FloatArray, narrow: float) -> NDArray[np.float64]:
    """Likeness (..., n), 1 for the same, of signs (..., m) to examples (n, m)."""
    square = (one * one).sum(axis=-1)[..., None] + (other * other).sum(axis=-1)
    away = square - 2.0 * one @ other.T
    return np.asarray(np.exp(-narrow * np.maximum(away, 0.0)))


@cache
def known_likes() -> Likes:
    """The examples of `data/lamp_likes.csv`."""
    text = resources.files("firstwash.light").joinpath("data/lamp_likes.csv").read_text("utf-8")
    rows: dict[str, list[list[float]]] = {}
    for line in text.strip().splitlines()[1:]:
        name, *values = line.split(",")
        rows.setdefault(name, []).append([float(v) for v in values])
    table = np.array(rows["example"])
    mean, width = (np.array(rows[name][0]) for name in ("mean", "width"))
    signs = len(mean)
    return Likes(
        mean, width, table[:, :signs], table[:, signs:], np.array(rows["middle"][0]),
        rows["narrow"][0][0],
    )  # fmt: skip
