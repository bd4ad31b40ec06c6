"""Paints that bring a colour of the sheet to a neutral, and how the neutral leans.

A glaze of the opposite hue greys what lies under it; a little more of one of its paints and
the grey leans that way. So for a place on the sheet, or for bare paper, every pair and triple of
paints is fitted to lose all chroma with as little paint as it takes, and then one paint after
the other is taken weaker and stronger.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.errors import RequestError
from firstwash.paints.catalogue import Paint
from firstwash.picture.values import value_step
from firstwash.plan.alternatives import paint_box
from firstwash.plan.bench import Bench
from firstwash.plan.remix import fit_mixtures, slot_over
from firstwash.plan.result import Plan
from firstwash.plan.say import largest_shares
from firstwash.plan.whatif import scenario

__all__ = [
    "SWEEP",
    "Lean",
    "Neutral",
    "Spot",
    "as_neutral",
    "hue_angle",
    "least_chroma",
    "neutralisers",
]

SWEEP = 0.25  # share by which a paint's part is made smaller and larger
NEUTRAL = 3.0  # C* up to which the eye takes a colour for grey; common practice, no source
DARKENING = 0.02  # of lightness lost, against 1 for chroma left: the palest neutral is wanted
VALUE_WITHIN = 5.0  # L* that a neutral may miss the lightness asked for: half a value step
DROWNED = 0.4  # share of the lightness before that must be left; below, any paint looks black
STEERED = 1.0  # C* at least between the two ends of the sweep; below, the proportion means nothing
LEAST_PART = 0.05  # share of the glaze that a paint must hold to be measured by hand
MIDDLE = 55.0  # L* of a neutral mixed on bare paper unless asked otherwise: value step 6
STARTS = (0.05, 0.5)  # visible optical depths to start from


@dataclass(frozen=True)
class Spot:
    """A cell of the plan when `layer` layers are dry (0: bare paper)."""

    cell: int
    layer: int


@dataclass(frozen=True)
class Lean:
    """Where the neutral goes as one paint's part is 25 % smaller and 25 % larger.

    less, more: CIELAB with the whole as strong as before. less_hue, more_hue: direction
    (CIELAB hue angle, degrees 0-360) in which it moves, each from the neutral itself.
    """

    paint: Paint
    less: tuple[float, float, float]
    more: tuple[float, float, float]
    less_hue: float
    more_hue: float


@dataclass(frozen=True, eq=False)
class Neutral:
    """A glaze that leaves no colour.

    parts: (paint, amount) of one full coat at strength 1, most first; strength: it is laid at.
    before, lab: CIELAB without and with it; chroma: what is left, ≥ 0; value_steps: before and
    with it. leans: one per paint, in the same order.
    """

    parts: tuple[tuple[Paint, float], ...]
    strength: float
    before: tuple[float, float, float]
    lab: tuple[float, float, float]
    chroma: float
    value_steps: tuple[int, int]
    leans: tuple[Lean, ...]

    @property
    def darker(self) -> float:
        """L* lost by it."""
        return self.before[0] - self.lab[0]


def hue_angle(a: float, b: float) -> float:
    """CIELAB hue angle in degrees, 0-360."""
    return float(np.degrees(np.arctan2(b, a)) % 360.0)


def neutralisers(
    plan: Plan,
    ground: Spot | Sequence[float] | None = None,
    owned: Sequence[Paint] | None = None,
    most: int = 5,
    lightness: float | None = None,
) -> tuple[Neutral, ...]:
    """Glazes of two or three paints that neutralise a ground: of two first, palest first.

    ground: a cell at some stage; a CIELAB colour (its spectrum is then the one that the
    palette's own paints give it, or come nearest to); or None for one puddle on bare paper.
    owned: paints to choose from instead of the palette. lightness: L* wanted; None for as
    little paint as it takes, or 55 on bare paper. Only what leaves C* ≤ 3 is told, and no three
    paints where two of them do. Raises RequestError for a cell or layer that is not there.
    """
    box, usable = paint_box(plan, owned)
    bench = Bench.of(box, plan.paper).limited(largest_shares(box, plan.limits))
    under = _stack(plan, bench, ground)
    wanted = MIDDLE if ground is None and lightness is None else lightness
    found: dict[frozenset[int], Neutral] = {}
    for size in (2, 3):
        groups = [
            g for g in combinations(usable, size) if not any(pair < frozenset(g) for pair in found)
        ]
        for group, glaze in zip(groups, least_chroma(bench, under, groups, wanted), strict=True):
            neutral = _told(box, bench, under, glaze)
            if neutral is not None and _true(neutral, wanted):
                found[frozenset(group)] = neutral
    ranked = sorted(found.values(), key=lambda n: (len(n.parts), _far(n, wanted)))
    return tuple(ranked[:most])


def _true(neutral: Neutral, wanted: float | None) -> bool:
    """Whether it is grey, at the lightness asked for, and not merely drowned in paint."""
    steered = max(float(np.hypot(*np.subtract(n.more, n.less)[1:])) for n in neutral.leans)
    if neutral.chroma > NEUTRAL or steered < STEERED:
        return False
    if wanted is not None:
        return abs(neutral.lab[0] - wanted) <= VALUE_WITHIN
    return neutral.lab[0] >= DROWNED * neutral.before[0]


def _far(neutral: Neutral, wanted: float | None) -> float:
    """L* from where it should be: what is asked for, or as light as before."""
    return neutral.darker if wanted is None else abs(neutral.lab[0] - wanted)


def _stack(plan: Plan, bench: Bench, ground: Spot | Sequence[float] | None) -> NDArray[np.float64]:
    """Amounts (coats, colours) of what lies there already."""
    if ground is None:
        return np.zeros((0, bench.colours))
    on_palette = len(plan.paints)
    if isinstance(ground, Spot):
        if not (0 <= ground.cell < plan.cells.count and 0 <= ground.layer <= plan.layers):
            raise RequestError("There is no such place on the sheet, or no such layer.")
        coats = [c for c in plan.coats[ground.cell] if c[0] <= ground.layer]
        under = np.zeros((len(coats), bench.colours))
        for row, (_, puddle, strength) in zip(under, coats, strict=True):
            row[:on_palette] = plan.recipes[puddle] * strength
        return under
    lab = np.asarray(ground, dtype=np.float64)
    if lab.shape != (3,) or not np.isfinite(lab).all():
        raise RequestError("A colour is three numbers, L*, a* and b*.")
    own = Bench.of(plan.paints, plan.paper)
    found, _ = own.fit(np.full((1, on_palette), 2e-3), np.array([[1.0, *lab, 1.0]]))
    under = np.zeros((1, bench.colours))
    under[0, :on_palette] = found[0]
    return under


def _shown(bench: Bench, under: FloatArray, glaze: FloatArray) -> NDArray[np.float64]:
    """CIELAB (3,) with a glaze (colours,) over what lies there."""
    return np.asarray(bench.labs(np.vstack([under, glaze[None]]))[-1])


def least_chroma(
    bench: Bench, under: FloatArray, groups: Sequence[tuple[int, ...]], wanted: float | None
) -> list[NDArray[np.float64]]:
    """The glaze (colours,) of each group that leaves least chroma, within one coat's load.

    under: (coats, colours) amounts of what lies there; groups: of one size, indices of colours;
    wanted: L* to end at, None for as little darker as it takes.
    """
    if not groups:
        return []
    which = np.array(groups)
    goal, price = (float(bench.labs(under)[-1][0]), DARKENING) if wanted is None else (wanted, 1.0)
    lying = scenario(bench.puddles(under), [[(1, i, 1.0) for i in range(len(under))]])
    slot = slot_over(lying, np.array([[0.0, 2.0, goal, price, 0.0, 1.0]]))
    depths = (bench.k + bench.s) @ np.maximum(bench.weights[:, 1], 0.0)
    best, costs = np.zeros(which.shape), np.full(len(which), np.inf)
    for depth in STARTS:
        start = np.minimum(depth / depths, 0.9 / bench.loads)[which] / which.shape[1]
        found, now = fit_mixtures(slot, bench, which, start, rounds=40)
        better = now < costs - 1e-9
        best[better], costs[better] = found[better], now[better]
    glazes = np.zeros((len(which), bench.colours))
    np.put_along_axis(glazes, which, best, axis=1)
    return list(glazes)


def _told(
    box: Sequence[Paint], bench: Bench, under: FloatArray, glaze: FloatArray
) -> Neutral | None:
    """The glaze in full, or None if one of its paints has no part in it."""
    loads = glaze * bench.loads
    strength = float(loads.sum())
    used = np.flatnonzero(loads)
    if strength <= 1e-6 or len(used) < 2 or (loads[used] < LEAST_PART * strength).any():
        return None
    if (loads > bench.shares * strength * (1.0 + 1e-9)).any():
        return None  # more of one than the painter allows
    return as_neutral(box, bench, under, glaze, used)


def as_neutral(
    box: Sequence[Paint],
    bench: Bench,
    under: FloatArray,
    glaze: FloatArray,
    used: NDArray[np.int64],
) -> Neutral:
    """A glaze (colours,) over what lies there, told in full; used: the colours that count."""
    loads = glaze * bench.loads
    strength = float(loads.sum())
    order = sorted(used.tolist(), key=lambda p: (-loads[p], p))
    before, lab = bench.labs(under)[-1], _shown(bench, under, glaze)
    return Neutral(
        parts=tuple((box[p], float(glaze[p] / strength)) for p in order),
        strength=strength,
        before=triple(before),
        lab=triple(lab),
        chroma=float(np.hypot(lab[1], lab[2])),
        value_steps=(int(value_step(before[0])), int(value_step(lab[0]))),
        leans=tuple(_lean(box[p], bench, under, glaze, p) for p in order),
    )


def _lean(paint: Paint, bench: Bench, under: FloatArray, glaze: FloatArray, p: int) -> Lean:
    neutral = _shown(bench, under, glaze)
    less, more = (_shown(bench, under, _moved(bench, glaze, p, f)) for f in (-SWEEP, SWEEP))
    return Lean(
        paint=paint,
        less=triple(less),
        more=triple(more),
        less_hue=hue_angle(*(less - neutral)[1:].tolist()),
        more_hue=hue_angle(*(more - neutral)[1:].tolist()),
    )


def _moved(bench: Bench, glaze: FloatArray, p: int, by: float) -> NDArray[np.float64]:
    """One paint's part changed by a share: of several, as strong as before in all."""
    out = np.array(glaze, dtype=np.float64)
    out[p] *= 1.0 + by
    if np.count_nonzero(glaze) == 1:
        return out
    return np.asarray(out * float((glaze @ bench.loads) / (out @ bench.loads)))
