"""Pictures kept on the disk: drawn once, and nothing depends on them."""

import os
from pathlib import Path

import pytest

from firstwash.worksheet import printed as module
from firstwash.worksheet.printed import Printed
from firstwash.worksheet.prints import Picture

STAMP = "0123456789abcdef"


class Painter:
    """Draws a picture, and counts how often."""

    def __init__(self, data: bytes = b"jpeg", kind: str = "image/jpeg") -> None:
        self.times, self.data, self.kind = 0, data, kind

    def __call__(self) -> Picture:
        self.times += 1
        return Picture(self.data, self.kind, 5, 4)


@pytest.fixture
def printed(tmp_path: Path) -> Printed:
    return Printed(tmp_path / "prints")


@pytest.mark.parametrize(
    ("kind", "ending"), [("image/jpeg", "jpg"), ("image/png", "png"), ("image/svg+xml", "svg")]
)
def test_a_picture_is_drawn_once(printed: Printed, tmp_path: Path, kind: str, ending: str) -> None:
    draw = Painter(b"bytes", kind)
    for _ in range(3):
        found = printed.of(STAMP, "stage-1", 300, draw)
        assert (found.data, found.media_type) == (b"bytes", kind)
    assert draw.times == 1
    assert [p.name for p in (tmp_path / "prints" / STAMP).iterdir()] == [f"stage-1.300.{ending}"]


def test_another_width_name_or_stamp_is_another_picture(printed: Printed) -> None:
    draw = Painter()
    asked = [
        (STAMP, "hue", 300),
        (STAMP, "hue", 301),
        (STAMP, "squint-4", 300),
        ("f" * 16, "hue", 300),
    ]
    for _ in range(2):
        for stamp, name, width in asked:
            printed.of(stamp, name, width, draw)
    assert draw.times == len(asked)


@pytest.mark.parametrize(
    "name",
    [
        "..",
        "../x",
        "a/b",
        "a\\b",
        "",
        "x" * 41,
        "A",
        "a.b",
        "a\0",
        "a\n",
        "ü",
        ".hidden",
        "-",
        "con:",
    ],
)
def test_a_name_that_is_none_is_drawn_and_never_written(
    printed: Printed, tmp_path: Path, name: str
) -> None:
    for stamp, asked in ((STAMP, name), (name, "hue")):
        if name == "-":
            continue  # odd, but harmless
        draw = Painter()
        assert printed.of(stamp, asked, 300, draw).data == b"jpeg"
        assert printed.of(stamp, asked, 300, draw).data == b"jpeg"
        assert draw.times == 2
    assert not (tmp_path / "prints").exists() or name == "-"


def test_a_full_disk_shows_the_picture_all_the_same(
    printed: Printed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, data: bytes) -> int:
        with path.open("wb") as to:
            to.write(data[:2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    draw = Painter()
    for _ in range(2):
        assert printed.of(STAMP, "hue", 300, draw).data == b"jpeg"
    assert draw.times == 2
    assert list((tmp_path / "prints" / STAMP).iterdir()) == []  # nothing half written is left


def test_a_folder_that_cannot_be_made_shows_it_too(tmp_path: Path) -> None:
    (tmp_path / "prints").write_text("in the way")
    printed = Printed(tmp_path / "prints")
    assert printed.of(STAMP, "hue", 300, Painter()).data == b"jpeg"
    printed.take(STAMP, tmp_path)  # nor does taking over fail
    assert (tmp_path / "prints").is_file()


def test_what_fails_to_be_drawn_is_not_kept(printed: Printed) -> None:
    def fails() -> Picture:
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        printed.of(STAMP, "hue", 300, fails)
    assert printed.of(STAMP, "hue", 300, Painter()).data == b"jpeg"


def made_elsewhere(folder: Path, data: bytes = b"made") -> Path:
    folder.mkdir(parents=True)
    (folder / "finished.1200.jpg").write_bytes(data)
    return folder


def test_pictures_made_elsewhere_are_taken_over(printed: Printed, tmp_path: Path) -> None:
    made = made_elsewhere(tmp_path / "work" / "prints")
    printed.take(STAMP, made)
    assert not made.exists()
    draw = Painter()
    assert printed.of(STAMP, "finished", 1200, draw).data == b"made"
    assert draw.times == 0
    printed.take(STAMP, made_elsewhere(tmp_path / "again", b"other"))  # the first ones stay
    assert printed.of(STAMP, "finished", 1200, draw).data == b"made"
    printed.take("f" * 16, tmp_path / "nowhere")  # what is not there is not missed


def test_only_the_latest_plans_keep_their_pictures(
    printed: Printed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST", 3)
    for n in range(6):
        printed.take(f"{n:016x}", made_elsewhere(tmp_path / f"work {n}"))
        os.utime(tmp_path / "prints" / f"{n:016x}", (n, n))
    printed.take("f" * 16, made_elsewhere(tmp_path / "last"))
    left = sorted(p.name for p in (tmp_path / "prints").iterdir())
    assert left == [f"{4:016x}", f"{5:016x}", "f" * 16]
    draw = Painter()
    assert printed.of(f"{0:016x}", "finished", 1200, draw).data == b"jpeg"  # drawn again
