"""Measured samples, as an instrument's file gives them.

A sample is one reflectance curve on our grid, with a name and with the bands that the file
really covers. `Reading` is what the two readers hand over before anything is decided:
numbers as they stand in the file, with what the file says of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, as_float
from firstwash.errors import MeasurementError
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM

__all__ = [
    "DIGITS",
    "FIRST_END",
    "HIGHEST",
    "LAST_START",
    "MAX_SAMPLES",
    "Measurements",
    "Reading",
    "Sample",
    "check_writable",
    "clean",
]

LAST_START: Final = 420  # nm; a curve that starts later does not show a blue
FIRST_END: Final = 680  # nm; one that ends earlier does not show a red
HIGHEST: Final = 2.0  # reflectance; more than twice the perfect white is not paint on paper
MAX_SAMPLES: Final = 20_000
DIGITS: Final = 6  # written behind the point; instruments repeat to some 1e-4, common practice


def clean(text: str, longest: int = 200) -> str:
    """Text on one line, without letters that cannot be printed, at most `longest` long."""
    line = " ".join(text.split())
    if not line.isprintable():
        line = " ".join("".join(c for c in line if c.isprintable()).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


@dataclass(frozen=True, eq=False)
class Sample:
    """One measured sample. Compared by identity.

    name: not empty, one line. reflectance: (36,) on `optics.grid.WAVELENGTHS_NM`, a fraction
    in [0, 2] (1 is the perfect white; paper that fluoresces may be above), read-only.
    bands_measured: (36,) which bands lie in the range that was measured, one unbroken run from
    420 nm or below to 680 nm or above, read-only; the bands outside it are set to its nearest
    band. note: a line about this sample, or empty. Raises MeasurementError for anything else.
    """

    name: str
    reflectance: NDArray[np.float64] = field(repr=False)
    bands_measured: BoolArray = field(repr=False)
    note: str = ""

    def __post_init__(self) -> None:
        """Check the numbers, hold the ends and make the arrays read-only."""
        object.__setattr__(self, "name", clean(self.name, len(self.name)))
        object.__setattr__(self, "note", clean(self.note, len(self.note)))
        if not self.name:
            raise MeasurementError("Every measured sample needs a name; give it one.")
        curve = as_float(self.reflectance)
        measured = np.array(self.bands_measured, dtype=bool)
        good = curve.shape == measured.shape == (N_BANDS,) and bool(np.isfinite(curve).all())
        if not good or curve.min() < 0 or curve.max() > HIGHEST:
            raise MeasurementError(
                f"“{self.name}” needs {N_BANDS} reflectances between 0 and {HIGHEST:g}."
            )
        at = np.flatnonzero(measured)
        if not len(at) or len(at) != at[-1] - at[0] + 1 or not _enough(at):
            raise MeasurementError(
                f"“{self.name}” must be measured without a gap "
                f"from {LAST_START} to {FIRST_END} nm at least."
            )
        held = curve[np.clip(np.arange(N_BANDS), at[0], at[-1])]
        for name, values in (("reflectance", held), ("bands_measured", measured)):
            values.setflags(write=False)
            object.__setattr__(self, name, values)


def _enough(at: NDArray[np.int64]) -> bool:
    first, last = WAVELENGTHS_NM[at[0]], WAVELENGTHS_NM[at[-1]]
    return bool(first <= LAST_START and last >= FIRST_END)


@dataclass(frozen=True, eq=False)
class Measurements:
    """The samples of one file, all measured in one way.

    samples: in the order of the file, names all different. conditions: what the file says of
    the measurement, by key: "condition" (M0 to M3 of [ISO13655]), "geometry", "filter",
    "polarisation", "backing", "aperture"; keys it does not speak of are missing. Lights and
    observers are left out: reflectance knows neither. notes: sentences for the painter, on
    what was assumed, filled or left aside.
    """

    samples: tuple[Sample, ...]
    conditions: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the conditions read-only."""
        object.__setattr__(self, "conditions", MappingProxyType(dict(self.conditions)))


@dataclass(frozen=True, eq=False)
class Reading:
    """One curve as it stands in a file.

    name, note: cleaned. wavelengths: nm, rising. values: (n,) finite, in the file's own unit.
    conditions: as in `Measurements`. percent: what the file says its unit is, None if nothing.
    """

    name: str
    wavelengths: tuple[float, ...]
    values: NDArray[np.float64]
    conditions: Mapping[str, str]
    percent: bool | None = None
    note: str = ""


def check_writable(samples: Sequence[Sample]) -> None:
    """Raise MeasurementError unless there are 1 to 20,000 samples, of different names."""
    if not 1 <= len(samples) <= MAX_SAMPLES:
        raise MeasurementError(f"A file holds 1 to {MAX_SAMPLES:,} samples, not {len(samples):,}.")
    names = set[str]()
    for sample in samples:
        if sample.name in names:
            raise MeasurementError(f"Two samples are called “{sample.name}”; rename one of them.")
        names.add(sample.name)
