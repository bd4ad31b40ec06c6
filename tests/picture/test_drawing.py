"""A drawing kept in files, and what can be asked of it."""

import json
import struct
import zlib
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.picture.drawing import (
    Drawing,
    EdgeMark,
    neighbours,
    read_drawing,
    shape_at,
    write_drawing,
)
from firstwash.picture.profile import encode_png

MARK = EdgeMark(((1.0, 2.5), (30.0, 2.5)), 4.0, "soft")


def quarters() -> Drawing:
    """Four quarters of 20 × 15 mm: 0 1 over 2 3, the last a reserve."""
    shapes = np.zeros((30, 40), dtype=np.int32)
    shapes[:, 20:] += 1
    shapes[15:] += 2
    return Drawing(shapes, 1.0, frozenset({3}), (MARK,), by_hand=True)


# --- files -----------------------------------------------------------------------


def test_a_drawing_survives_its_files() -> None:
    drawing = quarters()
    again = read_drawing(*write_drawing(drawing), 1.0)
    assert np.array_equal(again.shapes, drawing.shapes)
    assert again.shapes.dtype == np.int32
    assert replace(again, shapes=drawing.shapes).__dict__ == drawing.__dict__
    assert write_drawing(again) == write_drawing(drawing)


def test_more_shapes_than_a_byte_holds_survive() -> None:
    shapes = np.arange(1200, dtype=np.int32).reshape(30, 40)
    again = read_drawing(*write_drawing(Drawing(shapes, 1.0)), 1.0)
    assert np.array_equal(again.shapes, shapes)


def huge_png() -> bytes:
    """A header that promises 100 000 × 100 000 pixels, with hardly any behind it."""
    head = struct.pack(">IIBBBBB", 100_000, 100_000, 16, 0, 0, 0, 0)
    chunk = b"IHDR" + head
    return (
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    )


GAPS = encode_png(np.array([[0, 2], [2, 0]], dtype=np.uint16))
COLOURED = encode_png(np.zeros((4, 4, 3), dtype=np.uint8))


@pytest.mark.parametrize(
    "png", [b"", b"GIF89a", huge_png(), GAPS, COLOURED, write_drawing(quarters())[0][:60]]
)
def test_a_damaged_map_is_refused(png: bytes) -> None:
    with pytest.raises(RequestError, match="map of the shapes is damaged"):
        read_drawing(png, write_drawing(quarters())[1], 1.0)


def test_a_damaged_document_is_refused() -> None:
    labels, details = write_drawing(quarters())
    good = json.loads(details)
    point = {"points_mm": [[1.0, 2.0]], "reach_mm": 4.0, "kind": "hard"}
    wrong: list[dict[str, Any]] = [
        {"format": "another"}, {"version": 2}, {"by_hand": 1}, {"reserves": [4]},
        {"reserves": [-1]}, {"reserves": [True]}, {"reserves": "3"}, {"reserves": None},
        {"edge_marks": 5}, {"edge_marks": [[]]},
        {"edge_marks": [{**point, "kind": "crisp"}]}, {"edge_marks": [{**point, "points_mm": []}]},
        {"edge_marks": [{**point, "points_mm": [[1.0]]}]},
        {"edge_marks": [{**point, "points_mm": [[1e300, 0.0]]}]},
        {"edge_marks": [{**point, "points_mm": [["a", 0.0]]}]},
        {"edge_marks": [{**point, "reach_mm": 0.0}]}, {"edge_marks": [{**point, "reach_mm": True}]},
        {"edge_marks": [point] * 1001},
    ]  # fmt: skip
    for change in wrong:
        with pytest.raises(RequestError, match="drawing is damaged"):
            read_drawing(labels, json.dumps({**good, **change}), 1.0)
    for text in ("", "[]", "{}", "null", "[" * 100_000, '{"format": NaN}'):
        with pytest.raises(RequestError, match="drawing is damaged"):
            read_drawing(labels, text, 1.0)
    nan = details.replace("2.5", "NaN")
    with pytest.raises(RequestError, match="drawing is damaged"):
        read_drawing(labels, nan, 1.0)


@given(st.binary(max_size=200), st.text(max_size=200))
def test_rubbish_is_refused_in_one_sentence(png: bytes, details: str) -> None:
    with pytest.raises(RequestError, match=r"\.$"):
        read_drawing(png, details, 1.0)


# --- questions -------------------------------------------------------------------


def test_areas_and_places() -> None:
    drawing = quarters()
    assert drawing.areas_mm2().tolist() == [300.0] * 4
    assert [shape_at(drawing, x, y) for x, y in ((0, 0), (40, 0), (19.9, 15), (40, 30))] == [
        0, 1, 2, 3,
    ]  # fmt: skip
    assert drawing.bare().sum() == 300


@pytest.mark.parametrize("place", [(-0.1, 5.0), (5.0, 30.1), (float("nan"), 5.0), (1e9, 1e9)])
def test_a_place_off_the_sheet_is_refused(place: tuple[float, float]) -> None:
    with pytest.raises(RequestError, match="not on the sheet"):
        shape_at(quarters(), *place)


def test_neighbours_come_by_length_of_border() -> None:
    assert neighbours(quarters(), 0) == (2, 1)  # 20 mm below, 15 mm beside; corners do not touch
    with pytest.raises(RequestError, match="shapes 0 to 3"):
        neighbours(quarters(), 4)
