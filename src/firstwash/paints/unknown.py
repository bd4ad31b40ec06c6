"""Paints whose colour nobody has measured: what to expect of them from a plain hue word.

The curves are the geometric means, band by band, of the known paints of that hue. They are no
more than a place to start from: leaving each known paint out and guessing it from the others of
its hue, ln K is off by 1.2 and ln S by 2.9 (root mean square). `SIGMA` is so wide that of such
paints nine in ten of the colours of a thin, a middle and a full coat lie within what is said to
hold for nine in ten (tools/unknown_paints.py, docs/guide/my-paints.md). A swatch card says more.
"""

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PaintError
from firstwash.paints.catalogue import Paint, paint
from firstwash.paints.facts import Handling, PigmentFacts

__all__ = ["FAMILIES", "HUES", "SIGMA", "facts_hue", "hue_in", "mean_of", "unknown_paint"]

SIGMA: Final = 1.2

# Which known paints a hue word stands for: our own sorting, by eye. No orange is among the
# known paints; its mean lies half way from the warm yellows to the scarlets.
FAMILIES: Final = MappingProxyType(
    {
        "yellow": ("lemon-yellow", "PY154", "PY97", "PY35", "PY150"),
        "orange": ("PY97", "PY35", "PR255", "PR108"),
        "red": ("PR108", "PR255", "PR254", "PR209", "PR83"),
        "magenta": ("PR209", "PV19-rose", "PR122", "PV19-violet"),
        "violet": ("PV19-violet", "PV29", "PV23"),
        "blue": ("PB29", "PB28", "PB60", "PB27", "PB15:1", "PB15:3", "PB35"),
        "turquoise": ("PB35", "PB15:3", "phthalo-turquoise"),
        "green": ("PG7", "PG18", "PG36", "sap-green"),
        "ochre": ("PY42-transparent", "PBr7-raw"),
        "brown": ("PY42-transparent", "PBr7-raw", "PBr7-burnt", "PR101-transparent"),
        "black": ("PBk9",),
        "white": ("PW4",),
    }
)
_SAME: Final = {
    "purple": "violet", "lilac": "violet", "pink": "magenta", "rose": "magenta",
    "scarlet": "red", "crimson": "red", "teal": "turquoise", "grey": "black", "gray": "black",
}  # fmt: skip
HUES: Final = MappingProxyType({**{hue: hue for hue in FAMILIES}, **_SAME})
"""Every hue word that is understood, and the family it stands for."""


def mean_of(paints: Sequence[Paint]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """K and S (36,) to expect of a paint like these: geometric means, band by band."""
    return (
        np.asarray(np.exp(np.mean([np.log(p.k) for p in paints], axis=0))),
        np.asarray(np.exp(np.mean([np.log(p.s) for p in paints], axis=0))),
    )


def hue_in(words: str) -> str | None:
    """The family named by the last hue word in a name ("blue green" is a green), or None."""
    found = [HUES[w] for w in words.casefold().replace("-", " ").split() if w in HUES]
    return found[-1] if found else None


def facts_hue(known: PigmentFacts) -> str:
    """The family of a pigment of which only facts are known, from its hue in words."""
    main, _, shade = known.hue_family.partition(" (")
    if main.startswith("earth") or shade.startswith("buff"):
        return "ochre" if "yellow" in main else "brown"
    if "near black" in shade:
        return "black"
    return HUES[main.split()[0]]


def unknown_paint(name: str, hue: str, known: PigmentFacts | None = None) -> Paint:
    """A paint whose curves are assumed from its hue word.

    name: what stands on the pan; becomes key and name. hue: one of `HUES`. known: facts on its
    pigment, where that is known; then key, name, pigments and handling are theirs.
    Raises PaintError for another word.
    """
    family = HUES.get(hue.casefold())
    if family is None:
        raise PaintError(f"“{hue}” is no hue word; say one of {', '.join(FAMILIES)}.")
    k, s = mean_of([paint(key) for key in FAMILIES[family]])
    return Paint(
        key=name if known is None else known.key,
        name=name if known is None else known.name,
        pigments=() if known is None else (known.pigment,),
        k=k,
        s=s,
        provenance="estimated",
        source=f"assumed, not measured: the mean of the known paints that are {family} "
        f"({', '.join(FAMILIES[family])})",
        note=f"All that is known of its colour is the word “{hue}”: paint a swatch card and "
        "calibrate it before trusting a match.",
        sigma=SIGMA,
        handling=Handling() if known is None else known.handling(),
    )
