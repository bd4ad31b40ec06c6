"""The command for an unfinished painting, inside this process: files, words, refusals."""

from pathlib import Path

import pytest
from tests.finished_photos import folder_in
from tests.halfway_photos import jpeg


def test_where_a_painting_stands_is_told(run, tmp_path: Path) -> None:
    folder_in(tmp_path)
    (tmp_path / "photo.jpg").write_bytes(jpeg())
    code, out, _ = run("progress", "plan", "photo.jpg", "--after-layer", "2", "--quiet")
    assert code == 0
    plain = " ".join(out.split())
    assert "Ways to go on" in plain
    assert "progress/sheet.jpg" in plain
    names = {p.name for p in (tmp_path / "progress").iterdir()}
    assert {"progress.txt", "sheet.jpg", "differences.png", "ending-anew.jpg"} <= names


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "photo.jpg"), "after-layer"),
        (("plan", "photo.jpg", "--after-layer", "9"), "layers 1 to 3"),
        (("plan", "photo.jpg", "--after-layer", "2", "--corners", "1,2"), "four pairs"),
        (("plan", "photo.jpg", "--after-layer", "2", "--out", "."), "other things"),
        (("plan", "letters.txt", "--after-layer", "2"), "photo"),
        (("no-plan", "photo.jpg", "--after-layer", "2"), "no whole plan"),
    ],
)
def test_wrong_words_are_refused(run, tmp_path: Path, words, said: str) -> None:
    folder_in(tmp_path)
    (tmp_path / "letters.txt").write_text("dear")
    (tmp_path / "photo.jpg").write_bytes(jpeg())
    code, out, err = run("progress", *words)
    assert code == 2
    assert out == ""
    assert said in " ".join(err.split())
    assert "Traceback" not in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["letters.txt", "photo.jpg", "plan"]
