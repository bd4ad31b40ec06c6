"""The outline on printed pages: tiles at true size, with what to know before tracing."""

from collections.abc import Sequence
from typing import Final

from firstwash.language import mark, tr
from firstwash.sheets.pages import Pages
from firstwash.sheets.typeset import lit
from firstwash.tracing.model import Tracing
from firstwash.tracing.svg import INKJET_WARNING
from firstwash.tracing.tile_page import WORDS_MM, tile_svg
from firstwash.tracing.tiles import Tile

__all__ = ["tile_pages"]

TRUE_SIZE: Final = mark(
    "Print at 100 %, not “fit to page”: the bar must measure what it says before you trace."
)
JOINING: Final = mark("Lay the pages cross on cross and tape them.")
ALT: Final = mark("Part {name} of the outline, at true size.")
ALT_MIRRORED: Final = mark("Part {name} of the outline, mirrored, at true size.")
SIZES_PT: Final = (9.5, 9.0, 8.5, 8.0, 7.5, 7.0)  # of the words: the largest that finds room


def tile_pages(
    tracing: Tracing,
    tiles: Sequence[Tile],
    name: str,
    *,
    mirrored: bool = False,
    pale: bool = False,
    grid: int | None = None,
) -> Pages:
    """A page for each tile, filled from edge to edge; name: of its pictures.

    mirrored, pale, grid: as `tile_svg` takes them. Above its scale bar each page tells how to
    print it; a pale one, for the painting paper itself, warns of the ink first.
    """
    files, told = {}, []
    words = _words(len(tiles) > 1, pale)
    for tile in tiles:
        wide, high = tile.page_mm
        file = f"{name}-{tile.name}.svg"
        drawn = tile_svg(tracing, tile, mirrored=mirrored, pale=pale, grid=grid)
        files[file] = drawn.encode()
        alt = tr(ALT_MIRRORED if mirrored else ALT, name=tile.name)
        told.append(
            f"#page(width: {wide}mm, height: {high}mm, margin: 0mm, footer: none)"
            f"[#image({lit(file)}, width: {wide}mm, height: {high}mm, alt: {lit(alt)})"
            f"{_placed(words, tile)}]"
        )
    return Pages("\n".join(told) + "\n", files)


def _words(several: bool, pale: bool) -> str:
    told = [tr(INKJET_WARNING)] if pale else []
    told.append(tr(TRUE_SIZE))
    if several and not pale:  # painting paper is not pieced together
        told.append(tr(JOINING))
    return " ".join(told)


def _placed(words: str, tile: Tile) -> str:
    """Words at the top of the strip below the drawing, as large as they find room there."""
    left, top, wide, _ = tile.strip
    sizes = ", ".join(f"{size}pt" for size in SIZES_PT)
    return (
        f"#place(top + left, dx: {left:.2f}mm, dy: {top + 0.6:.2f}mm, context {{\n"
        f"let words(size) = block(width: {wide:.2f}mm)"
        f"[#set par(leading: 0.4em)\n#text(size, {lit(words)})]\n"
        f"let fits = ({sizes}).find(size => measure(words(size)).height <= {WORDS_MM}mm)\n"
        f"words(if fits == none {{ {SIZES_PT[-1]}pt }} else {{ fits }})\n}})"
    )
