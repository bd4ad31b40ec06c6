"""Settings: what a good file says, and one sentence for every bad one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import FirstwashError, RequestError
from firstwash.pack.settings import Lesson, permission_warning, read_lesson, template

GOOD = """
title = "Ein  Becher\\nKaffee"
teacher = "A. Teacher"
licence = "For the class only"
for_sale = true
students = 9
minutes_per_meeting = 90
page = "Letter"
language = "pt-BR"
[photo]
author = "A. Friend"
source = "from the kitchen table"
permission = "may be used for lessons, also sold ones"
"""


def test_a_file_is_read() -> None:
    lesson = read_lesson(b"\xef\xbb\xbf" + GOOD.encode())
    assert lesson.title == "Ein Becher Kaffee"  # white space tidied: one line
    assert (lesson.students, lesson.minutes_per_meeting, lesson.page) == (9, 90, "Letter")
    assert lesson.photo_author == "A. Friend"
    assert lesson.for_sale
    assert permission_warning(lesson) is None


def test_no_file_means_the_defaults() -> None:
    assert read_lesson() == read_lesson(b"") == Lesson()


def test_the_example_reads_back_as_the_defaults() -> None:
    assert read_lesson(template().encode()) == Lesson()
    for name in Lesson.__dataclass_fields__:
        assert f"{name.removeprefix('photo_')} = " in template(), name


BAD: list[tuple[bytes, str]] = [
    (b"\xff\xfe\x00", "UTF-8"),
    (b"a" * 64_001, "64 kB"),
    (b"title = ", "at its end"),
    (b'x = "\n', "line 1"),
    (b"title = 3", "title as text"),
    (b"title = 1979-05-27", "title as text"),
    (b'title = ["a"]', "title as text"),
    (b'title = "' + b"x" * 121 + b'"', "at most 120"),
    (b'title = "' + b"x" * 50_000 + b'"', "at most 120"),
    (b'title = "a\\u0000b"', "control characters"),
    (b'title = "a\\u001bb"', "control characters"),
    (b'title = "a\\u202Eb"', "control characters"),
    (b'students = "many"', "students as a whole number from 1 to 200"),
    (b"students = 0", "1 to 200"),
    (b"students = true", "1 to 200"),
    (b"students = 12.0", "1 to 200"),
    (b"students = nan", "1 to 200"),
    (b"students = 99999999999999999999", "1 to 200"),
    (b"students = " + b"9" * 5000, "cannot be read"),
    (b"minutes_per_meeting = 29", "30 to 600"),
    (b"for_sale = 1", "true or false"),
    (b'for_sale = "no"', "true or false"),
    (b'page = "A3"', '"A4" or "Letter"'),
    (b"page = 4", '"A4" or "Letter"'),
    (b'language = "../../en"', "short code"),
    (b'language = ""', "short code"),
    (b'licence = "a"\nlicence = "b"', "cannot be read"),
    (b'colour = "red"', "“colour”"),
    (b'"a\\nb\\u202e" = 1', "“a�b�”"),
    (b'"' + b"k" * 500 + b'" = 1', "…”"),
    (b'photo = "me.jpg"', "[photo]"),
    (b"[[photo]]", "[photo]"),
    (b"[photo]\nsize = 3", "“photo.size”"),
    (b"[photo]\nauthor = 3", "photo.author as text"),
    (b'photo_author = "me"', "“photo_author”"),
    (b"x = " + b"[" * 20_000, "cannot be read"),
]


@pytest.mark.parametrize(("data", "said"), BAD, ids=[str(i) for i in range(len(BAD))])
def test_a_bad_file_is_refused_in_one_sentence(data: bytes, said: str) -> None:
    with pytest.raises(RequestError) as caught:
        read_lesson(data)
    told = str(caught.value)
    assert said in told
    assert told.endswith(".")
    assert "\n" not in told
    assert len(told) < 300


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    said = ""
    try:
        read_lesson(data)
    except FirstwashError as error:
        said = str(error)
    assert said.isprintable()


@given(st.text(max_size=60))
def test_a_title_is_printable_or_refused(title: str) -> None:
    try:
        kept = Lesson(title=title).title
    except RequestError:
        return
    assert not any(ord(c) < 32 for c in kept)
    assert Lesson(title=kept).title == kept


def test_settings_made_in_python_are_checked_too() -> None:
    with pytest.raises(RequestError, match=r"photo\.permission"):
        Lesson(photo_permission=7)  # type: ignore[arg-type]


@pytest.mark.parametrize("permission", ["", "none", "No", " unknown ", "?", "n/a", "TODO", "--"])
def test_a_pack_for_sale_without_permission_is_warned_of(permission: str) -> None:
    lesson = Lesson(for_sale=True, photo_author="A. Friend", photo_permission=permission)
    told = permission_warning(lesson)
    assert told is not None
    assert "no permission" in told
    assert permission_warning(Lesson(photo_permission=permission)) is None  # not for sale


@pytest.mark.parametrize("permission", ["CC BY-NC 4.0", "non-commercial use", "noncommercial only"])
def test_a_permission_that_excludes_sale_is_warned_of(permission: str) -> None:
    told = permission_warning(
        Lesson(for_sale=True, photo_author="A. Friend", photo_permission=permission)
    )
    assert told is not None
    assert "non-commercial" in told


def test_somebody_must_be_named_for_a_photo_that_is_sold() -> None:
    told = permission_warning(Lesson(for_sale=True, photo_permission="given by letter"))
    assert told is not None
    assert "photo.author" in told
    own = Lesson(for_sale=True, photo_permission="my own photo, none needed", photo_author="me")
    assert permission_warning(own) is None
