"""The reference as the planner sees it: on the sheet, edited as the painter asked.

Two sizes are kept: `work` (up to 2 pixels per mm) for finding shapes, `judge` (1 pixel
per mm) for telling how good a plan is, because nobody paints or sees finer than that.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.load import Photo
from firstwash.picture.sheet import Sheet

__all__ = [
    "Background",
    "Reference",
    "focal_rectangle",
    "lay_on_sheet",
    "load_side",
    "shrink_xyz",
    "smaller",
    "with_background",
    "with_focal_area",
]

Background = Literal["painted", "bare", "graded"]

WORK_PPMM = 2.0  # pixels per mm for shapes: half a millimetre is a fine brush's wobble
WORK_PIXELS = 450_000  # at most, so that a large sheet is not planned finer than it is painted
JUDGE_PPMM = 1.0
LOAD_PPMM = 4.0  # what is kept of the photo: enough to print the reference at 100 dpi
FOCAL_WEIGHT = 3.0
SUBJECT, BACKGROUND = 0, 1  # zones


@dataclass(frozen=True, eq=False)
class Reference:
    """The picture to paint.

    xyz, weight, zone: (rows, cols, 3) XYZ (D65, white Y = 1), (rows, cols) importance ≥ 1
    and (rows, cols) int32 zone (0 subject, 1 background) at `ppmm` pixels per mm.
    judge_xyz: the same picture at `judge_ppmm` (1 unless the sheet is huge).
    photo_px: width and height in pixels of the cropped photo in its file.
    """

    xyz: NDArray[np.float32]
    judge_xyz: NDArray[np.float32]
    weight: NDArray[np.float32]
    zone: NDArray[np.int32]
    ppmm: float
    judge_ppmm: float
    sheet: Sheet
    photo_px: tuple[int, int]
    background: Background = "painted"

    @property
    def lab(self) -> NDArray[np.float64]:
        """CIELAB (rows, cols, 3) at working size."""
        return xyz_to_lab(self.xyz)

    @property
    def judge_lab(self) -> NDArray[np.float64]:
        """CIELAB (rows, cols, 3) at the size quality is judged at."""
        return xyz_to_lab(self.judge_xyz)


def load_side(sheet: Sheet) -> int:
    """Pixels on the longer side that are worth loading for this sheet."""
    return math.ceil(LOAD_PPMM * max(sheet.width_mm, sheet.height_mm))


def _ppmm(sheet: Sheet, wanted: float) -> float:
    return min(wanted, math.sqrt(WORK_PIXELS / (sheet.width_mm * sheet.height_mm)))


def _resize(picture: FloatArray, width: int, height: int) -> NDArray[np.float32]:
    """Picture (rows, cols[, channels]) of another size: averaged down, or smoothly up."""
    source = np.ascontiguousarray(picture, dtype=np.float32)
    fewer = width * height < source.shape[0] * source.shape[1]
    how = cv2.INTER_AREA if fewer else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(source, (width, height), interpolation=how), dtype=np.float32)


def _size(sheet: Sheet, ppmm: float) -> tuple[int, int]:
    return max(1, round(sheet.width_mm * ppmm)), max(1, round(sheet.height_mm * ppmm))


def lay_on_sheet(photo: Photo, sheet: Sheet) -> Reference:
    """The photo on the sheet; the photo's crop should have the sheet's proportions."""
    ppmm, judge = _ppmm(sheet, WORK_PPMM), _ppmm(sheet, JUDGE_PPMM)
    xyz = np.maximum(linear_srgb_to_xyz(_resize(photo.linear, *_size(sheet, ppmm))), 0.0)
    small = np.maximum(linear_srgb_to_xyz(_resize(photo.linear, *_size(sheet, judge))), 0.0)
    return Reference(
        xyz=xyz.astype(np.float32),
        judge_xyz=small.astype(np.float32),
        weight=np.ones(xyz.shape[:2], dtype=np.float32),
        zone=np.full(xyz.shape[:2], SUBJECT, dtype=np.int32),
        ppmm=ppmm,
        judge_ppmm=judge,
        sheet=sheet,
        photo_px=(photo.crop.width, photo.crop.height),
    )


def shrink_xyz(xyz: FloatArray, like: FloatArray) -> NDArray[np.float32]:
    """XYZ (rows, cols, 3) averaged to the size of another picture."""
    rows, cols = like.shape[:2]
    return _resize(xyz, cols, rows)


def smaller(reference: Reference, most: int) -> tuple[NDArray[np.float32], float]:
    """XYZ of the reference, light averaged, at most so wide, and its pixels per mm."""
    rows, cols = reference.xyz.shape[:2]
    width = min(most, cols)
    size = (width, max(1, round(rows * width / cols)))
    xyz = cv2.resize(reference.xyz, size, interpolation=cv2.INTER_AREA)
    return np.asarray(xyz, dtype=np.float32), width / reference.sheet.width_mm


def _fit_mask(mask: FloatArray, reference: Reference, what: str) -> NDArray[np.float32]:
    """Mask (rows, cols) in [0, 1] brought to the working size."""
    if mask.ndim != 2 or min(mask.shape) < 2:
        raise RequestError(f"The {what} mask must be a plain grey picture.")
    rows, cols = reference.xyz.shape[:2]
    if abs(mask.shape[1] / mask.shape[0] - cols / rows) > 0.02 * cols / rows:
        raise RequestError(
            f"The {what} mask has other proportions than the photo; draw it over the whole photo, "
            "or over the part that is cropped."
        )
    return np.clip(_resize(mask, cols, rows), 0.0, 1.0)


def focal_rectangle(
    reference: Reference, box: tuple[float, float, float, float]
) -> NDArray[np.float32]:
    """Mask of a rectangle: left, top, width, height as fractions (0-1) of the sheet."""
    x, y, w, h = box
    if not all(math.isfinite(v) for v in box) or min(x, y) < 0 or min(w, h) <= 0:
        raise RequestError("The focal area must be left, top, width, height between 0 and 1.")
    if x + w > 1 + 1e-9 or y + h > 1 + 1e-9:
        raise RequestError("The focal area reaches outside the sheet.")
    rows, cols = reference.xyz.shape[:2]
    mask = np.zeros((rows, cols), dtype=np.float32)
    mask[
        int(y * rows) : max(math.ceil((y + h) * rows), int(y * rows) + 1),
        int(x * cols) : max(math.ceil((x + w) * cols), int(x * cols) + 1),
    ] = 1.0
    return mask


def with_focal_area(reference: Reference, mask: FloatArray) -> Reference:
    """The reference with a part that matters more; mask (rows, cols) in [0, 1]."""
    fitted = _fit_mask(as_float(mask), reference, "focal")
    weight = 1.0 + (FOCAL_WEIGHT - 1.0) * fitted
    return replace(reference, weight=weight.astype(np.float32))


def with_background(
    reference: Reference, mask: FloatArray, treatment: Background, white_xyz: FloatArray
) -> Reference:
    """The reference with its background treated as the painter asked.

    mask: (rows, cols), 1 = background. "painted" keeps the picture but no shape crosses
    the mask's edge; "bare" turns the background into paper (white_xyz (3,)); "graded"
    turns it into one even gradient that a single graded wash can follow.
    """
    fitted = _fit_mask(as_float(mask), reference, "background")
    zone = np.where(fitted > 0.5, BACKGROUND, SUBJECT).astype(np.int32)
    if not (zone == BACKGROUND).any() or not (zone == SUBJECT).any():
        raise RequestError("The background mask must leave both a background and a subject.")
    edited = reference.xyz.copy()
    if treatment == "bare":
        edited[zone == BACKGROUND] = white_xyz
    elif treatment == "graded":
        edited[zone == BACKGROUND] = _gradient(reference.xyz, zone)[zone == BACKGROUND]
    judge = reference.judge_xyz
    if treatment != "painted":
        # The subject keeps its own pixels; only what changed is brought down to judge size.
        share = _resize((zone == BACKGROUND).astype(np.float32), judge.shape[1], judge.shape[0])
        judge = judge + (_resize(edited, judge.shape[1], judge.shape[0]) - judge) * share[..., None]
    return replace(
        reference,
        xyz=edited.astype(np.float32),
        judge_xyz=judge.astype(np.float32),
        zone=zone,
        background=treatment,
    )


def gradient_place(shape: tuple[int, int], plane: FloatArray, inside: FloatArray) -> FloatArray:
    """Place 0-1 (rows, cols) of each pixel along the steepest even change of a plane."""
    rows, cols = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float64)
    keep = inside.astype(bool)
    design = np.column_stack([rows[keep], cols[keep], np.ones(keep.sum())])
    slope = np.linalg.lstsq(design, plane[keep], rcond=None)[0]
    along = slope[0] * rows + slope[1] * cols
    if float(np.ptp(along[keep])) < 1e-6:
        along = rows  # an even background: grade it from top to bottom
    low, high = along[keep].min(), along[keep].max()
    return np.asarray(np.clip((along - low) / (high - low), 0.0, 1.0))


def _gradient(xyz: FloatArray, zone: NDArray[np.int32]) -> NDArray[np.float32]:
    """XYZ (rows, cols, 3) of the straight gradient nearest to the background."""
    inside = zone == BACKGROUND
    place = gradient_place(zone.shape, xyz[..., 1].astype(np.float64), inside)
    design = np.column_stack([1 - place[inside], place[inside]])
    ends = np.linalg.lstsq(design, xyz[inside].astype(np.float64), rcond=None)[0]
    ends = np.maximum(ends, 1e-3)
    between = (1 - place)[..., None] * ends[0] + place[..., None] * ends[1]
    return np.asarray(between, dtype=np.float32)
