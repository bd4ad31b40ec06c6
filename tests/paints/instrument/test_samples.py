"""Samples: what one is, and what it cannot be."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import FirstwashError, MeasurementError
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.paints.instrument.samples import Measurements, Sample, check_writable, clean

ALL = np.ones(N_BANDS, dtype=bool)
CURVE = np.linspace(0.1, 0.8, N_BANDS)


def test_a_measurement_error_is_deliberate() -> None:
    assert issubclass(MeasurementError, FirstwashError)


def test_bands_outside_the_range_are_held_at_the_nearest() -> None:
    measured = (WAVELENGTHS_NM >= 400) & (WAVELENGTHS_NM <= 700)
    one = Sample("A1", CURVE, measured)
    assert (one.reflectance[:2] == CURVE[2]).all()
    assert (one.reflectance[-3:] == CURVE[-4]).all()
    np.testing.assert_array_equal(one.reflectance[measured], CURVE[measured])


def test_a_sample_cannot_be_changed() -> None:
    curve, bands = CURVE.copy(), ALL.copy()
    one = Sample("A1", curve, bands)
    curve[0], bands[0] = 1.0, False  # the caller's own arrays stay the caller's
    assert one.reflectance[0] == CURVE[0]
    assert one.bands_measured[0]
    for array in (one.reflectance, one.bands_measured):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.name = "A2"


@pytest.mark.parametrize(
    ("name", "curve", "bands", "said"),
    [
        (" \n", CURVE, ALL, "needs a name"),
        ("A1", CURVE[:-1], ALL, "needs 36 reflectances between 0 and 2"),
        ("A1", CURVE, ALL[:-1], "needs 36"),
        ("A1", np.where(CURVE > 0.5, np.nan, CURVE), ALL, "needs 36"),
        ("A1", CURVE - 0.2, ALL, "needs 36"),
        ("A1", CURVE * 3, ALL, "needs 36"),
        ("A1", CURVE, ~ALL, "without a gap from 420 to 680 nm"),
        ("A1", CURVE, WAVELENGTHS_NM != 500, "without a gap"),
        ("A1", CURVE, WAVELENGTHS_NM >= 430, "without a gap"),
        ("A1", CURVE, WAVELENGTHS_NM <= 670, "without a gap"),
    ],
)
def test_what_a_sample_cannot_be(name, curve, bands, said: str) -> None:
    with pytest.raises(MeasurementError, match=said):
        Sample(name, curve, bands)


@given(st.text(), st.integers(5, 50))
def test_clean_text_is_one_printable_line(text: str, longest: int) -> None:
    line = clean(text, longest)
    assert line.isprintable()
    assert len(line) <= longest
    assert line == line.strip() == clean(line, longest)
    assert "  " not in line


def test_clean_keeps_what_can_be_read() -> None:
    assert clean("  Ünder\tdem \r\n Blau \x00 №5 ") == "Ünder dem Blau №5"
    assert clean("abcdefgh", 5) == "abcd…"


def test_conditions_cannot_be_changed() -> None:
    conditions = {"geometry": "45/0"}
    told = Measurements((), conditions)
    conditions["geometry"] = "other"
    assert told.conditions["geometry"] == "45/0"
    with pytest.raises(TypeError):
        told.conditions["geometry"] = "other"


def test_what_can_be_written() -> None:
    one, two = Sample("A1", CURVE, ALL), Sample("A1", CURVE, ALL)
    check_writable([one])
    with pytest.raises(MeasurementError, match="Two samples are called “A1”; rename one of them"):
        check_writable([one, two])
    for samples in ([], [one] * 20_001):
        with pytest.raises(MeasurementError, match="A file holds 1 to 20,000 samples"):
            check_writable(samples)
