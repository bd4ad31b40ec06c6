"""The sets to start with: nested, lightfast, harmless, and what they mix."""

import importlib
import re
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from firstwash.paints.box import load_box
from firstwash.paints.catalogue import paint

ROOT = Path(__file__).parents[2]
STARTERS = ("starter-6", "starter-12", "starter-18")
PAGE = (ROOT / "docs/guide/my-paints.md").read_text("utf-8")


@pytest.fixture(scope="module")
def tool():
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("starter_sets")
    finally:
        sys.path.remove(str(ROOT / "tools"))


def keys(name: str) -> set[str]:
    return {p.key for p in load_box(name).to_set().paints}


def shown() -> dict[str, list[float]]:
    """The table in the guide: numbers by set."""
    block = re.search(r"<!-- coverage -->\n(.*?)\n<!-- /coverage -->", PAGE, re.DOTALL)[1]
    rows = [[c.strip() for c in line.split("|")[1:-1]] for line in block.splitlines()[2:]]
    return {row[0]: [float(v) for v in row[1:]] for row in rows}


def test_the_default_set_stays_as_results_were_made_with_it() -> None:
    assert len(keys("starter")) == 17


def test_each_holds_the_one_before() -> None:
    six, twelve, eighteen = (keys(name) for name in STARTERS)
    assert (len(six), len(twelve), len(eighteen)) == (6, 12, 18)
    assert six < twelve < eighteen


@pytest.mark.parametrize("name", STARTERS)
def test_each_paint_is_lightfast_harmless_and_has_its_reason(name: str, tool) -> None:
    allowed = {p.key for p in tool.harmless()}
    assert len(allowed) == 19  # as the guide says
    assert keys(name) <= allowed
    for one in load_box(name).paints:
        hold = paint(one.name).handling
        assert hold.lightfast in {"I", "II"}
        assert hold.hazard == "none"
        assert len(one.note) > 20


def test_reasons_are_the_same_in_every_set() -> None:
    said: dict[str, set[str]] = {}
    for name in STARTERS:
        for one in load_box(name).paints:
            said.setdefault(one.name, set()).add(one.note)
    assert all(len(notes) == 1 for notes in said.values())


def test_measured_is_said_where_it_is_so() -> None:
    for name in STARTERS:
        for one in load_box(name).paints:
            assert ("measured" in one.note) == (paint(one.name).provenance == "measured")


def test_the_six_mix_what_the_guide_says(tool) -> None:
    # The share of all 2,734 colours, for what all paints reach takes minutes to find; the guide
    # counts among those, so its figure times their share, 53.3 %, must come out.
    away = tool.distances(tool.coloured("starter-6"))
    assert len(away) == 2734
    assert 100 * (away <= tool.NEAR).mean() == pytest.approx(0.533 * shown()["starter-6"][1], abs=1)


@pytest.mark.parametrize("name", STARTERS)
def test_the_darkest_coat_is_as_the_guide_says(name: str, tool) -> None:
    # Rounded to whole L* in the guide; one more for another machine's rounding.
    np.testing.assert_allclose(tool.darkest(tool.coloured(name)), shown()[name][-2:], atol=0.6)


def test_more_paints_mix_more_in_every_hue_and_go_darker() -> None:
    table = [shown()[name] for name in STARTERS]
    for fewer, more in pairwise(table):
        assert all(b >= a for a, b in zip(fewer[:-2], more[:-2], strict=True))
        assert all(b <= a for a, b in zip(fewer[-2:], more[-2:], strict=True))
    # No hue is left out even by six paints.
    assert min(table[0][2:-2]) > 70


def test_the_munsell_colours_are_those_of_the_renotation(tool) -> None:
    # [Newhall1943]: a neutral grey would stay one; the hue circle runs through all ten letters.
    labs, hues = tool.munsell()
    assert labs.shape == (2734, 3)
    assert set(hues) == set(tool.HUES)
    angles = {
        h: np.degrees(np.angle(np.exp(1j * np.arctan2(*labs[np.array(hues) == h].T[:0:-1])).mean()))
        for h in tool.HUES
    }
    steps = np.diff([*(angles[h] for h in tool.HUES), angles["R"]]) % 360
    assert steps.sum() == pytest.approx(360)
    assert (steps < 90).all()


def test_a_page_without_a_place_for_the_table_is_not_written(tool) -> None:
    with pytest.raises(ValueError, match="no place for coverage"):
        tool.put("a page", {"coverage": "x"})
    page = "a\n<!-- t -->\nold\n<!-- /t -->\nb\n"
    assert tool.put(page, {"t": "new"}) == page.replace("old", "new")
    empty = "a\n<!-- t -->\n<!-- /t -->\nb\n"
    assert tool.put(empty, {"t": "new"}) == page.replace("old", "new")
