"""A plan's hand-out as one folder: everything there, at its size, the same bytes each time."""

import dataclasses
import io
import zipfile
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image
from skimage import data

from firstwash import usecases_handout
from firstwash.errors import OutputError, RequestError
from firstwash.pack.settings import Lesson
from firstwash.picture.sheet import Sheet
from firstwash.plan.problem import Limits
from firstwash.usecases import Wishes, open_plan, plan_photo, write_plan
from firstwash.usecases_handout import (
    HandoutWishes,
    check_handout_folder,
    load_lesson,
    make_handout,
    write_handout,
)

MM = 72.0 / 25.4
LESSON = Lesson(title="A cup", teacher="A. Teacher", licence="For this class only.")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small plan of a real photo."""
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(shapes=30, puddles=6, washes=16, layers=3)
    planned = plan_photo(out.getvalue(), Wishes(sheet="24x18cm", limits=limits))
    path = tmp_path_factory.mktemp("plan") / "plan"
    write_plan(planned, path)
    return path


@pytest.fixture(scope="module")
def files(folder: Path) -> dict[str, bytes]:
    return make_handout(open_plan(folder), HandoutWishes(LESSON))


def words_of(pdf: bytes) -> str:
    told = (p.get_textpage().get_text_bounded() for p in pypdfium2.PdfDocument(pdf))
    return " ".join(" ".join(told).split())


def test_a_plan_read_back_is_the_plan(folder: Path) -> None:
    planned = open_plan(folder)
    assert planned.plan.layers == 3
    assert (planned.plan.sheet.width_mm, planned.plan.sheet.height_mm) == (240.0, 180.0)
    assert planned.reference.lab.shape[:2] == planned.plan.cells.index.shape


def test_everything_is_there(files: dict[str, bytes]) -> None:
    folders = {name.partition("/")[0] for name in files if "/" in name}
    assert folders == {"outline", "print", "screen", "text"}
    books = {"a-cup.pdf", "a-cup-teacher.pdf"}
    assert {*books, "a-cup.zip", "layers.ora", "colours.xlsx", "colours.csv"} <= set(files)
    with zipfile.ZipFile(io.BytesIO(files["a-cup.zip"])) as packed:
        assert set(packed.namelist()) == set(files) - {"a-cup.zip"}
        assert packed.testzip() is None


def test_the_same_plan_gives_the_same_bytes(folder: Path, files: dict[str, bytes]) -> None:
    again = make_handout(open_plan(folder), HandoutWishes(LESSON))
    assert {name for name in files if files[name] != again[name]} == set()


def test_the_book_tells_paints_puddles_and_rights(folder: Path, files: dict[str, bytes]) -> None:
    told, plan = words_of(files["a-cup.pdf"]), open_plan(folder).plan
    used = {p for puddle in plan.puddles for p, _ in puddle.parts}
    for paint in (plan.paints[i] for i in sorted(used)):
        assert paint.name in told
    for words in ("A cup", "A. Teacher", "For this class only.", "No permission", "Values first"):
        assert words in told
    assert len(files["a-cup.pdf"]) < 15_000_000


def test_what_a_teacher_needs_is_not_in_the_students_book(files: dict[str, bytes]) -> None:
    book, teacher = words_of(files["a-cup.pdf"]), words_of(files["a-cup-teacher.pdf"])
    for words in ("Timetable", "To say with each picture", "Answers to the exercise"):
        assert words in teacher
        assert words not in book
    assert "One painter at the board" in book
    assert "A class: " in book
    assert "No permission" in words_of(files["print/exercise.pdf"])


def test_the_outline_is_printed_at_true_size(files: dict[str, bytes]) -> None:
    pages = pypdfium2.PdfDocument(files["print/outline.pdf"])
    for page in pages:
        wide, high = sorted(side / MM for side in page.get_size())
        assert (wide, high) == pytest.approx((210.0, 297.0), abs=0.05)
    svg = files["outline/outline.svg"].decode()
    assert 'width="240' in svg
    assert "mm" in svg


def test_outlines_for_the_whole_sheet_are_one_page(files: dict[str, bytes]) -> None:
    """A sheet of 24 × 18 cm is larger than a page of A4 lets a printer reach."""
    for name in ("outline-whole", "outline-pale"):
        (page,) = pypdfium2.PdfDocument(files[f"print/{name}.pdf"])
        wide, high = (side / MM for side in page.get_size())
        assert wide == pytest.approx(240.0, abs=0.05)
        assert 180.0 + 15.0 < high < 180.0 + 40.0
    for name in ("outline", "outline-mirrored", "outline-whole", "outline-pale"):
        assert "A cup, A. Teacher, For this class only." in words_of(files[f"print/{name}.pdf"])
    assert "to be rubbed off" in words_of(files["print/outline-mirrored.pdf"])
    assert "bleeds" in words_of(files["print/outline-pale.pdf"])


def test_a_sheet_that_fits_the_printer_needs_no_other_page(folder: Path) -> None:
    planned = open_plan(folder)
    sheet = Sheet(180.0, 135.0)
    fits = dataclasses.replace(planned, plan=dataclasses.replace(planned.plan, sheet=sheet))
    pages = usecases_handout._Maker(fits, HandoutWishes(LESSON)).outline_pages()
    assert set(pages) == {
        "print/outline.pdf", "print/outline-mirrored.pdf", "print/outline-pale.pdf",
    }  # fmt: skip


def test_a_hand_out_is_replaced_and_nothing_else(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "class"
    book = write_handout(folder, target, HandoutWishes(LESSON))
    assert book.is_file()
    assert write_handout(folder, target, HandoutWishes(LESSON)) == book
    (target / "letter.txt").write_text("dear")
    with pytest.raises(OutputError, match=r"letter\.txt"):
        check_handout_folder(target)


def test_folders_without_a_plan_are_refused(tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="no whole plan"):
        write_handout(tmp_path, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_lesson_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert load_lesson(None) == Lesson()
    with pytest.raises(RequestError, match=r"lesson\.toml cannot be read"):
        load_lesson(tmp_path / "lesson.toml")


def test_a_painters_own_files_are_never_removed(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "class"
    write_handout(folder, target, HandoutWishes(LESSON))
    for name in ("notes.pdf", "text/mine.txt"):
        (target / name).write_text("mine")
        with pytest.raises(OutputError, match=name.rpartition("/")[2].replace(".", r"\.")):
            write_handout(folder, target, HandoutWishes(LESSON))
        (target / name).unlink()


def test_a_sheet_of_three_metres_gets_its_hand_out() -> None:
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(shapes=10, puddles=3, washes=6, layers=2)
    planned = plan_photo(out.getvalue(), Wishes(sheet="300x200cm", limits=limits))
    maker = usecases_handout._Maker(planned, HandoutWishes(LESSON))
    files = maker.for_screens()
    with zipfile.ZipFile(io.BytesIO(files["layers.ora"])) as layers:
        merged = Image.open(io.BytesIO(layers.read("mergedimage.png")))
    assert max(merged.size) <= 4000
