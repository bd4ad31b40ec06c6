"""Colour differences: symmetry, residuals, greys, shapes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.optics.difference import (
    delta_e_1976,
    delta_e_2000,
    delta_e_2000_1,
    delta_e_2000_residuals_1,
)

lab = st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)).map(np.array)
grey = st.floats(0, 100).map(lambda L: np.array([L, 0.0, 0.0]))


@given(a=lab, b=lab)
def test_difference_is_symmetric(a: np.ndarray, b: np.ndarray) -> None:
    # Swapping changes only the order in which the same numbers are added.
    assert delta_e_2000_1(a, b) == pytest.approx(delta_e_2000_1(b, a), rel=1e-9, abs=1e-12)
    assert delta_e_1976(a, b) == delta_e_1976(b, a)


@given(a=lab)
def test_a_colour_does_not_differ_from_itself(a: np.ndarray) -> None:
    assert delta_e_2000_1(a, a) == 0
    assert delta_e_1976(a, a) == 0


@given(a=lab, b=lab)
def test_residuals_have_the_difference_as_length(a: np.ndarray, b: np.ndarray) -> None:
    length = np.linalg.norm(delta_e_2000_residuals_1(a, b))
    assert np.isfinite(length)
    assert length == pytest.approx(float(delta_e_2000(a, b)), rel=1e-12)


@given(a=lab, b=lab)
def test_lightness_residual_has_the_sign_of_the_lightness_step(
    a: np.ndarray, b: np.ndarray
) -> None:
    light, _, _ = delta_e_2000_residuals_1(a, b)
    assert np.sign(light) == np.sign(a[0] - b[0])


@given(a=grey, b=grey)
def test_greys_differ_by_lightness_only(a: np.ndarray, b: np.ndarray) -> None:
    light, chroma, hue = delta_e_2000_residuals_1(a, b)
    assert chroma == 0
    assert hue == 0
    # Squares of lightness steps below 1e-150 underflow.
    assert abs(light) == pytest.approx(delta_e_2000_1(a, b), rel=1e-12, abs=1e-100)


@given(a=grey, b=lab)
def test_against_grey_there_is_no_hue_term(a: np.ndarray, b: np.ndarray) -> None:
    assert delta_e_2000_residuals_1(a, b)[2] == 0
    # [Sharma2005] eq. 7, 10, 14: the hue of a grey is nought and takes no part in the mean.
    # So the difference hardly moves when the grey is given a trace of hue: the hue term is at
    # most 2·√(c1·c2), here 2·√(1.5e-9 · 170) = 1e-3.
    trace = a + np.array([0.0, 1e-9, -1e-9])
    assert delta_e_2000_1(trace, b) == pytest.approx(delta_e_2000_1(a, b), abs=1e-3)


def test_opposite_hues_of_the_same_chroma() -> None:
    # 180° apart: the mean hue is ambiguous, the difference must still be finite and symmetric.
    a, b = np.array([50.0, 30.0, 0.0]), np.array([50.0, -30.0, 0.0])
    assert delta_e_2000_1(a, b) == delta_e_2000_1(b, a)
    assert 0 < delta_e_2000_1(a, b) < 60


def test_arrays_broadcast() -> None:
    pictures = np.zeros((4, 5, 3))
    pictures[..., 0] = 50
    assert delta_e_2000(pictures, [60, 0, 0]).shape == (4, 5)
    assert delta_e_1976(pictures, [60, 0, 0]).shape == (4, 5)
    assert delta_e_1976([50, 3, 4], [50, 0, 0]) == 5
    assert delta_e_2000([50, 3, 4], [50, 0, 0]).shape == ()


@pytest.mark.parametrize("function", [delta_e_1976, delta_e_2000])
def test_colours_have_three_coordinates(function) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match="3 entries"):
        function([1.0, 2.0], [1.0, 2.0])
