"""An outline as a drawing of true size: SVG in millimetres, one group for each kind of line."""

from dataclasses import replace
from typing import Final

from firstwash.errors import RequestError
from firstwash.language import mark, tr
from firstwash.tracing.drawing import (
    FONT,
    FRAME_MM,
    LINES,
    WORDS,
    grid_rows,
    grid_size,
    mm,
    scaled,
    whole_svg,
)
from firstwash.tracing.model import Kind, Tracing
from firstwash.tracing.tile_page import tile_svg
from firstwash.tracing.tiles import letters

__all__ = ["INKJET_WARNING", "small_tracing_svg", "tile_svg", "tracing_svg"]

INKJET_WARNING: Final = mark(
    "Inkjet ink bleeds under a wash: print on painting paper only with a laser printer or ink "
    "that is waterproof once dry, and try a wet brush on a corner first."
)
SMALL_MM: Final[dict[Kind, float]] = {  # widths of the lines of a small picture, in print
    "contour": 0.12, "reserve": 0.1, "inner": 0.08, "wash": 0.06
}  # fmt: skip
SMALL_WASH: Final = "#a6a6a6"  # and the grey of those that are many
MOST_SQUARES: Final = 40
LETTER: Final = 4.0  # mm, of the words beside a grid
LIFT: Final = 0.36  # of the type's size, from a line's middle to its letters' foot


def tracing_svg(
    tracing: Tracing, *, mirrored: bool = False, pale: bool = False, grid: int | None = None
) -> str:
    """The outline as a standalone SVG at true size.

    mirrored: left and right changed, to be rubbed off face down. pale: a light grey for the
    painting paper itself; see `INKJET_WARNING`. grid: squares across the sheet, 1 to 40, named
    by letters across and numbers down outside the drawing. Raises RequestError for another.
    """
    _check(grid)
    shown = tracing.mirrored() if mirrored else tracing
    wide, high = tracing.width_mm, tracing.height_mm
    margin = 2.0 * LETTER if grid else FRAME_MM
    inside = (
        f'<g transform="translate({mm(margin)} {mm(margin)})">'
        f"{scaled(shown, shown.lines, pale, grid)}{_grid_words(shown, grid) if grid else ''}</g>"
    )
    title = tr("Outline to trace, mirrored") if mirrored else tr("Outline to trace")
    return whole_svg(wide + 2 * margin, high + 2 * margin, title, inside)


def small_tracing_svg(tracing: Tracing, width_mm: float) -> str:
    """The outline as a small picture so wide in print, its lines thick enough to be seen there."""
    scale = tracing.width_mm / width_mm
    lines = [replace(n, weight=scale * SMALL_MM[n.kind]) for n in tracing.lines]
    inside = scaled(tracing, lines, False, None)
    inside = inside.replace(f'id="wash" stroke="{LINES}"', f'id="wash" stroke="{SMALL_WASH}"')
    return whole_svg(tracing.width_mm, tracing.height_mm, tr("Outline to trace"), inside)


def _check(grid: int | None) -> None:
    if grid is not None and not 1 <= grid <= MOST_SQUARES:
        raise RequestError(f"A drawing grid has 1 to {MOST_SQUARES} squares across; give one.")


def _grid_words(tracing: Tracing, across: int) -> str:
    side = grid_size(tracing, across)
    size = min(LETTER, 0.8 * side)
    rows = grid_rows(tracing, across)
    lift = LIFT * size
    names = [
        (((k + 0.5) * side, y + lift), letters(k))
        for k in range(across)
        for y in (-LETTER, tracing.height_mm + LETTER)
    ] + [
        ((x, min((k + 0.5) * side, (k * side + tracing.height_mm) / 2.0) + lift), str(k + 1))
        for k in range(rows)
        for x in (-LETTER, tracing.width_mm + LETTER)
    ]
    words = "".join(f'<text x="{mm(x)}" y="{mm(y)}">{name}</text>' for (x, y), name in names)
    return (
        f'<g id="grid-names" font-family="{FONT}" font-size="{mm(size)}" fill="{WORDS}" '
        f'text-anchor="middle">{words}</g>'
    )
