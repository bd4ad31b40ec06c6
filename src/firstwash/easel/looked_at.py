"""A sheet in a photo laid flat and turned upright, with the light on it and the picture within."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.flat_sheet import PictureArea, find_picture, flatten
from firstwash.easel.margin_light import MarginLight
from firstwash.easel.sheet_corners import SheetSeen
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.plane_map import PlaneMap

__all__ = [
    "NOMINAL_MM",
    "Box",
    "LookedAt",
    "drawn",
    "frames",
    "likeness",
    "likeness_in_colour",
    "look",
    "upright",
]

Box = tuple[float, float, float, float]  # left, top, right, bottom in mm

# Own judgement, tried on made-up photos (tools/board_trials.py).
NOMINAL_MM: Final = 400.0  # a sheet's longer side where its size is not known yet
LOOK_PX: Final = 1200.0  # longest side of the sheet in which its margin is looked for
TINY: Final = 96  # rows and columns of the picture as it is compared with the plan


@dataclass(frozen=True, eq=False)
class LookedAt:
    """The sheet laid flat: in nominal mm (1 pixel each), its map, and where the picture is.

    area: corners in the same nominal mm; None where no bare margin with a straight border is.
    """

    flat: NDArray[np.float32]
    plane: PlaneMap
    size: tuple[float, float]
    area: PictureArea | None

    @property
    def ppmm(self) -> float:
        """Pixels per mm if the sheet were as long as most are."""
        return max(self.size) / NOMINAL_MM

    def edges(self) -> NDArray[np.float64]:
        """Pixels (4, 2) of the sheet's corners in the photo, its upper left first."""
        unit = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
        return self.plane.pixels(unit * self.size)


def look(linear: NDArray[np.float32], seen: SheetSeen, turns: int) -> LookedAt:
    """The sheet in a photo of linear light; turns: as for `SheetSeen.plane`."""
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
    return LookedAt(flat, plane, size, area)


def upright(linear: NDArray[np.float32], seen: SheetSeen, expected: FloatArray) -> int:
    """Quarter turns under which the sheet looks most like the painting expected."""
    plane = seen.plane(float(TINY), float(TINY), 0)
    corners = plane.pixels(np.array([[0.0, 0.0], [TINY, 0.0], [TINY, TINY], [0.0, TINY]]))
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.ceil(corners.max(axis=0)).astype(int) + 1
    cut = linear[low[1] : high[1], low[0] : high[0]]
    by = min(4.0 * TINY / max(*cut.shape[:2], 1), 1.0)
    small = cv2.resize(cut, None, fx=by, fy=by, interpolation=cv2.INTER_AREA)
    there = np.array([[0, 0], [TINY, 0], [TINY, TINY], [0, TINY]], np.float32)
    onto = cv2.getPerspectiveTransform(((corners - low) * by).astype(np.float32), there)
    flat = cv2.warpPerspective(small, onto, (TINY, TINY), flags=cv2.INTER_LINEAR)
    # A photo that must be turned clockwise until the sheet is upright.
    likes = [likeness(np.ascontiguousarray(np.rot90(flat, -k)), expected) for k in range(4)]
    return int(np.argmax(likes))


def likeness(picture: NDArray[np.float32], expected: FloatArray) -> float:
    """Correlation of lightness between a picture (linear light) and one expected (XYZ)."""
    return _correlated(picture, expected, slice(0, 1))


def likeness_in_colour(picture: NDArray[np.float32], expected: FloatArray) -> float:
    """The same in all of CIELAB: a first wash differs in colour more than in lightness."""
    return _correlated(picture, expected, slice(0, 3))


def _correlated(picture: NDArray[np.float32], expected: FloatArray, channels: slice) -> float:
    def tiny(xyz: FloatArray) -> NDArray[np.float64]:
        small = cv2.resize(
            np.nan_to_num(np.asarray(xyz, np.float32)), (TINY, TINY), interpolation=cv2.INTER_AREA
        )
        lab = np.asarray(xyz_to_lab(np.maximum(small, 0.0)), dtype=np.float64)[..., channels]
        return np.asarray(lab - lab.mean(axis=(0, 1)))

    one, other = tiny(linear_srgb_to_xyz(picture)), tiny(expected)
    if one.std() < 1e-6 or other.std() < 1e-6:
        return 0.0
    return float((one * other).sum() / np.sqrt((one**2).sum() * (other**2).sum()))


def frames(looked: LookedAt, size_mm: tuple[float, float] | None) -> tuple[PlaneMap, Box, Box]:
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
    return plane, (0.0, 0.0, wide, high), sheet_box(looked, plane)


def sheet_box(looked: LookedAt, plane: PlaneMap) -> Box:
    """The whole sheet in the mm of a map to the same photo."""
    outer = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * looked.size
    back = cv2.perspectiveTransform(
        outer[None], np.linalg.inv(plane.homography) @ looked.plane.homography
    )[0]
    return (
        float(back[[0, 3], 0].mean()), float(back[[0, 1], 1].mean()),
        float(back[[1, 2], 0].mean()), float(back[[2, 3], 1].mean()),
    )  # fmt: skip


def drawn(
    linear: NDArray[np.float32], looked: LookedAt, light: MarginLight | None, paper: FloatArray,
    plane: PlaneMap, box: Box, fine: float,
) -> NDArray[np.float32]:  # fmt: skip
    """A box in mm as linear light, bare paper as light as it is; fine: pixels per mm.

    paper: XYZ (3,) of it in D65. plane: any map from mm to the photo that was looked at.
    """
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
