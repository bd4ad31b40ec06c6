"""Edits of a finished plan that leave the rest as it is.

Every edit returns a new plan and shares with the old one all that it did not change; undo is
keeping the old plan. Colours predicted are exact; the report on how good the plan is has to be
made again (`firstwash.plan.report.make_report`), for it needs the photo.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.assemble import puddle_letter
from firstwash.plan.bench import Bench
from firstwash.plan.kernels import LIGHTNESS_PRICE
from firstwash.plan.locks import NO_LOCKS, Held, Locks, WashKey, find_puddle, find_wash, held
from firstwash.plan.puddles import TINT_SHARE
from firstwash.plan.rebuild import Coat, Coats, Mixed, rebuilt
from firstwash.plan.result import Plan
from firstwash.plan.shape_coats import EditDesk, ShapeCoats, Wish, solve_shape
from firstwash.plan.wash import Wash

__all__ = [
    "Recoloured",
    "change_recipe",
    "change_strength",
    "recolour",
    "replace_puddle",
    "wish_for",
]

FAR = 4.0  # mean CIEDE2000 from which a painter would call it another colour
LIGHTENS = 0.5  # L* that a coat may dry lighter than the sheet under it before it is refused
REFIT_REACH = 4.0  # times stronger or weaker that a later wash may become to make up for an edit
REFIT_STEPS = 12  # of the search, which leave about a hundredth of the strength open
REFIT_SWEEPS = 2


# --- another colour for a shape --------------------------------------------------


@dataclass(frozen=True, eq=False)
class Recoloured:
    """A plan with another colour in one shape.

    own: (layer, number) of washes that only this shape needs; joined: of those it shares. miss:
    mean CIEDE2000 by area between what was wished and what it will show. words: the same in
    a sentence for the painter.
    """

    plan: Plan
    coats: ShapeCoats
    own: tuple[WashKey, ...]
    joined: tuple[WashKey, ...]
    miss: float
    words: str


def wish_for(plan: Plan, shape: int, lab: FloatArray, cells: Collection[int] | None = None) -> Wish:
    """What to aim at when a shape, or some of its cells, is to show another colour.

    lab (3,): CIELAB wanted on average over the shape's painted cells, or over `cells`. Their
    differences are kept, within the lightness the plan can span. Cells not named keep their
    aims; bare paper stays bare unless all of the shape is bare or the cell is named.
    Raises RequestError for a shape, cell or colour that cannot be.
    """
    wanted = _colour(lab)
    if not (isinstance(shape, int | np.integer) and 0 <= shape < plan.cells.shapes):
        raise RequestError(f"The plan has shapes 0 to {plan.cells.shapes - 1}, not {shape}.")
    own = np.flatnonzero(plan.cells.shape_of == shape)
    named = _named(own, shape, cells)
    painted = np.array([c for c in own if plan.coats[c]], dtype=np.int64)
    if named is None:
        named = painted if len(painted) else own
    aims = moved_aims(plan, named, wanted)
    taking_part = np.union1d(painted, named)
    order = taking_part[np.argsort(-aims[taking_part, 0], kind="stable")]
    return Wish(int(shape), order, aims[order], bare=bool(np.isin(order[0], named)))


def moved_aims(plan: Plan, cells: NDArray[np.int64], lab: FloatArray) -> NDArray[np.float64]:
    """Aims (n_cells, 3) with those cells moved together so that their mean by area is `lab`."""
    aims = plan.aims.copy()
    areas = plan.cells.areas_mm2()[cells]
    shift = lab - areas @ aims[cells] / areas.sum()
    aims[cells] += shift
    aims[cells, 0] = np.clip(aims[cells, 0], plan.tone.floor, plan.tone.ceiling)
    return aims


def _colour(lab: FloatArray) -> NDArray[np.float64]:
    try:
        wanted = np.asarray(lab, dtype=np.float64)
    except (TypeError, ValueError):
        wanted = np.empty(0)
    ok = wanted.shape == (3,) and bool(np.isfinite(wanted).all())
    if not (ok and 0.0 <= wanted[0] <= 100.0 and np.abs(wanted[1:]).max() <= 200.0):
        raise RequestError("A colour is three numbers: lightness 0 to 100 and two of hue.")
    return wanted


def _named(
    own: NDArray[np.int64], shape: int, cells: Collection[int] | None
) -> NDArray[np.int64] | None:
    if cells is None:
        return None
    if not len(cells):
        raise RequestError("Name at least one area to recolour.")
    strange = sorted(set(cells) - set(own.tolist()))
    if strange:
        raise RequestError(
            f"Area {strange[0]} is not part of shape {shape}; it has areas {own[0]} to {own[-1]}."
        )
    return np.array(sorted(set(cells)), dtype=np.int64)


def recolour(
    plan: Plan,
    shape: int,
    lab: FloatArray,
    cells: Collection[int] | None = None,
    locks: Locks = NO_LOCKS,
) -> Recoloured:
    """The plan with another colour in one shape; every other shape keeps its coats.

    lab, cells: as in `wish_for`. The shape joins other washes of the plan, or gets washes of its
    own out of the plan's puddles where nothing near fits and the limit on washes allows it.
    Raises RequestError for what cannot be, or what locks forbid.
    """
    wish = wish_for(plan, shape, lab, cells)
    desk = EditDesk(plan, locks)
    if shape in desk.graded:
        raise RequestError(
            "The graded background is one wash; change its puddle instead, or plan again."
        )
    if desk.held.closed[wish.cells].all():
        raise RequestError(
            f"All that is painted in shape {shape} is kept as it is; stop keeping some of it."
        )
    found = solve_shape(desk, wish)
    after = rebuilt(plan, _with(plan, found), aims=_aims_with(plan, wish))
    return _told(plan, found, _only_darker(plan, after), locks)


def _with(plan: Plan, found: ShapeCoats) -> Coats:
    coats = list(plan.coats)
    for cell, own in zip(found.wish.cells.tolist(), found.coats, strict=True):
        coats[cell] = own
    return tuple(coats)


def _aims_with(plan: Plan, wish: Wish) -> NDArray[np.float64]:
    aims = plan.aims.copy()
    aims[wish.cells] = wish.aims
    return aims


def _told(before: Plan, found: ShapeCoats, after: Plan, locks: Locks) -> Recoloured:
    shape = found.wish.shape
    here = [w for w in after.washes if shape in w.shapes]
    own = tuple((w.layer, w.number) for w in here if w.shapes == (shape,))
    joined = tuple((w.layer, w.number) for w in here if w.shapes != (shape,))
    parts = []
    if joined:
        parts.append(f"laid with {_listed(joined)}, as other areas are")
    if own:
        parts.append(
            f"{len(own)} {'wash' if len(own) == 1 else 'washes'} of its own: {_listed(own)}"
        )
    if not parts:
        parts.append("left as bare paper")
    full = found.miss > FAR and not own and before.limits.washes is not None
    more = " No wash was left for it; allow more washes for a closer match." if full else ""
    gone = sorted(locks.puddles - {p.name for p in after.puddles})
    more += f" Nothing is left for puddle {', '.join(gone)}, though locked." if gone else ""
    words = "; ".join(parts)
    return Recoloured(
        after, found, own, joined, found.miss, f"{words[0].upper()}{words[1:]}.{more}"
    )


def _listed(keys: Sequence[WashKey]) -> str:
    return ", ".join(f"{layer}.{number}" for layer, number in keys)


# --- another puddle, recipe or strength ------------------------------------------


def replace_puddle(
    plan: Plan,
    wash: WashKey,
    mixture: str | Mapping[str, float],
    locks: Locks = NO_LOCKS,
    refit: bool = False,
) -> Plan:
    """The plan with one wash laid out of another puddle, at the same strength.

    mixture: a puddle's letter, or parts of paints by key (any scale), each in its own full
    coats: a new puddle, with a new letter unless nothing else needs the old one. refit: fit
    the strengths of later washes over these areas, locked ones apart, to the aims again.
    Raises RequestError for what cannot be, what is locked, or what would lighten the sheet.
    """
    old = _unlocked(plan, wash, locks)
    keep = held(plan, locks)
    only = all(w.puddle != old.puddle or w is old for w in plan.washes)
    if only and old.puddle in keep.recipes:
        raise RequestError(
            f"Puddle {plan.puddles[old.puddle].name} is locked and this is its only wash."
        )
    mixed = Mixed.of(plan)
    if isinstance(mixture, str):
        puddle = find_puddle(plan, mixture)
    else:
        puddle = len(mixed.names)
        name = mixed.names[old.puddle] if only else _free(mixed)
        recipes = np.vstack([mixed.recipes, recipe_of(plan, mixture)])
        mixed = Mixed(recipes, (*mixed.names, name))
    coats = _swapped(plan, old, lambda s: (old.layer, puddle, s))
    return _edited(plan, coats, mixed, old, locks, refit)


def change_recipe(
    plan: Plan,
    puddle: str,
    recipe: Mapping[str, float],
    locks: Locks = NO_LOCKS,
) -> Plan:
    """The plan with one puddle mixed otherwise, all its washes at their strengths.

    recipe: parts of paints by key, as in `replace_puddle`.
    Raises RequestError for what cannot be, what is locked, or what would lighten the sheet.
    """
    q = find_puddle(plan, puddle)
    keep = held(plan, locks)
    wanted = recipe_of(plan, recipe)
    if q in keep.recipes:
        raise RequestError(
            f"Puddle {plan.puddles[q].name} is kept as it is; stop keeping it first."
        )
    lost = [plan.paints[p].name for p in np.flatnonzero(keep.tied[q] & (wanted <= 0))]
    if lost:
        raise RequestError(f"{lost[0]} is locked and must stay in this puddle; add some of it.")
    mixed = Mixed.of(plan)
    recipes = mixed.recipes.copy()
    recipes[q] = wanted
    after = rebuilt(plan, plan.coats, Mixed(recipes, mixed.names))
    return _only_darker(plan, after)


def change_strength(
    plan: Plan,
    wash: WashKey,
    strength: float,
    locks: Locks = NO_LOCKS,
    refit: bool = False,
) -> Plan:
    """The plan with one wash laid stronger or weaker.

    strength: above 0, at most 1, a full coat; of a graded wash, at its stronger end. refit: as
    in `replace_puddle`.
    Raises RequestError for what cannot be, what is locked, or what would lighten the sheet.
    """
    old = _unlocked(plan, wash, locks)
    if not (isinstance(strength, int | float) and 1e-6 < strength <= 1.0):
        raise RequestError(
            f"A strength lies above 0 and at most at 1, a full coat, not {strength}."
        )
    ends = [s for s in (old.strength, old.end_strength) if s is not None]
    factor = float(strength) / max(ends)
    single = old.end_strength is None

    def laid(s: float) -> Coat:
        return old.layer, old.puddle, float(strength) if single else s * factor

    coats = _swapped(plan, old, laid)
    return _edited(plan, coats, Mixed.of(plan), old, locks, refit)


def _unlocked(plan: Plan, key: WashKey, locks: Locks) -> Wash:
    wash = find_wash(plan, key)
    if key in locks.washes or wash.layer in locks.layers:
        raise RequestError(
            f"Wash {wash.layer}.{wash.number} is kept as it is; stop keeping it first."
        )
    return wash


def recipe_of(plan: Plan, parts: Mapping[str, float]) -> NDArray[np.float64]:
    """Amounts (paints,) of one full coat from parts by key, each in the paint's full coats.

    Raises RequestError for paints not on the palette, parts that cannot be measured, or too
    many paints for a puddle.
    """
    keys = [p.key for p in plan.paints]
    if not isinstance(parts, Mapping) or not parts:
        raise RequestError("A recipe names at least one paint and how many parts of it.")
    share = np.zeros(len(keys))
    for key, part in parts.items():
        if key not in keys:
            raise RequestError(f"{key!r} is not on the palette; there are {', '.join(keys)}.")
        if not (isinstance(part, int | float) and np.isfinite(part) and part > 0.0):
            raise RequestError(f"Parts are numbers above 0, not {part!r} of {key}.")
        share[keys.index(key)] = part
    share /= share.sum()
    if len(parts) > plan.limits.paints_per_puddle:
        raise RequestError(
            f"A puddle holds at most {plan.limits.paints_per_puddle} paints in this plan."
        )
    if share[share > 0].min() < TINT_SHARE * (1.0 - 1e-9):
        raise RequestError("Less than one part in twenty of a paint cannot be measured by hand.")
    for word, most in plan.limits.caps:
        for p, paint in enumerate(plan.paints):
            if word in (paint.key, paint.name) and share[p] > most + 1e-9:
                raise RequestError(
                    f"You limit {paint.name} to {most:.0%} of a puddle; take less of it."
                )
    return np.asarray(share * [p.full_coat for p in plan.paints])


def _free(mixed: Mixed) -> str:
    return next(
        n for i in range(len(mixed.names) + 1) if (n := puddle_letter(i)) not in mixed.names
    )


def _swapped(plan: Plan, wash: Wash, laid: Callable[[float], Coat]) -> Coats:
    coats = list(plan.coats)
    for cell in wash.cells:
        coats[cell] = tuple(laid(c[2]) if c[0] == wash.layer else c for c in plan.coats[cell])
    return tuple(coats)


def _edited(plan: Plan, coats: Coats, mixed: Mixed, wash: Wash, locks: Locks, refit: bool) -> Plan:
    keep = held(plan, locks)
    if keep.shut & {c for cell in wash.cells for c in coats[cell] if c[0] == wash.layer}:
        raise RequestError(f"That would add areas to a locked wash of layer {wash.layer}.")
    if refit:
        coats = _Refit(plan, coats, mixed, keep).of_later_than(wash)
    return _only_darker(plan, rebuilt(plan, coats, mixed))


def _only_darker(before: Plan, after: Plan) -> Plan:
    """The edited plan. Raises RequestError if a coat would lighten the sheet that did not."""
    risen, was = _rises(after), _rises(before)
    wrong = (risen > LIGHTENS) & (risen > was + 1e-9)
    if wrong.any():
        cell = int(np.argmax(np.where(wrong, risen, 0.0)))
        layer = int(np.argmax(np.diff(after.stage_labs[:, cell, 0]))) + 1
        raise RequestError(
            f"That paint would dry lighter than the sheet under it in layer {layer}, and "
            "watercolour only darkens; take a more transparent puddle or lay it weaker."
        )
    return after


def _rises(plan: Plan) -> NDArray[np.float64]:
    """Most by which any layer lightens each cell (n,), L*."""
    return np.asarray(np.diff(plan.stage_labs[..., 0], axis=0).max(axis=0))


class _Refit:
    """Strengths of later washes, one after another, each over all the areas it lies in.

    Each by golden section search [Kiefer1953] on the logarithm of the strength.
    """

    def __init__(self, plan: Plan, coats: Coats, mixed: Mixed, keep: Held) -> None:
        self.plan, self.coats, self.keep = plan, list(coats), keep
        self.ready = Bench.of(plan.paints, plan.paper).puddles(mixed.recipes)
        self.areas = plan.cells.areas_mm2()

    def of_later_than(self, wash: Wash) -> Coats:
        """The coats after the washes laid over this one have been fitted again, in order."""
        touched = set(wash.cells)
        later = [
            (w.layer, w.puddle, w.strength, list(w.cells))
            for w in self.plan.washes
            if w.layer > wash.layer
            and touched & set(w.cells)
            and not self.keep.closed[list(w.cells), w.layer - 1].any()
        ]
        strengths = [s for _, _, s, _ in later]
        for _ in range(REFIT_SWEEPS):
            for i, (layer, puddle, first, cells) in enumerate(later):
                low, high = first / REFIT_REACH, min(first * REFIT_REACH, 1.0)
                best = self._search(layer, puddle, cells, (low, high), strengths[i])
                self._lay(layer, puddle, best, cells)
                strengths[i] = best
        return tuple(self.coats)

    def _lay(self, layer: int, puddle: int, strength: float, cells: Sequence[int]) -> None:
        for cell in cells:
            self.coats[cell] = tuple(
                (layer, puddle, strength) if c[0] == layer else c for c in self.coats[cell]
            )

    def _search(
        self, layer: int, puddle: int, cells: list[int], ends: tuple[float, float], now: float
    ) -> float:
        """The strength between the ends that fits best; `now` if none is better."""

        def cost(strength: float) -> float:
            self._lay(layer, puddle, strength, cells)
            return self._cost(cells)

        best, least = now, cost(now)
        low, high = np.log(ends[0]), np.log(ends[1])
        ratio = (np.sqrt(5.0) - 1.0) / 2.0
        for _ in range(REFIT_STEPS):
            one, two = high - ratio * (high - low), low + ratio * (high - low)
            first, second = cost(float(np.exp(one))), cost(float(np.exp(two)))
            if min(first, second) < least - 1e-9:
                least = min(first, second)
                best = float(np.exp(one if first <= second else two))
            low, high = (low, two) if first <= second else (one, high)
        return best

    def _cost(self, cells: list[int]) -> float:
        """Squared CIEDE2000 × mm² from the aims, with the planner's price on coats that lighten."""
        known: dict[tuple[Coat, ...], tuple[NDArray[np.float64], float]] = {}
        for own in {self.coats[c] for c in cells}:
            amounts = np.zeros((len(own), self.ready.colours))
            for i, (_, q, s) in enumerate(own):
                amounts[i, q] = s
            labs = self.ready.labs(amounts)
            rise = np.maximum(np.diff(labs[:, 0]), 0.0)
            known[own] = labs[-1], float((LIGHTNESS_PRICE * rise) @ (LIGHTNESS_PRICE * rise))
        shown = np.array([known[self.coats[c]][0] for c in cells])
        priced = np.array([known[self.coats[c]][1] for c in cells])
        return float(self.areas[cells] @ (delta_e_2000(shown, self.plan.aims[cells]) ** 2 + priced))
