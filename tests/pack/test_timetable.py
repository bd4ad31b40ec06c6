"""The timetable: everything once, in order, nothing half laid, nothing too long."""

import math
from collections import Counter
from dataclasses import replace
from datetime import time

import pytest

from firstwash.errors import RequestError
from firstwash.pack.timetable import (
    Slot,
    class_words,
    masking_words,
    shortest_meeting,
    timetable,
    timetable_text,
)
from firstwash.pack.timetable_work import MASK_DRYING, blocks_of, clearing_words
from firstwash.plan.board.order import Paint
from firstwash.plan.board.ranges import Range
from firstwash.plan.result import Plan

LENGTHS = (60, 90, 150, 240, 600)


def laid(slots: tuple[Slot, ...]) -> list[tuple[int, int]]:
    return [(s.layer or 0, n) for s in slots for n in s.washes]


@pytest.mark.parametrize("length", LENGTHS)
def test_every_wash_is_laid_once_and_in_the_plans_order(plan: Plan, length: int) -> None:
    wanted = [
        (layer, n)
        for layer, steps in enumerate(plan.schedule.steps, 1)
        for step in steps
        if isinstance(step, Paint)
        for n in step.ids
    ]
    assert laid(timetable(plan, length)) == wanted


@pytest.mark.parametrize("length", LENGTHS)
def test_meetings_are_filled_without_gap_and_never_too_long(plan: Plan, length: int) -> None:
    slots = timetable(plan, length)
    for meeting in range(1, slots[-1].meeting + 1):
        own = [s for s in slots if s.meeting == meeting]
        assert own[0].begin == 0
        assert own[0].kind == "set up"
        assert own[-1].kind == "clear up"
        assert own[-1].end <= length
        assert all(s.minutes >= 1 for s in own)
        assert [s.end for s in own[:-1]] == [s.begin for s in own[1:]]
        assert Counter(s.kind for s in own)["clear up"] == 1


@pytest.mark.parametrize("length", LENGTHS)
def test_what_must_be_wet_together_is_never_parted(plan: Plan, length: int) -> None:
    slots = timetable(plan, length)
    meeting_of = {(s.layer, n): s.meeting for s in slots for n in s.washes}
    slot_of = {(s.layer, n): i for i, s in enumerate(slots) for n in s.washes}
    for layer, steps in enumerate(plan.schedule.steps, 1):
        for step in steps:
            if isinstance(step, Paint) and len(step.ids) <= 15:  # more nobody keeps wet
                assert len({meeting_of[layer, n] for n in step.ids}) == 1
                assert len({slot_of[layer, n] for n in step.ids}) == 1


@pytest.mark.parametrize("length", LENGTHS)
def test_a_layer_has_dried_before_the_next_is_laid(plan: Plan, length: int) -> None:
    slots = timetable(plan, length)
    drying = [t.drying.mid for t in plan.schedule.time.layers]
    for layer in range(1, plan.layers):
        last = max(i for i, s in enumerate(slots) if s.layer == layer and s.washes)
        first = min(i for i, s in enumerate(slots) if s.layer == layer + 1 and s.washes)
        if slots[last].meeting != slots[first].meeting:
            continue  # it dries between two meetings
        breaks = sum(s.minutes for s in slots[last + 1 : first] if s.kind == "dry")
        assert breaks >= drying[layer - 1]


def test_layers_stay_whole_where_that_costs_no_meeting(four: Plan) -> None:
    slots = timetable(four, 600)
    assert {s.meeting for s in slots} == {1}
    assert timetable(four, shortest_meeting(four))[-1].meeting > 1


def test_breaks_say_what_to_do_meanwhile(plan: Plan) -> None:
    breaks = [s for s in timetable(plan, 600) if s.title == "Break while the paper dries"]
    assert len(breaks) == plan.layers  # after each layer, as fine strokes follow the last
    for slot in breaks:
        assert slot.text.startswith("Let it dry about ")
        assert "Meanwhile mix" in slot.text  # or stir up
        assert "test strips" in slot.text


def test_masking_comes_before_the_washes_and_off_before_the_end(two: Plan) -> None:
    assert any(t.way == "masked" for t in two.touches)  # what this test is about
    slots = timetable(two, 600)
    titles = [s.title for s in slots]
    kept = titles.index("Keep the lights")
    assert titles[kept + 1 : kept + 2] in (["Masking fluid dries"], ["Mix for the lay-in"])
    assert titles.index("Take the masking fluid off") > max(
        i for i, s in enumerate(slots) if s.layer
    )
    assert "finger" not in slots[kept].text  # taking it off is told where it is done


def test_a_meeting_too_short_is_refused_with_the_length_it_takes(plan: Plan) -> None:
    needed = shortest_meeting(plan)
    assert needed % 5 == 0
    assert timetable(plan, needed)
    if needed > 30:
        with pytest.raises(RequestError, match=f"at least {needed} minutes"):
            timetable(plan, needed - 5)


@pytest.mark.parametrize("length", [0, 29, 601, -5, 10**9, True, 90.5, "90", None, math.nan])
def test_a_length_that_makes_no_sense_is_refused(four: Plan, length: object) -> None:
    with pytest.raises(RequestError, match="from 30 to 600 minutes"):
        timetable(four, length)  # type: ignore[arg-type]


def damp(plan: Plan) -> Plan:
    """The plan in air so damp that nothing dries."""
    never = Range(math.inf, math.inf, math.inf)
    old = plan.schedule.time
    layers = tuple(
        replace(t, drying=never if t.drying.high > 0 else t.drying, dry_after=never)
        for t in old.layers
    )
    return plan.told_more(schedule=replace(plan.schedule, time=replace(old, layers=layers)))


def test_where_nothing_dries_every_layer_has_its_own_meeting(four: Plan) -> None:
    slots = timetable(damp(four), 600)
    meetings = [{s.meeting for s in slots if s.layer == n and s.washes} for n in range(1, 5)]
    assert meetings == [{1}, {2}, {3}, {4}]
    assert timetable_text(slots)


def test_without_fine_strokes_the_tape_comes_off_at_home(four: Plan) -> None:
    plain = four.told_more(touches=())
    slots = timetable(plain, 600)
    assert "take the tape off" in slots[-1].text
    assert not any(s.kind in ("mask", "finish") for s in slots)


def test_a_plan_without_a_wash_is_a_morning_of_drawing(four: Plan) -> None:
    steps = tuple(() for _ in four.schedule.steps)
    bare = four.told_more(
        touches=(), washes=(), puddles=(), schedule=replace(four.schedule, steps=steps)
    )
    kinds = [s.kind for s in timetable(bare, 60)]
    assert kinds == ["set up", "outline", "look", "clear up"]


def test_rinse_water_that_asks_for_care_is_named(four: Plan) -> None:
    paint = four.paints[0]
    toxic = replace(paint.handling, hazard="toxic", hazard_elements="Cd")
    with_it = four.told_more(paints=(replace(paint, handling=toxic), *four.paints[1:]))
    assert "holds cadmium" in clearing_words(with_it, last=False)
    assert "not down the sink" in clearing_words(with_it, last=True)
    none = replace(paint.handling, hazard="none", hazard_elements=None)
    harmless = four.told_more(paints=tuple(replace(p, handling=none) for p in four.paints))
    assert "holds" not in clearing_words(harmless, last=False)


def test_the_clock_runs_from_the_start_and_past_midnight(four: Plan) -> None:
    slots = timetable(four, 90, time(23, 30))
    assert slots[0].clock == time(23, 30)
    for slot in slots:
        assert slot.clock is not None
        assert (60 * slot.clock.hour + slot.clock.minute - 23 * 60 - 30) % 1440 == slot.begin
    assert all(s.clock is None for s in timetable(four, 90))


def test_the_text_has_every_slot_and_narrow_lines(plan: Plan) -> None:
    slots = timetable(plan, 90, time(9, 0))
    text = timetable_text(slots, "A cup")
    assert text.startswith("A cup\n\nIn class ")
    minutes = sum(max(s.end for s in slots if s.meeting == m) for m in {s.meeting for s in slots})
    assert f"In class {minutes} minutes in all" in text
    assert "\n\nMeeting 1 of " in text
    assert text.count(" min  ") == len(slots)
    joined = "".join(text.split())  # lines are broken anywhere in an endless word
    for slot in slots:
        assert "".join(slot.text.split()) in joined
    assert all(
        len(line) <= 80 or " min  " in line for line in text.splitlines() if " " in line[17:]
    )


def test_a_class_is_given_the_time_of_a_slow_hand(four: Plan) -> None:
    layers = list(blocks_of(four))[1 : four.layers + 1]
    for block, told in zip(layers, four.schedule.time.layers, strict=False):
        assert sum(r.minutes for r in block.runs) >= told.painting.high


@pytest.mark.parametrize("length", LENGTHS)
def test_no_meeting_opens_with_a_wait(plan: Plan, length: int) -> None:
    slots = timetable(plan, length)
    for meeting in range(1, slots[-1].meeting + 1):
        work = [s for s in slots if s.meeting == meeting and s.kind not in ("set up", "mix")]
        assert work[0].title != "Wait for an edge to dry"
        assert not (meeting > 1 and work[0].text.startswith("Wait until"))


def test_puddles_are_mixed_once_and_stirred_up_after(plan: Plan) -> None:
    layers = list(blocks_of(plan))[1 : plan.layers + 1]
    first: dict[int, int] = {}
    for wash in plan.washes:
        first[wash.puddle] = min(first.get(wash.puddle, wash.layer), wash.layer)
    for number, block in enumerate(layers, 1):
        # Where masking fluid dries meanwhile, the mixing is told with its drying.
        mix = next((t for t in block.first if t.kind == "mix"), block.first[-1])
        new = {w.puddle for w in plan.washes_of(number) if first[w.puddle] == number}
        old = {w.puddle for w in plan.washes_of(number)} - new
        assert ("as the step sheet says" in mix.text) == bool(new)
        assert (" again, with a drop of water" in mix.text) == bool(old)


def test_every_fine_stroke_has_half_a_minute(two: Plan) -> None:
    laid = [t for t in two.touches if not t.reserved]
    assert laid  # what this test is about
    slots = timetable(two, 600)
    minutes = sum(s.minutes for s in slots if "fine stroke" in s.title and s.kind == "paint")
    assert minutes >= 0.5 * len(laid)


def test_a_meeting_with_pencil_only_speaks_of_no_paint(four: Plan) -> None:
    steps = tuple(() for _ in four.schedule.steps)
    bare = four.told_more(
        touches=(), washes=(), puddles=(), schedule=replace(four.schedule, steps=steps)
    )
    slots = timetable(bare, 60)
    assert "exercise sheets" in slots[-2].text
    assert "inse" not in slots[-1].text
    assert "values are still missing" not in " ".join(s.text for s in slots)


def test_masking_fluid_that_stays_on_between_meetings_is_told() -> None:
    on = Slot(1, 0, 15, "dry", MASK_DRYING, "words")
    off = Slot(2, 0, 5, "finish", "Tape off and sign", "words")
    told = masking_words((on, off))
    assert "from meeting 1 to meeting 2" in told
    assert "label" in told
    assert " ".join(timetable_text((on, off)).split()).count(told) == 1
    assert masking_words((replace(on, meeting=2), off)) == ""
    assert masking_words(()) == ""


def test_a_class_is_told_its_hours() -> None:
    slots = tuple(Slot(m, 0, 150, "paint", "Paint", "words") for m in (1, 2, 3))
    assert class_words(slots).startswith("A class: 3 meetings, about 7½ hours in all")
    assert class_words(slots[:1]).startswith("A class: 1 meeting, about 2½ hours in all")
    assert class_words(()) == ""
