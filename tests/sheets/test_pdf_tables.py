"""Whole documents against PDF/A-2a and PDF/UA-1, and lengths on paper read back in mm."""

import io
from collections import Counter

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium_c
import pytest
from tests.pdf_paths import paths
from tests.pdf_tables import elements, faults
from tests.sheets.plans import NAMES, plan_named

from firstwash.picture.sheet import Sheet
from firstwash.plan.result import Plan
from firstwash.sheets.glossary import glossary_page
from firstwash.sheets.pages import joined
from firstwash.sheets.step import steps_pages
from firstwash.sheets.strips import BOX_MM, MOST_PAIRS, SMALL_MM, ZONE_MM, strip_pages, stroke_ends
from firstwash.sheets.supplies import supplies_pages
from firstwash.sheets.told import layer_title
from firstwash.sheets.typeset import Page, PageName, typeset


def book(plan: Plan, name: PageName = "A4") -> bytes:
    pages = joined([steps_pages(plan), supplies_pages(plan, 3), strip_pages(plan), glossary_page()])
    foot = "A lesson, A. Teacher"
    return typeset(pages.source, pages.files, title="A lesson", page=Page(name, foot=foot))


@pytest.mark.parametrize("name", NAMES)
def test_a_book_is_as_both_standards_ask(name: str) -> None:
    assert faults(book(plan_named(name))) == []


def test_every_figure_says_what_it_shows_and_every_layer_is_bookmarked() -> None:
    plan = plan_named("cup")
    with pikepdf.open(io.BytesIO(book(plan))) as pdf:
        told = [str(e.Alt) for e in elements(pdf) if e.S == "/Figure"]
        # Two stages and a map for every layer, a map for every puddle of fine strokes, no more.
        strokes = {t.puddle for t in plan.touches if t.puddle is not None}
        assert len(told) == 3 * plan.layers + len(strokes)
        assert sum("Map of the washes" in words for words in told) == plan.layers
        tags = Counter(str(e.S) for e in elements(pdf))
        assert tags["/H1"] == plan.layers + 3
        assert tags["/Table"] >= plan.layers
        with pdf.open_outline() as outline:
            titles = [item.title for item in outline.root]
    layers = [layer_title(plan, n) for n in range(1, plan.layers + 1)]
    assert titles == [*layers, "Supplies", "Test strips", "Words"]


def test_what_the_standards_forbid_is_found() -> None:
    good = book(plan_named("tall"))
    spoilt = {
        "language": lambda pdf: pdf.Root.__delitem__("/Lang"),
        "tree": lambda pdf: pdf.Root.__delitem__("/StructTreeRoot"),
        "tagged": lambda pdf: pdf.Root.MarkInfo.__setitem__("/Marked", False),
        "profiles": lambda pdf: pdf.Root.__delitem__("/OutputIntents"),
        "nothing": lambda pdf: next(e for e in elements(pdf) if e.S == "/Figure").__delitem__(
            "/Alt"
        ),
        "embedded": _without_face,
        "without a tag": _loose_paint,
        "marked as": lambda pdf: pdf.Root.__delitem__("/Metadata"),
        "see-through": _see_through,
    }
    for told, spoil in spoilt.items():
        with pikepdf.open(io.BytesIO(good)) as pdf:
            spoil(pdf)
            out = io.BytesIO()
            pdf.save(out)
        assert any(told in fault for fault in faults(out.getvalue())), told


def _without_face(pdf: pikepdf.Pdf) -> None:
    font = next(iter(pdf.pages[0].Resources.Font.values()))
    kept = font.DescendantFonts[0].FontDescriptor
    for key in ("/FontFile2", "/FontFile3"):
        if key in kept:
            del kept[key]


def _loose_paint(pdf: pikepdf.Pdf) -> None:
    pdf.pages[0].contents_add(b"0 0 m 100 100 l S")


def _see_through(pdf: pikepdf.Pdf) -> None:
    state = pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, ca=0.5)
    pdf.pages[0].Resources.ExtGState = pikepdf.Dictionary(X=state)


@pytest.mark.parametrize("name", ["A4", "Letter"])
def test_boxes_of_the_test_strips_are_of_their_size_on_paper(name: PageName) -> None:
    """A PDF's numbers have few digits: a twentieth of a mm is left for that."""
    plan = plan_named("many")
    pages = strip_pages(plan)
    made = typeset(pages.source, pages.files, title="T", page=Page(name))
    sizes = np.array([drawn.box[2:] for page in paths(made) for drawn in page])
    boxes = sum(len(stroke_ends(puddle)) for puddle in plan.puddles)
    for size, count in ((BOX_MM, boxes), (ZONE_MM, 0), (SMALL_MM, 1)):
        near = np.abs(sizes - size).max(axis=1) < 1.0
        assert near.sum() >= count
        assert np.abs(sizes[near] - size).max(initial=0.0) < 0.05
    glazes = np.abs(sizes - (3 * ZONE_MM[0], ZONE_MM[1])).max(axis=1) < 0.05
    assert glazes.sum() == MOST_PAIRS


def test_a_stage_has_the_sheet_s_proportions_on_paper() -> None:
    for name in NAMES:
        plan = plan_named(name)
        pages = steps_pages(plan)
        pdf = pypdfium2.PdfDocument(typeset(pages.source, pages.files, title="T"))
        sheet: Sheet = plan.sheet
        for page in pdf:
            for shown in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_IMAGE], max_depth=1):
                left, low, right, top = shown.get_bounds()
                shape = (right - left) / (top - low)
                # Whole pixels: a picture of 320 px may be half of one off.
                assert shape == pytest.approx(sheet.width_mm / sheet.height_mm, rel=0.01)
