"""What a class's own paints reach: a page for each student, and a summary for the teacher."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field

from firstwash.advice.reach import Shortfall
from firstwash.language import listed, tr
from firstwash.plan.result import Plan
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.pages import (
    Pages,
    both,
    bullets,
    heading,
    page_of,
    para,
    picture,
    soft,
    table_of,
    upper,
)  # fmt: skip

__all__ = ["StudentReach", "class_page", "class_table", "reach_page", "told_in_lines"]


@dataclass(frozen=True)
class StudentReach:
    """What one student's paints make of the subject.

    name: of the list. paints: on the palette. nearness: beside the teacher's, in words.
    short: colours that come out otherwise. help: which of the teacher's paints would help most,
    in a sentence, paint: its name, "" for none. owned: all paints of the list. fades: sentences
    on those that do not last. error: mean CIEDE2000 against the photo. wrong: why there is no
    plan, or "". file: of the student's sheets, "" for none.
    """

    name: str
    paints: tuple[str, ...] = ()
    nearness: str = ""
    short: tuple[Shortfall, ...] = field(default_factory=tuple)
    help: str = ""
    paint: str = ""
    owned: tuple[str, ...] = ()
    fades: tuple[str, ...] = ()
    error: float | None = None
    wrong: str = ""
    file: str = ""


def reach_page(reach: StudentReach, drawn: Drawn, teacher: Drawn, rights: str = "") -> Pages:
    """What the student's paints reach, beside the teacher's painting as predicted.

    rights: whose the photo is, in sentences.
    """
    own, other = drawn.stage(None), ("teacher-finished.jpg", teacher.stage(None)[1])
    shown = both(
        picture(own[0], tr("The painting as predicted with your paints"), tr("Your paints")),
        picture(other[0], tr("The teacher's painting as predicted"), tr("The teacher's paints")),
        "1fr, 1fr", "6mm",
    )  # fmt: skip
    told = [
        heading(1, tr("What your paints make of it")),
        para(tr("Your list: {paints}.", paints=listed(list(reach.owned)))) if reach.owned else "",
        *(para(words) for words in reach.fades),
        para(
            tr(
                "Planned for {paints}. The painting {nearness}.",
                paints=listed(list(reach.paints)), nearness=reach.nearness,
            )
        ),
        shown,
        para(tr("These colours come out otherwise than in the teacher's painting:"))
        if reach.short
        else para(tr("No colour comes out clearly otherwise than in the teacher's painting.")),
        bullets([f"#{soft(_short_words(one))}" for one in reach.short]),
        para(reach.help),
        para(tr("A print is no colour reference: judge by your own test strokes.")),
        para(rights),
    ]  # fmt: skip
    return page_of(told, dict([own, other]))


def _short_words(short: Shortfall) -> str:
    return tr(
        "{colour}, {share} % of the sheet: {words}.",
        colour=upper(short.colour), share=f"{max(100 * short.share, 1):.0f}", words=short.words,
    )  # fmt: skip


def told_in_lines(reached: Sequence[StudentReach]) -> list[str]:
    """A line for each student."""
    return [f"{one.name} ({one.file or '-'}): {_line(one)}" for one in reached]


def _line(one: StudentReach) -> str:
    if one.wrong:
        return one.wrong
    short = " ".join(_short_words(s) for s in one.short)
    parts = [tr("The painting {nearness}.", nearness=one.nearness), short, one.help]
    return " ".join(part for part in parts if part)


def class_page(teacher: Plan, reached: Sequence[StudentReach]) -> Pages:
    """Who can reach what, in one table."""
    heads = tr("Student"), tr("Reach"), tr("Comes out otherwise"), tr("Would help most")
    rows = []
    for one in reached:
        if one.wrong:
            rows.append([f"#{soft(f'{one.name}: {one.wrong}')}"])
            continue
        short = " ".join(_short_words(s) for s in one.short[:2]) or tr("Nothing that shows.")
        told = (
            f"{one.name} ({one.file})",
            one.nearness,
            short,
            one.paint or tr("None of the teacher's"),
        )
        rows.append([f"#{soft(text)}" for text in told])
    names = listed([p.name for p in teacher.paints])
    return page_of(
        [
            heading(1, tr("Who can reach what")),
            para(tr("The teacher's paints: {paints}.", paints=names)),
            f"#[\n#set text(10pt)\n{table_of(heads, '0.9fr, 1.1fr, 1.6fr, 1.4fr', rows)}\n]",
            para(
                tr(
                    "Predicted from the paints as they are known, most of them estimated: a guide "
                    "to who needs another paint or a simpler picture, and no mark."
                )
            ),
        ]
    )


def class_table(reached: Sequence[StudentReach]) -> str:
    """The same as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["student", "file", "paints", "mean CIEDE2000", "reach", "comes out otherwise", "help"]
    )
    for one in reached:
        error = "" if one.error is None else f"{one.error:.2f}"
        short = " ".join(_short_words(s) for s in one.short)
        row = [
            one.name,
            one.file,
            ", ".join(one.paints),
            error,
            one.wrong or one.nearness,
            short,
            one.help,
        ]
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue()


def _plain(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell
