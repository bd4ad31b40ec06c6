"""A plane in a photo: known homographies and lenses there and back."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.drawn_sheets import camera, corners, on_plane

from firstwash.picture.plane_map import PlaneMap, fitted_plane, project

TILTS, TURNS = st.floats(0.0, 45.0), st.floats(0.0, 360.0)
BENDS = st.floats(-0.04, 0.04)


def grid(wide: float, high: float, n: int = 9) -> np.ndarray:
    x, y = np.meshgrid(np.linspace(0, wide, n), np.linspace(0, high, n))
    return np.stack([x, y], axis=-1).reshape(-1, 2)


def test_a_lens_bends_nothing_in_the_middle_and_k1_at_the_corner() -> None:
    size = (401, 301)
    centre, corner = np.array([[200.0, 150.0]]), np.array([[400.0, 300.0]])
    assert project(np.eye(3), 0.05, size, centre) == pytest.approx(centre)
    away = project(np.eye(3), 0.05, size, corner) - centre
    # r is told in half diagonals of the photo's edge, half a pixel beyond the last centre.
    r = np.hypot(200.0, 150.0) / np.hypot(200.5, 150.5)
    assert away == pytest.approx((corner - centre) * (1 + 0.05 * r**2))


@given(tilt=TILTS, towards=TURNS, turn=TURNS, k1=BENDS)
def test_pixels_lead_back_to_where_they_came_from(
    tilt: float, towards: float, turn: float, k1: float
) -> None:
    plane = camera(300.0, 200.0, tilt=tilt, towards=towards, turn=turn, k1=k1)
    mm = grid(300.0, 200.0)
    back = np.stack(on_plane(plane, *plane.pixels(mm).T), axis=-1)
    assert back == pytest.approx(mm, abs=1e-5)  # what twelve rounds of undoing leave


@settings(max_examples=25)
@given(tilt=TILTS, towards=TURNS, turn=TURNS, k1=BENDS)
def test_maps_drawn_between_knots_are_as_good_as_exact_ones(
    tilt: float, towards: float, turn: float, k1: float
) -> None:
    plane = camera(300.0, 200.0, size=(4000, 3000), tilt=tilt, towards=towards, turn=turn, k1=k1)
    x, y = np.linspace(0, 300, 151), np.linspace(0, 200, 101)
    across, down = plane.pixel_maps(x, y)
    assert across.shape == down.shape == (101, 151)
    exact = plane.pixels(np.stack(np.meshgrid(x, y), axis=-1))
    # A tenth of a pixel is promised; float32 at 4000 pixels adds less than a thousandth.
    assert np.abs(across - exact[..., 0]).max() < 0.1
    assert np.abs(down - exact[..., 1]).max() < 0.1


def test_a_map_of_two_rows_is_enough() -> None:
    plane = camera(300.0, 200.0)
    across, down = plane.pixel_maps(np.array([10.0, 11.0]), np.array([5.0, 6.0]))
    exact = plane.pixels(np.array([[10.0, 5.0], [11.0, 6.0]]))
    assert across[0] == pytest.approx(exact[:, 0], abs=1e-3)
    assert down[:, 0] == pytest.approx(exact[:, 1], abs=1e-3)


def test_scale_and_tilt_are_told() -> None:
    flat = PlaneMap(np.diag([4.0, 4.0, 1.0]), 0.0, (1200, 900))
    assert flat.scale_at(np.array([[10.0, 20.0], [100.0, 50.0]])) == pytest.approx([4.0, 4.0])
    assert flat.tilt_at(np.array([150.0, 100.0])) == pytest.approx(0.0, abs=1e-3)
    for tilt in (10.0, 30.0, 50.0):
        seen = camera(300.0, 200.0, tilt=tilt, towards=40.0)
        # Foreshortening is the cosine of the slant exactly on the axis, where the middle lies.
        assert seen.tilt_at(np.array([150.0, 100.0])) == pytest.approx(tilt, abs=0.2)


@given(tilt=st.floats(0.0, 35.0), towards=TURNS, turn=TURNS, k1=st.floats(-0.03, 0.03))
@settings(max_examples=25)
def test_a_plane_is_fitted_from_points(tilt: float, towards: float, turn: float, k1: float) -> None:
    true = camera(300.0, 200.0, tilt=tilt, towards=towards, turn=turn, k1=k1, room=0.95)
    mm = grid(300.0, 200.0)
    px = true.pixels(mm)
    start = cv2.getPerspectiveTransform(
        corners(300.0, 200.0).astype(np.float32),
        true.pixels(corners(300.0, 200.0)).astype(np.float32),
    )
    found = fitted_plane(start, mm, px, true.size)
    # The lens is believed straight until 81 points say otherwise: they outweigh it, not wholly.
    assert np.abs(found.pixels(mm) - px).max() < 0.1
    assert found.k1 == pytest.approx(k1, abs=0.003)


def test_a_point_badly_found_moves_little() -> None:
    true = camera(300.0, 200.0, tilt=20.0, k1=0.02)
    mm = grid(300.0, 200.0)
    px = true.pixels(mm)
    px[[17, 40]] += (40.0, -25.0)
    start = true.homography * 1.01
    found = fitted_plane(start, mm, px, true.size)
    # A robust loss still pulls with one pixel's force for each of two points among 81.
    assert np.abs(found.pixels(mm) - true.pixels(mm)).max() < 0.5


def test_the_same_points_give_the_same_plane() -> None:
    true = camera(300.0, 200.0, tilt=20.0, k1=0.02)
    mm = grid(300.0, 200.0)
    one, two = (fitted_plane(true.homography, mm, true.pixels(mm), true.size) for _ in range(2))
    assert np.array_equal(one.homography, two.homography)
    assert one.k1 == two.k1


@given(tilt=TILTS, towards=TURNS, turn=TURNS)
def test_a_true_view_of_a_plane_has_its_shape(tilt: float, towards: float, turn: float) -> None:
    plane = camera(300.0, 200.0, tilt=tilt, towards=towards, turn=turn)
    # 80 focal lengths from 0.5 to 3: the nearest is off by 1.2 % at most, and shows as less.
    assert plane.shape_off() < 0.01


@given(tilt=st.floats(0.0, 4.0), towards=TURNS, turn=TURNS, times=st.sampled_from([0.75, 1.3]))
def test_a_plane_drawn_out_shows(tilt: float, towards: float, turn: float, times: float) -> None:
    plane = camera(300.0, 200.0, tilt=tilt, towards=towards, turn=turn)
    # Where it is slanted more, a longer lens and more slant may look the same.
    wrong = PlaneMap(plane.homography @ np.diag([times, 1.0, 1.0]), 0.0, plane.size)
    assert wrong.shape_off() > 0.06
