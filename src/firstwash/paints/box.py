"""The painter's own paints: a named list in plain text, one paint a line, that can be edited.

    # my travel box
    PB29  | pan | half empty | favourite | grains nicely on rough
    PR83  | tube | banned | fades
    mystery red | pan | unknown | from the student's set

Lists that come with firstwash have the same form. Boxes are never changed: every edit gives a
new one, in which only the edited line is written anew.
"""

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from firstwash.errors import PaintError
from firstwash.paints.box_lines import BoxPaint, Fill, Form, read_line, write_line
from firstwash.paints.catalogue import Paint, PaintSet, all_paints, paint, set_names
from firstwash.paints.facts import PigmentFacts, facts
from firstwash.paints.unknown import facts_hue, hue_in, unknown_paint

__all__ = ["Box", "BoxPaint", "Fill", "Form", "load_box", "paint_of", "parse_box", "write_box"]

MOST_BYTES: Final = 1_000_000
MOST_LINES: Final = 1000
MOST_NAME: Final = 80  # letters


def _plain(text: str) -> str:
    return re.sub(r"[\s_]+", " ", text).strip().casefold()


@cache
def _kinds() -> Mapping[str, tuple[PigmentFacts, ...]]:
    """Kinds of pigment by key and by name, with and without what the name has in brackets."""
    found: dict[str, tuple[PigmentFacts, ...]] = {}
    for one in facts():
        for word in {_plain(one.key), _plain(one.name), _plain(one.name.partition(" (")[0])}:
            found[word] = (*found.get(word, ()), one)
    return MappingProxyType(found)


@cache
def _taken() -> frozenset[str]:
    """Words that already mean a paint or a pigment."""
    known = {_plain(word) for p in all_paints() for word in (p.key, p.name)}
    return frozenset(known | set(_kinds()))


def _kind(word: str) -> PigmentFacts | None:
    """The one kind of pigment that a word names, or None."""
    found = _kinds().get(_plain(word), ())
    return found[0] if len(found) == 1 else None


def paint_of(one: BoxPaint) -> Paint:
    """The paint that one line of a box means.

    A known paint by its key or trade name; a pigment of which only facts are known with curves
    assumed from its hue; a paint of unknown pigment with curves assumed from its hue word, under
    the name on the pan, with "(unknown)" behind it where that name means a known paint.
    Raises PaintError where there is no such paint.
    """
    if one.unknown:
        return _unknown(one)
    try:
        return paint(one.name)
    except PaintError as error:
        kind, hue = _kind(one.name), hue_in(one.name)
        if kind is not None:
            return unknown_paint(kind.name, facts_hue(kind), kind)
        hint = f" If its pigment is unknown, add “| unknown {hue}”." if hue else ""
        raise PaintError(f"{error}{hint}") from None


def _unknown(one: BoxPaint) -> Paint:
    kind, word = _kind(one.name), _plain(one.name)
    if any(word == _plain(p.key) for p in all_paints()):
        raise PaintError(
            f"“{one.name}” is a paint whose colour is known; leave out the word unknown, or write "
            "what stands on the pan."
        )
    if kind is not None and word == _plain(kind.key):
        return unknown_paint(kind.name, one.hue or facts_hue(kind), kind)
    hue = one.unknown_hue
    if hue is None:
        raise PaintError(
            f"nothing says what colour “{one.name}” is; write, for example, unknown red."
        )
    return unknown_paint(f"{one.name} (unknown)" if word in _taken() else one.name, hue)


@dataclass(frozen=True)
class Box:
    """A painter's paints, in the order of their lines.

    lines: each as it is written, with the paint it tells of; None for comments and empty lines.
    Raises PaintError, with the line's number, for a line that names no paint or one that was
    named before.
    """

    name: str
    lines: tuple[tuple[str, BoxPaint | None], ...] = ()

    def __post_init__(self) -> None:
        """Check the name; every line must be a paint, and another one."""
        if not (self.name.isprintable() and 0 < len(self.name.strip()) <= MOST_NAME):
            raise PaintError(f"A box needs a name of 1 to {MOST_NAME} letters.")
        _ = self._found

    @cached_property
    def _found(self) -> Mapping[str, tuple[int, Paint]]:
        """By key in small letters: the index of the line, and the paint."""
        found: dict[str, tuple[int, Paint]] = {}
        for i, (_, one) in enumerate(self.lines):
            if one is None:
                continue
            try:
                meant = paint_of(one)
            except PaintError as error:
                raise PaintError(f"{self.name}, line {i + 1}: {error}") from error
            if _plain(meant.key) in found:
                raise PaintError(f"{self.name}, line {i + 1}: {meant.key} is listed twice.")
            found[_plain(meant.key)] = i, meant
        return MappingProxyType(found)

    @property
    def paints(self) -> tuple[BoxPaint, ...]:
        """What the lines say of each paint, banned and empty ones too."""
        return tuple(one for _, one in self.lines if one is not None)

    @property
    def favourites(self) -> tuple[str, ...]:
        """Keys of the favourites that are not used up."""
        return tuple(p.key for one, p in self._pairs() if one.favourite and one.fill != "empty")

    @property
    def banned(self) -> tuple[str, ...]:
        """Keys of the paints that are never to be used."""
        return tuple(p.key for one, p in self._pairs() if one.banned)

    def _pairs(self) -> list[tuple[BoxPaint, Paint]]:
        return list(zip(self.paints, (p for _, p in self._found.values()), strict=True))

    def to_set(self, with_banned: bool = False, own: Sequence[Paint] = ()) -> PaintSet:
        """The paints a plan may use, without empty and banned ones, and their notes.

        with_banned: the banned ones too, for a caller that leaves them out by `Limits.ban`.
        own: paints that swatches taught; they stand for those of the same key.
        Raises PaintError where none is left.
        """
        taught = {p.key: p for p in own}
        pairs = [
            (one, taught.get(p.key, p))
            for one, p in self._pairs()
            if one.fill != "empty" and (with_banned or not one.banned)
        ]
        if not pairs:
            why = (
                "has only banned or used-up paints; allow one" if self.paints else "names no paint"
            )
            raise PaintError(f"{self.name} {why}.")
        notes = {p.key: one.note for one, p in pairs if one.note}
        return PaintSet(self.name, tuple(p for _, p in pairs), MappingProxyType(notes))

    # -------------------------------------------------------------- edits

    def with_paint(self, one: BoxPaint | str, before: str | None = None) -> "Box":
        """With one paint more, at the end or before another; raises PaintError if it is there."""
        new = BoxPaint(one) if isinstance(one, str) else one
        at = len(self.lines) if before is None else self._line(before)
        return self._with_lines((*self.lines[:at], (write_line(new), new), *self.lines[at:]))

    def without(self, word: str) -> "Box":
        """Without one paint; raises PaintError if it is not there."""
        at = self._line(word)
        return self._with_lines((*self.lines[:at], *self.lines[at + 1 :]))

    def changed(self, word: str, **what: Any) -> "Box":
        """With other words for one paint, by the fields of `BoxPaint`.

        A favourite that is banned is none any more, and the reverse.
        """
        at = self._line(word)
        old = self.lines[at][1]
        assert old is not None
        if what.get("banned"):
            what.setdefault("favourite", False)
        if what.get("favourite"):
            what.setdefault("banned", False)
        new = replace(old, **what)
        return self._with_lines((*self.lines[:at], (write_line(new), new), *self.lines[at + 1 :]))

    def noted(self, word: str, note: str) -> "Box":
        """With another note on one paint; an empty one takes the note away."""
        return self.changed(word, note=note)

    def renamed(self, name: str) -> "Box":
        """The same paints under another name."""
        return replace(self, name=name)

    def _line(self, word: str) -> int:
        """Index of the line of a paint, by its key, its trade name or what the line calls it."""
        wanted = _plain(word)
        if wanted in self._found:
            return self._found[wanted][0]
        for i, one in enumerate(one for _, one in self.lines):
            if one is not None and wanted in (_plain(one.name), _plain(paint_of(one).name)):
                return i
        raise PaintError(f"There is no “{word}” in {self.name}; add it first.")

    def _with_lines(self, lines: tuple[tuple[str, BoxPaint | None], ...]) -> "Box":
        return Box(self.name, lines)


def parse_box(text: str, name: str) -> Box:
    """A box from its text; comments, empty lines and the order of lines are kept.

    Raises PaintError, with the line's number, for what cannot be read.
    """
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    lines = plain.rstrip("\n").split("\n") if plain.strip() else []
    if len(lines) > MOST_LINES:
        raise PaintError(
            f"{name} has {len(lines)} lines; a box holds at most {MOST_LINES}, one paint a line."
        )
    found = []
    for number, line in enumerate(lines, 1):
        try:
            found.append((line.rstrip(), read_line(line)))
        except PaintError as error:
            raise PaintError(f"{name}, line {number}: {error}") from error
    return Box(name, tuple(found))


def write_box(box: Box) -> str:
    """The text of a box, lines ended by "\\n"; `parse_box` reads the same box back."""
    return "".join(f"{line}\n" for line, _ in box.lines)


def load_box(name_or_path: str | Path) -> Box:
    """A list that comes with firstwash, by name, or the painter's own text file, by path.

    A word that names a shipped list means that list; "./measured" means the file.
    Raises PaintError for a file that cannot be read, as text in UTF-8 or as a box.
    """
    if isinstance(name_or_path, str) and name_or_path in set_names():
        file = resources.files("firstwash.paints").joinpath("data", "sets", f"{name_or_path}.txt")
        return parse_box(file.read_text("utf-8"), name_or_path)
    path = Path(name_or_path)
    try:
        if not path.is_file():
            raise FileNotFoundError(path)
        with path.open("rb") as opened:
            raw = opened.read(MOST_BYTES + 1)
        if len(raw) <= MOST_BYTES:
            return parse_box(raw.decode("utf-8"), _stem(path))
    except (OSError, ValueError) as error:
        raise PaintError(_unreadable(str(name_or_path), error)) from error
    raise PaintError(f"{path.name} is too large for a list of paints; name another file.")


def _stem(path: Path) -> str:
    """A file's name as the name of a box: letters that can be shown, not too many."""
    shown = "".join(c if c.isprintable() else "?" for c in path.stem)
    return shown.strip()[:MOST_NAME] or "box"


def _unreadable(asked: str, error: Exception) -> str:
    names = ", ".join(set_names())
    if isinstance(error, UnicodeDecodeError):
        return f"There is no set or readable text file “{asked}”; save it as text in UTF-8."
    near = difflib.get_close_matches(asked.casefold(), set_names(), 3, 0.5)
    hint = f" Near: {', '.join(near)}." if near else ""
    return f"There is no set or readable text file “{asked}”.{hint} Sets: {names}."
