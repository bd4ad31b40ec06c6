"""The four edges of a sheet in a photo: drawn ones come back, what shows no sheet is refused."""

import importlib
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.drawn_sheets import BOARD, PAPER, Drawn, Light, camera, corners, sideways, warm

from firstwash.easel.outer_edges import in_turn
from firstwash.easel.sheet_corners import SheetSeen, find_sheet, sheet_at
from firstwash.errors import PhotoError
from firstwash.picture.load import load_photo
from firstwash.picture.plane_map import PlaneMap

ROOT = Path(__file__).parents[2]
SHEET = Drawn()
# Pixels of 0.4 mm. A pixel half of paper and half of board is lighter than half in CIELAB, so that
# edges are found a few tenths of a pixel outside; drawing by four points per pixel adds a quarter.
NEAR = 1.0


def seen_corners(plane: PlaneMap, sheet: Drawn = SHEET) -> np.ndarray:
    """Where the lens shows the sheet's corners, upper left first."""
    return in_turn(plane.pixels(corners(sheet.wide, sheet.high)))


def shown(seen: SheetSeen) -> np.ndarray:
    """Found corners as the lens shows them."""
    return in_turn(seen.plane(100.0, 100.0).pixels(corners(100.0, 100.0)))


def off(seen: SheetSeen, plane: PlaneMap, sheet: Drawn = SHEET) -> float:
    """Largest error over a grid on the sheet, pixels, under the best of four turns."""
    x, y = np.meshgrid(np.linspace(0, sheet.wide, 7), np.linspace(0, sheet.high, 7))
    mm = np.stack([x, y], axis=-1).reshape(-1, 2)
    found = [seen.plane(sheet.wide, sheet.high, turns).pixels(mm) for turns in range(4)]
    return min(float(np.abs(px - plane.pixels(mm)).max()) for px in found)


@pytest.mark.parametrize(
    ("tilt", "towards", "turn", "k1"),
    [
        (0.0, 0.0, 0.0, 0.0), (0.0, 0.0, 3.0, 0.03), (20.0, 30.0, 0.0, -0.03),
        (35.0, 120.0, 90.0, 0.01), (10.0, 200.0, 180.0, 0.0), (25.0, 300.0, 275.0, 0.02),
        (15.0, 10.0, 33.0, -0.02),
    ],
)  # fmt: skip
def test_a_drawn_sheet_is_found(tilt: float, towards: float, turn: float, k1: float) -> None:
    plane = camera(SHEET.wide, SHEET.high, tilt=tilt, towards=towards, turn=turn, k1=k1)
    seen = find_sheet(SHEET.photo(plane))
    assert off(seen, plane) < NEAR
    # A sheet askew fills less of the photo, and short sides near its middle hardly bend.
    assert seen.k1 == pytest.approx(k1, abs=0.015 if turn % 90 > 10 else 0.007)
    assert seen.support.min() > 0.9
    assert seen.size == plane.size


@settings(max_examples=12)
@given(
    tilt=st.floats(0.0, 35.0), towards=st.floats(0.0, 360.0), turn=st.floats(0.0, 360.0),
    k1=st.floats(-0.03, 0.03),
)  # fmt: skip
def test_any_view_of_it_will_do(tilt: float, towards: float, turn: float, k1: float) -> None:
    plane = camera(
        SHEET.wide, SHEET.high, size=(800, 600), tilt=tilt, towards=towards, turn=turn, k1=k1
    )
    assert off(find_sheet(SHEET.photo(plane)), plane) < NEAR


@pytest.mark.parametrize("light", [warm, sideways])
def test_other_light_moves_no_edge(light: Light) -> None:
    plane = camera(SHEET.wide, SHEET.high, tilt=12.0, towards=70.0, k1=0.01)
    assert off(find_sheet(SHEET.photo(plane, light)), plane) < NEAR


def test_a_sheet_without_margin_is_a_sheet() -> None:
    # Paint up to the edge on all sides is darker than paper; the lightest patches pass for it.
    light = Drawn(margin=(0.0,) * 4, patches=np.full((1, 1, 3), 0.6))
    plane = camera(light.wide, light.high, tilt=10.0)
    assert off(find_sheet(light.photo(plane)), plane, light) < NEAR


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_photo_shows_the_same_sheet(quarters: int) -> None:
    plane = camera(SHEET.wide, SHEET.high, tilt=15.0, towards=20.0, turn=2.0, k1=0.02)
    photo = SHEET.photo(plane)
    upright, turned = find_sheet(photo), find_sheet(np.ascontiguousarray(np.rot90(photo, quarters)))
    px = shown(upright)
    cols, rows = plane.size
    for _ in range(quarters):  # anticlockwise: x′ = y, y′ = cols - 1 - x
        px = np.stack([px[:, 1], cols - 1 - px[:, 0]], axis=-1)
        cols, rows = rows, cols
    assert turned.size == (cols, rows)
    # The four-sided guess begins elsewhere; what it ends at differs by hundredths of a pixel.
    assert np.abs(shown(turned) - in_turn(px)).max() < 0.3


def test_quarter_turns_begin_at_another_corner() -> None:
    plane = camera(SHEET.wide, SHEET.high, tilt=15.0, towards=20.0)
    seen = find_sheet(SHEET.photo(plane))
    for turns in range(4):
        origin = seen.plane(300.0, 220.0, turns).pixels(np.array([[0.0, 0.0]]))[0]
        assert origin == pytest.approx(np.roll(shown(seen), turns, axis=0)[0], abs=0.01)
    # A photo that must be turned clockwise once has the sheet's upper left corner lower left.
    once = seen.plane(220.0, 300.0, 1).pixels(np.array([[0.0, 0.0]]))[0]
    assert once == pytest.approx(seen_corners(plane)[3], abs=NEAR)


def test_the_same_photo_shows_the_same_sheet() -> None:
    photo = SHEET.photo(camera(SHEET.wide, SHEET.high, tilt=15.0, towards=20.0))
    assert np.array_equal(find_sheet(photo).corners, find_sheet(photo).corners)


# --- no sheet --------------------------------------------------------------------


def hostile(kind: str) -> np.ndarray:
    shape, rng = (480, 640), np.random.default_rng(4)
    if kind == "noise":
        return rng.uniform(0, 1, (*shape, 3)).astype(np.float32)
    if kind == "gradient":
        ramp = np.linspace(0.1, 0.9, 640, dtype=np.float32)
        return np.ascontiguousarray(np.broadcast_to(ramp[None, :, None], (*shape, 3)))
    if kind == "disc":
        y, x = np.mgrid[0:480, 0:640]
        inside = np.hypot(x - 320, y - 240) < 180
        return np.where(inside[..., None], PAPER, BOARD).astype(np.float32)
    if kind == "tiny":
        return rng.uniform(0, 1, (64, 64, 3)).astype(np.float32)
    level = {"black": 0.0, "grey": 0.4, "white": 1.0, "below nought": -0.01}[kind]
    return np.full((*shape, 3), level, np.float32)


@pytest.mark.parametrize(
    "kind",
    ["black", "grey", "white", "below nought", "noise", "gradient", "disc", "tiny"],
)
def test_what_shows_no_sheet_is_refused(kind: str) -> None:
    with pytest.raises(PhotoError, match="darker board") as told:
        find_sheet(hostile(kind))
    assert str(told.value).count(".") == 1


def test_a_sheet_as_light_as_its_board_is_refused() -> None:
    white = Drawn(board=PAPER)
    with pytest.raises(PhotoError):
        find_sheet(white.photo(camera(white.wide, white.high, tilt=8.0)))


def test_a_small_photo_of_a_sheet_is_read_or_refused() -> None:
    plane = camera(SHEET.wide, SHEET.high, size=(64, 64))
    try:
        seen = find_sheet(SHEET.photo(plane))
    except PhotoError:
        return
    assert off(seen, plane) < 1.5  # pixels of six millimetres


@pytest.mark.parametrize("side", [0, 1, 2, 3])
def test_a_sheet_cut_off_at_the_rim_is_refused(side: int) -> None:
    photo = SHEET.photo(camera(SHEET.wide, SHEET.high, tilt=5.0, towards=30.0))
    rows, cols = photo.shape[:2]
    cut = (photo[160:], photo[:, : cols - 200], photo[: rows - 160], photo[:, 200:])[side]
    with pytest.raises(PhotoError):
        find_sheet(np.ascontiguousarray(cut))


def test_too_steep_a_view_is_refused() -> None:
    touches = np.array([[300, 200], [312, 200], [620, 440], [20, 440]])
    with pytest.raises(PhotoError, match="squarely"):
        sheet_at(np.full((480, 640, 3), 0.4, np.float32), touches)


# --- touched corners -------------------------------------------------------------


def test_touches_are_moved_to_the_edges() -> None:
    plane = camera(SHEET.wide, SHEET.high, tilt=20.0, towards=30.0, k1=0.02)
    touches = seen_corners(plane) + np.array([(5, -4), (-6, 5), (4, 6), (-5, -4)])
    seen = sheet_at(SHEET.photo(plane), touches)
    assert off(seen, plane) < NEAR
    assert seen.support.min() > 0.9


def test_touches_where_no_edge_is_are_taken_as_they_are() -> None:
    touches = np.array([[100.0, 90.0], [540.0, 80.0], [560.0, 400.0], [90.0, 420.0]])
    seen = sheet_at(np.full((480, 640, 3), 0.4, np.float32), touches)
    assert seen.corners == pytest.approx(touches, abs=1e-6)
    assert seen.k1 == 0.0
    assert not seen.support.any()


def test_a_white_table_can_be_helped_by_touches() -> None:
    white = Drawn(board=PAPER)
    plane = camera(white.wide, white.high, tilt=8.0)
    seen = sheet_at(white.photo(plane), seen_corners(plane, white))
    # The border of the picture is 40 pixels away, further than a touch is moved.
    assert off(seen, plane, white) < NEAR


@pytest.mark.parametrize(
    "touches",
    [
        np.array([[100, 90], [90, 420], [560, 400], [540, 80]]),  # anticlockwise
        np.array([[100, 90], [560, 400], [540, 80], [90, 420]]),  # crossing
        np.array([[100, 90], [540, 80], [560, 400], [300, 100]]),  # a dent
        np.array([[100, 90], [100, 90], [560, 400], [90, 420]]),  # twice the same
        np.array([[-50, 90], [540, 80], [560, 400], [90, 420]]),  # beyond the photo
        np.array([[100, 90], [700, 80], [560, 400], [90, 420]]),
        np.array([[np.nan, 90], [540, 80], [560, 400], [90, 420]]),
        np.array([[100, 90], [540, 80], [560, 400]]),
        np.zeros((4, 2)),
    ],
)  # fmt: skip
def test_touches_that_make_no_sheet_are_refused(touches: np.ndarray) -> None:
    with pytest.raises(PhotoError, match="upper left first"):
        sheet_at(np.full((480, 640, 3), 0.4, np.float32), touches)


# --- made-up photos --------------------------------------------------------------


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_made_up_photos_of_a_sheet_are_read(seed: int) -> None:
    """A phone's photo with its noise, vignette and JPEG, on a table of some kind."""
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        scene = importlib.import_module("board_scene")
        optics = importlib.import_module("card_camera")
    finally:
        sys.path.remove(str(ROOT / "tools"))
    rng = np.random.default_rng([seed, 7])
    index = np.kron(np.arange(12).reshape(3, 4), np.ones((120, 140), np.int64)).astype(np.int64)
    spectra = optics.smooth_spectra(rng, 12) * 0.7
    painted = scene.Painted(index, spectra, np.full(36, 0.88), 2.0, 15.0)
    photo = scene.photograph_sheet(painted, rng, megapixels=2.0)
    linear = load_photo(photo.jpeg).linear
    wide, high = painted.size_mm
    try:
        seen = find_sheet(linear)
    except PhotoError:
        pytest.fail(f"refused: {photo.conditions}")
    mm = np.array([[x, y] for x in np.linspace(0, wide, 7) for y in np.linspace(0, high, 7)])
    px = photo.card_to_photo(mm)
    planes = [seen.plane(wide, high, turns) for turns in range(4)]
    best = min(planes, key=lambda plane: float(np.abs(plane.pixels(mm) - px).max()))
    apart = np.linalg.norm(best.pixels(mm) - px, axis=1) / best.scale_at(mm).mean()
    # The made-up sheets curl by up to 1.5 mm at 100 mm from their middle, which shows as some mm.
    assert np.median(apart) < 1.5
    assert apart.max() < 4.0
