"""What may be wrong with a photo: a flawless drawn card, spoiled in one way at a time.

The card is drawn in linear light, 8 pixels to the mm, as if photographed squarely: markers,
three painted rows, pen lines, a little noise. Each fault must be told, and only that one.
"""

from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
import pytest

from firstwash.card.doubts import Doubts, check_picture, left_bare
from firstwash.card.finding import CardMap
from firstwash.card.layout import (
    BARE,
    COLUMNS,
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    line_box,
    sample_box,
    slot_box,
    swatch_box,
)
from firstwash.card.straight import PPMM, LightField, bare_paper, straighten
from firstwash.card.windows import read_windows

EDGE = 6.0  # mm of table around the card
SIZE = (round((WIDTH_MM + 2 * EDGE) * PPMM), round((HEIGHT_MM + 2 * EDGE) * PPMM))
CARD = CardMap(
    np.array([[PPMM, 0, EDGE * PPMM - 0.5], [0, PPMM, EDGE * PPMM - 0.5], [0, 0, 1.0]]),
    0.0, SIZE, 0.0,
)  # fmt: skip
PAPER = np.array([0.72, 0.70, 0.64])
BLACK, INK = 0.04, 0.05
COLOURS = np.random.default_rng(6).uniform(0.1, 0.85, (8, COLUMNS, 3))
ROWS = 3
FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def part(picture: np.ndarray, box: Box) -> np.ndarray:
    """The pixels of a box on the card."""
    low = np.round((box.corners[0] + EDGE) * PPMM).astype(int)
    high = np.round((box.corners[2] + EDGE) * PPMM).astype(int)
    return picture[low[1] : high[1], low[0] : high[0]]


@cache
def _card(painted: Sequence[int], line: bool) -> np.ndarray:
    out = np.full((SIZE[1], SIZE[0], 3), 0.3, np.float32)
    part(out, Box(0, 0, WIDTH_MM, HEIGHT_MM))[:] = 0.85
    for number, box in MARKERS.items():
        mark = cv2.aruco.generateImageMarker(FAMILY, number, round(box.width * PPMM))
        part(out, box)[:] = np.where(mark == 0, BLACK, 0.85)[..., None]
    for row in range(ROWS):
        part(out, slot_box(row))[:] = PAPER
        for column in range(COLUMNS):
            if row in painted and column not in BARE:
                part(out, swatch_box(row, column))[:] = PAPER * COLOURS[row, column]
        if line:
            pen = line_box(row, 0)
            across = Box(slot_box(row).x, pen.y + 1.5, slot_box(row).width, 1.0)
            part(out, across)[:] *= INK
    noise = np.random.default_rng(1).standard_normal(out.shape, dtype=np.float32)
    return cv2.GaussianBlur(out, (0, 0), 0.7) * (1 + np.float32(0.005) * noise)


def card(painted: Sequence[int] = (0, 1, 2), line: bool = True) -> np.ndarray:
    """The photo, (rows, cols, 3) linear light, to be spoiled."""
    return _card(tuple(painted), line).copy()


def places() -> np.ndarray:
    """(rows, cols, 2) mm on the card of every pixel of the photo."""
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float32)
    return (np.stack([x, y], axis=-1) + np.float32(0.5)) / np.float32(PPMM) - np.float32(EDGE)


def checked(linear: np.ndarray, rows: int = ROWS, printed: bool = True) -> Doubts:
    picture = straighten(linear, CARD)
    shown = list(range(rows))
    bare = bare_paper(picture, shown)
    light = LightField.of(bare, rows)
    windows = read_windows(picture, light, shown)
    return check_picture(picture, linear, CARD, bare, light, windows, rows, printed)


def said(found: Doubts) -> str:
    for sentence in (*found.warnings, *([found.refused] if found.refused else [])):
        assert sentence.endswith(".")
        assert "\n" not in sentence
    return " | ".join(found.warnings)


def test_a_flawless_photo_is_not_doubted() -> None:
    found = checked(card())
    assert said(found) == ""
    assert found.refused == ""
    assert found.left_out == ()


# ------------------------------------------------------------------ light


@pytest.mark.parametrize("bright", [1.0, 0.6, 0.3])
def test_exposure_alone_is_no_fault(bright: float) -> None:
    assert said(checked(card() * np.float32(bright))) == ""


def test_too_dark_and_too_bright() -> None:
    assert "too dark" in checked(card() * np.float32(0.08)).refused
    assert "so bright" in checked(np.minimum(card() * np.float32(2.0), 1.0)).refused
    burnt = card()
    burnt[(places()[..., 0] > 140.0) & (places()[..., 1] < 120.0)] *= 2.0
    found = checked(np.minimum(burnt, 1.0))
    assert "Part of the paper is too bright" in said(found)
    assert not found.refused


def test_gentle_slopes_are_taken_out_and_steep_ones_told() -> None:
    x = places()[..., :1] / WIDTH_MM
    assert said(checked(card() * (1.0 - 0.35 * x))) == ""
    assert "very uneven" in said(checked(card() * np.exp(-1.1 * x)))


def test_a_shadow_across_the_card() -> None:
    shade = np.where(places() @ np.array([1.0, 0.5], np.float32) > 130.0, 0.6, 1.0)
    soft = cv2.GaussianBlur(shade.astype(np.float32), (0, 0), 8.0)[..., None]
    assert "shadow or a glare" in said(checked(card() * soft))


def test_a_glare_over_a_marker() -> None:
    """A lamp mirrored by the sheet lifts black more than white, and never darkens."""
    away = np.linalg.norm(places() - np.array([180.0, 8.0], np.float32), axis=-1)
    veil = 0.12 * np.exp(-0.5 * (away / 25.0) ** 2)[..., None]
    found = checked(card() + veil.astype(np.float32))
    assert "glare" in said(found)


def test_a_glare_over_one_row_shows_on_its_pen_line() -> None:
    away = np.abs(places()[..., 1] - (slot_box(2).y + 6.0)) / 6.0  # no marker stands beside it
    veil = 0.03 * np.exp(-0.5 * away**2)[..., None]
    assert "Row C lies under a glare" in said(checked(card() + veil.astype(np.float32)))


# ------------------------------------------------------------------ blur


@pytest.mark.parametrize("sigma", [1.0, 2.5])
def test_blur_is_measured_in_pixels_of_an_edge(sigma: float) -> None:
    """10 to 90 % of a blurred step is 2.56 sigma; the drawn card itself has 0.7."""
    found = said(checked(cv2.GaussianBlur(card(), (0, 0), sigma)))
    assert ("blurred" in found) == (sigma > 2.0)


def test_a_moved_hand_blurs_one_way_only() -> None:
    kernel = np.ones((1, 13), np.float32) / 13
    assert "blurred" in said(checked(cv2.filter2D(card(), -1, kernel)))


def test_a_card_by_hand_has_no_edges_to_judge() -> None:
    assert "blurred" not in said(checked(cv2.GaussianBlur(card(), (0, 0), 2.5), printed=False))


# ------------------------------------------------------------------ rows


def test_rows_that_nobody_painted_are_left_out() -> None:
    found = checked(card((0, 2)))
    assert said(found) == "Row B is not painted and was left out."
    assert found.left_out == (1,)
    found = checked(card((2,)))
    assert said(found) == "Rows A and B are not painted and were left out."
    assert found.left_out == (0, 1)


def test_an_empty_card_is_refused() -> None:
    assert "paint the swatches first" in checked(card(())).refused
    # By hand the likelier fault is a touch in the wrong place.
    assert "touch the frame's corners again" in checked(card(()), printed=False).refused


def test_a_cloth_over_a_row() -> None:
    covered = card()
    box = slot_box(1)
    part(covered, Box(-3, box.y - 2, 192, box.height + 4))[:] = (0.2, 0.25, 0.3)
    found = checked(covered)
    assert "Row B cannot be read and was left out" in said(found)
    assert found.left_out == (1,)


def test_everything_covered_is_refused() -> None:
    covered = card()
    rng = np.random.default_rng(2)
    for row in range(ROWS):
        place = part(covered, slot_box(row))
        cells = rng.uniform(0.1, 0.7, (9, 80, 3)).astype(np.float32)
        place[:] = cv2.resize(cells, place.shape[1::-1], interpolation=cv2.INTER_NEAREST)
    found = checked(covered)
    assert found.refused
    said(found)


def test_a_place_left_bare_is_no_swatch() -> None:
    picture = card()
    part(picture, swatch_box(1, 8))[:] = PAPER
    straight = straighten(picture, CARD)
    light = LightField.of(bare_paper(straight, range(ROWS)), ROWS)
    found = [w for w in read_windows(straight, light, range(ROWS)) if left_bare(w)]
    assert [(w.row, w.column) for w in found] == [(1, 8)]
    # Bare places are meant to be, and a very thin wash is believed to be one.
    part(picture, swatch_box(1, 1))[:] = PAPER
    straight = straighten(picture, CARD)
    again = [w for w in read_windows(straight, light, range(ROWS)) if left_bare(w)]
    assert [(w.row, w.column) for w in again] == [(1, 8)]


# ------------------------------------------------------------------ pen line and colour


def test_a_card_without_a_pen_line() -> None:
    found = checked(card(line=False))
    assert said(found).startswith("No pen line was found")
    assert not found.refused


def test_a_black_and_white_photo_is_refused() -> None:
    grey = card().mean(axis=2, keepdims=True) * np.ones(3, np.float32)
    assert "black and white" in checked(grey).refused


@pytest.mark.parametrize("lamp", [(1.0, 0.3, 0.02), (0.05, 0.2, 1.0), (1.0, 0.05, 1.0)])
def test_coloured_light_is_refused(lamp: tuple[float, float, float]) -> None:
    assert "too strongly coloured" in checked(card() * np.array(lamp, np.float32)).refused


def test_a_tinge_that_phones_leave_is_no_fault() -> None:
    """A warm lamp not quite balanced: a third less blue."""
    assert said(checked(card() * np.array([1.0, 0.9, 0.65], np.float32))) == ""


def test_samples_lie_where_this_test_thinks() -> None:
    inner = part(card(), sample_box(0, 3))
    np.testing.assert_allclose(inner.mean(axis=(0, 1)), PAPER * COLOURS[0, 3], rtol=0.01)
