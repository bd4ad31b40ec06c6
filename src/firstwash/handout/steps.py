"""What to do with the brush, in words: mixing, laying, edges, waiting, fine strokes."""

import math
from collections.abc import Sequence

from firstwash.handout.cautions import MASKING, UNMASKING
from firstwash.handout.words import area_words
from firstwash.plan.board.amounts import Counted, PuddleAmount, consistency_of, volume_words
from firstwash.plan.board.order import Paint, Reason, Wait
from firstwash.plan.board.ranges import Range, minutes_words, range_words
from firstwash.plan.problem import LAY_IN
from firstwash.plan.result import Plan
from firstwash.plan.schedule import hair_mm
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Puddle, Wash

__all__ = [
    "area_and_parts",
    "board_words",
    "consistency_words",
    "dry_words",
    "edges_words",
    "hair_words",
    "length_words",
    "mix_words",
    "reserve_words",
    "run_words",
    "technique_words",
    "touch_words",
    "wait_words",
]

TECHNIQUES = {
    "wet-on-dry": "flat, on dry paper",
    "wet-in-wet": "wet-in-wet",
    "graded": "graded: more water towards one end",
    "glaze": "glaze over dry paint",
    "dry-brush": "dry-brush, skimmed over the grain; twice where it should close",
    "touch": "touches with the tip",
}

MOST_WET = LAY_IN[1]  # washes that anyone keeps wet together
SHORTEST_HAIR_MM = 10.0  # in a layer; less is not worth a word


def length_words(mm: float) -> str:
    """A length with the digits that matter: "8 mm", "45 cm", "1.2 m"."""
    if mm < 9.5:
        return f"{mm:.0f} mm"
    return f"{mm / 10:.0f} cm" if mm < 995 else f"{mm / 1000:.1f} m"


def edges_words(wash: Wash) -> str:
    """What to do with a wash's edges: "cut in 45 cm, soften 12 cm"."""
    verbs = ("cut in", "soften", "lose")
    told = [
        f"{verb} {length_words(mm)}"
        for verb, mm in zip(verbs, wash.edges_mm, strict=True)
        if mm >= 3.0
    ]
    return ", ".join(told) or "no edge to mind"


def hair_words(plan: Plan, number: int) -> str:
    """What to do where two washes of a layer meet along a hard edge; "" where none do."""
    washes = plan.washes_of(number)
    length = hair_mm(washes, plan.edges, plan.cells, plan.schedule.hurried)
    if length < SHORTEST_HAIR_MM:
        return ""
    return (
        f"Where washes of this layer meet along a hard edge ({length_words(length)} in all), "
        "leave a hair of dry paper between them; it stays a fine light line where no later wash "
        "goes over it."
    )


def technique_words(wash: Wash) -> str:
    """How to lay a wash: "glaze over dry paint", "dropped into wash 3 while it is wet"."""
    if wash.into is not None:
        return f"dropped into wash {wash.into} while that is wet"
    return TECHNIQUES[wash.technique]


def consistency_words(puddle: Puddle) -> str:
    """How runny a puddle is at its strongest and its palest: "syrup, let down to fruit juice"."""
    strong = puddle.amount.consistency
    ratio = (strong.ratio + 1.0) * puddle.strength_range[1] / puddle.strength_range[0] - 1.0
    pale = consistency_of(ratio)
    return strong.name if strong.step == pale.step else f"{strong.name}, let down to {pale.name}"


def mix_words(amount: PuddleAmount, names: Sequence[str], pans: bool = False) -> str:
    """How to mix a puddle: "2 × pea burnt sienna, 1 × pea ultramarine blue, 40 drops …"."""
    counted = amount.pans if pans else amount.tubes
    paints = [
        f"{n} × {counted.measure} {name}" for n, name in zip(counted.counts, names, strict=True)
    ]
    return ", ".join([*paints, _water(counted)]) + _let_down(counted)


def _water(counted: Counted) -> str:
    if counted.drops == 0:
        return "no water"
    if counted.water_ml < 2.0:
        return f"{counted.drops} drop{'s' * (counted.drops != 1)} of water"
    return f"{volume_words(counted.water_ml, 'metric')} of water"


def _let_down(counted: Counted) -> str:
    if not counted.taken:
        return ""
    drops = f"{counted.taken} drop{'s' * (counted.taken != 1)}"
    return f"; of that {drops} in {volume_words(counted.let_down_ml, 'metric')} of fresh water"


NOTHING_DRIES = "nothing dries in air as damp as this"


def board_words(plan: Plan) -> str:
    """How long the whole takes: "about 4 hours (2 to 6 hours)"."""
    span = plan.schedule.minutes
    return NOTHING_DRIES if math.isinf(span.mid) else range_words(span)


def dry_words(span: Range) -> str:
    """When to go on: "Then let it dry about 25 minutes (10 to 45 minutes)."; "" where at once."""
    if span.high <= 0:
        return ""
    if math.isinf(span.mid):
        return "Then wait for another day: nothing dries in air as damp as this."
    return f"Then let it dry {range_words(span)}."


def wait_words(wait: Wait) -> str:
    """A wait inside a layer: "Wait about 10 minutes, until wash 3 is dry"."""
    washes = f"wash{'es' * (len(wait.until) != 1)} {_list(wait.until)}"
    verb = "is" if len(wait.until) == 1 else "are"
    return f"Wait about {minutes_words(max(wait.minutes, 1.0))}, until {washes} {verb} dry."


def run_words(step: Paint) -> str:
    """Washes laid one straight after the other: "Lay washes 1 to 5 without a break: …".

    "" where there is nothing to say.
    """
    if len(step.ids) == 1:
        return ""
    washes = f"washes {_list(step.ids)}"
    if step.reason is Reason.WHILE_OTHERS_DRY:
        one = len(step.because) == 1
        drying = f"wash {step.because[0]} dries" if one else f"washes {_list(step.because)} dry"
        return f"Lay {washes} while {drying}."
    if step.reason is not Reason.WET_TOGETHER:
        return ""
    if len(step.ids) <= MOST_WET:
        return f"Lay {washes} without a break: their borders are soft."
    return f"Go straight through {washes}: soften borders with neighbours that are still damp."


def _list(numbers: Sequence[int]) -> str:
    """Numbers in words, three or more in a row as a span: "1, 3 and 5 to 9"."""
    spans: list[list[int]] = []
    for n in sorted(numbers):
        if spans and n == spans[-1][-1] + 1:
            spans[-1].append(n)
        else:
            spans.append([n])
    words = [w for span in spans for w in _span_words(span)]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _span_words(span: list[int]) -> list[str]:
    return [f"{span[0]} to {span[-1]}"] if len(span) > 2 else [str(n) for n in span]


def reserve_words(touches: Sequence[Touch]) -> list[str]:
    """What to keep free, one sentence for each moment and way."""
    out = []
    kept = [t for t in touches if t.after is not None]
    for after, way in sorted({(t.after or 0, t.way) for t in kept}):
        own = [t for t in kept if t.after == after and t.way == way]
        when = "Before the first wash" if after == 0 else f"When layer {after} is dry"
        how = "put masking fluid on" if way == "masked" else "mark, to paint round,"
        out.append(f"{when} {how} {_strokes_words(own)}.")
    if any(t.way == "masked" for t in kept):
        out += [MASKING, UNMASKING]
    return out


def touch_words(plan: Plan) -> list[str]:
    """What is laid last, one sentence for each puddle."""
    out = []
    laid = [t for t in plan.touches if t.puddle is not None]
    for q in sorted({t.puddle for t in laid if t.puddle is not None}):
        own = [t for t in laid if t.puddle == q]
        out.append(f"Puddle {plan.puddles[q].name}: {_strokes_words(own)}.")
    return out


def _strokes_words(touches: Sequence[Touch]) -> str:
    dots = sum(t.stroke.kind == "dot" for t in touches)
    lines = [t for t in touches if t.stroke.kind == "line"]
    told = []
    if lines:
        length = length_words(sum(t.stroke.length_mm for t in lines))
        widest = max(t.stroke.width_mm for t in lines)
        count = f"{len(lines)} fine line{'s' * (len(lines) != 1)}"
        told.append(f"{count} ({length} in all, up to {widest:.1f} mm wide)")
    if dots:
        told.append(f"{dots} dot{'s' * (dots != 1)}")
    return " and ".join(told)


def area_and_parts(wash: Wash) -> str:
    """Its area: "14 cm² in 3 areas"."""
    area = area_words(wash.area_mm2)
    return area if wash.areas == 1 else f"{area} in {wash.areas} areas"
