"""The paints firstwash knows, and named sets of them.

Paints come in pairs of files: `<table>.csv` holds absorption K and scattering S per band,
`<table>.json` says what each paint is and where its numbers come from. Facts on handling
are in `facts.csv`; a paint's own "handling" in the JSON overrules them. A set is a plain
text file with one paint key per line:

    # my travel box
    PB29
    PR83 | the half pan, nearly empty

Every pair and set in this package's `data` folder is found by itself; a painter's own
files of the same form are read by path.
"""

import csv
import difflib
import io
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import as_float
from firstwash.errors import PaintError
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.optics.surface import Paper
from firstwash.paints.facts import Handling, handling_of
from firstwash.paints.spread import N_CURVES, plain_spread

__all__ = [
    "Handling",
    "Paint",
    "PaintSet",
    "Provenance",
    "all_paints",
    "default_paper",
    "load_set",
    "paint",
    "read_paints",
    "set_names",
]

Provenance = Literal["measured", "estimated", "calibrated"]
OTHER_MAKE: Final = 0.3  # of ln K and ln S between makes of one pigment; assumed, no source
PROVENANCES: Final = ("measured", "estimated", "calibrated")
TABLE_FORMAT: Final = 1


@dataclass(frozen=True, eq=False)
class Paint:
    """One paint, its optics per amount and what is known of it. Compared by identity.

    key: stable name a user types. pigments: Colour Index names, () if unknown.
    k, s: (36,) absorption and scattering depth of amount 1.0 in one coat, > 0, read-only; a
    puddle adds amount · k and amount · s. full_coat: amount in the strongest coat a hand lays.
    fit_error: median ΔE*ab of this paint's own measured swatches, or None. sigma: relative
    one-sigma uncertainty of its curves. spread: (m, 72) factors of ln K and ln S
    (`paints.spread`), read-only; made from sigma if None is given. thinnest_measured: the
    smallest amount behind the curves, or None; anything paler is the model's word alone.
    """

    key: str
    name: str
    pigments: tuple[str, ...]
    k: NDArray[np.float64] = field(repr=False)
    s: NDArray[np.float64] = field(repr=False)
    provenance: Provenance
    source: str
    note: str = ""
    full_coat: float = 1.0
    fit_error: float | None = None
    sigma: float = 0.0
    thinnest_measured: float | None = None
    handling: Handling = field(default_factory=Handling, repr=False)
    spread: NDArray[np.float64] | None = field(default=None, repr=False)

    @property
    def doubt(self) -> NDArray[np.float64]:
        """(m, 72) factors of ln K and ln S: its own spread, or what sigma alone says.

        A measured paint was somebody's tube; the painter's own differs by `OTHER_MAKE` more.
        """
        if self.spread is not None:
            return self.spread
        other = OTHER_MAKE if self.provenance == "measured" else 0.0
        return plain_spread(round(float(np.hypot(self.sigma, other)), 6))

    def __post_init__(self) -> None:
        """Check the numbers and make the curves read-only."""
        for name in ("k", "s"):
            curve = as_float(getattr(self, name)).copy()
            if curve.shape != (N_BANDS,) or not np.all(np.isfinite(curve)) or (curve <= 0).any():
                raise PaintError(f"{self.key}: {name} must be {N_BANDS} positive numbers.")
            curve.setflags(write=False)
            object.__setattr__(self, name, curve)
        if self.provenance not in PROVENANCES:
            raise PaintError(f"{self.key}: provenance must be one of {', '.join(PROVENANCES)}.")
        if not (self.full_coat > 0 and self.sigma >= 0):
            raise PaintError(f"{self.key}: full_coat must be positive and sigma not negative.")
        if self.spread is not None:
            spread = as_float(self.spread).copy()
            if spread.ndim != 2 or spread.shape[1] != N_CURVES or not np.isfinite(spread).all():
                raise PaintError(f"{self.key}: spread must be rows of {N_CURVES} numbers.")
            spread.setflags(write=False)
            object.__setattr__(self, "spread", spread)


@dataclass(frozen=True, eq=False)
class PaintSet:
    """Paints the painter owns, in the painter's order; `notes` by paint key."""

    name: str
    paints: tuple[Paint, ...]
    notes: Mapping[str, str] = field(default_factory=dict)


def _data() -> Traversable:
    return resources.files("firstwash.paints").joinpath("data")


def _curves(table: Path | Traversable) -> dict[str, NDArray[np.float64]]:
    """Columns of `<table>.csv` by their heading, "<key> K" or "<key> S"."""
    head, *rows = csv.reader(io.StringIO(table.read_text("utf-8")))
    values = np.array(rows, dtype=float)
    if len(values) != N_BANDS or not np.array_equal(values[:, 0], WAVELENGTHS_NM):
        raise PaintError(f"{table.name}: the first column must be 380 to 730 nm in steps of 10.")
    return {name: values[:, i] for i, name in enumerate(head)}


def _described(entry: Mapping[str, Any], shared: Mapping[str, Any]) -> dict[str, Any]:
    """Keyword arguments of a Paint, without its curves, from one entry of a table's JSON."""
    out = {
        name: entry.get(name, shared.get(name))
        for name in ("key", "name", "provenance", "source", "fit_error", "thinnest_measured")
    }
    out["pigments"] = tuple(entry.get("pigments", ()))
    out["note"] = " ".join(part for part in (entry.get("note"), shared.get("note")) if part)
    out["full_coat"] = float(entry.get("full_coat", 1.0))
    out["sigma"] = float(entry.get("sigma", shared.get("sigma", 0.0)))
    out["spread"] = None if entry.get("spread") is None else np.array(entry["spread"], dtype=float)
    known = handling_of(entry.get("facts", entry["key"]))
    out["handling"] = replace(known, **entry.get("handling", {}))
    return out


def read_paints(description: Path | Traversable, curves: Path | Traversable) -> tuple[Paint, ...]:
    """The paints of one table: its JSON description and its CSV of curves.

    The CSV has the columns nm (380-730 every 10), "<key> K" and "<key> S" per paint.
    Raises PaintError when the two do not fit together.
    """
    try:
        told = json.loads(description.read_text("utf-8"))
        columns = _curves(curves)
        if told["format"] != TABLE_FORMAT:
            raise PaintError(f"{description.name}: format {told['format']!r} is not known.")
        return tuple(
            Paint(k=columns[f"{e['key']} K"], s=columns[f"{e['key']} S"], **_described(e, told))
            for e in told["paints"]
        )
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise PaintError(f"{description.name} is not a table of paints ({error}).") from error


@cache
def _known() -> Mapping[str, Paint]:
    """Every shipped paint by key; measured tables first."""
    data = _data()
    tables = sorted(p.name for p in data.iterdir() if p.name.endswith(".json"))
    found: dict[str, Paint] = {}
    for name in sorted(tables, key=lambda n: (n != "measured.json", n)):
        table = read_paints(data.joinpath(name), data.joinpath(name.removesuffix(".json") + ".csv"))
        for one in table:
            if one.key in found:
                raise PaintError(f"{name}: the key {one.key} is taken.")
            found[one.key] = one
    return MappingProxyType(found)


def all_paints() -> tuple[Paint, ...]:
    """Every paint that comes with firstwash, measured ones first."""
    return tuple(_known().values())


def _suggest(word: str, known: Mapping[str, object]) -> str:
    near = difflib.get_close_matches(word.casefold(), [k.casefold() for k in known], 3, 0.5)
    spelled = {k.casefold(): k for k in known}
    return f" Near: {', '.join(spelled[n] for n in near)}." if near else ""


def _plain(text: str) -> str:
    return re.sub(r"[\s_]+", " ", text).strip().casefold()


def paint(key: str) -> Paint:
    """The paint with that key, or with that trade name if only one has it; case is ignored.

    Raises PaintError with the nearest keys and names when there is none.
    """
    wanted = _plain(key)
    for one in all_paints():
        if _plain(one.key) == wanted:
            return one
    named = [one for one in all_paints() if _plain(one.name) == wanted]
    if len(named) == 1:
        return named[0]
    if named:
        keys = ", ".join(one.key for one in named)
        raise PaintError(f"Several paints are called “{key}”: say which of {keys}.")
    words = {**{p.key: p for p in all_paints()}, **{p.name: p for p in all_paints()}}
    near = _suggest(wanted, words) or " List them with: firstwash paints."
    raise PaintError(f"There is no paint “{key}”.{near}")


def set_names() -> tuple[str, ...]:
    """Names of the sets that come with firstwash."""
    names = (p.name for p in _data().joinpath("sets").iterdir())
    return tuple(sorted(n.removesuffix(".txt") for n in names if n.endswith(".txt")))


def _parse_set(name: str, text: str) -> PaintSet:
    paints: dict[str, Paint] = {}
    notes: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        key, _, note = line.partition("#")[0].partition("|")
        if not key.strip():
            continue
        try:
            one = paint(key)
        except PaintError as error:
            raise PaintError(f"{name}, line {number}: {error}") from error
        if one.key in paints:
            raise PaintError(f"{name}, line {number}: {one.key} is listed twice.")
        paints[one.key] = one
        if note.strip():
            notes[one.key] = note.strip()
    if not paints:
        raise PaintError(f"{name} names no paint.")
    return PaintSet(name, tuple(paints.values()), MappingProxyType(notes))


def load_set(name_or_path: str | Path) -> PaintSet:
    """A set that comes with firstwash, by name, or the painter's own text file, by path.

    One paint per line, `#` starts a comment, `key | note` keeps a note. A word that names a
    shipped set means that set; "./measured" means the file.
    Raises PaintError for an unknown set or paint, a paint listed twice, or an empty set.
    """
    shipped = set_names()
    if isinstance(name_or_path, str) and name_or_path in shipped:
        file = _data().joinpath("sets").joinpath(f"{name_or_path}.txt")
        return _parse_set(name_or_path, file.read_text("utf-8"))
    path = Path(name_or_path)
    try:
        return _parse_set(path.stem, path.read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        near = _suggest(str(name_or_path), dict.fromkeys(shipped))
        raise PaintError(
            f"There is no set or readable text file “{name_or_path}”.{near} "
            f"Sets: {', '.join(shipped)}."
        ) from error


@cache
def default_paper() -> Paper:
    """The white paper the measured paints were painted on, with the soak fitted for it."""
    told = json.loads(_data().joinpath("measured.json").read_text("utf-8"))["paper"]
    return Paper(**{**told, "reflectance": np.array(told["reflectance"])})
