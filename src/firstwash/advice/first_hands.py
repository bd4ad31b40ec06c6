"""What hands that err make of an area over a first wash."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_laying import Laid, Palette
from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.hands import Painters, Slips

__all__ = ["HALF", "hand_slips", "miss_by_hand", "puddle_layers"]

HALF = 10  # painters; each has a double who errs exactly the other way [Hammersley1956]


def hand_slips(palette: Palette, sigma: float) -> Slips:
    """The same painters for every first wash: parts and load of the coat of each layer."""
    drawn = Painters(sigma, HALF).slips(palette.layers, palette.bench.colours, palette.layers)
    return Slips(
        np.concatenate([drawn.parts, -drawn.parts]), np.concatenate([drawn.loads, -drawn.loads])
    )


def miss_by_hand(palette: Palette, laid: Sequence[Laid], sigma: float) -> float:
    """Mean CIEDE2000 to expect over all patches by area.

    Parts and loads are off by sigma of their logarithms, as in `plan.hands`. Coats of the same
    paints are taken to come from one puddle, so they share its error.
    """
    slips = hand_slips(palette, sigma)
    total = 0.0
    for one in laid:
        mixed = puddle_layers(one)
        for parts, loads in zip(slips.parts, slips.loads, strict=True):
            ends = _ends(palette.bench, one, parts[mixed], loads[one.layers])
            total += float(one.patch.share @ delta_e_2000(ends, one.patch.aims))
    return total / slips.count


def puddle_layers(laid: Laid) -> NDArray[np.int64]:
    """(coats,) the layer in which each coat's paints, just those, are mixed first."""
    sets = [row.tobytes() for row in laid.amounts > 0]
    return np.array([laid.layers[sets.index(own)] for own in sets], dtype=np.int64)


def _ends(bench: Bench, laid: Laid, parts: FloatArray, loads: FloatArray) -> NDArray[np.float64]:
    """CIELAB (n, 3) of one patch as one painter paints it."""
    mixed = laid.amounts * np.exp(parts)
    asked, had = laid.amounts @ bench.loads, mixed @ bench.loads
    strength = np.exp(loads) * asked / np.maximum(had, 1e-12)
    done = np.ascontiguousarray(mixed * strength[:, None])
    if laid.strengths is None:
        return bench.labs(done)[laid.coats_of]
    return np.array([bench.labs(s * done)[1] for s in laid.strengths])
