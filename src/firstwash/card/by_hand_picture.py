"""Drawings of the pencil lines of a swatch card made by hand, as inline SVG; one unit is 1 mm."""

from collections.abc import Sequence
from typing import Final

from firstwash.card.layout import COLUMNS, Box
from firstwash.card.words import inches, row_letter

__all__ = ["corner_picture", "sheet_picture"]

INK: Final = "#222"
PENCIL: Final = "#777"


def _line(x1: float, y1: float, x2: float, y2: float, width: float, ink: str = PENCIL) -> str:
    return (
        f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" '
        f'stroke="{ink}" stroke-width="{width:g}"/>'
    )


def _text(x: float, y: float, words: str, size: float, anchor: str = "middle") -> str:
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}">{words}</text>'


def _figure(view: tuple[float, float, float, float], told: str, inside: str) -> str:
    box = " ".join(f"{v:g}" for v in view)
    return (
        f'<figure><svg viewBox="{box}" role="img" aria-label="{told}">{inside}</svg></figure>'
    )  # fmt: skip


def _both(mm: float) -> str:
    return f"{mm:g} mm ({inches(mm)})"


def sheet_picture(frame: Box, lines: Sequence[tuple[float, float, float]]) -> str:
    """The whole sheet; lines: each row's upper, pen and lower line from the frame's top."""
    wide, high = frame.width, frame.height
    pitch = wide / COLUMNS
    parts = [
        f'<rect width="{wide:g}" height="{high:g}" fill="none" stroke="{INK}" stroke-width="1"/>'
    ]
    for row, (upper, pen, lower) in enumerate(lines):
        parts += [_line(0, y, wide, y, 0.5) for y in (upper, lower)]
        parts += [
            _line(i * pitch, y, i * pitch, y + way, 0.5)
            for i in range(1, COLUMNS)
            for y, way in ((upper, -2.0), (lower, 2.0))
        ]
        parts.append(_line(0, pen, wide, pen, 1.0, INK))
        parts.append(_text(3, upper - 1.6, row_letter(row), 7.5, "start"))
    upper, _, lower = lines[0]
    parts += [
        _text((i + 0.5) * pitch, lower - 3.5, str(i + 1), 7.0) for i in range(COLUMNS)
    ]  # fmt: skip
    parts += [
        _line(0, -4, wide, -4, 0.4, INK), _line(0, -6, 0, -2, 0.4, INK),
        _line(wide, -6, wide, -2, 0.4, INK), _text(0.5 * wide, -7.5, _both(wide), 8.5),
        _line(wide + 4, 0, wide + 4, high, 0.4, INK), _line(wide + 2, 0, wide + 6, 0, 0.4, INK),
        _line(wide + 2, high, wide + 6, high, 0.4, INK),
        f'<g transform="translate({wide + 12:g} {0.5 * high:g}) rotate(90)">'
        f"{_text(0, 0, _both(high), 8.5)}</g>",
    ]  # fmt: skip
    told = f"The pencil frame with {len(lines)} rows of 14 places"
    return _figure((-6, -18, wide + 24, high + 24), told, "".join(parts))


def corner_picture(lines: tuple[float, float, float], ticks: Sequence[float]) -> str:
    """The upper left corner, larger, with the distances of its lines and first ticks in mm."""
    wide, high, size = 54.0, 34.0, 3.9
    upper, pen, lower = lines
    parts = [_line(0, 0, wide, 0, 0.6, INK), _line(0, 0, 0, high, 0.6, INK)]
    parts += [_line(0, y, wide, y, 0.25) for y in (upper, lower)]
    parts.append(_line(0, pen, wide, pen, 1.0, INK))
    for words, y in (("upper line", upper), ("pen line", pen), ("lower line", lower)):
        parts.append(_text(wide + 1.5, y + 1.3, f"{y:g} mm, {words}", size, "start"))
    parts.append(_text(1.2, upper - 2.0, "A", 6.0, "start"))
    for number, x in enumerate(ticks[:4], 1):
        parts += [_line(x, y, x, y + way, 0.3) for y, way in ((upper, -2), (lower, 2), (0, -1.5))]
        parts.append(_text(x, -3.0, f"{x:g}", size))
        parts.append(_text(x - 6.0, lower - 4.0, str(number), size))
    parts.append(_text(0, -3.0, "0", size))
    parts.append(_text(ticks[3] + 6.0, -3.0, "mm", size, "start"))
    told = "The upper left corner with the distances of its lines from the frame, in mm"
    return _figure((-3, -8, wide + 40, high + 9), told, "".join(parts))
