"""The outline's drawings, whole and as pages, against the tables of SVG 1.1."""

import pytest
from tests.svg_tables import faults
from tests.tracing.conftest import Drawn

from firstwash.picture.sheet import Sheet
from firstwash.tracing.lines import trace
from firstwash.tracing.model import Tracing
from firstwash.tracing.svg import tracing_svg
from firstwash.tracing.tile_page import tile_svg
from firstwash.tracing.tiles import tiles_of

SHEET = Sheet(150.0, 110.0)
WAYS = (
    {}, {"mirrored": True}, {"pale": True}, {"grid": 7},
    {"mirrored": True, "pale": True, "grid": 40},
)  # fmt: skip


@pytest.fixture(scope="module")
def tracing(drawn: Drawn) -> Tracing:
    return trace(drawn.made.plan, drawn.made.reference, 0.8)


@pytest.mark.parametrize("how", WAYS, ids=str)
def test_the_outline_is_svg_1_1(tracing: Tracing, how: dict[str, bool]) -> None:
    svg = tracing_svg(tracing, **how)  # type: ignore[arg-type]
    assert "<path" in svg
    assert faults(svg) == []


@pytest.mark.parametrize("how", WAYS, ids=str)
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_is_svg_1_1(tracing: Tracing, page: str, how: dict[str, bool]) -> None:
    large = Sheet(2.0 * SHEET.width_mm, 2.0 * SHEET.height_mm)
    for sheet in (SHEET, large):
        for tile in tiles_of(sheet, page):  # type: ignore[arg-type]
            assert faults(tile_svg(tracing, tile, **how)) == []  # type: ignore[arg-type]


SPOILT = (
    ("<path ", "<line-of-mine ", "no element"),
    ("<path ", '<path thickness="2" ', "thickness"),
    ('stroke-linecap="round"', 'stroke-linecap="pointed"', "stroke-linecap"),
    ("<path ", "<path><g/></path><path ", "may not stand"),
    ('id="inner"', 'id="contour"', "given twice"),
    ('d="M', 'd="N', "not a valid value"),
    ('width="166mm"', 'width="wide"', "width"),
    ("<title>", '<g clip-path="url(#none)"/><title>', "points at nothing"),
    ("<title>", "loose words<title>", "holds text"),
)


@pytest.mark.parametrize(("what", "by", "told"), SPOILT, ids=[s[1] for s in SPOILT])
def test_a_spoilt_drawing_is_found(tracing: Tracing, what: str, by: str, told: str) -> None:
    svg = tracing_svg(tracing, grid=7)
    assert what in svg
    assert any(told in fault for fault in faults(svg.replace(what, by, 1)))
