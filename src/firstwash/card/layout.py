"""Where everything on a swatch card lies, in millimetres; the same for every paper size.

The card is a printed frame laid over a strip of the painter's own watercolour paper. Eight
rows, one paint each; a row has one long window, divided by printed ticks into fourteen
places. Between two swatches the painter's paper stays bare, so that the light on the card
can be judged everywhere. Origin: the card's upper left corner, x to the right, y downwards.

Places of a row, from the left:

    1        bare paper
    2 to 7   the paint alone, from 1/32 of full strength to full strength, each twice the last
    8 to 11  the paint mixed with a pale, a dark, a yellow and a blue
    12       bare paper
    13       two coats of the paint, the second over the dry first
    14       the paint over a dry coat of another

A waterproof pen line crosses the whole window before any paint is laid: how far a swatch
hides it shows how much the paint scatters. Twelve markers of the AprilTag 36h11 family
[Wang2016] tell a photo how the card lies; they are printed upright, each with its own number.
The small ones tell which card it is as well.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BARE",
    "CARDS",
    "COLUMNS",
    "DILUTIONS",
    "FIRST_MARKER",
    "HEIGHT_MM",
    "MARKERS",
    "PEN_LINE_MM",
    "ROWS",
    "WIDTH_MM",
    "Box",
    "Kind",
    "kind_of",
    "line_box",
    "marker_corners",
    "place_name",
    "place_of",
    "printed_number",
    "sample_box",
    "slot_box",
    "swatch_box",
]

WIDTH_MM: Final = 186.0
HEIGHT_MM: Final = 250.0
ROWS: Final = 8
COLUMNS: Final = 14
FIRST_MARKER: Final = 40  # its own stretch of the family's 587 numbers
FIRST_SMALL: Final = FIRST_MARKER + 6
FIRST_TELLING: Final = 100  # small markers that tell the card: six numbers for each of 80 cards
CARDS: Final = 80
PEN_LINE_MM: Final = 1.0  # width of the pen to use; a wider one does no harm

_TOP: Final = 17.0  # upper edge of the first row's caption
_PITCH: Final = 27.0  # from row to row
_CAPTION: Final = 9.0  # height of the printed strip above a window
_SLOT: Final = (10.0, 166.0, 17.0)  # left edge, width, height of a window
_SWATCH: Final = (8.4, 14.0)  # width and height to paint
_LINE: Final = 4.0  # from the window's upper edge down to the pen line

Kind = Literal["bare", "dilution", "pale", "dark", "yellow", "blue", "double", "over"]

# Share of full strength of places 2 to 7: half as strong and as much water again, five times.
DILUTIONS: Final = (1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0)
_KINDS: Final[tuple[Kind, ...]] = (
    "bare", *("dilution",) * 6, "pale", "dark", "yellow", "blue", "bare", "double", "over",
)  # fmt: skip
BARE: Final = tuple(i for i, kind in enumerate(_KINDS) if kind == "bare")


@dataclass(frozen=True)
class Box:
    """A rectangle in mm from the card's upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def corners(self) -> NDArray[np.float64]:
        """(4, 2) x, y in mm: upper left, upper right, lower right, lower left."""
        right, bottom = self.x + self.width, self.y + self.height
        return np.array([[self.x, self.y], [right, self.y], [right, bottom], [self.x, bottom]])

    def shrunk(self, by: float) -> "Box":
        """The box with `by` mm taken from each side."""
        return Box(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)


def _marker_boxes() -> dict[int, Box]:
    far, low = WIDTH_MM - 14.0, HEIGHT_MM - 14.0
    middle = 0.5 * (WIDTH_MM - 14.0)
    large = [(x, y, 14.0) for y in (0.0, low) for x in (0.0, middle, far)]
    sides = [_row_top(row) + _CAPTION + 4.5 for row in (1, 3, 6)]
    small = [(x, y, 8.0) for y in sides for x in (0.0, WIDTH_MM - 8.0)]
    boxes = (Box(x, y, size, size) for x, y, size in (*large, *small))
    return {FIRST_MARKER + i: box for i, box in enumerate(boxes)}


def _row_top(row: int) -> float:
    return _TOP + _PITCH * row


def slot_box(row: int) -> Box:
    """The window of row 0-7."""
    left, width, height = _SLOT
    return Box(left, _row_top(row) + _CAPTION, width, height)


def _place(row: int, column: int) -> Box:
    slot = slot_box(row)
    pitch = slot.width / COLUMNS
    return Box(slot.x + column * pitch, slot.y, pitch, slot.height)


def swatch_box(row: int, column: int) -> Box:
    """Where the swatch of row 0-7, column 0-13 is to be painted."""
    place = _place(row, column)
    width, height = _SWATCH
    return Box(
        place.x + 0.5 * (place.width - width), place.y + 0.5 * (place.height - height),
        width, height,
    )  # fmt: skip


def sample_box(row: int, column: int) -> Box:
    """The part of a swatch whose colour is read: below the pen line, away from the edges."""
    swatch = swatch_box(row, column)
    top = slot_box(row).y + _LINE + 3.0
    return Box(swatch.x + 1.6, top, swatch.width - 3.2, swatch.y + swatch.height - 2.0 - top)


def line_box(row: int, column: int) -> Box:
    """Where in a place the pen line may lie: 2 mm above or below where it belongs."""
    place = _place(row, column)
    return Box(place.x, place.y + _LINE - 2.0, place.width, 4.0)


def kind_of(column: int) -> Kind:
    """What is painted in column 0-13."""
    return _KINDS[column]


def place_name(row: int, column: int) -> str:
    """The name printed beside a place: "A1" to "H14"."""
    return f"{'ABCDEFGH'[row]}{column + 1}"


def marker_corners(number: int) -> NDArray[np.float64]:
    """(4, 2) mm of a marker's corners in the order in which OpenCV tells them."""
    return MARKERS[number].corners


MARKERS: Final = _marker_boxes()


def printed_number(place: int, card: int | None) -> int:
    """The number printed at a marker's place (a key of `MARKERS`) on card 0-79, or on none.

    The six small markers tell which card it is; the large ones are the same on all.
    """
    if card is None or place < FIRST_SMALL:
        return place
    return FIRST_TELLING + 6 * card + place - FIRST_SMALL


def place_of(printed: int) -> tuple[int, int | None] | None:
    """The place and the card of a printed number; None for a number that no card has."""
    if printed in MARKERS:
        return printed, None
    card, small = divmod(printed - FIRST_TELLING, 6)
    return (FIRST_SMALL + small, card) if 0 <= card < CARDS else None
