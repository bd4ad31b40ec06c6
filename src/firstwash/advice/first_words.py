"""First washes in a painter's words: the verdict, each wash, the rules it keeps and breaks.

Sentences hold no numbers but value steps; the figures are in the `…_details`.
"""

from collections.abc import Sequence

from firstwash.advice.first_judged import Blocked, Strip
from firstwash.advice.first_statements import Kind, Statement, statements
from firstwash.advice.first_tints import Origin
from firstwash.advice.first_washes import EITHER, FirstWash, FirstWashAdvice, Gain
from firstwash.handout.reasons import EFFECTS, UNDER, mixture_words, size_words
from firstwash.handout.words import colour_words
from firstwash.optics.observer import lab_to_srgb8
from firstwash.plan.reasons import THRESHOLDS

__all__ = [
    "rule_words",
    "strip_hex",
    "verdict_words",
    "wash_details",
    "wash_name",
    "wash_points",
    "wash_words",
]

FROM: dict[Origin, str] = {
    "plan": "the plan’s own",
    "palest tint": "the palest tint to be seen",
    "next tint": "the tint next to the lights",
    "graded": "one wash graded while it is wet",
    "local colour": "the thing’s own colour, much diluted",
    "tint of the light": "the tint of the light",
    "neighbour": "the neighbour’s wash run on into it",
    "complement": "the opposite of what comes later",
    "reckoned": "what reckoning alone would lay",
    "bare paper": "no first wash",
}
MUCH = {"a slight": "slightly", "a clear": "clearly", "a large": "much"}
FEW = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
FAINT = 92.0  # L* of a wash from which it is hardly seen to be there; as in `handout.reasons`


def wash_name(wash: FirstWash) -> str:
    """A wash in a few words: "pale yellow (the tint next to the lights)"."""
    j = wash.judged
    if j.is_bare:
        return "bare paper" + (" (as the plan has it)" if "plan" in j.origins else "")
    return f"{_colour(wash)} ({_from(wash)})"


def _colour(wash: FirstWash) -> str:
    lab = wash.judged.lab
    return "the faintest tint" if lab[0] >= FAINT else colour_words(lab)


def _from(wash: FirstWash) -> str:
    return " and ".join(FROM[o] for o in wash.judged.origins[:2])


def verdict_words(advice: FirstWashAdvice) -> str:
    """What to lay, and what would do as well."""
    best, *others = advice.equals
    if others:
        named = [wash_name(w) for w in others]
        rest = f"{', '.join(named[:-1])} or {named[-1]}" if len(named) > 1 else named[0]
        return f"Simplest is {wash_name(best)}, but {rest} would do as well."
    told = f"Lay {wash_name(best)}."
    if best.judged.is_bare:
        told = "Leave the paper bare in the first layer."
    second = next(iter(advice.washes[1:]), None)
    return told if second is None else f"{told} {_beside(second, advice)}"


def _beside(second: FirstWash, advice: FirstWashAdvice) -> str:
    """What the next best would cost."""
    off = second.judged.toll.seen - advice.best.judged.toll.seen
    name = wash_name(second)
    name = f"{name[0].upper()}{name[1:]}"
    if off >= EITHER:
        return f"{name} would leave {size_words(off)} difference more at the end."
    near = "nearer" if off <= -EITHER else "as near"
    return f"{name} would come {near} but ask for more."


def wash_words(wash: FirstWash, advice: FirstWashAdvice) -> str:
    """A wash in one sentence, what it does and what it costs; numbers are in `wash_details`."""
    name, points = wash_points(wash, advice)
    return f"{name}: {'; '.join(points)}."


def wash_points(wash: FirstWash, advice: FirstWashAdvice) -> tuple[str, tuple[str, ...]]:
    """The same for a list: what the wash is, and what it does and costs, point by point."""
    told = {s.kind: s for s in statements(advice, wash)}
    parts = (
        *_tint(wash, told),
        *_lights(told),
        *_under(wash, told),
        _room(wash),
        *_shut_out(wash.judged.blocked),
        *_dark(told),
        *_end(told),
    )
    name = wash_name(wash)
    if not wash.judged.is_bare:
        name = f"{_colour(wash)} of {mixture_words(wash.judged.parts)} ({_from(wash)})"
    return f"{name[0].upper()}{name[1:]}", parts


def _tint(wash: FirstWash, told: dict[Kind, Statement]) -> list[str]:
    r = wash.judged.reason
    if r is None:
        return []
    step = f"(value {r.palest.step})"
    if "palest tint" in told:
        rest = ""
        if "stays seen" in told:
            rest = ", and most of it stays as it is"
        elif "partly seen" in told:
            rest = ", and part of it shows to the end"
        return [f"it is the palest tint of what it covers {step}{rest}"]
    if "pale hint" in told:
        return [f"it is a pale hint of what it covers, {colour_words(r.palest.lab)} {step}"]
    return [f"it is not what is seen there, {colour_words(r.palest.lab)} {step}"]


def _lights(told: dict[Kind, Statement]) -> list[str]:
    if "keeps lights bare" not in told:
        return []
    most = told["keeps lights bare"].value >= THRESHOLDS.most
    return ["most of the area stays bare paper" if most else "the lights stay bare paper"]


def _under(wash: FirstWash, told: dict[Kind, Statement]) -> list[str]:
    r = wash.judged.reason
    words = [word for claim, word in EFFECTS if claim in told][:2]
    if r is None or r.effect is None or not words:
        return []
    end, bare = colour_words(r.effect.with_it), colour_words(r.effect.without)
    reads = f"{end} instead of {bare}" if end != bare else f"{' and '.join(words)} than without it"
    under = next((f"{word}, so " for claim, word in UNDER if claim in told), "")
    return [f"{under}the glazes over it read {reads}"]


def _count(steps: int) -> str:
    return FEW[steps] if 0 <= steps < len(FEW) else str(steps)


def _room(wash: FirstWash) -> str:
    room = wash.judged.room
    if room.total <= 0:
        return "there is hardly a value step from paper to the darkest here"
    steps = "value step" if room.total == 1 else "value steps"
    if room.spent <= 0:
        every = {1: "the one", 2: "both"}.get(room.total, f"all {_count(room.total)}")
        return f"{every} {steps} down to the darkest {'is' if room.total == 1 else 'are'} left"
    spent = f"it spends {_count(room.spent)} of the {_count(room.total)} {steps}"
    left = "none" if room.left <= 0 else _count(room.left)
    return f"{spent} down to the darkest and leaves {left}"


def _shut_out(blocked: Sequence[Blocked]) -> list[str]:
    if not blocked:
        return []
    worst = max(blocked, key=lambda b: (b.over - b.bare) * b.share)
    name, dark = colour_words(worst.lab), worst.why == "too dark"
    why = (
        "it is darker than that, and nothing can be lightened" if dark else "its hue is against it"
    )
    more = " and more" if len({colour_words(b.lab) for b in blocked}) > 1 else ""
    return [f"the {name} here{more} cannot be had over it, for {why}"]


def _dark(told: dict[Kind, Statement]) -> list[str]:
    if "dark without black" not in told:
        return []
    names = told["dark without black"].names[:3]
    return [f"the darkest needs no black: it comes from {', '.join(names[:-1])} and {names[-1]}"]


def _end(told: dict[Kind, Statement]) -> list[str]:
    out = []
    if "further off" in told:
        size = size_words(told["further off"].value)
        out.append(f"in the end {size} difference more is left than need be")
    if "only puts off" in told:
        out.append("what comes first then is a pale wash all the same, a layer later")
    if "takes more work" in told:
        out.append("it comes as near as any but asks for more coats, paints or care")
    if "runs on" in told:
        out.append("it runs on from the neighbour without a seam")
    if "steadier" in told:
        out.append("it forgives the hand more")
    if "less steady" in told:
        out.append("it asks for a surer hand")
    return out


def rule_words(wash: FirstWash) -> list[str]:
    """The rules of thumb it breaks, with what that gains, then those it keeps; a sentence each."""
    out = []
    for check in wash.broken:
        gain = wash.gains.get(check.rule.name)
        out.append(f"Breaks the habit “{check.rule.words}”{_gain(gain)}.")
    if wash.kept:
        out.append(f"Keeps: {'; '.join(f'“{c.rule.words}”' for c in wash.kept)}.")
    return out


def _gain(gain: Gain | None) -> str:
    """What breaking a rule gains over the best wash that keeps it; nothing where none does."""
    if gain is None:
        return ""
    if gain.toll >= EITHER:
        what = "fewer coats or paints, or paints that suit better"
        if gain.seen >= EITHER:
            what = f"it comes {MUCH[size_words(gain.seen)]} nearer at the end"
        return f", and here is what that gains: {what}"
    if gain.toll > -EITHER:
        return "; here that makes no difference"
    return "; what keeps it does better here"


def wash_details(wash: FirstWash, advice: FirstWashAdvice) -> list[str]:
    """The numbers behind a wash: what it costs, every statement, every rule, what it shuts out."""
    j, toll = wash.judged, wash.judged.toll
    out = [
        f"Toll {toll.total:.2f} = √({toll.match:.2f} match + {toll.paint:.2f} paint + "
        f"{toll.coats:.2f} coats + {toll.steps:.2f} steps + {toll.seams:.2f} seams), "
        f"{wash.behind:.2f} more than the least",
        f"mean CIEDE2000 at the end {j.error:.2f}, by hand {j.by_hand:.2f}",
    ]
    out += [f"{s.kind}: {s.value:.2f} {s.unit}" for s in statements(advice, wash)]
    out += [
        f"{c.rule.name}: {'kept' if c.follows else 'broken'}, {c.measure:.2f} {c.unit} "
        f"({c.rule.source})"
        for c in wash.checks
    ]
    out += [
        f"{colour_words(b.lab)}, {b.share:.0%} of the area: {b.over:.1f} CIEDE2000 off over it, "
        f"{b.bare:.1f} on bare paper, {b.why}"
        for b in j.blocked
    ]
    return out


def strip_hex(strip: Strip) -> tuple[tuple[str, ...], ...]:
    """Web colours of the predicted stages, a row for light, middle and dark, bare paper first."""
    return tuple(
        tuple("#{:02x}{:02x}{:02x}".format(*(int(v) for v in lab_to_srgb8(lab))) for lab in row)
        for row in strip.labs
    )
