"""What one screen at the board holds."""

from dataclasses import dataclass
from typing import Literal

from firstwash.worksheet.parts import Part
from firstwash.worksheet.words import Numbers

__all__ = ["BoardStep", "Kind", "Minutes", "PuddleToMix", "WashToLay"]

Minutes = tuple[float, float, float]
"""At the least, most likely, at the most."""
Kind = Literal["caution", "reserve", "mix", "wash", "wait", "dry", "unmask", "strokes"]


@dataclass(frozen=True)
class PuddleToMix:
    """One puddle of a mix step.

    fresh: mixed now; otherwise it is on the palette from before. colour, step: of a dry test
    stroke as strong as it is used at its strongest; wet: "#rrggbb" of the same while wet. tubes,
    pans: how much of what. consistency: "syrup, let down to fruit juice"; test: what to see when
    it is thick enough. strip: "#rrggbb" from that strength to bare paper. uses: washes of this
    layer that take it.
    """

    letter: str
    fresh: bool
    parts_words: str
    parts: tuple[Part, ...]
    colour: str
    step: int
    wet: str
    tubes: str
    pans: str
    consistency: str
    test: str
    strip: tuple[str, ...]
    uses: tuple[int, ...]


@dataclass(frozen=True)
class WashToLay:
    """The wash of a wash step.

    step, stroke: value step and "#rrggbb" of a dry test stroke. paper: "dry" or "wet". where,
    area, edges, keep (what stays bare), goes (from which colour to which), run (what to lay
    without a break): in words, "" where there is nothing to say. before, after: "#rrggbb" of the
    place. into: wash it is dropped into. bare: cells beside it that stay bare; kept: fine
    strokes, by index, that are kept free. mistakes: what commonly goes wrong.
    """

    number: int
    letter: str
    parts_words: str
    parts: tuple[Part, ...]
    consistency: str
    test: str
    step: int
    stroke: str
    technique: str
    paper: str
    where: str
    area: str
    edges: str
    keep: str
    goes: str
    run: str
    before: str
    after: str
    into: int | None
    bare: tuple[int, ...]
    kept: tuple[int, ...]
    mistakes: tuple[str, ...]


@dataclass(frozen=True)
class BoardStep:
    """One screen at the board.

    id: "mix-1", "wash-1-3" (layer, number), "wait-2-1", "dry-1", "keep-0", "last-C", "caution".
    layer: 0 before the first. title: a few words; say: what to do, sentence by sentence. cells:
    to light up; touches: fine strokes to light up, by index. minutes: to run a clock by, or that
    the work takes; None where there is none, or where it never dries. timed: whether a clock runs.
    """

    id: str
    kind: Kind
    layer: int
    title: str
    say: tuple[str, ...]
    cells: tuple[int, ...]
    touches: tuple[int, ...]
    minutes: Minutes | None
    timed: bool
    puddles: tuple[PuddleToMix, ...] = ()
    wash: WashToLay | None = None
    numbers: Numbers = ()
