"""Few puddles for many washes.

A puddle is one recipe; each wash may take it with more or less water. Which puddles to
mix is part of the optimisation: from more puddles than wanted, the ones whose washes
find the best replacements are given up a few at a time, and after every step all recipes
and all strengths are fitted again to what the sheet should show.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.parallel import in_parallel
from firstwash.plan import trials
from firstwash.plan.bench import Bench
from firstwash.plan.bounded import bounded_step
from firstwash.plan.kept import RecipeRules
from firstwash.plan.stacks import LEAD_IN_WEIGHT, Stack, prices_for

__all__ = [
    "Mixing",
    "drop_idle_coats",
    "held_mask",
    "improve_recipes",
    "mixed_prices",
    "nearest",
    "only_used",
    "own_puddles",
    "pigments_in",
    "share_puddles",
    "spread",
    "stand_ins",
    "without_coats",
]

DEPTHS = (0.3, 1.2)  # visible optical depths at which two recipes are compared
IDLE = 0.7  # CIEDE2000 that a coat must change to be worth painting
STAND_INS = 7  # puddles tried in place of the one a wash has
TINT_SHARE = 0.05  # one part in twenty: less of a paint cannot be measured by hand


@dataclass(eq=False)
class Mixing:
    """Puddles, and who uses them.

    recipes: (puddles, colours) amounts per unit strength, each row one full coat's load.
    puddle_of, strengths: per stack (coats,) arrays. costs: per stack, mean squared
    CIEDE2000 with prices and penalties. rules: recipes that stay; None for none.
    """

    recipes: NDArray[np.float64]
    puddle_of: list[NDArray[np.int64]]
    strengths: list[NDArray[np.float64]]
    costs: NDArray[np.float64]
    rules: RecipeRules | None = None

    def amounts(self, stack: int) -> NDArray[np.float64]:
        """Amounts (coats, colours) of one stack."""
        return np.asarray(self.recipes[self.puddle_of[stack]] * self.strengths[stack][:, None])


def share_puddles(
    bench: Bench,
    stacks: list[Stack],
    most: int,
    paints_per_puddle: int,
    rounds: int = 3,
    kept: tuple[FloatArray, RecipeRules] | None = None,
) -> Mixing:
    """At most `most` puddles of at most `paints_per_puddle` paints for all the stacks.

    kept: recipes (n, colours) to begin with, and which of them stay.
    """
    recipes, owner = _seed_recipes(bench, stacks, most + max(8, most // 2))
    mixing = _start(bench, stacks, recipes, owner)
    if kept is not None:
        _put_kept(bench, stacks, mixing, *kept)
    _refit(bench, stacks, mixing, paints_per_puddle)
    usable = np.ones(len(mixing.recipes), dtype=np.bool_)
    while True:
        tables = _assign(bench, stacks, mixing, usable)
        alive = _in_use(mixing, usable)
        if mixing.rules is not None:
            alive[: mixing.rules.kept] = True
        usable &= alive
        _leave_closed(mixing, usable)
        extra = int(usable.sum()) - most
        if extra <= 0:
            break
        _give_up(bench, stacks, mixing, usable, tables, max(1, min(extra, extra // 2 + 1)))
        _refit(bench, stacks, mixing, paints_per_puddle)
    for _ in range(rounds):
        before = _total(stacks, mixing)
        _refit(bench, stacks, mixing, paints_per_puddle)
        _assign(bench, stacks, mixing, usable)
        if _total(stacks, mixing) > before * 0.995:
            break
    return only_used(mixing)


def _put_kept(
    bench: Bench, stacks: list[Stack], mixing: Mixing, recipes: FloatArray, rules: RecipeRules
) -> None:
    """Put kept recipes before the others, and decided coats to theirs."""
    mixing.rules = rules.more(len(mixing.recipes))
    mixing.recipes = np.vstack([recipes, mixing.recipes.reshape(-1, bench.colours)])
    for i, stack in enumerate(stacks):
        mixing.puddle_of[i] += len(recipes)
        np.minimum(mixing.puddle_of[i], len(mixing.recipes) - 1, out=mixing.puddle_of[i])
        if stack.held is not None:
            stack.held.put(mixing.puddle_of[i], mixing.strengths[i])


def own_puddles(bench: Bench, stacks: list[Stack]) -> Mixing:
    """A puddle of its own for every wash that holds paint."""
    recipes: list[FloatArray] = []
    puddle_of, strengths = [], []
    for stack in stacks:
        loads = stack.amounts @ bench.loads
        puddle_of.append(np.arange(len(recipes), len(recipes) + len(loads)))
        for row, load in zip(stack.amounts, loads, strict=True):
            idle = np.eye(bench.colours)[np.argmax(bench.shares)] / bench.loads
            recipes.append(_one_coat(bench, row) if load > 0 else idle)
        strengths.append(np.array(loads))
    table = np.array(recipes, dtype=np.float64).reshape(-1, bench.colours)
    return Mixing(table, puddle_of, strengths, np.array([s.cost for s in stacks]))


def drop_idle_coats(
    bench: Bench, stacks: list[Stack], mixing: Mixing
) -> tuple[list[Stack], Mixing]:
    """Leave out coats nobody would see; what is left of a stack is fitted again."""
    kept_stacks, puddle_of, strengths = [], [], []
    for i, stack in enumerate(stacks):
        labs = bench.labs(mixing.amounts(i))
        seen = delta_e_2000(labs[1:], labs[:-1])
        keep = (seen >= IDLE) & (mixing.strengths[i] > 0)
        if stack.held is not None:
            keep |= stack.held.mask
        kept_stacks.append(stack if keep.all() else without_coats(bench, stack, keep))
        puddle_of.append(np.ascontiguousarray(mixing.puddle_of[i][keep]))
        strengths.append(np.ascontiguousarray(mixing.strengths[i][keep]))
    thinner = Mixing(mixing.recipes, puddle_of, strengths, mixing.costs.copy(), mixing.rules)
    _fit_strengths(bench, kept_stacks, thinner)
    return kept_stacks, only_used(thinner)


def without_coats(bench: Bench, stack: Stack, keep: BoolArray) -> Stack:
    """The stack with only the coats of `keep` (coats,) left in its numbering."""
    left = np.concatenate([[0], np.cumsum(keep)])  # coats left among the first n
    aims = stack.aims.copy()
    aims[:, 0] = left[aims[:, 0].astype(np.int64)]
    lead_in = aims[:, 4] <= LEAD_IN_WEIGHT
    aims = np.ascontiguousarray(aims[~(lead_in & (aims[:, 0] == 0))])
    coats_of = left[stack.coats_of]
    return replace(
        stack,
        coats_of=coats_of,
        aims=aims,
        cap=stack.cap if len(keep) and keep[0] else 0.0,
        layers=stack.layers[keep],
        amounts=np.ascontiguousarray(stack.amounts[keep]),
        prices=prices_for(bench, stack.handling, int(keep.sum()), coats_of, aims),
        held=None if stack.held is None else stack.held.only(keep),
    )


def _total(stacks: list[Stack], mixing: Mixing) -> float:
    return float(sum(s.area * c for s, c in zip(stacks, mixing.costs, strict=True)))


def _features(bench: Bench, recipe: FloatArray) -> NDArray[np.float64]:
    """How a recipe looks, pale and strong, on this paper: (6,) CIELAB values."""
    visible = bench.weights[:, 1].clip(0)
    depth = float(recipe @ (bench.k + bench.s) @ visible)
    labs = [bench.labs((recipe * (d / depth))[None, :])[1] for d in DEPTHS]
    return np.concatenate(labs)


def _one_coat(bench: Bench, amounts: FloatArray) -> NDArray[np.float64]:
    """Amounts (colours,) as an allowed recipe of one full coat."""
    recipe = bench.allowed_mix(amounts)
    return np.asarray(recipe / float(recipe @ bench.loads))


def _wash_list(
    bench: Bench, stacks: list[Stack]
) -> tuple[FloatArray, FloatArray, list[tuple[int, int]]]:
    """Recipes (n, colours), weights (n,) and (stack, coat) of every wash that shows."""
    recipes, weights, where = [], [], []
    for i, stack in enumerate(stacks):
        labs = bench.labs(stack.amounts)
        for coat, row in enumerate(stack.amounts):
            load = float(row @ bench.loads)
            if load <= 1e-9 or (stack.held is not None and stack.held.mask[coat]):
                continue
            seen = float(delta_e_2000(labs[coat], labs[coat + 1]))
            shown = stack.aims[stack.aims[:, 0] > coat, 4].sum()
            recipes.append(_one_coat(bench, row))
            weights.append(stack.area * shown * seen + 1e-9)
            where.append((i, coat))
    return np.array(recipes), np.array(weights), where


def _seed_recipes(
    bench: Bench, stacks: list[Stack], most: int
) -> tuple[FloatArray, dict[tuple[int, int], int]]:
    """Recipes of typical washes, spread over all that occur, and each wash's nearest."""
    recipes, weights, where = _wash_list(bench, stacks)
    if not len(recipes):  # every coat is decided
        return np.empty((0, bench.colours)), {}
    looks = np.array([_features(bench, r) for r in recipes])
    centres = spread(looks, weights, min(most, len(recipes)))
    for _ in range(8):
        member = nearest(looks, centres)
        centres = np.array(
            [
                np.average(looks[member == c], axis=0, weights=weights[member == c])
                if (member == c).any()
                else centres[c]
                for c in range(len(centres))
            ]
        )
    member = nearest(looks, centres)
    kept = [
        int(np.flatnonzero(member == c)[nearest(centres[c : c + 1], looks[member == c])[0]])
        for c in np.unique(member)
    ]
    final = nearest(looks, looks[kept])
    return recipes[kept], {w: int(c) for w, c in zip(where, final, strict=True)}


def spread(looks: FloatArray, weights: FloatArray, count: int) -> FloatArray:
    """Starting centres: heaviest first, then whatever is worst served by those so far."""
    chosen = [int(np.argmax(weights))]
    distance = np.linalg.norm(looks - looks[chosen[0]], axis=1)
    while len(chosen) < count:
        following = int(np.argmax(weights * distance**2))
        chosen.append(following)
        distance = np.minimum(distance, np.linalg.norm(looks - looks[following], axis=1))
    return looks[chosen]


def nearest(looks: FloatArray, centres: FloatArray) -> IntArray:
    """Index (n,) of the nearest centre (c, d) for each of looks (n, d)."""
    return np.asarray(
        np.linalg.norm(looks[:, None, :] - centres[None, :, :], axis=2).argmin(axis=1)
    )


def _start(
    bench: Bench, stacks: list[Stack], recipes: FloatArray, owner: dict[tuple[int, int], int]
) -> Mixing:
    puddle_of = [
        np.array([owner.get((i, c), 0) for c in range(len(s.amounts))], dtype=np.int64)
        for i, s in enumerate(stacks)
    ]
    strengths = [np.maximum(s.amounts @ bench.loads, 1e-4) for s in stacks]
    return Mixing(np.array(recipes, dtype=np.float64), puddle_of, strengths, np.zeros(len(stacks)))


def _assign(
    bench: Bench, stacks: list[Stack], mixing: Mixing, usable: BoolArray
) -> list[FloatArray]:
    """Best puddle for every wash; returns per stack the cost (coats, puddles) of others."""
    ready = bench.puddles(mixing.recipes)
    looks = np.array([_features(bench, r) for r in mixing.recipes])
    worth_trying = stand_ins(looks, np.broadcast_to(usable, (len(looks),) * 2), STAND_INS)
    holds, pigment_price = pigments_in(stacks, mixing.recipes)

    def work(i: int) -> FloatArray:
        table = np.full((len(mixing.strengths[i]), len(mixing.recipes)), np.inf)
        mixing.costs[i] = trials.assign_puddles(
            mixing.puddle_of[i],
            mixing.strengths[i],
            worth_trying,
            holds,
            pigment_price,
            mixed_prices(bench, stacks[i], mixing.recipes),
            *ready.arrays,
            stacks[i].aims,
            stacks[i].cap,
            1,
            table,
            held_mask(stacks[i]),
        )
        return table

    return in_parallel(work, range(len(stacks)))


def held_mask(stack: Stack) -> BoolArray | None:
    """The last argument of the trials: decided coats, or None.

    To be given even if None, or numba compiles a kernel for "None" and again for "left out".
    """
    return None if stack.held is None else stack.held.mask


def mixed_prices(bench: Bench, stack: Stack, recipes: FloatArray) -> NDArray[np.float64]:
    """Prices (coats, mixtures) per full coat of each mixture: the sum over its parts.

    recipes: (mixtures, colours) amounts.
    """
    loads = recipes * bench.loads
    total = np.maximum(loads.sum(axis=1), 1e-300)
    return np.ascontiguousarray(stack.prices @ (loads / total[:, None]).T)


def pigments_in(stacks: list[Stack], recipes: FloatArray) -> tuple[BoolArray, float]:
    """Pigments (mixtures, pigments) in each mixture, and the price of one more in a stack."""
    known = next((s.handling.paints for s in stacks if s.handling is not None), None)
    if known is None:
        return np.zeros((len(recipes), 0), dtype=np.bool_), 0.0
    return (recipes > 0) @ known.holds, known.pigment


def stand_ins(looks: FloatArray, allowed: BoolArray, count: int) -> BoolArray:
    """Which (second index) look enough like which (first) to be tried in its place.

    looks (n, d); allowed (n, n): pairs that may stand in at all. The `count` nearest of
    each are kept; nothing stands in for itself.
    """
    distance = np.linalg.norm(looks[:, None] - looks[None], axis=2)
    distance[~allowed] = np.inf
    np.fill_diagonal(distance, np.inf)
    order = np.argsort(distance, axis=1, kind="stable")[:, :count]
    near = np.zeros(distance.shape, dtype=np.bool_)
    np.put_along_axis(near, order, True, axis=1)
    return np.asarray(near & np.isfinite(distance))


def _in_use(mixing: Mixing, usable: BoolArray) -> BoolArray:
    used = np.zeros_like(usable)
    for puddles, strengths in zip(mixing.puddle_of, mixing.strengths, strict=True):
        used[puddles[strengths > 0]] = True
    return used


def _leave_closed(mixing: Mixing, usable: BoolArray) -> None:
    """Coats without paint must not wait at a closed puddle, or they open it again later."""
    for puddles in mixing.puddle_of:
        puddles[~usable[puddles]] = int(np.argmax(usable))


def _give_up(
    bench: Bench,
    stacks: list[Stack],
    mixing: Mixing,
    usable: BoolArray,
    tables: list[FloatArray],
    count: int,
) -> None:
    """Close the `count` puddles whose washes lose least by their next best choice."""
    for _ in range(count):
        loss = np.where(usable, 0.0, np.inf)
        for stack, cost, table, puddles in zip(
            stacks, mixing.costs, tables, mixing.puddle_of, strict=True
        ):
            for coat, q in enumerate(puddles.tolist()):
                others = np.where(usable, table[coat], np.inf)
                others[q] = np.inf
                loss[q] += stack.area * max(float(others.min()) - float(cost), 0.0)
        if mixing.rules is not None:
            loss = np.minimum(loss, np.where(usable, 1e300, np.inf))
            loss[: mixing.rules.kept] = np.inf
            if not np.isfinite(loss).any():
                break  # all that is left is to stay
        gone = int(np.argmin(loss))
        usable[gone] = False
        for table, puddles in zip(tables, mixing.puddle_of, strict=True):
            for coat in np.flatnonzero(puddles == gone).tolist():
                # With every stand-in gone too, argmin falls to the first usable one.
                puddles[coat] = int(
                    np.argmin(np.where(usable, np.minimum(table[coat], 1e9), np.inf))
                )
    _fit_strengths(bench, stacks, mixing)


def _fit_strengths(bench: Bench, stacks: list[Stack], mixing: Mixing) -> None:
    ready = bench.puddles(mixing.recipes)

    def work(i: int) -> float:
        return float(
            trials.fit_strengths(
                mixing.puddle_of[i],
                mixing.strengths[i],
                mixed_prices(bench, stacks[i], mixing.recipes),
                *ready.arrays,
                stacks[i].aims,
                stacks[i].cap,
                12,
                held_mask(stacks[i]),
            )
        )

    mixing.costs[:] = in_parallel(work, range(len(stacks)))
    for strengths in mixing.strengths:  # the price of too much paint leaves a trace over one coat
        np.minimum(strengths, 1.0, out=strengths)


def _refit(bench: Bench, stacks: list[Stack], mixing: Mixing, most: int) -> None:
    """Improve every recipe, then all strengths."""
    improve_recipes(bench, stacks, mixing, most)
    _fit_strengths(bench, stacks, mixing)


def improve_recipes(bench: Bench, stacks: list[Stack], mixing: Mixing, most: int) -> None:
    """Gauss-Newton steps on every recipe in turn, each thinned to `most` paints.

    The strengths of a puddle's washes are only rescaled with it, all by the same factor.
    """
    users: dict[int, list[int]] = {}
    for i, puddles in enumerate(mixing.puddle_of):
        for q in np.unique(puddles[mixing.strengths[i] > 0]):
            users.setdefault(int(q), []).append(i)
    rules = mixing.rules
    for q in sorted(users):
        if rules is not None and rules.fixed[q]:
            continue
        held = mixing.recipes[q] > 0
        free = held if held.sum() <= most else np.ones(bench.colours, dtype=np.bool_)
        for _ in range(2):
            _improve(bench, stacks, mixing, q, users[q], free)
        while (gone := _thin(bench, mixing, q, most)) is not None:
            free[gone] = False  # for good: what comes back would be taken out for ever
            _improve(bench, stacks, mixing, q, users[q], free)
        if rules is not None and rules.must[q].any():
            _keep_some(bench, mixing, q, rules.must[q])


def _gather(
    bench: Bench, stacks: list[Stack], mixing: Mixing, q: int, users: list[int], recipes: FloatArray
) -> tuple[FloatArray, FloatArray]:
    ready = bench.puddles(recipes)
    n = bench.colours
    hessian, gradient = np.zeros((n, n)), np.zeros(n)
    for i in users:
        local_h, local_g = np.zeros((n, n)), np.zeros(n)
        trials.puddle_normal(
            mixing.strengths[i],
            mixing.puddle_of[i],
            q,
            ready.k,
            ready.s,
            bench.k,
            bench.s,
            bench.sheet,
            bench.weights,
            bench.white,
            stacks[i].aims,
            local_h,
            local_g,
        )
        own = mixing.puddle_of[i] == q
        local_g += 0.5 * bench.loads * (mixing.strengths[i][own] @ stacks[i].prices[own])
        hessian += stacks[i].area * local_h
        gradient += stacks[i].area * local_g
    return hessian, gradient


def _users_cost(
    bench: Bench, stacks: list[Stack], mixing: Mixing, users: list[int], recipes: FloatArray
) -> float:
    return sum(
        stacks[i].area
        * bench.cost(
            np.ascontiguousarray(recipes[mixing.puddle_of[i]] * mixing.strengths[i][:, None]),
            stacks[i].aims,
            stacks[i].cap,
            stacks[i].prices,
        )
        for i in users
    )


def _improve(
    bench: Bench, stacks: list[Stack], mixing: Mixing, q: int, users: list[int], free: BoolArray
) -> None:
    """One damped Gauss-Newton step of a recipe's free paints, its load kept at one coat."""
    hessian, gradient = _gather(bench, stacks, mixing, q, users, mixing.recipes)
    recipe = mixing.recipes[q]
    before = _users_cost(bench, stacks, mixing, users, mixing.recipes)
    step = np.empty(bench.colours)
    for damping in (1e-3, 1e-1, 3.0):
        bounded_step(recipe, free, hessian, gradient, damping, step)
        trial = mixing.recipes.copy()
        trial[q] = bench.allowed_mix(np.maximum(recipe + step, 0.0))
        if trial[q].sum() <= 0:
            continue
        if _users_cost(bench, stacks, mixing, users, trial) < before:
            _set_recipe(bench, mixing, q, trial[q])
            return


def _set_recipe(bench: Bench, mixing: Mixing, q: int, recipe: FloatArray) -> None:
    load = float(recipe @ bench.loads)
    mixing.recipes[q] = recipe / load
    for puddles, strengths in zip(mixing.puddle_of, mixing.strengths, strict=True):
        strengths[puddles == q] *= load


def _keep_some(bench: Bench, mixing: Mixing, q: int, must: BoolArray) -> None:
    """Bring colours a recipe must keep back to the least share that can be measured."""
    shares = mixing.recipes[q] * bench.loads
    wanted = np.where(must, np.maximum(shares, TINT_SHARE * shares.sum()), shares)
    if (wanted > shares).any():
        total = shares.sum()
        low = must & (wanted <= TINT_SHARE * total)
        wanted[~low] *= (total - wanted[low].sum()) / max(float(wanted[~low].sum()), 1e-12)
        _set_recipe(bench, mixing, q, wanted / bench.loads)


def _thin(bench: Bench, mixing: Mixing, q: int, most: int) -> int | None:
    """Take the least visible paint out of a recipe that has too many or too little of it.

    Returns which one, or None if all may stay.
    """
    recipe = mixing.recipes[q]
    used = np.flatnonzero(recipe > 0)
    shares = recipe[used] * bench.loads[used]
    if len(used) <= 1 or (len(used) <= most and shares.min() >= TINT_SHARE):
        return None
    depth = recipe * ((bench.k + bench.s) @ bench.weights[:, 1].clip(0))
    thinner = recipe.copy()
    worth = np.array(depth if len(used) > most else recipe * bench.loads)
    if mixing.rules is not None:
        worth[mixing.rules.must[q]] = np.inf
        if not np.isfinite(worth[used]).any():
            return None
    gone = bench.least(used, worth)
    thinner[gone] = 0.0
    _set_recipe(bench, mixing, q, bench.allowed_mix(thinner))
    return gone


def only_used(mixing: Mixing) -> Mixing:
    """The mixing without puddles that no wash takes."""
    used = np.unique(np.concatenate(mixing.puddle_of))
    new = np.full(len(mixing.recipes), -1, dtype=np.int64)
    new[used] = np.arange(len(used))
    return Mixing(
        mixing.recipes[used],
        [new[p] for p in mixing.puddle_of],
        mixing.strengths,
        mixing.costs,
        None if mixing.rules is None else mixing.rules.only(used),
    )
