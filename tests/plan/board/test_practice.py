"""The table of trade figures is complete, ordered as painters would order it, and guarded."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.plan.board.practice import PRACTICE, TECHNIQUES, brush_mm, checked, practice_of


def test_every_technique_has_its_figures_and_a_reason() -> None:
    assert tuple(PRACTICE) == TECHNIQUES
    for name in TECHNIQUES:
        figures = practice_of(name)
        assert figures.why
        assert 0.0 < figures.carried <= 1.0
        assert figures.passes in (1, 2)
        assert figures.stroke_mm_s > 0.0


def test_water_falls_from_wet_in_wet_to_dry_brush() -> None:
    order = ["wet-in-wet", "graded", "wet-on-dry", "glaze", "dry-brush"]
    loads = [practice_of(name).water_gsm for name in order]
    assert loads == sorted(loads, reverse=True)


@pytest.mark.parametrize("name", ["", "Glaze", "oil", "wet on dry"])
def test_an_unknown_technique_is_refused_with_the_known_ones(name: str) -> None:
    with pytest.raises(RequestError, match="wet-on-dry, graded, wet-in-wet"):
        practice_of(name)


@given(area=st.floats(0.0, 1e6), areas=st.integers(1, 500), more=st.floats(1.0, 10.0))
def test_the_brush_suits_the_patch(area: float, areas: int, more: float) -> None:
    width = brush_mm(area, areas)
    assert 1.5 <= width <= 40.0
    assert brush_mm(area * more, areas) >= width
    assert brush_mm(area, areas + 1) <= width


def test_a_palm_is_painted_with_a_brush_of_three_centimetres() -> None:
    assert brush_mm(90.0 * 90.0) == pytest.approx(30.0)
    assert brush_mm(4 * 30.0 * 30.0, 4) == pytest.approx(10.0)


@pytest.mark.parametrize("value", [-1.0, 2.0, float("nan"), float("inf")])
def test_numbers_out_of_range_are_refused(value: float) -> None:
    with pytest.raises(RequestError, match="The share must lie between 0 and 1"):
        checked("share", value, 0.0, 1.0)
