"""The outline on printed pages: tiles at true size, with what to know before tracing."""

from collections.abc import Sequence
from typing import Final

from firstwash.language import mark, tr
from firstwash.sheets.pages import Pages
from firstwash.sheets.typeset import lit
from firstwash.tracing.model import Tracing
from firstwash.tracing.tile_page import tile_svg
from firstwash.tracing.tiles import Tile

__all__ = ["tile_pages"]

TRUE_SIZE: Final = mark(
    "Print at 100 %, without “fit to page”. The bar on each page must measure what it says; if it "
    "does not, change the printer's scale before you trace."
)


def tile_pages(
    tracing: Tracing,
    tiles: Sequence[Tile],
    name: str,
    *,
    mirrored: bool = False,
    grid: int | None = None,
) -> Pages:
    """A page for each tile, filled from edge to edge; name: of its pictures.

    mirrored, grid: as `tile_svg` takes them.
    """
    files, told = {}, []
    for tile in tiles:
        wide, high = tile.page_mm
        file = f"{name}-{tile.name}.svg"
        files[file] = tile_svg(tracing, tile, mirrored=mirrored, grid=grid).encode()
        if mirrored:
            what = tr("Part {name} of the outline, mirrored, at true size.", name=tile.name)
        else:
            what = tr("Part {name} of the outline, at true size.", name=tile.name)
        alt = f"{what} {tr(TRUE_SIZE)}"
        told.append(
            f"#page(width: {wide}mm, height: {high}mm, margin: 0mm, footer: none)"
            f"[#image({lit(file)}, width: {wide}mm, height: {high}mm, alt: {lit(alt)})]"
        )
    return Pages("\n".join(told) + "\n", files)
