"""The printed frame: geometry in mm, room for the words, hostile names."""

import dataclasses

import numpy as np
import pytest

from firstwash.card.drawing import Area, Item, Line, Outline, Page, Shape, Text
from firstwash.card.layout import (
    BARE,
    COLUMNS,
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    line_box,
    slot_box,
    swatch_box,
)
from firstwash.card.leaflet import leaflet_pages
from firstwash.card.page import PAPERS, card_origin, card_page, shifted
from firstwash.card.recipe import CardRow, rows_for
from firstwash.errors import PaintError, RequestError
from firstwash.paints.catalogue import Paint, all_paints, load_set, paint

BOX = load_set("all").paints


def named(key: str, name: str) -> Paint:
    return dataclasses.replace(paint("PB29"), key=key, name=name)


LONG = [
    named("PBk31", "perylene green-black"),
    named("PY151", "benzimidazolone yellow (green shade)"),
    paint("phthalo-turquoise"),
    paint("PR101-transparent"),
    paint("PY42-transparent"),
    paint("PB15:3"),
    paint("PG36"),
    paint("PV19-rose"),
]
HOSTILE = [
    named("x" * 300, "very " * 200 + "long"),
    named("κυανό", "μπλε του Αιγαίου"),
    named("群青", "群青色の絵の具"),
    named("-", "\n\t\x00\u200b"),
    named("emoji", "🎨🎨🎨"),
    named("<b>", "<script>alert('&')</script>"),
    named("eeee", "e" * 70),
    named("Z", "café żółty ﬁne (" + "(" * 20),
]
CARDS = {
    "starter": list(load_set("starter").paints[:8]),
    "measured": list(load_set("measured-all").paints[:8]),
    "last": list(BOX[-8:]),
    "long": LONG,
    "hostile": HOSTILE,
    "three": [paint(k) for k in ("PR108", "PB29", "PG7")],
    "one": [paint("PB29")],
}


def card(which: str) -> tuple[tuple[CardRow, ...], dict[str, Paint]]:
    own = CARDS[which]
    return rows_for(own, BOX), {p.key: p for p in (*BOX, *own)}


def on_card(page: Page, paper: str) -> list[Item]:
    """Everything on a page, in mm from the card's corner."""
    x, y = card_origin(paper)  # type: ignore[arg-type]
    return [shifted(item, -x, -y) for item in page.items]


def room_of(item: Item) -> list[Box]:
    """The boxes an item takes."""
    match item:
        case Text():
            return [item.box]
        case Area():
            return list(item.boxes)
        case Outline():
            b, w = item.box, 0.5 * item.width
            sides = [(b.x, b.y, b.width, 0.0), (b.x, b.y + b.height, b.width, 0.0)]
            sides += [(b.x, b.y, 0.0, b.height), (b.x + b.width, b.y, 0.0, b.height)]
            return [Box(*side).shrunk(-w) for side in sides]
        case Line():
            x, y = min(item.x1, item.x2), min(item.y1, item.y2)
            box = Box(x, y, abs(item.x1 - item.x2), abs(item.y1 - item.y2))
            return [box.shrunk(-0.5 * item.width)]
        case Shape():
            low, high = np.min(item.corners, axis=0), np.max(item.corners, axis=0)
            return [Box(*low, *(high - low))]


def meet(a: Box, b: Box) -> float:
    """How far two boxes overlap, mm; negative: how far apart they are."""
    across = min(a.x + a.width, b.x + b.width) - max(a.x, b.x)
    down = min(a.y + a.height, b.y + b.height) - max(a.y, b.y)
    return min(across, down)


def markers_of(items: list[Item]) -> list[Area]:
    return [i for i in items if isinstance(i, Area) and len(i.boxes) > 1]


# ------------------------------------------------------------------ where things lie


@pytest.mark.parametrize("paper", PAPERS)
def test_the_card_is_centred_on_the_page(paper: str) -> None:
    page = card_page(*card("starter"), paper=paper)  # type: ignore[arg-type]
    assert (page.width, page.height) == PAPERS[paper]
    x, y = card_origin(paper)  # type: ignore[arg-type]
    assert 2 * x + WIDTH_MM == pytest.approx(page.width)
    assert 2 * y + HEIGHT_MM == pytest.approx(page.height)


@pytest.mark.parametrize("which", ["starter", "three", "one"])
def test_windows_lie_where_the_layout_says_and_only_for_rows_there_are(which: str) -> None:
    rows, paints = card(which)
    items = on_card(card_page(rows, paints), "A4")
    found = [i.box for i in items if isinstance(i, Outline)]
    wanted = [slot_box(i) for i in range(len(rows))]
    assert len(found) == len(wanted)
    for a, b in zip(found, wanted, strict=True):
        np.testing.assert_allclose(a.corners, b.corners, atol=1e-9)


def test_ticks_divide_both_edges_of_a_window_into_places() -> None:
    items = on_card(card_page(*card("three")), "A4")
    for row in range(3):
        slot = slot_box(row)
        wanted = slot.x + np.arange(COLUMNS + 1) * slot.width / COLUMNS
        for edge in (slot.y, slot.y + slot.height):
            upright = [i for i in items if isinstance(i, Line) and i.x1 == i.x2]
            ticks = [i.x1 for i in upright if np.isclose((i.y1, i.y2), edge).any()]
            np.testing.assert_allclose(sorted(ticks), wanted, atol=1e-9)


def test_a_bar_is_as_wide_as_the_swatch_below_it() -> None:
    items = on_card(card_page(*card("one")), "A4")
    bars = [i.boxes[0] for i in items if isinstance(i, Area) and len(i.boxes) == 1]
    wanted = [swatch_box(0, c) for c in range(COLUMNS) if c not in BARE]
    assert [b.width for b in bars] == pytest.approx([w.width for w in wanted])
    assert [b.x for b in bars] == pytest.approx([w.x for w in wanted])


def test_triangles_point_at_the_pen_line_from_both_sides() -> None:
    items = on_card(card_page(*card("three")), "A4")
    tips = [i.corners[0] for i in items if isinstance(i, Shape)]
    for row in range(3):
        line, slot = line_box(row, 0), slot_box(row)
        for edge in (slot.x, slot.x + slot.width):
            near = [t for t in tips if abs(t[0] - edge) < 0.5 and line.y < t[1] < line.y + 4.0]
            assert len(near) == 1
            assert near[0][1] == pytest.approx(line.y + 0.5 * line.height)


def test_the_rulers_are_100_mm_and_4_inches_long() -> None:
    items = on_card(card_page(*card("one")), "A4")
    (base,) = [i for i in items if isinstance(i, Line) and i.y1 == i.y2 > HEIGHT_MM]
    up = sorted(i.x1 for i in items if isinstance(i, Line) and i.y2 == base.y1 and i.y1 < i.y2)
    down = sorted(i.x1 for i in items if isinstance(i, Line) and i.y1 == base.y1 and i.y2 > i.y1)
    np.testing.assert_allclose(up, np.arange(101.0), atol=1e-9)
    np.testing.assert_allclose(down, np.arange(33) * 25.4 / 8, atol=1e-9)


# ------------------------------------------------------------------ nothing in the way


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("which", CARDS)
def test_markers_keep_white_around_them(which: str, paper: str) -> None:
    items = on_card(card_page(*card(which), paper=paper), paper)  # type: ignore[arg-type]
    assert len(markers_of(items)) == len(MARKERS) == 12
    others = [b for i in items if i not in markers_of(items) for b in room_of(i)]
    for box in MARKERS.values():
        quiet = box.shrunk(-box.width / 8)  # one module, as [Wang2016] asks
        assert max(meet(quiet, other) for other in others) <= 1e-9
    x, y = card_origin(paper)  # type: ignore[arg-type]
    assert min(x, y) >= 14.0 / 8 + 5.0  # and printers leave about 5 mm of the page blank


@pytest.mark.parametrize("which", CARDS)
def test_no_words_lie_in_windows_and_none_on_each_other(which: str) -> None:
    rows, paints = card(which)
    items = on_card(card_page(rows, paints), "A4")
    texts = [i for i in items if isinstance(i, Text)]
    for i, text in enumerate(texts):
        for row in range(len(rows)):
            assert meet(text.box, slot_box(row).shrunk(-0.1)) <= 0, text
        for other in texts[:i]:
            assert meet(text.box, other.box) <= 1e-9, (text, other)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("which", CARDS)
def test_words_stay_on_the_printable_page(which: str, paper: str) -> None:
    rows, paints = card(which)
    front = card_page(rows, paints, paper, title="A title " * 50)  # type: ignore[arg-type]
    for page in (front, *leaflet_pages(rows, paints, paper)):  # type: ignore[arg-type]
        inner = Box(0, 0, page.width, page.height).shrunk(6.0)
        for text in page.texts:
            box = text.box
            assert inner.x <= box.x, text
            assert box.x + box.width <= inner.x + inner.width, text
            assert inner.y <= box.y, text
            assert box.y + box.height <= inner.y + inner.height, text


@pytest.mark.parametrize("which", CARDS)
def test_what_stands_above_a_place_is_no_wider_than_the_place(which: str) -> None:
    rows, paints = card(which)
    items = on_card(card_page(rows, paints), "A4")
    pitch = slot_box(0).width / COLUMNS
    for row in range(len(rows)):
        slot = slot_box(row)
        for column in range(COLUMNS):
            left = slot.x + column * pitch
            own = [
                i for i in items
                if isinstance(i, Text) and i.size < 8.0 and slot.y - 6.4 < i.y < slot.y
                and left < i.left + 0.5 * i.width < left + pitch
                and not (column < 7 and i.y < slot.y - 6.0)
            ]  # fmt: skip
            assert own[0].text == str(column + 1)
            for text in own:
                assert left <= text.left, text
                assert text.left + text.width <= left + pitch, text


@pytest.mark.parametrize("which", CARDS)
def test_no_letter_is_smaller_than_weak_eyes_can_read(which: str) -> None:
    rows, paints = card(which)
    for page in (card_page(rows, paints), *leaflet_pages(rows, paints)):
        assert min(t.size for t in page.texts) >= 7.0


# ------------------------------------------------------------------ what is told


def test_places_tell_strengths_partners_and_coats() -> None:
    blue, red, yellow = (paint(k) for k in ("PB29", "PR108", "PY150"))
    row = CardRow("PB29", "PY150", "PG7", "lemon-yellow", "PB15:3", "PR108")
    other = CardRow("PR108", "PY150", "PG7", "lemon-yellow", "PB29", "PB29")
    paints = {p.key: p for p in (blue, red, yellow, *all_paints())}
    told = [t.text.strip() for t in card_page((row, other), paints).texts]
    for words in ("1 : 31", "1 : 15", "1 : 7", "1 : 3", "1 : 1", "full", "two coats"):
        assert told.count(words) == 2
    assert told.count("bare") == 4
    assert "over B" in told  # the paint of row B lies below in A14
    assert "mix A" in told  # and that of row A is mixed in at B11
    assert "blue GS" in told  # phthalo blue (green shade), as tube labels shorten it
    assert "ultramarine blue" in told
    assert "PB29" in told


def test_every_row_has_its_letter_at_both_ends_and_numbers_1_to_14() -> None:
    page = card_page(*card("starter"))
    large = [t.text for t in page.texts if t.size == 20.0]
    assert sorted(large) == sorted("ABCDEFGH" * 2)
    numbers = [t.text for t in page.texts if t.bold and t.text.isdigit()]
    assert sorted(numbers, key=int) == [str(n) for n in range(1, 15) for _ in range(8)]


def test_names_that_cannot_be_printed_give_way_to_what_can() -> None:
    rows, paints = card("hostile")
    told = " ".join(t.text for t in card_page(rows, paints).texts)
    assert "?" not in told
    assert "paint B" in told  # neither name nor key is in the type's letters
    assert "emoji" in told  # the key stands in for the name
    assert "café zólty" not in told  # ł has no accent that could fall away
    for text in told:
        text.encode("cp1252")


# ------------------------------------------------------------------ misuse


def test_misuse_is_told_in_one_sentence() -> None:
    rows, paints = card("starter")
    with pytest.raises(RequestError, match="A4 or Letter"):
        card_page(rows, paints, "A3")  # type: ignore[arg-type]
    with pytest.raises(RequestError, match="1 to 8"):
        card_page((), paints)
    with pytest.raises(RequestError, match="1 to 8"):
        card_page(rows + rows, paints)
    with pytest.raises(PaintError, match="PB29"):
        card_page(rows, {k: p for k, p in paints.items() if k != "PB29"})
