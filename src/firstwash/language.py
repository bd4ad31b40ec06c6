"""Printed texts in another language, from gettext catalogues; English is what stands in the code.

One piece of work speaks one language, in all its threads: `with speaking(read_texts(file)): …`.
"""

import gettext
import io
import re
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

from firstwash.errors import RequestError

__all__ = ["ENGLISH", "Texts", "mark", "read_texts", "speaking", "tr", "tr_count"]

Texts = gettext.NullTranslations
ENGLISH: Final = gettext.NullTranslations()
MOST_BYTES: Final = 4_000_000
PLACE: Final = re.compile(r"\{(\w+)\}")
_spoken: ContextVar[Texts] = ContextVar("spoken", default=ENGLISH)


def tr(text: str, **values: object) -> str:
    """A text in the language spoken, with `{name}` replaced by each value.

    Whole sentences translate best; the places may change their order. A translation that calls
    for a value there is not, or leaves one out, gives way to the English.
    """
    return _filled(_spoken.get().gettext(text), text, values)


def tr_count(one: str, many: str, count: int, **values: object) -> str:
    """A text that depends on a number: `{count}` and other values replaced."""
    told = _spoken.get().ngettext(one, many, count)
    return _filled(told, one if count == 1 else many, {"count": count, **values})


def mark(text: str) -> str:
    """A text that goes into the catalogue here and is translated by `tr` where it is used."""
    return text


def _filled(told: str, english: str, values: dict[str, object]) -> str:
    if not values:
        return told
    if told is not english and set(PLACE.findall(told)) != set(PLACE.findall(english)):
        told = english
    # Only plain names are places: a catalogue from anywhere can reach nothing else.
    return PLACE.sub(lambda found: str(values[found[1]]), told)


@contextmanager
def speaking(texts: Texts) -> Iterator[None]:
    """Speak a language in this block, and in threads that take its context along."""
    before = _spoken.set(texts)
    try:
        yield
    finally:
        _spoken.reset(before)


def read_texts(data: bytes) -> Texts:
    """A compiled catalogue (.mo) from its bytes. Raises RequestError for anything else."""
    wrong = "The texts are no compiled gettext catalogue; name the .mo file, not the .po file."
    if len(data) > MOST_BYTES:
        raise RequestError(f"The texts are larger than {MOST_BYTES // 1_000_000} MB.")
    try:
        return gettext.GNUTranslations(io.BytesIO(data))
    except (OSError, ValueError, struct.error, IndexError, KeyError, RecursionError) as error:
        raise RequestError(wrong) from error
