"""The last refinement of a plan: strengths and recipes for the measure it is judged by.

What the planner finds is least squares on the mean colours of cells, as if hands never
erred. Here the washes and puddles stay as they are, and their strengths and proportions
move together to the least mean CIEDE2000 over the photo's spots: averaged over a few
painters who err, or for one who does not.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from firstwash.arrays import FloatArray, IntArray, as_float
from firstwash.parallel import in_parallel
from firstwash.plan import kernels, polish_kernels
from firstwash.plan.bench import Bench
from firstwash.plan.hands import (
    SIGMA,
    Handiwork,
    Painters,
    Slips,
    halves,
    handiwork_of_coats,
    wash_numbers,
)
from firstwash.plan.puddles import TINT_SHARE, Mixing
from firstwash.plan.spots import Spots
from firstwash.plan.stacks import Stack

__all__ = [
    "HANDS",
    "PRICE_RATE",
    "Goal",
    "Slopes",
    "even_steps",
    "polish",
    "reach",
    "shown",
    "slopes",
    "within",
]

HANDS = 32  # painters planned for: more gain nothing that can be measured
ROUNDS = 40
REACH = 4.0  # a wash becomes at most so many times stronger or paler
# Prices of paint are in squared CIEDE2000; at a miss of d, one unit of d is 2·d of those. Half
# of the places miss by about this much:
PRICE_RATE = 1.0 / (2.0 * 4.0)
SHARE_PRICE = 1e3  # per squared share of a puddle above what the painter allows of a paint
STEEP = 12.0  # logarithm of how one part of a puddle may stand to another beyond the least
STEP = 0.01  # in the logarithm, to learn how much each variable changes the picture
APART = 1e-6
FAINT = 0.03  # of the strongest variable's change: none counts as fainter than that
SMOOTH = 0.25  # squared CIEDE2000 added to every spot: the root has a kink where it hits


@dataclass(frozen=True, eq=False)
class Goal:
    """What the nodes of a work should show.

    lab, weight, spread: per spot, sorted by node; those of node n are starts[n] …
    starts[n + 1] − 1; spread includes `SMOOTH`. floor
    (nodes,): L* a node should not be darker than. price (nodes, 2): per squared unit of L*
    that a node is darker than that, or lighter than what it lies on.
    """

    starts: NDArray[np.int64]
    lab: NDArray[np.float64]
    weight: NDArray[np.float64]
    spread: NDArray[np.float64]
    floor: NDArray[np.float64]
    price: NDArray[np.float64]

    @classmethod
    def of(
        cls,
        nodes: int,
        at: IntArray,
        lab: FloatArray,
        weight: FloatArray,
        spread: FloatArray,
    ) -> "Goal":
        """A goal without floors from spots (n,) at nodes `at` (n,), in any order."""
        order = np.argsort(at, kind="stable")
        return cls(
            np.searchsorted(at[order], np.arange(nodes + 1)).astype(np.int64),
            as_float(lab[order]),
            as_float(weight[order]),
            as_float(spread[order]) + SMOOTH,
            np.zeros(nodes),
            np.zeros((nodes, 2)),
        )


@dataclass(frozen=True, eq=False)
class Slopes:
    """A goal's sum (painters,) and its slopes by what each painter mixed and laid."""

    sums: NDArray[np.float64]
    by_mixed: NDArray[np.float64]
    by_laid: NDArray[np.float64]


def slopes(
    work: Handiwork,
    mixed: FloatArray,
    laid: FloatArray,
    goal: Goal,
    squared: bool = False,
    alone: bool = False,
) -> Slopes:
    """How far painters are from a goal; mixed and laid as `Handiwork.done` gives them.

    squared: sums of squared CIEDE2000, without spreads, instead of CIEDE2000.
    alone: stay in this thread, for callers that have several.
    """
    out = Slopes(np.empty(len(laid)), np.empty(mixed.shape), np.empty(laid.shape))
    k, s, _, _, sheet, weights, white = work.bench.arrays

    def run(part: slice) -> None:
        polish_kernels.slopes(
            work.parent, work.film_of, work.film_puddle, mixed[part], laid[part],
            k, s, sheet, weights, white,
            goal.starts, goal.lab, goal.weight, goal.spread, squared, goal.floor, goal.price,
            out.by_mixed[part], out.by_laid[part], out.sums[part],
        )  # fmt: skip

    if alone:
        run(slice(0, len(laid)))
    else:
        in_parallel(run, halves(len(laid)))
    return out


def even_steps(labs: FloatArray, goal: Goal) -> NDArray[np.float64]:
    """Steps (variables,) that change the picture about alike, with mean 1.

    labs: (1 + variables, nodes, 3) as it is, then with each variable moved a little. A search
    in such steps ends several times sooner.
    """
    if len(labs) == 1:
        return np.zeros(0)
    weight = np.diff(np.concatenate([[0.0], np.cumsum(goal.weight)])[goal.starts])
    change = np.sqrt(((labs[1:] - labs[0]) ** 2).sum(axis=2) @ weight)
    size = 1.0 / (change + FAINT * change.max() + 1e-12)
    return np.asarray(size / size.mean())


def reach(work: Handiwork) -> NDArray[np.float64]:
    """Lowest and highest factor (washes, 2) that a wash's strength may take, as logarithms.

    No wash becomes more than `REACH` times stronger or paler, or more than one full coat.
    """
    strongest = np.zeros(len(work.wash_puddle))
    np.maximum.at(strongest, work.film_wash, work.film_strength)
    room = -np.log(np.maximum(strongest, 1e-12))
    far = np.log(REACH)
    return np.column_stack([np.minimum(-far, room), np.minimum(far, room)])


def within(shares: FloatArray, most: FloatArray) -> NDArray[np.float64]:
    """Shares (puddles, colours) brought under most (puddles, colours), sums kept.

    What is too much of one goes to the others by the room they have; as they are where the
    largest shares do not make a whole.
    """
    over = np.maximum(shares - most, 0.0)
    room = np.maximum(most - shares, 0.0)
    extra, space = over.sum(axis=1, keepdims=True), room.sum(axis=1, keepdims=True)
    can = (extra > 0.0) & (extra <= space)
    given = np.divide(extra, space, out=np.zeros(extra.shape), where=can)
    return np.asarray(np.where(can, shares - over + room * given, shares))


class _Search:
    """Variables of a work, the mean of its goal over painters, and the slopes of that mean.

    prices: (washes, colours) mean CIEDE2000 that a full coat of each paint costs in a wash.
    stay: washes and puddles that do not change.
    Variables: the logarithm of every wash's strength as a factor of what it was, then of
    every puddle's shares above `TINT_SHARE` as they stand to one another.
    """

    def __init__(
        self,
        work: Handiwork,
        slips: Slips,
        goal: Goal,
        rules: Goal,
        prices: FloatArray,
        stay: "_Stay",
    ) -> None:
        self.work, self.slips, self.goal, self.rules = work, slips, goal, rules
        self.prices, self.stay = prices, stay
        self.calm = work.slips(Painters(0.0, 1))
        self.loads, self.most = work.bench.loads, work.bench.shares
        shares = work.recipes * self.loads
        self.held = shares > 0
        self.room = 1.0 - TINT_SHARE * self.held.sum(axis=1)
        over = np.maximum(shares / shares.sum(axis=1, keepdims=True) - TINT_SHARE, 1e-3)
        self.start = np.concatenate([np.zeros(len(work.wash_puddle)), np.log(over[self.held])])

    def run(self, rounds: int) -> Handiwork:
        """The best work found in so many rounds, never worse than the start."""
        size, bounds = self._sizes(), self.bounds()
        start = np.clip(self.start, bounds[:, 0], bounds[:, 1])

        def scaled(y: FloatArray) -> tuple[float, NDArray[np.float64]]:
            value, slope = self.value_and_slopes(y * size)
            return value, slope * size

        found = minimize(
            scaled,
            start / size,
            jac=True,
            method="L-BFGS-B",
            bounds=bounds / size[:, None],
            options={"maxiter": rounds, "ftol": 1e-6},
        )
        work = self.work_at(found.x * size)
        shares = within(work.recipes * self.loads, np.where(self.held, self.most, 0.0))
        return self._kept(replace(work, recipes=shares / self.loads))

    def _kept(self, work: Handiwork) -> Handiwork:
        """The work with what stays as it was, to the last bit."""
        recipes = np.where(self.stay.puddles[:, None], self.work.recipes, work.recipes)
        same = self.stay.washes[work.film_wash]
        strength = np.where(same, self.work.film_strength, work.film_strength)
        return replace(work, recipes=recipes, film_strength=strength)

    def _sizes(self) -> NDArray[np.float64]:
        """A step (variables,) of each that changes the picture about as much as any other's."""
        steps = self.start + STEP * np.eye(len(self.start))
        moved = [self.work_at(x).done(self.calm) for x in (self.start, *steps)]
        labs = self.work.labs_of(*(np.concatenate(part) for part in zip(*moved, strict=True)))
        return even_steps(labs, self.goal)

    def bounds(self) -> NDArray[np.float64]:
        """Strengths within reach and within what one coat can carry."""
        washes = len(self.work.wash_puddle)
        parts = np.tile([-STEEP, STEEP], (int(self.held.sum()), 1))
        out = np.concatenate([reach(self.work), parts])
        out[:washes, 1] -= self.stay.beside
        still = np.concatenate([self.stay.washes, self.stay.puddles[np.nonzero(self.held)[0]]])
        out[still] = self.start[still, None]
        return out

    def work_at(self, x: FloatArray) -> Handiwork:
        """The work with the variables as they are."""
        washes = len(self.work.wash_puddle)
        factor = np.exp(x[:washes])[self.work.film_wash]
        parts = self._parts(x)
        shares = np.where(self.held, TINT_SHARE + self.room[:, None] * parts, 0.0)
        strength = self.work.film_strength * factor
        return self._kept(replace(self.work, recipes=shares / self.loads, film_strength=strength))

    def _parts(self, x: FloatArray) -> NDArray[np.float64]:
        raw = np.full(self.held.shape, -np.inf)
        raw[self.held] = x[len(self.work.wash_puddle) :]
        raw = np.exp(raw - raw.max(axis=1, keepdims=True))
        return np.asarray(raw / raw.sum(axis=1, keepdims=True))

    def value_and_slopes(self, x: FloatArray) -> tuple[float, NDArray[np.float64]]:
        """The mean of the goal over painters with the rules' price, and its slopes."""
        work = self.work_at(x)
        value, slope = self._mean(x, work, self.slips, self.goal)
        more, rule_slope = self._mean(x, work, self.calm, self.rules)
        price, price_slope = self._price(x, work)
        return value + more + price, slope + rule_slope + price_slope

    def _price(self, x: FloatArray, work: Handiwork) -> tuple[float, NDArray[np.float64]]:
        """What paint costs for its handling, and shares above what the painter allows."""
        shares = work.recipes * self.loads
        strength = np.zeros(len(work.wash_puddle))
        strength[work.film_wash] = work.film_strength
        paid = self.prices * strength[:, None]
        by_wash = (paid * shares[work.wash_puddle]).sum(axis=1)
        over = np.maximum(shares - self.most, 0.0)
        by_share = 2.0 * SHARE_PRICE * over
        np.add.at(by_share, work.wash_puddle, paid)
        value = float(by_wash.sum() + SHARE_PRICE * (over**2).sum())
        return value, np.concatenate([by_wash, self._by_part(x, by_share)])

    def _by_part(self, x: FloatArray, by_share: FloatArray) -> NDArray[np.float64]:
        """Slopes by the variables of parts, given those by shares (puddles, colours)."""
        parts = self._parts(x)
        level = (parts * by_share).sum(axis=1, keepdims=True)
        return np.asarray((self.room[:, None] * parts * (by_share - level))[self.held])

    def _mean(
        self, x: FloatArray, work: Handiwork, slips: Slips, goal: Goal
    ) -> tuple[float, NDArray[np.float64]]:
        mixed, laid = work.done(slips)
        found = slopes(work, mixed, laid, goal)
        washes = len(work.wash_puddle)
        by_film = (found.by_laid * laid).mean(axis=0)
        by_wash = np.bincount(work.film_wash, weights=by_film, minlength=washes)
        shares = work.recipes * self.loads
        drawn = mixed * self.loads
        own = mixed * found.by_mixed
        by_log = (own + own.sum(axis=2, keepdims=True) * (shares - drawn)).mean(axis=0)
        by_share = np.divide(by_log, shares, out=np.zeros(shares.shape), where=self.held)
        return float(found.sums.mean()), np.concatenate([by_wash, self._by_part(x, by_share)])


@dataclass(frozen=True, eq=False)
class _Stay:
    """What the search leaves alone.

    washes: (washes,) laid as decided. puddles: (puddles,) mixed as decided. beside: (washes,)
    by how much, in the logarithm, a wash stays below a full coat, so that it does not become one
    with a decided wash.
    """

    washes: NDArray[np.bool_]
    puddles: NDArray[np.bool_]
    beside: NDArray[np.float64]

    @classmethod
    def of(cls, work: Handiwork, stacks: Sequence[Stack], mixing: Mixing) -> "_Stay":
        """As stacks and mixing say."""
        own, _ = wash_numbers(stacks, mixing)
        washes = np.zeros(len(work.wash_puddle), dtype=np.bool_)
        for stack, numbers in zip(stacks, own, strict=True):
            if stack.held is not None:
                washes[numbers[stack.held.mask]] = True
        puddles = np.zeros(len(work.recipes), dtype=np.bool_)
        if mixing.rules is not None:
            puddles[: len(mixing.rules.fixed)] = mixing.rules.fixed
        kin = {(int(work.wash_layer[w]), int(work.wash_puddle[w])) for w in np.flatnonzero(washes)}
        pairs = zip(work.wash_layer.tolist(), work.wash_puddle.tolist(), strict=True)
        beside = np.array([APART if pair in kin else 0.0 for pair in pairs])
        return cls(washes, puddles, beside)


def polish(
    bench: Bench,
    stacks: Sequence[Stack],
    mixing: Mixing,
    spots: Spots,
    cells: int,
    painters: Painters | None = None,
    rounds: int = ROUNDS,
) -> Mixing:
    """The mixing with its strengths and recipes refined; what is one wash stays one.

    Two washes of one layer and puddle that both end at a full coat become one.

    spots: what the cells should show. painters: those planned for, spread evenly, by default
    `HANDS` of `SIGMA`; a sigma of 0 plans for hands that never err. No wash gets stronger
    than one full coat, no paint falls under `TINT_SHARE` of a puddle or rises over the share the
    painter allows, none joins or leaves;
    first washes stay as pale as their stacks' caps, and no coat lightens the sheet. What is
    decided, washes and recipes, stays to the last bit.
    """
    if not len(mixing.recipes):
        return mixing
    work = handiwork_of_coats(bench, stacks, mixing, cells)
    search = _search(work, stacks, mixing, spots, painters or Painters(SIGMA, HANDS))
    return _as_mixing(search.run(rounds), stacks, mixing)


def _search(
    work: Handiwork, stacks: Sequence[Stack], mixing: Mixing, spots: Spots, painters: Painters
) -> _Search:
    own_washes = wash_numbers(stacks, mixing)[0]
    total = sum(s.area for s in stacks)
    at, parts = [], []
    for stack in stacks:
        coats, own = shown(stack, spots, total)
        at.append(_path(work, stack)[coats])
        parts.append(own)
    goal = Goal.of(
        len(work.parent),
        np.concatenate(at),
        np.concatenate([p.labs for p in parts]),
        np.concatenate([p.weights for p in parts]),
        np.concatenate([p.spreads for p in parts]),
    )
    slips = work.even_slips(painters)
    prices, stay = _prices(work, stacks, own_washes), _Stay.of(work, stacks, mixing)
    return _Search(work, slips, goal, _rules(work, stacks), prices, stay)


def shown(stack: Stack, spots: Spots, total: float) -> tuple[NDArray[np.int64], Spots]:
    """What a stack should show: after how many coats (spots,), and the spots.

    To the spots of its cells are added the pale tints under dark shapes and the stages no
    cell ends with, at the small weight they have in the stack's aims; total: area of all.
    """
    low, high = np.searchsorted(spots.cells, [stack.cells, stack.cells + 1])
    pick = np.concatenate([np.arange(a, b) for a, b in zip(low, high, strict=True)])
    coats = np.repeat(stack.coats_of, high - low)
    reached = stack.aims[:, 0] <= stack.coats_of.max()
    stages = stack.aims[reached & ~np.isin(stack.aims[:, 0], stack.coats_of)]
    return np.concatenate([coats, stages[:, 0].astype(np.int64)]), Spots(
        np.concatenate([spots.cells[pick], np.full(len(stages), stack.cells[0])]),
        np.concatenate([spots.labs[pick], stages[:, 1:4]]),
        np.concatenate([spots.weights[pick], stages[:, 4] * stack.area / total]),
        np.concatenate([spots.spreads[pick], np.zeros(len(stages))]),
    )


def _path(work: Handiwork, stack: Stack) -> NDArray[np.int64]:
    """Nodes (coats + 1,) of a stack after 0, 1, … coats."""
    node = int(work.cell_nodes[stack.cells[int(np.argmax(stack.coats_of))]])
    path = [node]
    while node > 0:
        node = int(work.parent[node])
        path.append(node)
    return np.array(path[::-1], dtype=np.int64)


def _rules(work: Handiwork, stacks: Sequence[Stack]) -> Goal:
    """The price of first washes too dark and of coats that lighten, by the area they cover."""
    nodes = len(work.parent)
    rules = Goal.of(nodes, np.zeros(0, np.int64), np.zeros((0, 3)), np.zeros(0), np.zeros(0))
    total = sum(s.area for s in stacks)
    for stack in stacks:
        path, price = _path(work, stack)[1:], kernels.LIGHTNESS_PRICE**2 * stack.area / total
        rules.price[path, 1] += price
        if stack.cap > 0.0 and len(path):
            rules.floor[path[0]] = max(rules.floor[path[0]], stack.cap)
            rules.price[path[0], 0] += price
    return rules


def _prices(
    work: Handiwork, stacks: Sequence[Stack], own: Sequence[NDArray[np.int64]]
) -> NDArray[np.float64]:
    """Mean CIEDE2000 (washes, colours) that a full coat costs for its handling."""
    out = np.zeros((len(work.wash_puddle), work.bench.colours))
    total = sum(s.area for s in stacks)
    for stack, washes in zip(stacks, own, strict=True):
        np.add.at(out, washes, PRICE_RATE * stack.area / total * stack.prices)
    return out


def _as_mixing(work: Handiwork, stacks: Sequence[Stack], mixing: Mixing) -> Mixing:
    own, washes = wash_numbers(stacks, mixing)
    strength = np.zeros(len(washes))
    strength[work.film_wash] = work.film_strength
    return Mixing(
        work.recipes,
        [q.copy() for q in mixing.puddle_of],
        [np.minimum(strength[w], 1.0) for w in own],
        mixing.costs.copy(),
        mixing.rules,
    )
