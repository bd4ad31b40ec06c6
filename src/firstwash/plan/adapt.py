"""Painting with a look at the sheet: measure each dry layer, then adapt the next one.

A simulation of what that is worth. When a layer is dry the painter measures the sheet. From
that follows how strong each wash came out and how its puddle was really mixed; the strengths
of the washes still to come are fitted again, each by one factor for all its areas, for the
least expected difference in the end; the next layer is laid with errors of its own, and so on.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.parallel import in_parallel
from firstwash.plan.hands import Handiwork, Painters, Slips, cell_misses
from firstwash.plan.polish import Goal, even_steps, reach, slopes
from firstwash.plan.spots import Spots

__all__ = ["adapted_labs", "adapted_misses"]

FUTURE = 8  # ways in which what is to come may err, looked at when it is adapted
ROUNDS = 15  # of the search after each layer; it starts from what was decided last
GUESSES = 25  # rounds of the search for what was laid, from colours measured with noise
STEP = 1e-3  # in CIELAB, to learn how large CIEDE2000 is there
LONG = float(np.sqrt(8.0 / np.pi))  # mean length of a vector of three standard normals


@dataclass(frozen=True, eq=False)
class _Easel:
    """What all painters of a plan share.

    goal: what the sheet should show in the end. future: errors that may still come. first:
    (puddles,) the layer each puddle is first used in. sizes, bounds: of the search, by wash.
    """

    work: Handiwork
    goal: Goal
    sigma: float
    future: Slips
    first: NDArray[np.int64]
    sizes: NDArray[np.float64]
    bounds: NDArray[np.float64]

    @classmethod
    def of(cls, work: Handiwork, painters: Painters, spots: Spots) -> "_Easel":
        """The easel for a plan."""
        at = work.cell_nodes[spots.cells]
        goal = Goal.of(len(work.parent), at, spots.labs, spots.weights, spots.spreads)
        first = np.full(len(work.recipes), np.iinfo(np.int64).max)
        np.minimum.at(first, work.wash_puddle, work.wash_layer)
        mixed, laid = work.done(work.slips(Painters(0.0, 1)))
        more = 1.0 + STEP * np.eye(len(work.wash_layer))[:, work.film_wash]
        tried = np.concatenate([laid, laid * more])
        labs = work.labs_of(np.repeat(mixed, len(tried), axis=0), tried)
        future = work.even_slips(Painters(painters.sigma, FUTURE, painters.seed))
        return cls(work, goal, painters.sigma, future, first, even_steps(labs, goal), reach(work))


def adapted_labs(
    work: Handiwork, painters: Painters, spots: Spots, noise: float = 0.0
) -> NDArray[np.float64]:
    """CIELAB (painters, nodes, 3) of every node when every dry layer is measured.

    spots: what the painters try to come close to. The same painters make the same errors as
    in `Handiwork.labs`, so the two can be compared painter by painter. noise: mean CIEDE2000
    by which a measured colour is off; with 0 what was laid is known exactly. Raises
    ValueError for a noise below 0.
    """
    if not 0.0 <= noise < np.inf:
        raise ValueError("noise must be finite and ≥ 0")
    easel = _Easel.of(work, painters, spots)
    slips = work.slips(painters)

    def paint(m: int) -> NDArray[np.float64]:
        own = Slips(slips.parts[m : m + 1], slips.loads[m : m + 1])
        rng = np.random.default_rng((painters.seed, m, 2))
        eye = _Eye(easel, own, noise, rng.standard_normal((len(work.parent), 3)))
        return _with_factors(work, _painted(easel, eye)).labs(own)

    return np.concatenate(in_parallel(paint, range(painters.count)))


def adapted_misses(
    work: Handiwork, painters: Painters, spots: Spots, noise: float = 0.0
) -> NDArray[np.float64]:
    """Mean CIEDE2000 (painters,) over the spots when every dry layer is measured.

    To be compared with `hands.expected_misses`; the rest as in `adapted_labs`.
    """
    labs = adapted_labs(work, painters, spots, noise)
    return np.asarray(cell_misses(work, labs, spots).sum(axis=1))


def _with_factors(work: Handiwork, factors: FloatArray) -> Handiwork:
    """The work with the strength of every wash times exp(factors), (washes,)."""
    return replace(work, film_strength=work.film_strength * np.exp(factors)[work.film_wash])


def _painted(easel: _Easel, eye: "_Eye") -> NDArray[np.float64]:
    """Logarithms (washes,) of the factors a painter decides on, layer after layer."""
    factors = np.zeros(len(easel.work.wash_layer))
    for layer in range(1, easel.work.layers):
        known = eye.look(factors, layer)
        factors = _adapted(easel, factors, known, layer)
    return factors


def _adapted(easel: _Easel, factors: FloatArray, known: Slips, layer: int) -> NDArray[np.float64]:
    """Factors with those of later layers fitted again, given what is known of the sheet."""
    work, later = easel.work, easel.work.wash_layer > layer
    parts, loads = easel.future.parts.copy(), easel.future.loads.copy()
    parts[:, easel.first <= layer] = known.parts[:, easel.first <= layer]
    loads[:, ~later] = known.loads[:, ~later]
    mixed, laid = _with_factors(work, factors).done(Slips(parts, loads))
    size = easel.sizes[later]

    def value(y: FloatArray) -> tuple[float, NDArray[np.float64]]:
        moved = np.zeros(len(factors))
        moved[later] = y * size
        now = laid * np.exp(moved)[work.film_wash]
        found = slopes(work, mixed, now, easel.goal, alone=True)
        by_film = (found.by_laid * now).mean(axis=0)
        by_wash = np.bincount(work.film_wash, weights=by_film, minlength=len(factors))
        return float(found.sums.mean()), by_wash[later] * size

    bounds = (easel.bounds - factors[:, None])[later] / size[:, None]
    best = minimize(
        value, np.zeros(len(size)), jac=True, method="L-BFGS-B", bounds=bounds,
        options={"maxiter": ROUNDS, "ftol": 1e-5},
    )  # fmt: skip
    out = np.array(factors, dtype=np.float64)
    out[later] += best.x * size
    return out


@dataclass(eq=False)
class _Eye:
    """What one painter sees of the own work.

    own: the errors made, one painter's. noise: mean CIEDE2000 of a measurement's error, which
    points where `towards` (nodes, 3) says. Each colour is measured once, when it is dry.
    """

    easel: _Easel
    own: Slips
    noise: float
    towards: NDArray[np.float64]
    guess: NDArray[np.float64] | None = None

    def look(self, factors: FloatArray, layer: int) -> Slips:
        """The errors in what is on the sheet, as far as they can be known."""
        if self.noise == 0.0 or self.easel.sigma == 0.0:
            return self.own
        work = _with_factors(self.easel.work, factors)
        seen = np.flatnonzero((work.node_layers > 0) & (work.node_layers <= layer))
        labs = work.labs(self.own)[0, seen]
        off = self.towards[seen]
        per = delta_e_2000(labs + STEP * off, labs) / (STEP * np.linalg.norm(off, axis=1))
        measured = labs + self.noise / LONG * off / per[:, None]
        return self._likeliest(work, seen, measured, layer)

    def _likeliest(
        self, work: Handiwork, seen: NDArray[np.int64], measured: FloatArray, layer: int
    ) -> Slips:
        """The errors most likely behind measured colours: normal errors, normal noise."""
        weight = np.full(len(seen), 0.5 * (LONG / self.noise) ** 2)
        goal = Goal.of(len(work.parent), seen, measured, weight, np.zeros(len(seen)))
        parts_open = (work.recipes > 0) & (self.easel.first <= layer)[:, None]
        loads_open = work.wash_layer <= layer
        shape, sigma = work.recipes.shape, self.easel.sigma
        open_ = np.concatenate([parts_open.ravel(), loads_open])

        def slips_of(x: FloatArray) -> Slips:
            every = np.zeros(len(open_))
            every[open_] = sigma * x
            split = parts_open.size
            return Slips(every[:split].reshape(1, *shape), every[None, split:])

        def value(x: FloatArray) -> tuple[float, NDArray[np.float64]]:
            mixed, laid = work.done(slips_of(x))
            found = slopes(work, mixed, laid, goal, squared=True, alone=True)
            by_parts = _by_part_errors(mixed[0] * work.bench.loads, mixed[0] * found.by_mixed[0])
            by_film = found.by_laid[0] * laid[0]
            by_load = np.bincount(work.film_wash, weights=by_film, minlength=len(loads_open))
            by = np.concatenate([by_parts.ravel(), by_load])[open_]
            return float(found.sums[0] + 0.5 * x @ x), sigma * by + x

        start = np.zeros(len(open_)) if self.guess is None else self.guess
        best = minimize(
            value, start[open_] / sigma, jac=True, method="L-BFGS-B", options={"maxiter": GUESSES}
        )
        known = slips_of(best.x)
        self.guess = np.concatenate([known.parts.ravel(), known.loads[0]])
        return known


def _by_part_errors(drawn: FloatArray, own: FloatArray) -> NDArray[np.float64]:
    """Slopes (puddles, colours) by the logarithm of each part's error.

    drawn: shares of the load as mixed; own: each amount times the slope by it. More of one
    part leaves less room for all, for the load is kept.
    """
    return np.asarray(own - own.sum(axis=1, keepdims=True) * drawn)
