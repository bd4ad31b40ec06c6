"""Typst source and pictures in, a PDF out: tagged, with its fonts, the same bytes each time.

Pages carry an sRGB output intent (PDF/A-2a) and are told to readers in order (PDF/UA-1), so every
picture must say what it shows. Typst sets them; it needs no other program.
"""

import io
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, Literal

import typst
from fontTools.ttLib import TTFont

from firstwash.errors import RequestError

__all__ = ["FACE", "PAGES_MM", "Page", "PageName", "as_png", "lit", "typeset"]

PageName = Literal["A4", "Letter"]
PAGES_MM: Final[Mapping[PageName, tuple[float, float]]] = {
    "A4": (210.0, 297.0),  # [ISO216]
    "Letter": (215.9, 279.4),  # 8.5 × 11 in
}
FACE: Final = ("Atkinson Hyperlegible Next", "Atkinson Hyperlegible Next Extended")
FONTS: Final = Path(__file__).parents[1] / "web" / "static" / "fonts"
BODY_PT: Final = 11.0
MARGIN_MM: Final = 18.0
FOOT_PT: Final = 10.0
FOOT_DOWN_MM: Final = 5.4  # from the text to its foot
FOOT_LINES: Final = 2  # that the lower margin holds; for more it grows
FOOT_LINE_MM: Final = 4.6  # of one line more
NUMBER_MM: Final = 14.0  # beside the foot, kept for the page's number
LONG_WORD: Final = re.compile(r"\S{22,}")  # may break in the middle, or it would run off the page
BITE: Final = re.compile(r".{8}(?=.)")
MM_PER_PT: Final = 25.4 / 72.0
STANDARDS: Final[list[Literal["a-2a", "ua-1"]]] = ["a-2a", "ua-1"]
NO_SIGN: Final = "could not be displayed"  # in what Typst says of them
NAME_IDS: Final = (1, 3, 4, 16)  # of a font file: family, unique, full and typographic name


@dataclass(frozen=True)
class Page:
    """The paper that is printed on.

    landscape: turned; foot: words at the foot of every page; language: of the text, such as "en"
    or "pt-BR", for those who have it read to them.
    """

    name: PageName = "A4"
    landscape: bool = False
    foot: str = ""
    language: str = "en"


def lit(text: str) -> str:
    """Text as a Typst string in quotation marks, whatever it holds; lines become spaces."""
    plain = " ".join(text.split())
    safe = "".join(c for c in plain if c.isprintable())
    return '"' + safe.replace("\\", "\\\\").replace('"', '\\"') + '"'


def typeset(
    source: str, files: Mapping[str, bytes], *, title: str, page: Page | None = None
) -> bytes:
    """A PDF of Typst source, set on a page with the worksheet's face.

    files: pictures by the names that the source calls them by, without folders. title: of the
    document. Raises RequestError where the source cannot be set.
    """
    with tempfile.TemporaryDirectory(prefix="sheets-") as folder:
        root = Path(folder)
        for name, content in files.items():
            if Path(name).name != name:
                raise ValueError(f"files: {name!r} is no plain name")
            (root / name).write_bytes(content)
        main = root / "main.typ"
        main.write_text(_preamble(title, page or Page()) + source, "utf-8")
        return _compiled(main)


def _compiled(main: Path) -> bytes:
    setter = typst.Compiler(
        str(main), root=str(main.parent), font_paths=[_font_folder().name], ignore_system_fonts=True
    )
    try:
        try:
            made = setter.compile(format="pdf", timestamp=0, pdf_standards=list(STANDARDS))
        except typst.TypstError as error:
            if NO_SIGN not in error.message:
                raise
            # A name in signs that none of the faces has: its boxes are no reason to print nothing.
            made = setter.compile(format="pdf", timestamp=0)
    except typst.TypstError as error:
        raise RequestError(f"The sheets cannot be set: {error.message}.") from error
    assert isinstance(made, bytes)
    return made


def as_png(svg: str, width_mm: float, height_mm: float, ppi: float) -> bytes:
    """A drawing of a size in mm as a PNG on white."""
    source = (
        f"#set page(width: {width_mm}mm, height: {height_mm}mm, margin: 0mm)\n"
        f'#image("drawing.svg", width: {width_mm}mm, height: {height_mm}mm)'
    )
    with tempfile.TemporaryDirectory(prefix="sheets-") as folder:
        (Path(folder) / "drawing.svg").write_text(svg, "utf-8")
        main = Path(folder) / "main.typ"
        main.write_text(source, "utf-8")
        setter = typst.Compiler(
            str(main), root=folder, font_paths=[_font_folder().name], ignore_system_fonts=True
        )
        made = setter.compile(format="png", ppi=ppi)
    assert isinstance(made, bytes)
    return made


def _preamble(title: str, page: Page) -> str:
    faces = ", ".join(lit(face) for face in FACE)
    name = "a4" if page.name == "A4" else "us-letter"
    return (
        f"#set document(title: {lit(title)})\n"
        f'#set page("{name}", flipped: {str(page.landscape).lower()}, '
        f"margin: (rest: {MARGIN_MM}mm, bottom: {_bottom_mm(page):.1f}mm), "
        f"footer-descent: {FOOT_DOWN_MM}mm, "
        f"footer: context {_foot(page.foot)})\n"
        f"#set text(font: ({faces},), size: {BODY_PT}pt, {_language(page.language)}, "
        'number-width: "tabular")\n'
        "#set par(leading: 0.62em, spacing: 0.9em)\n"
        "#show heading: set block(above: 1.3em, below: 0.7em)\n"
        "#show heading.where(level: 1): set text(20pt)\n"
        "#show heading.where(level: 2): set text(13pt)\n"
        "#show heading.where(level: 3): set text(11pt)\n"
        "#set table(stroke: none, inset: (x: 0pt, y: 3pt))\n"
    )


def _language(name: str) -> str:
    """Language and region as Typst takes them; other parts of a name it has no use for."""
    language, *rest = re.split("[-_]", name)
    region = next((part.upper() for part in rest if len(part) == 2 and part.isalpha()), "")
    told = f"lang: {lit(language.lower())}"
    return f"{told}, region: {lit(region)}" if region else told


def _foot(words: str) -> str:
    """The foot of a page as Typst: its words, and the page's number to their right."""
    told = ' + "\\u{200b}" + '.join(lit(piece) for piece in _bitten(words).split("\n"))
    return (
        f"[#set text({FOOT_PT}pt)\n#grid(columns: (1fr, {NUMBER_MM}mm), text({told}), "
        "align(right, counter(page).display()))]"
    )


def _bitten(words: str) -> str:
    """Words in one line, with line breaks where a long one may break."""
    plain = " ".join(words.split())
    return LONG_WORD.sub(lambda word: BITE.sub(r"\g<0>\n", word[0]), plain)


def _bottom_mm(page: Page) -> float:
    """The lower margin: wider where the foot takes more lines than the others hold."""
    wide = PAGES_MM[page.name][1 if page.landscape else 0] - 2 * MARGIN_MM - NUMBER_MM
    lines, full = 1, 0.0
    for piece in re.findall(r"\S+\s?", _bitten(page.foot)):
        width = _width_mm(piece.replace("\n", ""), FOOT_PT)
        if full + _width_mm(piece.strip(), FOOT_PT) > wide:
            lines, full = lines + 1, 0.0
        full += width
    return MARGIN_MM + FOOT_LINE_MM * max(0, lines - FOOT_LINES)


def _width_mm(text: str, size_pt: float) -> float:
    """How wide a text is in one line; a sign that the face has not counts as a wide one."""
    advances, units = _advances()
    return sum(advances.get(ord(c), units) for c in text) / units * size_pt * MM_PER_PT


@cache
def _advances() -> tuple[dict[int, int], int]:
    """Widths of the face's signs by their code, and units of its size."""
    font = TTFont(FONTS / "atkinson-hyperlegible-next-latin-400-normal.woff2")
    widths = font["hmtx"]
    return {c: widths[name][0] for c, name in font.getBestCmap().items()}, font["head"].unitsPerEm


@cache
def _font_folder() -> tempfile.TemporaryDirectory[str]:
    """The worksheet's face as files that Typst reads; removed when the program ends."""
    folder = tempfile.TemporaryDirectory(prefix="fonts-")
    for file in sorted(FONTS.glob("*.woff2")):
        font = TTFont(file, recalcTimestamp=False)  # or each run's pages would differ
        font.flavor = None
        if "latin-ext" in file.name:  # two files of one name would hide each other
            _rename(font)
        out = io.BytesIO()
        font.save(out, reorderTables=False)
        (Path(folder.name) / f"{file.stem}.ttf").write_bytes(out.getvalue())
    return folder


def _rename(font: TTFont) -> None:
    for record in font["name"].names:
        if record.nameID in NAME_IDS:
            record.string = record.toUnicode().replace(FACE[0], FACE[1])
