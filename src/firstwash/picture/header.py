"""What a file is, told from its first bytes and its own table of contents.

Only enough is read to choose a decoder and to refuse what is not one still
picture; nothing here decodes pixels.

Sources: [PNG3] (signature, chunks, acTL, cICP), [TIFF6] with its BigTIFF and DNG extensions,
[ISO14496-12] (file type box) and [ISO23008-12] (brands).
"""

import struct
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass

from firstwash.errors import PhotoError

__all__ = ["FORMATS", "Contents", "recognise", "unusual"]

FORMATS = "JPEG, PNG, TIFF, WebP, HEIC or AVIF"

STILL_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"mif1", b"mif2", b"avif", b"miaf")
MOVING_BRANDS = (b"hevc", b"hevx", b"msf1", b"avis")

NEW_SUBFILE_TYPE, PHOTOMETRIC, TILE_WIDTH, TILE_LENGTH, EXTRA_SAMPLES = 254, 262, 322, 323, 338
DNG_VERSION = 50706
PREVIEW_OR_MASK = 1 | 4  # bits of NewSubfileType: not a picture of its own
ORDINARY_COLOURS = (0, 1, 2, 3, 5, 6)  # grey, RGB, palette, inks, YCbCr; not Lab, not sensor data
MAX_DIRECTORIES = 1000  # a chain longer than this is a loop or a film, not a photo


@dataclass(frozen=True)
class Contents:
    """What the file says it holds.

    kind: "JPEG", "PNG", "TIFF", "WebP" or "HEIF" (HEIC and AVIF).
    frames: full-size pictures inside, as far as this can be told from the bytes.
    code_points: (primaries, transfer) of ITU-T H.273 from a PNG, else None.
    alpha: False when extra channels are not transparency.
    """

    kind: str
    frames: int = 1
    code_points: tuple[int, int] | None = None
    alpha: bool = True


def unusual(name: str) -> PhotoError:
    """The error for colours that are stored in a way no decoder here understands."""
    return PhotoError(
        f"{name} stores its colours in an unusual way; save it as an 8 or 16-bit RGB picture "
        f"({FORMATS})."
    )


def recognise(data: bytes, name: str) -> Contents:
    """Tell what kind of picture the bytes are, whatever the file is called.

    data: the whole file; name: for messages. Raises PhotoError if it is not a
    supported kind, or is a camera raw file.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return Contents("JPEG")
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return _png(data)
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return _tiff(data, name)
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Contents("WebP")
    if data[4:8] == b"ftyp" and data[8:12] in STILL_BRANDS + MOVING_BRANDS:
        return Contents("HEIF", frames=2 if data[8:12] in MOVING_BRANDS else 1)
    what = "is a GIF" if data.startswith(b"GIF8") else "is not a picture firstwash can read"
    raise PhotoError(f"{name} {what}; save the photo as {FORMATS} and use that.")


def _png(data: bytes) -> Contents:
    frames, code_points = 1, None
    for chunk, start, size in _png_chunks(data):
        if chunk == b"acTL" and size >= 8:
            frames = struct.unpack_from(">I", data, start)[0]
        elif chunk == b"cICP" and size >= 4:
            code_points = (data[start], data[start + 1])
    return Contents("PNG", frames, code_points)


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Name, start and size of the content of every whole chunk before the pixels. [PNG3]."""
    at = 8
    while at + 8 <= len(data):
        size, chunk = struct.unpack_from(">I4s", data, at)
        if chunk == b"IDAT" or at + 12 + size > len(data):
            return
        yield chunk, at + 8, size
        at += 12 + size


def _tiff(data: bytes, name: str) -> Contents:
    directories: list[dict[int, int]] = []
    # A torn chain after the first picture does not spoil the first picture.
    with suppress(struct.error, OverflowError, IndexError):
        directories.extend(_directories(data))
    if not directories:
        raise PhotoError(f"{name} is damaged or cut short; copy it again from where it came.")
    first = directories[0]
    # Raw files begin with a thumbnail, which must not be taken for the photo.
    if data[8:10] == b"CR" or DNG_VERSION in first or first.get(NEW_SUBFILE_TYPE, 0) & 1:
        raise PhotoError(f"{name} is a camera raw file; export it as a JPEG or 16-bit TIFF first.")
    if first.get(PHOTOMETRIC, 2) not in ORDINARY_COLOURS:
        raise unusual(name)
    if first.get(TILE_WIDTH, 1) * first.get(TILE_LENGTH, 1) > 1 << 26:
        raise PhotoError(
            f"{name} is stored in tiles too large to read; save it again as {FORMATS}."
        )
    frames = sum(not d.get(NEW_SUBFILE_TYPE, 0) & PREVIEW_OR_MASK for d in directories)
    return Contents("TIFF", frames, alpha=first.get(EXTRA_SAMPLES, 2) in (1, 2))


def _directories(data: bytes) -> Iterator[dict[int, int]]:
    """Each image directory of the chain as tag → first value (integers only). [TIFF6]."""
    order = "<" if data[:2] == b"II" else ">"
    big = 43 in (data[2], data[3])
    (at,) = struct.unpack_from(order + ("Q" if big else "I"), data, 8 if big else 4)
    seen = {0}  # no directory starts at 0: it marks the end of the chain
    while at not in seen and len(seen) <= MAX_DIRECTORIES:
        seen.add(at)
        tags, at = _directory(data, at, order, big)
        yield tags


def _directory(data: bytes, at: int, order: str, big: bool) -> tuple[dict[int, int], int]:
    """One directory and the place of the next, 0 at the end."""
    (count,) = struct.unpack_from(order + ("Q" if big else "H"), data, at)
    entry = struct.Struct(order + ("HHQ8s" if big else "HHI4s"))
    at += 8 if big else 2
    tags = {}
    for i in range(min(count, 4096)):
        tag, kind, n, value = entry.unpack_from(data, at + i * entry.size)
        tags[tag] = _first_value(data, order, kind, n, value)
    (following,) = struct.unpack_from(order + ("Q" if big else "I"), data, at + count * entry.size)
    return tags, following


def _first_value(data: bytes, order: str, kind: int, count: int, value: bytes) -> int:
    """The entry's first value if it is a byte, short or long; 0 otherwise."""
    code = {1: "B", 3: "H", 4: "I"}.get(kind)
    if code is None or count == 0:
        return 0
    if count * struct.calcsize(code) > len(value):
        (offset,) = struct.unpack(order + ("Q" if len(value) == 8 else "I"), value)
        return int(struct.unpack_from(order + code, data, offset)[0])
    return int(struct.unpack_from(order + code, value)[0])
