"""What is kept beside the history: notes with a version each, and preferences."""

from sqlalchemy import Connection, delete, insert, select

from firstwash.errors import Overtaken
from firstwash.store import schema
from firstwash.store.history import head_of
from firstwash.store.records import Note
from firstwash.store.texts import checked_json, checked_label

__all__ = ["keep_note", "keep_note_at", "keep_setting", "note", "notes", "setting"]


def note(here: Connection, of: str, name: str) -> Note | None:
    """See `Store.note`."""
    return next((one for one in notes(here, of) if one.name == name), None)


def notes(here: Connection, of: str) -> tuple[Note, ...]:
    """See `Store.notes`."""
    head_of(here, of)
    table = schema.note
    rows = here.execute(
        select(table.c.name, table.c.json, table.c.version)
        .where(table.c.painting == of)
        .order_by(table.c.name)
    )
    return tuple(Note(r.name, r.json, r.version) for r in rows)


def keep_note(to: Connection, of: str, name: str, json: str, base_version: int) -> Note:
    """See `Store.keep_note`."""
    now = note(to, of, checked_label(name))
    version = now.version if now else 0
    if version != base_version:
        raise Overtaken(
            "This was changed somewhere else: look at how it is now, then try again.", version
        )
    return keep_note_at(to, of, name, json, version + 1)


def keep_note_at(to: Connection, of: str, name: str, json: str, version: int) -> Note:
    """Write a note with a version given. Raises StoreError."""
    table = schema.note
    new = Note(checked_label(name), checked_json(json), version)
    to.execute(delete(table).where(table.c.painting == of, table.c.name == name))
    to.execute(insert(table).values(painting=of, name=name, json=json, version=version))
    return new


def setting(here: Connection, name: str) -> str | None:
    """See `Store.setting`."""
    table = schema.setting
    return here.scalar(select(table.c.json).where(table.c.name == name))


def keep_setting(to: Connection, name: str, json: str) -> None:
    """See `Store.keep_setting`."""
    table = schema.setting
    to.execute(delete(table).where(table.c.name == checked_label(name)))
    to.execute(insert(table).values(name=name, json=checked_json(json)))
