"""The data folder: where it is, and who can enter it."""

import stat
import sys
from pathlib import Path

import pytest

from firstwash.errors import StoreError
from firstwash.store.place import FOLDER_VARIABLE, data_folder


def test_the_folder_given_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "told"))
    assert data_folder(tmp_path / "given") == tmp_path / "given"
    assert not (tmp_path / "told").exists()


def test_the_environment_comes_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "a" / "b"))
    assert data_folder() == tmp_path / "a" / "b"
    assert (tmp_path / "a" / "b").is_dir()


@pytest.mark.skipif(sys.platform != "linux", reason="the place is another one elsewhere")
def test_else_the_persons_own_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FOLDER_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert data_folder() == tmp_path / "firstwash"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such rights")
def test_nobody_else_can_enter(tmp_path: Path) -> None:
    assert stat.S_IMODE(data_folder(tmp_path / "new").stat().st_mode) == 0o700


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match=r"choose another one"):
        data_folder(tmp_path / "file")
