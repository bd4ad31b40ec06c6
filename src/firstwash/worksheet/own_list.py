"""The painter's own list of paints, kept as the text file every shell can read."""

import hashlib
import os
import secrets
import threading
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from firstwash.errors import OutputError, PaintError
from firstwash.paints.box import Box, load_box, parse_box, write_box
from firstwash.paints.box_lines import BoxPaint
from firstwash.paints.catalogue import all_paints
from firstwash.paints.own import own_file
from firstwash.paints.shelf import Shelf, load_shelf

__all__ = ["NAME", "OwnList"]

NAME: Final = "my-paints.txt"
CALLED: Final = "Your list"  # in sentences on what is wrong
STARTER: Final = "starter"
LARGEST: Final = 200_000  # letters


@dataclass(frozen=True)
class OwnList:
    """The list in a folder of its own. Until the painter changes it, it is the starter set."""

    folder: Path
    _one_change: threading.RLock = field(
        default_factory=threading.RLock, init=False, repr=False, compare=False
    )

    @property
    def path(self) -> Path:
        """Where the list is, once there is one."""
        return self.folder / NAME

    @property
    def source(self) -> str | Path:
        """What to load: the list, or the starter set's name."""
        return self.path if self.path.is_file() else STARTER

    @property
    def is_own(self) -> bool:
        """Whether the painter has a list of his own yet."""
        return self.path.is_file()

    def shelf(self) -> Shelf:
        """The list with what swatches taught. Raises PaintError."""
        return load_shelf(self.source)

    def text(self) -> str:
        """The list as its lines are written."""
        return write_box(self.shelf().box)

    def stamp(self) -> str:
        """A word that changes whenever the list does."""
        return hashlib.sha256(self.text().encode()).hexdigest()[:16]

    def replaced(self, text: str, base: str | None = None) -> Shelf:
        """The list with all its lines written anew.

        base: the stamp of the list it was written on, if that matters. Raises PaintError for
        what cannot be read, or where the list was changed meanwhile.
        """
        if len(text) > LARGEST:
            raise PaintError("That is too long for a list of paints.")
        with self._one_change:
            if base is not None and base != self.stamp():
                raise PaintError(
                    "Your list was changed elsewhere meanwhile; look at it again, then write anew."
                )
            return self._kept(parse_box(text, CALLED))

    def added(self, word: str, unknown: bool = False, hue: str | None = None) -> Shelf:
        """The list with one paint more, by its name. Raises PaintError with the nearest names."""
        one = BoxPaint(word.strip(), unknown=unknown, hue=hue)
        with self._one_change:
            try:
                return self._kept(self._box().with_paint(one))
            except PaintError as error:
                raise PaintError(_on_the_page(str(error))) from error

    def without(self, word: str) -> Shelf:
        """The list without a paint. Raises PaintError if it is not there."""
        with self._one_change:
            return self._kept(self._box().without(word))

    def changed(self, word: str, **what: Any) -> Shelf:
        """The list with other words on a paint. Raises PaintError."""
        with self._one_change:
            return self._kept(self._box().changed(word, **what))

    def _box(self) -> Box:
        return load_box(self.source).renamed(CALLED)

    def _kept(self, box: Box) -> Shelf:
        """Write the list, whole or not at all."""
        box.to_set(with_banned=True)  # a list without a paint can plan nothing
        draft = self.folder / f".{secrets.token_hex(8)}"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with draft.open("wb") as out:
                out.write(write_box(box).encode())
                out.flush()
                os.fsync(out.fileno())
            os.replace(draft, self.path)
        except OSError as error:
            why = error.strerror or "the disk refused"
            raise OutputError(f"Your list of paints cannot be written ({why}).") from None
        finally:
            with suppress(OSError):
                draft.unlink()
        return self.shelf()

    @property
    def taught_file(self) -> Path:
        """Where what swatches taught lies, if anything does."""
        return own_file(self.path)

    @staticmethod
    def known_names() -> tuple[str, ...]:
        """Trade names of all paints of the catalogue, for a field that completes them."""
        return tuple(sorted({p.name for p in all_paints()}))


def _on_the_page(sentence: str) -> str:
    """A refusal in the words of the page, which has a field with names and a box to tick."""
    plain = sentence.split(" List them with:")[0].split(" If its pigment is unknown,")[0]
    return f"{plain} Take a name the field offers, or tick that its pigment is not known."
