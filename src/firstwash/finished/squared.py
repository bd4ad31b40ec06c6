"""A photo of a finished painting as if it hung before the camera in even light.

The sheet is found on its board, the picture within its bare margin; perspective and the lens's
bend are undone, and everything is told as a share of the bare paper beside it. What the phone did
to tones and colours between paper and black is not known, so it is left as it is.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.flat_sheet import STRIP, PictureArea, find_picture, flatten
from firstwash.easel.margin_light import MarginLight, Samples, margin_samples, strip_samples
from firstwash.easel.sheet_corners import SheetSeen, find_sheet, sheet_at
from firstwash.language import mark, tr
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.plane_map import PlaneMap

__all__ = ["Squared", "square", "trimmed"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
NOMINAL_MM: Final = 400.0  # a sheet's longer side where its size is not known yet
LOOK_PX: Final = 1200.0  # longest side of the sheet in which its margin is looked for
MOST_PX: Final = 6000.0  # longest side of the result
MOST_PPMM: Final = 12.0  # about 300 pixels per inch, which printers ask for
BURNT_SHARE: Final = 0.25  # of the margin: from here the light cannot be told
UNEVEN: Final = 1.8  # greatest over least light on the sheet: worth another photo
ODD_SHARE: Final = 0.15  # of the margin that is not simply bare paper
MISSHAPEN: Final = 0.06  # share by which it may seem wider or narrower than it is
TINY: Final = 96  # rows and columns of the picture as it is compared with the plan
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
    turns = 0 if expected is None else _upright(linear, seen, expected)
    looked = _look(linear, seen, turns)
    notes: list[str] = []
    loose = looked.area is None and expected is not None and _bare_side(expected, paper)
    light = _rim_light(looked, notes) if loose else _light(looked, notes)
    plane, inner, outer = _frames(looked, size_mm)
    fine = _density(plane, outer, MOST_PPMM if size_mm is not None else np.inf)
    pictures = [_drawn(linear, looked, light, paper, plane, box, fine) for box in (inner, outer)]
    like = None if expected is None else _likeness(pictures[0], expected)
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
        pictures[0], pictures[1], plane, _edges(looked), None if size_mm is None or loose else fine,
        _margins(inner, outer) if told else None, light is not None, like, tuple(notes),
    )  # fmt: skip


def trimmed(squared: Squared) -> NDArray[np.float32]:
    """The painted picture without the slivers of margin or tape along a border that was found."""
    picture, cut = squared.picture, SLIVER_PX
    if picture.shape == squared.sheet.shape or min(picture.shape[:2]) <= 8 * cut:
        return picture
    return picture[cut:-cut, cut:-cut]


@dataclass(frozen=True, eq=False)
class _Looked:
    """The sheet laid flat: in nominal mm (1 pixel each), its map, and where the picture is."""

    flat: NDArray[np.float32]
    plane: PlaneMap
    size: tuple[float, float]
    area: PictureArea | None


def _edges(looked: _Looked) -> NDArray[np.float64]:
    """Pixels (4, 2) of the sheet's corners in the photo."""
    unit = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    return looked.plane.pixels(unit * looked.size)


def _look(linear: NDArray[np.float32], seen: SheetSeen, turns: int) -> _Looked:
    own = np.roll(seen.corners, turns, axis=0)
    sides = np.linalg.norm(np.roll(own, -1, axis=0) - own, axis=1)
    wide, high = 0.5 * (sides[0] + sides[2]), 0.5 * (sides[1] + sides[3])
    scale = min(LOOK_PX / max(wide, high), 1.0)
    size = (float(round(wide * scale)), float(round(high * scale)))
    plane = seen.plane(*size, turns)
    # Sizes of what is looked for are in mm: a sheet is taken to be as long as most are.
    ppmm = max(size) / NOMINAL_MM
    flat = flatten(linear, plane, (0.0, 0.0, *size), 1.0)
    found = find_picture(flat, ppmm)
    area = None if found is None else PictureArea(found.corners * ppmm, found.support)
    return _Looked(flat, plane, size, area)


def _upright(linear: NDArray[np.float32], seen: SheetSeen, expected: FloatArray) -> int:
    """Quarter turns under which the sheet looks most like the painting expected."""

    def like(turns: int) -> float:
        plane = seen.plane(float(TINY), float(TINY), turns)
        flat = flatten(linear, plane, (0.0, 0.0, float(TINY), float(TINY)), 1.0)
        return _likeness(flat, expected)

    return max(range(4), key=like)


def _likeness(picture: NDArray[np.float32], expected: FloatArray) -> float:
    """Correlation of lightness between a picture (linear light) and one expected (XYZ)."""

    def tiny(xyz: FloatArray) -> NDArray[np.float64]:
        small = cv2.resize(
            np.nan_to_num(np.asarray(xyz, np.float32)), (TINY, TINY), interpolation=cv2.INTER_AREA
        )
        return np.asarray(xyz_to_lab(np.maximum(small, 0.0))[..., 0])

    one, other = tiny(linear_srgb_to_xyz(picture)), tiny(expected)
    if one.std() < 1e-6 or other.std() < 1e-6:
        return 0.0
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])


def _light(looked: _Looked, notes: list[str]) -> MarginLight | None:
    ppmm = max(looked.size) / NOMINAL_MM
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


def _rim_light(looked: _Looked, notes: list[str]) -> MarginLight | None:
    """Light from the sheet's rim, where a picture has no border all round."""
    samples = strip_samples(looked.flat, STRIP, max(looked.size) / NOMINAL_MM)
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


# --- the two pictures ------------------------------------------------------------

Box = tuple[float, float, float, float]  # left, top, right, bottom


def _frames(looked: _Looked, size_mm: tuple[float, float] | None) -> tuple[PlaneMap, Box, Box]:
    """The map from mm on the painted picture (nominal ones where no size is known), and the boxes
    of the picture and of the whole sheet.
    """
    outer = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * looked.size
    corners = outer if looked.area is None else looked.area.corners
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    wide, high = size_mm or (0.5 * (sides[0] + sides[2]), 0.5 * (sides[1] + sides[3]))
    there = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]], np.float32)
    to_nominal = cv2.getPerspectiveTransform(there, corners.astype(np.float32))
    plane = PlaneMap(looked.plane.homography @ to_nominal, looked.plane.k1, looked.plane.size)
    back = cv2.perspectiveTransform(outer[None], np.linalg.inv(to_nominal))[0]
    box = (
        float(back[[0, 3], 0].mean()), float(back[[0, 1], 1].mean()),
        float(back[[1, 2], 0].mean()), float(back[[2, 3], 1].mean()),
    )  # fmt: skip
    return plane, (0.0, 0.0, wide, high), box


def _margins(inner: Box, outer: Box) -> tuple[float, float, float, float]:
    """Upper, right, lower and left one."""
    return inner[1] - outer[1], outer[2] - inner[2], outer[3] - inner[3], inner[0] - outer[0]


def _density(plane: PlaneMap, box: Box, most: float) -> float:
    """Pixels per mm (or unit): as fine as the photo, within what a file should hold."""
    left, top, right, bottom = box
    middle = np.array([[0.5 * (left + right), 0.5 * (top + bottom)]])
    fine = float(plane.scale_at(middle).max())
    return min(fine, MOST_PX / max(right - left, bottom - top), most)


def _drawn(
    linear: NDArray[np.float32], looked: _Looked, light: MarginLight | None, paper: FloatArray,
    plane: PlaneMap, box: Box, fine: float,
) -> NDArray[np.float32]:  # fmt: skip
    """A box in mm as linear light, bare paper as light as it is; fine: pixels per mm."""
    flat = np.asarray(np.nan_to_num(flatten(linear, plane, box, fine)))
    if light is None:
        return flat
    rows, cols = flat.shape[:2]
    # Where the corners of this box lie on the sheet as the light was judged on it.
    left, top, right, bottom = box
    ends = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    to_sheet = np.linalg.inv(looked.plane.homography) @ plane.homography
    on = cv2.perspectiveTransform(ends[None].astype(np.float64), to_sheet)[0]
    coarse = light.field(96, 96)
    grid = cv2.getPerspectiveTransform(
        np.array([[0, 0], [cols, 0], [cols, rows], [0, rows]], np.float32),
        (on / looked.size * 96).astype(np.float32),
    )
    field = cv2.warpPerspective(
        coarse, grid, (cols, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    white = xyz_to_linear_srgb(paper).astype(np.float32)
    return np.asarray(flat / field * white, dtype=np.float32)
