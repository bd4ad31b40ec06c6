"""Printed texts in another language, from gettext catalogues; English is what stands in the code.

One piece of work speaks one language, in all its threads: `with speaking(read_texts(file)): …`.
"""

import gettext
import io
import re
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Any, Final

from firstwash.errors import RequestError

__all__ = [
    "ENGLISH",
    "Texts",
    "listed",
    "mark",
    "read_texts",
    "speaking",
    "texts_for",
    "tr",
    "tr_count",
]

Texts = gettext.NullTranslations
ENGLISH: Final = gettext.NullTranslations()
MOST_BYTES: Final = 4_000_000
PLACE: Final = re.compile(r"\{(\w+)\}")
SHIPPED: Final = Path(__file__).parent / "texts"  # <language>/LC_MESSAGES/firstwash.mo
_spoken: ContextVar[Texts] = ContextVar("spoken", default=ENGLISH)


def tr(text: str, **values: object) -> str:
    """A text in the language spoken, with `{name}` replaced by each value.

    Whole sentences translate best; the places may change their order. A translation that calls
    for a value there is not, or leaves one out, gives way to the English.
    """
    try:
        told = _spoken.get().gettext(text) if text else ""  # "" stands for the file's own head
    except ArithmeticError:  # from the catalogue's own rule for numbers, asked for lacking texts
        told = text
    places = _places(text)
    return _filled(told if places == _places(told) else text, values)


def tr_count(one: str, many: str, count: int, **values: object) -> str:
    """A text that depends on a number: `{count}` and other values replaced.

    Languages part numbers in other ways than English, so a translation may tell or leave out the
    count, and what only one of the two English texts tells.
    """
    english = one if count == 1 else many
    try:
        told = _spoken.get().ngettext(one, many, count)
    except ArithmeticError:  # from the catalogue's own rule for numbers
        told = english
    first, second, found = _places(one), _places(many), _places(told)
    fits = (first & second) - {"count"} <= found <= first | second | {"count"}
    return _filled(told if fits else english, {"count": count, **values})


def mark(text: str) -> str:
    """A text that goes into the catalogue here and is translated by `tr` where it is used."""
    return text


def listed(words: Sequence[str]) -> str:
    """Words in a row: "a", "a and b", "a, b and c"; "" for none."""
    if len(words) < 2:
        return "".join(words)
    return tr("{most} and {last}", most=", ".join(words[:-1]), last=words[-1])


def _places(text: str) -> set[str]:
    return set(PLACE.findall(text))


def _filled(told: str, values: dict[str, object]) -> str:
    # Only plain names are places: a catalogue from anywhere can reach nothing else.
    return PLACE.sub(lambda found: str(values[found[1]]), told) if values else told


@contextmanager
def speaking(texts: Texts) -> Iterator[None]:
    """Speak a language in this block, and in threads that take its context along."""
    before = _spoken.set(texts)
    try:
        yield
    finally:
        _spoken.reset(before)


class _Catalogue(gettext.GNUTranslations):
    """Texts of a file; another process reads them from its bytes again."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        super().__init__(io.BytesIO(data))

    def __reduce__(self) -> tuple[Any, ...]:
        return _Catalogue, (self.data,)


def read_texts(data: bytes) -> Texts:
    """A compiled catalogue (.mo) from its bytes. Raises RequestError for anything else."""
    wrong = "The texts are no compiled gettext catalogue; name the .mo file, not the .po file."
    if len(data) > MOST_BYTES:
        raise RequestError(f"The texts are larger than {MOST_BYTES // 1_000_000} MB.")
    try:
        return _Catalogue(data)
    except (OSError, ValueError, struct.error, LookupError, RecursionError) as error:
        raise RequestError(wrong) from error


def texts_for(language: str) -> Texts:
    """The texts that come with the program in a language such as "en", "de" or "pt-BR".

    Those of "pt" serve "pt-BR" too where it has none of its own. Raises RequestError, one sentence
    that says what to do, where there are none.
    """
    name, *rest = re.split("[-_]", language)
    if name.lower() == "en":
        return ENGLISH
    for parts in ((name.lower(), *(part.upper() for part in rest)), (name.lower(),)):
        file = SHIPPED / "_".join(parts) / "LC_MESSAGES" / "firstwash.mo"
        if all(part.isalnum() for part in parts) and file.is_file():
            return read_texts(file.read_bytes())
    raise RequestError(
        f'There are no texts in the language "{language[:20]}" yet: write language = "en" in the '
        "lesson's settings, or give a translation of your own with --texts."
    )
