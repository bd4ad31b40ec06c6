"""A class with paints of their own: the same subject planned again for every student's list.

Each list is worked on in a process of its own, as many at a time as there are cores.
"""

import multiprocessing
import os
from collections.abc import Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import replace
from pathlib import Path
from typing import Final

from pebble import ProcessPool

from firstwash.advice.reach import nearness_words, shortfalls
from firstwash.errors import FirstwashError, RequestError
from firstwash.language import Texts, speaking, tr, tr_count
from firstwash.pack.class_sheets import (
    StudentReach,
    class_page,
    class_table,
    reach_page,
    told_in_lines,
)  # fmt: skip
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
from firstwash.sheets.front import Cover, outline_page, rights_words, values_page
from firstwash.sheets.glossary import glossary_page
from firstwash.sheets.lasting import fading_words
from firstwash.sheets.measures import measures_page
from firstwash.sheets.pages import flowing, joined
from firstwash.sheets.step import steps_pages
from firstwash.sheets.strips import strip_pages
from firstwash.sheets.supplies import supplies_pages
from firstwash.sheets.typeset import Page, typeset
from firstwash.store.whole_folder import marked, own_files, writable, write_whole
from firstwash.usecases import PhotoPlan, open_plan
from firstwash.usecases_handout import HandoutWishes, chosen_texts, foot_words, page_language

__all__ = ["StudentReach", "find_lists", "plan_for_set", "students_handout"]

HEAD: Final = "firstwash students' sheets"
MARK: Final = "students.txt"
MOST_LISTS: Final = 200
LONGEST: Final = 60  # letters of a name that are printed


def find_lists(source: str | Path) -> dict[str, str]:
    """Lists of paints by students' names: a folder's text files, one file, or a set's name.

    Raises RequestError for a folder without lists or with too many, and for what is not there.
    """
    if isinstance(source, str) and source in set_names():
        return {source: source}
    path = Path(source)
    if path.is_file():
        return {_shown(path.stem): str(path)}
    if not path.is_dir():
        sets = ", ".join(set_names())
        raise RequestError(f"There is no {path}; name a folder of lists, a list, or one of {sets}.")
    files = [f for f in sorted(path.iterdir()) if f.suffix.lower() == ".txt" and f.is_file()]
    if not files:
        raise RequestError(f"{path} holds no lists of paints; put one text file there per student.")
    if len(files) > MOST_LISTS:
        raise RequestError(f"{path} holds more than {MOST_LISTS} lists; make it in parts.")
    found: dict[str, str] = {}
    for file in files:
        name, n = _shown(file.stem), 2
        while name in found:
            name, n = f"{_shown(file.stem)} ({n})", n + 1
        found[name] = str(file)
    return found


def _shown(name: str) -> str:
    """A file's name as it can be printed; what is no text in it, as some disks allow, as "?"."""
    return "".join(c if c.isprintable() else "?" for c in name)[:LONGEST] or "?"


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
        paint=more[0].paint.name if more else "",
        owned=tuple(p.name for p in chest.owned),
        fades=tuple(fading_words(chest.owned)),
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
    target = writable(out, own_files(out, MARK, HEAD), marked(MARK, HEAD))
    found, texts = find_lists(lists), chosen_texts(asked)
    teacher = open_plan(folder)
    with speaking(texts):
        made = _in_processes(folder, found, asked, texts, progress)
        books: dict[str, bytes] = {}
        reached = []
        for name in found:
            reach, book = made[name]
            file = _file(name, books) if book else ""
            books |= {file: book} if book else {}
            reached.append(replace(reach, name=name, file=file))
        if not books:
            raise RequestError(reached[0].wrong)
        files = books | _summary(teacher.plan, reached, books, asked)
    write_whole(out, target, sorted(files.items()))
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
    folder: Path, lists: Mapping[str, str], asked: HandoutWishes, texts: Texts, progress: Progress
) -> dict[str, tuple[StudentReach, bytes]]:
    """Every student's reach and book, by name; a progress that raises stops all of them."""
    workers = max(1, min(len(lists), os.cpu_count() or 1))
    progress(tr_count("Planning for {count} student", "Planning for {count} students", len(lists)),
             0.0)  # fmt: skip
    done: dict[str, tuple[StudentReach, bytes]] = {}
    # Spawned, not forked: threads of this process hold locks that a fork would keep closed.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPool(max_workers=workers, context=context)
    try:
        work: dict[Future[tuple[StudentReach, bytes]], str] = {
            pool.schedule(_one, args=(folder, name, paints, asked, texts)): name
            for name, paints in lists.items()
        }
        left = set(work)
        while left:
            ready, left = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
            done |= {work[one]: _result(work[one], one) for one in ready}
            names = ", ".join(sorted(work[one] for one in ready))
            progress(names or tr("Planning"), len(done) / len(work))
        pool.close()  # type: ignore[no-untyped-call]
    except BaseException:
        pool.stop()  # type: ignore[no-untyped-call]
        raise
    finally:
        pool.join()
    return done


def _result(name: str, work: Future[tuple[StudentReach, bytes]]) -> tuple[StudentReach, bytes]:
    """What became of one student; whatever went wrong stops nobody else."""
    try:
        return work.result()
    except Exception as error:
        why = tr("could not be planned ({what})", what=type(error).__name__)
        return StudentReach(name, wrong=why), b""


def _one(
    folder: Path, name: str, paints: str, asked: HandoutWishes, texts: Texts
) -> tuple[StudentReach, bytes]:
    """One student's reach and book; a list that makes no plan is told, not raised."""
    with speaking(texts):
        try:
            planned = open_plan(folder)
            plan, reach = plan_for_set(planned, paints)
            reach = replace(reach, name=name)
            return reach, _book(plan, planned, reach, replace(asked, texts=texts))
        except FirstwashError as error:
            return StudentReach(name, wrong=str(error)), b""


def _book(plan: Plan, planned: PhotoPlan, reach: StudentReach, asked: HandoutWishes) -> bytes:
    drawn, lesson, sheet = Drawn(plan), asked.lesson, plan.sheet
    cover = Cover(
        lesson.title or tr("Lesson"), lesson.teacher, lesson.licence,
        lesson.photo_author, lesson.photo_source, lesson.photo_permission,
    )  # fmt: skip
    pages = joined(
        [
            reach_page(reach, drawn, Drawn(planned.plan), rights_words(cover)),
            exercise_pages(plan, planned.reference, drawn),
            values_page(plan, planned.reference),
            outline_page(drawn.outline(), sheet.width_mm / sheet.height_mm),
            steps_pages(plan, drawn),
            supplies_pages(plan),
            strip_pages(plan),
            flowing(measures_page()),
        ]
    )
    pages = joined([pages, flowing(glossary_page(pages.source))])
    foot = foot_words(lesson.title, reach.name, lesson.licence)
    page = Page(lesson.page, foot=foot, language=page_language(asked))
    title = tr("{title}: sheets for {name}", title=lesson.title or tr("Lesson"), name=reach.name)
    return typeset(pages.source, pages.files, title=title, page=page)


# --- the class -------------------------------------------------------------------


def _summary(
    teacher: Plan,
    reached: Sequence[StudentReach],
    books: Mapping[str, bytes],
    asked: HandoutWishes,
) -> dict[str, bytes]:
    lesson = asked.lesson
    page = Page(lesson.page, foot=foot_words(lesson.title), language=page_language(asked))
    pages = class_page(teacher, reached)
    title = tr("{title}: who can reach what", title=lesson.title or tr("Lesson"))
    made = {
        "students.csv": class_table(reached).encode(),
        "students.pdf": typeset(pages.source, pages.files, title=title, page=page),
    }
    own = sorted([*books, *made])  # the list of what is ours ends the file
    return made | {MARK: "\n".join([HEAD, "", *told_in_lines(reached), "", *own, ""]).encode()}
