"""Strokes brought to pixels: clipped, carried on to a border, moved onto the picture's own."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from firstwash.optics.observer import lab_to_xyz
from firstwash.picture.pencil import (
    along_gradient,
    is_closed,
    length_within,
    nearest_side,
    outline_mask,
    parts_between,
    reaching_border,
    stroke_points,
)

SHAPE = (90, 120)
coordinate = st.floats(-200.0, 200.0)


def test_a_stroke_is_clipped_where_it_leaves_the_sheet() -> None:
    found = stroke_points([(-60, 45), (60, 45), (60, 135)], SHAPE, 1.0)
    np.testing.assert_allclose(found, [(0, 45), (60, 45), (60, 90)], atol=1e-5)
    doubled = stroke_points([(10, 10), (20, 20)], SHAPE, 2.0)
    np.testing.assert_allclose(doubled, [(20, 20), (40, 40)])


@given(st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=6))
@example([(0.0, 0.0), (0.0, 2.2e-308)])
def test_a_clipped_stroke_lies_on_the_sheet(
    points: list[tuple[float, float]],
) -> None:
    inside = [*points, (60.0, 45.0)]  # so that something is left
    found = stroke_points(inside, SHAPE, 1.0)
    assert ((found >= 0.0) & (found < [120, 90])).all()
    assert found[-1] == pytest.approx((60.0, 45.0))


def test_lengths_add_up() -> None:
    labels = np.zeros(SHAPE, dtype=np.int32)
    labels[:, 60:] = 1
    found = length_within(np.array([(40.0, 10.0), (70.0, 50.0)]), labels)
    assert sum(found.values()) == pytest.approx(50.0)
    assert found[0] == pytest.approx(100 / 3, abs=0.5)


def test_ends_go_on_in_their_own_direction() -> None:
    labels = np.zeros(SHAPE, dtype=np.int32)
    labels[:, 100:] = 1
    start, end = reaching_border(np.array([(40.0, 40.0), (60.0, 40.0)]), labels, 1.0)
    assert start[0] == pytest.approx((0.0, 40.0), abs=0.6)
    assert end[0] == pytest.approx((100.0, 40.0), abs=0.6)
    assert end[1] == pytest.approx((60.0, 40.0))


def test_a_ring_comes_back_to_its_start() -> None:
    ring = np.array([(50 + 20 * np.cos(t), 45 + 20 * np.sin(t)) for t in np.linspace(0, 6, 30)])
    assert is_closed(ring, 1.0)
    assert not is_closed(ring[:20], 1.0)
    assert not is_closed(np.array([(10.0, 10.0), (11.0, 10.0), (12.0, 10.0), (13.0, 10.0)]), 1.0)


def test_an_outline_is_filled_with_its_loops() -> None:
    eight = [(20, 20), (60, 60), (60, 20), (20, 60)]  # crosses itself: both halves
    found = outline_mask(eight, SHAPE, 1.0)
    assert found[40, 25]
    assert found[40, 55]
    assert not found[25, 40]
    turn = np.linspace(0, 4 * np.pi, 60)  # twice round: even and odd make no hole
    twice = np.column_stack([60 + 20 * np.cos(turn), 45 + (20 + turn / 4) * np.sin(turn)])
    assert outline_mask(twice, SHAPE, 1.0)[45, 60]


def test_every_pixel_beside_a_wall_goes_to_a_side() -> None:
    inside = np.ones((20, 30), dtype=np.bool_)
    inside[0] = False
    walls = np.eye(20, 30, dtype=np.bool_)
    parts = parts_between(inside, walls)
    assert set(np.unique(parts)) == {0, 1, 2}  # a line over corners parts what meets at sides
    full = nearest_side(inside, parts)
    assert (full[inside] > 0).all()
    assert (full[~inside] == 0).all()


def test_a_stroke_moves_onto_a_strong_border_and_stays_where_there_is_none() -> None:
    lab = np.full((*SHAPE, 3), (70.0, 0.0, 0.0))
    flat = along_gradient(np.array([(40.5, 10.5), (40.5, 80.5)]), lab_to_xyz(lab), 3.0)
    np.testing.assert_allclose(flat[:, 0], 40.5)
    lab[:, 42:] = (30.0, 0.0, 0.0)
    found = along_gradient(np.array([(40.5, 10.5), (40.5, 80.5)]), lab_to_xyz(lab), 3.0)
    middle = found[(found[:, 1] > 15) & (found[:, 1] < 75), 0]
    assert np.abs(middle - 42.0).max() <= 1.0
    np.testing.assert_allclose(found[[0, -1]], [(40.5, 10.5), (40.5, 80.5)])
