"""Words drawn into a picture in the worksheet's own face, broken into lines, never cut."""

import io
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from fontTools.ttLib import TTFont
from PIL import ImageDraw, ImageFont

__all__ = ["Lettering", "lettering"]

FONTS: Final = Path(__file__).parents[1] / "web" / "static" / "fonts"
SUBSETS: Final = ("latin", "latin-ext")  # the files of a face; a character is in one of them
LINE: Final = 1.3  # line height over size
Colour = tuple[int, int, int]


@cache
def _file(subset: str, weight: int) -> tuple[bytes, frozenset[int]]:
    """A font file as Pillow reads it, and the characters it has."""
    font = TTFont(
        FONTS / f"atkinson-hyperlegible-next-{subset}-{weight}-normal.woff2", recalcTimestamp=False
    )
    font.flavor = None
    out = io.BytesIO()
    font.save(out, reorderTables=False)
    return out.getvalue(), frozenset(font.getBestCmap())


@dataclass(frozen=True, eq=False)
class Lettering:
    """One size and weight of the face. size: px. fonts: with the characters each has."""

    size: int
    fonts: tuple[tuple[ImageFont.FreeTypeFont, frozenset[int]], ...]

    @property
    def line(self) -> int:
        """Height of a line, px."""
        return round(LINE * self.size)

    def width(self, text: str) -> float:
        """How wide a line is, px."""
        return sum(font.getlength(piece) for font, piece in self._pieces(text))

    def wrap(self, text: str, width: float) -> tuple[str, ...]:
        """The text in lines no wider than so many px; a word that is wider is broken."""
        lines: list[str] = []
        for word in _plain(text).split(" "):
            joined = f"{lines[-1]} {word}" if lines else word
            if lines and self.width(joined) <= width:
                lines[-1] = joined
            else:
                lines += self._broken(word, width)
        return tuple(line for line in lines if line)

    def draw(
        self, on: ImageDraw.ImageDraw, left: float, top: float, line: str, ink: Colour
    ) -> None:
        """One line, its top left corner at left, top."""
        base = top + round(0.98 * self.size)
        for font, piece in self._pieces(line):
            on.text((left, base), piece, fill=ink, font=font, anchor="ls")
            left += font.getlength(piece)

    def _broken(self, word: str, width: float) -> list[str]:
        """A word in pieces that fit; one character at least in each."""
        out, piece = [], ""
        for c in word:
            if piece and self.width(piece + c) > width:
                out.append(piece)
                piece = ""
            piece += c
        return [*out, piece]

    def _pieces(self, text: str) -> Iterator[tuple[ImageFont.FreeTypeFont, str]]:
        """Stretches of a line that one font has; what none has is shown as a box by the first."""
        piece, of = "", self.fonts[0][0]
        for c in _plain(text):
            font = next((f for f, has in self.fonts if ord(c) in has), self.fonts[0][0])
            if font is not of and piece:
                yield of, piece
                piece = ""
            piece, of = piece + c, font
        if piece:
            yield of, piece


def _plain(text: str) -> str:
    words = " ".join(unicodedata.normalize("NFC", text).split())
    return "".join(c for c in words if c.isprintable())


@cache
def lettering(size: int, bold: bool = False) -> Lettering:
    """The face at a size (px, 6 to 400) and weight. Raises ValueError for other sizes."""
    if not 6 <= size <= 400:
        raise ValueError(f"size: {size} px is not within 6 to 400")
    fonts = []
    for subset in SUBSETS:
        data, has = _file(subset, 700 if bold else 400)
        basic = ImageFont.Layout.BASIC  # the same widths on every machine
        fonts.append((ImageFont.truetype(io.BytesIO(data), size, layout_engine=basic), has))
    return Lettering(size, tuple(fonts))
