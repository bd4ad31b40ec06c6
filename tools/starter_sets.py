"""What the starter sets mix: the share of the Munsell colours, by hue, and the darkest dark.

Run: python tools/starter_sets.py            rewrites the table in docs/guide/my-paints.md (two
                                             minutes)
     python tools/starter_sets.py --sixes    prints the best sixes of the harmless, lightfast
                                             paints, of all and with PB29 and PBr7-burnt

A puddle of up to three paints is laid once on the default paper, each paint at none or one of
13 strengths from 1/50 of a full coat to a full coat. A Munsell colour counts as mixed where one
of these puddles comes within `NEAR` of it in CIEDE2000. The colours are the 2,734 of the
renotation [Newhall1943], carried from illuminant C to D65 by the package [colour]. Black and
white paint is left out. No plan is made.
"""

import itertools
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Final

import colour
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.kubelka import over, slab
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.surface import leave_surface
from firstwash.paints.catalogue import Paint, all_paints, default_paper, load_set

Array = NDArray[np.float64]

DOC: Final = Path(__file__).parents[1] / "docs/guide/my-paints.md"
SETS: Final = ("starter-6", "starter-12", "starter-18", "starter", "measured", "all")
NEAR: Final = 3.0
STRENGTHS: Final = np.r_[0.0, np.geomspace(0.02, 1.0, 13)]
TWELFTHS: Final = 12  # parts that a puddle of full strength is divided into
NEUTRAL: Final = 6.0  # C*ab below which a dark is neutral
HUES: Final = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
AROUND: Final = 6  # nearest mixes by distance that are tried by CIEDE2000


@cache
def munsell() -> tuple[Array, tuple[str, ...]]:
    """CIELAB (n, 3) of the Munsell colours under D65, and the hue letters of each."""
    chips = colour.MUNSELL_COLOURS["Munsell Colours Real"]
    whites = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    seen = colour.xyY_to_XYZ(np.array([v for _, v in chips]) * [1.0, 1.0, 0.01])
    c, d65 = (colour.xy_to_XYZ(whites[name]) for name in ("C", "D65"))
    seen = colour.adaptation.chromatic_adaptation_VonKries(seen, c, d65, transform="Bradford")
    hues = tuple(re.sub(r"[\d.]+", "", hue) for (hue, _, _), _ in chips)
    return np.asarray(colour.XYZ_to_Lab(seen, whites["D65"])), hues


def coat_labs(kx: Array, sx: Array) -> Array:
    """CIELAB (n, 3) of single dry coats on the default paper; kx, sx (n, 36)."""
    paper = default_paper()
    fibre = paper.fibre_absorption, paper.fibre_scattering
    sunk = over(*slab(paper.soak * kx + fibre[0], paper.soak * sx + fibre[1]), paper.inside)
    inside = over(*slab((1.0 - paper.soak) * kx, (1.0 - paper.soak) * sx), sunk)
    return reflectance_to_lab(leave_surface(inside, paper.k1, paper.k2))


def mixed_labs(paints: Sequence[Paint], amounts: Array) -> Array:
    """CIELAB (n, 3) of puddles; amounts (n, paints) in full coats."""
    load = amounts * [p.full_coat for p in paints]
    return coat_labs(load @ np.array([p.k for p in paints]), load @ np.array([p.s for p in paints]))


def coloured(name: str) -> tuple[Paint, ...]:
    """The paints of a set without black and white, in the catalogue's order."""
    keys = {p.key for p in load_set(name).paints} - {"PBk9", "PW4"}
    return tuple(p for p in all_paints() if p.key in keys)


@cache
def _triple(keys: tuple[str, ...]) -> Array:
    """CIEDE2000 (n,) from each Munsell colour to the nearest puddle of these paints."""
    known = {p.key: p for p in all_paints()}
    grid = np.array(list(itertools.product(STRENGTHS, repeat=len(keys))))
    labs = mixed_labs([known[k] for k in keys], grid)
    chips = munsell()[0]
    _, near = cKDTree(labs).query(chips, k=AROUND)
    away = delta_e_2000(labs[near], np.broadcast_to(chips[:, None], (*near.shape, 3)))
    return np.asarray(away.min(axis=1))


def distances(paints: Iterable[Paint]) -> Array:
    """CIEDE2000 (n,) from each Munsell colour to the nearest puddle of at most three paints."""
    triples = itertools.combinations([p.key for p in paints], 3)
    return np.asarray(np.min([_triple(t) for t in triples], axis=0))


def darkest(paints: Sequence[Paint]) -> tuple[float, float]:
    """Lowest L* of a puddle of full strength in one coat: of any, and of a neutral one."""
    n = TWELFTHS
    parts = [(a, b, n - a - b) for a in range(n + 1) for b in range(n + 1 - a)]
    low, grey = [], []
    for three in itertools.combinations(paints, 3):
        labs = mixed_labs(three, np.array(parts) / n)
        low.append(labs[:, 0].min())
        grey += labs[np.hypot(labs[:, 1], labs[:, 2]) < NEUTRAL, 0].tolist()
    return float(min(low)), float(min(grey, default=np.nan))


def tables() -> str:
    """The tables of the guide, as Markdown."""
    hues = np.array(munsell()[1])
    found = {name: coloured(name) for name in SETS}
    mixed = {name: distances(paints) <= NEAR for name, paints in found.items()}
    within = mixed["all"]
    rows = ["| set | paints | all hues | " + " | ".join(HUES) + " | darkest L* | neutral |"]
    rows.append("|---" * (len(HUES) + 5) + "|")
    for name, paints in found.items():
        shares = [_share(mixed[name], within), *_by_hue(mixed[name], within, hues)]
        cells = [name, str(len(paints)), *(f"{100 * v:.0f}" for v in shares)]
        rows.append("| " + " | ".join([*cells, *(f"{v:.0f}" for v in darkest(paints))]) + " |")
    return "\n".join(rows)


def _share(mixed: NDArray[np.bool_], within: NDArray[np.bool_]) -> float:
    return float(mixed[within].mean())


def _by_hue(
    mixed: NDArray[np.bool_], within: NDArray[np.bool_], hues: NDArray[np.str_]
) -> list[float]:
    return [_share(mixed[hues == h], within[hues == h]) for h in HUES]


def harmless() -> tuple[Paint, ...]:
    """Paints of one pigment each that are lightfast, carry no warning and are not opaque."""
    return tuple(
        p
        for p in all_paints()
        if len(p.pigments) == 1
        and p.handling.hazard == "none"
        and p.handling.lightfast in ("I", "II")
        and (p.handling.transparency or 0) > 1
    )


def sixes(
    paints: Sequence[Paint], within: NDArray[np.bool_]
) -> list[tuple[float, tuple[str, ...]]]:
    """Every six of the paints with the share it mixes of what lies within reach, best first."""
    keys = [p.key for p in paints]
    mixed = {t: _triple(t)[within] <= NEAR for t in itertools.combinations(keys, 3)}
    found = [
        (np.any([mixed[t] for t in itertools.combinations(six, 3)], axis=0).mean(), six)
        for six in itertools.combinations(keys, 6)
    ]
    return sorted(((float(share), six) for share, six in found), reverse=True)


def print_sixes() -> None:
    """The best sixes of all, and of those with ultramarine and burnt sienna."""
    found = sixes(harmless(), distances(coloured("all")) <= NEAR)
    for must in ((), ("PB29", "PBr7-burnt")):
        for share, six in [one for one in found if set(must) <= set(one[1])][:5]:
            print(f"{share:.3f}  {' '.join(six)}")


def put(text: str, blocks: Mapping[str, str]) -> str:
    """The text with what stands between `<!-- name -->` and `<!-- /name -->` written anew."""
    for name, content in blocks.items():
        start, end = f"<!-- {name} -->\n", f"<!-- /{name} -->"
        before, found, rest = text.partition(start)
        _, closed, after = rest.partition(end)
        if not (found and closed):
            raise ValueError(f"the page has no place for {name}")
        text = before + start + content + "\n" + end + after
    return text


def main() -> None:
    """Rewrite the table in the guide, or look for sixes."""
    if "--sixes" in sys.argv[1:]:
        print_sixes()
        return
    DOC.write_text(put(DOC.read_text("utf-8"), {"coverage": tables()}), "utf-8")


if __name__ == "__main__":
    main()
