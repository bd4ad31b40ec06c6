"""Files kept by what is in them: the key of a file is the SHA-256 of its bytes, in hex.

A file is written beside its final place, flushed to the disk and renamed, so under its key
there is either all of it or nothing, whatever ends the process. Nothing of a path ever comes
from outside: a key is 64 hex digits or it is refused.
"""

import hashlib
import os
import re
import shutil
import sys
import time
from collections.abc import Collection, Iterable
from contextlib import suppress
from pathlib import Path
from secrets import token_hex
from typing import BinaryIO, Final

from firstwash.errors import Missing, StoreError

if sys.platform == "darwin":
    import fcntl

__all__ = ["LARGEST_FILE", "Files", "is_key"]

LARGEST_FILE: Final = 256 * 2**20  # bytes
YOUNG_SECONDS: Final = 3600.0  # a sweep leaves files younger than this
PIECE: Final = 2**20  # bytes read at a time
KEY: Final = re.compile(r"[0-9a-f]{64}")


def is_key(text: object) -> bool:
    """Whether this is a well-formed key; says nothing of a file being there."""
    return isinstance(text, str) and KEY.fullmatch(text) is not None


class Files:
    """Content-addressed files in one folder. Safe to use from several threads."""

    def __init__(self, folder: Path, largest: int = LARGEST_FILE) -> None:
        """folder: made if missing, with what an earlier process left half written removed."""
        self._folder: Final = folder
        self._unfinished: Final = folder / "unfinished"
        self._largest: Final = largest
        try:
            is_new = not folder.is_dir()
            shutil.rmtree(self._unfinished, ignore_errors=True)
            self._unfinished.mkdir(mode=0o700, parents=True, exist_ok=True)
            if is_new:
                _flush_folder(folder.parent)
        except OSError as error:
            raise _unwritable(error) from error

    def put(self, data: bytes) -> str:
        """Keep these bytes; returns their key. Raises StoreError if too large or disk full."""
        self._check_size(len(data))
        key = hashlib.sha256(data).hexdigest()
        if not self._touched(key):
            spare = self._spare()
            try:
                with spare.open("xb") as to:
                    to.write(data)
                    _flush(to)
                self._settle(spare, key)
            except OSError as error:
                raise _unwritable(error) from error
            finally:
                spare.unlink(missing_ok=True)
        return key

    def adopt(self, path: Path) -> str:
        """Keep a copy of a file, an upload say; returns its key. The file itself is left.

        Raises StoreError if it is too large, cannot be read, or the disk is full.
        """
        spare = self._spare()
        digest, size = hashlib.sha256(), 0
        try:
            with path.open("rb") as source, spare.open("xb") as to:
                while piece := source.read(PIECE):
                    size += len(piece)
                    self._check_size(size)
                    digest.update(piece)
                    to.write(piece)
                _flush(to)
            key = digest.hexdigest()
            if not self._touched(key):
                self._settle(spare, key)
        except OSError as error:
            raise _unwritable(error) from error
        finally:
            spare.unlink(missing_ok=True)
        return key

    def get(self, key: str) -> bytes:
        """The bytes under a key. Raises Missing."""
        try:
            return self._at(key).read_bytes()
        except OSError as error:
            raise _missing() from error

    def path(self, key: str) -> Path:
        """Where the file is, to be read and never written. Raises Missing."""
        if not self.has(key):
            raise _missing()
        return self._at(key)

    def has(self, key: str) -> bool:
        """Whether there is a file under this key."""
        return is_key(key) and self._at(key).is_file()

    def all_here(self, keys: Iterable[str], thumbnail: str | None) -> frozenset[str]:
        """The keys as a set, once all of them and the thumbnail are found to be here.

        Raises StoreError if one is not.
        """
        wanted = frozenset(keys)
        if not all(self.has(key) for key in (*wanted, *([thumbnail] if thumbnail else []))):
            raise StoreError("A file of this change is missing: add the photo again, then retry.")
        return wanted

    def sweep(self, keep: Collection[str]) -> int:
        """Delete files whose key is not in `keep` and that are older than an hour.

        Returns how many went. Names that are no keys are left alone.
        """
        limit = time.time() - YOUNG_SECONDS
        gone = 0
        for path in self._folder.glob("??/*"):
            if is_key(path.name) and path.name not in keep:
                with suppress(OSError):  # in use on Windows: next time, then
                    if path.stat().st_mtime < limit:
                        path.unlink()
                        gone += 1
        return gone

    def _at(self, key: str) -> Path:
        """The one place that makes a path of a key."""
        if not is_key(key):
            raise _missing()
        return self._folder / key[:2] / key

    def _spare(self) -> Path:
        return self._unfinished / token_hex(16)

    def _check_size(self, size: int) -> None:
        if size > self._largest:
            raise StoreError(
                f"This file is larger than {self._largest // 2**20} MB: make it smaller first."
            )

    def _touched(self, key: str) -> bool:
        """Whether it is here already; if so it is young again, so that no sweep takes it."""
        try:
            os.utime(self._at(key))
        except OSError:
            return False
        return True

    def _settle(self, spare: Path, key: str) -> None:
        """Rename a flushed file to its place, and make the renaming itself durable."""
        place = self._at(key)
        if not place.parent.is_dir():
            place.parent.mkdir(mode=0o700, exist_ok=True)
            _flush_folder(self._folder)
        spare.replace(place)
        _flush_folder(place.parent)


def _flush(to: BinaryIO) -> None:
    to.flush()
    if sys.platform == "darwin":  # where fsync may stop at the drive's own memory
        fcntl.fcntl(to.fileno(), fcntl.F_FULLFSYNC)
    else:
        os.fsync(to.fileno())


def _flush_folder(folder: Path) -> None:
    """Have the folder's list of names on the disk; Windows does this by itself."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _missing() -> Missing:
    return Missing("This file is not among the kept ones any more: go back to the paintings.")


def _unwritable(error: OSError) -> StoreError:
    return StoreError(
        f"The file could not be kept ({error.strerror or 'the disk failed'}): make room on the "
        "disk and try again."
    )
