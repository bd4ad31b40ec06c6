"""Words and round numbers for people at the board."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.handout.words import (
    area_words,
    change_words,
    colour_words,
    palette_words,
    proportions,
    unsure_words,
)
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, srgb_decode, xyz_to_lab
from firstwash.paints.catalogue import default_paper, paint
from firstwash.plan.bench import Bench
from firstwash.plan.board.amounts import PuddleUse, puddle_amount
from firstwash.plan.result import PaletteWorth, Plan
from firstwash.plan.wash import Puddle
from firstwash.usecases import PhotoPlan

PAINTED = {  # what painters call these paints, from full strength to a pale tint
    "PBr7-burnt": {"red brown", "brown", "red", "orange"},
    "PBr7-raw": {"brown", "orange", "yellow"},
    "PR101-transparent": {"red brown", "brown", "orange"},
    "PB29": {"blue"},
    "PB28": {"blue"},
    "PB60": {"blue", "greenish blue"},
    "PB15:3": {"blue", "greenish blue", "blue green"},
    "phthalo-turquoise": {"blue green"},
    "PG7": {"blue green", "green"},
    "PG18": {"green", "blue green"},
    "PG36": {"green"},
    "sap-green": {"yellow green", "green"},
    "lemon-yellow": {"yellow"},
    "PY154": {"yellow"},
    "PY35": {"yellow"},
    "PR255": {"red", "pink"},
    "PR108": {"red", "pink"},
    "PR83": {"red", "red brown", "rose"},
    "PV19-rose": {"rose"},
    "PV23": {"violet"},
}


@pytest.mark.parametrize("key", PAINTED)
@pytest.mark.parametrize("share", [1.0, 0.5, 0.25, 0.12, 0.06, 0.03])
def test_paints_are_called_what_painters_call_them(key: str, share: float) -> None:
    one = paint(key)
    lab = Bench.of([one], default_paper()).labs(np.array([[share * one.full_coat]]))[1]
    said = colour_words(tuple(lab))
    assert any(said.endswith(f" {name}") for name in PAINTED[key]), said


def lab_of(code: str) -> tuple[float, float, float]:
    light = srgb_decode(np.array([int(code[i : i + 2], 16) for i in (0, 2, 4)]) / 255)
    lightness, a, b = (float(v) for v in xyz_to_lab(linear_srgb_to_xyz(light)))
    return lightness, a, b


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("ffffff", "near white"),
        ("e0e0e0", "pale grey"),
        ("808080", "middle grey"),
        ("000000", "very dark grey"),
        ("0d0f14", "very dark grey"),
        ("0000ff", "dark blue"),
        ("7f00ff", "dark violet"),
        ("ff00ff", "middle purple"),
        ("ff0000", "middle red"),
        ("ffb6b0", "light pink"),
        ("ffff00", "pale yellow"),
        ("7fff00", "pale yellow green"),
        ("00a000", "middle yellow green"),
        ("808000", "middle olive"),
        ("6b5a20", "dark olive"),
        ("6b5020", "dark olive brown"),
        ("8b4513", "dark brown"),
    ],
)
def test_known_colours_have_their_names(code: str, expected: str) -> None:
    assert colour_words(lab_of(code)) == expected


@given(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128))
def test_every_colour_has_a_name(lightness: float, a: float, b: float) -> None:
    words = colour_words((lightness, a, b)).split()
    assert 2 <= len(words) <= 5
    assert words[0] in ("very", "dark", "middle", "light", "pale", "near")


# --- proportions -------------------------------------------------------------------


def puddle(amounts: list[float]) -> Puddle:
    parts = tuple(enumerate(amounts))
    amount = puddle_amount([PuddleUse(1e4, 0.2)], amounts)
    return Puddle("A", parts, (0.1, 0.2), 1.0, (5, 7), np.zeros((2, 3)), (50.0, 0.0, 0.0), amount)


@given(st.lists(st.floats(1.0, 30.0), min_size=1, max_size=3))
def test_parts_are_whole_and_true(amounts: list[float]) -> None:
    """Whatever a puddle may hold: three paints, none below a fiftieth of it."""
    told = proportions(puddle(amounts))
    parts = np.array([n for _, n in told])
    assert [p for p, _ in told] == list(range(len(amounts)))
    assert (parts >= 1).all()
    assert parts.sum() <= 102
    np.testing.assert_allclose(parts / parts.sum(), np.array(amounts) / sum(amounts), rtol=0.1001)


@pytest.mark.parametrize(
    ("amounts", "expected"),
    [
        ([0.4], [1]),
        ([0.3, 0.3], [1, 1]),
        ([0.66, 0.34], [2, 1]),
        ([0.98, 0.02], [45, 1]),
        ([0.5, 0.25, 0.25], [2, 1, 1]),
    ],
)
def test_parts_are_as_few_as_will_do(amounts: list[float], expected: list[int]) -> None:
    assert [n for _, n in proportions(puddle(amounts))] == expected


def test_a_recipe_mixes_the_puddle_it_stands_for(planned: PhotoPlan) -> None:
    """A part rounded by a tenth moves a strong colour by 2 CIEDE2000 or so, seldom by 3."""
    plan = planned.plan
    bench = Bench.of(plan.paints, plan.paper)
    for one in plan.puddles:
        exact, told = np.zeros((2, bench.colours))
        for paint_index, amount in one.parts:
            exact[paint_index] = amount
        for paint_index, parts in proportions(one):
            told[paint_index] = parts
        told *= exact.sum() / told.sum()
        seen = [bench.labs((r * one.strength_range[1])[None, :])[1] for r in (exact, told)]
        assert float(delta_e_2000(*seen)) < 4


# --- areas and changes -------------------------------------------------------------


@pytest.mark.parametrize(
    ("mm2", "expected"),
    [(1.0, "1 mm²"), (25, "0.2 cm²"), (994, "9.9 cm²"), (996, "10 cm²"), (106_400, "1064 cm²")],
)
def test_areas_are_told_to_the_digit_that_matters(mm2: float, expected: str) -> None:
    assert area_words(mm2) == expected


def test_a_wash_is_told_by_what_it_changes(planned: PhotoPlan) -> None:
    for wash in planned.plan.washes:
        said = change_words(wash, planned.plan)
        before, to, after = said.partition(" to ")
        assert (before == "paper") == (wash.layer == 1) or not to
        assert after == (colour_words(wash.after) if to else "")
        assert before != after


def test_a_wash_that_changes_no_word_is_told_as_darker(planned: PhotoPlan) -> None:
    wash = replace(planned.plan.washes[0], before=(60.0, 30.0, 40.0), after=(57.0, 30.0, 40.0))
    assert change_words(wash, planned.plan) == "middle orange, a little darker"
    wash = replace(wash, after=(60.5, 30.0, 40.0))
    assert change_words(wash, planned.plan) == "middle orange, a little changed"


# --- the choice of paints ----------------------------------------------------------


def _told(plan: Plan, worth: PaletteWorth | None) -> str:
    return palette_words(plan.told_more(report=replace(plan.report, palette=worth)))


def test_the_choice_of_paints_is_told_with_what_it_covers(planned: PhotoPlan) -> None:
    best = PaletteWorth(11, 0.46, 0.46, 0.0, 0.41, "This covers single patches.")
    plan = planned.plan
    count = len(plan.paints)
    assert _told(plan, best) == (
        f"No other {count} of the 11 paints compared mix this picture's colours closer: 0.5 off "
        "on average, 0.4 with all of them. This covers single patches."
    )
    near = replace(best, bound=0.45, gap=0.022)
    assert "more than 2.2% closer" in _told(plan, near)
    assert _told(plan, None) == ""


def test_a_range_is_told_in_value_steps() -> None:
    assert unsure_words(np.array([61.0, 68.0])) == "strongest: 7"
    assert unsure_words(np.array([38.0, 61.0])) == "strongest: 4 to 7"
