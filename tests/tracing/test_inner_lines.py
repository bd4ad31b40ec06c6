"""Inner lines: edges and thin lines once, texture not, nothing beside what is drawn."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from firstwash.tracing.inner_lines import InnerLine, InnerPicture, inner_lines
from firstwash.tracing.room import CLEAR_MM, Room

PPMM = 2.0
SHAPE = (200, 240)  # 100 × 120 mm


def found(lightness: np.ndarray, room: Room | None = None, least: float = 8.0) -> list[InnerLine]:
    lab = np.zeros((*SHAPE, 3))
    lab[..., 0] = lightness
    picture = InnerPicture(lab, np.ones(SHAPE, dtype=np.float32), PPMM)
    return inner_lines(picture, room or Room(SHAPE, PPMM), least, 8.0)


def places(lines: list[InnerLine]) -> np.ndarray:
    return np.concatenate([own.line.points for own in lines])


def x_of() -> np.ndarray:
    return np.broadcast_to((np.arange(SHAPE[1]) + 0.5) / PPMM, SHAPE)


def test_an_edge_is_one_line_where_it_is() -> None:
    lines = found(np.where(x_of() < 60.0, 40.0, 70.0))
    assert len(lines) == 1
    assert places(lines)[:, 0] == pytest.approx(60.0, abs=0.3)  # half a pixel and smoothing
    assert lines[0].line.length_mm > 85.0


def test_a_thin_line_is_one_line_and_not_its_two_edges() -> None:
    lines = found(np.where(np.abs(x_of() - 60.0) < 0.8, 25.0, 70.0))
    assert len(lines) == 1
    assert places(lines)[:, 0] == pytest.approx(60.0, abs=0.3)


def test_a_gentle_gradient_is_no_line() -> None:
    assert found(30.0 + 40.0 * x_of() / 120.0) == []


def test_hair_is_not_drawn() -> None:
    """A line every 3 mm, with an edge of less than twice its contrast beside: only the edge."""
    hair = 50.0 + 8.0 * np.sin(2.0 * np.pi * x_of() / 3.0)
    assert found(hair) == []
    lines = found(np.where(x_of() < 60.0, 60.0, 30.0))
    assert len(lines) == 1


def test_nothing_beside_a_contour() -> None:
    room = Room(SHAPE, PPMM)
    contour = np.column_stack([np.full(200, 60.8), np.linspace(0.0, 100.0, 200)])
    room.take(contour)
    assert found(np.where(x_of() < 60.0, 40.0, 70.0), room) == []


def test_the_best_come_first_and_keep_apart() -> None:
    light = np.where(x_of() < 30.0, 30.0, np.where(x_of() < 80.0, 70.0, 85.0))
    lines = found(light)
    worth = [own.worth for own in lines]
    assert worth == sorted(worth, reverse=True)
    assert np.median(lines[0].line.points[:, 0]) == pytest.approx(30.0, abs=0.3)
    for own in lines:
        rest = [other.line.points for other in lines if other is not own]
        if rest:
            assert cKDTree(np.concatenate(rest)).query(own.line.points)[0].min() > 1.2


def test_room_is_clear_again_beyond_its_reach() -> None:
    room = Room(SHAPE, PPMM)
    room.take(np.array([[10.0, 50.0], [110.0, 50.0]]))
    beside = np.array([[60.0, 50.0 + away] for away in (0.0, 1.0, CLEAR_MM + 1.0, 9.0)])
    assert room.free(beside).tolist() == [False, False, True, True]
    assert room.alongside(beside) == pytest.approx(0.75)
