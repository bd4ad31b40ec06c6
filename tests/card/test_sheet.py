"""The file beside a card: written and read again, or refused in one sentence."""

import dataclasses
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.card.layout import CARDS, ROWS
from firstwash.card.recipe import CardRow, rows_for
from firstwash.card.sheet import FORMAT, number_for, read_number, read_rows, write_rows
from firstwash.errors import RequestError
from firstwash.paints.catalogue import load_set, paint

ROW = CardRow("PB29", pale="PW4", dark="PBk9", yellow="PY35", blue="PB28", over="PR83")
LETTERS = st.characters(codec="utf-8").filter(str.isprintable)
WORDS = st.text(LETTERS, min_size=1, max_size=12).filter(str.strip)


def told(**changes) -> bytes:
    plain = {"format": FORMAT, "rows": [dataclasses.asdict(ROW)]}
    return json.dumps({**plain, **changes}).encode()


def test_a_printed_card_comes_back() -> None:
    own = load_set("starter").paints
    rows = rows_for(own[:ROWS], own)
    assert read_rows(write_rows(rows), "card.json") == rows


@given(st.lists(st.tuples(*[WORDS] * 6), min_size=1, max_size=3, unique_by=lambda r: r[0]))
@settings(max_examples=40)
def test_any_names_come_back(words) -> None:
    rows = tuple(CardRow(*six) for six in words)
    assert read_rows(write_rows(rows), "card.json") == rows


def test_the_same_rows_give_the_same_bytes() -> None:
    assert write_rows([ROW]) == write_rows([dataclasses.replace(ROW)])
    assert write_rows([ROW]).endswith(b"\n")


def without(name: str) -> bytes:
    row = {k: v for k, v in dataclasses.asdict(ROW).items() if k != name}
    return told(rows=[row])


HOSTILE = {
    "empty": b"",
    "not JSON": b"PB29, PY35",
    "not UTF-8": told() + b"\xff\xfe",
    "bytes": bytes(range(256)) * 10,
    "cut short": told()[:-20],
    "null": b"null",
    "a number": b"5",
    "a word": b'"firstwash card 1"',
    "a list": b"[]",
    "no format": json.dumps({"rows": [dataclasses.asdict(ROW)]}).encode(),
    "another format": told(format="firstwash card 2"),
    "a list as format": told(format=[FORMAT]),
    "no rows at all": json.dumps({"format": FORMAT}).encode(),
    "no row": told(rows=[]),
    "nine rows": told(
        rows=[dataclasses.asdict(dataclasses.replace(ROW, paint=f"P{i}")) for i in range(9)]
    ),
    "rows a word": told(rows="PB29"),
    "rows a number": told(rows=3),
    "rows null": told(rows=None),
    "rows by name": told(rows={"A": dataclasses.asdict(ROW)}),
    "a row of words": told(rows=["PB29"]),
    "a row null": told(rows=[None]),
    "a row listed": told(rows=[["PB29", "PW4", "PBk9", "PY35", "PB28", "PR83"]]),
    "a key missing": without("over"),
    "a key too many": told(rows=[{**dataclasses.asdict(ROW), "glaze": "PB29"}]),
    "numbers as keys": told(rows=[dict.fromkeys(dataclasses.asdict(ROW), 29)]),
    "one number": told(rows=[{**dataclasses.asdict(ROW), "paint": 29}]),
    "null as key": told(rows=[{**dataclasses.asdict(ROW), "pale": None}]),
    "nothing as key": told(rows=[{**dataclasses.asdict(ROW), "pale": ""}]),
    "blank as key": told(rows=[{**dataclasses.asdict(ROW), "pale": "  "}]),
    "control mark": told(rows=[{**dataclasses.asdict(ROW), "pale": "PW4\x1b[31m"}]),
    "half a letter": told(rows=[{**dataclasses.asdict(ROW), "pale": "\ud800"}]),
    "a paint with two rows": told(rows=[dataclasses.asdict(ROW)] * 2),
    "deep nesting": b"[" * 50_000,
    "deep and closed": b'{"format":' * 9_000 + b"1" + b"}" * 9_000,
    "an endless number": b'{"format": ' + b"9" * 50_000 + b"}",
    "ten megabytes": told() + b" " * 10_000_000,
}


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_files_are_refused_in_one_sentence(what: str) -> None:
    with pytest.raises(RequestError) as caught:
        read_rows(HOSTILE[what], "mine.json")
    text = str(caught.value)
    assert text.startswith("mine.json ")
    assert text.endswith(".")
    assert "\n" not in text
    assert len(text) < 200


def test_other_encodings_of_unicode_are_read() -> None:
    """Some editors save UTF-16 or put a mark before UTF-8; the text is the same."""
    plain = told().decode()
    for encoding in ("utf-16", "utf-8-sig"):
        assert read_rows(plain.encode(encoding), "card.json") == (ROW,)


def test_the_number_goes_with_the_rows() -> None:
    rows = rows_for([paint("PB29"), paint("PR255"), paint("PY154")])
    number = number_for(rows)
    assert 0 <= number < CARDS
    assert number == number_for(rows)
    assert read_number(write_rows(rows, number)) == number
    assert read_number(write_rows(rows)) is None
    assert read_rows(write_rows(rows, number), "card.json") == rows


@pytest.mark.parametrize("number", ["7", -1, 80, 1.5, [3]])
def test_a_number_that_is_none_is_no_number(number) -> None:
    rows = rows_for([paint("PB29"), paint("PR255")])
    told = json.loads(write_rows(rows))
    told["number"] = number
    assert read_number(json.dumps(told).encode()) is None
