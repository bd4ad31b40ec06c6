"""CGATS text cut into tables and words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import MeasurementError
from firstwash.paints.instrument.samples import clean
from firstwash.paints.instrument.tables import quoted, read_tables, rows

TWO = """CGATS.17
ORIGINATOR "a hand"   # and a comment
# a line of comment
KEYWORD "HUMIDITY"
HUMIDITY 40 %
number_of_fields 2
BEGIN_DATA_FORMAT
SAMPLE_ID  R_500
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 0.5
# another comment

2 0.6   # and one more
END_DATA
HUMIDITY "50 %"
BEGIN_DATA
3 0.7
END_DATA
"""


def sets(text: str) -> list[list[list[str]]]:
    return [list(rows(table, "a.txt")) for table in read_tables(text, "a.txt")]


def one(fields: str, *lines: str) -> str:
    data = "\n".join(lines)
    return f"X\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{data}\nEND_DATA\n"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_tables_keywords_and_comments(end: str) -> None:
    text = TWO.replace("\n", end)
    first, second = read_tables(text, "a.txt")
    assert first.keywords["ORIGINATOR"] == "a hand"
    assert first.keywords["HUMIDITY"] == "40 %"
    assert second.keywords["HUMIDITY"] == "50 %"
    assert first.fields == second.fields == ("SAMPLE_ID", "R_500")  # kept from the one before
    assert sets(text) == [[["1", "0.5"], ["2", "0.6"]], [["3", "0.7"]]]


def test_fields_may_stand_on_several_lines_or_on_one() -> None:
    wide = "X\nBEGIN_DATA_FORMAT A B\nC\nD END_DATA_FORMAT\nBEGIN_DATA\n1 2 3 4\nEND_DATA"
    assert read_tables(wide, "a.txt")[0].fields == ("A", "B", "C", "D")


def test_words_between_tabs_may_be_several_or_none() -> None:
    text = one("A\tB\tC", "pale blue\t\t0.5", 'a "b"\t" c "\t1\t\t', "x y\tz\t")
    assert sets(text) == [[["pale blue", "", "0.5"], ['a "b"', " c ", "1"], ["x y", "z", ""]]]


def test_quotes_hold_words_together() -> None:
    text = one("A B", '"pale blue" 1', '"say ""no"" # 2" "3"', '"" 4', 'an"odd" 5')
    expected = [["pale blue", "1"], ['say "no" # 2', "3"], ["", "4"], ['an"odd"', "5"]]
    assert sets(text) == [expected]


def test_a_set_may_run_on() -> None:
    assert sets(one("A B C D", "1 2", "3 4", "5 6 7 8")) == [[list("1234"), list("5678")]]


@given(st.text().map(clean), st.text().map(clean))
def test_any_text_survives_quotes(a: str, b: str) -> None:
    for gap in (" ", "\t"):
        assert sets(one("A B", quoted(a) + gap + quoted(b))) == [[[a, b]]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("BEGIN_DATA_FORMAT\nA", "cut short"),
        ("BEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n1\n", "cut short"),
        (one("A B", "1 2", "3"), "2 entries in each set of data, but set 2 has 1"),
        (one("A B", "1 2", "3 4 5"), "2 entries in each set of data, but set 2 has 3"),
        (one("A B", "1", "2 3"), "2 entries in each set of data, but set 1 has 3"),
        (one("", "1"), "0 entries in each set of data, but set 1 has 1"),
        ("NUMBER_OF_SETS 3\n" + one("A", "1", "2"), "announces 3 sets of data but holds 2"),
        (one("A " * 5000, "1"), "more than 4,096 fields"),
        (one("A", "1" * 100_001), "a line too long"),
        ("\n" * 250_001, "too many lines"),
        ("".join(f"K{i} 1\n" for i in range(1001)), "no table of measurements"),
        ("BEGIN_DATA\nEND_DATA\n" * 5001, "no table of measurements"),
        (('"a ' * 20_000 + "\n") * 80, "no table of measurements"),
    ],
)
def test_what_is_no_table_is_refused(text: str, said: str) -> None:
    with pytest.raises(MeasurementError, match=said) as error:
        sets(text)
    assert str(error.value).startswith("a.txt ")


def test_more_sets_than_announced_and_odd_announcements_do_no_harm() -> None:
    assert len(sets("NUMBER_OF_SETS 1\n" + one("A", "1", "2"))[0]) == 2
    for odd in ("many", "1e9", "-3", "9" * 30, "²"):
        assert len(sets(f"NUMBER_OF_SETS {odd}\n" + one("A", "1", "2"))[0]) == 2
