"""Ridges where lines run, traced in order, joined where they continue each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from firstwash.picture.stroke_lines import (
    JoinRule,
    Ridges,
    find_ridges,
    gaussian_derivatives,
    join_lines,
    resample,
    trace_lines,
)

RULE = JoinRule(gap=3.0, share=0.4, longest=10.0, turn=math.radians(35), reach=5, blind=0.5)


def bar(half_width: float, contrast: float, at: float = 40.0) -> NDArray[np.float32]:
    """An upright bar (80, 80) of grey 50 and more, its pixels averaged; `at`: its middle."""
    edges = np.arange(81.0)
    inside = np.clip(edges, at - half_width, at + half_width)
    return np.tile(50.0 + contrast * np.diff(inside), (80, 1)).astype(np.float32)


# --- derivatives -----------------------------------------------------------------


@pytest.mark.parametrize("sigma", [0.7, 1.5, 4.0])
def test_derivatives_of_polynomials_are_exact(sigma: float) -> None:
    y, x = np.mgrid[0:80, 0:80].astype(np.float64) - 40.0
    inner = (slice(30, 50), slice(30, 50))  # the border is mirrored
    # Kernels end at four σ and a pixel, which costs the second derivative up to 0.4 %.
    for plane, wanted in (
        (3 * x - 2 * y, (3, -2, 0, 0, 0)),
        (x**2 / 2, (x, 0, 1, 0, 0)),
        (y**2 / 2, (0, y, 0, 0, 1)),
        (x * y, (y, x, 0, 1, 0)),
    ):
        for found, true in zip(gaussian_derivatives(plane, sigma), wanted, strict=True):
            expected = np.broadcast_to(np.asarray(true, dtype=float), plane.shape)
            np.testing.assert_allclose(found[inner], expected[inner], atol=5e-3, rtol=1e-3)


# --- ridges ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("half_width", "share"), [(1.0, 0.77), (1.5, 0.8), (2.5, 0.9), (5.0, 0.97)]
)
@pytest.mark.parametrize("contrast", [5.0, 40.0, -20.0])
def test_a_bar_is_found_with_its_contrast(half_width: float, share: float, contrast: float) -> None:
    light, dark = find_ridges(bar(half_width, contrast), (1.0, 1.5, 2.2, 3.3, 5.0), 1.0)
    found, other = (light, dark) if contrast > 0 else (dark, light)
    middle = found.contrast[20:60, 38:42].max(axis=1)
    # Pixels blur narrow bars, and the nearest pixel's centre lies half a pixel off their middle.
    np.testing.assert_allclose(middle, share * abs(contrast), rtol=0.04)
    assert other.contrast[:, 36:44].max() == 0.0


@given(at=st.floats(35.0, 45.0), half_width=st.floats(0.8, 3.0))
def test_the_middle_is_found_between_pixels(at: float, half_width: float) -> None:
    light, _ = find_ridges(bar(half_width, 30.0, at), (half_width,), 5.0)
    on = light.contrast[40] > 0
    assert 1 <= on.sum() <= 3
    place = np.flatnonzero(on) + 0.5 + light.shift[40, on, 0]
    # The quadratic is exact in the middle; a pixel beside it sees the place up to a third off.
    near = np.argmin(np.abs(light.shift[40, on, 0]))
    assert place[near] == pytest.approx(at, abs=0.2)
    np.testing.assert_allclose(place, at, atol=0.4)
    np.testing.assert_allclose(light.shift[40, on, 1], 0.0, atol=1e-3)


@pytest.mark.parametrize("angle", [0.0, 0.5, 1.1])
def test_an_edge_is_no_line(angle: float) -> None:
    y, x = np.mgrid[0:90, 0:90].astype(float) - 45.0
    away = x * math.cos(angle) + y * math.sin(angle)
    for soft in (1.0, 2.0, 6.0):  # pixels: sharper ones have steps of their own
        plane = (50.0 + 40.0 * np.tanh(away / soft)).astype(np.float32)
        for found in find_ridges(plane, (0.8, 1.5, 3.0), 2.0):
            assert found.contrast[8:-8, 8:-8].max() == 0.0


def test_a_slope_makes_no_line_along_the_border() -> None:
    y, x = np.mgrid[0:60, 0:70].astype(np.float32)
    for plane in (x, -y, x + 2 * y):
        for found in find_ridges(plane, (0.8, 2.0, 4.0), 0.5):
            assert found.contrast.max() == 0.0


def test_a_line_that_runs_out_of_the_picture_is_followed_to_its_border() -> None:
    light, _ = find_ridges(bar(1.5, 20.0), (1.5,), 2.0)
    assert (light.contrast[[0, -1], 39:41].max(axis=1) > 10.0).all()


def test_ripples_inside_a_broad_bar_are_no_lines() -> None:
    plane = bar(5.0, 40.0) + np.tile(2.0 * np.cos(np.arange(80) * 2.0), (80, 1)).astype(np.float32)
    light, _ = find_ridges(plane, (0.8, 2.0, 5.0), 1.0)
    assert (light.contrast[40, 36:44] > 0).sum() <= 3


# --- tracing ---------------------------------------------------------------------


def ridges_of(mask: NDArray[np.bool_]) -> Ridges:
    return Ridges(mask.astype(np.float32) * 10, np.zeros((*mask.shape, 2), dtype=np.float32))


def disc_ring(radius: float) -> NDArray[np.bool_]:
    y, x = np.mgrid[0:60, 0:60] - 30.0
    return np.asarray(np.abs(np.hypot(x, y) - radius) < 0.8)


def test_a_ring_is_one_line_in_order() -> None:
    lines = trace_lines(ridges_of(disc_ring(20)), 1, 5, 3)
    assert len(lines) == 1
    steps = np.linalg.norm(np.diff(lines[0], axis=0), axis=1)
    assert steps.max() <= math.sqrt(2) + 1e-9
    assert len(lines[0]) > 2 * math.pi * 20 * 0.8
    np.testing.assert_allclose(np.hypot(*(lines[0] - 30.5).T), 20.0, atol=1.0)


def test_lines_are_split_where_they_meet() -> None:
    mask = np.zeros((41, 41), dtype=np.bool_)
    mask[20], mask[:, 20] = True, True
    lines = trace_lines(ridges_of(mask), 1, 5, 3)
    assert len(lines) == 4
    assert all(17 <= len(line) <= 20 for line in lines)
    assert len(join_lines(lines, RULE)) == 2  # straight on across the meeting


def test_hysteresis_follows_faint_parts_of_a_clear_line_only() -> None:
    contrast = np.zeros((20, 60), dtype=np.float32)
    contrast[5, 5:25], contrast[5, 25:50] = 8.0, 2.0
    contrast[15, 5:50] = 2.0
    found = Ridges(contrast, np.zeros((20, 60, 2), dtype=np.float32))
    lines = trace_lines(found, 1.0, 5.0, 3)
    assert len(lines) == 1
    np.testing.assert_allclose(lines[0][:, 1], 5.5)
    assert np.ptp(lines[0][:, 0]) == 44
    assert trace_lines(found, 3.0, 9.0, 3) == []


def test_places_include_the_shift_and_short_pieces_go() -> None:
    mask = np.zeros((10, 30), dtype=np.bool_)
    mask[4, 3:20], mask[8, 3:6] = True, True
    found = ridges_of(mask)
    found.shift[..., 1] = 0.3
    lines = trace_lines(found, 1, 5, 5)
    assert len(lines) == 1
    np.testing.assert_allclose(lines[0][:, 1], 4.8, atol=1e-6)


# --- joining ---------------------------------------------------------------------


def straight(x0: float, y0: float, x1: float, y1: float) -> NDArray[np.float64]:
    n = max(int(math.hypot(x1 - x0, y1 - y0) * 2), 2)
    return np.column_stack([np.linspace(x0, x1, n), np.linspace(y0, y1, n)])


@pytest.mark.parametrize(("gap", "joined"), [(0.3, True), (2.0, True), (3.9, True), (6.0, False)])
def test_lines_in_a_row_are_joined_over_small_gaps(gap: float, joined: bool) -> None:
    pieces = [straight(0, 0, 10, 0), straight(10 + gap, 0.1, 20 + gap, 0.1)]
    lines = join_lines(pieces, RULE)
    assert len(lines) == (1 if joined else 2)
    if joined:
        assert len(lines[0]) == sum(map(len, pieces))
        assert (np.diff(lines[0][:, 0]) > 0).all() or (np.diff(lines[0][:, 0]) < 0).all()


def test_longer_lines_bridge_longer_gaps_but_only_straight_ahead() -> None:
    assert len(join_lines([straight(0, 0, 30, 0), straight(38, 0, 70, 0)], RULE)) == 1
    assert len(join_lines([straight(0, 0, 30, 0), straight(38, 3, 70, 3)], RULE)) == 2
    assert len(join_lines([straight(0, 0, 30, 0), straight(45, 0, 90, 0)], RULE)) == 2


def test_lines_that_turn_off_or_run_beside_are_not_joined() -> None:
    assert len(join_lines([straight(0, 0, 10, 0), straight(11, 0.5, 11, 10)], RULE)) == 2
    assert len(join_lines([straight(0, 0, 10, 0), straight(0, 1, 10, 1)], RULE)) == 2


def test_each_end_is_joined_once_to_its_best_partner() -> None:
    pieces = [straight(0, 0, 10, 0), straight(11, 0, 20, 0), straight(11, 1, 20, 4)]
    lines = sorted(join_lines(pieces, RULE), key=len)
    assert [len(line) for line in lines] == [len(pieces[2]), len(pieces[0]) + len(pieces[1])]


def test_a_ring_with_a_gap_does_not_bite_its_tail() -> None:
    angle = np.linspace(0, 2 * math.pi - 0.2, 80)
    ring = np.column_stack([10 * np.cos(angle), 10 * np.sin(angle)])
    halves = join_lines([ring[:40], ring[40:]], RULE)
    assert len(halves) == 1
    assert len(halves[0]) == 80
    assert join_lines([], RULE) == []


# --- even points -----------------------------------------------------------------


@given(
    step=st.floats(0.2, 1.5), smooth=st.just(0.0) | st.floats(0.1, 3.0), length=st.floats(3.0, 40.0)
)
def test_a_straight_line_stays_straight_with_its_ends(
    step: float, smooth: float, length: float
) -> None:
    line = straight(1, 2, 1 + 0.8 * length, 2 + 0.6 * length)
    points = resample(line, step, smooth)
    np.testing.assert_allclose(points[[0, -1]], line[[0, -1]], atol=1e-9)
    np.testing.assert_allclose((points[:, 0] - 1) * 0.6, (points[:, 1] - 2) * 0.8, atol=1e-9)
    gaps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert gaps.sum() == pytest.approx(length)
    if smooth == 0.0:
        np.testing.assert_allclose(gaps, length / len(gaps), rtol=1e-6)


def test_smoothing_takes_away_stairs() -> None:
    x = np.arange(60.0)
    stairs = np.column_stack([x, np.round(0.3 * x)])
    points = resample(stairs, 0.5, 3.0)
    off = points[:, 1] - 0.3 * points[:, 0]
    assert np.abs(off[10:-10]).max() < 0.15  # of a pixel; the stairs are half a pixel high
