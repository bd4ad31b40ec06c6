"""Why each first wash is there, as numbers: what the photo shows, what is glazed over it later,
what it does there, and what the end would lack without it.

Nothing is told that these numbers do not bear: `Reason.claims` holds a claim only if its number
passes the threshold in `THRESHOLDS`.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.values import value_step
from firstwash.plan.alternatives import Alternative, alternatives
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.plan.whatif import (
    Footprint,
    as_planned,
    find_wash,
    footprint,
    left_out,
    misses,
    refit_later,
)

__all__ = [
    "THRESHOLDS",
    "Claim",
    "Effect",
    "Glaze",
    "Lab",
    "Misses",
    "Reason",
    "Second",
    "Thresholds",
    "Tint",
    "claims",
    "hue_relation",
    "warmth",
    "why",
]

Claim = Literal[
    "palest tint", "pale hint", "stays seen", "partly seen",
    "same hue later", "warmer than later", "cooler than later", "opposite of later",
    "makes warmer", "makes cooler", "makes greyer", "makes brighter", "makes darker",
    "turns warmer", "turns cooler", "turns darker", "turns lighter",
    "needed", "not needed", "close substitute", "better substitute", "poor substitute",
]  # fmt: skip
Relation = Literal["same", "warmer", "cooler", "opposite", "beside", "grey"]
Lab = tuple[float, float, float]

WARMEST = (
    55.0  # CIELAB hue angle, degrees, of the warmest colour, orange; common practice, no source
)


@dataclass(frozen=True)
class Thresholds:
    """When a number is large enough to be spoken of.

    tint: CIEDE2000 within which a wash is the tint seen. hint: L* that it is lighter than the
    palest tint to be a hint of it. share: of its area, from which something is told of it; most:
    share that is most of it. grey: C* below which a colour has no hue. same, opposite: degrees of
    hue. lean: of warmth between two colours of different hue (-1 to 1). change: of L*, C* or
    warmth that a wash makes to the end, or one area has against its neighbour. rise: mean CIEDE2000
    that is missed; clear, large: of such a rise.
    """

    tint: float = 5.0
    hint: float = 8.0
    share: float = 0.15
    most: float = 0.5
    grey: float = 5.0
    same: float = 35.0
    opposite: float = 140.0
    lean: float = 0.2
    change: float = 2.5
    rise: float = 0.3
    clear: float = 1.0
    large: float = 3.0


THRESHOLDS = Thresholds()


@dataclass(frozen=True)
class Tint:
    """Palest tint of an area: mean CIELAB of its shapes' lightest levels in the photo, by area.

    step: its value step 1-10. spread: mean CIEDE2000 of the shapes from it.
    """

    lab: Lab
    step: int
    spread: float


@dataclass(frozen=True)
class Glaze:
    """What is laid over a wash later.

    covered: share (0-1) of its area under any later coat. puddle, layer, share: the later wash
    that covers most of it; stroke: CIELAB of a test stroke of that. alone: most of what that one
    covers gets no other later coat. final: mean CIELAB at the end, `Effect.with_it`.
    """

    covered: float
    puddle: int
    layer: int
    share: float
    stroke: Lab
    alone: bool
    final: Lab


@dataclass(frozen=True)
class Effect:
    """What a wash does to the end where it is glazed over, all else as it is.

    with_it, without: mean CIELAB where the chief later wash is the only one (`Glaze.alone`), or
    else wherever any later coat is.
    """

    with_it: Lab
    without: Lab

    @property
    def lightness(self) -> float:
        """L* with it less L* without it."""
        return self.with_it[0] - self.without[0]

    @property
    def chroma(self) -> float:
        """C* with it less C* without it."""
        return float(np.hypot(*self.with_it[1:]) - np.hypot(*self.without[1:]))

    @property
    def warmth(self) -> float:
        """The same along the hue of orange in a*b*."""
        return warmth(self.with_it) - warmth(self.without)


@dataclass(frozen=True)
class Second:
    """A second colour against the wash it is dropped into: own palest tint less the host's.

    lightness, warmth: of those tints in the photo.
    """

    host: int
    host_tint: Tint
    lightness: float
    warmth: float


@dataclass(frozen=True)
class Misses:
    """Mean CIEDE2000 over the wash's cells against the aims.

    planned: as it is. refitted: with the later washes there laid as suits best; without, other:
    the same without this wash, and with the next-best mixture in its place.
    """

    planned: float
    refitted: float
    without: float
    other: float | None

    @property
    def rise(self) -> float:
        """What leaving it out costs."""
        return self.without - self.refitted

    @property
    def other_rise(self) -> float | None:
        """What the next-best mixture costs; None if there is no other."""
        return None if self.other is None else self.other - self.refitted


@dataclass(frozen=True, eq=False)
class Reason:
    """Why a first wash is there.

    look: mean CIELAB of its area when it is dry. off: CIEDE2000 from the palest tint, by area.
    seen: share (0-1) of its area where nothing is laid over it. relation: its hue against the
    hue at the end under glazes. glaze, effect: None if nothing is laid over it. second: None unless
    it is dropped into another. next_best: the alternative meant in misses.other.
    claims: what these numbers bear.
    """

    layer: int
    number: int
    look: Lab
    palest: Tint
    off: float
    seen: float
    glaze: Glaze | None
    effect: Effect | None
    relation: Relation | None
    second: Second | None
    misses: Misses
    next_best: Alternative | None
    claims: tuple[Claim, ...]


def why(plan: Plan, wash: Wash) -> Reason:
    """Why a first wash is there. Raises RequestError for a wash of a later layer."""
    if wash.layer != 1:
        raise RequestError("Reasons are given for first washes only, those of layer 1.")
    foot = footprint(plan, wash)
    palest, off = _palest(plan, foot)
    glaze, effect = _glazed(plan, foot) or (None, None)
    counted, other = _misses(plan, wash, foot)
    bare = Reason(
        layer=wash.layer,
        number=wash.number,
        look=wash.after,
        palest=palest,
        off=off,
        seen=1.0 - (glaze.covered if glaze else 0.0),
        glaze=glaze,
        effect=effect,
        relation=hue_relation(wash.after, glaze.final) if glaze else None,
        second=_second(plan, wash, palest),
        misses=counted,
        next_best=other,
        claims=(),
    )
    return replace(bare, claims=claims(bare))


def warmth(lab: FloatArray | Lab) -> float:
    """How far a colour (3,) lies towards orange, in units of C*; negative towards blue."""
    turn = np.radians(WARMEST)
    return float(lab[1] * np.cos(turn) + lab[2] * np.sin(turn))


def hue_relation(one: Lab, other: Lab) -> Relation:
    """How the hue of one colour stands to another's: "warmer" means the first is the warmer.

    "beside": another hue, as warm; "grey": one of them has no hue.
    """
    chroma = [float(np.hypot(c[1], c[2])) for c in (one, other)]
    if min(chroma) < THRESHOLDS.grey:
        return "grey"
    turn = float(np.degrees(np.arctan2(one[2], one[1]) - np.arctan2(other[2], other[1])))
    apart = abs((turn + 180.0) % 360.0 - 180.0)
    if apart <= THRESHOLDS.same:
        return "same"
    if apart >= THRESHOLDS.opposite:
        return "opposite"
    lean = warmth(one) / chroma[0] - warmth(other) / chroma[1]
    if abs(lean) < THRESHOLDS.lean:
        return "beside"
    return "warmer" if lean > 0 else "cooler"


def _lightest(plan: Plan, foot: Footprint) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The lightest cell of each shape in a footprint, and the shape's share of its area."""
    shapes = plan.cells.shape_of[foot.cells]
    order = np.lexsort((plan.cells.level_of[foot.cells], shapes))
    _, first, where = np.unique(shapes[order], return_index=True, return_inverse=True)
    share = np.bincount(where, foot.areas[order]) / foot.areas.sum()
    return foot.cells[order][first], np.asarray(share)


def _palest(plan: Plan, foot: Footprint) -> tuple[Tint, float]:
    cells, share = _lightest(plan, foot)
    tints = plan.targets[cells]
    mean = share @ tints
    off = float(share @ delta_e_2000(plan.stage_labs[1][cells], tints))
    spread = float(share @ delta_e_2000(tints, mean))
    return Tint(triple(mean), int(value_step(mean[0])), spread), off


def _later(foot: Footprint) -> dict[tuple[int, int, float], NDArray[np.float64]]:
    """Area (n,) of each cell that every later wash covers."""
    out: dict[tuple[int, int, float], NDArray[np.float64]] = {}
    for i, row in enumerate(foot.stack_of.tolist()):
        for coat in foot.coats[row][foot.place[row] + 1 :]:
            out.setdefault(coat, np.zeros(len(foot.cells)))[i] = foot.areas[i]
    return out


def _glazed(plan: Plan, foot: Footprint) -> tuple[Glaze, Effect] | None:
    """What lies over a first wash and how it shows through, or None if nothing is laid over it."""
    later = _later(foot)
    if not later:
        return None
    layer, puddle, _ = most = max(later, key=lambda coat: (later[coat].sum(), coat))
    over = np.array([len(s) for s in foot.coats]) - foot.place - 1
    only = later[most] * (over[foot.stack_of] == 1)
    alone = bool(only.sum() >= THRESHOLDS.most * later[most].sum())
    covered = foot.areas * (over[foot.stack_of] > 0)
    effect = _effect(plan, foot, only if alone else covered)
    total = float(foot.areas.sum())
    wash = next(w for w in plan.washes if (w.layer, w.puddle, w.strength) == most)
    glaze = Glaze(
        covered=float(covered.sum() / total),
        puddle=puddle,
        layer=layer,
        share=float(later[most].sum() / total),
        stroke=wash.stroke,
        alone=alone,
        final=effect.with_it,
    )
    return glaze, effect


def _effect(plan: Plan, foot: Footprint, weight: FloatArray) -> Effect:
    means = (
        triple(weight @ there.finals()[foot.stack_of] / weight.sum())
        for there in (as_planned(plan, foot), left_out(plan, foot))
    )
    return Effect(*means)


def _second(plan: Plan, wash: Wash, own: Tint) -> Second | None:
    if wash.into is None:
        return None
    host, _ = _palest(plan, footprint(plan, find_wash(plan, wash.layer, wash.into)))
    return Second(wash.into, host, own.lab[0] - host.lab[0], warmth(own.lab) - warmth(host.lab))


def _misses(plan: Plan, wash: Wash, foot: Footprint) -> tuple[Misses, Alternative | None]:
    planned = as_planned(plan, foot)
    refitted = refit_later(foot, planned, wash.layer, plan.aims)
    without = refit_later(foot, left_out(plan, foot), wash.layer, plan.aims)
    end, best, bare = (
        float(foot.mean(misses(foot, s.finals(), plan.aims))) for s in (planned, refitted, without)
    )
    other = next(iter(alternatives(plan, wash, most=1, refit=True)), None)
    return Misses(end, best, bare, None if other is None else other.then.against_aims), other


def claims(r: Reason) -> tuple[Claim, ...]:
    """What the numbers of a reason bear, and nothing else."""
    return (*_seen_claims(r), *_later_claims(r), *_second_claims(r), *_need_claims(r))


def _seen_claims(r: Reason) -> list[Claim]:
    t = THRESHOLDS
    out: list[Claim] = []
    if r.off <= t.tint:
        out.append("palest tint")
    elif r.look[0] - r.palest.lab[0] >= t.hint and _same_hue(r.look, r.palest.lab):
        out.append("pale hint")
    if r.seen >= t.most:
        out.append("stays seen")
    elif r.seen >= t.share:
        out.append("partly seen")
    return out


def _same_hue(one: Lab, other: Lab) -> bool:
    return hue_relation(one, other) == "same"


def _later_claims(r: Reason) -> list[Claim]:
    t = THRESHOLDS
    if r.glaze is None or r.effect is None or r.glaze.covered < t.share:
        return []
    named: dict[str, Claim] = {
        "same": "same hue later",
        "warmer": "warmer than later",
        "cooler": "cooler than later",
        "opposite": "opposite of later",
    }
    out = [named[r.relation]] if r.relation in named else []
    tests: tuple[tuple[bool, Claim], ...] = (
        (r.effect.chroma <= -t.change, "makes greyer"),
        (r.effect.chroma >= t.change, "makes brighter"),
        (r.effect.warmth >= t.change, "makes warmer"),
        (r.effect.warmth <= -t.change, "makes cooler"),
        (r.effect.lightness <= -t.change, "makes darker"),
    )
    return [*out, *(claim for holds, claim in tests if holds)]


def _second_claims(r: Reason) -> list[Claim]:
    if r.second is None:
        return []
    t = THRESHOLDS
    tests: tuple[tuple[bool, Claim], ...] = (
        (r.second.warmth >= t.change, "turns warmer"),
        (r.second.warmth <= -t.change, "turns cooler"),
        (r.second.lightness >= 2 * t.change, "turns lighter"),
        (r.second.lightness <= -2 * t.change, "turns darker"),
    )
    return [claim for holds, claim in tests if holds]


def _need_claims(r: Reason) -> list[Claim]:
    t = THRESHOLDS
    out: list[Claim] = ["needed" if r.misses.rise >= t.rise else "not needed"]
    other = r.misses.other_rise
    if other is not None and other >= t.clear:
        out.append("poor substitute")
    elif other is not None and other <= -t.rise:
        out.append("better substitute")
    elif other is not None and other < t.rise:
        out.append("close substitute")
    return out
