"""The painter's own list: the starter set until it is changed, then a file of whole lines."""

import os
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.worksheet.small import is_sentence

from firstwash.cli import main
from firstwash.errors import FirstwashError, OutputError, PaintError
from firstwash.paints.own import OwnPaints, read_own, write_own
from firstwash.paints.shelf import load_shelf
from firstwash.worksheet.own_list import LARGEST, NAME, OwnList


@pytest.fixture
def own(tmp_path: Path) -> OwnList:
    return OwnList(tmp_path / "paints")


def keys(own: OwnList) -> list[str]:
    return [p.key for p in own.shelf().to_set(with_banned=True).paints]


def test_until_it_is_changed_it_is_the_starter_set(own: OwnList) -> None:
    starter = load_shelf("starter")
    assert not own.is_own
    assert own.source == "starter"
    assert keys(own) == [p.key for p in starter.to_set().paints]
    assert own.text().strip()
    assert not own.folder.exists()  # looking writes nothing


def test_a_change_makes_it_the_painters_own(own: OwnList) -> None:
    before = keys(own)
    own.without("PB29")
    assert own.is_own
    assert keys(own) == [k for k in before if k != "PB29"]
    own.added("  ultramarine blue ")
    assert set(keys(own)) == set(before)
    own.changed("PB29", favourite=True, note="for skies")
    assert own.shelf().box.favourites == ("PB29",)
    assert "for skies" in own.text()
    own.changed("PB29", banned=True, favourite=False)
    assert own.shelf().box.banned == ("PB29",)
    assert "PB29" not in [p.key for p in own.shelf().to_set().paints]
    own.added("my violet", unknown=True, hue="violet")
    assert len(keys(own)) == len(before) + 1


def test_all_lines_may_be_written_anew_and_comments_stay(own: OwnList) -> None:
    text = "# my box\nPB29 | pan | favourite\nPR255\n"
    own.replaced(text)
    assert own.path.read_text("utf-8") == own.text()
    assert "# my box" in own.text()
    assert keys(own) == ["PB29", "PR255"]
    assert own.replaced(own.text()).box == own.shelf().box


def test_the_command_line_reads_the_same_file(
    own: OwnList, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own.replaced("PB29 | favourite\nPR255\n")
    monkeypatch.setattr(sys, "argv", ["firstwash", "paints", str(own.path)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    out = capsys.readouterr().out
    assert "ultramarine" in out
    assert "burnt" not in out
    own.path.write_text("PR255\n")  # and what is written by hand is read here
    assert keys(own) == ["PR255"]


def test_what_swatches_taught_is_kept_beside_it(own: OwnList) -> None:
    own.replaced("PB29\nPR255\n")
    paint = own.shelf().paint("PB29")
    own.taught_file.write_bytes(write_own(OwnPaints((paint,), None)))
    assert own.taught_file.parent == own.folder
    assert [p.key for p in read_own(own.taught_file.read_bytes(), "own").paints] == ["PB29"]
    assert own.shelf().own.paints
    own.without("PR255")
    assert own.taught_file.is_file()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# nothing\n",
        "no such paint\n",
        "PB29\nPB29\n",
        "PB29 | banned | favourite |" * 9,
        "\0",
        "PB29\n" * 5000,
        "x" * (LARGEST + 1),
    ],
)
def test_a_list_that_cannot_be_is_refused_and_the_old_one_stays(own: OwnList, text: str) -> None:
    own.replaced("PB29\nPR255\n")
    before = own.path.read_bytes()
    with pytest.raises(PaintError) as error:
        own.replaced(text)
    assert is_sentence(str(error.value))
    assert own.path.read_bytes() == before
    assert [p.name for p in own.folder.iterdir()] == [NAME]


def test_words_that_name_no_paint_are_refused(own: OwnList) -> None:
    own.replaced("PB29\nPR255\n")
    before = own.path.read_bytes()
    for word in ("", "nonsense", "PB29", "ultramarine blue", "../etc", "a\nPY154", "x" * 10_000):
        with pytest.raises(PaintError):
            own.added(word)
    for word in ("PY154", "", "nonsense"):
        with pytest.raises(PaintError):
            own.without(word)
        with pytest.raises(PaintError):
            own.changed(word, favourite=True)
    assert own.path.read_bytes() == before


def test_the_last_paint_cannot_be_taken_off(own: OwnList) -> None:
    own.replaced("PB29\n")
    with pytest.raises(PaintError):
        own.without("PB29")
    assert keys(own) == ["PB29"]


@given(st.text(max_size=60) | st.text("PBRY0123456789 |#\n-.", max_size=60))
@settings(max_examples=80)
def test_any_text_is_a_list_or_is_refused(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    own = OwnList(tmp_path_factory.getbasetemp() / "any list")
    said = "Kept."
    try:
        own.replaced(text)
        assert own.replaced(own.text()).to_set(with_banned=True).paints
    except FirstwashError as error:
        said = str(error)
    assert is_sentence(said)


# --- written whole or not at all --------------------------------------------------


def test_a_disk_that_refuses_leaves_the_old_list(
    own: OwnList, monkeypatch: pytest.MonkeyPatch
) -> None:
    own.replaced("PB29\nPR255\n")
    before = own.path.read_bytes()

    def full(handle: int) -> None:
        del handle
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError) as error:
        own.added("PY154")
    assert is_sentence(str(error.value))
    assert own.path.read_bytes() == before
    assert [p.name for p in own.folder.iterdir()] == [NAME]


def test_a_list_cut_off_while_it_was_written_is_never_there(
    own: OwnList, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed before the last step: the draft lies there, and the list is as it was."""
    own.replaced("PB29\nPR255\n")

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", killed)
    with pytest.raises(KeyboardInterrupt):
        own.added("PY154")
    monkeypatch.undo()
    assert keys(own) == ["PB29", "PR255"]


def test_changes_at_the_same_moment_are_all_kept(own: OwnList) -> None:
    names = ["PY154", "PG7", "PB15", "PR101", "PBk9"]
    own.replaced("PB29\n")
    known = [n for n in names if n in {p.key for p in load_shelf("measured").to_set().paints}]
    known += [p.key for p in load_shelf("starter").to_set().paints if p.key != "PB29"][:8]
    wanted = sorted(set(known))
    threads = [threading.Thread(target=own.added, args=(k,)) for k in wanted]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(keys(own)) == {"PB29", *wanted}


def test_names_to_complete_a_field_with() -> None:
    names = OwnList.known_names()
    assert list(names) == sorted(names)
    assert "ultramarine blue" in names
