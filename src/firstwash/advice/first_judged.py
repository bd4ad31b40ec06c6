"""One first wash judged: what is left at the end, what it spends, what it shuts out, what it does.

All of it follows from the predicted stack. The reasons are those of `plan.reasons`, claimed by
the same thresholds, with the coats above fitted to this wash as they are to any other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_area import Area, Neighbour, one_coat
from firstwash.advice.first_hands import miss_by_hand
from firstwash.advice.first_laying import Laid, Palette, Patch, lay, lay_graded
from firstwash.advice.first_tints import LEAST_SHARE, SAME, Origin, Tint, gradable, palest_of
from firstwash.arrays import FloatArray, triple
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint
from firstwash.picture.values import value_step
from firstwash.plan.layin import SEAM_PRICE
from firstwash.plan.reasons import (
    THRESHOLDS,
    Effect,
    Glaze,
    Lab,
    Misses,
    Reason,
    claims,
    hue_relation,
)
from firstwash.plan.reasons import Tint as Palest
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS

__all__ = ["Blocked", "Judged", "Room", "Strip", "Toll", "judge", "runs_on"]

MISSED = 2.0  # CIEDE2000 that a colour must be off to be out of reach


@dataclass(frozen=True)
class Toll:
    """What a first wash costs, parts in squared CIEDE2000 by area.

    match: against the aims at the end; paint: by the rules of handling; coats: by their number;
    steps: where even coats cut an even gradation into steps; seams: against neighbours that it
    does not run on into. total: the root of the sum, which washes are ranked by.
    """

    match: float
    paint: float
    coats: float
    steps: float
    seams: float

    @property
    def seen(self) -> float:
        """Root mean square CIEDE2000 at the end as planned, steps included."""
        return float(np.sqrt(self.match + self.steps))

    @property
    def total(self) -> float:
        """CIEDE2000."""
        return float(np.sqrt(self.match + self.paint + self.coats + self.steps + self.seams))


@dataclass(frozen=True)
class Room:
    """Value steps, of ten: what the wash spends and what is left above it.

    total: from paper to the darkest colour; spent + left = total. between: from the wash to the
    lightest colour that is glazed over it, None if nothing is.
    """

    spent: int
    left: int
    between: int | None

    @property
    def total(self) -> int:
        """From paper to the darkest."""
        return self.spent + self.left


@dataclass(frozen=True)
class Blocked:
    """A colour that cannot be had any more where the wash lies under it.

    over, bare: CIEDE2000 that the best coat misses it by over the wash, and on bare paper.
    """

    cell: int
    lab: Lab
    share: float
    over: float
    bare: float
    why: Literal["too dark", "wrong hue"]


@dataclass(frozen=True, eq=False)
class Strip:
    """Predicted stages of three colours of the area: its light, its middle, its dark.

    cells (3,); labs (3, layers + 1, 3) CIELAB after 0, 1, … layers; aims (3, 3).
    """

    cells: tuple[int, int, int]
    labs: NDArray[np.float64]
    aims: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Judged:
    """A first wash, judged.

    parts: (paint, amount) of one full coat, most first, () for bare paper; strength: laid at.
    lab, step: of it when dry. laid: the coats of every patch. error, by_hand: mean CIEDE2000 at
    the end, as planned and as hands make it. kept_bare: share of the area that stays paper.
    darks: paints in the darkest colour's coats, most first. palest: CIELAB (3,) of the palest
    tint where it is laid, lights left bare not counted. reason: None for bare paper.
    """

    tint: Tint
    parts: tuple[tuple[Paint, float], ...]
    strength: float
    laid: tuple[Laid, ...]
    toll: Toll
    error: float
    by_hand: float
    room: Room
    blocked: tuple[Blocked, ...]
    kept_bare: float
    darks: tuple[Paint, ...]
    palest: NDArray[np.float64] | None
    reason: Reason | None
    strip: Strip

    @property
    def origins(self) -> tuple[Origin, ...]:
        """Where it comes from."""
        return self.tint.origins

    @property
    def is_bare(self) -> bool:
        """Whether it is no wash at all."""
        return self.tint.amounts is None

    @property
    def puts_off(self) -> bool:
        """Whether it is bare paper whose first coat, a layer later, is a pale wash all the same."""
        firsts = [one for one in self.laid if len(one.amounts)]
        pale = [one.labs[1, 0] >= FIRST_WASH_LIGHTNESS - 0.5 for one in firsts]
        return self.is_bare and bool(firsts) and all(pale)

    @property
    def lab(self) -> Lab:
        """CIELAB when dry."""
        return triple(self.tint.lab)

    @property
    def step(self) -> int:
        """Value step of it, 1-10."""
        return int(value_step(self.tint.lab[0]))

    @property
    def paints(self) -> tuple[Paint, ...]:
        """Its paints, most first."""
        return tuple(p for p, _ in self.parts)


def laid_with(area: Area, tint: Tint, bare: Sequence[Laid]) -> tuple[Tint, tuple[Laid, ...]]:
    """The mixture of a tint that costs the largest patch least, and all patches over it."""
    if tint.amounts is None:
        return tint, tuple(bare)
    # Patches come the largest first.
    first, *rest = area.patches
    trials = [replace(t, origins=tint.origins, others=()) for t in (tint, *tint.others)]
    found = [(_over(area.palette, first, trial), trial) for trial in trials]
    laid, best = min(found, key=lambda each: each[0].cost)
    return best, (laid, *(_over(area.palette, patch, best) for patch in rest))


def _over(palette: Palette, patch: Patch, tint: Tint) -> Laid:
    if tint.amounts is not None and tint.strengths is not None:
        return lay_graded(palette, patch, tint.amounts, tint.strengths)
    return lay(palette, patch, tint.amounts)


def judge(area: Area, asked: Tint, bare: Sequence[Laid]) -> Judged:
    """A first wash judged; bare: the area's patches without any."""
    palette = area.palette
    tint, laid = laid_with(area, asked, bare)
    parts, strength = _parts(palette, tint.amounts)
    return Judged(
        tint=tint,
        parts=parts,
        strength=strength,
        laid=laid,
        toll=_toll(area, tint, laid),
        error=mean_miss(laid),
        by_hand=miss_by_hand(palette, laid, area.sigma),
        room=_room(area, tint, laid),
        blocked=() if tint.strengths is not None else tuple(_blocked(area, tint, laid)),
        kept_bare=sum(float(one.patch.share[one.coats_of == 0].sum()) for one in laid),
        darks=_darks(palette, laid),
        palest=_palest(area, laid),
        reason=_reason(area, tint, laid, mean_miss(bare)),
        strip=_strip(area, laid),
    )


def _palest(area: Area, laid: Sequence[Laid]) -> NDArray[np.float64] | None:
    """The palest tint among what is not left bare; what somebody saw there if it is the palest."""
    aims = np.vstack([one.patch.aims[one.coats_of > 0] for one in laid])
    share = np.concatenate([one.patch.share[one.coats_of > 0] for one in laid])
    aims = aims[share >= LEAST_SHARE]
    if not len(aims):
        return area.palest
    own = aims[int(np.argmax(aims[:, 0]))]
    first = palest_of(area.palette, area.patches)
    return area.palest if first is not None and np.array_equal(own, first) else np.asarray(own)


def mean_miss(laid: Sequence[Laid]) -> float:
    """Mean CIEDE2000 of all patches at the end."""
    return float(sum(one.patch.share @ one.misses for one in laid))


def _parts(
    palette: Palette, amounts: FloatArray | None
) -> tuple[tuple[tuple[Paint, float], ...], float]:
    if amounts is None or not amounts.any():
        return (), 0.0
    loads = amounts * palette.bench.loads
    strength = float(loads.sum())
    order = sorted(np.flatnonzero(amounts).tolist(), key=lambda p: (-loads[p], p))
    return tuple((palette.paints[p], float(amounts[p] / strength)) for p in order), strength


def _toll(area: Area, tint: Tint, laid: Sequence[Laid]) -> Toll:
    shares = [float(one.patch.share.sum()) for one in laid]
    match, paint, coats = (
        sum(s * getattr(one, name) for s, one in zip(shares, laid, strict=True))
        for name in ("match", "paint", "coats")
    )
    apart = sum(n.open_mm for n in area.neighbours if not runs_on(tint, n))
    steps = _steps(area) if tint.strengths is None and gradable(area.patches) else 0.0
    return Toll(match, paint, coats, steps, SEAM_PRICE * apart / area.mm2)


def _steps(area: Area) -> float:
    """Mean squared CIEDE2000 inside levels that are laid evenly where the picture runs evenly.

    A level reaches half way to its neighbours; what runs evenly over a width w lies w²/12 off its
    middle in the mean square.
    """
    one = area.patches[0]
    gaps = delta_e_2000(one.aims[1:], one.aims[:-1])
    width = 0.5 * (np.append(gaps, gaps[-1]) + np.append(gaps[0], gaps))
    return float(one.weight @ width**2 / 12.0)


def runs_on(tint: Tint, beside: Neighbour) -> bool:
    """Whether a wash could be one passage with its neighbour's."""
    return tint.amounts is not None and float(delta_e_2000(tint.lab, beside.lab)) < SAME


def _room(area: Area, tint: Tint, laid: Sequence[Laid]) -> Room:
    own, paper, dark = (
        int(value_step(x)) for x in (tint.lab[0], area.palette.paper[0], area.darkest)
    )
    over = [one.patch.aims[one.coats_of > one.washed] for one in laid]
    later = np.vstack(over)[:, 0]
    between = own - int(value_step(later.max())) if len(later) else None
    return Room(spent=paper - own, left=own - dark, between=between)


def _blocked(area: Area, tint: Tint, laid: Sequence[Laid]) -> list[Blocked]:
    """Colours out of reach over the wash, but for lights that are left bare and look right so."""
    if tint.amounts is None:
        return []
    misses = np.concatenate([one.misses for one in laid])
    bare = np.concatenate([one.coats_of == 0 for one in laid])
    enough = np.maximum(area.in_reach + THRESHOLDS.clear, MISSED)
    out = []
    for i in np.flatnonzero(misses >= np.where(bare, THRESHOLDS.tint, enough)).tolist():
        aim = area.aims[i]
        alone = float(delta_e_2000(tint.lab, aim))
        over = min(one_coat(area.palette, aim, tint.amounts), alone)
        if over >= enough[i]:
            why: Literal["too dark", "wrong hue"] = (
                "too dark" if tint.lab[0] < aim[0] - MISSED else "wrong hue"
            )
            cell, share = int(area.cells[i]), float(area.share[i])
            out.append(Blocked(cell, triple(aim), share, over, float(area.in_reach[i]), why))
    return out


def _darks(palette: Palette, laid: Sequence[Laid]) -> tuple[Paint, ...]:
    """Paints of all coats under the darkest colour, by visible depth."""
    one = min(laid, key=lambda x: float(x.patch.aims[:, 0].min()))
    dark = int(np.argmin(one.patch.aims[:, 0]))
    amounts = one.amounts[: one.coats_of[dark]].sum(axis=0)
    depth = amounts * palette.bench.loads * palette.bench.visible_depth()
    used = np.flatnonzero(depth > 0.02 * depth.sum())
    return tuple(palette.paints[p] for p in sorted(used.tolist(), key=lambda p: (-depth[p], p)))


def _strip(area: Area, laid: Sequence[Laid]) -> Strip:
    """The colours at the light end, at half the area, and at the dark end."""
    order = np.argsort(-area.aims[:, 0], kind="stable")
    half = int(np.searchsorted(np.cumsum(area.share[order]), 0.5 * area.share.sum()))
    pick = order[[0, min(half, len(order) - 1), -1]]
    stages = np.concatenate([one.stages(area.palette.layers) for one in laid], axis=1)
    a, b, c = area.cells[pick].tolist()
    return Strip((a, b, c), stages[:, pick].transpose(1, 0, 2).copy(), area.aims[pick])


def _reason(area: Area, tint: Tint, laid: Sequence[Laid], bare: float) -> Reason | None:
    """Why this wash, as `plan.reasons` tells it; no next-best mixture, for the others are here."""
    seen_there = _palest(area, laid)
    if tint.amounts is None or seen_there is None:
        return None
    look, palest = triple(tint.lab), triple(seen_there)
    glaze, effect, seen = _glazed(laid)
    error = mean_miss(laid)
    found = Reason(
        layer=1,
        number=0,
        look=look,
        palest=Palest(palest, int(value_step(palest[0])), 0.0),
        off=float(delta_e_2000(tint.lab, seen_there)),
        seen=seen,
        glaze=glaze,
        effect=effect,
        relation=None if glaze is None else hue_relation(look, glaze.final),
        second=None,
        misses=Misses(error, error, bare, None),
        next_best=None,
        claims=(),
    )
    return replace(found, claims=claims(found))


def _glazed(laid: Sequence[Laid]) -> tuple[Glaze | None, Effect | None, float]:
    """What lies over the wash, what the wash does there, and the share (0-1) that stays seen."""
    shown, total, over = 0.0, 0.0, 0.0
    with_it, without = np.zeros(3), np.zeros(3)
    for one in laid:
        share, n = one.patch.share, one.coats_of
        total += float(share[n > 0].sum())
        shown += float(share[n == 1].sum())
        glazed = n > 1
        if glazed.any():
            with_it += share[glazed] @ one.finals[glazed]
            without += share[glazed] @ _left_out(one)[glazed]
            over += float(share[glazed].sum())
    seen = shown / total if total else 0.0
    if over <= 0.0:
        return None, None, seen
    effect = Effect(triple(with_it / over), triple(without / over))
    glaze = Glaze(over / total, -1, 2, over / total, effect.with_it, False, effect.with_it)
    return glaze, effect, seen


def _left_out(laid: Laid) -> NDArray[np.float64]:
    """CIELAB (n, 3) at the end without the first coat, all else as it is."""
    return laid.without_first[np.maximum(laid.coats_of - 1, 0)]
