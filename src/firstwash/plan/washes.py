"""Few washes for many shapes, counted as a painter counts.

A wash is one puddle at one strength, laid in one layer over all the areas that want it,
one after another while the brush is charged; areas of one wash that touch are painted as
one. Which washes to lay is part of the optimisation, like the puddles: from more washes
than wanted, those whose areas find the cheapest replacements are given up a few at a time,
and strengths and recipes are fitted again after every step.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.parallel import in_parallel
from firstwash.plan import trials
from firstwash.plan.bench import Bench
from firstwash.plan.layin import calm_first_washes
from firstwash.plan.puddles import (
    IDLE,
    Mixing,
    held_mask,
    improve_recipes,
    mixed_prices,
    nearest,
    only_used,
    pigments_in,
    spread,
    stand_ins,
    without_coats,
)
from firstwash.plan.stacks import Stack

__all__ = ["NO_WASH", "LayIn", "WashPlan", "share_washes"]

NO_WASH = -1
STAND_INS = 8  # washes of the same layer tried in place of the one an area has
SEEDS = 1.6  # washes to start from, for each one wanted


@dataclass(frozen=True, eq=False)
class LayIn:
    """most: washes of the first layer; open_mm (shapes, shapes): borders that are not hard."""

    most: int
    open_mm: FloatArray


@dataclass(eq=False)
class WashPlan:
    """Washes, and which of them each stack's coats are.

    layer, puddle, strength: (washes,) arrays. wash_of: per stack (coats,) indices, or
    `NO_WASH` for a coat left out. mixing: the puddles; its puddle_of and strengths follow
    wash_of. costs: per stack, mean squared CIEDE2000 with penalties. decided: how many
    washes, the first ones, are decided already and may be neither changed nor joined.
    """

    layer: NDArray[np.int64]
    puddle: NDArray[np.int64]
    strength: NDArray[np.float64]
    wash_of: list[NDArray[np.int64]]
    mixing: Mixing
    costs: NDArray[np.float64]
    decided: int = 0


def share_washes(
    bench: Bench,
    stacks: list[Stack],
    mixing: Mixing,
    most: int,
    paints_per_puddle: int,
    lay_in: LayIn | None = None,
    rounds: int = 4,
) -> tuple[list[Stack], Mixing]:
    """At most `most` washes for all the stacks, from a mixing with free strengths.

    lay_in: how many of them the first layer may hold, and which shapes run together there.
    Returns the stacks without the coats that were given up, and a mixing in which all coats
    of one wash have the same layer, the same puddle and exactly the same strength.
    """
    if not len(mixing.recipes):  # nothing is painted
        return stacks, mixing
    plan = _seed(bench, stacks, mixing, int(most * SEEDS) + 6)
    usable = np.ones(len(plan.layer), dtype=np.bool_)
    while True:
        tables = _assign(bench, stacks, plan, usable)
        usable &= _in_use(plan)
        free = usable & (np.arange(len(usable)) >= plan.decided)
        first = plan.layer == 0
        crowd = 0 if lay_in is None else int((usable & first).sum()) - lay_in.most
        crowd = min(crowd, int((free & first).sum()))  # decided first washes may be too many
        extra = max(int(usable.sum()) - most, crowd)
        among = free & (first | (crowd <= 0))
        if extra <= 0 or not among.any():
            break
        _give_up(stacks, plan, usable, tables, max(1, min(extra, extra // 3 + 1)), among)
        _fit_strengths(bench, stacks, plan)
    for _ in range(rounds):
        before = _total(stacks, plan)
        _follow(plan)
        improve_recipes(bench, stacks, plan.mixing, paints_per_puddle)
        _lead(plan)
        _fit_strengths(bench, stacks, plan)
        tables = _assign(bench, stacks, plan, usable)
        if lay_in is not None:
            calm_first_washes(stacks, plan.wash_of, tables, usable, lay_in.open_mm)
            _fit_strengths(bench, stacks, plan)
        if _total(stacks, plan) > before * 0.995:
            break
    return _settle(bench, stacks, plan)


def _settle(bench: Bench, stacks: list[Stack], plan: WashPlan) -> tuple[list[Stack], Mixing]:
    """Take out coats without a wash or too faint to see, and fit the strengths once more."""
    _follow(plan)
    left = []
    for i, stack in enumerate(stacks):
        labs = bench.labs(plan.mixing.amounts(i))
        keep = (plan.wash_of[i] >= 0) & (delta_e_2000(labs[1:], labs[:-1]) >= IDLE)
        if stack.held is not None:
            keep |= stack.held.mask
        left.append(without_coats(bench, stack, keep))
        plan.wash_of[i] = plan.wash_of[i][keep]
        plan.mixing.puddle_of[i] = plan.mixing.puddle_of[i][keep]
        plan.mixing.strengths[i] = plan.mixing.strengths[i][keep]
    _fit_strengths(bench, left, plan)
    _follow(plan)
    plan.mixing.costs[:] = plan.costs
    return left, only_used(plan.mixing)


def _total(stacks: list[Stack], plan: WashPlan) -> float:
    return float(sum(s.area * c for s, c in zip(stacks, plan.costs, strict=True)))


def _looks(bench: Bench, mixing: Mixing, puddles: IntArray, strengths: FloatArray) -> FloatArray:
    """(n, 3) CIELAB of one dry coat of each wash on the bare paper."""
    ready = bench.puddles(mixing.recipes)
    amounts = np.zeros((1, ready.colours))
    out = np.empty((len(puddles), 3))
    for i, (q, s) in enumerate(zip(puddles, strengths, strict=True)):
        amounts[0, q] = s
        out[i] = ready.labs(amounts)[1]
        amounts[0, q] = 0.0
    return out


def _seed(bench: Bench, stacks: list[Stack], mixing: Mixing, most: int) -> WashPlan:
    """Washes typical of the areas: per layer, clustered by how one coat of them looks."""
    where = [(i, c) for i, s in enumerate(stacks) for c in range(len(s.layers))]
    layer = np.array([stacks[i].layers[c] for i, c in where], dtype=np.int64)
    puddle = np.array([mixing.puddle_of[i][c] for i, c in where], dtype=np.int64)
    strength = np.array([mixing.strengths[i][c] for i, c in where])
    weight = _weights(bench, stacks, mixing, where)
    looks = _looks(bench, mixing, puddle, strength)
    held = np.array([_is_held(stacks[i], c) for i, c in where], dtype=np.bool_)
    kept, own = _decided(layer, puddle, strength, held)
    decided = len(kept)
    for n in np.unique(layer[~held]):
        here = np.flatnonzero((layer == n) & ~held)
        share = weight[here].sum() / weight.sum()
        count = min(len(here), max(2, round(most * share)))
        centres = spread(looks[here], weight[here], count)
        members = nearest(looks[here], centres)
        for c in np.unique(members):
            group = here[members == c]
            best = group[np.argmin(np.linalg.norm(looks[group] - centres[c], axis=1))]
            own[group] = len(kept)
            kept.append(int(best))
    wash_of = [np.zeros(len(s.layers), dtype=np.int64) for s in stacks]
    for (i, c), w in zip(where, own, strict=True):
        wash_of[i][c] = w
    copied = Mixing(
        mixing.recipes.copy(),
        [p.copy() for p in mixing.puddle_of],
        [s.copy() for s in mixing.strengths],
        mixing.costs.copy(),
        mixing.rules,
    )
    return WashPlan(
        layer[kept], puddle[kept], strength[kept], wash_of, copied, np.zeros(len(stacks)), decided
    )


def _is_held(stack: Stack, coat: int) -> bool:
    return stack.held is not None and bool(stack.held.mask[coat])


def _decided(
    layer: IntArray, puddle: IntArray, strength: FloatArray, held: BoolArray
) -> tuple[list[int], NDArray[np.int64]]:
    """One coat (its index) for each decided wash, and the wash (coats,) of every such coat."""
    kept: list[int] = []
    own = np.zeros(len(layer), dtype=np.int64)
    known: dict[tuple[int, int, float], int] = {}
    for c in np.flatnonzero(held).tolist():
        key = int(layer[c]), int(puddle[c]), float(strength[c])
        if key not in known:
            known[key] = len(kept)
            kept.append(c)
        own[c] = known[key]
    return kept, own


def _weights(
    bench: Bench, stacks: list[Stack], mixing: Mixing, where: list[tuple[int, int]]
) -> FloatArray:
    """(n,) how much each coat shows: area times the change it makes."""
    labs = [bench.labs(mixing.amounts(i)) for i in range(len(stacks))]
    out = []
    for i, c in where:
        aims = stacks[i].aims
        shown = aims[aims[:, 0] > c, 4].sum()
        seen = float(delta_e_2000(labs[i][c], labs[i][c + 1]))
        out.append(stacks[i].area * shown * seen + 1e-9)
    return np.array(out)


def _paint(plan: WashPlan) -> NDArray[np.float64]:
    """Amounts (washes, colours) that each wash lays down."""
    return np.asarray(plan.mixing.recipes[plan.puddle] * plan.strength[:, None])


def _curves(bench: Bench, plan: WashPlan) -> Bench:
    """The washes themselves as colours: amount 1 is the wash at its strength."""
    return bench.puddles(_paint(plan))


def _assign(
    bench: Bench, stacks: list[Stack], plan: WashPlan, usable: BoolArray
) -> list[FloatArray]:
    """Best wash of its layer for every coat, or none; returns the costs of the others."""
    ready = _curves(bench, plan)
    looks = _looks(bench, plan.mixing, plan.puddle, plan.strength)
    same_layer = plan.layer[:, None] == plan.layer[None]
    near = stand_ins(looks, same_layer & usable, STAND_INS)
    paint = _paint(plan)
    joinable = plan.layer.copy()
    joinable[: plan.decided] = -1  # no layer at all
    holds, pigment_price = pigments_in(stacks, paint)

    def work(i: int) -> FloatArray:
        table = np.full((len(plan.wash_of[i]), len(plan.layer) + 1), np.inf)
        plan.costs[i] = trials.assign_washes(
            plan.wash_of[i],
            stacks[i].layers,
            joinable,
            near,
            usable,
            holds,
            pigment_price,
            mixed_prices(bench, stacks[i], paint),
            *ready.arrays,
            stacks[i].aims,
            stacks[i].cap,
            2,
            table,
            held_mask(stacks[i]),
        )
        return table

    return in_parallel(work, range(len(stacks)))


def _in_use(plan: WashPlan) -> BoolArray:
    used = np.zeros(len(plan.layer), dtype=np.bool_)
    for own in plan.wash_of:
        used[own[own >= 0]] = True
    return used


def _give_up(
    stacks: list[Stack],
    plan: WashPlan,
    usable: BoolArray,
    tables: list[FloatArray],
    count: int,
    among: BoolArray,
) -> None:
    """Close the `count` washes of `among` whose areas lose least by their next best choice."""
    for _ in range(count):
        open_ = np.append(usable, True)  # the last column is "no wash"
        loss = np.where(usable & among, 0.0, np.inf)
        for stack, cost, table, own in zip(stacks, plan.costs, tables, plan.wash_of, strict=True):
            for coat, w in enumerate(own.tolist()):
                if w == NO_WASH:
                    continue
                others = np.where(open_, table[coat], np.inf)
                others[w] = np.inf
                loss[w] += stack.area * max(float(others.min()) - float(cost), 0.0)
        gone = int(np.argmin(loss))
        usable[gone] = False
        open_[gone] = False
        for table, own in zip(tables, plan.wash_of, strict=True):
            for coat in np.flatnonzero(own == gone).tolist():
                best = int(np.argmin(np.where(open_, table[coat], np.inf)))
                own[coat] = best if best < len(usable) else NO_WASH


def _users(plan: WashPlan) -> dict[int, list[int]]:
    users: dict[int, list[int]] = {}
    for i, own in enumerate(plan.wash_of):
        for w in np.unique(own[own >= 0]).tolist():
            users.setdefault(w, []).append(i)
    return users


def _fit_strengths(bench: Bench, stacks: list[Stack], plan: WashPlan, sweeps: int = 2) -> None:
    """Newton steps on the strength of each wash over all the stacks that hold it."""
    users = _users(plan)
    for _ in range(sweeps):
        for w in sorted(users):
            if w < plan.decided:
                continue
            _improve_strength(bench, stacks, plan, w, users[w])
    paint = _paint(plan)
    plan.costs[:] = [
        _cost(bench, paint, s, own) for s, own in zip(stacks, plan.wash_of, strict=True)
    ]


def _cost(bench: Bench, paint: FloatArray, stack: Stack, own: NDArray[np.int64]) -> float:
    """What a stack costs with these washes; paint (washes, colours): amounts of each."""
    amounts = np.where((own >= 0)[:, None], paint[own], 0.0)
    return bench.cost(amounts, stack.aims, stack.cap, stack.prices)


def _users_cost(bench: Bench, stacks: list[Stack], plan: WashPlan, users: list[int]) -> float:
    paint = _paint(plan)
    return sum(stacks[i].area * _cost(bench, paint, stacks[i], plan.wash_of[i]) for i in users)


def _improve_strength(
    bench: Bench, stacks: list[Stack], plan: WashPlan, w: int, users: list[int]
) -> None:
    ready, paint = _curves(bench, plan), _paint(plan)
    hessian, gradient = 0.0, 0.0
    for i in users:
        own = plan.wash_of[i]
        laid = (own >= 0).astype(np.float64)
        h, g = np.zeros((1, 1)), np.zeros(1)
        trials.puddle_normal(
            laid,
            np.maximum(own, 0),
            w,
            ready.k,
            ready.s,
            ready.k[w : w + 1],
            ready.s[w : w + 1],
            ready.sheet,
            ready.weights,
            ready.white,
            stacks[i].aims,
            h,
            g,
        )
        priced = stacks[i].prices[own == w] @ (paint[w] * bench.loads)
        hessian += stacks[i].area * float(h[0, 0])
        gradient += stacks[i].area * float(g[0] + 0.5 * priced.sum())
    if hessian <= 0.0:
        return
    before = _users_cost(bench, stacks, plan, users)
    full = 1.0 / float(bench.loads @ plan.mixing.recipes[plan.puddle[w]])
    old = plan.strength[w]
    for damping in (0.0, 1.0, 5.0):
        factor = np.clip(1.0 - gradient / (hessian * (1.0 + damping)), 0.5, 2.0)
        plan.strength[w] = min(old * factor, full)
        if _users_cost(bench, stacks, plan, users) < before:
            return
    plan.strength[w] = old


def _follow(plan: WashPlan) -> None:
    """Bring the mixing's puddles and strengths in line with the washes."""
    for own, puddles, strengths in zip(
        plan.wash_of, plan.mixing.puddle_of, plan.mixing.strengths, strict=True
    ):
        laid = own >= 0
        puddles[laid] = plan.puddle[own[laid]]
        strengths[:] = 0.0
        strengths[laid] = plan.strength[own[laid]]


def _lead(plan: WashPlan) -> None:
    """Take over the strengths that the mixing was given when its recipes changed scale."""
    for own, strengths in zip(plan.wash_of, plan.mixing.strengths, strict=True):
        laid = own >= 0
        plan.strength[own[laid]] = strengths[laid]
