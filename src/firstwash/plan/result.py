"""A finished plan: paints, puddles, washes, cells, predictions and how good they are."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.picture.edges import Edges
from firstwash.picture.reference import Background
from firstwash.picture.shapes import Cells
from firstwash.picture.sheet import Sheet
from firstwash.plan.bench import Bench
from firstwash.plan.fields import amounts_by_cell, paint_fields
from firstwash.plan.local_first import LocalFirst
from firstwash.plan.outlook import Outlook
from firstwash.plan.problem import Limits
from firstwash.plan.schedule import Schedule
from firstwash.plan.tone import ToneMap
from firstwash.plan.touches import Touch, draw_touches
from firstwash.plan.wash import Puddle, Wash

__all__ = ["Agreement", "Errors", "PaletteWorth", "Plan", "Puddle", "Report", "Rung", "Wash"]


@dataclass(frozen=True)
class Errors:
    """CIEDE2000 over the sheet at the size it is judged at."""

    mean: float
    median: float
    p95: float


@dataclass(frozen=True)
class Rung:
    """One step of the ladder: a plan with fewer freedoms than the one before.

    puddles, washes: None where mixtures and passages are not counted.
    """

    name: str
    against_photo: Errors
    against_target: Errors
    puddles: int | None
    washes: int | None


@dataclass(frozen=True)
class Agreement:
    """How far the painting keeps the picture's structure.

    value_pattern: share (0-1) of the area in the same of 5 value steps as the tone-mapped
    photo. edges_found: share of the target's strong edges that the painting has within
    1.5 mm; edges_true: share of the painting's strong edges that the target has.
    """

    value_pattern: float
    edges_found: float
    edges_true: float


@dataclass(frozen=True)
class PaletteWorth:
    """How good the paints chosen for the palette are beside any others.

    compared: paints to choose from. score: weighted mean CIEDE2000 of the best single patch
    for each colour of the picture; bound: no other palette of so many paints scores less;
    gap: 1 − bound / score, the most that is given away; whole: the score of all paints
    together; covers: what the bound speaks of.
    """

    compared: int
    score: float
    bound: float
    gap: float
    whole: float
    covers: str


@dataclass(frozen=True)
class Report:
    """How good the plan is, and where it gives something up.

    rungs: free mixing per pixel, flat cells, this plan. darkened_from: L* below which the
    tone map lifts darks; lifted_share: share of the picture that lies below it;
    off_gamut_share: share that even free mixing misses by more than 5 CIEDE2000.
    doubt: mean CIEDE2000 that the paints' own uncertainty may shift the prediction by.
    washes_alone: agreement without the fine strokes. by_hand: what hands that err make of it,
    None where they are taken never to err. palette: None where all
    paints have room on it, or the choice was made by hand.
    """

    rungs: tuple[Rung, ...]
    agreement: Agreement
    washes_alone: Agreement
    darkened_from: float
    lifted_share: float
    off_gamut_share: float
    doubt: float
    palette: PaletteWorth | None = None
    by_hand: Outlook | None = None
    local_first: LocalFirst | None = None

    @property
    def against_photo(self) -> Errors:
        """Predicted painting against the photo as it is."""
        return self.rungs[-1].against_photo

    @property
    def against_target(self) -> Errors:
        """Predicted painting against the tone-mapped photo."""
        return self.rungs[-1].against_target


@dataclass(frozen=True, eq=False)
class Plan:
    """An ordered plan of washes.

    paints: those on the palette. coats: per cell, the (layer, puddle, strength) of every
    coat it receives, bottom to top. targets, aims: (n_cells, 3) mean photo colour and
    tone-mapped colour of the cell's heart, away from its soft edges. stage_labs: (layers + 1,
    n_cells, 3) predicted CIELAB (D65) there after 0, 1, … layers. edges: how the cells meet.
    touches: fine strokes, reserved or laid last.
    doubts: (n_cells,) CIEDE2000 of uncertainty from the paints.
    """

    sheet: Sheet
    paper: Paper
    paints: tuple[Paint, ...]
    limits: Limits
    tone: ToneMap
    background: Background
    cells: Cells
    edges: Edges
    puddles: tuple[Puddle, ...]
    washes: tuple[Wash, ...]
    schedule: Schedule
    coats: tuple[tuple[tuple[int, int, float], ...], ...]
    targets: NDArray[np.float64]
    aims: NDArray[np.float64]
    stage_labs: NDArray[np.float64]
    doubts: NDArray[np.float64]
    report: Report
    photo_px: tuple[int, int]
    touches: tuple[Touch, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def layers(self) -> int:
        """How many layers are painted."""
        return len(self.stage_labs) - 1

    @property
    def recipes(self) -> NDArray[np.float64]:
        """(puddles, paints) amounts of one full coat of each puddle."""
        table = np.zeros((len(self.puddles), len(self.paints)))
        for row, puddle in zip(table, self.puddles, strict=True):
            for paint, amount in puddle.parts:
                row[paint] = amount
        return table

    @cached_property
    def washes_xyz(self) -> NDArray[np.float32]:
        """XYZ (layers + 1, rows, cols, 3) after 0, 1, … layers, edges as laid, without strokes."""
        bench = Bench.of(self.paints, self.paper)
        amounts = amounts_by_cell(self.coats, self.recipes, self.layers)
        return paint_fields(bench, self.cells.index, amounts, self.edges)

    @cached_property
    def stage_xyz(self) -> NDArray[np.float32]:
        """XYZ (layers + 1, rows, cols, 3) of the sheet after 0, 1, … layers, reserves kept."""
        ppmm = self.cells.ppmm
        stages = [
            draw_touches(stage, self.touches, ppmm, n) for n, stage in enumerate(self.washes_xyz)
        ]
        return np.stack(stages)

    @cached_property
    def finished_xyz(self) -> NDArray[np.float32]:
        """XYZ (rows, cols, 3) of the finished painting, fine strokes included."""
        return draw_touches(self.washes_xyz[-1], self.touches, self.cells.ppmm)

    def told_more(self, **changes: Any) -> "Plan":
        """The same plan with other words about it; what was drawn of its washes is kept."""
        other = replace(self, **changes)
        if "washes_xyz" in self.__dict__:
            other.__dict__["washes_xyz"] = self.washes_xyz
        return other

    def washes_of(self, layer: int) -> list[Wash]:
        """Washes of one layer (1 …), in painting order."""
        return [w for w in self.washes if w.layer == layer]

    def reserve_share(self) -> float:
        """Share of the sheet (0-1) left as bare paper to the end."""
        areas = self.cells.areas_mm2()
        bare = np.array([not c for c in self.coats])
        return float(areas[bare].sum() / areas.sum())
