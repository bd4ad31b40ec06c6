"""What the trade says about which paint goes where, as prices with reasons.

A price is in squared CIEDE2000, the unit of the error it is weighed against: what a coat
made wholly of one paint costs over a whole shape. What a rule asks is price · grade ·
place · share: grade (0-1) says how much of the property a paint has, place how far it lies
where the rule minds, share how much of the coat's visible depth it makes up. Shares, not
amounts: a strong paint is not let off because little of it does much, nor a pale wash
because it is thin. A grade that nobody knows costs nothing. All of it is common practice,
no source; the prices are our own, set so that faults fall and the match hardly does
(docs/decisions/0009-handling-prices.md).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.paints.catalogue import Handling, Paint
from firstwash.plan.bench import Bench

__all__ = [
    "RULES",
    "PaintPrices",
    "Place",
    "Reason",
    "Rule",
    "RulePrice",
    "StackPrices",
    "glows",
    "handling_reasons",
    "pigments_of",
    "price_paints",
]

GLOW_LIGHTNESS = 60.0  # L* above which, and chroma above which, a place is to glow
GLOW_CHROMA = 30.0
FAINTEST_COAT = 0.05  # visible depth: a fainter coat is priced as if it were this strong


class Rule(StrEnum):
    """A rule of handling; the value is its stable name."""

    LIFTS_UNDER = "lifts-under"
    STAINS_ON_TOP = "stains-on-top"
    GRANULATES_IN_SMOOTH = "granulates-in-smooth"
    OPAQUE_UNDER = "opaque-under"
    OPAQUE_OVER_GLOW = "opaque-over-glow"
    MANY_PIGMENTS = "many-pigments"
    FADES = "fades"
    HAZARD = "hazard"


def _lifts(h: Handling) -> float:
    return float(h.staining is not None and h.staining <= 1)


def _stains(h: Handling) -> float:
    return float(h.staining is not None and h.staining >= 3)


def _granulates(h: Handling) -> float:
    """A third for grade 2, all for grade 4."""
    return max(((h.granulation or 0) - 1) / 3.0, 0.0)


def _opaque(h: Handling) -> float:
    return float(h.transparency is not None and h.transparency <= 1)


def _fades(h: Handling) -> float:
    return {"III": 0.5, "IV": 1.0, "V": 1.0}.get(h.lightfast or "", 0.0)


def _hazard(h: Handling) -> float:
    return {"caution": 0.5, "toxic": 1.0}.get(h.hazard or "", 0.0)


def _any(h: Handling) -> float:
    del h
    return 1.0


@dataclass(frozen=True)
class RulePrice:
    """One line of the table.

    price: squared CIEDE2000 for a whole coat (many-pigments: per pigment more).
    where: the field of `Place` it goes by. grade: 0-1 of a paint.
    """

    rule: Rule
    price: float
    where: Literal["laid", "later", "last", "smooth", "glow"]
    grade: Callable[[Handling], float]
    reason: str


RULES: Final = (
    RulePrice(
        Rule.LIFTS_UNDER,
        1.0,
        "later",
        _lifts,
        "a later wet glaze stirs up a paint that lifts, once for every coat that comes over it",
    ),
    RulePrice(
        Rule.STAINS_ON_TOP,
        0.1,
        "last",
        _stains,
        "a paint that stains belongs below: on top it cannot be lifted to correct",
    ),
    RulePrice(
        Rule.GRANULATES_IN_SMOOTH,
        1.0,
        "smooth",
        _granulates,
        "grain suits a rough surface and spoils a smooth one",
    ),
    RulePrice(
        Rule.OPAQUE_UNDER,
        1.0,
        "later",
        _opaque,
        "an opaque paint comes late: glazes over it turn chalky and the paper's light is lost",
    ),
    RulePrice(
        Rule.OPAQUE_OVER_GLOW,
        1.0,
        "glow",
        _opaque,
        "what is light and colourful glows by the paper under it; an opaque paint puts that out",
    ),
    RulePrice(
        Rule.MANY_PIGMENTS,
        1.0,
        "laid",
        _any,
        "the more pigments lie over one another, the duller and less predictable they dry",
    ),
    RulePrice(Rule.FADES, 0.3, "laid", _fades, "a fugitive paint gives way to an equally good one"),
    RulePrice(
        Rule.HAZARD, 0.1, "laid", _hazard, "a harmful paint gives way to an equally good one"
    ),
)
BY_PLACE: Final = tuple(r for r in RULES if r.rule is not Rule.MANY_PIGMENTS)
_PIGMENT: Final = next(r for r in RULES if r.rule is Rule.MANY_PIGMENTS)


def glows(lab: FloatArray) -> NDArray[np.bool_]:
    """Which colours (..., 3) CIELAB are light and colourful enough to be a glow."""
    colour = np.asarray(lab)
    chroma = np.hypot(colour[..., 1], colour[..., 2])
    return np.asarray((colour[..., 0] > GLOW_LIGHTNESS) & (chroma > GLOW_CHROMA))


# --- where coats lie -------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Place:
    """Where the coats of a stack lie, (coats,) each, as shares of the stack's area.

    laid: that gets this coat. later: as laid, times how many coats come over it. last:
    where it is laid over another coat and is the last. smooth: as laid, times how smooth
    the picture is there (0-1). glow: where it is laid and the cell is to glow.
    """

    laid: NDArray[np.float64]
    later: NDArray[np.float64]
    last: NDArray[np.float64]
    smooth: NDArray[np.float64]
    glow: NDArray[np.float64]

    @classmethod
    def of(
        cls, coats: int, coats_of: IntArray, shares: FloatArray, smooth: FloatArray, glow: BoolArray
    ) -> "Place":
        """From cells: coats of each, its share of the area, smoothness 0-1 and whether it glows."""
        own = coats_of[None, :] - np.arange(coats)[:, None]  # 1 where a coat is the cell's last
        here = np.where(own > 0, shares, 0.0)
        over = np.arange(coats)[:, None] > 0
        return cls(
            laid=here.sum(axis=1),
            later=(here * (own - 1)).sum(axis=1),
            last=(here * ((own == 1) & over)).sum(axis=1),
            smooth=here @ np.broadcast_to(smooth, coats_of.shape),
            glow=here @ glow.astype(np.float64),
        )

    def rules(self) -> NDArray[np.float64]:
        """(rules, coats): what each rule by place goes by."""
        return np.array([getattr(self, r.where) for r in BY_PLACE])


# --- prices ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class PaintPrices:
    """What the rules ask for each paint of a bench.

    rates: (rules, colours) squared CIEDE2000 of a whole coat where a rule minds wholly.
    depth: (colours,) visible depth of a full coat.
    holds: (colours, pigments) which pigments a paint is made of. pigment: squared CIEDE2000
    for every pigment of a stack beyond the first.
    """

    rates: NDArray[np.float64]
    depth: NDArray[np.float64]
    holds: NDArray[np.bool_]
    pigment: float

    def table(self, place: Place, depths: FloatArray) -> NDArray[np.float64]:
        """Prices (coats, colours) per full coat of each paint in each coat.

        depths (coats,): visible depth each coat is to add, > 0.
        """
        whole = place.rules().T @ self.rates
        return np.ascontiguousarray(whole * self.depth / depths[:, None])


def pigments_of(paints: Sequence[Paint]) -> NDArray[np.bool_]:
    """(paints, pigments): pigments by Colour Index name; a paint without one counts as its own."""
    names = [p.pigments or (p.key,) for p in paints]
    known = sorted({n for own in names for n in own})
    return np.array([[n in own for n in known] for own in names], dtype=np.bool_).reshape(
        len(names), len(known)
    )


def price_paints(bench: Bench, paints: Sequence[Paint], handling: float) -> PaintPrices:
    """The prices of a bench's paints; handling: strength of all rules, 0 ignores them."""
    rates = [[r.price * r.grade(p.handling) for p in paints] for r in BY_PLACE]
    return PaintPrices(
        rates=handling * np.array(rates).reshape(len(BY_PLACE), -1),
        depth=bench.visible_depth(),
        holds=pigments_of(paints),
        pigment=handling * _PIGMENT.price,
    )


@dataclass(frozen=True, eq=False)
class StackPrices:
    """The rules applied to one shape.

    shares: (cells,) of its area, light to dark. smooth: 0-1. glow: (cells,) which are to glow.
    """

    paints: PaintPrices
    shares: NDArray[np.float64]
    smooth: float
    glow: NDArray[np.bool_]

    def table(self, depths: FloatArray, coats_of: IntArray) -> NDArray[np.float64]:
        """Prices (coats, colours) when the cells get so many coats each.

        depths (coats,): visible depth that each coat is to add.
        """
        smooth = np.full(len(self.shares), self.smooth)
        place = Place.of(len(depths), coats_of, self.shares, smooth, self.glow)
        return self.paints.table(place, np.maximum(depths, FAINTEST_COAT))


@dataclass(frozen=True)
class Reason:
    """One rule's word on a paint in a coat.

    speaks: "against" where the rule minds it there, "for" where the paint has the property
    and lies where it should. grade: 0-1, how much of the property it has. share: how far
    the rule minds (0 not at all, 1 everywhere, more under several coats). price: squared
    CIEDE2000 that a coat wholly of it costs there.
    """

    rule: Rule
    speaks: Literal["for", "against"]
    grade: float
    share: float
    price: float


def handling_reasons(paint: Paint, place: Place, coat: int = 0) -> tuple[Reason, ...]:
    """What the rules say of a paint in one coat of a place, in the order of the table.

    Rules that do not concern the paint, or cannot be judged for want of a grade, are silent.
    """
    laid = float(place.laid[coat])
    if laid <= 0.0:
        return ()
    found = []
    for r in BY_PLACE:
        grade = r.grade(paint.handling)
        share = float(getattr(place, r.where)[coat]) / laid
        speaks: Literal["for", "against"] = "against" if share > 0.5 else "for"
        # A stain that lies alone is neither below nor on top.
        alone = r.rule is Rule.STAINS_ON_TOP and speaks == "for" and place.later[coat] <= 0.0
        if grade > 0.0 and not alone:
            found.append(Reason(r.rule, speaks, grade, share, r.price * grade * share))
    return tuple(found)
