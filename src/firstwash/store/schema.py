"""The tables of the database, as they are now; `migrations` tells how they came to be so.

Times are seconds since 1970 UTC. A `state` comes last in its row: it may be long, and SQLite
reads a row from its start.
"""

from typing import Final

from sqlalchemy import Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

__all__ = [
    "VERSION",
    "box",
    "box_file",
    "metadata",
    "note",
    "painting",
    "revision",
    "revision_file",
    "setting",
]

VERSION: Final = "0001"  # the newest migration; a test holds it to that

metadata: Final = MetaData()

# `head` names a revision that names this painting: with a foreign key both ways neither row
# could be written first, so this one is kept right by the code and watched by the tests.
painting: Final = Table(
    "painting",
    metadata,
    Column("id", String, primary_key=True),
    Column("name", Text, nullable=False),
    Column("created", Float, nullable=False),
    Column("changed", Float, nullable=False),
    Column("binned", Float),
    Column("head", String, nullable=False),
)

# A parent's deletion does not cascade: with one row leading to the next, a history of a
# thousand changes would be too deep for SQLite. All go at once with their painting.
# number: the order of acceptance, which a clock set back cannot upset. onward: where stepping
# forward leads, the branch made or left last.
revision: Final = Table(
    "revision",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("id", String, nullable=False, unique=True),
    Column("painting", ForeignKey("painting.id", ondelete="CASCADE"), nullable=False),
    Column("parent", ForeignKey("revision.id")),
    Column("onward", String),
    Column("words", Text, nullable=False),
    Column("kind", String, nullable=False),
    Column("created", Float, nullable=False),
    Column("thumbnail", String),
    Column("state", Text, nullable=False),
    Index("revision_of_painting", "painting", "number"),
    Index("revision_of_parent", "parent"),
    sqlite_autoincrement=True,
)

revision_file: Final = Table(
    "revision_file",
    metadata,
    Column("revision", ForeignKey("revision.id", ondelete="CASCADE"), primary_key=True),
    Column("key", String, primary_key=True),
    sqlite_with_rowid=False,
)

note: Final = Table(
    "note",
    metadata,
    Column("painting", ForeignKey("painting.id", ondelete="CASCADE"), primary_key=True),
    Column("name", String, primary_key=True),
    Column("json", Text, nullable=False),
    Column("version", Integer, nullable=False),
)

setting: Final = Table(
    "setting",
    metadata,
    Column("name", String, primary_key=True),
    Column("json", Text, nullable=False),
)

box: Final = Table(
    "box",
    metadata,
    Column("version", Integer, primary_key=True),
    Column("text", Text, nullable=False),
    Column("own", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("created", Float, nullable=False),
)

box_file: Final = Table(
    "box_file",
    metadata,
    Column("version", ForeignKey("box.version", ondelete="CASCADE"), primary_key=True),
    Column("key", String, primary_key=True),
    sqlite_with_rowid=False,
)
