"""What a printed page is made of, in millimetres, and how wide its letters are.

Coordinates run from the page's upper left corner, x to the right, y downwards. Letters are
Helvetica, which every PDF reader has; sizes are in points. Greys run from 0, black, to 1.
"""

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from reportlab.pdfbase.pdfmetrics import stringWidth

from firstwash.card.layout import Box

__all__ = [
    "POINT_MM",
    "Area",
    "Item",
    "Line",
    "Outline",
    "Page",
    "Shape",
    "Text",
    "cut_to",
    "printable",
    "width_mm",
    "wrapped",
]

POINT_MM: Final = 25.4 / 72
_ASCENT: Final = 0.74  # of the size, above the base line: brackets and accented small letters
_DESCENT: Final = 0.21  # below it


@dataclass(frozen=True)
class Line:
    """A straight line of a width in mm."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    grey: float = 0.0


@dataclass(frozen=True)
class Outline:
    """The outline of a box, drawn along its edges."""

    box: Box
    width: float
    grey: float = 0.0


@dataclass(frozen=True)
class Area:
    """Boxes filled as one, so that no hairline shows where they touch."""

    boxes: tuple[Box, ...]
    grey: float = 0.0


@dataclass(frozen=True)
class Shape:
    """A filled polygon of (x, y) corners."""

    corners: tuple[tuple[float, float], ...]
    grey: float = 0.0


@dataclass(frozen=True)
class Text:
    """One line of letters; x is its left end, middle or right end, y its base line."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    grey: float = 0.0
    align: Literal["left", "middle", "right"] = "left"

    @property
    def width(self) -> float:
        """In mm."""
        return width_mm(self.text, self.size, self.bold)

    @property
    def left(self) -> float:
        """Where its first letter begins, in mm."""
        return self.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[self.align] * self.width

    @property
    def box(self) -> Box:
        """The room its letters take, with what hangs below the line."""
        height = self.size * POINT_MM
        return Box(
            self.left, self.y - _ASCENT * height, self.width, (_ASCENT + _DESCENT) * height
        )  # fmt: skip


Item = Line | Outline | Area | Shape | Text


@dataclass(frozen=True)
class Page:
    """A page of width and height in mm and what is drawn on it, first things lowest."""

    width: float
    height: float
    items: tuple[Item, ...]

    @property
    def texts(self) -> tuple[Text, ...]:
        """Its lines of letters."""
        return tuple(i for i in self.items if isinstance(i, Text))


@lru_cache(maxsize=4096)
def width_mm(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of Helvetica at a size in points."""
    return float(stringWidth(text, "Helvetica-Bold" if bold else "Helvetica", size)) * POINT_MM


def printable(text: str, lost: str = "?") -> str:
    """Text in letters that the page's type has, in one line.

    Accents the type lacks fall away; any other letter it lacks becomes `lost`.
    """
    composed = unicodedata.normalize("NFC", text)
    return " ".join("".join(_letter(c, lost) for c in composed).split())


def _letter(c: str, lost: str) -> str:
    if c.isspace():
        return " "
    if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Mn"):  # control marks, loose accents
        return ""
    for known in (c, unicodedata.normalize("NFKD", c)):
        plain = "".join(p for p in known if not unicodedata.combining(p))
        try:
            plain.encode("cp1252")
        except UnicodeEncodeError:
            continue
        return plain
    return lost


def cut_to(text: str, width: float, size: float, bold: bool = False) -> str:
    """Text cut at its end, with an ellipsis, to a width in mm."""
    if width_mm(text, size, bold) <= width:
        return text
    kept = _most(text, width - width_mm("…", size, bold), size, bold)
    return text[:kept].rstrip() + "…"


def _most(text: str, width: float, size: float, bold: bool) -> int:
    """How many letters from the start fit; at least one."""
    low, high = 1, max(1, len(text))
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(text[:middle], size, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low


def wrapped(
    text: str, width: float, size: float, bold: bool = False, first: float = 0.0
) -> tuple[str, ...]:
    """Lines of at most `width` mm; the first is shorter by `first` mm. Long words are broken."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        for piece in _pieces(word, width, size, bold):
            longer = f"{line} {piece}".strip()
            room = width if lines else width - first
            if line and width_mm(longer, size, bold) > room:
                lines.append(line)
                longer = piece
            line = longer
    return (*lines, line)


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    """A word, broken at its own hyphens or with new ones where it is wider than a line."""
    found = []
    while width_mm(word, size, bold) > width and len(word) > 5:
        kept = _most(word, width - width_mm("-", size, bold), size, bold)
        own = word.rfind("-", 2, kept + 1) + 1
        kept = own or min(kept, len(word) - 3)  # no less than three letters on the next line
        found.append(word[:kept] + "-" * (not own))
        word = word[kept:]
    return [*found, word]
