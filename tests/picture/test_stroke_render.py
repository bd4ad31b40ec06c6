"""Strokes as they cover paper: area, place, thin lines, light mixing, every size of picture."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from firstwash.optics.observer import lab_to_xyz
from firstwash.picture.stroke_render import (
    Stroke,
    cover_of,
    draw_strokes,
    stroke_cover,
    stroke_covers,
)

RED = (45.0, 55.0, 35.0)
GREY = (60.0, 0.0, 0.0)


def stroke(
    points: object, half_widths: object, lab: tuple[float, float, float] = RED, **more: object
) -> Stroke:
    return Stroke(
        np.array(points, dtype=float).reshape(-1, 2),
        np.atleast_1d(np.array(half_widths, dtype=float)),
        polarity="dark",
        lab=lab,
        gain=1.0,
        contrast=10.0,
        **more,  # type: ignore[arg-type]
    )


def whole(one: Stroke, shape: tuple[int, int], ppmm: float) -> NDArray[np.float32]:
    """The stroke's cover over the whole picture."""
    out = np.zeros(shape, dtype=np.float32)
    cover = stroke_covers([one], shape, ppmm)[0]
    out[cover.window] = cover.share
    return out


# --- what a stroke is ------------------------------------------------------------


def test_length_width_and_area_of_a_plain_stroke() -> None:
    one = stroke([[2, 2], [12, 2]], [0.5, 0.5])
    assert one.length_mm == pytest.approx(11.0)
    assert one.width_mm == pytest.approx(1.0)
    assert one.area_mm2 == pytest.approx(10.0 + math.pi * 0.25)
    cone = stroke([[0, 0], [3, 4]], [1.0, 0.5])
    assert cone.length_mm == pytest.approx(6.5)
    assert cone.area_mm2 == pytest.approx(5 * 1.5 + math.pi * (1 + 0.25) / 2)


def test_a_single_point_is_a_disc() -> None:
    dot = stroke([[5, 5]], 1.5, kind="dot")
    assert dot.length_mm == dot.width_mm == 3.0
    assert dot.area_mm2 == pytest.approx(math.pi * 1.5**2)


@pytest.mark.parametrize(
    ("points", "half_widths"),
    [
        ([[1, 1], [2, 2]], [1.0]),
        (np.empty((0, 2)), np.empty(0)),
        ([[1, np.nan]], [1.0]),
        ([[1, 1]], [0.0]),
        ([[1, 1]], [-1.0]),
        ([[1, 1]], [np.inf]),
    ],
)
def test_what_no_brush_can_draw_is_refused(points: object, half_widths: object) -> None:
    with pytest.raises(ValueError, match=r"points_mm|half_widths_mm"):
        stroke(points, half_widths)


# --- cover -----------------------------------------------------------------------


@given(
    angle=st.floats(0.0, math.pi),
    half_width=st.floats(0.15, 2.5),
    ppmm=st.sampled_from([1.0, 2.0, 3.7, 6.0]),
    length=st.floats(5.0, 25.0),
)
def test_cover_adds_up_to_the_area(
    angle: float, half_width: float, ppmm: float, length: float
) -> None:
    way = np.array([math.cos(angle), math.sin(angle)])
    middle = np.array([20.3, 19.6])
    one = stroke([middle - way * length / 2, middle + way * length / 2], [half_width] * 2)
    share = whole(one, (round(40 * ppmm), round(40 * ppmm)), ppmm)
    assert share.min() >= 0.0
    assert share.max() <= 1.0
    # The cover is worked out from each pixel's middle: good to a pixel's area at each tip and,
    # for lines of a pixel or two, to the unevenness with which they meet pixel middles.
    slack = 1.0 / ppmm**2 + (0.06 if half_width * ppmm < 1 else 0.02) * one.area_mm2
    assert share.sum() / ppmm**2 == pytest.approx(one.area_mm2, abs=slack)


def test_a_line_along_the_pixels_covers_exactly_what_it_covers() -> None:
    # Rows are half a millimetre; the line lies on a pixel's middle and is 0.8 mm = 1.6 px wide.
    share = whole(stroke([[-5, 2.25], [25, 2.25]], [0.4, 0.4]), (10, 40), 2.0)
    np.testing.assert_allclose(share[:, 20], [0, 0, 0, 0.3, 1, 0.3, 0, 0, 0, 0], atol=1e-6)
    # One of 0.2 mm = 0.4 px covers 0.4 of the pixels it runs through, and nothing else.
    thin = whole(stroke([[-5, 2.25], [25, 2.25]], [0.1, 0.1]), (10, 40), 2.0)
    np.testing.assert_allclose(thin[:, 20], [0, 0, 0, 0, 0.4, 0, 0, 0, 0, 0], atol=1e-6)


@given(x=st.floats(3.0, 17.0), y=st.floats(3.0, 17.0), ppmm=st.sampled_from([1.5, 2.0, 5.0]))
def test_a_dot_lies_where_it_is_put_at_any_size(x: float, y: float, ppmm: float) -> None:
    side = round(20 * ppmm)
    share = whole(stroke([[x, y]], 1.6), (side, side), ppmm)
    rows, cols = (np.mgrid[0:side, 0:side] + 0.5) / ppmm
    middle = [(share * cols).sum() / share.sum(), (share * rows).sum() / share.sum()]
    np.testing.assert_allclose(middle, [x, y], atol=0.1 / ppmm)  # a tenth of a pixel


def test_a_finer_picture_averages_to_the_coarser_one() -> None:
    run = np.linspace(0, 1, 30)
    points = np.column_stack([5 + 30 * run, 10 + 6 * np.sin(3 * run)])
    one = stroke(points, 0.3 + 0.6 * np.sin(np.pi * run))
    fine, coarse = whole(one, (160, 320), 8.0), whole(one, (40, 80), 2.0)
    shrunk = cv2.resize(fine, (80, 40), interpolation=cv2.INTER_AREA)
    # Half a pixel's share where a slanting edge cuts corners; a hundredth on the whole.
    assert np.abs(shrunk - coarse).max() < 0.25
    assert np.abs(shrunk - coarse)[coarse > 0].mean() < 0.05
    assert shrunk.sum() == pytest.approx(coarse.sum(), rel=0.02)


def test_width_follows_the_half_widths() -> None:
    cone = stroke([[5, 10], [45, 10]], [0.5, 2.5])
    share = whole(cone, (80, 200), 4.0)
    widths = share.sum(axis=0) / 4.0
    at = (np.arange(200) + 0.5) / 4.0
    inside = (at > 6) & (at < 44)
    np.testing.assert_allclose(widths[inside], 1.0 + 4.0 * (at[inside] - 5) / 40, rtol=0.03)


def test_strokes_off_the_picture_cover_nothing_of_it() -> None:
    for x in (-50.0, 500.0):
        cover = cover_of(np.array([[x, 5.0]]), np.array([1.0]), (40, 60), 2.0)
        assert cover.share.size == 0
    half = whole(stroke([[-10, 5], [10, 5]], [1, 1]), (40, 60), 2.0)
    assert half[9:11, :20].min() == 1.0
    assert half[:, 24:].max() == 0.0
    with pytest.raises(ValueError, match="ppmm"):
        cover_of(np.array([[5.0, 5.0]]), np.array([1.0]), (40, 60), 0.0)


def test_the_map_gives_each_pixel_to_the_stroke_that_covers_it_most() -> None:
    rng = np.random.default_rng(3)
    strokes = [
        stroke(rng.uniform(0, 40, (2, 2)).cumsum(axis=0) / 2, rng.uniform(0.2, 1.5, 2))
        for _ in range(25)
    ]
    strokes.append(strokes[7])  # the same again: the earlier one keeps its pixels
    labels, share = stroke_cover(strokes, (90, 120), 2.0)
    assert labels.dtype == np.int32
    assert share.dtype == np.float32
    alone = np.array([whole(s, (90, 120), 2.0) for s in strokes])
    np.testing.assert_array_equal(share, alone.max(axis=0))
    np.testing.assert_array_equal(labels, np.where(share > 0, alone.argmax(axis=0), -1))
    nothing, none = stroke_cover([], (4, 5), 2.0)
    assert (nothing == -1).all()
    assert not none.any()


# --- drawing ---------------------------------------------------------------------


def test_drawing_mixes_light() -> None:
    lab = np.full((20, 40, 3), GREY)
    one = stroke([[-5, 5.0], [25, 5.0]], [1.25, 1.25])  # rows 7.5 to 12.5
    out = draw_strokes(lab, [one], None, 2.0)
    np.testing.assert_allclose(out[8:12, 10], np.tile(RED, (4, 1)), atol=1e-9)
    np.testing.assert_array_equal(out[:7], lab[:7])
    mixed = (lab_to_xyz(GREY) + lab_to_xyz(RED)) / 2
    np.testing.assert_allclose(lab_to_xyz(out[7, 10]), mixed, atol=1e-9)
    assert (lab == GREY).all()  # the picture given is left alone


def test_the_last_stroke_lies_on_top_in_the_colour_asked_for() -> None:
    lab = np.full((20, 20, 3), GREY)
    one, other = stroke([[5, 5]], 2.0), stroke([[5, 5]], 1.0)
    out = draw_strokes(lab, [one, other], np.array([[30.0, 0, 0], [80.0, 0, 0]]), 2.0)
    np.testing.assert_allclose(out[10, 10], [80, 0, 0], atol=1e-9)
    np.testing.assert_allclose(out[10, 7], [30, 0, 0], atol=1e-9)


def test_no_strokes_change_nothing_and_colours_must_fit() -> None:
    lab = np.random.default_rng(0).uniform(10, 90, (8, 9, 3))
    np.testing.assert_array_equal(draw_strokes(lab, [], None, 2.0), lab)
    with pytest.raises(ValueError, match="one colour"):
        draw_strokes(lab, [stroke([[1, 1]], 1.0)], np.zeros((2, 3)), 2.0)
    with pytest.raises(ValueError, match="last axis"):
        draw_strokes(lab[..., :2], [], None, 2.0)
