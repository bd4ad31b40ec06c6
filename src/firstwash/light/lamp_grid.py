"""All the colours a lamp might have, and how well each agrees with what the picture tells.

A grid over log red/green and log blue/green of linear sRGB. Before looking, colours near those
of glowing bodies ([Krystek1985]; daylight lies close by, [CIE15]) are likelier than others. What
the averages and each highlight tell is weighed against that as [Brainard1997] do, and the answer
is the mean of what remains likely. How far to trust each was fitted on drawn pictures
(`tools/fit_lamps.py`); the figures are in `data/lamps.csv`.
"""

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.light.gloss_cues import Rises, likeness
from firstwash.light.lamp_words import glow_rgb, log_colour, rgb_of

__all__ = [
    "Belief",
    "Evidence",
    "Fitted",
    "believed",
    "candidates",
    "evidence",
    "explained",
    "fitted",
]

STEP = 0.05
RED, BLUE = (-1.2, 1.6), (-3.4, 1.4)  # log red/green, log blue/green of the lamps thought of
WARMEST, COOLEST = 480.0, 60.0  # mired of the glowing bodies: 2080 K to 16700 K
FIRST_NEAR, FIRST_TAIL = 0.05, 2.0  # the belief by which highlights are measured
KEPT = 500  # of the likeliest candidates by the averages
FREE = 0.10  # of the foot: how much more or less of the skin's own light the top may have
ERROR, GRAIN = 0.03, 0.003  # of the rise; of the picture's white
HEAVY = 6.0  # degrees of freedom of the averages' error


@dataclass(frozen=True, eq=False)
class Candidates:
    """logs: (n, 2) log red/green and blue/green; units: (n, 3) unit vectors; away: (n,) log units
    from the glowing bodies; prior: (n,), sum 1.
    """

    logs: NDArray[np.float64]
    units: NDArray[np.float64]
    away: NDArray[np.float64]
    prior: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Fitted:
    """What was fitted.

    spread: (4, 4) covariance of the error of what is told by likeness (`lamp_likes`). near, tail,
    power, alone, most: how the glowing bodies, the averages, repeated hills and one hill count.
    trust: (12,) weights of a hill's qualities. within: 80 % of the errors are under this many
    of the belief's own spreads; shade: the same of the shade's own error, in degrees.
    """

    spread: NDArray[np.float64]
    near: float
    tail: float
    power: float
    alone: float
    most: float
    trust: NDArray[np.float64]
    within: float
    shade: float


@dataclass(frozen=True, eq=False)
class Belief:
    """units: (n, 3) unit vectors; likely: (n,) how likely each is, sum 1."""

    units: NDArray[np.float64]
    likely: NDArray[np.float64]

    def mean(self) -> NDArray[np.float64]:
        """The likely colour (3,), a unit vector."""
        middle = self.likely @ self.units
        return np.asarray(middle / np.linalg.norm(middle))

    def spread(self) -> float:
        """Root mean square angle from the mean, in degrees."""
        angles = np.degrees(np.arccos(np.clip(self.units @ self.mean(), -1.0, 1.0)))
        return float(np.sqrt(self.likely @ angles**2))


@cache
def candidates() -> Candidates:
    """The grid, with what is believed before looking."""
    red, blue = (np.arange(low, high + STEP / 2, STEP) for low, high in (RED, BLUE))
    logs = np.stack(np.meshgrid(red, blue, indexing="ij"), axis=-1).reshape(-1, 2)
    rgb = rgb_of(logs)
    glow = log_colour(glow_rgb(1e6 / np.linspace(COOLEST, WARMEST, 160)))
    away = np.sqrt(((logs[:, None] - glow) ** 2).sum(axis=-1)).min(axis=1)
    prior = (1.0 + (away / FIRST_NEAR) ** 2) ** -FIRST_TAIL + 1e-4
    units = rgb / np.linalg.norm(rgb, axis=1, keepdims=True)
    return Candidates(logs, units, away, prior / prior.sum())


@cache
def fitted() -> Fitted:
    """The figures of `data/lamps.csv`."""
    text = resources.files("firstwash.light").joinpath("data/lamps.csv").read_text("utf-8")
    rows: dict[str, list[list[float]]] = {}
    for line in text.strip().splitlines()[1:]:
        name, *values = line.split(",")
        rows.setdefault(name, []).append([float(v) for v in values if v])
    single = {name: values[0][0] for name, values in rows.items() if len(values[0]) == 1}
    return Fitted(spread=np.array(rows["spread"]), trust=np.array(rows["trust"][0]), **single)


@dataclass(frozen=True, eq=False)
class Evidence:
    """What speaks for each of the n likeliest candidates.

    units: (n, 3). averages: (n,) log likelihood. away: (n,) from the glowing bodies. fits: (hills,
    n), see `explained`. same: (hills,) how many say the same. asked: (hills, 12) what the trust
    in each depends on.
    """

    units: NDArray[np.float64]
    averages: NDArray[np.float64]
    away: NDArray[np.float64]
    fits: NDArray[np.float64]
    same: NDArray[np.float64]
    asked: NDArray[np.float64]


def evidence(rises: Rises, middle: FloatArray, spread: FloatArray) -> Evidence:
    """What speaks for the likeliest candidates.

    middle: (2,) log colour by the averages; spread: (2, 2) covariance of its error.
    """
    grid = candidates()
    off = grid.logs - middle
    square = np.einsum("ni,ij,nj->n", off, np.linalg.inv(spread), off)
    averages = -0.5 * (HEAVY + 2.0) * np.log1p(square / HEAVY)
    kept = np.argsort(-(averages + np.log(grid.prior)), kind="stable")[:KEPT]
    same = likeness(rises)
    q = rises.qualities
    asked = np.column_stack([np.ones(len(q)), q, q[:, (4, 3, 2)] ** 2, np.log(same)])
    fits = explained(rises)[:, kept]
    return Evidence(grid.units[kept], averages[kept], grid.away[kept], fits, same, asked)


def believed(seen: Evidence, use: Fitted | None = None) -> Belief:
    """What is believed of the lamp's colour after all that was seen.

    Each hill raises the lamps that explain it; hills that say the same count as few.
    """
    use = use or fitted()
    total = use.power * seen.averages - use.tail * np.log1p((seen.away / use.near) ** 2)
    sure = 1.0 / (1.0 + np.exp(-(seen.asked @ use.trust)))[:, None]
    raised = np.log1p(sure * (np.minimum(seen.fits, use.most) - 1.0))
    total = total + (seen.same**-use.alone) @ raised
    likely = np.exp(total - total.max())
    return Belief(seen.units, likely / likely.sum())


def explained(rises: Rises) -> NDArray[np.float64]:
    """How well each candidate explains each hill (hills, candidates); 1 is no better than chance.

    A rise is some of the lamp, a little more or less of the skin's own light, and an error.
    """
    grid = candidates()
    size = ERROR * np.linalg.norm(rises.rise, axis=1) + GRAIN
    out = np.empty((len(size), len(grid.prior)))
    for i, (foot, rise, error) in enumerate(zip(rises.foot, rises.rise, size, strict=True)):
        weight = np.linalg.inv(error**2 * np.eye(3) + FREE**2 * np.outer(foot, foot))
        along = np.maximum(grid.units @ (weight @ rise), 0.0)
        length = ((grid.units @ weight) * grid.units).sum(axis=1)
        left = float(rise @ weight @ rise) - along**2 / length
        out[i] = np.exp(-0.5 * np.maximum(left, 0.0))
    return out / np.maximum(out @ grid.prior, 1e-6)[:, None]
