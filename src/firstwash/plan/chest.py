"""What a painter's list leaves to choose from: owned paints, and limits with its bans heard."""

from collections.abc import Sequence
from dataclasses import dataclass

from firstwash.paints.catalogue import Paint
from firstwash.paints.shelf import Shelf
from firstwash.plan.favourites import with_bans, with_favourites
from firstwash.plan.problem import Limits

__all__ = ["Chest", "open_chest"]


@dataclass(frozen=True, eq=False)
class Chest:
    """Paints owned, those to choose from, and the limits with what the list says of them."""

    owned: tuple[Paint, ...]
    choice: tuple[Paint, ...]
    limits: Limits
    notes: tuple[str, ...]


def open_chest(shelf: Shelf, asked: Limits, kept: Sequence[str] = ()) -> Chest:
    """The chest of a list; kept: keys of paints that stay on the palette.

    Raises PaintError for a list that leaves nothing to paint with.
    """
    owned, box = shelf.to_set(with_banned=True).paints, shelf.box
    limits = with_bans(owned, box.banned, asked)
    return Chest(owned, *with_favourites(owned, box.favourites, limits, shelf.paper, kept))
