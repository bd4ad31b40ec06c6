"""The 24-patch test chart: published spectra give the published colours.

Spectra and colours as carried by colour-science: those of [ISO17321-1], those of the average of
30 charts, and the chart's published D50 colorimetry of 2005.
"""

import colour
import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import LIGHTS, LightName, reflectance_to_lab, xyz_to_lab_1

AVERAGE, STANDARD = "babel_average", "ISO 17321-1"  # the tables' names in colour-science
CIE_NAME: dict[LightName, str] = {"D65": "D65", "D50": "D50", "A": "A", "LED": "LED-B3"}


def at_every_nanometre(table: str) -> np.ndarray:
    """Reflectance (24, 471) at 360-830 nm: interpolated between bands, level beyond them."""
    wide = colour.SpectralShape(360, 830, 1)
    spectra = [sd.copy() for sd in colour.SDS_COLOURCHECKERS[table].values()]
    return np.array(
        [
            sd.interpolate(colour.SpectralShape(sd.shape.start, sd.shape.end, 1))
            .extrapolate(wide)
            .values
            for sd in spectra
        ]
    )


def on_grid(spectra: np.ndarray) -> np.ndarray:
    """Their 36 bands."""
    return spectra[:, np.asarray(WAVELENGTHS_NM) - 360]


def published(table: str) -> np.ndarray:
    """CIELAB (24, 3) of the published colours, D50."""
    chart = colour.CCS_COLOURCHECKERS[table]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    return np.asarray(colour.XYZ_to_Lab(xyz, chart.illuminant))


def test_colours_published_with_the_same_spectra() -> None:
    # Same measurements, colours printed as x, y, Y to four digits (5e-5 in x is up to 0.1 in b*
    # of the dark blue patch), integrated by their own method.
    ours = reflectance_to_lab(on_grid(at_every_nanometre(AVERAGE)), "D50")
    difference = delta_e_2000(ours, published(AVERAGE))
    print(f"same spectra: mean {difference.mean():.3f}, worst {difference.max():.3f}")
    assert difference.mean() < 0.06
    assert difference.max() < 0.2


@pytest.mark.parametrize(("table", "mean", "worst"), [(AVERAGE, 0.6, 1.3), (STANDARD, 1.1, 2.0)])
def test_colours_published_for_the_chart(table: str, mean: float, worst: float) -> None:
    # Other specimens than those the spectra come from: charts of one make differ by about as
    # much as this, so the tolerance is the chart's and not the arithmetic's.
    ours = reflectance_to_lab(on_grid(at_every_nanometre(table)), "D50")
    difference = delta_e_2000(ours, published("ColorChecker 2005"))
    print(f"{table}: mean {difference.mean():.2f}, worst {difference.max():.2f}")
    assert difference.mean() < mean
    assert difference.max() < worst


@pytest.mark.parametrize("name", LIGHTS)
@pytest.mark.parametrize(
    # The average is tabulated on our own grid, so only the method of summing differs. The
    # standard's table has every 5 nm and is noisy: taking every other value costs 0.08.
    ("table", "worst"),
    [(AVERAGE, 0.02), (STANDARD, 0.1)],
)
def test_thirty_six_bands_are_fine_enough(table: str, worst: float, name: LightName) -> None:
    wide = colour.SpectralShape(360, 830, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(wide).values
    lamp = colour.SDS_ILLUMINANTS[CIE_NAME[name]].copy().align(wide).values
    weights = observer * lamp[:, None] / (observer[:, 1] @ lamp)
    spectra = at_every_nanometre(table)
    exact = [xyz_to_lab_1(*xyz, weights.sum(axis=0)) for xyz in spectra @ weights]
    assert delta_e_2000(reflectance_to_lab(on_grid(spectra), name), exact).max() < worst
