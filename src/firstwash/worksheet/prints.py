"""Pictures of a plan as the page asks for them: bytes, their media type and their size.

A page asks for the same plan many times, stage after stage and after every change of a
strength; which cell each pixel belongs to is worked out once for each width and kept.
"""

import io
import weakref
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.handout.pictures import cells_at, paint_stage
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.profile import (
    encode_jpeg,
    encode_png,
    libvips,
    linear_to_srgb8,
    srgb_profile,
)
from firstwash.picture.reference import Reference, shrink_xyz
from firstwash.picture.sheet import Sheet
from firstwash.plan.result import Plan
from firstwash.worksheet.print_words import difference_words

__all__ = [
    "Difference",
    "Form",
    "Picture",
    "difference_picture_soft",
    "height_for",
    "index_picture",
    "reference_picture",
    "stage_picture",
    "thumbnail",
]

Form = Literal["jpeg", "png", "webp"]

WIDTHS: Final = (16, 3000)  # pixels a page may ask for; more shows nothing that a wash holds
FINE_UP_TO: Final = 2_000_000  # pixels up to which cells are drawn twice as fine, then averaged
KEPT_GRIDS: Final = 3
QUALITY: Final = 92  # of JPEG and WebP: no ringing is seen beside a hard edge on a flat wash
SMALL_QUALITY: Final = 85
# Own judgement: σ and the places where the greys change.
EYE_MM: Final = 2.0  # σ: texture finer than a brush-mark is no difference between two paintings
PASSAGE_MM: Final = 4.0  # σ over which differences are averaged: a passage is off, not a speck
HALF_STEP: Final = 5.0  # CIEDE2000 of half a value step, 5 of L*, in the middle of the scale
GREYS: Final = (238, 170, 84)  # close, half a step, clearly off


@dataclass(frozen=True)
class Picture:
    """A picture ready to be sent: its file, its media type, width and height in pixels."""

    data: bytes
    media_type: str
    width: int
    height: int


@dataclass(frozen=True)
class Difference:
    """Where and by how much the painting differs from its reference.

    picture: three plain greys, the darker the further off. close, half_step, clear: shares of
    the sheet (0-1, together 1) that come close, are off by about half a value step or as much
    in colour, and are further off. words: the same for a reader. numbers: CIEDE2000.
    """

    picture: Picture
    close: float
    half_step: float
    clear: float
    words: str
    numbers: dict[str, float]


def height_for(sheet: Sheet, width_px: int) -> int:
    """Height in pixels of a picture of the sheet so many pixels wide.

    Raises RequestError for a width outside `WIDTHS`.
    """
    if not WIDTHS[0] <= width_px <= WIDTHS[1]:
        raise RequestError(f"Ask for a picture {WIDTHS[0]} to {WIDTHS[1]} pixels wide.")
    return max(1, round(width_px * sheet.height_mm / sheet.width_mm))


def stage_picture(plan: Plan, stage: int | None, width_px: int, fmt: Form = "jpeg") -> Picture:
    """The sheet after `stage` layers (0, bare paper, to all), None for the finished painting.

    Raises RequestError for a stage the plan has not, or a width nobody needs.
    """
    if stage is not None and not 0 <= stage <= plan.layers:
        raise RequestError(f"This plan has {plan.layers} layers; ask for one of them.")
    height = height_for(plan.sheet, width_px)
    times = 2 if width_px * height <= FINE_UP_TO else 1
    index = _grid(plan, width_px * times, height * times)
    return _picture(paint_stage(plan, stage, index, times), fmt)


def reference_picture(reference: Reference, width_px: int, fmt: Form = "jpeg") -> Picture:
    """The reference as it was edited for the plan, pixel upon pixel with `stage_picture`."""
    height = height_for(reference.sheet, width_px)
    linear = xyz_to_linear_srgb(reference.xyz).astype(np.float32)
    return _picture(linear_to_srgb8(_resized(linear, width_px, height)), fmt)


def index_picture(plan: Plan, width_px: int) -> Picture:
    """PNG whose pixels say which cell they belong to: number = red + 256 · green; blue is 0.

    It carries no profile, so that a canvas reads back exactly these codes, and lies pixel upon
    pixel on `stage_picture` of the same width.
    """
    height = height_for(plan.sheet, width_px)
    numbers = _grid(plan, width_px, height)
    codes = np.zeros((*numbers.shape, 3), dtype=np.uint8)
    codes[..., 0], codes[..., 1] = numbers & 255, numbers >> 8
    out = io.BytesIO()
    Image.fromarray(codes).save(out, "png", compress_level=6)
    return Picture(out.getvalue(), "image/png", width_px, height)


def thumbnail(subject: Plan | Reference, side_px: int = 320) -> Picture:
    """JPEG of the finished painting, or of a reference, so many pixels on its longer side."""
    sheet = subject.sheet
    width = round(side_px * min(1.0, sheet.width_mm / sheet.height_mm))
    height = height_for(sheet, width)
    xyz = subject.finished_xyz if isinstance(subject, Plan) else subject.xyz
    linear = xyz_to_linear_srgb(xyz).astype(np.float32)
    shown = linear_to_srgb8(_resized(linear, width, height))
    return Picture(encode_jpeg(shown, quality=SMALL_QUALITY), "image/jpeg", width, height)


def difference_picture_soft(plan: Plan, reference: Reference, width_px: int = 600) -> Difference:
    """Where and by how much the finished painting differs from the reference.

    Both are blurred by about a brush-mark first, and the difference is averaged over a passage:
    what is asked is which passages are off, not which leaves of a tree. It is rounded to half
    value steps: none, one, or more.
    """
    height = height_for(plan.sheet, width_px)
    painted, wanted = (_as_seen(xyz, reference) for xyz in (plan.finished_xyz, reference.judge_xyz))
    error = _blurred(delta_e_2000(painted, wanted), PASSAGE_MM * reference.judge_ppmm)
    steps = _steps(error)
    shares = np.bincount(steps.ravel(), minlength=3) / steps.size
    return Difference(
        picture=_in_greys(error, width_px, height),
        close=float(shares[0]),
        half_step=float(shares[1]),
        clear=float(shares[2]),
        words=difference_words(shares, steps == 2, painted - wanted),
        numbers={"mean": float(error.mean()), "p95": float(np.percentile(error, 95))},
    )


def _steps(error: FloatArray) -> NDArray[np.int64]:
    return np.asarray(np.clip(np.rint(error / HALF_STEP), 0, 2), dtype=np.int64)


def _as_seen(xyz: FloatArray, reference: Reference) -> NDArray[np.float64]:
    """CIELAB (rows, cols, 3) at judging size, light averaged over a brush-mark."""
    small = shrink_xyz(np.asarray(xyz, dtype=np.float32), reference.judge_xyz)
    return xyz_to_lab(_blurred(small, EYE_MM * reference.judge_ppmm))


def _blurred(plane: FloatArray, sigma: float) -> NDArray[np.float32]:
    small = np.asarray(plane, dtype=np.float32)
    out = cv2.GaussianBlur(small, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(out, dtype=np.float32)


def _in_greys(error: NDArray[np.float32], width: int, height: int) -> Picture:
    """Twice as fine and averaged, so that the borders of the greys are smooth."""
    steps = _steps(_resized(error, 2 * width, 2 * height))
    grey = np.take(np.array(GREYS, dtype=np.uint8), steps)
    small = cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA)
    return Picture(encode_png(np.asarray(small, np.uint8)), "image/png", width, height)


def _resized(plane: NDArray[np.float32], width: int, height: int) -> NDArray[np.float32]:
    smaller = width * height < plane.shape[0] * plane.shape[1]
    how = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(plane, (width, height), interpolation=how), np.float32)


def _picture(pixels: NDArray[np.uint8], fmt: Form) -> Picture:
    height, width = pixels.shape[:2]
    if fmt == "jpeg":
        data = encode_jpeg(pixels, quality=QUALITY)
    elif fmt == "png":
        data = encode_png(pixels)
    else:
        data = _webp(pixels)
    return Picture(data, f"image/{fmt}", width, height)


def _webp(pixels: NDArray[np.uint8]) -> bytes:
    """Half the bytes of a JPEG, twenty times its time: for what is sent more than once."""
    vips = libvips()
    rows, cols = pixels.shape[:2]
    image = vips.Image.new_from_memory(np.ascontiguousarray(pixels), cols, rows, 3, "uchar")
    image = image.copy(interpretation="srgb")
    image.set_type(vips.GValue.blob_type, "icc-profile-data", srgb_profile())
    return bytes(image.webpsave_buffer(Q=QUALITY, smart_subsample=True, effort=2, keep="icc"))


# --- which cell each pixel belongs to, kept ------------------------------------------

_Key = tuple[int, int, int]
_grids: OrderedDict[_Key, tuple["weakref.ref[NDArray[np.int32]]", NDArray[np.int32]]]
_grids = OrderedDict()
_lock = Lock()


def _grid(plan: Plan, width: int, height: int) -> NDArray[np.int32]:
    """Cell of each pixel (height, width). Plans that differ in their paint share it."""
    own = plan.cells.index
    key = (id(own), width, height)
    with _lock:
        for other in [k for k, (of, _) in _grids.items() if of() is None]:
            del _grids[other]  # its plan is gone; another array may have its address by now
        if key in _grids:
            _grids.move_to_end(key)
            return _grids[key][1]
    found = cells_at(plan.cells, width, height)
    with _lock:
        _grids[key] = (weakref.ref(own), found)
        while len(_grids) > KEPT_GRIDS:
            _grids.popitem(last=False)
    return found
