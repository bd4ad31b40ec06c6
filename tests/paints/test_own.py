"""The file of a painter's own paints: it keeps every number, and refuses what is damaged."""

import copy
import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.errors import PaintError
from firstwash.optics.grid import N_BANDS
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints, default_paper, paint
from firstwash.paints.own import (
    FORMAT,
    LARGEST,
    OwnPaints,
    merged,
    own_file,
    read_own,
    write_own,
)
from firstwash.paints.spread import N_CURVES

DIGITS = 5e-6  # the file keeps six digits of every number of a curve
CURVE = arrays(np.float64, N_BANDS, elements=st.floats(1e-6, 1e4))
LETTERS = st.characters(codec="utf-8").filter(str.isprintable)
WORDS = st.text(LETTERS, min_size=1, max_size=20).filter(str.strip)


def taught(which: str = "PB29", /, **changes) -> Paint:
    plain = {"provenance": "calibrated", "source": "your swatch card", "fit_error": 1.2}
    return dataclasses.replace(paint(which), **{**plain, **changes})


def same(a: Paint, b: Paint) -> None:
    for f in dataclasses.fields(Paint):
        one, other = getattr(a, f.name), getattr(b, f.name)
        if isinstance(one, np.ndarray):
            np.testing.assert_allclose(other, one, rtol=DIGITS)
        elif f.name == "handling":
            assert dataclasses.asdict(one) == dataclasses.asdict(other)
        else:
            assert one == other, f.name


# ------------------------------------------------------------------ there and back


@given(
    k=CURVE,
    s=CURVE,
    spread=arrays(np.float64, (3, N_CURVES), elements=st.floats(-3.0, 3.0)),
    words=st.tuples(WORDS, WORDS, st.text(max_size=60)),
    figures=st.tuples(st.floats(0.01, 100.0), st.floats(0.0, 5.0), st.floats(0.0, 1.0)),
)
def test_every_paint_comes_back(k, s, spread, words, figures) -> None:
    key, name, note = words
    full, sigma, thinnest = figures
    one = taught(
        "PB29", key=key, name=name, note=note, k=k, s=s, spread=spread, full_coat=full, sigma=sigma,
        thinnest_measured=thinnest,
    )  # fmt: skip
    (back,) = read_own(write_own(OwnPaints((one,))), "box.paints.json").paints
    same(one, back)


def test_every_shipped_paint_comes_back() -> None:
    own = OwnPaints(all_paints(), default_paper())
    back = read_own(write_own(own), "box.paints.json")
    for one, other in zip(own.paints, back.paints, strict=True):
        same(one, other)


@given(
    white=arrays(np.float64, N_BANDS, elements=st.floats(0.0, 1.0)),
    shares=st.tuples(*[st.floats(0.0, 0.999999)] * 3),
    fibres=st.floats(0.0, 50.0),
)
def test_every_paper_comes_back(white, shares, fibres) -> None:
    paper = Paper("mine", white, *shares, fibres, "seen on a card")
    back = read_own(write_own(OwnPaints((), paper)), "x").paper
    assert back is not None
    np.testing.assert_allclose(back.reflectance, paper.reflectance, rtol=DIGITS, atol=1e-12)
    # Not rounded: rounding could lift a share to 1, which no paper may have.
    told = (back.name, back.k1, back.k2, back.soak, back.fibre_scattering, back.provenance)
    assert told == ("mine", *shares, fibres, "seen on a card")


def test_a_paint_without_doubt_and_one_without_a_spread() -> None:
    sure, plain = taught(spread=np.zeros((0, N_CURVES))), taught("PY35", spread=None)
    back = read_own(write_own(OwnPaints((sure, plain))), "x").paints
    assert back[0].doubt.shape == (0, N_CURVES)
    assert back[1].spread is None


def test_nothing_taught_yet() -> None:
    back = read_own(write_own(OwnPaints()), "x")
    assert back.paints == ()
    assert back.paper is None


def test_the_same_paints_give_the_same_bytes() -> None:
    own = OwnPaints((taught(), taught("PY35")), default_paper())
    assert write_own(own) == write_own(own)
    assert write_own(read_own(write_own(own), "x")) == write_own(own)


def test_the_file_lies_beside_the_list() -> None:
    assert own_file(Path("kit/travel.txt")) == Path("kit/travel.paints.json")
    assert own_file(Path("travel")) == Path("travel.paints.json")


def test_a_new_card_replaces_its_own_paints_only() -> None:
    old, other, new = taught(sigma=0.5), taught("PY35"), taught(sigma=0.1)
    paper = default_paper()
    found = merged(OwnPaints((old, other), paper), (new, taught("PG7")), None)
    assert [p.key for p in found.paints] == ["PB29", "PY35", "PG7"]
    assert found.paints[0] is new
    assert found.paints[1] is other
    assert found.paper is paper  # a card that tells no paper leaves the old one
    whiter = dataclasses.replace(paper, name="other")
    assert merged(found, (), whiter).paper is whiter


# ------------------------------------------------------------------ damage and hostility

PLAIN = json.loads(write_own(OwnPaints((taught(), taught("PY35")), default_paper())))
P = ("paints", 0)
GONE = ...  # one thing with one name in every process: tests are told apart by it


def changed(path, value) -> bytes:
    told = copy.deepcopy(PLAIN)
    inner = told
    for step in path[:-1]:
        inner = inner[step]
    if value is GONE:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return json.dumps(told).encode()


HUGE = 10**400  # JSON has no largest number; Python keeps it whole, and no array can
WRONG = [
    *((("paints", 0, name), GONE) for name in PLAIN["paints"][0]),
    *((("paper", name), GONE) for name in PLAIN["paper"]),
    *(((name,), GONE) for name in ("paints", "paper", "format")),
    *((("paints",), value) for value in ({"a": 1}, None, "PB29", [1], [None], [[]], 7)),
    *((("paper",), value) for value in ("white", [], 1, {})),
    *(((*P, "k"), value) for value in ([1.0] * 35, [[1.0]] * 36, "k", {}, None, [])),
    *(((*P, "k"), [value] * 36) for value in (0.0, -1.0, HUGE, 1e300, "1", True, None, [])),
    *(((*P, "spread"), value) for value in (3, "abc", {}, [[0.0] * 71], [[1e300] * 72], [[]])),
    *(((*P, "key"), value) for value in (5, None, "", "  ", [], "a\nb", "\ud800", "PY35")),
    *(((*P, name), value) for name in ("name", "source", "note") for value in (5, None, [], {})),
    *(((*P, "full_coat"), value) for value in ("1", [1], True, HUGE, None, 0, -1.0)),
    *(((*P, "sigma"), value) for value in ("0.1", [1], False, HUGE, None, -1.0)),
    *(((*P, name), value) for name in ("fit_error", "thinnest_measured")
      for value in ("bad", [], -1.0, HUGE, True)),
    *(((*P, "pigments"), value) for value in ("PB29", 5, None, [5], {"PB29": 1})),
    *(((*P, "provenance"), value) for value in ("guessed", None, [], {}, 5)),
    *(((*P, "handling"), value) for value in ([], None, "granulates", {"evil": 1}, {})),
    *(((*P, "handling", "granulation"), value) for value in ("x", 5, -1, 2.5, True)),
    *(((*P, "handling", "hazard"), value) for value in (5, [], {})),
    *(((*P, "handling", "sources"), value) for value in (5, None, {"handling": 3}, [])),
    *((("paper", "reflectance"), value) for value in ([7.0] * 36, [-0.1] * 36, [0.5] * 35, "x")),
    *((("paper", name), value) for name in ("k1", "k2", "soak", "fibre_scattering")
      for value in ("0.1", None, [0.1], -0.5, HUGE)),
    *((("paper", name), 1.5) for name in ("k1", "k2", "soak")),
    (("paper", "name"), 5),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value"), WRONG, ids=lambda v: str(v)[:30])
def test_a_wrong_entry_is_damage(path, value) -> None:
    with pytest.raises(PaintError, match=r"^mine\.json is damaged") as caught:
        read_own(changed(path, value), "mine.json")
    assert "\n" not in str(caught.value)


FULL = f'"full_coat": {PLAIN["paints"][0]["full_coat"]}'


def raw(old: str, new: str) -> bytes:
    text = json.dumps(PLAIN)
    assert old in text
    return text.replace(old, new, 1).encode()


HOSTILE = {
    "empty": b"",
    "bytes": bytes(range(256)),
    "cut short": json.dumps(PLAIN).encode()[:1500],
    "not UTF-8": json.dumps(PLAIN).encode() + b"\xff",
    "null": b"null",
    "a list": b"[]",
    "a number": b"5",
    "a word": b'"paints"',
    "NaN": raw(FULL, '"full_coat": NaN'),
    "Infinity": raw(FULL, '"full_coat": Infinity'),
    "beyond floats": raw(FULL, '"full_coat": 1e999'),
    "deep nesting": b"[" * 1_000_000,
    "deep names": b'{"format":' * 50_000,
    "an endless number": b'{"format": ' + b"9" * 50_000 + b"}",
}


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_files_are_damage(what: str) -> None:
    with pytest.raises(PaintError, match=r"^mine\.json is damaged"):
        read_own(HOSTILE[what], "mine.json")


@pytest.mark.parametrize("form", ["firstwash own paints 2", 2, [], None, {"format": FORMAT}])
def test_a_later_version_is_said_to_be_one(form) -> None:
    with pytest.raises(PaintError, match="later version"):
        read_own(changed(("format",), form), "mine.json")


def test_too_large_a_file_is_not_even_read() -> None:
    with pytest.raises(PaintError, match="too large"):
        read_own(b" " * (LARGEST + 1), "mine.json")


def said(data: bytes) -> str:
    """What is said against a file; nothing if it is read."""
    try:
        read_own(data, "mine.json")
    except PaintError as error:
        return str(error)
    return ""


@given(st.binary(max_size=300))
def test_any_bytes_give_one_sentence(data: bytes) -> None:
    assert said(data).startswith("mine.json is damaged")


@given(st.data())
def test_any_single_byte_may_be_wrong(data) -> None:
    """A flipped byte gives another number, another word, or damage; never another exception."""
    whole = bytearray(write_own(OwnPaints((taught(spread=None),))))
    whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    assert "\n" not in said(bytes(whole))
