"""Everything a painter looks for in a photo before the first wash, worked out."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_washes import FirstWashAdvice, first_washes_for_colours
from firstwash.arrays import FloatArray, triple
from firstwash.light.split import LightSplit, split_light
from firstwash.light.study import LightStudy, study_light
from firstwash.light.told import ShapeLight
from firstwash.optics.observer import xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.parallel import in_parallel
from firstwash.picture.extremes import Extremes, extremes
from firstwash.picture.lost_edges import LostEdges, lost_edges
from firstwash.picture.munsell import munsell_value
from firstwash.picture.places import heart, place_words
from firstwash.picture.reference import Reference, smaller
from firstwash.picture.shapes import Cells, ShapeLimits, find_cells, find_shapes
from firstwash.picture.studies import (
    NumberedFrom,
    StepName,
    Whites,
    in_value_steps,
    squinted,
    step_names,
    step_shares,
    whites,
)
from firstwash.picture.value_pattern import ValuePattern, value_pattern
from firstwash.plan.bench import Bench
from firstwash.plan.local_first import SURE, OwnColours, own_colours
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.reach import Reach, reach

__all__ = ["Area", "Asked", "Step", "Study", "study"]

WIDTH = 500  # pixels of the picture that values are looked at on
AREAS_WIDTH = 220  # pixels for areas: a first wash has no fine borders
AREAS = 14  # parted into, at most
TOLD = 6  # of them that are advised on, the largest
LAYERS = 4


@dataclass(frozen=True)
class Asked:
    """How the painter looks: value steps 2-10, squint 0-1, tones of the pattern 3-5, and from
    which end steps are numbered.
    """

    steps: int = 5
    squint: float = 0.3
    tones: int = 3
    numbered_from: NumberedFrom = "dark"


@dataclass(frozen=True)
class Step:
    """One value step. lightness: L* at its lower and upper end; munsell: the same as Munsell
    values; share: of the picture, 0-1.
    """

    name: StepName
    lightness: tuple[float, float]
    munsell: tuple[float, float]
    share: float


@dataclass(frozen=True, eq=False)
class Area:
    """One area. mask: (rows, cols) of the areas' map; place: where, in words; share: of the
    picture, 0-1. seen: mean CIELAB; local: the thing's own colour in the light, None where the
    split is unsure; sure: 0-1. light: what the light does to it, None where it is not told; the
    words count areas from 1.
    """

    mask: NDArray[np.bool_]
    place: str
    share: float
    seen: tuple[float, float, float]
    local: tuple[float, float, float] | None
    sure: float
    advice: FirstWashAdvice
    light: ShapeLight | None = None


@dataclass(frozen=True, eq=False)
class Study:
    """A photo studied.

    lab: CIELAB (rows, cols, 3) at 500 px; steps: the darkest first; split, light: at the same size.
    """

    asked: Asked
    lab: NDArray[np.float64]
    ppmm: float
    steps: tuple[Step, ...]
    values: NDArray[np.uint8]
    squint: NDArray[np.uint8]
    pattern: ValuePattern
    lost: LostEdges
    extremes: Extremes
    whites: Whites
    reach: Reach
    split: LightSplit
    light: LightStudy
    areas: tuple[Area, ...]


def study(
    reference: Reference,
    paints: Sequence[Paint],
    paper: Paper,
    asked: Asked | None = None,
    progress: Progress = no_progress,
) -> Study:
    """Study a photo on its sheet for these paints on this paper.

    Raises RequestError for steps, squint or tones that cannot be. progress: from 0 to 1.
    """
    wanted = asked or Asked()
    progress("Looking at values", 0.1)
    xyz, ppmm = smaller(reference, WIDTH)
    lab = xyz_to_lab(xyz)
    lightness = lab[..., 0]
    steps = _steps(lightness, wanted)
    pattern = value_pattern(lightness, wanted.tones)
    progress("Telling light from local colour", 0.2)
    with ThreadPoolExecutor(max_workers=1) as beside:
        parting = beside.submit(split_light, xyz)  # takes about as long as all that follows
        ends = extremes(lightness, ppmm, wanted.steps, wanted.numbered_from)
        values = in_value_steps(lightness, wanted.steps, wanted.squint)
        squint = squinted(lab, wanted.squint)
        lost = lost_edges(lab, pattern)
        bare = whites(lab, xyz_to_lab(Bench.of([], paper).white_xyz()), ppmm)
        within = reach(Bench.of(paints, paper), lab, wanted.numbered_from)
        parted = _parted(reference)
        split = parting.result()
        progress("Trying first washes", 0.6)
        largest, numbers = _largest(parted[0], lightness.shape)
        studying = beside.submit(study_light, xyz, numbers, ppmm, split, "area {}".format)
        areas = _areas(parted, largest, split, paints, paper, within)
        light = studying.result()
    progress("Done", 1.0)
    return Study(
        asked=wanted,
        lab=lab,
        ppmm=ppmm,
        steps=steps,
        values=values,
        squint=squint,
        pattern=pattern,
        lost=lost,
        extremes=ends,
        whites=bare,
        reach=within,
        split=split,
        light=light,
        areas=_lit(areas, light),
    )


def _steps(lightness: FloatArray, asked: Asked) -> tuple[Step, ...]:
    names = step_names(asked.steps, asked.numbered_from)
    shares = step_shares(lightness, asked.steps, asked.squint)
    ends = np.linspace(0.0, 100.0, asked.steps + 1)
    munsell = munsell_value(ends)
    return tuple(
        Step(
            name,
            (float(ends[i]), float(ends[i + 1])),
            (float(munsell[i]), float(munsell[i + 1])),
            share,
        )
        for i, (name, share) in enumerate(zip(names, shares, strict=True))
    )


def _parted(reference: Reference) -> tuple[Cells, NDArray[np.float64]]:
    """The picture parted into areas, and its CIELAB at their size."""
    xyz, ppmm = smaller(reference, AREAS_WIDTH)
    lab = xyz_to_lab(xyz)
    whole = lab.shape[0] * lab.shape[1] / ppmm**2
    limits = ShapeLimits(
        count=AREAS, levels=LAYERS, min_area_mm2=max(whole / 200.0, 1.0), min_width_mm=2.0 / ppmm
    )
    return find_cells(lab, find_shapes(lab, ppmm, limits), ppmm, limits), lab


def _largest(cells: Cells, size: tuple[int, ...]) -> tuple[list[int], NDArray[np.int64]]:
    """The largest shapes, and a map (rows, cols) of that size: their numbers from 1, else -1."""
    largest = np.argsort(-np.bincount(cells.shape_of[cells.index].ravel()), kind="stable")[:TOLD]
    number_of = np.full(int(cells.shape_of.max()) + 1, -1, dtype=np.int32)
    number_of[largest] = np.arange(1, len(largest) + 1)
    small = number_of[cells.shape_of[cells.index]]
    whole = cv2.resize(small, (size[1], size[0]), interpolation=cv2.INTER_NEAREST)
    return largest.tolist(), np.asarray(whole, dtype=np.int64)


def _lit(areas: tuple[Area, ...], light: LightStudy) -> tuple[Area, ...]:
    told = {s.shape: s for s in light.shapes}
    return tuple(replace(a, light=told.get(n)) for n, a in enumerate(areas, 1))


def _areas(
    parted: tuple[Cells, NDArray[np.float64]],
    largest: Sequence[int],
    split: LightSplit,
    paints: Sequence[Paint],
    paper: Paper,
    within: Reach,
) -> tuple[Area, ...]:
    """The largest areas, each with first washes for it."""
    cells, lab = parted
    shapes = cells.shape_of[cells.index]
    own = own_colours(split.smaller(*shapes.shape), shapes)
    lamp = split.lamp_lab()

    def look(shape: int) -> Area:
        return _area(shape, cells, lab, own, paints, paper, within, lamp)

    return tuple(in_parallel(look, largest))


def _area(
    shape: int,
    cells: Cells,
    lab: NDArray[np.float64],
    own: OwnColours,
    paints: Sequence[Paint],
    paper: Paper,
    within: Reach,
    lamp: NDArray[np.float64],
) -> Area:
    mask = cells.shape_of[cells.index] == shape
    mine = np.flatnonzero(cells.shape_of == shape)
    colours, areas = cells.mean(lab)[mine], cells.areas_mm2()[mine]
    sure = float(own.sure[shape])
    local = own.labs[shape] if sure >= SURE[0] else None
    row, col = heart(mask)
    advice = first_washes_for_colours(
        colours, areas, paints, LAYERS, paper=paper, tone=within.tone, local=local, lamp=lamp
    )
    seen = np.average(colours, axis=0, weights=areas)
    return Area(
        mask=mask,
        place=place_words((col + 0.5) / mask.shape[1], (row + 0.5) / mask.shape[0]),
        share=float(mask.mean()),
        seen=triple(seen),
        local=None if local is None else triple(local),
        sure=sure,
        advice=advice,
    )
