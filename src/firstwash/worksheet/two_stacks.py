"""Two stacks of glazes side by side, under several lights: where they match and where they part."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import LIGHTS
from firstwash.optics.surface import Paper
from firstwash.plan.glaze import Coat, GlazeStage, predict_glazes
from firstwash.worksheet.lamps import LIGHT_WORDS, light_named, to_screen
from firstwash.worksheet.words import Colour, Numbers, apart_words, colour_of, hex_of, listed

__all__ = ["Compared", "SeenStack", "UnderLight", "compared"]

# CIEDE2000 between the two ends up to which they match or nearly match; common practice, no source.
MATCH, NEARLY = 1.5, 4.0


@dataclass(frozen=True)
class SeenStack:
    """One stack under one light: colours after 0, 1, … coats, and ends of the last one's range."""

    seen: tuple[Colour, ...]
    lighter: str
    darker: str


@dataclass(frozen=True)
class UnderLight:
    """Both stacks under one light.

    light: its name; light_words: "lamplight". match: "match", "nearly match" or "part".
    difference: how the second looks beside the first, in words.
    """

    light: str
    light_words: str
    first: SeenStack
    second: SeenStack
    match: str
    difference: str
    numbers: Numbers


@dataclass(frozen=True)
class Compared:
    """Two stacks beside each other. coats: as they may be typed; words: the gist of it."""

    first_coats: tuple[str, ...]
    second_coats: tuple[str, ...]
    lights: tuple[UnderLight, ...]
    words: str


def compared(
    stack_a: Sequence[Coat],
    stack_b: Sequence[Coat],
    paper: Paper,
    lights: Sequence[str] = LIGHTS,
) -> Compared:
    """Two stacks of coats, each bottom to top over dry paint, under each of the lights.

    Coats come from `plan.glaze.parse_coat`. Colours are as eyes used to the light see them.
    Raises RequestError for no or too many coats, or for a light that is not known.
    """
    if not lights:
        raise RequestError("Choose at least one light to compare under.")
    told = tuple(_under(stack_a, stack_b, paper, name) for name in dict.fromkeys(lights))
    return Compared(
        first_coats=tuple(str(c) for c in stack_a),
        second_coats=tuple(str(c) for c in stack_b),
        lights=told,
        words=_gist(told),
    )


def _under(stack_a: Sequence[Coat], stack_b: Sequence[Coat], paper: Paper, name: str) -> UnderLight:
    under = light_named(name)
    a, b = (predict_glazes(stack, under, paper) for stack in (stack_a, stack_b))
    ends = [to_screen(stages[-1].lab, under) for stages in (a, b)]
    off = float(delta_e_2000(ends[0], ends[1]))
    match = "match" if off < MATCH else "nearly match" if off < NEARLY else "part"
    difference = apart_words(ends[1], ends[0])
    return UnderLight(
        light=under,
        light_words=LIGHT_WORDS[under],
        first=_seen(a, under),
        second=_seen(b, under),
        match=match,
        difference=difference if match == "match" else f"{difference} than the first",
        numbers=(("between them, CIEDE2000", f"{off:.1f}"),),
    )


def _seen(stages: Sequence[GlazeStage], under: str) -> SeenStack:
    name = light_named(under)
    labs = to_screen(np.array([s.lab for s in stages]), name)
    return SeenStack(
        seen=tuple(colour_of(lab) for lab in labs),
        lighter=hex_of(to_screen(stages[-1].lighter, name)),
        darker=hex_of(to_screen(stages[-1].darker, name)),
    )


def _gist(lights: Sequence[UnderLight]) -> str:
    """ "They match by daylight and part by lamplight: there the second is …"."""
    by: dict[str, list[UnderLight]] = {}
    for one in lights:
        by.setdefault(one.match, []).append(one)
    told = [
        f"{match} by {listed([one.light_words for one in by[match]])}"
        for match in ("match", "nearly match", "part")
        if match in by
    ]
    everywhere = len(told) == 1 and len(lights) > 1
    if everywhere:
        told = [f"{lights[0].match} in every light shown"]
    worst = [*by.get("part", []), *by.get("nearly match", [])][:1]
    more = [f": {'' if everywhere else 'there '}the second is {w.difference}" for w in worst]
    return f"They {listed(told)}{''.join(more)}."
