"""Take out of a photo everything that could say where, when or with what it was taken.

A telephone writes the place into a photo in several ways: EXIF, XMP, notes of the maker's
own, a film or second picture behind the first. So nothing is searched for. What the picture
needs to look as it does is kept, byte for byte (pixels, ICC profile, the way it is turned),
and all else goes. No pixel is decoded.

Structure of the files: [PNG3], [TIFF6], [ISO14496-12], [ISO23008-12]; JPEG after ITU-T T.81,
WebP after RFC 9649.
"""

import re
import struct
import zlib
from collections.abc import Callable, Iterator
from typing import Final

from firstwash.errors import PhotoError
from firstwash.store.cleaning_heif import clean_heif
from firstwash.store.cleaning_tiff import clean_tiff
from firstwash.store.exif import kept_block
from firstwash.store.tiff import Damaged

__all__ = ["clean_photo", "photo_kind"]

PNG_SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
# Chunks that tell how the pixels look; text, time and unknown ones are not among them.
PNG_KEPT: Final = frozenset(
    b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP mDCV cLLI bKGD hIST pHYs sPLT "
    b"acTL fcTL fdAT".split()
)
WEBP_KEPT: Final = frozenset((b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ANIM", b"ANMF", b"ICCP"))
WEBP_EXIF, WEBP_XMP = 0x08, 0x04  # flags in VP8X
EXIF_MARK: Final = b"Exif\0\0"
# A marker ends the coded pixels, unless it is a stuffed zero or a restart.
AFTER_PIXELS: Final = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


def photo_kind(data: bytes) -> str | None:
    """Which kind of photo the bytes start like, None if they do not; "other" is one we refuse.

    A file that can hold where it was taken and that cannot be cleaned is "other".
    """
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(PNG_SIGNATURE):
        return "PNG"
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data[4:8] == b"ftyp":
        return "HEIF"
    # First bytes of GIF, of layered pictures, JPEG XL and JPEG 2000, of raw files that are no TIFF
    # and of XMP by itself: letters that stand in such files, from memory.
    others = (b"GIF8", b"8BPS", b"\0\0\0\x0cJXL ", b"\xff\x0a", b"\0\0\0\x0cjP  ", b"\xff\x4f\xff")
    raw = (b"FUJIFILM", b"IIRO", b"IIU\0", b"MMOR", b"FOVb", b"<?xpacket", b"<x:xmpmeta")
    return "other" if data.startswith(others + raw) else None


def clean_photo(data: bytes) -> bytes:
    """The photo without its EXIF, XMP and other notes; pixels, colours and turning as they were.

    data: a whole JPEG, PNG, TIFF, WebP, HEIC or AVIF file, trusted in nothing. Cleaning a
    clean photo gives the same bytes.
    Raises PhotoError for another kind of file, and for one too damaged to be taken apart.
    """
    cleaners: dict[str | None, Callable[[bytes], bytes]] = {
        "JPEG": _clean_jpeg,
        "PNG": _clean_png,
        "TIFF": clean_tiff,
        "WebP": _clean_webp,
        "HEIF": clean_heif,
    }
    cleaner = cleaners.get(photo_kind(data))
    if cleaner is None:
        raise PhotoError(
            "This kind of file cannot be cleared of where it was taken: save the photo as JPEG, "
            "PNG, TIFF, WebP, HEIC or AVIF and use that."
        )
    try:
        return cleaner(data)
    except (Damaged, struct.error) as error:
        raise PhotoError(
            "This photo is damaged, so that it cannot be cleared of where it was taken: copy it "
            "again from where it came, or save it anew."
        ) from error


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and all bytes of every segment of a JPEG, coded pixels with their scan's head.

    Ends with the end-of-image marker: what follows it is another picture, or a film.
    """
    at = 2
    while at + 1 < len(data):
        if data[at] != 0xFF:
            at = data.find(b"\xff", at)  # stray bytes, which decoders pass over too
            if at < 0:
                return
            continue
        marker = data[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker == 0xD9:
            yield marker, data[at : at + 2]
            return
        size = struct.unpack_from(">H", data, at + 2)[0]
        end = at + 2 + size
        if size < 2 or end > len(data):
            raise Damaged("a segment is cut short")
        if marker == 0xDA:
            found = AFTER_PIXELS.search(data, end)
            end = found.start() if found else len(data)
        yield marker, data[at:end]
        at = end


def _clean_jpeg(data: bytes) -> bytes:
    kept: list[bytes] = []
    block = b""
    for marker, segment in _segments(data):
        body = segment[4:]
        if marker == 0xE1 and body.startswith(EXIF_MARK) and not block:
            block = kept_block(body[len(EXIF_MARK) :])
        elif not 0xE0 <= marker <= 0xEF and marker != 0xFE:
            kept.append(segment)
        elif marker == 0xE0 and body.startswith(b"JFIF\0") and len(body) >= 14:
            kept.append(b"\xff\xe0\0\x10" + body[:12] + b"\0\0")  # without its thumbnail
        elif body.startswith({0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}.get(marker, b"\0none")):
            kept.append(segment)
    if block:
        body = EXIF_MARK + block
        exif = b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
        first = 1 if kept and kept[0].startswith(b"\xff\xe0") else 0  # JFIF comes first
        kept.insert(first, exif)
    return b"\xff\xd8" + b"".join(kept)


def _chunks(data: bytes, at: int, order: str, tail: int) -> Iterator[tuple[bytes, bytes, bytes]]:
    """Name, content and all bytes of every chunk of a PNG or WebP; the last may be cut short."""
    while at + 8 <= len(data):
        size, name = struct.unpack_from(order + "I4s", data, at)
        if order == "<":
            name, size = data[at : at + 4], struct.unpack_from("<I", data, at + 4)[0]
        end = at + 8 + size + (tail if order == ">" else size % 2)
        yield name, data[at + 8 : at + 8 + size], data[at:end]
        at = end


def _clean_png(data: bytes) -> bytes:
    out = [PNG_SIGNATURE]
    block = b""
    for name, content, whole in _chunks(data, 8, ">", 4):
        if name == b"eXIf":
            block = block or kept_block(content)
        if name in PNG_KEPT:
            out.append(whole)
        if name == b"IEND":
            break
    if block:
        body = b"eXIf" + block
        check = struct.pack(">I", zlib.crc32(body))
        out.insert(2, struct.pack(">I", len(block)) + body + check)  # behind IHDR
    return b"".join(out)


def _clean_webp(data: bytes) -> bytes:
    end = 8 + struct.unpack_from("<I", data, 4)[0]
    out: list[tuple[bytes, bytes]] = []
    block = b""
    for name, content, _ in _chunks(data[:end], 12, "<", 0):
        if name == b"EXIF":
            block = block or kept_block(content.removeprefix(EXIF_MARK))
        if name in WEBP_KEPT:
            out.append((name, content))
    if block:
        out.append((b"EXIF", block))
    body = b"WEBP" + b"".join(_webp_chunk(name, content, bool(block)) for name, content in out)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _webp_chunk(name: bytes, content: bytes, with_exif: bool) -> bytes:
    if name == b"VP8X" and content:
        flags = content[0] & ~(WEBP_EXIF | WEBP_XMP) | (WEBP_EXIF if with_exif else 0)
        content = bytes([flags]) + content[1:]
    return name + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)
