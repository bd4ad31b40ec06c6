"""One line of a box of paints: words between bars, in any order, read and written.

    PB29 | half pan | half empty | favourite | grains nicely on rough  # bought in May
    mystery red | pan | unknown | from the student's set

The first field names the paint; among the others, whatever is not one of the words below is
the note. `#` starts a comment.
"""

import difflib
import re
import unicodedata
from dataclasses import dataclass
from typing import Final, Literal, cast, get_args

from firstwash.errors import PaintError
from firstwash.paints.unknown import FAMILIES, HUES, hue_in

__all__ = ["BoxPaint", "Fill", "Form", "read_line", "write_line"]

Form = Literal["pan", "half pan", "tube"]
Fill = Literal["new", "half empty", "nearly empty", "empty"]

FORMS: Final = get_args(Form)
FILLS: Final = get_args(Fill)
_SAME: Final = {
    "full pan": "pan", "full": "new", "half full": "half empty", "almost empty": "nearly empty",
    "used up": "empty", "favorite": "favourite", "favourites": "favourite", "ban": "banned",
    "never": "banned", "pans": "pan", "half pans": "half pan", "tubes": "tube",
}  # fmt: skip
_MARKS: Final = ("favourite", "banned", "unknown")
_WORDS: Final = (*FORMS, *FILLS, *_MARKS)
MOST_LETTERS: Final = 500  # in a line
_LOOKALIKE: Final = 0.82  # likeness (difflib) from which a field is taken for a slip of the pen
_JOINERS: Final = "\u200c\u200d"  # letters of some scripts need them


@dataclass(frozen=True)
class BoxPaint:
    """One paint of a box, as its line says it.

    name: a key or trade name, or what stands on the pan. form, fill: None where nothing is
    said. unknown: its pigment is unknown. hue: family of hue said with that word, or None
    for the hue word in the name. note: all the rest; comment: behind `#`.
    """

    name: str
    form: Form | None = None
    fill: Fill | None = None
    favourite: bool = False
    banned: bool = False
    unknown: bool = False
    hue: str | None = None
    note: str = ""
    comment: str = ""

    def __post_init__(self) -> None:
        """Blanks as a line keeps them, hues by their family."""
        pieces = (_tidy(piece) for piece in self.note.split("|"))
        hue = HUES.get(self.hue.casefold(), self.hue) if self.hue and self.unknown else None
        for name, value in (
            ("name", _tidy(self.name)),
            ("note", " | ".join(piece for piece in pieces if piece)),
            ("comment", _tidy(self.comment)),
            ("hue", hue),
        ):
            object.__setattr__(self, name, value)

    @property
    def unknown_hue(self) -> str | None:
        """The family of hue of a paint whose pigment is unknown; None for other paints."""
        return (self.hue or hue_in(self.name)) if self.unknown else None


def _tidy(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def _word(field: str) -> str:
    """A field as a word is spelled here: small letters, blanks for hyphens, one of a kind."""
    plain = _tidy(field.casefold().replace("-", " ").rstrip(".!"))
    return _SAME.get(plain, plain)


def _words_in(field: str) -> list[str]:
    """The words a field holds, such as "half pan, nearly empty"; none if it is a note."""
    found = [_word(part) for part in field.split(",")]
    return found if all(_is_word(w) for w in found) else []


def _is_word(word: str) -> bool:
    return word in _WORDS or (word.startswith("unknown ") and word.split(" ", 1)[1] in HUES)


def _check_letters(text: str) -> None:
    if len(text) > MOST_LETTERS:
        raise PaintError(f"the line is longer than {MOST_LETTERS} letters; shorten its note.")
    for letter in text:
        kind = unicodedata.category(letter)
        if letter not in f"\t{_JOINERS}" and kind in ("Cc", "Cf", "Cs", "Zl", "Zp"):
            raise PaintError("the line holds a character that cannot be seen; type it anew.")


def _check_note(field: str) -> None:
    """Refuse what looks like a misspelled word: a paint meant to be banned must not be used."""
    word = _word(field)
    first, _, rest = word.partition(" ")
    if first == "unknown" and rest and " " not in rest:
        raise PaintError(f"“{rest}” is no hue word; say unknown and one of {', '.join(FAMILIES)}.")
    near = difflib.get_close_matches(word, _WORDS, 1, _LOOKALIKE)
    if near:
        raise PaintError(
            f"“{_tidy(field)}” looks like “{near[0]}”; write that, or more words in the note."
        )


def read_line(text: str) -> BoxPaint | None:
    """The paint a line tells of, or None for a comment or an empty line.

    Raises PaintError, without a line number, where the line contradicts itself or a word is
    misspelled; it is not checked here whether there is such a paint.
    """
    _check_letters(text)
    told, _, comment = text.partition("#")
    if not told.strip(" \t|"):
        if told.strip():
            raise PaintError("the line names no paint; begin it with one.")
        return None
    name, *fields = (part.strip() for part in told.split("|"))
    if not name:
        raise PaintError("the line names no paint; begin it with one.")
    words, notes = [], []
    for field in fields:
        found = _words_in(field)
        words += found
        if field and not found:
            _check_note(field)
            notes.append(field)
    return _said(name, words, " | ".join(notes), comment)


def _said(name: str, words: list[str], note: str, comment: str) -> BoxPaint:
    hues = {HUES[w.split(" ", 1)[1]] for w in words if w.startswith("unknown ")}
    if "favourite" in words and "banned" in words:
        raise PaintError("the paint is both favourite and banned; keep one of the two.")
    if len(hues) > 1:
        raise PaintError(f"the paint is said to be {' and '.join(sorted(hues))}; keep one hue.")
    return BoxPaint(
        name,
        form=cast("Form | None", _one_of(words, FORMS)),
        fill=cast("Fill | None", _one_of(words, FILLS)),
        favourite="favourite" in words,
        banned="banned" in words,
        unknown=bool(hues) or "unknown" in words,
        hue=next(iter(hues), None),
        note=note,
        comment=comment,
    )


def _one_of(words: list[str], choice: tuple[str, ...]) -> str | None:
    found = [w for w in choice if w in words]
    if len(found) > 1:
        raise PaintError(f"the paint is both {found[0]} and {found[1]}; keep one of the two.")
    return found[0] if found else None


def write_line(one: BoxPaint) -> str:
    """A line that `read_line` reads back as the same paint.

    Raises PaintError for a paint that no line can tell of, such as a note with a bar's word in
    it or a sign that has a meaning of its own.
    """
    marks = [m for m, holds in (("favourite", one.favourite), ("banned", one.banned)) if holds]
    unknown = [f"unknown {one.hue}" if one.hue else "unknown"] if one.unknown else []
    fields = [one.name, one.form, one.fill, *marks, *unknown, one.note]
    text = " | ".join(f for f in fields if f) + (f"  # {one.comment}" if one.comment else "")
    try:
        same = read_line(text) == one
    except PaintError as error:
        raise PaintError(f"{one.name}: {error}") from error
    if not same:
        raise PaintError(
            f"The paint “{one.name}” cannot be written down as it is; leave out of its "
            "name and note the signs | and #, and words that have a meaning of their own."
        )
    return text
