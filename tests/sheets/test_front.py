"""Cover, reference and values: a page each, for any shape of sheet and the longest words."""

import pypdfium2
import pypdfium2.raw as pdfium_c
import pytest
from tests.pdf_tables import faults
from tests.sheets.plans import MM, NAMES, made_named, squeezed

from firstwash.sheets.front import Cover, cover_page, reference_page, values_page
from firstwash.sheets.pages import Pages
from firstwash.sheets.typeset import Page, PageName, typeset

SHORT = Cover("A cup", "A. Teacher", "For this class only.", "A. Photographer", "a book", "leave")
LONG = Cover(
    "The long afternoon with a great blue jug " * 3,
    "Wilhelmina and Bartholomew at the evening school " * 2,
    "Copy these sheets for one class in one school year. " * 6,
    "Photographer " * 9,
    "https://example.org/" + "a-very-long-path/" * 16,
    "Given in writing for print and teaching. " * 7,
)  # as long as a lesson's settings may be
EDGE_MM = 17.5  # of the pages' margins, less half a line


def only_page(pages: Pages, name: PageName) -> pypdfium2.PdfPage:
    """The one page that there is, and nothing on it in a margin; its foot aside."""
    pdf = typeset(pages.source, pages.files, title="T", page=Page(name))
    assert faults(pdf) == []
    read = pypdfium2.PdfDocument(pdf)
    assert len(read) == 1
    page = read[0]
    wide, high = page.get_size()
    text = page.get_textpage()
    boxes = [text.get_charbox(i) for i, c in enumerate(text.get_text_range()) if not c.isspace()]
    boxes += [o.get_bounds() for o in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_IMAGE])]
    for left, _, right, top in boxes:
        assert left >= EDGE_MM * MM
        assert right <= wide - EDGE_MM * MM
        assert top <= high - EDGE_MM * MM + 1.5 * MM
    return page


def words_of(page: pypdfium2.PdfPage) -> str:
    return squeezed(page.get_textpage().get_text_range())


def pictures(page: pypdfium2.PdfPage) -> list[tuple[float, float, float, float]]:
    """Left, lower, right and upper end of each picture, mm."""
    found = page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_IMAGE])
    return [tuple(v / MM for v in one.get_bounds()) for one in found]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("cover", [SHORT, LONG], ids=["short", "long"])
@pytest.mark.parametrize("name", NAMES)
def test_a_cover_is_one_page(name: str, cover: Cover, paper: PageName) -> None:
    plan = made_named(name).plan
    page = only_page(cover_page(plan, cover), paper)
    told = words_of(page)
    for words in (cover.title, cover.teacher, cover.licence):
        assert squeezed(words) in told
    ((left, low, right, top),) = pictures(page)
    shape = plan.sheet.width_mm / plan.sheet.height_mm
    assert (right - left) / (top - low) == pytest.approx(shape, rel=0.01)
    assert max(right - left, top - low) >= 90.0  # seen from across a table


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("cover", [SHORT, LONG], ids=["short", "long"])
@pytest.mark.parametrize("name", NAMES)
def test_the_reference_is_one_page_with_its_rights(
    name: str, cover: Cover, paper: PageName
) -> None:
    made = made_named(name)
    page = only_page(reference_page(made.plan, made.reference, cover), paper)
    told = words_of(page)
    for words in (cover.author, cover.source, cover.permission):
        assert squeezed(words.strip().rstrip(".")) in told
    assert len(pictures(page)) == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", NAMES)
def test_values_are_one_page_with_two_studies(name: str, paper: PageName) -> None:
    made = made_named(name)
    page = only_page(values_page(made.plan, made.reference), paper)
    one, two = pictures(page)
    apart = one[2] <= two[0] or one[3] <= two[1] or two[2] <= one[0] or two[3] <= one[1]
    assert apart
    assert all(max(p[2] - p[0], p[3] - p[1]) >= 80.0 for p in (one, two))
    told = words_of(page)
    assert "9and10,lightest" in told  # one scale everywhere: ten steps
    assert "of5)" not in told


def test_no_permission_is_said() -> None:
    made = made_named("cup")
    page = only_page(reference_page(made.plan, made.reference, Cover("A cup")), "A4")
    assert squeezed("No permission to use this photo is stated") in words_of(page)
