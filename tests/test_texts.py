"""The hand-out in another language: nothing of it stays English, and English stays as it is."""

import csv
import importlib
import io
import re
import sys
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from types import ModuleType
from typing import Any

import openpyxl
import pikepdf
import pypdfium2
import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from defusedxml import ElementTree
from PIL import Image
from skimage import data

from firstwash.errors import RequestError
from firstwash.handout.cautions import ELEMENTS
from firstwash.language import (
    ENGLISH,
    Texts,
    listed,
    read_texts,
    speaking,
    texts_for,
    tr,
    tr_count,
)
from firstwash.pack.settings import Lesson
from firstwash.paints.catalogue import all_paints
from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo
from firstwash.usecases_handout import HandoutWishes, load_texts, make_handout

ROOT = Path(__file__).parents[1]
PLACE = re.compile(r"(\{\w+\})")
ACCENTED = str.maketrans("aeiouyAEIOUY", "áéíóúýÁÉÍÓÚÝ")
WORD = re.compile(r"\w+")
UNITS = {"min"}  # every other unit here is without a vowel
LESSON = Lesson(
    title="Grk", teacher="T. Chr", licence="Xyz.", photo_author="P. Hgr", photo_source="Ldr.",
    for_sale=True, students=7,
)  # fmt: skip
CAPTIONED = re.compile(r"\b(stage-\d+|finished)\b")  # pictures by the names of their files


@contextmanager
def tool() -> Iterator[ModuleType]:
    """The tool that writes the catalogue."""
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("texts")
    finally:
        sys.path.remove(str(ROOT / "tools"))


def catalogue() -> Catalog:
    return read_po(io.BytesIO((ROOT / "src/firstwash/texts/firstwash.pot").read_bytes()))


def marked(text: str) -> str:
    """A text of the language that has every English word, with an accent on every vowel."""
    parts = PLACE.split(text)
    return "".join(part if PLACE.fullmatch(part) else part.translate(ACCENTED) for part in parts)


def translated(change: Callable[[str], str]) -> Texts:
    """The whole catalogue with every text changed, through a .mo file."""
    told = Catalog(locale="de", charset="utf-8")
    for message in catalogue():
        if message.id and isinstance(message.id, tuple):
            told.add(message.id, tuple(change(text) for text in message.id))
        elif message.id:
            told.add(message.id, change(message.id))
    return compiled(told)


def accented() -> Texts:
    return translated(marked)


def compiled(told: Catalog) -> Texts:
    out = io.BytesIO()
    write_mo(out, told)
    return read_texts(out.getvalue())


@pytest.fixture(scope="module")
def planned() -> PhotoPlan:
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(shapes=30, puddles=8, washes=24, layers=4)
    return plan_photo(out.getvalue(), Wishes(sheet="quarter imperial", limits=limits))


@pytest.fixture(scope="module")
def english(planned: PhotoPlan) -> dict[str, bytes]:
    return make_handout(planned, HandoutWishes(LESSON, grid=4))


@pytest.fixture(scope="module")
def told(planned: PhotoPlan) -> dict[str, bytes]:
    return make_handout(planned, HandoutWishes(LESSON, grid=4, texts=accented()))


# --- reading back ----------------------------------------------------------------


def words_in(name: str, content: bytes) -> Iterator[str]:
    """Every text of a file of the hand-out that somebody may read."""
    kind = name.rpartition(".")[2]
    if kind == "pdf":
        yield from in_pdf(content)
    elif kind == "svg":
        yield from ElementTree.fromstring(content).itertext()
    elif kind == "txt":
        yield content.decode()
    elif kind == "csv":
        yield from chain.from_iterable(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    elif kind == "xlsx":
        book = openpyxl.load_workbook(io.BytesIO(content))
        yield book.properties.title
        for sheet in book:
            yield sheet.title
            yield from (v for row in sheet.values for v in row if isinstance(v, str))
    elif kind == "ora":
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            stack = ElementTree.fromstring(packed.read("stack.xml"))
        yield from (one.get("name", "") for one in stack.iter())


def in_pdf(content: bytes) -> Iterator[str]:
    """Words on the pages, titles and bookmarks, and what pictures show."""
    read = pypdfium2.PdfDocument(content)
    yield from (page.get_textpage().get_text_bounded() for page in read)
    yield from (mark.get_title() for mark in read.get_toc())
    yield read.get_metadata_dict()["Title"]
    with pikepdf.open(io.BytesIO(content)) as pdf:
        for one in pdf.objects:
            if isinstance(one, pikepdf.Dictionary) and "/Alt" in one:
                yield str(one["/Alt"])


def left(texts: Iterator[str], names: set[str]) -> set[str]:
    """Words with a plain vowel that are no name and no unit."""
    found = set()
    for text in texts:
        for word in WORD.findall(CAPTIONED.sub("", text)):
            plain = word.isascii() and word.isalpha() and set(word.lower()) & set("aeiouy")
            letters = len(word) < 3 and word.isupper()  # of a puddle
            if plain and not letters and word.lower() not in names | UNITS:
                found.add(word)
    return found


def names_of(planned: PhotoPlan) -> set[str]:
    """Words of what is no text: names of paints, and what the teacher says."""
    given = [LESSON.title, LESSON.teacher, LESSON.licence, LESSON.photo_author, LESSON.photo_source]
    paints = [p.name for p in (*planned.plan.paints, *all_paints())]
    return {word.lower() for text in (*given, *paints) for word in WORD.findall(text)}


def test_nothing_stays_english(planned: PhotoPlan, told: dict[str, bytes]) -> None:
    names, odd = names_of(planned), {}
    for name, content in told.items():
        if name == "handout.txt":  # begins with its mark, and lists files by name
            listed_here = "\n".join(
                line for line in content.decode().splitlines()[1:] if line not in told
            )
            content = listed_here.encode()
        if found := left(words_in(name, content), names):
            odd[name] = sorted(found)
    assert odd == {}


def test_the_reader_sees_what_is_english(planned: PhotoPlan, english: dict[str, bytes]) -> None:
    """The test above would notice: every kind of file has English words to be found in it."""
    names = names_of(planned)
    for name in ("grk.pdf", "colours.xlsx", "colours.csv", "layers.ora", "text/timetable.txt",
                 "text/captions.txt", "outline/outline.svg", "print/steps.pdf"):  # fmt: skip
        assert left(words_in(name, english[name]), names), name


def test_the_pages_say_their_language(told: dict[str, bytes]) -> None:
    with pikepdf.open(io.BytesIO(told["print/supplies.pdf"])) as pdf:
        assert str(pdf.Root.Lang) == "de"  # as the catalogue's own head has it


def test_english_is_the_same_without_and_with_an_empty_catalogue(
    planned: PhotoPlan, english: dict[str, bytes]
) -> None:
    empty = compiled(Catalog(locale="en", charset="utf-8"))
    again = make_handout(planned, HandoutWishes(LESSON, grid=4, texts=empty))
    assert {name for name in english if english[name] != again[name]} == set()


def test_a_hostile_catalogue_is_words_and_nothing_else(planned: PhotoPlan) -> None:
    hostile = '=<b>&amp; "\\ #panic() $x] {} --> '
    texts = translated(lambda text: hostile + text)
    files = make_handout(planned, HandoutWishes(LESSON, grid=4, texts=texts))
    read = pypdfium2.PdfDocument(files["grk.pdf"])
    assert {tuple(round(side) for side in page.get_size()) for page in read} == {(595, 842)}
    assert "panic()" in read[1].get_textpage().get_text_bounded()
    assert "panic()" in " ".join(words_in("outline.svg", files["outline/outline.svg"]))
    assert "panic()" in " ".join(words_in("layers.ora", files["layers.ora"]))
    book = openpyxl.load_workbook(io.BytesIO(files["colours.xlsx"]))
    assert not any(cell.data_type == "f" for sheet in book for row in sheet for cell in row)
    for row in csv.reader(io.StringIO(files["colours.csv"].decode("utf-8-sig"))):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)


# --- the catalogue ---------------------------------------------------------------


def test_the_catalogue_is_what_the_source_says() -> None:
    written = (ROOT / "src/firstwash/texts/firstwash.pot").read_bytes()
    with tool() as texts:
        assert written == texts.pot(), "run python tools/texts.py"


def test_every_text_keeps_its_places_in_another_language() -> None:
    texts = accented()
    with speaking(texts):
        for message in catalogue():
            if not message.id:
                continue
            one, many = message.id if isinstance(message.id, tuple) else (message.id, "")
            places = {place.strip("{}") for place in PLACE.findall(f"{one} {many}")}
            places -= {"count"} if many else set()
            values: dict[str, object] = {place: f"<{place}>" for place in sorted(places)}
            for count in (1, 2) if many else (1,):
                english = one if count == 1 else many
                got = tr_count(one, many, count, **values) if many else tr(one, **values)
                wanted = PLACE.sub(lambda m: f"<{m[0][1:-1]}>", marked(english))
                assert got == (wanted.replace("<count>", str(count)) if many else wanted)


def test_hazards_are_told_by_elements_in_the_catalogue() -> None:
    known = {m.id for m in catalogue()}
    assert set(ELEMENTS.values()) <= known


def test_a_language_with_other_numbers_may_tell_the_count_anywhere() -> None:
    told = Catalog(locale="ru", charset="utf-8")
    told.add(
        ("One place stays bare paper, {part}.", "{count} places stay bare paper, {part}."),
        ("{count} a {part}", "{count} b {part}", "{count} c {part}"),
    )
    with speaking(compiled(told)):
        for count, form in ((1, "a"), (21, "a"), (3, "b"), (5, "c")):
            words = tr_count(
                "One place stays bare paper, {part}.",
                "{count} places stay bare paper, {part}.",
                count,
                part="x",
            )
            assert words == f"{count} {form} x"


def test_a_rule_for_numbers_that_cannot_be_worked_out_gives_way_to_english() -> None:
    told = Catalog(locale="en", charset="utf-8")
    told.add(("{count} dot", "{count} dots"), ("{count} x", "{count} y"))
    out = io.BytesIO()
    write_mo(out, told)
    rule = out.getvalue().replace(b"plural=(n != 1)", b"plural=(5 % n )")
    assert rule != out.getvalue()
    with speaking(read_texts(rule)):
        assert tr_count("{count} dot", "{count} dots", 0) == "0 dots"


def test_words_in_a_row() -> None:
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "", "a", "a and b", "a, b and c",
    ]  # fmt: skip


# --- which language --------------------------------------------------------------


@pytest.mark.parametrize("language", ["en", "EN", "en-GB", "en_US"])
def test_english_needs_no_catalogue(language: str) -> None:
    assert texts_for(language) is ENGLISH


def test_texts_that_come_along_serve_their_dialects(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("firstwash.language.SHIPPED", tmp_path)
    for name, word in (("de", "Lasur"), ("de_CH", "Lasürli")):
        told = Catalog(locale="de", charset="utf-8")
        told.add("Wash", word)
        folder = tmp_path / name / "LC_MESSAGES"
        folder.mkdir(parents=True)
        with (folder / "firstwash.mo").open("wb") as file:
            write_mo(file, told)
    for language, word in (("de", "Lasur"), ("DE-at", "Lasur"), ("de-CH", "Lasürli")):
        with speaking(texts_for(language)):
            assert tr("Wash") == word


@pytest.mark.parametrize("language", ["xx", "enm", "xx-YY", "../..", "xx_../../etc", ""])
def test_a_language_without_texts_is_refused(language: str) -> None:
    with pytest.raises(RequestError, match="--texts"):
        texts_for(language)


def test_no_hand_out_is_begun_in_a_language_without_texts(planned: PhotoPlan) -> None:
    steps: list[str] = []
    with pytest.raises(RequestError, match='language "xx"'):
        make_handout(
            planned, HandoutWishes(Lesson(language="xx")), lambda step, _: steps.append(step)
        )
    assert steps == []


def test_a_catalogue_is_read_from_its_file(tmp_path: Path) -> None:
    assert load_texts(None) is ENGLISH
    with pytest.raises(RequestError, match=r"de\.mo cannot be read"):
        load_texts(tmp_path / "de.mo")
    (tmp_path / "de.po").write_text('msgid "Wash"\nmsgstr "Lasur"\n')
    with pytest.raises(RequestError, match=r"name the \.mo file"):
        load_texts(tmp_path / "de.po")


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ('tr(f"{n} dots")', "values put in already"),
        ('tr("{a} dots", b=1)', "differ: a, b"),
        ('tr_count("{count} dot", many, 2)', "wants its texts as they are"),
        ("mark(words)", "wants its texts as they are"),
    ],
)
def test_texts_that_cannot_be_translated_are_told(lines: str, sentence: str) -> None:
    with tool() as texts, pytest.raises(ValueError, match=sentence):
        list(texts.texts_of(lines, "some.py"))


def test_the_command_takes_a_catalogue(run: Callable[..., Any], tmp_path: Path) -> None:
    (tmp_path / "de.mo").write_bytes(b"no catalogue")
    code, _, err = run("handout", "plan", "--texts", "de.mo", "--quiet")
    assert code != 0
    assert "no compiled gettext catalogue" in err
    assert not (tmp_path / "handout").exists()
