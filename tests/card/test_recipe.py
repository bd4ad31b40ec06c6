"""What is painted on a card: coats of every place, partners that fit, hostile requests."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.card.layout import COLUMNS, DILUTIONS, ROWS, kind_of
from firstwash.card.recipe import CardRow, rows_by_key, rows_for, swatches_of
from firstwash.errors import PaintError, RequestError
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import all_paints, default_paper, load_set, paint

ROW = CardRow("PB29", pale="PW4", dark="PBk9", yellow="PY35", blue="PB28", over="PR83")
BOX = load_set("all").paints


def coats(column: int):
    return swatches_of([ROW])[column].coats


def test_bare_places_take_no_paint() -> None:
    assert coats(0) == coats(11) == ()


def test_dilutions_halve() -> None:
    for column, share in enumerate(DILUTIONS, 1):
        assert coats(column) == ((("PB29", share),),)


@pytest.mark.parametrize("kind", ["pale", "dark", "yellow", "blue"])
def test_mixes_are_two_half_strong_puddles_in_equal_parts(kind: str) -> None:
    (column,) = (c for c in range(COLUMNS) if kind_of(c) == kind)
    # A half-strong puddle thinned by as much of another: a quarter of full strength of each.
    assert coats(column) == ((("PB29", 0.25), (getattr(ROW, kind), 0.25)),)


def test_glazes_are_two_coats_the_paint_itself_on_top() -> None:
    assert coats(12) == ((("PB29", 0.25),), (("PB29", 0.25),))
    assert coats(13) == ((("PR83", 0.25),), (("PB29", 0.25),))


def test_every_place_is_told_once_in_reading_order() -> None:
    rows = [dataclasses.replace(ROW, paint=key) for key in ("PB29", "PR108", "PG7")]
    told = swatches_of(rows)
    assert [(s.row, s.column) for s in told] == [(r, c) for r in range(3) for c in range(COLUMNS)]
    assert told[0].name == "A1"
    assert told[-1].name == "C14"
    assert {s.kind for s in told} == {kind_of(c) for c in range(COLUMNS)}


@pytest.mark.parametrize("count", [0, 9])
def test_a_card_has_one_to_eight_rows(count: int) -> None:
    with pytest.raises(RequestError, match="1 to 8"):
        swatches_of([ROW] * count)
    with pytest.raises(RequestError, match="1 to 8"):
        rows_for(BOX[:count])


def test_one_paint_alone_has_nothing_to_mix_with() -> None:
    with pytest.raises(RequestError, match="second paint"):
        rows_for([paint("PB29")])
    with pytest.raises(RequestError, match="second paint"):
        rows_for([paint("PB29")], [paint("PB29")])


@pytest.mark.parametrize("box", [[], list(BOX)])
def test_a_paint_named_twice_is_refused(box) -> None:
    with pytest.raises(RequestError, match="once"):
        rows_for([paint("PB29"), paint("PR83"), paint("PB29")], box)


@given(st.lists(st.sampled_from(BOX), min_size=1, max_size=ROWS, unique=True), st.booleans())
def test_partners_are_distinct_and_never_the_paint_itself(own, with_box: bool) -> None:
    box = BOX if with_box else BOX[:6]
    rows = rows_for(own, box)
    assert [r.paint for r in rows] == [p.key for p in own]
    for row in rows:
        partners = row.keys[1:]
        assert row.paint not in partners
        # Five partners; fewer keys would mean that one serves twice while others are left.
        every = {p.key for p in (*own, *box)} - {row.paint}
        assert len(partners) == min(5, len(every))


def test_two_paints_partner_each_other() -> None:
    first, second = rows_for([paint("PB29"), paint("PY35")])
    assert set(first.keys) == set(second.keys) == {"PB29", "PY35"}
    assert "PB29" not in (first.pale, first.dark, first.yellow, first.blue, first.over)


def look_of(key: str, share: float):
    """CIELAB of one coat on the built-in paper."""
    one = paint(key)
    amount = share * one.full_coat
    return reflectance_to_lab(stages(default_paper(), amount * one.k[None], amount * one.s[None]))[
        1
    ]


def test_partners_are_what_their_names_say() -> None:
    own = load_set("measured-all").paints
    for row in rows_for(own[:8], own):
        assert look_of(row.yellow, 0.25)[2] > 30.0  # b*: yellow above, blue below
        assert look_of(row.blue, 0.25)[2] < -5.0
        assert look_of(row.dark, 1.0)[0] < 35.0  # L* at full strength
        assert look_of(row.pale, 1.0)[0] > 55.0


def test_paints_with_a_row_are_preferred_as_partners() -> None:
    own = [paint(k) for k in ("PY35", "PB29", "PR83", "PW4", "PBk9", "PG7")]
    box = all_paints()
    for row in rows_for(own, box):
        if row.paint != "PY35":
            assert row.yellow == "PY35"
        if row.paint not in ("PB29", "PBk9"):
            assert row.dark == "PBk9"


def test_words_of_a_painter_become_keys() -> None:
    """The file beside the card may be edited by hand: any name of a paint serves."""
    row = dataclasses.replace(ROW, paint="ultramarine blue", blue="pb28")
    paints = {word: paint(word) for word in row.keys}
    (found,) = rows_by_key([row], paints)
    assert found == ROW


def test_words_that_name_no_paint_or_one_twice() -> None:
    paints = {word: paint(word) for word in (*ROW.keys, "pb29")}
    with pytest.raises(PaintError, match="“mud”"):
        rows_by_key([dataclasses.replace(ROW, dark="mud")], paints)
    with pytest.raises(RequestError, match="two rows"):
        rows_by_key([ROW, dataclasses.replace(ROW, paint="pb29")], paints)
