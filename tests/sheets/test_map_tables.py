"""Layer maps, as on a screen and as printed, against the tables of SVG 1.1."""

import pytest
from tests.sheets.plans import NAMES, plan_named
from tests.svg_tables import faults

from firstwash.handout.layer_map import layer_map
from firstwash.handout.map_svg import layer_map_svg
from firstwash.sheets.drawn import Drawn


@pytest.mark.parametrize("name", NAMES)
def test_maps_are_svg_1_1(name: str) -> None:
    drawn = Drawn(plan_named(name))
    assert faults(drawn.outline()[1].decode()) == []
    for layer in range(1, drawn.plan.layers + 1):
        assert faults(layer_map_svg(layer_map(drawn.plan, layer, drawn.ruled))) == []
        assert faults(drawn.layer_map(layer)[1].decode()) == []


def test_a_spoilt_map_is_found() -> None:
    svg = Drawn(plan_named("cup")).layer_map(1)[1].decode()
    assert faults(svg.replace("<text ", '<text weight="3" ', 1)) != []
    assert faults(svg.replace("<text ", "<words ").replace("</text>", "</words>")) != []
