"""Drawings in mm: sizes, groups, mirrored and pale ones, the grid, and single pages."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.picture.sheet import Sheet
from firstwash.tracing.model import Line, Tracing
from firstwash.tracing.svg import INKJET_WARNING, tile_svg, tracing_svg
from firstwash.tracing.tiles import tiles_of

NS = {"s": "http://www.w3.org/2000/svg"}


def straight(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    share = np.arange(4)[:, None] / 3.0
    a, b = np.array([x0, y0]), np.array([x1, y1])
    return (a + share * (b - a))[None]


TRACING = Tracing(
    (
        Line(straight(10, 20, 290, 190), False, 0.6, 0.9, "contour"),
        Line(straight(50, 50, 60, 80), False, 0.25, 0.4, "inner", broken=True),
        Line(straight(200, 10, 210, 15), False, 0.3, 0.3, "reserve"),
    ),
    300.0,
    200.0,
    0.5,
)


def tree(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def group(svg: str, name: str) -> ElementTree.Element:
    found = tree(svg).find(f".//s:g[@id='{name}']", NS)
    assert found is not None
    return found


def sizes(svg: str) -> tuple[float, float]:
    root = tree(svg)
    assert root.get("viewBox") == f"0 0 {root.get('width', '')[:-2]} {root.get('height', '')[:-2]}"
    return float(root.get("width", "")[:-2]), float(root.get("height", "")[:-2])


def test_it_is_of_true_size_with_a_title() -> None:
    svg = tracing_svg(TRACING)
    assert sizes(svg) == pytest.approx((300.4, 200.4))  # with half a thin line around, and more
    assert tree(svg).findtext("s:title", namespaces=NS)
    border = tree(svg).find(".//s:rect[@id='sheet']", NS)
    assert border is not None
    assert (border.get("width"), border.get("height")) == ("30000", "20000")


def test_a_group_for_each_kind_with_widths_in_mm() -> None:
    svg = tracing_svg(TRACING)
    for kind, width in (("contour", "60"), ("inner", "25"), ("reserve", "30")):
        (path,) = list(group(svg, kind))
        assert path.get("stroke-width") == width  # hundredths of a mm
    assert group(svg, "inner")[0].get("stroke-dasharray")
    assert group(svg, "contour")[0].get("stroke-dasharray") is None
    assert 'stroke-linecap="round"' in svg


def test_places_are_hundredths_of_a_mm() -> None:
    d = group(tracing_svg(TRACING), "contour")[0].get("d", "")
    start, moves = re.fullmatch(r"M(\S+ \S+)c(.+)", d).groups()  # type: ignore[union-attr]
    assert start == "1000 2000"
    assert [float(v) for v in moves.split()][-2:] == [28000.0, 17000.0]


def test_mirrored_changes_left_and_right() -> None:
    d = group(tracing_svg(TRACING, mirrored=True), "contour")[0].get("d", "")
    assert d.startswith("M29000 2000c")


def test_pale_lines_are_light_and_neutral() -> None:
    grey = group(tracing_svg(TRACING, pale=True), "contour").get("stroke", "")
    parts = {int(grey[k : k + 2], 16) for k in (1, 3, 5)}
    assert len(parts) == 1
    assert 170 <= parts.pop() <= 215  # seen while drawing, gone under a wash
    assert "bleeds" in INKJET_WARNING


@pytest.mark.parametrize(("across", "rows"), [(1, 1), (6, 4), (7, 5), (40, 27)])
def test_the_grid_has_square_squares_named_outside(across: int, rows: int) -> None:
    svg = tracing_svg(TRACING, grid=across)
    assert sizes(svg)[0] == pytest.approx(316.0)  # room for the names on both sides
    names = [t.text for t in group(svg, "grid-names")]
    assert len(names) == 2 * across + 2 * rows
    places = [(float(t.get("x", "")), float(t.get("y", ""))) for t in group(svg, "grid-names")]
    for x, y in places:
        assert not (0.0 < x < 300.0 and 2.0 < y < 200.0)


@pytest.mark.parametrize("grid", [0, -1, 41])
def test_other_grids_are_refused(grid: int) -> None:
    with pytest.raises(RequestError):
        tracing_svg(TRACING, grid=grid)


def test_no_style_and_no_script() -> None:
    for svg in (tracing_svg(TRACING, grid=5), tile_svg(TRACING, tiles_of(SHEET, "A4")[0])):
        assert "style" not in svg
        assert "script" not in svg


SHEET = Sheet(300.0, 200.0)


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_page_is_of_the_page_s_size(page: str) -> None:
    for tile in tiles_of(SHEET, page):  # type: ignore[arg-type]
        svg = tile_svg(TRACING, tile)
        assert sizes(svg) == pytest.approx(tile.page_mm)
        words = [t.text for t in tree(svg).iter("{http://www.w3.org/2000/svg}text")]
        assert words == ["100 mm", *(["4 in"] if page == "Letter" else []), tile.name]
        assert len(list(group(svg, "map"))) == tile.rows * tile.columns


def test_the_bar_measures_what_it_says() -> None:
    tile = tiles_of(SHEET, "Letter")[0]
    bars = [p.get("d", "") for p in group(tile_svg(TRACING, tile), "scale") if p.get("d")]
    lengths = [float(re.match(r"M\S+ \S+?h([\d.]+)M", d).group(1)) for d in bars]  # type: ignore[union-attr]
    assert lengths == [100.0, 101.6]


def test_a_page_shows_only_its_own_lines() -> None:
    tiles = {t.name: t for t in tiles_of(SHEET, "A4")}
    assert set(tiles) == {"A1", "A2"}
    assert list(group(tile_svg(TRACING, tiles["A1"]), "inner"))
    assert not list(group(tile_svg(TRACING, tiles["A2"]), "inner"))
    assert list(group(tile_svg(TRACING, tiles["A2"], mirrored=True), "inner"))


def test_the_same_lines_give_the_same_bytes() -> None:
    assert tracing_svg(TRACING, grid=5) == tracing_svg(TRACING, grid=5)


def test_ticks_stand_outside_the_drawing_and_only_where_it_goes_on() -> None:
    for tile in tiles_of(SHEET, "A4"):
        (x, y), (_, _, wide, high) = tile.place, tile.window
        (path,) = group(tile_svg(TRACING, tile), "cuts")
        ticks = re.findall(r"M(\S+) (\S+?)([hv])(-?[\d.]+)", path.get("d", ""))
        assert len(ticks) == 2  # two pages side by side: both ends of the side they share
        for left, top, way, length in ticks:
            assert way == "v"
            assert float(left) == pytest.approx(x + (0.0 if tile.column else wide), abs=0.006)
            ends = float(top), float(top) + float(length)
            assert max(ends) < y or min(ends) > y + high
    alone = tile_svg(TRACING, tiles_of(Sheet(150.0, 110.0), "A4")[0])
    assert not list(group(alone, "cuts"))


def test_mirrored_pages_are_named_as_mirrored() -> None:
    tile = tiles_of(SHEET, "A4")[1]
    svg = tile_svg(TRACING, tile, mirrored=True)
    words = [t.text for t in tree(svg).iter("{http://www.w3.org/2000/svg}text")]
    assert words == ["100 mm", "A2", "mirrored"]
    assert "mirrored" in (tree(svg).findtext("s:title", namespaces=NS) or "")
