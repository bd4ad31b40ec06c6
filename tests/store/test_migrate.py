"""Making the database, bringing an older one up to date, refusing a newer one."""

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from firstwash.errors import StoreError
from firstwash.store import migrate
from firstwash.store.paintings import Store
from firstwash.store.schema import VERSION, metadata

SECOND = """
import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade():
    op.add_column("painting", sa.Column("mood", sa.Text))
    {more}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one painting in it, closed."""
    with Store.open(tmp_path) as store:
        store.create("Pears", '{"a": 1}')
    return tmp_path


def ask(path: Path, sql: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def later(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, more: str = "pass") -> None:
    """Make it a later firstwash, with one more migration."""
    scripts = tmp_path / "later"
    shutil.copytree(migrate.SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
    (scripts / "versions" / "v0002_mood.py").write_text(SECOND.format(more=more))
    monkeypatch.setattr(migrate, "SCRIPTS", scripts)
    monkeypatch.setattr(migrate, "VERSION", "0002")


def test_the_newest_migration_is_the_one_the_tables_are_at() -> None:
    assert migrate.known_versions()[0] == VERSION


def test_migrating_an_empty_database_gives_exactly_the_tables(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store, store.database.reading() as here:
        assert compare_metadata(MigrationContext.configure(here), metadata) == []
        made = {
            row[0]: re.sub(r"\s+", " ", row[1])
            for row in here.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE sql <> ''")
        }
    # The comparison above sees no cascades and no AUTOINCREMENT; the text of the tables does.
    other = tmp_path / "straight.db"
    from sqlalchemy import create_engine

    engine = create_engine(f"sqlite:///{other}")
    metadata.create_all(engine)
    engine.dispose()
    rows = ask(other, "SELECT name, sql FROM sqlite_master WHERE sql <> ''")
    straight = {str(n): re.sub(r"\s+", " ", str(sql)) for n, sql in rows}
    made.pop("alembic_version")
    assert made == straight


def test_the_settings_of_sqlite_are_the_safe_ones(folder: Path) -> None:
    with Store.open(folder) as store, store.database.reading() as here:
        told = {
            name: here.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert told == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 5000,
    }


def test_an_older_database_is_copied_aside_and_brought_up_to_date(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    later(monkeypatch, tmp_path_factory.mktemp("scripts"))
    with Store.open(folder) as store:
        assert [p.name for p in store.listed()] == ["Pears"]
    assert ask(folder / "firstwash.db", "SELECT name, mood FROM painting") == [("Pears", None)]
    copy = folder / "firstwash.before-0002.db"
    assert ask(copy, "SELECT version_num FROM alembic_version") == [("0001",)]
    assert ask(copy, "SELECT name FROM painting") == [("Pears",)]


def test_a_migration_that_fails_changes_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with monkeypatch.context() as patched:
        later(patched, tmp_path_factory.mktemp("scripts"), "op.drop_table('nowhere')")
        with pytest.raises(StoreError):
            Store.open(folder)
        columns = [row[1] for row in ask(folder / "firstwash.db", "PRAGMA table_info(painting)")]
        assert "mood" not in columns
    with Store.open(folder) as store:
        assert [p.name for p in store.listed()] == ["Pears"]


def test_a_newer_database_is_refused_and_left_alone(folder: Path) -> None:
    path = folder / "firstwash.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    before = path.read_bytes()
    with pytest.raises(StoreError, match=r"^A newer firstwash [^.]*\.$"):
        Store.open(folder)
    assert path.read_bytes() == before
    assert list(folder.glob("*before*")) == []


@pytest.mark.parametrize(
    "content", [b"not a database at all" * 100, b"SQLite format 3\0" + b"x" * 5000]
)
def test_a_file_that_is_no_database_is_told_and_left_alone(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "firstwash.db").write_bytes(content)
    with pytest.raises(StoreError, match="damaged or not from firstwash"):
        Store.open(tmp_path)
    assert (tmp_path / "firstwash.db").read_bytes() == content


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "firstwash.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE theirs (x)")
    with pytest.raises(StoreError, match="not from firstwash"):
        Store.open(tmp_path)
    assert ask(path, "SELECT name FROM sqlite_master") == [("theirs",)]


def test_an_empty_file_is_a_new_database(tmp_path: Path) -> None:
    (tmp_path / "firstwash.db").touch()
    with Store.open(tmp_path) as store:
        assert store.listed() == ()


def test_a_refused_opening_lets_go_of_the_folder(folder: Path) -> None:
    (folder / "firstwash.db").rename(folder / "good.db")
    (folder / "firstwash.db").write_bytes(b"bad" * 1000)
    with pytest.raises(StoreError):
        Store.open(folder)
    (folder / "good.db").replace(folder / "firstwash.db")
    with Store.open(folder) as store:
        assert len(store.listed()) == 1
