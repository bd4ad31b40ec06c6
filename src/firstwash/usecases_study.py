"""A photo studied: a photo and a list of paints in, a folder with one page out."""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from firstwash.optics.observer import xyz_to_lab
from firstwash.paints.catalogue import Paint
from firstwash.paints.shelf import load_shelf
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.say import allowed
from firstwash.seeing.document import study_document
from firstwash.seeing.page import MARK, study_page
from firstwash.seeing.pictures import pictures
from firstwash.seeing.study import TOLD, Asked, Study, study
from firstwash.store.whole_folder import writable, write_whole
from firstwash.usecases import Wishes, laid_photo

__all__ = ["StudyWishes", "check_study_folder", "study_photo", "write_study"]

FILES = (
    "index.html", "study.json", "photo.jpg", "squint.jpg", "values.png", "pattern.png",
    "lost-edges.png", "lights-and-darks.jpg", "whites.jpg", "local-colour.jpg", "light.jpg",
    *(f"area-{n}.jpg" for n in range(1, TOLD + 1)),
)  # fmt: skip


@dataclass(frozen=True)
class StudyWishes:
    """What the painter asks for: the sheet's size, paints (a set or a list), how to look."""

    sheet: str = "28x38cm"
    paints: str = "starter"
    crop: tuple[float, float, float, float] | None = None
    look: Asked = field(default_factory=Asked)


@dataclass(frozen=True, eq=False)
class Studied:
    """A study with the paints it was made for and what is known of the photo."""

    study: Study
    paints: tuple[Paint, ...]
    title: str
    notes: tuple[str, ...]


def check_study_folder(folder: Path) -> Path:
    """The folder as an absolute path, if a study may be written there; else OutputError."""
    return writable(folder, FILES, _holds_study)


def _holds_study(folder: Path) -> bool:
    index = folder / "index.html"
    return index.is_file() and MARK.encode() in index.read_bytes()[:400]


def study_photo(
    photo: Path | bytes, wishes: StudyWishes | None = None, progress: Progress = no_progress
) -> Studied:
    """Study a photo, a file or its bytes. Raises a FirstwashError that says what to change."""
    asked = wishes or StudyWishes()
    shelf = load_shelf(asked.paints)
    wishes_of_photo = Wishes(sheet=asked.sheet, crop=asked.crop)
    with ThreadPoolExecutor(max_workers=1) as beside:
        beside.submit(xyz_to_lab, np.ones((1, 3)))  # a quarter of a second to fetch, the first time
        laid = laid_photo(photo, wishes_of_photo, progress, shelf.paper)
    owned = shelf.to_set().paints
    paints = allowed(owned, Limits(), shelf.paper) or owned
    found = study(laid.reference, paints, shelf.paper, asked.look, progress)
    return Studied(found, tuple(paints), str(laid.known["name"] or "The photo"), laid.notes)


def write_study(studied: Studied, folder: Path) -> Path:
    """Write a study's page, pictures and study.json; returns the page.

    The folder appears whole or not at all; an older study there is replaced.
    """
    target = check_study_folder(folder)
    found = studied.study
    document = json.dumps(study_document(found), indent=1, ensure_ascii=False, allow_nan=False)
    files = {
        **pictures(found),
        "study.json": document.encode() + b"\n",
        "index.html": study_page(found, studied.title, studied.notes, studied.paints),
    }
    write_whole(folder, target, files.items())
    return target / "index.html"
