"""Where things lie on the card: nothing overlaps, everything painted is inside its window."""

import itertools

import numpy as np
import pytest

from firstwash.card.layout import (
    BARE,
    COLUMNS,
    DILUTIONS,
    FIRST_MARKER,
    HEIGHT_MM,
    MARKERS,
    ROWS,
    WIDTH_MM,
    Box,
    kind_of,
    line_box,
    marker_corners,
    place_name,
    sample_box,
    slot_box,
    swatch_box,
)

PLACES = tuple(itertools.product(range(ROWS), range(COLUMNS)))


def inside(inner: Box, outer: Box) -> bool:
    low, high = inner.corners[0], inner.corners[2]
    return bool((low >= outer.corners[0] - 1e-9).all() and (high <= outer.corners[2] + 1e-9).all())


def apart(a: Box, b: Box, by: float = 0.0) -> bool:
    """Whether two boxes are at least `by` mm away from each other, across or down."""
    across = max(a.x, b.x) - min(a.x + a.width, b.x + b.width)
    down = max(a.y, b.y) - min(a.y + a.height, b.y + b.height)
    return max(across, down) >= by - 1e-9


CARD = Box(0.0, 0.0, WIDTH_MM, HEIGHT_MM)


@pytest.mark.parametrize("row", range(ROWS))
def test_every_place_lies_in_its_window(row: int) -> None:
    slot = slot_box(row)
    assert inside(slot, CARD)
    for column in range(COLUMNS):
        swatch = swatch_box(row, column)
        assert inside(swatch, slot)
        assert inside(sample_box(row, column), swatch)
        assert inside(line_box(row, column), slot)


@pytest.mark.parametrize("row", range(ROWS))
def test_what_is_read_stays_clear_of_edges_and_of_the_pen_line(row: int) -> None:
    """A brush wobbles by up to a millimetre, and paint dries darker along its rim."""
    for column in range(COLUMNS):
        swatch, line = swatch_box(row, column), line_box(row, column)
        read = sample_box(row, column)
        assert read.x - swatch.x >= 1.5
        assert swatch.x + swatch.width - read.x - read.width >= 1.5
        assert swatch.y + swatch.height - read.y - read.height >= 1.5
        assert read.y >= line.y + line.height
        assert read.width * read.height > 25.0  # mm²: thousands of pixels at 8 to the mm


def test_neighbours_never_overlap_and_paper_shows_between() -> None:
    for row in range(ROWS):
        boxes = [swatch_box(row, c) for c in range(COLUMNS)]
        for a, b in itertools.pairwise(boxes):
            assert b.x - a.x - a.width > 2.5  # wide enough to judge the light there
    for a, b in itertools.pairwise(range(ROWS)):
        assert apart(slot_box(a), slot_box(b), by=9.0)  # the captions' height


def test_markers_are_clear_of_windows_and_of_each_other() -> None:
    assert list(MARKERS) == list(range(FIRST_MARKER, FIRST_MARKER + 12))
    for box in MARKERS.values():
        assert inside(box, CARD)
        assert box.width == box.height
        # A tag of eight modules needs a white module around it to be seen.
        for row in range(ROWS):
            assert apart(box, slot_box(row), by=box.width / 8)
    for a, b in itertools.combinations(MARKERS.values(), 2):
        assert apart(a, b, by=a.width / 8)


def test_markers_hold_the_whole_card() -> None:
    corners = np.concatenate([marker_corners(n) for n in MARKERS])
    np.testing.assert_allclose(corners.min(axis=0), 0.0)
    np.testing.assert_allclose(corners.max(axis=0), [WIDTH_MM, HEIGHT_MM])


def test_marker_corners_run_clockwise_from_the_upper_left() -> None:
    for number, box in MARKERS.items():
        corners = marker_corners(number)
        np.testing.assert_array_equal(corners[0], [box.x, box.y])
        x, y = (corners - corners.mean(axis=0)).T
        # With y downwards, clockwise is a growing angle.
        turned = np.unwrap(np.arctan2(y, x))
        assert (np.diff(turned) > 0).all()


def test_names() -> None:
    assert place_name(0, 0) == "A1"
    assert place_name(7, 13) == "H14"
    assert len({place_name(*p) for p in PLACES}) == ROWS * COLUMNS


def test_kinds() -> None:
    kinds = [kind_of(c) for c in range(COLUMNS)]
    assert [i for i, k in enumerate(kinds) if k == "bare"] == list(BARE) == [0, 11]
    assert kinds.count("dilution") == len(DILUTIONS) == 6
    others = {"pale", "dark", "yellow", "blue", "double", "over"}
    assert {k for k in kinds if k not in ("bare", "dilution")} == others
    np.testing.assert_allclose(np.divide(DILUTIONS[1:], DILUTIONS[:-1]), 2.0)
    assert DILUTIONS[-1] == 1.0


def test_boxes_shrink_from_all_sides() -> None:
    box = Box(1.0, 2.0, 10.0, 6.0)
    assert box.shrunk(1.0) == Box(2.0, 3.0, 8.0, 4.0)
    assert box.shrunk(-1.0).shrunk(1.0) == box
    np.testing.assert_array_equal(box.corners, [[1, 2], [11, 2], [11, 8], [1, 8]])
