"""Plain words and round numbers for people at the board."""

from collections.abc import Sequence

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.language import listed, mark, tr, tr_count
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, light
from firstwash.picture.values import value_step
from firstwash.plan.board.amounts import whole_parts
from firstwash.plan.result import Plan
from firstwash.plan.wash import Puddle, Wash

__all__ = [
    "area_words",
    "change_of",
    "change_words",
    "colour_words",
    "palette_words",
    "parts_words",
    "proportions",
    "puddles_words",
    "unsure_steps",
    "unsure_words",
    "washes_by_puddle",
]

HUES = (
    (15.0, mark("rose")),
    (42.0, mark("red")),
    (68.0, mark("orange")),
    (113.0, mark("yellow")),
    (145.0, mark("yellow green")),
    (172.0, mark("green")),
    (215.0, mark("blue green")),
    (250.0, mark("greenish blue")),
    (312.0, mark("blue")),
    (325.0, mark("violet")),
    (346.0, mark("purple")),
    (361.0, "rose"),
)  # CIELAB hue angles where one name gives way to the next; common practice, no source
# CIELAB bends blues towards violet: strong ultramarine and dioxazine violet share an angle.
# CIELUV keeps them apart; the angle lies between those two paints. [CIE15] for CIELUV.
VIOLET_FROM_LUV = 270.5
LIGHTS = (
    (22, mark("very dark")),
    (42, mark("dark")),
    (68, mark("middle")),
    (84, mark("light")),
    (101, mark("pale")),
)  # L* below
PAPER_WITHIN = 1.0  # CIEDE2000 from the bare sheet that nobody would call a colour


def proportions(puddle: Puddle) -> tuple[tuple[int, int], ...]:
    """(paint, parts) of a puddle: the fewest whole parts that keep its colour.

    Parts of each paint at its own full strength, so that a strong paint is not overrated:
    a trace of one stays a trace.
    """
    parts = whole_parts([a for _, a in puddle.parts])
    return tuple((p, n) for (p, _), n in zip(puddle.parts, parts, strict=True))


def palette_words(plan: Plan) -> str:
    """How good the choice of paints is and what that covers; "" where none was made."""
    worth = plan.report.palette
    if worth is None:
        return ""
    other = f"{len(plan.paints)} of the {worth.compared} paints compared"
    if worth.gap <= 0.0:
        best = f"No other {other} mix this picture's colours closer"
    else:
        best = f"No other {other} mix this picture's colours more than {worth.gap:.1%} closer"
    return (
        f"{best}: {worth.score:.1f} off on average, {worth.whole:.1f} with all of them. "
        f"{worth.covers}"
    )


def parts_words(puddle: Puddle, plan: Plan) -> str:
    """The recipe: "7 burnt sienna, 3 ultramarine blue", or one paint's name alone."""
    if len(puddle.parts) == 1:
        return plan.paints[puddle.parts[0][0]].name
    return ", ".join(f"{n} {plan.paints[p].name}" for p, n in proportions(puddle))


def puddles_words(letters: Sequence[str]) -> str:
    """Puddles by letter: "puddle C", "puddles A and C"."""
    return tr_count("puddle {letters}", "puddles {letters}", len(letters), letters=listed(letters))


def colour_words(lab: tuple[float, float, float]) -> str:
    """A colour as a painter might call it: "pale orange", "dark greyish blue"."""
    lightness, a, b = lab
    chroma = float(np.hypot(a, b))
    tone = next(word for top, word in LIGHTS if lightness < top)
    if chroma < 5:
        return tr("near white") if lightness >= 90 else tr("{tone} grey", tone=tr(tone))
    if chroma < 12 and lightness < 22:
        return tr("near black")
    name = _hue_word(lab, chroma)
    if chroma >= 16:
        return tr("{tone} {hue}", tone=tr(tone), hue=tr(name))
    hue = tr(name.removeprefix("greenish "))
    return tr("{tone} greyish {hue}", tone=tr(tone), hue=hue)


def _hue_word(lab: tuple[float, float, float], chroma: float) -> str:
    """The hue's English name; translated where it is put together with the tone."""
    lightness, a, b = lab
    hue = float(np.degrees(np.arctan2(b, a)) % 360)
    name = next(word for top, word in HUES if hue < top)
    if name == "blue" and _luv_hue(lab) > VIOLET_FROM_LUV:
        return "violet"
    if name == "red" and lightness >= 72:
        return mark("pink")
    if name == "red" and hue >= 25 and lightness < 45 and chroma < 52:
        return mark("red brown")
    if name == "orange" and lightness < 55 and chroma < 52:
        return mark("brown")
    if name == "yellow" and lightness < 60:
        return mark("olive brown") if hue < 90 else mark("olive")
    return name


def _luv_hue(lab: tuple[float, float, float]) -> float:
    """CIELUV hue angle, degrees, under D65. Source: [CIE15]."""
    white = light("D65").white
    u, v = _chromaticity(lab_to_xyz(lab)) - _chromaticity(white)
    return float(np.degrees(np.arctan2(v, u)) % 360)


def _chromaticity(xyz: FloatArray) -> FloatArray:
    """u′, v′ of XYZ (3,)."""
    x, y, z = (float(v) for v in xyz)
    return np.array([4.0 * x, 9.0 * y]) / (x + 15.0 * y + 3.0 * z)


def change_of(wash: Wash, plan: Plan) -> tuple[str, str]:
    """What a wash finds and what it leaves: ("paper", "light orange")."""
    paper = float(delta_e_2000(wash.before, plan.stage_labs[0][0])) < PAPER_WITHIN
    return tr("paper") if paper else colour_words(wash.before), colour_words(wash.after)


def change_words(wash: Wash, plan: Plan) -> str:
    """What a wash does to the sheet: "paper to light orange"."""
    before, after = change_of(wash, plan)
    if before != after:
        return tr("{before} to {after}", before=before, after=after)
    if wash.after[0] < wash.before[0]:
        return tr("{colour}, a little darker", colour=after)
    return tr("{colour}, a little changed", colour=after)


def area_words(mm2: float) -> str:
    """An area with the digits that matter: "4 mm²", "0.3 cm²", "14 cm²"."""
    if mm2 < 9.5:
        return f"{mm2:.0f} mm²"
    cm2 = mm2 / 100.0
    return f"{cm2:.1f} cm²" if cm2 < 9.95 else f"{cm2:.0f} cm²"


def unsure_steps(lightness: FloatArray) -> tuple[int, int]:
    """Value steps a test stroke may dry to, from the low and high L* of its range (2,)."""
    low, high = (int(step) for step in value_step(np.asarray(lightness)))
    return low, high


def unsure_words(lightness: FloatArray) -> str:
    """What a test stroke may dry to, from the low and high L* of its range (2,)."""
    low, high = unsure_steps(lightness)
    return f"strongest: {low}" if low == high else f"strongest: {low} to {high}"


def washes_by_puddle(washes: list[Wash]) -> list[tuple[int, list[Wash]]]:
    """Washes of one layer gathered by puddle: the puddle that covers most comes first."""
    groups: dict[int, list[Wash]] = {}
    for wash in washes:
        groups.setdefault(wash.puddle, []).append(wash)
    return sorted(groups.items(), key=lambda item: -sum(w.area_mm2 for w in item[1]))
