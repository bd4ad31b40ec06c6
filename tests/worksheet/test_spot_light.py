"""The light on a touched shape: words and swatches agree with the split they come from."""

import math
import re
from collections.abc import Iterator

import numpy as np
import pytest
from tests.worksheet.small import Studio, copied, studio_in

from firstwash.errors import RequestError
from firstwash.light.study import LightStudy
from firstwash.picture.values import COUNTS
from firstwash.plan.result import Plan
from firstwash.worksheet.laying import lab_of_hex
from firstwash.worksheet.spot import cell_at
from firstwash.worksheet.spot_light import SpotLight, spot_light

Here = tuple[Plan, LightStudy]


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Here]:
    studio: Studio = studio_in(copied(tmp_path_factory.mktemp("light")))
    looked = studio.look(studio.store.listed()[0].id)
    assert looked.brief.plan is not None
    yield studio.desk(looked.brief).plan, studio.light(looked.brief.plan.scene)
    studio.store.close()


def over_the_sheet(here: Here) -> Iterator[tuple[float, float, SpotLight]]:
    plan, light = here
    for x in np.linspace(2.0, plan.sheet.width_mm - 2.0, 6):
        for y in np.linspace(2.0, plan.sheet.height_mm - 2.0, 5):
            yield x, y, spot_light(plan, x, y, light)


def test_every_place_is_told_of_its_shape(here: Here) -> None:
    plan, _ = here
    by_shape: dict[int, SpotLight] = {}
    for x, y, told in over_the_sheet(here):
        shape = int(plan.cells.shape_of[cell_at(plan, x, y)])
        assert by_shape.setdefault(shape, told) == told  # one answer for a shape
        assert told.words.endswith(".")
        assert "shape" not in told.words  # shapes have no numbers on the page
        assert sum(p.share for p in told.parts) <= 1.0 + 1e-6
    assert len(by_shape) > 3


def test_words_go_the_way_the_swatches_go(here: Here) -> None:
    """A part said to be two value steps darker is a swatch some 20 L* darker."""
    seen = 0
    for _, _, told in over_the_sheet(here):
        own = lab_of_hex(told.own.hex)[0]
        for part in told.parts:
            by = lab_of_hex(part.hex)[0] - own
            steps = re.match(r"(\w+) value steps? (lighter|darker)", part.words)
            if steps:
                seen += 1
                sign = 1 if steps[2] == "lighter" else -1
                # swatches are clipped to the screen, steps rounded: ±5 of 10 L*, and 2 more
                assert abs(by - sign * 10.0 * (COUNTS.index(steps[1]) + 1)) < 7.0
            elif part.words == "as light as it is":
                assert abs(by) < 5.0
    assert seen > 5


@pytest.mark.parametrize("place", [(-5, 5), (151, 5), (5, 500), (math.nan, 5), (5, math.inf)])
def test_a_place_off_the_sheet_is_refused(here: Here, place: tuple[float, float]) -> None:
    with pytest.raises(RequestError):
        spot_light(here[0], *place, here[1])
