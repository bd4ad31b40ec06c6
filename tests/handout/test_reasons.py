"""Sentences on reasons, alternatives and neutrals: plain, true, without jargon."""

import re
from dataclasses import replace

import pytest

from firstwash.handout.reasons import (
    alternative_details,
    alternative_words,
    lean_word,
    mixture_words,
    neutral_details,
    neutral_words,
    reason_details,
    reason_words,
    size_words,
)
from firstwash.paints.catalogue import load_set, paint
from firstwash.plan.alternatives import Manner, alternatives
from firstwash.plan.neutral import neutralisers
from firstwash.plan.reasons import Reason, Second, claims, why
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan

JARGON = re.compile(
    r"ΔE|CIE|\bL\*|\bC\*|a\*|chroma|mean|spectr|reflect|\d\.\d|%|strength|aims?\b|target|None|nan"
)


@pytest.fixture(scope="module")
def plan(planned: PhotoPlan) -> Plan:
    return planned.plan


@pytest.fixture(scope="module")
def found(plan: Plan) -> list[Reason]:
    return [why(plan, w) for w in plan.washes_of(1)]


def tidy(sentence: str) -> None:
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert ". " not in sentence  # one sentence
    assert "  " not in sentence
    assert not re.search(r"[;:,]\s*[;:.]", sentence)
    assert not JARGON.search(sentence), sentence


def test_every_reason_is_one_plain_sentence(found: list[Reason], plan: Plan) -> None:
    for reason in found:
        tidy(reason_words(reason, plan))
        assert len(reason_words(reason, plan).split()) <= 100  # the longest name three paints


def test_the_numbers_are_in_the_details(found: list[Reason], plan: Plan) -> None:
    for reason in found:
        told = reason_details(reason, plan)
        assert f"{reason.misses.without:.2f}" in told
        assert f"{reason.misses.planned:.2f}" in told
        assert "CIEDE2000" in told


def test_sentences_follow_the_claims(found: list[Reason], plan: Plan) -> None:
    for reason in found:
        said = reason_words(reason, plan)
        assert ("could be left out" in said) == ("not needed" in reason.claims)
        assert ("the palest tint here" in said) == ("palest tint" in reason.claims)
        assert ("pale hint" in said) == ("pale hint" in reason.claims)
        assert ("would do as well" in said) == ("close substitute" in reason.claims)
        assert ("into wash" in said) == (reason.second is not None)


def with_numbers(reason: Reason, **changes: object) -> Reason:
    bare = replace(reason, **changes)  # type: ignore[arg-type]
    return replace(bare, claims=claims(bare))


def test_other_numbers_make_another_sentence(found: list[Reason], plan: Plan) -> None:
    reason = found[0]
    clear = with_numbers(reason, misses=replace(reason.misses, refitted=1.0, without=2.5))
    assert "a clear difference would remain" in reason_words(clear, plan)
    idle = with_numbers(reason, misses=replace(reason.misses, refitted=1.0, without=1.1))
    assert "could be left out" in reason_words(idle, plan)
    alone = with_numbers(reason, misses=replace(reason.misses, refitted=1.0, other=4.0))
    assert "no other mixture comes near it" in reason_words(alone, plan)
    second = with_numbers(reason, second=Second(3, reason.palest, 0.0, -9.0))
    assert "into wash 3 while that is wet: the picture turns cooler here" in reason_words(
        second, plan
    )
    faint = with_numbers(reason, look=(94.0, 0.0, 1.0))
    assert reason_words(faint, plan).startswith("The faintest tint first")
    for one in (clear, idle, alone, second, faint):
        tidy(reason_words(one, plan))


def test_sizes_are_in_order() -> None:
    assert [size_words(v) for v in (0.5, 1.5, 5.0)] == ["a slight", "a clear", "a large"]


def test_alternatives_are_told_with_what_they_gain_and_lose(plan: Plan) -> None:
    mixed = 0
    for wash in plan.washes:
        for other in alternatives(plan, wash, owned=load_set("starter").paints):
            said = alternative_words(other, plan)
            tidy(said)
            assert ("no new puddle" in said) == (other.puddle is not None)
            assert ("on the palette" in said) == bool(other.new_paints)
            assert f"{other.then.against_aims:.2f}" in alternative_details(other)
            mixed += other.puddle is not None
    assert mixed


def test_handling_is_compared_only_where_it_is_known(plan: Plan) -> None:
    other = alternatives(plan, plan.washes[0])[0]
    gentle = Manner(2, 1, 0, 4, "I", "none")
    harsh = Manner(3, 4, 3, 1, "IV", "toxic")
    said = alternative_words(replace(other, manner_now=gentle, manner=harsh), plan)
    for words in (
        "one paint more", "stains more", "granulates more", "less transparent",
        "fades sooner", "holds a toxic paint",
    ):  # fmt: skip
        assert words in said
    said = alternative_words(replace(other, manner_now=harsh, manner=gentle), plan)
    for words in ("one paint fewer", "lifts more easily", "clearer", "lasts longer in light"):
        assert words in said
    unknown = Manner(2, None, None, None, None, None)
    said = alternative_words(replace(other, manner_now=unknown, manner=harsh), plan)
    assert "stains" not in said
    assert "fades" not in said


def test_neutrals_say_which_way_they_lean(plan: Plan) -> None:
    grounds = [None, (70.0, 25.0, 30.0)]
    greys = [n for g in grounds for n in neutralisers(plan, g)]
    assert greys
    for one in greys:
        said = neutral_words(one)
        tidy(said)
        lean = one.leans[0]
        assert f"more {lean.paint.name} and it turns {lean_word(lean.more_hue)}" in said
        assert f"value {one.value_steps[1]}" in said
        assert f"C* {one.chroma:.1f}" in neutral_details(one)


@pytest.mark.parametrize(
    ("hue", "word"),
    [(0, "redder"), (60, "warmer"), (150, "greener"), (270, "cooler"), (350, "redder")],
)
def test_leans_have_words(hue: float, word: str) -> None:
    assert lean_word(hue) == word


def test_mixtures_are_told_by_how_much_there_is_of_each() -> None:
    sienna, blue, green = paint("PBr7-raw"), paint("PB29"), paint("PG7")
    assert mixture_words([(sienna, 1.0)]) == "raw sienna alone"
    assert mixture_words([(sienna, 0.95 * sienna.full_coat), (blue, 0.05 * blue.full_coat)]) == (
        "raw sienna with a touch of ultramarine blue"
    )
    assert mixture_words(
        [(sienna, 0.5 * sienna.full_coat), (blue, 0.3 * blue.full_coat), (green, 0.2)]
    ) == (f"raw sienna with {blue.name} and a little {green.name}")
