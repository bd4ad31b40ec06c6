"""What of an EXIF block is kept: how the picture is turned, and Adobe RGB colours.

Tags of the Exif standard (CIPA DC-008): orientation 0x0112, Exif directory 0x8769, colour
space 0xA001, interoperability directory 0xA005 with its index "R03" for Adobe RGB.
"""

import struct
from typing import Final

from firstwash.store.tiff import Damaged, Directory, Tiff

__all__ = ["kept_block"]

ORIENTATION: Final = 0x0112
EXIF_DIRECTORY: Final = 0x8769
COLOUR_SPACE: Final = 0xA001
INTEROPERABILITY: Final = 0xA005
INDEX: Final = 0x0001
ADOBE_RGB: Final = b"R03"
UNCALIBRATED: Final = 0xFFFF  # what a camera writes for colours other than sRGB
ASCII, SHORT, LONG = 2, 3, 4  # types of values


def kept_block(block: bytes) -> bytes:
    """A new EXIF block with nothing but the turning and the colour space of the old one.

    block, and what is returned: from the TIFF header on. Empty if there is nothing to keep;
    a damaged block is taken as far as it can be read.
    """
    orientation, adobe = _read(block)
    if adobe:
        return _with_adobe(orientation)
    return b"" if orientation == 1 else _only_turned(orientation)


def _read(block: bytes) -> tuple[int, bool]:
    """Orientation 1 to 8, and whether the colours are Adobe RGB."""
    orientation = 1
    try:
        tiff = Tiff(block)
        top = tiff.directory(tiff.first)
        found = _numbers(tiff, top, ORIENTATION)
        orientation = found[0] if found and 1 <= found[0] <= 8 else 1
        return orientation, _is_adobe(tiff, top)
    except Damaged:
        return orientation, False


def _is_adobe(tiff: Tiff, top: Directory) -> bool:
    for place in _numbers(tiff, top, EXIF_DIRECTORY)[:1]:
        for deeper in _numbers(tiff, tiff.directory(place), INTEROPERABILITY)[:1]:
            for entry in tiff.directory(deeper).entries:
                if entry.tag == INDEX:
                    return tiff.data.startswith(ADOBE_RGB, entry.start)
    return False


def _numbers(tiff: Tiff, directory: Directory, tag: int) -> tuple[int, ...]:
    return next((tiff.numbers(e) for e in directory.entries if e.tag == tag), ())


def _directory(*fields: tuple[int, int, int, bytes]) -> bytes:
    """A directory of short fields (tag, type, count, value), the last in its chain."""
    body = b"".join(struct.pack("<HHI4s", *field) for field in fields)
    return struct.pack("<H", len(fields)) + body + bytes(4)


def _short(value: int) -> bytes:
    return struct.pack("<HH", value, 0)


def _only_turned(orientation: int) -> bytes:
    return b"II*\0\x08\0\0\0" + _directory((ORIENTATION, SHORT, 1, _short(orientation)))


def _with_adobe(orientation: int) -> bytes:
    two = 2 + 2 * 12 + 4  # bytes of a directory of two fields
    top = _directory(
        (ORIENTATION, SHORT, 1, _short(orientation)),
        (EXIF_DIRECTORY, LONG, 1, struct.pack("<I", 8 + two)),
    )
    middle = _directory(
        (COLOUR_SPACE, SHORT, 1, _short(UNCALIBRATED)),
        (INTEROPERABILITY, LONG, 1, struct.pack("<I", 8 + 2 * two)),
    )
    return b"II*\0\x08\0\0\0" + top + middle + _directory((INDEX, ASCII, 4, ADOBE_RGB + b"\0"))
