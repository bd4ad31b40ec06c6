"""sRGB, shapers, and the PNG and JPEG writers."""

import io
import struct
from collections.abc import Iterator

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from firstwash.optics import observer
from firstwash.picture import icc, profile

# [IEC61966-2-1] prints these four-digit matrices.
IEC_TO_XYZ = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
ALL_CODES = np.arange(256, dtype=np.uint8)


def test_matrix_is_the_standards() -> None:
    # The standard rounds to four decimals, from primaries given to four.
    np.testing.assert_allclose(profile.SRGB_TO_XYZ, IEC_TO_XYZ, atol=6e-5)


def test_picture_and_optics_agree_on_srgb() -> None:
    np.testing.assert_allclose(
        profile.SRGB_TO_XYZ, observer.linear_srgb_to_xyz(np.eye(3)).T, atol=1e-12
    )
    values = np.linspace(0, 1, 1001)
    np.testing.assert_allclose(profile.linear_to_srgb(values), observer.srgb_encode(values))


@pytest.mark.parametrize(
    ("encoded", "linear"),
    [(0.0, 0.0), (0.04045, 0.04045 / 12.92), (0.5, ((0.5 + 0.055) / 1.055) ** 2.4), (1.0, 1.0)],
)
def test_curve_at_the_standards_constants(encoded: float, linear: float) -> None:
    assert profile.srgb_to_linear(np.array(encoded)) == pytest.approx(linear, abs=1e-12)
    # The standard's two thresholds, 0.04045 and 0.0031308, are each rounded.
    assert profile.linear_to_srgb(np.array(linear)) == pytest.approx(encoded, abs=1e-6)


@given(st.floats(-2, 2))
def test_curve_round_trips_is_odd_and_keeps_its_type(value: float) -> None:
    x = np.array([value], dtype=np.float64)
    there = profile.srgb_to_linear(x)
    np.testing.assert_allclose(profile.linear_to_srgb(there), x, atol=1e-6)  # see above
    np.testing.assert_array_equal(profile.srgb_to_linear(-x), -there)
    assert profile.srgb_to_linear(x.astype(np.float32)).dtype == np.float32


def test_eight_bits_round_trip_and_clip() -> None:
    np.testing.assert_array_equal(
        profile.linear_to_srgb8(profile.srgb8_to_linear(ALL_CODES)), ALL_CODES
    )
    outside = np.array([[-0.5, 1.5]], dtype=np.float32)
    np.testing.assert_array_equal(profile.linear_to_srgb8(outside), [[0, 255]])
    assert profile.linear_to_srgb8(np.zeros((2, 0, 3))).shape == (2, 0, 3)


@given(st.floats(0, 1))
def test_eight_bits_are_rounded_to_nearest(value: float) -> None:
    exact = float(profile.linear_to_srgb(np.array(value))) * 255
    code = int(profile.linear_to_srgb8(np.array([value]))[0])
    assert abs(code - exact) <= 0.5 + 1 / 79  # the table's documented step at black


def test_eight_bits_across_chunks() -> None:
    values = np.linspace(0, 1, profile.CHUNK + 7, dtype=np.float32)
    codes = profile.linear_to_srgb8(values)
    assert codes[0] == 0
    assert codes[-1] == 255
    assert np.all(np.diff(codes.astype(int)) >= 0)


# --- shapers ---------------------------------------------------------------------

STANDARDS = [
    ("sRGB", profile.SRGB),
    ("Adobe RGB (1998)", profile.ADOBE_RGB),
    ("Display P3", profile.shaper_from_code_points(12, 13)),
    ("ITU-R BT.2020", profile.shaper_from_code_points(9, 13)),
]


@pytest.mark.parametrize(("name", "shaper"), STANDARDS)
def test_primaries_match_colour_science(name: str, shaper: profile.Shaper) -> None:
    space = colour.RGB_COLOURSPACES[name]
    # Some of the reference matrices are the standards' own, printed to five decimals.
    np.testing.assert_allclose(
        profile.SRGB_TO_XYZ @ shaper.matrix,
        colour.RGB_to_XYZ(np.eye(3), space, apply_cctf_decoding=False).T,
        atol=2e-4,
    )


@pytest.mark.parametrize(("name", "shaper"), STANDARDS[:3])
def test_curves_match_colour_science(name: str, shaper: profile.Shaper) -> None:
    device = np.linspace(0, 1, 256)
    expected = colour.RGB_COLOURSPACES[name].cctf_decoding(device)
    # Where the two pieces of the sRGB curve meet, one code may fall on either.
    np.testing.assert_allclose(shaper.table(256, 255)[:, 0], expected, atol=1e-6)


@pytest.mark.parametrize(("name", "shaper"), STANDARDS)
def test_device_white_is_white(name: str, shaper: profile.Shaper) -> None:
    del name
    np.testing.assert_allclose(shaper.matrix.sum(axis=1), 1.0, atol=1e-12)


def test_table_beyond_white_is_white() -> None:
    table = profile.SRGB.table(65536, 1023 << 6)  # ten bits shifted up to sixteen
    assert table[1023 << 6 :].min() == 1.0
    assert table[512 << 6, 0] == pytest.approx(
        float(profile.srgb_to_linear(np.array(512 / 1023))), rel=1e-6
    )


def test_code_points_nobody_can_show_here() -> None:
    assert profile.shaper_from_code_points(9, 16) is None  # PQ
    assert profile.shaper_from_code_points(9, 18) is None  # HLG
    assert profile.shaper_from_code_points(22, 13) is None  # unknown primaries
    assert profile.shaper_from_code_points(1, 13) is profile.SRGB


def test_an_srgb_profile_reads_back_as_srgb_itself() -> None:
    shaper = profile.shaper_from_icc(icc.read_icc(profile.srgb_profile()))
    np.testing.assert_array_equal(shaper.matrix, np.eye(3))
    # s15Fixed16 numbers have steps of 1.5e-5.
    np.testing.assert_allclose(shaper.table(256, 255), profile.SRGB.table(256, 255), atol=2e-5)


# --- writers ---------------------------------------------------------------------


def chunks(png: bytes) -> Iterator[tuple[str, bytes]]:
    at = 8
    while at < len(png):
        size, name = struct.unpack_from(">I4s", png, at)
        yield name.decode(), png[at + 8 : at + 8 + size]
        at += 12 + size


def picture(rng: np.random.Generator, *shape: int) -> np.ndarray:
    return rng.integers(0, 256, shape, dtype=np.uint8)


def reread(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)))


@pytest.mark.parametrize("bands", [3, 4])
def test_png_of_colours_keeps_pixels_profile_and_size(rng: np.random.Generator, bands: int) -> None:
    pixels = picture(rng, 40, 30, bands)
    png = profile.encode_png(pixels, ppmm=4)
    np.testing.assert_array_equal(reread(png), pixels)
    parts = dict(chunks(png))
    assert list(parts) == ["IHDR", "iCCP", "pHYs", "IDAT", "IEND"]
    assert struct.unpack(">IIB", parts["pHYs"]) == (4000, 4000, 1)
    assert Image.open(io.BytesIO(png)).info["icc_profile"] == profile.srgb_profile()


def test_png_without_a_size_says_none(rng: np.random.Generator) -> None:
    assert "pHYs" not in dict(chunks(profile.encode_png(picture(rng, 20, 20, 3))))


def test_png_of_a_mask_has_one_bit(rng: np.random.Generator) -> None:
    mask = rng.random((37, 21)) > 0.5
    png = profile.encode_png(mask)
    image = Image.open(io.BytesIO(png))
    assert image.mode == "1"
    np.testing.assert_array_equal(np.asarray(image), mask)


def test_png_of_labels_has_sixteen_bits_and_no_profile(rng: np.random.Generator) -> None:
    labels = rng.integers(0, 65536, (37, 21), dtype=np.uint16)
    png = profile.encode_png(labels)
    np.testing.assert_array_equal(reread(png), labels)
    assert "iCCP" not in dict(chunks(png))


def test_png_of_a_view_and_of_grey(rng: np.random.Generator) -> None:
    pixels = picture(rng, 40, 30, 3)
    np.testing.assert_array_equal(reread(profile.encode_png(pixels[::-1, ::2])), pixels[::-1, ::2])
    np.testing.assert_array_equal(reread(profile.encode_png(pixels[..., 1])), pixels[..., 1])


def test_writers_are_deterministic(rng: np.random.Generator) -> None:
    pixels = picture(rng, 300, 200, 3)
    assert profile.encode_png(pixels, ppmm=2) == profile.encode_png(pixels.copy(), ppmm=2)
    assert profile.encode_jpeg(pixels) == profile.encode_jpeg(pixels.copy())


@pytest.mark.parametrize(
    "pixels",
    [
        np.zeros((4, 4, 2), np.uint8),
        np.zeros((4, 4, 3), np.bool_),
        np.zeros((4, 4, 3), np.float32),
        np.zeros((0, 4), np.uint8),
        np.zeros(4, np.uint8),
    ],
)
def test_png_refuses_other_arrays(pixels: np.ndarray) -> None:
    with pytest.raises(ValueError, match="pixels"):
        profile.encode_png(pixels)


def test_jpeg_keeps_colours_profile_and_size() -> None:
    pixels = np.full((40, 30, 3), (200, 90, 40), np.uint8)
    image = Image.open(io.BytesIO(profile.encode_jpeg(pixels, ppmm=4)))
    assert image.info["icc_profile"] == profile.srgb_profile()
    assert image.info["dpi"] == pytest.approx((101.6, 101.6))  # 40 per cm
    assert "exif" not in image.info
    # Flat colour: only the rounding of YCbCr, at most two codes, is lost.
    assert np.abs(np.asarray(image).astype(int) - pixels).max() <= 2
    bare = Image.open(io.BytesIO(profile.encode_jpeg(pixels)))
    assert bare.info["jfif_density"] == (1, 1)


def test_jpeg_refuses_other_arrays() -> None:
    with pytest.raises(ValueError, match="uint8"):
        profile.encode_jpeg(np.zeros((4, 4), np.uint8))
