"""Photos of a half-painted sheet: good ones laid over the plan, bad ones told in one sentence."""

import cv2
import numpy as np
import pytest
from tests.drawn_sheets import Drawn, even, sideways, warm
from tests.halfway_photos import camera_over, hand, laid_labs, seen, sheet_of, small

from firstwash.errors import PhotoError
from firstwash.laid.seen import areas_seen
from firstwash.laid.sheet_photo import sheet_photo
from firstwash.optics.difference import delta_e_2000

LOG = hand(1)


def refusal(linear: np.ndarray, done: int = 2) -> str:
    with pytest.raises(PhotoError) as caught:
        sheet_photo(np.ascontiguousarray(linear, np.float32), small(), done)
    told = str(caught.value)
    assert "\n" not in told
    assert told.count(". ") == 0
    return told


@pytest.mark.parametrize("light", [even, warm, sideways])
@pytest.mark.parametrize("done", [1, 2, 3])
def test_colours_of_areas_come_back_in_any_light(light, done: int) -> None:
    photo = sheet_photo(seen(LOG, done, light), small(), done)
    areas = areas_seen(small(), done, photo.picture, photo.hidden)
    good = np.isfinite(areas.sigmas) & (areas.sigmas < 3.0)
    off = delta_e_2000(areas.labs[good], laid_labs(LOG, done)[good])
    size = small().cells.areas_mm2()
    assert size[np.isfinite(areas.sigmas)].sum() > 0.7 * size.sum()
    # A linear camera: what is left is the fit of the light and the mixing of pixels at borders.
    assert np.median(off) < 1.0
    assert photo.placed.error_mm < 1.0


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_turned_photo_is_turned_back(turns: int) -> None:
    upright = sheet_photo(seen(LOG, 2), small(), 2)
    turned = sheet_photo(np.ascontiguousarray(np.rot90(seen(LOG, 2), turns)), small(), 2)
    assert turned.turns == (upright.turns + turns) % 4
    np.testing.assert_allclose(
        np.nanmean(turned.picture, axis=(0, 1)), np.nanmean(upright.picture, axis=(0, 1)), atol=0.02
    )


def test_bare_paper_is_as_the_plan_has_it() -> None:
    done = 1  # before everything is painted something is bare, or the test is of no use
    photo = sheet_photo(seen(LOG, done, warm), small(), done)
    bare = [n for n, own in enumerate(small().coats) if not any(c[0] <= done for c in own)]
    areas = areas_seen(small(), done, photo.picture)
    known = [n for n in bare if areas.sigmas[n] < 2.0]
    assert known
    # Light that falls off smoothly, paper at its edges mixed with what lies beside it.
    np.testing.assert_allclose(areas.labs[known], laid_labs(LOG, done)[known], atol=2.0)


# --- refused ---------------------------------------------------------------------


def test_an_empty_sheet() -> None:
    sheet = sheet_of(LOG, 2)
    bare = Drawn(sheet.wide, sheet.high, sheet.margin, patches=sheet.paper[None, None] * np.ones(
        (4, 4, 1)), paper=sheet.paper)  # fmt: skip
    told = refusal(bare.photo(camera_over(bare)) * 0.9)
    assert "no paint" in told


def test_another_painting() -> None:
    sheet = sheet_of(LOG, 2)
    rng = np.random.default_rng(1)
    other = Drawn(sheet.wide, sheet.high, sheet.margin, patches=rng.uniform(0.05, 0.8, (6, 9, 3)),
                  paper=sheet.paper)  # fmt: skip
    told = refusal(other.photo(camera_over(other)) * 0.9)
    assert "plan's painting" in told or "over the plan" in told


def test_a_mirrored_photo() -> None:
    assert "mirrored" in refusal(seen(LOG, 2)[:, ::-1])


def test_a_blurred_photo() -> None:
    shaken = cv2.blur(seen(LOG, 2), (25, 3))
    assert "blurred" in refusal(shaken)


def test_a_tiny_photo() -> None:
    assert "small" in refusal(cv2.resize(seen(LOG, 2), None, fx=0.25, fy=0.25,
                                         interpolation=cv2.INTER_AREA))  # fmt: skip


def test_a_photo_taken_at_night() -> None:
    assert "dark" in refusal(seen(LOG, 2) * 0.03)


def test_burnt_out_paper() -> None:
    assert "burnt out" in refusal(np.minimum(seen(LOG, 2) * 1.8, 1.0))


def test_a_part_of_the_sheet_outside() -> None:
    refusal(seen(LOG, 2)[:, : -seen(LOG, 2).shape[1] // 3])


def test_wet_paint_that_shines() -> None:
    sheet = sheet_of(LOG, 3)
    dark = sheet.patches.copy()
    rng = np.random.default_rng(0)
    rows, cols = dark.shape[:2]
    for _ in range(60):
        y, x = rng.integers(10, rows - 10), rng.integers(10, cols - 10)
        cv2.ellipse(dark, (int(x), int(y)), (9, 5), 20, 0, 360, (0.95, 0.95, 0.95), -1)
    wet = Drawn(sheet.wide, sheet.high, sheet.margin, patches=dark, paper=sheet.paper)
    assert "shines" in refusal(wet.photo(camera_over(wet)) * 0.9, done=3)
