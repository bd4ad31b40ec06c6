"""Bring a database made by an older firstwash up to date, and refuse one from a newer.

Alembic does the migrating, from the scripts packaged beside this module. It is imported only
when there is something to do, as it takes a moment and a start should not.
"""

import contextlib
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Final

from sqlalchemy import Engine

from firstwash.errors import StoreError
from firstwash.store.schema import VERSION

__all__ = ["bring_up_to_date", "known_versions", "version_of"]

SCRIPTS: Final = Path(__file__).parent / "migrations"


def bring_up_to_date(path: Path, engine_of: Callable[[Path], Engine]) -> None:
    """Make the database at `path` if it is missing, migrate it if it is older.

    Before an existing database is changed, a copy `firstwash.before-<version>.db` is put
    beside it, named after the version it is going to. All of a migration happens or nothing.
    Raises StoreError, and leaves the file as it was, if a newer firstwash made it or it is no
    database of ours.
    """
    before = version_of(path)
    if before == VERSION:
        return
    if before is not None and before not in known_versions():
        raise StoreError(
            "A newer firstwash has kept these paintings: install that one again to open them."
        )
    if before is not None:
        _copy_aside(path, path.with_name(f"{path.stem}.before-{VERSION}{path.suffix}"))
    engine = engine_of(path)
    try:
        _upgrade(engine)
    finally:
        engine.dispose()


def version_of(path: Path) -> str | None:
    """The migration a database is at, None if there is no table in it yet. Changes nothing.

    Raises StoreError if the file is no database, or one of another program.
    """
    if not path.exists() or path.stat().st_size == 0:
        return None
    try:
        with contextlib.closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA query_only=ON")
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            if not tables:
                return None  # killed while it was first made
            rows = connection.execute("SELECT version_num FROM alembic_version").fetchall()
            return str(rows[0][0])
    except (sqlite3.Error, IndexError) as error:
        raise StoreError(
            f"The file {path.name} is damaged or not from firstwash: move it to another folder, "
            "or put back a copy of it that works."
        ) from error


def known_versions() -> tuple[str, ...]:
    """Every version this firstwash can bring up to date, newest first."""
    from alembic.script import ScriptDirectory

    return tuple(s.revision for s in ScriptDirectory(SCRIPTS).walk_revisions())


def _copy_aside(path: Path, copy: Path) -> None:
    """A whole copy under its name, or none; one that is there already is older and stays."""
    if copy.exists():
        return
    half = copy.with_suffix(".half")
    half.unlink(missing_ok=True)
    with (
        contextlib.closing(sqlite3.connect(path)) as source,
        contextlib.closing(sqlite3.connect(half)) as target,
    ):
        source.backup(target)
    os.replace(half, copy)


def _upgrade(engine: Engine) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    with engine.connect() as connection:
        writing = connection.execution_options(firstwash_writes=True)
        with writing.begin():
            config.attributes["connection"] = writing
            command.upgrade(config, "head")
