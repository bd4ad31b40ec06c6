"""The parts that drawings of an outline are put together from.

Without a style sheet or a style attribute, as the maps are; lines are in hundredths of a mm.
"""

from collections.abc import Iterable
from html import escape
from typing import Final

import numpy as np

from firstwash.tracing.model import KINDS, Line, Tracing

__all__ = [
    "FONT",
    "FRAME_MM",
    "GRID",
    "LINES",
    "WORDS",
    "grid_rows",
    "grid_size",
    "mm",
    "scaled",
    "whole_svg",
]

FONT: Final = "'Atkinson Hyperlegible Next', sans-serif"
FINE: Final = 100  # units in a millimetre
LINES, GRID, WORDS = "#222222", "#9a9a9a", "#444444"
PALE, FAINT = "#c4c4c4", "#dadada"  # lines, and the grid, on the painting paper itself
GRID_MM, FRAME_MM = 0.12, 0.2
DASH: Final = (3.2, 2.0)  # mm, of a broken line: a dash and a gap, round caps and all


def scaled(tracing: Tracing, lines: Iterable[Line], pale: bool, grid: int | None) -> str:
    """Lines of an outline, one group for each kind, with the sheet's border and a grid if asked.

    In mm, the sheet's upper left corner at 0, 0.
    """
    grey, faint = (PALE, FAINT) if pale else (LINES, GRID)
    own = list(lines)
    groups = "".join(
        f'<g id="{kind}" stroke="{grey}">{_paths(n for n in own if n.kind == kind)}</g>'
        for kind in KINDS
    )
    return (
        f'<g transform="scale({1 / FINE:g})" fill="none" stroke-linecap="round" '
        f'stroke-linejoin="round">{_frame(tracing, faint)}'
        f"{_grid_lines(tracing, grid, faint) if grid else ''}{groups}</g>"
    )


def grid_size(tracing: Tracing, across: int) -> float:
    """Side in mm of a square of a drawing grid with so many squares across the sheet."""
    return tracing.width_mm / across


def whole_svg(wide: float, high: float, title: str, inside: str) -> str:
    """A standalone SVG of a size in mm."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{mm(wide)}mm" height="{mm(high)}mm" '
        f'viewBox="0 0 {mm(wide)} {mm(high)}" role="img"><title>{escape(title)}</title>'
        f"{inside}</svg>"
    )


def mm(value: float) -> str:
    """A length to a hundredth of a mm, without needless noughts."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _paths(lines: Iterable[Line]) -> str:
    return "".join(_path(line) for line in lines)


def _path(line: Line) -> str:
    whole = np.rint(line.curves * FINE).astype(np.int64)
    moves = (whole[:, 1:] - whole[:, :1]).reshape(-1, 6).tolist()
    d = f"M{whole[0, 0, 0]} {whole[0, 0, 1]}c" + " ".join(" ".join(map(str, m)) for m in moves)
    dash, gap = (part * FINE for part in DASH)
    broken = f' stroke-dasharray="{dash:g} {gap:g}"' if line.broken else ""
    closed = "z" if line.closed else ""
    return f'<path stroke-width="{round(line.weight * FINE)}"{broken} d="{d}{closed}"/>'


def _frame(tracing: Tracing, grey: str) -> str:
    wide, high = round(tracing.width_mm * FINE), round(tracing.height_mm * FINE)
    return (
        f'<rect id="sheet" width="{wide}" height="{high}" stroke="{grey}" '
        f'stroke-width="{round(FRAME_MM * FINE)}"/>'
    )


def _grid_lines(tracing: Tracing, across: int, grey: str) -> str:
    """Thin lines in hundredths of a mm; the last row may be cut by the sheet's lower border."""
    wide, high = tracing.width_mm * FINE, tracing.height_mm * FINE
    side = grid_size(tracing, across) * FINE
    upright = "".join(f"M{round(k * side)} 0V{round(high)}" for k in range(1, across))
    level = "".join(
        f"M0 {round(k * side)}H{round(wide)}" for k in range(1, grid_rows(tracing, across))
    )
    return (
        f'<path id="grid" stroke="{grey}" stroke-width="{GRID_MM * FINE:g}" d="{upright}{level}"/>'
    )


def grid_rows(tracing: Tracing, across: int) -> int:
    """Rows of a drawing grid; the last may be cut."""
    return int(np.ceil(tracing.height_mm / grid_size(tracing, across) - 1e-9))
