"""How much to mix: enough, at the right strength, in whole measures, in kitchen words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.plan.board.amounts import (
    Counted,
    PuddleUse,
    consistency,
    consistency_of,
    paint_share,
    puddle_amount,
    volume_words,
    whole_parts,
)
from firstwash.plan.board.practice import TECHNIQUES

uses = st.lists(
    st.builds(PuddleUse, st.floats(1.0, 2e5), st.floats(0.005, 1.0), st.sampled_from(TECHNIQUES)),
    min_size=1,
    max_size=6,
)
# No paint below a twentieth of a puddle: the planner makes no other recipes.
recipes = st.lists(st.floats(1.0, 6.0), min_size=1, max_size=3)


# --- enough, and at the right strength -----------------------------------------------


@given(many=uses, parts=recipes)
def test_the_paint_suffices_for_every_use_with_the_margin(
    many: list[PuddleUse], parts: list[float]
) -> None:
    amount = puddle_amount(many, parts)
    # 8 ml of tube paint per m² of a full coat, by definition of this module.
    on_the_sheet = sum(u.area_mm2 * 1e-6 * 8.0 * u.strength for u in many)
    assert amount.paint_ml >= 1.5 * on_the_sheet * (1 - 1e-9)
    laid = sum(u.volume_ml for u in many)
    assert amount.ml + amount.thinning_ml >= 1.5 * laid
    # What brush and palette keep back is at most 1 ml.
    assert amount.ml + amount.thinning_ml <= 1.5 * laid + 1.0 + 1e-9


@given(many=uses, parts=recipes)
def test_counted_recipes_have_the_strength_asked_for(
    many: list[PuddleUse], parts: list[float]
) -> None:
    amount = puddle_amount(many, parts)
    strongest = max(paint_share(u.strength, u.technique) for u in many)
    for counted in (amount.tubes, amount.pans):
        assert counted.share == pytest.approx(strongest)
        assert counted.puddle_ml >= amount.ml * (1 - 1e-9)


@given(many=uses, parts=recipes)
def test_counts_are_whole_keep_the_recipe_and_waste_little(
    many: list[PuddleUse], parts: list[float]
) -> None:
    amount = puddle_amount(many, parts)
    for counted, finest in ((amount.tubes, "pinhead"), (amount.pans, "small brush")):
        assert all(isinstance(n, int) and n >= 1 for n in counted.counts)
        for n, part in zip(counted.counts, parts, strict=True):
            # A tenth of its share, as a hand's own error is about a fifth.
            share = part / sum(parts)
            assert n / sum(counted.counts) == pytest.approx(share, rel=0.1 + 1e-9)
        assert counted.paint_ml <= 1.5 * amount.paint_ml + 1e-9 or counted.measure == finest
        if counted.taken:  # then only some drops of it are used
            used = counted.taken / 20 * counted.paint_ml / (counted.paint_ml + counted.water_ml)
            assert amount.paint_ml <= used * (1 + 1e-9) <= amount.paint_ml + 0.01 + 1e-9


@given(parts=recipes, area=st.floats(1.0, 1e5), more=st.floats(1.0, 10.0))
def test_more_area_more_puddle(parts: list[float], area: float, more: float) -> None:
    small, large = (puddle_amount([PuddleUse(a, 0.3)], parts) for a in (area, area * more))
    assert large.ml >= small.ml
    assert large.paint_ml >= small.paint_ml
    assert large.consistency == small.consistency


@given(
    area=st.floats(1.0, 1e5),
    strength=st.floats(0.001, 1.0),
    more=st.floats(1.0, 5.0),
    technique=st.sampled_from(TECHNIQUES),
)
def test_stronger_washes_take_more_paint(
    area: float, strength: float, more: float, technique: str
) -> None:
    pale, deep = (
        puddle_amount([PuddleUse(area, s, technique)], [1.0])  # type: ignore[arg-type]
        for s in (strength, min(strength * more, 1.0))
    )
    assert deep.paint_ml >= pale.paint_ml * (1 - 1e-9)
    assert deep.consistency.step >= pale.consistency.step


def test_a_paler_use_of_the_same_puddle_is_only_water() -> None:
    deep = puddle_amount([PuddleUse(10_000.0, 0.8)], [7, 3])
    both = puddle_amount([PuddleUse(10_000.0, 0.8), PuddleUse(10_000.0, 0.2)], [7, 3])
    # A quarter of the strength: a quarter of the stock, three quarters of fresh water.
    volume = 1.5 * PuddleUse(10_000.0, 0.2).volume_ml
    assert both.thinning_ml == pytest.approx(0.75 * volume)
    assert both.ml - deep.ml == pytest.approx(0.25 * volume)
    assert both.consistency == deep.consistency


def test_a_sky_on_a_half_sheet() -> None:
    # 38 × 40 cm, a pale flat wash: about a tablespoon of puddle, common practice.
    amount = puddle_amount([PuddleUse(380.0 * 400.0, 0.1)], [2, 1])
    assert 6.0 <= amount.ml <= 15.0
    assert amount.consistency.name == "clear broth"
    loads = Counted("large brush", (2, 1), pytest.approx(0.3), pytest.approx(10.95))
    assert amount.pans == loads


def test_a_trace_of_a_pale_mixture_is_taken_by_the_drop() -> None:
    # 19 pinheads would make 36 ml of so pale a puddle; a drop of the strong mixture makes 2.
    amount = puddle_amount([PuddleUse(3000.0, 0.02)], [0.62, 0.33, 0.05])
    assert amount.tubes.counts == (12, 6, 1)
    assert amount.tubes.taken == 1
    assert amount.tubes.drops == 15
    assert amount.tubes.puddle_ml < 2.0


def test_paint_used_as_it_comes_needs_no_water() -> None:
    amount = puddle_amount([PuddleUse(500.0, 1.0, "dry-brush")], [1.0])
    assert amount.consistency.name == "honey"
    assert amount.tubes.water_ml == amount.pans.drops == 0
    assert amount.thinning_ml == 0.0


# --- whole parts -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shares", "parts"),
    [
        ([0.3], (1,)),
        ([0.5, 0.5], (1, 1)),
        ([0.7, 0.3], (5, 2)),
        ([2, 1], (2, 1)),
        ([0.95, 0.05], (18, 1)),
        ([1, 1, 1], (1, 1, 1)),
        ([6, 3, 1], (6, 3, 1)),
    ],
)
def test_recipes_in_few_whole_parts(shares: list[float], parts: tuple[int, ...]) -> None:
    assert whole_parts(shares) == parts


@given(parts=recipes, scale=st.floats(0.01, 100.0))
def test_whole_parts_keep_the_recipe_whatever_its_scale(parts: list[float], scale: float) -> None:
    whole = whole_parts(parts)
    assert whole == whole_parts([p / sum(parts) for p in parts])
    for n, part in zip(whole, parts, strict=True):
        assert n / sum(whole) == pytest.approx(part / sum(parts), rel=0.1 + 1e-9)
    assert len(whole_parts([p * scale for p in parts])) == len(parts)


def test_a_hopeless_trace_still_gets_one_part() -> None:
    assert whole_parts([1.0, 1e-6]) == (100, 1)


# --- consistency -----------------------------------------------------------------------


def test_every_kitchen_word_is_reached_in_order() -> None:
    ratios = [500.0, 60.0, 59.9, 25.0, 12.0, 6.0, 2.0, 1.0, 0.0]
    steps = [consistency_of(ratio) for ratio in ratios]
    assert [c.step for c in steps] == [1, 1, 2, 2, 3, 4, 5, 6, 6]
    assert len({c.name for c in steps}) == 6
    assert all(c.test for c in steps)


@given(strength=st.floats(0.001, 1.0), technique=st.sampled_from(TECHNIQUES))
def test_consistency_is_water_against_paint(strength: float, technique: str) -> None:
    made = consistency(strength, technique)  # type: ignore[arg-type]
    share = paint_share(strength, technique)  # type: ignore[arg-type]
    assert 1.0 / (1.0 + made.ratio) == pytest.approx(share)
    assert made == consistency_of(made.ratio)


def test_the_same_strength_is_thicker_where_less_water_is_laid() -> None:
    order = ["wet-in-wet", "wet-on-dry", "glaze", "dry-brush"]
    steps = [consistency(0.6, name).step for name in order]  # type: ignore[arg-type]
    assert steps == sorted(steps)
    assert steps[0] < steps[-1]


# --- volumes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ml", "metric", "us"),
    [
        (0.0, "no water", "no water"),
        (0.004, "1 drop", "1 drop"),
        (0.05, "1 drop", "1 drop"),
        (0.4, "8 drops", "8 drops"),
        (1.0, "20 drops", "¼ teaspoon"),
        (1.6, "1.5 ml", "¼ teaspoon"),
        (3.8, "4 ml", "¾ teaspoon"),
        (4.93, "5 ml", "1 teaspoon"),
        (7.4, "7 ml", "1½ teaspoons"),
        (14.79, "15 ml", "1 tablespoon"),
        (29.57, "30 ml", "2 tablespoons"),
        (52.0, "50 ml", "3½ tablespoons"),
    ],
)
def test_volumes_in_kitchen_measures(ml: float, metric: str, us: str) -> None:
    # A US teaspoon is 4.928922 ml, three of them a tablespoon, six a fluid ounce [NISTHB44].
    assert volume_words(ml) == metric
    assert volume_words(ml, "US") == us


@given(ml=st.floats(0.05, 500.0))
def test_rounded_volumes_miss_by_what_a_hand_misses(ml: float) -> None:
    number, unit = volume_words(ml).split()
    said = float(number) * (1.0 if unit == "ml" else 0.05)
    assert said == pytest.approx(ml, rel=0.17, abs=0.026)


# --- hostile input ----------------------------------------------------------------------


@pytest.mark.parametrize("parts", [[], [0.0], [1.0, -1.0], [math.nan], [math.inf, 1.0]])
def test_a_recipe_without_paint_is_refused(parts: list[float]) -> None:
    with pytest.raises(RequestError, match="at least one paint"):
        puddle_amount([PuddleUse(100.0, 0.5)], parts)


@pytest.mark.parametrize(
    "numbers", [(-1.0, 0.5), (math.nan, 0.5), (100.0, 0.0), (100.0, -1.0), (100.0, math.inf)]
)
def test_impossible_uses_are_refused(numbers: tuple[float, float]) -> None:
    with pytest.raises(RequestError, match="must lie between"):
        PuddleUse(*numbers)


def test_a_puddle_without_use_a_margin_below_one_and_foreign_units_are_refused() -> None:
    with pytest.raises(RequestError, match="no wash uses"):
        puddle_amount([], [1.0])
    with pytest.raises(RequestError, match="margin"):
        puddle_amount([PuddleUse(100.0, 0.5)], [1.0], margin=0.5)
    with pytest.raises(RequestError, match='"metric" or "US"'):
        volume_words(1.0, "imperial")  # type: ignore[arg-type]
    with pytest.raises(RequestError, match="volume"):
        volume_words(-1.0)
    with pytest.raises(RequestError, match="no technique"):
        consistency(0.5, "spray")  # type: ignore[arg-type]
