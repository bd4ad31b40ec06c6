"""Which glaze takes the colour out of a wash, and which two paints make a grey together."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import PaintError, RequestError
from firstwash.handout.reasons import lean_word, neutral_details, neutral_words
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.plan.bench import Bench
from firstwash.plan.edits import LIGHTENS
from firstwash.plan.neutral import Lean, Neutral, as_neutral, least_chroma
from firstwash.plan.problem import is_black_or_white
from firstwash.worksheet.parts import Part, recipe_words, whole_shares
from firstwash.worksheet.words import Colour, Numbers, colour_of, hex_of

__all__ = ["Grey", "GreyLean", "neutral_with"]

GREY = 5.0  # C* below which a colour is called a grey, as in `handout.words`
# Own judgement.
MIDDLE = 55.0  # L* of a grey on bare paper unless asked otherwise: value step 6
VALUE_WITHIN = 5.0  # L* that it may miss the lightness asked for: half a value step
DROWNED = 0.6  # share of the lightness before that must be left: more than in `plan.neutral`,
# for what a painter looks for here is a grey, not merely no black
LEAST_PART = 0.05  # share of the glaze that a paint must hold to be measured by hand
MOST_PAINTS: Final = 40


@dataclass(frozen=True)
class GreyLean:
    """Where a grey goes with a quarter less and a quarter more of one paint: "#rrggbb", word."""

    key: str
    name: str
    less: str
    less_word: str
    more: str
    more_word: str


@dataclass(frozen=True)
class Grey:
    """A glaze of one or two paints that leaves no colour.

    parts_words: its recipe; strength: share of a full coat. stroke: "#rrggbb" of it alone on the
    paper. before, shown: the place without and with it. words: what it does and how it leans.
    """

    parts: tuple[Part, ...]
    parts_words: str
    strength: float
    stroke: str
    before: Colour
    shown: Colour
    leans: tuple[GreyLean, ...]
    words: str
    numbers: Numbers


def neutral_with(
    paints: Sequence[Paint],
    paper: Paper,
    ground: tuple[str, float] | None = None,
    between: tuple[str, str] | None = None,
    most: int = 5,
    lightness: float | None = None,
) -> tuple[Grey, ...]:
    """Glazes that grey a wash, one paint before two, those that darken least first.

    ground: (key, share of a full coat) of the wash, or None for bare paper. between: only these
    two paints. lightness: L* wanted; None for as little paint as it takes, or 55 on bare paper.
    Empty where no glaze does it.
    Raises PaintError for a key that is not among the paints, RequestError for other numbers.
    """
    if not 1 <= len(paints) <= MOST_PAINTS:
        raise PaintError(f"Greys are looked for among 1 to {MOST_PAINTS} paints; choose fewer.")
    bench = Bench.of(paints, paper)
    under = _under(paints, ground)
    wanted = MIDDLE if ground is None and lightness is None else lightness
    if wanted is not None and not 0.0 <= wanted <= 100.0:
        raise RequestError(f"A lightness lies between 0 and 100, not {wanted:g}.")
    found: dict[tuple[int, ...], Neutral] = {}
    for groups in _groups(paints, ground, between):
        open_ = [g for g in groups if not any((p,) in found for p in g)]
        for group, glaze in zip(open_, least_chroma(bench, under, open_, wanted), strict=True):
            neutral = _told(paints, bench, under, glaze, len(group))
            if neutral is not None and _true(neutral, wanted):
                found[group] = neutral
    ranked = sorted(found.values(), key=lambda n: (len(n.parts), _far(n, wanted)))
    return tuple(_grey(n, bench, paints) for n in ranked[:most])


def _index(paints: Sequence[Paint], key: str) -> int:
    for i, p in enumerate(paints):
        if p.key == key:
            return i
    raise PaintError(f"“{key[:60]}” is not among these paints; choose one that is.")


def _under(paints: Sequence[Paint], ground: tuple[str, float] | None) -> NDArray[np.float64]:
    """(coats, paints) amounts of what lies there."""
    if ground is None:
        return np.zeros((0, len(paints)))
    key, share = ground
    if not (isinstance(share, int | float) and 0.0 < share <= 1.0):
        raise RequestError(
            f"A wash is laid at a share of a full coat, above 0 up to 1, not {share}."
        )
    p = _index(paints, key)
    under = np.zeros((1, len(paints)))
    under[0, p] = share * paints[p].full_coat
    return under


def _groups(
    paints: Sequence[Paint], ground: tuple[str, float] | None, between: tuple[str, str] | None
) -> list[list[tuple[int, ...]]]:
    """Singles, then pairs; on bare paper one paint alone makes no grey."""
    if between is not None:
        one, other = (_index(paints, key) for key in between)
        if one == other:
            raise PaintError("Choose two different paints to make a grey of.")
        return [[(one, other)]]
    lying = None if ground is None else _index(paints, ground[0])
    usable = [i for i, p in enumerate(paints) if i != lying and not is_black_or_white(p)]
    singles: list[tuple[int, ...]] = [] if ground is None else [(i,) for i in usable]
    return [singles, list(combinations(usable, 2))]


def _told(
    paints: Sequence[Paint], bench: Bench, under: FloatArray, glaze: FloatArray, size: int
) -> Neutral | None:
    """The glaze in full, or None where a paint has too little part in it to be measured."""
    loads = glaze * bench.loads
    strength = float(loads.sum())
    used = np.flatnonzero(loads > LEAST_PART * strength)
    if strength <= 1e-6 or len(used) < size:
        return None
    return as_neutral(paints, bench, under, glaze, used)


def _true(neutral: Neutral, wanted: float | None) -> bool:
    """Whether it is grey, at the lightness asked for, darker, and not merely drowned in paint."""
    if neutral.chroma >= GREY or neutral.darker < -LIGHTENS:
        return False
    if wanted is not None:
        return abs(neutral.lab[0] - wanted) <= VALUE_WITHIN
    return neutral.lab[0] >= DROWNED * neutral.before[0]


def _far(neutral: Neutral, wanted: float | None) -> float:
    return neutral.darker if wanted is None else abs(neutral.lab[0] - wanted)


def _grey(neutral: Neutral, bench: Bench, paints: Sequence[Paint]) -> Grey:
    parts = whole_shares([(p, amount / p.full_coat) for p, amount in neutral.parts])
    coat = np.zeros(bench.colours)
    for p, amount in neutral.parts:
        coat[paints.index(p)] = amount * neutral.strength
    return Grey(
        parts=parts,
        parts_words=recipe_words(parts),
        strength=neutral.strength,
        stroke=hex_of(bench.labs(coat[None])[1]),
        before=colour_of(neutral.before),
        shown=colour_of(neutral.lab),
        leans=tuple(_leaning(lean) for lean in neutral.leans),
        words=neutral_words(neutral),
        numbers=(("all of it", neutral_details(neutral)),),
    )


def _leaning(lean: Lean) -> GreyLean:
    return GreyLean(
        key=lean.paint.key,
        name=lean.paint.name,
        less=hex_of(lean.less),
        less_word=lean_word(lean.less_hue),
        more=hex_of(lean.more),
        more_word=lean_word(lean.more_hue),
    )
