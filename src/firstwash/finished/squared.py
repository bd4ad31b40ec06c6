"""A photo of a finished painting as if it hung before the camera in even light.

The sheet is found on its board, the picture within its bare margin; perspective and the lens's
bend are undone, and everything is told as a share of the bare paper beside it. What the phone did
to tones and colours between paper and black is not known, so it is left as it is.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.flat_sheet import STRIP
from firstwash.easel.looked_at import Box, LookedAt, drawn, frames, likeness, look, upright
from firstwash.easel.margin_light import MarginLight, Samples, margin_samples, strip_samples
from firstwash.easel.sheet_corners import find_sheet, sheet_at
from firstwash.language import mark, tr
from firstwash.picture.plane_map import PlaneMap

__all__ = ["Squared", "square", "trimmed"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
MOST_PX: Final = 6000.0  # longest side of the result
MOST_PPMM: Final = 12.0  # about 300 pixels per inch, which printers ask for
BURNT_SHARE: Final = 0.25  # of the margin: from here the light cannot be told
UNEVEN: Final = 1.8  # greatest over least light on the sheet: worth another photo
ODD_SHARE: Final = 0.15  # of the margin that is not simply bare paper
MISSHAPEN: Final = 0.06  # share by which it may seem wider or narrower than it is
LIKE: Final = 0.35  # correlation of lightness with the plan's from which it is that painting
RIM: Final = 0.02  # of the shorter side: the painting's border, as expected
SLIVER_PX: Final = 4  # at a border found in a photo, that may show what lies beside it
BARE: Final = 0.1  # logarithm of XYZ within which it is bare there
NO_MARGIN: Final = mark(
    "No bare margin with a straight border was found round the picture, so the whole sheet is "
    "shown, its light and the white of its paper as in the photo."
)


@dataclass(frozen=True, eq=False)
class Squared:
    """The result of `square`.

    picture, sheet: float32 (rows, cols, 3) linear light, a white sheet's is 1, of the painted
    picture and of all the paper; the same where no margin was found. plane: from mm on the picture
    (from its upper left corner) to pixels of the photo; in a unit of its own where no size is
    known. edges: (4, 2) pixels of the photo, the sheet's corners, its upper left first, then
    clockwise. ppmm: pixels per mm of both, None there and where a side stays bare. margins_mm:
    upper, right, lower, left, or None. lit: whether the light was evened out. like: correlation
    (-1 to 1) of lightness with the picture expected, None where none was. notes: whole sentences.
    """

    picture: NDArray[np.float32]
    sheet: NDArray[np.float32]
    plane: PlaneMap
    edges: NDArray[np.float64]
    ppmm: float | None
    margins_mm: tuple[float, float, float, float] | None
    lit: bool
    like: float | None
    notes: tuple[str, ...]


def square(
    linear: NDArray[np.float32],
    paper: FloatArray,
    size_mm: tuple[float, float] | None = None,
    touches: FloatArray | None = None,
    expected: FloatArray | None = None,
) -> Squared:
    """A photo (rows, cols, 3) of linear light, squared and evenly lit.

    paper: XYZ (3,) of the bare paper in D65. size_mm: width and height of the painted picture, or
    of the sheet where it has no margin. touches: (4, 2) pixels of the sheet's corners, upper left
    first, then clockwise. expected: XYZ (rows, cols, 3) of the painting as planned, by which the
    photo is turned upright.
    Raises PhotoError, one sentence, if no sheet is found.
    """
    seen = find_sheet(linear) if touches is None else sheet_at(linear, touches)
    turns = 0 if expected is None else upright(linear, seen, expected)
    looked = look(linear, seen, turns)
    notes: list[str] = []
    loose = looked.area is None and expected is not None and _bare_side(expected, paper)
    light = _rim_light(looked, notes) if loose else _light(looked, notes)
    plane, inner, outer = frames(looked, size_mm)
    fine = _density(plane, outer, MOST_PPMM if size_mm is not None else np.inf)
    pictures = [drawn(linear, looked, light, paper, plane, box, fine) for box in (inner, outer)]
    like = None if expected is None else likeness(pictures[0], expected)
    if size_mm is not None and looked.area is not None and plane.shape_off() > MISSHAPEN:
        notes.append(
            tr(
                "What was found has not the shape of the plan's picture; look whether its border "
                "is right."
            )
        )
    told = size_mm is not None and looked.area is not None
    if like is not None and like < LIKE:
        notes.append(tr("The photo looks little like this plan's painting; check that it is."))
    return Squared(
        pictures[0], pictures[1], plane, looked.edges(), None if size_mm is None or loose else fine,
        _margins(inner, outer) if told else None, light is not None, like, tuple(notes),
    )  # fmt: skip


def trimmed(squared: Squared) -> NDArray[np.float32]:
    """The painted picture without the slivers of margin or tape along a border that was found."""
    picture, cut = squared.picture, SLIVER_PX
    if picture.shape == squared.sheet.shape or min(picture.shape[:2]) <= 8 * cut:
        return picture
    return picture[cut:-cut, cut:-cut]


def _light(looked: LookedAt, notes: list[str]) -> MarginLight | None:
    ppmm = looked.ppmm
    if looked.area is None:
        strip = strip_samples(looked.flat, STRIP, ppmm)
        notes.append(_burnt(strip) or tr(NO_MARGIN))
        return None
    samples = margin_samples(looked.flat, looked.area.corners / ppmm, ppmm)
    light = MarginLight.of(samples)
    if light is None:
        narrow = tr("The margin is too narrow or too uneven to judge the light from.")
        notes.append(_burnt(samples) or narrow)
        return None
    if light.uneven > UNEVEN:
        notes.append(
            tr(
                "One side of the sheet has {times} times the light of the other; it was evened "
                "out, but daylight from one side further off would be better.",
                times=f"{light.uneven:.1f}",
            )
        )
    if light.odd.mean() > ODD_SHARE:
        notes.append(
            tr(
                "A part of the margin is not simply bare paper: a shadow, a hand or paint; colours "
                "near it may be off."
            )
        )
    return light


def _bare_side(expected: FloatArray, paper: FloatArray) -> bool:
    """Whether a side of the painting expected (XYZ) is mostly bare: no border can show there."""
    rows, cols = expected.shape[:2]
    deep = max(round(RIM * min(rows, cols)), 1)
    off = np.abs(np.log(np.maximum(expected, 1e-4) / paper)).max(axis=2)
    sides = off[:deep], off[:, -deep:], off[-deep:], off[:, :deep]
    return any(float((side < BARE).mean()) > 0.5 for side in sides)


def _rim_light(looked: LookedAt, notes: list[str]) -> MarginLight | None:
    """Light from the sheet's rim, where a picture has no border all round."""
    samples = strip_samples(looked.flat, STRIP, looked.ppmm)
    light = MarginLight.of(samples)
    if light is None or light.odd.mean() > ODD_SHARE or light.uneven > UNEVEN:  # paint, perhaps
        notes.append(_burnt(samples) or tr(NO_MARGIN))
        return None
    notes.append(
        tr(
            "The picture has no straight border all round, so the whole sheet is shown; its light "
            "was judged from the rim of the paper."
        )
    )
    return light


def _burnt(samples: Samples) -> str:
    if samples.burnt_share <= BURNT_SHARE:
        return ""
    return tr(
        "The paper is burnt out in the photo, so its white cannot be told; photograph it a little "
        "darker."
    )


def _margins(inner: Box, outer: Box) -> tuple[float, float, float, float]:
    """Upper, right, lower and left one."""
    return inner[1] - outer[1], outer[2] - inner[2], outer[3] - inner[3], inner[0] - outer[0]


def _density(plane: PlaneMap, box: Box, most: float) -> float:
    """Pixels per mm (or unit): as fine as the photo, within what a file should hold."""
    left, top, right, bottom = box
    middle = np.array([[0.5 * (left + right), 0.5 * (top + bottom)]])
    fine = float(plane.scale_at(middle).max())
    return min(fine, MOST_PX / max(right - left, bottom - top), most)
