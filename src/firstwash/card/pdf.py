"""Printed pages as a PDF, at true size. Pages in, bytes out."""

import io
from collections.abc import Mapping, Sequence
from typing import Final

from reportlab.pdfgen.canvas import Canvas

from firstwash.card.drawing import POINT_MM, Area, Item, Line, Outline, Page, Shape, Text, printable
from firstwash.card.layout import Box
from firstwash.card.leaflet import leaflet_pages
from firstwash.card.page import Paper, card_page
from firstwash.card.recipe import CardRow
from firstwash.card.words import TITLE, Loads, shown_title
from firstwash.paints.catalogue import Paint

__all__ = ["card_pdf", "pages_pdf"]

_PT: Final = 1.0 / POINT_MM  # points in a millimetre


def card_pdf(
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    paper: Paper = "A4",
    loads: Loads = "drops",
    title: str = TITLE,
    number: int | None = None,
) -> bytes:
    """A swatch card to print, cut out and paint, with the pages that say how.

    paints: every paint of the rows, by key. loads: what the painter counts paint in. number:
    0-79, told by the small markers. The same card gives the same bytes. Raises RequestError and
    PaintError as `card_page` does.
    """
    front = card_page(rows, paints, paper, title, number)
    return pages_pdf((front, *leaflet_pages(rows, paints, paper, loads, title)), title)


def pages_pdf(pages: Sequence[Page], title: str) -> bytes:
    """A PDF of the pages; it asks the reader not to scale them."""
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(shown_title(title, printable))
    canvas.setCreator("firstwash")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    for page in pages:
        canvas.setPageSize((page.width * _PT, page.height * _PT))
        for item in page.items:
            _draw(canvas, item, page.height)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, item: Item, height: float) -> None:
    """One item; the PDF's own origin is the page's lower left corner."""
    if isinstance(item, Line | Outline):
        canvas.setStrokeGray(item.grey)
        canvas.setLineWidth(item.width * _PT)
    else:
        canvas.setFillGray(item.grey)
    match item:
        case Line():
            ends = (item.x1, height - item.y1, item.x2, height - item.y2)
            canvas.line(*(v * _PT for v in ends))
        case Outline():
            canvas.rect(*_rectangle(item.box, height), stroke=1, fill=0)
        case Area():
            path = canvas.beginPath()
            for box in item.boxes:
                path.rect(*_rectangle(box, height))
            canvas.drawPath(path, stroke=0, fill=1)
        case Shape():
            path = canvas.beginPath()
            for i, (x, y) in enumerate(item.corners):
                (path.lineTo if i else path.moveTo)(x * _PT, (height - y) * _PT)
            path.close()
            canvas.drawPath(path, stroke=0, fill=1)
        case Text():
            canvas.setFont("Helvetica-Bold" if item.bold else "Helvetica", item.size)
            canvas.drawString(item.left * _PT, (height - item.y) * _PT, item.text)


def _rectangle(box: Box, height: float) -> tuple[float, float, float, float]:
    """x, y, width, height in points, from the lower left corner."""
    low = height - box.y - box.height
    return (box.x * _PT, low * _PT, box.width * _PT, box.height * _PT)
