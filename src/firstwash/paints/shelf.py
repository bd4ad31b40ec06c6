"""A painter's list of paints together with what swatches taught about them and the paper."""

from dataclasses import dataclass
from pathlib import Path

from firstwash.errors import PaintError
from firstwash.optics.surface import Paper
from firstwash.paints.box import Box, BoxPaint, load_box, paint_of
from firstwash.paints.catalogue import Paint, PaintSet, default_paper, set_names
from firstwash.paints.own import OwnPaints, own_file, read_own

__all__ = ["Shelf", "load_shelf"]


@dataclass(frozen=True, eq=False)
class Shelf:
    """box: the list. own: what swatches taught; empty where nothing did."""

    box: Box
    own: OwnPaints

    @property
    def paper(self) -> Paper:
        """The painter's paper as a swatch card showed it, or the built-in one."""
        return self.own.paper or default_paper()

    def to_set(self, with_banned: bool = False) -> PaintSet:
        """The paints to plan with, taught ones in place of the catalogue's; see `Box.to_set`."""
        return self.box.to_set(with_banned, self.own.paints)

    def paint(self, word: str) -> Paint:
        """A paint of this list by its key or name, taught if it is; else one of the catalogue.

        Raises PaintError with the nearest names when there is none.
        """
        plain = " ".join(word.split()).casefold()
        listed = self.box.to_set(with_banned=True, own=self.own.paints).paints
        for one in listed:
            if plain in (one.key.casefold(), one.name.casefold()):
                return one
        return paint_of(BoxPaint(word))

    def untaught(self, word: str) -> Paint:
        """The same paint as it was thought of before any swatch."""
        return Shelf(self.box, OwnPaints()).paint(word)

    def lists(self, one: Paint) -> bool:
        """Whether a paint is on the list, banned or not."""
        return any(p.key == one.key for p in self.box.to_set(with_banned=True).paints)


def load_shelf(name_or_path: str | Path) -> Shelf:
    """A list by name or path, with the file of taught paints beside it if there is one.

    Raises PaintError for a list or a file that cannot be read.
    """
    box = load_box(name_or_path)
    if isinstance(name_or_path, str) and name_or_path in set_names():
        return Shelf(box, OwnPaints())
    file = own_file(Path(name_or_path))
    if not file.is_file():
        return Shelf(box, OwnPaints())
    try:
        return Shelf(box, read_own(file.read_bytes(), file.name))
    except OSError as error:
        why = error.strerror or "unreadable"
        raise PaintError(f"{file} cannot be read ({why}); check that you may read it.") from error
