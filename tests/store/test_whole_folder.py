"""Folders that appear whole or not at all."""

from pathlib import Path

import pytest

from firstwash.errors import OutputError
from firstwash.store.whole_folder import writable, write_whole

OWN = ("index.html", "one.html")


def ours(folder: Path) -> bool:
    return (folder / "index.html").is_file()


def test_a_new_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    target = writable(folder, OWN, ours)
    write_whole(folder, target, [("index.html", b"one")])
    assert (folder / "index.html").read_bytes() == b"one"
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["b"]  # no draft stays


def test_what_we_wrote_is_replaced_whole(tmp_path: Path) -> None:
    for files in ({"index.html": b"1", "one.html": b"2"}, {"index.html": b"3"}):
        write_whole(tmp_path / "x", writable(tmp_path / "x", OWN, ours), files.items())
    assert {p.name: p.read_bytes() for p in (tmp_path / "x").iterdir()} == {"index.html": b"3"}


@pytest.mark.parametrize("name", ["letters.txt", "notes.html", "one.html"])
def test_other_things_are_left_alone(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("dear")
    with pytest.raises(OutputError, match="other things"):
        writable(tmp_path, OWN, ours)
    assert (tmp_path / name).read_text() == "dear"


def test_litter_of_file_browsers_does_not_count(tmp_path: Path) -> None:
    (tmp_path / ".DS_Store").write_text("")
    assert writable(tmp_path, OWN, ours) == tmp_path.resolve()


def test_a_folder_by_the_name_of_a_page_is_not_ours(tmp_path: Path) -> None:
    (tmp_path / "index.html").mkdir()
    with pytest.raises(OutputError, match="other things"):
        writable(tmp_path, OWN, lambda _: True)


@pytest.mark.parametrize("name", ["a\0b", "x" * 300])
def test_names_no_folder_can_have(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="name another folder"):
        writable(tmp_path / name, OWN, ours)


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "file", tmp_path / "file" / "inside"):
        with pytest.raises(OutputError, match="is a file"):
            writable(path, OWN, ours)


def test_a_failure_changes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "x"
    target = writable(folder, OWN, ours)
    write_whole(folder, target, [("index.html", b"old")])
    with pytest.raises(OutputError):
        write_whole(folder, target, [("index.html", b"new"), ("no/such/place.html", b"")])
    assert (folder / "index.html").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["x"]
    with pytest.raises(OutputError):
        write_whole(tmp_path / "p" / "q", tmp_path / "p" / "q", [("no/such/place.html", b"")])
    assert [p.name for p in tmp_path.iterdir()] == ["x"]
