"""A class with paints of their own: every list planned, bad ones told, the same bytes again."""

import csv
import io
import shutil
from pathlib import Path

import pypdfium2
import pytest
from skimage import data
from tests.test_language import catalogue

from firstwash.errors import OutputError, RequestError
from firstwash.language import read_texts
from firstwash.pack.settings import Lesson
from firstwash.picture.profile import encode_png
from firstwash.plan.problem import Limits
from firstwash.usecases import Wishes, open_plan, plan_photo, write_plan
from firstwash.usecases_handout import HandoutWishes
from firstwash.usecases_students import find_lists, plan_for_set, students_handout


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a teacher's small plan."""
    limits = Limits(shapes=25, puddles=6, washes=14, layers=3)
    planned = plan_photo(encode_png(data.coffee()), Wishes(sheet="15x11cm", limits=limits))
    path = tmp_path_factory.mktemp("teacher") / "plan"
    write_plan(planned, path)
    return path


@pytest.fixture(scope="module")
def lists(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("class")
    (path / "Nora.txt").write_text("PB29\nPBr7-burnt\nPY154\n")
    (path / "=Ivo.txt").write_text("PB29\nPBr7-burnt\n")
    (path / "Kim.txt").write_text("no such paint\n")
    return path


@pytest.fixture(scope="module")
def made(folder: Path, lists: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("out") / "students"
    students_handout(folder, lists, out, HandoutWishes(Lesson(title="A cup")))
    return out


def words_of(file: Path) -> str:
    pages = pypdfium2.PdfDocument(file)
    return " ".join(" ".join(p.get_textpage().get_text_bounded() for p in pages).split())


def test_every_good_list_has_its_sheets(made: Path) -> None:
    assert {p.name for p in made.iterdir()} == {
        "students.txt", "students.csv", "students.pdf", "nora.pdf", "ivo.pdf",
    }  # fmt: skip
    nora = words_of(made / "nora.pdf")
    assert "What your paints make of it" in nora
    assert "Your plan first" in nora
    assert "Puddles to mix" in nora
    for words in ("Your list:", "No permission", "Values first", "The outline", "What it means"):
        assert words in nora
    assert "Go into the fibre" not in nora  # of a word that these sheets do not use
    assert "benzimidazolone yellow" in nora
    assert "benzimidazolone yellow" not in words_of(made / "ivo.pdf").partition("Of the teacher")[0]


def test_only_paints_of_the_list_are_planned_with(folder: Path, lists: Path) -> None:
    plan, reach = plan_for_set(open_plan(folder), lists / "Nora.txt")
    assert {p.key for p in plan.paints} <= {"PB29", "PBr7-burnt", "PY154"}
    assert reach.name == "Nora"
    assert reach.error == plan.report.against_photo.mean
    assert len(plan.coats) == len(open_plan(folder).plan.coats)  # on the same drawing


def test_a_bad_list_is_told_and_stops_nobody(made: Path) -> None:
    rows = list(csv.reader(io.StringIO((made / "students.csv").read_text("utf-8"))))
    told = {row[0]: row for row in rows[1:]}
    assert set(told) == {"'=Ivo", "Kim", "Nora"}  # no name becomes a formula
    assert "no such paint" in told["Kim"][4]
    assert told["Kim"][1] == told["Kim"][3] == ""
    assert told["Nora"][1] == "nora.pdf"
    assert float(told["Nora"][3]) <= float(told["'=Ivo"][3]) + 0.3  # one paint more, same planner
    summary = words_of(made / "students.pdf")
    for words in ("Who can reach what", "Nora", "no such paint", "no mark"):
        assert words in summary


def test_a_shipped_set_is_one_student(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "six"
    (reach,) = students_handout(folder, "starter-6", out)
    assert reach.name == "starter-6"
    assert not reach.wrong
    assert (out / "starter-6.pdf").is_file()


def test_the_same_class_gives_the_same_bytes(
    folder: Path, lists: Path, made: Path, tmp_path: Path
) -> None:
    students_handout(folder, lists, tmp_path / "s", HandoutWishes(Lesson(title="A cup")))
    for file in made.iterdir():
        assert (tmp_path / "s" / file.name).read_bytes() == file.read_bytes()


def test_stopping_leaves_nothing_behind(folder: Path, lists: Path, tmp_path: Path) -> None:
    def stop(_: str, done: float) -> None:
        if done > 0.0:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        students_handout(folder, lists, tmp_path / "s", progress=stop)
    assert not (tmp_path / "s").exists()


def test_empty_folders_and_folders_of_others_are_refused(
    folder: Path, lists: Path, tmp_path: Path
) -> None:
    with pytest.raises(RequestError, match="holds no lists"):
        find_lists(tmp_path)
    with pytest.raises(RequestError, match="There is no"):
        find_lists(tmp_path / "typo.txt")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.doc").write_text("dear")
    with pytest.raises(OutputError, match=r"letter\.doc"):
        students_handout(folder, lists, tmp_path / "other")


def test_a_class_without_any_plan_writes_nothing(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "Kim.txt").write_text("no such paint\n")
    with pytest.raises(RequestError, match="no such paint"):
        students_handout(folder, tmp_path, tmp_path / "s")
    assert not (tmp_path / "s").exists()


def test_only_our_own_files_are_replaced(
    folder: Path, lists: Path, made: Path, tmp_path: Path
) -> None:
    out = tmp_path / "s"
    shutil.copytree(made, out)
    (out / "notes.pdf").write_bytes(b"the teacher's own")
    with pytest.raises(OutputError, match=r"notes\.pdf"):
        students_handout(folder, lists, out)
    assert (out / "notes.pdf").read_bytes() == b"the teacher's own"


def test_names_in_any_script_are_told_beside_their_files(tmp_path: Path) -> None:
    for name in ("Анна", "Борис", "a\nb"):
        (tmp_path / f"{name}.TXT").write_text("PB29\n")
    assert set(find_lists(tmp_path)) == {"Анна", "Борис", "a?b"}


def test_a_class_in_another_language(folder: Path, lists: Path, tmp_path: Path) -> None:
    texts = read_texts(catalogue({"Who can reach what": "Qui peut quoi", "Student": "Élève"}))
    students_handout(folder, lists / "Nora.txt", tmp_path / "s", HandoutWishes(texts=texts))
    assert "Qui peut quoi" in words_of(tmp_path / "s" / "students.pdf")


def test_two_names_that_look_alike_get_two_files(folder: Path, tmp_path: Path) -> None:
    for name in ("Zoë!", "Zoë?"):
        (tmp_path / f"{name}.txt").write_text("PB29\nPBr7-burnt\nPY154\n")
    students_handout(folder, tmp_path, tmp_path / "s")
    assert len(list((tmp_path / "s").glob("zo*.pdf"))) == 2
