"""What was found on the sheet in a painter's words: stronger or weaker, darker, warmer."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.laid.amounts import Laid
from firstwash.language import mark, tr
from firstwash.picture.places import heart, place_words
from firstwash.picture.values import HALF, steps_words
from firstwash.plan.result import Plan

__all__ = ["WashFound", "washes_found", "whole_words"]

# Own judgement.
SURE: Final = 1.0  # standard deviations from which a difference is told as one
AS_MEANT: Final = 0.12  # ln within which a wash is as it was meant: a tenth, hardly to be seen
TURN: Final = 3.0  # CIELAB towards yellow and red, or away, from which it is warmer or cooler
ODD: Final = 7.0  # CIELAB of what no amount of the wash's own paint explains
STRONGER: Final = (
    (0.20, mark("a little stronger than meant")), (0.29, mark("a quarter stronger than meant")),
    (0.42, mark("a third stronger than meant")), (0.75, mark("half as strong again as meant")),
    (np.inf, mark("about twice as strong as meant")),
)  # fmt: skip
WEAKER: Final = (
    (0.18, mark("a little weaker than meant")), (0.29, mark("a quarter weaker than meant")),
    (0.42, mark("a third weaker than meant")), (0.65, mark("half as strong as meant")),
    (np.inf, mark("hardly laid")),
)  # fmt: skip


@dataclass(frozen=True)
class WashFound:
    """One wash as it lies on the sheet.

    key: layer and number. name: its puddle's letter. ratio: laid by meant; low, high: what nine of
    ten chances lie between. lighter: L* by which the stage is lighter there than planned, warmer:
    CIELAB towards yellow and red. odd: whether its colour is not explained. seen: whether enough of
    it showed. words: one sentence.
    """

    key: tuple[int, int]
    name: str
    ratio: float
    low: float
    high: float
    lighter: float
    warmer: float
    odd: bool
    seen: bool
    words: str

    @property
    def sure(self) -> bool:
        """Whether it was not laid as meant, beyond what the photo leaves open."""
        return self.seen and not (self.low < 1.0 < self.high) and abs(np.log(self.ratio)) > AS_MEANT


def washes_found(plan: Plan, laid: Laid, done: int) -> tuple[WashFound, ...]:
    """All washes of the first `done` layers, in painting order."""
    area = plan.cells.areas_mm2()
    return tuple(
        _found(plan, laid, done, n, area) for n, w in enumerate(plan.washes) if w.layer <= done
    )


def _found(plan: Plan, laid: Laid, done: int, number: int, area: NDArray[np.float64]) -> WashFound:
    wash = plan.washes[number]
    own = np.array(wash.cells)
    seen = own[np.isfinite(laid.labs[own]).all(axis=1)]
    log, sigma = float(laid.wash_log_ratio[number]), float(laid.wash_sigma[number])
    ratio, low, high = (float(np.exp(log + s * sigma)) for s in (0.0, -1.645, 1.645))
    if not len(seen):
        words = tr("Nothing of it can be seen in the photo.")
        return WashFound(
            (wash.layer, wash.number), plan.puddles[wash.puddle].name, ratio, low, high, 0.0, 0.0,
            False, False, words,
        )  # fmt: skip
    off = np.average(laid.labs[seen] - plan.stage_labs[done][seen], axis=0, weights=area[seen])
    odd = float(np.average(laid.odd[seen], weights=area[seen])) > ODD
    warmer = float(off[2] + 0.5 * off[1])
    words = _words(log, sigma, float(off[0]), warmer, odd)
    return WashFound(
        (wash.layer, wash.number), plan.puddles[wash.puddle].name, ratio, low, high,
        float(off[0]), warmer, odd, True, words,
    )  # fmt: skip


def _words(log: float, sigma: float, lighter: float, warmer: float, odd: bool) -> str:
    told = [_strength(log, sigma)]
    if abs(lighter) >= HALF:
        told.append(
            tr("it looks {steps} lighter", steps=steps_words(lighter))
            if lighter > 0
            else tr("it looks {steps} darker", steps=steps_words(-lighter))
        )
    if abs(warmer) >= TURN:
        told.append(tr("warmer") if warmer > 0 else tr("cooler"))
    words = ", ".join(told) + "."
    if odd:
        words += " " + tr(
            "Its colour is not what this puddle gives, however strong: another mixture, wet paint "
            "or something in the way."
        )
    return words[:1].upper() + words[1:]


def _strength(log: float, sigma: float) -> str:
    if abs(log) <= AS_MEANT or abs(log) < SURE * sigma:
        return tr("about as strong as meant")
    away, words = (np.expm1(log), STRONGER) if log > 0 else (-np.expm1(log), WEAKER)
    return tr(next(said for limit, said in words if away < limit))


def whole_words(plan: Plan, laid: Laid, done: int) -> str:
    """The stage as a whole against the plan, and where it differs most, in a sentence or two."""
    seen = np.isfinite(laid.labs).all(axis=1)
    area = plan.cells.areas_mm2() * seen
    off = np.where(seen, laid.labs[:, 0] - plan.stage_labs[done][:, 0], 0.0)
    mean = float(off @ area / max(area.sum(), 1e-9))
    if abs(mean) < 0.5 * HALF:
        told = tr("On the whole the sheet is as light as planned.")
    elif mean > 0:
        told = tr(
            "On the whole the sheet is {steps} lighter than planned.", steps=steps_words(mean)
        )
    else:
        told = tr(
            "On the whole the sheet is {steps} darker than planned.", steps=steps_words(-mean)
        )
    worst = int(np.argmin(off * np.sqrt(area)))
    if off[worst] < -HALF:
        told += " " + tr("It is darkest against the plan {place}.", place=_place(plan, worst))
    return told


def _place(plan: Plan, cell: int) -> str:
    row, col = heart(plan.cells.index == cell)
    rows, cols = plan.cells.index.shape
    return place_words((col + 0.5) / cols, (row + 0.5) / rows)
