"""How one predicted colour stands to another: how much lighter or darker, and towards what.

Numbers come first; the one word, the way a colour leans, is found from where a*b* moves: a
greyish colour leans the way it moves, a strong one towards grey, its own hue, or the hue next to
it. A colour that goes to the white of the paper grows pale, which is not the same as grey.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from firstwash.arrays import FloatArray, triple
from firstwash.handout.words import colour_words
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.neutral import hue_angle

__all__ = ["HARDLY", "WAYS", "Lab", "Shift", "Way", "chroma", "shift"]

Lab = tuple[float, float, float]
Way = Literal[
    "grey", "brown", "olive", "rose", "red", "orange", "yellow", "green", "blue green", "blue",
    "violet", "pale",
]  # fmt: skip
WAYS: Final[tuple[tuple[float, Way], ...]] = (
    (20.0, "rose"),
    (48.0, "red"),
    (78.0, "orange"),
    (112.0, "yellow"),
    (192.0, "green"),
    (235.0, "blue green"),
    (305.0, "blue"),
    (340.0, "violet"),
    (361.0, "rose"),
)  # CIELAB hue angles where one name gives way to the next; common practice, no source
# Own judgement.
HARDLY: Final = 1.0  # CIEDE2000 below which nobody would call it a change
LEAST_TURN: Final = 1.0  # C* that a colour must move for a way to be named
BY_VALUE: Final = 0.15  # of the change of L*; less is a change of value and no more
COLOURED: Final = 16.0  # C* from which a colour has a hue of its own, as in `handout.words`
# Degrees that a move may miss the way to grey by, of a greyish and of a strong colour; and the way
# outward, by which a strong one only grows stronger. Past those a strong hue turns to the next.
TO_GREY: Final = 40.0
TO_GREY_STRONG: Final = 50.0
OUTWARD: Final = 40.0
TO_PAPER: Final = 35.0  # degrees of CIELAB that a move may miss the paper by and still go there
HUELESS: Final = 5.0  # C* below which a colour is called a grey, as in `handout.words`
EARTHS: Final[dict[Way, tuple[Way, ...]]] = {
    "brown": ("red", "orange", "yellow"),
    "olive": ("yellow", "green"),
}


@dataclass(frozen=True)
class Shift:
    """A colour beside another.

    lab: CIELAB (D65) of the one. seen: CIEDE2000 between them. lightness, chroma: L* and C* of the
    one less those of the other. turn: CIELAB hue angle, degrees 0-360, of the way a*b* moves.
    towards: that way by name, None where it only changes in value or hardly at all.
    """

    lab: Lab
    seen: float
    lightness: float
    chroma: float
    turn: float
    towards: Way | None


def chroma(lab: FloatArray | Lab) -> float:
    """C* of a CIELAB colour (3,)."""
    return float(np.hypot(lab[1], lab[2]))


def shift(plain: FloatArray | Lab, moved: FloatArray | Lab, paper: FloatArray | Lab) -> Shift:
    """How the CIELAB colour `moved` (3,) stands to `plain` (3,) on a paper of that colour (3,)."""
    a, b = float(moved[1] - plain[1]), float(moved[2] - plain[2])
    seen = float(delta_e_2000(np.asarray(moved), np.asarray(plain)))
    return Shift(
        lab=triple(np.asarray(moved)),
        seen=seen,
        lightness=float(moved[0] - plain[0]),
        chroma=chroma(moved) - chroma(plain),
        turn=hue_angle(a, b),
        towards=_way(plain, moved, paper) if seen >= HARDLY else None,
    )


def _way(plain: FloatArray | Lab, moved: FloatArray | Lab, paper: FloatArray | Lab) -> Way | None:
    a, b = float(moved[1] - plain[1]), float(moved[2] - plain[2])
    far = float(np.hypot(a, b))
    if far < max(LEAST_TURN, BY_VALUE * abs(float(moved[0] - plain[0]))):
        return None
    turn, hue = hue_angle(a, b), hue_angle(float(plain[1]), float(plain[2]))
    strong = chroma(plain) >= COLOURED
    inward = abs(_turned(hue + 180.0, turn))
    if chroma(plain) >= HUELESS and inward < (TO_GREY_STRONG if strong else TO_GREY):
        return "pale" if _to_paper(plain, moved, paper) else _greyer(plain, moved)
    way = _named(turn)
    if strong and abs(_turned(hue, turn)) > OUTWARD:
        way = _beside(hue, moved)
    return _earth(way, plain, moved)


def _named(hue: float) -> Way:
    return next(word for top, word in WAYS if hue % 360.0 < top)


def _beside(hue: float, moved: FloatArray | Lab) -> Way:
    """The name that a strong hue turns to: its new one, or the next in that direction."""
    now = hue_angle(float(moved[1]), float(moved[2]))
    if chroma(moved) >= HUELESS and _named(now) != _named(hue):
        return _named(now)
    step = 5.0 if _turned(hue, now) > 0.0 else -5.0
    return next(w for n in range(1, 72) if (w := _named(hue + n * step)) != _named(hue))


def _earth(way: Way, plain: FloatArray | Lab, moved: FloatArray | Lab) -> Way:
    """Brown for a colour that turns brown on its way to red, orange or yellow; olive likewise."""
    was, now = (colour_words(triple(np.asarray(lab))) for lab in (plain, moved))
    return next((e for e, ways in EARTHS.items() if e in now and e not in was and way in ways), way)


def _greyer(plain: FloatArray | Lab, moved: FloatArray | Lab) -> Way | None:
    """Grey, if it loses colour and does not merely darken.

    A deeper colour of the same strength of hue has less C*; what must fall as well is C* / L*.
    """
    share = [chroma(lab) / max(float(lab[0]), 1.0) for lab in (plain, moved)]
    return "grey" if chroma(moved) < chroma(plain) and share[1] < share[0] else None


def _to_paper(plain: FloatArray | Lab, moved: FloatArray | Lab, paper: FloatArray | Lab) -> bool:
    """Whether a colour moves straight enough towards the bare paper, and not past it."""
    move, way = np.subtract(moved, plain), np.subtract(paper, plain)
    along = float(move @ way) / max(float(np.linalg.norm(move) * np.linalg.norm(way)), 1e-12)
    near = float(np.linalg.norm(np.subtract(paper, moved)) - np.linalg.norm(way))
    return along >= float(np.cos(np.radians(TO_PAPER))) and near < 0.0 and moved[0] >= plain[0]


def _turned(one: float, other: float) -> float:
    """Degrees (-180 to 180) from one hue angle to another."""
    return (other - one + 180.0) % 360.0 - 180.0
