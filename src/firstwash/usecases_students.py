"""A class with paints of their own: the same subject planned again for every student's list.

Each list is worked on in a process of its own, as many at a time as there are cores.
"""

import csv
import io
import multiprocessing
import os
from collections.abc import Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from firstwash.advice.reach import Shortfall, nearness_words, shortfalls
from firstwash.errors import FirstwashError, RequestError
from firstwash.language import ENGLISH, listed, speaking, texts_for, tr
from firstwash.pack.zip import plain_name
from firstwash.paints.catalogue import set_names
from firstwash.paints.shelf import load_shelf
from firstwash.plan.chest import open_chest
from firstwash.plan.one_more import PaintMore, paints_more
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.replan import replan
from firstwash.plan.result import Plan
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.exercise import exercise_pages
from firstwash.sheets.pages import (
    Pages,
    both,
    bullets,
    heading,
    joined,
    page_of,
    para,
    picture,
    soft,
    table_of,
    upper,
)  # fmt: skip
from firstwash.sheets.step import steps_pages
from firstwash.sheets.strips import strip_pages
from firstwash.sheets.supplies import supplies_pages
from firstwash.sheets.typeset import Page, typeset
from firstwash.store.whole_folder import writable, write_whole
from firstwash.usecases import PhotoPlan, open_plan
from firstwash.usecases_handout import HandoutWishes

__all__ = ["StudentReach", "find_lists", "plan_for_set", "students_handout"]

HEAD: Final = "firstwash students' sheets"
MARK: Final = "students.txt"
PATTERNS: Final = (MARK, "students.csv", "students.pdf", "*.pdf")
MOST_LISTS: Final = 200


@dataclass(frozen=True)
class StudentReach:
    """What one student's paints make of the subject.

    name: of the list. paints: on the palette. nearness: beside the teacher's, in words.
    short: colours that come out otherwise. help: which of the teacher's paints would help most,
    "" for none. error: mean CIEDE2000 against the photo. wrong: why there is no plan, or "".
    """

    name: str
    paints: tuple[str, ...] = ()
    nearness: str = ""
    short: tuple[Shortfall, ...] = field(default_factory=tuple)
    help: str = ""
    error: float | None = None
    wrong: str = ""


def find_lists(source: str | Path) -> dict[str, str]:
    """Lists of paints by students' names: a folder's text files, one file, or a set's name.

    Raises RequestError for a folder without lists or with too many.
    """
    if isinstance(source, str) and source in set_names():
        return {source: source}
    path = Path(source)
    if not path.is_dir():
        return {path.stem: str(path)}
    found = {file.stem: str(file) for file in sorted(path.glob("*.txt")) if file.is_file()}
    if not found:
        raise RequestError(f"{path} holds no lists of paints; put one text file there per student.")
    if len(found) > MOST_LISTS:
        raise RequestError(f"{path} holds more than {MOST_LISTS} lists; make it in parts.")
    return found


def plan_for_set(
    planned: PhotoPlan, paints: str | Path, progress: Progress = no_progress
) -> tuple[Plan, StudentReach]:
    """The subject planned again on the same drawing with a list's paints, and how near it comes.

    Raises PaintError or RequestError for a list that makes no plan.
    """
    teacher = planned.plan
    shelf = load_shelf(paints)
    # The teacher's own say about paints is not the student's.
    asked = replace(teacher.limits, ban=(), prefer=(), caps=(), hours=None)
    chest = open_chest(shelf, asked)
    plan = replan(teacher, planned.reference, chest.limits, owned=chest.choice, progress=progress)
    new = [p for p in teacher.paints if p.key not in {q.key for q in chest.owned}]
    more = paints_more(plan, planned.reference, chest.owned, new, 1) if new else ()
    return plan, StudentReach(
        name=shelf.box.name,
        paints=tuple(p.name for p in plan.paints),
        nearness=nearness_words(plan, teacher),
        short=shortfalls(plan, teacher),
        help=_help(more[0]) if more else "",
        error=plan.report.against_photo.mean,
    )


def _help(more: PaintMore) -> str:
    return tr("Of the teacher's paints, {paint} would help most.", paint=more.paint.name)


def students_handout(
    folder: Path, lists: str | Path, out: Path, wishes: HandoutWishes | None = None,
    progress: Progress = no_progress,
) -> tuple[StudentReach, ...]:  # fmt: skip
    """Sheets for every student of a class, and a summary, written whole to `out`.

    folder: of the teacher's plan. Each student gets one PDF: what their paints reach, sheets with
    the answers left out, then steps, supplies and test strips for their own paints. A list that
    makes no plan is told in the summary; the others are made.
    """
    asked = wishes or HandoutWishes()
    target = writable(out, PATTERNS, _holds)
    found = find_lists(lists)
    teacher = open_plan(folder)
    files: dict[str, bytes] = {}
    reached: list[StudentReach] = []
    for name, (reach, book) in sorted(_in_processes(folder, found, asked, progress).items()):
        reached.append(replace(reach, name=name))
        if book:
            files[_file(name, files)] = book
    texts = asked.texts if asked.texts is not ENGLISH else texts_for(asked.lesson.language)
    with speaking(texts):
        files |= _summary(teacher.plan, reached, asked)
    write_whole(out, target, iter(sorted(files.items())))
    return tuple(reached)


def _file(name: str, taken: Mapping[str, bytes]) -> str:
    stem = plain_name(name)
    stem = f"{stem}-list" if stem == "students" else stem  # the summary's own name
    file, n = f"{stem}.pdf", 2
    while file in taken:
        file, n = f"{stem}-{n}.pdf", n + 1
    return file


# --- one student -----------------------------------------------------------------


def _in_processes(
    folder: Path, lists: Mapping[str, str], asked: HandoutWishes, progress: Progress
) -> dict[str, tuple[StudentReach, bytes]]:
    """Every student's reach and book, by name; a progress that raises stops the work."""
    workers = max(1, min(len(lists), os.cpu_count() or 1))
    progress(tr("Planning for {count} students", count=len(lists)), 0.0)
    done: dict[str, tuple[StudentReach, bytes]] = {}
    # Spawned, not forked: threads of this process hold locks that a fork would keep closed.
    context = multiprocessing.get_context("spawn")
    plain = replace(asked, texts=ENGLISH)
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        told = asked.texts if asked.texts is not ENGLISH else None
        work = {
            pool.submit(_one, folder, name, paints, plain, told): name
            for name, paints in lists.items()
        }
        left = set(work)
        try:
            while left:
                ready, left = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
                done |= {work[one]: one.result() for one in ready}
                names = ", ".join(sorted(work[one] for one in ready))
                progress(names or tr("Planning"), len(done) / len(work))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return done


def _one(
    folder: Path, name: str, paints: str, asked: HandoutWishes, texts: object
) -> tuple[StudentReach, bytes]:
    """One student's reach and book; a list that makes no plan is told, not raised."""
    own = texts if texts is not None else texts_for(asked.lesson.language)
    with speaking(own):  # type: ignore[arg-type]
        try:
            planned = open_plan(folder)
            plan, reach = plan_for_set(planned, paints)
            reach = replace(reach, name=name)
            return reach, _book(plan, planned, reach, asked)
        except FirstwashError as error:
            return StudentReach(name, wrong=str(error)), b""


def _book(plan: Plan, planned: PhotoPlan, reach: StudentReach, asked: HandoutWishes) -> bytes:
    drawn = Drawn(plan)
    pages = joined(
        [
            _reach_page(reach, drawn, Drawn(planned.plan)),
            exercise_pages(plan, planned.reference, drawn),
            steps_pages(plan, drawn),
            supplies_pages(plan),
            strip_pages(plan),
        ]
    )
    lesson = asked.lesson
    foot = ", ".join(part for part in (lesson.title, reach.name, lesson.licence) if part)
    page = Page(lesson.page, foot=foot, language=lesson.language)
    title = tr("{title}: sheets for {name}", title=lesson.title or tr("Lesson"), name=reach.name)
    return typeset(pages.source, pages.files, title=title, page=page)


def _reach_page(reach: StudentReach, drawn: Drawn, teacher: Drawn) -> Pages:
    """What the student's paints reach, beside the teacher's painting as predicted."""
    own, other = drawn.stage(None), ("teacher-finished.jpg", teacher.stage(None)[1])
    shown = both(
        picture(own[0], tr("The painting as predicted with your paints"), tr("Your paints")),
        picture(other[0], tr("The teacher's painting as predicted"), tr("The teacher's paints")),
        "1fr, 1fr", "6mm",
    )  # fmt: skip
    told = [
        heading(1, tr("What your paints make of it")),
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
    ]  # fmt: skip
    return page_of(told, dict([own, other]))


def _short_words(short: Shortfall) -> str:
    return tr(
        "{colour}, {share} % of the sheet: {words}.",
        colour=upper(short.colour), share=f"{max(100 * short.share, 1):.0f}", words=short.words,
    )  # fmt: skip


# --- the class -------------------------------------------------------------------


def _summary(
    teacher: Plan, reached: Sequence[StudentReach], asked: HandoutWishes
) -> dict[str, bytes]:
    lesson = asked.lesson
    page = Page(lesson.page, foot=lesson.title, language=lesson.language)
    pages = _class_page(teacher, reached)
    title = tr("{title}: who can reach what", title=lesson.title or tr("Lesson"))
    return {
        MARK: "\n".join([HEAD, "", *_told(reached), ""]).encode(),
        "students.csv": _table(reached).encode(),
        "students.pdf": typeset(pages.source, pages.files, title=title, page=page),
    }


def _told(reached: Sequence[StudentReach]) -> list[str]:
    return [f"{one.name}: {_line(one)}" for one in reached]


def _line(one: StudentReach) -> str:
    if one.wrong:
        return one.wrong
    short = " ".join(_short_words(s) for s in one.short)
    parts = [tr("The painting {nearness}.", nearness=one.nearness), short, one.help]
    return " ".join(part for part in parts if part)


def _class_page(teacher: Plan, reached: Sequence[StudentReach]) -> Pages:
    heads = tr("Student"), tr("Reach"), tr("Comes out otherwise"), tr("Would help most")
    rows = []
    for one in reached:
        if one.wrong:
            rows.append([f"#{soft(f'{one.name}: {one.wrong}')}"])
            continue
        short = " ".join(_short_words(s) for s in one.short[:2]) or tr("Nothing that shows.")
        told = one.name, one.nearness, short, one.help or tr("None of the teacher's.")
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


def _table(reached: Sequence[StudentReach]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["student", "paints", "mean CIEDE2000", "reach", "comes out otherwise", "help"])
    for one in reached:
        error = "" if one.error is None else f"{one.error:.2f}"
        short = " ".join(_short_words(s) for s in one.short)
        row = [one.name, ", ".join(one.paints), error, one.wrong or one.nearness, short, one.help]
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue()


def _plain(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def _holds(folder: Path) -> bool:
    file = folder / MARK
    return file.is_file() and file.read_bytes()[: len(HEAD)] == HEAD.encode()
