"""Content-addressed files: whole or not there, and never outside their folder."""

import hashlib
import os
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import Missing, StoreError
from firstwash.store.files import Files, is_key

OLD = 2 * 3600  # seconds; a sweep leaves what is younger than one hour


@pytest.fixture
def files(tmp_path: Path) -> Files:
    return Files(tmp_path / "files")


def age(files: Files, key: str) -> None:
    """Make a file look two hours old."""
    then = time.time() - OLD
    os.utime(files.path(key), (then, then))


def test_the_key_is_the_sha256_of_the_bytes(files: Files) -> None:
    # SHA-256 of "abc": the example of FIPS 180-4.
    assert files.put(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize("data", [b"", b"x", os.urandom(3_000_000)])
def test_what_goes_in_comes_out(files: Files, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "upload").write_bytes(data)
    key = files.put(data)
    assert files.adopt(tmp_path / "upload") == key == hashlib.sha256(data).hexdigest()
    assert files.get(key) == data == files.path(key).read_bytes()
    assert files.has(key)
    assert (tmp_path / "upload").exists()


def test_adopt_alone_keeps_the_bytes(files: Files, tmp_path: Path) -> None:
    (tmp_path / "upload").write_bytes(b"pear")
    assert files.get(files.adopt(tmp_path / "upload")) == b"pear"


WRONG = [
    "",
    "..",
    "../../etc/passwd",
    "/etc/passwd",
    "a" * 63,
    "a" * 65,
    "A" * 64,
    "a" * 62 + "/x",
    "a" * 64 + "\n",
    "\0" * 64,
    "é" * 64,
]


@pytest.mark.parametrize("key", WRONG)
def test_a_key_that_is_none_leads_nowhere(files: Files, key: str) -> None:
    assert not files.has(key)
    with pytest.raises(Missing):
        files.get(key)
    with pytest.raises(Missing):
        files.path(key)
    with pytest.raises(StoreError):
        files.all_here([key], None)


@given(st.text(max_size=80))
def test_no_text_but_64_hex_digits_is_a_key(text: str) -> None:
    assert is_key(text) == (len(text) == 64 and set(text) <= set("0123456789abcdef"))


def test_a_file_that_is_not_there_is_told(files: Files) -> None:
    with pytest.raises(Missing, match="paintings"):
        files.get("0" * 64)


def test_too_large_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    files = Files(tmp_path / "files", largest=10)
    (tmp_path / "upload").write_bytes(b"x" * 11)
    with pytest.raises(StoreError, match="smaller"):
        files.put(b"x" * 11)
    with pytest.raises(StoreError, match="smaller"):
        files.adopt(tmp_path / "upload")
    assert [p for p in (tmp_path / "files").rglob("*") if p.is_file()] == []


def test_a_file_that_cannot_be_read_is_told(files: Files, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="could not be kept"):
        files.adopt(tmp_path / "nowhere")


def test_what_a_killed_process_left_is_tidied(tmp_path: Path) -> None:
    key = Files(tmp_path).put(b"kept")
    (tmp_path / "unfinished" / "half").write_bytes(b"ha")
    assert Files(tmp_path).get(key) == b"kept"
    assert list((tmp_path / "unfinished").iterdir()) == []


def test_a_sweep_takes_what_is_old_and_not_needed(files: Files) -> None:
    needed, forgotten, young = files.put(b"1"), files.put(b"2"), files.put(b"3")
    age(files, needed)
    age(files, forgotten)
    assert files.sweep({needed}) == 1
    assert files.has(needed)
    assert not files.has(forgotten)
    assert files.has(young)


def test_a_file_put_again_is_young_again(files: Files, tmp_path: Path) -> None:
    """Else a sweep could take it between the putting and the accepting."""
    (tmp_path / "upload").write_bytes(b"2")
    first, second = files.put(b"1"), files.put(b"2")
    age(files, first)
    age(files, second)
    files.put(b"1")
    files.adopt(tmp_path / "upload")
    assert files.sweep(set()) == 0


def test_a_sweep_leaves_what_is_no_file_of_ours(files: Files, tmp_path: Path) -> None:
    files.put(b"1")
    stranger = tmp_path / "files" / "ab" / "notes.txt"
    stranger.parent.mkdir(exist_ok=True)
    stranger.write_text("mine")
    os.utime(stranger, (0, 0))
    files.sweep(set())
    assert stranger.exists()
