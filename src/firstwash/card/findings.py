"""What a card taught, in figures for people: how sure a paint is now, what to paint again."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.card.outcome import SwatchFound, Taught, belief_before
from firstwash.optics.grid import N_BANDS
from firstwash.optics.slopes import see_stacks
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.paints.doubt import NINE_OF_TEN, StackDoubt, doubt_of_stacks

__all__ = ["Certainty", "band_range", "certainties", "glazes_found", "to_repaint"]

QUARTER = 0.25  # share of full strength at which paints are compared


@dataclass(frozen=True, eq=False)
class Certainty:
    """A paint before and after: a quarter coat of it, and what nine of ten lie between.

    Before means the painter's own tube, mixed to the painter's own full strength, unseen; or as
    an earlier card showed it.

    before, after: one stack each. within: CIEDE2000 that nine of ten stay within, before and
    after. bands: (36, 3) reflectance now: low, middle, high; bands_before likewise.
    """

    paint: Paint
    before: StackDoubt
    after: StackDoubt
    within: tuple[float, float]
    bands: NDArray[np.float64]
    bands_before: NDArray[np.float64]


def certainties(taught: Taught) -> tuple[Certainty, ...]:
    """Every paint of the card, before and after."""
    return tuple(
        _certainty(old, new, taught.paper)
        for old, new in zip(taught.before, taught.paints, strict=True)
    )


def _certainty(old: Paint, new: Paint, paper: Paper) -> Certainty:
    if old.provenance != "calibrated":
        first = belief_before(old)
        old = replace(old, k=first.k, s=first.s, spread=first.spread, full_coat=1.0)
    before, after = (
        doubt_of_stacks(paper, [p], np.array([[[QUARTER * p.full_coat]]])) for p in (old, new)
    )
    within = float(before.differences()[0]), float(after.differences()[0])
    return Certainty(new, before, after, within, band_range(new, paper), band_range(old, paper))


def band_range(paint: Paint, paper: Paper, share: float = QUARTER) -> NDArray[np.float64]:
    """(36, 3) reflectance of one coat of a share of full strength: low, middle, high.

    Nine of ten lie between low and high, band by band, as far as the paint is unsure.
    """
    amount = share * paint.full_coat
    seen = see_stacks(paper, amount * paint.k[None, None], amount * paint.s[None, None])
    factors = paint.doubt
    moved = (
        seen.by_k[0, 0] * amount * paint.k * factors[:, :N_BANDS]
        + seen.by_s[0, 0] * amount * paint.s * factors[:, N_BANDS:]
    )
    reach = NINE_OF_TEN * np.sqrt((moved**2).sum(axis=0))
    middle = seen.reflectance[0]
    return np.stack(
        [np.clip(middle - reach, 0.0, 1.0), middle, np.clip(middle + reach, 0.0, 1.0)], axis=1
    )


def to_repaint(taught: Taught) -> tuple[SwatchFound, ...]:
    """Swatches that do not fit with the others, the worst first."""
    return tuple(sorted((s for s in taught.swatches if s.repaint), key=lambda s: -s.off))


def glazes_found(swatches: Sequence[SwatchFound]) -> tuple[SwatchFound, ...]:
    """The swatches of two coats: layer over layer on the painter's own paper."""
    return tuple(s for s in swatches if s.swatch.kind in ("double", "over"))
