"""What else would do: other mixtures for every wash, and greys from the paints on the palette."""

from collections.abc import Sequence
from html import escape

import numpy as np

from firstwash.handout.markup import folded, listed
from firstwash.handout.reasons import (
    NO_PAINT_MORE,
    alternative_details,
    alternative_words,
    more_details,
    more_words,
    neutral_details,
    neutral_words,
)
from firstwash.handout.words import colour_words
from firstwash.paints.catalogue import Paint
from firstwash.parallel import in_parallel
from firstwash.plan.alternatives import alternatives
from firstwash.plan.handling import RULES, Rule, handling_reasons
from firstwash.plan.handling_told import place_of
from firstwash.plan.neutral import Spot, neutralisers
from firstwash.plan.one_more import PaintMore
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["greys", "handling_notes", "one_more", "other_mixtures"]

TOLD_PART = 0.15  # of a puddle, from which a paint's handling shows; common practice, no source
MOST = 5  # mixtures told for one wash
MOST_WASHES = 80  # of a layer; a plan without limits has thousands
PLACES = 3  # first washes that greys are told for
GREYS = 3  # for each place


def other_mixtures(plan: Plan, layer: int) -> str:
    """For every wash of a layer the next-best mixtures, folded away; empty if there are none."""
    washes = [w for w in plan.washes_of(layer) if w.kind != "graded wash"][:MOST_WASHES]
    told = [t for t in in_parallel(lambda w: _for_wash(plan, w), washes) if t]
    if not told:
        return ""
    return folded("Other mixtures that would do for each wash", "".join(told))


def _for_wash(plan: Plan, wash: Wash) -> str:
    found = alternatives(plan, wash, MOST)
    if not found:
        return ""
    items = [
        escape(alternative_words(other, plan))
        + folded("The numbers", f"<p>{escape(alternative_details(other))}</p>")
        for other in found
    ]
    name = plan.puddles[wash.puddle].name
    return f"<h4>Wash {wash.number}, instead of puddle {name}</h4>{listed(items, 'reasons')}"


def handling_notes(plan: Plan, layer: int) -> str:
    """What the trade holds against a paint where this layer lays it, folded away."""
    found: dict[tuple[Rule, str], list[int]] = {}
    for wash in plan.washes_of(layer):
        place = place_of(plan, wash, plan.cells.rough if len(plan.cells.rough) else None)
        for paint, _ in _chief_parts(plan, wash):
            for reason in handling_reasons(paint, place):
                if reason.speaks == "against":
                    found.setdefault((reason.rule, paint.name), []).append(wash.number)
    if not found:
        return ""
    why = {r.rule: r.reason for r in RULES}
    items = [
        escape(f"{name}, in wash{'es' * (len(n) > 1)} {', '.join(map(str, n))}: {why[rule]}.")
        for (rule, name), n in found.items()
    ]
    return folded(
        "What speaks against paints here",
        "<p>These rules were weighed against the match; what is left of them:</p>"
        + listed(items, "reasons"),
    )


def _chief_parts(plan: Plan, wash: Wash) -> list[tuple[Paint, float]]:
    """Paints that make up a good part of a wash's puddle, with that part (0-1)."""
    parts = [
        (plan.paints[p], a / plan.paints[p].full_coat) for p, a in plan.puddles[wash.puddle].parts
    ]
    whole = sum(share for _, share in parts)
    return [(paint, share / whole) for paint, share in parts if share >= TOLD_PART * whole]


def greys(plan: Plan) -> str:
    """Which paints make a grey, on bare paper and over the largest first washes."""
    places = [("On bare paper", None), *_first_places(plan)]
    parts = []
    for title, spot in places:
        found = neutralisers(plan, spot, most=GREYS)
        if found:
            items = [
                escape(neutral_words(n))
                + folded("The numbers", f"<p>{escape(neutral_details(n))}</p>")
                for n in found
            ]
            parts.append(f"<h3>{escape(title)}</h3>{listed(items, 'reasons')}")
    if not parts:
        return ""
    return (
        "<h2>Greys from these paints</h2><p>A glaze of opposite hue takes the colour out of what "
        "lies under it. Try the proportion on a strip; a little more of one paint and the grey "
        f"leans its way.</p>{''.join(parts)}"
    )


def one_more(more: Sequence[PaintMore]) -> str:
    """Which one paint more would help this picture, or that none would."""
    if not more:
        told = f"<p>{NO_PAINT_MORE}</p>"
    else:
        items = [
            escape(more_words(m)) + folded("The numbers", f"<p>{escape(more_details(m))}</p>")
            for m in more
        ]
        told = listed(items, "reasons")
    return (
        f"<h2>One paint more</h2>{told}"
        '<p class="small">For single patches of this picture’s colours, layers left aside. Read '
        "the label of a paint before you buy it.</p>"
    )


def _first_places(plan: Plan) -> list[tuple[str, Spot]]:
    """The largest cells of the largest coloured first washes, when these are dry."""
    areas = plan.cells.areas_mm2()
    found: list[tuple[str, Spot]] = []
    for wash in sorted(plan.washes_of(1), key=lambda w: -w.area_mm2):
        words = colour_words(wash.after)
        if "grey" in words or "white" in words or words in {w for w, _ in found}:
            continue
        cells = np.array(wash.cells)
        found.append((words, Spot(int(cells[np.argmax(areas[cells])]), 1)))
    return [(f"Over the {words} of the first wash", spot) for words, spot in found[:PLACES]]
