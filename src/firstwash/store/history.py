"""The tree of a painting's revisions, and moving about in it."""

from sqlalchemy import Connection, Row, select, update

from firstwash.errors import Missing, Overtaken, StoreError
from firstwash.store.records import Revision, Step
from firstwash.store.schema import painting, revision, revision_file

__all__ = [
    "LINE",
    "check_head",
    "go_to",
    "head_of",
    "history_of",
    "revision_of",
    "step_back",
    "step_forward",
]

LINE = tuple(c for c in revision.c if c.name != "state")  # all of a revision that is short


def head_of(here: Connection, of: str) -> str:
    """The revision a painting is at. Raises Missing."""
    head = here.scalar(select(painting.c.head).where(painting.c.id == of))
    if head is None:
        raise Missing("This painting is not here any more: go back to the list of paintings.")
    return str(head)


def check_head(here: Connection, of: str, base: str) -> None:
    """Raises Overtaken unless the painting is at `base`, StoreError if it is in the bin."""
    head = head_of(here, of)
    if here.scalar(select(painting.c.binned).where(painting.c.id == of)) is not None:
        raise StoreError("This painting is in the bin: take it out first.")
    if head != base:
        raise Overtaken(
            "This painting was changed somewhere else: look at how it is now, then try again.",
            head,
        )


def history_of(here: Connection, of: str) -> tuple[Step, ...]:
    """Every revision of a painting in the order of acceptance. Raises Missing."""
    head = head_of(here, of)
    rows = here.execute(select(*LINE).where(revision.c.painting == of).order_by(revision.c.number))
    return tuple(
        Step(r.id, r.parent, r.words, r.kind, r.created, r.thumbnail, r.id == head) for r in rows
    )


def revision_of(here: Connection, of: str, wanted: str) -> Revision:
    """One revision of a painting with its state and files. Raises Missing."""
    r = _row(here, of, wanted)
    state = str(here.scalar(select(revision.c.state).where(revision.c.id == wanted)))
    keys = here.scalars(select(revision_file.c.key).where(revision_file.c.revision == wanted))
    return Revision(r.id, r.parent, r.words, r.kind, r.created, r.thumbnail, state, frozenset(keys))


def step_back(to: Connection, of: str, base: str) -> None:
    """Move a painting's head to the parent. Raises Overtaken, Missing, StoreError."""
    check_head(to, of, base)
    target = _row(to, of, base).parent
    if target is None:
        raise StoreError("This is the first state of the painting: there is nothing before it.")
    # Forward leads to where the painter came from.
    to.execute(update(revision).where(revision.c.id == target).values(onward=base))
    _move(to, of, target)


def step_forward(to: Connection, of: str, base: str) -> None:
    """Move a painting's head along the branch last made or left. Raises as `step_back`."""
    check_head(to, of, base)
    target = _row(to, of, base).onward
    if target is None:
        raise StoreError("This is the newest state of the painting: there is nothing after it.")
    _move(to, of, target)


def go_to(to: Connection, of: str, base: str, target: str) -> None:
    """Move a painting's head to any revision of it. Raises Overtaken, Missing."""
    check_head(to, of, base)
    _row(to, of, target)
    _move(to, of, target)


def _move(to: Connection, of: str, target: str) -> None:
    to.execute(update(painting).where(painting.c.id == of).values(head=target))


def _row(here: Connection, of: str, wanted: str) -> Row[tuple[object, ...]]:
    found = here.execute(
        select(*LINE).where(revision.c.id == wanted, revision.c.painting == of)
    ).one_or_none()
    if found is None:
        raise Missing("This step is not in the painting's history: reload the page.")
    return found
