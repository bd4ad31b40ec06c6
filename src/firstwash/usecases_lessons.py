"""The gallery of lessons: a list of paints in, a folder of pages out."""

from pathlib import Path

from firstwash.lessons.gallery import FILES, MARK, Gallery, make_gallery
from firstwash.paints.shelf import load_shelf
from firstwash.plan.problem import Progress, no_progress
from firstwash.store.whole_folder import writable, write_whole

__all__ = ["check_lessons_folder", "write_lessons"]


def check_lessons_folder(folder: Path) -> Path:
    """The folder as an absolute path, if lessons may be written there; else OutputError."""
    return writable(folder, FILES, _holds_lessons)


def _holds_lessons(folder: Path) -> bool:
    index = folder / "index.html"
    return index.is_file() and index.read_bytes().rstrip().endswith(MARK.encode())


def write_lessons(
    paints: str | Path, folder: Path, progress: Progress = no_progress
) -> tuple[Gallery, Path]:
    """Make the lessons with a list of paints and write them; returns them and the index page.

    paints: a set by name or a text file; what its swatch card taught counts. The folder appears
    whole or not at all; older lessons there are replaced, anything else is refused.
    Raises a FirstwashError that says what does not fit.
    """
    target = check_lessons_folder(folder)  # before the work, not after it
    shelf = load_shelf(paints)
    gallery = make_gallery(shelf.to_set().paints, shelf.paper, shelf.box.name, progress)
    write_whole(folder, target, gallery.files.items())
    return gallery, target / "index.html"
