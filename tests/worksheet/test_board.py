"""The session at the board holds all the plan asks for, once, in an order hands can follow."""

import json
from collections import Counter
from dataclasses import asdict, replace

import numpy as np
import pytest

from firstwash.handout.cautions import CAUTIONS, MASKING, UNMASKING, caution_lines, caution_words
from firstwash.paints.catalogue import all_paints, paint
from firstwash.plan.board.drying import Room
from firstwash.plan.board.order import Wait
from firstwash.plan.result import Plan
from firstwash.plan.schedule import with_touches
from firstwash.plan.touches import Touch
from firstwash.usecases import PhotoPlan
from firstwash.worksheet.board import BoardStep, board_steps


@pytest.fixture
def plan(cup: PhotoPlan) -> Plan:
    return cup.plan


def of_kind(steps: tuple[BoardStep, ...], kind: str) -> list[BoardStep]:
    return [s for s in steps if s.kind == kind]


def test_every_wash_is_one_step_in_painting_order(plan: Plan) -> None:
    found = [(s.layer, s.wash.number) for s in board_steps(plan) if s.wash is not None]
    laid = [
        (layer, n)
        for layer, steps in enumerate(plan.schedule.steps, 1)
        for step in steps
        if not isinstance(step, Wait)
        for n in step.ids
    ]
    assert found == laid
    assert sorted(found) == sorted((w.layer, w.number) for w in plan.washes)


def test_ids_are_stable_and_tell_steps_apart(plan: Plan) -> None:
    ids = [s.id for s in board_steps(plan)]
    assert len(set(ids)) == len(ids)
    assert all(len(i) <= 40 for i in ids)
    assert ids == [s.id for s in board_steps(plan, "in")]


def test_steps_are_plain_data(plan: Plan) -> None:
    told = json.loads(json.dumps([asdict(s) for s in board_steps(plan)], allow_nan=False))
    assert told[0]["kind"] == "caution"
    assert all(sentence.endswith(".") for step in told for sentence in step["say"])


def test_a_puddle_is_mixed_once_and_before_it_is_laid(plan: Plan) -> None:
    mixed: Counter[str] = Counter()
    for step in board_steps(plan):
        mixed.update(p.letter for p in step.puddles if p.fresh)
        if step.wash is not None:
            assert mixed[step.wash.letter] == 1
        for puddle in step.puddles:
            assert mixed[puddle.letter] == 1
            assert puddle.strip[0] == puddle.colour
            assert len(puddle.parts) <= plan.limits.paints_per_puddle
    assert set(mixed) == {p.name for p in plan.puddles}


def test_every_layer_dries_for_as_long_as_the_schedule_says(plan: Plan) -> None:
    dry = of_kind(board_steps(plan), "dry")
    painted = sorted({w.layer for w in plan.washes})
    assert [s.layer for s in dry] == painted
    for step, time in zip(dry, plan.schedule.time.layers, strict=False):
        span = time.drying if time.drying.high > 0 else time.dry_after
        assert step.minutes == (span.low, span.mid, span.high)
        assert step.timed


def test_clocks_run_only_where_one_waits(plan: Plan) -> None:
    for step in board_steps(plan):
        assert step.timed == (step.kind in ("wait", "dry"))
        if step.minutes is not None:
            low, mid, high = step.minutes
            assert 0.0 <= low <= mid <= high
            assert high > 0.0


def test_what_stays_bare_is_bare(plan: Plan) -> None:
    told = 0
    for step in board_steps(plan):
        if step.wash is None:
            continue
        assert set(step.cells) == set(
            next(
                w.cells
                for w in plan.washes
                if (w.layer, w.number) == (step.layer, step.wash.number)
            )
        )
        assert all(not plan.coats[c] for c in step.wash.bare)
        assert bool(step.wash.keep) == bool(step.wash.bare or step.wash.kept)
        told += bool(step.wash.bare)
        for i in step.wash.kept:
            after = plan.touches[i].after
            assert after is not None
            assert after < step.layer
    assert told  # the saucer has whites


def test_fine_strokes_are_kept_first_and_laid_last(plan: Plan) -> None:
    steps = board_steps(plan)
    kept = [i for s in of_kind(steps, "reserve") for i in s.touches]
    laid = [i for s in of_kind(steps, "strokes") for i in s.touches]
    assert sorted(kept + laid) == list(range(len(plan.touches)))
    assert all(plan.touches[i].reserved for i in kept)
    order = [s.kind for s in steps]
    if laid:
        first = order.index("strokes")
        assert set(order[first:]) == {"strokes"}
    for step in of_kind(steps, "reserve"):
        later = [s.layer for s in steps[steps.index(step) :] if s.kind == "wash"]
        assert min(later) > step.layer


@pytest.mark.parametrize("strokes", [True, False])
def test_masking_fluid_comes_off_when_all_is_dry(plan: Plan, strokes: bool) -> None:
    """Before the last strokes, once; where nothing was masked nothing is said of it."""
    free = tuple(t for t in plan.touches if t.way != "masked")
    assert not of_kind(board_steps(with_strokes(plan, free)), "unmask")
    kept = next(t for t in plan.touches if t.reserved)
    laid = tuple(t for t in free if not t.reserved) if strokes else ()
    masked = with_strokes(plan, (replace(kept, way="masked"), *laid))
    steps = board_steps(masked)
    (off,) = of_kind(steps, "unmask")
    assert off.touches == (0,)
    assert off.say == (UNMASKING,)
    before, after = steps[: steps.index(off)], steps[steps.index(off) + 1 :]
    assert before[-1].kind == "dry"
    assert not any("Then it is done." in s.say for s in before)
    assert all(s.kind == "strokes" for s in after)
    (on,) = [s for s in before if s.kind == "reserve"]
    assert MASKING in on.say


def with_strokes(plan: Plan, touches: tuple[Touch, ...]) -> Plan:
    return plan.told_more(touches=touches)


def test_paper_is_wet_where_the_technique_asks_for_it(plan: Plan) -> None:
    for step in board_steps(plan):
        if step.wash is not None:
            wet = step.wash.technique == "wet-in-wet" or step.wash.into is not None
            assert step.wash.paper == ("wet" if wet else "dry")
            assert step.wash.letter in step.say[0]


def test_inches_leave_no_centimetre(plan: Plan) -> None:
    for step in board_steps(plan, "in"):
        words = json.dumps(asdict(step), ensure_ascii=False)
        assert " cm" not in words
        assert " mm" not in words
        assert " ml" not in words


def test_mistakes_follow_what_is_known_of_the_paints(plan: Plan) -> None:
    stains = {p.name for p in plan.paints if (p.handling.staining or 0) >= 3}
    for step in board_steps(plan):
        if step.wash is None:
            continue
        told = " ".join(step.wash.mistakes).casefold()
        chief = {p.name for p in step.wash.parts if p.share > 0.5}
        for name in chief:
            assert (f"{name.casefold()} stains" in told) == (name in stains)


def test_where_nothing_dries_no_clock_is_set(plan: Plan) -> None:
    damp = replace(plan.schedule, room=Room(humidity=1.0))
    schedule = with_touches(damp, plan.touches, plan.washes, plan.sheet.weight_gsm)
    dry = of_kind(board_steps(replace(plan, schedule=schedule)), "dry")
    assert all(s.minutes is None for s in dry)
    assert "another day" in dry[0].say[0]


def test_cautions_come_first_and_name_what_is_harmful(plan: Plan) -> None:
    first = board_steps(plan)[0]
    assert first.say[0] == CAUTIONS
    assert len(first.say) == 1 + len(caution_lines(plan.paints))
    red = replace(plan, paints=(*plan.paints[:-1], paint("PR108")))
    assert any("Cadmium red: toxic" in s for s in board_steps(red)[0].say)


def test_only_harmful_paints_have_a_caution() -> None:
    for one in all_paints():
        harmful = one.handling.hazard in ("caution", "toxic")
        assert bool(caution_words(one)) == harmful


def test_a_plan_without_washes_asks_for_nothing(plan: Plan) -> None:
    bare = replace(
        plan,
        washes=(),
        puddles=(),
        touches=(),
        coats=tuple(() for _ in plan.coats),
        stage_labs=np.repeat(plan.stage_labs[:1], plan.layers + 1, axis=0),
        schedule=replace(plan.schedule, steps=tuple(() for _ in plan.schedule.steps)),
    )
    assert [s.id for s in board_steps(bare)] == ["caution"]
