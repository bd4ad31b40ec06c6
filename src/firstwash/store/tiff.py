"""Directories of a TIFF, which an EXIF block also is, read with distrust. [TIFF6]

A BigTIFF has the same parts with wider numbers.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

__all__ = ["Damaged", "Directory", "Entry", "Tiff"]

SIZES: Final = {
    **{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4},
    **{16: 8, 17: 8, 18: 8},  # BigTIFF
}  # bytes of one value, by type
CODES: Final = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}  # whole numbers, by type
MOST_BYTES: Final = 4 * 2**20  # of one field of whole numbers
MOST_FIELDS: Final = 1000  # of one directory; the standard knows some hundreds
MOST_DIRECTORIES: Final = 1000  # more is a loop or a film


class Damaged(ValueError):  # noqa: N818 - a state of the file, told as such
    """The structure leads outside the file, or round in a circle."""


@dataclass(frozen=True)
class Entry:
    """One field. at: where its record starts; start, size: where its value is, in bytes."""

    tag: int
    kind: int
    count: int
    at: int
    start: int
    size: int


@dataclass(frozen=True)
class Directory:
    """One directory. at, end: its bytes; next_at: where the place of the next one is written."""

    at: int
    end: int
    next_at: int
    entries: tuple[Entry, ...]


class Tiff:
    """The structure of a file or block. Raises Damaged wherever it leads outside."""

    def __init__(self, data: bytes) -> None:
        """Read the header."""
        self.data: Final = data
        head = data[:4]
        if head not in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
            raise Damaged("no TIFF")
        self.order: Final = "<" if head[:2] == b"II" else ">"
        self.big: Final = b"+" in head
        self.first: Final = self.number("Q" if self.big else "I", 8 if self.big else 4)
        self.header_size: Final = 16 if self.big else 8

    def number(self, code: str, at: int) -> int:
        """One whole number."""
        try:
            return int(struct.unpack_from(self.order + code, self.data, at)[0])
        except (struct.error, OverflowError) as error:
            raise Damaged("cut short") from error

    def directory(self, at: int) -> Directory:
        """The directory at a place; fields of an unknown type are given no bytes."""
        count = self.number("Q" if self.big else "H", at)
        first, width = (at + 8, 20) if self.big else (at + 2, 12)
        next_at = first + count * width
        end = next_at + (8 if self.big else 4)
        if at < self.header_size or next_at > len(self.data) or count > MOST_FIELDS:
            raise Damaged("a directory outside the file")
        return Directory(
            at, end, next_at, tuple(self._entry(first + i * width) for i in range(count))
        )

    def _entry(self, at: int) -> Entry:
        tag, kind = self.number("H", at), self.number("H", at + 2)
        count = self.number("Q" if self.big else "I", at + 4)
        inline, room = (at + 12, 8) if self.big else (at + 8, 4)
        size = SIZES.get(kind, 0) * count
        start = inline if size <= room else self.number("Q" if self.big else "I", inline)
        return Entry(tag, kind, count, at, start, size)

    def numbers(self, entry: Entry) -> tuple[int, ...]:
        """The values of a field of whole numbers; none if it is of another type."""
        code = CODES.get(entry.kind)
        if code is None:
            return ()
        if entry.size > MOST_BYTES:
            raise Damaged("more strips than a picture has")
        try:
            return struct.unpack_from(f"{self.order}{entry.count}{code}", self.data, entry.start)
        except (struct.error, OverflowError) as error:
            raise Damaged("a value outside the file") from error

    def chain(self, at: int, seen: set[int]) -> Iterator[Directory]:
        """A directory and those that follow it. seen: places already read, added to."""
        while at:
            if at in seen or len(seen) >= MOST_DIRECTORIES:
                raise Damaged("directories in a circle")
            seen.add(at)
            found = self.directory(at)
            yield found
            whole = found.end <= len(self.data)  # some programs leave the last link out
            at = self.number("Q" if self.big else "I", found.next_at) if whole else 0
