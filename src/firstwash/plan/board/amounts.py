"""How much of each puddle to mix, counted as a hand counts: beads, brush-loads, drops, spoons.

The water a technique leaves on the sheet (practice.py) is the volume; strength says how much
paint is in it. A puddle is mixed once, for the strongest wash that uses it, and let down with
water for the paler ones.

Recipes are whole numbers of the smallest measures that will do. Whole numbers overshoot, so the
water is told for what is counted, not for what was needed: the strength comes out right, and a
little more is mixed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from firstwash.errors import RequestError
from firstwash.language import mark, tr, tr_count
from firstwash.plan.board.practice import Technique, checked, practice_of

__all__ = [
    "Consistency",
    "Counted",
    "PuddleAmount",
    "PuddleUse",
    "Units",
    "consistency",
    "consistency_of",
    "paint_share",
    "puddle_amount",
    "volume_words",
    "whole_parts",
]

Units = Literal["metric", "US"]

PAINT_ML_PER_M2 = 8.0  # tube paint in a full-strength coat: 12 g/m² at 1.5 g/ml, within the 8 to
# 15 g/m² that painters' habits suggest. Common practice, no source
MARGIN = 1.5  # half as much again: a puddle that runs out in mid-wash cannot be matched
STAYS_ML = 1.0  # of a puddle that brush and palette keep back, but never more paint in it than
STAYS_PAINT_ML = 0.1  # this: a thick puddle is kept small. Common practice, no source
DROPS_PER_ML = 20.0  # the metric drop of medicine, 0.05 ml; from memory
US_TEASPOON_ML = 4.928922  # [NISTHB44]; a tablespoon is three of them
CLOSE = 0.1  # relative error of a part that is lost in a hand's own, about 0.2
MOST_PARTS = 100
OVERSHOOT = 1.5  # a measure is too coarse if it makes more than this times what is needed
FAR_TOO_MUCH = 3.0  # beyond this, a drop of a strong mixture is let down instead
STRONG_RATIO = 4.0  # parts of water to 1 of paint in such a mixture

# Measures from coarse to fine: (name, ml of tube paint). Common practice, no source.
BEADS = (
    (mark("hazelnut"), 1.0),
    (mark("pea"), 0.2),
    (mark("lentil"), 0.05),
    (mark("pinhead"), 0.01),
)
LOADS = ((mark("large brush"), 0.1), (mark("medium brush"), 0.03), (mark("small brush"), 0.01))


@dataclass(frozen=True)
class Consistency:
    """How runny a puddle is. step: 1 (thinnest) to 6. ratio: parts of water to 1 of paint."""

    step: int
    name: str
    test: str
    ratio: float


# (at least so many parts of water to 1 of paint, kitchen word, what to see). Words our own;
# the ratios: common practice, no source.
STEPS = (
    (
        60.0,
        mark("tinted water"),
        mark("runs down a tilted palette at once and leaves hardly a tint"),
    ),
    (25.0, mark("clear broth"), mark("runs at once and leaves a clear tint behind")),
    (10.0, mark("fruit juice"), mark("runs as one sheet; the palette shows through")),
    (4.0, mark("thin gravy"), mark("runs slowly; the palette just shows through")),
    (1.5, mark("syrup"), mark("creeps in a thick bead that hides the palette")),
    (0.0, mark("honey"), mark("stays where it is; the brush leaves ridges")),
)


@dataclass(frozen=True)
class PuddleUse:
    """One wash's use of a puddle.

    area_mm2: 0 or more. strength: above 0; 1 is a full-strength coat. technique: see practice.py.
    """

    area_mm2: float
    strength: float
    technique: Technique = "wet-on-dry"

    def __post_init__(self) -> None:
        """Check every number."""
        practice_of(self.technique)
        checked("area (mm²)", self.area_mm2)
        checked("strength", self.strength, 1e-9, 100.0)

    @property
    def volume_ml(self) -> float:
        """Volume left on the sheet, ml; strong paint laid dry is at least its own volume."""
        per_m2 = max(practice_of(self.technique).water_gsm, self.strength * PAINT_ML_PER_M2)
        return self.area_mm2 * 1e-6 * per_m2


@dataclass(frozen=True)
class Counted:
    """Paint as a hand measures it.

    measure: its name. counts: how many of it of each paint, in the order of the recipe's parts,
    all at least 1. paint_ml: tube paint in all of them. water_ml: to add to it.
    taken: 0, or, where the whole would make far too much of a pale puddle, how many drops of
    this strong mixture to take into a fresh puddle of let_down_ml of water.
    """

    measure: str
    counts: tuple[int, ...]
    paint_ml: float
    water_ml: float
    taken: int = 0
    let_down_ml: float = 0.0

    @property
    def drops(self) -> int:
        """Whole drops of water to add, at least 1 if there is any."""
        return max(1, math.floor(self.water_ml * DROPS_PER_ML + 0.5)) if self.water_ml > 0 else 0

    @property
    def puddle_ml(self) -> float:
        """The puddle that is painted with."""
        if self.taken:
            return self.taken / DROPS_PER_ML + self.let_down_ml
        return self.paint_ml + self.water_ml

    @property
    def share(self) -> float:
        """Share (0-1) of tube paint in the puddle that is painted with."""
        mixed = self.paint_ml / (self.paint_ml + self.water_ml)
        return mixed * (self.taken / DROPS_PER_ML) / self.puddle_ml if self.taken else mixed


@dataclass(frozen=True)
class PuddleAmount:
    """How much of one puddle to mix.

    ml: needed at the strongest use's strength, margin included. paint_ml: tube paint in that.
    thinning_ml: water to let it down with for the paler washes, in all. consistency: of the
    strongest use. tubes, pans: the same as counted beads of tube paint, or as brush-loads.
    """

    ml: float
    paint_ml: float
    thinning_ml: float
    consistency: Consistency
    tubes: Counted
    pans: Counted


def paint_share(strength: float, technique: Technique = "wet-on-dry") -> float:
    """Share (0-1) of a puddle's volume that is tube paint, for a wash of a strength.

    1 where a technique leaves so little water that the paint is used as it comes.
    """
    water = practice_of(technique).water_gsm
    return min(checked("strength", strength, 0.0, 100.0) * PAINT_ML_PER_M2 / water, 1.0)


def consistency(strength: float, technique: Technique = "wet-on-dry") -> Consistency:
    """How runny a puddle must be for a wash of a strength (above 0).

    Told by water against paint, never by colour: a pale colour may be thick, a deep one thin.
    """
    checked("strength", strength, 1e-9, 100.0)
    return consistency_of(1.0 / paint_share(strength, technique) - 1.0)


def consistency_of(ratio: float) -> Consistency:
    """The kitchen word for so many parts of water to 1 of paint (0 or more)."""
    checked("parts of water", ratio, 0.0, math.inf)
    for step, (least, name, test) in enumerate(STEPS, 1):
        if ratio >= least:
            return Consistency(step, name, test, ratio)
    raise AssertionError("the last step takes everything")  # pragma: no cover


def puddle_amount(
    uses: Sequence[PuddleUse], parts: Sequence[float], margin: float = MARGIN
) -> PuddleAmount:
    """How much of a puddle to mix for all its uses.

    uses: at least one. parts: shares of the paints, each at its own full strength, above 0; any
    scale. margin: at least 1, times what the sheet takes.
    Raises RequestError if there is nothing to mix.
    """
    if not uses:
        raise RequestError("A puddle that no wash uses need not be mixed.")
    checked("margin", margin, 1.0, 10.0)
    shares = [paint_share(use.strength, use.technique) for use in uses]
    strongest = max(shares)
    volumes = [margin * use.volume_ml for use in uses]
    stock = [v * s / strongest for v, s in zip(volumes, shares, strict=True)]
    ml, ratio = sum(stock) + min(STAYS_ML, STAYS_PAINT_ML / strongest), 1.0 / strongest - 1.0
    paint = ml * strongest
    share = _shares(parts)
    return PuddleAmount(
        ml=ml,
        paint_ml=paint,
        thinning_ml=max(sum(volumes) - sum(stock), 0.0),
        consistency=consistency_of(ratio),
        tubes=_counted(paint, share, ratio, BEADS),
        pans=_counted(paint, share, ratio, LOADS),
    )


def whole_parts(parts: Sequence[float]) -> tuple[int, ...]:
    """The fewest whole parts that keep a recipe: each within a tenth of its share.

    parts: shares of any scale, above 0. Raises RequestError for none, or for one not above 0.
    """
    share = _shares(parts)
    for count in range(1, MOST_PARTS):
        whole = _whole(share, count)
        if _close(whole, share):
            return whole
    return _whole(share, MOST_PARTS)


def _shares(parts: Sequence[float]) -> list[float]:
    if not parts or not all(0.0 < p < math.inf for p in parts):
        raise RequestError("A recipe needs at least one paint, and some of each.")
    return [p / sum(parts) for p in parts]


def _whole(share: Sequence[float], count: int) -> tuple[int, ...]:
    """About `count` whole parts shared out, at least 1 each."""
    return tuple(max(1, math.floor(count * s + 0.5)) for s in share)


def _close(whole: tuple[int, ...], share: Sequence[float]) -> bool:
    made = sum(whole)
    return all(abs(n / made - s) <= CLOSE * s for n, s in zip(whole, share, strict=True))


def _counted(
    paint_ml: float, share: list[float], ratio: float, measures: tuple[tuple[str, float], ...]
) -> Counted:
    """Counts of the coarsest measure that neither falls short nor makes far too much.

    If none is fine enough: the fewest of the finest, and of a pale puddle only a few drops.
    """
    for name, size in measures:
        least, most = paint_ml / size, OVERSHOOT * paint_ml / size
        for count in range(max(1, math.ceil(least - 1e-9)), math.floor(most) + 1):
            whole = _whole(share, count)
            if least - 1e-9 <= sum(whole) <= most and _close(whole, share):
                return Counted(name, whole, sum(whole) * size, sum(whole) * size * ratio)
    name, size = measures[-1]
    once = whole_parts(share)
    rounds = max(1, math.ceil(paint_ml / (sum(once) * size) - 1e-9))
    whole = tuple(rounds * n for n in once)
    made = sum(whole) * size
    if made <= FAR_TOO_MUCH * paint_ml or ratio <= STRONG_RATIO:
        return Counted(name, whole, made, made * ratio)
    drop = 1.0 / (DROPS_PER_ML * (STRONG_RATIO + 1.0))  # ml of paint in a drop of the mixture
    taken = max(1, math.ceil(paint_ml / drop - 1e-9))
    fresh = taken * (drop * (ratio + 1.0) - 1.0 / DROPS_PER_ML)
    return Counted(name, whole, made, made * STRONG_RATIO, taken, fresh)


def volume_words(ml: float, units: Units = "metric") -> str:
    """A volume of water in what a kitchen has: drops, then ml, or teaspoons and tablespoons.

    Rounded so that a hand can follow. Raises RequestError below 0 or for other units.
    """
    checked("volume (ml)", ml, 0.0, 1e6)
    if units not in ("metric", "US"):
        raise RequestError(f'Units are "metric" or "US", not "{units}".')
    small = 1.5 if units == "metric" else 0.2 * US_TEASPOON_ML
    if ml < small:
        drops = math.floor(ml * DROPS_PER_ML + 0.5)
        if drops == 0:
            return tr("no water") if ml < 1e-9 else tr_count("{count} drop", "{count} drops", 1)
        return tr_count("{count} drop", "{count} drops", drops)
    return _ml_words(ml) if units == "metric" else _spoon_words(ml / US_TEASPOON_ML)


def _ml_words(ml: float) -> str:
    """To ½ ml below 5, to 1 below 20, to 5 beyond."""
    step = 0.5 if ml < 5 else 1.0 if ml < 20 else 5.0
    return f"{math.floor(ml / step + 0.5) * step:g} ml"


def _spoon_words(teaspoons: float) -> str:
    """To a quarter of a teaspoon below 3, to half a tablespoon beyond."""
    if teaspoons < 2.875:
        quarters = max(1, math.floor(teaspoons * 4.0 + 0.5))
        return f"{_fraction(quarters)} teaspoon{'s' if quarters > 4 else ''}"
    halves = math.floor(teaspoons / 3.0 * 2.0 + 0.5)
    return f"{_fraction(2 * halves)} tablespoon{'s' if halves > 2 else ''}"


def _fraction(quarters: int) -> str:
    whole, part = divmod(quarters, 4)
    return f"{whole or ''}{('', '¼', '½', '¾')[part]}"
