"""What lies under a touched spot: the section through the sheet, coat by coat, in words.

Everything is told of the heart of the area the spot lies in, away from its soft edges; where the
spot itself is near one, the answer says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.handout.reasons import reason_words
from firstwash.handout.steps import technique_words
from firstwash.handout.words import colour_words
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab
from firstwash.picture.reference import Reference
from firstwash.picture.sheet import Sheet
from firstwash.plan.locks import NO_LOCKS, Locks, find_wash
from firstwash.plan.reasons import why
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.worksheet.near_spot import NearStroke, near_strokes
from firstwash.worksheet.other_mixtures import (
    OtherMixture,
    alternatives_at,
    largest_cell,
    stronger_end,
    with_mixture,
)
from firstwash.worksheet.parts import Part, parts_of, recipe_words
from firstwash.worksheet.section import Section, section_of
from firstwash.worksheet.words import (
    Colour,
    Numbers,
    Units,
    apart_words,
    colour_of,
    edges_told,
    effect_words,
    hex_of,
    lab_words,
    lean_words,
    sure_words,
)

__all__ = [
    "Band",
    "Leaning",
    "OtherMixture",
    "Part",
    "SpotAnswer",
    "alternatives_at",
    "answer_at",
    "cell_at",
    "parts_of",
    "photo_lab",
    "reason_for",
    "washes_over",
    "with_mixture",
]

Window = tuple[slice, slice]
PHOTO_MM = 1.0  # the photo's colour is the mean within so much of the spot


@dataclass(frozen=True)
class Leaning:
    """A coat laid a quarter weaker or stronger.

    seen: "#rrggbb" right after it; end: when all is painted. words: where the end goes.
    """

    seen: str
    end: str
    words: str


@dataclass(frozen=True)
class Band:
    """One coat of the section.

    layer, wash: its numbers; letter: of its puddle. parts_words: the recipe. strength: share of a
    full coat here, 0-1; wash_strength: what `moved_strength` and the edits go by. step: value
    step of its dry test stroke, stroke: colour of that. seen: the sheet once it is dry; lighter,
    darker: "#rrggbb" ends of what nine of ten lie between, paints and hand together. thickness:
    how much it takes from the light against the deepest full coat on the palette, 0-1. effect:
    what it does, why: what would lack without it. into: wash it is dropped into while that is
    wet, or None. locked, puddle_locked: kept by the painter.
    """

    layer: int
    wash: int
    letter: str
    kind: str
    parts_words: str
    parts: tuple[Part, ...]
    strength: float
    wash_strength: float
    step: int
    stroke: str
    seen: Colour
    lighter: str
    darker: str
    thickness: float
    less: Leaning
    more: Leaning
    effect: str
    technique: str
    edges: str
    into: int | None
    locked: bool
    puddle_locked: bool
    why: str
    numbers: Numbers


@dataclass(frozen=True)
class SpotAnswer:
    """Everything about one spot.

    cell, shape: of the plan. photo, aim, shown: what the photo has, what the plan aims at,
    what it will look like without fine strokes. lighter, darker: ends of what nine of ten lie
    between. miss: how what it will look like differs from the photo, in words; sure: what to
    expect of paints and hand. bands: bottom to top, none on bare paper. stages: "#rrggbb" of the
    sheet after 0, 1, … layers. strokes: fine strokes near by, nearest first. note: "" or what
    else to know of the spot.
    """

    x_mm: float
    y_mm: float
    cell: int
    shape: int
    photo: Colour
    aim: Colour
    shown: Colour
    lighter: str
    darker: str
    miss: str
    sure: str
    paper: Colour
    bands: tuple[Band, ...]
    stages: tuple[str, ...]
    strokes: tuple[NearStroke, ...]
    note: str
    numbers: Numbers


# --- a spot ----------------------------------------------------------------------


def cell_at(plan: Plan, x_mm: float, y_mm: float) -> int:
    """The cell at a place on the sheet, mm from its left and top edge.

    Raises RequestError for a place off the sheet.
    """
    row, col = _pixel(plan, x_mm, y_mm)
    return int(plan.cells.index[row, col])


def _pixel(plan: Plan, x_mm: float, y_mm: float) -> tuple[int, int]:
    rows, cols = plan.cells.index.shape
    if not (np.isfinite(x_mm) and np.isfinite(y_mm)):
        raise RequestError("A spot is two numbers in mm; touch the sheet again.")
    row, col = int(np.floor(y_mm * plan.cells.ppmm)), int(np.floor(x_mm * plan.cells.ppmm))
    # A finger on the very edge means the sheet.
    if not (-1 <= row <= rows and -1 <= col <= cols):
        raise RequestError("That spot is not on the sheet; touch inside its edges.")
    return min(max(row, 0), rows - 1), min(max(col, 0), cols - 1)


def answer_at(
    plan: Plan,
    x_mm: float,
    y_mm: float,
    reference_lab: FloatArray | None = None,
    locks: Locks = NO_LOCKS,
    units: Units = "cm",
) -> SpotAnswer:
    """What lies at a spot of the sheet, mm from its left and top edge.

    reference_lab: CIELAB of the photo at the spot (3,), as `photo_lab` has it, or of all of it
    (rows, cols, 3) over the whole sheet; None for the mean over the area. locks: what the
    painter keeps.
    Raises RequestError for a place off the sheet.
    """
    row, col = _pixel(plan, x_mm, y_mm)
    cell = int(plan.cells.index[row, col])
    section = section_of(plan, plan.coats[cell])
    photo = _photo_at(plan, cell, x_mm, y_mm, reference_lab)
    shown, lighter, darker = section.labs[-1], section.lighter[-1], section.darker[-1]
    bands = tuple(_bands(plan, cell, section, locks, units))
    return SpotAnswer(
        x_mm=float(x_mm),
        y_mm=float(y_mm),
        cell=cell,
        shape=int(plan.cells.shape_of[cell]),
        photo=colour_of(photo),
        aim=colour_of(plan.aims[cell]),
        shown=colour_of(shown),
        lighter=hex_of(lighter),
        darker=hex_of(darker),
        miss=_miss(shown, photo),
        sure=sure_words(shown, lighter, darker) if bands else "bare paper, as it is",
        paper=colour_of(section.labs[0]),
        bands=bands,
        stages=tuple(hex_of(lab) for lab in plan.stage_labs[:, cell]),
        strokes=near_strokes(plan, x_mm, y_mm, units),
        note=_note(plan, row, col, bands),
        numbers=_numbers(plan, cell, section, photo),
    )


def photo_lab(reference: Reference, x_mm: float, y_mm: float) -> NDArray[np.float64]:
    """CIELAB (3,) of the photo within 1 mm of a spot: light is averaged, not CIELAB.

    Raises RequestError for a spot that is none.
    """
    if not (np.isfinite(x_mm) and np.isfinite(y_mm)):
        raise RequestError("A spot is two numbers in mm; touch the sheet again.")
    window = _window(reference.xyz.shape[:2], reference.sheet, x_mm, y_mm)
    mean = reference.xyz[window].reshape(-1, 3).mean(axis=0, dtype=np.float64)
    return xyz_to_lab(mean)


def _photo_at(
    plan: Plan, cell: int, x_mm: float, y_mm: float, lab: FloatArray | None
) -> NDArray[np.float64]:
    """The photo's colour (3,) at the spot."""
    if lab is None:
        return np.asarray(plan.targets[cell])
    given = np.asarray(lab)
    if given.shape == (3,):
        return np.asarray(given, dtype=np.float64)
    if given.ndim != 3 or given.shape[2] != 3:
        raise ValueError("reference_lab: (3,) or (rows, cols, 3)")
    window = _window(given.shape[:2], plan.sheet, x_mm, y_mm)
    return np.asarray(given[window].reshape(-1, 3).mean(axis=0), dtype=np.float64)


def _window(shape: tuple[int, ...], sheet: Sheet, x_mm: float, y_mm: float) -> Window:
    """Rows and columns of a picture over the whole sheet that lie near a spot."""
    sides = (sheet.height_mm, sheet.width_mm)
    spans = []
    for at, count, mm in zip((y_mm, x_mm), shape, sides, strict=True):
        first, last = ((at + way * PHOTO_MM) / mm * count for way in (-1.0, 1.0))
        low = int(np.clip(first, 0, count - 1))
        spans.append(slice(low, int(np.clip(last, low, count - 1)) + 1))
    return spans[0], spans[1]


def _miss(shown: FloatArray, photo: FloatArray) -> str:
    told = apart_words(shown, photo)
    same = told == "the same to the eye"
    return "that is the photo’s colour" if same else f"{told} than the photo"


def _note(plan: Plan, row: int, col: int, bands: Sequence[Band]) -> str:
    if _by_soft_edge(plan, row, col):
        return "Near a soft edge: here the colour runs into its neighbour’s."
    return "" if bands else "Bare paper to the end: keep the brush out."


def _by_soft_edge(plan: Plan, row: int, col: int) -> bool:
    """Whether another area begins within the softness of the edge here."""
    reach = int(float(plan.edges.softness[row, col]) * plan.cells.ppmm)
    index = plan.cells.index
    near = index[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1]
    return bool((near != index[row, col]).any())


def _numbers(plan: Plan, cell: int, section: Section, photo: FloatArray) -> Numbers:
    shown = section.labs[-1]
    low, high = section.darker[-1][0], section.lighter[-1][0]
    return (
        ("photo, CIELAB", lab_words(photo)),
        ("aim, CIELAB", lab_words(plan.aims[cell])),
        ("predicted, CIELAB", lab_words(shown)),
        ("off the photo, CIEDE2000", f"{float(delta_e_2000(shown, photo)):.1f}"),
        ("off the aim, CIEDE2000", f"{float(delta_e_2000(shown, plan.aims[cell])):.1f}"),
        ("doubt of the paints, CIEDE2000", f"{plan.doubts[cell]:.1f}"),
        ("L* of nine in ten, paints and hand", f"{low:.0f} to {high:.0f}"),
    )


# --- its coats -------------------------------------------------------------------


def washes_over(plan: Plan, cell: int) -> list[Wash]:
    """The washes a cell receives, bottom to top."""
    return sorted((w for w in plan.washes if cell in w.cells), key=lambda w: w.layer)


def _bands(plan: Plan, cell: int, section: Section, locks: Locks, units: Units) -> list[Band]:
    return [
        _band(plan, wash, section, i, locks, units)
        for i, wash in enumerate(washes_over(plan, cell))
    ]


def _band(plan: Plan, wash: Wash, section: Section, i: int, locks: Locks, units: Units) -> Band:
    puddle = plan.puddles[wash.puddle]
    stroke = colour_of(section.strokes[i])
    return Band(
        layer=wash.layer,
        wash=wash.number,
        letter=puddle.name,
        kind=wash.kind,
        parts_words=recipe_words(parts_of(plan, wash.puddle)),
        parts=parts_of(plan, wash.puddle),
        strength=section.coats[i][2],
        wash_strength=stronger_end(wash),
        step=stroke.step,
        stroke=stroke.hex,
        seen=colour_of(section.labs[i + 1]),
        lighter=hex_of(section.lighter[i + 1]),
        darker=hex_of(section.darker[i + 1]),
        thickness=section.thickness[i],
        less=_leaning(section, section.less[i], i),
        more=_leaning(section, section.more[i], i),
        effect=effect_words(section.labs[i], section.labs[i + 1], section.labs[0]),
        technique=technique_words(wash),
        edges=edges_told(wash, units),
        into=wash.into,
        locked=(wash.layer, wash.number) in locks.washes or wash.layer in locks.layers,
        puddle_locked=puddle.name in locks.puddles,
        why=_why(section, i),
        numbers=_band_numbers(plan, wash, section, i),
    )


def _leaning(section: Section, moved: FloatArray, i: int) -> Leaning:
    words = lean_words(section.labs[-1], moved[-1])
    return Leaning(hex_of(moved[i + 1]), hex_of(moved[-1]), words)


def _why(section: Section, i: int) -> str:
    """What the spot would lack without a coat, from the stack worked out without it."""
    end, bare = section.labs[-1], section.without[i][-1]
    told = apart_words(bare, end)
    if told == "the same to the eye":
        return "Left out here, nobody would miss it."
    was, now = colour_words(tuple(end.tolist())), colour_words(tuple(bare.tolist()))
    ending = f", {now} instead of {was}" if was != now else ""
    return f"Without it this spot would end {told}{ending}."


def _band_numbers(plan: Plan, wash: Wash, section: Section, i: int) -> Numbers:
    low, high = section.darker[i + 1][0], section.lighter[i + 1][0]
    told = [
        ("strength, share of a full coat", f"{section.coats[i][2]:.3f}"),
        ("test stroke, CIELAB", lab_words(section.strokes[i])),
        ("seen after it, CIELAB", lab_words(section.labs[i + 1])),
        ("L* of nine in ten", f"{low:.0f} to {high:.0f}"),
    ]
    if plan.report.by_hand is not None:
        dried = plan.report.by_hand.washes[plan.washes.index(wash)].dried
        told.append(
            (
                "this wash by hand, CIEDE2000 from plan",
                f"{dried.mean:.1f} ({dried.low:.1f} to {dried.high:.1f})",
            )
        )
    return tuple(told)


def reason_for(plan: Plan, layer: int, number: int) -> str:
    """Why a wash is there: of a first wash in full, of a glaze what leaving it out would do.

    Takes some tens of milliseconds: the next-best mixture is fitted as well.
    Raises RequestError where there is no such wash.
    """
    wash = find_wash(plan, (layer, number))
    if wash.layer == 1 and wash.kind != "graded wash":
        return reason_words(why(plan, wash), plan)
    cell = largest_cell(plan, wash)
    i = [w.layer for w in washes_over(plan, cell)].index(layer)
    section = section_of(plan, plan.coats[cell])
    effect = effect_words(section.labs[i], section.labs[i + 1], section.labs[0])
    return f"It {effect}. {_why(section, i).replace('this spot', 'its largest area')}"
