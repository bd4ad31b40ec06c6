"""Curves brought to our grid: exact where they can be, as published where they cannot."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import MeasurementError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import reflectance_to_lab
from firstwash.paints.instrument.resample import even, step_of, to_grid

RNG = np.random.default_rng(7)


def every(step: float, start: float = 380, end: float = 730) -> tuple[float, ...]:
    n = round((end - start) / step) + 1
    return tuple(np.linspace(start, start + (n - 1) * step, n).tolist())


@pytest.mark.parametrize("step", [1, 2, 2.5, 10 / 3, 5, 10])
@pytest.mark.parametrize(("start", "end"), [(380, 730), (360, 780), (400, 700), (350, 1050)])
def test_values_at_our_wavelengths_are_taken_as_they_are(step, start, end) -> None:
    grid = every(step, start, end)
    values = RNG.random((3, len(grid)))
    curves, inside = to_grid(grid, values)
    assert inside.tolist() == [start <= nm <= end for nm in WAVELENGTHS_NM]
    at = [int(np.argmin(np.abs(np.array(grid) - nm))) for nm in WAVELENGTHS_NM[inside]]
    np.testing.assert_array_equal(curves[:, inside], values[:, at])  # to the last bit


@pytest.mark.parametrize(("step", "start", "end"), [
    (20, 380, 740), (20, 400, 700), (20, 390, 730), (10, 385, 735), (15, 375, 735), (8, 380, 740),
])  # fmt: skip
def test_between_values_it_is_the_published_interpolation(step, start, end) -> None:
    """[CIE167] as colour-science has it, the ends of the range included."""
    grid = every(step, start, end)
    values = RNG.random(len(grid))
    curves, inside = to_grid(grid, values[None])
    expected = colour.SpragueInterpolator(np.array(grid), values)(WAVELENGTHS_NM[inside])
    # Sums of a dozen products of numbers near 1: rounding, some 1e-15 each.
    np.testing.assert_allclose(curves[0, inside], expected, atol=1e-12)


@given(st.floats(1, 20), st.floats(340, 420), st.floats(-1, 1), st.floats(-1e-3, 1e-3))
def test_straight_lines_stay_straight(step, start, level, slope) -> None:
    grid = every(step, start, 760)
    curves, inside = to_grid(grid, level + slope * np.array(grid)[None])
    # Wavelengths near 500 with a slope of 1e-3: rounding only.
    np.testing.assert_allclose(curves[0, inside], level + slope * WAVELENGTHS_NM[inside], atol=1e-9)


def test_polynomials_of_the_fourth_degree_are_met_away_from_the_ends() -> None:
    grid = every(20, 340, 780)  # Sprague's slopes and curvatures are exact up to there
    curves, _ = to_grid(grid, np.polyval([3, -2, 1, 0.5, 0.1], (np.array(grid) - 550) / 200)[None])
    expected = np.polyval([3, -2, 1, 0.5, 0.1], (WAVELENGTHS_NM - 550) / 200)
    np.testing.assert_allclose(curves[0], expected, atol=1e-12)


def test_nothing_is_made_up_outside_the_range() -> None:
    curves, inside = to_grid(every(10, 400, 700), np.linspace(0, 1, 31)[None])
    assert (curves[0, :2] == 0).all()
    assert (curves[0, 33:] == 1).all()
    assert inside.tolist() == [False] * 2 + [True] * 31 + [False] * 3


def chart() -> np.ndarray:
    """(24, 81) the patches of [ISO17321-1], 380 to 780 nm every 5, as colour-science has them."""
    return np.array([patch.values for patch in colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()])


@pytest.mark.parametrize("start", [380, 390])
def test_every_second_band_tells_the_colours_of_a_chart(start: int) -> None:
    """Patches with edges as steep as a paint's, told every 20 nm.

    Measured: mean CIEDE2000 0.04, largest 0.13; straight lines between the values 0.23 and 0.59.
    """
    fine = chart()
    true = fine[:, :71:2]
    grid = every(20, start, start + 20 * ((780 - start) // 20))
    curves, inside = to_grid(grid, fine[:, (start - 380) // 5 :: 4])
    curves[:, ~inside] = true[:, ~inside]
    off = delta_e_2000(reflectance_to_lab(curves), reflectance_to_lab(true))
    assert off.mean() < 0.06
    assert off.max() < 0.2


def test_every_second_value_of_five_nanometres_is_closer_than_an_average() -> None:
    """The reason for not averaging finer curves: our weights want the values themselves."""
    fine, shape = chart(), colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    white = light @ observer
    xyz = (fine * light) @ observer / white[1]
    true = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
    curves, _ = to_grid(every(5, 380, 780), fine)
    padded = np.pad(fine, ((0, 0), (1, 1)), mode="edge")
    wide = (padded[:, :-2] / 4 + padded[:, 1:-1] / 2 + padded[:, 2:] / 4)[:, :71:2]
    off = [delta_e_2000(reflectance_to_lab(c), true).mean() for c in (curves, wide)]
    assert off[0] < 0.03  # measured 0.017
    assert off[1] > 2 * off[0]  # measured 0.058


# ------------------------------------------------------------------ which wavelengths will do


def test_even_wavelengths_pass() -> None:
    assert even([380.0, *range(390, 731, 10)], "a.txt") == every(10)
    assert step_of(every(20, 400, 700)) == 20


def test_thirds_rounded_to_whole_nanometres_are_made_exact() -> None:
    named = [float(round(nm)) for nm in every(10 / 3)]
    assert named[:4] == [380, 383, 387, 390]
    np.testing.assert_allclose(even(named, "a.txt"), every(10 / 3), atol=1e-9)


@pytest.mark.parametrize(
    ("named", "said"),
    [
        ([nm for nm in every(10) if nm != 430], "missing bands between 420 and 440 nm"),
        ([nm for nm in every(1) if nm != 555], "missing bands between 554 and 556 nm"),
        ([nm for nm in every(2) if nm != 556], "missing bands between 554 and 558 nm"),
        ([*every(10, 380, 500), *every(20, 520, 740)], "missing bands between 500 and 520 nm"),
        (every(25, 380, 730), "every 25 nm"),
        (every(0.5, 380, 730), "every 0.5 nm"),
        (every(10, 430, 730), "covers 430 to 730 nm only"),
        (every(10, 380, 670), "covers 380 to 670 nm only"),
        ([550.0], "less than two wavelengths"),
        ([], "less than two wavelengths"),
    ],
)
def test_other_wavelengths_are_refused(named, said: str) -> None:
    with pytest.raises(MeasurementError, match=said) as error:
        even(named, "a.txt")
    assert str(error.value).startswith("a.txt ")
    assert str(error.value).endswith(".")
