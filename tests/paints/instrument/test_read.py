"""Any bytes at all: told by their content, read or refused in one sentence."""

import re
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.cgats import write_cgats
from firstwash.paints.instrument.cxf import write_cxf
from firstwash.paints.instrument.read import MAX_BYTES, read_measurements
from firstwash.paints.instrument.samples import Sample

WHEN = datetime(2026, 3, 1, tzinfo=UTC)
SAMPLES = [
    Sample("warm white", np.linspace(0.7, 0.9, 36), np.ones(36, dtype=bool)),
    Sample('dull "blue"', np.linspace(0.4, 0.1, 36), WAVELENGTHS_NM >= 400, "two coats"),
]
HOW = {"condition": "M1", "geometry": "45/0 annular", "filter": "none"}
CGATS, CXF = write_cgats(SAMPLES, WHEN, HOW), write_cxf(SAMPLES, WHEN, HOW)
PERCENT = b"""CGATS.17
BEGIN_DATA_FORMAT
SAMPLE_ID SPECTRAL_NM SPECTRAL_PCT
END_DATA_FORMAT
BEGIN_DATA
""" + b"".join(b"A1 %d 50,5\n" % nm for nm in range(380, 731, 10)) + b"END_DATA\n"  # fmt: skip


def outcome(data: bytes, name: str = "a.txt") -> str:
    """What is said of the bytes; empty if they are read, and then the samples are sound."""
    try:
        told = read_measurements(data, name)
    except MeasurementError as error:
        said = str(error)
        assert said.isprintable()
        assert said.endswith(".")
        assert len(said) < 500
        return said
    assert told.samples
    assert len({sample.name for sample in told.samples}) == len(told.samples)
    for sample in told.samples:
        assert sample.name.isprintable()
        assert np.isfinite(sample.reflectance).all()
        assert 0 <= sample.reflectance.min() <= sample.reflectance.max() <= 2
    assert all(note.endswith(".") and note.isprintable() for note in told.notes)
    return ""


# ------------------------------------------------------------------ what it is


@pytest.mark.parametrize("name", ["a.txt", "a.cxf", "a.xml", "photo.jpg", ""])
def test_the_content_counts_not_the_name(name: str) -> None:
    for data in (CGATS, CXF, PERCENT):
        assert outcome(data, name) == ""
        assert (
            outcome(b"\n  \t" + data.removeprefix(b"<?xml version='1.0' encoding='utf-8'?>")) == ""
        )


def test_both_formats_tell_the_same() -> None:
    text, xml = read_measurements(CGATS, "a"), read_measurements(CXF, "b")
    assert text.conditions == xml.conditions == HOW
    assert text.notes == xml.notes
    for one, other in zip(text.samples, xml.samples, strict=True):
        assert (one.name, one.note) == (other.name, other.note)
        np.testing.assert_array_equal(one.reflectance, other.reflectance)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "neither CGATS.17 text nor CxF3 XML"),
        (b"  \n", "neither"),
        (b"\0" * 1000, "neither"),
        (b"\x89PNG\r\n\x1a\n", "neither"),
        (b"PK\x03\x04" + bytes(range(256)), "neither"),
        (b"name,380,390\nA1,0.1,0.2\n", "neither"),
        (b"%PDF-1.7", "neither"),
        (CGATS.replace(b"warm", b"wa\0rm"), "neither"),
        (CGATS[:200], "neither"),
        (CGATS[:-30], "is cut short"),
        (CGATS.decode().encode("utf-16")[:-33], "is cut short"),
        (CXF[:-30], "is damaged or cut short"),
        (b"<", "is damaged or cut short"),
        (b"<!DOCTYPE html><html><body>BEGIN_DATA</body></html>", "document type"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is XML but not CxF3"),
        (CXF + CXF, "is damaged or cut short"),
        (b" " * (MAX_BYTES + 1), "is larger than 32 MB"),
    ],
)
def test_what_it_is_not(data: bytes, said: str) -> None:
    assert said in outcome(data)


def test_names_in_messages_are_made_fit() -> None:
    assert outcome(b"", "a\n\x1b[31m" + "b" * 500).startswith("a [31mbbb")
    assert outcome(b"", "\x00").startswith("The file is neither")


# ------------------------------------------------------------------ hostile tables


FIELDS = "SAMPLE_ID " + " ".join(f"nm{nm}" for nm in WAVELENGTHS_NM)


def table(*lines: str, fields: str = FIELDS) -> bytes:
    head = ["CGATS.17", "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT", "BEGIN_DATA"]
    return "\n".join([*head, *lines, "END_DATA"]).encode()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            table("A " + "0.5 " * 36, fields=" ".join(f"nm{i}" for i in range(3_000_000))),
            "too long",
        ),
        (table("A " + "0.5 " * 36, fields="\n".join(["A"] * 5000)), "more than 4,096 fields"),
        (table(*["A " + "0.5 " * 36] * 20_001), "more than 20,000 samples"),
        (table("A " + "0.5 " * 35 + "1" * 99_000), "where a number of “A” should stand"),
        (table("A " + "0.5 " * 35 + "1e" + "9" * 300), "where a number of “A” should stand"),
        (table("A" * 99_000 + " 0.5" * 35), "should have 37 entries"),
        (table(*['"A ' * 33_000] * 300), "should have 37 entries"),
        (("\n" * 300_000).encode() + CGATS, "too many lines"),
        (('" ""x ' * 16_000 + "\n").encode() * 300 + CGATS, "no table of measurements"),
    ],
)
def test_tables_beyond_all_sizes(data: bytes, said: str) -> None:
    assert said in outcome(data)


def test_twenty_thousand_samples_of_one_name() -> None:
    told = read_measurements(table(*["A " + "0.5 " * 36] * 19_999 + ["B " + "0.5 " * 36]), "a.txt")
    assert told.samples[-2].name == "A (19999)"


# ------------------------------------------------------------------ anything else


@given(st.text() | st.text().map(lambda t: "<" + t) | st.text().map(lambda t: t + "\nBEGIN_DATA\n"))
def test_any_text(text: str) -> None:
    outcome(text.encode("utf-8", "surrogatepass"))
    outcome(text.encode("utf-16", "surrogatepass"))


@given(st.binary(max_size=300), st.sampled_from([b"", b"<", b"\xff\xfe", b"\xef\xbb\xbf<CxF>"]))
def test_any_bytes(data: bytes, head: bytes) -> None:
    outcome(head + data)


ODD = [
    b"nan", b"inf", b"1e999", b"-1", b"99", b"0,5", b"", b'"', b'""', b"#", b"\t", b"\n", b"\0",
    b"<", b">", b"&", b"/>", b"]]>", b"<!--", b"<![CDATA[", b"&#1;", b"BEGIN_DATA", b"END_DATA",
    b"BEGIN_DATA_FORMAT", b"END_DATA_FORMAT", b"NUMBER_OF_SETS 9", b"SPECTRAL_NM", b"380",
    b"R_1000", b"SPECTRAL_DEC", b"\xff", b"\xc3\xbc", b"1_0", b"0x10", b"CxF", b"M2", b"S",
]  # fmt: skip


@st.composite
def mutated(draw) -> bytes:
    """A good file with a few places cut out, doubled, moved or replaced."""
    data = draw(st.sampled_from([CGATS, CXF, PERCENT]))
    for _ in range(draw(st.integers(1, 6))):
        places = sorted(draw(st.lists(st.integers(0, len(data)), min_size=3, max_size=3)))
        a, b, c = (data[places[0] : places[1]], data[places[1] : places[2]], data[places[2] :])
        start = data[: places[0]]
        odd = draw(st.sampled_from(ODD) | st.binary(max_size=3))
        data = draw(
            st.sampled_from([
                start + b + c, start + a + a + b + c, start + b + a + c, start + odd + a + b + c,
                start + odd + b"\n" + b + c, data.replace(b"0.5", odd, 1),
            ])
        )  # fmt: skip
    return data


@settings(max_examples=400, deadline=None)
@given(mutated())
def test_spoilt_files(data: bytes) -> None:
    outcome(data)


WORD = st.sampled_from([word.decode("latin-1") for word in ODD]) | st.floats().map(str)


@settings(max_examples=200, deadline=None)
@given(st.lists(WORD, max_size=6), st.lists(st.tuples(st.integers(0, 36), WORD), max_size=3))
def test_odd_words_in_a_table(fields: list[str], spoilt: list[tuple[int, str]]) -> None:
    words = ["A1", *["0.5"] * 36]
    for at, word in spoilt:
        words[at] = word
    outcome(table(" ".join(words + ["1"] * len(fields)), fields=" ".join([FIELDS, *fields])))
    outcome(table("\t".join(words), *["A2 " + "0.4 " * 36] * 2))
    values = " ".join(words[1:]).replace("<", "").replace("&", "")
    outcome(re.sub(rb">0\.7[\d. ]+<", f">{values}<".encode(), CXF))
