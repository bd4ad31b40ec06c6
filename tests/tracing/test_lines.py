"""The outline follows known contours, each once, smoothly, at the sheet's true size."""

import math

import numpy as np
import pytest
from scipy.spatial import cKDTree

from firstwash.errors import RequestError
from firstwash.tracing.lines import trace
from firstwash.tracing.model import KINDS, Line, Tracing

WIDE, HIGH = 150.0, 110.0  # as in conftest


@pytest.fixture(scope="module")
def traced(drawn) -> Tracing:  # type: ignore[no-untyped-def]
    return trace(drawn.made.plan, drawn.made.reference, 0.5)


def points(lines: tuple[Line, ...]) -> np.ndarray:
    return np.concatenate([line.points(24) for line in lines])


@pytest.mark.parametrize("name", ["plate", "box", "shadow"])
def test_known_contours_are_followed(drawn, traced: Tracing, name: str) -> None:  # type: ignore[no-untyped-def]
    away = cKDTree(points(traced.lines)).query(getattr(drawn, name))[0]
    # Shapes are found at two pixels to a mm and corners are a little rounded.
    assert np.mean(away < 1.0) > 0.95
    assert np.median(away) < 0.35


def test_the_dark_line_inside_the_plate_is_drawn(drawn, traced: Tracing) -> None:  # type: ignore[no-untyped-def]
    inside = drawn.fold[8:-8]  # its tips may be cut
    away = cKDTree(points(traced.lines)).query(inside)[0]
    assert np.mean(away < 1.0) > 0.9


def test_nothing_else_is_drawn(drawn, traced: Tracing) -> None:  # type: ignore[no-untyped-def]
    known = np.concatenate([drawn.plate, drawn.box, drawn.shadow, drawn.fold])
    away = cKDTree(known).query(points(traced.lines))[0]
    assert np.mean(away < 2.0) > 0.95


def test_no_border_is_drawn_twice(traced: Tracing) -> None:
    """Away from where they meet, no line runs within 1.2 mm of another."""
    for k, line in enumerate(traced.lines):
        others = [n for j, n in enumerate(traced.lines) if j != k]
        if not others:
            continue
        middle = line.points(24)
        away = cKDTree(points(tuple(others))).query(middle)[0]
        assert np.mean(away < 1.2) < 0.15


def test_no_stair_steps(traced: Tracing) -> None:
    """Along the plate's rim the direction turns one way, not to and fro."""
    rim = max(traced.of("contour"), key=lambda line: line.length_mm)
    way = np.diff(rim.points(6), axis=0)
    way = way[np.linalg.norm(way, axis=1) > 1e-6]
    turn = np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0]))))
    to_and_fro = np.abs(turn).sum() - abs(turn.sum())
    assert to_and_fro < math.radians(2.0) * rim.length_mm  # half a degree each quarter of a mm


def test_all_lies_on_the_sheet(traced: Tracing) -> None:
    places = points(traced.lines)
    assert places.min() > -0.6  # curves may swell by a pixel at the border
    assert (places.max(axis=0) < [WIDE + 0.6, HIGH + 0.6]).all()
    assert (traced.width_mm, traced.height_mm) == (WIDE, HIGH)


def test_lines_are_whole_and_sorted(traced: Tracing) -> None:
    importance = [line.importance for line in traced.lines]
    assert importance == sorted(importance, reverse=True)
    for line in traced.lines:
        assert line.kind in KINDS
        assert 0.0 <= line.importance <= 1.0
        assert 0.1 <= line.weight <= 1.0
        np.testing.assert_allclose(line.curves[1:, 0], line.curves[:-1, 3], atol=1e-9)
        if line.closed:
            np.testing.assert_allclose(line.curves[-1, 3], line.curves[0, 0], atol=1e-6)


def test_the_same_plan_gives_the_same_lines(drawn, traced: Tracing) -> None:  # type: ignore[no-untyped-def]
    again = trace(drawn.made.plan, drawn.made.reference, 0.5)
    assert len(again.lines) == len(traced.lines)
    for one, other in zip(again.lines, traced.lines, strict=True):
        np.testing.assert_array_equal(one.curves, other.curves)


def test_more_detail_draws_more(drawn) -> None:  # type: ignore[no-untyped-def]
    lengths = [
        sum(line.length_mm for line in trace(drawn.made.plan, drawn.made.reference, d).lines)
        for d in (0.0, 0.5, 1.0)
    ]
    assert 0.0 < lengths[0] <= 1.1 * lengths[1] <= 1.21 * lengths[2]


@pytest.mark.parametrize("detail", [-0.1, 1.1, math.nan, math.inf])
def test_other_details_are_refused(drawn, detail: float) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(RequestError, match="between"):
        trace(drawn.made.plan, drawn.made.reference, detail)


def test_mirrored_twice_is_the_same(traced: Tracing) -> None:
    turned = traced.mirrored()
    np.testing.assert_allclose(
        turned.lines[0].curves[..., 0], WIDE - traced.lines[0].curves[..., 0]
    )
    again = turned.mirrored()
    np.testing.assert_allclose(again.lines[0].curves, traced.lines[0].curves, atol=1e-9)
