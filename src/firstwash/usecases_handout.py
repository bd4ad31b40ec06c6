"""A plan's hand-out: outline, step sheets, supplies, a whole lesson's pack, in one folder."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from firstwash.errors import RequestError
from firstwash.language import ENGLISH, Texts, read_texts, speaking, texts_for, tr
from firstwash.pack.answers_page import answers_page
from firstwash.pack.captions import captions, captions_text
from firstwash.pack.colours import colour_list, colour_list_csv
from firstwash.pack.layered import layered_image
from firstwash.pack.settings import Lesson, permission_warning, read_lesson
from firstwash.pack.stages import paint_stages
from firstwash.pack.step_images import step_images
from firstwash.pack.timetable import (
    class_words,
    shortest_meeting,
    timetable,
    timetable_text,
)  # fmt: skip
from firstwash.pack.timetable_page import captions_page, timetable_page
from firstwash.pack.zip import pack_zip, plain_name
from firstwash.parallel import in_parallel
from firstwash.plan.problem import Progress, no_progress
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.exercise import exercise_pages
from firstwash.sheets.front import (
    Cover,
    cover_page,
    reference_page,
    rights_words,
    values_page,
)  # fmt: skip
from firstwash.sheets.glossary import glossary_page
from firstwash.sheets.measures import measures_page
from firstwash.sheets.pages import Pages, flowing, joined
from firstwash.sheets.step import steps_pages
from firstwash.sheets.strips import strip_pages
from firstwash.sheets.supplies import supplies_pages
from firstwash.sheets.tracing_pages import tile_pages
from firstwash.sheets.typeset import Page, as_png, typeset
from firstwash.store.whole_folder import marked, own_files, writable, write_whole
from firstwash.tracing.lines import trace
from firstwash.tracing.svg import tracing_svg
from firstwash.tracing.tiles import tiles_of, whole_tile
from firstwash.usecases import PhotoPlan, open_plan
from firstwash.worksheet.brief import read_brief
from firstwash.worksheet.desk import open_desk

__all__ = [
    "HandoutWishes", "check_handout_folder", "chosen_texts", "foot_words", "handout_work",
    "load_lesson", "load_texts", "make_handout", "page_language", "write_handout",
]  # fmt: skip

MARK: Final = "handout.txt"
SCREEN_PPI: Final = 130.0  # of the outline among the step images
SCREEN_PX: Final = 4000.0  # of it at most, on the longer side of a large sheet
HEAD: Final = "firstwash hand-out"


@dataclass(frozen=True)
class HandoutWishes:
    """What is asked of a hand-out.

    lesson: the teacher's settings. detail: 0-1, how much of the outline is drawn. grid: squares
    across the outline, None for none. texts: a translation; without one, that which comes with the
    program in the lesson's language.
    """

    lesson: Lesson = field(default_factory=Lesson)
    detail: float = 0.5
    grid: int | None = None
    texts: Texts = ENGLISH


def load_lesson(file: Path | None) -> Lesson:
    """The settings in a file, or the defaults. Raises RequestError that says what to change."""
    if file is None:
        return read_lesson()
    try:
        return read_lesson(file.read_bytes())
    except OSError as error:
        why = (error.strerror or "cannot be read").lower()
        raise RequestError(f"{file} cannot be read ({why}); name the lesson's file.") from None


def load_texts(file: Path | None) -> Texts:
    """A translation from a compiled catalogue, or English. Raises RequestError."""
    if file is None:
        return ENGLISH
    try:
        return read_texts(file.read_bytes())
    except OSError as error:
        why = (error.strerror or "cannot be read").lower()
        raise RequestError(f"{file} cannot be read ({why}); name the .mo file.") from None


def make_handout(
    planned: PhotoPlan, wishes: HandoutWishes | None = None, progress: Progress = no_progress
) -> dict[str, bytes]:
    """Every file of the hand-out by its path in the folder. The same plan gives the same bytes.

    Raises RequestError where there are no texts in the lesson's language.
    """
    asked = wishes or HandoutWishes()
    with speaking(chosen_texts(asked)):
        return _made(planned, asked, progress)


def chosen_texts(asked: HandoutWishes) -> Texts:
    """The translation given, or the one that comes with the program in the lesson's language.

    Raises RequestError where there is none.
    """
    return asked.texts if asked.texts is not ENGLISH else texts_for(asked.lesson.language)


def _made(planned: PhotoPlan, asked: HandoutWishes, progress: Progress) -> dict[str, bytes]:
    maker = _Maker(planned, asked)
    progress("Drawing the outline", 0.1)
    files = maker.outlines()
    progress("Painting the steps", 0.3)
    files |= maker.for_screens()
    progress("Setting the pages", 0.6)
    files |= maker.prints()
    progress("Packing", 0.9)
    files |= maker.lists()
    files[MARK] = maker.contents([*files, f"{maker.name}.zip"]).encode()
    files[f"{maker.name}.zip"] = pack_zip(files)
    progress("Done", 1.0)
    return files


class _Maker:
    def __init__(self, planned: PhotoPlan, asked: HandoutWishes) -> None:
        self.plan, self.reference, self.asked = planned.plan, planned.reference, asked
        lesson = asked.lesson
        title = lesson.title or Path(str(planned.photo.get("name") or "")).stem
        title = title or tr("A watercolour")
        self.name = plain_name(title)
        foot = foot_words(title, lesson.teacher, lesson.licence)
        self.page = Page(lesson.page, foot=foot, language=page_language(asked))
        self.tracing = trace(self.plan, self.reference, asked.detail)
        self.captions = captions(self.plan)
        # Washes that must be wet together need their time: a meeting is as long as they ask for.
        minutes = max(lesson.minutes_per_meeting, shortest_meeting(self.plan))
        self.slots = timetable(self.plan, minutes)
        self.cover = Cover(
            title, lesson.teacher, lesson.licence,
            lesson.photo_author, lesson.photo_source, lesson.photo_permission,
            class_words(self.slots),
        )  # fmt: skip

    def outlines(self) -> dict[str, bytes]:
        """The outline as SVG, plain, mirrored and pale."""
        grid = self.asked.grid
        drawn = {
            "outline/outline.svg": tracing_svg(self.tracing, grid=grid),
            "outline/outline-mirrored.svg": tracing_svg(self.tracing, mirrored=True, grid=grid),
            "outline/outline-pale.svg": tracing_svg(self.tracing, pale=True),
        }
        return {name: svg.encode() for name, svg in drawn.items()}

    def for_screens(self) -> dict[str, bytes]:
        """Step images, and the layered image."""
        stages = paint_stages(self.plan)
        sheet = self.plan.sheet
        longest = max(sheet.width_mm, sheet.height_mm)
        ppi = min(SCREEN_PPI, 25.4 * SCREEN_PX / longest)
        drawn = as_png(tracing_svg(self.tracing), sheet.width_mm, sheet.height_mm, ppi)
        images = step_images(self.plan, self.captions, stages=stages, outline=drawn)
        layered = layered_image(self.plan, self.reference, stages=stages, outline=drawn)
        return {f"screen/{name}": data for name, data in images.items()} | {"layers.ora": layered}

    def prints(self) -> dict[str, bytes]:
        """The students' book, the teacher's, and parts to print alone."""
        lesson, page, title = self.asked.lesson, self.page, self.cover.title
        # The exercise shows the photo, and may go out without the book that tells whose it is.
        credited = replace(page, foot=f"{page.foot} {rights_words(self.cover)}")
        drawn = Drawn(self.plan, self.tracing)
        steps = steps_pages(self.plan, drawn)
        exercise = exercise_pages(self.plan, self.reference, drawn)
        supplies = supplies_pages(self.plan, lesson.students)
        strips = strip_pages(self.plan)
        book = joined([
            cover_page(self.plan, self.cover),
            reference_page(self.plan, self.reference, self.cover),
            values_page(self.plan, self.reference),
            steps, supplies, strips, flowing(measures_page()), flowing(glossary_page()),
        ])  # fmt: skip
        jobs: Mapping[str, tuple[str, Pages]] = {
            f"{self.name}.pdf": (self.cover.title, book),
            f"{self.name}-teacher.pdf": (
                tr("{title}: for the teacher", title=title),
                self.teachers_book(),
            ),
            **self.outline_pages(),
            "print/exercise.pdf": (tr("{title}: your plan first", title=title), exercise),
            "print/steps.pdf": (tr("{title}: steps", title=title), steps),
            "print/supplies.pdf": (tr("{title}: supplies", title=title), supplies),
            "print/test-strips.pdf": (tr("{title}: test strips", title=title), strips),
        }

        def made(name: str) -> bytes:
            head, pages = jobs[name]
            on = credited if name == "print/exercise.pdf" else page
            return typeset(pages.source, pages.files, title=head, page=on)

        return dict(zip(jobs, in_parallel(made, jobs), strict=True))

    def teachers_book(self) -> Pages:
        """Timetable, captions and the exercise's answers: what students need not see."""
        return joined([
            timetable_page(self.slots), flowing(captions_page(self.captions)),
            flowing(answers_page(self.plan, self.reference)),
        ])  # fmt: skip

    def outline_pages(self) -> dict[str, tuple[str, Pages]]:
        """Title and pages of each printed outline: on the printer's pages, or whole.

        The pale one is never cut up, for painting paper is not pieced together.
        """
        sheet, page, title = self.plan.sheet, self.asked.lesson.page, self.cover.title
        tiles, whole = tiles_of(sheet, page), [whole_tile(sheet, page)]
        grid, foot = self.asked.grid, self.page.foot
        alone = len(tiles) == 1  # the printer's page holds the sheet
        plain = tile_pages(self.tracing, tiles, "outline", grid=grid, foot=foot)
        turned = tile_pages(self.tracing, tiles, "mirrored", mirrored=True, grid=grid, foot=foot)
        on_paper = tiles if alone else whole
        pale = tile_pages(self.tracing, on_paper, "pale", pale=True, foot=foot)
        made = {
            "print/outline.pdf": (tr("{title}: outline", title=title), plain),
            "print/outline-mirrored.pdf": (tr("{title}: outline, mirrored", title=title), turned),
            "print/outline-pale.pdf": (tr("{title}: outline, pale", title=title), pale),
        }
        if not alone:
            large = tile_pages(self.tracing, whole, "whole", grid=grid, foot=foot)
            made["print/outline-whole.pdf"] = tr("{title}: outline, whole", title=title), large
        return made

    def lists(self) -> dict[str, bytes]:
        """Captions, timetable and colour list."""
        title = self.cover.title
        return {
            "text/captions.txt": captions_text(self.captions, title).encode(),
            "text/timetable.txt": timetable_text(self.slots, title).encode(),
            "colours.xlsx": colour_list(self.plan),
            "colours.csv": colour_list_csv(self.plan).encode(),
        }

    def contents(self, files: Sequence[str]) -> str:
        """What is in the folder, and what to know before it is given away."""
        warning = permission_warning(self.asked.lesson)
        told = [HEAD, "", self.cover.title, ""]
        told += [warning, ""] if warning else []
        return "\n".join([*told, *sorted(files), ""])


def foot_words(*parts: str) -> str:
    """What stands at the foot of every page, in one line that ends with a full stop."""
    told = ", ".join(part.rstrip(".") for part in parts if part)
    return told if not told or told[-1] in "!?…" else f"{told}."


def page_language(asked: HandoutWishes) -> str:
    """What the pages say of their language: what the settings tell, or else the catalogue."""
    told = asked.lesson.language
    if asked.texts is ENGLISH or told.lower().replace("_", "-").partition("-")[0] != "en":
        return told
    try:
        return Lesson(language=str(asked.texts.info().get("language", told))).language
    except RequestError:
        return told


def check_handout_folder(folder: Path) -> Path:
    """The folder as an absolute path, if a hand-out may be written there; else OutputError."""
    return writable(folder, own_files(folder, MARK, HEAD), marked(MARK, HEAD))


def write_handout(
    plan: Path, folder: Path, wishes: HandoutWishes | None = None, progress: Progress = no_progress
) -> Path:
    """Make the hand-out of a plan's folder and write it; returns the book's path.

    The folder appears whole or not at all; an older hand-out there is replaced, anything else is
    refused. Raises a FirstwashError that says what does not fit.
    """
    target = check_handout_folder(folder)  # before the work, not after it
    files = make_handout(open_plan(plan), wishes, progress)
    write_whole(folder, target, sorted(files.items()))
    return target / next(name for name in files if name.endswith(".pdf") and "/" not in name)


def handout_work(
    folder: Path, progress: Progress, *, brief: str, files: str, name: str, lesson: dict[str, Any],
    detail: float, grid: int | None,
) -> dict[str, str]:  # fmt: skip
    """The hand-out of a kept painting, in a process of its own: one zip in `folder`.

    brief: its JSON; files: the store's folder of files; name: of the painting; lesson: fields of
    the teacher's settings. Returns the zip's name and the warning, "" for none.
    """
    kept = Path(files)
    desk = open_desk(read_brief(brief), lambda key: (kept / key[:2] / key).read_bytes())
    told = Lesson(**lesson)
    planned = PhotoPlan(desk.plan, desk.reference, {"name": name}, ())
    made = make_handout(planned, HandoutWishes(told, detail, grid), progress)
    packed = next(path for path in made if path.endswith(".zip"))
    (folder / packed).write_bytes(made[packed])
    return {"file": packed, "warning": permission_warning(told) or ""}
