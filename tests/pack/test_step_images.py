"""Pictures for a screen: true colours on grey, words below on white, nothing cut."""

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from firstwash.errors import RequestError
from firstwash.optics.observer import srgb_decode
from firstwash.pack.captions import Caption, captions
from firstwash.pack.stages import Stages, paint_stages, size_of
from firstwash.pack.step_images import INK, PAPER, step_images
from firstwash.picture.profile import encode_png, srgb_profile
from firstwash.plan.result import Plan

GREY = 0x77


@pytest.fixture(scope="module")
def stages(four: Plan) -> Stages:
    return paint_stages(four, 640)


@pytest.fixture(scope="module")
def files(four: Plan, stages: Stages) -> dict[str, bytes]:
    return step_images(four, captions(four), width=960, stages=stages)


def opened(data: bytes) -> NDArray[np.uint8]:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def contrast(one: tuple[int, int, int], two: tuple[int, int, int]) -> float:
    """Contrast of two sRGB colours. Source: [WCAG22]."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    a, b = (float(weights @ srgb_decode(np.array(c) / 255.0)) for c in (one, two))
    return (max(a, b) + 0.05) / (min(a, b) + 0.05)


def test_every_stage_comes_with_and_without_words(four: Plan, files: dict[str, bytes]) -> None:
    names = [c.image for c in captions(four)]
    assert sorted(files) == sorted(f"{n}{end}.jpg" for n in names for end in ("", "-captioned"))


def test_all_pictures_of_a_kind_have_one_size(files: dict[str, bytes]) -> None:
    sizes = {name: Image.open(io.BytesIO(data)).size for name, data in files.items()}
    assert {s for n, s in sizes.items() if "captioned" not in n} == {(960, 540)}
    assert len({s for n, s in sizes.items() if "captioned" in n}) == 1


def test_they_carry_the_srgb_profile_and_no_date(files: dict[str, bytes]) -> None:
    for data in files.values():
        image = Image.open(io.BytesIO(data))
        assert image.format == "JPEG"
        assert image.info["icc_profile"] == srgb_profile()
        ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
        assert not image.getexif()


def test_the_same_plan_makes_the_same_bytes(
    four: Plan, stages: Stages, files: dict[str, bytes]
) -> None:
    assert step_images(four, captions(four), width=960, stages=stages) == files


def test_the_picture_keeps_its_colours_and_shape_on_neutral_grey(
    four: Plan, stages: Stages, files: dict[str, bytes]
) -> None:
    shown = opened(files["finished.jpg"])
    # JPEG moves a flat grey by a code at most.
    assert np.abs(shown[:10].astype(int) - GREY).max() <= 1
    assert np.abs(shown[:, :10].astype(int) - GREY).max() <= 1
    away = np.abs(shown.astype(int) - GREY).max(axis=2) > 24  # JPEG smears an edge over 8 pixels
    rows, cols = np.flatnonzero(away.any(axis=1)), np.flatnonzero(away.any(axis=0))
    high, wide = rows[-1] - rows[0] + 1, cols[-1] - cols[0] + 1
    assert abs(wide - high * four.sheet.width_mm / four.sheet.height_mm) <= 8
    part = shown[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    wanted = srgb_decode(stages.pictures[-1] / 255.0).mean(axis=(0, 1))
    # The mean light of a resized picture is the picture's own, within JPEG's rounding.
    assert np.abs(srgb_decode(part / 255.0).mean(axis=(0, 1)) - wanted).max() < 0.005


def test_words_are_read_easily() -> None:
    assert contrast(INK, PAPER) >= 7.0  # more than AA's 4.5: for weak eyes and weak projectors
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)


def test_no_word_is_cut_or_runs_into_the_picture(files: dict[str, bytes]) -> None:
    for name, data in files.items():
        if "captioned" not in name:
            continue
        shown = opened(data).astype(int)
        white = np.abs(shown[:, 3] - PAPER).max(axis=1) < 8
        top = int(np.flatnonzero(white)[0])  # where the white strip begins, at the left edge
        strip = np.abs(shown[top:] - PAPER).max(axis=2) > 60
        assert strip.any()
        rows, cols = np.flatnonzero(strip.any(axis=1)), np.flatnonzero(strip.any(axis=0))
        assert rows[0] >= 10
        assert rows[-1] <= len(strip) - 8
        assert cols[0] >= 15
        assert cols[-1] <= 960 - 15


def test_endless_words_make_the_picture_higher_and_are_all_drawn(
    four: Plan, stages: Stages, files: dict[str, bytes]
) -> None:
    told = [Caption(c.image, "S" * 90, "word " * 200 + "x" * 400) for c in captions(four)]
    more = step_images(four, told, width=960, stages=stages)
    high = opened(more["stage-1-captioned.jpg"]).shape[0]
    assert high > opened(files["stage-1-captioned.jpg"]).shape[0]
    assert opened(more["stage-1.jpg"]).shape[0] == 540
    bottom = opened(more["stage-1-captioned.jpg"])[-8:]
    assert np.abs(bottom.astype(int) - PAPER).max() < 30  # a margin is left under the last line


def test_an_outline_is_drawn_on_the_bare_sheet_only(
    four: Plan, stages: Stages, files: dict[str, bytes]
) -> None:
    lines = np.full((90, 120), 255, dtype=np.uint8)
    lines[40:50] = 0
    drawn = step_images(four, captions(four), width=960, stages=stages, outline=encode_png(lines))
    assert drawn["stage-1.jpg"] == files["stage-1.jpg"]
    before, after = (opened(f["stage-0.jpg"]).astype(int)[270, 480] for f in (files, drawn))
    assert before.min() > 200
    assert after.max() < 140


@pytest.mark.parametrize("outline", [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"])
def test_an_outline_that_is_no_png_is_refused(four: Plan, stages: Stages, outline: bytes) -> None:
    with pytest.raises(ValueError, match="outline"):
        step_images(four, captions(four), width=960, stages=stages, outline=outline)


@pytest.mark.parametrize("width", [0, 319, 3841])
def test_a_width_no_screen_has_is_refused(four: Plan, stages: Stages, width: int) -> None:
    with pytest.raises(RequestError, match="320 to 3840"):
        step_images(four, captions(four), width=width, stages=stages)


def test_captions_of_another_plan_are_refused(four: Plan, two: Plan, stages: Stages) -> None:
    with pytest.raises(RequestError, match="another plan"):
        step_images(four, captions(two), width=960, stages=stages)


def test_stages_have_the_sheets_shape(four: Plan, stages: Stages) -> None:
    assert size_of(four, 640) == (640, 480)
    for picture in stages.pictures:
        assert picture.shape == (480, 640, 3)
        assert picture.dtype == np.uint8
    assert stages.cells.shape == (480, 640)
    assert set(np.unique(stages.cells)) <= set(range(four.cells.count))
    with pytest.raises(ValueError, match="long_px"):
        size_of(four, 5000)
