"""What is done with paintings, as rows: made, listed, changed, copied, binned, deleted."""

import re
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from secrets import token_hex
from typing import Any

from sqlalchemy import Connection, Row, Select, delete, insert, select, update

from firstwash.errors import Missing
from firstwash.store.history import LINE, check_head, head_of, revision_of
from firstwash.store.records import Opened, Painting
from firstwash.store.schema import box_file, painting, revision, revision_file
from firstwash.store.texts import (
    LONGEST_NAME,
    checked_json,
    checked_label,
    checked_name,
    checked_words,
)

__all__ = [
    "Change",
    "Line",
    "accept",
    "all_keys",
    "checked",
    "create",
    "duplicate",
    "empty_bin",
    "lines_of",
    "listed",
    "opened",
    "put_in_bin",
    "rename",
    "set_thumbnail",
    "shelve",
]

DAY = 86400.0  # seconds


@dataclass(frozen=True)
class Change:
    """What a caller wants kept: see `Store.accept`. What is written has been `checked`."""

    state: str = field(repr=False)
    files: frozenset[str]
    words: str
    kind: str = "change"
    thumbnail: str | None = None


def checked(change: Change) -> Change:
    """The change with its words tidied. Raises StoreError if its state is not JSON."""
    return replace(
        change,
        state=checked_json(change.state),
        words=checked_words(change.words),
        kind=checked_label(change.kind),
    )


@dataclass(frozen=True)
class Line:
    """A revision on its way into another painting; its relatives go by place in the list."""

    change: Change
    created: float
    parent: int | None
    onward: int | None


def create(to: Connection, name: str, change: Change) -> Opened:
    """A new painting with one revision; see `Store.create`."""
    now = time.time()
    line = Line(change, now, None, None)
    return shelve(to, checked_name(name), (now, now), [line], 1, 0)


def shelve(
    to: Connection,
    name: str,
    times: tuple[float, float],
    lines: Iterable[Line],
    many: int,
    head: int,
) -> Opened:
    """A new painting with a whole history: `many` lines, each after its parent.

    times: when it was made and last changed. head: the place of the line it is at.
    """
    of, ids = token_hex(10), [token_hex(10) for _ in range(many)]
    free = _free_name(to, name)
    to.execute(
        insert(painting).values(
            id=of, name=free, created=times[0], changed=times[1], head=ids[head]
        )
    )
    for line, new in zip(lines, ids, strict=True):
        parent = None if line.parent is None else ids[line.parent]
        onward = None if line.onward is None else ids[line.onward]
        _write(to, new, of, line, parent, onward)
    return opened(to, of)


def accept(to: Connection, of: str, base: str, change: Change) -> Opened:
    """A new revision on top of the head; see `Store.accept`."""
    check_head(to, of, base)
    now, new = time.time(), token_hex(10)
    if change.thumbnail is None:
        was = to.scalar(select(revision.c.thumbnail).where(revision.c.id == base))
        change = replace(change, thumbnail=was)
    _write(to, new, of, Line(change, now, None, None), base, None)
    to.execute(update(revision).where(revision.c.id == base).values(onward=new))
    to.execute(update(painting).where(painting.c.id == of).values(head=new, changed=now))
    return opened(to, of)


def _write(
    to: Connection, new: str, of: str, line: Line, parent: str | None, onward: str | None
) -> None:
    change = line.change
    to.execute(
        insert(revision).values(
            id=new,
            painting=of,
            parent=parent,
            onward=onward,
            words=change.words,
            kind=change.kind,
            created=line.created,
            thumbnail=change.thumbnail,
            state=change.state,
        )
    )
    if change.files:
        to.execute(insert(revision_file), [{"revision": new, "key": k} for k in change.files])


def _paintings() -> Select[tuple[object, ...]]:
    return select(*painting.c, revision.c.thumbnail).join(
        revision, revision.c.id == painting.c.head
    )


def _painting(row: Row[tuple[object, ...]]) -> Painting:
    return Painting(**row._mapping)


def listed(here: Connection, binned: bool) -> tuple[Painting, ...]:
    """The paintings, last changed first, or the bin, last binned first."""
    which = painting.c.binned.is_not(None) if binned else painting.c.binned.is_(None)
    order = (painting.c.binned if binned else painting.c.changed).desc()
    return tuple(map(_painting, here.execute(_paintings().where(which).order_by(order))))


def _one(here: Connection, of: str) -> Painting:
    head_of(here, of)
    return _painting(here.execute(_paintings().where(painting.c.id == of)).one())


def opened(here: Connection, of: str) -> Opened:
    """A painting at its head. Raises Missing."""
    found = _one(here, of)
    at = revision_of(here, of, found.head)
    onward = here.scalar(select(revision.c.onward).where(revision.c.id == found.head))
    return Opened(found, at, at.parent is not None, onward is not None)


def rename(to: Connection, of: str, name: str) -> Painting:
    """Give a painting another name. Raises Missing, StoreError."""
    to.execute(update(painting).where(painting.c.id == of).values(name=checked_name(name)))
    return _one(to, of)


def lines_of(here: Connection, of: str) -> tuple[Iterator[Line], int, int]:
    """The whole history of a painting one line after another, how many, and the head's place.

    States are read one at a time: together they may be large. Raises Missing.
    """
    head = head_of(here, of)
    rows = here.execute(
        select(*LINE).where(revision.c.painting == of).order_by(revision.c.number)
    ).all()
    place = {row.id: i for i, row in enumerate(rows)}
    return (_line(here, of, row, place) for row in rows), len(rows), place[head]


def _line(here: Connection, of: str, row: Row[Any], place: Mapping[str, int]) -> Line:
    whole = revision_of(here, of, row.id)
    change = Change(whole.state, whole.files, row.words, row.kind, row.thumbnail)
    parent = None if row.parent is None else place[row.parent]
    return Line(change, row.created, parent, None if row.onward is None else place[row.onward])


def duplicate(to: Connection, of: str) -> Opened:
    """A copy with the whole history. Raises Missing."""
    lines, many, head = lines_of(to, of)
    name = f"{_one(to, of).name[: LONGEST_NAME - 8]} copy"
    now = time.time()
    return shelve(to, name, (now, now), lines, many, head)


def put_in_bin(to: Connection, of: str, binned: bool) -> Painting:
    """Into the bin, or out of it; a painting that is there already keeps its time."""
    if (_one(to, of).binned is not None) != binned:
        when = time.time() if binned else None
        to.execute(update(painting).where(painting.c.id == of).values(binned=when))
    return _one(to, of)


def empty_bin(to: Connection, older_than_days: float) -> int:
    """Delete what has been in the bin that long; returns how many paintings."""
    limit = time.time() - max(older_than_days, 0.0) * DAY
    return to.execute(delete(painting).where(painting.c.binned <= limit)).rowcount


def set_thumbnail(to: Connection, of: str, at: str, key: str) -> None:
    """Give a revision its small picture. Raises Missing."""
    mine = (revision.c.id == at) & (revision.c.painting == of)
    if not to.execute(update(revision).where(mine).values(thumbnail=key)).rowcount:
        raise Missing("This step is not in the painting's history: reload the page.")


def all_keys(here: Connection) -> frozenset[str]:
    """Every key that anything kept still needs."""
    needed: set[str] = set()
    for column in (revision_file.c.key, revision.c.thumbnail, box_file.c.key):
        needed |= set(here.scalars(select(column).distinct().where(column.is_not(None))))
    return frozenset(needed)


def _free_name(here: Connection, name: str) -> str:
    """The name, or with the lowest number behind it that no painting has yet."""
    taken = {n.casefold() for n in here.scalars(select(painting.c.name))}
    if name.casefold() not in taken:
        return name
    stem = re.sub(r" \d{1,6}$", "", name)[: LONGEST_NAME - 8]
    return next(
        wanted
        for wanted in (f"{stem} {i}" for i in range(2, len(taken) + 3))
        if wanted.casefold() not in taken
    )
