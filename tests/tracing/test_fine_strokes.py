"""Fine strokes: lights as closed outlines, thin ones as a line, strong darks only."""

import numpy as np
import pytest

from firstwash.picture.stroke_render import Stroke
from firstwash.plan.touches import Touch
from firstwash.tracing.fine_strokes import dark_lines, light_lines
from firstwash.tracing.room import Room


def touch(
    points: list[tuple[float, float]], radius: float, light: bool, gain: float = 1.0,
    contrast: float = 30.0,
) -> Touch:  # fmt: skip
    stroke = Stroke(
        np.array(points), np.full(len(points), radius), "light" if light else "dark",
        (50.0, 0.0, 0.0), gain, contrast,
    )  # fmt: skip
    if light:
        return Touch(stroke, "masked", 0, None, None, (90.0, 0.0, 0.0), gain)
    return Touch(stroke, "laid last", None, 0, 1.0, (20.0, 0.0, 0.0), gain)


def row(y: float, n: int = 20) -> list[tuple[float, float]]:
    return [(10.0 + 0.5 * k, y) for k in range(n)]


def room() -> Room:
    return Room((200, 200), 2.0)


def test_a_broad_light_is_outlined() -> None:
    (line,) = light_lines([touch(row(30.0), 1.5, True)], 1.0, room())
    assert line.ring
    np.testing.assert_allclose(line.points[0], line.points[-1], atol=1e-9)
    # From the stroke's middle to the outline it is its half-width, tips included.
    assert line.points[:, 1].min() == pytest.approx(28.5, abs=0.1)
    assert line.points[:, 1].max() == pytest.approx(31.5, abs=0.1)
    assert line.points[:, 0].min() == pytest.approx(8.5, abs=0.15)
    assert line.points[:, 0].max() == pytest.approx(21.0, abs=0.15)


def test_a_thin_light_is_one_line() -> None:
    (line,) = light_lines([touch(row(30.0), 0.3, True)], 1.0, room())
    assert not line.ring
    assert line.points[:, 1] == pytest.approx(30.0)


def test_a_dot_is_a_ring() -> None:
    (line,) = light_lines([touch([(40.0, 40.0)], 1.0, True)], 1.0, room())
    assert np.linalg.norm(line.points - 40.0, axis=1) == pytest.approx(1.0)


def test_less_detail_keeps_those_with_most_gain() -> None:
    lights = [touch(row(10.0 * k), 0.3, True, gain=float(k)) for k in range(1, 10)]
    (line,) = light_lines(lights, 0.0, room())
    assert line.points[0, 1] == pytest.approx(90.0)
    assert len(light_lines(lights, 1.0, room())) == 9


def test_only_strong_darks_are_drawn() -> None:
    darks = [touch(row(30.0), 0.3, False, contrast=c) for c in (12.0, 28.0)]
    assert len(dark_lines(darks, 20.0, room())) == 1
    assert light_lines(darks, 1.0, room()) == []


def test_what_is_drawn_already_is_not_drawn_again() -> None:
    taken = room()
    taken.take(np.array(row(30.4)))
    assert light_lines([touch(row(30.0), 0.3, True)], 1.0, taken) == []
