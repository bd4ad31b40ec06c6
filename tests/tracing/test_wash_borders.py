"""The outline holds the hard borders that a layer's washes are cut in at."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from firstwash.picture.edges import HARD
from firstwash.tracing.contour_lines import Arc
from firstwash.tracing.lines import trace
from firstwash.tracing.model import Line, Tracing
from firstwash.tracing.wash_borders import hard_borders

WITHIN_MM = 1.0  # a pencil's line and the hand's own


@pytest.fixture(scope="module")
def traced(drawn) -> Tracing:  # type: ignore[no-untyped-def]
    return trace(drawn.made.plan, drawn.made.reference, 0.5)


def share(borders: list[Arc], lines: tuple[Line, ...]) -> float:
    """Share of hard points of borders that lie within a mm of some line; half a mm apart."""
    points = np.concatenate([b.points[b.kinds == HARD] for b in borders])
    away = cKDTree(np.concatenate([line.points(40) for line in lines])).query(points)[0]
    return float(np.mean(away < WITHIN_MM))


def test_hard_borders_are_drawn(drawn, traced: Tracing) -> None:  # type: ignore[no-untyped-def]
    """Snapping may take a line to the picture's edge, up to 1.5 mm off: hence not all of it."""
    borders = [b for b in hard_borders(drawn.made.plan) if (b.kinds == HARD).sum() > 30]
    assert share(borders, traced.lines) > 0.9


def test_they_lie_on_borders_of_washes(drawn, traced: Tracing) -> None:  # type: ignore[no-untyped-def]
    borders = np.concatenate([b.points for b in hard_borders(drawn.made.plan)])
    for line in traced.of("wash"):
        away = cKDTree(borders).query(line.points(8))[0]
        assert np.mean(away < 2.0) > 0.9  # moved by 1.5 mm at most, and led to a line's end


def test_main_shapes_alone_hold_fewer_of_them(drawn) -> None:  # type: ignore[no-untyped-def]
    made = drawn.made
    borders = hard_borders(made.plan)
    found = [share(borders, trace(made.plan, made.reference, d).lines) for d in (0.0, 0.5)]
    assert found[0] <= found[1]


def test_no_border_is_drawn_twice_by_washes(traced: Tracing) -> None:
    own = traced.of("wash")
    for k, line in enumerate(own):
        others = [n for j, n in enumerate(own) if j != k]
        if others:
            near = cKDTree(np.concatenate([n.points(24) for n in others])).query(line.points(24))[0]
            assert np.mean(near < 0.5) < 0.25
