"""The fine strokes laid last: for each puddle a map of its own, how many, value and recipe."""

from collections.abc import Sequence
from typing import Final

from firstwash.handout.steps import strokes_words
from firstwash.handout.words import colour_words
from firstwash.language import tr
from firstwash.picture.values import value_step
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.pages import both, kept_whole, para, picture, stacked
from firstwash.sheets.puddle_rows import letter_words, paint_words, span_words

__all__ = ["fine_stroke_maps"]

BESIDE: Final = 1.9  # width over height from which a map has a row of its own


def fine_stroke_maps(ready: Drawn) -> tuple[list[str], dict[str, bytes]]:
    """Blocks of markup, one for two puddles, and their pictures; nothing for no strokes."""
    plan = ready.plan
    by: dict[int, list[Touch]] = {}
    for touch in plan.touches:
        if touch.puddle is not None:
            by.setdefault(touch.puddle, []).append(touch)
    files: dict[str, bytes] = {}
    units = []
    for q in sorted(by):
        name, svg = ready.strokes_map(q)
        files[name] = svg
        units.append(_unit(plan, q, by[q], name))
    if plan.sheet.width_mm / plan.sheet.height_mm >= BESIDE:
        return [kept_whole(unit, "1.4em") for unit in units], files
    rows = [(*units[i : i + 2], "")[:2] for i in range(0, len(units), 2)]
    return [
        kept_whole(both(left, right, "1fr, 1fr", "8mm"), "1.4em") for left, right in rows
    ], files


def _unit(plan: Plan, q: int, own: Sequence[Touch], name: str) -> str:
    puddle = plan.puddles[q]
    steps = [int(value_step(t.lab[0])) for t in own]
    alt = tr("Map of the fine strokes from puddle {puddle}", puddle=puddle.name)
    told = [
        para(f"{strokes_words(own)}. {_ends(own, steps)}"),
        f"#par[{paint_words(plan, puddle)}]",
    ]
    words = both(letter_words(puddle), stacked(told, "2mm"), "9mm, 1fr", "2mm")
    return stacked([picture(name, alt, frame=False), words], "2.5mm")


def _ends(own: Sequence[Touch], steps: Sequence[int]) -> str:
    """What the strokes read as on the sheet: "On the sheet they read value 3, dark brown."."""
    middle = own[len(own) // 2]
    return tr(
        "On the sheet they read value {value}, {colour}.",
        value=span_words(steps), colour=colour_words(middle.lab),
    )  # fmt: skip
