"""The drawing the program makes by itself, and what of the painter's it takes over."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.optics.observer import lab_to_xyz
from firstwash.picture.drawing import Drawing
from firstwash.picture.drawing_edits import merged, reserved, with_edge
from firstwash.picture.first_drawing import drawing_of, shapes_of, with_bare
from firstwash.picture.reference import Reference
from firstwash.picture.shapes import ShapeLimits, find_shapes

Made = Callable[..., Reference]


@pytest.fixture
def patches(made_reference: Made, squares: Drawing) -> Reference:
    """Twelve squares of different colours."""
    rng = np.random.default_rng(3)
    colours = np.column_stack([rng.uniform(20, 90, 12), rng.uniform(-30, 30, (12, 2))])
    return made_reference(lab=colours[squares.shapes])


def test_it_is_what_the_planner_starts_from(patches: Reference) -> None:
    limits = ShapeLimits(count=12)
    drawing = drawing_of(patches, limits)
    found = find_shapes(patches.lab, 1.0, limits, patches.weight, patches.zone)
    assert np.array_equal(drawing.shapes, found)
    assert np.array_equal(shapes_of(patches, limits), found)
    assert not drawing.by_hand
    assert drawing.ppmm == 1.0


def test_fewer_shapes_keep_reserves_and_marks_and_nothing_else(patches: Reference) -> None:
    limits = ShapeLimits(count=12)
    drawing = drawing_of(patches, limits)
    edited = reserved(drawing, patches, [(25, 25), (40, 25), (40, 40), (25, 40)], limits)
    edited = with_edge(edited, [(60, 0), (60, 30)], "soft")
    few = drawing_of(patches, replace(limits, count=5), like=edited)
    assert few.count <= 6
    assert np.array_equal(few.bare(), edited.bare())
    assert few.edge_marks == edited.edge_marks
    assert few.by_hand
    plain = drawing_of(patches, limits, like=merged(drawing, patches, [0, 1]))
    assert np.array_equal(plain.shapes, drawing.shapes)
    assert not plain.by_hand
    with pytest.raises(RequestError, match="another sheet"):
        drawing_of(patches, limits, like=Drawing(np.zeros((5, 5), dtype=np.int32), 1.0))


def test_bare_places_become_paper_and_only_they(patches: Reference) -> None:
    white = lab_to_xyz(np.array([95.0, 0.0, 2.0]))
    bare = np.zeros((90, 120), dtype=np.bool_)
    bare[10:40, 20:50] = True
    found = with_bare(patches, bare, white)
    assert found.xyz[bare] == pytest.approx(np.tile(white, (900, 1)), rel=1e-6)
    assert np.array_equal(found.xyz[~bare], patches.xyz[~bare])
    assert np.array_equal(found.judge_xyz[~bare], patches.judge_xyz[~bare])
    assert found.judge_xyz[20, 30] == pytest.approx(white, rel=1e-5)
    assert with_bare(patches, ~bare & bare, white) is patches
