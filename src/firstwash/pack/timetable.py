"""A class's timetable: what is done when, with what to do while the paper dries.

A class goes at the pace of its slowest hands, so painting and mixing take the slow end of the
plan's times, drying the middle. Meetings are cut where the paper may dry alone: between layers if
a layer fits into a meeting, else between washes that need not be wet together. No meeting ends
with a wash half laid.
"""

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import time
from typing import Final

from firstwash.errors import RequestError
from firstwash.language import tr, tr_count
from firstwash.pack.timetable_tasks import Block, Kind, Task, after_pause, stirring
from firstwash.pack.timetable_work import MASK_DRYING, blocks_of, clearing_words
from firstwash.plan.result import Plan

__all__ = [
    "Slot",
    "class_words",
    "in_all_words",
    "masking_words",
    "meeting_words",
    "shortest_meeting",
    "timetable",
    "timetable_text",
    "when_words",
]

SET_UP: Final = 15.0  # minutes: boards, tape, water, paper towels, a word about the day
LAY_OUT: Final = 10.0  # the same again, in a later meeting
CLEAR_UP: Final = 10.0
LOOK: Final = 15.0  # at most, at the end of a meeting that has time left
LEAST_LOOK: Final = 5.0
THINK: Final = 40.0  # at most, of a meeting in which nothing is painted yet
# All: common practice, no source.
LIMITS: Final = (30, 600)  # minutes of a meeting
DAY: Final = 24 * 60
INDENT: Final = " " * 17  # of the text form, under the title


@dataclass(frozen=True)
class Slot:
    """A stretch of time of a meeting (1 …).

    begin, minutes: whole minutes from the meeting's start, and how long. clock: the time of day,
    if a start was given. title: in a few words; text: what to do. layer: that it belongs to, or
    None. washes: numbers of the layer's washes that are laid in it.
    """

    meeting: int
    begin: int
    minutes: int
    kind: Kind
    title: str
    text: str
    layer: int | None = None
    washes: tuple[int, ...] = ()
    clock: time | None = None

    @property
    def end(self) -> int:
        """Minutes from the meeting's start."""
        return self.begin + self.minutes


def timetable(
    plan: Plan, meeting_minutes: int = 150, start: time | None = None
) -> tuple[Slot, ...]:
    """What a class does when, over as many meetings as it takes.

    meeting_minutes: 30 to 600, clearing up included. start: of every meeting, or None.
    Raises RequestError where some washes must be wet together for longer than a meeting lasts;
    it says how long one must be.
    """
    low, high = LIMITS
    whole = isinstance(meeting_minutes, int) and not isinstance(meeting_minutes, bool)
    if not whole or not low <= meeting_minutes <= high:
        raise RequestError(f"A meeting lasts from {low} to {high} minutes; choose a length there.")
    needed = shortest_meeting(plan)
    if meeting_minutes < needed:
        raise RequestError(
            f"A meeting of {meeting_minutes} minutes is too short for the washes that must be wet "
            f"together; plan meetings of at least {needed} minutes, or a smaller sheet."
        )
    # Layers are kept whole unless parting one saves a meeting.
    found = [_filled(plan, meeting_minutes, parted) for parted in (False, True)]
    best = min(found, key=lambda slots: slots[-1].meeting)
    return tuple(_timed(slot, start) for slot in best)


def _filled(plan: Plan, length: int, parted: bool) -> list[Slot]:
    days = _Days(plan, length, parted)
    for block in blocks_of(plan):
        days.add(block)
    days.close(last=True)
    return days.slots


def shortest_meeting(plan: Plan) -> int:
    """Minutes a meeting must last at least for this plan; a whole five."""
    longest = max((block.longest for block in blocks_of(plan)), default=0.0)
    return max(5 * math.ceil((SET_UP + longest + CLEAR_UP) / 5.0 - 1e-9), LIMITS[0])


def _timed(slot: Slot, start: time | None) -> Slot:
    if start is None:
        return slot
    now = (60 * start.hour + start.minute + slot.begin) % DAY
    return replace(slot, clock=time(now // 60, now % 60))


class _Days:
    """Meetings being filled, one after the other. parted: whether layers may be cut at will."""

    def __init__(self, plan: Plan, length: int, parted: bool) -> None:
        self.plan, self.length, self.parted = plan, length, parted
        self.slots: list[Slot] = []
        self.meeting, self.now = 0, 0.0
        self.wet = self.painted = False  # in this meeting; in any
        self.begin()

    # --- filling -------------------------------------------------------------

    def add(self, block: Block) -> None:
        """A block whole in this meeting, whole in the next, or run by run."""
        if not self.fits_here(block):
            self.close()
            self.begin()
        fresh = self.now <= self.opening()
        for task in block.first if fresh else block.follow:
            self.put(task)
        for number, run in enumerate(block.runs):
            self.put_run(block, number, run)

    def fits_here(self, block: Block) -> bool:
        """Whether a block is begun in this meeting: whole, or in part where that is allowed."""
        if self.now <= self.opening():
            return True
        before = sum(task.minutes for task in block.follow)
        if self.fits(before + block.minutes):
            return True
        parts = self.parted or not block.first  # an outline is no layer
        return parts and self.fits(before + block.runs[0].minutes)

    def put_run(self, block: Block, number: int, run: Task) -> None:
        """A run after its pause, in this meeting or at the start of the next."""
        whole = after_pause(run)
        if self.fits(sum(task.minutes for task in whole)):
            for task in whole:
                self.put(task)
            return
        self.close()
        self.begin()
        for task in stirring(self.next_ones(block.runs[number:])):
            self.put(task)
        self.put(run)  # what it waited for has dried between the meetings

    def next_ones(self, runs: Sequence[Task]) -> Sequence[Task]:
        """As many of the runs as this meeting has time for, their puddles stirred: at least one."""
        last = 1
        for count in range(2, len(runs) + 1):
            before = sum(t.minutes for t in stirring(runs[:count]))
            pauses = sum(r.pause.minutes for r in runs[1:count] if r.pause is not None)
            if self.fits(before + pauses + sum(r.minutes for r in runs[:count])):
                last = count
        return runs[:last]

    # --- meetings ------------------------------------------------------------

    def opening(self) -> float:
        """Minutes that this meeting's setting up takes."""
        return SET_UP if self.meeting == 1 else LAY_OUT

    def fits(self, minutes: float) -> bool:
        """Whether so many minutes more leave time for clearing up."""
        return self.now + minutes <= self.length - CLEAR_UP + 1e-9

    def begin(self) -> None:
        """The next meeting."""
        self.meeting, self.now = self.meeting + 1, 0.0
        self.wet = False
        if self.meeting == 1:
            text = tr("Tape the paper down; two jars of water, a rag and brushes for everyone.")
        elif not self.painted:
            text = tr("Lay everything out: boards, two jars of water, a rag and brushes.")
        else:
            text = tr(
                "Lay everything out again. Feel with the back of the hand that the paper is dry."
            )
        self.put(Task("set up", tr("Set up"), text, self.opening()))

    def close(self, last: bool = False) -> None:
        """Look at the work if there is time, and clear up."""
        left = self.length - CLEAR_UP - self.now
        if left >= LEAST_LOOK:
            self.put(self.looking(left, last))
        words = clearing_words(self.plan, last, self.wet)
        self.put(Task("clear up", tr("Clear up"), words, CLEAR_UP))

    def looking(self, left: float, last: bool) -> Task:
        """What is done with the rest of a meeting: the work looked at, or thought of."""
        if self.painted:
            return Task("look", tr("Look at the work"), _look_words(last), min(left, LOOK))
        text = tr(
            "Check the drawing against the reference: the big shapes, their angles, what lies "
            "under what. Then shade the value sketch and fill in the exercise sheets."
        )
        return Task("look", tr("Check the drawing, think the painting through"), text,
                    min(left, THINK))  # fmt: skip

    def put(self, task: Task) -> None:
        """A task now; one that goes on with the last slot makes it longer."""
        self.wet |= task.kind in ("mix", "paint", "mask")
        self.painted |= task.kind == "paint"
        begin, minutes = round(self.now), round(task.minutes)
        self.now = begin + minutes
        last = self.slots[-1] if self.slots else None
        if last is not None and last.meeting == self.meeting and last.text == task.text:
            self.slots[-1] = replace(last, minutes=last.minutes + minutes)
            return
        told = (task.kind, task.title, task.text, task.layer, task.washes)
        self.slots.append(Slot(self.meeting, begin, minutes, *told))


def _look_words(last: bool) -> str:
    if last:
        return tr("Put the paintings side by side, step back, and squint: what reads first?")
    return tr(
        "Stand the boards up and step back. Squint: which values are still missing? Leave the "
        "boards flat to dry until next time."
    )


def timetable_text(slots: Sequence[Slot], title: str = "") -> str:
    """The timetable as plain text, a heading for each meeting, one paragraph for each slot."""
    lines = [title.strip(), ""] if title.strip() else []
    meetings = max((s.meeting for s in slots), default=0)
    if slots:
        lines += [in_all_words(slots), *textwrap.wrap(masking_words(slots), 80), ""]
    for number in range(1, meetings + 1):
        own = [s for s in slots if s.meeting == number]
        length = own[-1].end
        lines += [meeting_words(number, meetings, length), ""]
        lines += [_slot_lines(s) for s in own]
        lines.append("")
    return "\n".join(lines)


def in_all_words(slots: Sequence[Slot]) -> str:
    """How long all meetings are together: "In class 538 minutes in all: 9 hours."."""
    minutes = sum(max(s.end for s in slots if s.meeting == m) for m in {s.meeting for s in slots})
    return tr(
        "In class {minutes} minutes in all, about {hours} hours.",
        minutes=minutes, hours=_hours(minutes),
    )  # fmt: skip


def masking_words(slots: Sequence[Slot]) -> str:
    """What to mind where masking fluid stays on the paper from one meeting to another; or "".

    It comes off when all is dry, in the last meeting.
    """
    on = [s.meeting for s in slots if s.title == tr(MASK_DRYING)]
    last = max((s.meeting for s in slots), default=0)
    if not on or min(on) == last:
        return ""
    return tr(
        "Masking fluid stays on from meeting {first} to meeting {last}: if that is longer than its "
        "label allows, commonly hours to a day, paint round those lights instead.",
        first=min(on),
        last=last,
    )


def class_words(slots: Sequence[Slot]) -> str:
    """How long a class takes, for whoever reads of one painter's hours too; "" for no slots."""
    meetings = {s.meeting for s in slots}
    if not meetings:
        return ""
    minutes = sum(max(s.end for s in slots if s.meeting == m) for m in meetings)
    return tr_count(
        "A class: {count} meeting, about {hours} hours in all, at the pace of slow hands, with "
        "drawing, setting up, looking and clearing up.",
        "A class: {count} meetings, about {hours} hours in all, at the pace of slow hands, with "
        "drawing, setting up, looking and clearing up.",
        len(meetings),
        hours=_hours(minutes),
    )


def _hours(minutes: int) -> str:
    """Hours to the half, as people write them: "8½"."""
    whole, half = divmod(max(round(minutes / 30.0), 1), 2)
    return f"{whole or ''}{'½' * half}"


def meeting_words(number: int, meetings: int, minutes: int) -> str:
    """A meeting's heading: "Meeting 1 of 4: 150 minutes"."""
    return tr_count(
        "Meeting {number} of {meetings}: {count} minute",
        "Meeting {number} of {meetings}: {count} minutes",
        minutes,
        number=number,
        meetings=meetings,
    )


def _slot_lines(slot: Slot) -> str:
    text = textwrap.fill(slot.text, 80, initial_indent=INDENT, subsequent_indent=INDENT)
    return f"{when_words(slot):>6}  {slot.minutes:3d} min  {slot.title}\n{text}"


def when_words(slot: Slot) -> str:
    """When a slot begins: its clock, or hours and minutes from the start of the meeting."""
    if slot.clock is not None:
        return f"{slot.clock.hour}:{slot.clock.minute:02d}"
    return f"{slot.begin // 60}:{slot.begin % 60:02d}"
