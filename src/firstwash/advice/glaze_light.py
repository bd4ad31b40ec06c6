"""What becomes of the light, third by third of the spectrum, as paint is laid over paint.

The spectrum is told in three parts: the blue end 380-490 nm, the green middle 500-590 nm, the
red end 600-730 nm, bands of the grid included (blue, green and red thirds are the usual model
of the printing trade, parted near 500 and 600 nm; from memory). Within a third every band counts
as the eye weighs it under D65. What the surface throws back before any paint is met counts for
nothing, so a black has no light and the bare paper has all of it.

Of the light that a coat sends up, some has been down to what lies under it and some has only met
the coat's own grains. The second is what the coat would send back over a perfect black; a
transparent coat has none.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.kubelka import slab
from firstwash.optics.observer import light
from firstwash.optics.surface import Paper, leave_surface

__all__ = [
    "ENDS_NM",
    "THIRDS",
    "Amount",
    "LightTold",
    "Third",
    "Thirds",
    "amount_of",
    "light_told",
    "thirds_of",
]

Third = Literal["blue", "green", "red"]
Thirds = tuple[float, float, float]
"""Shares of the blue, green and red third."""

THIRDS: Final[tuple[Third, ...]] = ("blue", "green", "red")
ENDS_NM: Final = ((380, 490), (500, 590), (600, 730))
Amount = Literal["hardly any", "a little", "some", "most", "nearly all"]
AMOUNTS: Final[tuple[tuple[float, Amount], ...]] = (
    (0.06, "hardly any"),
    (0.22, "a little"),
    (0.55, "some"),
    (0.85, "most"),
    (np.inf, "nearly all"),
)  # shares of the light below which a word holds; own judgement


@dataclass(frozen=True)
class LightTold:
    """The light in each third of the spectrum, as shares of what the bare paper sends back.

    under: what lies beneath sends back. passed: what of that still comes up through the glaze,
    at most `under`. own: what the glaze sends back by itself, over a black. after: both, what is
    seen. taken: share (0-1) of `under` that the glaze keeps from coming up.
    """

    under: Thirds
    passed: Thirds
    own: Thirds
    after: Thirds
    taken: Thirds


def amount_of(share: float) -> Amount:
    """The word for a share of the light, 0 or more."""
    return next(word for top, word in AMOUNTS if share < top)


def thirds_of(bands: FloatArray, paper: FloatArray) -> Thirds:
    """Light of `bands` (36,) in each third, against that of `paper` (36,), as the eye weighs it."""
    seen = light("D65").weights.sum(axis=1)
    inside = [(low <= WAVELENGTHS_NM) & (high >= WAVELENGTHS_NM) for low, high in ENDS_NM]
    blue, green, red = (float(seen[i] @ bands[i]) / float(seen[i] @ paper[i]) for i in inside)
    return blue, green, red


def light_told(paper: Paper, spectra: FloatArray, kx: FloatArray, sx: FloatArray) -> LightTold:
    """The light under a glaze and over it.

    spectra: (3, 36) reflectance of the bare paper, of what lies under the glaze, and of all.
    kx, sx: (36,) optical depths of the glaze. On bare paper the glaze sinks in among the fibres;
    its own light is then that of the part that does not.
    """
    below = spectra - paper.k1
    own = np.minimum(_over_black(paper, kx, sx, bool(np.allclose(*spectra[:2]))), below[2])
    told = [thirds_of(bands, below[0]) for bands in (below[1], below[2] - own, own, below[2])]
    under, passed, alone, after = told
    gone = [1.0 - p / u if u > 0.0 else 0.0 for p, u in zip(passed, under, strict=True)]
    taken = np.clip(gone, 0.0, 1.0).tolist()
    return LightTold(under, passed, alone, after, (taken[0], taken[1], taken[2]))


def _over_black(paper: Paper, kx: FloatArray, sx: FloatArray, first: bool) -> NDArray[np.float64]:
    """What a coat sends back over a perfect black (36,), its surface's own glare left out."""
    on_top = 1.0 - paper.soak if first else 1.0
    r, _ = slab(on_top * kx, on_top * sx)
    return leave_surface(r, paper.k1, paper.k2) - paper.k1
