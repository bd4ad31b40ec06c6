"""Answers to the exercise sheets, for the teacher: one way, and not the only good one."""

from collections.abc import Iterator, Sequence
from typing import Final

from firstwash.handout.words import change_words, washes_by_puddle
from firstwash.language import mark, tr
from firstwash.pack.words import painted_layers
from firstwash.picture.reference import Reference
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.sheets.front import white_words
from firstwash.sheets.pages import (
    Pages,
    bullets,
    heading,
    page_of,
    para,
    soft,
    strong,
    table_of,
)
from firstwash.sheets.puddle_rows import paint_words, span_words
from firstwash.sheets.told import layer_title

__all__ = ["answers_page"]

PAPER: Final = {
    "wet-on-dry": mark("Dry"),
    "wet-in-wet": mark("Wet"),
    "graded": mark("Dry, graded"),
    "glaze": mark("Dry, over paint"),
    "dry-brush": mark("Dry, dry-brush"),
    "touch": mark("Dry, touches"),
}  # the short answer to how each technique finds the paper


def answers_page(plan: Plan, reference: Reference) -> Pages:
    """What this plan answers to the exercise: the whites, the first wash, every layer's puddles."""
    told = [
        heading(1, tr("Answers to the exercise")),
        para(
            tr(
                "What this plan does. Another answer is good if the values come out and the "
                "whites stay; ask for the reason. Values run from 1, the darkest, to 10, white "
                "paper; the shading in five values is on the values page of the students' book."
            )
        ),
        bullets([f"#{soft(words)}" for words in _first_answers(plan, reference)]),
    ]
    for layer in painted_layers(plan):
        told += [heading(2, layer_title(plan, layer)), _table(plan, layer)]
    return page_of(told)


def _first_answers(plan: Plan, reference: Reference) -> Iterator[str]:
    yield tr("Whites: {words}", words=white_words(plan, reference))
    layers = painted_layers(plan)
    if layers:
        largest = max(plan.washes_of(layers[0]), key=lambda w: w.area_mm2)
        yield tr(
            "First wash: most of the sheet begins with puddle {puddle} ({change}).",
            puddle=plan.puddles[largest.puddle].name,
            change=change_words(largest, plan),
        )
    yield tr("Light and shadows: let the class point at the photo; cast shadows lead to the light.")


def _table(plan: Plan, layer: int) -> str:
    """Puddles of a layer, the largest first, as the exercise asks for them."""
    heads = (tr("Puddle"), tr("Paints, and how much of each"), tr("Value"), tr("Wet or dry paper"))
    return table_of(heads, "auto, 3.4fr, 16mm, 32mm", _rows(plan, layer))


def _rows(plan: Plan, layer: int) -> Iterator[Sequence[str]]:
    for q, washes in washes_by_puddle(plan.washes_of(layer)):
        puddle = plan.puddles[q]
        yield (
            strong(puddle.name),
            paint_words(plan, puddle),
            f"#{soft(span_words([w.value_step for w in washes]))}",
            f"#{soft(_how(washes))}",
        )


def _how(washes: Sequence[Wash]) -> str:
    """On which paper most of a puddle's paint is laid in one layer."""
    most = max(washes, key=lambda w: w.area_mm2)
    return tr("Wet, dropped in") if most.into is not None else tr(PAPER[most.technique])
