"""Other paints that a wash could be mixed from, and what each gains and loses.

For one wash of a finished plan every single paint, pair and triple of paints, and every puddle
that is mixed anyway, is fitted jointly to all the cells the wash lies in, the coats under and
over it as they are. What comes nearest is told with how it handles, so that a painter can choose.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray, triple
from firstwash.errors import PaintError
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.remix import LOOK_WEIGHT, Slot, fit_mixtures, slot_of
from firstwash.plan.result import Plan
from firstwash.plan.say import allowed, largest_shares
from firstwash.plan.wash import Wash
from firstwash.plan.whatif import (
    Footprint,
    Scenario,
    as_planned,
    footprint,
    misses,
    refit_later,
    relaid,
)

__all__ = ["Alternative", "Manner", "Shift", "Standing", "alternatives", "manner_of", "paint_box"]

ALL_TRIPLES = 8  # paints up to which every triple is tried
BEST_PAIRS = 16  # otherwise triples grow from so many of the best pairs
LEAST_PART = 0.02  # share of a puddle that a paint must hold to be worth measuring
WORTH_A_PAINT = 0.1  # CIEDE2000 that one more paint in a puddle must earn
WORTH_A_PUDDLE = 0.3  # CIEDE2000 that mixing a new puddle must earn over one mixed anyway
AT_HAND = 3.0  # CIEDE2000 by which a puddle mixed anyway may be worse and still be told
HAZARDS = ("none", "caution", "toxic")
Item = TypeVar("Item")
CATEGORIES = ("I", "II", "III", "IV", "V")


@dataclass(frozen=True)
class Manner:
    """How a mixture handles: the extreme of its paints; None where one is not known.

    staining, granulation: highest grade 0-4; transparency: lowest 0-4; lightfast: worst
    category I-V; hazard: worst of "none", "caution", "toxic". paints: how many.
    """

    paints: int
    staining: int | None
    granulation: int | None
    transparency: int | None
    lightfast: str | None
    hazard: str | None


@dataclass(frozen=True)
class Standing:
    """How near the cells of the wash come when all is painted.

    against_photo, against_aims: mean CIEDE2000 over them by area; sheet: the same against the
    aims over all cells of the sheet; look: mean CIEDE2000 from the plan's look right after
    the wash.
    """

    against_photo: float
    against_aims: float
    sheet: float
    look: float

    @property
    def rank(self) -> float:
        """What alternatives are ordered by: the end, and a little the look on the way there."""
        return self.against_aims + LOOK_WEIGHT * self.look


@dataclass(frozen=True)
class Shift:
    """The cell that changes most by area × difference, from the plan's end to another end."""

    cell: int
    area_mm2: float
    difference: float
    before: tuple[float, float, float]
    after: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Alternative:
    """Another mixture for a wash.

    parts: (paint, amount) of one full coat at strength 1, most first; strength: it is laid at;
    puddle: index if the plan mixes it anyway, else None. new_paints: those not on the palette.
    stroke, value_step: of a dry test stroke. finals: (cells of the wash, 3) CIELAB at the end.
    now, then: standing of the plan and of the alternative; manner_now, manner: handling.
    later: (layer, puddle, factor) of later washes laid at another strength there, if asked for.
    """

    parts: tuple[tuple[Paint, float], ...]
    strength: float
    puddle: int | None
    new_paints: tuple[Paint, ...]
    stroke: tuple[float, float, float]
    value_step: int
    finals: NDArray[np.float64]
    now: Standing
    then: Standing
    largest: Shift
    manner_now: Manner
    manner: Manner
    later: tuple[tuple[int, int, float], ...] = ()

    @property
    def paints(self) -> tuple[Paint, ...]:
        """The paints in it, most first."""
        return tuple(p for p, _ in self.parts)

    @property
    def paint_count_change(self) -> int:
        """Paints in it less paints in the plan's puddle: −1 is one paint fewer."""
        return self.manner.paints - self.manner_now.paints

    @property
    def rise(self) -> float:
        """Mean CIEDE2000 against the aims that the wash's cells lose (> 0) or gain by it."""
        return self.then.against_aims - self.now.against_aims


def manner_of(paints: Sequence[Paint]) -> Manner:
    """How a mixture of these paints handles."""
    hold = [p.handling for p in paints]
    return Manner(
        paints=len(hold),
        staining=_highest([h.staining for h in hold]),
        granulation=_highest([h.granulation for h in hold]),
        transparency=_lowest([h.transparency for h in hold]),
        lightfast=_worst([h.lightfast for h in hold], CATEGORIES),
        hazard=_worst([h.hazard for h in hold], HAZARDS),
    )


def _known(grades: Sequence[int | None]) -> list[int]:
    """The grades if every one is known, else none of them."""
    known = [g for g in grades if g is not None]
    return known if len(known) == len(grades) else []


def _highest(grades: Sequence[int | None]) -> int | None:
    return max(_known(grades), default=None)


def _lowest(grades: Sequence[int | None]) -> int | None:
    return min(_known(grades), default=None)


def _worst(words: Sequence[str | None], order: Sequence[str]) -> str | None:
    if not words or any(w not in order for w in words):
        return None
    return max((w for w in words if w is not None), key=order.index)


def paint_box(plan: Plan, owned: Sequence[Paint] | None) -> tuple[tuple[Paint, ...], list[int]]:
    """The palette with other paints after it, and which of all these may be mixed.

    owned: None for the palette alone; otherwise only these are mixed (black and white left
    out unless the plan may use them). Raises PaintError for paints that cannot make a plan.
    """
    if owned is None:
        return plan.paints, list(range(len(plan.paints)))
    if not owned:
        raise PaintError("The set holds no paint; add at least one.")
    wanted = {p.key: p for p in allowed(owned, plan.limits, plan.paper)}
    if not wanted:
        raise PaintError(
            "None of these paints may be used: all are banned, too dark, or only black and white."
        )
    known = {p.key for p in plan.paints}
    box = (*plan.paints, *(p for key, p in wanted.items() if key not in known))
    return box, [i for i, p in enumerate(box) if p.key in wanted]


@dataclass(frozen=True, eq=False)
class _Mix:
    """A fitted candidate: amounts as laid (colours of the box), its cost."""

    amounts: NDArray[np.float64]
    cost: float
    puddle: int | None

    @property
    def paints(self) -> frozenset[int]:
        return frozenset(np.flatnonzero(self.amounts).tolist())


def alternatives(
    plan: Plan,
    wash: Wash,
    most: int = 5,
    owned: Sequence[Paint] | None = None,
    refit: bool = False,
) -> tuple[Alternative, ...]:
    """The `most` next-best mixtures for a wash that differ in paints, nearest first.

    wash: one of the plan's own. owned: mix from these instead of the palette; puddles of the
    plan are candidates all the same. A mixture holds 1-3 paints (or fewer, as the plan's
    limits say). refit: let the washes over it be laid stronger or weaker there too.
    The plan's own puddle, and any other of the same paints, is never among them; one whose two
    chief paints are those of a nearer one only if there are too few others. The last place is
    kept for a puddle that is mixed anyway, if one comes within 3 CIEDE2000.
    """
    box, usable = paint_box(plan, owned)
    bench = Bench.of(box, plan.paper).limited(largest_shares(box, plan.limits))
    foot = footprint(plan, wash)
    planned = as_planned(plan, foot)
    slot = slot_of(foot, planned, plan.aims, wash.layer == 1 and plan.layers > 1)
    ready = list(_mixed(plan, slot, bench))
    mixes = _distinct([*_new_mixes(plan, wash, slot, bench, usable), *ready])
    own = frozenset(p for p, _ in plan.puddles[wash.puddle].parts)
    judge = _Judge(plan, wash, foot, planned, box, bench, refit)
    thrifty = _thrifty(mixes, own)
    shortlist = _varied(thrifty, [_chief(m, bench.loads) for m in thrifty], 2 * most)
    found = sorted((judge.alternative(m) for m in shortlist), key=lambda a: a.then.rank)
    kept = _varied(found, [frozenset(p.key for p in a.paints[:2]) for a in found], most)
    if most > 1 and all(a.puddle is None for a in kept):
        spare = _at_hand(judge, ready, own, kept[: most - 1])
        kept = [*kept[: most - 1], *(spare or kept[most - 1 :])]
    return tuple(sorted(kept, key=lambda a: a.then.rank))


def _at_hand(
    judge: "_Judge", ready: Sequence[_Mix], own: frozenset[int], kept: Sequence[Alternative]
) -> list[Alternative]:
    """The nearest puddle that is mixed anyway, of paints not kept yet, unless it is far off."""
    taken = {frozenset(p.key for p in a.paints) for a in kept}
    for mix in sorted(ready, key=lambda m: m.cost):
        if mix.paints == own or frozenset(judge.box[p].key for p in mix.paints) in taken:
            continue
        found = judge.alternative(mix)
        return [found] if found.rise <= AT_HAND else []
    return []


def _chief(mix: _Mix, loads: FloatArray) -> frozenset[int]:
    """The two paints there is most of."""
    return frozenset(sorted(mix.paints, key=lambda p: (-mix.amounts[p] * loads[p], p))[:2])


def _varied(items: Sequence[Item], kinds: Sequence[object], most: int) -> list[Item]:
    """The first of every kind, then the others; at most so many."""
    first = [i for i, kind in enumerate(kinds) if kind not in kinds[:i]]
    rest = [i for i in range(len(items)) if i not in first]
    return [items[i] for i in [*first, *rest][:most]]


def _thrifty(mixes: dict[frozenset[int], _Mix], own: frozenset[int]) -> list[_Mix]:
    """Best first, without those whose last paint earns too little over a mixture without it."""
    kept = []
    for paints, mix in mixes.items():
        lesser = [np.sqrt(mixes[paints - {p}].cost) for p in paints if paints - {p} in mixes]
        if paints != own and np.sqrt(mix.cost) < min(lesser, default=np.inf) - WORTH_A_PAINT:
            kept.append(mix)
    return sorted(kept, key=lambda m: m.cost)


def _distinct(mixes: Sequence[_Mix]) -> dict[frozenset[int], _Mix]:
    """One mixture for each set of paints; one mixed anyway if it is about as good."""

    def price(mix: _Mix) -> float:
        return float(np.sqrt(mix.cost)) + (WORTH_A_PUDDLE if mix.puddle is None else 0.0)

    best: dict[frozenset[int], _Mix] = {}
    for mix in mixes:
        if mix.paints and (mix.paints not in best or price(mix) < price(best[mix.paints])):
            best[mix.paints] = mix
    return best


def _visible(colours: Bench) -> NDArray[np.float64]:
    """Optical depth of one unit of each colour as the eye weighs it."""
    return np.asarray((colours.k + colours.s) @ np.maximum(colours.weights[:, 1], 0.0))


def _new_mixes(
    plan: Plan, wash: Wash, slot: Slot, bench: Bench, usable: Sequence[int]
) -> Iterator[_Mix]:
    depth = _visible(bench)
    own = np.zeros(bench.colours)
    own[: len(plan.paints)] = plan.recipes[wash.puddle] * wash.strength
    goal = float(own @ depth)
    costs: NDArray[np.float64] = np.empty(0)
    groups: list[tuple[int, ...]] = []
    for size in range(1, min(3, plan.limits.paints_per_puddle) + 1):
        groups = _groups(usable, size, groups, costs)
        if not groups:
            return
        which = np.array(groups)
        start = np.minimum(goal / (size * depth[which]), 1.0 / (size * bench.loads[which]))
        found, costs = fit_mixtures(slot, bench, which, start)
        for row, chosen, cost in zip(found, which, costs.tolist(), strict=True):
            amounts = np.zeros(bench.colours)
            amounts[chosen] = row
            part = amounts * bench.loads
            whole = part.sum()
            few = (part[chosen] >= LEAST_PART * whole).all() and whole > 0
            if few and (part <= bench.shares * whole * (1.0 + 1e-9)).all():
                yield _Mix(amounts, cost, None)


def _groups(
    usable: Sequence[int], size: int, smaller: Sequence[tuple[int, ...]], costs: FloatArray
) -> list[tuple[int, ...]]:
    """Paints to be mixed together: all of that many, or those that grow from the best pairs."""
    if size < 3 or len(usable) <= ALL_TRIPLES:
        return list(combinations(usable, size))
    best = np.argsort(costs, kind="stable")[:BEST_PAIRS]
    grown = {tuple(sorted({*smaller[i], p})) for i in best.tolist() for p in usable}
    return sorted(g for g in grown if len(g) == size)


def _mixed(plan: Plan, slot: Slot, bench: Bench) -> Iterator[_Mix]:
    """The plan's puddles, each at the strength that suits."""
    recipes = np.zeros((len(plan.puddles), bench.colours))
    recipes[:, : len(plan.paints)] = plan.recipes
    ready = bench.puddles(recipes)
    which: IntArray = np.arange(len(recipes))[:, None]
    goal = _visible(bench) @ recipes[0]
    start = np.minimum(0.1 * goal / _visible(ready)[which], 1.0 / ready.loads[which])
    found, costs = fit_mixtures(slot, ready, which, start)
    for q, (row, cost) in enumerate(zip(found, costs.tolist(), strict=True)):
        if row[0] > 0:
            yield _Mix(recipes[q] * row[0], cost, q)


@dataclass(frozen=True, eq=False)
class _Judge:
    """Tells what a mixture would do in place of the wash."""

    plan: Plan
    wash: Wash
    foot: Footprint
    planned: Scenario
    box: tuple[Paint, ...]
    bench: Bench
    refit: bool

    def alternative(self, mix: _Mix) -> Alternative:
        """A fitted mixture, told in full."""
        plan, foot = self.plan, self.foot
        recipe, strength = self._recipe(mix)
        laid = relaid(plan, foot, self.bench, recipe, strength)
        there = self._settled(laid)
        finals = there.finals()[foot.stack_of]
        stroke = self.bench.labs((recipe * strength)[None])[1]
        order = sorted(mix.paints, key=lambda p: (-recipe[p] * self.bench.loads[p], p))
        on_palette = len(plan.paints)
        return Alternative(
            parts=tuple((self.box[p], float(recipe[p])) for p in order),
            strength=strength,
            puddle=mix.puddle,
            new_paints=tuple(self.box[p] for p in order if p >= on_palette),
            stroke=triple(stroke),
            value_step=int(value_step(stroke[0])),
            finals=finals,
            now=self._standing(self.planned),
            then=self._standing(there),
            largest=self._largest(finals),
            manner_now=manner_of([plan.paints[p] for p, _ in plan.puddles[self.wash.puddle].parts]),
            manner=manner_of([self.box[p] for p in order]),
            later=_changed(laid, there),
        )

    def _recipe(self, mix: _Mix) -> tuple[NDArray[np.float64], float]:
        """One full coat, and the strength: the plan's own where it is a puddle of the plan."""
        if mix.puddle is None:
            strength = float(mix.amounts @ self.bench.loads)
            return mix.amounts / strength, strength
        recipe = np.zeros(self.bench.colours)
        recipe[: len(self.plan.paints)] = self.plan.recipes[mix.puddle]
        return recipe, float(mix.amounts.sum() / recipe.sum())

    def _settled(self, laid: Scenario) -> Scenario:
        if not self.refit:
            return laid
        return refit_later(self.foot, laid, self.wash.layer, self.plan.aims)

    def _standing(self, there: Scenario) -> Standing:
        plan, foot = self.plan, self.foot
        labs = there.labs()
        finals = labs[:, -1]
        rows = np.arange(len(foot.coats))
        looks = labs[rows, foot.place + 1][foot.stack_of]
        before = self.planned.labs()[rows, foot.place + 1][foot.stack_of]
        areas = plan.cells.areas_mm2()
        errors = delta_e_2000(plan.stage_labs[-1], plan.aims)
        errors[foot.cells] = misses(foot, finals, plan.aims)
        return Standing(
            against_photo=float(foot.mean(misses(foot, finals, plan.targets))),
            against_aims=float(foot.mean(errors[foot.cells])),
            sheet=float(errors @ areas / areas.sum()),
            look=float(foot.mean(delta_e_2000(looks, before))),
        )

    def _largest(self, finals: FloatArray) -> Shift:
        before = self.plan.stage_labs[-1][self.foot.cells]
        change = delta_e_2000(finals, before)
        i = int(np.argmax(change * self.foot.areas))
        return Shift(
            cell=int(self.foot.cells[i]),
            area_mm2=float(self.foot.areas[i]),
            difference=float(change[i]),
            before=triple(before[i]),
            after=triple(finals[i]),
        )


def _changed(laid: Scenario, there: Scenario) -> tuple[tuple[int, int, float], ...]:
    """Layer, puddle and factor of every wash that is laid at another strength."""
    moved = np.argwhere(laid.strengths != there.strengths)
    found = {
        (
            int(laid.layers[i, j]),
            int(laid.puddles[i, j]),
            float(there.strengths[i, j] / laid.strengths[i, j]),
        )
        for i, j in moved.tolist()
    }
    return tuple(sorted(found))
