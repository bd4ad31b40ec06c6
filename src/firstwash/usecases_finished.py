"""A finished painting from its photo and its plan: squared picture, catalogue line, label."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from firstwash.errors import RequestError
from firstwash.finished.labels import label_page
from firstwash.finished.record import Record, catalogue_line
from firstwash.finished.squared import Squared, square
from firstwash.language import ENGLISH, Texts, speaking, tr
from firstwash.picture.load import load_photo
from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from firstwash.plan.bench import Bench
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.result import Plan
from firstwash.sheets.typeset import Page, PageName, typeset
from firstwash.store.whole_folder import writable, write_whole
from firstwash.usecases import open_plan

__all__ = ["FinishedWishes", "finish", "finished_files", "read_corners"]

HEAD: Final = "firstwash finished painting"
MARK: Final = "finished.txt"
PATTERNS: Final = (MARK, "painting.jpg", "sheet.jpg", "label.pdf")
QUALITY: Final = 94
GRAIN_MM: Final = 5.0  # to which a photo tells the size of the paper with its margin
Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class FinishedWishes:
    """What is told besides plan and photo.

    record: title, painter, year. corners: four places (x, y) of the sheet in the photo as shares
    (0-1) of its width and height, upper left first, then clockwise; None to have them found.
    page: what the label is printed on.
    """

    record: Record = field(default_factory=Record)
    corners: Corners | None = None
    page: PageName = "A4"
    texts: Texts = ENGLISH


def read_corners(text: str) -> Corners:
    """Corners as written: "0.1,0.05 0.9,0.06 0.92,0.95 0.08,0.94". Raises RequestError."""
    wrong = RequestError(
        "Write the corners as four pairs of shares, upper left first, then clockwise, such as "
        '"0.1,0.05 0.9,0.06 0.92,0.95 0.08,0.94".'
    )
    try:
        pairs = [tuple(float(part) for part in pair.split(",")) for pair in text.split()]
    except ValueError:
        raise wrong from None
    if len(pairs) != 4 or any(len(p) != 2 or not all(0 <= v <= 1 for v in p) for p in pairs):
        raise wrong
    return tuple((p[0], p[1]) for p in pairs)


def finished_files(
    plan: Plan, photo: bytes | Path, wishes: FinishedWishes | None = None,
    progress: Progress = no_progress,
) -> dict[str, bytes]:  # fmt: skip
    """Every file by its name. The same photo and plan give the same bytes.

    Raises PhotoError for a photo that cannot be read or shows no sheet.
    """
    asked = wishes or FinishedWishes()
    with speaking(asked.texts):
        return _made(plan, photo, asked, progress)


def _made(
    plan: Plan, photo: bytes | Path, asked: FinishedWishes, progress: Progress
) -> dict[str, bytes]:
    progress("Reading the photo", 0.0)
    loaded = load_photo(photo)
    progress("Finding the sheet", 0.3)
    rows, cols = loaded.linear.shape[:2]
    touches = None if asked.corners is None else np.array(asked.corners) * (cols, rows) - 0.5
    sheet = plan.sheet
    squared = square(
        loaded.linear, Bench.of([], plan.paper).white_xyz(),
        (sheet.width_mm, sheet.height_mm), touches, plan.finished_xyz,
    )  # fmt: skip
    progress("Writing", 0.8)
    whole = _sheet_mm(plan, squared)
    files = {"painting.jpg": _jpeg(squared.picture, squared.ppmm)}
    if squared.margins_mm is not None:
        files["sheet.jpg"] = _jpeg(squared.sheet, squared.ppmm)
    title = asked.record.title or tr("Untitled")
    label = label_page(plan, asked.record, whole)
    files["label.pdf"] = typeset(
        label.source, label.files, title=tr("{title}: labels", title=title), page=Page(asked.page)
    )
    files[MARK] = _told(plan, asked.record, squared, (*loaded.notes, *squared.notes), whole)
    progress("Done", 1.0)
    return files


def _sheet_mm(plan: Plan, squared: Squared) -> tuple[float, float] | None:
    """Size of the paper with its margin, as far as a photo tells it: to the half centimetre."""
    if squared.margins_mm is None:
        return None
    upper, right, lower, left = squared.margins_mm
    sides = plan.sheet.width_mm + left + right, plan.sheet.height_mm + upper + lower
    return GRAIN_MM * round(sides[0] / GRAIN_MM), GRAIN_MM * round(sides[1] / GRAIN_MM)


def _jpeg(linear: np.ndarray, ppmm: float | None) -> bytes:
    return encode_jpeg(linear_to_srgb8(np.clip(linear, 0.0, 1.0)), quality=QUALITY, ppmm=ppmm)


def _told(
    plan: Plan, record: Record, squared: Squared, notes: Sequence[str],
    whole: tuple[float, float] | None,
) -> bytes:  # fmt: skip
    lit = (
        tr(
            "The light was evened out and the white taken from the bare margin. How the phone drew "
            "the tones between white and black is not known and was left: this is a good picture "
            "of the painting, and no measurement of it."
        )
        if squared.lit
        else tr("Perspective was undone; light and colours are as in the photo.")
    )
    check = tr("Pigments and paper are those of the plan: change what you changed at the board.")
    lines = [HEAD, "", catalogue_line(plan, record, whole), "", lit, check, *notes, ""]
    return "\n".join(lines).encode()


def finish(
    plan: Path, photo: Path, folder: Path, wishes: FinishedWishes | None = None,
    progress: Progress = no_progress,
) -> tuple[str, ...]:  # fmt: skip
    """Make the files of a finished painting and write them; returns what was told of the photo.

    The folder appears whole or not at all; an older one is replaced, anything else is refused.
    """
    target = writable(folder, PATTERNS, _holds)
    files = finished_files(open_plan(plan).plan, photo, wishes, progress)
    write_whole(folder, target, _in_order(files))
    return tuple(line for line in files[MARK].decode().splitlines()[2:] if line)


def _in_order(files: dict[str, bytes]) -> Iterator[tuple[str, bytes]]:
    yield from sorted(files.items())


def _holds(folder: Path) -> bool:
    file = folder / MARK
    return file.is_file() and file.read_bytes()[: len(HEAD)] == HEAD.encode()
