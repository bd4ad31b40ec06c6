"""Lesson: complementary glazes, pairs of the painter's own paints that grey each other.

Pairs are found by prediction (`plan.neutral`): every two coloured paints are fitted to lose all
chroma at a middle lightness on bare paper. Each pair is then laid in nine steps from one paint
alone through the grey to the other, glazed in two coats and mixed in one puddle.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import combinations
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.glaze_reasons import why_glaze
from firstwash.advice.glaze_words import WhyWords, why_words
from firstwash.arrays import FloatArray
from firstwash.handout.markup import table
from firstwash.handout.reasons import LEANS, lean_word
from firstwash.lessons import draw
from firstwash.lessons.page import Boxes, Lesson, told, why_folded
from firstwash.lessons.words import chroma_of, joined
from firstwash.lessons.workshop import Workshop, labs_of, share_of_coat
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints
from firstwash.plan.bench import Bench
from firstwash.plan.board.amounts import whole_parts
from firstwash.plan.neutral import Neutral, as_neutral, least_chroma
from firstwash.plan.problem import is_black_or_white

__all__ = ["Pair", "complements", "grey_pairs", "ladder_of", "sentences_of"]

GREY_AT: Final = 55.0  # L* that the greys are fitted to: value step 6
VALUE_WITHIN: Final = 6.0  # L* that a grey may miss it
GREY_TO: Final = 3.0  # C* up to which the eye takes a colour for grey; common practice, no source
COLOURED: Final = 12.0  # C* that a paint's own middle stroke has at least
SHOWN: Final = 4  # pairs with a ladder
TOLD: Final = 12  # pairs in the table
STEPS: Final = 9  # of a ladder
FINE: Final = 101  # the same, to find its greyest place
MOVED: Final = 0.03  # of a ladder's length, for its greyest place to count as moved
PART: Final = 0.03  # of the load that each must hold to be measured by hand
ORDER_TELLS: Final = 2.0  # CIEDE2000 from which the order, or a glaze for a puddle, is told


@dataclass(frozen=True, eq=False)
class Pair:
    """Two paints that grey each other.

    neutral: the grey. mixed, glazed, turned: (9, 3) CIELAB from the first alone to the second
    alone: in one puddle; the second glazed over the first; the first over the second.
    greyest: (2,) place 0-1 along the glazed and the turned ladder where least colour is left.
    why: the glaze of the middle explained.
    vivid: C* of the duller of the two alone at the grey's lightness.
    """

    one: Paint
    other: Paint
    neutral: Neutral
    mixed: NDArray[np.float64]
    glazed: NDArray[np.float64]
    turned: NDArray[np.float64]
    greyest: tuple[float, float]
    why: WhyWords
    vivid: float

    @property
    def order(self) -> float:
        """CIEDE2000 between the two orders in the middle of the ladder."""
        middle = STEPS // 2
        return float(delta_e_2000(self.glazed[middle], self.turned[middle]))

    @property
    def puddle(self) -> float:
        """CIEDE2000 between glazed and mixed in the middle of the ladder."""
        middle = STEPS // 2
        return float(delta_e_2000(self.glazed[middle], self.mixed[middle]))


def ladder_of(
    bench: Bench, amounts: FloatArray, steps: int = STEPS
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """(mixed, glazed, turned), each (steps, 3) CIELAB, for two colours of a bench.

    amounts: (2,) those of the mixed grey; it stands in the middle, and either end has twice as
    much of one and none of the other.
    """
    way = np.linspace(0.0, 1.0, steps)
    parts = np.stack([2.0 * (1.0 - way), 2.0 * way], axis=1) * amounts
    mixed = labs_of(bench, parts[:, None])[:, -1]
    over, turned = np.zeros((2, steps, 2, 2))
    over[:, 0, 0], over[:, 1, 1] = parts.T
    turned[:, 1, 0], turned[:, 0, 1] = parts.T
    return mixed, labs_of(bench, over)[:, -1], labs_of(bench, turned)[:, -1]


def _pair(paints: Sequence[Paint], paper: Paper, amounts: FloatArray) -> dict[str, Any]:
    """The ladders of two paints through the grey of these amounts (2,), by field of `Pair`."""
    bench = Bench.of(paints, paper)
    mixed, glazed, turned = ladder_of(bench, amounts)
    fine = ladder_of(bench, amounts, FINE)[1:]
    places = [float(np.argmin(np.hypot(f[:, 1], f[:, 2]))) / (FINE - 1) for f in fine]
    return {
        "mixed": mixed,
        "glazed": glazed,
        "turned": turned,
        "greyest": (places[0], places[1]),
        "why": why_words(why_glaze(paper, paints, np.diag(amounts))),
    }


def _strokes(paints: Sequence[Paint], paper: Paper) -> NDArray[np.float64]:
    """C* (paints,) of each alone at the lightness of the greys, or as near as it comes."""
    out = []
    for one in paints:
        share = share_of_coat(one, GREY_AT, paper)
        lab = labs_of(Bench.of([one], paper), np.array([[[share * one.full_coat]]]))[0, -1]
        out.append(chroma_of(lab))
    return np.array(out)


def grey_pairs(paints: Sequence[Paint], paper: Paper, with_: Paint | None = None) -> list[Pair]:
    """Pairs that grey each other, those of the most vivid paints first.

    with_: only pairs that hold this paint.
    """
    strokes = _strokes(paints, paper)
    usable = [
        i for i, p in enumerate(paints) if strokes[i] >= COLOURED and not is_black_or_white(p)
    ]
    groups = [
        g
        for g in combinations(usable, 2)
        if with_ is None or with_.key in (paints[g[0]].key, paints[g[1]].key)
    ]
    bench, bare = Bench.of(paints, paper), np.zeros((0, len(paints)))
    found = []
    for (i, j), glaze in zip(groups, least_chroma(bench, bare, groups, GREY_AT), strict=True):
        loads = glaze * bench.loads
        if min(loads[i], loads[j]) < PART * max(loads.sum(), 1e-9) or loads.sum() <= 0.0:
            continue
        neutral = as_neutral(paints, bench, bare, glaze, np.array([i, j]))
        if neutral.chroma > GREY_TO or abs(neutral.lab[0] - GREY_AT) > VALUE_WITHIN:
            continue
        vivid = float(min(strokes[i], strokes[j]))
        ladders = _pair((paints[i], paints[j]), paper, glaze[[i, j]])
        found.append(Pair(paints[i], paints[j], neutral, vivid=vivid, **ladders))
    return sorted(found, key=lambda p: (-p.vivid, p.one.key, p.other.key))


def _parts(pair: Pair) -> str:
    """The grey's recipe: "2 burnt sienna to 3 ultramarine blue", at full strength."""
    loads = [a / p.full_coat for p, a in pair.neutral.parts]
    first, second = whole_parts(loads)
    (one, _), (other, _) = pair.neutral.parts
    return f"{first} {one.name} to {second} {other.name}"


def _leans(pair: Pair) -> str:
    """Which way a little more of either leans: "more burnt sienna is warmer"."""
    lean = [f"more {n.paint.name} turns it {lean_word(n.more_hue)}" for n in pair.neutral.leans]
    return joined(lean)


def _pair_told(pair: Pair) -> str:
    chroma = pair.neutral.chroma
    grey = "a plain grey" if chroma < 1.0 else f"a grey with a breath of {_tint(pair)} left"
    return (
        f"{pair.one.name.capitalize()} and {pair.other.name} make {grey}, about {_parts(pair)}; "
        f"{_leans(pair)}."
    )


def _tint(pair: Pair) -> str:
    _, a, b = pair.neutral.lab
    hue = float(np.degrees(np.arctan2(b, a)) % 360.0)
    word = next(word for top, word in LEANS if hue < top)
    return {"redder": "red", "warmer": "yellow", "greener": "green", "cooler": "blue"}[word]


def _ways_told(pairs: Sequence[Pair]) -> tuple[str, ...]:
    """Whether glazing differs from mixing, and the order, over the pairs that are shown."""
    puddle = [p for p in pairs if p.puddle >= ORDER_TELLS]
    if puddle:
        glazed = f"The same amounts glazed differ from the puddle for {_names(puddle, pairs)}."
    else:
        glazed = (
            "Glazed or mixed, these pairs end at the same grey, as far as the prediction tells."
        )
    order = [p for p in pairs if p.order >= ORDER_TELLS]
    if not order:
        return (glazed, "Which of the two goes first is hardly seen with these pairs.")
    seen = f"Which paint goes first is seen with {_names(order, pairs)}."
    return (glazed, seen, *_thinner(pairs))


def _thinner(pairs: Sequence[Pair]) -> tuple[str, ...]:
    """Which way the greyest place moves when the second is glazed over the first."""
    less = [p for p in pairs if p.greyest[0] < 0.5 - MOVED]
    more = [p for p in pairs if p.greyest[0] > 0.5 + MOVED]
    out = []
    if less:
        names = joined([p.other.name for p in less])
        out.append(
            f"To reach grey in two coats lay the upper one thinner than in the puddle: {names}."
        )
    if more:
        names = joined([p.other.name for p in more])
        out.append(
            f"To reach grey in two coats lay the upper one stronger than in the puddle: {names}."
        )
    return tuple(out)


def _names(some: Sequence[Pair], every: Sequence[Pair]) -> str:
    """The pairs by name, or how many where it is all of several."""
    if len(some) == len(every) > 1:
        return f"all {len(every)} of them"
    return joined([f"{p.one.name} with {p.other.name}" for p in some])


def sentences_of(pairs: Sequence[Pair], shop: Workshop) -> tuple[str, ...]:
    """What was found, each sentence from the prediction."""
    if not pairs:
        return _no_pair(shop)
    shown = pairs[:SHOWN]
    return (*(_pair_told(p) for p in shown), *_ways_told(shown))


def _no_pair(shop: Workshop) -> tuple[str, ...]:
    """No two paints grey each other: which one more would, from the catalogue."""
    count = len(shop.owned)
    if all(is_black_or_white(p) for p in shop.owned):
        return ("Your paints have no hue: there is nothing to grey, and no grey to turn.",)
    first = (
        "With one paint alone nothing can be greyed: a second one is needed."
        if count == 1
        else f"No two of your {count} paints grey each other at a middle value."
    )
    best = _partner(shop)
    if best is None:
        return (first, "No paint of the catalogue greys one of yours either.")
    own, other = best
    return (
        first,
        f"Of all paints that firstwash knows, {other.name} greys your {own.name} best, as "
        "predicted.",
    )


def _partner(shop: Workshop) -> tuple[Paint, Paint] | None:
    """One of the painter's paints and the one of the catalogue that greys it best."""
    for own in shop.owned:
        others = [p for p in all_paints() if p.key not in {o.key for o in shop.owned}]
        pairs = grey_pairs([own, *others], shop.paper, own)
        if pairs:
            best = min(pairs, key=lambda p: p.neutral.chroma)
            return own, best.other if best.one is own else best.one
    return None


def _ladder(pair: Pair, labs: FloatArray, what: str) -> str:
    """A ladder with the two paints' names at its ends and its greyest step marked."""
    greyest = int(np.argmin(np.hypot(labs[1:-1, 1], labs[1:-1, 2]))) + 1
    return draw.ladder(labs, (pair.one.name, pair.other.name), (greyest, "greyest"), what)


def _ladders(pairs: Sequence[Pair]) -> str:
    out = []
    for pair in pairs[:SHOWN]:
        top = f"{pair.one.name.capitalize()} and {pair.other.name}"
        rows = (
            ("Mixed in one puddle", pair.mixed),
            (f"Glazed: {pair.other.name} over dry {pair.one.name}", pair.glazed),
            (f"Glazed: {pair.one.name} over dry {pair.other.name}", pair.turned),
        )
        drawn = "".join(
            f"<div><p><strong>{escape(how)}</strong></p>"
            f"{_ladder(pair, labs, f'{top}. {how}')}</div>"
            for how, labs in rows
        )
        why = why_folded(
            f"Why, for {pair.other.name} over {pair.one.name}", told(pair.why.sentences)
        )
        out.append(f'<h3>{escape(top)}</h3><div class="strips">{drawn}</div>{why}')
    return "".join(out)


def _rows(pairs: Sequence[Pair]) -> str:
    if not pairs:
        return ""
    rows = [
        [
            escape(f"{p.one.name}, {p.other.name}"),
            escape(_parts(p)),
            f"{p.neutral.lab[0]:.0f}",
            f"{p.neutral.chroma:.1f}",
            f"{p.puddle:.1f}",
            f"{p.order:.1f}",
        ]
        for p in pairs[:TOLD]
    ]
    head = ("Pair", "Parts at full strength", "L* of the grey", "Colour left (C*)",
            "Glazed or mixed differ", "Order differs")  # fmt: skip
    more = len(pairs) - TOLD
    rest = (
        f"<p>{more} more pairs grey each other; the most vivid are shown.</p>" if more > 0 else ""
    )
    return (
        "<h2>Your pairs</h2>" + table(head, rows) + rest
        + '<p class="small">The last two columns are CIEDE2000 in the middle of the ladder: about '
        "1 can just be seen side by side.</p>"
    )  # fmt: skip


def complements(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    pairs = grey_pairs(shop.owned, shop.paper)
    said = sentences_of(pairs, shop)
    body = (
        "<p>A glaze of the opposite hue takes away the light that the wash below left. Where the "
        "two meet in the right amount no hue is left, and the grey is alive because it leans at "
        "once when one of them wins.</p><h2>What was found</h2>"
        + told(said)
        + _ladders(pairs)
        + _rows(pairs)
    )
    named = {p.key: p for pair in pairs[:TOLD] for p in (pair.one, pair.other)}
    numbers: dict[str, Any] = {
        f"{p.one.key} {p.other.key}": {
            "lab": [round(v, 2) for v in p.neutral.lab],
            "chroma": round(p.neutral.chroma, 2),
            "puddle": round(p.puddle, 2),
            "order": round(p.order, 2),
            "greyest_glazed": round(p.greyest[0], 2),
        }
        for p in pairs[:TOLD]
    }
    task, answer = _exercise(pairs)
    sheet = tuple(
        Boxes(f"{p.one.name}, then {p.other.name}", ("first", "…", "grey", "…", "second"))
        for p in pairs[:SHOWN]
    )
    return Lesson(
        key="complements",
        title="Complementary glazes",
        lead="Which of your paints grey each other, and which way the grey leans.",
        body=body,
        sentences=said,
        numbers=numbers,
        asks=(
            "Look at the middle of each ladder: is the grey warm or cool beside the others?",
            "What happens to the grey when the upper glaze is a little stronger?",
            "Where in the still life would you use such a grey instead of a paint from a tube?",
        ),
        task=task,
        answer=answer,
        sheet=sheet or (Boxes("First paint, then second", ("first", "…", "grey", "…", "second")),),
        paints=tuple(named.values()) or shop.owned,
    )


def _exercise(pairs: Sequence[Pair]) -> tuple[str, str]:
    if not pairs:
        return (
            "Lay your paint in three strengths and look for a grey in what you own.",
            "<p>There is none: see above for the paint that would make one.</p>",
        )
    best = pairs[0]
    lean = best.neutral.leans[0]
    return (
        f"Your grey of {best.one.name} and {best.other.name} gets a quarter more "
        f"{lean.paint.name}. Which way does it lean?",
        f"<p>It turns {lean_word(lean.more_hue)}: {escape(draw.said(np.array(lean.more)))}.</p>",
    )
