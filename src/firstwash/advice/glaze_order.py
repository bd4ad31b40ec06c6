"""When the order of coats matters, and what makes it matter.

If paint only takes light away, the order makes no difference: light passes both coats down and up
again either way. Two things change that. Grains that scatter send light back before it has been
further down, so a coat that scatters veils what lies under it. And the first coat sinks in among
the fibres of the paper, which send some of the light back before it has met all of the paint, so
what is laid first works less strongly. Which of the two it is, is found by predicting both
orders again without one of them.
"""

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.glaze_shift import HARDLY, Shift, shift
from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench

__all__ = ["TELLS", "Order", "Where", "order_told", "over_all", "swapped"]

Where = Literal["glaze", "beneath"]

TELLS: Final = 2.0  # CIEDE2000 between two orders from which it is told, as in the glaze chart
# Own judgement.
ITS_SHARE: Final = 0.3  # of a difference that must go with a coat's scattering to be its doing
VEILED: Final = 2.5  # L* lighter with a coat on top from which it is said to veil


@dataclass(frozen=True)
class Order:
    """The same coats with the glaze laid first, under all the others.

    other: that colour beside the one painted. matters: whether the eye sees it. unscattered:
    CIEDE2000 between the orders if nothing scattered; unsoaked: if nothing sank into the paper.
    sinks: whether the first coat's sinking in alone would be seen. sunk: L* by which the lowest
    coat, alone, is lighter for that; of this order and of the other, the mean. scatters: "glaze",
    "beneath", those whose scattering makes a difference that is seen, the greater first. veils:
    the one of them that makes the whole lighter when it lies on top, or None. covers: the one of
    them that brings the whole nearer to its own colour when it lies on top, or None.
    """

    other: Shift
    matters: bool
    unscattered: float
    unsoaked: float
    sinks: bool
    sunk: float
    scatters: tuple[Where, ...]
    veils: Where | None
    covers: Where | None


def over_all(bench: Bench, amounts: FloatArray) -> NDArray[np.float64]:
    """CIELAB (3,) of the finished stack; amounts (coats, colours)."""
    return np.asarray(bench.labs(np.ascontiguousarray(amounts))[-1])


def swapped(amounts: FloatArray) -> NDArray[np.float64]:
    """The stack (coats, colours) with its last coat laid first."""
    return np.roll(amounts, 1, axis=0)


def order_told(bench: Bench, amounts: FloatArray) -> Order:
    """Both orders of a stack (coats, colours) of at least two coats, and why they differ."""
    paper, *_, plain = bench.labs(amounts)
    other = shift(plain, over_all(bench, swapped(amounts)), paper)
    matters = other.seen >= TELLS
    coats = bench.puddles(amounts)
    dry = replace(coats, sheet=(*coats.sheet[:2], 0.0, *coats.sheet[3:]))
    unscattered, unsoaked = _apart(_cleared(coats, slice(None))), _apart(dry)
    scatters = _scatterers(dry, unsoaked) if matters and unsoaked >= TELLS else ()
    return Order(
        other=other,
        matters=matters,
        unscattered=unscattered,
        unsoaked=unsoaked,
        sinks=matters and unscattered >= TELLS,
        sunk=_sunk(coats, dry),
        scatters=scatters,
        veils=next((who for who in scatters if _lighter_on_top(who, other) >= VEILED), None),
        covers=next((who for who in scatters if _nearer_on_top(who, coats, other) >= HARDLY), None),
    )


def _apart(coats: Bench) -> float:
    """CIEDE2000 between the two orders; coats: one colour for each, bottom to top."""
    one = np.eye(coats.colours)
    return float(delta_e_2000(over_all(coats, one), over_all(coats, swapped(one))))


def _sunk(coats: Bench, dry: Bench) -> float:
    """L* by which the coat that is laid first is lighter for sinking in, the mean of both ends."""
    ends = np.eye(coats.colours)[[0, -1], None]
    gains = [over_all(coats, one)[0] - over_all(dry, one)[0] for one in ends]
    return float(np.mean(gains))


def _cleared(coats: Bench, which: slice) -> Bench:
    """The coats as they were if some of them scattered no light."""
    s = np.array(coats.s)
    s[which] = 0.0
    return replace(coats, s=s)


def _scatterers(coats: Bench, apart: float) -> tuple[Where, ...]:
    """Those whose scattering parts the two orders, the one with the greater share first.

    A coat's share is the mean of what its scattering adds alone and of what it adds to the
    other's (Shapley's value of two); the shares make up the whole, so one always has a half.
    """
    upper, lower = slice(-1, None), slice(None, -1)
    only_upper, only_lower = _apart(_cleared(coats, lower)), _apart(_cleared(coats, upper))
    of_upper = 0.5 * (only_upper + apart - only_lower)
    shares: list[tuple[float, Where]] = [(of_upper, "glaze"), (apart - of_upper, "beneath")]
    own = sorted((s for s in shares if s[0] >= ITS_SHARE * apart), key=lambda s: -s[0])
    return tuple(where for _, where in own)


def _lighter_on_top(where: Where, other: Shift) -> float:
    """L* by which the whole is lighter with the glaze, or with what is beneath, on top."""
    return -other.lightness if where == "glaze" else other.lightness


def _nearer_on_top(where: Where, coats: Bench, other: Shift) -> float:
    """CIEDE2000 by which the whole is nearer to a coat's own colour with that coat on top."""
    one = np.eye(coats.colours)
    own = over_all(coats, one[-1:] if where == "glaze" else one[:-1])
    as_laid, turned = over_all(coats, one), np.array(other.lab)
    nearer = float(delta_e_2000(turned, own)) - float(delta_e_2000(as_laid, own))
    return nearer if where == "glaze" else -nearer
