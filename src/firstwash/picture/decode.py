"""Open a picture file: read its header now, decode its pixels when they are asked for.

libvips reads everything except HEVC-coded HEIC, for which its wheels carry no
decoder; pillow-heif does those. Pixels stay device values here: what they mean
is settled in `firstwash.picture.load`.
"""

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from firstwash.errors import PhotoError
from firstwash.picture.header import Contents, recognise, unusual
from firstwash.picture.profile import libvips

__all__ = ["Opened", "damaged", "open_picture"]

Image = Any  # a pyvips image; pyvips is untyped

COLOUR_CHANNELS = {"b-w": 1, "grey16": 1, "srgb": 3, "rgb": 3, "rgb16": 3, "cmyk": 4}
LONGEST_SIDE = 10_000_000  # libvips's own limit; beyond it a header is damaged
# pillow-heif's own list, and what its metadata readers let through on damaged files.
HEIF_ERRORS = (
    *(ValueError, EOFError, SyntaxError, RuntimeError, OSError),
    *(LookupError, TypeError, MemoryError, struct.error),
)


@dataclass(frozen=True, eq=False)
class Opened:
    """A picture whose header is read and whose pixels can be decoded.

    name: for messages. kind, bits: as in `Photo`. width, height: upright, pixels.
    frames: full-size pictures in the file.
    colours: 1 grey, 3 RGB or 4 CMYK; alpha: whether a transparency channel follows.
    levels: codes the stored type can hold, 256 or 65536; white: the code that means 1.
    icc: the embedded profile's bytes. code_points: ITU-T H.273 (primaries, transfer).
    adobe_rgb: the camera tagged the colours as Adobe RGB instead of embedding a profile.
    notes: whole sentences about what is in the file and not used.
    orientation: 1 to 8, how the stored pixels are to be turned (EXIF, TIFF).
    decode: gives the libvips image of device values as stored, colours then alpha. Damage
    may show only when its pixels are computed: as a libvips error or, in a tiled TIFF, only
    as a text in libvips's error buffer.
    """

    name: str
    kind: str
    frames: int
    width: int
    height: int
    bits: int
    colours: int
    alpha: bool
    levels: int
    white: int
    icc: bytes | None
    code_points: tuple[int, int] | None
    adobe_rgb: bool
    orientation: int
    notes: tuple[str, ...]
    decode: Callable[[], Image]


def damaged(name: str) -> PhotoError:
    """The error for a file that starts well and cannot be decoded."""
    return PhotoError(
        f"{name} is damaged or cut short; copy it again from where it came, or save it anew."
    )


def open_picture(data: bytes, name: str) -> Opened:
    """Read a picture's header.

    data: the whole file, trusted in nothing; name: for messages.
    Raises PhotoError when it is not a supported picture or its header is damaged.
    """
    contents = recognise(data, name)
    heif = _Heif(data, name) if contents.kind == "HEIF" else None
    image = _header(data, name, contents.kind)
    colours = _colour_channels(image, name)
    orientation = _orientation(image)
    across, down = image.width, image.height
    bits = _bits(image)
    icc = _field(image, "icc-profile-data", None)
    return Opened(
        name=name,
        kind=contents.kind,
        frames=_frames(image, contents),
        width=down if orientation >= 5 else across,
        height=across if orientation >= 5 else down,
        bits=bits,
        colours=colours,
        alpha=contents.alpha and image.bands > colours,
        levels=65536 if image.format == "ushort" else 256,
        white=_white(image, contents.kind, bits),
        icc=icc,
        # A HEIC profile says more than its code points; PNG ranks them the other way.
        code_points=(None if icc else heif.code_points) if heif else contents.code_points,
        adobe_rgb=_field(image, "exif-ifd4-InteroperabilityIndex", "").startswith("R03"),
        orientation=orientation,
        notes=tuple(_notes(image, contents, colours)),
        decode=lambda: heif.decode(image) if heif else image,
    )


def _header(data: bytes, name: str, kind: str) -> Image:
    """The libvips image; its header is read, its pixels are not decoded yet."""
    image = libvips().Image
    loaders = {
        "JPEG": image.jpegload_buffer,
        "PNG": image.pngload_buffer,
        "TIFF": image.tiffload_buffer,
        "WebP": image.webpload_buffer,
        "HEIF": image.heifload_buffer,
    }
    try:
        header = loaders[kind](data, access="sequential", fail_on="error")
        primary = int(_field(header, "heif-primary", 0))
        return loaders[kind](data, page=primary) if primary else header
    except libvips().Error:
        raise damaged(name) from None


def _field(image: Image, name: str, default: Any) -> Any:
    return image.get(name) if image.get_typeof(name) else default


def _orientation(image: Image) -> int:
    """EXIF or TIFF orientation, 1 to 8; anything else is taken as upright."""
    orientation = int(_field(image, "orientation", 1))
    return orientation if 1 <= orientation <= 8 else 1


def _bits(image: Image) -> int:
    stored = 16 if image.format == "ushort" else 8
    # A palette's indices may be 1 to 8 bits; its colours have 8.
    return stored if _field(image, "palette", 0) else int(_field(image, "bits-per-sample", stored))


def _white(image: Image, kind: str, bits: int) -> int:
    """The code for full scale: HEIF's 10 and 12 bits arrive shifted up, not stretched."""
    if kind == "HEIF" and image.format == "ushort":
        return ((1 << bits) - 1) << (16 - bits)
    return 65535 if image.format == "ushort" else 255


def _frames(image: Image, contents: Contents) -> int:
    return int(_field(image, "n-pages", 1)) if contents.kind == "WebP" else contents.frames


def _notes(image: Image, contents: Contents, colours: int) -> Iterator[str]:
    if contents.kind == "HEIF" and _field(image, "n-pages", 1) > 1:
        yield "The file holds several pictures; its main one was used."
    if image.bands > colours + contents.alpha:
        yield "Channels beside the colours were ignored."


def _colour_channels(image: Image, name: str) -> int:
    channels = COLOUR_CHANNELS.get(image.interpretation)
    if channels is None or image.format not in ("uchar", "ushort") or image.bands < channels:
        raise unusual(name)
    return channels


# --- HEIC and AVIF ---------------------------------------------------------------


class _Heif:
    """What libvips does not tell of a HEIC or AVIF file, and HEVC decoding.

    The file's own rotation is applied by both decoders; EXIF repeats it and is ignored,
    as ISO/IEC 23008-12 demands.
    """

    def __init__(self, data: bytes, name: str) -> None:
        from pillow_heif import open_heif  # 40 ms that other formats need not pay

        self.name = name
        try:
            self.file = open_heif(data, convert_hdr_to_8bit=False)
            nclx = self.file.info.get("nclx_profile")
            longest = max(self.file.size)
        except HEIF_ERRORS:
            raise damaged(name) from None
        if longest > LONGEST_SIDE:
            raise damaged(name)
        keys = ("color_primaries", "transfer_characteristics")
        self.code_points = (int(nclx[keys[0]]), int(nclx[keys[1]])) if nclx else None

    def decode(self, image: Image) -> Image:
        """The pixels, given libvips's header of the same file."""
        if _field(image, "heif-compression", "") != "hevc":
            return image
        try:
            pixels = np.asarray(self.file)
        except HEIF_ERRORS:
            raise damaged(self.name) from None
        rows, cols, bands = pixels.shape if pixels.ndim == 3 else (*pixels.shape, 1)
        if (cols, rows, bands) != (image.width, image.height, image.bands):
            raise damaged(self.name)
        kind = "ushort" if pixels.dtype == np.uint16 else "uchar"
        make = libvips().Image.new_from_memory
        return make(np.ascontiguousarray(pixels), cols, rows, bands, kind)
