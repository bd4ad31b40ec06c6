"""The catalogue: what comes with firstwash, lookup by key and name, sets, a painter's own files."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import PaintError
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.optics.observer import lab_to_xyz, reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import (
    Handling,
    Paint,
    all_paints,
    default_paper,
    load_set,
    paint,
    read_paints,
    set_names,
)
from firstwash.plan.bench import Bench

MEASURED = ["PR108", "PR83", "PBr7-burnt", "lemon-yellow", "PY35", "PBr7-raw", "sap-green"]
MEASURED += ["PB35", "PB28", "PB29", "PB27", "PBk9", "PW4"]


def some_paint(**changes) -> Paint:
    one = {
        "key": "X1",
        "name": "test paint",
        "pigments": (),
        "k": np.ones(N_BANDS),
        "s": np.ones(N_BANDS),
        "provenance": "calibrated",
        "source": "a swatch card",
    }
    return Paint(**{**one, **changes})


# ------------------------------------------------------------------ what is shipped


def test_the_measured_paints_come_first() -> None:
    assert [p.key for p in all_paints()[:13]] == MEASURED
    assert all(p.provenance == "measured" for p in all_paints()[:13])
    assert all(p.provenance != "measured" for p in all_paints()[13:])


def test_every_paint_is_complete() -> None:
    for one in all_paints():
        assert one.name
        assert one.source
        assert one.note
        assert 0 < one.sigma < 1
        assert one.full_coat > 0
        for curve in (one.k, one.s):
            assert curve.shape == (N_BANDS,)
            assert np.isfinite(curve).all()
            assert (curve > 0).all()


def test_measured_paints_tell_how_well_and_how_far_they_were_measured() -> None:
    for one in all_paints()[:13]:
        assert 0 < one.fit_error < 3
        assert one.thinnest_measured == 0.25
        assert "assumed" in one.note if one.pigments else "unknown" in one.note


def test_a_measured_full_coat_is_what_a_hand_lays_not_what_lay_on_the_swatch() -> None:
    for one in all_paints()[:13]:
        alone = Bench.of([one], default_paper())
        bare = alone.labs(np.zeros((0, 1)))[0]
        strong, swatch = (alone.labs(np.array([[a]]))[1] for a in (0.7 * one.full_coat, 1.0))
        roots = [np.cbrt(lab_to_xyz(lab) / alone.white) for lab in (bare, strong, swatch)]
        by_lightness = (roots[0] - roots[1])[1] / (roots[0] - roots[2])[1]
        by_all = (roots[0] - roots[1]).mean() / (roots[0] - roots[2]).mean()
        assert one.full_coat <= 1.0
        if one.full_coat < 1.0:  # seven tenths of it do nine tenths; the figure has three digits
            assert max(by_lightness, by_all) == pytest.approx(0.9, abs=0.01)
        else:
            assert max(by_lightness, by_all) < 0.91
    # Prussian blue near full strength was measured many times as thick as anybody lays it.
    assert paint("PB27").full_coat < 0.1


def test_pigments_are_named_only_where_they_are_known() -> None:
    assert paint("lemon-yellow").pigments == paint("sap-green").pigments == ()
    assert paint("PBr7-raw").pigments == ("PBr7",)
    # ... and nothing is said of the handling of a paint whose pigment is unknown.
    assert paint("sap-green").handling == Handling()


def test_handling_comes_from_the_facts_with_its_sources() -> None:
    crimson = paint("PR83").handling
    assert (crimson.transparency, crimson.staining, crimson.lightfast) == (4, 3, "IV")
    assert paint("PR108").handling.hazard == "toxic"
    assert paint("PB29").handling.granulation == 3
    for one in all_paints():
        assert set(one.handling.sources.values()) <= {"published", "memory", "mixed"}
        for grade in ("transparency", "staining", "granulation", "tinting"):
            assert getattr(one.handling, grade) in {None, 0, 1, 2, 3, 4}
        assert one.handling.hazard in {None, "none", "caution", "toxic"}


def test_curves_cannot_be_changed_by_accident() -> None:
    with pytest.raises(ValueError, match="read-only"):
        paint("PB29").k[0] = 1
    with pytest.raises(dataclasses.FrozenInstanceError):
        paint("PB29").name = "other"


def test_default_paper_is_a_white_paper_that_soaks() -> None:
    paper = default_paper()
    lightness, a, b = reflectance_to_lab(paper.reflectance)
    assert lightness > 90
    assert abs(a) < 3
    assert abs(b) < 5
    assert 0 < paper.soak < 1
    assert paper.k1 == 0.02
    bare = stages(paper, np.zeros((1, N_BANDS)), np.zeros((1, N_BANDS)))
    np.testing.assert_allclose(bare[-1], paper.reflectance, atol=1e-12)
    assert default_paper() is paper


# ------------------------------------------------------------------ lookup


def test_paints_are_found_by_key_or_trade_name_in_any_case() -> None:
    assert paint("pb29") is paint(" PB29 ") is paint("Ultramarine  Blue") is paint("PB29")
    assert paint("prussian blue").key == "PB27"


@pytest.mark.parametrize(
    ("asked", "near"),
    [("PB92", "PB29"), ("ultramarin", "ultramarine blue"), ("cadmium rad", "cadmium red")],
)
def test_an_unknown_paint_is_answered_with_its_neighbours(asked: str, near: str) -> None:
    with pytest.raises(PaintError, match=f"no paint “{asked}”.*{near}"):
        paint(asked)


def test_a_word_like_no_paint_gets_no_suggestion() -> None:
    with pytest.raises(PaintError, match=r"“zzzzzz”\. List them with: firstwash paints\.$"):
        paint("zzzzzz")


@given(st.text(max_size=20))
def test_any_word_is_a_paint_or_a_paint_error(word: str) -> None:
    try:
        assert paint(word) in all_paints()
    except PaintError as error:
        assert str(error)  # noqa: PT017 - either outcome is right


def test_every_key_and_no_other_paint_answers_to_it() -> None:
    assert [paint(p.key) for p in all_paints()] == list(all_paints())
    assert len({p.key.casefold() for p in all_paints()}) == len(all_paints())


# ------------------------------------------------------------------ sets


def test_the_measured_sets() -> None:
    whole = load_set("measured-all")
    assert sorted(p.key for p in whole.paints) == sorted(MEASURED)
    fewer = {p.key for p in load_set("measured").paints}
    assert {p.key for p in whole.paints} - fewer == {"PBk9", "PW4"}


def test_every_shipped_set_loads() -> None:
    assert {"measured", "measured-all"} <= set(set_names())
    for name in set_names():
        assert load_set(name).name == name
        assert load_set(name).paints


def test_a_painters_own_set(tmp_path) -> None:
    file = tmp_path / "travel box.txt"
    text = "\ufeff# my box\nPB29\n\n pr83 | half pan, nearly empty # buy one\nRaw Sienna\n"
    file.write_text(text, "utf-8")
    for asked in (file, str(file)):
        found = load_set(asked)
        assert found.name == "travel box"
        assert [p.key for p in found.paints] == ["PB29", "PR83", "PBr7-raw"]
        assert found.notes == {"PR83": "half pan, nearly empty"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "names no paint"),
        ("# only a comment\n", "names no paint"),
        ("PB29\nPB92\n", r"line 2: There is no paint “PB92”.*PB29"),
        ("PB29\nultramarine blue\n", "line 2: PB29 is listed twice"),
    ],
)
def test_a_set_that_cannot_be_used_says_why(tmp_path, text: str, told: str) -> None:
    file = tmp_path / "box.txt"
    file.write_text(text, "utf-8")
    with pytest.raises(PaintError, match=told):
        load_set(file)


def test_an_unknown_set_is_answered_with_its_neighbours(tmp_path) -> None:
    with pytest.raises(PaintError, match=r"“mesured”.*Near: measured"):
        load_set("mesured")
    with pytest.raises(PaintError, match="no set or readable text file"):
        load_set(tmp_path)  # a folder
    (tmp_path / "photo.txt").write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(PaintError, match="no set or readable text file"):
        load_set(tmp_path / "photo.txt")


# ------------------------------------------------------------------ tables


def write_table(folder: Path, **changes) -> tuple[Path, Path]:
    entry = {"key": "X1", "name": "test paint", "sigma": 0.1, "full_coat": 0.5}
    told = {"format": 1, "provenance": "calibrated", "source": "a card", "note": "For all."}
    told["paints"] = [{**entry, **changes.pop("entry", {})}]
    head = changes.pop("head", "nm,X1 K,X1 S")
    rows = [f"{nm},2,0.5" for nm in changes.pop("nm", WAVELENGTHS_NM)]
    about, curves = folder / "own.json", folder / "own.csv"
    about.write_text(json.dumps({**told, **changes}), "utf-8")
    curves.write_text("\n".join([head, *rows]), "utf-8")
    return about, curves


def test_a_table_of_ones_own(tmp_path) -> None:
    (one,) = read_paints(*write_table(tmp_path, entry={"note": "Mine.", "facts": "PB29"}))
    assert (one.key, one.provenance, one.full_coat, one.sigma) == ("X1", "calibrated", 0.5, 0.1)
    assert one.note == "Mine. For all."
    assert one.pigments == ()
    assert one.handling == paint("PB29").handling
    assert (one.k == 2).all()
    assert (one.s == 0.5).all()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"format": 2}, "format 2"),
        ({"provenance": "guessed"}, "provenance must be one of"),
        ({"head": "nm,X1 K,X2 S"}, "X1 S"),
        ({"nm": range(400, 760, 10)}, "380 to 730"),
        ({"nm": range(380, 700, 10)}, "380 to 730"),
        ({"paints": [{"name": "no key"}]}, "key"),
        ({"entry": {"sigma": -1}}, "sigma"),
        ({"entry": {"full_coat": 0}}, "full_coat"),
    ],
)
def test_a_table_that_does_not_fit_together_is_refused(tmp_path, changes, told: str) -> None:
    with pytest.raises(PaintError, match=told):
        read_paints(*write_table(tmp_path, **changes))


def test_a_missing_table_is_a_paint_error(tmp_path) -> None:
    with pytest.raises(PaintError, match="is not a table of paints"):
        read_paints(tmp_path / "no.json", tmp_path / "no.csv")


@pytest.mark.parametrize("bad", [np.zeros(N_BANDS), np.ones(35), np.full(N_BANDS, np.nan)])
@pytest.mark.parametrize("curve", ["k", "s"])
def test_curves_must_be_positive_numbers_on_the_grid(curve: str, bad) -> None:
    with pytest.raises(PaintError, match=f"X1: {curve} must be 36 positive"):
        some_paint(**{curve: bad})


def test_a_paint_keeps_its_own_copy_of_its_curves() -> None:
    mine = np.ones(N_BANDS)
    one = some_paint(k=mine)
    mine[:] = 5
    assert (one.k == 1).all()
