"""The connection to SQLite: one writer at a time, and what is accepted is on the disk.

Settings of SQLite as its documentation describes them: a write-ahead log, so that reading
never waits for writing; synchronous FULL, so that a commit survives a power cut; foreign
keys watched; a wait of some seconds for a busy file.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Self

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import SQLAlchemyError

from firstwash.errors import StoreError
from firstwash.store.lock import FolderLock
from firstwash.store.migrate import bring_up_to_date

__all__ = ["DATABASE_NAME", "Database"]

DATABASE_NAME: Final = "firstwash.db"
PRAGMAS: Final = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA fullfsync=ON",  # macOS only, where a flush may stop at the drive's own memory
    "PRAGMA foreign_keys=ON",
    "PRAGMA busy_timeout=5000",  # milliseconds; a backup program may hold the file a moment
    "PRAGMA trusted_schema=OFF",
)


class Database:
    """The database of one folder, held against other processes until closed."""

    def __init__(self, folder: Path, lock: FolderLock, engine: Engine) -> None:
        """Use `Database.open`."""
        self.folder: Final = folder
        self._lock: Final = lock
        self._engine: Final = engine
        self._one_writer: Final = threading.Lock()
        self._closed = False

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open or make the database in a folder, and bring it up to date.

        Raises AlreadyOpen, or StoreError if it is damaged or newer than this firstwash.
        """
        lock = FolderLock(folder)
        engine: Engine | None = None
        try:
            with _plain_errors():
                bring_up_to_date(folder / DATABASE_NAME, _engine)
                engine = _engine(folder / DATABASE_NAME)
                with engine.connect():
                    pass
                return cls(folder, lock, engine)
        except BaseException:
            if engine is not None:
                engine.dispose()
            lock.release()
            raise

    def close(self) -> None:
        """Close all connections and let the next process in; safe to call twice."""
        with self._one_writer:
            self._closed = True
            self._engine.dispose()
            self._lock.release()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the database. Raises StoreError when the disk fails."""
        with _plain_errors(), self._connected() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A change, durable when the block ends and undone if it raises."""
        with self._one_writer, _plain_errors(), self._connected() as connection:
            connection = connection.execution_options(firstwash_writes=True)
            with connection.begin():
                yield connection

    def _connected(self) -> Connection:
        if self._closed:
            raise StoreError("The paintings are closed: start firstwash again.")
        return self._engine.connect()


def _engine(path: Path) -> Engine:
    # SQLite is left to autocommit: we say BEGIN ourselves, IMMEDIATE for a change, because a
    # change that starts as a reading can find itself overtaken half way.
    engine = create_engine(
        f"sqlite:///{path}",
        connect_args={"isolation_level": None, "check_same_thread": False},
    )
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    for pragma in PRAGMAS:
        cursor.execute(pragma)
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("firstwash_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _plain_errors() -> Iterator[None]:
    """SQLite's errors as one sentence for the painter."""
    try:
        yield
    except SQLAlchemyError as error:
        raise StoreError(
            "The paintings could not be read or written: make room on the disk and start "
            "firstwash again; nothing that was kept is lost."
        ) from error
