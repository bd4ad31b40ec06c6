"""Lightest lights and darkest darks: found where they were put, told where they are."""

import numpy as np
import pytest

from firstwash.picture.extremes import extremes


def grey(rows: int = 120, cols: int = 160) -> np.ndarray:
    return np.full((rows, cols), 50.0)


def test_they_are_found_where_they_were_put() -> None:
    plane = grey()
    plane[10:20, 10:30] = 95.0
    plane[95:110, 130:150] = 8.0
    found = extremes(plane, 1.0)
    (light,) = found.lights
    assert 10 <= light.x_mm <= 30
    assert 10 <= light.y_mm <= 20
    # Blurred by a brush's width, so a little of the border is lost.
    assert 100 <= light.area_mm2 <= 240
    assert light.lightness == pytest.approx(95, abs=6)
    (dark,) = found.darks
    assert 130 <= dark.x_mm <= 150
    assert dark.step == 1 or dark.lightness > 10
    assert found.words == (
        f"The lightest lights (value {light.step} of 10) are upper left; the darkest darks "
        f"(value {dark.step} of 10) lower right."
    )


def test_values_are_told_as_the_painter_counts_them() -> None:
    plane = grey()
    plane[10:40, 10:40] = 95.0
    plane[80:110, 120:150] = 2.0
    found = extremes(plane, 1.0, 5, "light")
    assert "lights (value 1 of 5)" in found.words
    assert "darks (value 5 of 5)" in found.words
    assert (found.lights[0].step, found.darks[0].step) == (10, 1)  # always of ten


def test_glints_are_left_out_where_there_is_something_larger() -> None:
    plane = grey()
    plane[50, 80] = 100.0  # one square millimetre
    plane[10:20, 10:30] = 90.0
    found = extremes(plane, 1.0)
    assert all(e.area_mm2 >= 6.0 for e in found.lights)


def test_a_picture_of_one_value_says_so() -> None:
    found = extremes(grey(), 1.0)
    assert "one value" in found.words
    assert found.lights
    assert found.darks


def test_scale_does_not_matter() -> None:
    plane = grey()
    plane[10:20, 10:30] = 95.0
    plane[95:110, 130:150] = 8.0
    large = np.kron(plane, np.ones((2, 2)))
    assert extremes(large, 2.0).words == extremes(plane, 1.0).words


def test_the_heart_lies_inside_a_ring() -> None:
    y, x = np.mgrid[:120, :160]
    r = np.hypot(y - 60, x - 80)
    plane = np.where((r > 30) & (r < 40), 95.0, 40.0)
    (light,) = extremes(plane, 1.0).lights
    assert 30 < np.hypot(light.y_mm - 60, light.x_mm - 80) < 40


@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (50, 1), (3, 400)])
def test_tiny_pictures(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(2)
    found = extremes(100 * rng.random(shape), 1.0)
    assert found.lights
    assert found.darks
