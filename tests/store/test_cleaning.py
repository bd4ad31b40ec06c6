"""Photos without where they were taken: pixels, profile and turning as they were.

Every photo here carries a place in every way its writer offers. The words hidden in those
places must be nowhere in the cleaned bytes.
"""

import io
import struct
import zlib
from collections.abc import Callable

import numpy as np
import pillow_heif
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, TiffImagePlugin

from firstwash.errors import PhotoError
from firstwash.picture.load import load_photo
from firstwash.store.cleaning import clean_photo, photo_kind
from firstwash.store.exif import kept_block
from firstwash.store.ranges import merged

SECRET = b"SECRET"
RNG = np.random.default_rng(3)
PIXELS = RNG.integers(0, 256, (40, 50, 3), dtype=np.uint8).repeat(3, 0).repeat(3, 1)
ICC = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF '
    b'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description '
    b'xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="48,51.5N SECRET"/>'
    b"</rdf:RDF></x:xmpmeta>"
)


def exif(orientation: int = 6, adobe: bool = False) -> Image.Exif:
    """A block as a telephone writes it: place, maker's notes, words, all of it secret."""
    block = Image.Exif()
    block[0x0112] = orientation
    block[0x010F] = "SECRET maker"
    block[0x010E] = "SECRET words"
    inner = block.get_ifd(0x8769)
    inner[0x927C] = b"SECRET maker's own note"
    if adobe:
        inner[0xA001] = 0xFFFF
        inner[0xA005] = {1: "R03"}
    place = block.get_ifd(0x8825)
    place.update({1: "N", 2: (48.0, 51.0, 29.0), 3: "E", 4: (2.0, 17.0, 40.0), 29: "SECRET day"})
    return block


def saved(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(PIXELS).save(out, kind, **options)  # type: ignore[arg-type]
    return out.getvalue()


def jpeg(**more: object) -> bytes:
    return saved("JPEG", exif=exif().tobytes(), icc_profile=ICC, xmp=XMP, comment=SECRET, **more)


def png() -> bytes:
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_text("Comment", "SECRET")
    info.add_itxt("XML:com.adobe.xmp", XMP.decode())
    return saved("PNG", exif=exif().tobytes(), icc_profile=ICC, pnginfo=info)


def tiff(**more: object) -> bytes:
    """Words in tags of their own; GPS as a directory that is really there."""
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[274] = 6
    tags[270] = "SECRET words"
    tags[700] = XMP
    tags.tagtype[700] = 1
    if "compression" not in more:  # libtiff, which compresses for Pillow, takes no directories
        tags[34853] = {1: "N", 2: (48.0, 51.0, 29.0), 29: "SECRET day"}
        tags[34665] = {0x927C: b"SECRET maker's own note"}
    return saved("TIFF", tiffinfo=tags, icc_profile=ICC, **more)


def webp(**more: object) -> bytes:
    return saved("WEBP", exif=exif().tobytes(), icc_profile=ICC, xmp=XMP, **more)


def heif(kind: str) -> bytes:
    pillow_heif.register_heif_opener()
    return saved(kind, exif=exif().tobytes(), icc_profile=ICC, xmp=XMP)


MAKERS: dict[str, Callable[[], bytes]] = {
    "JPEG": jpeg,
    "progressive JPEG": lambda: jpeg(progressive=True),
    "PNG": png,
    "TIFF": tiff,
    "LZW TIFF": lambda: tiff(compression="tiff_lzw"),
    "JPEG in TIFF": lambda: tiff(compression="jpeg"),
    "BigTIFF": lambda: tiff(big_tiff=True),
    "WebP": webp,
    "lossless WebP": lambda: webp(lossless=True),
    "HEIC": lambda: heif("HEIF"),
    "AVIF": lambda: heif("AVIF"),
}


@pytest.mark.parametrize("name", MAKERS)
def test_the_place_goes_and_the_picture_stays(name: str) -> None:
    photo = MAKERS[name]()
    assert SECRET in photo  # else the test tests nothing
    clean = clean_photo(photo)
    assert SECRET not in clean
    assert len(clean) <= len(photo)
    before, after = (Image.open(io.BytesIO(data)) for data in (photo, clean))
    assert np.array_equal(np.asarray(before), np.asarray(after))
    assert after.info["icc_profile"] == before.info["icc_profile"] == ICC
    assert after.getexif().get(0x0112, 1) == before.getexif().get(0x0112, 1)
    assert not after.getexif().get_ifd(0x8825)
    assert clean_photo(clean) == clean


@pytest.mark.parametrize("name", MAKERS)
def test_our_own_reader_sees_the_same_photo(name: str) -> None:
    photo = MAKERS[name]()
    before, after = load_photo(photo), load_photo(clean_photo(photo))
    assert np.array_equal(before.linear, after.linear)


@pytest.mark.parametrize("name", MAKERS)
def test_a_photo_cut_short_is_cleaned_or_refused(name: str) -> None:
    photo = MAKERS[name]()
    for end in range(0, len(photo), max(1, len(photo) // 60)):
        try:
            clean = clean_photo(photo[:end])
        except PhotoError:
            continue
        assert SECRET not in clean


@pytest.mark.parametrize("name", MAKERS)
@given(data=st.data())
def test_a_photo_with_wrong_bytes_raises_nothing_but_photo_error(
    name: str, data: st.DataObject
) -> None:
    if name not in PHOTOS:
        PHOTOS[name] = MAKERS[name]()
    photo = bytearray(PHOTOS[name])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, min(len(photo), 1500) - 1) | st.integers(0, len(photo) - 1))
        photo[at] = data.draw(st.integers(0, 255))
    try:
        clean = clean_photo(bytes(photo))
        assert clean_photo(clean) == clean
    except PhotoError:
        pass


PHOTOS: dict[str, bytes] = {}


def test_a_second_picture_or_a_film_behind_the_first_goes() -> None:
    """Telephones append them, each with its own EXIF; and ahead of them sits their table."""
    photo = jpeg()
    table = b"\xff\xe2" + struct.pack(">H", 2 + 10) + b"MPF\0SECRET"
    clean = clean_photo(photo[:2] + table + photo[2:] + jpeg() + b"ftyp SECRET film")
    assert clean == clean_photo(photo)


def test_adobe_rgb_without_a_profile_stays_adobe_rgb() -> None:
    photo = saved("JPEG", exif=exif(1, adobe=True).tobytes())
    plain = saved("JPEG", exif=exif(1).tobytes())
    clean = clean_photo(photo)
    assert SECRET not in clean
    assert np.array_equal(load_photo(photo).linear, load_photo(clean).linear)
    assert not np.array_equal(load_photo(photo).linear, load_photo(plain).linear)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_turning_is_kept(orientation: int) -> None:
    clean = clean_photo(saved("JPEG", exif=exif(orientation).tobytes()))
    assert Image.open(io.BytesIO(clean)).getexif().get(0x0112, 1) == orientation
    assert clean_photo(clean) == clean


def test_a_photo_with_nothing_to_hide_is_hardly_touched() -> None:
    for kind in ("JPEG", "PNG", "TIFF", "WEBP"):
        photo = saved(kind)
        assert clean_photo(photo) == photo


def test_unknown_chunks_of_a_png_go() -> None:
    photo = saved("PNG")
    body = b"plACSECRET"
    chunk = struct.pack(">I", 6) + body + struct.pack(">I", zlib.crc32(body))
    assert clean_photo(photo[:33] + chunk + photo[33:] + b"SECRET") == photo  # 33: behind IHDR


def test_bytes_between_the_parts_of_a_tiff_are_zeroed() -> None:
    assert SECRET not in clean_photo(tiff() + SECRET)


def test_a_heic_hides_nothing_between_its_items() -> None:
    photo = heif("HEIF")
    extra = struct.pack(">I", 16) + b"udta" + b"SECRET.." + struct.pack(">I", 14) + b"mdatSECRET"
    clean = clean_photo(photo + extra)
    assert SECRET not in clean
    assert clean.startswith(clean_photo(photo))


@pytest.mark.parametrize("kind", ["HEIF", "AVIF"])
def test_an_item_said_to_be_huge_fills_no_memory(kind: str) -> None:
    """Every number of the table of places in turn is set to four thousand million."""
    photo = heif(kind)
    first = photo.index(b"iloc") + 8
    for at in range(first, first + 120):
        wrong = photo[:at] + b"\xff\xff\xff\xff" + photo[at + 4 :]
        try:
            clean = clean_photo(wrong)
        except PhotoError:
            continue
        assert len(clean) == len(photo)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a" + bytes(50),
        b"8BPS" + bytes(50),
        b"plain text",
        b"\0\0\0\x18ftypmp42" + bytes(100),
        b"\xff\xd8\xff",
        b"II*\0\x08\0\0\0\xff\xff",
        b"RIFF\x04\0",
    ],
)
def test_what_cannot_be_cleaned_is_refused(data: bytes) -> None:
    if photo_kind(data) == "JPEG":
        assert clean_photo(data) in (b"\xff\xd8", data)
        return
    with pytest.raises(PhotoError, match="where it was taken"):
        clean_photo(data)


def test_directories_in_a_circle_are_refused() -> None:
    one = struct.pack("<HHHII", 1, 256, 3, 1, 5) + struct.pack("<I", 8)
    with pytest.raises(PhotoError, match="damaged"):
        clean_photo(b"II*\0\x08\0\0\0" + one)


def test_the_same_bytes_named_a_million_times_are_copied_once_or_refused() -> None:
    """Copying the whole file for every strip would take hours; this takes no time at all."""
    many = 500_000
    size = 8 + 2 + 2 * 12 + 4 + 8 * many
    fields = [(273, 4, many, 38), (279, 4, many, 38 + 4 * many)]
    body = struct.pack("<H", 2) + b"".join(struct.pack("<HHII", *f) for f in fields) + bytes(4)
    tables = struct.pack(f"<{many}I", *[0] * many) + struct.pack(f"<{many}I", *[size] * many)
    photo = b"II*\0\x08\0\0\0" + body + tables
    assert len(photo) == size
    assert clean_photo(photo) == photo
    huge = photo.replace(struct.pack("<HHI", 273, 4, many), struct.pack("<HHI", 273, 4, 10**9))
    with pytest.raises(PhotoError):
        clean_photo(huge)


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 20)), max_size=12), st.integers(0, 40))
def test_merged_runs_cover_the_same_bytes_once(runs: list[tuple[int, int]], length: int) -> None:
    covered = [i for start, end in merged(runs, length) for i in range(start, end)]
    wanted = {i for start, size in runs for i in range(start, start + size) if i < length}
    assert covered == sorted(wanted)


@given(st.binary(max_size=200) | st.binary(max_size=100).map(lambda b: b"II*\0\x08\0\0\0" + b))
def test_any_bytes_can_stand_where_exif_should(block: bytes) -> None:
    kept = kept_block(block)
    assert kept_block(kept) == kept
    assert len(kept) < 100
