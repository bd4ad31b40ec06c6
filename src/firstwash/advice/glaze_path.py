"""Whether two coats are opposites: found by laying the upper one weaker and stronger.

Painters call two paints complementary when one greys the other. Hue angles alone do not tell, for
what a coat takes depends on its whole spectrum and on what is left to take. So the glaze is
predicted at every strength from next to nothing to a full coat over what lies there, and what is
told is how near to grey the colour comes on the way.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from firstwash.advice.glaze_shift import Lab, chroma
from firstwash.arrays import FloatArray, triple
from firstwash.plan.bench import Bench
from firstwash.plan.neutral import hue_angle

__all__ = ["GREYISH", "NEUTRAL", "Opposed", "Path", "grey_path"]

Opposed = Literal[
    "complementary", "nearly", "in part", "no", "no hue beneath", "no hue above", "too dark", "same"
]  # fmt: skip

NEUTRAL: Final = 3.0  # C* up to which the eye takes a colour for grey, as in `plan.neutral`
# Own judgement.
GREYISH: Final = 8.0  # C* up to which a colour is a grey with a lean
HALVED: Final = 0.5  # of either coat's own C*: down to here the two still take much from each other
COLOURED: Final = 16.0  # C* that a glaze alone reaches at some strength to have a hue at all
TURNED: Final = 60.0  # degrees of hue between half and twice the strength where it is greyest
STEERED: Final = 2.0  # and distance in a*b*; with less of either it merely goes dark
HUELESS: Final = 8.0  # C* below which what lies beneath has no hue to lose
TOO_DARK: Final = 22.0  # L* of a very dark colour, as in `handout.words`: all that follows is dark
ALIKE: Final = 0.98  # cosine between the paints of two mixtures from which they are the same
DROWNED: Final = 0.4  # share of the lightness beneath that must be left, as in `plan.neutral`
WEAKEST: Final = 1e-3  # of a full coat
STEPS, FINE = 40, 12  # strengths tried, and tried again near the best


@dataclass(frozen=True)
class Path:
    """The way of a colour as the glaze over it goes from nothing to a full coat.

    opposed: what the two are to each other: opposites that meet in grey, or nearly; such as take
    much of each other's colour but do not; such as do not even that; one of them without a
    hue, or too dark to tell; or the same mixture twice. chroma: the least C* on the way that is
    not merely drowned in dark; lab: the colour there. strength: of the glaze there, share of a
    full coat; times: the same against the strength it is laid at. now: C* at that strength.
    turned: degrees (0-180) of hue between half and twice the greyest strength; two that only
    darken each other turn little.
    """

    opposed: Opposed
    chroma: float
    lab: Lab
    strength: float
    times: float
    now: float
    turned: float


def grey_path(bench: Bench, amounts: FloatArray, steps: int = STEPS, fine: int = FINE) -> Path:
    """How near to grey the last coat of a stack can bring what lies under it.

    amounts: (coats, colours) bottom to top, at least two coats. steps: strengths tried;
    fine: tried again around the best. The strength asked for is always among them.
    """
    under, laid = amounts[:-1], float(amounts[-1] @ bench.loads)
    glaze = amounts[-1] / laid
    before = bench.labs(under)[-1]
    tried = np.unique(np.append(np.geomspace(WEAKEST, max(1.0, laid), steps), laid))
    labs = _labs(bench, under, glaze, tried)
    best = _greyest(labs, float(before[0]))
    if fine:
        ends = tried[max(best - 1, 0)], tried[min(best + 1, len(tried) - 1)]
        tried = np.append(np.geomspace(*ends, fine), tried[best])
        labs = _labs(bench, under, glaze, tried)
        best = _greyest(labs, float(before[0]))
    least, strength = chroma(labs[best]), float(tried[best])
    turned, steered = _passed(_labs(bench, under, glaze, np.array([0.5, 2.0]) * strength))
    below, own = chroma(before), _alone(bench, glaze)
    opposed = _opposed(least, min(below, own))
    if turned < TURNED or steered < STEERED:
        opposed = "no"
    return Path(
        opposed="same" if _alike(under, glaze) else _without(before, own) or opposed,
        chroma=least,
        lab=triple(labs[best]),
        strength=strength,
        times=strength / laid,
        now=chroma(bench.labs(amounts)[-1]),
        turned=turned,
    )


def _labs(bench: Bench, under: FloatArray, glaze: FloatArray, tried: FloatArray) -> FloatArray:
    """(n, 3) with the glaze at each of the strengths tried."""
    return np.array([bench.labs(np.vstack([under, s * glaze[None]]))[-1] for s in tried])


def _greyest(labs: FloatArray, before: float) -> int:
    """The greyest of the colours (n, 3) that keep enough of the lightness before."""
    kept = labs[:, 0] >= DROWNED * before
    return int(np.argmin(np.where(kept, np.hypot(labs[:, 1], labs[:, 2]), np.inf)))


def _alone(bench: Bench, glaze: FloatArray) -> float:
    """The most C* that the glaze's own mixture has on bare paper, at some strength."""
    tried = np.geomspace(WEAKEST, 1.0, 12)
    return max(chroma(bench.labs(s * glaze[None])[-1]) for s in tried)


def _alike(under: FloatArray, glaze: FloatArray) -> bool:
    """Whether the glaze is the mixture that lies beneath."""
    below = under.sum(axis=0)
    cosine = float(glaze @ below) / float(np.linalg.norm(glaze) * np.linalg.norm(below))
    return cosine >= ALIKE


def _passed(ends: FloatArray) -> tuple[float, float]:
    """Degrees of hue and a*b* between two colours (2, 3), to either side of the greyest."""
    one, other = (hue_angle(float(lab[1]), float(lab[2])) for lab in ends)
    turned = abs((other - one + 180.0) % 360.0 - 180.0)
    return turned, float(np.hypot(*(ends[1] - ends[0])[1:]))


def _without(before: FloatArray, own: float) -> Opposed | None:
    """Why there is nothing to oppose, if so; before: CIELAB of what lies there; own: C* above."""
    if before[0] < TOO_DARK:
        return "too dark"
    if chroma(before) < HUELESS:
        return "no hue beneath"
    return "no hue above" if own < COLOURED else None


def _opposed(least: float, own: float) -> Opposed:
    """By the least C* on the way; own: the lesser C* of the two by themselves."""
    if least > HALVED * own:
        return "no"
    if least <= NEUTRAL:
        return "complementary"
    return "nearly" if least <= GREYISH else "in part"
