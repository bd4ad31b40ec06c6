"""The painter's own paints, every version of them."""

import time

from sqlalchemy import Connection, func, insert, select

from firstwash.errors import Missing, Overtaken, StoreError
from firstwash.store import schema
from firstwash.store.records import Box
from firstwash.store.texts import LONGEST_JSON, checked_json, checked_words

__all__ = ["box", "history", "keep"]


def box(here: Connection, version: int | None = None) -> Box | None:
    """See `Store.box`. Raises Missing for a version that never was."""
    found = _newest(here) if version is None else version
    if found == 0:
        return None
    row = here.execute(select(schema.box).where(schema.box.c.version == found)).one_or_none()
    if row is None:
        raise Missing("There is no such older list of your paints: reload the page.")
    keys = here.scalars(select(schema.box_file.c.key).where(schema.box_file.c.version == found))
    return Box(row.version, row.text, row.own, row.words, row.created, frozenset(keys))


def history(here: Connection) -> tuple[Box, ...]:
    """See `Store.box_history`."""
    versions = here.scalars(select(schema.box.c.version).order_by(schema.box.c.version)).all()
    return tuple(one for v in versions if (one := box(here, v)) is not None)


def keep(
    to: Connection, text: str, own: str, base_version: int, words: str, files: frozenset[str]
) -> Box:
    """See `Store.keep_box`."""
    now = _newest(to)
    if now != base_version:
        raise Overtaken(
            "Your paints were changed somewhere else: look at how they are now, then try again.",
            now,
        )
    if len(text) > LONGEST_JSON or "\0" in text or any("\ud800" <= c <= "\udfff" for c in text):
        raise StoreError("This list of paints cannot be read: type it anew as plain text.")
    new = Box(now + 1, text, checked_json(own), checked_words(words), time.time(), files)
    to.execute(
        insert(schema.box).values(
            version=new.version, text=text, own=own, words=new.words, created=new.created
        )
    )
    if files:
        rows = [{"version": new.version, "key": key} for key in files]
        to.execute(insert(schema.box_file), rows)
    return new


def _newest(here: Connection) -> int:
    return here.scalar(select(func.max(schema.box.c.version))) or 0
