"""How much of a photo's tones and colours these paints reach on this paper."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.studies import NumberedFrom, numbered
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.palette import colour_groups, floor_for, mix_freely
from firstwash.plan.tone import ToneMap

__all__ = ["STEPS", "Reach", "reach"]

STEPS = 10  # value steps that reach is told in
MISSED = 5.0  # CIEDE2000: a clear difference of the same colour
ENDS = (0.01, 0.99)  # quantiles that stand for a photo's darkest and lightest
LEAST_SHARE = 0.01
START = 2e-3  # amounts to mix from
GROUPS = 160  # colours that stand for the picture
GRAIN = 2.0  # of CIELAB: side of the cubes they are gathered in first
SAME = 1.0  # L*: a smaller change is none


@dataclass(frozen=True)
class Reach:
    """What lies within reach.

    paper, floor: L* of the bare sheet, and that the picture's darks come to. lightest, darkest:
    L* of the photo, its most extreme hundredths left out. too_dark: share (0-1) of the photo below
    the floor; too_strong: share that no mixture comes near to though it is not too dark; changed:
    share that will be painted lighter or darker by more than one L*. lost: value steps of ten by
    which the photo's darkest is out of reach. words: what that means.
    """

    paper: float
    floor: float
    lightest: float
    darkest: float
    too_dark: float
    too_strong: float
    changed: float
    lost: int
    words: str

    @property
    def tone(self) -> ToneMap:
        """The map that a plan would bring the photo's lightness into reach by."""
        return ToneMap(self.floor, self.paper)

    def painted(self) -> tuple[tuple[float, float], ...]:
        """(L* of the photo, L* painted) from the photo's darkest to its lightest by value steps."""
        between = np.arange(0.0, 101.0, 100.0 / STEPS)
        inside = between[(between > self.darkest) & (between < self.lightest)]
        photo = np.array([self.darkest, *inside, self.lightest])
        return tuple(zip(photo.tolist(), self.tone.lightness(photo).tolist(), strict=True))


def reach(bench: Bench, lab: FloatArray, numbered_from: NumberedFrom = "dark") -> Reach:
    """What these paints on this paper reach of a picture; lab: (rows, cols, 3) or (n, 3).

    numbered_from: the end that the words number value steps from.
    """
    flat = np.asarray(lab, dtype=np.float64).reshape(-1, 3)
    paper = float(bench.labs(np.zeros((0, bench.colours)))[0][0])
    groups, weights = colour_groups(*_gathered(flat), GROUPS)
    floor = min(floor_for(bench, groups, weights), paper)
    tone = ToneMap(floor, paper)
    wanted = tone(groups)
    off = delta_e_2000(mix_freely(bench, wanted, starts=(START,)), wanted)
    darkest, lightest = (float(v) for v in np.quantile(flat[:, 0], ENDS))
    too_dark = float((flat[:, 0] < floor).mean())
    too_strong = float(weights[off > MISSED].sum())
    changed = float((np.abs(tone.lightness(flat[:, 0]) - flat[:, 0]) > SAME).mean())
    lost = max(int(value_step(floor)) - int(value_step(darkest)), 0)
    dark = _darks_told(floor, darkest, too_dark, lost, numbered_from)
    words = " ".join((dark, _kept_told(tone, changed, numbered_from), _strong_told(too_strong)))
    return Reach(paper, floor, lightest, darkest, too_dark, too_strong, changed, lost, words)


def _gathered(lab: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean (n, 3) and count (n,) of the colours (m, 3) in small cubes."""
    cells = np.floor((lab - lab.min(axis=0)) / GRAIN).astype(np.int64)
    most = cells.max(axis=0) + 1
    keys = (cells[:, 0] * most[1] + cells[:, 1]) * most[2] + cells[:, 2]
    _, index, counts = np.unique(keys, return_inverse=True, return_counts=True)
    sums = [np.bincount(index, weights=lab[:, c]) for c in range(3)]
    return np.column_stack(sums) / counts[:, None], counts.astype(np.float64)


def _value(step: int, numbered_from: NumberedFrom) -> str:
    return f"value {numbered(step, STEPS, numbered_from)} of {STEPS}"


def _darks_told(
    floor: float, darkest: float, too_dark: float, lost: int, numbered_from: NumberedFrom
) -> str:
    down = _value(int(value_step(floor, STEPS)), numbered_from)
    if too_dark < LEAST_SHARE or darkest >= floor:
        return f"These paints reach all the darks of this photo: they go down to {down}."
    steps = {0: "less than a value step", 1: "a value step"}.get(lost, f"{lost} value steps")
    return (
        f"The photo is darker than these paints can be, by {steps} at its darkest. They go "
        f"down to {down}; {_percent(too_dark)} of the photo lies below that and will be "
        "painted a little lighter, each dark still darker than the next."
    )


def _kept_told(tone: ToneMap, changed: float, numbered_from: NumberedFrom) -> str:
    """Which whole value steps are painted as they are."""
    low, high = tone.knees
    first, last = int(np.ceil(low * STEPS / 100.0)) + 1, int(np.floor(high * STEPS / 100.0))
    if changed < LEAST_SHARE:
        return "Every value can be painted as it is."
    if tone.slope < 1.0 or last < first:
        return "The values are drawn closer together from end to end; none keeps its distance."
    low_end, high_end = sorted(numbered(s, STEPS, numbered_from) for s in (first, last))
    if first == last:
        return f"Value {low_end} of {STEPS} is painted as it is."
    return f"Values {low_end} to {high_end} of {STEPS} are painted as they are."


def _strong_told(too_strong: float) -> str:
    if too_strong < LEAST_SHARE:
        return "All its colours can be mixed."
    return (
        f"{_percent(too_strong)} of the photo has colours stronger than these paints mix; "
        "they will come out quieter."
    )


def _percent(share: float) -> str:
    return f"{max(round(100 * share), 1)} %"
