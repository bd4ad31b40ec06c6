"""What every shell can do with swatch cards: print one, read a photo or measurements of it."""

import os
import secrets
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.card.by_hand import by_hand_page, frame_box
from firstwash.card.layout import DILUTIONS, ROWS
from firstwash.card.measured import teach_measured
from firstwash.card.outcome import Taught
from firstwash.card.pdf import card_pdf
from firstwash.card.reading import read_card
from firstwash.card.recipe import CardRow, rows_for
from firstwash.card.sheet import number_for, read_number, read_rows, write_rows
from firstwash.card.teach import teach
from firstwash.errors import OutputError, PaintError, PhotoError, RequestError
from firstwash.handout.card_report import MARK, card_report
from firstwash.optics.grid import N_BANDS
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.box import Box, write_box
from firstwash.paints.catalogue import Paint, default_paper, set_names
from firstwash.paints.instrument.cgats import write_cgats
from firstwash.paints.instrument.cxf import write_cxf
from firstwash.paints.instrument.read import read_measurements
from firstwash.paints.instrument.samples import Sample
from firstwash.paints.own import merged, own_file, write_own
from firstwash.paints.shelf import Shelf, load_shelf
from firstwash.picture.load import load_photo
from firstwash.plan.problem import Progress, no_progress

__all__ = [
    "Learnt",
    "learn_from_measurements",
    "learn_from_photo",
    "print_card",
    "write_spectra",
]

LARGEST_SIDE: Final = 5200  # pixels; more tells nothing more of a swatch
REPORT_MARK: Final = MARK.encode()
BY_HAND: Final = "card-by-hand.html"
MEASURED: Final = np.ones(N_BANDS, dtype=np.bool_)
LARGEST_MEASUREMENT: Final = 32_000_000  # bytes

PageSize = Literal["A4", "Letter"]
Loads = Literal["drops", "brush-loads"]


@dataclass(frozen=True, eq=False)
class Learnt:
    """What a card taught and where it is kept.

    older: the copy of what was known before. added: paints the list did not have. fresh: the list
    was made anew.
    """

    taught: Taught
    warnings: tuple[str, ...]
    box: Path
    kept_in: Path
    report: Path
    older: Path | None
    added: tuple[str, ...] = ()
    fresh: bool = False


# --- printing ----------------------------------------------------------------------


def print_card(
    paints: str | Path,
    names: Sequence[str] = (),
    folder: Path = Path("card"),
    size: PageSize = "A4",
    loads: Loads = "drops",
    by_hand: bool = False,
) -> tuple[tuple[Path, ...], tuple[CardRow, ...], tuple[Paint, ...]]:
    """Write a card to print, or the page that says how to draw one, and the file that tells it.

    paints: a list by name or path. names: up to eight of its paints; if left out, its first eight
    that no card has taught yet. Returns the files written, the card's rows, and the paints of the
    list that found no room. Raises FirstwashError.
    """
    shelf = load_shelf(paints)
    owned = shelf.to_set().paints
    chosen = _chosen(shelf, names, owned)
    rows = rows_for(chosen, owned)
    known = {p.key: p for p in (*chosen, *owned)}
    number = number_for(rows)  # of a card by hand as well, so that its file is the same
    page = (
        (BY_HAND, by_hand_page(rows, known, loads))
        if by_hand
        else ("card.pdf", card_pdf(rows, known, size, loads, number=number))
    )
    files = (page, ("card.json", write_rows(rows, number)))
    _check_free(folder / "card.json", files[1][1])
    written = tuple(_write(folder / name, content) for name, content in files)
    left = tuple(p for p in owned if p.key not in {r.paint for r in rows} and not _taught(p))
    return written, rows, () if names else left


def _check_free(file: Path, content: bytes) -> None:
    """Refuse to put another card's file where one lies already; it is needed for reading."""
    try:
        other = file.is_file() and file.read_bytes() != content
    except OSError:
        other = True
    if other:
        raise OutputError(
            f"{file} tells of another card; name another folder, for each card needs its own file."
        )


def _taught(one: Paint) -> bool:
    return one.provenance == "calibrated"


def _chosen(shelf: Shelf, names: Sequence[str], owned: Sequence[Paint]) -> tuple[Paint, ...]:
    if len(names) > ROWS:
        raise RequestError(f"A swatch card has room for {ROWS} paints; name fewer.")
    if names:
        found = tuple(shelf.paint(n) for n in names)
        if len({p.key for p in found}) < len(found):
            raise RequestError("A paint is named twice; name each once.")
        return found
    new = [p for p in owned if not _taught(p)]
    return tuple((new or list(owned))[:ROWS])


# --- reading -----------------------------------------------------------------------


def learn_from_photo(
    photo: Path,
    card: Path,
    box: Path,
    start: str | Path = "starter",
    touches: Sequence[tuple[float, float]] | None = None,
    report: Path = Path("card-report.html"),
    progress: Progress = no_progress,
) -> Learnt:
    """Read a photo of a painted card, and keep what it taught beside a list of paints.

    card: the file written with the card. box: the painter's list; made from the list `start` if
    there is none yet. touches: the pencil frame's four corners in pixels of the photo, upper left
    first, clockwise, for a card drawn by hand. report: the page written about it.
    Raises FirstwashError; then nothing was changed.
    """
    desk = _ready(card, box, start, report)
    progress("Reading the photo", 0.0)
    picture = load_photo(photo, max_pixels_per_side=LARGEST_SIDE)
    corners, frame = None, None
    if touches is not None:
        scale = picture.linear.shape[1] / picture.width
        corners, frame = _corners(touches) * scale, frame_box(len(desk.rows))
    reading = read_card(picture, len(desk.rows), corners, frame, progress)
    _check_same(reading.card.number, desk.number, card)
    if not reading.windows:
        raise PhotoError("No row of the card can be read; photograph the whole card again.")
    progress("Learning the paints", 0.7)
    # Only a target tells the paper's white; without one it stays as an earlier card told it.
    paper = None if reading.camera.known_by == "target" else desk.shelf.paper
    taught = teach(reading, desk.rows, desk.paints, paper)
    return _keep(desk.shelf, taught, reading.warnings, reading.camera.known_by, box, report)


def _check_same(seen: int | None, told: int | None, card: Path) -> None:
    """Refuse a photo whose markers tell another card than the file."""
    if seen is not None and told is not None and seen != told:
        raise RequestError(
            f"The photo shows another card than {card.name} tells of; name the file that was "
            "written with this one (--card)."
        )


def _corners(touches: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    if len(touches) != 4:
        raise RequestError("Give four corners, upper left first, then clockwise.")
    return np.array(touches, dtype=np.float64)


def learn_from_measurements(
    file: Path,
    card: Path,
    box: Path,
    start: str | Path = "starter",
    report: Path = Path("card-report.html"),
) -> Learnt:
    """Read an instrument's file of a painted card (CGATS.17 or CxF3), and keep what it taught.

    Samples are named after the card's places, A1 to H14. Raises FirstwashError; then nothing was
    changed.
    """
    desk = _ready(card, box, start, report)
    found = read_measurements(_read(file, LARGEST_MEASUREMENT, "measurements"), file.name)
    taught = teach_measured(found, desk.rows, desk.paints, desk.shelf.paper)
    return _keep(desk.shelf, taught, (), "instrument", box, report)


@dataclass(frozen=True, eq=False)
class _Desk:
    """The painter's list, the card's rows and number, and every paint on it as thought of."""

    shelf: Shelf
    rows: tuple[CardRow, ...]
    number: int | None
    paints: dict[str, Paint]


def _ready(card: Path, box: Path, start: str | Path, report: Path) -> _Desk:
    """All that is needed before a card is looked at.

    A paint with a row is learned anew, from what was thought of it before any card, so that one
    photo read twice does not count twice; partners are as known.
    """
    told = _read(card, 1_000_000, "card's file")
    rows = read_rows(told, card.name)
    if str(box) in set_names():
        raise RequestError(
            f"{box} is a set that comes with firstwash; name a file for your own list, such as "
            f"{box}.txt."
        )
    _check_own(report, (b"<!doctype html", REPORT_MARK))
    shelf = load_shelf(box) if box.exists() else load_shelf(start)
    own = {row.paint for row in rows}
    try:
        paints = {k: _known(shelf, k, k in own) for row in rows for k in row.keys}
    except PaintError as error:
        where = box if box.exists() else f"{box}, which does not exist yet, nor in {start}"
        raise PaintError(f"The card has a paint that is not in {where}: {error}") from error
    return _Desk(shelf, rows, read_number(told), paints)


def _known(shelf: Shelf, key: str, own: bool) -> Paint:
    return shelf.untaught(key) if own else shelf.paint(key)


def _check_own(file: Path, marks: tuple[bytes, ...]) -> None:
    """Refuse to write over a file that does not look like an older one of the same kind."""
    try:
        if not file.exists():
            return
        start = file.read_bytes()[:2000]
    except OSError:
        start = b""
    if not all(mark in start for mark in marks):
        raise OutputError(f"{file} holds something else; name another file to write to.")


def _read(file: Path, most: int, what: str) -> bytes:
    """The bytes of a file; most: how many it may hold. what: it is, after "the"."""
    try:
        if file.stat().st_size > most:
            raise RequestError(f"{file.name} is too large for the {what}; name another file.")
        return file.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "its name cannot be used"
        raise RequestError(f"The {what} {file} cannot be read ({why}); check its name.") from None


def _keep(
    shelf: Shelf,
    taught: Taught,
    warnings: tuple[str, ...],
    known_by: str,
    box: Path,
    report: Path,
) -> Learnt:
    """Write the list, the taught paints and the report; what was known before is kept."""
    taught = replace(taught, before=tuple(shelf.paint(p.key) for p in taught.paints))
    kept_in = own_file(box)
    listed = _with_all(shelf.box, taught)
    older = _older(kept_in)
    now = merged(shelf.own, taught.paints, taught.paper)
    names = kept_in.name, None if older is None else older.name
    page = card_report(taught, warnings, known_by, *names).encode()
    existed = box.exists()
    if not existed or listed is not shelf.box:
        _write(box, write_box(listed).encode())
    if older is not None:
        _write(older, kept_in.read_bytes())
    _write(kept_in, write_own(now))
    _write(report, page)
    added = tuple(one.name for one in listed.paints if one not in shelf.box.paints)
    fresh = not existed
    return Learnt(taught, warnings, box, kept_in, report, older, () if fresh else added, fresh)


def _with_all(box: Box, taught: Taught) -> Box:
    """The list with every taught paint on it."""
    known = {p.key for p in box.to_set(with_banned=True).paints}
    out = box
    for one in taught.paints:
        if one.key not in known:
            out = out.with_paint(one.key)
    return out


def _older(kept_in: Path) -> Path | None:
    """A free name for the copy of what was known before, or None if nothing was."""
    if not kept_in.exists():
        return None
    stem = kept_in.name.removesuffix(".json")
    number = 1
    while (path := kept_in.with_name(f"{stem}.before-{number}.json")).exists():
        number += 1
    return path


# --- spectra -----------------------------------------------------------------------


def write_spectra(
    paints: Sequence[Paint],
    file: Path,
    form: Literal["cgats", "cxf"] = "cgats",
    paper: Paper | None = None,
) -> Path:
    """Write what one coat of each paint looks like, in six strengths, as reflectance spectra.

    Samples are named "PB29 1/4"; the bare paper is "paper". They are what the model predicts.
    """
    # An instrument's file has the same form: only what this program wrote may be replaced.
    ours = b'ORIGINATOR "firstwash"' if form == "cgats" else b"<Creator>firstwash</Creator>"
    _check_own(file, (ours,))
    ground = paper or default_paper()
    samples = [Sample("paper", ground.reflectance, MEASURED)]
    for one in paints:
        for share in reversed(DILUTIONS):
            amount = share * one.full_coat
            seen = stages(ground, amount * one.k[None], amount * one.s[None])[1]
            name = f"{one.key} {Fraction(share)}"
            samples.append(Sample(name, seen, MEASURED, f"predicted, {one.provenance} paint"))
    write = write_cgats if form == "cgats" else write_cxf
    return _write(file, write(samples, datetime.now().astimezone()))


def _write(file: Path, content: bytes) -> Path:
    """The file with its folders, whole or not at all."""
    draft = file.with_name(f".firstwash-{secrets.token_hex(8)}")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        draft.write_bytes(content)
        os.replace(draft, file)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "the name cannot be used"
        raise OutputError(f"{file} cannot be written ({why}); name another place.") from None
    finally:
        with suppress(OSError):
            draft.unlink()
    return file
