"""Two ladders of values: the photo's, and what it is painted as; one line from rung to rung."""

from html import escape
from itertools import pairwise
from typing import Final

from firstwash.optics.observer import lab_to_srgb8
from firstwash.picture.studies import NumberedFrom, numbered
from firstwash.plan.reach import STEPS, Reach

__all__ = ["ladders_svg"]

WIDE, HIGH, TOP = 300, 420, 34  # px of the drawing, and of its head
LADDER: Final = 92  # px a ladder is wide
LEAST_PX: Final = 22.0  # of a rung with a number in it
WORDS: Final = 'font-size="18" fill="#fff"'
RIM: Final = 'stroke="#fbfaf7" stroke-width="1"'


def ladders_svg(found: Reach, numbered_from: NumberedFrom = "dark") -> str:
    """SVG, white on the page's grey: left the photo's value steps, right as they are painted."""
    right = WIDE - LADDER
    rungs = found.painted()
    parts = [_head(0, "The photo"), _head(right, "Painted")]
    for (low, low_painted), (high, high_painted) in pairwise(rungs):
        parts += [
            _rung(0, low, high),
            _rung(right, low_painted, high_painted),
            _number(low, high, numbered_from),
        ]
    parts += [_line(photo, painted, right) for photo, painted in rungs]
    told = escape(f"Two ladders of values: the photo's and what it is painted as. {found.words}")
    return (
        f'<svg class="ladders" viewBox="0 0 {WIDE} {HIGH + TOP}" role="img" '
        f'aria-label="{told}">{"".join(parts)}</svg>'
    )


def _y(lightness: float) -> float:
    return TOP + 2.0 + (HIGH - 4.0) * (1.0 - lightness / 100.0)


def _head(x: float, text: str) -> str:
    return f'<text x="{x + LADDER / 2:.0f}" y="20" text-anchor="middle" {WORDS}>{text}</text>'


def _rung(x: float, low: float, high: float) -> str:
    r, g, b = (int(v) for v in lab_to_srgb8(((low + high) / 2.0, 0.0, 0.0)))
    return (
        f'<rect x="{x + 1:.0f}" y="{_y(high):.1f}" width="{LADDER - 2}" '
        f'height="{max(_y(low) - _y(high), 0.1):.1f}" fill="#{r:02x}{g:02x}{b:02x}" {RIM}/>'
    )


def _number(low: float, high: float, numbered_from: NumberedFrom) -> str:
    if _y(low) - _y(high) < LEAST_PX:
        return ""
    middle = (low + high) / 2.0
    step = numbered(min(int(middle * STEPS / 100.0), STEPS - 1) + 1, STEPS, numbered_from)
    ink = "#fff" if middle < 55.0 else "#222"
    return (
        f'<text x="{LADDER / 2:.0f}" y="{_y(middle) + 6:.1f}" text-anchor="middle" '
        f'font-size="18" fill="{ink}">{step}</text>'
    )


def _line(photo: float, painted: float, right: float) -> str:
    return (
        f'<line x1="{LADDER}" y1="{_y(photo):.1f}" x2="{right}" y2="{_y(painted):.1f}" '
        'stroke="#fff" stroke-width="1.2"/>'
    )
