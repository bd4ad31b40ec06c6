"""Colours and sizes as the page tells them: a hex code for the screen, words for the painter."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.handout.reasons import lean_word
from firstwash.handout.steps import edges_words
from firstwash.handout.words import area_words, colour_words
from firstwash.language import listed, tr
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_srgb8
from firstwash.picture.places import place_words
from firstwash.picture.values import HALF, steps_words, value_step
from firstwash.plan.neutral import hue_angle
from firstwash.plan.reasons import warmth
from firstwash.plan.wash import Wash

__all__ = [
    "Colour",
    "Numbers",
    "Units",
    "apart_words",
    "area_told",
    "cell_places",
    "colour_of",
    "edges_told",
    "effect_words",
    "hex_of",
    "hexes",
    "lab_words",
    "lean_words",
    "length_told",
    "listed",
    "place_words",
    "sure_words",
    "width_told",
]

Units = Literal["cm", "in"]
Numbers = tuple[tuple[str, str], ...]
"""Figures for those who ask: (what it is, its value) pairs."""

MM_PER_INCH = 25.4
LEAST_EDGE_MM = 3.0  # shorter edges are not worth a word, as in `handout.steps`
# Where one word gives way to the next; all of it common practice, no source.
UNSEEN = 1.5  # CIEDE2000 that nobody sees, even side by side
FEW = 2.5  # L*, C* or warmth that a wash must change to be spoken of, as in `plan.reasons`
OTHER = 4.0  # C* or warmth by which a colour is told to be greyer or warmer than another
GREYISH = 5.0  # C* below which a colour is called a grey, as in `handout.words`


@dataclass(frozen=True)
class Colour:
    """A colour as the page shows and tells it.

    hex: "#rrggbb" (sRGB). words: "pale orange". step: value step, 1 darkest to 10 paper white.
    """

    hex: str
    words: str
    step: int


def hexes(labs: FloatArray) -> tuple[str, ...]:
    """Codes "#rrggbb" of CIELAB colours (n, 3) under D65, clipped to the screen's gamut."""
    codes = lab_to_srgb8(np.asarray(labs, dtype=np.float64).reshape(-1, 3))
    whole = bytes(np.ascontiguousarray(codes)).hex()
    return tuple(f"#{whole[i : i + 6]}" for i in range(0, len(whole), 6))


def hex_of(lab: FloatArray | tuple[float, float, float]) -> str:
    """The code "#rrggbb" of one CIELAB colour (3,)."""
    return hexes(np.asarray(lab))[0]


def colour_of(lab: FloatArray | tuple[float, float, float]) -> Colour:
    """One CIELAB colour (3,) as the page shows and tells it."""
    plain = triple(np.asarray(lab))
    return Colour(hex_of(plain), colour_words(plain), int(value_step(plain[0])))


def lab_words(lab: FloatArray | tuple[float, float, float]) -> str:
    """L*, a*, b* in whole numbers: "62, 10, 40"."""
    return ", ".join(f"{v:.0f}" for v in triple(np.asarray(lab)))


# --- how colours differ ----------------------------------------------------------


def _chroma(lab: FloatArray) -> float:
    return float(np.hypot(lab[1], lab[2]))


def apart_words(shown: FloatArray, wanted: FloatArray) -> str:
    """How a colour differs from the one wanted (3,): "one value step lighter and warmer"."""
    if float(delta_e_2000(shown, wanted)) < UNSEEN:
        return tr("the same to the eye")
    told = _lighter(float(shown[0] - wanted[0]), FEW)
    told += _other(shown, wanted, OTHER) or _hue(shown, wanted, OTHER)
    return listed(told) if told else tr("a touch {way}", way=_slight(shown, wanted))


def _hue(shown: FloatArray, wanted: FloatArray, least: float) -> list[str]:
    """Which way the hue goes where neither warmth nor strength tells: "redder"."""
    a, b = (float(shown[i] - wanted[i]) for i in (1, 2))
    return [lean_word(hue_angle(a, b))] if np.hypot(a, b) >= least else []


def _slight(shown: FloatArray, wanted: FloatArray) -> str:
    """The chief way in which two nearly like colours differ."""
    by = float(shown[0] - wanted[0])
    return (_hue(shown, wanted, abs(by)) or [tr("lighter") if by > 0 else tr("darker")])[0]


def _lighter(by: float, least: float) -> list[str]:
    if abs(by) < least:
        return []
    steps = steps_words(abs(by))
    return [tr("{steps} lighter", steps=steps) if by > 0 else tr("{steps} darker", steps=steps)]


def _other(shown: FloatArray, wanted: FloatArray, least: float) -> list[str]:
    """Greyer or stronger in colour, warmer or cooler; nothing where it is less than `least`."""
    told = []
    chroma = _chroma(shown) - _chroma(wanted)
    if abs(chroma) >= least:
        told.append(tr("stronger in colour") if chroma > 0 else tr("greyer"))
    warmer = warmth(shown) - warmth(wanted)
    if abs(warmer) >= least:
        told.append(tr("warmer") if warmer > 0 else tr("cooler"))
    return told


def lean_words(plain: FloatArray, moved: FloatArray) -> str:
    """Which way a colour (3,) goes from another: "darker and warmer"; "" for next to nothing."""
    told = []
    if abs(by := float(moved[0] - plain[0])) >= 1.0:
        told.append("lighter" if by > 0 else "darker")
    told += _other(moved, plain, 1.0)
    return listed(told) if told else "hardly any different"


def effect_words(before: FloatArray, after: FloatArray, ground: FloatArray) -> str:
    """What a coat does: "cools and darkens the pale grey beneath to middle blue".

    before, after, ground (3,): CIELAB without and with the coat, and of the bare paper.
    """
    verbs = _verbs(before, after)
    paper = float(delta_e_2000(before, ground)) < 1.0
    under = "the paper" if paper else f"the {colour_words(triple(before))} beneath"
    if not verbs:
        return f"hardly changes {under}"
    result = colour_words(triple(after))
    if paper:
        return f"tints {under} {result}"
    same = result == colour_words(triple(before))
    return f"{listed(verbs)} {under}{'' if same else f' to {result}'}"


def _verbs(before: FloatArray, after: FloatArray) -> list[str]:
    """The two strongest things a coat does."""
    lightness = float(after[0] - before[0])
    chroma = _chroma(after) - _chroma(before)
    warmer = warmth(after) - warmth(before)
    was_grey = _chroma(before) < GREYISH
    told_by_warmth = was_grey and abs(warmer) >= FEW
    stronger = "colours" if was_grey else "strengthens"
    found = (
        (abs(lightness), "darkens" if lightness < 0 else "lightens"),
        # A grey that turns warm or cool needs no second word for it.
        (0.0 if told_by_warmth else abs(chroma), stronger if chroma > 0 else "greys"),
        (abs(warmer), "warms" if warmer > 0 else "cools"),
    )
    strong = sorted((f for f in found if f[0] >= FEW), key=lambda f: -f[0])[:2]
    return [word for _, word in strong]


def sure_words(lab: FloatArray, lighter: FloatArray, darker: FloatArray) -> str:
    """How sure a colour is, from the ends (3,) of what nine of ten lie between."""
    up, down = float(lighter[0] - lab[0]), float(lab[0] - darker[0])
    most = max(up, down)
    if most < UNSEEN:
        return "close; nobody would see it side by side"
    if most < HALF:
        return "close; a touch lighter or darker, seen only side by side"
    if up > 1.5 * down:
        side = "lighter"
    elif down > 1.5 * up:
        side = "darker"
    else:
        side = "lighter or darker"
    return f"could come out {steps_words(most)} {side}"


# --- sizes and places ------------------------------------------------------------


def area_told(mm2: float, units: Units = "cm") -> str:
    """An area with the digits that matter: "14 cm²", "2.2 sq in"."""
    if units == "cm":
        return area_words(mm2)
    inches = mm2 / MM_PER_INCH**2
    if inches < 0.095:
        return "a patch smaller than a fingernail"
    return f"{inches:.1f} sq in" if inches < 9.95 else f"{inches:.0f} sq in"


def length_told(mm: float, units: Units = "cm") -> str:
    """A length with the digits that matter: "8 mm", "45 cm", "1.2 m"; "¼ inch", "4 feet"."""
    if units == "cm":
        if mm < 9.5:
            return f"{mm:.0f} mm"
        return f"{mm / 10:.0f} cm" if mm < 995 else f"{mm / 1000:.1f} m"
    inches = mm / MM_PER_INCH
    if inches < 0.95:
        return f"{_eighths(inches)} inch"
    if inches < 1.5:
        return "1 inch"
    return f"{inches:.0f} inches" if inches < 47.5 else f"{inches / 12:.0f} feet"


def _eighths(inches: float) -> str:
    """A part of an inch below 1 as a ruler shows it."""
    part = min(max(1, round(inches * 8)), 7)
    return ("⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")[part - 1]


def width_told(mm: float, units: Units = "cm") -> str:
    """The width of a stroke: "1.2 mm", "1/16 inch"."""
    if units == "cm":
        return f"{mm:.1f} mm"
    sixteenths = max(1, round(mm / MM_PER_INCH * 16))
    return "1/16 inch" if sixteenths == 1 else f"{_eighths(sixteenths / 16)} inch"


def cell_places(index: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """(count, 2) centre of every cell of an index picture (rows, cols): x, y in 0-1."""
    rows, cols = index.shape
    flat = index.ravel()
    size = np.maximum(np.bincount(flat, minlength=count), 1)
    y, x = np.divmod(np.arange(flat.size), cols)
    mean = [np.bincount(flat, weights=v, minlength=count) / size for v in (x, y)]
    return np.column_stack([(mean[0] + 0.5) / cols, (mean[1] + 0.5) / rows])


def edges_told(wash: Wash, units: Units = "cm") -> str:
    """What to do with a wash's edges: "cut in 45 cm, soften 12 cm"."""
    if units == "cm":
        return edges_words(wash)
    verbs = ("cut in", "soften", "lose")
    told = [
        f"{verb} {length_told(mm, units)}"
        for verb, mm in zip(verbs, wash.edges_mm, strict=True)
        if mm >= LEAST_EDGE_MM
    ]
    return ", ".join(told) or "no edge to mind"
