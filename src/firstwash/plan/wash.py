"""What is mixed and what is laid: puddles and washes."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.plan.board.amounts import PuddleAmount
from firstwash.plan.board.practice import Technique

__all__ = ["Puddle", "Wash", "WashKind"]

WashKind = Literal["lead-in", "wash", "graded wash"]


@dataclass(frozen=True, eq=False)
class Puddle:
    """One mixture on the palette.

    name: a letter (A, B, … AA). parts: (paint index, amount) with amounts that make one
    full-strength coat at strength 1. strength_range: weakest and strongest wash of it.
    area_mm2: of all its washes. value_steps, swatch (2, 3; CIELAB): of one dry coat on this
    paper, strongest and weakest; wet: the strongest while it is wet, an estimate.
    amount: how much to mix.
    """

    name: str
    parts: tuple[tuple[int, float], ...]
    strength_range: tuple[float, float]
    area_mm2: float
    value_steps: tuple[int, int]
    swatch: NDArray[np.float64] = field(repr=False)
    wet: tuple[float, float, float]
    amount: PuddleAmount


@dataclass(frozen=True, eq=False)
class Wash:
    """One passage of paint: one puddle at one strength in one layer, wherever it is wanted.

    layer: 1 …; number: 1 … in painting order within its layer; shapes, cells: those that
    receive it, touched one after another; strength: 1 is a full-strength coat; end_strength:
    of a graded wash, at its other end. areas: how many separate areas it is laid in.
    before, after: mean predicted CIELAB there when the last layer and this one are dry.
    stroke: CIELAB of a dry test stroke of it on this paper, and its value_step, 1-10.
    edges_mm: length of its hard, soft and lost edges. into: number of the first wash that this
    one is dropped into while that is wet.
    """

    layer: int
    number: int
    shapes: tuple[int, ...]
    cells: tuple[int, ...]
    puddle: int
    strength: float
    end_strength: float | None
    area_mm2: float
    areas: int
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    stroke: tuple[float, float, float]
    value_step: int
    kind: WashKind
    technique: Technique = "wet-on-dry"
    edges_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    into: int | None = None
