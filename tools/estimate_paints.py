"""Estimate K(λ) and S(λ) of paints that nobody measured for us.

One method for every pigment. Absorption is a sum of skewed Gaussian bands and sigmoid
edges over wavenumber, plus the foot of the ultraviolet bands, a broad tail to the red and a
flat rest; widths, foot, tail and rest come from the chemical class, positions from
`estimate_inputs.csv`. Scattering is a power of wavelength from the transparency grade,
less where the pigment absorbs. Five numbers a pigment (amplitude, common shift, width, rest,
foot) then move, each held by a prior, until the colour of a full coat and of a 1/8 tint on
white paper, through the program's own optics, agrees with published or remembered
colorimetry as far as its tolerance asks: a maximum a posteriori estimate. Mixtures add.

Run: python tools/estimate_paints.py            rebuild the tables of estimated paints
     python tools/estimate_paints.py --check    blind check against measured paints
"""

import csv
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper

Array = NDArray[np.float64]

ROOT: Final = Path(__file__).parents[1]
INPUTS: Final = ROOT / "tools/estimate_inputs.csv"

NU: Final[Array] = 1e7 / WAVELENGTHS_NM.astype(np.float64)  # wavenumber, 1/cm
TINT: Final = 0.125  # the tint's strength, of a full coat

# White watercolour paper, L* 95, slightly warm, darker in the violet. Common practice, no
# source. The surface numbers are the defaults of `Paper`.
PAPER: Final = Paper(
    "white paper of the estimates",
    np.interp(WAVELENGTHS_NM, [380, 400, 430, 500, 730], [0.70, 0.78, 0.84, 0.87, 0.89]),
)


@dataclass(frozen=True)
class Shape:
    """What a chemical class lends to every pigment in it. Widths in 1/cm. From memory.

    red, blue: standard deviation of a band towards the red and the blue.
    soft: width of a sigmoid edge. foot_nm, foot, foot_width: a band in the ultraviolet
    whose foot reaches the visible. tail, tail_width: broad Gaussian on the red side of the
    last band. rest: flat. All heights are relative to the strongest visible absorption.
    power: exponent of scattering with wavelength, 2 for fine organic pigments (particles
    well under the wavelength would give 4), 0.7 for coarser mineral ones.
    """

    red: float
    blue: float
    soft: float
    foot_nm: float
    foot: float
    foot_width: float
    tail: float
    tail_width: float
    rest: float
    power: float


SHAPES: Final[Mapping[str, Shape]] = {
    "phthalocyanine": Shape(520, 1700, 400, 340, 0.90, 2600, 0.0, 1, 0.04, 2.0),
    "halogenated phthalocyanine": Shape(520, 1250, 400, 365, 0.90, 2900, 0.0, 1, 0.04, 2.0),
    "quinacridone": Shape(420, 1100, 400, 330, 0.60, 3500, 0.01, 2000, 0.04, 2.0),
    "diketopyrrolopyrrole": Shape(420, 1500, 400, 330, 0.60, 4000, 0.01, 2000, 0.015, 2.0),
    "dioxazine": Shape(500, 1200, 400, 320, 0.60, 3000, 0.05, 2000, 0.05, 2.0),
    "indanthrone": Shape(700, 1900, 400, 340, 0.50, 3500, 0.0, 1, 0.07, 2.0),
    "perylene": Shape(700, 1600, 400, 350, 0.50, 3500, 0.06, 3000, 0.05, 2.0),
    "anthraquinone lake": Shape(900, 1800, 400, 330, 0.60, 4000, 0.04, 2500, 0.04, 2.0),
    "azo": Shape(1400, 4000, 400, 330, 0.0, 3500, 0.01, 4000, 0.008, 2.0),
    "metal azo": Shape(2100, 4000, 400, 330, 0.0, 3500, 0.06, 5000, 0.015, 2.0),
    "semiconductor": Shape(1000, 4000, 350, 330, 0.0, 3500, 0.01, 3000, 0.015, 0.7),
    "hematite": Shape(1300, 2500, 650, 360, 0.80, 5000, 0.06, 4000, 0.03, 0.7),
    "goethite": Shape(1200, 2500, 900, 360, 0.60, 4000, 0.08, 5000, 0.02, 0.7),
    "iron and manganese": Shape(1300, 2500, 1500, 360, 0.40, 4500, 0.20, 6000, 0.15, 0.7),
    "cobalt": Shape(450, 800, 400, 320, 0.30, 4000, 0.05, 1500, 0.05, 0.7),
    "sulfur radical": Shape(1500, 1900, 400, 320, 0.20, 3000, 0.0, 1, 0.03, 0.7),
    "intervalence": Shape(2500, 3000, 400, 320, 0.50, 4000, 0.0, 1, 0.04, 2.0),
    "chromium": Shape(1300, 1500, 400, 350, 1.00, 3000, 0.0, 1, 0.12, 0.7),
    "carbon": Shape(2500, 4000, 400, 300, 0.20, 8000, 0.0, 1, 1.0, 0.7),
    "white oxide": Shape(1000, 4000, 500, 330, 0.0, 3500, 0.0, 1, 0.02, 0.7),
}

# Peak absorption depth of a full coat by tinting grade 0-4, and its log-normal spread; and
# scattering depth at 550 nm by transparency grade 0-4. Common practice, no source; the
# transparent end agrees with the coefficients of [Curtis1997] (from memory of its table).
PEAK: Final = (1.2, 1.8, 2.7, 4.0, 6.0)
SCATTER: Final = (1.2, 0.6, 0.2, 0.06, 0.02)

# Priors of ln amplitude, relative shift, ln width, ln rest, ln foot: standard deviations.
# 0.018 is 10 nm at 550 nm, what the positions in the facts are good for.
SPREAD: Final[Array] = np.array([0.5, 0.018, 0.2, 0.7, 0.5])

# Tolerances by origin: L*, hue (degrees), C* of a full coat; hue and C* of a tint; edge nm.
# Published values are means over several makes of one pigment, so they are not exact for one
# paint; values from memory are worth about half as much.
TOLERANCE: Final = {
    "published": (3.0, 5.0, 6.0, 6.0, 6.0, 8.0),
    "memory": (5.0, 8.0, 9.0, 9.0, 9.0, 12.0),
}


@dataclass(frozen=True)
class Row:
    """One pigment's inputs. bands, edges: (nm, relative height); targets None if unknown."""

    key: str
    cells: Mapping[str, str]
    bands: tuple[tuple[float, float], ...]
    edges: tuple[tuple[float, float], ...]
    shape: Shape
    transparency: int
    tinting: int

    def value(self, name: str) -> float | None:
        """The number in that column, or None."""
        text = self.cells[name]
        return float(text) if text else None

    def origin(self, name: str) -> str:
        """ "published" or "memory": which tolerance the value of that column deserves."""
        return "published" if name in self.cells["published"].split() else "memory"


@dataclass(frozen=True)
class Curves:
    """Estimated curves of one full coat: k, s (36,) and the five fitted numbers."""

    k: Array
    s: Array
    fitted: Array


def _pairs(text: str) -> tuple[tuple[float, float], ...]:
    """Read "645:1 715:0.8" as ((645, 1), (715, 0.8))."""
    items = (item.split(":") for item in text.split())
    return tuple((float(nm), float(height)) for nm, height in items)


def read_inputs(path: Path = INPUTS) -> dict[str, Row]:
    """Rows of the inputs by key, mixtures left out."""
    with path.open(encoding="utf-8", newline="") as lines:
        cells = [c for c in csv.DictReader(lines) if c["class"]]
    return {
        c["key"]: Row(
            key=c["key"],
            cells=c,
            bands=_pairs(c["bands"]),
            edges=_pairs(c["edges"]),
            shape=SHAPES[c["class"]],
            transparency=int(c["transparency"]),
            tinting=int(c["tinting"]),
        )
        for c in cells
    }


def _skewed(centre: float, red: float, blue: float) -> Array:
    """Gaussian over wavenumber with its own width on each side, height 1."""
    away = NU - centre
    return np.asarray(np.exp(-0.5 * (away / np.where(away < 0, red, blue)) ** 2))


def _sigmoid(centre: float, soft: float) -> Array:
    """0 on the red side, 1 on the blue side of an edge."""
    return np.asarray(1.0 / (1.0 + np.exp(-(NU - centre) / soft)))


def relative_absorption(row: Row, move: float, width: float, rest: float, foot: float) -> Array:
    """Absorption (36,) with 1 at its strongest between 400 and 700 nm.

    move: factor on every wavenumber but the foot's.
    """
    p = row.shape
    total = np.full(NU.size, rest * p.rest)
    for nm, height in row.bands:
        total += height * _skewed(move * 1e7 / nm, width * p.red, width * p.blue)
    for nm, height in row.edges:
        total += height * _sigmoid(move * 1e7 / nm, width * p.soft)
    total += foot * p.foot * _skewed(1e7 / p.foot_nm, p.foot_width, p.foot_width)
    last = max((nm for nm, _ in (*row.bands, *row.edges)), default=550.0)
    total += rest * p.tail * _skewed(move * 1e7 / last, p.tail_width, 1.0)
    seen = (WAVELENGTHS_NM >= 400) & (WAVELENGTHS_NM <= 700)
    return np.asarray(total / total[seen].max())


def scattering(row: Row, k: Array) -> Array:
    """Scattering depth (36,) of a full coat that absorbs k (36,).

    Grains that absorb throw less light back: 1/(1 + k) is the simplest form with the trend of
    the coefficients in [Curtis1997] (from memory of its table).
    """
    clear = SCATTER[row.transparency] * (550.0 / WAVELENGTHS_NM) ** row.shape.power
    return np.asarray(clear / (1.0 + k))


def curves(row: Row, x: Array) -> Curves:
    """Curves for five numbers in units of their priors' spread, zero at the prior's mean."""
    step = x * SPREAD
    amount = (row.value("peak") or PEAK[row.tinting]) * math.exp(step[0])
    width, rest, foot = (math.exp(v) for v in step[2:])
    k = amount * relative_absorption(row, 1.0 + step[1], width, rest, foot)
    return Curves(k, scattering(row, k), x)


def reflectance(k: Array, s: Array, strength: float, paper: Paper = PAPER) -> Array:
    """Reflectance (36,) of one coat on paper; strength 1 is a full coat."""
    return stages(paper, strength * k[None], strength * s[None])[-1]


def lab_of(k: Array, s: Array, strength: float, paper: Paper = PAPER) -> Array:
    """CIELAB (3,), D65, of one coat on paper."""
    return reflectance_to_lab(reflectance(k, s, strength, paper))


def hue_chroma(lab: Array) -> tuple[float, float]:
    """Hue angle in degrees, 0-360, and chroma of CIELAB (3,)."""
    hue = math.degrees(math.atan2(lab[2], lab[1])) % 360.0
    return hue, math.hypot(lab[1], lab[2])


def edge50(r: Array) -> float:
    """Wavelength (nm) where reflectance (36,) climbs through half way to its red plateau."""
    top = int(np.argmax(r))
    half = 0.5 * (r[top] + r[: top + 1].min())
    i = top
    while i > 0 and r[i - 1] > half:
        i -= 1
    if i == 0:
        return float(WAVELENGTHS_NM[0])
    part = (half - r[i - 1]) / (r[i] - r[i - 1])
    return float(WAVELENGTHS_NM[i - 1] + part * 10.0)


def _predicted(c: Curves) -> dict[str, float]:
    full = lab_of(c.k, c.s, 1.0)
    tint = lab_of(c.k, c.s, TINT)
    (mass_h, mass_c), (tint_h, tint_c) = hue_chroma(full), hue_chroma(tint)
    return {
        "mass_l": float(full[0]),
        "mass_h": mass_h,
        "mass_c": mass_c,
        "tint_h": tint_h,
        "tint_c": tint_c,
        "edge50_nm": edge50(reflectance(c.k, c.s, 1.0)),
    }


def _difference(name: str, got: float, wanted: float) -> float:
    if name.endswith("_h"):
        return (got - wanted + 180.0) % 360.0 - 180.0
    return got - wanted


def residuals(row: Row, x: Array) -> Array:
    """Misfits over their tolerances, then the five numbers over their spreads."""
    got = _predicted(curves(row, x))
    out = [*x]
    for i, name in enumerate(got):
        wanted = row.value(name)
        if wanted is not None:
            tolerance = TOLERANCE[row.origin(name)][i]
            out.append(_difference(name, got[name], wanted) / tolerance)
    return np.array(out)


def estimate(row: Row) -> Curves:
    """The most plausible curves of one pigment."""
    fit = least_squares(lambda x: residuals(row, x), np.zeros(5), method="lm", xtol=1e-10)
    return curves(row, fit.x)


def mixture(parts: Iterable[tuple[Curves, float]]) -> Curves:
    """Curves of a convenience mixture from parts of full coats: absorption and scatter add."""
    used = list(parts)
    k = sum((share * c.k for c, share in used), np.zeros(NU.size))
    s = sum((share * c.s for c, share in used), np.zeros(NU.size))
    return Curves(k, s, np.zeros(5))
