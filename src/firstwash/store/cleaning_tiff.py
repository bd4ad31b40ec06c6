"""Clean a TIFF in place: what the picture needs stays where it is, all other bytes are zeroed.

Places in a TIFF are counted from its start, so nothing may move. [TIFF6], and BigTIFF.
"""

import struct
from collections.abc import Iterator
from itertools import chain
from typing import Final

from firstwash.store.ranges import merged
from firstwash.store.tiff import Directory, Entry, Tiff

__all__ = ["clean_tiff"]

STRIPS, STRIP_SIZES, TILES, TILE_SIZES, SUB_DIRECTORIES = 273, 279, 324, 325, 330
OLD_JPEG, OLD_JPEG_SIZE = 513, 514
# Tags that tell how the pixels are stored and look: sizes, bits, compression, colours, turning,
# resolution, strips and tiles, ink and sample types, JPEG tables, ICC profile (34675).
KEPT: Final = frozenset(
    (
        *(254, 255, 256, 257, 258, 259, 262, 263, 264, 265, 266, 273, 274, 277, 278, 279, 280),
        *(281, 282, 283, 284, 286, 287, 290, 291, 292, 293, 296, 297, 301, 317, 318, 319, 320),
        *(321, 322, 323, 324, 325, 330, 332, 334, 336, 338, 339, 340, 341, 347),
        *(512, 513, 514, 515, 517, 518, 519, 520, 521, 529, 530, 531, 532, 34675),
    )
)


def clean_tiff(data: bytes) -> bytes:
    """The TIFF with nothing but its pictures; the same length. Raises Damaged."""
    tiff = Tiff(data)
    directories = list(_directories(tiff))
    runs = (run for _, kept in directories for run in _runs(tiff, kept))
    out = bytearray(len(data))
    for start, end in merged(chain([(0, tiff.header_size)], runs), len(data)):
        out[start:end] = data[start:end]
    for directory, kept in directories:
        _write_directory(tiff, directory, kept, out)
    return bytes(out)


def _directories(tiff: Tiff) -> Iterator[tuple[Directory, list[Entry]]]:
    """Every directory, those inside others too, with the fields of it that are kept."""
    seen: set[int] = set()
    waiting = [tiff.first]
    while waiting:
        for directory in tiff.chain(waiting.pop(), seen):
            kept = [e for e in directory.entries if e.tag in KEPT and e.size]
            yield directory, kept
            for entry in kept:
                if entry.tag == SUB_DIRECTORIES:
                    waiting += [place for place in tiff.numbers(entry) if place not in seen]


def _runs(tiff: Tiff, kept: list[Entry]) -> Iterator[tuple[int, int]]:
    """Start and size of the values of the fields, and of the pixels they lead to."""
    yield from ((entry.start, entry.size) for entry in kept)
    fields = {entry.tag: entry for entry in kept}
    for places, sizes in ((STRIPS, STRIP_SIZES), (TILES, TILE_SIZES), (OLD_JPEG, OLD_JPEG_SIZE)):
        if places in fields and sizes in fields:
            starts, lengths = tiff.numbers(fields[places]), tiff.numbers(fields[sizes])
            yield from zip(starts, lengths, strict=False)


def _write_directory(tiff: Tiff, directory: Directory, kept: list[Entry], out: bytearray) -> None:
    """The directory with the kept fields only, at its old place; the rest of it is zero."""
    data, big = tiff.data, tiff.big
    width = 20 if big else 12
    end = min(directory.end, len(out))
    out[directory.at : end] = bytes(end - directory.at)
    head = struct.pack(tiff.order + ("Q" if big else "H"), len(kept))
    records = b"".join(data[e.at : e.at + width] for e in kept)
    link = data[directory.next_at : directory.end]
    whole = head + records + link
    out[directory.at : directory.at + len(whole)] = whole
