"""A glaze as a small drawing: how much light of each colour the paper, what lies beneath and the
whole send back, and what the glaze takes on the way.

Written as in `handout.map_svg`: presentation attributes only, in pencil greys. Lines differ by
dash and weight, what is taken is hatched, so nothing hangs on colour; letters are 12 units on a
drawing 300 units wide, to be shown at 300 px or more.
"""

from collections.abc import Sequence
from html import escape
from itertools import pairwise
from typing import Final

import numpy as np

from firstwash.advice.glaze_light import ENDS_NM
from firstwash.advice.glaze_reasons import WhyGlaze
from firstwash.advice.glaze_shift import Lab
from firstwash.advice.glaze_words import why_words
from firstwash.arrays import FloatArray
from firstwash.handout.words import colour_words
from firstwash.optics.grid import STEP_NM, WAVELENGTHS_NM
from firstwash.optics.observer import lab_to_srgb8

__all__ = ["light_chart_svg"]

WIDTH: Final = 300
LEFT, RIGHT, TOP, HIGH = 40.0, 292.0, 26.0, 130.0
ROW, LETTERS_SIZE = 19, 12
LETTERS, LINES, FAINT, HATCHING, TAKEN = "#222222", "#5c5c5c", "#c4c4c4", "#6e6e6e", "#e6e6e6"
PAPER_DASH, UNDER_DASH, ADDED_DASH = "1 3", "6 3", "1 2"
# Where on the axis a colour of the spectrum is named, nm; common practice, no source.
NAMES: Final = ((403, "violet"), (462, "blue"), (521, "green"), (584, "yellow"), (658, "red"))
LEVELS: Final = ((1.0, "all"), (0.5, "half"), (0.0, "none"))
SEEN_FROM: Final = 0.015  # of the light; thinner slivers are not hatched

Point = tuple[float, float]


def light_chart_svg(why: WhyGlaze, numbers: bool = False) -> str:
    """The light of a glaze over the spectrum, 380-730 nm, as a standalone SVG 300 units wide.

    numbers: whether wavelengths (nm) and shares (%) are written as well. Names are escaped.
    """
    told = why_words(why)
    legend = _legend(why)
    top = TOP + HIGH + (36 if numbers else 22)
    high = round(top + len(legend) * ROW + 4)
    rows = "".join(f'<g transform="translate(0 {top + i * ROW:g})">{r}</g>'
                   for i, r in enumerate(legend))  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{high}" '
        f'viewBox="0 0 {WIDTH} {high}" role="img"><title>{escape(told.gist)}</title>'
        f"<desc>{escape(told.light)}</desc>"
        f'<rect width="{WIDTH}" height="{high}" fill="#ffffff"/>'
        f'{_axes(numbers)}<g fill="none">{_curves(why)}</g>'
        f'<g font-family="sans-serif" font-size="{LETTERS_SIZE}" fill="{LETTERS}">'
        f"{_axis_words(numbers)}{rows}</g></svg>"
    )


def _x(nm: float) -> float:
    first, last = float(WAVELENGTHS_NM[0]), float(WAVELENGTHS_NM[-1])
    return LEFT + (nm - first) / (last - first) * (RIGHT - LEFT)


def _y(share: float) -> float:
    return TOP + HIGH * (1.0 - min(max(share, 0.0), 1.0))


def _points(curve: FloatArray) -> list[Point]:
    return [(_x(nm), _y(float(v))) for nm, v in zip(WAVELENGTHS_NM.tolist(), curve, strict=True)]


def _d(points: Sequence[Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _line(d: str, width: float, grey: str = LINES, dash: str = "") -> str:
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{d}" stroke="{grey}" stroke-width="{width:g}"{broken}/>'


# --- the drawing -----------------------------------------------------------------


def _curves(why: WhyGlaze) -> str:
    paper, under, after = why.spectra
    taken = _points(under) + _points(np.minimum(under, after))[::-1]
    shaded = f'<path d="{_d(taken)}Z" fill="{TAKEN}" stroke="none"/>'
    beneath = "" if why.on_paper else _line(_d(_points(under)), 1.5, LINES, UNDER_DASH)
    return (
        shaded
        + _hatched(under, after)
        + _line(_d(_points(paper)), 1.5, LINES, PAPER_DASH)
        + beneath
        + _line(_d(_points(after)), 2.5, LETTERS)
    )


def _hatched(under: FloatArray, after: FloatArray) -> str:
    """Upright lines where the glaze takes light; dotted ones where it adds some."""
    nm = WAVELENGTHS_NM[:-1] + STEP_NM / 2
    low, high = (np.interp(nm, WAVELENGTHS_NM, curve) for curve in (after, under))
    ends = [(_x(x), _y(a), _y(u)) for x, a, u in zip(nm.tolist(), low, high, strict=True)]
    gone, added = ("".join(f"M{x:.1f} {a:.1f}V{u:.1f}" for (x, a, u), d in
                           zip(ends, (high - low).tolist(), strict=True) if sign * d > SEEN_FROM)
                   for sign in (1, -1))  # fmt: skip
    return "".join(
        _line(d, 1.0, HATCHING, dash) for d, dash in ((gone, ""), (added, ADDED_DASH)) if d
    )


def _axes(numbers: bool) -> str:
    thirds = [0.5 * (a[1] + b[0]) for a, b in pairwise(ENDS_NM)]
    parted = "".join(f"M{_x(nm):.1f} {TOP:g}V{TOP + HIGH:g}" for nm in thirds)
    ticks = (
        "".join(f"M{_x(nm):.1f} {TOP + HIGH:g}v4" for nm in (400, 500, 600, 700)) if numbers else ""
    )
    frame = f"M{LEFT:g} {TOP:g}V{TOP + HIGH:g}H{RIGHT:g}{ticks}"
    return f'<g fill="none">{_line(parted, 1.0, FAINT)}{_line(frame, 1.0)}</g>'


def _axis_words(numbers: bool) -> str:
    below = TOP + HIGH + 15
    told = [_text(4, 14, "light sent back")]
    told += [_text(_x(nm), below, word, "middle") for nm, word in NAMES]
    told += [
        _text(LEFT - 5, _y(share) + 4, f"{share:.0%}" if numbers else word, "end")
        for share, word in LEVELS
    ]
    if numbers:
        told += [_text(_x(nm), below + 14, f"{nm}", "middle") for nm in (400, 500, 600)]
        told.append(_text(_x(700), below + 14, "700 nm", "middle"))
    return "".join(told)


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    at = f' text-anchor="{anchor}"' if anchor != "start" else ""
    return f'<text x="{x:.1f}" y="{y:.1f}"{at}>{escape(words)}</text>'


# --- what the lines are ----------------------------------------------------------


def _legend(why: WhyGlaze) -> list[str]:
    paper, under, after = why.labs
    laid = "wash" if why.on_paper else "glaze"
    rows = [_row(_line("M4 9H28", 1.5, LINES, PAPER_DASH), "bare paper", paper)]
    if not why.on_paper:
        below = _line("M4 9H28", 1.5, LINES, UNDER_DASH)
        rows.append(_row(below, f"below: {colour_words(under)}", under))
    rows.append(_row(_line("M4 9H28", 2.5, LETTERS), f"seen: {colour_words(after)}", after))
    more = why.spectra[2] - why.spectra[1]
    if float(more.min()) < -SEEN_FROM:
        rows.append(_row(_box("M8.5 3V15M14.5 3V15M20.5 3V15", TAKEN), f"what the {laid} takes"))
    if float(more.max()) > SEEN_FROM:
        rows.append(
            _row(
                _box("M8.5 3V15M14.5 3V15M20.5 3V15", "none", ADDED_DASH), "what it adds of its own"
            )
        )
    return rows


def _row(sample: str, words: str, lab: Lab | None = None) -> str:
    """A sample of a line, a chip of the colour it stands for, and its name."""
    chip = ""
    if lab is not None:
        chip = f'<rect x="32" y="3" width="12" height="12" fill="{_hex(lab)}" stroke="{LINES}"/>'
    return f"{sample}{chip}{_text(50, 13, words)}"


def _box(hatch: str, fill: str, dash: str = "") -> str:
    lines = _line(hatch, 1.0, HATCHING, dash)
    return f'<rect x="4" y="3" width="24" height="12" fill="{fill}"/>{lines}'


def _hex(lab: Lab) -> str:
    return "#" + "".join(f"{int(c):02x}" for c in lab_to_srgb8(np.array(lab)))
