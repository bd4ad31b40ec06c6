"""The one wavelength grid: 380-730 nm every 10 nm, 36 bands."""

from typing import Final

import numpy as np

__all__ = ["N_BANDS", "STEP_NM", "WAVELENGTHS_NM"]

STEP_NM: Final = 10
WAVELENGTHS_NM: Final = np.arange(380, 731, STEP_NM)
WAVELENGTHS_NM.setflags(write=False)
N_BANDS: Final = len(WAVELENGTHS_NM)
