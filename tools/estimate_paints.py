"""Estimate K(λ) and S(λ) of paints that nobody measured for us.

One method for every pigment. Absorption is a sum of skewed Gaussian bands and sigmoid
edges over wavenumber, plus the foot of the ultraviolet bands, a broad tail to the red and a
flat rest; widths, foot, tail and rest come from the chemical class, positions from
`estimate_inputs.csv`. Scattering is a power of wavelength from the transparency grade,
less where the pigment absorbs. Five numbers a pigment (amplitude, common shift, width, rest,
foot) then move, each held by a prior, until the colour of a full coat and of a 1/8 tint on
white paper, through the program's own optics, agrees with published or remembered
colorimetry as far as its tolerance asks: a maximum a posteriori estimate. Mixtures add.

Run: python tools/estimate_paints.py            rebuild tables, and their colours in the docs
     python tools/estimate_paints.py --check    blind check, and its table in the docs
"""

import csv
import io
import json
import math
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, paint

Array = NDArray[np.float64]

ROOT: Final = Path(__file__).parents[1]
INPUTS: Final = ROOT / "tools/estimate_inputs.csv"
DATA: Final = ROOT / "src/firstwash/paints/data"
DOC: Final = ROOT / "docs/reference/estimated-paints.md"

NU: Final[Array] = 1e7 / WAVELENGTHS_NM.astype(np.float64)  # wavenumber, 1/cm
TINT: Final = 0.125  # the tint's strength, of a full coat
PAPER: Final = default_paper()  # targets are met on the paper, and with the soak, of the plans
SIGMA: Final = 0.5  # relative uncertainty of the curves; see `sigma_for` and the reference page


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
# scattering depth at 550 nm by transparency grade 0-4. Common practice, no source; clear and
# opaque paints scatter about as much in the table of [Curtis1997].
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
    the table in [Curtis1997].
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


def reflectance(k: Array, s: Array, strength: float) -> Array:
    """Reflectance (36,) of one coat on paper; strength 1 is a full coat."""
    return np.asarray(stages(PAPER, strength * k[None], strength * s[None])[-1])


def lab_of(k: Array, s: Array, strength: float) -> Array:
    """CIELAB (3,), D65, of one coat on paper."""
    return np.asarray(reflectance_to_lab(reflectance(k, s, strength)))


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


# ------------------------------------------------------------------ tables

LIGHTFAST: Final = ("I", "II", "III", "IV", "V")  # best to worst
HAZARDS: Final = ("none", "caution", "toxic")


def _mixes() -> dict[str, dict[str, str]]:
    """Cells of the convenience mixtures by key."""
    with INPUTS.open(encoding="utf-8", newline="") as lines:
        return {c["key"]: c for c in csv.DictReader(lines) if c["mix"]}


def shares(cells: Mapping[str, str]) -> dict[str, float]:
    """Parts of full coats in a mixture: "PB15:3=0.65 PG7=0.35" by key."""
    parts = (item.split("=") for item in cells["mix"].split())
    return {key: float(share) for key, share in parts}


def estimates() -> dict[str, Curves]:
    """Curves of every estimated paint, single pigments first, mixtures after."""
    rows = read_inputs()
    found = {k: estimate(r) for k, r in rows.items() if r.cells["role"] == "estimate"}
    for key, cells in _mixes().items():
        found[key] = mixture((found[part], share) for part, share in shares(cells).items())
    return found


def table_csv(found: Mapping[str, Curves]) -> str:
    """The table of curves as the catalogue reads it."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write(["nm", *(f"{key} {letter}" for key in found for letter in "KS")])
    for i, nm in enumerate(WAVELENGTHS_NM):
        write([int(nm), *(f"{v[i]:.4g}" for c in found.values() for v in (c.k, c.s))])
    return out.getvalue()


def _facts() -> dict[str, dict[str, str]]:
    with (DATA / "facts.csv").open(encoding="utf-8", newline="") as lines:
        return {row["key"]: row for row in csv.DictReader(lines)}


def mixed_handling(keys: Iterable[str]) -> dict[str, Any]:
    """Handling of a mixture: of each property the least welcome among its parts.

    Common practice, no source. Unknown if one part's is unknown.
    """
    rows = [_facts()[key] for key in keys]
    out: dict[str, Any] = {}
    for name, worst in (
        ("transparency", min),
        ("staining", max),
        ("granulation", max),
        ("tinting", max),
    ):
        out[name] = worst(int(row[name]) for row in rows)
    lightfast = [row["lightfast"] for row in rows]
    out["lightfast"] = max(lightfast, key=LIGHTFAST.index) if all(lightfast) else None
    out["hazard"] = max((row["hazard"] for row in rows), key=HAZARDS.index)
    out["sources"] = dict.fromkeys(("handling", "tinting", "lightfast", "hazard"), "mixed")
    return out


def _entry(cells: Mapping[str, str]) -> dict[str, Any]:
    out: dict[str, Any] = {
        "key": cells["key"],
        "name": cells["trade_name"],
        "pigments": cells["ci_name"].split(),
    }
    if cells["note"]:
        out["note"] = cells["note"][0].upper() + cells["note"][1:] + "."
    if cells["facts"]:
        out["facts"] = cells["facts"]
        out["handling"] = {k: int(v) for k, v in (i.split("=") for i in cells["grades"].split())}
    if cells["mix"]:
        out["handling"] = mixed_handling(shares(cells))
    return out


def table_json(keys: Iterable[str]) -> str:
    """What each estimated paint is, as the catalogue reads it."""
    cells = {key: dict(row.cells) for key, row in read_inputs().items()} | _mixes()
    told = {
        "format": 1,
        "provenance": "estimated",
        "source": "estimated from published and remembered absorption bands and colorimetry "
        "by tools/estimate_paints.py; see docs/reference/estimated-paints.md",
        "note": "Not measured: paint a swatch card and calibrate it before trusting a match.",
        "sigma": SIGMA,
        "paints": [_entry(cells[key]) for key in keys],
    }
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"


# ------------------------------------------------------------------ blind check

AMOUNTS: Final[Array] = np.geomspace(0.02, 10.0, 241)


@dataclass(frozen=True)
class Match:
    """One comparison: the colour aimed at (3,), CIEDE2000 as it stands and with the amount
    freed, and that amount (of a full coat)."""

    target: Array
    nominal: float
    freed: float
    amount: float


def match(c: Curves, strength: float, target: Array) -> Match:
    """Compare a coat of that strength, then the best of all strengths, with a colour (3,)."""
    ladder = np.array([lab_of(c.k, c.s, amount) for amount in AMOUNTS])
    away = delta_e_2000(ladder, target)
    best = int(np.argmin(away))
    nominal = float(delta_e_2000(lab_of(c.k, c.s, strength), target))
    return Match(target, nominal, float(away[best]), float(AMOUNTS[best]))


def swatch_colours() -> dict[str, dict[float, Array]]:
    """CIELAB of the measured single-pigment swatches: trade name → ml → (3,).

    Raises fetch_reference.CannotFetchError when the data cannot be had.
    """
    import fetch_reference
    import ntu

    data = ntu.read(fetch_reference.open_ntu())
    single = data.take(~data.mixed)
    lab = reflectance_to_lab(single.reflectance)
    out: dict[str, dict[float, Array]] = {}
    for i, pigment in enumerate(single.pair[:, 0]):
        ml = round(float(single.amounts[i].sum()), 2)
        out.setdefault(ntu.PIGMENTS[pigment], {})[ml] = lab[i]
    return out


def blind_curves() -> dict[str, Curves]:
    """The estimator run on the inputs of the pigments that were measured as well."""
    return {k: estimate(r) for k, r in read_inputs().items() if r.cells["role"] == "blind"}


def unfitted_curves() -> dict[str, Curves]:
    """The same inputs without any colorimetry: bands, class and grades alone."""
    return {
        k: curves(r, np.zeros(5)) for k, r in read_inputs().items() if r.cells["role"] == "blind"
    }


def blind_swatches(c: Curves, series: Mapping[float, Array]) -> tuple[Match, Match, Match]:
    """Against the swatches of 0.04 ml (our full coat), 0.01 ml (a quarter) and the darkest."""
    darkest = min(series.values(), key=lambda lab: float(lab[0]))
    return match(c, 1.0, series[0.04]), match(c, 0.25, series[0.01]), match(c, 1.0, darkest)


def blind_model(key: str, c: Curves) -> tuple[Match, Match]:
    """Against the measured paint's own fitted model at 1/4 and 1/16 of its full coat."""
    known = paint(key)
    quarter, sixteenth = (lab_of(known.k, known.s, part) for part in (1 / 4, 1 / 16))
    return match(c, 1 / 4, quarter), match(c, 1 / 16, sixteenth)


def _smooth_noise(draws: int) -> Array:
    """Gaussian curves (draws, 36), variance 1, correlation length 60 nm; always the same."""
    nm = WAVELENGTHS_NM.astype(np.float64)
    near = np.exp(-0.5 * ((nm[:, None] - nm) / 60.0) ** 2) + 1e-9 * np.eye(nm.size)
    loose = np.random.default_rng(20_240_229).standard_normal((draws, nm.size))
    return np.asarray(loose @ np.linalg.cholesky(near).T)


def sigma_for(error: float, found: Iterable[Curves], draws: int = 8) -> float:
    """The relative error of K that explains a median amount-freed CIEDE2000 of `error`.

    Each curve's ln K is shaken by smooth noise; the amount-freed difference from the
    unshaken curve at 1, 1/4 and 1/16 of a full coat is interpolated over the size of the
    noise. That is how far the curves would have to be off for the colours to be off so far.
    """
    sizes, noise = (0.2, 0.4, 0.6, 0.8), _smooth_noise(draws)
    near = np.geomspace(0.4, 2.5, 25)
    medians = [0.0]
    for size in sizes:
        seen = []
        for c in found:
            for strength in (1.0, 0.25, 0.0625):
                aim = lab_of(c.k, c.s, strength)
                for curve in noise:
                    k = c.k * np.exp(size * curve)
                    ladder = [lab_of(k, c.s, strength * step) for step in near]
                    seen.append(float(delta_e_2000(np.array(ladder), aim).min()))
        medians.append(float(np.median(seen)))
    return float(np.interp(error, medians, (0.0, *sizes)))


# ------------------------------------------------------------------ documentation


def _lab_text(lab: Array) -> str:
    return " ".join(f"{v:.0f}".replace("-0", "0") if abs(v) < 0.5 else f"{v:.0f}" for v in lab)


def _table(head: str, rows: Iterable[str]) -> str:
    rule = "|".join("---" for _ in head.strip("| ").split("|"))
    return "\n".join([head, f"|{rule}|", *rows])


def colours_block(found: Mapping[str, Curves]) -> str:
    """Colours of every estimated paint, and the distance of PB15:3 from the printing cyan."""
    cells = {key: row.cells for key, row in read_inputs().items()} | _mixes()
    rows = [
        f"| {key} | {cells[key]['trade_name']} | {_lab_text(lab_of(c.k, c.s, 1.0))} | "
        f"{_lab_text(lab_of(c.k, c.s, TINT))} |"
        for key, c in found.items()
    ]
    amount, away = cyan_distance(found["PB15:3"])
    return (
        _table("| key | paint | full coat L* a* b* | 1/8 L* a* b* |", rows)
        + f"\n\nPB15:3 comes nearest to the solid process cyan of FOGRA39 (55, −37, −50, D50) at "
        f"{amount:.2f} of a full coat: CIEDE2000 {away:.1f}."
    )


def cyan_distance(c: Curves) -> tuple[float, float]:
    """Amount and CIEDE2000 at which a paint comes nearest to FOGRA39's solid cyan (D50)."""
    cyan = np.array([55.0, -37.0, -50.0])
    spectra = np.array([reflectance(c.k, c.s, amount) for amount in AMOUNTS])
    away = delta_e_2000(reflectance_to_lab(spectra, "D50"), cyan)
    best = int(np.argmin(away))
    return float(AMOUNTS[best]), float(away[best])


def _swatch_row(key: str, c: Curves, three: tuple[Match, Match, Match]) -> str:
    full, thin, dark = three
    return (
        f"| {key} | {_lab_text(lab_of(c.k, c.s, 1.0))} | {_lab_text(full.target)} | "
        f"{full.nominal:.1f} | {full.freed:.1f} (×{full.amount:.1f}) | "
        f"{_lab_text(thin.target)} | {thin.nominal:.1f} | {thin.freed:.1f} (×{thin.amount:.1f}) | "
        f"{_lab_text(dark.target)} | {dark.freed:.1f} |"
    )


def _medians(seen: Iterable[tuple[Match, Match, Match]]) -> list[float]:
    """Medians of: full, full freed, thin, thin freed, darkest freed."""
    table = [(f.nominal, f.freed, t.nominal, t.freed, d.freed) for f, t, d in seen]
    return [float(v) for v in np.median(table, axis=0)]


def _verdict(found: Mapping[str, Curves], freed: list[float], bare: list[float]) -> str:
    error = float(np.median(freed))
    return (
        f"\n\nMedian with the amount freed, 0.04 and 0.01 ml together: {error:.1f}. "
        f"Curves wrong by {sigma_for(error, found.values()):.2f} (relative, smooth over "
        f"wavelength) would look that wrong; the tables carry sigma = {SIGMA:g}. "
        f"From bands, class and grades alone, without remembered colours, the medians with the "
        f"amount freed are {bare[1]:.1f} (0.04 ml), {bare[3]:.1f} (0.01 ml) and {bare[4]:.1f} "
        f"(darkest)."
    )


def swatch_block(found: Mapping[str, Curves]) -> str:
    """The blind check against measured swatches."""
    colours = swatch_colours()
    series = {key: colours[paint(key).name] for key in found}
    seen = {key: blind_swatches(c, series[key]) for key, c in found.items()}
    bare = [blind_swatches(c, series[key]) for key, c in unfitted_curves().items()]
    head = (
        "| paint | ours, full | swatch 0.04 ml | ΔE00 | freed | swatch 0.01 ml | "
        "ΔE00 (ours 1/4) | freed | darkest swatch | freed |"
    )
    rows = [_swatch_row(key, found[key], three) for key, three in seen.items()]
    full, freed, thin, thin_freed, dark = (f"**{v:.1f}**" for v in _medians(seen.values()))
    rows.append(f"| median | | | {full} | {freed} | | {thin} | {thin_freed} | | {dark} |")
    all_freed = [m.freed for three in seen.values() for m in three[:2]]
    return _table(head, rows) + _verdict(found, all_freed, _medians(bare))


def model_block(found: Mapping[str, Curves]) -> str:
    """The blind check against the tints of the measured paints' own fitted model."""
    seen = {key: blind_model(key, c) for key, c in found.items()}
    rows = [
        f"| {key} | {_lab_text(q.target)} | {q.freed:.1f} (×{q.amount:.2f}) | "
        f"{_lab_text(s.target)} | {s.freed:.1f} (×{s.amount:.2f}) |"
        for key, (q, s) in seen.items()
    ]
    quarter, sixteenth = np.median([[m.freed for m in pair] for pair in seen.values()], axis=0)
    rows.append(f"| median | | **{quarter:.1f}** | | **{sixteenth:.1f}** |")
    return _table("| paint | model, 1/4 | freed | model, 1/16 | freed |", rows)


def with_block(text: str, name: str, block: str) -> str:
    """The page with what stands between the marks of that name replaced."""
    start, end = f"<!-- {name} -->\n", f"\n<!-- /{name} -->"
    before, rest = text.split(start)
    return before + start + block + end + rest.split(end)[1]


def _write_blocks(blocks: Mapping[str, str]) -> None:
    text = DOC.read_text("utf-8")
    for name, block in blocks.items():
        text = with_block(text, name, block)
    DOC.write_text(text, "utf-8")


def main() -> None:
    """Rebuild the tables, or with --check the blind check's tables in the docs."""
    if sys.argv[1:] == ["--check"]:
        found = blind_curves()
        _write_blocks({"swatches": swatch_block(found), "model": model_block(found)})
        return
    built = estimates()
    (DATA / "estimated.csv").write_text(table_csv(built), "utf-8")
    (DATA / "estimated.json").write_text(table_json(built), "utf-8")
    _write_blocks({"colours": colours_block(built)})


if __name__ == "__main__":
    main()
