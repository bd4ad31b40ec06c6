"""Merging, splitting, reserving: what every edit keeps, and what each of them does."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing, neighbours, shape_at
from firstwash.picture.drawing_borders import border_redrawn
from firstwash.picture.drawing_edits import (
    merged,
    released,
    reserved,
    shape_reserved,
    split,
    with_edge,
)
from firstwash.picture.first_drawing import drawing_of, graded_strips
from firstwash.picture.reference import Reference
from firstwash.picture.regions import compact_labels, connected_parts
from firstwash.picture.shapes import ShapeLimits

Made = Callable[..., Reference]
LIMITS = ShapeLimits(min_area_mm2=25.0)


def check_sound(drawing: Drawing, reference: Reference) -> None:
    """Numbered without gaps, each shape in one piece and in one zone, nothing lost."""
    used = np.unique(drawing.shapes)
    assert used.tolist() == list(range(drawing.count))
    assert drawing.shapes.shape == reference.zone.shape
    assert drawing.shapes.dtype == np.int32
    # The areas of the shapes are those of the sheet.
    assert drawing.areas_mm2().sum() == pytest.approx(drawing.shapes.size / drawing.ppmm**2)
    assert drawing.reserves <= set(range(drawing.count))
    for label in used:
        assert len(np.unique(reference.zone[drawing.shapes == label])) == 1


def check_whole(drawing: Drawing) -> None:
    parts = connected_parts(drawing.shapes)
    for label in set(range(drawing.count)) - drawing.reserves:
        assert len(np.unique(parts[drawing.shapes == label])) == 1


def square(x: float, y: float, side: float) -> list[tuple[float, float]]:
    return [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]


# --- merging ---------------------------------------------------------------------


def test_merged_shapes_are_one_and_the_others_move_up(
    squares: Drawing, made_reference: Made
) -> None:
    found = merged(squares, made_reference(), [0, 1, 5])
    check_sound(found, made_reference())
    assert found.count == 10
    assert {shape_at(found, x, y) for x, y in ((5, 5), (35, 5), (35, 35))} == {0}
    assert found.by_hand
    assert not squares.by_hand
    assert squares.count == 12


@pytest.mark.parametrize(
    ("shapes", "words"),
    [
        ([0], "two shapes or more"),
        ([0, 0], "two shapes or more"),
        ([0, 2], "Only shapes that touch"),
        ([0, 5], "Only shapes that touch"),  # corners
        ([0, 12], "shapes 0 to 11"),
        ([-1, 0], "shapes 0 to 11"),
        ([True, 2], "shapes 0 to 11"),
    ],
)
def test_what_cannot_be_merged(
    squares: Drawing, made_reference: Made, shapes: list[Any], words: str
) -> None:
    with pytest.raises(RequestError, match=words):
        merged(squares, made_reference(), shapes)


def test_zones_and_reserves_are_not_merged_away(squares: Drawing, made_reference: Made) -> None:
    zone = np.zeros((90, 120))
    zone[:, :30] = 1
    with pytest.raises(RequestError, match="subject and the background"):
        merged(squares, made_reference(zone=zone), [0, 1])
    some = replace(squares, reserves=frozenset({0, 1}))
    with pytest.raises(RequestError, match="have it painted first"):
        merged(some, made_reference(), [1, 2])
    found = merged(some, made_reference(), [0, 1])
    assert found.reserves == {0}
    later = merged(replace(squares, reserves=frozenset({11})), made_reference(), [0, 1])
    assert later.reserves == {10}


# --- splitting -------------------------------------------------------------------


@pytest.mark.parametrize(
    "stroke",
    [
        [(45, -3), (45, 33)],  # right across, over both ends
        [(45, 8), (45, 22)],  # inside: goes on to the border
        [(44, 12), (45, 15), (45, 18)],  # short
        [(45, 5), (45, 33)],  # runs a little into the next square
    ],
)
def test_a_stroke_splits_the_shape_it_is_meant_for(
    squares: Drawing, made_reference: Made, stroke: list[tuple[float, float]]
) -> None:
    found = split(squares, made_reference(), stroke, LIMITS, snap_mm=0.0)
    check_sound(found, made_reference())
    assert found.count == 13
    assert shape_at(found, 33, 15) != shape_at(found, 57, 15)
    assert shape_at(found, 45, 45) == shape_at(squares, 45, 45)
    others = squares.shapes != 1
    assert np.array_equal(found.shapes[others], squares.shapes[others])


def test_a_stroke_across_two_shapes_splits_both(squares: Drawing, made_reference: Made) -> None:
    found = split(squares, made_reference(), [(45, 2), (45, 58)], LIMITS, snap_mm=0.0)
    assert found.count == 14


def test_a_ring_cuts_out_what_it_runs_round(squares: Drawing, made_reference: Made) -> None:
    ring = [(45 + 10 * np.cos(t), 45 + 10 * np.sin(t)) for t in np.linspace(0.1, 6.2, 30)]
    found = split(squares, made_reference(), ring, LIMITS, snap_mm=0.0)
    check_whole(found)
    assert found.count == 13
    new = shape_at(found, 45, 45)
    # A disc of 10 mm with the pencil's line, half of which goes to either side.
    assert found.areas_mm2()[new] == pytest.approx(np.pi * 100, rel=0.1)
    assert neighbours(found, new) == (5,)


def test_split_and_merge_undo_each_other(squares: Drawing, made_reference: Made) -> None:
    reference = made_reference()
    cut = split(squares, reference, [(33, 40), (57, 52)], LIMITS, snap_mm=0.0)
    back = merged(cut, reference, [5, 12])
    assert np.array_equal(back.shapes, squares.shapes)
    again = split(back, reference, [(33, 40), (57, 52)], LIMITS, snap_mm=0.0)
    assert np.array_equal(again.shapes, cut.shapes)


def test_a_cut_finds_the_pictures_own_border(squares: Drawing, made_reference: Made) -> None:
    """Dark from x = 46 on: a stroke 1.5 mm off that lands on it."""
    lab = np.full((90, 120, 3), (70.0, 0.0, 0.0))
    lab[:, 46:] = (30.0, 0.0, 0.0)
    stroke = [(44.5, 1), (44.5, 15), (44.5, 29)]
    found = split(squares, made_reference(lab=lab), stroke, LIMITS, snap_mm=2.5)
    left = (found.shapes == shape_at(found, 33, 15)).sum(axis=1)
    # The line itself falls to either side; near its ends it stays with the stroke.
    assert np.abs(left[6:24] - 16).max() <= 1


def test_splinters_stay_where_they_were(squares: Drawing, made_reference: Made) -> None:
    for stroke in ([(31, 2), (33, 0)], [(30.5, 1), (30.5, 29)]):
        with pytest.raises(RequestError, match="nothing large enough"):
            split(squares, made_reference(), stroke, LIMITS, snap_mm=0.0)


def test_a_stroke_on_reserves_alone_splits_nothing(squares: Drawing, made_reference: Made) -> None:
    bare = replace(squares, reserves=frozenset({1}))
    with pytest.raises(RequestError, match="crosses no shape"):
        split(bare, made_reference(), [(45, 5), (45, 25)], LIMITS)


@pytest.mark.parametrize(
    ("stroke", "words"),
    [
        ([], "stroke is 2 to"),
        ([(1.0, 2.0)], "stroke is 2 to"),
        ([(1.0, 2.0, 3.0)] * 3, "stroke is 2 to"),
        ("across", "stroke is 2 to"),
        ([(1.0, 2.0), (1.0,)], "stroke is 2 to"),
        (np.zeros((5001, 2)), "stroke is 2 to"),
        ([(1.0, np.nan), (2.0, 2.0)], "distances in mm"),
        ([(1.0, 1e7), (2.0, 2.0)], "distances in mm"),
    ],
)
def test_no_stroke_at_all(squares: Drawing, made_reference: Made, stroke: Any, words: str) -> None:
    reference = made_reference()
    for edit in (split, border_redrawn, reserved):
        with pytest.raises(RequestError, match=words):
            edit(squares, reference, stroke, LIMITS)
    with pytest.raises(RequestError, match=words):
        with_edge(squares, stroke, "hard")


def test_strokes_off_the_sheet(squares: Drawing, made_reference: Made) -> None:
    reference = made_reference()
    off = [(-5.0, -5.0), (-9.0, 200.0)]
    for edit in (split, border_redrawn):
        with pytest.raises(RequestError, match="does not touch the sheet"):
            edit(squares, reference, off, LIMITS)
    with pytest.raises(RequestError, match="does not touch the sheet"):
        with_edge(squares, off, "hard")
    with pytest.raises(RequestError, match="too small"):
        reserved(squares, reference, [*off, (-20.0, 50.0)], LIMITS)
    # Both ends beyond the sheet, and yet right across it.
    assert split(squares, reference, [(45, -30), (45, 130)], LIMITS, 0.0).count == 15
    corner = split(squares, reference, [(-30, 50), (50, -30)], LIMITS, 0.0)
    assert shape_at(corner, 2, 2) != shape_at(corner, 28, 28)
    # A corner of the sheet, drawn round generously.
    found = reserved(squares, reference, [(-50, -50), (20, -50), (20, 15), (-50, 15)], LIMITS)
    assert found.bare().sum() == 21 * 16


# --- reserves --------------------------------------------------------------------


def test_an_outline_becomes_paper(squares: Drawing, made_reference: Made) -> None:
    reference = made_reference()
    found = reserved(squares, reference, square(25, 25, 10), LIMITS)
    check_sound(found, reference)
    assert found.count == 13
    assert found.reserves == {12}
    # 10 mm and the line on both sides of it.
    assert found.areas_mm2()[12] == pytest.approx(11**2)
    assert neighbours(found, 12)[-1] in (0, 1, 4, 5)
    wider = reserved(found, reference, square(30, 30, 12), LIMITS)
    assert len(wider.reserves) == 1  # two that meet are one
    far = reserved(found, reference, square(70, 70, 6), LIMITS)
    assert len(far.reserves) == 2


def test_a_reserve_in_two_zones_is_two_shapes(squares: Drawing, made_reference: Made) -> None:
    zone = np.zeros((90, 120))
    zone[:, :30] = 1
    reference = made_reference(zone=zone)
    found = reserved(squares, reference, square(22, 40, 16), LIMITS)
    check_sound(found, reference)
    assert len(found.reserves) == 2


def test_what_a_reserve_leaves_too_small_joins_a_neighbour(
    squares: Drawing, made_reference: Made
) -> None:
    reference = made_reference()
    found = reserved(squares, reference, square(31, 31, 27), LIMITS)
    check_whole(found)
    assert found.areas_mm2().min() >= LIMITS.min_area_mm2


def test_releasing_and_refusing(squares: Drawing, made_reference: Made) -> None:
    reference = made_reference()
    kept = shape_reserved(squares, reference, 3)
    assert kept.reserves == {3}
    assert np.array_equal(kept.shapes, squares.shapes)
    back = released(kept, reference, 3, LIMITS)
    assert not back.reserves
    assert np.array_equal(back.shapes, squares.shapes)
    with pytest.raises(RequestError, match="reserved already"):
        shape_reserved(kept, reference, 3)
    with pytest.raises(RequestError, match="not reserved"):
        released(squares, reference, 3, LIMITS)
    with pytest.raises(RequestError, match="too small to keep free"):
        reserved(squares, reference, [(5, 5), (5.4, 5), (5.4, 5.4)], LIMITS)
    last = replace(squares, reserves=frozenset(range(11)))
    with pytest.raises(RequestError, match="nothing to paint"):
        shape_reserved(last, reference, 11)
    with pytest.raises(RequestError, match="nothing to paint"):
        reserved(squares, reference, square(0, 0, 130), LIMITS)


def test_a_small_reserve_released_joins_its_surroundings(
    squares: Drawing, made_reference: Made
) -> None:
    reference = made_reference()
    kept = reserved(squares, reference, square(40, 40, 3), LIMITS)
    back = released(kept, reference, 12, LIMITS)
    assert np.array_equal(back.shapes, squares.shapes)


# --- the graded background -------------------------------------------------------


@pytest.fixture
def graded(made_reference: Made) -> Reference:
    """A subject of 60 × 40 mm on a background that grows lighter downwards."""
    lab = np.zeros((90, 120, 3))
    lab[..., 0] = np.linspace(40, 90, 90)[:, None]
    zone = np.ones((90, 120))
    zone[30:70, 30:90] = 0
    lab[zone == 0] = (50.0, 30.0, 20.0)
    return made_reference(lab=lab, zone=zone, background="graded")


def test_strips_stay_and_only_reserves_are_cut_out_of_them(graded: Reference) -> None:
    drawing = drawing_of(graded, ShapeLimits(count=6))
    strip = graded_strips(graded, drawing.shapes)
    assert len(strip) == 24
    assert strip.tolist() == list(range(drawing.count - 24, drawing.count))
    top, below = int(strip[0]), int(strip[1])
    with pytest.raises(RequestError, match="graded background"):
        merged(drawing, graded, [top, below])
    with pytest.raises(RequestError, match="graded background"):
        shape_reserved(drawing, graded, top)
    with pytest.raises(RequestError, match="crosses no shape"):
        split(drawing, graded, [(5, 5), (20, 5)], LIMITS)
    with pytest.raises(RequestError, match="graded background"):
        border_redrawn(drawing, graded, [(5, 3.7), (10, 5), (15, 3.7)], LIMITS)
    moon = reserved(drawing, graded, square(95, 8, 15), LIMITS)
    check_sound(moon, graded)
    after = graded_strips(graded, moon.shapes, moon.reserves)
    assert np.array_equal(after, strip)
    assert moon.reserves == {drawing.count}
    back = released(moon, graded, drawing.count, LIMITS)
    assert np.array_equal(back.shapes, drawing.shapes)
    with pytest.raises(RequestError, match="graded background"):
        reserved(drawing, graded, [(0, 0), (120, 0), (120, 20), (0, 20)], LIMITS)


# --- edges -----------------------------------------------------------------------


def test_marks_are_kept_in_order(squares: Drawing) -> None:
    one = with_edge(squares, [(30, 5), (30, 25)], "soft")
    two = with_edge(one, [(30, 5), (30, 25)], "hard", 2.0)
    assert [m.kind for m in two.edge_marks] == ["soft", "hard"]
    assert two.edge_marks[0] == one.edge_marks[0]
    assert two.edge_marks[1].reach_mm == 2.0
    with pytest.raises(RequestError, match="hard"):
        with_edge(squares, [(30, 5), (30, 25)], "crisp")  # type: ignore[arg-type]
    with pytest.raises(RequestError, match="reaches between"):
        with_edge(squares, [(30, 5), (30, 25)], "hard", float("nan"))
    with pytest.raises(RequestError, match="at most 1000"):
        with_edge(replace(one, edge_marks=one.edge_marks * 1000), [(1, 1), (2, 2)], "hard")


# --- whatever the painter does ---------------------------------------------------

EDITS = ("merge", "split", "border", "reserve", "shape", "release", "edge")
points = st.lists(st.tuples(st.floats(-5.0, 65.0), st.floats(-5.0, 50.0)), min_size=2, max_size=7)


@given(data=st.data(), seed=st.integers(0, 50))
@settings(max_examples=80)
def test_any_row_of_edits_leaves_a_sound_drawing(
    made_reference: Made, data: st.DataObject, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    rows, cols = np.mgrid[0:45, 0:60]
    places = rng.uniform((0, 0), (45, 60), (9, 2))
    near = ((rows[..., None] - places[:, 0]) ** 2 + (cols[..., None] - places[:, 1]) ** 2).argmin(
        -1
    )
    zone = (cols + rows > 70).astype(np.int32)
    lab = rng.uniform(20, 90, (9, 1))[near] * np.array([1.0, 0.2, 0.1])
    reference = made_reference(lab=lab, zone=zone)
    drawing = Drawing(compact_labels(connected_parts((near * 2 + zone).astype(np.int32))), 1.0)
    limits = ShapeLimits(min_area_mm2=9.0)
    for _ in range(4):
        before = (drawing, drawing.shapes.copy())
        edit = data.draw(st.sampled_from(EDITS))
        shape = data.draw(st.integers(0, drawing.count))
        stroke = data.draw(points)
        try:
            if edit == "merge":
                drawing = merged(drawing, reference, [shape, *neighbours(drawing, shape)[:1]])
            elif edit == "split":
                drawing = split(drawing, reference, stroke, limits)
            elif edit == "border":
                drawing = border_redrawn(drawing, reference, stroke, limits)
            elif edit == "reserve":
                drawing = reserved(drawing, reference, stroke, limits)
            elif edit == "shape":
                drawing = shape_reserved(drawing, reference, shape)
            elif edit == "release":
                drawing = released(drawing, reference, shape, limits)
            else:
                drawing = with_edge(drawing, stroke, "lost")
        except RequestError:
            continue
        check_sound(drawing, reference)
        check_whole(drawing)
        assert drawing.by_hand
        assert len(drawing.reserves) < drawing.count
        assert np.array_equal(before[0].shapes, before[1])
