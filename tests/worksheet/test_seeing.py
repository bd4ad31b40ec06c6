"""Values, whites and a hue beside its grey, as the page tells them."""

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from tests.worksheet.small import SHEET, is_sentence, png, studio_in

from firstwash.errors import RequestError
from firstwash.optics.observer import xyz_to_lab
from firstwash.paints.catalogue import default_paper
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.worksheet.brief import Values
from firstwash.worksheet.laying import lab_of_hex
from firstwash.worksheet.seeing import hue_at, reserved_whites, value_study
from firstwash.worksheet.studio import Looked, Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(tmp_path / "data")
    yield made
    made.store.close()


@pytest.fixture
def halves(studio: Studio) -> Looked:
    """Left a dark blue, right white paper."""
    pixels = np.full((220, 300, 3), 255, dtype=np.uint8)
    pixels[:, :150] = (20, 30, 90)
    return studio.new(png(pixels), "Halves", "halves.png", SHEET)


def test_half_the_sheet_is_in_the_darkest_step_and_half_in_the_lightest(
    studio: Studio, halves: Looked
) -> None:
    for steps in (2, 5, 10):
        brief = halves.brief.but(values=Values(steps=steps))
        study = value_study(studio, brief)
        assert len(study.steps) == steps
        shares = [s.share for s in study.steps]
        assert sum(shares) == pytest.approx(1.0)
        assert shares[-1] == pytest.approx(0.5, abs=0.02)  # one column of pixels lies on the border
        assert sum(shares[: math.ceil(steps / 2)]) == pytest.approx(0.5, abs=0.02)
        greys = [lab_of_hex(s.hex)[0] for s in study.steps]
        assert greys == sorted(greys)
        assert is_sentence(study.whites)


def test_steps_are_numbered_from_either_end(studio: Studio, halves: Looked) -> None:
    names = {}
    for first in ("dark", "light"):
        brief = halves.brief.but(values=Values(steps=5, first=first))
        names[first] = [s.name for s in value_study(studio, brief).steps]
    assert [n.split(",")[0] for n in names["dark"]] == ["1", "2", "3", "4", "5"]
    assert [n.split(",")[0] for n in names["light"]] == ["5", "4", "3", "2", "1"]


def test_squinting_moves_no_more_than_the_border(studio: Studio, halves: Looked) -> None:
    values = Values(steps=2, squint=1.0)
    shares = [s.share for s in value_study(studio, halves.brief.but(values=values)).steps]
    assert shares == pytest.approx([0.5, 0.5], abs=0.1)


def test_the_grey_beside_a_hue_has_its_value(studio: Studio, halves: Looked) -> None:
    found = hue_at(studio, halves.brief, 30.0, 50.0)
    hue, grey = lab_of_hex(found.hex), lab_of_hex(found.grey)
    np.testing.assert_allclose(hue, lab_of_hex("#141e5a"), atol=1.0)
    assert np.hypot(*grey[1:]) < 1.0
    assert value_step(grey[0]) == value_step(hue[0])
    assert "cool" in found.words
    assert is_sentence(found.words)


def test_corners_of_the_sheet_can_be_touched(studio: Studio, halves: Looked) -> None:
    for x, y in ((0.0, 0.0), (150.0, 0.0), (0.0, 110.0), (150.0, 110.0)):
        assert hue_at(studio, halves.brief, x, y).hex.startswith("#")


@pytest.mark.parametrize("place", [(-0.1, 5), (151, 5), (5, 111), (math.nan, 5), (5, math.inf)])
def test_a_spot_off_the_sheet_is_refused(
    studio: Studio, halves: Looked, place: tuple[float, float]
) -> None:
    with pytest.raises(RequestError) as error:
        hue_at(studio, halves.brief, *place)
    assert is_sentence(str(error.value))


def test_whites_are_where_the_paper_is_as_light(studio: Studio, halves: Looked) -> None:
    reference = studio.reference(halves.brief.scene)
    paper = default_paper()
    found = reserved_whites(reference.lab, reference.ppmm, paper)
    cols = found.mask.shape[1]
    assert found.mask[:, cols // 2 + 4 :].all()
    assert not found.mask[:, : cols // 2 - 4].any()
    assert xyz_to_lab(Bench.of([], paper).white_xyz())[0] > 90.0
