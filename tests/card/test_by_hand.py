"""The card by ruler: every distance told agrees with the layout, and the page stands alone."""

import dataclasses
import re
from fractions import Fraction
from xml.etree import ElementTree

import numpy as np
import pytest

from firstwash.card.by_hand import by_hand_page, frame_box, row_lines, tick_distances
from firstwash.card.layout import COLUMNS, ROWS, line_box, sample_box, slot_box, swatch_box
from firstwash.card.recipe import CardRow, rows_for
from firstwash.card.words import inches
from firstwash.errors import PaintError, RequestError
from firstwash.paints.catalogue import Paint, load_set, paint

BOX = load_set("starter").paints


def card(count: int) -> tuple[tuple[CardRow, ...], dict[str, Paint]]:
    return rows_for(BOX[:count], BOX), {p.key: p for p in BOX}


def in_mm(words: str) -> float:
    """A length told in inches, as mm."""
    return 25.4 * float(sum(Fraction(part) for part in words.removesuffix(" in").split()))


def test_the_frame_encloses_the_windows() -> None:
    assert frame_box(8).corners.tolist() == [[10, 17], [176, 17], [176, 232], [10, 232]]
    for rows in range(1, ROWS + 1):
        frame, last = frame_box(rows), slot_box(rows - 1)
        assert frame.y + frame.height == last.y + last.height
        assert (frame.x, frame.width) == (last.x, last.width)


def test_row_lines_and_ticks_follow_the_layout() -> None:
    frame = frame_box(8)
    for row in range(ROWS):
        upper, pen, lower = row_lines(row)
        slot, line = slot_box(row), line_box(row, 0)
        assert frame.y + upper == slot.y
        assert frame.y + lower == slot.y + slot.height
        assert line.y < frame.y + pen < line.y + line.height
    exact = np.arange(1, COLUMNS) * slot_box(0).width / COLUMNS
    np.testing.assert_allclose(tick_distances(), exact, atol=0.25)  # told to half a millimetre


@pytest.mark.parametrize("rows", [1, 3, 8])
def test_a_card_drawn_with_an_inch_ruler_is_read_in_the_right_places(rows: int) -> None:
    """Corners touched on a frame drawn in sixteenths still lead into every swatch."""
    frame = frame_box(rows)
    wide, high = in_mm(inches(frame.width)), in_mm(inches(frame.height))
    drawn = [0.0, *(in_mm(inches(mm)) for mm in tick_distances()), wide]
    for row in range(rows):
        upper, _, lower = (in_mm(inches(mm)) for mm in row_lines(row))
        for column in range(COLUMNS):
            swatch, read = swatch_box(row, column), sample_box(row, column)
            # A swatch 8.4 x 14 mm in the middle of the place as drawn, seen through the corners.
            x = 0.5 * (drawn[column] + drawn[column + 1]) * frame.width / wide + frame.x
            y = 0.5 * (upper + lower) * frame.height / high + frame.y
            assert x - 0.5 * swatch.width < read.x
            assert read.x + read.width < x + 0.5 * swatch.width
            assert read.y + read.height < y + 0.5 * swatch.height


@pytest.mark.parametrize("rows", [1, 3, 8])
def test_the_page_tells_every_distance(rows: int) -> None:
    page = by_hand_page(*card(rows)).decode()
    frame = frame_box(rows)
    assert f"{frame.width:g} mm wide and {frame.height:g} mm high" in page
    for row in range(rows):
        for mm in row_lines(row):
            assert f"<span>{mm:g} mm</span><br><span>{inches(mm)}</span>" in page
    for mm in tick_distances():
        assert f"<td>{mm:g} mm</td><td>{inches(mm)}</td>" in page


@pytest.mark.parametrize("rows", [1, 3, 8])
def test_the_drawing_is_true_to_scale(rows: int) -> None:
    page = by_hand_page(*card(rows)).decode()
    picture = ElementTree.fromstring(re.search(r"<svg.*?</svg>", page)[0])  # type: ignore[index]
    frame = picture.find("rect")
    assert frame is not None
    assert float(frame.get("width", 0)) == frame_box(rows).width
    assert float(frame.get("height", 0)) == frame_box(rows).height
    lines = [
        {k: float(i.get(k, 0)) for k in ("x1", "x2", "y1", "y2")} for i in picture.iter("line")
    ]
    across = {i["y1"] for i in lines if i["y1"] == i["y2"] and i["x2"] - i["x1"] == 166.0}
    assert across - {-4.0} == {mm for row in range(rows) for mm in row_lines(row)}
    ticks = {round(i["x1"], 2) for i in lines if i["x1"] == i["x2"] and abs(i["y1"] - i["y2"]) == 2}
    assert len(ticks) == COLUMNS - 1


def test_the_page_stands_alone() -> None:
    page = by_hand_page(*card(8)).decode()
    assert page.startswith("<!doctype html>")
    assert not re.search(r"https?:|<script|<link|<img|url\(|@import", page)


def test_every_paint_is_named_and_every_place_told() -> None:
    rows, paints = card(3)
    page = by_hand_page(rows, paints).decode()
    for row in rows:
        for key in row.keys:
            assert paints[key].name in page
    assert page.count("14 over dry") == 3


@pytest.mark.parametrize(
    "name", ["<script>&\"'", "群青", "μπλε", "a" * 5000, "\ud800\x00", "", "🎨"]
)
def test_any_name_can_be_shown(name: str) -> None:
    rows, paints = card(2)
    hostile = dataclasses.replace(paint(rows[0].paint), name=name)
    page = by_hand_page(rows, {**paints, rows[0].paint: hostile}).decode("utf-8")
    assert "<script" not in page
    assert len(page) < 60_000
    if name in ("群青", "μπλε", "🎨"):
        assert name in page


def test_brush_loads_and_drops() -> None:
    assert "drop" not in by_hand_page(*card(2), loads="brush-loads").decode()
    assert "brush-load" not in by_hand_page(*card(2)).decode()


def test_misuse_is_told() -> None:
    rows, paints = card(2)
    with pytest.raises(RequestError):
        by_hand_page((), paints)
    with pytest.raises(PaintError):
        by_hand_page(rows, {})
