"""Read a painting's zip that may have come from anywhere: believed in nothing.

All of a painting comes in or nothing of it does. What is refused: names other than the ones
the manifest gives, twice the same name, links, passwords, more entries or bytes than a
painting has, packing tighter than a painting packs, anything whose SHA-256 is not as told.
"""

import hashlib
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from firstwash.store.bundle import cleaned, renamed
from firstwash.store.files import LARGEST_FILE
from firstwash.store.manifest import Manifest, read_manifest, state_name, unreadable
from firstwash.store.notes import keep_note_at
from firstwash.store.paintings import Store
from firstwash.store.records import Opened
from firstwash.store.shelf import Change, Line, checked, shelve
from firstwash.store.texts import LONGEST_JSON, checked_name

__all__ = ["import_painting"]

MOST_ENTRIES: Final = 60_001
MOST_DIRECTORY: Final = 16 * 2**20  # bytes of the zip's own table of contents
MOST_BYTES: Final = 2**32 - 1  # unpacked, all together
MOST_MANIFEST: Final = 64 * 2**20  # bytes
MOST_STATE: Final = 4 * LONGEST_JSON  # bytes; a character of UTF-8 has up to four
MOST_PACKED: Final = 200  # times smaller; our own are under 100
FREE: Final = 2**16  # bytes an entry may have whatever its packing
END: Final = struct.Struct("<4s4H2LH")  # the zip's end record
# What the zip reader lets through on damaged files.
ODD: Final = (
    *(zipfile.BadZipFile, zlib.error, struct.error),
    *(EOFError, OSError, RuntimeError, ValueError),
)


def import_painting(store: Store, path: Path) -> Opened:
    """Bring in a painting from a zip, with new ids; a name that is taken gets " 2".

    Raises StoreError if the file is not a painting of ours, is damaged or harmful; nothing
    of it is in the store then, but for files the next sweeps take away.
    """
    try:
        _check_end(path)
        with zipfile.ZipFile(path) as source:
            entries = _checked_entries(source)
            manifest = read_manifest(_bytes(source, entries, "manifest.json", MOST_MANIFEST))
            states = [state_name(i) for i in range(len(manifest.revisions))]
            if entries.keys() != {"manifest.json", *states, *map(_file_name, manifest.files)}:
                raise unreadable()
            keys = {
                key: _bring_file(store, source, entries, key, manifest) for key in manifest.files
            }
            lines = _lines(source, entries, manifest, keys)
            return _shelve(store, manifest, keys, lines)
    except ODD as error:
        raise unreadable() from error


def _check_end(path: Path) -> None:
    """Refuse by the last bytes alone a zip whose table of contents would fill the memory."""
    with path.open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(0, size - END.size - 20))
        tail = file.read()
    if len(tail) < END.size or size > MOST_BYTES:
        raise unreadable()
    mark, _, _, _, entries, directory, _, comment = END.unpack(tail[-END.size :])
    wide = tail[: -END.size].startswith(b"PK\x06\x07")  # the longer form, for huge ones
    if mark != b"PK\x05\x06" or comment or wide:
        raise unreadable()
    if entries > MOST_ENTRIES or directory > MOST_DIRECTORY:
        raise unreadable()


def _checked_entries(source: zipfile.ZipFile) -> Mapping[str, zipfile.ZipInfo]:
    infos = source.infolist()
    names = {info.orig_filename: info for info in infos}
    if len(names) != len(infos) or not all(map(_sound, infos)):
        raise unreadable()
    if sum(info.file_size for info in infos) > MOST_BYTES or "manifest.json" not in names:
        raise unreadable()
    return names


def _sound(info: zipfile.ZipInfo) -> bool:
    """A plain file, no password, packed as we pack or not at all, and not too tightly."""
    mode = info.external_attr >> 16
    return (
        (stat.S_IFMT(mode) in (0, stat.S_IFREG))
        and not info.flag_bits & 0x1
        and info.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
        and info.file_size <= MOST_PACKED * info.compress_size + FREE
        and info.orig_filename == info.filename
    )


def _file_name(key: str) -> str:
    return f"files/{key}"


def _bytes(
    source: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo], name: str, most: int
) -> bytes:
    """All of an entry, never more than it said and `most`."""
    info = entries.get(name)
    if info is None or info.file_size > most:
        raise unreadable()
    with source.open(info) as file:
        data = file.read(info.file_size + 1)
    if len(data) != info.file_size:
        raise unreadable()
    return data


def _bring_file(
    store: Store,
    source: zipfile.ZipFile,
    entries: Mapping[str, zipfile.ZipInfo],
    key: str,
    manifest: Manifest,
) -> str:
    """Keep one file, cleaned if it is a photo; returns its key here."""
    data = _bytes(source, entries, _file_name(key), LARGEST_FILE)
    if len(data) != manifest.files[key] or hashlib.sha256(data).hexdigest() != key:
        raise unreadable()
    return store.files.put(cleaned(data))


def _lines(
    source: zipfile.ZipFile,
    entries: Mapping[str, zipfile.ZipInfo],
    manifest: Manifest,
    keys: Mapping[str, str],
) -> Iterator[Line]:
    """The revisions one after another, each with its state checked."""
    for place, one in enumerate(manifest.revisions):
        data = _bytes(source, entries, state_name(place), MOST_STATE)
        if hashlib.sha256(data).hexdigest() != one.sha256:
            raise unreadable()
        thumbnail = None if one.thumbnail is None else keys[one.thumbnail]
        needed = frozenset(keys[key] for key in one.files)
        change = Change(renamed(data.decode(), keys), needed, one.words, one.kind, thumbnail)
        yield Line(checked(change), one.created, one.parent, one.onward)


def _shelve(
    store: Store, manifest: Manifest, keys: Mapping[str, str], lines: Iterator[Line]
) -> Opened:
    """The painting in one change of the database: all of it or nothing."""
    with store.database.writing() as to:
        store.files.all_here(keys.values(), None)
        name, times = checked_name(manifest.name), (manifest.created, manifest.changed)
        new = shelve(to, name, times, lines, len(manifest.revisions), manifest.head)
        for note, text, version in manifest.notes:
            keep_note_at(to, new.painting.id, note, renamed(text, keys), version)
        return new
