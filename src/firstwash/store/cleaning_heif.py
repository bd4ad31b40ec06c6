"""Clean a HEIC or AVIF in place: picture data and their tables stay, all else is blanked.

[ISO14496-12] (boxes), [ISO23008-12] (items). Places are counted from the file's start, so
nothing may move: a box that goes becomes a `free` box of the same length.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from firstwash.store.exif import kept_block
from firstwash.store.ranges import merged
from firstwash.store.tiff import Damaged

__all__ = ["clean_heif"]

TOP_KEPT: Final = frozenset((b"ftyp", b"meta", b"mdat"))
META_KEPT: Final = frozenset(
    (b"hdlr", b"pitm", b"iinf", b"iref", b"iprp", b"iloc", b"idat", b"dinf", b"grpl", b"ipro")
)
# Kinds of items that are pictures, or put pictures together.
PICTURES: Final = frozenset(
    b"hvc1 hev1 lhv1 av01 avc1 vvc1 jpeg j2k1 grid iovl iden tmap unci mski".split()
)
EMPTY_XMP: Final = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"/>'
Pieces = dict[int, list[tuple[int, int]]]  # start and size of every piece, by item
MOST: Final = 65536  # items or pieces; a photo from a telephone has some dozens


@dataclass(frozen=True)
class Box:
    """One box. start, body, end: places of its head, its content and its end."""

    kind: bytes
    start: int
    body: int
    end: int


def clean_heif(data: bytes) -> bytes:
    """The photo with nothing but its pictures; the same length. Raises Damaged."""
    out = bytearray(data)
    top = list(_boxes(data, 0, len(data)))
    meta = next((box for box in top if box.kind == b"meta"), None)
    if meta is None or top[0].kind != b"ftyp":
        raise Damaged("no still picture")
    for box in top:
        if box.kind not in TOP_KEPT or (box.kind == b"meta" and box != meta):
            _free(out, box)
    inside = list(_boxes(data, meta.body + 4, meta.end))
    for box in inside:
        if box.kind not in META_KEPT:
            _free(out, box)
    _blank_descriptions(data, inside, out)
    _blank_items(data, top, inside, out)
    return bytes(out)


def _number(data: bytes, at: int, size: int) -> int:
    """A whole number of `size` bytes; 0 if it has none."""
    if at + size > len(data):
        raise Damaged("cut short")
    return int.from_bytes(data[at : at + size], "big")


def _boxes(data: bytes, at: int, end: int) -> Iterator[Box]:
    while at + 8 <= end:
        size, kind = _number(data, at, 4), data[at + 4 : at + 8]
        body = at + 8
        if size == 1:
            size, body = _number(data, body, 8), at + 16
        elif size == 0:
            size = end - at
        if at + size > end or body > at + size:
            raise Damaged("a box outside its box")
        yield Box(kind, at, body, at + size)
        at += size


def _free(out: bytearray, box: Box) -> None:
    out[box.start + 4 : box.start + 8] = b"free"
    out[box.body : box.end] = bytes(box.end - box.body)


def _blank_descriptions(data: bytes, inside: list[Box], out: bytearray) -> None:
    """Properties that are a person's words about the picture; they keep their number."""
    for box in inside:
        if box.kind == b"iprp":
            for part in _boxes(data, box.body, box.end):
                if part.kind == b"ipco":
                    for one in _boxes(data, part.body, part.end):
                        if one.kind in (b"udes", b"uuid"):
                            _free(out, one)


def _blank_items(data: bytes, top: list[Box], inside: list[Box], out: bytearray) -> None:
    """Zero every byte of the media data that no picture needs, and the items that are none."""
    parts = {box.kind: box for box in inside}
    if not {b"iinf", b"iloc", b"pitm"} <= parts.keys():
        raise Damaged("no table of items")
    kinds = _item_kinds(data, parts[b"iinf"])
    pieces = _item_pieces(data, parts[b"iloc"], parts.get(b"idat"))
    stores = [box for box in (*top, *inside) if box.kind in (b"mdat", b"idat")]
    for box in stores:
        out[box.body : box.end] = bytes(box.end - box.body)
    for start, end in _covered(pieces, kinds, stores, len(data), pictures=True):
        out[start:end] = data[start:end]
    for start, end in _covered(pieces, kinds, stores, len(data), pictures=False):
        out[start:end] = bytes(end - start)
    for item, places in pieces.items():
        if kinds.get(item) not in PICTURES and len(places) == 1:
            _say_nothing(data, kinds.get(item, b""), *places[0], out)


def _covered(
    pieces: Pieces, kinds: dict[int, bytes], stores: list[Box], length: int, *, pictures: bool
) -> Iterator[tuple[int, int]]:
    """Start and end of what the items that are pictures take, or those that are none."""
    wanted = (
        place
        for item, places in pieces.items()
        if (kinds.get(item) in PICTURES) == pictures
        for place in places
    )
    for start, end in merged(wanted, length):
        if not any(box.body <= start and end <= box.end for box in stores):
            raise Damaged("an item outside its box")
        yield start, end


def _say_nothing(data: bytes, kind: bytes, start: int, size: int, out: bytearray) -> None:
    """In the place of an EXIF block or of XMP put one that says nothing, if there is room."""
    new = b""
    if kind == b"Exif":
        skipped = 4 + _number(data, start, 4) if size >= 4 else size
        block = kept_block(data[start + skipped : start + size])
        new = bytes(4) + (block or b"II*\0\x08\0\0\0" + bytes(6))
    elif kind == b"mime":
        new = EMPTY_XMP.ljust(size)
    if len(new) <= size:
        out[start : start + len(new)] = new


def _item_kinds(data: bytes, iinf: Box) -> dict[int, bytes]:
    """Kind of every item by its number."""
    version = _number(data, iinf.body, 1)
    first = iinf.body + 4 + (2 if version == 0 else 4)
    kinds = {}
    for box in _boxes(data, first, iinf.end):
        entry = _number(data, box.body, 1)
        if box.kind != b"infe" or entry not in (2, 3):
            raise Damaged("an unknown table of items")
        wide = 2 if entry == 2 else 4
        at = box.body + 4
        kinds[_number(data, at, wide)] = data[at + wide + 2 : at + wide + 6]
    return kinds


def _item_pieces(data: bytes, iloc: Box, idat: Box | None) -> Pieces:
    """Start and size of every piece of every item, in bytes of the file."""
    reader = _Reader(data, iloc.body)
    version = reader.take(1)
    if version > 2:
        raise Damaged("an unknown table of places")
    reader.take(3)
    sizes = reader.take(2)
    widths = [sizes >> 12 & 15, sizes >> 8 & 15, sizes >> 4 & 15, sizes & 15 if version else 0]
    if any(width not in (0, 4, 8) for width in widths):
        raise Damaged("an unknown width of places")
    wide = 4 if version == 2 else 2
    count = reader.take(wide)
    if count > MOST:
        raise Damaged("more items than a photo has")
    return dict(_item(reader, version, wide, widths, idat) for _ in range(count))


def _item(
    reader: "_Reader", version: int, wide: int, widths: list[int], idat: Box | None
) -> tuple[int, list[tuple[int, int]]]:
    """Number and pieces of the item whose record comes next."""
    offset_size, length_size, base_size, index_size = widths
    item = reader.take(wide)
    method = reader.take(2) & 15 if version else 0
    elsewhere = reader.take(2)
    if method > 1 or elsewhere or (method == 1 and idat is None):
        raise Damaged("an item kept in another item or file")
    base = reader.take(base_size) + (idat.body if method == 1 and idat else 0)
    places = []
    for _ in range(reader.take(2)):
        reader.take(index_size)
        start, size = base + reader.take(offset_size), reader.take(length_size)
        if size == 0 or start + size > len(reader.data):
            raise Damaged("an item without an end, or with one outside the file")
        places.append((start, size))
    return item, places


class _Reader:
    """Takes one number after another."""

    def __init__(self, data: bytes, at: int) -> None:
        self.data, self.at = data, at

    def take(self, size: int) -> int:
        """The next number, of so many bytes."""
        value = _number(self.data, self.at, size)
        self.at += size
        return value
