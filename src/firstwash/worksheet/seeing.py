"""What the picture's values and hues are, told for the page."""

from dataclasses import dataclass
from typing import Final

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.optics.observer import xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.picture.reference import smaller
from firstwash.picture.studies import (
    Whites,
    hue_beside_grey,
    step_grey,
    step_names,
    step_shares,
    whites,
)
from firstwash.plan.bench import Bench
from firstwash.worksheet.brief import Brief
from firstwash.worksheet.prints import difference_picture_soft
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.words import Numbers, hex_of

__all__ = [
    "BesideGreyView",
    "DifferenceTold",
    "ValueStep",
    "ValueStudy",
    "difference_told",
    "hue_at",
    "reserved_whites",
    "value_study",
]

WIDTH: Final = 500  # pixels of the picture that shares are counted on
SPOT_MM: Final = 1.0


@dataclass(frozen=True)
class ValueStep:
    """One value step. name: as the painter counts it; share: of the sheet, 0-1."""

    name: str
    hex: str
    share: float


@dataclass(frozen=True)
class ValueStudy:
    """Value steps, dark to light, and what stays white, in words."""

    steps: tuple[ValueStep, ...]
    whites: str


@dataclass(frozen=True)
class BesideGreyView:
    """A spot's colour, "#rrggbb", and the grey of its value."""

    hex: str
    grey: str
    words: str


def value_study(studio: Studio, brief: Brief) -> ValueStudy:
    """The brief's value steps on its picture."""
    asked = brief.values
    xyz, ppmm = smaller(studio.reference(brief.scene), WIDTH)
    lab = xyz_to_lab(xyz)
    shares = step_shares(lab[..., 0], asked.steps, asked.squint)
    names = step_names(asked.steps, asked.first)
    steps = [
        ValueStep(
            f"{name.number}" if not name.words else f"{name.number}, {name.words}",
            "#{:02x}{:02x}{:02x}".format(*step_grey(i + 1, asked.steps)),
            float(share),
        )
        for i, (name, share) in enumerate(zip(names, shares, strict=True))
    ]
    found = reserved_whites(lab, ppmm, studio.paints.shelf().paper)
    return ValueStudy(tuple(steps), found.words)


def reserved_whites(lab: FloatArray, ppmm: float, paper: Paper) -> Whites:
    """What of a picture stays bare paper."""
    return whites(lab, xyz_to_lab(Bench.of([], paper).white_xyz()), ppmm)


@dataclass(frozen=True)
class DifferenceTold:
    """How the finished painting differs from the photo. close, half_step, clear: shares of the
    sheet (0-1) that come close, are about half a value step off, and are further off.
    """

    words: str
    close: float
    half_step: float
    clear: float
    numbers: Numbers


def difference_told(studio: Studio, brief: Brief) -> DifferenceTold:
    """Where and by how much the painting as planned differs from its reference, in words."""
    desk = studio.desk(brief)
    found = difference_picture_soft(desk.plan, desk.reference)
    numbers = tuple((f"CIEDE2000, {name}", f"{v:.1f}") for name, v in found.numbers.items())
    return DifferenceTold(found.words, found.close, found.half_step, found.clear, numbers)


def hue_at(studio: Studio, brief: Brief, x_mm: float, y_mm: float) -> BesideGreyView:
    """The hue at a place beside a grey of its value. Raises RequestError off the sheet."""
    reference = studio.reference(brief.scene)
    rows, cols = reference.xyz.shape[:2]
    col, row, reach = x_mm * reference.ppmm, y_mm * reference.ppmm, SPOT_MM * reference.ppmm
    if not (0.0 <= col <= cols and 0.0 <= row <= rows):
        raise RequestError("That spot is not on the sheet; touch inside its edges.")
    top, left = max(int(row - reach), 0), max(int(col - reach), 0)
    spot = reference.xyz[top : int(row + reach) + 1, left : int(col + reach) + 1]
    found = hue_beside_grey(
        xyz_to_lab(spot.reshape(-1, 3).mean(axis=0)), brief.values.steps, brief.values.first
    )
    return BesideGreyView(hex_of(found.lab), hex_of(found.grey), found.words)
