"""Favourites and bans of a box: heard as far as the request leaves room."""

import pytest

from firstwash.paints.catalogue import default_paper, load_set, paint
from firstwash.plan.favourites import with_bans, with_favourites
from firstwash.plan.problem import Limits
from firstwash.plan.say import full_coat_step, heard

BOX = load_set("starter").paints
ALL = load_set("all").paints
PAPER = default_paper()


def favoured(loved, limits: Limits, owned=BOX, kept=()):
    return with_favourites(owned, loved, limits, PAPER, kept)


def palette_must(owned, limits: Limits) -> set[str]:
    """Keys that go on the palette for certain; raises if the request cannot be met."""
    say = heard(owned, limits, PAPER)
    return {say.paints[i].key for i in say.must}


# ------------------------------------------------------------------ bans


def test_banned_paints_are_banned() -> None:
    limits = with_bans(BOX, ("PB29", "PG7"), Limits(ban=("PY154",)))
    assert limits.ban == ("PY154", "PB29", "PG7")
    assert {p.key for p in heard(BOX, limits, PAPER).paints} == {
        p.key for p in BOX if p.key not in limits.ban
    }


@pytest.mark.parametrize("word", ["PB29", "pb29 ", "Ultramarine Blue"])
def test_a_ban_is_not_said_twice(word: str) -> None:
    limits = with_bans(BOX, ("PB29",), Limits(ban=(word,)))
    assert limits.ban == (word,)
    heard(BOX, limits, PAPER)


@pytest.mark.parametrize("word", ["PB29", "ultramarine blue"])
def test_a_request_may_prefer_what_the_box_bans(word: str) -> None:
    limits = with_bans(BOX, ("PB29", "PG7"), Limits(prefer=(word,)))
    assert limits.ban == ("PG7",)
    assert palette_must(BOX, limits) == {"PB29"}


# ------------------------------------------------------------------ favourites


def test_no_favourites_change_nothing() -> None:
    assert favoured((), Limits(prefer=("PG7",))) == (BOX, Limits(prefer=("PG7",)), ())


def test_favourites_with_room_go_on_the_palette() -> None:
    owned, limits, notes = favoured(("PB29", "PG7"), Limits(paints=3, prefer=("burnt sienna",)))
    assert owned == BOX
    assert notes == ()
    assert palette_must(owned, limits) == {"PB29", "PG7", "PBr7-burnt"}


def test_a_favourite_that_is_preferred_already_is_not_said_twice() -> None:
    owned, limits, _ = favoured(("PB29", "PG7"), Limits(prefer=("Ultramarine blue",)))
    assert limits.prefer == ("Ultramarine blue", "PG7")
    heard(owned, limits, PAPER)


def test_of_too_many_favourites_the_plan_chooses() -> None:
    loved = ("PB29", "PG7", "PY154", "PBr7-burnt")
    owned, limits, notes = favoured(loved, Limits(paints=3, prefer=("PV29",)))
    assert {p.key for p in owned} == {*loved, "PV29"}
    assert [p for p in BOX if p in owned] == list(owned)  # in the box's order
    assert palette_must(owned, limits) == {"PV29"}
    assert notes == ("Chosen among your 4 favourites, for the palette holds 3.",)


def test_where_the_request_fills_the_palette_no_favourite_is_heard() -> None:
    asked = Limits(paints=2, prefer=("PB29", "PG7"))
    assert favoured(("PY154",), asked) == (BOX, asked, ())


def test_paints_that_an_earlier_plan_holds_take_their_room() -> None:
    loved = ("PB29", "PY154")
    owned, limits, notes = favoured(loved, Limits(paints=3), kept=("PB29", "PG7"))
    assert (owned, limits.prefer, notes) == (BOX, ("PY154",), ())
    owned, limits, _ = favoured(loved, Limits(paints=3), kept=("PV29", "PG7"))
    assert {p.key for p in owned} == {"PB29", "PY154", "PV29", "PG7"}
    assert limits.prefer == ()


@pytest.mark.parametrize(
    "asked",
    [
        Limits(ban=("Ultramarine blue",)),
        Limits(caps=(("PB29", 0.3),)),
        Limits(darkest_step=full_coat_step(paint("PB29"), PAPER) + 1),
    ],
    ids=["banned", "capped", "too dark"],
)
def test_what_the_request_says_of_a_favourite_comes_first(asked: Limits) -> None:
    owned, limits, _ = favoured(("PB29",), asked)
    assert (owned, limits) == (BOX, asked)
    assert palette_must(owned, limits) == set()


def test_black_and_white_are_favourites_only_where_they_are_allowed() -> None:
    assert favoured(("PBk9",), Limits(), ALL)[1].prefer == ()
    assert favoured(("PBk9",), Limits(black_and_white=True), ALL)[1].prefer == ("PBk9",)


@pytest.mark.parametrize("count", range(1, 9))
@pytest.mark.parametrize("most", [1, 3, 6])
def test_any_number_of_favourites_can_be_planned_with(count: int, most: int) -> None:
    loved = tuple(p.key for p in BOX[:count])
    owned, limits, _ = favoured(loved, Limits(paints=most))
    assert len(palette_must(owned, limits)) <= most
    assert len(heard(owned, limits, PAPER).paints) >= min(most, len(BOX))
