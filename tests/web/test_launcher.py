"""Starting without a terminal: the files a desktop reads, and what no words at all mean."""

import configparser
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from firstwash.cli_open import words_or_worksheet
from firstwash.errors import OutputError
from firstwash.web.launch import launcher


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    return tmp_path


def test_a_desktop_entry_and_its_icon_are_written(home: Path) -> None:
    icon, entry = launcher.install(home, "/opt/my paints/python")
    assert entry == home / ".local/share/applications/firstwash.desktop"
    read = configparser.RawConfigParser()
    read.optionxform = str  # type: ignore[assignment, method-assign]
    read.read(entry)
    told = read["Desktop Entry"]
    assert told["Exec"] == '"/opt/my paints/python" -m firstwash open'
    assert told["Icon"] == str(icon)
    assert told["Type"] == "Application"
    assert ElementTree.parse(icon).getroot().tag == "{http://www.w3.org/2000/svg}svg"
    assert launcher.install(home) == [icon, entry]  # once more does no harm


# By the desktop entry specification: within quotes the shell's signs get a backslash, which the
# file itself doubles; a percent sign is doubled.
@pytest.mark.parametrize(
    ("python", "line"),
    [
        ("/a b/python", '"/a b/python"'),
        ('/a"b/python', r'"/a\\"b/python"'),
        ("/a$b`/python", r'"/a\\$b\\`/python"'),
        ("/a\\b/python", r'"/a\\\\b/python"'),
        ("/a%b/python", '"/a%%b/python"'),
    ],
)
def test_odd_paths_are_quoted(python: str, line: str) -> None:
    entry = launcher.desktop_entry(python, Path("/i.svg"))
    assert f"Exec={line} -m firstwash open\n" in entry


def test_the_person_s_own_data_folder_is_respected(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(home / "data"))
    assert all(path.is_relative_to(home / "data") for path in launcher.install(home))
    monkeypatch.setenv("XDG_DATA_HOME", "relative")  # by the specification such a one is ignored
    assert all(path.is_relative_to(home / ".local") for path in launcher.install(home))


def test_a_folder_that_cannot_be_written_is_said(home: Path) -> None:
    (home / ".local").write_text("a file")
    with pytest.raises(OutputError, match="firstwash open"):
        launcher.install(home)


def test_the_untried_application_folder_is_whole(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "platform", "darwin")
    written = launcher.install(home, "/a'b/python")
    start = next(path for path in written if path.parent.name == "MacOS")
    assert start.stat().st_mode & 0o111
    assert start.read_text().endswith("exec '/a'\\''b/python' -m firstwash open\n")


def test_no_words_at_a_terminal_open_the_worksheet(monkeypatch: pytest.MonkeyPatch) -> None:
    assert words_or_worksheet(["paints"]) == ["paints"]
    for there in (True, False):
        monkeypatch.setattr(sys.stdin, "isatty", lambda there=there: there, raising=False)
        monkeypatch.setattr(sys.stdout, "isatty", lambda there=there: there, raising=False)
        assert words_or_worksheet([]) == (["open"] if there else [])
