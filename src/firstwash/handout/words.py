"""Plain words and round numbers for people at the board."""

import numpy as np

from firstwash.plan.result import Plan, Puddle, Wash

__all__ = ["area_words", "colour_words", "parts_words", "proportions", "washes_by_puddle"]

TENTHS = 10
HUES = (
    (15.0, "rose"),
    (42.0, "red"),
    (68.0, "orange"),
    (95.0, "yellow"),
    (125.0, "yellow green"),
    (175.0, "green"),
    (215.0, "blue green"),
    (250.0, "greenish blue"),
    (285.0, "blue"),
    (320.0, "violet"),
    (346.0, "purple"),
    (361.0, "rose"),
)  # CIELAB hue angles where one name gives way to the next; common practice, no source


def proportions(puddle: Puddle) -> tuple[tuple[int, int], ...]:
    """(paint, tenths) of a puddle: whole parts that add up to ten, none below one.

    Parts of each paint at its own full strength, so that a strong paint is not overrated.
    """
    amounts = np.array([a for _, a in puddle.parts])
    exact = TENTHS * amounts / amounts.sum()
    tenths = np.maximum(np.floor(exact).astype(int), 1)
    while tenths.sum() > TENTHS:
        tenths[int(np.argmax(tenths - exact))] -= 1
    while tenths.sum() < TENTHS:
        tenths[int(np.argmax(exact - tenths))] += 1
    return tuple((p, int(n)) for (p, _), n in zip(puddle.parts, tenths, strict=True))


def parts_words(puddle: Puddle, plan: Plan) -> str:
    """The recipe: "7 burnt sienna, 3 ultramarine blue", or one paint's name alone."""
    if len(puddle.parts) == 1:
        return plan.paints[puddle.parts[0][0]].name
    return ", ".join(f"{n} {plan.paints[p].name}" for p, n in proportions(puddle))


def colour_words(lab: tuple[float, float, float]) -> str:
    """A colour as a painter might call it: "pale orange", "dark greyish blue"."""
    lightness, a, b = lab
    chroma = float(np.hypot(a, b))
    hue = float(np.degrees(np.arctan2(b, a)) % 360)
    light = next(
        word
        for top, word in (
            (22, "very dark"),
            (42, "dark"),
            (68, "middle"),
            (84, "light"),
            (101, "pale"),
        )
        if lightness < top
    )
    if chroma < 5:
        return f"{light} grey"
    name = next(word for top, word in HUES if hue < top)
    if name in ("orange", "yellow") and lightness < 55 and chroma < 45:
        name = "brown" if name == "orange" else "olive brown"
    tone = "greyish " if chroma < 16 else ""
    return f"{light} {tone}{name}"


def area_words(mm2: float) -> str:
    """An area in cm² with one digit that matters: "0.3 cm²", "14 cm²"."""
    cm2 = mm2 / 100.0
    return f"{cm2:.1f} cm²" if cm2 < 10 else f"{cm2:.0f} cm²"


def washes_by_puddle(washes: list[Wash]) -> list[tuple[int, list[Wash]]]:
    """Washes of one layer gathered by puddle: the puddle that covers most comes first."""
    groups: dict[int, list[Wash]] = {}
    for wash in washes:
        groups.setdefault(wash.puddle, []).append(wash)
    return sorted(groups.items(), key=lambda item: -sum(w.area_mm2 for w in item[1]))
