"""Lightness as painters use it: value steps, and a space where distances look even."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import as_float, check_last_axis
from firstwash.language import mark, tr, tr_count

__all__ = ["HALF", "even_space", "steps_words", "value_step", "value_steps_agree"]

STEP = 10.0  # L* of one value step of ten
# Where one word gives way to the next, L*; common practice, no source.
HALF = 4.0  # from which a difference is about half a value step
WHOLE = 7.5  # from which it is about a whole one
COUNTS = (
    mark("one"), mark("two"), mark("three"), mark("four"), mark("five"), mark("six"),
    mark("seven"), mark("eight"), mark("nine"),
)  # fmt: skip


def value_step(lightness: ArrayLike, steps: int = 10) -> NDArray[np.int64]:
    """Value step 1 (darkest) … `steps` (paper white) of L* in [0, 100], equal parts of L*."""
    part = np.floor(as_float(lightness) / (100.0 / steps)).astype(np.int64)
    return np.clip(part, 0, steps - 1) + 1


def value_steps_agree(lightness_1: ArrayLike, lightness_2: ArrayLike, steps: int = 5) -> float:
    """Share (0-1) of places where two L* planes fall into the same of `steps` value steps."""
    return float(np.mean(value_step(lightness_1, steps) == value_step(lightness_2, steps)))


def steps_words(lightness: float) -> str:
    """A difference of L* (0 or more) in value steps: "a touch", "one value step"."""
    if lightness < HALF:
        return tr("a touch")
    if lightness < WHOLE:
        return tr("half a value step")
    count = min(max(1, round(lightness / STEP)), len(COUNTS))
    number = tr(COUNTS[count - 1])
    return tr_count("{number} value step", "{number} value steps", count, number=number)


def even_space(lab: ArrayLike) -> NDArray[np.float32]:
    """CIELAB (..., 3) with chroma compressed so that equal distances look about equal.

    Chroma becomes ln(1 + 0.045·C)/0.045, the integral of 1/SC of CIEDE2000, hue angle
    kept; lightness is left alone. Good enough to group similar colours, not to judge them.
    """
    values = as_float(lab)
    check_last_axis(values, 3, "lab")
    chroma = np.hypot(values[..., 1], values[..., 2])
    squeezed = np.log1p(0.045 * chroma) / 0.045
    gain = np.divide(squeezed, chroma, out=np.ones_like(chroma), where=chroma > 1e-9)
    out = np.array(values, dtype=np.float32)
    out[..., 1:] *= gain[..., None].astype(np.float32)
    return out
