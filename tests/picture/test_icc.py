"""Reading and writing colour profiles, against a colour engine and colour-science."""

import io
import struct

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageCms

from firstwash.picture import icc, profile

GAMMA_22 = icc.Parametric(2.2)


def tagged(space: bytes, tags: dict[bytes, bytes], pcs: bytes = b"XYZ ") -> bytes:
    """A profile with these tags and a plain header."""
    start, table, body = 132 + 12 * len(tags), b"", b""
    for name, data in tags.items():
        table += struct.pack(">4sII", name, start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    header = struct.pack(">I4xI4s4s4s", start + len(body), 0x02400000, b"mntr", space, pcs)
    header += struct.pack(">6H4s28x3i", 2000, 1, 1, 0, 0, 0, b"acsp", 63190, 65536, 54061)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


def grey(trc: bytes) -> bytes:
    return tagged(b"GRAY", {b"kTRC": trc})


def para(kind: int, *values: float) -> bytes:
    numbers = struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))
    return b"para" + struct.pack(">IHH", 0, kind, 0) + numbers


def curv(*values: int) -> bytes:
    return b"curv" + struct.pack(f">II{len(values)}H", 0, len(values), *values)


X = np.linspace(0, 1, 101)
CURVES = [
    (curv(), X),
    (curv(0x0200), X**2),
    (curv(0, 0x4000, 0xFFFF), np.interp(X, [0, 0.5, 1], [0, 0x4000 / 65535, 1])),
    (para(0, 1.5), X**1.5),
    (para(1, 2, 0.5, 0.5), (0.5 * X + 0.5) ** 2),
    (para(1, 2, 2, -1), np.where(X >= 0.5, (2 * X - 1) ** 2, 0)),
    (para(2, 2, 0.5, 0.25, 0.25), (0.5 * X + 0.25) ** 2 + 0.25),
    (para(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045), profile.srgb_to_linear(X)),
    (
        para(4, 2, 0.75, 0.25, 0.5, 0.25, 0.0, 0.0625),
        np.where(X >= 0.25, (0.75 * X + 0.25) ** 2, 0.5 * X + 0.0625),
    ),
]


@pytest.mark.parametrize(("tag", "expected"), CURVES)
def test_every_kind_of_curve(tag: bytes, expected: np.ndarray) -> None:
    (curve,) = icc.read_icc(grey(tag)).curves
    # Numbers are stored in steps of 1.5e-5.
    np.testing.assert_allclose(curve(X), expected, atol=5e-5)


@pytest.mark.parametrize(
    "tag", [para(5, 1), para(0, 0), para(1, 1, 0, 1), curv(0, 1, 2)[:-2], b"what" * 4, b"curv", b""]
)
def test_broken_curves(tag: bytes) -> None:
    with pytest.raises(icc.IccError):
        icc.read_icc(grey(tag))


def test_grey_is_the_colour_of_white() -> None:
    read = icc.read_icc(grey(curv(0x0200)))
    assert (read.space, read.curves[0](np.array(0.5))) == ("GRAY", 0.25)
    np.testing.assert_allclose(read.to_d50[:, 0], icc.D50)


def test_tables_are_left_to_the_engine() -> None:
    tags = {b"A2B0": b"mft2" * 20, b"kTRC": curv()}
    assert icc.read_icc(tagged(b"GRAY", tags)).curves == ()
    assert icc.read_icc(tagged(b"GRAY", {b"kTRC": curv()}, pcs=b"Lab ")).curves == ()
    assert icc.read_icc(tagged(b"CMYK", {})).space == "CMYK"


def test_names_of_both_versions() -> None:
    old = b"desc" + struct.pack(">II", 0, 9) + b"Old\tName\0" + bytes(70)
    assert icc.read_icc(tagged(b"GRAY", {b"kTRC": curv(), b"desc": old})).description == "OldName"
    assert icc.read_icc(profile.srgb_profile()).description == "sRGB"
    assert icc.read_icc(grey(curv())).description == ""


def test_srgb_colorants_are_the_published_ones() -> None:
    # Media-relative D50 colorants of the sRGB profiles of the ICC, printed to five decimals;
    # other hands' roundings differ in the fourth.
    published = [
        [0.43607, 0.38515, 0.14307],
        [0.22249, 0.71687, 0.06061],
        [0.01392, 0.09708, 0.7141],
    ]
    np.testing.assert_allclose(icc.read_icc(profile.srgb_profile()).to_d50, published, atol=3e-4)


def test_adaptation_matches_colour_science() -> None:
    d65 = np.array([0.3127, 0.3290])
    expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(d65), icc.D50, transform="Bradford"
    )
    np.testing.assert_allclose(icc.adapt_to_d50(icc.D65_XY), expected, atol=1e-6)


def test_a_colour_engine_reads_what_is_written() -> None:
    data = icc.write_icc("Test P3", profile.P3_PRIMARIES, icc.D65_XY, GAMMA_22)
    seen = ImageCms.ImageCmsProfile(io.BytesIO(data)).profile
    assert seen.profile_description == "Test P3"
    assert seen.is_matrix_shaper
    np.testing.assert_allclose(seen.red_colorant[0], icc.read_icc(data).to_d50[:, 0], atol=1e-9)
    # Stored in steps of 1.5e-5.
    np.testing.assert_allclose(
        seen.chromatic_adaptation[0], icc.adapt_to_d50(icc.D65_XY), atol=1e-5
    )


def test_writing_is_deterministic_and_aligned() -> None:
    args = ("A", profile.P3_PRIMARIES, icc.D65_XY, GAMMA_22)
    data = icc.write_icc(*args)
    icc.write_icc.cache_clear()
    assert icc.write_icc(*args) == data
    assert len(data) % 4 == 0
    assert struct.unpack_from(">I", data) == (len(data),)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"x" * 200,
        tagged(b"HSV ", {b"kTRC": curv()}),
        tagged(b"GRAY", {}),
        tagged(b"RGB ", {b"rTRC": curv(), b"gTRC": curv(), b"bTRC": curv()}),
        profile.srgb_profile()[:300],
        profile.srgb_profile()[:128] + b"\xff" * 20,
        profile.srgb_profile().replace(b"mntr", b"link"),
        profile.srgb_profile().replace(b"XYZ \0\0\0\0", b"what\0\0\0\0"),
        profile.srgb_profile().replace(b"XYZ \0\0\0\0\0\0", b"XYZ \0\0\0\0\x7f\0"),
    ],
)
def test_broken_profiles(data: bytes) -> None:
    with pytest.raises(icc.IccError):
        icc.read_icc(data)


@given(st.lists(st.tuples(st.integers(0, 519), st.integers(0, 255)), min_size=1, max_size=8))
def test_hostile_profiles_never_break_anything_else(changes: list[tuple[int, int]]) -> None:
    data = bytearray(profile.srgb_profile())
    for at, value in changes:
        data[at] = value
    try:
        read = icc.read_icc(bytes(data))
    except icc.IccError:
        return
    for curve in read.curves:
        linear = curve(X)
        assert np.all((linear >= 0) & (linear <= 1))
