"""Letters around a drawing: room for each, and no two lines that cross."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.handout.map_letters import Frame, leads_cross, place_letters, places

FRAME = Frame(380.0, 280.0, 10.0)


def ports(leads: list) -> np.ndarray:
    return np.array([lead.port for lead in leads])


@given(st.integers(0, 10_000), st.integers(1, 60))
def test_no_two_lines_cross_and_letters_have_room(seed: int, count: int) -> None:
    anchors = np.random.default_rng(seed).uniform((2, 2), (378, 278), (count, 2))
    leads = place_letters(anchors, FRAME)
    assert not leads_cross(anchors, ports(leads)).any()
    assert [lead.anchor for lead in leads] == [tuple(a) for a in anchors.tolist()]
    for side in ("left", "top", "right", "bottom"):
        own = np.sort([lead.along for lead in leads if lead.side == side])
        # Rounding is all that two letters may come nearer than their room.
        assert (np.diff(own) > FRAME.gap(side) - 1e-6).all()
        assert not len(own) or (own[0] > 0 and own[-1] < FRAME.length(side))


def test_a_single_line_is_square_to_the_nearest_side() -> None:
    (lead,) = place_letters(np.array([[371.0, 133.0]]), FRAME)
    assert lead.side == "right"
    assert lead.port == (380.0, pytest.approx(133.0))


def test_the_same_drawing_gives_the_same_letters() -> None:
    anchors = np.random.default_rng(5).uniform((2, 2), (378, 278), (40, 2))
    assert place_letters(anchors, FRAME) == place_letters(anchors, FRAME)


def test_more_letters_than_places_are_refused() -> None:
    anchors = np.zeros((len(places(FRAME)) + 1, 2))
    with pytest.raises(ValueError, match="do not fit"):
        place_letters(anchors, FRAME)
    assert place_letters(np.empty((0, 2)), FRAME) == []


def test_crossing_lines_are_seen() -> None:
    anchors = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]])
    ends = np.array([[10.0, 10.0], [0.0, 10.0], [20.0, 10.0]])
    assert leads_cross(anchors, ends).tolist() == [
        [False, True, False],
        [True, False, False],
        [False, False, False],
    ]
