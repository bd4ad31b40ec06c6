"""A border drawn anew: what lies between it and the old one changes sides, nothing else."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing, shape_at
from firstwash.picture.drawing_borders import border_redrawn
from firstwash.picture.reference import Reference
from firstwash.picture.regions import connected_parts
from firstwash.picture.shapes import ShapeLimits

Made = Callable[..., Reference]
LIMITS = ShapeLimits(min_area_mm2=25.0)


def moved(before: Drawing, after: Drawing) -> np.ndarray:
    return before.shapes != after.shapes


@pytest.mark.parametrize("into", [-9.0, 9.0])
@pytest.mark.parametrize("turned", [False, True])
def test_a_bulge_changes_sides(
    squares: Drawing, made_reference: Made, into: float, turned: bool
) -> None:
    """The border between squares 5 and 6, x = 60, bulges to either side."""
    stroke = [(60, 35), (60 + into, 40), (60 + into, 50), (60, 55)]
    found = border_redrawn(squares, made_reference(), stroke[:: -1 if turned else 1], LIMITS)
    gives, takes = (5, 6) if into < 0 else (6, 5)
    changed = moved(squares, found)
    # A pixel of the line at either end may fall the other way.
    assert (squares.shapes[changed] == gives).sum() >= changed.sum() - 2
    assert (found.shapes[changed] == takes).sum() >= changed.sum() - 2
    # A trapezium 20 mm and 10 mm long and 9 mm high; the line belongs to either side.
    assert changed.sum() == pytest.approx(9 * 15, rel=0.2)
    assert found.count == 12
    assert found.by_hand


def test_ends_need_not_lie_on_the_border(squares: Drawing, made_reference: Made) -> None:
    near = [(57, 36), (51, 45), (56.5, 54)]
    found = border_redrawn(squares, made_reference(), near, LIMITS)
    assert shape_at(found, 55, 45) == 6
    assert shape_at(found, 45, 45) == 5


def test_a_stroke_that_swings_over_the_border_moves_both_ways(
    squares: Drawing, made_reference: Made
) -> None:
    wave = [(60, 32), (54, 38), (60, 44), (66, 50), (60, 57)]
    found = border_redrawn(squares, made_reference(), wave, LIMITS)
    assert shape_at(found, 58, 38) == 6
    assert shape_at(found, 62, 50) == 5
    others = ~np.isin(squares.shapes, (5, 6))
    assert not moved(squares, found)[others].any()


def test_a_whole_border_moves_far_without_the_shapes_changing_places(
    squares: Drawing, made_reference: Made
) -> None:
    """From corner to corner, so far that more than half of square 5 is between."""
    stroke = [(60, 30.5), (36, 33), (36, 57), (60, 59.5)]
    found = border_redrawn(squares, made_reference(), stroke, LIMITS)
    assert shape_at(found, 32, 45) == 5
    assert shape_at(found, 50, 45) == 6
    assert shape_at(found, 75, 45) == 6


def test_an_island_grows_and_shrinks(made_reference: Made) -> None:
    rows, cols = np.mgrid[0:90, 0:120]
    shapes = (np.hypot(rows - 45, cols - 60) < 20).astype(np.int32)
    island = Drawing(shapes, 1.0)
    wider = border_redrawn(island, made_reference(), [(75, 32), (90, 45), (75, 58)], LIMITS)
    assert shape_at(wider, 85, 45) == 1
    assert shape_at(wider, 60, 45) == 1
    less = border_redrawn(island, made_reference(), [(75, 32), (68, 45), (75, 58)], LIMITS)
    assert shape_at(less, 75, 45) == 0
    assert shape_at(less, 60, 45) == 1


def test_a_reserve_is_redrawn_like_any_shape(squares: Drawing, made_reference: Made) -> None:
    bare = replace(squares, reserves=frozenset({5}))
    found = border_redrawn(bare, made_reference(), [(60, 35), (66, 45), (60, 55)], LIMITS)
    assert found.reserves == {5}
    assert found.bare().sum() > bare.bare().sum()


def test_shapes_stay_in_one_piece(squares: Drawing, made_reference: Made) -> None:
    across = [(60, 33), (29, 36), (29, 54), (60, 57)]  # out of square 5 and in again
    found = border_redrawn(squares, made_reference(), across, LIMITS)
    assert len(np.unique(connected_parts(found.shapes))) == found.count


@pytest.mark.parametrize(
    ("stroke", "words"),
    [
        ([(45, 40), (45, 50)], "Begin and end the stroke on the border"),
        ([(60, 40), (105, 45)], "Begin and end the stroke on the border"),
        ([(60, 36), (60, 54)], "border runs there already"),
    ],
)
def test_what_is_no_new_border(
    squares: Drawing, made_reference: Made, stroke: list[tuple[float, float]], words: str
) -> None:
    with pytest.raises(RequestError, match=words):
        border_redrawn(squares, made_reference(), stroke, LIMITS)


def test_no_shape_is_left_too_small_to_paint(squares: Drawing, made_reference: Made) -> None:
    stroke = [(60, 30.2), (33.5, 30.2), (33.5, 59.8), (60, 59.8)]
    with pytest.raises(RequestError, match="join the two"):
        border_redrawn(squares, made_reference(), stroke, ShapeLimits(min_area_mm2=150.0))


def test_the_backgrounds_border_is_its_cut_out(squares: Drawing, made_reference: Made) -> None:
    zone = np.zeros((90, 120))
    zone[:, 60:] = 1
    with pytest.raises(RequestError, match="cut-out"):
        border_redrawn(squares, made_reference(zone=zone), [(60, 35), (66, 45), (60, 55)], LIMITS)
