"""A sheet laid flat, and the painted picture within its bare margin."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.drawn_sheets import PAPER, Drawn, Light, camera, even, patchwork, sideways, warm

from firstwash.easel.flat_sheet import find_picture, flatten
from firstwash.picture.plane_map import PlaneMap

PPMM = 2.0
MARGINS = st.floats(7.0, 30.0)
# A pixel is half a millimetre here; half-way up a smoothed edge is a fifth of one from the edge.
NEAR_MM = 0.3


def off(sheet: Drawn, light: Light = even, ppmm: float = PPMM) -> float:
    """Largest error of the picture's corners, mm."""
    found = find_picture(sheet.flat(ppmm, light), ppmm)
    assert found is not None
    return float(np.linalg.norm(found.corners - sheet.border, axis=1).max())


@pytest.mark.parametrize("light", [even, warm, sideways])
@pytest.mark.parametrize("ppmm", [1.5, 3.0])
def test_a_picture_is_found(light: Light, ppmm: float) -> None:
    assert off(Drawn(), light, ppmm) < 1.0 / ppmm  # a pixel


@settings(max_examples=30)
@given(st.tuples(*[MARGINS] * 4))
def test_any_margin_will_do(margin: tuple[float, float, float, float]) -> None:
    sheet = Drawn(margin=margin)
    assert off(sheet) < 2 * NEAR_MM  # a corner is off by what two sides are


@pytest.mark.parametrize("askew", [-1.5, 0.7, 2.0])
def test_a_picture_askew_on_its_sheet_is_found(askew: float) -> None:
    assert off(Drawn(askew=askew)) < 2 * NEAR_MM


def test_support_says_how_much_of_a_side_agrees() -> None:
    found = find_picture(Drawn().flat(PPMM), PPMM)
    assert found is not None
    assert (found.support > 0.95).all()


def test_a_pale_wash_and_whites_at_the_border_are_enough() -> None:
    patches = patchwork()
    patches[0, ::2] = PAPER  # three or four of seven patches along the upper side stay bare
    patches[-1] = PAPER * 0.9
    assert off(Drawn(patches=patches)) < 2 * NEAR_MM


def test_a_pencil_line_is_not_the_border() -> None:
    sheet = Drawn()
    flat = sheet.flat(3.0)
    flat[18:19, 20:-20] *= 0.7  # a third of a millimetre wide, nine from the picture
    found = find_picture(flat, 3.0)
    assert found is not None
    assert np.linalg.norm(found.corners - sheet.border, axis=1).max() < 2 * NEAR_MM


@pytest.mark.parametrize("missing", [0, 1, 2, 3])
def test_a_side_that_stays_bare_is_told(missing: int) -> None:
    patches = np.rot90(patchwork(6, 6), missing).copy()
    np.rot90(patches, -missing)[:3] = PAPER
    assert find_picture(Drawn(patches=patches).flat(PPMM), PPMM) is None


def test_sheets_without_picture_or_margin_have_none() -> None:
    bare = Drawn(patches=np.tile(PAPER, (1, 1, 1)))
    assert find_picture(bare.flat(PPMM), PPMM) is None
    full = Drawn(margin=(0.0,) * 4)
    assert find_picture(full.flat(PPMM), PPMM) is None


@pytest.mark.parametrize("kind", ["black", "burnt", "noise", "unseen", "tiny"])
def test_hostile_sheets_have_none(kind: str, rng: np.random.Generator) -> None:
    shape = (4, 5, 3) if kind == "tiny" else (200, 300, 3)
    level = {"black": 0.0, "burnt": 1.0, "unseen": np.nan, "tiny": 0.8, "noise": 0.0}[kind]
    flat = np.full(shape, level, np.float32)
    if kind == "noise":
        flat = rng.uniform(0, 1, shape).astype(np.float32)
    assert find_picture(flat, PPMM) is None


def test_burnt_paper_hides_the_border() -> None:
    assert find_picture(np.minimum(Drawn().flat(PPMM) * 1.4, 1.0), PPMM) is None


# --- laid flat -------------------------------------------------------------------


def test_places_come_out_where_they_are() -> None:
    plane = PlaneMap(
        np.array([[2.0, 0.0, 10.0], [0.0, 2.0, 20.0], [0.0, 0.0, 1.0]]), 0.0, (200, 160)
    )
    x, y = np.meshgrid(np.arange(200.0), np.arange(160.0))
    photo = np.stack([x, y, 0 * x], axis=-1).astype(np.float32)
    flat = flatten(photo, plane, (5.0, 10.0, 45.0, 40.0), 2.0)
    assert flat.shape == (60, 80, 3)
    # The middle of the first pixel is 0.25 mm from the box's corner.
    assert flat[0, 0, :2] == pytest.approx([10 + 2 * 5.25, 20 + 2 * 10.25], abs=1e-3)
    assert flat[-1, -1, :2] == pytest.approx([10 + 2 * 44.75, 20 + 2 * 39.75], abs=1e-3)


def test_beyond_the_photo_there_is_nothing() -> None:
    plane = PlaneMap(np.eye(3), 0.0, (100, 80))
    flat = flatten(np.ones((80, 100, 3), np.float32), plane, (-20.0, 0.0, 50.0, 50.0), 1.0)
    assert np.isnan(flat[:, :19]).all()
    assert np.isfinite(flat[:, 21:]).all()


@pytest.mark.parametrize("k1", [-0.03, 0.03])
def test_slant_and_lens_are_undone(k1: float) -> None:
    sheet = Drawn()
    plane = camera(sheet.wide, sheet.high, tilt=25.0, towards=35.0, turn=4.0, k1=k1)
    flat = flatten(sheet.photo(plane, warm), plane, (0.0, 0.0, sheet.wide, sheet.high), 1.0)
    true = sheet.flat(1.0, warm)
    # Pixels at borders of patches are mixtures; all others must be right.
    assert np.percentile(np.abs(flat - true), 80) < 0.005
    assert np.median(np.abs(flat - true)) < 1e-3


def test_a_coarser_picture_is_smoothed_first(rng: np.random.Generator) -> None:
    photo = rng.uniform(0, 1, (400, 400, 3)).astype(np.float32)
    plane = PlaneMap(np.diag([8.0, 8.0, 1.0]), 0.0, (400, 400))
    flat = flatten(photo, plane, (2.0, 2.0, 48.0, 48.0), 1.0)
    # Eight by eight pixels each: picked out singly they would spread by 0.29.
    assert flat.std() < 0.06
