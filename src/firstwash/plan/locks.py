"""What the painter wants kept when a plan is edited or made anew.

A lock names a wash, a puddle, a paint or a layer of one plan. Resolved against that plan, locks
become three plain things: places where no coat may change, washes nobody else may join, and
puddles whose recipe stays.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import RequestError
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = [
    "NO_LOCKS",
    "Held",
    "Locks",
    "find_puddle",
    "find_wash",
    "held",
    "parse_locks",
    "same_locks",
]

WashKey = tuple[int, int]
Coat = tuple[int, int, float]


def _known(values: object, what: str, kind: type) -> frozenset[object]:
    """The values as a set; a lone string or number is refused, for it is an easy slip."""
    if isinstance(values, str) or not isinstance(values, Collection):
        raise RequestError(f"Name the {what} to lock in a list, even a single one.")
    for value in values:
        if not isinstance(value, kind) or isinstance(value, bool):
            raise RequestError(f"{value!r} does not name {what}.")
    return frozenset(values)


@dataclass(frozen=True)
class Locks:
    """What is kept, by the names it has in the plan.

    washes: (layer, number): keep their areas, puddle and strength. puddles: letters: keep
    their recipe; the strength of their washes may change. paints: keys: stay on the palette
    and in every puddle that holds them. layers: numbers: keep everything laid in them, bare
    places included.
    Raises RequestError for what cannot name any of these; `held` checks against a plan.
    """

    washes: frozenset[WashKey] = frozenset()
    puddles: frozenset[str] = frozenset()
    paints: frozenset[str] = frozenset()
    layers: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        """Take any collection, refuse anything else."""
        for name, what, kind in (
            ("washes", "washes", tuple),
            ("puddles", "puddles", str),
            ("paints", "paints", str),
            ("layers", "layers", int),
        ):
            object.__setattr__(self, name, _known(getattr(self, name), what, kind))
        for key in self.washes:
            if len(key) != 2 or not all(type(n) is int for n in key):
                raise RequestError(f"Name a wash by its layer and number, not by {key!r}.")

    def __bool__(self) -> bool:
        """Whether anything is locked."""
        return bool(self.washes or self.puddles or self.paints or self.layers)


NO_LOCKS = Locks()


def parse_locks(words: Sequence[str]) -> Locks:
    """Locks from words: "layer 1", "wash 2.3" (layer and number), "puddle C", "paint PB29".

    Raises RequestError for anything else.
    """
    found: dict[str, set[object]] = {kind: set() for kind in ("layer", "wash", "puddle", "paint")}
    for text in words:
        kind, _, name = " ".join(text.split()).partition(" ")
        kind = kind.casefold()
        value = _named(kind, name.strip())
        if value is None:
            raise RequestError(
                'Name what to keep as "layer 1", "wash 2.3" (its layer and number), "puddle C" or '
                f'"paint PB29", not "{text}".'
            )
        found[kind].add(value)
    return Locks(*(frozenset(found[k]) for k in ("wash", "puddle", "paint", "layer")))  # type: ignore[arg-type]


def _named(kind: str, name: str) -> object | None:
    digits = [part for part in name.split(".") if part.isascii() and part.isdigit()]
    if kind == "layer":
        return int(name) if len(digits) == 1 and digits == [name] else None
    if kind == "wash":
        return tuple(map(int, digits)) if len(digits) == 2 and ".".join(digits) == name else None
    if kind == "puddle":
        return name.upper() or None
    return name or None if kind == "paint" else None


@dataclass(frozen=True, eq=False)
class Held:
    """Locks resolved against a plan.

    closed: (cells, layers) where the coat, or its absence, stays. shut: coats (layer 1 …,
    puddle, strength) of washes that no further cell may join. recipes: puddles whose
    recipe stays, those of locked washes and layers among them. tied: (puddles, paints) paints
    that must stay in a puddle. paints: indices of those that must stay on the palette.
    """

    closed: NDArray[np.bool_]
    shut: frozenset[Coat]
    recipes: frozenset[int]
    tied: NDArray[np.bool_]
    paints: frozenset[int] = field(default=frozenset())


def find_wash(plan: Plan, key: WashKey) -> Wash:
    """The wash of a layer and number. Raises RequestError if the plan has no such wash."""
    layer, number = key
    own = plan.washes_of(layer)
    found = next((w for w in own if w.number == number), None)
    if found is None:
        if not 1 <= layer <= plan.layers:
            raise RequestError(f"The plan has layers 1 to {plan.layers}, not {layer}.")
        raise RequestError(f"Layer {layer} has washes 1 to {len(own)}, not {number}.")
    return found


def find_puddle(plan: Plan, letter: str) -> int:
    """Index of the puddle of that letter. Raises RequestError if there is none."""
    names = [p.name for p in plan.puddles]
    wanted = letter.strip().upper()
    if wanted not in names:
        raise RequestError(f"There is no puddle {letter!r}; there are {', '.join(names)}.")
    return names.index(wanted)


def held(plan: Plan, locks: Locks) -> Held:
    """What the locks mean in this plan. Raises RequestError for what the plan does not have."""
    closed = np.zeros((plan.cells.count, plan.layers), dtype=np.bool_)
    washes = [find_wash(plan, key) for key in sorted(locks.washes)]
    for layer in sorted(locks.layers):
        if not 1 <= layer <= plan.layers:
            raise RequestError(f"The plan has layers 1 to {plan.layers}, not {layer}.")
        closed[:, layer - 1] = True
        washes += plan.washes_of(layer)
    for wash in washes:
        closed[list(wash.cells), wash.layer - 1] = True
    paints = frozenset(_find_paint(plan, key) for key in locks.paints)
    recipes = {find_puddle(plan, letter) for letter in locks.puddles} | {w.puddle for w in washes}
    tied = np.zeros((len(plan.puddles), len(plan.paints)), dtype=np.bool_)
    for q, puddle in enumerate(plan.puddles):
        parts = {p for p, _ in puddle.parts}
        tied[q, sorted(parts & paints)] = True
    return Held(
        closed=closed,
        shut=frozenset((w.layer, w.puddle, w.strength) for w in washes),
        recipes=frozenset(recipes),
        tied=tied,
        paints=paints | {p for q in recipes for p, _ in plan.puddles[q].parts},
    )


def _find_paint(plan: Plan, key: str) -> int:
    wanted = key.strip().casefold()
    for p, paint in enumerate(plan.paints):
        if wanted in (paint.key.casefold(), paint.name.casefold()):
            return p
    names = ", ".join(p.key for p in plan.paints)
    raise RequestError(f"{key!r} is not on the palette; there are {names}.")


def same_locks(locks: Locks, before: Plan, after: Plan) -> Locks:
    """The locks of one plan as they are called in the plan that came of it.

    Numbers of washes may change when a plan is edited; puddles keep their letters. Locked
    washes are found again by layer, letter, strength and areas.
    """
    known = {_identity(after, w): (w.layer, w.number) for w in after.washes}
    old = (find_wash(before, key) for key in locks.washes)
    return Locks(
        washes=frozenset(known[i] for w in old if (i := _identity(before, w)) in known),
        puddles=locks.puddles & {p.name for p in after.puddles},
        paints=locks.paints,
        layers=locks.layers,
    )


def _identity(plan: Plan, wash: Wash) -> tuple[int, str, float, tuple[int, ...]]:
    return wash.layer, plan.puddles[wash.puddle].name, wash.strength, wash.cells
