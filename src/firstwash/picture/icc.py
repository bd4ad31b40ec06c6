"""ICC profiles as far as a picture needs them: curves and a matrix, read and written.

A profile of three curves and a matrix (or one grey curve) is evaluated here, in
double precision and without clipping, so wide-gamut colours survive. A profile
built on tables is only recognised; evaluating it is left to a colour engine.

Sources: [ICC1] for the header (7.2), the tags (9, 10), the D50 of the connection space
(6.3.4.3) and the Bradford adaptation (Annex E); [IEC61966-2-1]; [CIE15].
"""

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import as_float

__all__ = [
    "D50",
    "D65_XY",
    "Curve",
    "IccError",
    "IccProfile",
    "Parametric",
    "adapt_to_d50",
    "read_icc",
    "rgb_to_xyz",
    "write_icc",
]

Float64 = NDArray[np.float64]
Curve = Callable[[Float64], Float64]
Chromaticity = tuple[float, float]

D50: Float64 = np.array([0.9642, 1.0, 0.8249])  # [ICC1] connection space illuminant
D65_XY: Chromaticity = (0.3127, 0.3290)  # [IEC61966-2-1]

BRADFORD: Float64 = np.array(  # [ICC1] Annex E
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
MAX_TAGS = 200  # real profiles carry about 20; more is a damaged count
XYZ_TAGS = (b"rXYZ", b"gXYZ", b"bXYZ")
TRC_TAGS = (b"rTRC", b"gTRC", b"bTRC")
WANTED = {b"desc", b"kTRC", b"A2B0", b"A2B1", *XYZ_TAGS, *TRC_TAGS}
DEVICE_CLASSES = (b"scnr", b"mntr", b"prtr", b"spac")
SPACES = {b"RGB ": "RGB", b"GRAY": "GRAY", b"CMYK": "CMYK"}


class IccError(ValueError):
    """The bytes are not a profile that can describe a picture's colours."""


@dataclass(frozen=True)
class Parametric:
    """A parametric curve: (a·x + b)^gamma + e from `d` up, c·x + f below it.

    Called with x of any shape in [0, 1]; returns the same shape, clipped to [0, 1].
    Source: [ICC1] 10.18, function type 4 (the simpler types are its special cases).
    """

    gamma: float
    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 0.0
    e: float = 0.0
    f: float = 0.0

    def __call__(self, x: Float64) -> Float64:
        """Linear light for device values x."""
        # The base is clamped so that the branch np.where discards stays finite.
        power = np.power(np.maximum(self.a * x + self.b, 0.0), self.gamma) + self.e
        return np.clip(np.where(x >= self.d, power, self.c * x + self.f), 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Sampled:
    """A curve given by equally spaced samples over [0, 1], straight in between."""

    samples: Float64

    def __call__(self, x: Float64) -> Float64:
        """Linear light for device values x."""
        return np.interp(x, np.linspace(0.0, 1.0, len(self.samples)), self.samples)


@dataclass(frozen=True, eq=False)
class IccProfile:
    """What a profile says about its device colours.

    description: the profile's own name, cleaned for display.
    space: "RGB", "GRAY" or "CMYK".
    curves: one per channel, device value in [0, 1] to linear light in [0, 1]; empty
    when the profile is built on tables and needs a colour engine.
    to_d50: (3, n_channels), linear light to XYZ relative to D50; (3, 0) with tables.
    """

    description: str
    space: str
    curves: tuple[Curve, ...]
    to_d50: Float64


def rgb_to_xyz(primaries: Sequence[Chromaticity], white: Chromaticity) -> Float64:
    """Matrix from linear RGB to XYZ with Y = 1 for white.

    primaries: three (x, y) pairs, red, green, blue; white: (x, y).
    Returns (3, 3), columns the XYZ of the primaries.
    Source: [CIE15], additive mixture (the primaries' sum is the white).
    """
    columns = np.column_stack([_xyz_of(xy) for xy in primaries])
    scale = as_float(np.linalg.solve(columns, _xyz_of(white)))
    return columns * scale


def _xyz_of(xy: Chromaticity) -> Float64:
    x, y = xy
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def adapt_to_d50(white: Chromaticity) -> Float64:
    """Bradford adaptation (3, 3) of XYZ under `white` (x, y) to XYZ under D50. [ICC1]."""
    cones = (BRADFORD @ D50) / (BRADFORD @ _xyz_of(white))
    return as_float(np.linalg.solve(BRADFORD, cones[:, None] * BRADFORD))


# --- reading ---------------------------------------------------------------------


def read_icc(data: bytes) -> IccProfile:
    """Read a profile's name, colour space, and curves and matrix where it has them.

    data: the profile's bytes, trusted in nothing. Raises IccError when they are not
    an input-capable profile for RGB, grey or CMYK. Source: [ICC1].
    """
    try:
        return _read(data)
    except struct.error as error:  # a tag shorter than its kind
        raise IccError(f"damaged profile: {error}") from None


def _read(data: bytes) -> IccProfile:
    if len(data) < 132 or data[36:40] != b"acsp":
        raise IccError("not a profile")
    space = SPACES.get(data[16:20])
    if space is None or data[12:16] not in DEVICE_CLASSES:
        raise IccError("not a profile for RGB, grey or CMYK pictures")
    tags = _tags(data)
    name = _description(tags.get(b"desc", b""))
    if b"A2B0" in tags or b"A2B1" in tags or space == "CMYK" or data[20:24] != b"XYZ ":
        return IccProfile(name, space, (), np.zeros((3, 0)))
    return _shaper(name, space, tags)


def _tags(data: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">I", data, 128)
    if count > MAX_TAGS:
        raise IccError("damaged tag table")
    entries = [struct.unpack_from(">4sII", data, 132 + 12 * i) for i in range(count)]
    if any(start + size > len(data) for _, start, size in entries):
        raise IccError("a tag points past the end")
    return {name: data[start : start + size] for name, start, size in entries if name in WANTED}


def _shaper(name: str, space: str, tags: dict[bytes, bytes]) -> IccProfile:
    grey = space == "GRAY"
    try:
        curves = tuple(_curve(tags[tag]) for tag in ((b"kTRC",) if grey else TRC_TAGS))
        columns = [D50] if grey else [_xyz(tags[tag]) for tag in XYZ_TAGS]
    except KeyError as missing:
        raise IccError(f"tag {missing} is missing") from None
    to_d50 = np.column_stack(columns)
    if np.any(np.abs(to_d50.sum(axis=1) / D50 - 1.0) > 0.5):
        raise IccError("the matrix does not add up to a white")
    return IccProfile(name, space, curves, to_d50)


def _xyz(tag: bytes) -> Float64:
    if tag[:4] != b"XYZ ":
        raise IccError("not an XYZ tag")
    return np.array(struct.unpack_from(">3i", tag, 8)) / 65536.0


def _curve(tag: bytes) -> Curve:
    if tag[:4] == b"curv":
        return _sampled(tag)
    if tag[:4] == b"para":
        return _parametric(tag)
    raise IccError("unknown kind of curve")


def _sampled(tag: bytes) -> Curve:
    (count,) = struct.unpack_from(">I", tag, 8)
    if count == 0:
        return Parametric(1.0)
    if count == 1:
        return Parametric(struct.unpack_from(">H", tag, 12)[0] / 256.0)
    if 12 + 2 * count > len(tag):
        raise IccError("a curve is cut short")
    return Sampled(np.frombuffer(tag, ">u2", count, 12) / 65535.0)


def _parametric(tag: bytes) -> Curve:
    (kind,) = struct.unpack_from(">H", tag, 8)
    if kind > 4:
        raise IccError("unknown parametric curve")
    n = (1, 3, 4, 5, 7)[kind]
    p = [v / 65536.0 for v in struct.unpack_from(f">{n}i", tag, 12)]
    if p[0] <= 0 or (kind in (1, 2) and p[1] == 0):
        raise IccError("a curve that is not a curve")
    if kind == 1:
        return Parametric(p[0], p[1], p[2], d=-p[2] / p[1])
    if kind == 2:
        return Parametric(p[0], p[1], p[2], d=-p[2] / p[1], e=p[3], f=p[3])
    return Parametric(*p)


def _description(tag: bytes) -> str:
    """The profile's name from a v2 'desc' or a v4 'mluc' tag, '' if there is none."""
    if tag[:4] == b"desc":
        (length,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + length].split(b"\0")[0].decode("ascii", "replace")
    elif tag[:4] == b"mluc":
        length, start = struct.unpack_from(">II", tag, 20)
        text = tag[start : start + length].decode("utf-16-be", "replace")
    else:
        text = ""
    return "".join(c for c in text if c.isprintable())[:80].strip()


# --- writing ---------------------------------------------------------------------


@cache
def write_icc(
    description: str,
    primaries: tuple[Chromaticity, Chromaticity, Chromaticity],
    white: Chromaticity,
    curve: Parametric,
) -> bytes:
    """A display profile (ICC v4, curves and matrix); the same bytes for the same arguments.

    description: ASCII name; primaries, white: (x, y) pairs; curve: device value to
    linear light, shared by the three channels, with e = f = 0. Source: [ICC1].
    """
    adaptation = adapt_to_d50(white)
    columns = (adaptation @ rgb_to_xyz(primaries, white)).T
    trc = (
        b"para"
        + struct.pack(">IHH", 0, 3, 0)
        + _s15([curve.gamma, curve.a, curve.b, curve.c, curve.d])
    )
    tags = [
        (b"desc", _mluc(description)),
        (b"cprt", _mluc("No copyright, use freely")),
        (b"wtpt", b"XYZ \0\0\0\0" + _s15(D50)),
        (b"chad", b"sf32\0\0\0\0" + _s15(adaptation.ravel())),
        *((name, b"XYZ \0\0\0\0" + _s15(c)) for name, c in zip(XYZ_TAGS, columns, strict=True)),
        *((name, trc) for name in TRC_TAGS),
    ]
    return _assemble(tags)


def _s15(values: Sequence[float] | Float64) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(float(v) * 65536) for v in values))


def _mluc(text: str) -> bytes:
    encoded = text.encode("utf-16-be")
    return b"mluc" + struct.pack(">III2s2sII", 0, 1, 12, b"en", b"US", len(encoded), 28) + encoded


def _assemble(tags: Sequence[tuple[bytes, bytes]]) -> bytes:
    """Header, tag table and tag data; equal data is stored once, as [ICC1] 7.3 allows."""
    body, table, seen = b"", b"", dict[bytes, int]()
    start = 128 + 4 + 12 * len(tags)
    for name, data in tags:
        if data not in seen:
            seen[data] = start + len(body)
            body += data + b"\0" * (-len(data) % 4)
        table += struct.pack(">4sII", name, seen[data], len(data))
    header = struct.pack(">I4xI4s4s4s", start + len(body), 0x04300000, b"mntr", b"RGB ", b"XYZ ")
    # A fixed date keeps the bytes the same from run to run.
    header += struct.pack(">6H4s28x", 2000, 1, 1, 0, 0, 0, b"acsp") + _s15(D50)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body
