"""What the store hands out: plain records, none of them connected to the database.

Times are seconds since 1970-01-01 UTC, as floats. Ids are opaque text made by the store.
Keys name files by what is in them (`store.files`).
"""

from dataclasses import dataclass, field

__all__ = ["Box", "Note", "Opened", "Painting", "Revision", "Step"]


@dataclass(frozen=True)
class Painting:
    """One painting, as a list of paintings needs it.

    head: the revision the painter is at. binned: when it went into the bin, or None.
    thumbnail: key of the small picture of that revision, or None.
    """

    id: str
    name: str
    created: float
    changed: float
    binned: float | None
    head: str
    thumbnail: str | None


@dataclass(frozen=True)
class Step:
    """One line of a painting's history.

    parent: the revision it was made from, None for the first. words: what the painter did,
    one short phrase. kind: the caller's word for the sort of change. is_head: the painter is
    here.
    """

    id: str
    parent: str | None
    words: str
    kind: str
    created: float
    thumbnail: str | None
    is_head: bool


@dataclass(frozen=True)
class Revision:
    """One accepted change with all that was accepted.

    state: JSON text, never looked into. files: the keys of the files it needs.
    """

    id: str
    parent: str | None
    words: str
    kind: str
    created: float
    thumbnail: str | None
    state: str = field(repr=False)
    files: frozenset[str] = field(repr=False)


@dataclass(frozen=True)
class Opened:
    """A painting with the revision the painter is at, and whether there is a way on or back."""

    painting: Painting
    revision: Revision
    can_step_back: bool
    can_step_forward: bool


@dataclass(frozen=True)
class Note:
    """Something kept beside a painting that is not history: ticks at the board, a timer.

    json: JSON text. version: 1 for the first, one more with every change.
    """

    name: str
    json: str
    version: int


@dataclass(frozen=True)
class Box:
    """The painter's own paints at one version.

    text: the list as the painter wrote it. own: JSON text of the paints taught from swatches.
    files: keys of the files it needs, such as photos of swatch cards.
    """

    version: int
    text: str = field(repr=False)
    own: str = field(repr=False)
    words: str
    created: float
    files: frozenset[str] = field(repr=False)
