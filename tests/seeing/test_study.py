"""A photo studied: what is told holds of the photo, and the folder holds what it says."""

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

from firstwash.errors import OutputError, RequestError
from firstwash.light.split import LightSplit
from firstwash.optics.observer import (
    lab_to_xyz,
    linear_srgb_to_xyz,
    xyz_to_lab,
    xyz_to_linear_srgb,
)
from firstwash.picture.munsell import munsell_value
from firstwash.picture.values import value_step
from firstwash.seeing.document import FORMAT, VERSION, study_document
from firstwash.seeing.light_words import light_words
from firstwash.seeing.page import study_page
from firstwash.seeing.pictures import pictures
from firstwash.seeing.study import TOLD, Asked, Study
from firstwash.usecases_study import (
    FILES,
    Studied,
    StudyWishes,
    check_study_folder,
    study_photo,
    write_study,
)


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photo") / "a cup <b>.png"
    Image.fromarray(data.coffee()).save(path)
    return path


@pytest.fixture(scope="module")
def studied(photo: Path) -> Studied:
    return study_photo(photo, StudyWishes(look=Asked(steps=7, squint=0.2, numbered_from="light")))


@pytest.fixture(scope="module")
def study(studied: Studied) -> Study:
    return studied.study


def test_steps_are_equal_parts_of_lightness_with_their_munsell_values(study: Study) -> None:
    ends = [s.lightness for s in study.steps]
    assert ends[0][0] == 0.0
    assert ends[-1][1] == 100.0
    np.testing.assert_allclose([b - a for a, b in ends], 100 / 7)
    for step in study.steps:
        np.testing.assert_allclose(step.munsell, munsell_value(step.lightness))
    assert sum(s.share for s in study.steps) == pytest.approx(1.0)
    assert [s.name.number for s in study.steps] == [7, 6, 5, 4, 3, 2, 1]  # counted from the light


def test_places_told_are_as_light_and_dark_as_told(study: Study) -> None:
    lightness = study.lab[..., 0]
    for place in (*study.extremes.lights, *study.extremes.darks):
        row, col = int(place.y_mm * study.ppmm), int(place.x_mm * study.ppmm)
        near = lightness[max(row - 2, 0) : row + 3, max(col - 2, 0) : col + 3]
        # A place is a few mm wide and not quite even.
        assert abs(float(near.mean()) - place.lightness) < 8.0
        assert place.step == int(value_step(place.lightness))


def test_areas_are_the_largest_and_advised_on(study: Study) -> None:
    assert 1 <= len(study.areas) <= TOLD
    shares = [a.share for a in study.areas]
    assert shares == sorted(shares, reverse=True)
    for area in study.areas:
        assert area.share == pytest.approx(float(area.mask.mean()))
        assert area.advice.best.behind >= 0.0
        assert area.local is None or area.sure > 0.0


def test_values_are_counted_as_the_painter_counts_them(study: Study) -> None:
    # Seven steps from the light: the lightest is 1.
    lightest = max(e.lightness for e in study.extremes.lights)
    number = 8 - int(value_step(lightest, 7))
    assert f"The lightest lights (value {number} of 7)" in study.extremes.words
    floor = 11 - int(value_step(study.reach.floor))
    assert f"down to value {floor} of 10" in study.reach.words


def test_lost_edges_fit_their_pattern(study: Study) -> None:
    assert study.lost.lost.shape == study.pattern.tones.shape
    assert 0.0 <= study.lost.share <= 1.0


def test_areas_have_the_light_that_falls_on_them(study: Study) -> None:
    for number, area in enumerate(study.areas, 1):
        assert area.light is not None
        assert area.light.shape == number
        edge = area.light.edge_of
        assert edge is None or 1 <= edge <= len(study.areas)  # only shapes that are shown are named
        inside = study.lab[..., 0][_at(area.mask, study.lab.shape)].mean()
        parts = area.light.parts
        mean = sum(p.share * p.seen[0] for p in parts) / max(sum(p.share for p in parts), 1e-9)
        # Parts are told apart by light; gloss, and what lies between them, is left out.
        assert abs(mean - float(inside)) < 15.0
    assert study.light.split is study.split


def _at(mask: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    whole = Image.fromarray(mask).resize((shape[1], shape[0]), Image.Resampling.NEAREST)
    return np.asarray(whole)


def test_light_is_told_as_the_split_has_it(study: Study) -> None:
    rows, cols = study.lab.shape[:2]
    light = np.full((rows, cols, 3), 0.1, dtype=np.float32)
    light[:, : cols // 2] = 0.6
    one = np.ones((rows, cols), dtype=np.float32)

    def told(sure: float) -> str:
        split = LightSplit(light, light, 0 * light, sure * one)
        return " ".join(light_words(replace(study.light, split=split)).sentences)

    assert "about 6 times the light" in told(0.9)
    assert "part clearly" in told(0.9)
    assert "only be guessed" in told(0.5)
    assert "does not tell light from local colour" in told(0.1)
    even = LightSplit(light, np.ones_like(light), 0 * light, one)
    shadows = replace(study.light.shadows, even=True)
    flat = replace(study.light, split=even, shadows=shadows)
    assert "light is even" in light_words(flat).sentences[0]
    assert "up to twice" in light_words(replace(study.light, split=even)).sentences[0]


def test_local_colour_times_light_is_the_photo(study: Study) -> None:
    split = study.split
    again = xyz_to_lab(linear_srgb_to_xyz(split.local * split.light + split.gloss))
    # No light is negative, so colours outside sRGB and the deepest blacks are left out; the
    # rest is float32.
    linear = xyz_to_linear_srgb(lab_to_xyz(study.lab))
    inside = (linear > 0.004).all(axis=-1)
    assert inside.mean() > 0.5
    assert float(np.abs(again - study.lab)[inside].max()) < 0.5


# --- as files ----------------------------------------------------------------------


def test_the_folder_holds_the_page_and_all_it_names(studied: Studied, tmp_path: Path) -> None:
    folder = tmp_path / "seen"
    page = write_study(studied, folder)
    text = page.read_text("utf-8")
    assert {p.name for p in folder.iterdir()} <= set(FILES)
    named = re.findall(r'src="([^"]+)"', text)
    assert named
    for name in named:
        with Image.open(folder / name) as picture:
            picture.load()
    assert len(re.findall(r"<img [^>]*alt=\"[^\"]+\"", text)) == len(named)
    assert "http" not in text.replace("https://", "http")  # nothing is fetched
    assert "<script" not in text
    assert "<b>" not in text  # the photo's name is text
    assert "a cup &lt;b&gt;.png" in text
    for area in studied.study.areas:
        assert f"{100 * area.share:.0f} % of the picture" in text
    write_study(studied, folder)  # an older study is replaced
    assert len(list(folder.iterdir())) == len(named) + 2


def test_the_same_photo_gives_the_same_bytes(photo: Path, studied: Studied) -> None:
    look = Asked(steps=7, squint=0.2, numbered_from="light")
    again = study_photo(photo, StudyWishes(look=look))
    assert pictures(again.study) == pictures(studied.study)
    page = study_page(again.study, "x", (), again.paints)
    assert page == study_page(studied.study, "x", (), studied.paints)


def test_the_document_is_plain_and_whole(study: Study) -> None:
    told = json.loads(json.dumps(study_document(study), allow_nan=False))
    assert (told["format"], told["version"]) == (FORMAT, VERSION)
    assert len(told["values"]) == 7
    assert len(told["areas"]) == len(study.areas)
    painted = np.array(told["reach"]["painted"])
    assert (np.diff(painted, axis=0) > 0).all()
    masses = told["pattern"]["masses"]
    for tone, share in enumerate(told["pattern"]["shares"]):
        # Numbers have four digits.
        assert sum(m["share"] for m in masses if m["tone"] == tone) == pytest.approx(
            share, rel=1e-3
        )
    for area in told["areas"]:
        assert sum(w["either"] for w in area["first_washes"]) >= 1
        assert set(area) >= {"place", "share", "seen_lab", "local_lab", "sure", "verdict"}


def test_folders_with_other_things_are_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match="holds other things"):
        check_study_folder(tmp_path)
    with pytest.raises(OutputError, match="is a file"):
        check_study_folder(tmp_path / "notes.txt")


# --- hostile photos ----------------------------------------------------------------


def save(folder: Path, pixels: np.ndarray) -> Path:
    path = folder / "photo.png"
    out = io.BytesIO()
    Image.fromarray(pixels.astype(np.uint8)).save(out, "png")
    path.write_bytes(out.getvalue())
    return path


@pytest.mark.parametrize("tone", [0, 128, 255])
def test_photos_of_one_colour(tmp_path: Path, tone: int) -> None:
    found = study_photo(save(tmp_path, np.full((90, 120, 3), tone))).study
    assert "one value" in found.pattern.words
    pictures(found)
    json.dumps(study_document(found), allow_nan=False)


def test_a_black_photo_with_a_speck_of_light(tmp_path: Path) -> None:
    pixels = np.zeros((120, 160, 3))
    pixels[60:63, 80:83] = 255
    found = study_photo(save(tmp_path, pixels)).study
    assert found.reach.too_dark > 0.9
    json.dumps(study_document(found), allow_nan=False)
    pictures(found)


@pytest.mark.parametrize("mode", ["L", "1", "P", "RGBA", "I;16"])
def test_photos_in_other_modes(tmp_path: Path, mode: str) -> None:
    path = tmp_path / "photo.png"
    small = Image.fromarray(data.coffee()[::4, ::4])
    if mode == "I;16":
        Image.fromarray(np.asarray(small.convert("L")).astype(np.uint16) * 257).save(path)
    else:
        small.convert(mode).save(path)
    found = study_photo(path).study
    assert found.areas
    assert len(found.pattern.shares) > 1


def test_small_noisy_and_long_photos(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    for shape in ((96, 96, 3), (90, 500, 3)):
        found = study_photo(save(tmp_path, rng.integers(0, 256, shape))).study
        assert found.areas
        pictures(found)


@pytest.mark.parametrize(
    ("look", "told"),
    [
        (Asked(steps=1), "value steps"),
        (Asked(steps=11), "value steps"),
        (Asked(squint=1.5), "Squint between"),
        (Asked(tones=2), "3 to 5 tones"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(photo: Path, look: Asked, told: str) -> None:
    with pytest.raises(RequestError, match=told):
        study_photo(photo, StudyWishes(look=look))
