"""Spectral reflectance as [CGATS17] text, in and out. Keywords from memory."""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import groupby
from types import MappingProxyType
from typing import Final

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.columns import NAME, NOTE, UNITS, Columns
from firstwash.paints.instrument.samples import DIGITS, Reading, Sample, check_writable, clean
from firstwash.paints.instrument.tables import Table, quoted, read_tables

__all__ = ["read_cgats", "write_cgats"]

# What a file holds when it holds no spectra, by the start of a field's name.
_OTHERS: Final = {
    "LAB_": "Lab", "LCH_": "LCh", "XYZ_": "XYZ", "XYY_": "xyY", "CMYK_": "CMYK", "RGB_": "RGB",
    "D_": "density",
}  # fmt: skip
_HOW: Final = (
    "MEASUREMENT_SOURCE", "MEASUREMENT_GEOMETRY", "MEASUREMENT_TYPE", "MEASUREMENT_MODE",
    "MEAS_TYPE", "TARGET_TYPE", "DEVICE_CLASS",
)  # fmt: skip
_NOT_REFLECTED: Final = {
    "transmission": re.compile(r"transmi", re.IGNORECASE),
    "emission": re.compile(r"emissi|ambient|\bdisplay|radian|luminan", re.IGNORECASE),
}
_M_WHERE: Final = (
    "MEASUREMENT_CONDITION", "MEASUREMENT_CONDITIONS", "MEASUREMENT_SOURCE", "FILTER",
)  # fmt: skip
_M: Final = re.compile(r"(?<![A-Za-z0-9])M[0-3](?![A-Za-z0-9])")
_TOLD: Final = {
    "geometry": "MEASUREMENT_GEOMETRY", "filter": "FILTER", "polarisation": "POLARIZATION",
    "backing": "SAMPLE_BACKING", "aperture": "APERTURE",
}  # fmt: skip
_FILTER: Final = re.compile(r"(?<![A-Za-z])Filter=([\w.-]+)", re.IGNORECASE)
_NOTHING: Final = ("", "-", "unknown", "undefined", "n/a")


def read_cgats(text: str, file: str) -> list[Reading]:
    """The curves of a CGATS text in their order; `file`: what to call it in messages.

    Raises MeasurementError, in one sentence, for anything but spectral reflectance.
    """
    tables = read_tables(text, file)
    readings: list[Reading] = []
    for table in tables:
        columns = Columns(table, file)
        if columns.found:
            _check_reflected(table.keywords, file)
            conditions = MappingProxyType(_conditions(table.keywords))
            readings += columns.readings(len(readings), conditions)
    if not readings:
        raise MeasurementError(_no_spectra(tables, file))
    return readings


def _no_spectra(tables: Sequence[Table], file: str) -> str:
    names = {field.upper() for table in tables for field in table.fields}
    kinds = [word for start, word in _OTHERS.items() if any(n.startswith(start) for n in names)]
    only = f", only {', '.join(kinds)}" if kinds else ""
    return f"{file} holds no spectra{only}; export spectral reflectance."


def _check_reflected(keywords: Mapping[str, str], file: str) -> None:
    for what, pattern in _NOT_REFLECTED.items():
        if any(pattern.search(keywords.get(word, "")) for word in _HOW):
            raise MeasurementError(
                f"{file} holds measurements of {what}; measure the reflectance of dry paint."
            )


def _conditions(keywords: Mapping[str, str]) -> dict[str, str]:
    """What the keywords say of the way of measuring, as `Measurements.conditions` has it."""
    out = {}
    said = _M.search(" ".join(keywords.get(word, "") for word in _M_WHERE))
    if said:
        out["condition"] = said[0]
    within = _FILTER.search(keywords.get("MEASUREMENT_SOURCE", ""))
    for key, word in _TOLD.items():
        value = clean(keywords.get(word, ""), 60)
        if key == "filter" and not value and within:
            value = clean(within[1], 60)
        if value.casefold() not in _NOTHING and not _M.fullmatch(value):
            out[key] = value
    return out


def write_cgats(
    samples: Sequence[Sample], created: datetime, conditions: Mapping[str, str] | None = None
) -> bytes:
    """A CGATS.17 file of these samples, in UTF-8, reflectance as fractions with six decimals.

    Only bands that were measured are written: a table for each run of samples with the same
    ones. conditions: as in `Measurements`; other keys are left out. Raises MeasurementError when
    there is no sample or two have one name.
    """
    check_writable(samples)
    lines = ["CGATS.17", 'ORIGINATOR "firstwash"']
    lines += [f"CREATED {quoted(created.isoformat(timespec='seconds'))}"]
    lines += [f"KEYWORD {quoted(UNITS)}", f'{UNITS} "fraction"']
    lines += _keywords(conditions or {})
    number = 1
    for _, run in groupby(samples, key=lambda sample: sample.bands_measured.tobytes()):
        some = list(run)
        lines += ["", *_table(some, number)]
        number += len(some)
    return "\r\n".join([*lines, ""]).encode("utf-8")


def _keywords(conditions: Mapping[str, str]) -> list[str]:
    lines = []
    if "condition" in conditions:
        source = f"MeasurementCondition={conditions['condition']}"
        lines.append(f"MEASUREMENT_SOURCE {quoted(clean(source))}")
    for key, word in _TOLD.items():
        if key in conditions:
            own = [f"KEYWORD {quoted(word)}"] if key == "aperture" else []
            lines += [*own, f"{word} {quoted(clean(conditions[key]))}"]
    return lines


def _table(samples: Sequence[Sample], number: int) -> list[str]:
    """One table; all samples have the bands of the first. number: of the first sample."""
    bands = samples[0].bands_measured
    noted = any(sample.note for sample in samples)
    fields = ["SAMPLE_ID", NAME, *([NOTE] if noted else [])]
    fields += [f"SPECTRAL_NM{nm}" for nm in WAVELENGTHS_NM[bands]]
    lines = [f"NUMBER_OF_FIELDS {len(fields)}", "BEGIN_DATA_FORMAT", "\t".join(fields)]
    lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS {len(samples)}", "BEGIN_DATA"]
    for at, sample in enumerate(samples, number):
        words = [str(at), quoted(sample.name), *([quoted(sample.note)] if noted else [])]
        words += [f"{value:.{DIGITS}f}" for value in sample.reflectance[bands]]
        lines.append("\t".join(words))
    return [*lines, "END_DATA"]
