"""Munsell value against its standard, an independent implementation and the renotation."""

import colour
import numpy as np
import pytest

from firstwash.optics.observer import munsell_value


def test_standard_quintic() -> None:
    # [ASTMD1535]: Y% = 1.1914·V − 0.22533·V² + 0.23352·V³ − 0.020484·V⁴ + 0.00081939·V⁵
    value = np.linspace(0, 10, 201)
    powers = value[:, None] ** np.arange(1, 6)
    luminance = powers @ [1.1914, -0.22533, 0.23352, -0.020484, 0.00081939] / 100
    # Newton's method ends at rounding; the curve is steepest (in V per Y) at black.
    np.testing.assert_allclose(munsell_value(luminance), value, atol=1e-9)


def test_ends_of_the_scale() -> None:
    assert munsell_value(0.0) == 0
    # The quintic's coefficients make Y exactly 100 % at V = 10.
    assert munsell_value(1.0) == pytest.approx(10, abs=1e-9)
    np.testing.assert_array_equal(munsell_value([-0.5, 2.0]), munsell_value([0.0, 1.0]))


def test_agrees_with_an_independent_implementation() -> None:
    luminance = np.linspace(0, 1, 1001)
    theirs = colour.notation.munsell_value_ASTMD1535(100 * luminance)
    # They interpolate in a table, which is good to 2e-7.
    np.testing.assert_allclose(munsell_value(luminance), theirs, atol=1e-6)


def test_renotation() -> None:
    # [Newhall1943]: every chip of a value has one luminance factor, told against magnesium oxide,
    # which reflects 97.5 % of the perfect white [ASTMD1535].
    chips = colour.MUNSELL_COLOURS["Munsell Colours Real"]
    luminance = {float(value): float(xyY[2]) for (_, value, _), xyY in chips}
    assert sorted(luminance) == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    for value, per_cent in luminance.items():
        # Y is printed to three or four digits: at V = 5 the last one is 0.0006 of a value step.
        assert munsell_value(0.975 * per_cent / 100) == pytest.approx(value, abs=1e-3)


def test_more_light_is_a_higher_value() -> None:
    assert (np.diff(munsell_value(np.linspace(0, 1, 2001))) > 0).all()
