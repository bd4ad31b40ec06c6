"""How far a local colour is from the true one, apart from a factor in every small window.

Source: [Grosse2009], the local mean squared error (LMSE): how bright a picture's light is as a
whole nobody can tell from the picture, so every window is allowed its own best factor. Windows
of 20 pixels side by side with half a window's overlap, as there.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray

__all__ = ["STEP", "WINDOW", "lmse", "rank_correlation"]

WINDOW: Final = 20  # px
STEP: Final = WINDOW // 2


def lmse(
    truth: FloatArray, guess: FloatArray, valid: BoolArray, window: int = WINDOW
) -> float:  # fmt: skip
    """Local scale-invariant error of a guessed reflectance: 0 is perfect, 1 as bad as black.

    truth, guess: (rows, cols) or (rows, cols, channels), one factor per window for all channels
    together, so a wrong hue counts; valid: (rows, cols), where a truth exists. A window larger
    than the picture is the picture.
    """
    shape = (*valid.shape, -1)
    keep = valid[..., None]
    true = np.where(keep, truth.reshape(shape), 0.0).astype(np.float64)
    told = np.where(keep, guess.reshape(shape), 0.0).astype(np.float64)
    sides = min(window, valid.shape[0]), min(window, valid.shape[1])
    tt, te, ee = (
        _window_sums((a * b).sum(axis=-1), sides)
        for a, b in ((true, true), (true, told), (told, told))
    )
    left = tt - np.divide(te * te, ee, out=np.zeros_like(te), where=ee > 1e-12)
    return float(np.maximum(left, 0.0).sum() / max(float(tt.sum()), 1e-12))


def _window_sums(plane: FloatArray, sides: tuple[int, int]) -> NDArray[np.float64]:
    """Sums of a plane (rows, cols) over windows that start every half window."""
    total = np.zeros((plane.shape[0] + 1, plane.shape[1] + 1))
    total[1:, 1:] = plane.cumsum(axis=0).cumsum(axis=1)
    tops = np.arange(0, plane.shape[0] - sides[0] + 1, max(sides[0] // 2, 1))[:, None]
    lefts = np.arange(0, plane.shape[1] - sides[1] + 1, max(sides[1] // 2, 1))[None, :]
    ends = tops + sides[0], lefts + sides[1]
    inside = total[ends[0], ends[1]] - total[tops, ends[1]] - total[ends[0], lefts]
    return np.asarray(inside + total[tops, lefts])


def rank_correlation(a: FloatArray, b: FloatArray) -> float:
    """Spearman's rank correlation of two lists of equal length, -1 to 1; 0 where one is constant.

    Source: [Spearman1904]; ties share their mean rank.
    """
    first, second = _ranks(a), _ranks(b)
    if first.std() == 0.0 or second.std() == 0.0:
        return 0.0
    return float(np.corrcoef(first, second)[0, 1])


def _ranks(values: FloatArray) -> NDArray[np.float64]:
    _, where, counts = np.unique(values.ravel(), return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(counts) - 0.5 * (counts - 1.0))[where])
