"""Why a wash is there, what else would do, how to grey it: in painter's words."""

from collections.abc import Sequence

import numpy as np

from firstwash.handout.words import colour_words
from firstwash.paints.catalogue import Paint
from firstwash.plan.alternatives import Alternative
from firstwash.plan.neutral import Neutral
from firstwash.plan.reasons import THRESHOLDS, Claim, Reason
from firstwash.plan.result import Plan

__all__ = [
    "alternative_details",
    "alternative_words",
    "neutral_details",
    "neutral_words",
    "reason_details",
    "reason_words",
]

MIXED = 9.0  # CIEDE2000 of spread from which an area's tints have no one name
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
LEANS = (
    (25.0, "redder"),
    (100.0, "warmer"),
    (200.0, "greener"),
    (320.0, "cooler"),
    (361.0, "redder"),
)


def reason_words(reason: Reason, plan: Plan) -> str:
    """One sentence: why a first wash is there. Numbers are in `reason_details`."""
    start = _opening(reason)
    parts = [p for p in (_tint(reason), _later(reason, plan)) if p]
    if reason.second is not None and (turn := _turn(reason)):
        parts.insert(0, turn)
    because = (
        " and ".join(parts[:2]) if len(parts) < 3 else f"{parts[0]}, {parts[1]} and {parts[2]}"
    )
    tail = "; ".join(p for p in (_need(reason), _other(reason, plan)) if p)
    body = f"{start}, because {because}" if parts else start
    return f"{body}; {tail}." if tail else f"{body}."


def _opening(r: Reason) -> str:
    colour = colour_words(r.look).capitalize()
    if r.second is None:
        return f"{colour} first"
    return f"{colour} into wash {r.second.host} while that is wet"


def _tint(r: Reason) -> str:
    name = colour_words(r.palest.lab)
    several = r.palest.spread >= MIXED
    if "palest tint" in r.claims:
        if "stays seen" in r.claims:
            return (
                f"it is the palest tint here (value {r.palest.step}) and most of it stays as it is"
            )
        rest = ", and part of it shows to the end" if "partly seen" in r.claims else ""
        return f"it is the palest tint here (value {r.palest.step}){rest}"
    if "pale hint" in r.claims:
        if several:
            return (
                f"the lightest parts here are all darker, {name} on the whole, and it hints at them"
            )
        return (
            f"even the lightest parts here are {name} (value {r.palest.step}) and it hints at that"
        )
    return ""


def _later(r: Reason, plan: Plan) -> str:
    if r.glaze is None or r.glaze.covered < THRESHOLDS.share:
        return ""
    effects = [word for claim, word in EFFECTS if claim in r.claims][:2]
    over = f"the {_hue(r.glaze.stroke)} glazed over it in layer {r.glaze.layer}"
    if effects:
        return f"{over} looks {' and '.join(effects)} for it"
    return ""


def _hue(lab: tuple[float, float, float]) -> str:
    """The colour's name with its lightness, as a noun."""
    return colour_words(lab)


def _turn(r: Reason) -> str:
    words = [word for claim, word in TURNS if claim in r.claims][:2]
    return f"the picture turns {' and '.join(words)} here" if words else ""


def _need(r: Reason) -> str:
    if "needed" in r.claims:
        return f"without it {size_words(r.misses.rise)} difference would be left at the end"
    return "it could be left out at almost no loss"


def size_words(rise: float) -> str:
    """A rise of mean CIEDE2000 as a painter would feel it, with its article."""
    if rise >= THRESHOLDS.large:
        return "a large"
    return "a clear" if rise >= THRESHOLDS.clear else "a slight"


def _other(r: Reason, plan: Plan) -> str:
    del plan
    if r.next_best is None:
        return ""
    mix = _names(r.next_best.paints)
    if "better substitute" in r.claims:
        return f"{mix} would come nearer still"
    if "close substitute" in r.claims:
        return f"{mix} would do as well"
    if "poor substitute" in r.claims:
        return "no other mixture comes near it"
    return ""


def _names(paints: Sequence[Paint]) -> str:
    names = [p.name for p in paints]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} with {names[-1]}"


def reason_details(reason: Reason, plan: Plan) -> str:
    """The numbers behind the sentence, for those who ask."""
    r, m = reason, reason.misses
    out = [
        f"Palest tint in the photo here: {_lab(r.palest.lab)} (value {r.palest.step}), "
        f"spread {r.palest.spread:.1f}; this wash when dry: {_lab(r.look)}, {r.off:.1f} from it",
        f"{r.seen:.0%} of its area gets nothing more",
    ]
    if r.glaze is not None and r.effect is not None:
        out.append(
            f"puddle {plan.puddles[r.glaze.puddle].name} in layer {r.glaze.layer} covers "
            f"{r.glaze.share:.0%}; where it is covered the end is {_lab(r.glaze.final)}, and this "
            f"wash shifts it by L* {r.effect.lightness:+.1f}, C* {r.effect.chroma:+.1f}, "
            f"towards orange {r.effect.warmth:+.1f}"
        )
    if r.second is not None:
        out.append(
            f"against wash {r.second.host} the photo is L* {r.second.lightness:+.1f}, "
            f"towards orange {r.second.warmth:+.1f}"
        )
    out.append(
        f"mean CIEDE2000 against the target {m.planned:.2f}, with later washes re-fitted there "
        f"{m.refitted:.2f}, without this wash {m.without:.2f}"
    )
    if r.next_best is not None and m.other is not None:
        out.append(f"with {_names(r.next_best.paints)} {m.other:.2f}")
    return "; ".join(out) + "."


def _lab(lab: tuple[float, float, float]) -> str:
    return "CIELAB " + ", ".join(f"{v:.0f}" for v in lab)
