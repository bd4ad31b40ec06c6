"""Labels at their true size, with everything in them whatever the painter wrote."""

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from tests.sheets.plans import HOSTILE, Printed, assert_inside, plan_named, printed, squeezed

from firstwash.finished.labels import BACK_MM, WALL_MM, label_page
from firstwash.finished.record import Record
from firstwash.plan.result import Plan
from firstwash.sheets.typeset import PageName, typeset

PLAIN = Record("The cup", "A. Painter", "2031", "private collection")
LONG = {
    "words": "winter afternoon over the harbour " * 3 + "and its boats",
    "capitals": "W" * 120,
    "signs": ('quote " \\ #set page(width: 1mm) $x^2$ *b* _i_ @ref //no [x] {y} ½ – “q” ' * 2)[
        :120
    ],
}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_named("cup")


def boxes_of(page: Printed) -> list[np.ndarray]:
    """Left, lower, right, upper of the two labels, mm from the page's lower left corner."""
    wide = page.paths[:, 2] - page.paths[:, 0]
    large = page.paths[wide > 80.0]
    return [np.asarray(box) for box in large[np.argsort(-large[:, 3])]]


def one_page(plan: Plan, record: Record, name: PageName = "A4") -> Printed:
    pages = printed(label_page(plan, record, (270.0, 210.0)), name)
    assert len(pages) == 1
    assert_inside(pages, name)
    return pages[0]


def assert_in_labels(page: Printed) -> None:
    """Every letter below the note stands in one of the labels, some way from its cut."""
    wall, back = boxes_of(page)
    left, low, right, top = page.boxes.T
    note = low > wall[3]
    foot = top < 18.0  # the page's number
    inside = [
        (left >= box[0] + 5) & (right <= box[2] - 5) & (low >= box[1] + 4.5) & (top <= box[3] - 5)
        for box in (wall, back)
    ]  # an inset of 6 mm, less what descends below a line or stands above its capitals
    assert (note | foot | inside[0] | inside[1]).all()
    assert inside[0].sum() > 10
    assert inside[1].sum() > 10


@pytest.mark.parametrize("name", ["A4", "Letter"])
def test_labels_have_their_size(plan: Plan, name: PageName) -> None:
    page = one_page(plan, PLAIN, name)
    for box, size in zip(boxes_of(page), (WALL_MM, BACK_MM), strict=True):
        # A path's bounds hold its line, 0.14 mm thick.
        assert (box[2] - box[0], box[3] - box[1]) == pytest.approx(size, abs=0.3)
    assert_in_labels(page)


def test_what_is_known_is_on_them(plan: Plan) -> None:
    page = one_page(plan, PLAIN)
    for words in (
        "A. Painter", "The cup, 2031", "Watercolour, 15 × 11 cm", "sheet 27 × 21 cm",
        "cold-pressed watercolour paper, 300 g/m²", "Pigments: ", "private collection",
        "behind glass",
    ):  # fmt: skip
        assert squeezed(words) in page.letters, words
    assert page.words.count("A. Painter") == 2


def test_without_a_title_it_is_untitled(plan: Plan) -> None:
    page = one_page(plan, Record())
    assert page.words.count("Untitled") == 2
    bare = printed(label_page(replace(plan, washes=(), touches=()), Record(), None))[0]
    assert "Pigments" not in bare.words
    assert "sheet" not in bare.words


@pytest.mark.parametrize("name", ["A4", "Letter"])
@pytest.mark.parametrize("kind", list(LONG))
def test_the_longest_texts_stay_inside(plan: Plan, kind: str, name: PageName) -> None:
    text = LONG[kind]
    page = one_page(plan, Record(text, text, text, text), name)
    assert_in_labels(page)
    # Title, painter and year on both, the remark on the back: none of it is cut.
    assert page.letters.count(squeezed(" ".join(text.split()))) == 7


def test_many_paints_with_long_names_stay_inside() -> None:
    plan = plan_named("many")
    paints = [
        replace(p, name=HOSTILE[i % len(HOSTILE)], pigments=()) for i, p in enumerate(plan.paints)
    ]
    text = LONG["words"]
    assert_in_labels(one_page(replace(plan, paints=tuple(paints)), Record(text, text, text, text)))


def test_the_same_record_gives_the_same_page(plan: Plan) -> None:
    one, two = (label_page(plan, PLAIN, None) for _ in range(2))
    assert one.source == two.source


def test_a_sheet_of_labels_has_no_page_number(plan: Plan) -> None:
    pages = label_page(plan, PLAIN, None)
    (page,) = pypdfium2.PdfDocument(typeset(pages.source, pages.files, title="T"))
    assert not page.get_textpage().get_text_bounded().rstrip().endswith("\n1")
    _, foot, _, _ = min(
        (page.get_textpage().get_charbox(i) for i in range(page.get_textpage().count_chars())),
        key=lambda box: box[1],
    )
    assert foot > 18.0 * 72.0 / 25.4  # nothing stands in the lower margin
