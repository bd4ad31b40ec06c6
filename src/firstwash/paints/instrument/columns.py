"""Which fields of a CGATS table hold the spectra, and the curves they make.

[CGATS17] has two ways: one field per band, as SPECTRAL_NM380, or pairs of fields SPECTRAL_NM and
SPECTRAL_PCT or SPECTRAL_DEC that hold a wavelength and its value. Programs write the first in
many spellings; all that can mean only one thing are read. Field names from memory.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import as_float
from firstwash.errors import MeasurementError
from firstwash.paints.instrument.numerals import first_bad, numbers
from firstwash.paints.instrument.resample import even
from firstwash.paints.instrument.samples import Reading, clean
from firstwash.paints.instrument.tables import Table, rows

__all__ = ["NAME", "NOTE", "UNITS", "Columns"]

NAME: Final = "SAMPLE_NAME"
NOTE: Final = "STRING"
UNITS: Final = "SPECTRAL_UNITS"  # our own keyword: the standard has none for the unit of a band

_BAND: Final = re.compile(
    r"(?:SPECTRAL|SPECTRUM|SPEC|REFLECTANCE|REFL|R)?_?(?:NM)?_?(\d{3,4}(?:[.,]\d{1,4})?)_?(?:NM)?",
    re.ASCII,
)
_PAIRED: Final = {"SPECTRAL_PCT": True, "SPECTRAL_DEC": False}  # field → whether percent
_NAMES: Final = (NAME, "SAMPLE_ID", "SAMPLE_LOC", "SAMPLENAME", "SAMPLEID")
_SHOWN: Final = 40  # letters of a file's own words in a message

_Curve = tuple[Sequence[str], tuple[float, ...], NDArray[np.float64]]
_Pairs = list[tuple[float, float]]


class Columns:
    """The fields of one table, by what they hold.

    found: whether any of them hold spectra. file: what to call the file in messages.
    """

    def __init__(self, table: Table, file: str) -> None:
        """Sort the fields; nothing is checked yet."""
        names = [field.upper() for field in table.fields]
        self._table, self._file = table, file
        self._bands = {i: _nm(m[1]) for i, n in enumerate(names) if (m := _BAND.fullmatch(n))}
        self._pairs = [
            i for i, two in enumerate(pairwise(names))
            if two[0] == "SPECTRAL_NM" and two[1] in _PAIRED
        ]  # fmt: skip
        self._units = {_PAIRED[names[i + 1]] for i in self._pairs}
        self._labels = [names.index(name) for name in _NAMES if name in names]
        self._note = [names.index(NOTE)] if NOTE in names else []
        self.found = bool(self._bands or self._pairs)

    def readings(self, before: int, conditions: Mapping[str, str]) -> list[Reading]:
        """The curves of the table; `before`: how many came in tables before it.

        Raises MeasurementError when bands are missing or numbers are none.
        """
        percent = _told_unit(self._table.keywords) if self._bands else self._pairs_unit()
        curves = list(self._from_bands() if self._bands else self._from_pairs())
        names = self._names([told for told, _, _ in curves], before)
        return [
            Reading(
                name, grid, values, conditions, percent,
                clean(told[-1], 500) if self._note else "",
            )
            for name, (told, grid, values) in zip(names, curves, strict=True)
        ]  # fmt: skip

    def _names(self, sets: Sequence[Sequence[str]], before: int) -> list[str]:
        """A name each: the first field of them that is filled throughout and not one word only."""
        for at in range(len(self._labels)):
            names = [clean(told[at]) for told in sets]
            if "" not in names and (len(set(names)) > 1 or len(sets) == 1):
                return names
        return [str(before + number) for number in range(1, len(sets) + 1)]

    def _told(self, words: Sequence[str]) -> tuple[str, ...]:
        """The words of a set that name the sample, then the one that says more of it."""
        return tuple(words[i] for i in (*self._labels, *self._note))

    def _from_bands(self) -> Iterator[_Curve]:
        """Curves from one field per band."""
        order = sorted(self._bands, key=lambda i: self._bands[i])
        grid = self._grid([self._bands[i] for i in order])
        for words in rows(self._table, self._file):
            told = self._told(words)
            yield told, grid, self._numbers([words[i] for i in order], told)

    def _from_pairs(self) -> Iterator[_Curve]:
        """Curves from pairs of wavelength and value."""
        grids: dict[tuple[float, ...], tuple[float, ...]] = {}
        for told, pairs in self._gathered():
            pairs.sort()
            named = tuple(nm for nm, _ in pairs)
            if named not in grids:
                grids[named] = self._grid(named)
            yield told, grids[named], as_float([value for _, value in pairs])

    def _gathered(self) -> Iterator[tuple[Sequence[str], _Pairs]]:
        """What is told of each sample and its pairs: all in one set of data, or a set for each."""
        whose, pairs = tuple[str, ...](), _Pairs()
        for words in rows(self._table, self._file):
            told = self._told(words)
            read = self._numbers([words[i + j] for i in self._pairs for j in (0, 1)], told)
            new = [(nm, value) for nm, value in read.reshape(-1, 2).tolist()]
            goes_on = len(new) == 1 and pairs and new[0][0] > pairs[-1][0] and told == whose
            if pairs and not goes_on:
                yield whose, pairs
                pairs = []
            whose = told
            pairs += new
        if pairs:
            yield whose, pairs

    def _pairs_unit(self) -> bool:
        if len(self._units) > 1:
            raise MeasurementError(
                f"{self._file} mixes percent and fractions; export all in one unit."
            )
        return next(iter(self._units))

    def _grid(self, named: Sequence[float]) -> tuple[float, ...]:
        for one, other in pairwise(named):
            if one == other:
                raise MeasurementError(
                    f"{self._file} gives two values at {one:g} nm; "
                    f"export one kind of measurement only."
                )
        return even(named, self._file)

    def _numbers(self, words: Sequence[str], told: Sequence[str]) -> NDArray[np.float64]:
        try:
            return numbers(words)
        except ValueError:
            bad = first_bad(words)
            whose = f" of “{clean(told[0], _SHOWN)}”" if self._labels else ""
            raise MeasurementError(
                f"{self._file} has “{clean(bad, _SHOWN)}” where a number{whose} should stand; "
                f"measure it again or leave it out."
            ) from None


def _nm(text: str) -> float:
    return float(text.replace(",", "."))


def _told_unit(keywords: Mapping[str, str]) -> bool | None:
    """Whether the keywords say percent (True) or fractions (False)."""
    for word, value in keywords.items():
        if "UNIT" in word and any(part in word for part in ("SPECTR", "MEASURE", "REFLECT")):
            low = value.casefold()
            if "percent" in low or "%" in low:
                return True
            if "fraction" in low or "decimal" in low:
                return False
    return None
