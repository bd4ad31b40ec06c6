"""Time at the board: how long a plan keeps a painter, from its washes.

Counted: mixing and testing puddles, charging the brush, covering areas, moving from one area to
the next, cutting in hard edges, softening soft ones, and waiting between layers. Not counted:
drawing the outline, stretching paper, looking, resting.

All figures of the hand: common practice, no source; each stands beside its reason. Drying is
computed (drying.py).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import reduce

from firstwash.errors import RequestError
from firstwash.plan.board.drying import Room, drying_of
from firstwash.plan.board.practice import Technique, brush_mm, checked, practice_of
from firstwash.plan.board.ranges import NOTHING, Range

__all__ = [
    "BoardTime",
    "LayerTime",
    "LayerWork",
    "WashWork",
    "board_time",
    "brush_charges",
    "layer_fits",
    "wash_minutes",
]

MIX_S = 120.0  # a new puddle: pick up each paint, stir, try on a scrap, correct
STIR_AGAIN_S = 45.0  # a puddle of an earlier layer: pigment has settled, water is gone
TEST_S = 15.0  # a stroke on a scrap before each wash, and a little water in or out
CHARGE_S = 4.0  # dip, wipe at the rim, come back to the paper
MOVE_S = 3.0  # look up the next area and turn the board
HARD_MM_S = 25.0  # an outline followed with the tip: 1 m of it in 40 s
SOFT_MM_S = 8.0  # rinse, blot, run a damp brush along, look, again
CHARGE_ML_PER_MM2 = 0.003  # ml a brush gives off per mm² of its width squared: 8 mm, 0.19 ml
PACE = (0.7, 1.0, 1.5)  # a quick hand, a usual one, a slow one: factors on all of these


@dataclass(frozen=True)
class WashWork:
    """What one wash asks of the hand.

    area_mm2: in all its areas together, above 0. areas: separate ones, at least 1. hard_mm,
    soft_mm: length of edge to cut in and to soften. technique: see practice.py. puddle: its
    name. width_mm: of the brush; None for the one that suits areas of that size.
    Raises RequestError for numbers that make no sense.
    """

    area_mm2: float
    areas: int
    hard_mm: float
    soft_mm: float
    technique: Technique
    puddle: str
    width_mm: float | None = None

    def __post_init__(self) -> None:
        """Check every number."""
        practice_of(self.technique)
        checked("area of a wash (mm²)", self.area_mm2, 1e-6)
        checked("number of areas of a wash", self.areas, 1, 1e6)
        checked("length of hard edge (mm)", self.hard_mm)
        checked("length of soft edge (mm)", self.soft_mm)
        if self.width_mm is not None:
            checked("width of the brush (mm)", self.width_mm, 0.1, 200.0)

    @property
    def brush(self) -> float:
        """Width of the brush, mm."""
        return brush_mm(self.area_mm2, self.areas) if self.width_mm is None else self.width_mm


@dataclass(frozen=True)
class LayerWork:
    """One layer: its washes in painting order, at least one.

    pauses: minutes of waiting inside the layer, where a hard edge asks for it (order.py).
    """

    washes: tuple[WashWork, ...]
    pauses: Range = NOTHING

    def __post_init__(self) -> None:
        """Refuse a layer without washes."""
        if not self.washes:
            raise RequestError("A layer needs at least one wash.")


@dataclass(frozen=True)
class LayerTime:
    """Minutes one layer takes.

    pauses: waiting inside the layer. drying: until the next layer may begin; none after the
    last. dry_after: from its last stroke until all of it is dry, last layer or not.
    """

    mixing: Range
    painting: Range
    pauses: Range
    drying: Range
    dry_after: Range

    @property
    def waiting(self) -> Range:
        """Pauses and drying."""
        return self.pauses + self.drying

    @property
    def busy(self) -> Range:
        """From its first puddle to its last stroke."""
        return self.mixing + self.painting + self.pauses

    @property
    def total(self) -> Range:
        """Until the next layer may begin."""
        return self.busy + self.drying


@dataclass(frozen=True)
class BoardTime:
    """Minutes a plan takes, layer by layer and in all.

    Low ends belong to a quick hand and quick drying, high ends to a slow hand and slow drying;
    as a quick hand waits longer, the ends of a total lie a little wide.
    """

    layers: tuple[LayerTime, ...]
    room: Room = field(default_factory=Room)

    @property
    def mixing(self) -> Range:
        """Mixing and testing puddles."""
        return _sum(layer.mixing for layer in self.layers)

    @property
    def painting(self) -> Range:
        """Brush in hand."""
        return _sum(layer.painting for layer in self.layers)

    @property
    def waiting(self) -> Range:
        """Waiting for paper to dry, inside and between layers."""
        return _sum(layer.waiting for layer in self.layers)

    @property
    def total(self) -> Range:
        """From the first puddle to the last stroke."""
        return _sum(layer.total for layer in self.layers)


def brush_charges(area_mm2: float, technique: Technique, width_mm: float | None = None) -> int:
    """How many brush-loads a wash takes, at least 1.

    area_mm2: 0 or more. width_mm: of the brush; None for the one that suits one area of this
    size. Raises RequestError for an unknown technique or a number that makes no sense.
    """
    figures = practice_of(technique)
    width = brush_mm(area_mm2) if width_mm is None else checked("brush", width_mm, 0.1, 200.0)
    carried_ml = CHARGE_ML_PER_MM2 * width**2 * figures.carried
    wanted_ml = checked("area (mm²)", area_mm2) * figures.water_gsm * 1e-6
    return max(1, math.ceil(wanted_ml / carried_ml - 1e-9))


def wash_minutes(wash: WashWork) -> Range:
    """Minutes with the brush in hand for one wash, from the first charge to the last edge."""
    figures = practice_of(wash.technique)
    strokes = figures.passes * wash.area_mm2 / (wash.brush * figures.stroke_mm_s)
    charges = figures.passes * brush_charges(wash.area_mm2, wash.technique, wash.brush)
    edges = wash.hard_mm / HARD_MM_S + wash.soft_mm / SOFT_MM_S
    return _paced(strokes + charges * CHARGE_S + (wash.areas - 1) * MOVE_S + edges)


def board_time(
    layers: Sequence[LayerWork], room: Room | None = None, paper_weight_gsm: float = 300.0
) -> BoardTime:
    """How long a plan keeps a painter at the board.

    layers: in painting order. room: still air of 20 °C and 50 % humidity unless given.
    paper_weight_gsm: 40 to 2000. Only the washes still wet at the end of a layer are waited
    for; the others have dried while the painter went on. Waiting is infinite where the air is
    too damp to dry anything.
    """
    air = room or Room()
    known: set[str] = set()
    out = []
    for number, layer in enumerate(layers, 1):
        last = number == len(layers)
        out.append(_layer_time(layer, known, air, paper_weight_gsm, last))
        known |= {wash.puddle for wash in layer.washes}
    return BoardTime(tuple(out), air)


def layer_fits(time: BoardTime, minutes: float) -> int:
    """How many layers surely fit into so many minutes, drying between them included.

    Planned with the middle of each range. The wait after the last one that fits is not
    counted: it may dry while nobody looks.
    """
    spent = 0.0
    for number, layer in enumerate(time.layers):
        if spent + layer.busy.mid > minutes * (1.0 + 1e-9):  # sums round
            return number
        spent += layer.total.mid
    return len(time.layers)


def _layer_time(
    layer: LayerWork, known: set[str], room: Room, paper_weight_gsm: float, last: bool
) -> LayerTime:
    strokes = [wash_minutes(wash) for wash in layer.washes]
    mixing = _mixing(layer, known)
    wet = _wet_at_the_end(layer, strokes, room, paper_weight_gsm)
    return LayerTime(mixing, _sum(strokes), layer.pauses, NOTHING if last else wet, wet)


def _mixing(layer: LayerWork, known: set[str]) -> Range:
    seconds = len(layer.washes) * TEST_S
    for puddle in sorted({wash.puddle for wash in layer.washes}):
        seconds += STIR_AGAIN_S if puddle in known else MIX_S
    return _paced(seconds)


def _wet_at_the_end(
    layer: LayerWork, strokes: list[Range], room: Room, paper_weight_gsm: float
) -> Range:
    """Minutes from the last stroke until every wash of the layer is dry."""
    test = _paced(TEST_S)
    passed, longest = NOTHING, NOTHING
    for wash, taken in zip(reversed(layer.washes), reversed(strokes), strict=True):
        dry = drying_of(wash.technique, room, paper_weight_gsm).dry
        longest = longest.or_longer(dry.after(passed))
        passed = passed + taken + test
    return longest


def _paced(seconds: float) -> Range:
    """Minutes a quick, a usual and a slow hand need for what usually takes so many seconds."""
    return Range(*(seconds * pace / 60.0 for pace in PACE))


def _sum(spans: Iterable[Range]) -> Range:
    return reduce(Range.__add__, spans, NOTHING)
