"""Wavering lines become smooth ones; corners stay; curves run on into each other."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from firstwash.tracing.curves import STEP_MM, Smooth, along, as_curves, corners_of, evenly, smooth
from firstwash.tracing.model import Line


def circle(radius: float, wobble: float = 0.0) -> np.ndarray:
    n = round(2 * np.pi * radius / STEP_MM)
    t = np.linspace(0.0, 2.0 * np.pi, n + 1)
    r = radius + wobble * np.sin(37.0 * t)
    ring = 50.0 + np.column_stack([r * np.cos(t), r * np.sin(t)])
    ring[-1] = ring[0]
    return ring


def square(side: float) -> np.ndarray:
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]) * side
    return evenly(corners)


def points_of(line: Smooth, closed: bool = False) -> np.ndarray:
    return Line(as_curves(line), closed, 0.3, 1.0, "contour").points(20)


def test_a_wobbling_ring_becomes_a_circle() -> None:
    line = smooth(circle(20.0, 0.3), True, 0.35)
    assert line.ring
    away = np.linalg.norm(points_of(line, True) - 50.0, axis=1)
    assert np.sqrt(np.mean((away - 20.0) ** 2)) < 0.35  # it strays no more than it may
    way = np.diff(points_of(line, True), axis=0)
    way = way[np.linalg.norm(way, axis=1) > 1e-6]
    turn = np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0]))))
    # The 37 waves turned to and fro by some 40 radians; hardly any of that is left.
    assert np.abs(turn).sum() < 1.1 * 2.0 * np.pi


def test_the_ring_closes_without_a_kink() -> None:
    curves = as_curves(smooth(circle(20.0), True, 0.3))
    np.testing.assert_allclose(curves[0, 0], curves[-1, 3], atol=1e-9)
    ways = [curves[0, 1] - curves[0, 0], curves[-1, 3] - curves[-1, 2]]
    cosine = ways[0] @ ways[1] / np.prod([np.linalg.norm(w) for w in ways])
    assert cosine > 0.9999


def test_corners_stay_corners() -> None:
    line = smooth(square(30.0), True, 0.3)
    assert not line.ring
    assert len(line.stretches) == 5  # four sides
    drawn = cKDTree(points_of(line, True))
    for corner in ((0, 0), (30, 0), (30, 30), (0, 30)):
        assert drawn.query(corner)[0] < 0.3  # a corner is not rounded by more than that


def test_a_gentle_bend_is_no_corner() -> None:
    assert len(corners_of(circle(12.0), True)) == 0


def test_curves_join_and_share_their_direction() -> None:
    x = np.linspace(0.0, 60.0, 121)
    curves = as_curves(smooth(np.column_stack([x, 8.0 * np.sin(x / 6.0)]), False, 0.1))
    np.testing.assert_allclose(curves[1:, 0], curves[:-1, 3], atol=1e-9)
    before, after = curves[:-1, 3] - curves[:-1, 2], curves[1:, 1] - curves[1:, 0]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    assert np.abs(cross).max() < 1e-6 * 100.0


def test_curves_stay_on_their_line() -> None:
    x = np.linspace(0.0, 60.0, 121)
    points = np.column_stack([x, 8.0 * np.sin(x / 6.0)])
    fine = np.linspace(0.0, 60.0, 6001)
    known = cKDTree(np.column_stack([fine, 8.0 * np.sin(fine / 6.0)]))
    drawn = points_of(smooth(points, False, 0.1))
    assert known.query(drawn)[0].max() < 0.2  # half of a fine pencil line


def test_open_ends_are_held() -> None:
    points = np.array([[0.0, 0.0], [5.0, 1.0], [10.0, -1.0], [20.0, 3.0]])
    line = smooth(evenly(points), False, 0.3)
    np.testing.assert_allclose(line.points[[0, -1]], points[[0, -1]], atol=1e-9)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6])
def test_short_lines_are_lines_still(n: int) -> None:
    line = smooth(np.column_stack([np.arange(n) * STEP_MM, np.zeros(n)]), False, 0.3)
    curves = as_curves(line)
    assert np.isfinite(curves).all()
    assert curves[-1, 3, 0] == pytest.approx((n - 1) * STEP_MM)


def test_points_in_one_place_are_still_a_curve() -> None:
    curves = as_curves(Smooth(np.full((6, 2), 3.0), np.array([0, 5])))
    assert len(curves) >= 1
    np.testing.assert_allclose(curves, 3.0)


def test_a_piece_keeps_the_corners_inside() -> None:
    line = smooth(square(30.0), True, 0.3)
    piece = line.piece(10, int(line.stretches[2]) + 10)
    assert len(piece.stretches) == 4
    assert along(piece.points)[-1] == pytest.approx(60.0, abs=1.0)
