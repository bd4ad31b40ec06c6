"""One file of an instrument, whatever its kind, to samples on our grid."""

import codecs
from typing import Final

from firstwash.errors import MeasurementError
from firstwash.paints.instrument.cgats import read_cgats
from firstwash.paints.instrument.cxf import read_cxf
from firstwash.paints.instrument.gather import gather
from firstwash.paints.instrument.samples import Measurements, clean

__all__ = ["read_measurements"]

MAX_BYTES: Final = 32 << 20
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_measurements(data: bytes, name: str) -> Measurements:
    """The spectral reflectances in a CGATS.17 or CxF3 file.

    data: the whole file, at most 32 MB; what it is shows in its content. name: what to call the
    file in messages. Raises MeasurementError, in one sentence that says what to do, when it is
    neither, is damaged, holds no spectral reflectance, or leaves open what its numbers mean.
    """
    file = clean(name, 80) or "The file"
    if len(data) > MAX_BYTES:
        raise MeasurementError(f"{file} is larger than 32 MB; export fewer samples at a time.")
    text = _text(data)
    if text.lstrip().startswith("<"):
        return gather(read_cxf(data, file), file)
    if "BEGIN_DATA" not in text.upper() or "\0" in text:
        raise MeasurementError(
            f"{file} is neither CGATS.17 text nor CxF3 XML; export the spectra as one of them."
        )
    return gather(read_cgats(text, file), file)


def _text(data: bytes) -> str:
    """The bytes as text: UTF-16 or UTF-8 where they are, else Latin-1, which takes any byte."""
    for mark, codec in _MARKS:
        if data.startswith(mark):
            return data.decode(codec, errors="replace")
    head = data[:400]
    for zeros, codec in ((head[1::2], "utf-16-le"), (head[::2], "utf-16-be")):
        if zeros and zeros.count(0) > 0.9 * len(zeros):
            return data.decode(codec, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")
