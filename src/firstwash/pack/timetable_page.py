"""The class's timetable and the captions as pages of the book."""

from collections.abc import Sequence

from firstwash.language import tr, tr_count
from firstwash.pack.captions import Caption
from firstwash.pack.timetable import (
    Slot,
    in_all_words,
    masking_words,
    meeting_words,
    when_words,
)  # fmt: skip
from firstwash.sheets.pages import (
    Pages,
    heading,
    note,
    page_of,
    para,
    soft,
    stacked,
    strong,
    table_of,
)

__all__ = ["captions_page", "timetable_page"]


def timetable_page(slots: Sequence[Slot]) -> Pages:
    """A timetable, one table for each meeting; slots: from `timetable`, one at least.

    Raises ValueError for none.
    """
    if not slots:
        raise ValueError("slots: a timetable has one at least")
    meetings = max(slot.meeting for slot in slots)
    drying = sum(slot.minutes for slot in slots if slot.kind == "dry")
    told = [
        heading(1, tr("Timetable")),
        para(f"{_length(meetings, drying)} {in_all_words(slots)}"),
        para(
            tr(
                "Painting and mixing are counted for slow hands. A meeting ends only where the "
                "paper may dry alone."
            )
        ),
        para(masking_words(slots)),
    ]
    for number in range(1, meetings + 1):
        own = [slot for slot in slots if slot.meeting == number]
        told.append(_meeting(number, meetings, own))
    return page_of(told)


def _length(meetings: int, drying: int) -> str:
    count = tr_count("{count} meeting", "{count} meetings", meetings)
    if not drying:
        return tr("{meetings}, without a drying break.", meetings=count)
    return tr_count(
        "{meetings}, with {count} minute of drying.",
        "{meetings}, with {count} minutes of drying.",
        drying,
        meetings=count,
    )


def _meeting(number: int, meetings: int, slots: Sequence[Slot]) -> str:
    title = meeting_words(number, meetings, slots[-1].end)
    heads = (tr("At") if slots[0].clock else tr("After"), tr("Minutes"), tr("What is done"))
    rows = [
        (
            strong(when_words(slot)),
            f"#{soft(str(slot.minutes))}",
            stacked([strong(slot.title), f"#par[#{soft(slot.text)}]"], "1.8mm"),
        )
        for slot in slots
    ]
    return f"{heading(2, title)}\n\n{table_of(heads, '13mm, 17mm, 1fr', rows)}"


def captions_page(captions: Sequence[Caption]) -> Pages:
    """What to say with each picture, and how long that takes."""
    heads = (tr("Picture"), tr("What to say"), tr("Seconds"))
    rows = [
        (
            note(caption.image),
            stacked([strong(caption.short), f"#par[#{soft(caption.text)}]"], "1.8mm"),
            f'#"{caption.seconds:.0f}"',
        )
        for caption in captions
    ]
    told = [
        heading(1, tr("To say with each picture")),
        para(tr("For a video, a talk or a post; the pictures are those for a screen.")),
        table_of(heads, "20mm, 1fr, 17mm", rows),
    ]
    return page_of(told)
