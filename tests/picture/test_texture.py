"""Roughness of shapes: what counts as grain, what does not, and hostile maps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from firstwash.picture.texture import ROUGH, SMOOTH, roughness, roughness_of

PPMM = 2.0
SIZE = (120, 160)  # 60 × 80 mm


def speckle(sd: float, grain_mm: float, ppmm: float = PPMM, size: tuple[int, int] = SIZE):
    """L* (rows, cols) around 60: noise of one grain size with the standard deviation asked."""
    rng = np.random.default_rng(1)
    plane = gaussian_filter(rng.normal(size=size), grain_mm * ppmm / 2.0, mode="wrap")
    return 60.0 + sd * plane / plane.std()


def whole(size: tuple[int, int] = SIZE) -> np.ndarray:
    return np.zeros(size, dtype=np.int32)


def test_a_flat_shape_and_a_slow_gradient_are_smooth() -> None:
    assert roughness(np.full(SIZE, 50.0), whole(), PPMM).tolist() == [0.0]
    slope = np.linspace(20.0, 90.0, SIZE[1])[None].repeat(SIZE[0], axis=0)
    assert roughness(slope, whole(), PPMM)[0] < 0.05  # the shape's ends are all that shows


def test_grain_of_one_or_two_millimetres_is_rough() -> None:
    for grain in (1.0, 1.5, 2.0):
        assert roughness(speckle(8.0, grain), whole(), PPMM)[0] > 0.9


def test_form_is_not_grain() -> None:
    fine, broad = (roughness(speckle(6.0, g), whole(), PPMM)[0] for g in (1.0, 15.0))
    assert fine > 0.9
    assert broad < 0.1


def test_more_contrast_is_rougher() -> None:
    found = [roughness(speckle(sd, 1.2), whole(), PPMM)[0] for sd in (0.0, 1.0, 2.0, 4.0, 8.0)]
    assert found == sorted(found)
    assert found[0] == 0.0
    assert found[-1] == 1.0


def test_pixels_per_mm_do_not_matter_much() -> None:
    # The same sheet at other resolutions; the discs are whole pixels, so not to the digit.
    coarse = roughness(speckle(3.0, 2.0, 1.0, (60, 80)), whole((60, 80)), 1.0)[0]
    fine = roughness(speckle(3.0, 2.0, 4.0, (240, 320)), whole((240, 320)), 4.0)[0]
    assert coarse == pytest.approx(fine, abs=0.25)


def test_a_rough_neighbour_and_an_edge_between_do_not_spoil_a_smooth_shape() -> None:
    plane, labels = speckle(10.0, 1.2), whole()
    plane[:, :80], labels[:, 80:] = 95.0, 1
    smooth, rough = roughness(plane, labels, PPMM)
    assert smooth == 0.0
    assert rough == 1.0


def test_a_highlight_inside_a_shape_is_no_grain() -> None:
    plane = np.full(SIZE, 40.0)
    plane[50:60, 60:90] = 95.0
    assert roughness(plane, whole(), PPMM)[0] == 0.0


def test_a_shape_between_the_samples_counts_as_rough() -> None:
    labels = whole()
    labels[1, 1] = 1  # a lone pixel that no sample at 1 per mm hits
    assert roughness(np.full(SIZE, 50.0), labels, PPMM).tolist() == [0.0, 1.0]


@given(st.floats(0.0, 1e6))
def test_roughness_lies_between_0_and_1_and_rises(deviation: float) -> None:
    found = float(roughness_of(np.array(deviation)))
    assert 0.0 <= found <= 1.0
    assert found == 0.0 or deviation > SMOOTH
    assert found == 1.0 or deviation < ROUGH


def test_the_same_picture_gives_the_same_bits() -> None:
    plane, labels = speckle(3.0, 1.5), whole()
    labels[40:] = 1
    np.testing.assert_array_equal(
        roughness(plane, labels, PPMM), roughness(plane.copy(), labels.copy(), PPMM)
    )
