"""The background cut away from the subject."""

import math

import cv2
import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.picture.cutout import Stroke, cut_out

GREEN, RED, WHITE = (45.0, -30.0, 20.0), (50.0, 50.0, 30.0), (90.0, 0.0, 5.0)


def disc(x: float, y: float, radius: float, rows: int = 160, cols: int = 240) -> np.ndarray:
    """True inside a circle; radius as a fraction of the height."""
    down, across = np.mgrid[0:rows, 0:cols] + 0.5
    return np.hypot(across - x * cols, down - y * rows) < radius * rows


def painted(
    *things: tuple[np.ndarray, tuple[float, float, float]], grain: float = 2.0
) -> np.ndarray:
    """Lab of things on green, with some grain."""
    shape = things[0][0].shape if things else (160, 240)
    lab = np.broadcast_to(GREEN, (*shape, 3)).copy()
    for where, colour in things:
        lab[where] = colour
    return lab + np.random.default_rng(1).normal(0.0, grain, lab.shape)


def dab(x: float, y: float, kind: str, width: float = 0.04) -> Stroke:
    return Stroke(((x, y),), width, kind)  # type: ignore[arg-type]


def overlap(mask: np.ndarray, subject: np.ndarray) -> float:
    """Share of what either calls subject that both do."""
    ours = mask < 0.5
    return float((ours & subject).sum() / (ours | subject).sum())


# --- without strokes -----------------------------------------------------------------


@pytest.mark.parametrize("shape", [(160, 240), (600, 820), (64, 40)])
def test_what_differs_from_the_rim_is_the_subject(shape: tuple[int, int]) -> None:
    subject = disc(0.5, 0.5, 0.3, *shape)
    mask = cut_out(painted((subject, RED)))
    assert mask.shape == shape
    assert mask.dtype == np.float32
    assert 0.0 <= mask.min() <= mask.max() <= 1.0
    # The border runs within a pixel or two of the circle.
    assert overlap(mask, subject) > (0.97 if min(shape) > 100 else 0.9)


def test_a_subject_that_stands_on_the_rim_is_found() -> None:
    subject = disc(0.5, 1.0, 0.5)
    assert overlap(cut_out(painted((subject, RED))), subject) > 0.9


def test_where_nothing_differs_all_is_background() -> None:
    for lab in (painted(grain=0.0), np.zeros((50, 60, 3)), np.full((40, 40, 3), 100.0)):
        np.testing.assert_array_equal(cut_out(lab), 1.0)


def test_the_same_picture_gives_the_same_mask() -> None:
    lab = painted((disc(0.4, 0.5, 0.3), RED), (disc(0.8, 0.4, 0.15), WHITE))
    strokes = (dab(0.8, 0.4, "background"),)
    first = cut_out(lab, strokes)
    cv2.setRNGSeed(99)  # what others draw from the same urn does not matter
    np.random.default_rng(0).random(7)
    np.testing.assert_array_equal(cut_out(lab, strokes), first)


# --- strokes -------------------------------------------------------------------------


def test_strokes_choose_among_things() -> None:
    red, white = disc(0.3, 0.5, 0.25), disc(0.75, 0.5, 0.2)
    lab = painted((red, RED), (white, WHITE))
    only_red = cut_out(lab, (dab(0.3, 0.5, "subject"), dab(0.75, 0.5, "background")))
    assert overlap(only_red, red) > 0.95
    only_white = cut_out(lab, (dab(0.75, 0.5, "subject"), dab(0.3, 0.5, "background")))
    assert overlap(only_white, white) > 0.95


@pytest.mark.parametrize("kind", ["background", "subject"])
@pytest.mark.parametrize("with_start", [False, True])
@pytest.mark.parametrize("place", [(0.5, 0.5), (0.05, 0.05), (1.0, 0.5), (0.62, 0.5)])
def test_what_is_drawn_holds(kind: str, with_start: bool, place: tuple[float, float]) -> None:
    """Whatever the colours say, on the subject, the background, the rim and the border."""
    lab = painted((disc(0.5, 0.5, 0.3), RED))
    start = cut_out(lab) if with_start else None
    mask = cut_out(lab, (dab(*place, kind, 0.05),), start)
    drawn = np.hypot(*(np.indices(mask.shape).T + 0.5 - np.array(place)[::-1] * [160, 240]).T) < 5
    assert (mask[drawn] == (1.0 if kind == "background" else 0.0)).all()


def test_later_strokes_lie_over_earlier_ones() -> None:
    lab = painted((disc(0.5, 0.5, 0.3), RED))
    one, two = dab(0.5, 0.5, "background", 0.1), dab(0.5, 0.5, "subject", 0.1)
    assert cut_out(lab, (one, two))[80, 120] == 0.0
    assert cut_out(lab, (two, one))[80, 120] == 1.0


def test_a_line_is_drawn_between_its_points() -> None:
    line = Stroke(((0.1, 0.1), (0.9, 0.1)), 0.03, "subject")
    mask = cut_out(painted((disc(0.5, 0.6, 0.2), RED)), (line,))
    assert (mask[16, 30:210] == 0.0).all()


@pytest.mark.parametrize("colour", [GREEN, (0.0, 0.0, 0.0), (100.0, 0.0, 0.0)])
def test_in_one_even_colour_the_nearest_stroke_counts(colour: tuple[float, float, float]) -> None:
    lab = np.broadcast_to(colour, (90, 120, 3))
    both = cut_out(lab, (dab(0.2, 0.5, "subject"), dab(0.8, 0.5, "background")))
    assert both[45, 30] == 0.0
    assert both[45, 100] == 1.0
    assert both[45, :].mean() == pytest.approx(0.5, abs=0.05)
    one = cut_out(lab, (dab(0.5, 0.5, "subject", 0.2),))
    assert one[45, 60] == 0.0
    assert one.mean() == pytest.approx(1 - math.pi * 12**2 / 90 / 120, abs=0.02)
    np.testing.assert_array_equal(cut_out(lab, (dab(0.5, 0.5, "background"),)), 1.0)


def test_the_border_is_soft_over_few_pixels() -> None:
    mask = cut_out(painted((disc(0.5, 0.5, 0.3, 640, 800), RED)))
    between = (mask > 0.05) & (mask < 0.95)
    around = 2 * math.pi * 0.3 * 640
    assert between.sum() < 8 * around


# --- corrections ---------------------------------------------------------------------


def test_a_correction_stays_where_it_was_drawn() -> None:
    """Two things alike: one goes to the background, the other is not asked about."""
    left, right = disc(0.25, 0.5, 0.2), disc(0.75, 0.5, 0.2)
    lab = painted((left, RED), (right, RED))
    start = cut_out(lab)
    assert overlap(start, left | right) > 0.95
    mask = cut_out(lab, (dab(0.75, 0.5, "background"),), start)
    assert overlap(mask, left) > 0.95
    half = mask.shape[1] // 2
    np.testing.assert_array_equal(mask[:, :half], start[:, :half])


def test_a_correction_can_be_taken_back() -> None:
    subject = disc(0.4, 0.5, 0.25)
    lab = painted((subject, RED), (disc(0.8, 0.3, 0.1), WHITE))
    start = cut_out(lab)
    gone = cut_out(lab, (dab(0.4, 0.5, "background"),), start)
    assert overlap(gone, subject) < 0.2
    back = cut_out(lab, (dab(0.4, 0.5, "subject"),), gone)
    assert overlap(back, start < 0.5) > 0.95


def test_a_start_without_strokes_is_kept() -> None:
    start = np.random.default_rng(3).random((160, 240))
    np.testing.assert_array_equal(cut_out(painted(), (), start), start.astype(np.float32))


# --- nonsense ------------------------------------------------------------------------


def test_a_start_of_another_picture_is_refused() -> None:
    with pytest.raises(RequestError, match="another picture"):
        cut_out(painted(), (), np.ones((10, 10)))


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (2, 2), (3, 500)])
def test_the_smallest_pictures_do_no_harm(shape: tuple[int, int]) -> None:
    lab = np.random.default_rng(4).uniform(0, 90, (*shape, 3))
    for strokes in ((), (dab(0.5, 0.5, "subject", 0.5), dab(0.0, 0.0, "background", 0.1))):
        mask = cut_out(lab, strokes)
        assert mask.shape == shape
        assert np.isfinite(mask).all()


@pytest.mark.parametrize(
    ("points", "width", "kind"),
    [
        ((), 0.1, "subject"),
        (((0.5, math.nan),), 0.1, "subject"),
        (((0.5, 1e12),), 0.1, "subject"),
        (((0.5, 0.5),), 0.0, "subject"),
        (((0.5, 0.5),), 0.6, "subject"),
        (((0.5, 0.5),), math.nan, "subject"),
        (((0.5, 0.5),), 0.1, "sky"),
    ],
)
def test_a_stroke_that_cannot_be_drawn_is_refused(points: tuple, width: float, kind: str) -> None:
    with pytest.raises(RequestError) as caught:
        Stroke(points, width, kind)  # type: ignore[arg-type]
    assert str(caught.value).endswith(".")


def test_strokes_far_off_the_sheet_do_no_harm() -> None:
    lab = painted((disc(0.5, 0.5, 0.3), RED))
    far = Stroke(((-9.0, -9.0), (-8.0, 9.0)), 0.1, "background")
    assert overlap(cut_out(lab, (far,)), disc(0.5, 0.5, 0.3)) > 0.9
