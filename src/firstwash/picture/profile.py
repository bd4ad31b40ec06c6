"""Colour management in and out: sRGB, how a picture's colours become linear light, PNG and JPEG.

Everything inside firstwash is linear light in the sRGB primaries (D65). A `Shaper`
takes a picture's device values there with one curve per channel and one matrix.

Sources: [IEC61966-2-1] (sRGB), [P3], [AdobeRGB1998] (primaries, gamma 563/256), [H273] (code
points for primaries and transfer characteristics).
"""

import struct
from dataclasses import dataclass
from functools import cache
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.picture.icc import (
    D65_XY,
    Chromaticity,
    Curve,
    IccProfile,
    Parametric,
    adapt_to_d50,
    rgb_to_xyz,
    write_icc,
)

__all__ = [
    "ADOBE_RGB",
    "SRGB",
    "SRGB_TO_XYZ",
    "Shaper",
    "decode_numbers",
    "encode_jpeg",
    "encode_png",
    "libvips",
    "linear_to_srgb",
    "linear_to_srgb8",
    "shaper_from_code_points",
    "shaper_from_icc",
    "srgb8_to_linear",
    "srgb_profile",
    "srgb_to_linear",
]

Float64 = NDArray[np.float64]
Primaries = tuple[Chromaticity, Chromaticity, Chromaticity]

SRGB_PRIMARIES: Primaries = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))  # [IEC61966-2-1]
P3_PRIMARIES: Primaries = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # [P3]
ADOBE_PRIMARIES: Primaries = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))  # [AdobeRGB1998]
BT2020_PRIMARIES: Primaries = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))  # [H273] code 9

SRGB_CURVE = Parametric(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # [IEC61966-2-1]

SRGB_TO_XYZ: Float64 = rgb_to_xyz(SRGB_PRIMARIES, D65_XY)
"""(3, 3) matrix from linear sRGB to XYZ under D65, Y = 1 for white. [IEC61966-2-1]"""

ENCODE_STEPS = 1 << 18  # linear steps of the 8-bit encoding table: 1/80 of a code at black
CHUNK = 1 << 20  # values handled at a time, to keep temporaries in cache


@cache
def libvips() -> Any:
    """The pyvips module, loaded on first use and set up for files nobody vouches for."""
    import pyvips  # 25 ms that `import firstwash` need not pay

    pyvips.block_untrusted_set(True)
    # Operations are never repeated here; the cache would only keep pictures alive.
    pyvips.cache_set_max(0)
    return pyvips


# --- sRGB ------------------------------------------------------------------------


def srgb_to_linear(encoded: FloatArray) -> FloatArray:
    """Linear light of sRGB-encoded values.

    encoded: any shape, 0 to 1; values outside continue the curve, odd about 0.
    Returns the same shape and float type. Source: [IEC61966-2-1].
    """
    size = np.abs(encoded)
    straight = size <= 0.04045
    linear = np.where(straight, size / 12.92, ((size + 0.055) / 1.055) ** 2.4)
    return np.copysign(linear, encoded).astype(encoded.dtype, copy=False)


def linear_to_srgb(linear: FloatArray) -> FloatArray:
    """sRGB encoding of linear light.

    linear: any shape, 0 to 1; values outside continue the curve, odd about 0.
    Returns the same shape and float type. Source: [IEC61966-2-1].
    """
    size = np.abs(linear)
    straight = size <= 0.0031308
    encoded = np.where(straight, size * 12.92, 1.055 * size ** (1 / 2.4) - 0.055)
    return np.copysign(encoded, linear).astype(linear.dtype, copy=False)


def linear_to_srgb8(linear: FloatArray) -> NDArray[np.uint8]:
    """sRGB encoding of linear light in 8 bits.

    linear: any shape, finite; values outside 0 to 1 are clipped. Returns the same
    shape. Rounded to nearest; within 1/80 of a code of a tie the neighbour may be taken.
    """
    table = _encode_table()
    flat = np.ascontiguousarray(linear).reshape(-1)
    codes = np.empty(flat.shape, np.uint8)
    for start in range(0, flat.size, CHUNK):
        part = np.clip(flat[start : start + CHUNK], 0.0, 1.0)
        steps = (part * (ENCODE_STEPS - 1) + 0.5).astype(np.int32)
        np.take(table, steps, out=codes[start : start + CHUNK])
    return codes.reshape(linear.shape)


@cache
def _encode_table() -> NDArray[np.uint8]:
    encoded = linear_to_srgb(np.linspace(0.0, 1.0, ENCODE_STEPS))
    return np.rint(encoded * 255).astype(np.uint8)


def srgb8_to_linear(codes: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light of 8-bit sRGB codes; any shape in, the same shape out, 0 to 1."""
    table = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)
    return np.take(table, codes)


@cache
def srgb_profile() -> bytes:
    """An ICC v4 profile of sRGB; the same bytes on every call and machine."""
    return write_icc("sRGB", SRGB_PRIMARIES, D65_XY, SRGB_CURVE)


# --- from device values to linear sRGB -------------------------------------------


@dataclass(frozen=True, eq=False)
class Shaper:
    """Device values to linear sRGB: a curve per channel, then a matrix.

    name: for people. curves: device value in [0, 1] to linear light in [0, 1].
    matrix: (3, n_channels), linear light in the device primaries to linear sRGB;
    device white goes to (1, 1, 1) within rounding, colours outside sRGB go below 0 or above 1.
    """

    name: str
    curves: tuple[Curve, ...]
    matrix: Float64

    def table(self, levels: int, white: int) -> NDArray[np.float32]:
        """Linear light of the integer codes 0 to levels - 1, where code `white` is 1.

        Returns (levels, n_channels), in [0, 1]; codes above `white` count as white.
        """
        device = np.minimum(np.arange(levels) / white, 1.0)
        return np.column_stack([curve(device) for curve in self.curves]).astype(np.float32)


def shaper_from_icc(profile: IccProfile) -> Shaper:
    """The shaper of a curves-and-matrix profile; `profile.curves` must not be empty."""
    srgb_to_d50 = adapt_to_d50(D65_XY) @ SRGB_TO_XYZ
    matrix = np.linalg.solve(srgb_to_d50, profile.to_d50)
    return Shaper(profile.description, profile.curves, _tidied(as_float(matrix)))


def _tidied(matrix: Float64) -> Float64:
    """The matrix, with what is only the rounding of sRGB's published numbers removed.

    sRGB profiles from different hands differ in the fourth decimal; taking them as
    one keeps tagged and untagged copies of a photo the same.
    """
    if matrix.shape[1] == 1:
        return np.ones((3, 1))  # grey is grey: the D50 column is white by definition
    return np.eye(3) if np.abs(matrix - np.eye(3)).max() < 1e-3 else matrix


def _d65_shaper(name: str, primaries: Primaries, curve: Curve) -> Shaper:
    matrix = np.linalg.solve(SRGB_TO_XYZ, rgb_to_xyz(primaries, D65_XY))
    return Shaper(name, (curve,) * 3, _tidied(as_float(matrix)))


SRGB = _d65_shaper("sRGB", SRGB_PRIMARIES, SRGB_CURVE)
ADOBE_RGB = _d65_shaper("Adobe RGB (1998)", ADOBE_PRIMARIES, Parametric(563 / 256))

CODED_PRIMARIES = {  # [H273] table 2; 2 is "unspecified"
    1: ("BT.709", SRGB_PRIMARIES),
    2: ("BT.709", SRGB_PRIMARIES),
    9: ("BT.2020", BT2020_PRIMARIES),
    12: ("Display P3", P3_PRIMARIES),
}
CODED_CURVES = {  # [H273] table 3
    # Stills tagged with a video camera curve were judged on a display, so the
    # display's curve undoes them; browsers do the same.
    **dict.fromkeys((1, 2, 6, 13, 14, 15), SRGB_CURVE),
    4: Parametric(2.2),
    5: Parametric(2.8),
    8: Parametric(1.0),
}


def shaper_from_code_points(primaries: int, transfer: int) -> Shaper | None:
    """The shaper for H.273 code points as HEIC, AVIF and PNG carry them, None if unknown.

    High-dynamic-range transfers (16, PQ, and 18, HLG) are unknown on purpose: how
    bright their white is depends on the display. Source: [H273].
    """
    if primaries not in CODED_PRIMARIES or transfer not in CODED_CURVES:
        return None
    name, chromaticities = CODED_PRIMARIES[primaries]
    curve = CODED_CURVES[transfer]
    if chromaticities is SRGB_PRIMARIES and curve is SRGB_CURVE:
        return SRGB
    return _d65_shaper(name, chromaticities, curve)


# --- writing pictures ------------------------------------------------------------


def encode_png(pixels: NDArray[np.generic], *, ppmm: float | None = None) -> bytes:
    """A PNG file; the same bytes for the same arguments, with no date or camera data.

    pixels: bool (rows, cols), a 1-bit mask, True white; uint8 or uint16 (rows, cols),
    grey or labels, written without a profile; uint8 or uint16 (rows, cols, 3 or 4),
    sRGB-encoded with straight alpha, written with the sRGB profile.
    ppmm: pixels per millimetre of the printed sheet, None to leave the size open.
    Raises ValueError for any other array.
    """
    image = _as_image(pixels, ppmm)
    depth = {"bitdepth": 1} if pixels.dtype == np.bool_ else {}
    # Level 3 with "up" writes 12 MP in half a second; higher levels save a percent.
    png = cast(bytes, image.pngsave_buffer(compression=3, filter="up", keep="icc", **depth))
    return png if ppmm else _without_size(png)


def decode_numbers(png: bytes) -> NDArray[np.uint16]:
    """Numbers (rows, cols) of a grey PNG of 8 or 16 bits, as `encode_png` writes labels.

    Raises ValueError for anything else.
    """
    vips = libvips()
    try:
        image = vips.Image.pngload_buffer(png, access="sequential")
        if image.bands != 1 or image.format not in ("uchar", "ushort"):
            raise ValueError("a grey PNG of 8 or 16 bits was expected")
        return np.asarray(image.numpy(), dtype=np.uint16)
    except vips.Error as error:
        raise ValueError(f"not a PNG that can be read: {error}") from None


def encode_jpeg(
    pixels: NDArray[np.uint8], *, quality: int = 92, ppmm: float | None = None
) -> bytes:
    """A JPEG file with the sRGB profile, without date or camera data.

    pixels: uint8 (rows, cols, 3), sRGB-encoded; quality: 1 to 100; ppmm: pixels per
    millimetre of the printed sheet (kept to whole pixels per centimetre).
    Raises ValueError for any other array.
    """
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
        raise ValueError(
            f"pixels: must be uint8 (rows, cols, 3), got {pixels.dtype} {pixels.shape}"
        )
    image = _as_image(pixels, ppmm)
    # Full chroma resolution: thin coloured lines are what these pictures are about.
    jpeg = cast(bytes, image.jpegsave_buffer(Q=quality, subsample_mode="off", keep="icc"))
    return _with_size(jpeg, ppmm)


def _as_image(pixels: NDArray[np.generic], ppmm: float | None) -> Any:
    bands = pixels.shape[2] if pixels.ndim == 3 else 1
    if pixels.ndim not in (2, 3) or bands not in (1, 3, 4) or 0 in pixels.shape:
        raise ValueError(f"pixels: unusable shape {pixels.shape}")
    if pixels.dtype not in (np.bool_, np.uint8, np.uint16) or (
        pixels.dtype == np.bool_ and bands > 1
    ):
        raise ValueError(f"pixels: unusable type {pixels.dtype} for shape {pixels.shape}")
    data = np.ascontiguousarray(pixels)
    if data.dtype == np.bool_:
        data = data.astype(np.uint8) * np.uint8(255)
    wide = data.dtype == np.uint16
    vips = libvips()
    rows, cols = data.shape[:2]
    image = vips.Image.new_from_memory(data, cols, rows, bands, "ushort" if wide else "uchar")
    space = ("grey16" if wide else "b-w") if bands == 1 else ("rgb16" if wide else "srgb")
    image = image.copy(interpretation=space, xres=ppmm or 1.0, yres=ppmm or 1.0)
    if bands > 1:
        image.set_type(vips.GValue.blob_type, "icc-profile-data", srgb_profile())
    return image


def _without_size(png: bytes) -> bytes:
    """The PNG without its pHYs chunk, which libvips writes even when it knows no size."""
    start = png.index(b"pHYs") - 4
    return png[:start] + png[start + 21 :]  # length, name, 9 bytes of content, checksum


def _with_size(jpeg: bytes, ppmm: float | None) -> bytes:
    """The JPEG with a JFIF header, where the size goes; libvips drops it with the EXIF block."""
    unit, density = (2, round(ppmm * 10)) if ppmm else (0, 1)  # 2: per centimetre, 0: square pixels
    header = struct.pack(
        ">2sH5s2BB2H2B", b"\xff\xe0", 16, b"JFIF", 1, 1, unit, density, density, 0, 0
    )
    return jpeg[:2] + header + jpeg[2:]
