"""Checks of the text that comes in: names, the painter's words, and states."""

import json
import re
import unicodedata
from typing import Final

from firstwash.errors import StoreError

__all__ = [
    "LONGEST_JSON",
    "LONGEST_NAME",
    "checked_json",
    "checked_label",
    "checked_name",
    "checked_words",
]

LONGEST_NAME: Final = 120  # characters
LONGEST_WORDS: Final = 200  # characters
LONGEST_JSON: Final = 16 * 2**20  # characters
LONGEST_WORD_OF_OURS: Final = 60  # a note's or a setting's name, the kind of a change

# Marks that turn the direction of writing can make a name look like another one.
TURNING: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")


def _plain(text: str) -> str:
    """One line of text without control characters, halves of characters and turning marks."""
    kept = "".join(
        " " if unicodedata.category(c) in ("Zl", "Zp", "Cc") else c
        for c in TURNING.sub("", text)
        if unicodedata.category(c) != "Cs"
    )
    return " ".join(kept.split())


def checked_name(text: str) -> str:
    """A painting's name, tidied: one line, at most 120 characters. Raises StoreError if empty."""
    name = _plain(text)[:LONGEST_NAME].strip()
    if not name:
        raise StoreError("The painting needs a name: type at least one letter.")
    return name


def checked_words(text: str) -> str:
    """What the painter did, tidied: one line, at most 200 characters, "Changed" if empty."""
    return _plain(text)[:LONGEST_WORDS].strip() or "Changed"


def checked_label(text: str) -> str:
    """A name given by the program, such as a note's. Raises StoreError if it is not short."""
    if not re.fullmatch(rf"[\w .:-]{{1,{LONGEST_WORD_OF_OURS}}}", text, re.ASCII):
        raise StoreError("A note's name must be 1 to 60 plain letters: choose another one.")
    return text


def _refuse_constant(word: str) -> None:
    raise ValueError(word)


def checked_json(text: str) -> str:
    """The text itself, once it is found to be JSON. Raises StoreError if it is not.

    NaN and Infinity are not JSON (RFC 8259). At most 16 million characters.
    """
    if len(text) > LONGEST_JSON:
        raise StoreError("This painting holds more than can be kept: leave something out.")
    try:
        text.encode("utf-8")
        json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise StoreError(
            "What was sent to be kept cannot be read: reload the page and try again."
        ) from error
    return text
