"""Why a glaze reads as it does at a touched spot: sentences, numbers, and the chart's address."""

from dataclasses import dataclass

from firstwash.advice.glaze_chart import light_chart_svg
from firstwash.advice.glaze_numbers import why_numbers
from firstwash.advice.glaze_reasons import explain_cell
from firstwash.advice.glaze_words import why_words
from firstwash.plan.result import Plan
from firstwash.worksheet.words import Numbers

__all__ = ["WhySo", "why_chart", "why_so"]


@dataclass(frozen=True)
class WhySo:
    """Why a coat makes the spot look as it does.

    gist: in one sentence; sentences: the rest, from the light of the layers to how sure it is.
    chart: name of the picture of its light. numbers: for those who ask.
    """

    gist: str
    sentences: tuple[str, ...]
    chart: str
    numbers: Numbers


def why_so(plan: Plan, cell: int, layer: int) -> WhySo:
    """Why a cell looks as it does once a layer is dry. Raises RequestError for none there."""
    why = explain_cell(plan, cell, layer)
    words = why_words(why)
    rest = tuple(s for s in words.sentences if s != words.gist)
    return WhySo(words.gist, rest, f"why-{cell}-{layer}", tuple(why_numbers(why)))


def why_chart(plan: Plan, cell: int, layer: int) -> str:
    """The small chart of the light, an SVG without script or style."""
    return light_chart_svg(explain_cell(plan, cell, layer))
