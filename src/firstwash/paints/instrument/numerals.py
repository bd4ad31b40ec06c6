"""Words of a file as numbers: plain decimals only, with a point or a comma."""

import re
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["first_bad", "numbers"]

_NO_NUMBER: Final = re.compile(r"[^0-9eE+\-.;]")  # float() alone would take nan, inf and 1_0


def numbers(words: Sequence[str]) -> NDArray[np.float64]:
    """(n,) the words as finite numbers; ValueError if one of them is none."""
    text = ";".join(words).replace(",", ".")
    if _NO_NUMBER.search(text):
        raise ValueError("letters in a number")
    values = np.array([float(word) for word in text.split(";")])
    if len(values) != len(words) or not np.isfinite(values).all():
        raise ValueError("not one finite number per word")
    return values


def first_bad(words: Sequence[str]) -> str:
    """The first word that is no number; empty if there is none."""
    for word in words:
        try:
            numbers([word])
        except ValueError:
            return word
    return ""
