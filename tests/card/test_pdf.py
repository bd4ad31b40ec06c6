"""The PDF as a printer sees it: size, markers, letters, the same bytes every time."""

import itertools
import re

import cv2
import numpy as np
import pypdfium2
import pytest

from firstwash.card.layout import MARKERS, marker_corners
from firstwash.card.page import PAPERS, card_origin
from firstwash.card.pdf import card_pdf
from firstwash.card.recipe import CardRow, rows_for
from firstwash.paints.catalogue import Paint, load_set, paint

BOX = load_set("starter").paints
DPI = 150


def card(*keys: str) -> tuple[tuple[CardRow, ...], dict[str, Paint]]:
    own = [paint(k) for k in keys] or list(BOX[:8])
    return rows_for(own, BOX), {p.key: p for p in (*BOX, *own)}


def opened(data: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(data)


def words_of(data: bytes) -> str:
    pages = [page.get_textpage().get_text_bounded() for page in opened(data)]
    return " ".join(" ".join(pages).split())


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper(paper: str) -> None:
    document = opened(card_pdf(*card(), paper=paper))  # type: ignore[arg-type]
    assert len(document) == 3
    for page in document:
        mm = np.array(page.get_size()) * 25.4 / 72
        np.testing.assert_allclose(mm, PAPERS[paper], atol=0.005)  # pdf numbers have 4 digits


@pytest.mark.parametrize(("paper", "keys"), [("A4", ()), ("Letter", ("PB29", "PR108", "PG7"))])
def test_every_marker_is_found_where_the_layout_puts_it(paper: str, keys: tuple[str, ...]) -> None:
    (page, *_) = opened(card_pdf(*card(*keys), paper=paper))  # type: ignore[arg-type]
    grey = page.render(scale=DPI / 72, grayscale=True).to_numpy().squeeze()
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    finder = cv2.aruco.DetectorParameters()
    finder.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, finder).detectMarkers(grey)
    assert sorted(numbers.ravel().tolist()) == sorted(MARKERS)
    pixel = np.array(PAPERS[paper]) / grey.shape[::-1]  # mm; the page is drawn on whole pixels
    for number, found in zip(numbers.ravel().tolist(), corners, strict=True):
        mm = (found[0] + 0.5) * pixel - card_origin(paper)  # type: ignore[arg-type]
        # A pixel of this rendering is 0.17 mm; corners were found to 0.05 mm.
        np.testing.assert_allclose(mm, marker_corners(number), atol=0.15)


def test_every_paint_of_the_card_is_named() -> None:
    rows, paints = card("phthalo-turquoise", "PR101-transparent", "PG36", "PB15:3")
    # Lines are broken in the table, long words with a hyphen.
    told = re.sub(r"[\s\-\ufffe\xad]+", "", words_of(card_pdf(rows, paints)))
    for key in itertools.chain.from_iterable(row.keys for row in rows):
        assert re.sub(r"[\s\-]+", "", paints[key].name) in told


def test_the_bytes_do_not_change() -> None:
    first = card_pdf(*card("PB29", "PG7"), title="Mine")
    assert first == card_pdf(*card("PB29", "PG7"), title="Mine")
    assert first != card_pdf(*card("PB29", "PG7"), title="Yours")


def test_the_reader_is_asked_not_to_scale() -> None:
    data = card_pdf(*card("PB29", "PG7"))
    assert re.search(rb"/PrintScaling\s*/None", data)


def test_how_the_painter_counts_is_told() -> None:
    drops, loads = (words_of(card_pdf(*card("PB29"), loads=w)) for w in ("drops", "brush-loads"))
    assert "1 drop from" in drops
    assert "1 brush-load from" in loads.replace("\ufffe", "-")
    assert "drop" not in loads


def test_paints_that_harm_are_named_with_what_they_contain() -> None:
    told = words_of(card_pdf(*card("PR108", "PG18")))
    assert "cadmium red (PR108): toxic, contains cadmium" in told
    assert "viridian (PG18): handle with care, contains chromium" in told


def test_a_title_in_other_letters_does_not_stop_the_card() -> None:
    told = words_of(card_pdf(*card("PB29", "PG7"), title="Καρτέλα 見本 🎨"))
    assert "Swatch card, page 2 of 3" in told
