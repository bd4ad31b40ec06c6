"""Texture that hides lines, limits, and what is refused as a stroke."""

import numpy as np
import pytest

from firstwash.picture.stroke_fit import StrokeLimits, View, fit_dots, lines_of, masking, spots_of

LIMITS = StrokeLimits()


@pytest.mark.parametrize("ppmm", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("spread", [1.0, 3.0, 8.0])
def test_texture_hides_by_its_spread(ppmm: float, spread: float) -> None:
    side = round(60 * ppmm)
    noise = np.random.default_rng(5).normal(50.0, spread, (side, side)).astype(np.float32)
    hidden = masking(noise, ppmm)
    # 3 L* of texture halve what is seen squared. The middle of a window of bytes: eighths of L*.
    expected = np.sqrt(1.0 + (spread / 3.0) ** 2)
    np.testing.assert_allclose(np.median(hidden), expected, rtol=0.05)
    assert hidden.min() >= 1.0


def test_flat_paper_slopes_single_lines_and_edges_hide_nothing() -> None:
    y, x = np.mgrid[0:120, 0:160].astype(np.float32)
    line = np.where(np.abs(y - 60) < 2, 90.0, 50.0)
    edge = np.where(x > 80, 90.0, 20.0)
    for plane in (np.full((120, 160), 50.0), 0.3 * x, line, edge):
        assert np.median(masking(plane, 2.0)) < 1.01
    assert masking(line, 2.0).max() < 1.01


@pytest.mark.parametrize(
    "wrong",
    [
        {"most_dark": -1},
        {"most_light": -3},
        {"min_gain": -1.0},
        {"min_width_mm": 0.0},
        {"min_width_mm": 3.0},
        {"max_dot_mm": 0.2},
        {"min_length_mm": 0.0},
        {"min_contrast": 0.0},
        {"min_dot_contrast": -1.0},
    ],
)
def test_limits_that_no_stroke_can_meet_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"must|above"):
        StrokeLimits(**wrong)  # type: ignore[arg-type]


# --- spots -----------------------------------------------------------------------


def spot(radius: float, long: float = 1.0, ppmm: float = 2.0) -> np.ndarray:
    """L* (120, 120): a light ellipse at (30.2, 29.7) mm, its long axis slanting."""
    fine = 6
    y, x = (np.mgrid[0 : 120 * fine, 0 : 120 * fine] + 0.5) / (fine * ppmm)
    along, across = (x - 30.2) + (y - 29.7), (x - 30.2) - (y - 29.7)
    inside = (along / long) ** 2 + across**2 < 2 * radius**2
    return (40.0 + 50.0 * inside.reshape(120, fine, 120, fine).mean(axis=(1, 3))).astype(np.float32)


def view_of(plane: np.ndarray) -> View:
    ones = np.ones_like(plane)
    return View(plane, plane - 40.0, ones, ones, np.stack([plane, 0 * plane, 0 * plane], -1), 2.0)


@pytest.mark.parametrize("radius", [0.6, 1.0, 1.8])
def test_a_round_spot_becomes_a_dot_of_its_size(radius: float) -> None:
    plane = spot(radius)
    light, dark = spots_of(plane, 2.0, LIMITS)
    dots = list(fit_dots(view_of(plane), light, LIMITS))
    assert len(dots) == 1
    assert dark.contrast[50:70, 50:70].max() < 0.5 * light.contrast.max()
    np.testing.assert_allclose(dots[0].points, [[30.2, 29.7]], atol=0.15)
    # The smallest is a little more than two pixels wide.
    np.testing.assert_allclose(dots[0].radii, radius, rtol=0.1)
    assert dots[0].contrast == pytest.approx(50.0, rel=0.15)


def test_a_long_spot_becomes_a_short_stroke_along_it() -> None:
    plane = spot(0.8, 2.2)
    (dot,) = fit_dots(view_of(plane), spots_of(plane, 2.0, LIMITS)[0], LIMITS)
    assert len(dot.points) == 3
    way = dot.points[2] - dot.points[0]
    assert abs(way[0] - way[1]) < 0.1 * np.abs(way).sum()
    length = np.linalg.norm(way) + 2 * dot.radii[0]
    np.testing.assert_allclose([length, 2 * dot.radii[1]], [2 * 0.8 * 2.2, 1.6], rtol=0.15)


def test_large_spots_and_lines_are_no_dots() -> None:
    for plane in (spot(4.0), spot(0.7, 5.0)):
        assert list(fit_dots(view_of(plane), spots_of(plane, 2.0, LIMITS)[0], LIMITS)) == []


def test_lines_of_any_width_allowed_are_seen() -> None:
    for width in (0.5, 1.0, 2.0):
        y = (np.arange(1200) + 0.5) / 20.0
        rows = 50.0 + 20.0 * (np.abs(y - 30.1) < width / 2).reshape(120, 10).mean(axis=1)
        plane = np.tile(rows[:, None], (1, 100)).astype(np.float32)
        light, dark = lines_of(plane, 2.0, LIMITS)
        assert light.contrast[59:62, 20:80].max(axis=0).min() > 5.0
        assert dark.contrast[59:62, 20:80].max() == 0.0
