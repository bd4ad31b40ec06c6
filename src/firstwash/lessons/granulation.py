"""Lesson: granulation, staining and lifting, from what the catalogue knows of the paints.

Two things here are not predictions and say so. The speckle is drawn: paint is put into the
hollows of a made-up paper by the grade that the catalogue gives, and only the colours follow from
the optics. What a wet brush lifts is assumed by the grade of staining.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.handout.markup import table
from firstwash.handout.words import colour_words
from firstwash.lessons import draw
from firstwash.lessons.page import Boxes, Lesson, told
from firstwash.lessons.words import joined, value_change
from firstwash.lessons.workshop import Workshop, labs_of, share_of_coat
from firstwash.optics.observer import lab_to_srgb8
from firstwash.paints.catalogue import Paint
from firstwash.picture.profile import encode_png
from firstwash.plan.bench import Bench

__all__ = ["LIFTED", "Handled", "granulation", "handled", "paper_height", "sentences_of"]

LIFTED: Final = (0.80, 0.65, 0.45, 0.25, 0.10)  # share of dry paint a wet brush takes off, by
# the grade of staining 0-4: assumed, no source
CLUMPED: Final = (0.0, 0.25, 0.5, 0.75, 1.0)  # how unevenly paint lies, by the grade of
# granulation 0-4: assumed, no source
MIDDLE: Final = 60.0  # L* of the strokes that are drawn
GRAINS: Final = 2  # grade of granulation from which a paint granulates
STAINS, LIFTS = 3, 1  # grades of staining from which it stains, up to which it lifts
SIDE: Final = 200  # pixels of a drawn patch
SHOWN: Final = 6  # patches drawn
WORDS: Final = ("not at all", "hardly", "some", "much", "very much")


@dataclass(frozen=True, eq=False)
class Handled:
    """One paint as the catalogue knows it, and what lifting would leave.

    stroke, lifted: CIELAB (3,) of a stroke and of what is left of it; lifted is None where the
    grade of staining is not known.
    """

    paint: Paint
    share: float
    stroke: NDArray[np.float64]
    lifted: NDArray[np.float64] | None

    @property
    def grains(self) -> bool:
        """Whether the catalogue says it granulates."""
        grade = self.paint.handling.granulation
        return grade is not None and grade >= GRAINS

    @property
    def stains(self) -> bool:
        """Whether the catalogue says it stains."""
        grade = self.paint.handling.staining
        return grade is not None and grade >= STAINS

    @property
    def lifts(self) -> bool:
        """Whether the catalogue says it lifts."""
        grade = self.paint.handling.staining
        return grade is not None and grade <= LIFTS


def handled(shop: Workshop) -> tuple[Handled, ...]:
    """The painter's paints with their strokes, in the order of the list."""
    return tuple(_handled(p, shop) for p in shop.owned)


def _handled(paint: Paint, shop: Workshop) -> Handled:
    share = share_of_coat(paint, MIDDLE, shop.paper)
    grade = paint.handling.staining
    left = 1.0 if grade is None else 1.0 - LIFTED[grade]
    amounts = np.array([share, share * left])[:, None, None] * paint.full_coat
    stroke, lifted = labs_of(Bench.of([paint], shop.paper), amounts)[:, -1]
    return Handled(paint, share, stroke, None if grade is None else lifted)


def paper_height(side: int = SIDE) -> NDArray[np.float64]:
    """Height (side, side) of a made-up cold-pressed paper, mean 0, standard deviation 1.

    The same at every call: waves of three sizes from one seed.
    """
    random = np.random.default_rng(7)
    out = np.zeros((side, side))
    for size, share in ((0.7, 0.45), (1.7, 1.0), (4.0, 0.35)):
        noise = cv2.GaussianBlur(random.standard_normal((side, side)), (0, 0), size)
        out += share * noise / noise.std()
    return np.asarray((out - out.mean()) / out.std())


def _speckled(one: Handled, shop: Workshop) -> bytes:
    """A PNG of the paint settled into a paper's hollows by its grade, on the whole as much of it
    as in the even stroke.
    """
    grade = one.paint.handling.granulation or 0
    uneven = np.exp(-0.9 * CLUMPED[grade] * paper_height())
    amount = one.share * one.paint.full_coat * uneven / uneven.mean()
    levels = np.linspace(amount.min(), amount.max(), 64) if grade else np.array([amount.mean()])
    labs = labs_of(Bench.of([one.paint], shop.paper), levels[:, None, None])[:, -1]
    if not grade:
        return encode_png(np.broadcast_to(lab_to_srgb8(labs[0]), (SIDE, SIDE, 3)))
    seen = np.stack([np.interp(amount, levels, labs[:, c]) for c in range(3)], axis=-1)
    return encode_png(lab_to_srgb8(seen))


def sentences_of(found: Sequence[Handled]) -> tuple[str, ...]:
    """What the catalogue says of these paints, in sentences."""
    grains = [h.paint.name for h in found if h.grains]
    stains = [h.paint.name for h in found if h.stains]
    lifts = [h.paint.name for h in found if h.lifts]
    unknown = [h.paint.name for h in found if h.paint.handling.granulation is None]
    out = [
        f"These of your paints granulate: {joined(grains)}. Use them where the thing itself is "
        "rough or airy, the wall and the linen; keep them off enamel and lemon skin."
        if grains
        else "None of your paints granulates, as far as is known: washes dry even, and rough "
        "things need a dry brush."
    ]
    if stains:
        out.append(
            f"These stain: {joined(stains)}. Lay them low in the stack, for glazes over them will "
            "not stir them; on top they cannot be corrected."
        )
    if lifts:
        out.append(
            f"These lift: {joined(lifts)}. Good for late passages that may need a light taken out "
            "again; as a first wash a later wet glaze stirs them."
        )
    if not stains and not lifts:
        out.append("None is known to stain much or to lift well: try each on a strip.")
    if unknown:
        out.append(f"Nothing is known of the grain of {joined(unknown)}: try it on rough paper.")
    out += _lifting_told(found)
    return tuple(out)


def _lifting_told(found: Sequence[Handled]) -> list[str]:
    """Which stroke lifting would change most and least, if the assumption holds."""
    known = [(h, float(h.lifted[0] - h.stroke[0])) for h in found if h.lifted is not None]
    if len(known) < 2:
        return []
    most, least = max(known, key=lambda k: k[1]), min(known, key=lambda k: k[1])
    if most[1] - least[1] < 1.5:
        return []
    return [
        f"If a wet brush takes off what is assumed here, a middle stroke of {most[0].paint.name} "
        f"comes out {value_change(most[1])}, one of {least[0].paint.name} {value_change(least[1])}."
    ]


def _patches(found: Sequence[Handled], shop: Workshop) -> str:
    """Drawn grain of the paints that have most and least of it."""
    known = [h for h in found if h.paint.handling.granulation is not None]
    ranked = sorted(known, key=lambda h: -(h.paint.handling.granulation or 0))
    if len(ranked) > SHOWN:
        ranked = [*ranked[: SHOWN - 2], *ranked[-2:]]
    if not ranked:
        return ""
    figures = []
    for one in ranked:
        grade = WORDS[one.paint.handling.granulation or 0]
        alt = (
            f"A patch of {one.paint.name} with its grain drawn in: "
            f"{draw.said(one.stroke)}, granulates {grade}"
        )
        caption = f"<strong>{escape(one.paint.name)}</strong><br>granulates {grade}"
        figures.append(draw.picture(_speckled(one, shop), alt, caption, (SIDE, SIDE)))
    return (
        '<div class="illustration"><p><strong>An illustration, not a prediction.</strong> The '
        "speckle is drawn: paint settles in the hollows of a made-up paper by the grade that the "
        "catalogue gives. How strong it is on your paper only a stroke of yours can tell.</p>"
        + draw.pictures(figures)
        + "</div>"
    )


def _lifting(found: Sequence[Handled]) -> str:
    rows = []
    for one in found:
        grade = one.paint.handling.staining
        if one.lifted is None or grade is None:
            continue
        name = one.paint.name
        rows.append(
            "<div>"
            f"<p><strong>{escape(name)}</strong>, assumed to give up {LIFTED[grade]:.0%}</p>"
            + draw.strip(np.stack([one.stroke, one.lifted]), ("stroke", "lifted"), f"{name} lifted")
            + "</div>"
        )
    if not rows:
        return ""
    return (
        '<h2>What can be taken off</h2><div class="illustration"><p>How much a wet brush lifts is '
        "<strong>an assumption</strong>, by the grade of staining alone: from "
        f"{LIFTED[0]:.0%} of a paint that does not stain to {LIFTED[-1]:.0%} of one that stains "
        "most. Paper, size and time since drying count as much. The colour of what is left is "
        f'predicted.</p><div class="strips two">{"".join(rows)}</div></div>'
    )


def _grade(grade: int | None) -> str:
    return "not known" if grade is None else WORDS[grade]


def _table(found: Sequence[Handled]) -> str:
    rows = [
        [
            f"<strong>{escape(h.paint.name)}</strong>",
            escape(_grade(h.paint.handling.granulation)),
            escape(_grade(h.paint.handling.staining)),
            escape(colour_words(tuple(float(v) for v in h.stroke))),  # type: ignore[arg-type]
            escape(_known_from(h.paint)),
        ]
        for h in found
    ]
    head = ("Paint", "Granulates", "Stains", "Middle stroke", "Known from")
    return "<h2>Your paints</h2>" + table(head, rows)


def _known_from(paint: Paint) -> str:
    return {"published": "published", "memory": "memory", "mixed": "partly published"}.get(
        paint.handling.sources.get("handling", ""), "–"
    )


def granulation(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    found = handled(shop)
    said = sentences_of(found)
    body = (
        "<p>Some pigments are heavy and settle in the hollows of the paper; some are so fine that "
        "they go into the fibre and stay. The catalogue knows this for many paints, mostly as "
        "grades, not as measurements.</p><h2>What is known of yours</h2>"
        + told(said)
        + "<h2>Grain</h2>"
        + _patches(found, shop)
        + _lifting(found)
        + _table(found)
    )
    numbers: dict[str, Any] = {
        h.paint.key: {
            "granulation": h.paint.handling.granulation,
            "staining": h.paint.handling.staining,
            "stroke": h.stroke.round(2).tolist(),
            "lifted": None if h.lifted is None else h.lifted.round(2).tolist(),
        }
        for h in found
    }
    grains = [h.paint.name for h in found if h.grains]
    return Lesson(
        key="granulation",
        title="Granulation, staining and lifting",
        lead="What the catalogue knows of how your paints lie on the paper, and where to use it.",
        body=body,
        sentences=said,
        numbers=numbers,
        asks=(
            "Which part of the still life is rough, and which is smooth?",
            "Which of your paints would you rather not have under a wet glaze, and why?",
            "How would you find out how a paint lifts that nobody has told you about?",
        ),
        task="Name a paint of yours that you would take for the wall’s shadow, for its grain.",
        answer=(
            f"<p>One of these: {escape(joined(grains, 'or'))}.</p>"
            if grains
            else "<p>None of yours granulates; a dry brush over the dry wash breaks it up.</p>"
        ),
        sheet=tuple(
            Boxes(h.paint.name, ("stroke", "lifted after 10 minutes", "lifted next day"))
            for h in found[:8]
        ),
        paints=shop.owned,
    )
