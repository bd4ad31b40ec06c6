"""Which first washes a painter might think of for an area, and what each is mixed from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_laying import BARELY, Palette, Patch, handling_of, laying_prices
from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.graded import fit_graded_wash
from firstwash.plan.puddles import IDLE
from firstwash.plan.reasons import THRESHOLDS
from firstwash.plan.remix import fit_mixtures, slot_over
from firstwash.plan.stacks import (
    FIRST_WASH_LIGHTNESS,
    STARTS,
    aim_rows,
    lead_in,
    prune,
    solve_stack,
)
from firstwash.plan.whatif import scenario

__all__ = [
    "Origin",
    "Tint",
    "bare",
    "gradable",
    "merged",
    "mixed",
    "palest_of",
    "tint_of",
    "tints",
]

Origin = Literal[
    "plan", "palest tint", "next tint", "graded", "local colour", "tint of the light",
    "neighbour", "complement", "reckoned", "bare paper",
]  # fmt: skip

# Own judgement; no source. SAME: CIEDE2000 between two tints that nobody would mix twice.
SAME = 2.0
LIGHT_AT = 91.0  # L* of the light's tint laid over everything
LIGHT_CHROMA = (2.0, 10.0)  # C* below which a light is white, and above which its tint is a colour
COMPLEMENT_AT = 85.0  # L* of a complement laid first
COMPLEMENT_CHROMA = (0.3, 6.0, 14.0)  # share of the chroma of what comes later, within these C*
DARK_SHARE = 0.34  # of the area: its darks
ALL_GROUPS = 8  # paints up to which all groups of them are tried
FAINT = 0.02  # visible depth that a puddle starts from at least
FOLLOWS = 1.5  # root mean square CIEDE2000 up to which a graded wash follows the picture
GRAINS = 2  # granulation grade (0-4) from which a paint is left out of an even wash
NEAR = 1.0  # CIEDE2000 that a mixture of fewer paints may lie further from a tint
LEAST_SHARE = 0.01  # of the area that a colour covers to be its palest tint


@dataclass(frozen=True, eq=False)
class Tint:
    """A first wash to be tried.

    origins: where it comes from; amounts: (colours,) as laid, None for bare paper; lab: CIELAB
    of it dry on the paper. others: other mixtures for the same purpose, to choose from by what
    they lead to. puddle, strength: of the plan, where it is mixed anyway. strengths: of a graded
    wash, colour by colour of the only patch.
    """

    origins: tuple[Origin, ...]
    amounts: NDArray[np.float64] | None
    lab: NDArray[np.float64]
    puddle: int | None = None
    strength: float | None = None
    others: "tuple[Tint, ...]" = ()
    strengths: NDArray[np.float64] | None = None


def bare(palette: Palette) -> Tint:
    """No first wash."""
    return Tint(("bare paper",), None, palette.paper)


def _colours(patches: Sequence[Patch]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """All colours (n, 3) light to dark, and their shares (n,)."""
    aims = np.vstack([p.aims for p in patches])
    share = np.concatenate([p.share for p in patches])
    order = np.argsort(-aims[:, 0], kind="stable")
    return aims[order], share[order]


def palest_of(palette: Palette, patches: Sequence[Patch]) -> NDArray[np.float64] | None:
    """The palest tint (3,) of an area that is not paper, or None if it is all paper."""
    aims, share = _colours(patches)
    tinted = (delta_e_2000(aims, palette.paper) >= BARELY) & (share >= LEAST_SHARE * share.sum())
    return aims[np.argmax(tinted)] if tinted.any() else None


def tints(
    palette: Palette,
    patches: Sequence[Patch],
    local: FloatArray | None = None,
    lamp: FloatArray | None = None,
    palest: FloatArray | None = None,
) -> list[Tint]:
    """First washes by what the picture shows; the plan's own and its neighbours' are not here.

    local: CIELAB (3,) of the area's own colour where that is known; lamp: CIELAB (3,) of white
    paper in the picture's light; palest: the palest tint if somebody looked closer.
    """
    seen = palest_of(palette, patches) if palest is None else np.asarray(palest)
    after = None if seen is None else _next(palette, patches)
    wanted: list[tuple[Origin, FloatArray | None]] = [
        ("palest tint", None if seen is None else pale(palette, seen)),
        ("next tint", None if after is None else pale(palette, after)),
        ("local colour", _local(palette, patches, local)),
        ("tint of the light", _light(palette, patches, lamp)),
        ("complement", _complement(patches)),
    ]
    asked = [tint_of(palette, patches, origin, lab) for origin, lab in wanted if lab is not None]
    found = [tint for tint in asked if tint is not None]
    more = [*_graded(palette, patches), *_reckoned(palette, patches)]
    return [t for t in [*found, *more] if delta_e_2000(t.lab, palette.paper) >= IDLE]


def tint_of(
    palette: Palette, patches: Sequence[Patch], origin: Origin, lab: FloatArray
) -> Tint | None:
    """A tint (3,) mixed from the palette, with fewer paints too where they come as near.

    None where bare paper is nearer than any paint: a cold tint from warm paints alone.
    """
    found = [
        Tint((origin,), amounts, palette.bench.labs(amounts[None])[1])
        for amounts in mixed(palette, patches, lab)
    ]
    return replace(found[0], others=tuple(found[1:])) if found else None


def _next(palette: Palette, patches: Sequence[Patch]) -> NDArray[np.float64] | None:
    """The tint after the palest, for where the lights are left bare."""
    aims, share = _colours(patches)
    tinted = (delta_e_2000(aims, palette.paper) >= BARELY) & (share >= LEAST_SHARE * share.sum())
    tinted &= np.cumsum(tinted) == 2
    return aims[np.argmax(tinted)] if tinted.any() else None


def _reckoned(palette: Palette, patches: Sequence[Patch]) -> list[Tint]:
    """What the planner's solver lays first in the largest patch if nobody tells it a tint."""
    one = max(patches, key=lambda p: float(p.share.sum()))
    n = np.arange(len(one.aims))
    handling = handling_of(palette, one)
    free = solve_stack(palette.bench, 0, n, one.aims, one.share, palette.layers, handling=handling)
    amounts = prune(palette.bench, free, palette.most).amounts[:1]
    if not len(amounts):
        return []
    return [Tint(("reckoned",), amounts[0], palette.bench.labs(amounts)[1])]


def gradable(patches: Sequence[Patch]) -> bool:
    """Whether the area is one pale, smooth shape that a single graded wash might do for."""
    one = patches[0]
    light = bool((one.aims[:, 0] >= FIRST_WASH_LIGHTNESS).all())
    return len(patches) == 1 and len(one.aims) > 1 and one.smooth and light


def _graded(palette: Palette, patches: Sequence[Patch]) -> list[Tint]:
    """One wash that runs from light to dark while it is wet, of few paints or more.

    Paints that granulate are left out where the others come about as near: all is smooth here.
    """
    if not gradable(patches):
        return []
    every = range(len(palette.paints))
    even = [i for i in every if (palette.paints[i].handling.granulation or 0) < GRAINS]
    found = _graded_of_box(palette, patches[0], even) if 0 < len(even) < len(every) else []
    if not found or found[0][0] > FOLLOWS:
        every_one = _graded_of_box(palette, patches[0], every)
        if not found or every_one[0][0] < found[0][0] - NEAR:
            found = every_one
    best, *others = (tint for _, tint in found)
    return [replace(best, others=tuple(others))]


def _graded_of_box(palette: Palette, patch: Patch, box: Sequence[int]) -> list[tuple[float, Tint]]:
    """Graded washes of a box's paints, few or more, and what each misses by; the nearest first."""
    found = [_graded_of(palette, patch, list(box), n) for n in range(1, palette.most + 1)]
    return sorted(((_graded_off(palette, patch, t), t) for t in found), key=lambda each: each[0])


def _graded_off(palette: Palette, patch: Patch, tint: Tint) -> float:
    """Root mean square CIEDE2000 that a graded wash misses by."""
    assert tint.amounts is not None
    assert tint.strengths is not None
    ends = np.array([palette.bench.labs(s * tint.amounts[None])[1] for s in tint.strengths])
    return float(np.sqrt(patch.weight @ delta_e_2000(ends, patch.aims) ** 2))


def _graded_of(palette: Palette, patch: Patch, box: Sequence[int], most: int) -> Tint:
    """A graded wash of at most so many paints of a box."""
    bench = palette.bench.only(box)
    place = np.cumsum(patch.weight) - 0.5 * patch.weight
    wash = fit_graded_wash(bench, patch.aims, place, most)
    strengths = _strengths(bench, wash.recipe, wash.strengths, patch.aims)
    middle = max(float(patch.weight @ strengths), 1e-12)
    amounts = np.zeros(palette.bench.colours)
    amounts[list(box)] = wash.recipe * middle
    lab = palette.bench.labs(amounts[None])[1]
    return Tint(("graded",), amounts, lab, strengths=strengths / middle)


def _strengths(
    bench: Bench, recipe: FloatArray, start: FloatArray, aims: FloatArray
) -> NDArray[np.float64]:
    """The strength (n,) that suits each colour: where along the run it lies, nobody knows."""
    ready = bench.puddles(recipe[None])
    found = [
        ready.fit(np.array([[s]]), np.array([[1.0, *aim, 1.0]]))[0][0, 0]
        for s, aim in zip(start, aims, strict=True)
    ]
    return np.minimum(np.array(found, dtype=np.float64), 1.0)


def pale(palette: Palette, lab: FloatArray) -> NDArray[np.float64]:
    """A colour as a first wash: itself where it is light, else a pale hint of it."""
    tint = np.asarray(lab) if lab[0] >= FIRST_WASH_LIGHTNESS else lead_in(lab)
    return np.array([min(tint[0], palette.paper[0]), *tint[1:]])


def _local(
    palette: Palette, patches: Sequence[Patch], local: FloatArray | None
) -> NDArray[np.float64] | None:
    """The area's own colour much diluted; without better knowledge that of its lit half."""
    if local is not None:
        return lead_in(local)
    aims, share = _colours(patches)
    tinted = delta_e_2000(aims, palette.paper) >= BARELY
    if not tinted.any():
        return None
    aims, share = aims[tinted], share[tinted]
    lit = np.cumsum(share) - share <= 0.5 * share.sum()
    return lead_in(share[lit] @ aims[lit] / share[lit].sum())


def _light(
    palette: Palette, patches: Sequence[Patch], lamp: FloatArray | None
) -> NDArray[np.float64] | None:
    """The tint of the light, very pale; without better knowledge the lightest colour's lean."""
    seen = palest_of(palette, patches) if lamp is None else np.asarray(lamp)
    if seen is None:
        return None
    chroma = float(np.hypot(seen[1], seen[2]))
    if chroma < LIGHT_CHROMA[0]:
        return None
    return np.array([LIGHT_AT, *(np.asarray(seen[1:]) * min(LIGHT_CHROMA[1] / chroma, 1.0))])


def _complement(patches: Sequence[Patch]) -> NDArray[np.float64] | None:
    """The opposite of the darks' hue, pale; None where the darks have no hue."""
    aims, share = _colours(patches)
    dark = np.cumsum(share[::-1])[::-1] - share < DARK_SHARE * share.sum()
    a, b = share[dark] @ aims[dark, 1:] / share[dark].sum()
    chroma = float(np.hypot(a, b))
    if chroma < THRESHOLDS.grey:
        return None
    part, least, most = COMPLEMENT_CHROMA
    scale = float(np.clip(part * chroma, least, most)) / chroma
    return np.array([COMPLEMENT_AT, -a * scale, -b * scale])


def mixed(palette: Palette, patches: Sequence[Patch], lab: FloatArray) -> list[NDArray[np.float64]]:
    """Amounts (colours,) of puddles that dry to a tint (3,): the nearest, then with fewer paints.

    Fewer only where they come within `NEAR` as near. Paints that handle badly under what follows
    give way to equals, as in the planner; the largest patch counts. [] where no paint helps.
    """
    prices = _first_prices(palette, max(patches, key=lambda p: float(p.share.sum())), lab)[0]
    found = []
    for many in range(min(palette.most, palette.bench.colours), 0, -1):
        found += _best_of(palette, lab, prices, many)
    nearest = min((off for off, _ in found), default=0.0)
    near = [(off, amounts) for off, amounts in found if off <= nearest + NEAR]
    return [amounts for _, amounts in near]


def _best_of(
    palette: Palette, lab: FloatArray, prices: FloatArray, many: int
) -> list[tuple[float, NDArray[np.float64]]]:
    """The best puddle of just so many paints, and CIEDE2000 from the tint; [] if none may be."""
    bench = palette.bench
    groups = np.array(list(combinations(_likely(bench, lab), many)), dtype=np.int64)
    blank = scenario(bench.puddles(np.zeros((0, bench.colours))), [[]])
    slot = slot_over(blank, np.array([[0.0, 1.0, *lab, 1.0]]))
    depth = float(bench.depth_of(np.asarray(lab)[None])[0])
    strong = bench.visible_depth() * bench.loads
    start = np.minimum(max(depth, FAINT) / strong, 0.9 / bench.loads)[groups] / many
    found, costs = fit_mixtures(slot, bench, groups, start)
    loads = found * bench.loads[groups]
    held = (loads <= bench.shares[groups] * loads.sum(axis=1)[:, None] * (1.0 + 1e-9)).all(axis=1)
    whole = held & (loads > 0.0).all(axis=1)
    if not whole.any():
        return []
    asked = np.where(whole, costs + (prices[groups] * loads).sum(axis=1), np.inf)
    best = int(np.argmin(asked))
    amounts = np.zeros(bench.colours)
    amounts[groups[best]] = found[best]
    return [(float(delta_e_2000(bench.labs(amounts[None])[1], lab)), amounts)]


def _likely(bench: Bench, lab: FloatArray) -> list[int]:
    """Paints worth trying in groups: all of a small palette, else those of the free mixture."""
    if bench.colours <= ALL_GROUPS:
        return list(range(bench.colours))
    aims = np.array([[1.0, *lab, 1.0]])
    free = bench.fit(np.full((1, bench.colours), STARTS[0]), aims)[0][0]
    worth = free * bench.loads * bench.visible_depth()
    return sorted(np.argsort(-worth, kind="stable")[:ALL_GROUPS].tolist())


def _first_prices(palette: Palette, patch: Patch, lab: FloatArray) -> NDArray[np.float64]:
    """Prices (1, colours) of a first wash with a coat over it for all but the lightest colour."""
    coats_of = np.minimum(np.arange(len(patch.aims)) + 1, palette.layers)
    rows = aim_rows(coats_of.tolist(), patch.aims, patch.weight, lab)
    return laying_prices(palette, patch, coats_of, rows)[:1]


def merged(found: Sequence[Tint]) -> list[Tint]:
    """One of all that nobody could tell apart, under all their names; the first is kept as it is,
    so what is mixed anyway should come first.
    """
    kept: list[Tint] = []
    for tint in found:
        for i, other in enumerate(kept):
            both = tint.amounts is not None and other.amounts is not None
            both = both and tint.strengths is None and other.strengths is None
            near = NEAR if other.puddle != tint.puddle else SAME
            if both and float(delta_e_2000(tint.lab, other.lab)) < near:
                kept[i] = _with(other, tint.origins)
                break
        else:
            kept.append(tint)
    return kept


def _with(tint: Tint, origins: Sequence[Origin]) -> Tint:
    return replace(tint, origins=(*tint.origins, *(o for o in origins if o not in tint.origins)))
