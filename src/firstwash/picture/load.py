"""A photo file becomes linear light: decoded, colour managed, turned upright, shrunk.

The file is read once into memory and judged by its contents, never by its name.
Sizes are checked from the header before a single pixel is decoded. Decoding,
linearising and shrinking then run as one stream, so that the full-size picture
exists as floats only if it is asked for.

`photo_size` tells the upright size from the header alone; a crop worked out from it
(see `firstwash.picture.sheet`) is handed to `load_photo`.
"""

from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PhotoError
from firstwash.picture.decode import Opened, damaged, open_picture
from firstwash.picture.icc import IccError, read_icc
from firstwash.picture.profile import (
    ADOBE_RGB,
    SRGB,
    SRGB_TO_XYZ,
    Shaper,
    libvips,
    shaper_from_code_points,
    shaper_from_icc,
)
from firstwash.picture.sheet import CropBox

__all__ = ["Limits", "Photo", "load_photo", "photo_size"]

Image = Any  # a pyvips image; pyvips is untyped

UNREADABLE = "The embedded colour profile could not be read; sRGB was assumed."
UNFITTING = "The embedded colour profile does not fit the picture; sRGB was assumed."
UNKNOWN_CODES = "The picture's colour codes are not known here; sRGB was assumed."
TRANSPARENT = "Transparent parts were laid over white."
CHANNELS = {"GRAY": 1, "RGB": 3, "CMYK": 4}
WHITE_XYZ = 100 * SRGB_TO_XYZ.sum(axis=1)
XYZ_TO_SRGB = np.linalg.inv(SRGB_TO_XYZ) * SRGB_TO_XYZ.sum(axis=1)  # from XYZ relative to white
PQ_HLG = (16, 18)  # ITU-T H.273 transfer characteristics of high-dynamic-range pictures


@dataclass(frozen=True)
class Limits:
    """What a photo may be; checked before it is decoded.

    max_bytes: size of the file. max_pixels: width × height. min_side: shorter side, pixels.
    """

    max_bytes: int = 320_000_000  # 50 million uncompressed 16-bit RGB pixels and a header
    max_pixels: int = 100_000_000
    min_side: int = 64


DEFAULT_LIMITS = Limits()


@dataclass(frozen=True, eq=False)
class Photo:
    """A photo as linear light.

    linear: float32 (rows, cols, 3), red, green, blue, read-only. Linear light in the
    primaries and white of sRGB (IEC 61966-2-1, D65); 1 is the photo's white. Not
    clipped: colours outside sRGB have values a little below 0 or above 1.
    width, height: of the whole upright photo in the file, pixels.
    crop: the part that was loaded, in those pixels.
    bits: per channel in the file. kind: "JPEG", "PNG", "TIFF", "WebP" or "HEIF".
    profile: the colour space the file was read as, for people. to_srgb: (3, 3) from linear light
    in the file's own primaries, in which its camera bent the tones, to that of sRGB.
    notes: whole sentences about anything assumed or left out.
    """

    linear: NDArray[np.float32]
    width: int
    height: int
    crop: CropBox
    bits: int
    kind: str
    profile: str
    notes: tuple[str, ...]
    to_srgb: NDArray[np.float64] = field(default_factory=lambda: np.eye(3))


def photo_size(source: Path | bytes, *, limits: Limits = DEFAULT_LIMITS) -> tuple[int, int]:
    """Width and height of the upright photo in pixels, from the header alone.

    Raises PhotoError as `load_photo` does, except for damage the header does not show.
    """
    opened = _open(source, limits)
    return opened.width, opened.height


def load_photo(
    source: Path | bytes,
    *,
    limits: Limits = DEFAULT_LIMITS,
    crop: CropBox | None = None,
    max_pixels_per_side: int | None = None,
) -> Photo:
    """Read one still picture as linear light in the sRGB primaries.

    source: a file, or a file's bytes: JPEG, PNG, TIFF (8 or 16 bit), WebP, HEIC, AVIF.
    crop: part of the upright photo to keep, in whole pixels.
    max_pixels_per_side: longest side of the result; a larger crop is shrunk by
    averaging linear light with weights that are never negative, so no value leaves
    the range of its neighbours. None keeps every pixel.

    The same bytes give the same array. No camera data or place is kept. An embedded
    profile is honoured (relative colorimetric); without one sRGB is assumed, or what
    the container's colour codes or the camera's tag say. Transparency is laid over white.
    Raises PhotoError, one sentence that says what to do, when the picture cannot be
    used; ValueError for max_pixels_per_side < 1.
    """
    if max_pixels_per_side is not None and max_pixels_per_side < 1:
        raise ValueError("max_pixels_per_side: must be at least 1")
    opened = _open(source, limits)
    box = _checked_crop(opened, crop, limits)
    colour = _colour_of(opened)
    array, notes = _checked_pixels(opened, colour, box, max_pixels_per_side)
    return Photo(
        linear=array,
        width=opened.width,
        height=opened.height,
        crop=box,
        bits=opened.bits,
        kind=opened.kind,
        profile=colour.name,
        notes=opened.notes + colour.notes + notes,
        to_srgb=_own_primaries(colour),
    )


def _own_primaries(colour: "_Colour") -> NDArray[np.float64]:
    """Matrix of a picture of three curves; sRGB's own where its profile has no such matrix."""
    matrix = np.eye(3) if colour.shaper is None else np.asarray(colour.shaper.matrix, dtype=float)
    return matrix.copy() if matrix.shape == (3, 3) else np.eye(3)


# --- reading and checking --------------------------------------------------------


def _open(source: Path | bytes, limits: Limits) -> Opened:
    name = "The picture" if isinstance(source, bytes) else source.name
    data = source if isinstance(source, bytes) else _read(source, limits)
    _check_bytes(name, len(data), limits)
    if not data:
        raise PhotoError(f"{name} is empty; copy it again from where it came.")
    opened = open_picture(data, name)
    _check_picture(opened, limits)
    return opened


def _read(path: Path, limits: Limits) -> bytes:
    try:
        if path.is_dir():
            raise PhotoError(f"{path.name or path} is a folder; choose a photo inside it.")
        if not path.exists():
            raise PhotoError(f"There is no file {path}; check its name and folder.")
        if not path.is_file():  # reading a pipe or device could wait for ever
            raise PhotoError(f"{path.name} is not an ordinary file; choose a photo.")
        _check_bytes(path.name, path.stat().st_size, limits)
        return path.read_bytes()
    except (OSError, ValueError):  # ValueError: a name no file can have
        raise PhotoError(f"{path.name} cannot be opened; check that you may read it.") from None


def _check_bytes(name: str, size: int, limits: Limits) -> None:
    if size > limits.max_bytes:
        raise PhotoError(
            f"{name} is {size / 1e6:.0f} MB, more than the {limits.max_bytes / 1e6:.0f} MB "
            "allowed; save a smaller copy."
        )


def _check_picture(opened: Opened, limits: Limits) -> None:
    name, width, height = opened.name, opened.width, opened.height
    if opened.frames > 1:
        raise PhotoError(f"{name} holds more than one picture; save the one to paint by itself.")
    if min(width, height) < limits.min_side:
        raise PhotoError(
            f"{name} is only {width} × {height} pixels; use a photo of at least "
            f"{limits.min_side} pixels a side."
        )
    if width * height > limits.max_pixels:
        raise PhotoError(
            f"{name} has {width * height / 1e6:.0f} million pixels, more than the "
            f"{limits.max_pixels / 1e6:.0f} million allowed; save a smaller copy."
        )


def _checked_crop(opened: Opened, crop: CropBox | None, limits: Limits) -> CropBox:
    box = crop or CropBox(0, 0, opened.width, opened.height)
    if min(box.x, box.y) < 0 or box.right > opened.width or box.bottom > opened.height:
        raise PhotoError(
            f"The crop reaches outside the photo, which is {opened.width} × {opened.height} "
            "pixels; choose one inside it."
        )
    if min(box.width, box.height) < limits.min_side:
        raise PhotoError(
            f"The crop is only {box.width} × {box.height} pixels; choose a larger part of the "
            f"photo, at least {limits.min_side} pixels a side."
        )
    return box


# --- what the colours mean -------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Colour:
    """How device values become linear sRGB.

    name, notes: for `Photo`. shaper: curves and a matrix; None when the profile `icc` is
    built on tables for `channels` channels, which libvips's colour engine evaluates.
    """

    name: str
    shaper: Shaper | None
    icc: bytes = b""
    channels: int = 0
    notes: tuple[str, ...] = ()


def _colour_of(opened: Opened) -> _Colour:
    if opened.code_points and opened.code_points != (2, 2):  # 2: "unspecified"
        return _from_code_points(opened, *opened.code_points)
    if opened.icc:
        return _from_profile(opened, opened.icc)
    if opened.colours == 4:
        raise _no_inks(opened)
    if opened.adobe_rgb:
        return _Colour(f"{ADOBE_RGB.name}, from the camera's tag", ADOBE_RGB)
    return _Colour("sRGB (assumed)", SRGB)


def _from_code_points(opened: Opened, primaries: int, transfer: int) -> _Colour:
    if transfer in PQ_HLG:
        raise PhotoError(
            f"{opened.name} is a high-dynamic-range (HDR) picture; export it as an ordinary "
            "JPEG or TIFF and use that."
        )
    shaper = shaper_from_code_points(primaries, transfer)
    if shaper is None:
        return _Colour("sRGB (assumed)", SRGB, notes=(UNKNOWN_CODES,))
    return _Colour(shaper.name, shaper)


def _from_profile(opened: Opened, icc: bytes) -> _Colour:
    try:
        profile = read_icc(icc)
    except IccError:
        return _assumed(opened, UNREADABLE)
    channels, name = CHANNELS[profile.space], profile.description or "unnamed profile"
    # A grey picture saved with an RGB profile is common, and clear: equal R, G and B.
    if channels != opened.colours and (opened.colours, channels) != (1, 3):
        return _assumed(opened, UNFITTING)
    if profile.curves:
        return _Colour(name, shaper_from_icc(profile))
    colour = _Colour(name, None, icc, channels)
    return colour if _engine_takes(colour) else _assumed(opened, UNREADABLE)


def _engine_takes(colour: _Colour) -> bool:
    """Whether the colour engine can use the profile; libvips falls back silently if not."""
    vips = libvips()
    try:
        seen = _to_xyz(vips.Image.black(1, 1, bands=colour.channels), colour)
        seen.avg()
        return bool(seen.get("icc-profile-data") == colour.icc)
    except vips.Error:
        return False


def _assumed(opened: Opened, note: str) -> _Colour:
    if opened.colours == 4:
        raise _no_inks(opened)
    return _Colour("sRGB (assumed)", SRGB, notes=(note,))


def _no_inks(opened: Opened) -> PhotoError:
    return PhotoError(
        f"{opened.name} is a CMYK picture without a usable profile, so its colours are not "
        "known; convert it to RGB and use that."
    )


# --- pixels ----------------------------------------------------------------------


DECODING = Lock()  # one picture at a time: two large ones at once would double the memory


def _checked_pixels(
    opened: Opened, colour: _Colour, box: CropBox, longest: int | None
) -> tuple[NDArray[np.float32], tuple[str, ...]]:
    """The pixels and notes of `_pixels`; damage becomes a PhotoError."""
    vips = libvips()
    with DECODING:
        vips.Error("")  # making one takes, and so empties, libvips's error buffer
        try:
            result = _pixels(opened, colour, box, longest)
        except vips.Error:
            raise damaged(opened.name) from None
        # libvips blackens the tiles of a TIFF it cannot read, and goes on.
        if opened.kind == "TIFF" and vips.Error("").detail:
            raise damaged(opened.name)
        return result


def _pixels(
    opened: Opened, colour: _Colour, box: CropBox, longest: int | None
) -> tuple[NDArray[np.float32], tuple[str, ...]]:
    """Decode, linearise, lay over white and shrink; the array, and a note if it had holes."""
    image = opened.decode()
    if box != (0, 0, opened.width, opened.height):
        image = image.crop(*_as_stored(box, opened))
    # Turning needs all pixels in memory, so it is done where they take least.
    shrink = longest is not None and max(box.width, box.height) > longest
    image, alpha = _parted(image if shrink else _turned(image, opened), opened)
    image = _linear(image, opened, colour)
    if alpha is not None:
        image = image * alpha + (1 - alpha)  # white is 1 in every channel here
    image = _turned(_shrunk(image, longest), opened) if shrink and longest else image
    array: NDArray[np.float32] = _in_srgb(image, colour).cast("float").numpy()
    array.setflags(write=False)
    return array, () if alpha is None else (TRANSPARENT,)


def _as_stored(box: CropBox, opened: Opened) -> CropBox:
    """The box in the pixels of the file, before they are turned upright."""
    x, y, width, height = box
    if opened.orientation in (2, 3, 6, 7):
        x = opened.width - box.right
    if opened.orientation in (3, 4, 7, 8):
        y = opened.height - box.bottom
    return CropBox(y, x, height, width) if opened.orientation >= 5 else CropBox(x, y, width, height)


def _turned(image: Image, opened: Opened) -> Image:
    """The image upright, by the orientation it carries."""
    return image if opened.orientation == 1 else image.copy_memory().autorot()


def _parted(image: Image, opened: Opened) -> tuple[Image, Image | None]:
    """The colour channels, and the alpha in 0 to 1 if anything is transparent."""
    if image.bands == opened.colours:
        return image, None
    alpha = None
    if opened.alpha:
        image = image.copy_memory()  # read twice: once to see whether any pixel is transparent
        alpha = image[opened.colours]
        alpha = None if alpha.min() >= opened.white else alpha * (1 / opened.white)
    return image.extract_band(0, n=opened.colours), alpha


def _linear(image: Image, opened: Opened, colour: _Colour) -> Image:
    """Linear light in which white is 1 in every channel: device channels, or XYZ."""
    if colour.shaper is None:
        scale = (opened.levels - 1) / opened.white
        image = image if scale == 1 else (image * scale).cast(image.format)
        return _to_xyz(image, colour) / list(WHITE_XYZ)
    table = colour.shaper.table(opened.levels, opened.white)
    lut = libvips().Image.new_from_memory(table, opened.levels, 1, table.shape[1], "float")
    return image.maplut(lut)  # a grey picture gets as many channels as there are curves


def _to_xyz(image: Image, colour: _Colour) -> Image:
    """XYZ under D65, Y = 100 for white, by the colour engine and the profile's tables."""
    if image.bands == 1 and colour.channels == 3:
        image = image.bandjoin([image, image])
    wide = image.format == "ushort"
    spaces = {1: "grey16" if wide else "b-w", 3: "rgb16" if wide else "srgb", 4: "cmyk"}
    tagged = image.copy(interpretation=spaces[image.bands])
    tagged.set_type(libvips().GValue.blob_type, "icc-profile-data", colour.icc)
    return tagged.icc_import(embedded=True, pcs="xyz", intent="relative")


def _shrunk(image: Image, longest: int) -> Image:
    scale = longest / max(image.width, image.height)
    width, height = (max(1, round(side * scale)) for side in (image.width, image.height))
    # A tent as wide as two output pixels: it averages areas like a box, aliases less, and,
    # unlike kernels with negative lobes, makes no colour that was not in the photo.
    return image.resize(width / image.width, vscale=height / image.height, kernel="linear")


def _in_srgb(image: Image, colour: _Colour) -> Image:
    """From the linear light of `_linear` to that of sRGB."""
    matrix = XYZ_TO_SRGB if colour.shaper is None else colour.shaper.matrix
    return image if np.array_equal(matrix, np.eye(3)) else image.recomb(matrix.tolist())
