"""Swatch cards of the painter's own paints: made, kept with the list, and read from photos.

Each card has a folder of its own beside the list: the file that tells it, the page to print, and
after reading what it taught.
"""

import json
import os
import re
import shutil
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final, Literal

from firstwash.card.sheet import read_rows
from firstwash.errors import FirstwashError, Missing, OutputError, RequestError
from firstwash.handout.table import learnt_rows
from firstwash.paints.box import write_box
from firstwash.plan.problem import Progress
from firstwash.swatching import Learnt, learn_from_measurements, learn_from_photo, print_card
from firstwash.worksheet.own_list import OwnList

__all__ = [
    "CardFile",
    "LearntPaint",
    "cards_of",
    "check_card",
    "file_of",
    "new_card",
    "read_work",
]

TOLD, OUTCOME, REPORT = "card.json", "outcome.json", "report.html"
PAGES: Final = {
    "card.pdf": "application/pdf",
    "card-by-hand.html": "text/html",
    REPORT: "text/html",
}
MOST_CARDS: Final = 200
CALLED: Final = {"photo": "The photo", "measured": "The file"}  # in sentences on what is wrong


@dataclass(frozen=True)
class LearntPaint:
    """What a card taught of one paint. was, now: words on how sure; again: swatches to repaint."""

    key: str
    name: str
    was: str
    now: str
    again: str


@dataclass(frozen=True)
class CardFile:
    """One card. number: its folder's; paints: keys of its rows; files: what can be looked at;
    warnings, learnt: of the last time it was read, empty before.
    """

    number: int
    paints: tuple[str, ...]
    by_hand: bool
    files: tuple[str, ...]
    is_read: bool
    warnings: tuple[str, ...]
    learnt: tuple[LearntPaint, ...]


def _folder(own: OwnList, number: int) -> Path:
    return own.folder / "cards" / str(number)


def _numbers(own: OwnList) -> list[int]:
    folder = own.folder / "cards"
    names = [p.name for p in folder.iterdir()] if folder.is_dir() else []
    return sorted(int(n) for n in names if re.fullmatch(r"[1-9]\d{0,5}", n))


def cards_of(own: OwnList) -> tuple[CardFile, ...]:
    """All cards, the last made first."""
    found = []
    for number in reversed(_numbers(own)):
        try:
            found.append(_card(own, number))
        except (OSError, ValueError, TypeError, AttributeError, FirstwashError):
            continue  # half made when the program was killed: nothing of it was promised
    return tuple(found)


def _card(own: OwnList, number: int) -> CardFile:
    folder = _folder(own, number)
    rows = read_rows((folder / TOLD).read_bytes(), TOLD)
    told: dict[str, Any] = {}
    if (folder / OUTCOME).is_file():
        told = json.loads((folder / OUTCOME).read_text("utf-8"))
    return CardFile(
        number=number,
        paints=tuple(row.paint for row in rows),
        by_hand=(folder / "card-by-hand.html").is_file(),
        files=tuple(name for name in PAGES if (folder / name).is_file()),
        is_read=bool(told),
        warnings=tuple(told.get("warnings", ())),
        learnt=tuple(LearntPaint(**one) for one in told.get("learnt", ())),
    )


def new_card(
    own: OwnList,
    names: Sequence[str],
    size: Literal["A4", "Letter"],
    loads: Literal["drops", "brush-loads"],
    by_hand: bool,
) -> CardFile:
    """A new card for up to eight paints of the list. Raises a FirstwashError."""
    if len(_numbers(own)) >= MOST_CARDS:
        raise RequestError("There are very many cards; throw some old ones away first.")
    if not own.is_own:
        own.replaced(write_box(own.shelf().box))  # what a card teaches needs a list of one's own
    number, folder = _new_folder(own)
    try:
        print_card(own.path, names, folder, size, loads, by_hand)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return _card(own, number)


def _new_folder(own: OwnList) -> tuple[int, Path]:
    """A number nobody has yet, with its folder made, so that no other card can take it."""
    number = max(_numbers(own), default=0) + 1
    while True:
        folder = _folder(own, number)
        try:
            folder.mkdir(parents=True)
            return number, folder
        except FileExistsError:  # another tab was quicker
            number += 1
        except OSError as error:
            why = error.strerror or "the disk refused"
            raise OutputError(f"The card cannot be written ({why}).") from None


def file_of(own: OwnList, number: int, name: str) -> tuple[Path, str]:
    """A page of a card and its media type. Raises Missing for one that is not there."""
    if name not in PAGES or number not in _numbers(own):
        raise Missing("That card has no such page; reload the worksheet.")
    path = _folder(own, number) / name
    if not path.is_file():
        raise Missing("That card has no such page; reload the worksheet.")
    return path, PAGES[name]


def check_card(own: OwnList, number: int) -> None:
    """Raises Missing unless there is a card of that number."""
    if number not in _numbers(own) or not (_folder(own, number) / TOLD).is_file():
        raise Missing("There is no such card; reload the worksheet.")


# How unsure a quarter coat is, CIEDE2000 that nine of ten stay within: own judgement.
SURE: Final = ((2.0, "very sure"), (5.0, "fairly sure"), (10.0, "unsure"), (1e9, "very unsure"))


def _sure(within: float) -> str:
    return next(word for top, word in SURE if within < top)


def read_work(
    folder: Path,
    progress: Progress,
    *,
    paints: str,
    number: int,
    file: str,
    kind: Literal["photo", "measured"],
    corners: Sequence[tuple[float, float]] | None = None,
) -> dict[str, Any]:
    """Read a photo of a card, or an instrument's file, and keep what it taught with the list.

    paints: the list's folder; file: what was sent, moved into the work's own folder and removed
    afterwards; corners: of a card drawn by hand, in pixels of the photo.
    """
    own, sent = OwnList(Path(paints)), folder / CALLED[kind]
    shutil.move(file, sent)
    room = _folder(own, number)
    args = (sent, room / TOLD, own.path, "starter")
    try:
        if kind == "photo":
            found = learn_from_photo(*args, corners, room / REPORT, progress)
        else:
            found = learn_from_measurements(*args, room / REPORT)
    finally:
        sent.unlink(missing_ok=True)
    told = _told(found)
    half = room / f".{OUTCOME}"
    half.write_text(json.dumps(told, ensure_ascii=False), "utf-8")
    os.replace(half, room / OUTCOME)  # a card half told would be taken for no card at all
    return told


def _told(found: Learnt) -> dict[str, Any]:
    learnt = [
        LearntPaint(row["key"], row["name"], _sure(row["before"]), _sure(row["now"]), row["again"])
        for row in learnt_rows(found.taught)
    ]
    return {
        "warnings": [*found.warnings, *found.taught.notes],
        "learnt": [asdict(one) for one in learnt],
    }
