"""What is said of a glaze: sentences against the numbers they are made of, and as they read."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.advice.glaze_light import AMOUNTS, THIRDS, amount_of
from firstwash.advice.glaze_numbers import why_numbers
from firstwash.advice.glaze_reasons import explain_glaze
from firstwash.advice.glaze_shift import HARDLY, shift
from firstwash.advice.glaze_words import shift_words, why_words
from firstwash.handout.words import colour_words
from firstwash.paints.catalogue import all_paints
from firstwash.plan.glaze import Coat, parse_coat

strengths = st.floats(-3.0, 0.0).map(lambda p: 10.0**p)
coats = st.tuples(st.sampled_from(all_paints()), strengths).map(lambda part: Coat((part,)))
stacks = st.tuples(st.lists(coats, min_size=0, max_size=3), coats)
SENTENCE = re.compile(r"[A-Z][^\n]*\.")


@settings(max_examples=30)
@given(stacks)
def test_words_say_what_was_predicted(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    told = why_words(why)
    assert colour_words(why.labs[2]) in told.light
    if why.path is not None:
        assert ("opposites and meet" in told.opposed) == (why.path.opposed == "complementary")
        assert ("no opposites" in told.opposed) == (why.path.opposed == "no")
    if why.puddle is not None:
        check_value(told.puddle, why.puddle.lightness, why.puddle.seen)
    if why.order is not None:
        assert ("does not matter" in told.order) == (not why.order.matters)
        if why.order.matters:
            check_value(told.order.split(".")[0], why.order.other.lightness, why.order.other.seen)
        assert ("veils" in told.order) == (why.order.veils is not None)
        assert not ("scatters" in told.order and not why.order.scatters)
    assert "scrap" in told.sure or why.on_paper
    for paint in why.paints:
        assert paint.name.casefold() in told.sure.casefold()


def check_value(words: str, lightness: float, seen: float) -> None:
    """Lighter or darker only where it is so, and always where it is much so."""
    assert lightness < 0.0 or "darker" not in words
    assert lightness > 0.0 or "lighter" not in words
    if abs(lightness) >= 2.0 and seen >= HARDLY:
        assert "darker" in words or "lighter" in words


@settings(max_examples=30)
@given(stacks)
def test_sentences_are_sentences_without_figures(stack: tuple[list[Coat], Coat]) -> None:
    told = why_words(explain_glaze(*stack))
    for words in (told.gist, *told.sentences):
        assert SENTENCE.fullmatch(words), words
        assert not re.search(r"[0-9!%°*]", words), words
        assert "  " not in words
        assert "!" not in words


@settings(max_examples=30)
@given(stacks)
def test_light_is_told_by_its_shares(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    told = why_words(why)
    below, takes, seen = (part.strip() for part in told.light.split(";"))
    if max(why.light.after) < AMOUNTS[0][0]:
        assert "hardly any light" in seen
    for third, after in zip(THIRDS, why.light.after, strict=True):
        # A third is named in the last part only where there is light of it, or mostly of it.
        named = re.search(rf"\b{third}\b", seen.split(":")[0])
        if named and "mostly" not in seen:
            assert amount_of(after) != "hardly any"
    dark = max(why.light.under) < AMOUNTS[0][0]
    assert ("has hardly any to take" in takes) == dark
    said = "" if dark else takes.split(" and sends back ")[0].split(" takes ")[1]
    for third, taken in zip(THIRDS, why.light.taken, strict=True):
        if re.search(rf"\b{third}\b", said):
            assert taken >= AMOUNTS[0][0]
    if not why.on_paper:
        assert "below" in below


def test_amounts_rise_with_the_share() -> None:
    words = [amount_of(share) for share in np.linspace(0.0, 1.2, 200)]
    assert list(dict.fromkeys(words)) == [word for _, word in AMOUNTS]


@pytest.mark.parametrize(
    ("plain", "moved", "beside", "leaning"),
    [
        ((50, 0, 0), (45, 0, -8), "half a value step darker and bluer",
         "half a value step darker and towards blue"),
        ((50, 0, 0), (50.1, 0, 0), "hardly any different", "hardly any different"),
        ((50, 30, 0), (71, 30, 0), "two value steps lighter", "two value steps lighter"),
        ((90, -10, 60), (91, -9, 52), "a touch lighter and paler", "a touch lighter and paler"),
        ((35, 1, 1), (34.5, 6, 8), "browner", "towards brown"),
    ],
)  # fmt: skip
def test_colours_beside_each_other_in_words(
    plain: tuple[float, ...], moved: tuple[float, ...], beside: str, leaning: str
) -> None:
    told = shift(np.array(plain), np.array(moved), (95.0, 0.0, 2.0))
    assert shift_words(told) == beside
    assert shift_words(told, leaning=True) == leaning


def test_burnt_sienna_over_ultramarine_as_it_reads() -> None:
    told = why_words(explain_glaze(parse_coat("PB29 40%"), parse_coat("PBr7-burnt 12%")))
    assert told.gist == "Burnt sienna over ultramarine blue: dark grey."
    assert told.light == (
        "The dark blue below sends back most of the blue and hardly anything else; the middle "
        "orange on top takes nearly all the blue; what both leave is hardly any light: a dark grey."
    )
    assert told.opposed == (
        "The two are opposites and meet in grey: at about three quarters of this strength the "
        "glaze would leave a dark grey."
    )
    assert told.leans.startswith(
        "A little more of the glaze and it goes towards brown; a little less and it goes towards "
        "blue."
    )
    assert "Burnt sienna scatters light: laid last it veils what lies under it." in told.order


def test_a_wash_on_bare_paper_as_it_reads() -> None:
    told = why_words(explain_glaze([], parse_coat("PY154 5%")))
    assert told.gist == "Benzimidazolone yellow on bare paper: pale yellow."
    assert told.light.startswith("Bare paper sends back all the light; the pale yellow takes some")
    assert (told.opposed, told.puddle, told.order) == ("", "", "")
    assert len(told.sentences) == 3


def test_a_white_greys_by_veiling_and_a_black_by_darkening() -> None:
    white = why_words(explain_glaze(parse_coat("PB29 3%"), parse_coat("PW4 10%")))
    black = why_words(explain_glaze(parse_coat("PB29 3%"), parse_coat("PBk9 1%")))
    assert white.opposed.endswith("it greys by veiling.")
    assert black.opposed.endswith("it greys by darkening.")
    assert "of its own; what is seen is" in white.light


def test_several_coats_beneath_are_told_as_one() -> None:
    told = why_words(
        explain_glaze(
            [parse_coat("PB29 3%"), parse_coat("PY154 10%")], parse_coat("PBr7-burnt 1% + PR209 2%")
        )
    )
    assert told.light.startswith("What lies below, a ")
    assert "with the glaze laid first" in told.order
    assert " over benzimidazolone yellow and one coat more: " in told.gist


def test_a_second_coat_of_the_same_mixture_is_told_as_that() -> None:
    told = why_words(explain_glaze(parse_coat("PB29 3%"), parse_coat("PB29 5%")))
    assert told.opposed == "It is the same mixture as beneath, which it deepens."


def test_figures_for_those_who_ask() -> None:
    why = explain_glaze(parse_coat("PB29 10%"), parse_coat("PBr7-burnt 5%"))
    told = dict(why_numbers(why))
    assert why.path is not None
    assert f"C* {why.path.chroma:.1f}" in told["nearest to grey"]
    assert any("380-490 nm" in name for name in told)
    assert told["paints"] == "PB29 measured, PBr7-burnt measured"
    assert len(why_numbers(explain_glaze([], parse_coat("PB29 10%")))) < len(told)
