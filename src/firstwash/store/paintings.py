"""The store: the paintings of one painter, every accepted change of them, and their files.

When `accept` returns, the change is on the disk: a power cut or a killed process loses
nothing that was accepted, and leaves nothing half done. A state is JSON text that the store
checks for being JSON and otherwise never looks into.

Every painting is a tree of revisions and a head, the revision the painter is at. A change is
always made on a revision the caller names; if that is no longer the head, somebody else was
quicker and `Overtaken` is raised, so two tabs cannot overwrite each other. Stepping back moves
the head; a change made there starts a new branch, and the old one stays reachable.
"""

from collections.abc import Iterable
from pathlib import Path
from typing import Final, Self

from firstwash.store import box, history, notes, shelf
from firstwash.store.database import Database
from firstwash.store.files import Files
from firstwash.store.place import data_folder
from firstwash.store.records import Box, Note, Opened, Painting, Revision, Step

__all__ = ["BIN_DAYS", "Store"]

BIN_DAYS: Final = 30.0  # how long the bin keeps a painting unless it is emptied by hand


class Store:
    """The kept paintings. Safe to use from several threads; one process at a time.

    files: the content-addressed files. Put every file there before a revision names it.
    Every method may raise StoreError when the disk fails or is full; nothing accepted is
    lost then.
    """

    def __init__(self, database: Database, files: Files) -> None:
        """Use `Store.open`."""
        self._database = database
        self.files: Final = files

    @classmethod
    def open(cls, folder: Path | None = None) -> Self:
        """Open the store in a folder, or in the painter's own place for it (`data_folder`).

        Makes what is missing, and brings a database of an older firstwash up to date after
        copying it aside. Raises AlreadyOpen if another process has it open, StoreError if a
        newer firstwash made it or the folder cannot be used.
        """
        database = Database.open(data_folder(folder))
        try:
            return cls(database, Files(database.folder / "files"))
        except BaseException:
            database.close()
            raise

    def close(self) -> None:
        """Let go of the database and of the folder; safe to call twice."""
        self._database.close()

    def __enter__(self) -> Self:
        """The store itself."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close."""
        self.close()

    @property
    def folder(self) -> Path:
        """The data folder."""
        return self._database.folder

    @property
    def database(self) -> Database:
        """For the other modules of the store only."""
        return self._database

    # Paintings

    def create(
        self,
        name: str,
        state: str,
        files: Iterable[str] = (),
        words: str = "Started",
        *,
        kind: str = "change",
        thumbnail: str | None = None,
    ) -> Opened:
        """A new painting with its first revision. A name that is taken gets " 2".

        Raises StoreError if the name is empty, the state is not JSON, or a file is missing.
        """
        change = self._checked(state, files, words, kind, thumbnail)
        with self._database.writing() as to:
            self.files.all_here(change.files, thumbnail)
            return shelf.create(to, name, change)

    def listed(self, binned: bool = False) -> tuple[Painting, ...]:
        """The paintings, last changed first; or those in the bin, last binned first."""
        with self._database.reading() as here:
            return shelf.listed(here, binned)

    def get(self, painting: str) -> Opened:
        """A painting at its head. Raises Missing."""
        with self._database.reading() as here:
            return shelf.opened(here, painting)

    def rename(self, painting: str, name: str) -> Painting:
        """Give it another name, exactly as the painter says. Raises Missing, StoreError."""
        with self._database.writing() as to:
            return shelf.rename(to, painting, name)

    def duplicate(self, painting: str) -> Opened:
        """A copy with the whole history and " copy" behind its name; a copy has no notes.

        What is ticked off at the board belongs to one sheet of paper, so it is not copied.
        """
        with self._database.writing() as to:
            return shelf.duplicate(to, painting)

    def to_bin(self, painting: str) -> Painting:
        """Put it in the bin; nothing of it is lost. Raises Missing."""
        with self._database.writing() as to:
            return shelf.put_in_bin(to, painting, True)

    def from_bin(self, painting: str) -> Painting:
        """Take it out of the bin as it was. Raises Missing."""
        with self._database.writing() as to:
            return shelf.put_in_bin(to, painting, False)

    def empty_bin(self, older_than_days: float = BIN_DAYS) -> int:
        """Delete for good what has been in the bin that long; 0 deletes all of the bin.

        Returns how many paintings went. Their files go with the next `sweep`.
        """
        with self._database.writing() as to:
            return shelf.empty_bin(to, older_than_days)

    # History

    def accept(
        self,
        painting: str,
        base: str,
        state: str,
        files: Iterable[str],
        words: str,
        *,
        kind: str = "change",
        thumbnail: str | None = None,
    ) -> Opened:
        """Keep a change made on revision `base`; the painting's head is the new revision then.

        files: every key the state needs, all of them there already. thumbnail: None keeps the
        one of `base`.
        Raises Overtaken if `base` is not the head, Missing for an unknown painting, StoreError
        if the state is not JSON, a file is missing, or the painting is in the bin.
        """
        change = self._checked(state, files, words, kind, thumbnail)
        with self._database.writing() as to:
            self.files.all_here(change.files, thumbnail)  # again: a sweep may just have run
            return shelf.accept(to, painting, base, change)

    def _checked(
        self, state: str, files: Iterable[str], words: str, kind: str, thumbnail: str | None
    ) -> shelf.Change:
        """A change found to be sound, before anybody else has to wait for it."""
        keys = self.files.all_here(files, thumbnail)
        return shelf.checked(shelf.Change(state, keys, words, kind, thumbnail))

    def step_back(self, painting: str, base: str) -> Opened:
        """Go back by one change. Raises Overtaken, Missing; StoreError at the first one."""
        with self._database.writing() as to:
            history.step_back(to, painting, base)
            return shelf.opened(to, painting)

    def step_forward(self, painting: str, base: str) -> Opened:
        """Go forward again, along the branch last left. Raises as `step_back`."""
        with self._database.writing() as to:
            history.step_forward(to, painting, base)
            return shelf.opened(to, painting)

    def go_to(self, painting: str, revision: str, base: str) -> Opened:
        """Go to any revision of the history. Raises Overtaken, Missing."""
        with self._database.writing() as to:
            history.go_to(to, painting, base, revision)
            return shelf.opened(to, painting)

    def history(self, painting: str) -> tuple[Step, ...]:
        """Every revision ever accepted, in the order of acceptance. Raises Missing."""
        with self._database.reading() as here:
            return history.history_of(here, painting)

    def revision(self, painting: str, revision: str) -> Revision:
        """One revision with its state, without going there. Raises Missing."""
        with self._database.reading() as here:
            return history.revision_of(here, painting, revision)

    def set_thumbnail(self, painting: str, revision: str, key: str) -> None:
        """Give a revision its small picture later; that is no change of the painting."""
        with self._database.writing() as to:
            self.files.all_here((), key)
            shelf.set_thumbnail(to, painting, revision, key)

    # Beside the history

    def note(self, painting: str, name: str) -> Note | None:
        """A note kept beside the painting, or None. Raises Missing for an unknown painting."""
        with self._database.reading() as here:
            return notes.note(here, painting, name)

    def notes(self, painting: str) -> tuple[Note, ...]:
        """All notes beside the painting, by name. Raises Missing."""
        with self._database.reading() as here:
            return notes.notes(here, painting)

    def keep_note(self, painting: str, name: str, json: str, base_version: int) -> Note:
        """Write a note on top of the version the caller saw; 0 if there was none.

        Raises Overtaken (with the version now) if it was changed since, Missing, StoreError.
        """
        with self._database.writing() as to:
            return notes.keep_note(to, painting, name, json, base_version)

    def setting(self, name: str) -> str | None:
        """JSON text of a preference, or None."""
        with self._database.reading() as here:
            return notes.setting(here, name)

    def keep_setting(self, name: str, json: str) -> None:
        """Keep a preference; the last one written wins. Raises StoreError if not JSON."""
        with self._database.writing() as to:
            notes.keep_setting(to, name, json)

    def box(self, version: int | None = None) -> Box | None:
        """The painter's own paints now, or at an older version; None if never kept."""
        with self._database.reading() as here:
            return box.box(here, version)

    def box_history(self) -> tuple[Box, ...]:
        """Every version of the painter's own paints, oldest first."""
        with self._database.reading() as here:
            return box.history(here)

    def keep_box(
        self, text: str, own: str, base_version: int, words: str, files: Iterable[str] = ()
    ) -> Box:
        """Keep the paints as a new version on top of the one the caller saw; 0 if none.

        text: the list. own: JSON text. Raises Overtaken (with the version now), StoreError.
        """
        keys = self.files.all_here(files, None)
        with self._database.writing() as to:
            self.files.all_here(keys, None)
            return box.keep(to, text, own, base_version, words, keys)

    # Files

    def sweep(self) -> int:
        """Delete the files nothing needs any more; returns how many. Slow: do it when idle.

        A file younger than an hour stays: it may belong to a change about to be accepted.
        """
        with self._database.writing() as to:
            return self.files.sweep(shelf.all_keys(to))
