"""Swatch cards kept with the list: made, listed, read, and nothing changed where reading fails."""

import importlib
import json
import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.worksheet.small import is_sentence

from firstwash.card.sheet import read_rows, write_rows
from firstwash.errors import FirstwashError, Missing, OutputError, RequestError
from firstwash.worksheet import cards as module
from firstwash.worksheet.cards import (
    CardFile,
    cards_of,
    check_card,
    file_of,
    new_card,
    read_work,
)
from firstwash.worksheet.own_list import OwnList

ROOT = Path(__file__).parents[2]
PAINTS = ("PB28", "PR108", "PY35")


@pytest.fixture
def own(tmp_path: Path) -> OwnList:
    return OwnList(tmp_path / "paints")


def made(own: OwnList, *names: str, by_hand: bool = False) -> CardFile:
    return new_card(own, names, "A4", "drops", by_hand)


def tree(own: OwnList) -> dict[str, bytes]:
    files = (p for p in own.folder.rglob("*") if p.is_file())
    return {p.relative_to(own.folder).as_posix(): p.read_bytes() for p in files}


# --- made and listed --------------------------------------------------------------


def test_a_card_is_made_and_listed(own: OwnList) -> None:
    assert cards_of(own) == ()
    card = made(own, "PB29", "burnt sienna")
    assert own.is_own  # what a card teaches needs a list of one's own
    assert card.paints == ("PB29", "PBr7-burnt")
    assert (card.number, card.by_hand, card.is_read) == (1, False, False)
    assert card.files == ("card.pdf",)
    by_hand = made(own, by_hand=True)
    assert by_hand.by_hand
    assert len(by_hand.paints) == 8
    assert by_hand.files == ("card-by-hand.html",)
    assert cards_of(own) == (by_hand, card)  # the last made first


def test_pages_of_a_card_are_found_by_name_alone(own: OwnList) -> None:
    made(own, "PB29")
    path, kind = file_of(own, 1, "card.pdf")
    assert kind == "application/pdf"
    assert path.read_bytes().startswith(b"%PDF")
    for number, name in (
        (1, "card.json"),
        (1, "report.html"),
        (1, "../my-paints.txt"),
        (1, ""),
        (1, "."),
        (2, "card.pdf"),
        (0, "card.pdf"),
        (-1, "card.pdf"),
        (10**4000, "card.pdf"),
    ):
        with pytest.raises(Missing) as error:
            file_of(own, number, name)
        assert is_sentence(str(error.value))
    check_card(own, 1)
    for number in (0, 2, -1, 10**4000):
        with pytest.raises(Missing):
            check_card(own, number)


def test_names_that_make_no_card_leave_nothing(own: OwnList) -> None:
    own.replaced("PB29\nPR255\n")
    before = tree(own)
    for names in (["nonsense"], ["PB29", "ultramarine blue"], ["PB29"] * 9):
        with pytest.raises(FirstwashError):
            new_card(own, names, "A4", "drops", False)
    assert tree(own) == before
    assert cards_of(own) == ()
    assert made(own, "PB29").number == 1


def test_a_half_made_card_is_no_card(own: OwnList) -> None:
    """What a killed program leaves: it is not listed, and its number is not used again."""
    made(own, "PB29")
    for number, name, data in (
        ("2", "card.pdf", b"%PDF"),
        ("3", "card.json", b'{"format": "firstw'),
        ("4", "card.json", b"[]"),
        ("x", "card.json", b"{}"),
        ("-5", "card.json", b"{}"),
        ("6" * 30, "card.json", b"{}"),
    ):
        folder = own.folder / "cards" / number
        folder.mkdir()
        (folder / name).write_bytes(data)
    (own.folder / "cards" / "7").mkdir()
    (own.folder / "cards" / "8").write_text("no folder")
    assert [c.number for c in cards_of(own)] == [1]
    assert made(own, "PR255").number == 9


@pytest.mark.parametrize(
    "outcome", [b"", b'{"warn', b"[1]", b'{"learnt": [{"no": 1}]}', b'{"learnt": 3}', b"\xff", b"7"]
)
def test_a_damaged_outcome_is_no_reason_to_fail(own: OwnList, outcome: bytes) -> None:
    made(own, "PB29")
    made(own, "PR255")
    (own.folder / "cards" / "1" / "outcome.json").write_bytes(outcome)
    assert cards_of(own)[0].number == 2


def test_two_tabs_get_a_card_each(own: OwnList, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both find the same number free; neither throws the other's card away."""
    own.replaced("PB29\nPR255\nPY154\n")
    both, find = threading.Barrier(2), module._numbers
    seen = threading.local()

    def numbers(of: OwnList) -> list[int]:
        found = find(of)
        seen.times = getattr(seen, "times", 0) + 1
        if seen.times == 2:  # the look that gives the number
            both.wait(30)
        return found

    monkeypatch.setattr(module, "_numbers", numbers)
    cards: list[CardFile] = []
    threads = [
        threading.Thread(target=lambda n=name: cards.append(made(own, n)))
        for name in ("PB29", "PR255")
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    monkeypatch.undo()
    assert sorted(c.number for c in cards) == [1, 2]
    assert {c.paints for c in cards_of(own)} == {("PB29",), ("PR255",)}


def test_there_is_an_end_to_cards(own: OwnList, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_CARDS", 1)
    made(own, "PB29")
    with pytest.raises(RequestError):
        made(own, "PB29")


def test_a_disk_that_refuses_is_said(own: OwnList) -> None:
    own.replaced("PB29\n")
    (own.folder / "cards").write_text("in the way")
    with pytest.raises(OutputError) as error:
        made(own, "PB29")
    assert is_sentence(str(error.value))


# --- read ---------------------------------------------------------------------------------


def quiet(step: str, done: float) -> None:
    del step, done


def read(own: OwnList, sent: Path, kind: Any = "photo", **more: Any) -> dict[str, Any]:
    room = sent.parent / "room"
    room.mkdir()
    return read_work(
        room, quiet, paints=str(own.folder), number=1, file=str(sent), kind=kind, **more
    )


@pytest.mark.parametrize("kind", ["photo", "measured"])
@pytest.mark.parametrize("what", ["nothing", "no picture", "empty"])
def test_a_photo_of_nothing_changes_nothing(
    own: OwnList, tmp_path: Path, kind: str, what: str
) -> None:
    made(own, "PB29")
    sent = tmp_path / "sent"
    if what == "nothing":
        Image.new("RGB", (900, 700), (90, 120, 60)).save(sent, "jpeg")
    else:
        sent.write_bytes(b"" if what == "empty" else b"GIF89a nothing")
    before = tree(own)
    with pytest.raises(FirstwashError) as error:
        read(own, sent, kind)
    assert is_sentence(str(error.value))
    assert tree(own) == before
    assert [p for p in tmp_path.rglob("*") if p.is_file() and own.folder not in p.parents] == []
    assert not cards_of(own)[0].is_read


@pytest.fixture(scope="module")
def scene() -> Iterator[ModuleType]:
    if os.environ.get("FIRSTWASH_OFFLINE") == "1":
        pytest.skip("FIRSTWASH_OFFLINE=1: the measured spectra are not fetched")
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("card_scene")
    finally:
        sys.path.remove(str(ROOT / "tools"))


@pytest.fixture(scope="module")
def photographed(scene: ModuleType) -> tuple[bytes, bytes]:
    """A card of three paints as somebody painted it: its file, and a photo of it."""
    rng = np.random.default_rng(7)
    card = scene.random_card(rng, list(PAINTS))
    photo = scene.photograph(card, rng, target=True, megapixels=5.0)
    return write_rows(card.rows), photo.jpeg


@pytest.fixture
def painted(own: OwnList, tmp_path: Path, photographed: tuple[bytes, bytes]) -> Path:
    """The photo, sent for reading; the card is number 1."""
    rows, jpeg = photographed
    own.replaced("PB28 | favourite\nPR108\nPY35\nPB29\n")
    made(own, *PAINTS)
    (own.folder / "cards" / "1" / "card.json").write_bytes(rows)
    sent = tmp_path / "sent.jpg"
    sent.write_bytes(jpeg)
    return sent


def test_a_photo_of_the_card_teaches_its_paints(own: OwnList, painted: Path) -> None:
    text = own.text()
    told = read(own, painted)
    assert {one["key"] for one in told["learnt"]} == set(PAINTS)
    card = cards_of(own)[0]
    assert card.is_read
    assert [one.key for one in card.learnt] == [one["key"] for one in told["learnt"]]
    assert list(card.warnings) == told["warnings"]
    assert "report.html" in card.files
    path, kind = file_of(own, 1, "report.html")
    assert kind == "text/html"
    assert b"cobalt blue" in path.read_bytes()
    shelf = own.shelf()
    assert shelf.paint("PB28").provenance == "calibrated"
    assert shelf.paint("PB29").provenance == "measured"
    assert own.text() == text
    assert not painted.exists()  # what was sent is not left lying
    assert json.loads((path.parent / "outcome.json").read_text("utf-8")) == told
    assert read_rows((path.parent / "card.json").read_bytes(), "card.json")
    words = {word for one in card.learnt for word in (one.was, one.now)}
    assert words <= {"very sure", "fairly sure", "unsure", "very unsure"}


def test_killed_before_the_last_step_the_card_is_still_there(
    own: OwnList, painted: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Swatches were learnt; only the note of it is missing, and the card can be read again."""
    before = cards_of(own)
    replace = os.replace

    def killed(one: Path, other: Path) -> None:
        if Path(other).name == "outcome.json":
            raise KeyboardInterrupt
        replace(one, other)

    monkeypatch.setattr(os, "replace", killed)
    with pytest.raises(KeyboardInterrupt):
        read(own, painted)
    monkeypatch.undo()
    after = cards_of(own)
    assert [(c.number, c.paints, c.is_read) for c in after] == [
        (c.number, c.paints, c.is_read) for c in before
    ]
