"""The outline to trace and the maps are one drawing, on plans of a photo."""

import numpy as np
import pytest
from scipy.spatial import cKDTree
from tests.sheets.plans import NAMES, made_named

from firstwash.picture.edges import HARD
from firstwash.sheets.drawn import Drawn
from firstwash.tracing.lines import trace
from firstwash.tracing.wash_borders import hard_borders

LONG_MM = 12.0  # hard borders from here on belong on the paper, at ordinary detail
NEAR_MM = 1.0


@pytest.mark.parametrize("name", NAMES)
def test_hard_borders_of_washes_are_in_the_outline(name: str) -> None:
    """Four fifths of their length and more, on sheets down to a postcard's.

    The rest are pieces between forks too short for a line, and places where the line was moved
    to the picture's own edge.
    """
    made = made_named(name)
    lines = trace(made.plan, made.reference, 0.5).lines
    tree = cKDTree(np.concatenate([line.points(40) for line in lines]))
    own = [a.points[a.kinds == HARD] for a in hard_borders(made.plan)]
    points = np.concatenate([p for p in own if len(p) * 0.5 >= LONG_MM])
    drawn = np.mean(tree.query(points)[0] < NEAR_MM)
    before = [line.points(40) for line in lines if line.kind != "wash"]
    without = np.mean(cKDTree(np.concatenate(before)).query(points)[0] < NEAR_MM)
    assert drawn > 0.8
    assert drawn >= without


@pytest.mark.parametrize("name", NAMES)
def test_hard_lines_of_maps_lie_on_the_outline(name: str) -> None:
    made = made_named(name)
    traced = trace(made.plan, made.reference, 0.5)
    tree = cKDTree(np.concatenate([line.points(40) for line in traced.lines]))
    drawn = Drawn(made.plan, traced)
    for layer in range(1, made.plan.layers + 1):
        runs = drawn.map_of(layer).lines["hard"]
        if not runs:
            continue
        points = np.concatenate([run.curves.mean(axis=1) for run in runs])
        away = tree.query(points)[0]
        assert np.median(away) < 0.2  # on it, but for the rounding of curves
        assert np.mean(away < NEAR_MM) > 0.85
