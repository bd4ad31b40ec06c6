"""Small plans of several kinds, made once, and what a printed sheet is read back with."""

import io
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium_c
from PIL import Image
from skimage import data

from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.sheets.pages import Pages
from firstwash.sheets.typeset import PAGES_MM, Page, PageName, typeset
from firstwash.usecases import PhotoPlan, Wishes, plan_photo

MM = 72.0 / 25.4
MARGIN_MM = 18.0  # of the pages, on every side
FOOT_MM = 10.0  # from the lower edge, below which not even a page's number stands
NAMES = ("cup", "tall", "many")
HOSTILE = (
    'quote " and \\ back\\slash',
    "#set page(width: 1mm) $x^2$ `code`",
    "*bold* _it_ <label> @ref //no /*comment*/ [x] {y} ~ = - +",
    "W" * 200,
    "ultramarine " * 17 + "end",
    "Ünïcödé – “quoted” ½",
)


def plan_named(name: str) -> Plan:
    """The plan alone; see `made_named`."""
    return made_named(name).plan


@cache
def made_named(name: str) -> PhotoPlan:
    """ "cup": landscape, 4 layers; "tall": portrait, 2 layers, 3 puddles; "many": 8 and many."""
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    wishes = {
        "cup": Wishes(
            sheet="15x11cm",
            limits=Limits(shapes=30, puddles=8, washes=20),
            crop=(0.2, 0.1, 0.6, 0.7),
        ),
        "tall": Wishes(
            sheet="12x20cm portrait",
            paints="measured",
            limits=Limits(layers=2, paints=3, puddles=3, washes=6, shapes=16, touches=0),
            crop=(0.3, 0.0, 0.4, 1.0),
        ),
        "many": Wishes(
            sheet="28x20cm",
            paints="starter-18",
            limits=Limits(layers=8, paints=8, puddles=24, shapes=40),
        ),
    }
    return plan_photo(out.getvalue(), wishes[name])


def renamed(plan: Plan, names: tuple[str, ...] = HOSTILE) -> Plan:
    """The plan with other paint names, in turn."""
    paints = [replace(p, name=names[i % len(names)]) for i, p in enumerate(plan.paints)]
    return replace(plan, paints=tuple(paints))


@dataclass(frozen=True)
class Printed:
    """One page read back: its words as they stand, without any space, and its marks in mm.

    boxes: (n, 4) left, lower, right and upper end of the ink of every letter; paths: the same of
    every drawn shape; size: of the page.
    """

    words: str
    letters: str
    boxes: np.ndarray
    paths: np.ndarray
    size: tuple[float, float]


def printed(pages: Pages, name: PageName = "A4") -> list[Printed]:
    """Pages set and read back."""
    return read_back(typeset(pages.source, pages.files, title="Test", page=Page(name)))


def read_back(pdf: bytes) -> list[Printed]:
    return [_read(page) for page in pypdfium2.PdfDocument(pdf)]


def _read(page: pypdfium2.PdfPage) -> Printed:
    text = page.get_textpage()
    words = text.get_text_range()
    marks = [i for i, c in enumerate(words) if c.isprintable() and not c.isspace()]
    boxes = [text.get_charbox(i) for i in marks if i < text.count_chars()]
    shapes = page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH], max_depth=1)
    paths = [shape.get_bounds() for shape in shapes]
    wide, high = page.get_size()
    return Printed(
        words=" ".join(words.split()),
        letters=squeezed(words),
        boxes=np.array(boxes).reshape(-1, 4) / MM,
        paths=np.array(paths).reshape(-1, 4) / MM,
        size=(wide / MM, high / MM),
    )


def squeezed(text: str) -> str:
    """Text without spaces and hyphens, which the end of a line may swallow."""
    return "".join(c for c in text if c.isprintable() and not c.isspace() and c != "-")


def assert_inside(pages: list[Printed], name: PageName = "A4") -> None:
    """No text reaches into a margin; page numbers alone stand in the lower one."""
    for page in pages:
        wide, high = PAGES_MM[name]
        left, low, right, top = page.boxes.T
        slack = 0.3  # mm: round letters reach a little beyond their line
        assert left.min() >= MARGIN_MM - slack, page.words
        assert right.max() <= wide - MARGIN_MM + slack, page.words
        # Lines hang from their capitals; the dot of an i stands above those.
        assert top.max() <= high - MARGIN_MM + 1.0, page.words
        assert low.min() >= FOOT_MM - 6.0
