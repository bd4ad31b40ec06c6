"""How much of a photo's tones and colours these paints reach on this paper."""

from dataclasses import dataclass

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.palette import colour_groups, floor_for, mix_freely
from firstwash.plan.tone import ToneMap

__all__ = ["Reach", "reach"]

MISSED = 5.0  # CIEDE2000: a clear difference of the same colour
ENDS = (0.01, 0.99)  # quantiles that stand for a photo's darkest and lightest
LEAST_SHARE = 0.01
START = 2e-3  # amounts to mix from
GROUPS = 64  # colours that stand for the picture


@dataclass(frozen=True)
class Reach:
    """What lies within reach.

    paper, floor: L* of the bare sheet, and that the picture's darks come to. lightest, darkest:
    L* of the photo, its most extreme hundredths left out. too_dark: share (0-1) of the photo below
    the floor; too_strong: share that no mixture comes near to though it is not too dark.
    lost: value steps of ten by which the photo's darkest is out of reach. words: what that means.
    """

    paper: float
    floor: float
    lightest: float
    darkest: float
    too_dark: float
    too_strong: float
    lost: int
    words: str

    @property
    def tone(self) -> ToneMap:
        """The map that a plan would bring the photo's lightness into reach by."""
        return ToneMap(self.floor, self.paper)


def reach(bench: Bench, lab: FloatArray) -> Reach:
    """What these paints on this paper reach of a picture; lab: (rows, cols, 3) or (n, 3)."""
    flat = np.asarray(lab, dtype=np.float64).reshape(-1, 3)
    paper = float(bench.labs(np.zeros((0, bench.colours)))[0][0])
    groups, weights = colour_groups(flat, np.ones(len(flat)), GROUPS)
    floor = min(floor_for(bench, groups, weights), paper)
    wanted = ToneMap(floor, paper)(groups)
    off = delta_e_2000(mix_freely(bench, wanted, starts=(START,)), wanted)
    darkest, lightest = (float(v) for v in np.quantile(flat[:, 0], ENDS))
    too_dark = float((flat[:, 0] < floor).mean())
    too_strong = float(weights[off > MISSED].sum())
    lost = max(int(value_step(floor)) - int(value_step(darkest)), 0)
    words = _told(floor, darkest, too_dark, too_strong, lost)
    return Reach(paper, floor, lightest, darkest, too_dark, too_strong, lost, words)


def _told(floor: float, darkest: float, too_dark: float, too_strong: float, lost: int) -> str:
    step = int(value_step(floor))
    if too_dark < LEAST_SHARE or darkest >= floor:
        dark = f"These paints reach all the darks of this photo: they go down to value {step}."
    else:
        steps = {0: "less than a value step", 1: "a value step"}.get(lost, f"{lost} value steps")
        dark = (
            f"The photo is darker than these paints can be, by {steps} at its darkest. They go "
            f"down to value {step}; {_percent(too_dark)} of the photo lies below that and will be "
            "painted a little lighter, each dark still darker than the next."
        )
    if too_strong < LEAST_SHARE:
        return f"{dark} All its colours can be mixed."
    return (
        f"{dark} {_percent(too_strong)} of the photo has colours stronger than these paints mix; "
        "they will come out quieter."
    )


def _percent(share: float) -> str:
    return f"{max(round(100 * share), 1)} %"
