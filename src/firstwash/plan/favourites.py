"""The favourites and bans of a painter's box, as far as a request leaves room for them."""

from collections.abc import Collection, Sequence
from dataclasses import replace

from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.plan.problem import Limits, is_black_or_white
from firstwash.plan.say import full_coat_step

__all__ = ["with_bans", "with_favourites"]


def _named(paint: Paint, words: Collection[str]) -> bool:
    """Whether words of a request mean this paint, by key or name."""
    plain = {word.strip().casefold() for word in words}
    return bool({paint.key.strip().casefold(), paint.name.strip().casefold()} & plain)


def with_bans(owned: Sequence[Paint], banned: Collection[str], limits: Limits) -> Limits:
    """The limits with the box's bans, without paints that the request prefers.

    banned: keys of paints among those owned.
    """
    said = (*limits.ban, *limits.prefer)
    more = [p.key for p in owned if p.key in banned and not _named(p, said)]
    return replace(limits, ban=(*limits.ban, *more))


def with_favourites(
    owned: Sequence[Paint],
    favourites: Collection[str],
    limits: Limits,
    paper: Paper,
    kept: Collection[str] = (),
) -> tuple[tuple[Paint, ...], Limits, tuple[str, ...]]:
    """The paints to choose from, the limits, and notes, with a box's favourites heard.

    favourites: keys of paints among those owned. kept: keys of paints that an earlier plan holds
    on the palette. What the request says of a paint comes first: a favourite that it bans,
    caps, finds too dark or leaves out as black or white is a paint like any other. Where all
    favourites have room on the palette they are preferred; where they have not, those on the
    palette are chosen among them alone.
    """
    fixed = [p for p in owned if p.key in kept or _named(p, limits.prefer)]
    loved = [p for p in owned if p.key in favourites and p not in fixed]
    loved = [p for p in loved if _is_free(p, limits, paper)]
    room = limits.paints - len(fixed)
    if len(loved) <= room:
        return tuple(owned), replace(limits, prefer=(*limits.prefer, *(p.key for p in loved))), ()
    if room <= 0:
        return tuple(owned), limits, ()
    chosen = tuple(p for p in owned if p in fixed or p in loved)
    told = f"Chosen among your {len(loved)} favourites, for the palette holds {limits.paints}."
    return chosen, limits, (told,)


def _is_free(paint: Paint, limits: Limits, paper: Paper) -> bool:
    """Whether nothing in the request speaks against preferring the paint."""
    if _named(paint, (*limits.ban, *(word for word, _ in limits.caps))):
        return False
    if not limits.black_and_white and is_black_or_white(paint):
        return False
    return limits.darkest_step is None or full_coat_step(paint, paper) >= limits.darkest_step
