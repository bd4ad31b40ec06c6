"""Timetable and captions on pages: every slot and caption told once, inside the margins."""

from datetime import time

import pytest
from tests.pdf_tables import faults
from tests.sheets.plans import assert_inside, read_back, squeezed

from firstwash.pack.captions import captions
from firstwash.pack.timetable import shortest_meeting, timetable, when_words
from firstwash.pack.timetable_page import captions_page, timetable_page
from firstwash.plan.result import Plan
from firstwash.sheets.pages import Pages
from firstwash.sheets.typeset import Page, PageName, typeset


def told_of(pages: Pages, name: PageName = "A4") -> str:
    pdf = typeset(pages.source, pages.files, title="T", page=Page(name))
    assert faults(pdf) == []
    read = read_back(pdf)
    assert_inside(read, name)
    return "".join(page.letters for page in read)


@pytest.mark.parametrize("name", ["A4", "Letter"])
def test_every_slot_is_told(plan: Plan, name: PageName) -> None:
    slots = timetable(plan, max(60, shortest_meeting(plan)))
    told = told_of(timetable_page(slots), name)
    for slot in slots:
        row = f"{when_words(slot)} {slot.minutes} {slot.title} {slot.text}"
        assert squeezed(row) in told
    drying = sum(slot.minutes for slot in slots if slot.kind == "dry")
    assert (f"with{drying}minutesofdrying" in told) == (drying > 0)
    for number in {slot.meeting for slot in slots}:
        assert f"Meeting{number}of{slots[-1].meeting}:" in told


def test_clock_times_take_the_place_of_minutes_gone(four: Plan) -> None:
    minutes = max(150, shortest_meeting(four))
    with_clock = told_of(timetable_page(timetable(four, minutes, time(9, 30))))
    without = told_of(timetable_page(timetable(four, minutes)))
    assert "AtMinutes" in with_clock
    assert "9:30" in with_clock
    assert "AfterMinutes" in without
    assert "0:00" in without


def test_no_timetable_is_refused() -> None:
    with pytest.raises(ValueError, match="at least"):
        timetable_page(())


def test_every_caption_is_told(plan: Plan) -> None:
    own = captions(plan)
    told = told_of(captions_page(own), "Letter")
    for caption in own:
        assert squeezed(caption.short) in told
        assert squeezed(caption.text) in told


def test_the_same_plan_gives_the_same_bytes(two: Plan) -> None:
    slots = timetable(two, max(150, shortest_meeting(two)))
    assert timetable_page(slots) == timetable_page(slots)
