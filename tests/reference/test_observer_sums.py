"""Weights per light: published white points, and integration nanometre by nanometre."""

import colour
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import LightName, light, reflectance_to_lab, xyz_to_lab_1

# White points per hundred, 2° observer.
WHITES: dict[LightName, tuple[tuple[float, float, float], str]] = {
    "D65": ((95.047, 100.0, 108.883), "[ASTME308] table 5"),
    "D50": ((96.422, 100.0, 82.521), "[ASTME308] table 5"),
    "A": ((109.850, 100.0, 35.585), "[ASTME308] table 5"),
}
CIE_WHITES: dict[LightName, tuple[float, float, float]] = {  # [CIE15] table of whites
    "D65": (95.04, 100.0, 108.88),
    "D50": (96.42, 100.0, 82.51),
    "A": (109.85, 100.0, 35.58),
}
CIE_NAME: dict[LightName, str] = {"D65": "D65", "D50": "D50", "A": "A", "LED": "LED-B3"}

NANOMETRES = np.arange(360, 831)
ON_GRID = np.searchsorted(NANOMETRES, WAVELENGTHS_NM)


def by_the_nanometre(reflectance: np.ndarray, name: LightName) -> np.ndarray:
    """CIELAB (n, 3) of reflectance (n, 471) at 360-830 nm, summed at every nanometre. [CIE15]."""
    shape = colour.SpectralShape(360, 830, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    lamp = colour.SDS_ILLUMINANTS[CIE_NAME[name]].copy().align(shape).values
    weights = observer * lamp[:, None]
    weights = weights / weights[:, 1].sum()
    white = weights.sum(axis=0)
    return np.array([xyz_to_lab_1(*xyz, white) for xyz in reflectance @ weights])


def smooth_spectra(rng: np.random.Generator, width_nm: float, n: int = 300) -> np.ndarray:
    """Random reflectance (n, 471) between 5 and 95 % or so, smooth over `width_nm`."""
    bumps = gaussian_filter1d(rng.standard_normal((n, NANOMETRES.size)), width_nm, axis=1)
    return np.asarray(1 / (1 + np.exp(-1.5 * bumps / bumps.std())))


@pytest.mark.parametrize("name", WHITES)
def test_white_points_are_the_published_ones(name: LightName) -> None:
    # The tails beyond 380 and 730 nm are folded into the end bands, so cutting the grid does not
    # move the whites. What is left: E308 sums tables of its own rounding, in the last digit or
    # two of Z (D50 0.008, A 0.006 of 100).
    np.testing.assert_allclose(100 * light(name).white, WHITES[name][0], atol=0.01)
    # CIE prints two decimals and rounds D50 Z the other way.
    np.testing.assert_allclose(100 * light(name).white, CIE_WHITES[name], atol=0.012)


def test_white_of_the_led_light() -> None:
    # [CIE15] (2018) gives LED-B3 as x = 0.3756, y = 0.3723; as carried by colour-science. Its
    # spectrum is tabulated every 5 nm and has to be interpolated: 2e-4 in x and y.
    white = light("LED").white
    np.testing.assert_allclose(white[:2] / white.sum(), [0.3756, 0.3723], atol=2e-4)


@pytest.mark.parametrize("name", CIE_NAME)
@pytest.mark.parametrize(
    # Width of the smoothing (standard deviation of a Gauss curve) and the worst CIEDE2000
    # allowed. Paints are like the second or third; measured worst of 300: 0.13, 0.06, 0.05.
    ("width_nm", "worst"),
    [(20, 0.20), (30, 0.10), (50, 0.07)],
)
def test_ten_nanometres_are_fine_enough(
    rng: np.random.Generator, name: LightName, width_nm: float, worst: float
) -> None:
    spectra = smooth_spectra(rng, width_nm)
    ours = reflectance_to_lab(spectra[:, ON_GRID], name)
    assert delta_e_2000(ours, by_the_nanometre(spectra, name)).max() < worst


def test_the_cut_at_730_nm_costs_little(rng: np.random.Generator) -> None:
    # Beyond the grid a spectrum counts as level. What lies there is 0.003 % of Y under D65 and
    # 0.01 % under A; even a step from 5 to 95 % just beyond 730 nm shows as 0.10 and 0.26.
    step = np.where(NANOMETRES > 735, 0.95, 0.05)[None, :]
    level = np.full((1, NANOMETRES.size), 0.05)
    for name, worst in (("D65", 0.15), ("D50", 0.15), ("A", 0.3), ("LED", 0.02)):
        cost = delta_e_2000(by_the_nanometre(step, name), by_the_nanometre(level, name))  # type: ignore[arg-type]
        print(f"730 nm cut, {name}: {cost.max():.3f}")
        assert cost.max() < worst
    spectra = smooth_spectra(rng, 30)
    levelled = spectra.copy()
    levelled[:, NANOMETRES > 730] = spectra[:, NANOMETRES == 730]
    levelled[:, NANOMETRES < 380] = spectra[:, NANOMETRES == 380]
    for name in CIE_NAME:
        cost = delta_e_2000(by_the_nanometre(spectra, name), by_the_nanometre(levelled, name))
        assert cost.max() < 0.05
