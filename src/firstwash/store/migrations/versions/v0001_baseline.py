"""The first tables.

A migration is never changed once released, so the tables are spelled out here rather than
taken from `store.schema`, which moves on.
"""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision: str | None = None


def upgrade() -> None:
    """Make every table."""
    _paintings()
    _beside()
    _paints()


def _paintings() -> None:
    op.create_table(
        "painting",
        sa.Column("id", sa.String, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("created", sa.Float, nullable=False),
        sa.Column("changed", sa.Float, nullable=False),
        sa.Column("binned", sa.Float),
        sa.Column("head", sa.String, nullable=False),
    )
    op.create_table(
        "revision",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("id", sa.String, nullable=False, unique=True),
        _to("painting", "painting.id", primary_key=False),
        sa.Column("parent", sa.String, sa.ForeignKey("revision.id")),
        sa.Column("onward", sa.String),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("created", sa.Float, nullable=False),
        sa.Column("thumbnail", sa.String),
        sa.Column("state", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("revision_of_painting", "revision", ["painting", "number"])
    op.create_index("revision_of_parent", "revision", ["parent"])
    op.create_table(
        "revision_file",
        _to("revision", "revision.id"),
        sa.Column("key", sa.String, primary_key=True),
        sqlite_with_rowid=False,
    )


def _beside() -> None:
    op.create_table(
        "note",
        _to("painting", "painting.id"),
        sa.Column("name", sa.String, primary_key=True),
        sa.Column("json", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
    )
    op.create_table(
        "setting",
        sa.Column("name", sa.String, primary_key=True),
        sa.Column("json", sa.Text, nullable=False),
    )


def _paints() -> None:
    op.create_table(
        "box",
        sa.Column("version", sa.Integer, primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("own", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("created", sa.Float, nullable=False),
    )
    op.create_table(
        "box_file",
        sa.Column(
            "version",
            sa.Integer,
            sa.ForeignKey("box.version", ondelete="CASCADE"),
            primary_key=True,
        ),
        sa.Column("key", sa.String, primary_key=True),
        sqlite_with_rowid=False,
    )


def _to(name: str, target: str, *, primary_key: bool = True) -> sa.Column[str]:
    """A column that names a row elsewhere by its text id, and goes with it."""
    return sa.Column(
        name,
        sa.String,
        sa.ForeignKey(target, ondelete="CASCADE"),
        nullable=False,
        primary_key=primary_key,
    )
