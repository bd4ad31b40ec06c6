"""Lesson: wet against dry, the drying shift and the two kinds of edges.

The wet look comes from `optics.wet`, which is unvalidated; beside the best guess stand the shifts
for the two ends of its one fitted number. How far paint runs in the wet is common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.markup import table
from firstwash.lessons import draw
from firstwash.lessons.page import Boxes, Lesson, told
from firstwash.lessons.words import chroma_of, joined, value_change
from firstwash.lessons.workshop import Workshop, labs_of, share_of_coat
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.wet import WATER, wet_stages
from firstwash.paints.catalogue import Paint
from firstwash.picture.profile import encode_png
from firstwash.plan.bench import Bench
from firstwash.plan.fields import LAY_IN_MM

__all__ = ["Edge", "Shift", "edge_of", "sentences_of", "shift_of", "shifts_of", "wet_dry"]

STRENGTHS: Final = (("pale", 85.0), ("middle", 60.0), ("strong", 35.0))  # L* dry, where it can be
# What else water may do, one change at a time: paint or fibres that scatter more or less than is
# taken, and an eye that looks past the wet shine (docs/decisions/0015-wet-and-dry.md).
OTHERS: Final = (
    replace(WATER, paint=0.30),
    replace(WATER, paint=0.70),
    replace(WATER, fibre=0.5 * WATER.fibre),
    replace(WATER, fibre=2.0 * WATER.fibre),
    replace(WATER, k1=0.0),
)
PX_PER_MM: Final = 5.0
ACROSS_MM, DOWN_MM = 40.0, 16.0
WASHES: Final = (70.0, 55.0)  # L* of the two washes whose edges are shown
DISTINCT: Final = 5.0  # L* between two strokes of one paint that are worth showing
SEEN: Final = 1.5  # L* that nobody would call a change; common practice, no source


@dataclass(frozen=True, eq=False)
class Shift:
    """One stroke wet and dry.

    wet, dry: CIELAB (3,). between: L* it gains on drying if water does what it does otherwise
    than is taken here, least and most.
    """

    paint: Paint
    strength: str
    wet: NDArray[np.float64]
    dry: NDArray[np.float64]
    between: tuple[float, float]

    @property
    def dries(self) -> float:
        """L* gained on drying; below 0 it dries darker."""
        return float(self.dry[0] - self.wet[0])


@dataclass(frozen=True, eq=False)
class Edge:
    """How two washes meet. labs: (pixels, 3) CIELAB across; width_mm: over which they change."""

    name: str
    labs: NDArray[np.float64]
    width_mm: float


def shift_of(paint: Paint, strength: str, lightness: float, shop: Workshop) -> Shift:
    """A stroke of one paint that dries to an L*, or as near as it comes."""
    amount = share_of_coat(paint, lightness, shop.paper) * paint.full_coat
    kx, sx = (amount * paint.k)[None], (amount * paint.s)[None]
    dry = reflectance_to_lab(stages(shop.paper, kx, sx)[-1])
    wet = reflectance_to_lab(wet_stages(shop.paper, kx, sx)[-1])
    ends = [
        float(dry[0] - reflectance_to_lab(wet_stages(shop.paper, kx, sx, other)[-1])[0])
        for other in OTHERS
    ]
    return Shift(paint, strength, wet, dry, (min(ends), max(ends)))


def shifts_of(paint: Paint, shop: Workshop) -> list[Shift]:
    """Pale, middle and strong strokes of a paint, those that it can make."""
    out: list[Shift] = []
    for word, level in STRENGTHS:
        one = shift_of(paint, word, level, shop)
        if not out or out[-1].dry[0] - one.dry[0] >= DISTINCT:
            out.append(one)
    return out


def edge_of(name: str, bench: Bench, amounts: FloatArray, sigma_mm: float) -> Edge:
    """Two washes side by side; amounts: (2, colours); sigma_mm: how far paint runs over."""
    pixels = round(ACROSS_MM * PX_PER_MM)
    share = (np.arange(pixels) >= pixels // 2).astype(np.float64)[None]
    if sigma_mm > 0.0:
        width = sigma_mm * PX_PER_MM
        share = np.asarray(
            cv2.GaussianBlur(share, (0, 0), width, borderType=cv2.BORDER_REPLICATE), np.float64
        )
    mixed = (1.0 - share.ravel())[:, None] * amounts[0] + share.ravel()[:, None] * amounts[1]
    labs = labs_of(bench, mixed[:, None])[:, -1]
    return Edge(name, labs, _width(labs))


def _width(labs: FloatArray) -> float:
    """Millimetres over which the colour goes from a tenth to nine tenths of the way along."""
    steps = delta_e_2000(labs[1:], labs[:-1])
    way = np.concatenate([[0.0], np.cumsum(steps)]) / max(float(steps.sum()), 1e-9)
    inside = (way > 0.1) & (way < 0.9)
    return float(inside.sum() / PX_PER_MM)


def _washes(shop: Workshop) -> tuple[tuple[Paint, Paint], NDArray[np.float64]]:
    """The two paints whose hues differ most, and amounts (2, 2) of a wash of each."""
    chosen = list(shop.palette)
    labs = np.array([shift_of(p, "", WASHES[0], shop).dry for p in chosen])
    off = np.hypot(labs[:, None, 1] - labs[None, :, 1], labs[:, None, 2] - labs[None, :, 2])
    i, j = np.unravel_index(int(np.argmax(off)), off.shape)
    pair = (chosen[int(i)], chosen[int(j)])
    amounts = np.array(
        [
            share_of_coat(p, level, shop.paper) * p.full_coat
            for p, level in zip(pair, WASHES, strict=True)
        ]
    )
    return pair, np.diag(amounts)


def _edges(shop: Workshop) -> tuple[tuple[Paint, Paint], tuple[Edge, Edge]]:
    pair, amounts = _washes(shop)
    bench = Bench.of(pair, shop.paper)
    if pair[0].key == pair[1].key:  # one paint alone: a pale wash beside a stronger one
        bench, amounts = Bench.of(pair[:1], shop.paper), np.diag(amounts)[:, None]
    return pair, (
        edge_of("beside a dry wash", bench, amounts, 0.0),
        edge_of("into a wet wash", bench, amounts, LAY_IN_MM),
    )


def sentences_of(shifts: Sequence[Shift], edges: Sequence[Edge]) -> tuple[str, ...]:
    """What drying does to these paints, and how the edges differ, from the prediction."""
    mean = float(np.mean([s.dries for s in shifts]))
    low, high = (float(np.mean([s.between[i] for s in shifts])) for i in (0, 1))
    most, least = max(shifts, key=lambda s: s.dries), min(shifts, key=lambda s: s.dries)
    out = [
        f"On average these strokes dry {value_change(mean)} (by {mean:.1f} L*); with other guesses "
        f"for what water does it would be {low:.1f} to {high:.1f}."
    ]
    if most.dries - least.dries >= SEEN:
        out.append(
            f"Most dries the {most.strength} {most.paint.name}: {value_change(most.dries)}. Least "
            f"the {least.strength} {least.paint.name}: {value_change(least.dries)}."
        )
    darker = [s for s in shifts if s.dries < -SEEN]
    if darker:
        names = joined([f"{s.strength} {s.paint.name}" for s in darker])
        out.append(f"By this theory a few dry darker: {names}; trust a test strip more.")
    chroma = float(np.mean([chroma_of(s.dry) - chroma_of(s.wet) for s in shifts]))
    if abs(chroma) >= 1.0:
        out.append(f"They dry {'duller' if chroma < 0 else 'clearer'} by {abs(chroma):.1f} C*.")
    else:
        out.append("By this theory their colour strength hardly changes on drying, on average.")
    hard, soft = edges
    out.append(
        f"Laid {hard.name} a stroke stops at a line; laid {soft.name} the two run into one another "
        f"over about {soft.width_mm:.0f} mm, if paint runs as far as is assumed."
    )
    return tuple(out)


def _strips(shifts: Sequence[Shift]) -> str:
    out = []
    for paint in dict.fromkeys(s.paint for s in shifts):
        own = [s for s in shifts if s.paint is paint]
        wet, dry = np.array([s.wet for s in own]), np.array([s.dry for s in own])
        drawn = draw.halves(
            wet, dry, [s.strength for s in own], f"{paint.name}, wet above and dry below"
        )
        out.append(f"<div><p><strong>{escape(paint.name.capitalize())}</strong></p>{drawn}</div>")
    return (
        "<p>The upper half of each box is wet, the lower half the same stroke when dry.</p>"
        f'<div class="strips two">{"".join(out)}</div>'
    )


def _signed(change: float) -> str:
    return f"{change:+.1f}".replace("-", "−")


def _edge_pictures(pair: tuple[Paint, Paint], edges: Sequence[Edge]) -> str:
    figures = []
    rows = round(DOWN_MM * PX_PER_MM)
    size = (round(ACROSS_MM * PX_PER_MM), rows)
    names = (pair[0].name, pair[1].name if pair[1] is not pair[0] else "more of it")
    for edge in edges:
        shown = np.broadcast_to(draw.srgb8(edge.labs)[None], (rows, len(edge.labs), 3))
        meets = f"{edge.width_mm:.0f} mm" if edge.width_mm >= 0.5 else "a line"
        alt = f"{names[0]} and {names[1]} laid {edge.name}: they meet over {meets}"
        caption = f"<strong>{escape(edge.name.capitalize())}</strong><br>they meet over {meets}"
        figures.append(draw.picture(encode_png(np.ascontiguousarray(shown)), alt, caption, size))
    return draw.pictures(figures, few=True)


def _rows(shifts: Sequence[Shift]) -> str:
    rows = [
        [
            escape(f"{s.paint.name}, {s.strength}"),
            f"{s.wet[0]:.0f}",
            f"{s.dry[0]:.0f}",
            _signed(s.dries),
            f"{_signed(s.between[0])} to {_signed(s.between[1])}",
        ]
        for s in shifts
    ]
    head = ("Stroke", "L* wet", "L* dry", "Dries by", "With other guesses")
    return "<h2>The numbers</h2>" + table(head, rows)


def _body(
    shifts: Sequence[Shift], pair: tuple[Paint, Paint], edges: Sequence[Edge], said: Sequence[str]
) -> str:
    return (
        "<p>A wash is judged while it is wet and seen when it is dry. Water fills the gaps between "
        "pigment, fibre and air, less light is scattered back, and the wash looks deeper than it "
        'will be.</p><div class="illustration"><p><strong>Not validated.</strong> No open '
        "measurement of wet washes is known. The wet colours follow from theory with one number "
        "fitted to one published mean; take them as a direction, not as an amount.</p></div>"
        "<h2>The same strokes, wet and dry</h2>"
        + _strips(shifts)
        + "<h2>What was found</h2>"
        + told(said)
        + "<h2>Edges</h2><p>"
        + escape(f"{pair[0].name.capitalize()} and {pair[1].name}, as they meet when dry.")
        + "</p>"
        + _edge_pictures(pair, edges)
        + f'<p class="small">That paint runs {LAY_IN_MM:.0f} mm (one standard deviation) into a '
        "wet wash is common practice, not a measurement; more water runs further.</p>"
        + _rows(shifts)
    )


def _numbers(shifts: Sequence[Shift], edges: Sequence[Edge]) -> dict[str, Any]:
    told: dict[str, Any] = {
        f"{s.paint.key} {s.strength}": {
            "wet": s.wet.round(2).tolist(),
            "dry": s.dry.round(2).tolist(),
            "dries": round(s.dries, 2),
            "between": [round(v, 2) for v in s.between],
        }
        for s in shifts
    }
    told["edges_mm"] = {e.name: round(e.width_mm, 1) for e in edges}
    return told


def wet_dry(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    shifts = [s for p in shop.palette for s in shifts_of(p, shop)]
    pair, edges = _edges(shop)
    said = sentences_of(shifts, edges)
    most = max(shifts, key=lambda s: s.dries)
    return Lesson(
        key="wet-dry",
        title="Wet against dry",
        lead="How much lighter a wash dries, how unsure that is, and what water does to edges.",
        body=_body(shifts, pair, edges, said),
        sentences=said,
        numbers=_numbers(shifts, edges),
        asks=(
            "How much darker must a wash look wet to dry to the value you want?",
            "Which edges in the still life are hard, which are soft, and which are lost?",
            "What do you watch for before you lay paint into a wet wash?",
        ),
        task="Which of these strokes would surprise you most when it is dry?",
        answer=(
            f"<p>The {most.strength} {escape(most.paint.name)}: it dries "
            f"{value_change(most.dries)}, from L* {most.wet[0]:.0f} to {most.dry[0]:.0f} by this "
            "theory.</p>"
        ),
        sheet=(
            *(Boxes(p.name, ("pale", "middle", "strong")) for p in shop.palette),
            Boxes("Edges", ("beside a dry wash", "into a wet wash", "softened with water")),
        ),
        paints=shop.palette,
    )
