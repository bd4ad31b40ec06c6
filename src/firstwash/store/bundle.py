"""One painting as one zip, with its whole history, files and notes.

In the zip: `manifest.json`; `states/<n>.json`, the state of the n-th revision; `files/<key>`.
The manifest (format "firstwash painting", version 1) says how they belong together and gives
the SHA-256 of everything. Revisions are told by their place, so that ids never leave the
store; an import gives new ones.

Photos are cleared of where they were taken on the way out and on the way in (`cleaning`),
however they came into the store. A photo that changes by that gets another key, and states
that name it are changed to match; a file that names another file's key is not.
"""

import hashlib
import json
import os
import re
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from secrets import token_hex
from typing import Any, Final

from firstwash.errors import PhotoError, StoreError
from firstwash.store.cleaning import clean_photo, photo_kind
from firstwash.store.manifest import FORMAT, VERSION, state_name
from firstwash.store.notes import notes
from firstwash.store.paintings import Store
from firstwash.store.shelf import Line, lines_of, opened

__all__ = ["bundle_name", "cleaned", "export_painting"]

WORTH_PACKING: Final = 100  # a state that packs better than this could be taken for a bomb
PIECE: Final = 2**20
DATE: Final = (1980, 1, 1, 0, 0, 0)  # the zip format's first; the manifest has the true times


def bundle_name(name: str) -> str:
    """A file name for a painting's zip, of plain letters, for any system."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-")[:60]
    return f"{plain or 'painting'}.firstwash.zip"


def export_painting(store: Store, painting: str, target: Path) -> None:
    """Write a painting with all its history to a zip; `target` is whole or not there.

    Raises Missing, or StoreError if a photo cannot be cleared of where it was taken, the zip
    would pass 2 GB, or it cannot be written.
    """
    half = target.with_name(f".{token_hex(8)}.half")
    try:
        with zipfile.ZipFile(half, "x", zipfile.ZIP_STORED, allowZip64=False) as to:
            _write(store, painting, to)
        with half.open("rb") as written:
            os.fsync(written.fileno())
        half.replace(target)
    except zipfile.LargeZipFile as error:
        raise StoreError(
            "This painting is too large for one file: leave photos out of it, then try again."
        ) from error
    except OSError as error:
        raise StoreError(
            "The painting could not be written: make room on the disk, or choose another folder."
        ) from error
    finally:
        half.unlink(missing_ok=True)


def cleaned(data: bytes) -> bytes:
    """A kept file as it may leave or enter: a photo without where it was taken.

    Raises StoreError if it is a photo that cannot be cleared.
    """
    if photo_kind(data) is None:
        return data
    try:
        return clean_photo(data)
    except PhotoError as error:
        raise StoreError(
            "A photo of this painting cannot be cleared of where it was taken, so the painting "
            "was not copied: save that photo as JPEG and use it instead."
        ) from error


def _write(store: Store, painting: str, to: zipfile.ZipFile) -> None:
    with store.database.reading() as here:
        about = opened(here, painting).painting
        lines, _, head = lines_of(here, painting)
        keys: dict[str, str] = {}
        sizes: dict[str, int] = {}
        revisions = []
        for place, line in enumerate(lines):
            _write_files(store, line, to, keys, sizes)
            revisions.append(_write_state(place, line, to, keys))
        told = [
            {"name": n.name, "json": n.json, "version": n.version} for n in notes(here, painting)
        ]
    manifest = {
        "format": FORMAT,
        "version": VERSION,
        "name": about.name,
        "created": about.created,
        "changed": about.changed,
        "head": head,
        "revisions": revisions,
        "files": sizes,
        "notes": [{**note, "json": renamed(str(note["json"]), keys)} for note in told],
    }
    _add(to, "manifest.json", json.dumps(manifest, ensure_ascii=False).encode(), packed=True)


def _write_files(
    store: Store, line: Line, to: zipfile.ZipFile, keys: dict[str, str], sizes: dict[str, int]
) -> None:
    """Add what a revision needs and no earlier one did. keys: kept key → key in the zip."""
    needed = {*line.change.files, *([line.change.thumbnail] if line.change.thumbnail else [])}
    for key in sorted(needed - keys.keys()):
        data = cleaned(store.files.get(key))
        keys[key] = hashlib.sha256(data).hexdigest()
        if keys[key] not in sizes:
            sizes[keys[key]] = len(data)
            _add(to, f"files/{keys[key]}", data, packed=False)


def _write_state(
    place: int, line: Line, to: zipfile.ZipFile, keys: Mapping[str, str]
) -> dict[str, Any]:
    """Add a revision's state; returns what the manifest says of it."""
    change = line.change
    state = renamed(change.state, keys).encode()
    _add(to, state_name(place), state, packed=True)
    return {
        "sha256": hashlib.sha256(state).hexdigest(),
        "parent": line.parent,
        "onward": line.onward,
        "words": change.words,
        "kind": change.kind,
        "created": line.created,
        "thumbnail": keys[change.thumbnail] if change.thumbnail else None,
        "files": sorted({keys[key] for key in change.files}),
    }


def renamed(state: str, keys: Mapping[str, str]) -> str:
    """A state with the keys that changed; a key is too long to stand there by chance."""
    for old, new in keys.items():
        if old != new:
            state = state.replace(old, new)
    return state


def _add(to: zipfile.ZipFile, name: str, data: bytes, *, packed: bool) -> None:
    info = zipfile.ZipInfo(name, DATE)
    info.external_attr = 0o600 << 16
    small = len(zlib.compress(data, 6)) if packed else len(data)
    squeeze = packed and len(data) < WORTH_PACKING * small
    info.compress_type = zipfile.ZIP_DEFLATED if squeeze else zipfile.ZIP_STORED
    to.writestr(info, data)
