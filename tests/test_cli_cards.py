"""The commands for swatch cards and for what is known of paints, inside this process."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image


def test_a_card_is_printed_into_its_folder(run, tmp_path) -> None:
    code, out, err = run("card", "print")
    assert (code, err) == (0, "")
    assert sorted(p.name for p in (tmp_path / "card").iterdir()) == ["card.json", "card.pdf"]
    assert "PY154" in out
    assert "Not on this card" in out  # 17 paints, eight rows


def test_a_card_by_hand_in_brush_loads(run, tmp_path) -> None:
    words = ("card", "print", "PB29", "PR255", "--by-hand", "--loads", "brush-loads")
    code, out, _ = run(*words, "--out", "mine")
    assert code == 0
    assert "Not on this card" not in out
    assert "brush-load" in (tmp_path / "mine" / "card-by-hand.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("card", "print", "nothing like it"), "no paint"),
        (("card", "print", "--size", "A5"), "A5"),
        (("card", "read"), "Name one photo"),
        (("card", "read", "a.jpg", "--measured", "b.txt"), "Name one photo"),
        (("card", "read", "a.jpg"), "card.json"),
        (("paints", "--facts", "PX1"), "PX1"),
        (("paints", "--facts", "PR101"), "say which of"),
        (("paints", "starter", "--spectra", "/dev/null/x.txt"), "cannot be written"),
        (("glaze", "PB29 20%", "--paints", "no-such-list"), "no-such-list"),
    ],
)
def test_wrong_words_are_refused_in_one_sentence(run, words, said) -> None:
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("corners", ["1,2 3,4", "a,b c,d e,f g,h", "1,2 3,4 5,6 7", ""])
def test_wrong_corners_are_refused(run, tmp_path, corners) -> None:
    run("card", "print")
    Image.new("RGB", (400, 300)).save(tmp_path / "photo.png")
    code, _, err = run("card", "read", "photo.png", "--corners", corners)
    assert code == 2
    assert "--corners" in err


def test_a_photo_without_a_card_is_refused(run, tmp_path) -> None:
    run("card", "print")
    noise = np.random.default_rng(0).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    Image.fromarray(noise).save(tmp_path / "photo.png")
    code, out, err = run("card", "read", "photo.png")
    assert (code, out) == (2, "")
    assert "swatch card" in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["card", "photo.png"]


def test_facts_tell_their_sources(run) -> None:
    code, out, _ = run("paints", "--facts", "PB29", "--json")
    (row,) = json.loads(out)
    assert code == 0
    assert row["facts"]["lightfast"] == {"value": "I", "source": "published (S11)"}
    assert row["facts"]["staining"]["source"] == "memory"


def test_every_kind_of_pigment_is_told(run) -> None:
    _, out, _ = run("paints", "--facts", "--json")
    rows = json.loads(out)
    assert len(rows) == 78
    assert all(fact["source"] for row in rows for fact in row["facts"].values())


@pytest.mark.parametrize(("form", "start"), [("cgats", "CGATS.17"), ("cxf", "<?xml")])
def test_spectra_are_written(run, tmp_path, form, start) -> None:
    code, out, _ = run("paints", "PB29", "--spectra", "out.txt", "--format", form)
    assert code == 0
    assert "out.txt" in out
    assert (tmp_path / "out.txt").read_text("utf-8").startswith(start)


def test_a_pigment_known_by_its_facts_only_is_listed(run) -> None:
    code, out, _ = run("paints", "PO20", "--json")
    (row,) = json.loads(out)
    assert code == 0
    assert row["within"] > 5
    assert "toxic Cd" in row["hazard"]


def test_a_painters_notes_are_shown(run, tmp_path) -> None:
    Path(tmp_path / "box.txt").write_text("PB29 | pan | favourite | for skies\nPG7 | banned\n")
    code, out, _ = run("paints", "box.txt")
    assert code == 0
    assert "favourite" in out
    assert "banned" in out


def test_facts_of_a_list(run, tmp_path) -> None:
    Path(tmp_path / "box.txt").write_text("PB29\nPY154\n")
    _, out, _ = run("paints", "box.txt", "--facts", "--json")
    assert {row["key"] for row in json.loads(out)} == {"PB29", "PY154"}


def test_paints_of_others_are_told_in_a_glaze(run, tmp_path) -> None:
    Path(tmp_path / "box.txt").write_text("PB29\nPG7 | banned\n")
    _, out, _ = run("glaze", "PB60 10%", "PG7 10%", "--paints", "box.txt")
    assert "Not on the list box.txt: indanthrone blue" in out
    assert "Banned on your list: phthalo green" in out


def test_a_glaze_of_a_painters_list_tells_its_range(run, tmp_path) -> None:
    Path(tmp_path / "box.txt").write_text("PB29 | pan\nmystery red | unknown\n", "utf-8")
    code, out, _ = run("glaze", "mystery red 30%", "--paints", "box.txt", "--json")
    assert code == 0
    _, coat = json.loads(out)
    low, high = coat["lightness_90"]
    assert low < coat["lab"][0] < high
    assert coat["within_ciede2000_90"] > 5  # nobody knows its pigment
