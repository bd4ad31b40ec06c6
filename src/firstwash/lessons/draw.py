"""Pieces of pages that the lessons draw: colours, strips, pictures and small charts, as HTML.

Colours stand on one neutral grey, words beside it on paper white. Every drawing tells in words
what it shows, for those who do not see it.
"""

import base64
from collections.abc import Sequence
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.words import colour_words
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import lab_to_srgb8, xyz_to_linear_srgb
from firstwash.picture.profile import encode_png, linear_to_srgb8

__all__ = [
    "chart",
    "halves",
    "hex_of",
    "ladder",
    "picture",
    "pictures",
    "png_of_xyz",
    "ramp",
    "said",
    "srgb8",
    "strip",
]

DASHES: Final = ("", "9 6", "2 5", "14 5 2 5")
MOST_CURVES: Final = len(DASHES)


def srgb8(labs: FloatArray) -> NDArray[np.uint8]:
    """CIELAB (..., 3) as a screen shows it, (..., 3) codes."""
    return lab_to_srgb8(np.asarray(labs, dtype=np.float64))


def hex_of(lab: FloatArray) -> str:
    """ "#rrggbb" of CIELAB (3,) as a screen shows it."""
    r, g, b = (int(v) for v in srgb8(lab))
    return f"#{r:02x}{g:02x}{b:02x}"


def said(lab: FloatArray) -> str:
    """The colour in words."""
    lightness, a, b = (float(v) for v in lab)
    return colour_words((lightness, a, b))


def strip(labs: FloatArray, labels: Sequence[str], what: str) -> str:
    """Colours (n, 3) side by side without a gap, a word under each; what: it shows, in words."""
    told = "; ".join(f"{label}: {said(lab)}" for label, lab in zip(labels, labs, strict=True))
    boxes = "".join(f'<span style="background:{hex_of(lab)}"></span>' for lab in labs)
    words = "".join(f"<span>{escape(label)}</span>" for label in labels)
    return (
        f'<div class="colours" role="img" aria-label="{escape(f"{what}. {told}")}">'
        f'<div class="boxes">{boxes}</div></div><div class="under" aria-hidden="true">{words}</div>'
    )


def ladder(labs: FloatArray, ends: tuple[str, str], mark: tuple[int, str], what: str) -> str:
    """Colours (n, 3) side by side, words under its two ends, and one step marked with a word."""
    place, word = mark
    told = (
        f"{ends[0]}: {said(labs[0])}; {word}, step {place + 1} of {len(labs)}: "
        f"{said(labs[place])}; {ends[1]}: {said(labs[-1])}"
    )
    boxes = "".join(f'<span style="background:{hex_of(lab)}"></span>' for lab in labs)
    at = 100.0 * (place + 0.5) / len(labs)
    return (
        f'<div class="colours" role="img" aria-label="{escape(f"{what}. {told}")}">'
        f'<div class="boxes">{boxes}</div></div><div class="ends" aria-hidden="true">'
        f'<p class="mark"><span style="left:{at:.1f}%">↑ {escape(word)}</span></p>'
        f"<p><span>{escape(ends[0])}</span><span>{escape(ends[1])}</span></p></div>"
    )


def halves(upper: FloatArray, lower: FloatArray, labels: Sequence[str], what: str) -> str:
    """Pairs of colours (n, 3) one under the other, touching, a word under each pair.

    what: it shows, in words, with what is above and what below.
    """
    told = "; ".join(
        f"{label}: {said(a)} above, {said(b)} below"
        for label, a, b in zip(labels, upper, lower, strict=True)
    )
    boxes = "".join(
        f'<span><i style="background:{hex_of(a)}"></i><i style="background:{hex_of(b)}"></i></span>'
        for a, b in zip(upper, lower, strict=True)
    )
    words = "".join(f"<span>{escape(label)}</span>" for label in labels)
    return (
        f'<div class="colours" role="img" aria-label="{escape(f"{what}. {told}")}">'
        f'<div class="boxes halves">{boxes}</div></div>'
        f'<div class="under" aria-hidden="true">{words}</div>'
    )


def ramp(labs: FloatArray, what: str) -> str:
    """Colours (n, 3) running into one another; what: it shows, in words."""
    stops = ", ".join(hex_of(lab) for lab in labs)
    ends = f"{said(labs[0])} to {said(labs[-1])}"
    return (
        f'<div class="colours" role="img" aria-label="{escape(f"{what}, from {ends}")}">'
        f'<div class="run" style="background:linear-gradient(to right, {stops})"></div></div>'
    )


def png_of_xyz(xyz: FloatArray) -> bytes:
    """A PNG of XYZ (rows, cols, 3), white Y = 1."""
    return encode_png(linear_to_srgb8(xyz_to_linear_srgb(xyz).astype(np.float32)))


def picture(png: bytes, alt: str, caption: str, size: tuple[int, int] = (320, 240)) -> str:
    """A picture inside the page; caption: HTML under it; size: width and height in pixels."""
    data = base64.b64encode(png).decode("ascii")
    return (
        f'<figure class="pic"><img src="data:image/png;base64,{data}" alt="{escape(alt)}" '
        f'width="{size[0]}" height="{size[1]}"><figcaption>{caption}</figcaption></figure>'
    )


def pictures(figures: Sequence[str], few: bool = False) -> str:
    """Pictures side by side where there is room; few: larger ones."""
    kind = "pics few" if few else "pics"
    return f'<div class="{kind}">{"".join(figures)}</div>'


def _path(values: FloatArray, top: float) -> str:
    x = 70.0 + (np.asarray(WAVELENGTHS_NM) - 380.0) / 350.0 * 610.0
    y = 250.0 - np.asarray(values) / top * 230.0
    return "M" + " L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))


def _grid(top: float) -> str:
    lines = []
    for share in (0.0, 0.5, 1.0):
        y = 250.0 - 230.0 * share
        lines.append(
            f'<line x1="70" x2="680" y1="{y:.0f}" y2="{y:.0f}" stroke="#c9c6bf"/>'
            f'<text x="62" y="{y + 6:.0f}" text-anchor="end">{share * top:.0%}</text>'
        )
    names = (("violet", 410), ("blue", 465), ("green", 530), ("yellow", 580), ("red", 660))
    for name, nm in names:
        x = 70.0 + (nm - 380.0) / 350.0 * 610.0
        lines.append(f'<text x="{x:.0f}" y="278" text-anchor="middle">{name}</text>')
    return "".join(lines)


def chart(curves: Sequence[tuple[str, NDArray[np.float64]]], what: str) -> str:
    """Reflectances (36,) over the spectrum, told apart by their dashes; at most four.

    curves: (name, share of light 0-1) pairs; what: the chart shows, in words.
    """
    if not 1 <= len(curves) <= MOST_CURVES:
        raise ValueError("a chart holds one to four curves")
    high = max(float(values.max()) for _, values in curves)
    top = next(t for t in (0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0) if high <= t or t == 1.0)
    lines, keys = [], []
    for i, ((name, values), dash) in enumerate(zip(curves, DASHES, strict=False)):
        y = 308 + 28 * i
        pen = f'fill="none" stroke="#222" stroke-width="3" stroke-dasharray="{dash}"'
        lines.append(f'<path d="{_path(values, top)}" {pen}/>')
        word = f'<text x="162" y="{y}">{escape(name)}</text>'
        keys.append(f'<path d="M70 {y - 6} H150" {pen}/>{word}')
    height = 320 + 28 * len(curves)
    return (
        f'<svg class="chart" viewBox="0 0 700 {height}" role="img" aria-label="{escape(what)}">'
        f"{_grid(top)}{''.join(lines)}{''.join(keys)}</svg>"
    )
