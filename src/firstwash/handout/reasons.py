"""Why a wash is there, what else would do, how to grey a place: in painter's words.

Sentences hold no numbers but value steps; the figures are in the `…_details` of each.
"""

from collections.abc import Sequence

import numpy as np

from firstwash.handout.words import colour_words
from firstwash.language import mark, tr
from firstwash.paints.catalogue import Paint
from firstwash.plan.alternatives import Alternative
from firstwash.plan.neutral import Neutral
from firstwash.plan.one_more import PaintMore
from firstwash.plan.reasons import THRESHOLDS, Claim, Reason
from firstwash.plan.result import Plan

__all__ = [
    "NO_PAINT_MORE",
    "alternative_details",
    "alternative_words",
    "lean_word",
    "mixture_words",
    "more_details",
    "more_words",
    "neutral_details",
    "neutral_words",
    "reason_details",
    "reason_words",
    "size_words",
]

# What follows, and `SAVINGS`: where one word gives way to the next; common practice, no source.
MIXED = 9.0  # CIEDE2000 of spread from which an area's tints have no one name
FAINT = 92.0  # L* of a wash from which it is hardly seen to be there
AMOUNTS = ((0.12, "a touch of "), (0.3, "a little "), (1.1, ""))  # share of a mixture below
EFFECTS: tuple[tuple[Claim, str], ...] = (
    ("makes warmer", "warmer"),
    ("makes cooler", "cooler"),
    ("makes greyer", "greyer"),
    ("makes brighter", "brighter"),
    ("makes darker", "deeper"),
)
TURNS: tuple[tuple[Claim, str], ...] = (
    ("turns warmer", "warmer"),
    ("turns cooler", "cooler"),
    ("turns lighter", "lighter"),
    ("turns darker", "darker"),
)
UNDER: tuple[tuple[Claim, str], ...] = (
    ("opposite of later", "its hue is opposite to what it ends as"),
    ("warmer than later", "it is warmer than what it ends as"),
    ("cooler than later", "it is cooler than what it ends as"),
)
GRADES = (
    ("staining", "stains more", "lifts more easily"),
    ("granulation", "granulates more", "granulates less"),
    ("transparency", "clearer", "less transparent"),
)
# CIELAB hue angles up to which a grey that moves there leans so; common practice, no source.
LEANS = (
    (25.0, mark("redder")),
    (110.0, mark("warmer")),
    (200.0, mark("greener")),
    (320.0, mark("cooler")),
    (361.0, mark("redder")),
)


def reason_words(reason: Reason, plan: Plan) -> str:
    """One sentence: why a first wash is there. Numbers are in `reason_details`."""
    told = [_turn(reason), _tint(reason), _under(reason), _need(reason), _other(reason, plan)]
    return f"{_opening(reason)}: {'; '.join(part for part in told if part)}."


def _opening(r: Reason) -> str:
    colour = "The faintest tint" if r.look[0] >= FAINT else colour_words(r.look).capitalize()
    if r.second is None:
        return f"{colour} first"
    return f"{colour} into wash {r.second.host} while that is wet"


def _turn(r: Reason) -> str:
    words = [word for claim, word in TURNS if claim in r.claims][:2]
    return f"the picture turns {' and '.join(words)} here" if words else ""


def _tint(r: Reason) -> str:
    step = f"(value {r.palest.step})"
    if "palest tint" in r.claims:
        rest = ""
        if "stays seen" in r.claims:
            rest = ", and most of it stays as it is"
        elif "partly seen" in r.claims:
            rest = ", and part of it shows to the end"
        return f"it is the palest tint here {step}{rest}"
    if "pale hint" in r.claims:
        name = colour_words(r.palest.lab) + (" on the whole" if r.palest.spread >= MIXED else "")
        return f"it is a pale hint, for even the lightest parts here are {name} {step}"
    return ""


def _under(r: Reason) -> str:
    if r.glaze is None or r.effect is None or r.glaze.covered < THRESHOLDS.share:
        return ""
    effects = [word for claim, word in EFFECTS if claim in r.claims][:2]
    if not effects:
        return ""
    end, bare = colour_words(r.effect.with_it), colour_words(r.effect.without)
    reads = (
        f"{end} instead of {bare}" if end != bare else f"{' and '.join(effects)} than on bare paper"
    )
    under = next((f"{word}, so " for claim, word in UNDER if claim in r.claims), "")
    if r.glaze.alone:
        glaze = f"the {colour_words(r.glaze.stroke)} glazed over it in layer {r.glaze.layer}"
        return f"{under}{glaze} reads {reads}"
    return f"{under}the glazes over it read {reads}"


def _need(r: Reason) -> str:
    if "needed" in r.claims:
        size = size_words(r.misses.rise)
        return f"without it, even with later washes adjusted, {size} difference would remain"
    return "it could be left out, for later washes would make up for it"


def size_words(rise: float) -> str:
    """A rise of mean CIEDE2000 as a painter would feel it, with its article."""
    if rise >= THRESHOLDS.large:
        return "a large"
    return "a clear" if rise >= THRESHOLDS.clear else "a slight"


def _other(r: Reason, plan: Plan) -> str:
    if r.next_best is None:
        return ""
    if "poor substitute" in r.claims:
        return "no other mixture comes near it"
    mix = _mixture(r.next_best, plan)
    if "better substitute" in r.claims:
        return f"{mix} would come nearer still"
    return f"{mix} would do as well" if "close substitute" in r.claims else ""


def _mixture(other: Alternative, plan: Plan) -> str:
    if other.puddle is not None:
        return f"puddle {plan.puddles[other.puddle].name}, mixed anyway,"
    return mixture_words(other.parts)


def mixture_words(parts: Sequence[tuple[Paint, float]]) -> str:
    """Paints, most first, and how much of each: "raw sienna with a touch of sap green".

    parts: (paint, amount).
    """
    share = _share(parts)
    first = parts[0][0].name
    if len(parts) == 1:
        return f"{first} alone"
    rest = [
        next(word for top, word in AMOUNTS if part < top) + paint.name
        for (paint, _), part in zip(parts[1:], share[1:].tolist(), strict=True)
    ]
    return f"{first} with {' and '.join(rest)}"


def _share(parts: Sequence[tuple[Paint, float]]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """(paints,) share of each paint, by parts at its own full strength."""
    loads = np.array([amount / paint.full_coat for paint, amount in parts])
    return np.asarray(loads / loads.sum())


def reason_details(reason: Reason, plan: Plan) -> str:
    """The numbers behind the sentence, for those who ask."""
    r, m = reason, reason.misses
    out = [
        f"palest tint in the photo here {_lab(r.palest.lab)} (value {r.palest.step}), "
        f"spread {r.palest.spread:.1f}",
        f"this wash when dry {_lab(r.look)}, {r.off:.1f} from it",
        f"{r.seen:.0%} of its area gets nothing more",
    ]
    if r.glaze is not None and r.effect is not None:
        out.append(
            f"puddle {plan.puddles[r.glaze.puddle].name} in layer {r.glaze.layer} covers "
            f"{r.glaze.share:.0%}"
        )
        out.append(
            f"the end under {'that' if r.glaze.alone else 'the glazes'} is "
            f"{_lab(r.effect.with_it)}, without this wash {_lab(r.effect.without)}"
        )
    if r.second is not None:
        out.append(
            f"against wash {r.second.host} the photo is L* {r.second.lightness:+.1f}, "
            f"towards orange {r.second.warmth:+.1f}"
        )
    out.append(
        f"mean CIEDE2000 against the target {m.planned:.2f}, with later washes fitted again there "
        f"{m.refitted:.2f}, so without this wash {m.without:.2f}"
    )
    if r.next_best is not None and m.other is not None:
        out.append(f"so with {mixture_words(r.next_best.parts)} {m.other:.2f}")
    return _sentence("; ".join(out))


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _lab(lab: tuple[float, float, float]) -> str:
    return "CIELAB " + ", ".join(f"{v:.0f}" for v in lab)


def alternative_words(other: Alternative, plan: Plan) -> str:
    """One sentence on what another mixture for a wash gains and loses."""
    told = [_nearness(other.rise), *_handling(other)]
    if other.puddle is not None:
        told.insert(1, "no new puddle to mix")
    if other.new_paints:
        told.append(f"needs {' and '.join(p.name for p in other.new_paints)} on the palette")
    mix = mixture_words(other.parts)
    if other.puddle is not None:
        mix = f"puddle {plan.puddles[other.puddle].name} ({mix})"
    return _sentence(f"{mix}, a test stroke of value {other.value_step}: {'; '.join(told)}")


def _nearness(rise: float) -> str:
    if abs(rise) < THRESHOLDS.rise:
        return "as near at the end"
    size = size_words(abs(rise)).removeprefix("a ")
    return {
        "slight": "slightly",
        "clear": "clearly",
        "large": "much",
    }[size] + (" further off at the end" if rise > 0 else " nearer at the end")


def _handling(other: Alternative) -> list[str]:
    """What changes under the brush and after; nothing where a grade is not known."""
    now, then = other.manner_now, other.manner
    out = []
    many = abs(other.paint_count_change)
    if many:
        word = "fewer" if other.paint_count_change < 0 else "more"
        out.append(f"{'one paint' if many == 1 else 'two paints'} {word} to mix")
    for grade, more, less in GRADES:
        a, b = getattr(now, grade), getattr(then, grade)
        if a is not None and b is not None and a != b:
            out.append(more if b > a else less)
    if now.lightfast and then.lightfast and now.lightfast != then.lightfast:
        out.append("fades sooner" if then.lightfast > now.lightfast else "lasts longer in light")
    if now.hazard and then.hazard and now.hazard != then.hazard:
        out.append(HAZARDS[then.hazard])
    return out


NO_PAINT_MORE = "No other paint you allow would bring this picture’s colours noticeably closer."
# Mean CIEDE2000 saved up to which a paint brings colours so much closer. Common practice, no source
SAVINGS = ((0.3, "a little"), (1.0, "clearly"), (1e9, "much"))
HAZARDS = {
    "none": "nothing harmful in it",
    "caution": "to be handled with care",
    "toxic": "holds a toxic paint",
}


def alternative_details(other: Alternative) -> str:
    """The numbers behind it."""
    now, then, shift = other.now, other.then, other.largest
    return (
        f"{_shares(other.parts)}, strength {other.strength:.3f}; mean CIEDE2000 in its cells "
        f"against the target {now.against_aims:.2f} → {then.against_aims:.2f}, against the photo "
        f"{now.against_photo:.2f} → {then.against_photo:.2f}; over the sheet against the target "
        f"{now.sheet:.2f} → {then.sheet:.2f}; the look right after it changes by {then.look:.1f}; "
        f"largest change {shift.difference:.1f} over {shift.area_mm2:.0f} mm²."
    )


def more_words(more: PaintMore) -> str:
    """One sentence on what a paint that is not owned would do."""
    saved = more.before - more.after
    size = next(word for top, word in SAVINGS if saved < top)
    place = (
        f"in place of {_named(more.instead_of)}"
        if more.instead_of
        else "beside those on the palette"
    )
    risk = more.paint.handling.hazard or "none"
    care = f"; {HAZARDS[risk]}" if risk in ("caution", "toxic") else ""
    return _sentence(
        f"{more.paint.name}, {place}, would bring this picture’s colours {size} closer{care}"
    )


def _named(paints: Sequence[Paint]) -> str:
    names = [p.name for p in paints]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def more_details(more: PaintMore) -> str:
    """The numbers behind it."""
    return (
        f"Mean CIEDE2000 of the best single patches for the picture’s colours {more.before:.2f} "
        f"→ {more.after:.2f}."
    )


def neutral_words(neutral: Neutral) -> str:
    """One sentence: what greys a place, how dark it gets, which way it leans."""
    before, after = neutral.value_steps
    dark = f"value {after}" if before == after else f"value {after} where it was {before}"
    told = neutral.leans[:1] if len(neutral.parts) == 2 else neutral.leans
    leans = [
        f"more {lean.paint.name} and it turns {lean_word(lean.more_hue)}, "
        f"less and it turns {lean_word(lean.less_hue)}"
        for lean in told
    ]
    return _sentence(f"{mixture_words(neutral.parts)} makes a grey of {dark}; {'; '.join(leans)}")


def lean_word(hue: float) -> str:
    """Which way a grey leans that moves towards a CIELAB hue angle in degrees, 0-360."""
    return tr(next(word for top, word in LEANS if hue < top))


def neutral_details(neutral: Neutral) -> str:
    """The numbers behind it."""
    leans = (
        f"{lean.paint.name} −25 % towards hue {lean.less_hue:.0f}° ({_lab(lean.less)}), "
        f"+25 % towards {lean.more_hue:.0f}° ({_lab(lean.more)})"
        for lean in neutral.leans
    )
    return (
        f"{_shares(neutral.parts)}, strength {neutral.strength:.3f}; {_lab(neutral.before)} → "
        f"{_lab(neutral.lab)}, C* {neutral.chroma:.1f}; {'; '.join(leans)}."
    )


def _shares(parts: Sequence[tuple[Paint, float]]) -> str:
    return ", ".join(
        f"{paint.name} {share:.1%}"
        for (paint, _), share in zip(parts, _share(parts).tolist(), strict=True)
    )
