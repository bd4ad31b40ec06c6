"""Paints guessed from a hue word: what is expected of them, and how far off that is."""

import importlib
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from firstwash.errors import PaintError
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import Handling, Paint, all_paints, default_paper, paint
from firstwash.paints.facts import facts, facts_of
from firstwash.paints.unknown import FAMILIES, HUES, SIGMA, facts_hue, hue_in, unknown_paint

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tool():
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("unknown_paints")
    finally:
        sys.path.remove(str(ROOT / "tools"))


@pytest.fixture(scope="module")
def guesses(tool):
    return tool.guesses()


def lab(one: Paint, strength: float = 1.0) -> np.ndarray:
    return reflectance_to_lab(
        stages(default_paper(), strength * one.k[None], strength * one.s[None])[-1]
    )


def hue(one: Paint, strength: float = 0.25) -> float:
    _, a, b = lab(one, strength)
    return float(np.degrees(np.arctan2(b, a)) % 360)


def test_families_are_made_of_known_paints() -> None:
    known = {p.key for p in all_paints()}
    for keys in FAMILIES.values():
        assert set(keys) <= known
        assert len(set(keys)) == len(keys)
    sorted_in = {key for keys in FAMILIES.values() for key in keys}
    # Darker than a hue word would make one think; all others are sorted in.
    assert known - sorted_in == {"PR179", "indigo-mix"}


def test_a_guess_is_the_geometric_mean_of_its_family() -> None:
    one = unknown_paint("mystery", "violet")
    parts = [paint(key) for key in FAMILIES["violet"]]
    np.testing.assert_allclose(one.k, np.prod([p.k for p in parts], axis=0) ** (1 / 3), rtol=1e-12)
    np.testing.assert_allclose(one.s, np.prod([p.s for p in parts], axis=0) ** (1 / 3), rtol=1e-12)


def test_guesses_follow_each_other_round_the_colour_circle() -> None:
    # Hue angles of a quarter coat; the order is common knowledge.
    order = ["magenta", "red", "orange", "yellow", "green", "turquoise", "blue", "violet"]
    angles = [hue(unknown_paint("x", name)) for name in order]
    steps = np.diff([*angles, angles[0]]) % 360
    assert steps.sum() == pytest.approx(360)
    assert (steps > 10).all(), dict(zip(order, angles, strict=True))


def test_an_orange_is_near_what_is_published_of_one() -> None:
    # PO20, S05: masstone L* 64 and CIELAB hue 49, means of five makes that span 47 to 52. Its
    # full coat is guessed from yellows and scarlets; half a value step and half a hue step are
    # as near as a guess can claim to come.
    known, guess = facts_of("PO20"), unknown_paint("x", "orange")
    assert lab(guess)[0] == pytest.approx(known.masstone_lightness, abs=10)
    assert hue(guess, 1.0) == pytest.approx(known.hue_angle, abs=15)


def test_dark_and_light() -> None:
    assert lab(unknown_paint("x", "black"))[0] < 35
    assert lab(unknown_paint("x", "white"))[0] > 85  # a coat of white dims the paper a little
    assert lab(unknown_paint("x", "brown"))[0] < lab(unknown_paint("x", "ochre"))[0]


def test_what_a_guess_says_of_itself() -> None:
    one = unknown_paint("mystery red", "Red")
    assert (one.provenance, one.sigma, one.pigments) == ("estimated", SIGMA, ())
    assert one.source.startswith("assumed, not measured")
    assert "PR108" in one.source
    assert "swatch card" in one.note
    assert one.handling == Handling()


def test_facts_lend_their_pigment_and_their_hazard() -> None:
    known = facts_of("PO20")
    one = unknown_paint("whatever", facts_hue(known), known)
    assert (one.key, one.name, one.pigments) == ("PO20", "cadmium orange", ("PO20",))
    assert one.handling.hazard == "toxic"


def test_every_pigment_of_the_facts_has_a_hue() -> None:
    found = {one.key: facts_hue(one) for one in facts()}
    assert set(found.values()) <= set(FAMILIES)
    told = {"PY43": "ochre", "PBr24": "ochre", "PR102": "brown", "PBk31": "black", "PO48": "orange"}
    told |= {"PG50": "turquoise", "PR122": "magenta", "PV14": "violet", "PW6": "white"}
    assert told.items() <= found.items()


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("mystery red", "red"),
        ("Blue-Green", "green"),
        ("yellow ochre", "ochre"),
        ("Rose", "magenta"),
        ("redwood", None),
        ("", None),
    ],
)
def test_the_hue_in_a_name(words: str, found: str | None) -> None:
    assert hue_in(words) == found


def test_another_word_is_answered_with_those_that_are_understood() -> None:
    with pytest.raises(PaintError, match="“mauve” is no hue word; say one of yellow, orange"):
        unknown_paint("x", "mauve")
    assert set(HUES.values()) == set(FAMILIES)


# ------------------------------------------------------------------ the blind check


def test_the_spread_is_as_wide_as_guesses_are_wrong(tool, guesses) -> None:
    k, s, inside = tool.summary(guesses)
    # Measured 1.23, 2.86 and 93 %: the table in the guide is made of the same guesses.
    assert k == pytest.approx(SIGMA, abs=0.2)
    assert s > SIGMA  # S of clear paints is all but nothing; how little, matters to no colour
    assert 0.85 <= inside <= 0.97


def test_a_narrower_spread_would_promise_too_much(tool, guesses, monkeypatch) -> None:
    monkeypatch.setattr(tool, "SIGMA", 0.5)  # that of an estimated paint
    narrow = [tool.guess(g.family, g.paint) for g in guesses[::3]]
    assert tool.summary(narrow)[2] < 0.7


def test_the_table_in_the_guide_is_as_the_tool_makes_it(tool, guesses) -> None:
    page = (ROOT / "docs/guide/my-paints.md").read_text("utf-8")
    shown = re.search(r"<!-- guesses -->\n(.*?)\n<!-- /guesses -->", page, re.DOTALL)[1]
    theirs, ours = (
        [[c.strip() for c in line.split("|")[1:-1]] for line in text.splitlines()]
        for text in (shown, tool.table(guesses))
    )
    assert [row[:2] for row in theirs] == [row[:2] for row in ours]
    for a, b in zip(theirs[2:], ours[2:], strict=True):
        # A median near a half may round either way on another machine.
        np.testing.assert_allclose([float(v) for v in a[2:]], [float(v) for v in b[2:]], atol=1)
