"""Value steps, their agreement, and the space in which distances look even."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.optics.difference import delta_e_2000
from firstwash.picture.values import even_space, value_step, value_steps_agree

lightness = arrays(float, st.integers(1, 20), elements=st.floats(0.0, 100.0))
labs = arrays(float, (5, 3), elements=st.floats(-100.0, 100.0))


@pytest.mark.parametrize(
    ("value", "step"),
    [(0, 1), (9.999, 1), (10, 2), (49.9, 5), (50, 6), (90, 10), (100, 10), (-3, 1), (130, 10)],
)
def test_ten_steps_from_dark_to_paper_white(value: float, step: int) -> None:
    assert value_step(value) == step


@given(lightness, st.integers(1, 12))
def test_steps_rise_with_lightness_and_stay_in_range(values: np.ndarray, steps: int) -> None:
    found = value_step(np.sort(values), steps)
    assert (np.diff(found) >= 0).all()
    assert found.min() >= 1
    assert found.max() <= steps
    # The step's own middle lies within half a step.
    middle = (found - 0.5) * 100.0 / steps
    assert (np.abs(middle - np.sort(values)) <= 50.0 / steps + 1e-9).all()


def test_agreement_is_the_share_of_equal_steps() -> None:
    ours, theirs = np.array([5.0, 25.0, 45.0, 99.0]), np.array([15.0, 41.0, 59.0, 100.0])
    assert value_steps_agree(ours, theirs, 5) == 0.75
    assert value_steps_agree(ours, ours, 5) == 1.0
    assert value_steps_agree(ours, theirs, 1) == 1.0
    assert value_steps_agree(100 - ours, ours, 2) == 0.0


@given(lightness)
def test_agreement_has_no_order(values: np.ndarray) -> None:
    other = np.roll(values, 1)
    assert value_steps_agree(values, other) == value_steps_agree(other, values)


@given(labs)
def test_even_space_keeps_lightness_hue_and_order_of_chroma(lab: np.ndarray) -> None:
    even = even_space(lab)
    assert even.dtype == np.float32
    np.testing.assert_array_equal(even[:, 0], lab[:, 0].astype(np.float32))
    chroma, squeezed = np.hypot(lab[:, 1], lab[:, 2]), np.hypot(even[:, 1], even[:, 2])
    assert (squeezed <= chroma * (1 + 1e-6)).all()  # kept as float32
    np.testing.assert_allclose(squeezed, np.log1p(0.045 * chroma) / 0.045, rtol=1e-5, atol=1e-6)
    cross = even[:, 1] * lab[:, 2] - even[:, 2] * lab[:, 1]
    np.testing.assert_allclose(cross, 0.0, atol=1e-3)  # products of float32 up to 10 000


def test_even_space_measures_chroma_as_ciede2000_does() -> None:
    # Small steps of chroma at a hue and lightness where only SC weighs them.
    for chroma in (5.0, 20.0, 60.0):
        pair = np.array([[50.0, 0.0, chroma - 0.1], [50.0, 0.0, chroma + 0.1]])
        step = float(np.linalg.norm(np.diff(even_space(pair), axis=0)))
        # Within a few per cent: G stretches a* only, and float32 keeps four digits of 0.2.
        assert step == pytest.approx(float(delta_e_2000(*pair)), rel=0.03)


def test_grey_stays_grey() -> None:
    np.testing.assert_array_equal(even_space([[50.0, 0.0, 0.0]]), [[50.0, 0.0, 0.0]])


def test_colours_have_three_numbers() -> None:
    with pytest.raises(ValueError, match="last axis"):
        even_space(np.zeros((4, 2)))
