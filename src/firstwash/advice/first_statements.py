"""What may be said of a first wash: statements with the number each stands on.

A statement is made only where its number passes the threshold in `THRESHOLDS` or here; words are
found for them in `advice.first_words`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from firstwash.advice.first_judged import Judged, runs_on
from firstwash.advice.first_washes import FirstWash, FirstWashAdvice
from firstwash.plan.problem import is_black_or_white
from firstwash.plan.reasons import THRESHOLDS, Claim, Reason

__all__ = ["Kind", "Statement", "statements"]

Own = Literal[
    "graded", "keeps lights bare", "spends steps", "leaves steps", "next need", "shuts out",
    "runs on", "dark without black", "as near", "further off", "takes more work", "steadier",
    "less steady", "only puts off",
]  # fmt: skip
Kind = Claim | Own

LEAST_BARE = 0.01  # share of the area that is worth a word when it stays paper
DEEP = 35.0  # L* below which a colour is a dark to be mixed


@dataclass(frozen=True)
class Statement:
    """One thing that is so.

    value: the number it stands on, in `unit`. names: paints it speaks of.
    """

    kind: Kind
    value: float
    unit: str
    names: tuple[str, ...] = ()


def statements(advice: FirstWashAdvice, wash: FirstWash) -> tuple[Statement, ...]:
    """All that may be said of a wash, what it looks like first and what it costs last."""
    j = wash.judged
    return (
        *_seen(j),
        *_of_reason(j.reason),
        *_room(j),
        *_shut_out(j),
        *_neighbours(advice, j),
        *_darks(advice, j),
        *_standing(advice, wash),
    )


def _seen(j: Judged) -> list[Statement]:
    out = []
    if j.puts_off:
        first = min(float(one.labs[1, 0]) for one in j.laid if len(one.amounts))
        out.append(Statement("only puts off", first, "L* of what is laid a layer later"))
    if j.tint.strengths is not None:
        span = float(np.ptp(j.laid[0].finals[:, 0]))
        out.append(Statement("graded", span, "L* from end to end"))
    if j.kept_bare >= LEAST_BARE:
        out.append(Statement("keeps lights bare", j.kept_bare, "share of the area"))
    return out


OFF = "CIEDE2000 from the palest tint it covers"
HINT = "L* paler than that tint"
SHOWN = "share of it that gets nothing more"
LATER = "share of it that is glazed over"
NEED = "mean CIEDE2000 that bare paper would miss more by"
NUMBERS: dict[Claim, tuple[Callable[[Reason], float], str]] = {
    "palest tint": (lambda r: r.off, OFF),
    "pale hint": (lambda r: r.look[0] - r.palest.lab[0], HINT),
    "stays seen": (lambda r: r.seen, SHOWN),
    "partly seen": (lambda r: r.seen, SHOWN),
    "same hue later": (lambda r: 1.0 - r.seen, LATER),
    "warmer than later": (lambda r: 1.0 - r.seen, LATER),
    "cooler than later": (lambda r: 1.0 - r.seen, LATER),
    "opposite of later": (lambda r: 1.0 - r.seen, LATER),
    "makes greyer": (lambda r: r.effect.chroma if r.effect else 0.0, "C* under the glazes"),
    "makes brighter": (lambda r: r.effect.chroma if r.effect else 0.0, "C* under the glazes"),
    "makes warmer": (lambda r: r.effect.warmth if r.effect else 0.0, "C* towards orange"),
    "makes cooler": (lambda r: r.effect.warmth if r.effect else 0.0, "C* towards orange"),
    "makes darker": (lambda r: r.effect.lightness if r.effect else 0.0, "L* under the glazes"),
    "needed": (lambda r: r.misses.rise, NEED),
    "not needed": (lambda r: r.misses.rise, NEED),
}


def _of_reason(reason: Reason | None) -> list[Statement]:
    if reason is None:
        return []
    told = ((claim, NUMBERS[claim]) for claim in reason.claims if claim in NUMBERS)
    return [Statement(claim, number(reason), unit) for claim, (number, unit) in told]


def _room(j: Judged) -> list[Statement]:
    unit = f"of {j.room.total} value steps from paper to the darkest"
    out = [
        Statement("spends steps", j.room.spent, unit),
        Statement("leaves steps", j.room.left, unit),
    ]
    if j.room.between is not None:
        next_ = "value steps from it to the lightest colour glazed over it"
        out.append(Statement("next need", j.room.between, next_))
    return out


def _shut_out(j: Judged) -> list[Statement]:
    if not j.blocked:
        return []
    share = sum(b.share for b in j.blocked)
    return [Statement("shuts out", share, "share of the area whose colour is out of reach")]


def _neighbours(advice: FirstWashAdvice, j: Judged) -> list[Statement]:
    mm = sum(n.open_mm for n in advice.area.neighbours if runs_on(j.tint, n))
    return [Statement("runs on", mm, "mm of border without a seam")] if mm > 0.0 else []


def _darks(advice: FirstWashAdvice, j: Judged) -> list[Statement]:
    deep = advice.area.darkest
    if deep >= DEEP or len(j.darks) < 2 or any(is_black_or_white(p) for p in j.darks):
        return []
    return [Statement("dark without black", deep, "L* wanted", tuple(p.name for p in j.darks))]


def _standing(advice: FirstWashAdvice, wash: FirstWash) -> list[Statement]:
    """How near it comes, what it costs and how it bears the hand, each against the best."""
    nearest = min(w.judged.toll.seen for w in advice.washes)
    off = wash.judged.toll.seen - nearest
    unit = "root mean square CIEDE2000 more than the nearest"
    out = [Statement("as near" if off < THRESHOLDS.rise else "further off", off, unit)]
    if out[0].kind == "as near" and wash.behind >= THRESHOLDS.rise:
        out.append(Statement("takes more work", wash.behind, "of toll more than the cheapest"))
    hand = wash.judged.by_hand - advice.best.judged.by_hand
    if abs(hand) >= THRESHOLDS.clear and wash is not advice.best:
        unit = "mean CIEDE2000 by hand, against the first of the list"
        out.append(Statement("steadier" if hand < 0 else "less steady", hand, unit))
    return out
