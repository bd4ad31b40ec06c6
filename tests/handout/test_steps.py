"""Words for the hand: read aloud they must be right, and plural where there is more than one."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.handout.cautions import MASKING, UNMASKING
from firstwash.handout.steps import (
    consistency_words,
    edges_words,
    hair_words,
    length_words,
    mix_words,
    reserve_words,
    run_words,
    soft_borders,
    technique_words,
    touch_words,
    wait_words,
)
from firstwash.picture.stroke_render import Stroke
from firstwash.plan.board.amounts import PuddleUse, puddle_amount
from firstwash.plan.board.order import Paint, Reason, Wait
from firstwash.plan.fitting import in_a_hurry
from firstwash.plan.schedule import hair_mm
from firstwash.plan.touches import Touch
from firstwash.usecases import PhotoPlan


@pytest.mark.parametrize(
    ("mm", "words"), [(0.0, "0 mm"), (8.2, "8 mm"), (9.6, "1 cm"), (453, "45 cm"), (1240, "1.2 m")]
)
def test_lengths(mm: float, words: str) -> None:
    assert length_words(mm) == words


def test_edges_say_only_what_there_is_to_do(planned: PhotoPlan) -> None:
    wash = replace(planned.plan.washes[0], edges_mm=(450.0, 120.0, 0.5))
    assert edges_words(wash) == "cut in 45 cm, soften 12 cm"
    assert edges_words(replace(wash, edges_mm=(0.0, 0.0, 2.0))) == "no edge to mind"


def test_hard_edges_inside_a_layer_say_leave_a_hair(planned: PhotoPlan) -> None:
    plan = in_a_hurry(planned.plan)
    told = {n: hair_words(plan, n) for n in range(1, plan.layers + 1)}
    met = {
        n: hair_mm(plan.washes_of(n), plan.edges, plan.cells, plan.schedule.hurried) for n in told
    }
    assert any(told.values())
    for n, words in told.items():
        assert (words == "") == (met[n] < 10.0)
        assert not words or length_words(met[n]) in words


def test_what_is_dropped_in_says_where(planned: PhotoPlan) -> None:
    wash = replace(planned.plan.washes[0], into=3)
    assert technique_words(wash) == "dropped into wash 3 while that is wet"


def test_mixes_name_every_paint_and_the_water() -> None:
    amount = puddle_amount([PuddleUse(2e4, 0.3)], [0.7, 0.3])
    words = mix_words(amount, ["burnt sienna", "ultramarine blue"])
    for count, name in zip(amount.tubes.counts, ("burnt sienna", "ultramarine blue"), strict=True):
        assert f"{count} × {amount.tubes.measure} {name}" in words
    assert "water" in words
    assert mix_words(amount, ["a", "b"], pans=True) != mix_words(amount, ["a", "b"])


def test_a_wait_names_the_washes() -> None:
    assert wait_words(Wait(4.2, (3,), (5,))) == ("Wait about 4 minutes, until wash 3 is dry.")
    assert "washes 2, 3 and 7 are dry." in wait_words(Wait(12.0, (7, 2, 3), (8,)))
    assert "1 minute," in wait_words(Wait(0.1, (3,), (5,)))


@pytest.mark.parametrize(
    ("ids", "reason", "because", "words"),
    [
        ((1, 2, 3), Reason.WET_TOGETHER, (1, 2, 3), "Lay washes 1 to 3 without a break: "),
        ((1, 2, 5), Reason.WET_TOGETHER, (), "Lay washes 1, 2 and 5 without a break: "),
        (tuple(range(1, 35)), Reason.WET_TOGETHER, (), "Go straight through washes 1 to 34: "),
        ((4, 5), Reason.WHILE_OTHERS_DRY, (3,), "Lay washes 4 and 5 while wash 3 dries."),
        ((4, 5), Reason.WHILE_OTHERS_DRY, (1, 3), "Lay washes 4 and 5 while washes 1 and 3 dry."),
        ((4,), Reason.WHILE_OTHERS_DRY, (3,), ""),
        ((4, 5), Reason.LARGE_FIRST, (), ""),
    ],
)
def test_a_run_of_washes_says_why(
    ids: tuple[int, ...], reason: Reason, because: tuple[int, ...], words: str
) -> None:
    told = run_words(Paint(ids, reason, because))
    assert told.startswith(words)
    assert bool(told) == bool(words)


def test_soft_borders_are_named_where_others_are_hard() -> None:
    run = Paint((1, 2, 3), Reason.WET_TOGETHER, (1, 2, 3))
    soft = {(1, 2): True, (1, 3): True, (2, 3): True, (3, 4): False}
    assert run_words(run, soft) == "Lay washes 1 to 3 without a break: their borders are soft."
    told = run_words(run, soft | {(2, 3): False})
    assert "Soft borders, which must meet wet: 1 with 2 and 3. The others are mostly" in told
    assert "where a border is soft" in run_words(run, dict.fromkeys(soft, False))
    assert "where a border is soft" in run_words(run)


def test_borders_of_a_plan_are_those_of_its_edges(planned: PhotoPlan) -> None:
    plan = planned.plan
    for layer in range(1, plan.layers + 1):
        numbers = {w.number for w in plan.washes_of(layer)}
        found = soft_borders(plan, layer)
        assert all(low < high and {low, high} <= numbers for low, high in found)
        lost = [w for w in plan.washes_of(layer) if w.edges_mm[1] + w.edges_mm[2] == 0.0]
        assert not any(found[pair] for pair in found for w in lost if w.number in pair)


def touch(kind: str, after: int | None, puddle: int | None, half: float = 0.4) -> Touch:
    points = np.array([[0.0, 0.0], [30.0, 0.0]]) if kind == "line" else np.zeros((1, 2))
    stroke = Stroke(points, np.full(len(points), half), "light", (90, 0, 0), 1.0, 1.0, kind)  # type: ignore[arg-type]
    way = "laid last" if after is None else "masked"
    return Touch(stroke, way, after, puddle, 0.5, (90.0, 0.0, 0.0), 1.0)  # type: ignore[arg-type]


def test_fine_strokes_are_told_by_moment_and_puddle(planned: PhotoPlan) -> None:
    kept = reserve_words([touch("line", 0, None), touch("dot", 0, None), touch("line", 1, None)])
    assert kept == [
        "Before the first wash, put masking fluid on 1 fine line (3 cm in all, up to 0.8 mm wide) "
        "and 1 dot.",
        "When layer 1 is dry, put masking fluid on 1 fine line (3 cm in all, up to 0.8 mm wide).",
        MASKING,
        UNMASKING,
    ]
    plan = replace(planned.plan, touches=(touch("dot", None, 0), touch("dot", None, 0)))
    assert touch_words(plan) == [f"Puddle {plan.puddles[0].name}: 2 dots."]
    assert reserve_words(plan.touches) == []


def test_consistency_runs_from_the_strongest_to_the_palest(planned: PhotoPlan) -> None:
    for puddle in planned.plan.puddles:
        words = consistency_words(puddle)
        assert words.startswith(puddle.amount.consistency.name)
        low, high = puddle.strength_range
        if high > 20 * low and puddle.amount.consistency.step > 2:
            assert "let down to" in words
