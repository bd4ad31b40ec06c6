"""The light on the shape a painter touched: its own colour, what light and shadow make of it."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import IntArray
from firstwash.errors import RequestError
from firstwash.light.study import LightStudy
from firstwash.light.told import NAMES, ShapeLight, change_words, tell_shapes
from firstwash.picture.places import heart, place_words
from firstwash.plan.result import Plan
from firstwash.worksheet.spot import cell_at
from firstwash.worksheet.words import Colour, Numbers, colour_of, hex_of

__all__ = ["LitPart", "SpotLight", "spot_light"]

LEAST: Final = 0.02  # of the shape: smaller parts are not shown


@dataclass(frozen=True)
class LitPart:
    """One part of the shape. name: "In the light"; hex: "#rrggbb" as seen there; words: what the
    light makes of its own lightness there; share: of the shape, 0-1.
    """

    name: str
    hex: str
    words: str
    share: float


@dataclass(frozen=True)
class SpotLight:
    """The light on the shape touched. own: its own colour in white light; words: sentences."""

    own: Colour
    parts: tuple[LitPart, ...]
    words: str
    numbers: Numbers


def spot_light(plan: Plan, x_mm: float, y_mm: float, light: LightStudy) -> SpotLight:
    """What the light does to the shape at a place, mm from the sheet's left and top edge.

    Raises RequestError for a place off the sheet, or on a shape too narrow to tell.
    """
    shape = int(plan.cells.shape_of[cell_at(plan, x_mm, y_mm)])
    rows, cols = light.split.sure.shape
    shapes = np.asarray(plan.cells.shape_of[plan.cells.index], dtype=np.int32)
    small = _at_size(shapes, rows, cols)
    told = tell_shapes(
        light.split, light.shadows, light.highlights, small, lambda n: _called(small, n)
    )
    mine = next((one for one in told if one.shape == shape), None)
    if mine is None:
        raise RequestError("This shape is too narrow to tell light from its own colour.")
    return SpotLight(colour_of(mine.local), tuple(_parts(mine)), mine.words, mine.numbers)


def _at_size(shapes: NDArray[np.int32], rows: int, cols: int) -> NDArray[np.int64]:
    return np.asarray(cv2.resize(shapes, (cols, rows), interpolation=cv2.INTER_NEAREST), np.int64)


def _called(shapes: IntArray, number: int) -> str:
    row, col = heart(shapes == number)
    place = place_words((col + 0.5) / shapes.shape[1], (row + 0.5) / shapes.shape[0])
    return f"what lies {place if ' the ' in place else f'at the {place}'}"


def _parts(light: ShapeLight) -> list[LitPart]:
    return [
        LitPart(NAMES[part.name], hex_of(part.seen), change_words(part.steps), part.share)
        for part in light.parts
        if part.share >= LEAST
    ]
