"""The sheet of paper: its size, how it lies, and the crop of a photo that fills it."""

import math
import re
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from firstwash.errors import SheetError
from firstwash.language import mark, tr

__all__ = [
    "CropBox",
    "Sheet",
    "crop_box",
    "explicit_crop",
    "format_length",
    "format_size",
    "parse_sheet",
]

MM_PER_INCH = 25.4
SMALLEST_MM, LARGEST_MM = 30.0, 3000.0  # a calling card to three full sheets pasted up
LIGHTEST_GSM, HEAVIEST_GSM = 40.0, 2000.0  # tissue to thick board; grammage as in [ISO536]
SURFACES = (mark("hot-pressed"), mark("cold-pressed"), mark("rough"))
EXAMPLES = '"28x38cm", "11x15in", "280x380mm", "A3 landscape" or "quarter imperial"'

ISO_A = {  # [ISO216], mm, portrait
    "a0": (841.0, 1189.0),
    "a1": (594.0, 841.0),
    "a2": (420.0, 594.0),
    "a3": (297.0, 420.0),
    "a4": (210.0, 297.0),
    "a5": (148.0, 210.0),
    "a6": (105.0, 148.0),
}
IMPERIAL_IN = {  # the imperial sheet, 22 × 30 in, halved across its longer side
    mark("imperial"): (22.0, 30.0),
    mark("half imperial"): (15.0, 22.0),
    mark("quarter imperial"): (11.0, 15.0),
    mark("eighth imperial"): (7.5, 11.0),
}
WORD_FOR = {"full": "", "1/2": "half", "1/4": "quarter", "1/8": "eighth"}
MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH}

NUMBER = r"(\d+(?:\.\d+)?)"
UNIT = r'\s*(mm|cm|m|in(?:ch(?:es)?)?|"|)\s*'
SIZE = re.compile(rf"{NUMBER}{UNIT}(?:x|×|\*|by)\s*{NUMBER}{UNIT}")


@dataclass(frozen=True)
class Sheet:
    """A sheet of watercolour paper.

    width_mm, height_mm: as it lies in front of the painter, 30 to 3000 mm.
    weight_gsm: grammage, g/m² (300 g/m² = 140 lb). surface: "hot-pressed",
    "cold-pressed" or "rough". name: what the painter calls the size, may be empty.
    fixed: the painter said how it lies, so it is not turned to suit the photo.
    Raises SheetError for a size, weight or surface no paper has.
    """

    width_mm: float
    height_mm: float
    weight_gsm: float = 300.0
    surface: str = "cold-pressed"
    name: str = ""
    fixed: bool = False

    def __post_init__(self) -> None:
        """Check the size, weight and surface."""
        for side in (self.width_mm, self.height_mm):
            if not SMALLEST_MM <= side <= LARGEST_MM:
                raise SheetError(
                    f"A sheet side of {side:g} mm cannot be painted; give a size between "
                    f"3 cm and 3 m a side, for example {EXAMPLES}."
                )
        if not LIGHTEST_GSM <= self.weight_gsm <= HEAVIEST_GSM:
            raise SheetError(
                f"No paper weighs {self.weight_gsm:g} g/m²; give a weight such as 300 (140 lb)."
            )
        if self.surface not in SURFACES:
            raise SheetError(f'Unknown surface "{self.surface}"; use {", ".join(SURFACES)}.')

    @property
    def landscape(self) -> bool:
        """Whether it lies wider than high."""
        return self.width_mm > self.height_mm

    def turned(self) -> "Sheet":
        """The same sheet a quarter turn round."""
        return replace(self, width_mm=self.height_mm, height_mm=self.width_mm)

    def oriented_for(self, width_px: int, height_px: int) -> "Sheet":
        """The sheet turned to lie as a photo of this size does, unless it is `fixed`.

        A square photo or sheet is left as it is.
        """
        if self.fixed or width_px == height_px or self.width_mm == self.height_mm:
            return self
        return self if self.landscape == (width_px > height_px) else self.turned()

    def __str__(self) -> str:
        """The name and size in centimetres and inches."""
        size = format_size(self.width_mm, self.height_mm)
        return f"{tr(self.name)}, {size}" if self.name else size

    @property
    def in_cm(self) -> str:
        """Its name and its size without inches: "quarter imperial, 38 × 28 cm"."""
        size = f"{_cm(self.width_mm, self.height_mm)} cm"
        return f"{tr(self.name)}, {size}" if self.name else size


def parse_sheet(text: str) -> Sheet:
    """Read a sheet size as a painter writes it.

    text: width × height with units ("28x38cm", '11 x 15"', "29,7 x 42 cm"), an ISO
    A size, or an imperial sheet or its half, quarter or eighth; "landscape" or
    "portrait" may be added and fixes how the sheet lies.
    Raises SheetError if it cannot be read or is outside 3 cm to 3 m a side.
    """
    words = re.sub(r"(?<=\d),(?=\d)", ".", text.lower())
    words = re.sub(r"''|[″”“]", '"', words)
    lie = re.findall(r"\b(?:landscape|portrait)\b", words)
    size = " ".join(re.sub(r"\b(?:landscape|portrait)\b", " ", words).split())
    if len(lie) > 1:
        raise SheetError("A sheet lies either landscape or portrait; give one of the two.")
    sheet = _named(size) or _measured(size)
    if sheet is None:
        raise SheetError(f'"{text.strip()[:40]}" is not a sheet size; write {EXAMPLES}.')
    if not lie:
        return sheet
    wrong = sheet.width_mm != sheet.height_mm and sheet.landscape != (lie == ["landscape"])
    return replace(sheet.turned() if wrong else sheet, fixed=True)


def _named(size: str) -> Sheet | None:
    words = " ".join(WORD_FOR.get(word, word) for word in size.split()).strip()
    words = re.sub(r" sheet$", "", words)
    if words in ISO_A:
        return Sheet(*ISO_A[words], name=words.upper())
    if words in IMPERIAL_IN:
        width, height = IMPERIAL_IN[words]
        return Sheet(width * MM_PER_INCH, height * MM_PER_INCH, name=words)
    return None


def _measured(size: str) -> Sheet | None:
    match = SIZE.fullmatch(size)
    if match is None:
        return None
    width, first, height, second = match.groups()
    if not (first or second):
        raise SheetError(f'"{size[:40]}" has no unit; write {EXAMPLES}.')
    # One unit may serve both numbers: "28 x 38 cm".
    return Sheet(float(width) * _mm(first or second), float(height) * _mm(second or first))


def _mm(unit: str) -> float:
    return MM_PER_UNIT["in" if unit == '"' or unit.startswith("in") else unit]


# --- cropping --------------------------------------------------------------------


class CropBox(NamedTuple):
    """A rectangle of whole pixels in the upright photo: left, top, width, height."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The first column past the box."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """The first row past the box."""
        return self.y + self.height


def crop_box(
    photo_width: int,
    photo_height: int,
    sheet: Sheet,
    centre: tuple[float, float] = (0.5, 0.5),
    within: CropBox | None = None,
) -> CropBox:
    """The largest part of a photo with the sheet's proportions, to the nearest pixel.

    photo_width, photo_height: pixels, upright. centre: (across, down) as fractions
    of the photo, 0 to 1, followed as far as the edges allow. within: crop inside
    this box instead of the whole photo. Raises SheetError for a centre outside 0 to 1.
    """
    if not all(0.0 <= c <= 1.0 for c in centre):
        raise SheetError("The centre of the crop must lie inside the photo, between 0 and 1.")
    outer = within or CropBox(0, 0, photo_width, photo_height)
    aspect = sheet.width_mm / sheet.height_mm
    if outer.width >= outer.height * aspect:
        width, height = max(1, round(outer.height * aspect)), outer.height
    else:
        width, height = outer.width, max(1, round(outer.width / aspect))
    width, height = min(width, outer.width), min(height, outer.height)
    x = _placed(centre[0] * photo_width, width, outer.x, outer.width)
    y = _placed(centre[1] * photo_height, height, outer.y, outer.height)
    return CropBox(x, y, width, height)


def _placed(centre: float, length: int, start: int, room: int) -> int:
    """The start of a span of `length` centred as asked, held inside start … start + room."""
    return min(max(round(centre - length / 2), start), start + room - length)


def explicit_crop(
    photo_width: int,
    photo_height: int,
    crop: tuple[float, float, float, float],
    *,
    unit: Literal["px", "fraction"],
) -> CropBox:
    """A crop the painter gave, checked and as whole pixels.

    crop: left, top, width, height, in pixels or as fractions of the photo.
    Raises SheetError if it is empty or reaches outside the photo.
    """
    across, down = (photo_width, photo_height) if unit == "fraction" else (1, 1)
    x, y, width, height = crop
    edges = (x * across, y * down, (x + width) * across, (y + height) * down)
    if not all(math.isfinite(edge) for edge in edges):
        raise SheetError("The crop must be four numbers: left, top, width, height.")
    left, top, right, bottom = (round(edge) for edge in edges)
    if left < 0 or top < 0 or right > photo_width or bottom > photo_height:
        raise SheetError(
            f"The crop reaches outside the photo, which is {photo_width} × {photo_height} pixels."
        )
    if right <= left or bottom <= top:
        raise SheetError("The crop is empty; give left, top, width and height.")
    return CropBox(left, top, right - left, bottom - top)


# --- words for sizes -------------------------------------------------------------


def format_length(mm: float) -> str:
    """A length in centimetres and inches to one decimal: "28 cm (11 in)"."""
    return _both_units(_short(mm / 10), _short(mm / MM_PER_INCH))


def format_size(width_mm: float, height_mm: float) -> str:
    """A width and height in centimetres and inches: "28 × 38 cm (11 × 15 in)"."""
    inches = " × ".join(_short(side / MM_PER_INCH) for side in (width_mm, height_mm))
    return _both_units(_cm(width_mm, height_mm), inches)


def _both_units(cm: str, inches: str) -> str:
    return tr("{cm} cm ({inches} in)", cm=cm, inches=inches)


def _cm(width_mm: float, height_mm: float) -> str:
    return " × ".join(_short(side / 10) for side in (width_mm, height_mm))


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
