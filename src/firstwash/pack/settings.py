"""A teacher's settings for a lesson: title, name, rights in the photo, class, paper.

They come from a small TOML file, or from nowhere: every key has a default. The file may come from
anybody, so every value is checked for kind and size before anything is printed from it.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from firstwash.errors import RequestError
from firstwash.language import tr
from firstwash.typed_text import TURNING, tidied

__all__ = ["Lesson", "permission_warning", "read_lesson", "template"]

PageName = Literal["A4", "Letter"]
PAGES: Final = ("A4", "Letter")
MOST_BYTES: Final = 64_000
TEXTS: Final[Mapping[str, int]] = {
    "title": 120,
    "teacher": 120,
    "licence": 300,
    "photo_author": 120,
    "photo_source": 300,
    "photo_permission": 300,
}  # characters at most: what still fits on a cover
NUMBERS: Final[Mapping[str, tuple[int, int]]] = {
    "students": (1, 200),
    "minutes_per_meeting": (30, 600),
}
PHOTO: Final = ("author", "source", "permission")
TOP: Final = (
    "title", "teacher", "licence", "for_sale", "students", "minutes_per_meeting", "page",
    "language", "photo",
)  # fmt: skip
NAMES: Final = {f"photo_{name}": f"photo.{name}" for name in PHOTO}  # as the file calls them
LANGUAGE: Final = re.compile(r"[A-Za-z]{2,3}([-_][A-Za-z0-9]{2,8}){0,2}")
NOTHING_STATED: Final = re.compile(r"(?i)[\W_]*(none|no|unknown|not known|n/?a|tbd|todo)?[\W_]*")
NOT_FOR_SALE: Final = re.compile(r"(?i)\bnon-?\s?commercial\b|\bCC[ -]BY-NC\b|\bNC\b")


@dataclass(frozen=True)
class Lesson:
    """What a teacher says about a lesson. Empty texts are left off the pages.

    title, teacher: at most 120 characters. licence: the line under every page, at most 300.
    photo_author (120), photo_source, photo_permission (300): of the reference photo. for_sale:
    whether the pack is to be sold. students: 1 to 200. minutes_per_meeting: 30 to 600. page: "A4"
    or "Letter". language: of the texts, such as "en" or "pt-BR".
    Raises RequestError, one sentence, for anything else.
    """

    title: str = ""
    teacher: str = ""
    licence: str = ""
    photo_author: str = ""
    photo_source: str = ""
    photo_permission: str = ""
    for_sale: bool = False
    students: int = 12
    minutes_per_meeting: int = 150
    page: PageName = "A4"
    language: str = "en"

    def __post_init__(self) -> None:
        """Check every value, and tidy white space in texts."""
        for name, most in TEXTS.items():
            object.__setattr__(self, name, _text(_named(name), getattr(self, name), most))
        for name, (low, high) in NUMBERS.items():
            _check_number(name, getattr(self, name), low, high)
        if not isinstance(self.for_sale, bool):
            raise RequestError("Write for_sale as true or false, without quotation marks.")
        if self.page not in PAGES:
            raise RequestError('Write page as "A4" or "Letter".')
        if not isinstance(self.language, str) or not LANGUAGE.fullmatch(self.language):
            raise RequestError('Write language as a short code such as "en" or "pt-BR".')


def _named(name: str) -> str:
    return NAMES.get(name, name)


def _text(name: str, value: object, most: int) -> str:
    if not isinstance(value, str):
        raise RequestError(f'Write {name} as text in quotation marks, such as {name} = "…".')
    return tidied(name, value, most)


def _check_number(name: str, value: object, low: int, high: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise RequestError(f"Write {name} as a whole number from {low} to {high}.")


def read_lesson(data: bytes | None = None) -> Lesson:
    """The settings in a TOML file's bytes; the defaults where there is no file.

    Raises RequestError, one sentence that says what to change: for more than 64 kB, text that is
    not UTF-8 or not TOML, a key that is not known, or a value of the wrong kind or size.
    """
    if data is None:
        return Lesson()
    told = _parsed(data)
    photo = told.pop("photo", {})
    if not isinstance(photo, dict):
        raise RequestError("Write what is known of the photo as a table that begins with [photo].")
    _check_keys(told, TOP, "")
    _check_keys(photo, PHOTO, "photo.")
    return Lesson(**told, **{f"photo_{name}": value for name, value in photo.items()})


def _parsed(data: bytes) -> dict[str, Any]:
    if len(data) > MOST_BYTES:
        raise RequestError(f"The lesson file is longer than {MOST_BYTES // 1000} kB; shorten it.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RequestError("The lesson file is not UTF-8 text; save it as UTF-8.") from error
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers of thousands of digits
        line = re.search(r"at line (\d{1,9})", str(error))
        where = f" at line {line[1]}" if line else ""
        where = " at its end" if "end of document" in str(error) else where
        raise RequestError(
            f"The lesson file cannot be read{where}; compare it with the example file."
        ) from error


def _check_keys(told: Mapping[str, Any], known: tuple[str, ...], before: str) -> None:
    for key in told:
        if key not in known:
            names = ", ".join(before + name for name in known)
            raise RequestError(
                f"The lesson file has a key “{before}{_shown(key)}” that is not known; use {names}."
            )


def _shown(key: str) -> str:
    """A key of a file as it may be shown: printable and short."""
    plain = "".join(c if c.isprintable() and c not in TURNING else "�" for c in key[:40])
    return plain + "…" * (len(key) > 40)


def permission_warning(lesson: Lesson) -> str | None:
    """What to sort out before a pack is sold, one sentence; None where nothing is in the way.

    A warning and no verdict: it goes by what the settings state, not by anybody's law.
    """
    if not lesson.for_sale:
        return None
    if NOTHING_STATED.fullmatch(lesson.photo_permission):
        return tr(
            "This pack is to be sold, but no permission for the reference photo is stated: ask "
            "whoever took it, then write the answer under photo.permission in the lesson file."
        )
    if NOT_FOR_SALE.search(lesson.photo_permission):
        return tr(
            "This pack is to be sold, but the permission stated for the reference photo is for "
            "non-commercial use: ask for another, or take another photo."
        )
    if not lesson.photo_author:
        return tr(
            "This pack is to be sold, but nobody is named for the reference photo: write who took "
            "it under photo.author in the lesson file."
        )
    return None


def template() -> str:
    """An example of the file, with a comment on every key; reads back as the defaults."""
    return _TEMPLATE


_TEMPLATE: Final = """\
# Settings of a lesson. Leave out what you do not need: every key has a default.

# On the cover and at the foot of pages; empty means the painting's own name, and no teacher.
title = ""
teacher = ""

# One line on what others may do with the pages, such as "For members of the class only".
licence = ""

# true if the pack is to be sold: then the permission for the photo, below, must be stated.
for_sale = false

# For the kit list and the timetable.
students = 12
minutes_per_meeting = 150

# "A4" or "Letter".
page = "A4"

# Language of the texts.
language = "en"

# The reference photo: who took it, where it is from, and what you may do with it.
[photo]
author = ""
source = ""
permission = ""
"""
