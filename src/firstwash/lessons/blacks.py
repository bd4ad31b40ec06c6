"""Lesson: never black, darks mixed from the painter's paints beside a black at equal value.

The mixed darks are pairs of coloured paints, fitted to the black's own lightness. All are then
thinned alike, to the same lighter value, and what hue is left is told from the prediction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.markup import table
from firstwash.lessons import draw
from firstwash.lessons.page import Boxes, Lesson, told
from firstwash.lessons.underpainting import mixture_of
from firstwash.lessons.words import article, chroma_of, hue_name, hue_of, joined
from firstwash.lessons.workshop import Workshop, labs_of
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import Paint, paint
from firstwash.plan.bench import Bench
from firstwash.plan.neutral import least_chroma
from firstwash.plan.problem import is_black_or_white

__all__ = ["Dark", "Darks", "blacks", "darks_of", "sentences_of"]

DARK: Final = 22.0  # L* that all are brought to: deep in value step 3
HALF, PALE = 45.0, 70.0  # L* that all are thinned to
VALUE_WITHIN: Final = 2.0  # L* that a dark may miss
QUIET: Final = 14.0  # C* up to which a dark is still taken for one
APART: Final = 40.0  # degrees of hue between the darks that are shown
HUELESS: Final = 3.0  # C* up to which the eye takes a colour for grey; common practice, no source
PART: Final = 0.03  # of the load that each must hold to be measured by hand
SHOWN: Final = 3
THINNINGS: Final = 300
MUCH_MORE: Final = 2.0  # times the colour of the black, for "at least twice"


@dataclass(frozen=True, eq=False)
class Dark:
    """A dark at equal value.

    paints, parts: what it is mixed from, and the amounts at the dark value. thinned: (3, 3)
    CIELAB at the dark, the half and the pale value. curves: (3, 36) reflectance there. ramp:
    (9, 3) CIELAB from dark to nearly paper.
    """

    name: str
    paints: tuple[Paint, ...]
    parts: NDArray[np.float64]
    thinned: NDArray[np.float64]
    curves: NDArray[np.float64]
    ramp: NDArray[np.float64]

    @property
    def chroma(self) -> NDArray[np.float64]:
        """C* (3,) at the three values."""
        return np.hypot(self.thinned[:, 1], self.thinned[:, 2])

    @property
    def uneven(self) -> float:
        """Highest over lowest reflectance where the eye sees most (430 to 680 nm), half value."""
        seen = self.curves[1][5:31]
        return float(seen.max() / seen.min())


@dataclass(frozen=True, eq=False)
class Darks:
    """black: of a black paint; mixed: of pairs. owned: whether the black is the painter's own."""

    black: Dark
    black_paint: Paint
    owned: bool
    mixed: tuple[Dark, ...]


def _thinned(bench: Bench, recipe: FloatArray, lightness: float) -> float:
    """Times the recipe (paints,) whose dry coat comes nearest to an L*; at most one full coat."""
    most = 1.0 / max(float(recipe @ bench.loads), 1e-12)
    times = np.geomspace(most * 1e-4, most, THINNINGS)
    seen = labs_of(bench, (times[:, None] * recipe)[:, None])[:, -1, 0]
    place = int(np.argmin(np.abs(seen - lightness)))
    low, high = times[max(place - 1, 0)], times[min(place + 1, THINNINGS - 1)]
    times = np.linspace(low, high, THINNINGS)
    seen = labs_of(bench, (times[:, None] * recipe)[:, None])[:, -1, 0]
    return float(times[int(np.argmin(np.abs(seen - lightness)))])


def _dark(name: str, paints: Sequence[Paint], recipe: FloatArray, shop: Workshop) -> Dark:
    bench = Bench.of(paints, shop.paper)
    times = [_thinned(bench, recipe, level) for level in (DARK, HALF, PALE)]
    amounts = np.array(times)[:, None] * recipe
    curves = np.array(
        [stages(shop.paper, (a @ bench.k)[None], (a @ bench.s)[None])[-1] for a in amounts]
    )
    ramp = np.geomspace(times[0], times[2] * 0.15, 9)[:, None] * recipe
    return Dark(
        name=name,
        paints=tuple(paints),
        parts=amounts[0],
        thinned=labs_of(bench, amounts[:, None])[:, -1],
        curves=curves,
        ramp=labs_of(bench, ramp[:, None])[:, -1],
    )


def _black_of(shop: Workshop) -> tuple[Paint, bool]:
    """The painter's own black, or the catalogue's."""
    for one in shop.owned:
        if any(n.startswith("PBk") for n in one.pigments):
            return one, True
    return paint("PBk9"), False


def _candidates(shop: Workshop) -> list[tuple[tuple[Paint, Paint], NDArray[np.float64]]]:
    """Pairs of coloured paints and the amounts (2,) that make the quietest dark of them."""
    coloured = [p for p in shop.owned if not is_black_or_white(p)]
    bench, bare = Bench.of(coloured, shop.paper), np.zeros((0, len(coloured)))
    groups = list(combinations(range(len(coloured)), 2))
    out = []
    for (i, j), glaze in zip(groups, least_chroma(bench, bare, groups, DARK), strict=True):
        loads = (glaze * bench.loads)[[i, j]]
        if loads.sum() <= 0.0 or loads.min() < PART * loads.sum():
            continue
        lab = bench.labs(glaze[None])[-1]
        if abs(lab[0] - DARK) <= VALUE_WITHIN and chroma_of(lab) <= QUIET:
            out.append(((coloured[i], coloured[j]), glaze[[i, j]]))
    return out


def darks_of(shop: Workshop) -> Darks:
    """The black and up to three mixed darks of different hue, the quietest first."""
    black, owned = _black_of(shop)
    own = _dark(black.name, [black], np.array([black.full_coat]), shop)
    made = []
    for pair, recipe in _candidates(shop):
        loads = recipe / np.array([p.full_coat for p in pair])
        first = int(np.argmax(loads))
        name = f"{pair[first].name} with {pair[1 - first].name}"
        made.append(_dark(name, pair, recipe, shop))
    made.sort(key=lambda d: (float(d.chroma[0]), d.name))
    chosen: list[Dark] = []
    for dark in made:
        if len(chosen) < SHOWN and all(_turned(dark, other) >= APART for other in chosen):
            chosen.append(dark)
    return Darks(own, black, owned, tuple(chosen))


def _turned(one: Dark, other: Dark) -> float:
    """Degrees between the hues of two darks when pale."""
    turn = hue_of(one.thinned[2]) - hue_of(other.thinned[2])
    return abs((turn + 180.0) % 360.0 - 180.0)


def _named(darks: Darks) -> tuple[Paint, ...]:
    every = [p for d in (*darks.mixed, darks.black) for p in d.paints]
    return tuple({p.key: p for p in every}.values())


def _one_told(dark: Dark, black: Dark) -> str:
    """What one mixed dark does when thinned, set against the black."""
    deep, _, pale = dark.chroma
    start = (
        "looks black"
        if deep <= HUELESS
        else f"still is {hue_name(hue_of(dark.thinned[0]))}, if you look for it"
    )
    if pale <= HUELESS:
        end = "and thinned it is grey, like the black"
    else:
        end = f"and thinned it turns out {draw.said(dark.thinned[2])}"
    more = ""
    if pale > HUELESS:
        times = pale / max(float(black.chroma[2]), 1e-9)
        if times >= MUCH_MORE:
            more = ", with at least twice the colour of the thinned black"
        elif times < 1.0:
            more = ", with less colour than the thinned black"
    return f"At equal value {dark.name} {start}, {end}{more}."


def sentences_of(darks: Darks, shop: Workshop) -> tuple[str, ...]:
    """What was found, each sentence from the prediction."""
    black = darks.black
    whose = f"your {black.name}" if darks.owned else article(black.name)
    word = "nothing but grey" if black.chroma[2] <= HUELESS else draw.said(black.thinned[2])
    out = [f"Thinned, {whose} gives {word}."]
    if abs(black.thinned[0, 0] - DARK) > VALUE_WITHIN:
        out.append(f"One full coat of it dries to value L* {black.thinned[0, 0]:.0f}.")
    if not darks.mixed:
        return (*out, _no_dark(shop))
    out += [_one_told(d, black) for d in darks.mixed]
    livelier = [d for d in darks.mixed if d.uneven > black.uneven]
    if livelier:
        shows = all(d.chroma[1] > d.chroma[0] for d in livelier)
        ratios = joined([f"{d.name} {d.uneven:.1f} times" for d in livelier])
        out.append(
            f"Why: {whose} throws back about the same share of every light, its highest "
            f"{black.uneven:.1f} times its lowest at half value; {ratios}. What is thrown back "
            f"unevenly has a hue{', and water brings it out' if shows else ''}."
        )
    return tuple(out)


def _no_dark(shop: Workshop) -> str:
    coloured = [p for p in shop.owned if not is_black_or_white(p)]
    if len(coloured) < 2:
        return (
            "A dark without black takes two coloured paints that nearly grey each other; you have "
            f"{'one' if coloured else 'none'}, so this page can only show the black."
        )
    return (
        f"No two of your {len(coloured)} coloured paints reach this value as a quiet dark in one "
        "coat: take two coats, or add a deep blue, green or violet and an earth or a deep red."
    )


def _strips(darks: Darks) -> str:
    out = [
        f"<div><p><strong>{escape(dark.name.capitalize())}</strong></p>"
        + draw.strip(dark.thinned, ("dark", "half thinned", "pale"), f"{dark.name} at three values")
        + draw.ramp(dark.ramp, f"{dark.name} from dark to nearly paper")
        + "</div>"
        for dark in (darks.black, *darks.mixed)
    ]
    return f'<div class="strips">{"".join(out)}</div>'


def _chart(darks: Darks) -> str:
    curves = [(d.name, d.curves[1]) for d in (darks.black, *darks.mixed)]
    what = "Share of light thrown back over the spectrum, all thinned to the same half value: " + (
        "; ".join(f"{d.name}, highest {d.uneven:.1f} times its lowest"
                  for d in (darks.black, *darks.mixed))
    )  # fmt: skip
    return (
        "<h2>Why: the light they throw back</h2><p>All thinned to the same half value. A flat line "
        "is a grey; a hill is a hue.</p>" + draw.chart(curves, what)
    )


def _rows(darks: Darks) -> str:
    rows = [_row(d, mixture_of(d.paints, d.parts)) for d in darks.mixed]
    head = ("Dark", "Parts", "L*", "Colour at the dark (C*)", "Half thinned", "Pale", "Pale looks")
    return table(head, [_row(darks.black, "–"), *rows])


def _row(dark: Dark, recipe: str) -> list[str]:
    deep, half, pale = dark.chroma
    return [
        escape(dark.name),
        escape(recipe),
        f"{dark.thinned[0, 0]:.0f}",
        f"{deep:.1f}",
        f"{half:.1f}",
        f"{pale:.1f}",
        escape(draw.said(dark.thinned[2])),
    ]


def blacks(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    darks = darks_of(shop)
    said = sentences_of(darks, shop)
    owned = (
        "The black is on your list."
        if darks.owned
        else "You own no black; the one shown is of the catalogue, to compare with."
    )
    body = (
        "<p>Painters are told to mix their darks and leave the black in its tube. See what your "
        f"own paints do, all brought to the black’s own value and then thinned. {owned}</p>"
        + _strips(darks)
        + "<h2>What was found</h2>"
        + told(said)
        + _chart(darks)
        + "<h2>The numbers</h2>"
        + _rows(darks)
        + '<p class="small">All at the same lightness, told as CIELAB under daylight (D65). Full '
        "strength is measured or estimated, thinner washes follow from the model.</p>"
    )
    everyone = (darks.black, *darks.mixed)
    best = max(everyone, key=lambda d: float(d.chroma[2]))
    return Lesson(
        key="blacks",
        title="Never black",
        lead="Darks mixed from your paints beside a black of equal value, and what water shows.",
        body=body,
        sentences=said,
        numbers={
            d.name: {
                "lab": d.thinned.round(2).tolist(),
                "chroma": d.chroma.round(2).tolist(),
                "uneven": round(d.uneven, 2),
            }
            for d in everyone
        },
        asks=(
            "Cover the names: which dark is the tube black?",
            "Which mixed dark would you take under the jug, and which beside the lemons?",
            "Where in the strip does the hue first show?",
        ),
        task="Which of these darks has most colour left when it is pale?",
        answer=f"<p>{escape(best.name.capitalize())}: C* {best.chroma[2]:.1f} at the pale value, "
        f"{escape(draw.said(best.thinned[2]))}.</p>",
        sheet=tuple(Boxes(d.name, ("dark", "half thinned", "pale", "fade out")) for d in everyone),
        paints=_named(darks),
    )
