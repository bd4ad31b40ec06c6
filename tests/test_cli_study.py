"""The command `firstwash study`, inside this process."""

import json
from functools import partial
from pathlib import Path

import pytest
from PIL import Image
from skimage import data


@pytest.fixture
def study(run, tmp_path):
    """The command in a folder with a photo: study("photo.png") gives (code, out, err)."""
    Image.fromarray(data.coffee()[::2, ::2]).save(tmp_path / "photo.png")
    return partial(run, "study")


def test_a_photo_is_studied_into_a_folder(study, tmp_path: Path) -> None:
    code, out, err = study("photo.png", "--steps", 4, "--count-from", "light")
    assert (code, err) == (0, "")
    assert "Squinted at" in out
    assert "Look at " in out
    names = {p.name for p in (tmp_path / "study").iterdir()}
    assert {"index.html", "study.json", "values.png", "local-colour.jpg"} <= names
    told = json.loads((tmp_path / "study" / "study.json").read_text("utf-8"))
    assert [v["number"] for v in told["values"]] == [4, 3, 2, 1]


def test_json_is_the_document(study, tmp_path: Path) -> None:
    code, out, _ = study("photo.png", "--json", "--out", "seen", "--sheet", "A4")
    assert code == 0
    told = json.loads(out)
    assert told.pop("folder") == "seen"
    assert told == json.loads((tmp_path / "seen" / "study.json").read_text("utf-8"))


def test_photos_that_cannot_be_read_are_refused_in_one_sentence(study, tmp_path: Path) -> None:
    whole = (tmp_path / "photo.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "words.jpg").write_text("not a photo")
    Image.fromarray(data.coffee()[::4, ::4]).convert("CMYK").save(tmp_path / "inks.jpg")
    for name in ("cut.png", "empty.jpg", "words.jpg", "inks.jpg"):
        code, out, err = study(name)
        assert (code, out) == (2, "")
        assert name in err
        assert len(err.strip().splitlines()) == 1
    assert not (tmp_path / "study").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.jpg",), "nowhere.jpg"),
        (("photo.png", "--steps", "11"), "value steps"),
        (("photo.png", "--squint", "2"), "Squint between"),
        (("photo.png", "--masses", "9"), "3 to 5 tones"),
        (("photo.png", "--sheet", "as large as a door"), "as large as a door"),
        (("photo.png", "--paints", "no-such-list"), "no-such-list"),
        (("photo.png", "--out", "photo.png"), "is a file"),
        (("photo.png", "--out", "."), "holds other things"),
    ],
)
def test_wrong_words_are_refused_in_one_sentence(study, words, said) -> None:
    code, out, err = study(*words)
    assert code == 2
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1
