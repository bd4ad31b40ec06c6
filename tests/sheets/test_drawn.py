"""A plan's pictures for print: laid out to fit the page for a sheet of any shape."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.sheets.plans import NAMES, plan_named

from firstwash.handout.layer_map import MARGIN, frame_for
from firstwash.picture.sheet import Sheet
from firstwash.sheets.drawn import Drawn, layout_for

TEXT_MM = (174.0, 243.4)  # the narrower of the two pages' texts, and the lower one
WORDS_MM = 40.0  # title, opening line and captions
SIDES = st.floats(60.0, 800.0)


@given(SIDES, SIDES)
def test_stages_and_map_fit_a_page_of_either_size(wide: float, high: float) -> None:
    plan = replace(plan_named("tall"), sheet=Sheet(wide, high))
    layout, frame = layout_for(plan), frame_for(plan)
    margin = 2 * MARGIN * frame.letter
    shape = (frame.height + margin) / (frame.width + margin)
    map_high = layout.map_share * TEXT_MM[0] * shape
    stage_high = layout.stage_share * TEXT_MM[0] * high / wide
    if layout.in_row:
        gaps, tall = 16.0, max(map_high, stage_high)
        across = 2 * layout.stage_share + layout.map_share
    elif layout.beside:
        gaps, tall = 0.0, max(map_high, 2 * stage_high + 20.0)
        across = layout.stage_share + layout.map_share
    else:
        gaps, tall = 0.0, map_high + stage_high
        across = max(layout.map_share, 2 * layout.stage_share + 6.0 / TEXT_MM[0])
    assert across + gaps / TEXT_MM[0] <= 1.01
    assert tall + WORDS_MM <= TEXT_MM[1]


@pytest.mark.parametrize("name", NAMES)
def test_a_stage_is_drawn_once_and_described(name: str) -> None:
    drawn = Drawn(plan_named(name))
    assert drawn.stage(1)[1] is drawn.stage(1)[1]
    assert drawn.stage_words(drawn.plan.layers).startswith("mostly ")
    named, svg, told = drawn.layer_map(1)
    assert named == "map-1.svg"
    assert svg.startswith(b"<svg")
    assert told.startswith("Outlines of the washes")
