"""The outline of a drawing: every border once, in millimetres, and bare places hatched."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from firstwash.handout.contours import trace_contours
from firstwash.handout.outline import outline_svg
from firstwash.picture.drawing import Drawing

PPMM = 2.0
SVG = "{http://www.w3.org/2000/svg}"


def quarters(reserves: frozenset[int] = frozenset()) -> Drawing:
    """Four shapes of 40 × 30 mm, and a round one in their middle."""
    rows, cols = np.mgrid[:120, :160]
    shapes = (rows >= 60) * 2 + (cols >= 80)
    shapes[(rows - 60) ** 2 + (cols - 80) ** 2 < 25**2] = 4
    return Drawing(shapes.astype(np.int32), PPMM, reserves)


def root_of(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(outline_svg(drawing))


def lines(root: ElementTree.Element) -> str:
    paths = [
        p for p in root.iter(f"{SVG}path") if "fill" not in p.attrib and "width" not in p.attrib
    ]
    return paths[-1].attrib["d"]


def ends(d: str) -> np.ndarray:
    """Points (n, 2) that a path goes through, in mm: the last pair of every command."""
    parts = re.findall(r"[MLC]([^MLCz]*)", d)
    return np.array([[float(v) for v in p.split()[-2:]] for p in parts]) / 100.0


def test_it_is_as_large_as_the_sheet() -> None:
    root = root_of(quarters())
    assert root.tag == f"{SVG}svg"
    assert (root.attrib["width"], root.attrib["height"]) == ("80.00mm", "60.00mm")
    assert root.attrib["viewBox"] == "0 0 80.00 60.00"
    points = ends(lines(root))
    assert points.min() >= -0.01
    assert (points <= np.array([80.0, 60.0]) + 0.01).all()


def test_every_border_is_drawn_once() -> None:
    drawing = quarters()
    contours = trace_contours(drawing.shapes, drawing.ppmm)
    assert lines(root_of(drawing)).count("M") == contours.arcs


def test_the_round_shape_is_where_it_was_drawn() -> None:
    points = ends(lines(root_of(quarters())))
    off = np.hypot(*(points - (40.0, 30.0)).T)
    # Radius 12.5 mm; a smooth line keeps within a pixel, half a millimetre, of its pixels.
    assert ((off > 11.9) & (off < 13.1)).sum() >= 4


def test_bare_places_are_hatched_and_no_others() -> None:
    assert "pattern" not in outline_svg(quarters())
    root = root_of(quarters(frozenset({4})))
    (hatched,) = (p for p in root.iter(f"{SVG}path") if p.attrib.get("fill", "").startswith("url"))
    d = hatched.attrib["d"]
    assert d.count("M") == d.count("z") == 1
    points = np.array(re.findall(r"(-?\d+) (-?\d+)", d), dtype=float) / 100.0
    np.testing.assert_allclose(points.mean(axis=0), (40.0, 30.0), atol=0.5)
    assert np.hypot(*(points - (40.0, 30.0)).T).max() < 13.1


def test_a_ring_left_bare_keeps_its_hole() -> None:
    """A bare shape around a painted one: two loops, of which the rule of even and odd is told."""
    rows, cols = np.mgrid[:120, :160]
    shapes = np.zeros((120, 160), dtype=np.int32)
    shapes[(rows - 60) ** 2 + (cols - 80) ** 2 < 40**2] = 1
    shapes[(rows - 60) ** 2 + (cols - 80) ** 2 < 15**2] = 2
    root = root_of(Drawing(shapes, PPMM, frozenset({1})))
    (hatched,) = (p for p in root.iter(f"{SVG}path") if p.attrib.get("fill", "").startswith("url"))
    assert hatched.attrib["d"].count("z") == 2
    assert hatched.attrib["fill-rule"] == "evenodd"


def test_one_shape_has_no_borders_but_the_sheets() -> None:
    root = root_of(Drawing(np.zeros((40, 60), dtype=np.int32), PPMM))
    points = ends(lines(root)) if "d" in next(iter(root.iter(f"{SVG}path"))).attrib else None
    assert points is None or len(points) < 12


@pytest.mark.parametrize("reserves", [frozenset(), frozenset({0, 4})])
def test_nothing_in_it_runs_or_is_fetched(reserves: frozenset[int]) -> None:
    """The page's policy allows no inline style, and a drawing needs neither scripts nor links."""
    text = outline_svg(quarters(reserves))
    assert "<style" not in text
    assert "style=" not in text
    assert "script" not in text
    assert "href" not in text
    assert outline_svg(quarters(reserves)) == text  # the same bytes, for it is kept by its stamp
