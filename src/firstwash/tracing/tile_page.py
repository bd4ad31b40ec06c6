"""One page of an outline as SVG of the page's own size, with all that joins it to the others."""

from html import escape
from typing import Final

import numpy as np

from firstwash.language import tr
from firstwash.tracing.drawing import FONT, GRID, LINES, WORDS, mm, scaled, whole_svg
from firstwash.tracing.model import Line, Tracing
from firstwash.tracing.tiles import BAR_MM, Tile

__all__ = ["WORDS_MM", "tile_svg"]

THIN_MM: Final = 0.15
BAR_LINE_MM: Final = 0.35
TICK_MM: Final = 1.6  # half the height of a bar's end
MARK_MM: Final = 2.6  # half a registration mark's arms
RING_MM: Final = 1.3
TYPE_MM, NAME_MM = 3.4, 7.0  # sizes of the type
INCHES_MM: Final = 101.6  # 4 in
INCH_BAR_MM: Final = 5.4  # from the bar in mm down to the one in inches
WORDS_MM: Final = 8.2  # at the top of the strip, kept for what a page is told to do
MAP_MM: Final = (26.0, 9.0)  # room of the small map
GAP_MM: Final = 3.0


def tile_svg(
    tracing: Tracing,
    tile: Tile,
    *,
    mirrored: bool = False,
    pale: bool = False,
    grid: int | None = None,
) -> str:
    """The page of an outline that a tile is, as a standalone SVG of the page's size.

    mirrored, pale, grid: as `tracing_svg` takes them; a grid comes without its names. The tiles
    are those of the tracing's sheet.
    """
    shown = tracing.mirrored() if mirrored else tracing
    inside = (
        f'<defs><clipPath id="window">{_window(tile)}</clipPath></defs>'
        f'<g clip-path="url(#window)">{_drawing(shown, tile, pale, grid)}</g>'
        f'<g id="page" fill="none" stroke="{GRID}" stroke-width="{THIN_MM}">{_window(tile)}</g>'
        f"{_marks(tile, GRID if pale else LINES)}{_bars(tile)}{_name(tile)}{_map(tile)}"
    )
    return whole_svg(*tile.page_mm, tr("Outline, page {name}", name=tile.name), inside)


def _window(tile: Tile) -> str:
    (x, y), (_, _, wide, high) = tile.place, tile.window
    return f'<rect x="{mm(x)}" y="{mm(y)}" width="{mm(wide)}" height="{mm(high)}"/>'


def _drawing(tracing: Tracing, tile: Tile, pale: bool, grid: int | None) -> str:
    x, y = tile.on_page(0.0, 0.0)
    lines = (line for line in tracing.lines if _meets(line, tile))
    return f'<g transform="translate({mm(x)} {mm(y)})">{scaled(tracing, lines, pale, grid)}</g>'


def _meets(line: Line, tile: Tile) -> bool:
    """Whether a line may show in a tile's window: its curves lie within their control points."""
    low = line.curves.min(axis=(0, 1)) - line.weight
    high = line.curves.max(axis=(0, 1)) + line.weight
    start = np.array(tile.window[:2])
    return bool((high >= start).all() and (low <= start + tile.window[2:]).all())


def _marks(tile: Tile, grey: str) -> str:
    """A cross in a ring where two pages lie one over the other."""
    arms = "".join(
        f'<path d="M{mm(x - MARK_MM)} {mm(y)}h{mm(2 * MARK_MM)}M{mm(x)} {mm(y - MARK_MM)}'
        f'v{mm(2 * MARK_MM)}"/><circle cx="{mm(x)}" cy="{mm(y)}" r="{RING_MM}"/>'
        for x, y in (tile.on_page(*mark) for mark in tile.marks)
    )
    return f'<g id="marks" fill="none" stroke="{grey}" stroke-width="{THIN_MM}">{arms}</g>'


def _bars(tile: Tile) -> str:
    x, y = tile.bar
    bars = _bar(x, y, BAR_MM, "100 mm", 10)
    if tile.inches:
        bars += _bar(x, y + INCH_BAR_MM, INCHES_MM, tr("4 in"), 4)
    return f'<g id="scale" fill="none" stroke="{LINES}" stroke-width="{BAR_LINE_MM}">{bars}</g>'


def _bar(x: float, y: float, length: float, words: str, parts: int) -> str:
    """A line with a tick at each end and shorter ones between, its length beside it."""
    ticks = "".join(
        f"M{mm(x + length * k / parts)} {mm(y - TICK_MM * (1.0 if k in (0, parts) else 0.5))}"
        f"V{mm(y + (TICK_MM if k in (0, parts) else 0.0))}"
        for k in range(parts + 1)
    )
    return (
        f'<path d="M{mm(x)} {mm(y)}h{mm(length)}{ticks}"/>'
        f'<text x="{mm(x + length + GAP_MM)}" y="{mm(y + 0.35 * TYPE_MM)}" stroke="none" '
        f'fill="{WORDS}" font-family="{FONT}" font-size="{TYPE_MM}">{escape(words)}</text>'
    )


def _name(tile: Tile) -> str:
    """The page's name, left of the small map."""
    left, top, wide, high = tile.strip
    x = left + wide - tile.columns * _small(tile)[0] - GAP_MM
    y = top + high - 0.5 * MAP_MM[1] + 0.35 * NAME_MM
    return (
        f'<text id="name" x="{mm(x)}" y="{mm(y)}" text-anchor="end" fill="{LINES}" '
        f'font-family="{FONT}" font-size="{NAME_MM}">{tile.name}</text>'
    )


def _small(tile: Tile) -> tuple[float, float]:
    """Width and height in mm of one page on the small map."""
    _, _, wide, high = tile.window
    scale = min(MAP_MM[0] / (tile.columns * wide), MAP_MM[1] / (tile.rows * high))
    return wide * scale, high * scale


def _map(tile: Tile) -> str:
    """All pages in small, this one filled."""
    left, top, wide, high = tile.strip
    w, h = _small(tile)
    x0, y0 = left + wide - tile.columns * w, top + high - tile.rows * h
    cells = "".join(
        f'<rect x="{mm(x0 + c * w)}" y="{mm(y0 + r * h)}" width="{mm(w)}" height="{mm(h)}" '
        f'fill="{GRID if (r, c) == (tile.row, tile.column) else "none"}"/>'
        for r in range(tile.rows)
        for c in range(tile.columns)
    )
    return f'<g id="map" stroke="{WORDS}" stroke-width="{THIN_MM}">{cells}</g>'
