"""The zip: same bytes, stored pictures, and no name that could harm or be refused."""

import io
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.pack.zip import pack_zip, plain_name

FILES = {"b/stage.jpg": b"\xff" * 4000, "a.txt": b"words " * 900, "b/été.pdf": b"%PDF" * 999}


def test_files_come_back_sorted_undated_and_pictures_are_stored() -> None:
    packed = pack_zip(FILES)
    assert packed == pack_zip(dict(reversed(FILES.items())))
    with zipfile.ZipFile(io.BytesIO(packed)) as z:
        assert z.testzip() is None
        assert z.namelist() == sorted(FILES)
        assert {n: z.read(n) for n in z.namelist()} == FILES
        for info in z.infolist():
            assert info.date_time == (1980, 1, 1, 0, 0, 0)
            stored = info.filename != "a.txt"
            assert (info.compress_type == zipfile.ZIP_STORED) == stored
            assert info.external_attr >> 16 == 0o100644  # a plain file, no link, nothing to run


UNSAFE = [
    "", "/etc/passwd", "../up.txt", "a/../../b", "a//b", "a/", ".", "C:\\x", "a\\b", "a:b", "nul",
    "CON.txt", "x/COM1.pdf", "a\x00b", "a\nb", "tail.", "tail ", " head", "a?b", "a*b", "x" * 201,
    "é" * 130, "a\u202egpj.exe", "a/\ud800",
]  # fmt: skip


@pytest.mark.parametrize("name", UNSAFE)
def test_a_name_that_could_harm_is_refused(name: str) -> None:
    with pytest.raises(RequestError, match=r"cannot be a file's name") as caught:
        pack_zip({name: b"", "good.txt": b""})
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    "pair", [("A.txt", "a.txt"), ("e\u0301.txt", "é.txt"), ("a", "a/b"), ("B/x", "b")]
)
def test_names_that_fall_together_are_refused(pair: tuple[str, str]) -> None:
    with pytest.raises(RequestError, match="rename one"):
        pack_zip(dict.fromkeys(pair, b""))


def test_nothing_is_no_pack() -> None:
    with pytest.raises(RequestError, match="nothing to pack"):
        pack_zip({})


@given(st.text(max_size=80))
def test_any_title_makes_a_safe_name(title: str) -> None:
    name = plain_name(title)
    assert 1 <= len(name) <= 60
    pack_zip({f"{name}.zip": b"", f"{name}/x.txt": b""})  # refuses nothing


def test_a_title_is_still_known_by_its_name() -> None:
    assert plain_name("  Ein Becher Kaffee, größer als é!") == "ein-becher-kaffee-grosser-als-e"
    assert plain_name("群青") == plain_name("con") == "lesson"
