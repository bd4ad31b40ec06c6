"""A finished painting from its photo and its plan: squared picture, catalogue line, label."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PhotoError, RequestError
from firstwash.finished.labels import label_page
from firstwash.finished.record import Record, catalogue_line
from firstwash.finished.squared import Squared, square, trimmed
from firstwash.language import ENGLISH, Texts, speaking, texts_for, tr
from firstwash.pack.zip import pack_zip, plain_name
from firstwash.picture.load import Photo, load_photo
from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from firstwash.plan.bench import Bench
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.result import Plan
from firstwash.sheets.typeset import Page, PageName, typeset
from firstwash.store.whole_folder import marked, writable, write_whole
from firstwash.usecases import open_plan
from firstwash.worksheet.brief import read_brief
from firstwash.worksheet.desk import open_desk

__all__ = ["FinishedWishes", "finish", "finished_files", "finished_work", "read_corners"]

HEAD: Final = "firstwash finished painting"
MARK: Final = "finished.txt"
PATTERNS: Final = (MARK, "painting.jpg", "sheet.jpg", "label.pdf")
QUALITY: Final = 94
GRAIN_MM: Final = 5.0  # to which a photo tells the size of the paper with its margin
SHOWN_PX: Final = 1600  # longest side of the pictures that a page shows
SHOWN_QUALITY: Final = 88
Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class FinishedWishes:
    """What is told besides plan and photo.

    record: title, painter, year. corners: four places (x, y) of the sheet in the photo as shares
    (0-1) of its width and height, upper left first, then clockwise; None to have them found.
    page: what the label is printed on. texts, language: what label and catalogue line are told
    in, and what the PDF says of its language.
    """

    record: Record = field(default_factory=Record)
    corners: Corners | None = None
    page: PageName = "A4"
    texts: Texts = ENGLISH
    language: str = "en"


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
    progress("Reading the photo", 0.0)
    loaded = load_photo(photo)
    with speaking(asked.texts):
        return _made(plan, loaded, asked, progress)[0]


def _made(
    plan: Plan, loaded: Photo, asked: FinishedWishes, progress: Progress
) -> tuple[dict[str, bytes], Squared]:
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
    files = {"painting.jpg": _jpeg(trimmed(squared), squared.ppmm)}
    if squared.margins_mm is not None:
        files["sheet.jpg"] = _jpeg(squared.sheet, squared.ppmm)
    title = asked.record.title or tr("Untitled")
    label = label_page(plan, asked.record, whole)
    files["label.pdf"] = typeset(
        label.source,
        label.files,
        title=tr("{title}: labels", title=title),
        page=Page(asked.page, language=asked.language),
    )
    files[MARK] = _told(plan, asked.record, squared, (*loaded.notes, *squared.notes), whole)
    progress("Done", 1.0)
    return files, squared


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
    target = writable(folder, PATTERNS, marked(MARK, HEAD))
    files = finished_files(open_plan(plan).plan, photo, wishes, progress)
    write_whole(folder, target, sorted(files.items()))
    return _lines(files)


def _lines(files: dict[str, bytes]) -> tuple[str, ...]:
    """What was told: the catalogue line, then the notes."""
    return tuple(line for line in files[MARK].decode().splitlines()[2:] if line)


def finished_work(
    folder: Path, progress: Progress, *, brief: str, files: str, photo: str,
    record: dict[str, str], corners: Corners | None, page: PageName, language: str,
) -> dict[str, Any]:  # fmt: skip
    """The finished painting of a kept painting, in a process of its own, into `folder`.

    brief: its JSON; files: the store's folder of files; photo: the file of the photo; record:
    fields of a `Record`; language: of label and catalogue line. Writes photo.jpg, the photo small,
    in which corners can be touched; and, if the sheet was found, a zip and painting.jpg, small.
    Returns lost, "" or one sentence on why the sheet was not found; corners of the sheet as those
    asked for; file, the zip's name; line, the catalogue's; notes.
    """
    progress("Reading the photo", 0.0)
    loaded = load_photo(Path(photo))
    (folder / "photo.jpg").write_bytes(_shown(loaded.linear))
    kept = Path(files)
    plan = open_desk(read_brief(brief), lambda key: (kept / key[:2] / key).read_bytes()).plan
    asked = FinishedWishes(Record(**record), corners, page, texts_for(language), language)
    try:
        with speaking(asked.texts):
            made, squared = _made(plan, loaded, asked, progress)
    except PhotoError as error:
        return {"lost": str(error)}
    name = f"{plain_name(asked.record.title, 'painting')}.zip"
    (folder / "painting.jpg").write_bytes(_shown(trimmed(squared)))
    (folder / name).write_bytes(pack_zip(made))
    line, *notes = _lines(made)
    found = _corners(squared)
    return {"lost": "", "corners": found, "file": name, "line": line, "notes": notes}


def _corners(squared: Squared) -> list[list[float]]:
    """Of the sheet as shares of the photo, the photo's upper left first, then clockwise."""
    shares = np.clip((squared.edges + 0.5) / squared.plane.size, 0.0, 1.0)
    turned = np.roll(shares, -int(shares.sum(axis=1).argmin()), axis=0)
    return [[float(x), float(y)] for x, y in turned]


def _shown(linear: NDArray[np.float32]) -> bytes:
    """A picture as large as a page shows it."""
    rows, cols = linear.shape[:2]
    share = min(SHOWN_PX / max(rows, cols), 1.0)
    size = max(round(cols * share), 1), max(round(rows * share), 1)
    small = cv2.resize(linear, size, interpolation=cv2.INTER_AREA) if share < 1 else linear
    return encode_jpeg(linear_to_srgb8(np.clip(small, 0.0, 1.0)), quality=SHOWN_QUALITY)
