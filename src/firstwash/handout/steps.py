"""What to do with the brush, in words: mixing, laying, edges, waiting, fine strokes."""

import math
from collections.abc import Mapping, Sequence

from firstwash.handout.cautions import MASKING, UNMASKING
from firstwash.handout.words import area_words
from firstwash.language import listed, mark, tr, tr_count
from firstwash.plan.board.amounts import Counted, PuddleAmount, consistency_of, volume_words
from firstwash.plan.board.order import Paint, Reason, Wait
from firstwash.plan.board.ranges import Range, minutes_words, range_words
from firstwash.plan.problem import LAY_IN
from firstwash.plan.result import Plan
from firstwash.plan.schedule import hair_mm, soft_pairs
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Puddle, Wash

__all__ = [
    "area_and_parts",
    "board_words",
    "consistencies",
    "consistency_words",
    "dry_words",
    "edges_words",
    "hair_words",
    "length_words",
    "mix_words",
    "reserve_words",
    "run_words",
    "soft_borders",
    "strokes_words",
    "technique_words",
    "touch_words",
    "wait_words",
]

TECHNIQUES = {
    "wet-on-dry": mark("flat, on dry paper"),
    "wet-in-wet": mark("wet-in-wet"),
    "graded": mark("graded: more water towards one end"),
    "glaze": mark("glaze over dry paint"),
    "dry-brush": mark("dry-brush, skimmed over the grain; twice where it should close"),
    "touch": mark("touches with the tip"),
}
EDGES = (mark("cut in {length}"), mark("soften {length}"), mark("lose {length}"))

MOST_SOFT = 16  # soft borders that are told one by one
MOST_WET = LAY_IN[1]  # washes that anyone keeps wet together
SHORTEST_HAIR_MM = 10.0  # in a layer; less is not worth a word


def length_words(mm: float) -> str:
    """A length with the digits that matter: "8 mm", "45 cm", "1.2 m"."""
    if mm < 9.5:
        return f"{mm:.0f} mm"
    return f"{mm / 10:.0f} cm" if mm < 995 else f"{mm / 1000:.1f} m"


def edges_words(wash: Wash) -> str:
    """What to do with a wash's edges: "cut in 45 cm, soften 12 cm"."""
    told = [
        tr(words, length=length_words(mm))
        for words, mm in zip(EDGES, wash.edges_mm, strict=True)
        if mm >= 3.0
    ]
    return ", ".join(told) or tr("no edge to mind")


def hair_words(plan: Plan, number: int) -> str:
    """What to do where two washes of a layer meet along a hard edge; "" where none do."""
    washes = plan.washes_of(number)
    length = hair_mm(washes, plan.edges, plan.cells, plan.schedule.hurried)
    if length < SHORTEST_HAIR_MM:
        return ""
    return tr(
        "Where washes of this layer meet along a hard edge ({length} in all), leave a hair of dry "
        "paper between them; it stays a fine light line where no later wash goes over it.",
        length=length_words(length),
    )


def soft_borders(plan: Plan, number: int) -> dict[tuple[int, int], bool]:
    """Pairs of washes of a layer that share a border, and whether it is soft."""
    return soft_pairs(plan.washes_of(number), plan.edges, plan.cells)


def technique_words(wash: Wash) -> str:
    """How to lay a wash: "glaze over dry paint", "dropped into wash 3 while it is wet"."""
    if wash.into is not None:
        return tr("dropped into wash {number} while that is wet", number=wash.into)
    return tr(TECHNIQUES[wash.technique])


def consistencies(puddle: Puddle) -> tuple[str, str]:
    """How runny a puddle is at its strongest, and at its palest: ("syrup", "fruit juice")."""
    strong = puddle.amount.consistency
    ratio = (strong.ratio + 1.0) * puddle.strength_range[1] / puddle.strength_range[0] - 1.0
    return tr(strong.name), tr(consistency_of(ratio).name)


def consistency_words(puddle: Puddle) -> str:
    """Both in a few words: "syrup, let down to fruit juice"."""
    strong, pale = consistencies(puddle)
    return (
        strong if strong == pale else tr("{strong}, let down to {pale}", strong=strong, pale=pale)
    )


def mix_words(amount: PuddleAmount, names: Sequence[str], pans: bool = False) -> str:
    """How to mix a puddle: "2 × pea burnt sienna, 1 × pea ultramarine blue, 40 drops …"."""
    counted = amount.pans if pans else amount.tubes
    measure = tr(counted.measure)
    paints = [
        tr("{count} × {measure} {paint}", count=n, measure=measure, paint=name)
        for n, name in zip(counted.counts, names, strict=True)
    ]
    return ", ".join([*paints, _water(counted)]) + _let_down(counted)


def _water(counted: Counted) -> str:
    if counted.drops == 0:
        return tr("no water")
    if counted.water_ml < 2.0:
        return tr_count("{count} drop of water", "{count} drops of water", counted.drops)
    return tr("{volume} of water", volume=volume_words(counted.water_ml, "metric"))


def _let_down(counted: Counted) -> str:
    if not counted.taken:
        return ""
    told = tr_count(
        "of that {count} drop in {volume} of fresh water",
        "of that {count} drops in {volume} of fresh water",
        counted.taken,
        volume=volume_words(counted.let_down_ml, "metric"),
    )
    return f"; {told}"


NOTHING_DRIES = mark("nothing dries in air as damp as this")


def board_words(plan: Plan) -> str:
    """How long the whole takes: "about 4 hours (2 to 6 hours)"."""
    span = plan.schedule.minutes
    return tr(NOTHING_DRIES) if math.isinf(span.mid) else range_words(span)


def dry_words(span: Range, *, alone: bool = False) -> str:
    """When to go on: "Then let it dry about 25 minutes (10 to 45 minutes)."; "" where at once.

    alone: the sentence does not follow another, so that it begins without "then".
    """
    if span.high <= 0:
        return ""
    if math.isinf(span.mid):
        if alone:
            return tr("Wait for another day: nothing dries in air as damp as this.")
        return tr("Then wait for another day: nothing dries in air as damp as this.")
    if alone:
        return tr("Let it dry {time}.", time=range_words(span))
    return tr("Then let it dry {time}.", time=range_words(span))


def wait_words(wait: Wait) -> str:
    """A wait inside a layer: "Wait about 10 minutes, until wash 3 is dry"."""
    return tr_count(
        "Wait about {time}, until wash {washes} is dry.",
        "Wait about {time}, until washes {washes} are dry.",
        len(wait.until),
        time=minutes_words(max(wait.minutes, 1.0)),
        washes=_list(wait.until),
    )


def run_words(step: Paint, soft: Mapping[tuple[int, int], bool] | None = None) -> str:
    """Washes laid one straight after the other: "Lay washes 1 to 5 without a break: …".

    soft: pairs of washes that share a border, and whether it is soft, if that is to be told of
    each. "" where there is nothing to say.
    """
    if len(step.ids) == 1:
        return ""
    washes = _list(step.ids)
    if step.reason is Reason.WHILE_OTHERS_DRY:
        return tr_count(
            "Lay washes {washes} while wash {others} dries.",
            "Lay washes {washes} while washes {others} dry.",
            len(step.because),
            washes=washes,
            others=_list(step.because),
        )
    if step.reason is not Reason.WET_TOGETHER:
        return ""
    if len(step.ids) <= MOST_WET:
        return _wet_together(step.ids, soft)
    return tr(
        "Go straight through washes {washes}: soften borders with neighbours that are still damp.",
        washes=washes,
    )


def _wet_together(ids: Sequence[int], soft: Mapping[tuple[int, int], bool] | None) -> str:
    """Washes kept wet together: which of them meet along soft borders."""
    washes = _list(ids)
    own = {pair: is_soft for pair, is_soft in (soft or {}).items() if set(pair) <= set(ids)}
    found = [pair for pair, is_soft in own.items() if is_soft]
    if found and len(found) == len(own):
        return tr("Lay washes {washes} without a break: their borders are soft.", washes=washes)
    if not found or len(found) > MOST_SOFT:
        return tr(
            "Lay washes {washes} without a break: where a border is soft they must meet wet.",
            washes=washes,
        )
    told = "; ".join(
        tr("{wash} with {others}", wash=low, others=_list([b for a, b in found if a == low]))
        for low in dict.fromkeys(a for a, _ in found)
    )
    return tr(
        "Lay washes {washes} without a break. Soft borders, which must meet wet: {pairs}. The "
        "others are mostly hard.",
        washes=washes,
        pairs=told,
    )


def _list(numbers: Sequence[int]) -> str:
    """Numbers in words, three or more in a row as a span: "1, 3 and 5 to 9"."""
    spans: list[list[int]] = []
    for n in sorted(numbers):
        if spans and n == spans[-1][-1] + 1:
            spans[-1].append(n)
        else:
            spans.append([n])
    return listed([w for span in spans for w in _span_words(span)])


def _span_words(span: list[int]) -> list[str]:
    if len(span) > 2:
        return [tr("{low} to {high}", low=span[0], high=span[-1])]
    return [str(n) for n in span]


def reserve_words(touches: Sequence[Touch]) -> list[str]:
    """What to keep free, one sentence for each moment and way."""
    out = []
    kept = [t for t in touches if t.after is not None]
    for after, way in sorted({(t.after or 0, t.way) for t in kept}):
        own = [t for t in kept if t.after == after and t.way == way]
        out.append(_keep_words(after, way == "masked", strokes_words(own)))
    if any(t.way == "masked" for t in kept):
        out += [tr(MASKING), tr(UNMASKING)]
    return out


def _keep_words(after: int, masked: bool, strokes: str) -> str:
    if after == 0:
        if masked:
            return tr("Before the first wash, put masking fluid on {strokes}.", strokes=strokes)
        return tr("Before the first wash, mark {strokes}, to paint round.", strokes=strokes)
    if masked:
        return tr(
            "When layer {layer} is dry, put masking fluid on {strokes}.",
            layer=after,
            strokes=strokes,
        )
    return tr(
        "When layer {layer} is dry, mark {strokes}, to paint round.", layer=after, strokes=strokes
    )


def touch_words(plan: Plan) -> list[str]:
    """What is laid last, one sentence for each puddle."""
    out = []
    laid = [t for t in plan.touches if t.puddle is not None]
    for q in sorted({t.puddle for t in laid if t.puddle is not None}):
        own = [t for t in laid if t.puddle == q]
        name = plan.puddles[q].name
        out.append(tr("Puddle {puddle}: {strokes}.", puddle=name, strokes=strokes_words(own)))
    return out


def strokes_words(touches: Sequence[Touch]) -> str:
    """How many fine strokes, and of what: "3 fine lines (14 cm in all …) and 2 dots"."""
    dots = sum(t.stroke.kind == "dot" for t in touches)
    lines = [t for t in touches if t.stroke.kind == "line"]
    told = []
    if lines:
        told.append(
            tr_count(
                "{count} fine line ({length} in all, up to {width} mm wide)",
                "{count} fine lines ({length} in all, up to {width} mm wide)",
                len(lines),
                length=length_words(sum(t.stroke.length_mm for t in lines)),
                width=f"{max(t.stroke.width_mm for t in lines):.1f}",
            )
        )
    if dots:
        told.append(tr_count("{count} dot", "{count} dots", dots))
    return listed(told)


def area_and_parts(wash: Wash) -> str:
    """Its area: "14 cm² in 3 areas"."""
    area = area_words(wash.area_mm2)
    if wash.areas == 1:
        return area
    return tr_count("{area} in {count} area", "{area} in {count} areas", wash.areas, area=area)
