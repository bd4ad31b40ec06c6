"""The tone map: within the span, monotone, smooth, and changing nothing between its knees."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from firstwash.plan.tone import END_SLOPE, ToneMap

LIGHTNESS = np.linspace(0.0, 100.0, 2001)
STEP = LIGHTNESS[1]

spans = st.tuples(st.floats(0.0, 90.0), st.floats(40.0, 100.0)).filter(lambda s: s[1] - s[0] > 1)
wide = st.tuples(st.floats(0.0, 30.0), st.floats(88.0, 100.0))


@given(span=spans)
def test_it_is_monotone_and_keeps_within_the_span(span: tuple[float, float]) -> None:
    tone = ToneMap(*span)
    mapped = tone.lightness(LIGHTNESS)
    assert np.diff(mapped).min() > 0  # two different values never become one
    assert mapped[0] == pytest.approx(span[0], abs=1e-9)
    assert mapped[-1] == pytest.approx(span[1], abs=1e-9)


@given(span=spans)
def test_its_slope_has_no_jump_and_never_exceeds_one(span: tuple[float, float]) -> None:
    tone = ToneMap(*span)
    slope = np.diff(tone.lightness(LIGHTNESS)) / STEP
    assert slope.max() <= 1 + 1e-9
    # A parabola over a knee of k units bends by at most 1/k a unit; a jump at a knee would show
    # however short the parabola, unless it is shorter than a few of our steps.
    low, high = tone.knees
    shortest = min((k for k in (low, 100.0 - high) if k > 0), default=100.0)
    assume(shortest > 10 * STEP)
    assert np.abs(np.diff(slope)).max() <= 1.01 * STEP / shortest + 1e-9


@given(span=wide)
def test_between_the_knees_nothing_changes(span: tuple[float, float]) -> None:
    tone = ToneMap(*span)
    assert tone.slope == 1.0
    low, high = tone.knees
    assert span[0] <= low < high <= span[1] or span == (0.0, 100.0)
    value = LIGHTNESS
    inside = value[(value > low) & (value <= high)]
    np.testing.assert_array_equal(tone.lightness(inside), inside)
    dark, light = value[value < low], value[value > high]
    assert (tone.lightness(dark) >= dark).all()
    assert (tone.lightness(light) <= light).all()


@pytest.mark.parametrize(("floor", "ceiling"), [(20.0, 94.5), (10.0, 96.0)])
def test_the_ends_keep_a_little_slope(floor: float, ceiling: float) -> None:
    tone = ToneMap(floor, ceiling)
    ends = tone.lightness([0.0, 0.01, 99.99, 100.0])
    np.testing.assert_allclose(np.diff(ends)[[0, 2]] / 0.01, END_SLOPE, rtol=0.01)


def test_a_full_span_changes_nothing() -> None:
    np.testing.assert_array_equal(ToneMap(0.0, 100.0).lightness(LIGHTNESS), LIGHTNESS)


def test_values_outside_are_clipped() -> None:
    tone = ToneMap(15.0, 95.0)
    np.testing.assert_array_equal(tone.lightness([-5.0, 105.0]), tone.lightness([0.0, 100.0]))


@pytest.mark.parametrize(("floor", "ceiling"), [(85.0, 94.5), (94.5, 94.5), (0.0, 20.0)])
def test_paints_of_little_range_share_it_out(floor: float, ceiling: float) -> None:
    # A single yellow spans ten units of lightness: the order of values must survive.
    tone = ToneMap(floor, ceiling)
    mapped = tone.lightness(LIGHTNESS)
    assert tone.knees[0] == tone.knees[1]
    assert (np.diff(mapped) >= 0).all()
    assert mapped.min() >= floor - 1e-9
    assert mapped.max() <= ceiling + 1e-9
    at_knee = tone.lightness(tone.knees[0] + np.array([-1e-6, 0.0, 1e-6]))
    assert np.ptp(at_knee) < 1e-5


def test_colour_is_kept_and_the_input_is_left_alone() -> None:
    lab = np.array([[[5.0, 20.0, -30.0], [99.0, 1.0, 2.0]]])
    before = lab.copy()
    mapped = ToneMap(15.0, 95.0)(lab)
    np.testing.assert_array_equal(lab, before)
    assert mapped.shape == lab.shape
    np.testing.assert_array_equal(mapped[..., 1:], lab[..., 1:])
    np.testing.assert_array_equal(mapped[..., 0], ToneMap(15.0, 95.0).lightness(lab[..., 0]))
