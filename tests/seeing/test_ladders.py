"""Two ladders: rungs where the tone map puts them, numbered as the painter counts."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from firstwash.paints.catalogue import default_paper, load_set
from firstwash.plan.bench import Bench
from firstwash.plan.reach import Reach, reach
from firstwash.seeing.ladders import HIGH, TOP, ladders_svg


@pytest.fixture(scope="module")
def found() -> Reach:
    bench = Bench.of(load_set("starter").paints, default_paper())
    labs = np.zeros((200, 3))
    labs[:, 0] = np.linspace(2.0, 97.0, 200)
    return reach(bench, labs)


def lightness(y: float) -> float:
    return 100.0 * (1.0 - (y - TOP - 2.0) / (HIGH - 4.0))


def test_each_rung_of_the_photo_is_joined_to_what_it_is_painted_as(found: Reach) -> None:
    drawing = ET.fromstring(ladders_svg(found))
    lines = [e for e in drawing if e.tag == "line"]
    joined = [(lightness(float(e.get("y1", ""))), lightness(float(e.get("y2", "")))) for e in lines]
    # A tenth of a pixel is 0.03 L*.
    np.testing.assert_allclose(joined, found.painted(), atol=0.05)
    assert len([e for e in drawing if e.tag == "rect"]) == 2 * (len(lines) - 1)


def test_numbers_run_from_the_end_that_is_asked(found: Reach) -> None:
    def numbers(svg: str) -> list[int]:
        return [int(n) for n in re.findall(r">(\d+)</text>", svg)]

    dark, light = numbers(ladders_svg(found)), numbers(ladders_svg(found, "light"))
    assert dark == sorted(dark)
    assert light == [11 - n for n in dark]
    assert len(dark) >= 8


def test_it_is_told_to_those_who_do_not_see_it(found: Reach) -> None:
    drawing = ET.fromstring(ladders_svg(found))
    assert drawing.get("role") == "img"
    assert found.words in (drawing.get("aria-label") or "")


@pytest.mark.parametrize("tone", [0.0, 50.0, 100.0])
def test_photos_of_one_value(tone: float) -> None:
    bench = Bench.of(load_set("starter").paints, default_paper())
    drawing = ladders_svg(reach(bench, np.array([[tone, 0.0, 0.0]] * 9)))
    told = ET.fromstring(drawing)
    assert told.get("role") == "img"
    assert {"The photo", "Painted"} <= {t.strip() for t in told.itertext()}
