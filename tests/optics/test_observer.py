"""From spectra to colours: round trips, whites, clipping, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.optics.grid import N_BANDS, STEP_NM, WAVELENGTHS_NM
from firstwash.optics.observer import (
    LIGHTS,
    LightName,
    lab_to_srgb8,
    lab_to_xyz,
    lab_to_xyz_1,
    light,
    linear_srgb_to_xyz,
    munsell_value,
    reflectance_to_lab,
    reflectance_to_xyz,
    srgb_decode,
    srgb_encode,
    xyz_to_lab,
    xyz_to_lab_1,
    xyz_to_linear_srgb,
)

any_light = st.sampled_from(LIGHTS)
spectra = arrays(float, N_BANDS, elements=st.floats(0.0, 1.0))


def test_the_grid() -> None:
    assert N_BANDS == 36
    assert (WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1]) == (380, 730)
    assert (np.diff(WAVELENGTHS_NM) == STEP_NM).all()
    with pytest.raises(ValueError, match="read-only"):
        WAVELENGTHS_NM[0] = 400


@pytest.mark.parametrize("name", LIGHTS)
def test_perfect_white_and_black(name: LightName) -> None:
    # Not a tolerance of colour but of rounding: 36 weights are summed in two orders.
    np.testing.assert_allclose(reflectance_to_lab(np.ones(N_BANDS), name), [100, 0, 0], atol=1e-12)
    np.testing.assert_allclose(reflectance_to_lab(np.zeros(N_BANDS), name), [0, 0, 0], atol=1e-12)
    # The table keeps nine decimals; 36 of them sum to within 2e-9 of one.
    assert reflectance_to_xyz(np.ones(N_BANDS), name)[1] == pytest.approx(1, abs=5e-9)


@given(name=any_light, grey=st.floats(0.0, 1.0))
def test_a_flat_spectrum_is_grey_under_every_light(name: LightName, grey: float) -> None:
    _, a, b = reflectance_to_lab(np.full(N_BANDS, grey), name)
    assert (a, b) == (pytest.approx(0, abs=1e-11), pytest.approx(0, abs=1e-11))


@given(name=any_light, low=spectra, high=spectra)
def test_more_reflected_light_is_never_darker(
    name: LightName, low: np.ndarray, high: np.ndarray
) -> None:
    low, high = np.minimum(low, high), np.maximum(low, high)
    # The LED light's weights of Y are negative by up to 1e-6 below 410 nm, where it has no light:
    # overshoot of the interpolation they come from. L* rises by at most 903 per unit of Y.
    slack = 903 * 4e-6
    assert reflectance_to_lab(low, name)[0] <= reflectance_to_lab(high, name)[0] + slack


@pytest.mark.parametrize("name", LIGHTS)
def test_weights_are_not_negative_where_the_eye_sees(name: LightName) -> None:
    lamp = light(name)
    assert lamp.weights.shape == (N_BANDS, 3)
    # Interpolation to 10 nm overshoots next to a light's edge ([ASTME2022] tables show the same):
    # 2e-5 of the white for the LED light at 400 nm, 1e-7 for the others.
    assert lamp.weights.min() > (-3e-5 if name == "LED" else -1e-7)
    np.testing.assert_allclose(lamp.weights.sum(axis=0), lamp.white, rtol=1e-14)
    assert lamp.white[1] == pytest.approx(1, abs=1e-8)  # nine decimals in the table
    with pytest.raises(ValueError, match="read-only"):
        lamp.weights[0, 0] = 1


def test_unknown_light_is_refused() -> None:
    with pytest.raises(ValueError, match="D65"):
        light("candle")  # type: ignore[arg-type]


@given(
    name=any_light,
    colour=st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)),
)
def test_lab_and_xyz_are_inverse(name: LightName, colour: tuple[float, float, float]) -> None:
    back = xyz_to_lab(lab_to_xyz(colour, name), name)
    # Cube and cube root, times 500: three digits of sixteen.
    np.testing.assert_allclose(back, colour, atol=1e-10)
    one = xyz_to_lab_1(*lab_to_xyz_1(np.array(colour), light(name).white), light(name).white)
    np.testing.assert_allclose(one, back, atol=1e-10)


@given(signal=st.floats(0.0, 1.0))
def test_signal_and_light_are_inverse(signal: float) -> None:
    # The standard's two pieces miss each other by 1e-8 of signal where they join.
    np.testing.assert_allclose(srgb_encode(srgb_decode(signal)), signal, atol=1e-7)


def test_signal_outside_the_range_is_clipped() -> None:
    np.testing.assert_array_equal(srgb_encode([-0.5, 1.5]), [0.0, srgb_encode(1.0)])


@given(rgb=st.tuples(*[st.floats(-0.5, 1.5)] * 3))
def test_linear_rgb_and_xyz_are_inverse(rgb: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(xyz_to_linear_srgb(linear_srgb_to_xyz(rgb)), rgb, atol=1e-13)


def test_screen_colours_outside_the_gamut_are_clipped() -> None:
    out = lab_to_srgb8([[100, 0, 0], [0, 0, 0], [50, -200, 0], [50, 0, 300]])
    assert out.dtype == np.uint8
    assert out[0].tolist() == [255, 255, 255]
    assert out[1].tolist() == [0, 0, 0]
    assert out[2, 0] == 0
    assert out[3, 2] == 0


def test_shapes_are_kept() -> None:
    picture = np.full((4, 5, N_BANDS), 0.5)
    assert reflectance_to_lab(picture).shape == (4, 5, 3)
    assert lab_to_srgb8(reflectance_to_lab(picture)).shape == (4, 5, 3)
    assert munsell_value(np.full((4, 5), 0.2)).shape == (4, 5)
    assert munsell_value(0.2).shape == ()


@pytest.mark.parametrize(
    "function", [xyz_to_lab, lab_to_xyz, linear_srgb_to_xyz, xyz_to_linear_srgb, lab_to_srgb8]
)
def test_colours_have_three_coordinates(function) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match="3 entries"):
        function(np.zeros(4))


def test_spectra_have_thirty_six_bands() -> None:
    with pytest.raises(ValueError, match="36 entries"):
        reflectance_to_xyz(np.zeros(31))
