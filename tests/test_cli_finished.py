"""The command for a finished painting, inside this process: files, words, refusals."""

from pathlib import Path

import pytest
from tests.finished_photos import folder_in, photo


def test_a_painting_is_squared_and_told(run, tmp_path: Path) -> None:
    folder_in(tmp_path)
    (tmp_path / "photo.jpg").write_bytes(photo())
    code, out, _ = run(
        "finished", "plan", "photo.jpg", "--title", "The cup", "--painter", "A. Painter",
        "--year", "2031", "--remark", "private collection", "--page", "Letter", "--quiet",
    )  # fmt: skip
    assert code == 0
    plain = " ".join(out.split())
    assert "A. Painter, The cup, 2031. Transparent watercolour" in plain
    assert "private collection." in plain
    assert "finished/painting.jpg" in plain
    names = sorted(p.name for p in (tmp_path / "finished").iterdir())
    assert names == ["finished.txt", "label.pdf", "painting.jpg", "sheet.jpg"]
    code, out, _ = run("finished", "plan", "photo.jpg", "--out", "finished", "--quiet")
    assert code == 0
    assert "The cup" not in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "'plan'"),
        (("plan",), "'photo'"),
        (("no-plan", "photo.jpg"), "no whole plan"),
        (("plan", "photo.jpg", "--corners", "1,2"), "four pairs"),
        (("plan", "photo.jpg", "--title", "x" * 121), "Shorten the title"),
        (("plan", "photo.jpg", "--out", "."), "other things"),
        (("plan", "photo.jpg", "--out", "letters.txt"), "is a file"),
        (("plan", "photo.jpg", "--page", "A3"), "A3"),
        (("plan", "letters.txt"), "photo"),
        (("plan", "nowhere.jpg"), "nowhere.jpg"),
    ],
)
def test_wrong_words_are_refused(run, tmp_path: Path, words, said: str) -> None:
    folder_in(tmp_path)
    (tmp_path / "letters.txt").write_text("dear")
    (tmp_path / "photo.jpg").write_bytes(photo())
    code, out, err = run("finished", *words)
    assert code == 2
    assert out == ""
    assert said in " ".join(err.split())
    assert "Traceback" not in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["letters.txt", "photo.jpg", "plan"]
