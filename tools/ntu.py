"""Read the measured watercolour mixtures "NTU WPSM" [Chen2019] into plain arrays.

The published rows are two pigment-and-amount pairs with the mixture's reflectance. They
say which pigment is meant only through its reflectance at that amount, so pigments are
named here by matching each of those spectra to the data set's own table of screen
colours (one pigment per spectrum, amount by amount). 2,444 rows hold 780 unique mixtures
(78 pairs × 10 recipes, each listed in both orders) and 884 rows of one pigment with
itself, which repeat its dilution series.
"""

import io
import zipfile
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import (
    linear_srgb_to_xyz,
    reflectance_to_lab,
    srgb_decode,
    xyz_to_lab,
)

__all__ = ["N_PIGMENTS", "PIGMENTS", "Swatches", "read"]

# Trade names in the data set's own order.
PIGMENTS: Final = (
    "cadmium red",
    "alizarin crimson",
    "burnt sienna",
    "lemon yellow",
    "cadmium yellow",
    "raw sienna",
    "sap green",
    "cerulean blue",
    "cobalt blue",
    "ultramarine blue",
    "Prussian blue",
    "ivory black",
    "Chinese white",
)
N_PIGMENTS: Final = len(PIGMENTS)

_N_MEASURED: Final = 41  # bands in the file, 380-780 nm; the grid ends at 730 nm
_FIELDS: Final = 5  # per band: transmittance 1, 2, reflectance 1, 2, paper

Part = tuple[int, float]  # pigment index, ml


@dataclass(frozen=True)
class Swatches:
    """Unique painted swatches, single pigments first, then mixtures of two.

    amounts: (n, 13) ml of each pigment. reflectance: (n, 36) in (0, 1).
    pair: (n, 2) pigment indices, equal for a single pigment.
    test: (n,) True for mixtures of the data set's own test split.
    paper: (36,) reflectance of the bare paper.
    """

    amounts: NDArray[np.float64]
    reflectance: NDArray[np.float64]
    pair: NDArray[np.int64]
    test: NDArray[np.bool_]
    paper: NDArray[np.float64]

    @property
    def mixed(self) -> NDArray[np.bool_]:
        """(n,) True for mixtures of two pigments."""
        return np.not_equal(self.pair[:, 0], self.pair[:, 1])

    def take(self, rows: NDArray[np.bool_]) -> "Swatches":
        """The swatches where `rows` (n,) is True."""
        return Swatches(
            self.amounts[rows], self.reflectance[rows], self.pair[rows], self.test[rows], self.paper
        )


@dataclass(frozen=True)
class _Rows:
    """Published rows: spectra (n, 41, 5), amounts (n, 2) ml, reflectance (n, 41), test (n,)."""

    spectra: NDArray[np.float64]
    amounts: NDArray[np.float64]
    reflectance: NDArray[np.float64]
    test: NDArray[np.bool_]


def _numbers(archive: zipfile.ZipFile, name: str) -> NDArray[np.float64]:
    text = archive.read(name).decode("ascii")
    return np.loadtxt(io.StringIO(text), delimiter=",", skiprows=1)


def _rows(archive: zipfile.ZipFile) -> _Rows:
    kinds = ("train_1956", "test_488")
    x = [_numbers(archive, f"MQ_{kind}_X_ok.csv") for kind in kinds]
    y = [_numbers(archive, f"MQ_{kind}_Y_ok.csv") for kind in kinds]
    both = np.vstack(x)
    width = _N_MEASURED * _FIELDS
    return _Rows(
        both[:, :width].reshape(-1, _N_MEASURED, _FIELDS),
        np.round(both[:, width:], 2),
        np.vstack(y),
        np.repeat([False, True], [len(x[0]), len(x[1])]),
    )


def _screen_colours(archive: zipfile.ZipFile) -> dict[Part, NDArray[np.float64]]:
    """CIELAB (3,) of each pigment at each amount, from the data set's own RGB table."""
    lines = archive.read("PigmentRGB_primary.csv").decode("ascii").splitlines()[1:]
    table = {}
    for name, pigment, *rgb in (line.split(",") for line in lines if line.strip()):
        linear = srgb_decode(np.array(rgb, dtype=float) / 255.0)
        amount = float(name[-6:-2])  # names end in "_0.01ml"
        table[int(pigment[1:]) - 1, amount] = xyz_to_lab(linear_srgb_to_xyz(linear))
    return table


def _name_spectra(
    rows: _Rows, colours: dict[Part, NDArray[np.float64]]
) -> dict[tuple[float, bytes], int]:
    """Pigment index of each single-pigment spectrum, by the cheapest one-to-one matching."""
    found: dict[float, set[bytes]] = {}
    for side in (0, 1):
        for amount, spectrum in zip(
            rows.amounts[:, side], rows.spectra[:, :, 2 + side], strict=True
        ):
            found.setdefault(float(amount), set()).add(spectrum.tobytes())
    names = {}
    for amount, spectra in found.items():
        keys = sorted(spectra)
        lab = reflectance_to_lab(np.array([np.frombuffer(k)[:N_BANDS] for k in keys]))
        known = np.array([colours[p, amount] for p in range(N_PIGMENTS)])
        cost = np.linalg.norm(lab[:, None] - known, axis=-1)
        for i, pigment in zip(*linear_sum_assignment(cost), strict=True):
            names[amount, keys[i]] = int(pigment)
    return names


def _parts(rows: _Rows, names: dict[tuple[float, bytes], int], i: int) -> tuple[Part, Part]:
    first, second = (
        (names[float(q), rows.spectra[i, :, 2 + side].tobytes()], float(q))
        for side, q in enumerate(rows.amounts[i])
    )
    return min(first, second), max(first, second)


Entry = tuple[NDArray[np.float64], bool]  # reflectance (41,), in the test split


def _gather(rows: _Rows, names: dict[tuple[float, bytes], int]) -> dict[tuple[Part, Part], Entry]:
    """Unique swatches by (part, part); a single pigment is its total amount and nothing."""
    out: dict[tuple[Part, Part], Entry] = {}
    for (amount, spectrum), pigment in names.items():
        out[(pigment, amount), (pigment, 0.0)] = (np.frombuffer(spectrum), False)
    for i, measured in enumerate(rows.reflectance):
        a, b = _parts(rows, names, i)
        single = a[0] == b[0]
        key = ((a[0], round(a[1] + b[1], 2)), (a[0], 0.0)) if single else (a, b)
        entry = (measured, bool(rows.test[i]) and not single)
        seen = out.setdefault(key, entry)
        if not np.array_equal(seen[0], measured) or seen[1] != entry[1]:
            raise ValueError(f"rows that should repeat each other differ: {key}")
    return out


def read(archive: zipfile.ZipFile) -> Swatches:
    """Every unique swatch of the data set (936: 156 single, 780 mixed), in a fixed order."""
    rows = _rows(archive)
    found = _gather(rows, _name_spectra(rows, _screen_colours(archive)))
    keys = sorted(found, key=lambda key: (key[0][0] != key[1][0], key))
    amounts = np.zeros((len(keys), N_PIGMENTS))
    for i, parts in enumerate(keys):
        for pigment, amount in parts:
            amounts[i, pigment] += amount
    return Swatches(
        amounts,
        np.array([found[key][0][:N_BANDS] for key in keys]),
        np.array([[key[0][0], key[1][0]] for key in keys]),
        np.array([found[key][1] for key in keys]),
        rows.spectra[0, :N_BANDS, 4].copy(),
    )
