"""Pages as Typst source with their pictures, and the small pieces that every page is set from.

Text goes in as string literals, never as markup, so that no name can become a command. Words
longer than a line may break anywhere, for a page must hold them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from firstwash.sheets.typeset import lit

__all__ = [
    "NOTE_PT",
    "Pages",
    "beside",
    "both",
    "bullets",
    "flowing",
    "heading",
    "joined",
    "kept_whole",
    "note",
    "page_of",
    "painted_strip",
    "para",
    "picture",
    "soft",
    "stacked",
    "strong",
    "table_of",
    "upper",
]

NOTE_PT: Final = 10.0  # smaller than the body; nothing that is read is set smaller
LONG: Final = 22  # letters of a word from which it may break in the middle
UNITS: Final = ("mm", "cm", "m", "ml", "mm²", "cm²", "g/m²")
BITE: Final = 8  # letters that stay together then
HAIRLINE: Final = "0.5pt + luma(62%)"  # around a picture or strip, and between rows


BREAK: Final = "#pagebreak(weak: true)\n"
# Room for a heading and what it begins is asked for and given back: where a page has not so much,
# the next one begins. Asking Typst where it is would have it set the whole book over and over.
FLOW: Final = (
    "#block(breakable: false, width: 100%, height: 80mm, above: 9mm, below: 0mm)\n#v(-80mm)\n"
)


@dataclass(frozen=True)
class Pages:
    """Typst source of one page or more, and its pictures by the names it calls them by.

    Each begins a new page, so that several may be set one after another, or one alone.
    """

    source: str
    files: Mapping[str, bytes] = field(default_factory=dict)


def joined(pages: Iterable[Pages]) -> Pages:
    """Pages one after another; pictures of one name are one picture."""
    whole = list(pages)
    files = {name: data for one in whole for name, data in one.files.items()}
    return Pages("\n".join(one.source for one in whole), files)


def flowing(pages: Pages) -> Pages:
    """Pages that go on below what was set before them, where a good part of its page is free."""
    return Pages(pages.source.replace(BREAK, FLOW, 1), pages.files)


def page_of(parts: Iterable[str], files: Mapping[str, bytes] | None = None) -> Pages:
    """Pages made of blocks of markup, in a scope of their own; empty blocks are left out."""
    told = "\n\n".join(part for part in parts if part)
    return Pages(f"{BREAK}#[\n{told}\n]\n", files or {})


# --- text ------------------------------------------------------------------------


def soft(text: str) -> str:
    """Text as a Typst expression; words too long for a line may break after any few letters.

    A number stays with its unit.
    """
    words = text.split()
    pieces = [_biteable(words[0])] if words else [lit("")]
    for before, word in pairwise(words):
        tied = word.rstrip(".,;:)") in UNITS and before[-1].isdigit()
        pieces += ['"\\u{a0}"' if tied else '" "', _biteable(word)]
    return "(" + " + ".join(pieces) + ")" if _needs_pieces(words) else lit(text)


def _needs_pieces(words: Sequence[str]) -> bool:
    return any(len(word) >= LONG or word.rstrip(".,;:)") in UNITS for word in words)


def _biteable(word: str) -> str:
    if len(word) < LONG:
        return lit(word)
    bites = (word[i : i + BITE] for i in range(0, len(word), BITE))
    return ' + "\\u{200b}" + '.join(lit(bite) for bite in bites)


def upper(text: str) -> str:
    """Text with its first letter a capital, the rest as it is."""
    return f"{text[:1].upper()}{text[1:]}"


def heading(level: int, text: str) -> str:
    """A heading, which the PDF's bookmarks take up."""
    return f"#heading(level: {level}, {soft(text)})"


def strong(text: str) -> str:
    """Text in bold, as markup."""
    return f"#strong({soft(text)})"


def note(text: str) -> str:
    """Text a little smaller, as markup."""
    return f"#text({NOTE_PT}pt, {soft(text)})"


def para(text: str) -> str:
    """A paragraph; "" for no text."""
    return f"#par({soft(text)})" if text else ""


def bullets(items: Sequence[str]) -> str:
    """A list of items of markup; "" for none."""
    if not items:
        return ""
    told = ", ".join(f"block(breakable: false)[{item}]" for item in items)
    return f"#list(spacing: 0.75em, {told})"


# --- blocks ----------------------------------------------------------------------


def kept_whole(markup: str, below: str = "1.1em") -> str:
    """A block that no page break cuts."""
    return f"#block(breakable: false, width: 100%, below: {below})[{markup}]"


def both(left: str, right: str, columns: str, gutter: str = "4mm") -> str:
    """Two blocks of markup side by side; columns: their widths as Typst tells them."""
    return beside((left, right), columns, gutter)


def beside(blocks: Sequence[str], columns: str, gutter: str = "4mm") -> str:
    """Blocks of markup side by side; columns: as many widths as Typst tells them."""
    told = ", ".join(f"[{block}]" for block in blocks)
    return f"#grid(columns: ({columns}), column-gutter: {gutter}, {told})"


def stacked(blocks: Iterable[str], spacing: str = "2mm") -> str:
    """Blocks of markup one below the other."""
    told = ", ".join(f"[{one}]" for one in blocks if one)
    return f"#stack(dir: ttb, spacing: {spacing}, {told})"


def picture(name: str, alt: str, caption: str = "", width: str = "100%", frame: bool = True) -> str:
    """A picture with what it shows told to those who cannot see it, and a line under it."""
    line = f"#block(width: {width}, stroke: {HAIRLINE})" if frame else f"#block(width: {width})"
    shown = f"{line}[#image({lit(name)}, width: 100%, alt: {lit(alt)})]"
    return stacked([shown, f"#align(left)[{note(caption)}]"]) if caption else shown


def painted_strip(colours: Sequence[str], height_mm: float) -> str:
    """A strip running through colours "#rrggbb", as wide as there is room."""
    stops = ", ".join(f"rgb({lit(colour)})" for colour in colours)
    return (
        f"#block(width: 100%, height: {height_mm:g}mm, stroke: {HAIRLINE}, "
        f"fill: gradient.linear({stops}, space: rgb))"
    )


def table_of(heads: Sequence[str], columns: str, rows: Iterable[Sequence[str]]) -> str:
    """A table whose head is repeated on every page.

    heads: text; columns: widths as Typst tells them; rows: cells of markup, or one cell that goes
    across.
    """
    line = f"table.hline(stroke: {HAIRLINE})"
    head = ", ".join(f"[{strong(h)}]" for h in heads)
    told = [f"table.header({head})", line]
    whole = list(rows)
    for row, after in zip(whole, [*whole[1:], None], strict=True):
        across = len(row) == 1 and len(heads) > 1
        cells = [f"table.cell(colspan: {len(heads)})[{row[0]}]"] if across else _cells(row)
        if across and after is not None and len(after) > 1:  # not left alone at a page's end
            told.append(f"table.header(level: 2, repeat: false, {cells[0]}, {line})")
        else:
            told += [*cells, line]
    return (
        f"#table(columns: ({columns}), stroke: none, column-gutter: 2.5mm, "
        f"inset: (x: 0pt, y: 3.5pt), {', '.join(told)})"
    )


def _cells(row: Sequence[str]) -> list[str]:
    return [f"table.cell(breakable: false)[{cell}]" for cell in row]
