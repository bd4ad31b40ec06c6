"""One page of an outline as SVG of the page's own size, with all that joins it to the others."""

from html import escape
from typing import Final

import numpy as np

from firstwash.language import tr
from firstwash.tracing.drawing import FONT, FRAME_MM, GRID, LINES, WORDS, mm, scaled, whole_svg
from firstwash.tracing.model import Line, Tracing
from firstwash.tracing.tiles import BAR_MM, Tile

__all__ = ["WORDS_DOWN_MM", "WORDS_MM", "foot_box", "tile_svg"]

THIN_MM: Final = 0.15
BAR_LINE_MM: Final = 0.35
TICK_MM: Final = 1.6  # half the height of a bar's end
MARK_MM: Final = 2.6  # half a registration mark's arms
RING_MM: Final = 1.3
TYPE_MM, NAME_MM = 3.4, 7.0  # sizes of the type
INCHES_MM: Final = 101.6  # 4 in
INCH_BAR_MM: Final = 4.8  # from the bar in mm down to the one in inches
WORDS_DOWN_MM, WORDS_MM = 1.8, 7.8  # of what a page is told to do: from the strip's top; height
FOOT_DOWN_MM: Final = 4.0  # from the bar; from one in inches less, or it finds no room
FOOT_NEAR_MM: Final = 2.8
FOOT_MM: Final = 5.2  # height kept for a foot; beside a bar of inches it reaches into the margin
NAME_ROOM_MM: Final = 18.0  # width kept for a page's name
CUT_MM, CUT_DOWN_MM = 3.0, 1.3  # length of a tick where a page ends; of one toward the strip
CUT_GAP_MM: Final = 0.4  # from the drawing to the tick
CUT_FREE_MM: Final = 3.5  # between a tick and the paper's edge
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
        f"{_cuts(tile)}{_marks(tile, GRID if pale else LINES)}{_bars(tile)}"
        f"{_name(tile, mirrored)}{'' if tile.alone else _map(tile)}"
    )
    return whole_svg(*tile.page_mm, _title(tile, mirrored), inside)


def foot_box(tile: Tile) -> tuple[float, float, float, float]:
    """Left, top, width and height in mm on the page of the room for a foot, below the bars."""
    left, _, wide, _ = tile.strip
    top = tile.bar[1] + (INCH_BAR_MM + FOOT_NEAR_MM if tile.inches else FOOT_DOWN_MM)
    beside = 0.0 if tile.alone else tile.columns * _small(tile)[0] + NAME_ROOM_MM + GAP_MM
    return left, top, wide - beside, FOOT_MM


def _title(tile: Tile, mirrored: bool) -> str:
    if tile.alone:
        return tr("Outline to trace, mirrored") if mirrored else tr("Outline to trace")
    if mirrored:
        return tr("Outline, mirrored, page {name}", name=tile.name)
    return tr("Outline, page {name}", name=tile.name)


def _window(tile: Tile) -> str:
    """What shows of the drawing; where the sheet ends, its border in its full width."""
    (x, y), (_, _, wide, high) = tile.place, tile.window
    left, top, right, bottom = (0.0 if inner else FRAME_MM for inner in _inner(tile))
    return (
        f'<rect x="{mm(x - left)}" y="{mm(y - top)}" width="{mm(wide + left + right)}" '
        f'height="{mm(high + top + bottom)}"/>'
    )


def _inner(tile: Tile) -> tuple[bool, bool, bool, bool]:
    """Whether the window ends inside the sheet: left, top, right, bottom."""
    right, bottom = tile.column < tile.columns - 1, tile.row < tile.rows - 1
    return tile.column > 0, tile.row > 0, right, bottom


def _cuts(tile: Tile) -> str:
    """Short ticks outside the drawing at both ends of each side where it goes on elsewhere.

    No line is drawn along such a side: it would be traced as a part of the picture.
    """
    (x, y), (_, _, wide, high) = tile.place, tile.window
    left, top, right, bottom = _inner(tile)
    out = min(CUT_MM, tile.strip[0] - CUT_FREE_MM)
    upright = [at for at, inner in ((x, left), (x + wide, right)) if inner]
    level = [at for at, inner in ((y, top), (y + high, bottom)) if inner]
    d = "".join(
        f"M{mm(at)} {mm(y - CUT_GAP_MM)}v{mm(-out)}"
        f"M{mm(at)} {mm(y + high + CUT_GAP_MM)}v{mm(CUT_DOWN_MM)}"
        for at in upright
    ) + "".join(
        f"M{mm(x - CUT_GAP_MM)} {mm(at)}h{mm(-out)}M{mm(x + wide + CUT_GAP_MM)} {mm(at)}h{mm(out)}"
        for at in level
    )
    path = f'<path d="{d}"/>' if d else ""
    return f'<g id="cuts" fill="none" stroke="{WORDS}" stroke-width="{THIN_MM}">{path}</g>'


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


def _name(tile: Tile, mirrored: bool) -> str:
    """The page's name, left of the small map; above it, that the page is mirrored."""
    left, top, wide, high = tile.strip
    x = left + wide - (0.0 if tile.alone else tile.columns * _small(tile)[0] + GAP_MM)
    y = top + high - 0.5 * MAP_MM[1] + 0.35 * NAME_MM
    name = "" if tile.alone else _word("name", tile.name, x, y, NAME_MM)
    if not mirrored:
        return name
    return name + _word("mirrored", tr("mirrored"), x, tile.bar[1] + 0.35 * TYPE_MM, TYPE_MM)


def _word(name: str, word: str, x: float, y: float, size: float) -> str:
    """A word that ends at a place."""
    return (
        f'<text id="{name}" x="{mm(x)}" y="{mm(y)}" text-anchor="end" fill="{LINES}" '
        f'font-family="{FONT}" font-size="{size}">{escape(word)}</text>'
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
