"""Texts of a catalogue: what is translated, what falls back to English, and hostile catalogues."""

import gettext
import io
import pickle
import struct
import threading
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.language import ENGLISH, read_texts, speaking, tr, tr_count
from firstwash.parallel import in_parallel


def catalogue(texts: dict[str, str]) -> bytes:
    """A compiled catalogue by the format's own description (GNU gettext manual, "MO files")."""
    entries = sorted({"": "Content-Type: text/plain; charset=UTF-8\n", **texts}.items())
    start = 28 + 16 * len(entries)
    blob, tables = b"", ([], [])
    for column in (0, 1):
        for entry in entries:
            data = entry[column].encode()
            tables[column].append(struct.pack("<II", len(data), start + len(blob)))
            blob += data + b"\0"
    n = len(entries)
    head = struct.pack("<7I", 0x950412DE, 0, n, 28, 28 + 8 * n, 0, 0)
    return head + b"".join(tables[0]) + b"".join(tables[1]) + blob


TEXTS = {
    "Let it dry.": "Trocknen lassen.",
    "{a} over {b}": "{b} unter {a}",
    "needs {what}": "braucht etwas",
    "plain {a}": "{a.__class__} {a}",
    "{count} wash\0{count} washes": "{count} Lasur\0{count} Lasuren",
}


def test_texts_are_translated_and_their_values_may_change_places() -> None:
    with speaking(read_texts(catalogue(TEXTS))):
        assert tr("Let it dry.") == "Trocknen lassen."
        assert tr("{a} over {b}", a="rot", b="blau") == "blau unter rot"
        assert tr_count("{count} wash", "{count} washes", 1) == "1 Lasur"
        assert tr_count("{count} wash", "{count} washes", 3) == "3 Lasuren"
    assert tr("Let it dry.") == "Let it dry."


def test_a_translation_that_leaves_a_value_out_gives_way_to_english() -> None:
    with speaking(read_texts(catalogue(TEXTS))):
        assert tr("needs {what}", what="water") == "needs water"


def test_a_catalogue_reaches_no_attributes() -> None:
    with speaking(read_texts(catalogue(TEXTS))):
        assert tr("plain {a}", a=1) == "{a.__class__} 1"


def test_a_text_that_is_not_in_the_catalogue_stays_english() -> None:
    with speaking(read_texts(catalogue(TEXTS))):
        assert tr("No such {thing}", thing="text") == "No such text"
        assert tr_count("{count} dot", "{count} dots", 0) == "0 dots"


def test_values_with_braces_are_left_alone() -> None:
    assert tr("{a} over {b}", a="{b}", b="{a}") == "{b} over {a}"


def test_both_threads_speak_the_language() -> None:
    met = threading.Barrier(2, timeout=20)  # passed only if two threads work

    def told(_: int) -> str:
        met.wait()
        return tr("Let it dry.")

    with speaking(read_texts(catalogue(TEXTS))):
        assert in_parallel(told, range(2)) == ["Trocknen lassen."] * 2


def test_the_language_ends_with_its_block_even_after_an_error() -> None:
    with pytest.raises(ZeroDivisionError), speaking(read_texts(catalogue(TEXTS))):
        _ = 1 / 0
    assert tr("Let it dry.") == "Let it dry."


def test_the_own_writer_agrees_with_the_standard_reader() -> None:
    read = gettext.GNUTranslations(io.BytesIO(catalogue(TEXTS)))
    assert read.gettext("Let it dry.") == "Trocknen lassen."


@given(data=st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_one_sentence(data: bytes) -> None:
    good = data[:4] in (b"\xde\x12\x04\x95", b"\x95\x04\x12\xde")  # the format's magic number
    with suppress(RequestError) if good else pytest.raises(RequestError, match=r"\.mo"):
        read_texts(data)


@given(at=st.integers(0, 300), value=st.integers(0, 255))
def test_a_damaged_catalogue_is_read_or_refused(at: int, value: int) -> None:
    data = bytearray(catalogue(TEXTS))
    data[at % len(data)] = value
    try:
        texts = read_texts(bytes(data))
    except RequestError:
        return
    with speaking(texts):
        assert tr("{a} over {b}", a="A", b="B").count("A") == 1


def test_an_unknown_writing_is_refused() -> None:
    with pytest.raises(RequestError, match=r"\.mo"):
        read_texts(catalogue(TEXTS).replace(b"=UTF-8", b"=TTF-8"))


def test_a_rule_for_numbers_that_divides_by_zero_gives_way_to_english() -> None:
    head = "Content-Type: text/plain; charset=UTF-8\nPlural-Forms: nplurals=2; plural=1%(n-1);\n"
    with speaking(read_texts(catalogue({**TEXTS, "": head}))):
        assert tr("No such text") == "No such text"
        assert tr("Let it dry.") == "Trocknen lassen."
        assert tr_count("{count} dot", "{count} dots", 1) == "1 dot"


def test_texts_travel_to_another_process() -> None:
    again = pickle.loads(pickle.dumps(read_texts(catalogue(TEXTS))))
    with speaking(again):
        assert tr("Let it dry.") == "Trocknen lassen."
        assert tr_count("{count} wash", "{count} washes", 3) == "3 Lasuren"


def test_a_catalogue_beyond_all_measure_is_refused() -> None:
    with pytest.raises(RequestError, match="larger"):
        read_texts(b"\0" * 5_000_000)


def test_english_is_what_stands_in_the_code() -> None:
    with speaking(ENGLISH):
        assert tr_count("{count} wash", "{count} washes", 2) == "2 washes"
