"""Strips of paint from full strength into paper white, and cards that tell of one paint."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.cautions import caution_words, hazard_words
from firstwash.handout.table import handling_words
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.box import Box, BoxPaint, paint_of
from firstwash.paints.catalogue import Paint
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.values import value_step
from firstwash.plan.result import Plan
from firstwash.worksheet.lay import labs_of
from firstwash.worksheet.words import Numbers, hexes, lab_words

__all__ = [
    "STOPS",
    "PaintCard",
    "mind_words",
    "paint_card",
    "paint_cards",
    "paint_strip",
    "puddle_strip",
    "strip_of",
]

STOPS: Final = 11  # colours along a strip
FAINTEST: Final = 1e-3  # of the strong end, beside bare paper: hardly a tint
FINE: Final = 32  # strengths tried, evenly in the logarithm

KNOWN_BY: Final = {
    "measured": "measured from painted swatches",
    "estimated": "estimated, not measured",
    "calibrated": "learnt from your own swatches",
}
# CIEDE2000 that nine of ten pale coats stay within, and the words for it; common practice, no
# source.
SURE: Final = (
    (2.0, "very sure: you would hardly see it be wrong"),
    (5.0, "fairly sure: close, but try a stroke first"),
    (10.0, "unsure: the hue is right, the strength may be off"),
    (np.inf, "very unsure: paint a swatch before you trust it"),
)
FUGITIVE: Final = ("III", "IV", "V")  # categories of [ASTMD4303] a painter is warned of
LIGHTFAST: Final = {  # categories of [ASTMD4303]; the words are ours
    "I": "keeps its colour very well",
    "II": "keeps its colour well",
    "III": "fades in time",
    "IV": "fades",
    "V": "fades fast",
}
PALE: Final = 0.25  # of a full coat: how sure a paint is, is told of so strong a coat


def strip_of(
    paper: Paper, paints: Sequence[Paint], coat: FloatArray, stops: int = STOPS
) -> tuple[str, ...]:
    """A coat (paints,) let down to bare paper: `stops` colours "#rrggbb", strong end first.

    Evenly spaced to the eye: neighbours differ about equally in CIEDE2000.
    """
    return strips_of(paper, paints, np.asarray(coat)[None], stops)[0]


def strips_of(
    paper: Paper, paints: Sequence[Paint], coats: FloatArray, stops: int = STOPS
) -> tuple[tuple[str, ...], ...]:
    """A strip for each of many coats (n, paints), as in `strip_of`."""
    strengths = np.append(np.geomspace(1.0, FAINTEST, FINE - 1), 0.0)
    laid = np.asarray(coats)[:, None] * strengths[None, :, None]
    labs = labs_of(paper, paints, laid.reshape(-1, 1, len(paints))).reshape(len(laid), FINE, 3)
    return tuple(hexes(_even(own, stops)) for own in labs)


def _even(labs: FloatArray, stops: int) -> NDArray[np.float64]:
    """(stops, 3) colours along a path (n, 3), equally far apart along it."""
    way = np.concatenate([[0.0], np.cumsum(delta_e_2000(labs[1:], labs[:-1]))])
    at = np.linspace(0.0, way[-1], stops)
    return np.column_stack([np.interp(at, way, labs[:, c]) for c in range(3)])


def paint_strip(paint: Paint, paper: Paper, stops: int = STOPS) -> tuple[str, ...]:
    """One paint from a full coat to bare paper, "#rrggbb" each."""
    return strip_of(paper, [paint], np.array([paint.full_coat]), stops)


def puddle_strip(plan: Plan, q: int, stops: int = STOPS) -> tuple[str, ...]:
    """One puddle of a plan from its strongest use to bare paper, "#rrggbb" each."""
    coat = plan.recipes[q] * plan.puddles[q].strength_range[1]
    return strip_of(plan.paper, plan.paints, coat, stops)


# --- the list of paints ----------------------------------------------------------


@dataclass(frozen=True)
class PaintCard:
    """One paint for the list of paints.

    strip: "#rrggbb" from a full coat to bare paper. darkest: value step of a full coat.
    provenance: "measured", "estimated" or "calibrated"; known_by, sure: the same, and how sure
    its colour is, in words. handling, lightfast, caution: words, "" where nothing is known or to
    be minded. mind: in a few words what to mind before choosing it, harm and fading.
    listed: whether it is in the painter's box; form, fill, favourite, banned, note: as that says.
    """

    key: str
    name: str
    pigments: tuple[str, ...]
    strip: tuple[str, ...]
    darkest: int
    provenance: str
    known_by: str
    sure: str
    handling: str
    lightfast: str
    caution: str
    mind: str
    source: str
    about: str
    listed: bool
    form: str
    fill: str
    favourite: bool
    banned: bool
    note: str
    numbers: Numbers


def paint_card(paint: Paint, paper: Paper, box: Box | None = None) -> PaintCard:
    """One paint's card; box: the painter's list, for what it says of the paint."""
    return paint_cards([paint], paper, box)[0]


def paint_cards(
    paints: Sequence[Paint], paper: Paper, box: Box | None = None
) -> tuple[PaintCard, ...]:
    """Cards of paints in their order; box: the painter's list, for what it says of them."""
    if not paints:
        return ()
    full = np.diag([p.full_coat for p in paints])
    strips = strips_of(paper, paints, full)
    darkest = labs_of(paper, paints, full[:, None])
    within = _within(paper, paints)
    said = _said(box)
    return tuple(
        _card(p, strip, lab, off, said.get(p.key))
        for p, strip, lab, off in zip(paints, strips, darkest, within, strict=True)
    )


def _within(paper: Paper, paints: Sequence[Paint]) -> list[float]:
    """CIEDE2000 that nine of ten pale coats of each paint stay within."""
    return [
        float(doubt_of_stacks(paper, [p], np.array([[[PALE * p.full_coat]]])).differences()[0])
        for p in paints
    ]


def _said(box: Box | None) -> dict[str, BoxPaint]:
    return {} if box is None else {paint_of(one).key: one for one in box.paints}


def _card(
    p: Paint, strip: tuple[str, ...], lab: FloatArray, within: float, one: BoxPaint | None
) -> PaintCard:
    said = one or BoxPaint(p.name)
    return PaintCard(
        key=p.key,
        name=p.name,
        pigments=p.pigments,
        strip=strip,
        darkest=int(value_step(lab[0])),
        provenance=p.provenance,
        known_by=KNOWN_BY[p.provenance],
        sure=next(words for top, words in SURE if within < top),
        handling=handling_words(p),
        lightfast=LIGHTFAST.get(p.handling.lightfast or "", ""),
        caution=caution_words(p),
        mind=mind_words(p),
        source=p.source,
        about=p.note,
        listed=one is not None,
        form=said.form or "",
        fill=said.fill or "",
        favourite=said.favourite,
        banned=said.banned,
        note=said.note,
        numbers=_numbers(p, lab, within),
    )


def mind_words(paint: Paint) -> str:
    """What to mind when choosing a paint: "fades in time; toxic, holds cadmium"; "" if nothing."""
    category = paint.handling.lightfast or ""
    fades = LIGHTFAST[category] if category in FUGITIVE else ""
    return "; ".join(words for words in (fades, hazard_words(paint)) if words)


def _numbers(p: Paint, lab: FloatArray, within: float) -> Numbers:
    told = [
        ("full coat, CIELAB", lab_words(lab)),
        ("a quarter coat, nine of ten within CIEDE2000", f"{within:.1f}"),
    ]
    if p.fit_error is not None:
        told.append(("its own swatches, median ΔE*ab", f"{p.fit_error:.1f}"))
    if p.handling.lightfast:
        told.append(("lightfastness category", p.handling.lightfast))
    return tuple(told)
