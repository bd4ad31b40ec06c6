"""The outline on printed pages at true size: over tiles, or whole on a page of its own size."""

from collections.abc import Sequence
from typing import Final

from firstwash.language import mark, tr
from firstwash.sheets.pages import Pages, soft
from firstwash.sheets.typeset import lit
from firstwash.tracing.model import Tracing
from firstwash.tracing.svg import INKJET_WARNING
from firstwash.tracing.tile_page import WORDS_DOWN_MM, WORDS_MM, foot_box, tile_svg
from firstwash.tracing.tiles import Tile

__all__ = ["tile_pages"]

TRUE_SIZE: Final = mark(
    "Print at 100 %, not “fit to page”: the bar must measure what it says before you trace."
)
SOFT: Final = mark("Broken lines are soft edges; those not drawn are left to the brush.")
JOINING: Final = mark("Lay the pages cross on cross and tape them.")
MIRRORED: Final = mark(
    "Mirrored, to be rubbed off: the print lies face down on the painting paper."
)
WHOLE: Final = mark(
    "This page is {width} × {height} mm, for a printer or a copy shop that takes the whole sheet."
)
ALT_WHOLE: Final = mark("The outline, whole, at true size.")
ALT_WHOLE_MIRRORED: Final = mark("The outline, whole, mirrored, at true size.")
ALT: Final = mark("Part {name} of the outline, at true size.")
ALT_MIRRORED: Final = mark("Part {name} of the outline, mirrored, at true size.")
SIZES_PT: Final = (9.5, 9.0, 8.5, 8.0, 7.5, 7.0)  # of the words: the largest that finds room
FOOT_PT: Final = (7.5, 7.0, 6.5, 6.0, 5.5, 5.0)  # of the foot, likewise


def tile_pages(
    tracing: Tracing,
    tiles: Sequence[Tile],
    name: str,
    *,
    mirrored: bool = False,
    pale: bool = False,
    grid: int | None = None,
    foot: str = "",
) -> Pages:
    """A page for each tile, filled from edge to edge; name: of its pictures.

    mirrored, pale, grid: as `tile_svg` takes them. Above its scale bar each page tells how to
    print it, a mirrored one what it is for; a pale one, for the painting paper itself, warns of
    the ink first. foot: words in small at the foot of each page. A tile that is a page of the
    sheet's own size, as `whole_tile` makes it, says that it is one.
    """
    files, told = {}, []
    for tile in tiles:
        wide, high = tile.page_mm
        file = f"{name}-{tile.name}.svg"
        drawn = tile_svg(tracing, tile, mirrored=mirrored, pale=pale, grid=grid)
        files[file] = drawn.encode()
        alt = lit(_alt(tile, mirrored))
        told.append(
            f"#page(width: {wide}mm, height: {high}mm, margin: 0mm, footer: none)"
            f"[#image({lit(file)}, width: {wide}mm, height: {high}mm, alt: {alt})"
            f"{_placed(_words(tile, mirrored, pale), tile)}{_foot(foot, tile)}]"
        )
    return Pages("\n".join(told) + "\n", files)


def _alt(tile: Tile, mirrored: bool) -> str:
    if tile.alone:
        return tr(ALT_WHOLE_MIRRORED if mirrored else ALT_WHOLE)
    return tr(ALT_MIRRORED if mirrored else ALT, name=tile.name)


def _words(tile: Tile, mirrored: bool, pale: bool) -> str:
    told = [tr(INKJET_WARNING)] if pale else []
    if mirrored:
        told.append(tr(MIRRORED))
    if tile.place == (0.0, 0.0):  # no margin: a page of the sheet's own size
        wide, high = tile.page_mm
        told.append(tr(WHOLE, width=f"{wide:.0f}", height=f"{high:.0f}"))
    told.append(tr(TRUE_SIZE))
    if not tile.alone and not pale:  # painting paper is not pieced together
        told.append(tr(JOINING))
    if not mirrored and not pale:  # a drawing is looked at; what is rubbed off is only used
        told.append(tr(SOFT))
    return " ".join(told)


def _placed(words: str, tile: Tile) -> str:
    """Words at the top of the strip below the drawing, as large as they find room there."""
    left, top, wide, _ = tile.strip
    return _fitted(lit(words), (left, top + WORDS_DOWN_MM, wide, WORDS_MM), SIZES_PT)


def _foot(words: str, tile: Tile) -> str:
    """A foot in small; of one too long for its room the beginning is shown."""
    return _fitted(soft(words), foot_box(tile), FOOT_PT, cut=True) if words.strip() else ""


def _fitted(
    told: str, box: tuple[float, float, float, float], sizes: Sequence[float], cut: bool = False
) -> str:
    """A Typst text in a box of mm, in the largest of some sizes that finds room there."""
    left, top, wide, high = box
    listed = ", ".join(f"{size}pt" for size in sizes)
    last = f"block(height: {high}mm, clip: true, words({sizes[-1]}pt))"
    return (
        f"#place(top + left, dx: {left:.2f}mm, dy: {top:.2f}mm, context {{\n"
        f"let words(size) = block(width: {wide:.2f}mm)"
        f"[#set par(leading: 0.4em)\n#text(size, {told})]\n"
        f"let fits = ({listed}).find(size => measure(words(size)).height <= {high}mm)\n"
        f"if fits != none {{ words(fits) }} else {{ "
        f"{last if cut else f'words({sizes[-1]}pt)'} }}\n}})"
    )
