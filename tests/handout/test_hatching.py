"""Hatching: even, at 45°, only inside."""

import numpy as np
import pytest

from firstwash.handout.hatching import hatched

SQUARE = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 30.0], [0.0, 30.0]])
HOLE = SQUARE / 3 + 10.0


def length(lines: np.ndarray) -> float:
    return float(np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1]).sum())


def test_lines_cover_an_area_evenly() -> None:
    """Length × spacing is the area, to one line's worth at the corners."""
    lines = hatched([SQUARE], 1.0)
    assert length(lines) == pytest.approx(900.0, rel=0.02)
    slope = (lines[:, 3] - lines[:, 1]) / (lines[:, 2] - lines[:, 0])
    np.testing.assert_allclose(slope, -1.0)
    assert lines.min() >= -1e-9
    assert lines.max() <= 30.0 + 1e-9


def test_a_hole_stays_free_however_it_is_walked() -> None:
    for hole in (HOLE, HOLE[::-1]):
        lines = hatched([SQUARE, hole], 0.5)
        assert length(lines) * 0.5 == pytest.approx(800.0, rel=0.02)
        middle = (lines[:, :2] + lines[:, 2:]) / 2
        assert not ((middle > 10.01) & (middle < 19.99)).all(axis=1).any()


def test_nothing_to_hatch_gives_no_lines() -> None:
    assert hatched([], 1.0).shape == (0, 4)
    assert hatched([SQUARE[:2]], 1.0).shape == (0, 4)


@pytest.mark.parametrize("degrees", [0.0, 90.0, -45.0, 30.0])
def test_lines_rise_as_steeply_as_asked_for(degrees: float) -> None:
    lines = hatched([SQUARE, HOLE], 0.5, degrees)
    assert length(lines) * 0.5 == pytest.approx(800.0, rel=0.03)  # a line's worth at the rims
    x, y = (lines[:, 2] - lines[:, 0], lines[:, 1] - lines[:, 3])  # y downwards
    turn = np.degrees(np.arctan2(y, x)) - degrees
    np.testing.assert_allclose(turn, 0.0, atol=1e-6)
