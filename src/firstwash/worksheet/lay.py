"""Many stacks of paint worked out at once."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.slopes import see_stacks
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint

__all__ = ["labs_of", "reflectances_of"]


def reflectances_of(
    paper: Paper, paints: Sequence[Paint], amounts: FloatArray
) -> NDArray[np.float64]:
    """Reflectance (n, 36) of dry stacks; amounts (n, coats, paints) bottom to top, ≥ 0."""
    k, s = (np.array([getattr(p, name) for p in paints]) for name in ("k", "s"))
    given = np.asarray(amounts, dtype=np.float64)
    return see_stacks(paper, given @ k, given @ s).reflectance


def labs_of(paper: Paper, paints: Sequence[Paint], amounts: FloatArray) -> NDArray[np.float64]:
    """CIELAB (n, 3) under D65 of dry stacks; amounts as in `reflectances_of`."""
    return reflectance_to_lab(reflectances_of(paper, paints, amounts))
