"""Write src/firstwash/card/data/target24.csv: reflectance of the usual 24-patch colour target.

The spectra are averages over many targets as the colour-science package carries them
[colour], at the grid's 36 bands, four digits, patch by patch in reading order (four rows
of six, the greys last).

Run: python tools/build_target.py
"""

from pathlib import Path
from typing import Final

import colour
import numpy as np

from firstwash.optics.grid import WAVELENGTHS_NM

OUT: Final = Path(__file__).parents[1] / "src/firstwash/card/data/target24.csv"


def table() -> str:
    """The file's text: wavelength, then a column per patch."""
    spectra = colour.SDS_COLOURCHECKERS["babel_average"].values()
    patches = np.array([np.interp(WAVELENGTHS_NM, s.wavelengths, s.values) for s in spectra])
    head = ",".join(["nm", *(f"{row}{column}" for row in "ABCD" for column in range(1, 7))])
    lines = [
        f"{nm}," + ",".join(f"{v:.4f}" for v in column)
        for nm, column in zip(WAVELENGTHS_NM, patches.T, strict=True)
    ]
    return "\n".join([head, *lines]) + "\n"


if __name__ == "__main__":
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(table(), encoding="utf-8")
