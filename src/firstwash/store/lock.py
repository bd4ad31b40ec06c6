"""One process at a time in a folder of paintings.

Decision: a second process is refused. SQLite alone would keep two processes from harming the
database, but the files beside it are swept, imported and tidied by whoever has the folder
open, and two such processes would need a protocol of their own. The operating system lets go
of the lock when the process ends, however it ends, so that a killed one never shuts out the
next.
"""

import os
import sys
from pathlib import Path
from typing import Final

from firstwash.errors import AlreadyOpen, StoreError

__all__ = ["FolderLock"]

LOCK_NAME: Final = "in-use.lock"

if sys.platform == "win32":
    import msvcrt

    def _seize(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _seize(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


class FolderLock:
    """Holds the folder from the moment it is made until `release` or the end of the process."""

    def __init__(self, folder: Path) -> None:
        """Raises AlreadyOpen if another process has it, StoreError if it cannot be written."""
        self._handle: int | None = None
        try:
            handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise StoreError(
                f"The folder {folder} cannot be written: choose another one for the paintings."
            ) from error
        try:
            _seize(handle)
        except OSError as error:
            os.close(handle)
            raise AlreadyOpen(
                "Your paintings are open in another firstwash already: "
                "use its page, or close it and try again."
            ) from error
        self._handle = handle

    def release(self) -> None:
        """Let the next process in; safe to call twice."""
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)
