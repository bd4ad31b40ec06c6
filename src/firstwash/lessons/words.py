"""What changed between two colours, in a painter's words, from their CIELAB."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.handout.words import colour_words
from firstwash.picture.values import steps_words

__all__ = [
    "GREY",
    "HARDLY",
    "article",
    "change_told",
    "chroma_change",
    "chroma_of",
    "hue_change",
    "hue_name",
    "hue_of",
    "joined",
    "value_change",
]

HARDLY: Final = "hardly changed"
GREY: Final = 5.0  # C* below which a colour is called grey, as in `handout.words`
SAME_VALUE: Final = 1.5  # L* that nobody would call a change; common practice, no source
SAME_CHROMA: Final = 2.0  # C*, in the same way
SAME_HUE: Final = 6.0  # degrees, in the same way
MUCH: Final = 10.0  # C* from which a change is called large


def article(word: str) -> str:
    """The word with "a" or "an" before it."""
    return f"{'an' if word[:1].casefold() in 'aeiou' else 'a'} {word}"


def joined(words: Sequence[str], last: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def chroma_of(lab: FloatArray) -> float:
    """C* of one CIELAB colour (3,)."""
    return float(np.hypot(lab[1], lab[2]))


def hue_of(lab: FloatArray) -> float:
    """Hue angle of one CIELAB colour (3,), degrees 0-360."""
    return float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)


def hue_name(angle: float) -> str:
    """The name of a hue by its CIELAB angle in degrees: "blue green"."""
    turn = np.radians(angle)
    words = colour_words((60.0, 45.0 * float(np.cos(turn)), 45.0 * float(np.sin(turn))))
    return words.partition(" ")[2]


def value_change(change: float) -> str:
    """A change of L*, below 0 darker: "half a value step darker"."""
    size = abs(change)
    if size < SAME_VALUE:
        return "as light"
    way = "darker" if change < 0 else "lighter"
    return f"{steps_words(size)} {way}"


def chroma_change(change: float) -> str:
    """A change of C*, below 0 greyer: "much greyer"; "" where it is not seen."""
    size = abs(change)
    if size < SAME_CHROMA:
        return ""
    way = "greyer" if change < 0 else "stronger in colour"
    return f"much {way}" if size >= MUCH else f"a little {way}" if size < 5.0 else way


def hue_change(before: FloatArray, after: FloatArray) -> str:
    """Where the hue went: "turned towards green"; "" where it did not or there is none."""
    grey = chroma_of(before) < GREY, chroma_of(after) < GREY
    if all(grey):
        return ""
    if grey[1]:
        return "gone grey"
    if grey[0]:
        return f"turned to {hue_name(hue_of(after))}"
    turn = (hue_of(after) - hue_of(before) + 180.0) % 360.0 - 180.0
    if abs(turn) < SAME_HUE:
        return ""
    there, start = hue_name(hue_of(after)), hue_name(hue_of(before))
    if there != start:
        return f"turned to {there}"
    for further in range(10, 120, 5):
        name = hue_name(hue_of(after) + np.sign(turn) * further)
        if name != there:
            return f"turned towards {name}"
    return ""


def change_told(before: FloatArray, after: FloatArray) -> str:
    """All that changed: "half a value step darker, greyer and turned towards green"."""
    told = [
        value_change(float(after[0] - before[0])),
        chroma_change(chroma_of(after) - chroma_of(before)),
        hue_change(before, after),
    ]
    if told[2] == "gone grey":  # says all that is to say of its chroma
        told[1] = ""
    words = [t for t in told if t]
    if words == ["as light"]:
        return HARDLY
    return joined(words)
