"""Hands are not pipettes: what becomes of a plan when mixing and laying are a little off.

Two errors, both log-normal with a mean of the logarithm of 0. That the sigma is 0.2 is an
assumption: no open measurement of it is known, only the painter's own swatches can tell.

- mixing: each part of a puddle is a little more or less than the recipe says. The puddle's
  strength is judged by eye, so its total load is kept, and all its washes share the error;
- laying: each wash comes out a little stronger or paler than planned, everywhere it is laid.

A plan is judged by what it is worth on average over many such painters.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.parallel import in_parallel
from firstwash.plan import polish_kernels
from firstwash.plan.bench import Bench
from firstwash.plan.graded import GradedWash
from firstwash.plan.outlook import Expected, Outlook, WashOutlook
from firstwash.plan.puddles import Mixing
from firstwash.plan.result import Plan
from firstwash.plan.spots import Spots
from firstwash.plan.stacks import Stack

__all__ = [
    "SIGMA",
    "Handiwork",
    "Painters",
    "Slips",
    "cell_misses",
    "expected_misses",
    "halves",
    "handiwork_of_coats",
    "handiwork_of_plan",
    "outlook",
    "wash_numbers",
]

SIGMA = 0.2  # of the natural logarithm; an assumption, no open measurement


@dataclass(frozen=True, eq=False)
class Slips:
    """Natural logarithms of what painters did by what they were asked to do.

    parts: (painters, puddles, colours), of each part of a puddle before its load is judged.
    loads: (painters, washes).
    """

    parts: NDArray[np.float64]
    loads: NDArray[np.float64]

    @property
    def count(self) -> int:
        """How many painters."""
        return len(self.loads)


@dataclass(frozen=True)
class Painters:
    """Painters by number: the same seed and number always slip the same way.

    sigma: of the natural logarithm, ≥ 0. A wash or puddle more in a plan leaves the slips
    of all others as they are, so that plans can be compared painter by painter.
    """

    sigma: float = SIGMA
    count: int = 200
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what is no painter."""
        if not (0.0 <= self.sigma < np.inf) or self.count < 1 or self.seed < 0:
            raise ValueError("sigma must be finite and ≥ 0, with at least one painter")

    def slips(self, puddles: int, colours: int, washes: int) -> Slips:
        """Independent errors of every painter."""
        parts = np.empty((self.count, puddles, colours))
        loads = np.empty((self.count, washes))
        for m in range(self.count):
            parts[m] = np.random.default_rng((self.seed, m, 0)).standard_normal((puddles, colours))
            loads[m] = np.random.default_rng((self.seed, m, 1)).standard_normal(washes)
        return Slips(self.sigma * parts, self.sigma * loads)


@dataclass(frozen=True, eq=False)
class Handiwork:
    """What hands are asked to do, as plain arrays.

    recipes: (puddles, colours) amounts of one full coat. wash_puddle, wash_layer: (washes,),
    layers counted from 1. film_wash, film_strength: (films,) a wash at a strength; only a
    graded wash has more than one. parent, film_of: (nodes,) films over one another as a tree,
    node 0 the bare paper, parents first. cell_nodes: (cells,) the node each cell ends with.
    """

    bench: Bench
    recipes: NDArray[np.float64]
    wash_puddle: NDArray[np.int64]
    wash_layer: NDArray[np.int64]
    film_wash: NDArray[np.int64]
    film_strength: NDArray[np.float64]
    parent: NDArray[np.int64]
    film_of: NDArray[np.int64]
    cell_nodes: NDArray[np.int64]

    @property
    def film_puddle(self) -> NDArray[np.int64]:
        """(films,) the puddle each film is painted with."""
        return self.wash_puddle[self.film_wash]

    @property
    def node_layers(self) -> NDArray[np.int64]:
        """(nodes,) the layer each node is painted in; 0 for the bare paper."""
        layers = np.zeros(len(self.parent), dtype=np.int64)
        layers[1:] = self.wash_layer[self.film_wash[self.film_of[1:]]]
        return layers

    @property
    def layers(self) -> int:
        """The last layer that holds paint."""
        return int(self.wash_layer.max(initial=0))

    def slips(self, painters: Painters) -> Slips:
        """The errors of some painters in this work."""
        puddles, colours = self.recipes.shape
        return painters.slips(puddles, colours, len(self.wash_layer))

    def even_slips(self, painters: Painters) -> Slips:
        """Errors spread evenly, to plan with few painters.

        Averages over painters are sums over cells, and no cell holds two washes of one layer:
        so the washes of a layer may all err alike, and a wash that stands in for another of
        its layer is tried by the same hands. The errors of layers, and of parts against
        layers, have no covariance and, over an even number of painters, exactly the variance
        sigma²; the second half of the painters errs exactly opposite to the first
        [Hammersley1956], so that whatever is linear averages out. A painter left over does not
        err.
        """
        half, odd = divmod(painters.count, 2)
        rng = np.random.default_rng((painters.seed, painters.count, 3))
        loads, parts = _even_columns(rng, half, self.layers, int((self.recipes > 0).sum()))
        all_parts = np.zeros((painters.count, *self.recipes.shape))
        all_parts[:, self.recipes > 0] = _mirrored(parts, odd)
        all_loads = _mirrored(loads, odd)[:, self.wash_layer - 1]
        return Slips(painters.sigma * all_parts, painters.sigma * all_loads)

    def stage_nodes(self) -> NDArray[np.int64]:
        """(layers + 1, cells) the node each cell shows when 0, 1, … layers are dry."""
        layer_of = self.node_layers
        stages = np.empty((self.layers + 1, len(self.cell_nodes)), dtype=np.int64)
        stages[-1] = self.cell_nodes
        for n in range(self.layers - 1, -1, -1):
            later = layer_of[stages[n + 1]] > n
            stages[n] = np.where(later, self.parent[stages[n + 1]], stages[n + 1])
        return stages

    def done(self, slips: Slips) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """What each painter does: puddles as mixed (painters, puddles, colours), films as laid
        (painters, films) in units of those puddles' full coats.
        """
        parts = self.recipes * np.exp(slips.parts)
        loads = parts @ self.bench.loads
        mixed = parts * (self.recipes @ self.bench.loads / loads)[..., None]
        laid = self.film_strength * np.exp(slips.loads)[:, self.film_wash]
        return mixed, np.ascontiguousarray(laid)

    def labs(self, slips: Slips) -> NDArray[np.float64]:
        """CIELAB (painters, nodes, 3) of every node as each painter paints it."""
        return self.labs_of(*self.done(slips))

    def labs_of(self, mixed: FloatArray, laid: FloatArray) -> NDArray[np.float64]:
        """CIELAB (painters, nodes, 3) of what was mixed and laid, as `done` gives it."""
        out = np.empty((len(laid), len(self.parent), 3))
        k, s, _, _, sheet, weights, white = self.bench.arrays

        def work(part: slice) -> None:
            polish_kernels.node_labs(
                self.parent, self.film_of, self.film_puddle, mixed[part], laid[part],
                k, s, sheet, weights, white, out[part],
            )  # fmt: skip

        in_parallel(work, halves(len(laid)))
        return out

    def planned(self) -> NDArray[np.float64]:
        """CIELAB (nodes, 3) of every node if no hand errs."""
        return np.asarray(self.labs(self.slips(Painters(0.0, 1)))[0])


def _even_columns(
    rng: np.random.Generator, rows: int, first: int, rest: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Columns (rows, first) and (rows, rest) with mean square 1, uncorrelated where there is room.

    The first are orthogonal to one another and to all of the rest; the rest are so among
    themselves in blocks as large as the rows allow.
    """
    if rows == 0:
        return np.zeros((0, first)), np.zeros((0, rest))
    axes = np.linalg.qr(rng.standard_normal((rows, min(first, rows))))[0]
    lead = np.tile(axes, (1, -(-first // rows)))[:, :first]
    block = max(rows - first, 1)
    blocks = []
    for _ in range(-(-rest // block)):
        free = rng.standard_normal((rows, block))
        blocks.append(np.linalg.qr(free - axes @ (axes.T @ free))[0] if rows > first else free)
    tail = np.concatenate([np.zeros((rows, 0)), *blocks], axis=1)[:, :rest]
    return _unit(lead), _unit(tail)


def _unit(columns: FloatArray) -> NDArray[np.float64]:
    return np.asarray(columns / np.sqrt(np.mean(columns**2, axis=0, keepdims=True)))


def _mirrored(columns: FloatArray, odd: int) -> NDArray[np.float64]:
    return np.concatenate([columns, -columns, np.zeros((odd, columns.shape[1]))])


def halves(count: int) -> list[slice]:
    """Two parts of so many painters, one for each thread; only one part of one painter."""
    middle = (count + 1) // 2
    return [part for part in (slice(0, middle), slice(middle, count)) if part.start < part.stop]


# --- what is laid where ----------------------------------------------------------

_Film = tuple[int, float]  # wash, strength


def handiwork_of_plan(plan: Plan) -> Handiwork:
    """The work a finished plan asks for; its washes and puddles in the plan's order."""
    bench = Bench.of(plan.paints, plan.paper)
    recipes = np.zeros((len(plan.puddles), bench.colours))
    for q, puddle in enumerate(plan.puddles):
        for paint, amount in puddle.parts:
            recipes[q, paint] = amount
    number = {}
    for w, wash in enumerate(plan.washes):
        for cell in wash.cells:
            number[cell, wash.layer] = w
    coats = [
        [(number[cell, layer], strength) for layer, _, strength in own]
        for cell, own in enumerate(plan.coats)
    ]
    puddles = np.array([w.puddle for w in plan.washes], dtype=np.int64)
    layers = np.array([w.layer for w in plan.washes], dtype=np.int64)
    return _handiwork(bench, recipes, puddles, layers, coats)


def wash_numbers(
    stacks: Sequence[Stack], mixing: Mixing
) -> tuple[list[NDArray[np.int64]], list[tuple[int, int, float]]]:
    """Which wash every coat is, per stack (coats,), and the washes as (layer, puddle, strength).

    Coats with the same layer (from 1), puddle and strength are one wash, numbered as met.
    """
    number: dict[tuple[int, int, float], int] = {}
    own = []
    for stack, puddles, strengths in zip(stacks, mixing.puddle_of, mixing.strengths, strict=True):
        coats = zip((stack.layers + 1).tolist(), puddles.tolist(), strengths.tolist(), strict=True)
        own.append(np.array([number.setdefault(c, len(number)) for c in coats], dtype=np.int64))
    return own, list(number)


def handiwork_of_coats(
    bench: Bench,
    stacks: Sequence[Stack],
    mixing: Mixing,
    cells: int,
    graded: tuple[GradedWash, NDArray[np.int64]] | None = None,
) -> Handiwork:
    """The work the solver's stacks ask for, of so many cells in all.

    Washes as `wash_numbers` has them. graded: a graded wash and the cells of its strips; its
    puddle and its wash come last.
    """
    own, washes = wash_numbers(stacks, mixing)
    coats: list[list[_Film]] = [[] for _ in range(cells)]
    for stack, numbers in zip(stacks, own, strict=True):
        films = [(w, washes[w][2]) for w in numbers.tolist()]
        for cell, n in zip(stack.cells, stack.coats_of, strict=True):
            coats[cell] = films[:n]
    recipes = mixing.recipes.reshape(-1, bench.colours)
    if graded is not None:
        wash, strips = graded
        for cell, s in zip(strips, wash.strengths.tolist(), strict=True):
            coats[cell] = [(len(washes), s)]
        washes.append((1, len(recipes), 1.0))
        recipes = np.concatenate([recipes, wash.recipe[None]])
    puddle = np.array([q for _, q, _ in washes], dtype=np.int64)
    layer_of = np.array([n for n, _, _ in washes], dtype=np.int64)
    return _handiwork(bench, recipes, puddle, layer_of, coats)


def _handiwork(
    bench: Bench,
    recipes: FloatArray,
    wash_puddle: IntArray,
    wash_layer: IntArray,
    coats: Sequence[Sequence[_Film]],
) -> Handiwork:
    films: dict[_Film, int] = {}
    nodes: dict[tuple[int, int], int] = {(-1, -1): 0}
    ends = []
    for own in coats:
        node = 0
        for film in own:
            f = films.setdefault(film, len(films))
            node = nodes.setdefault((node, f), len(nodes))
        ends.append(node)
    return Handiwork(
        bench=bench,
        recipes=np.array(recipes, dtype=np.float64),
        wash_puddle=np.asarray(wash_puddle),
        wash_layer=np.asarray(wash_layer),
        film_wash=np.array([w for w, _ in films], dtype=np.int64),
        film_strength=np.array([s for _, s in films], dtype=np.float64),
        parent=np.array([p for p, _ in nodes], dtype=np.int64),
        film_of=np.array([f for _, f in nodes], dtype=np.int64),
        cell_nodes=np.array(ends, dtype=np.int64),
    )


# --- what comes of it ------------------------------------------------------------


def expected_misses(work: Handiwork, slips: Slips, spots: Spots) -> NDArray[np.float64]:
    """Mean CIEDE2000 (painters,) of each painter's finished picture over the spots."""
    return np.asarray(cell_misses(work, work.labs(slips), spots).sum(axis=1))


def cell_misses(work: Handiwork, labs: FloatArray, spots: Spots) -> NDArray[np.float64]:
    """Each cell's part (painters, cells) of a painter's mean CIEDE2000 over the spots.

    labs: (painters, nodes, 3), as `Handiwork.labs` gives them.
    """
    out = np.zeros((len(labs), len(work.cell_nodes)))

    def look(part: slice) -> None:
        polish_kernels.misses(
            labs[part], work.cell_nodes[spots.cells], spots.cells,
            spots.labs, spots.weights, spots.spreads, out[part],
        )  # fmt: skip

    in_parallel(look, halves(len(labs)))
    return out


def outlook(work: Handiwork, painters: Painters, spots: Spots) -> Outlook:
    """What these painters make of a plan, judged against the spots."""
    labs = work.labs(work.slips(painters))
    parts = cell_misses(work, labs, spots)
    share = spots.cell_weights(len(work.cell_nodes))
    off = delta_e_2000(labs, work.planned())
    stages = work.stage_nodes()
    washes = []
    for w, layer in enumerate(work.wash_layer.tolist()):
        cells = np.flatnonzero(_holds(work, stages[layer], w))
        area = share[cells].sum()
        dried = off[:, stages[layer][cells]] @ (share[cells] / area)
        washes.append(
            WashOutlook(Expected.of(dried), Expected.of(parts[:, cells].sum(axis=1) / area))
        )
    whole = Expected.of(parts.sum(axis=1))
    return Outlook(painters.sigma, painters.count, whole, tuple(washes))


def _holds(work: Handiwork, nodes: IntArray, wash: int) -> BoolArray:
    """Whether the topmost film of nodes (cells,) is of this wash; never for the bare paper."""
    top = work.film_wash[work.film_of[nodes]] == wash
    return np.asarray(top & (nodes > 0))
