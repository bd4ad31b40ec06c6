"""Which one paint more would bring a picture's colours closer, for a painter who shops."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstwash.paints.catalogue import Paint
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.palette import colour_groups
from firstwash.plan.palette_addition import best_addition
from firstwash.plan.result import Plan
from firstwash.plan.say import allowed, heard

__all__ = ["PaintMore", "paints_more"]

LEAST = 0.1  # mean CIEDE2000 that a paint must save to be told; less is lost in what is unsure


@dataclass(frozen=True)
class PaintMore:
    """A paint that the painter does not own, and what it would do.

    before, after: mean CIEDE2000 of the best single patches for the picture's colours, from
    the best palette of owned paints and from the best one with this paint. instead_of: paints
    that would leave the palette for it.
    """

    paint: Paint
    before: float
    after: float
    instead_of: tuple[Paint, ...]


def paints_more(
    plan: Plan, reference: Reference, owned: Sequence[Paint], others: Sequence[Paint], most: int = 3
) -> tuple[PaintMore, ...]:
    """The `most` paints of `others` that would help this picture most, best first.

    owned: what the painter chose from, the plan's palette among them. The same limits hold
    as for the plan: as many paints on the palette, no banned ones, no black or white unless
    asked for, none that alone dries too dark. Paints that would hardly help are not told.
    """
    limits = plan.limits
    say = heard(tuple(owned), limits, plan.paper)
    known = {p.key for p in owned}
    new = [p for p in others if p.key not in known and not _same_pigment(p, owned)]
    new = list(allowed(new, limits, plan.paper))
    if not new:
        return ()
    shares = np.concatenate([say.shares, np.ones(len(new))])
    bench = Bench.of([*say.paints, *new], plan.paper).limited(shares)
    photo = plan.cells.mean(reference.lab, reference.weight)
    targets, weights = colour_groups(photo, plan.cells.areas_mm2())
    mine = range(len(say.paints))
    found = best_addition(bench, mine, targets, weights, limits.paints, say.must)
    return tuple(
        PaintMore(
            new[a.paint - len(say.paints)],
            a.score + a.gain,
            a.score,
            _without(plan, [say.paints[i].key for i in a.chosen if i < len(say.paints)]),
        )
        for a in found[:most]
        if a.gain >= LEAST
    )


def _without(plan: Plan, keys: Sequence[str]) -> tuple[Paint, ...]:
    """Paints of the plan's palette that are not among these."""
    return tuple(p for p in plan.paints if p.key not in keys)


def _same_pigment(paint: Paint, owned: Sequence[Paint]) -> bool:
    """Whether the painter has that pigment already, under whatever key."""
    return bool(paint.pigments) and any(paint.pigments == p.pigments for p in owned)
