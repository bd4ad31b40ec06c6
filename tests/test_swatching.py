"""Swatch cards from end to end: print, paint (simulated), read, plan with what was learned."""

import importlib
import json
import os
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstwash import swatching
from firstwash.card.sheet import read_rows, write_rows
from firstwash.errors import FirstwashError, MeasurementError, OutputError, RequestError
from firstwash.paints.catalogue import default_paper
from firstwash.paints.instrument.cgats import write_cgats
from firstwash.paints.instrument.cxf import write_cxf
from firstwash.paints.instrument.read import read_measurements
from firstwash.paints.instrument.samples import Sample
from firstwash.paints.own import OwnPaints, own_file, read_own, write_own
from firstwash.paints.shelf import load_shelf
from firstwash.plan.glaze import parse_coat, predict_glazes
from firstwash.swatching import (
    learn_from_measurements,
    learn_from_photo,
    print_card,
    write_spectra,
)

ROOT = Path(__file__).parents[1]
PAINTS = ("PB28", "PR108", "PY35")


@pytest.fixture(scope="module")
def scene():
    if os.environ.get("FIRSTWASH_OFFLINE") == "1":
        pytest.skip("FIRSTWASH_OFFLINE=1: the measured spectra are not fetched")
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("card_scene")
    finally:
        sys.path.remove(str(ROOT / "tools"))


@pytest.fixture(scope="module")
def painted(scene):
    """A card as somebody painted it, and a photo of it with a colour target."""
    rng = np.random.default_rng(5)  # by daylight
    card = scene.random_card(rng, list(PAINTS))
    return card, scene.photograph(card, rng, target=True, megapixels=5.0)


@pytest.fixture
def desk(tmp_path, painted):
    """A folder with the photo and the card's file."""
    card, photo = painted
    (tmp_path / "photo.jpg").write_bytes(photo.jpeg)
    (tmp_path / "card.json").write_bytes(write_rows(card.rows))
    return tmp_path


def learn(desk: Path, **more):
    known = {"box": desk / "box.txt", "start": "measured", "report": desk / "report.html", **more}
    return learn_from_photo(desk / "photo.jpg", desk / "card.json", **known)


# ------------------------------------------------------------------ printing


def test_a_printed_card_and_its_file_agree(tmp_path) -> None:
    files, rows, left = print_card("starter", folder=tmp_path / "new" / "card")
    assert [f.name for f in files] == ["card.pdf", "card.json"]
    assert files[0].read_bytes().startswith(b"%PDF")
    assert read_rows(files[1].read_bytes(), "card.json") == rows
    assert len(rows) == 8
    assert len(left) == 17 - 8


def test_named_paints_get_a_card_of_their_own(tmp_path) -> None:
    files, rows, left = print_card("starter", ["PB29", "burnt sienna"], tmp_path, by_hand=True)
    assert [r.paint for r in rows] == ["PB29", "PBr7-burnt"]
    assert files[0].suffix == ".html"
    assert b"ultramarine" in files[0].read_bytes()
    assert left == ()


@pytest.mark.parametrize("names", [["PB29", "ultramarine blue"], ["PB29"] * 9, ["no such paint"]])
def test_names_that_make_no_card_are_refused(tmp_path, names) -> None:
    with pytest.raises(FirstwashError):
        print_card("starter", names, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_another_cards_file_is_not_written_over(tmp_path) -> None:
    print_card("starter", ["PB29", "PR255"], tmp_path)
    before = (tmp_path / "card.json").read_bytes()
    with pytest.raises(OutputError, match="another card"):
        print_card("starter", ["PG7", "PB60"], tmp_path)
    assert (tmp_path / "card.json").read_bytes() == before
    print_card("starter", ["PB29", "PR255"], tmp_path)  # the same card again does no harm


def test_a_card_that_cannot_be_written_is_refused(tmp_path) -> None:
    (tmp_path / "file").write_text("here first")
    with pytest.raises(OutputError):
        print_card("starter", folder=tmp_path / "file" / "card")


# ------------------------------------------------------------------ reading


def test_a_photo_teaches_the_paints_and_keeps_them(desk) -> None:
    found = learn(desk)
    assert found.warnings == ()
    own = read_own((desk / "box.paints.json").read_bytes(), "own")
    assert {p.key for p in own.paints} == set(PAINTS)
    assert all(p.provenance == "calibrated" for p in own.paints)
    shelf = load_shelf(desk / "box.txt")
    assert shelf.paint("PB28").provenance == "calibrated"
    assert shelf.paint("PB29").provenance == "measured"  # on the list, not on the card
    assert shelf.paper.name == "your paper"
    page = (desk / "report.html").read_text("utf-8")
    assert "cobalt blue" in page
    assert "http" not in page.replace("http://www.w3.org", "")  # nothing is fetched
    assert sorted(p.name for p in desk.iterdir()) == [
        "box.paints.json", "box.txt", "card.json", "photo.jpg", "report.html",
    ]  # fmt: skip


def test_what_was_taught_narrows_the_range_of_a_glaze(desk) -> None:
    learn(desk)
    shelf = load_shelf(desk / "box.txt")
    before = predict_glazes([parse_coat("PR108 step 6")])[-1]
    coats = [parse_coat("PR108 step 6", shelf.paper, shelf.paint)]
    after = predict_glazes(coats, paper=shelf.paper)[-1]
    assert after.doubt < before.doubt


def test_a_second_card_keeps_what_was_known_before(desk) -> None:
    learn(desk)
    first = (desk / "box.paints.json").read_bytes()
    again = learn(desk)
    assert again.older is not None
    assert again.older.read_bytes() == first
    assert again.older.name == "box.paints.before-1.json"
    assert learn(desk).older.name == "box.paints.before-2.json"


def test_a_photo_read_twice_does_not_count_twice(desk) -> None:
    first, second = learn(desk), learn(desk)
    for a, b in zip(first.taught.paints, second.taught.paints, strict=True):
        np.testing.assert_allclose(np.log(a.k), np.log(b.k), atol=0.05)  # partners are known now
        sizes = [np.sqrt((p.doubt**2).sum()) for p in (a, b)]
        assert sizes[1] > 0.9 * sizes[0]
    assert [p.provenance for p in second.taught.before] == ["calibrated"] * 3


def test_without_a_target_the_paper_stays_as_it_was_known(desk, scene) -> None:
    """Only a target tells the paper's white: a later photo without one does not forget it."""
    cream = replace(default_paper(), name="mine", reflectance=0.8 * default_paper().reflectance)
    (desk / "box.txt").write_text("PB28\nPR108\nPY35\n")
    (desk / "box.paints.json").write_bytes(write_own(OwnPaints((), cream)))
    rng = np.random.default_rng(3)
    card = scene.random_card(rng, ["PB28", "PR108"])
    photo = scene.photograph(card, rng, target=False, megapixels=5.0)
    (desk / "photo.jpg").write_bytes(photo.jpeg)
    (desk / "card.json").write_bytes(write_rows(card.rows))
    found = learn(desk)
    np.testing.assert_allclose(found.taught.paper.reflectance, cream.reflectance)


def test_a_card_by_hand_and_a_printed_one_share_their_file(tmp_path) -> None:
    print_card("starter", ["PB29", "PR255"], tmp_path)
    print_card("starter", ["PB29", "PR255"], tmp_path, by_hand=True)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "card-by-hand.html", "card.json", "card.pdf",
    ]  # fmt: skip


@pytest.mark.parametrize(("form", "write"), [("cgats", write_cgats), ("cxf", write_cxf)])
def test_an_instruments_own_file_is_not_written_over(tmp_path, form, write) -> None:
    from datetime import UTC, datetime

    sample = Sample("A2", np.full(36, 0.5), np.ones(36, dtype=np.bool_))
    theirs = write([sample], datetime(2026, 1, 2, tzinfo=UTC)).replace(b"firstwash", b"lab")
    (tmp_path / "mine").write_bytes(theirs)
    paints = load_shelf("measured").to_set().paints[:1]
    with pytest.raises(OutputError, match="something else"):
        write_spectra(paints, tmp_path / "mine", form)
    assert (tmp_path / "mine").read_bytes() == theirs
    write_spectra(paints, tmp_path / "ours", form)
    write_spectra(paints, tmp_path / "ours", form)  # an older one of our own is


def test_nothing_else_is_written_over(desk) -> None:
    text = "PB28\nPR108\nPY35\n"
    (desk / "box.txt").write_text(text)
    with pytest.raises(OutputError, match="something else"):
        learn(desk, report=desk / "box.txt")
    with pytest.raises(OutputError, match="something else"):
        write_spectra(load_shelf(desk / "box.txt").to_set().paints, desk / "box.txt")
    assert (desk / "box.txt").read_text() == text
    learn(desk)
    learn(desk)  # an older report is


def test_a_list_may_not_bear_the_name_of_a_set(desk) -> None:
    with pytest.raises(RequestError, match="comes with firstwash"):
        learn(desk, box=Path("starter"))


def test_a_printed_card_is_told_from_another(desk) -> None:
    """The printed page itself as a photo: its markers carry the number in its file."""
    import pypdfium2

    files, _, _ = print_card("starter", ["PB29", "PR255"], desk / "one")
    print_card("starter", ["PG7", "PB60"], desk / "two")
    pdf = pypdfium2.PdfDocument(files[0].read_bytes())
    page = pdf[0]
    page.render(scale=150 / 72).to_pil().save(desk / "photo.png")
    page.close()
    pdf.close()
    known = {"box": desk / "box.txt", "start": "starter", "report": desk / "report.html"}
    with pytest.raises(FirstwashError, match="empty"):  # the right file, but nothing is painted
        learn_from_photo(desk / "photo.png", desk / "one" / "card.json", **known)
    numbers = [json.loads((desk / n / "card.json").read_text())["number"] for n in ("one", "two")]
    assert numbers[0] != numbers[1]


def test_the_wrong_file_of_two_is_refused(desk, painted, monkeypatch) -> None:
    card, _ = painted
    (desk / "card.json").write_bytes(write_rows(card.rows, 5))
    assert learn(desk).taught.paints  # the simulator's card bears no number: nothing to compare
    read = swatching.read_card

    def numbered(*words, **more):
        found = read(*words, **more)
        return replace(found, card=replace(found.card, number=6))

    monkeypatch.setattr(swatching, "read_card", numbered)
    with pytest.raises(RequestError, match="another card"):
        learn(desk)
    (desk / "card.json").write_bytes(write_rows(card.rows, 6))
    assert learn(desk).taught.paints


def test_another_cards_file_is_noticed_by_its_hues(desk, painted) -> None:
    card, _ = painted
    swapped = [replace(card.rows[0], paint="PR108"), replace(card.rows[1], paint="PB28")]
    (desk / "card.json").write_bytes(write_rows([*swapped, *card.rows[2:]]))
    found = learn(desk)
    said = " ".join(found.taught.notes)
    assert "Row A does not look like cadmium red" in said
    assert "Row B does not look like cobalt blue" in said
    assert "Row C" not in said


def test_the_painters_list_is_left_as_it_is(desk) -> None:
    text = "# my box\nPB28 | pan | favourite | for skies\nPR108\nPY35   # opaque\nPB29\n"
    (desk / "box.txt").write_text(text, "utf-8")
    learn(desk)
    now = (desk / "box.txt").read_text("utf-8")
    assert now == text


def test_a_photo_of_nothing_changes_nothing(desk) -> None:
    from PIL import Image

    Image.new("RGB", (900, 700), (90, 120, 60)).save(desk / "photo.jpg")
    before = sorted(p.name for p in desk.iterdir())
    with pytest.raises(FirstwashError, match="swatch card"):
        learn(desk)
    assert sorted(p.name for p in desk.iterdir()) == before


@pytest.mark.parametrize(
    "content", [b"", b"{}", b"[1]", b'{"format": "firstwash card 1", "rows": []}', b"\xff\xfe"]
)
def test_a_wrong_card_file_is_refused(desk, content) -> None:
    (desk / "card.json").write_bytes(content)
    with pytest.raises(RequestError, match=r"card\.json"):
        learn(desk)


def test_missing_files_are_told_by_name(desk) -> None:
    with pytest.raises(FirstwashError, match="nowhere"):
        learn_from_photo(desk / "nowhere.jpg", desk / "card.json", desk / "box.txt", "measured")
    with pytest.raises(RequestError, match="nowhere"):
        learn_from_photo(desk / "photo.jpg", desk / "nowhere.json", desk / "box.txt", "measured")


def test_touches_must_be_four(desk) -> None:
    with pytest.raises(RequestError, match="four corners"):
        learn(desk, touches=[(0.0, 0.0), (1.0, 1.0)])


def test_a_hand_drawn_card_is_read_by_four_touches(desk, painted) -> None:
    """The same photo, its markers ignored: corners of the frame as a finger would give them."""
    from firstwash.card.by_hand import frame_box

    card, photo = painted
    true = photo.card_to_photo(frame_box(len(card.rows)).corners)
    finger = np.random.default_rng(1).normal(0.0, 2.0, true.shape)  # pixels
    found = learn(desk, touches=[(float(x), float(y)) for x, y in true + finger])
    assert {p.key for p in found.taught.paints} == set(PAINTS)


# ------------------------------------------------------------------ instruments


def measured(card, names) -> list[Sample]:
    whole = np.ones(36, dtype=np.bool_)
    return [Sample(n, np.asarray(card.true_reflectance[n]), whole) for n in names]


@pytest.mark.parametrize("write", [write_cgats, write_cxf])
def test_an_instruments_file_teaches_the_paints(desk, painted, write) -> None:
    from datetime import UTC, datetime

    card, _ = painted
    samples = measured(card, [s.name for s in card.swatches])
    (desk / "card.txt").write_bytes(write(samples, datetime(2026, 1, 2, tzinfo=UTC)))
    found = learn_from_measurements(
        desk / "card.txt", desk / "card.json", desk / "box.txt", "measured", desk / "report.html"
    )
    assert {p.key for p in found.taught.paints} == set(PAINTS)
    # Spectra of the simulator's other physics, fitted by ours: the middle swatch hardly differs.
    assert np.median([s.off for s in found.taught.swatches]) < 1.5
    np.testing.assert_allclose(found.taught.paper.reflectance, card.paper, atol=1e-3)


def test_samples_of_other_names_are_refused(desk, painted) -> None:
    from datetime import UTC, datetime

    card, _ = painted
    others = [Sample(f"patch {i}", s.reflectance, s.bands_measured)
              for i, s in enumerate(measured(card, ["A2", "A3", "A4"]))]  # fmt: skip
    (desk / "card.txt").write_bytes(write_cgats(others, datetime(2026, 1, 2, tzinfo=UTC)))
    with pytest.raises(MeasurementError, match="A1 to H14"):
        learn_from_measurements(desk / "card.txt", desk / "card.json", desk / "box.txt", "measured")
    assert not own_file(desk / "box.txt").exists()


def test_spectra_go_out_and_come_back(tmp_path) -> None:
    shelf = load_shelf("measured")
    for form in ("cgats", "cxf"):
        file = write_spectra(shelf.to_set().paints[:2], tmp_path / f"out.{form}", form)
        back = read_measurements(file.read_bytes(), file.name)
        assert len(back.samples) == 1 + 2 * 6
        assert back.samples[0].name == "paper"
        np.testing.assert_allclose(
            back.samples[0].reflectance,
            shelf.paper.reflectance,
            atol=1e-6,  # six decimals
        )


def test_own_paints_survive_their_file(desk) -> None:
    found = learn(desk)
    again = {p.key: p for p in read_own(found.kept_in.read_bytes(), "x").paints}
    for one in found.taught.paints:
        np.testing.assert_allclose(again[one.key].k, one.k, rtol=1e-5)  # six digits
        np.testing.assert_allclose(again[one.key].doubt, one.doubt, rtol=1e-4, atol=1e-6)
    told = json.loads(found.kept_in.read_bytes())
    assert told["format"] == "firstwash own paints 1"
