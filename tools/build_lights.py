"""Rebuild src/firstwash/optics/data/lights.csv: tristimulus weights per light.

Weights for the CIE 1931 2° observer at 380-730 nm every 10 nm, by the method of
[ASTME2022] (Lagrange interpolation of 1 nm tables), with the tails outside the grid
folded into its ends as [ASTME308] section 7.3 does for a truncated range. The observer and
illuminant tables come from the colour-science package (CIE 018:2019 / ISO 11664).

Run: python tools/build_lights.py
"""

from pathlib import Path

import colour
import numpy as np
from colour.colorimetry import tristimulus_weighting_factors_ASTME2022

LIGHTS = {"D65": "D65", "D50": "D50", "A": "A", "LED": "LED-B3"}
OUT = Path(__file__).parents[1] / "src/firstwash/optics/data/lights.csv"
NANOMETRES = colour.SpectralShape(360, 830, 1)
WIDE = colour.SpectralShape(360, 830, 10)
KEPT = (380, 730)


def weights(light: str) -> np.ndarray:
    """(36, 3) weights of one light, summing to its white point with Y = 1."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(NANOMETRES)
    lamp = colour.SDS_ILLUMINANTS[light].copy()
    wide = tristimulus_weighting_factors_ASTME2022(observer, lamp.align(NANOMETRES), WIDE)
    grid = WIDE.wavelengths
    low, high = (int(np.argmin(abs(grid - nm))) for nm in KEPT)
    kept = wide[low : high + 1].copy()
    kept[0] += wide[:low].sum(axis=0)
    kept[-1] += wide[high + 1 :].sum(axis=0)
    return np.asarray(kept / kept[:, 1].sum())


def main() -> None:
    """Write the table."""
    columns = {name: weights(cie) for name, cie in LIGHTS.items()}
    header = ",".join(["nm", *(f"{n}_{c}" for n in columns for c in "xyz")])
    table = np.column_stack([np.arange(380, 731, 10), *columns.values()])
    lines = [f"{int(row[0])}," + ",".join(f"{v:.9f}" for v in row[1:]) for row in table]
    OUT.write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
