"""How far the painting is from its reference, in a painter's words."""

from typing import Final

import numpy as np

from firstwash.arrays import BoolArray, FloatArray
from firstwash.language import mark, tr

__all__ = ["difference_words", "share_words"]

SHARES: Final = (
    (0.015, mark("hardly any")),
    (0.035, mark("a fortieth")),
    (0.075, mark("a twentieth")),
    (0.14, mark("a tenth")),
    (0.225, mark("a fifth")),
    (0.29, mark("a quarter")),
    (0.42, mark("a third")),
    (0.58, mark("half")),
    (0.71, mark("two thirds")),
    (0.85, mark("three quarters")),
    (0.97, mark("nearly all")),
    (1.01, mark("all")),
)  # the fraction a share below each figure is nearest to
PLACES: Final = (
    ("the upper left", "the middle of the top", "the upper right"),
    ("the left side", "the middle", "the right side"),
    ("the lower left", "the middle of the bottom", "the lower right"),
)
# Own judgement.
WORTH_A_WORD: Final = 0.015  # share of the sheet
MOST: Final = 0.5  # of what is off, in one ninth of the sheet, for that place to be named
LEANS: Final = 0.5  # of a difference that lightness must make up to be what is told


def share_words(share: float) -> str:
    """A share (0-1) as people say it: "a quarter"."""
    return tr(next(word for below, word in SHARES if share < below))


def difference_words(shares: FloatArray, off: BoolArray, change: FloatArray) -> str:
    """A sentence or two about what is close, half a value step off and clearly off.

    shares: (3,) of the sheet, 0-1. off: (rows, cols) where it is clearly off. change:
    (rows, cols, 3) CIELAB of the painting less that of the reference.
    """
    close, half, clear = (float(s) for s in shares)
    first = f"{_of_the_sheet(close)} comes close to the reference"
    if half >= WORTH_A_WORD:
        first += f"; {share_words(half)} of it is off by about half a value step"
        first += ", or as much in colour"
    if clear < WORTH_A_WORD:
        return f"{first}. Hardly anything is further off."
    return f"{first}. {_of_the_sheet(clear)} is clearly off, {_where(off)}: {_how(off, change)}."


def _of_the_sheet(share: float) -> str:
    words = share_words(share)
    return f"{words[0].upper()}{words[1:]} of the sheet"


def _where(off: BoolArray) -> str:
    """The ninth of the sheet that most of it lies in, if there is one."""
    rows, cols = off.shape
    y, x = np.nonzero(off)
    ninth = (3 * y // rows) * 3 + 3 * x // cols
    count = np.bincount(ninth, minlength=9)
    if count.max() < MOST * count.sum():
        return "in several places"
    row, col = divmod(int(count.argmax()), 3)
    return f"most of it in {PLACES[row][col]}"


def _how(off: BoolArray, change: FloatArray) -> str:
    mean = change[off].mean(axis=0)
    size = float(np.linalg.norm(change[off], axis=1).mean())
    if abs(mean[0]) < LEANS * size:
        return "there the colour differs more than the value"
    return f"there the painting is {'lighter' if mean[0] > 0 else 'darker'} than the reference"
