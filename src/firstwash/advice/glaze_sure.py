"""How far the paints' own doubt lets a glaze be explained.

Two things are told. How far the colour itself may be off: `paints.doubt`, paints and layering
together. And, more to the point, whether what is said of it would still be so: the paints' curves
are drawn many times from what is thought of them, every draw is predicted as the paints themselves
are, and it is counted in how many of them the same would have been said. The layering itself is
the same in every draw: no open data measures watercolour over watercolour.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from firstwash.advice.glaze_order import TELLS, over_all, swapped
from firstwash.advice.glaze_path import Opposed, grey_path
from firstwash.advice.glaze_shift import Lab, Shift, shift
from firstwash.arrays import FloatArray, triple
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, Provenance
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.paints.spread import drawn_curves
from firstwash.plan.bench import Bench

__all__ = ["MORE", "Claim", "Sure", "sure_told"]

Claim = Literal["value", "lean", "greys", "puddle", "order"]
"""What the glaze does to the value, which way a little more of it leans, whether the two grey each
other, how one puddle differs in value, whether the order matters."""

MORE: Final = 1.25  # times the strength, as in `glaze_reasons`
DRAWS: Final = 32  # of the paints' curves
STEPS, FINE = 20, 8  # strengths tried in a draw: fewer than for the paints themselves
ALIKE: Final = 2.5  # L* within which two changes of value are told alike, as in `plan.reasons`
SAME_WAY: Final = 45.0  # degrees within which a move still goes the same way; own judgement
GREYS: Final[frozenset[Opposed]] = frozenset({"complementary", "nearly"})


@dataclass(frozen=True)
class Sure:
    """How sure a glaze and what is said of it are.

    doubt: CIEDE2000 that nine of ten such stacks stay within; lighter, darker: CIELAB ends of what
    nine of ten lie between. known: (key, provenance) of its paints. beyond: keys of paints laid
    thinner than any swatch behind their curves. holds: share (0-1) of draws of the paints in
    which a claim would be made as it is made here.
    """

    doubt: float
    lighter: Lab
    darker: Lab
    known: tuple[tuple[str, Provenance], ...]
    beyond: tuple[str, ...]
    holds: tuple[tuple[Claim, float], ...]

    def share(self, claim: Claim) -> float | None:
        """Share of draws in which a claim holds, None where it is not made."""
        return dict(self.holds).get(claim)


@dataclass(frozen=True)
class _Said:
    """What would be said, as plainly as it can be compared."""

    value: float
    lean: Shift
    greys: bool | None
    puddle: float | None
    order: bool | None


def sure_told(paper: Paper, paints: Sequence[Paint], amounts: FloatArray) -> Sure:
    """How sure the last coat of a stack (coats, paints) is, and what is said of it."""
    found = doubt_of_stacks(paper, paints, amounts[None])
    lighter, darker = found.ends
    bench = Bench.of(paints, paper)
    plain = _said(bench, amounts)
    curves = drawn_curves([(p.k, p.s, p.doubt) for p in paints], DRAWS)
    drawn = [_said(replace(bench, k=k, s=s), amounts) for k, s in zip(*curves, strict=True)]
    return Sure(
        doubt=float(found.differences()[0]),
        lighter=triple(lighter[0]),
        darker=triple(darker[0]),
        known=tuple((p.key, p.provenance) for p in paints),
        beyond=_beyond(paints, amounts),
        holds=_holds(plain, drawn),
    )


def _beyond(paints: Sequence[Paint], amounts: FloatArray) -> tuple[str, ...]:
    least = np.where(amounts > 0.0, amounts, np.inf).min(axis=0)
    return tuple(
        p.key
        for p, own in zip(paints, least.tolist(), strict=True)
        if p.thinnest_measured is not None and own < p.thinnest_measured
    )


def _said(bench: Bench, amounts: FloatArray) -> _Said:
    labs = bench.labs(amounts)
    more = np.array(amounts)
    more[-1] *= MORE
    lean = shift(labs[-1], over_all(bench, more), labs[0])
    value = float(labs[-1, 0] - labs[-2, 0])
    if len(amounts) < 2:
        return _Said(value, lean, None, None, None)
    puddle = over_all(bench, amounts.sum(axis=0)[None])
    return _Said(
        value=value,
        lean=lean,
        greys=grey_path(bench, amounts, STEPS, FINE).opposed in GREYS,
        puddle=float(puddle[0] - labs[-1, 0]),
        order=float(delta_e_2000(labs[-1], over_all(bench, swapped(amounts)))) >= TELLS,
    )


def _same_side(one: float | None, other: float | None) -> bool:
    """Whether two changes of L* are told alike: both darker, both lighter, or as good as equal."""
    if one is None or other is None:
        return one is other
    return abs(one - other) < ALIKE or one * other > 0.0


def _holds(plain: _Said, drawn: Sequence[_Said]) -> tuple[tuple[Claim, float], ...]:
    same: dict[Claim, list[bool]] = {
        "value": [_same_side(d.value, plain.value) for d in drawn],
        "lean": [_same_way(d.lean, plain.lean) for d in drawn],
    }
    if plain.greys is not None:
        same["greys"] = [d.greys == plain.greys for d in drawn]
        same["puddle"] = [_same_side(d.puddle, plain.puddle) for d in drawn]
        same["order"] = [d.order == plain.order for d in drawn]
    return tuple((claim, float(np.mean(held))) for claim, held in same.items())


def _same_way(one: Shift, other: Shift) -> bool:
    if one.towards is None or other.towards is None:
        return one.towards == other.towards
    turn = abs((one.turn - other.turn + 180.0) % 360.0 - 180.0)
    return turn <= SAME_WAY
