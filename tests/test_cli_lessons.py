"""The command for the lessons, inside this process: files, JSON, refusals in one sentence."""

import json
from pathlib import Path

import pytest

from firstwash.lessons.gallery import FILES


def test_lessons_are_written_and_older_ones_replaced(run, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("PB29\nPBr7-burnt\nPY154 | banned\n")
    code, out, _ = run("lessons", "class", "--paints", "mine.txt")
    assert code == 0
    assert "Never black" in out
    assert "index.html" in out
    assert sorted(p.name for p in (tmp_path / "class").iterdir()) == sorted(FILES)
    page = (tmp_path / "class" / "index.html").read_text("utf-8")
    assert "benzimidazolone" not in page  # banned on the list
    code, out, _ = run("lessons", "class", "--paints", "mine.txt", "--json")
    assert code == 0
    told = json.loads(out)
    assert told["folder"] == "class"
    assert [f"{key}.html" for key in told["lessons"]] == list(FILES[1:])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("lessons",), "folder"),
        (("lessons", "x", "--paints", "no-such-list"), "no-such-list"),
        (("lessons", "."), "other things"),
        (("lessons", "letters.txt"), "is a file"),
        (("lessons", "/dev/null/x"), "is a file"),
    ],
)
def test_wrong_words_are_refused_before_any_work(run, tmp_path: Path, words, said) -> None:
    (tmp_path / "letters.txt").write_text("dear")
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert said in " ".join(err.split())
    assert "Traceback" not in err
    assert [p.name for p in tmp_path.iterdir()] == ["letters.txt"]
