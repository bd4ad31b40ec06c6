"""What is asked of a plan: limits a painter sets, checked before any work is done."""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import numpy as np

from firstwash.errors import PaintError, RequestError
from firstwash.paints.catalogue import Paint
from firstwash.picture.shapes import ShapeLimits

__all__ = ["Limits", "Progress", "is_black_or_white", "no_progress", "usable_paints"]

Progress = Callable[[str, float], None]
"""Called as progress(what is being done, share done 0-1); may raise Cancelled to stop."""

LAYERS = (2, 8)
PAINTS_PER_PUDDLE = (1, 6)
MOST_PAINTS = 24
HOURS = (0.25, 500.0)
LAY_IN = (4, 15)  # colours of the first layer; common practice, no source
MOST_HANDLING = 100.0


def no_progress(step: str, done: float) -> None:
    """Say nothing."""
    del step, done


@dataclass(frozen=True)
class Limits:
    """How much work the painter is ready for.

    layers: times the sheet is painted and dried, 2-8. paints: on the palette, at most.
    puddles: mixtures in all, at most; None for as many as the picture likes.
    washes: one puddle at one strength in one layer, over as many areas as want it; at most
    so many, or None. hours: at the board, drying included, or None.
    touches: fine dark strokes at most, laid last; 0 for none, and no reserves finer than a shape.
    hand: how far a hand errs, σ of the logarithm of what it mixes and lays, 0 to 1; plans are
    chosen for it where washes are limited, and judged for it always.
    paints_per_puddle: 1-6. shapes: shapes at most.
    min_area_mm2, min_width_mm: nothing smaller is asked of a brush.
    black_and_white: may black and white paint be used. handling: how much the rules of
    handling count beside the match, ≥ 0: 1 as a rule, 0 not at all. local_first: first washes
    under shadows go by the object's own colour where the picture tells it, not by the shadow's.

    The painter's own say, by the keys or names of paints (`firstwash.plan.say` reads them):
    ban: never used. prefer: on the palette if owned. caps: (paint, share) pairs, or a
    mapping: no puddle holds more than that share (0-1] of the paint. darkest_step: 1-10, no
    paint is used whose full coat alone dries darker than this value step.
    """

    layers: int = 4
    paints: int = 6
    puddles: int | None = 16
    washes: int | None = None
    hours: float | None = None
    touches: int = 40
    hand: float = 0.2
    paints_per_puddle: int = 3
    shapes: int = 150
    min_area_mm2: float = 25.0
    min_width_mm: float = 2.0
    black_and_white: bool = False
    handling: float = 1.0
    local_first: bool = True
    ban: tuple[str, ...] = ()
    prefer: tuple[str, ...] = ()
    caps: tuple[tuple[str, float], ...] = ()
    darkest_step: int | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be planned, one sentence each."""
        pairs = self.caps.items() if isinstance(self.caps, Mapping) else self.caps
        object.__setattr__(self, "ban", tuple(self.ban))
        object.__setattr__(self, "prefer", tuple(self.prefer))
        object.__setattr__(self, "caps", tuple((str(k), float(v)) for k, v in pairs))
        self._check_work()
        self._check_say()

    def _check_work(self) -> None:
        if not LAYERS[0] <= self.layers <= LAYERS[1]:
            raise RequestError(
                f"A plan has {LAYERS[0]} to {LAYERS[1]} layers, not {self.layers}: fewer cannot "
                "go from light to dark, more would tire the paper."
            )
        if not 1 <= self.paints <= MOST_PAINTS:
            raise RequestError(f"Ask for 1 to {MOST_PAINTS} paints, not {self.paints}.")
        if self.puddles is not None and self.puddles < 1:
            raise RequestError("A plan needs at least one puddle.")
        if self.washes is not None and self.washes < self.layers:
            raise RequestError("A plan needs at least one wash for each layer.")
        if not 0.0 <= self.hand <= 1.0:
            raise RequestError("A hand errs by 0 (never) to 1 (wildly); 0.2 is usual.")
        if not 0 <= self.touches <= 500:
            raise RequestError("Ask for 0 to 500 fine strokes.")
        if self.hours is not None and not HOURS[0] <= self.hours <= HOURS[1]:
            raise RequestError("Allow between a quarter of an hour and 500 hours at the board.")
        if not PAINTS_PER_PUDDLE[0] <= self.paints_per_puddle <= PAINTS_PER_PUDDLE[1]:
            raise RequestError("A puddle holds 1 to 6 paints; three at most stay clear.")
        if not 1 <= self.shapes <= 2000:
            raise RequestError("Ask for 1 to 2000 shapes.")
        if not (1.0 <= self.min_area_mm2 <= 10_000 and 0.5 <= self.min_width_mm <= 50):
            raise RequestError(
                "The smallest shape must be 1 to 10000 mm² and the narrowest 0.5 to 50 mm wide."
            )

    @property
    def first_washes(self) -> int:
        """How many colours the first layer may hold where washes are limited, dropped-in ones
        included: a quarter of all washes, but no more than a painter keeps wet.
        """
        return LAY_IN[1] if self.washes is None else int(np.clip(self.washes // 4, *LAY_IN))

    def _check_say(self) -> None:
        if not 0.0 <= self.handling <= MOST_HANDLING:
            raise RequestError(
                f"Handling counts from 0 (not at all) to {MOST_HANDLING:g} times the usual, "
                f"not {self.handling:g}."
            )
        if self.darkest_step is not None and not 1 <= self.darkest_step <= 10:
            raise RequestError(
                f"Value steps run from 1 (darkest) to 10 (paper white), not {self.darkest_step}."
            )
        for key, share in self.caps:
            if not (math.isfinite(share) and 0.0 < share <= 1.0):
                raise RequestError(
                    f"The largest share of {key} in a puddle lies above 0 and at most 1, not "
                    f"{share:g}; to leave a paint out, ban it."
                )

    def for_shapes(self) -> ShapeLimits:
        """The same limits as the picture part needs them."""
        return ShapeLimits(
            count=self.shapes,
            levels=self.layers,
            min_area_mm2=self.min_area_mm2,
            min_width_mm=self.min_width_mm,
        )


def usable_paints(
    paints: tuple[Paint, ...], limits: Limits, preferred: Collection[str] = ()
) -> tuple[Paint, ...]:
    """The paints a plan may use: without black and white unless those are asked for.

    preferred: keys of paints that the painter asks for by name, black and white too.

    Raises PaintError if the paints cannot make a plan.
    """
    _check(paints)
    if limits.black_and_white:
        return paints
    kept = tuple(p for p in paints if not is_black_or_white(p) or p.key in preferred)
    if not kept:
        raise PaintError(
            "The set holds only black and white, which a transparent plan leaves out unless "
            "asked; add a colour, or ask for black and white."
        )
    return kept


def is_black_or_white(paint: Paint) -> bool:
    """Whether every pigment is a black or a white by its Colour Index name."""
    return bool(paint.pigments) and all(n.startswith(("PBk", "PW")) for n in paint.pigments)


def _check(paints: tuple[Paint, ...]) -> None:
    if not paints:
        raise PaintError("The set holds no paint; add at least one.")
    keys = [p.key for p in paints]
    double = sorted({k for k in keys if keys.count(k) > 1})
    if double:
        raise PaintError(f"The set names {', '.join(double)} twice; leave one of each.")
