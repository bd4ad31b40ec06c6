"""The map of a layer: which wash goes where, told by letters beside the drawing.

A wash is named by its puddle's capital letter. Where a layer takes several strengths out of one
puddle, a small number follows, in painting order: C₁ is laid before C₂. Letters lead to every
area that is wide enough. What is still bare paper is hatched.
"""

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import IntArray
from firstwash.errors import RequestError
from firstwash.handout.border_kinds import Run, curve_kinds, runs_by_kind, whole_runs
from firstwash.handout.contours import Contours, trace_contours
from firstwash.handout.hatching import hatched
from firstwash.handout.map_areas import areas_of, leads_to
from firstwash.handout.map_letters import Frame, Lead
from firstwash.handout.tones import SPACING, Tone, tone_lines, tones_of
from firstwash.picture.edges import EdgeKind
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash

__all__ = [
    "LayerMap",
    "MapWash",
    "Ruling",
    "TonedArea",
    "frame_for",
    "layer_map",
    "ruling",
    "wash_letters",
]

A4_MM: Final = (277.0, 190.0)  # [ISO216] without 10 mm all round, longer side first, which
# printers may not reach; common practice, no source
LETTER_MM: Final = 6.0  # size of the type on A4: a capital is then 4 mm high
MARGIN: Final = 2.3  # letter sizes around the drawing
HATCH: Final = 0.28  # letter sizes between two lines of the hatching


@dataclass(frozen=True, eq=False)
class MapWash:
    """One wash on the map: its letter, a small number (0 for none), outlines and leads."""

    wash: Wash
    letter: str
    index: int
    outlines: list[Run]
    leads: list[Lead]

    @property
    def key(self) -> str:
        """Layer and number: "2.5"."""
        return f"{self.wash.layer}.{self.wash.number}"


@dataclass(frozen=True, eq=False)
class TonedArea:
    """All areas that have one tone, with its lines (n, 4), and the puddles that lie there."""

    tone: Tone
    puddles: tuple[int, ...]
    outlines: list[Run]
    lines: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LayerMap:
    """The map of one layer; lengths in mm on the sheet.

    lines: outlines of the washes by kind of edge; faint: the other shapes of the drawing.
    hatch: (n, 4) lines x1, y1, x2, y2 over what is bare paper still; reserves: fine strokes kept
    free of this layer. unnamed: how many areas no letter leads to. toned: areas by tone, if they
    are asked for. margin: around the drawing, for the letters.
    """

    plan: Plan
    layer: int
    frame: Frame
    washes: list[MapWash]
    lines: dict[EdgeKind, list[Run]]
    faint: list[Run]
    hatch: NDArray[np.float64]
    reserves: tuple[Touch, ...]
    unnamed: int
    toned: tuple[TonedArea, ...] = ()

    @property
    def margin(self) -> float:
        """Around the drawing, for the letters, mm."""
        return MARGIN * self.frame.letter


@dataclass(frozen=True, eq=False)
class Ruling:
    """The borders of a plan's cells, traced once, for all maps of it."""

    plan: Plan
    contours: Contours
    kinds: NDArray[np.int64]

    @cached_property
    def shape_borders(self) -> NDArray[np.bool_]:
        """(arcs,) whether a border parts two shapes, not only two values of one."""
        return self.contours.between(self.plan.cells.shape_of)

    def faint(self, groups: IntArray, without: int | None = None) -> list[Run]:
        """Borders of shapes inside one group; groups: (cells,); without: a group left empty."""
        rest = self.shape_borders & ~self.contours.between(groups)
        if without is not None:
            rest &= groups[self.contours.left] != without
        found = runs_by_kind(self.contours, self.kinds, rest)
        return [*found["hard"], *found["soft"]]

    def lines(self, groups: IntArray) -> dict[EdgeKind, list[Run]]:
        """Borders between groups, by kind of edge; groups: (cells,)."""
        return runs_by_kind(self.contours, self.kinds, self.contours.between(groups))

    def kept_from(self, layer: int) -> tuple[Touch, ...]:
        """The fine strokes that a layer keeps free."""
        return tuple(t for t in self.plan.touches if t.after is not None and t.after < layer)

    def bare_hatch(self, layer: int, spacing: float) -> NDArray[np.float64]:
        """Hatching (n, 4) of the paper that is bare when a layer is dry."""
        bare = np.array([not any(c[0] <= layer for c in own) for own in self.plan.coats])
        walks = self.contours.loops(bare)
        return hatched([self.contours.points(walk) for walk in walks], spacing)


def ruling(plan: Plan) -> Ruling:
    """A plan's borders, traced."""
    contours = trace_contours(plan.cells.index, plan.cells.ppmm)
    return Ruling(plan, contours, curve_kinds(contours, plan.edges))


def frame_for(plan: Plan) -> Frame:
    """The drawing with letters that are `LETTER_MM` large when the map fills a page of A4."""
    wide, high = plan.sheet.width_mm, plan.sheet.height_mm
    around = 2 * MARGIN * LETTER_MM
    page = (side - around for side in A4_MM)
    scale = max(s / p for s, p in zip(sorted((wide, high), reverse=True), page, strict=True))
    return Frame(wide, high, LETTER_MM * scale)


def wash_letters(plan: Plan, layer: int) -> dict[int, tuple[str, int]]:
    """Number of each wash of a layer → its puddle's letter and, 1 … or 0, its small number."""
    washes = plan.washes_of(layer)
    uses = Counter(w.puddle for w in washes)
    seen: Counter[int] = Counter()
    out = {}
    for wash in washes:
        seen[wash.puddle] += 1
        index = seen[wash.puddle] if uses[wash.puddle] > 1 else 0
        out[wash.number] = (plan.puddles[wash.puddle].name, index)
    return out


def layer_map(plan: Plan, layer: int, ruled: Ruling | None = None, toned: bool = False) -> LayerMap:
    """The map of a layer (1 …); ruled: this plan's borders, if they are traced already.

    toned: with a tone for each puddle.

    Raises RequestError for a layer the plan has not.
    """
    if not 1 <= layer <= plan.layers:
        raise RequestError(f"This plan has {plan.layers} layers; ask for one of them.")
    traced = ruled or ruling(plan)
    frame = frame_for(plan)
    owner = np.zeros(plan.cells.count, dtype=np.int64)
    for wash in plan.washes_of(layer):
        owner[list(wash.cells)] = wash.number
    areas = areas_of(plan, owner, frame)
    leads = leads_to(areas, frame)
    return LayerMap(
        plan=plan,
        layer=layer,
        frame=frame,
        washes=[
            MapWash(
                wash,
                *wash_letters(plan, layer)[wash.number],
                whole_runs(traced.contours, owner == wash.number),
                leads.get(wash.number, []),
            )
            for wash in plan.washes_of(layer)
        ],
        lines=traced.lines(owner),
        faint=traced.faint(owner),
        hatch=traced.bare_hatch(layer, HATCH * frame.letter),
        reserves=traced.kept_from(layer),
        unnamed=len(areas) - sum(len(lead.ends) for own in leads.values() for lead in own),
        toned=_toned(plan, layer, traced.contours, SPACING * frame.letter) if toned else (),
    )


def _toned(plan: Plan, layer: int, contours: Contours, spacing: float) -> tuple[TonedArea, ...]:
    by: dict[Tone, list[int]] = {}
    for puddle, tone in tones_of(plan, layer, contours).items():
        by.setdefault(tone, []).append(puddle)
    out = []
    for tone, puddles in by.items():
        inside = np.zeros(plan.cells.count, dtype=np.bool_)
        for wash in plan.washes_of(layer):
            if wash.puddle in puddles:
                inside[list(wash.cells)] = True
        walks = contours.loops(inside)
        lines = tone_lines(tone, [contours.points(walk) for walk in walks], spacing)
        out.append(TonedArea(tone, tuple(puddles), whole_runs(contours, inside), lines))
    return tuple(out)
