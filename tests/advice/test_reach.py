"""Two plans of one picture compared: where one falls short, in words that hold."""

from dataclasses import replace

import numpy as np
import pytest
from skimage import data

from firstwash.advice.reach import nearness_words, shortfalls
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.shelf import load_shelf
from firstwash.picture.profile import encode_png
from firstwash.plan.problem import Limits
from firstwash.plan.replan import replan
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_photo


@pytest.fixture(scope="module")
def planned() -> PhotoPlan:
    limits = Limits(shapes=30, puddles=8, washes=20, layers=3)
    return plan_photo(encode_png(data.coffee()), Wishes(sheet="15x11cm", limits=limits))


def shifted(plan: Plan, by: tuple[float, float, float]) -> Plan:
    """The same plan whose end is predicted elsewhere in CIELAB."""
    labs = plan.stage_labs.copy()
    labs[-1] = labs[-1] + np.array(by)
    return replace(plan, stage_labs=labs)


def test_a_plan_misses_nothing_of_itself(planned: PhotoPlan) -> None:
    assert shortfalls(planned.plan, planned.plan) == ()
    assert "as near" in nearness_words(planned.plan, planned.plan)


@pytest.mark.parametrize(
    ("by", "word"),
    [
        ((12.0, 0.0, 0.0), "one value step lighter"),
        ((-12.0, 0.0, 0.0), "one value step darker"),
        ((0.0, 0.0, -25.0), "bluer"),
        ((0.0, -25.0, 0.0), "greener"),
    ],
)
def test_what_becomes_of_colours_is_told(
    planned: PhotoPlan, by: tuple[float, float, float], word: str
) -> None:
    found = shortfalls(shifted(planned.plan, by), planned.plan, most=30)
    assert any(word in one.words for one in found)
    assert all(one.off >= 4.0 for one in found)


def test_shares_are_those_of_the_cells(planned: PhotoPlan) -> None:
    plan = planned.plan
    worse = shifted(plan, (15.0, 0.0, 0.0))
    found = shortfalls(worse, plan, most=1000)
    areas = plan.cells.areas_mm2() / plan.cells.areas_mm2().sum()
    off = delta_e_2000(worse.stage_labs[-1], plan.stage_labs[-1])
    missed = float(areas[off >= 4.0].sum())
    # Colours of less than 0.4 % of the sheet are not told.
    assert sum(one.share for one in found) == pytest.approx(missed, abs=0.03)
    assert sum(one.share for one in found) <= missed + 1e-9


def test_three_paints_reach_less_than_the_plans_six(planned: PhotoPlan) -> None:
    owned = [p for p in load_shelf("starter-6").to_set().paints if p.key in ("PB29", "PBr7-burnt")]
    limits = replace(planned.plan.limits, paints=2)
    poor = replan(planned.plan, planned.reference, limits, owned=owned)
    found = shortfalls(poor, planned.plan)
    assert found
    assert list(found) == sorted(found, key=lambda one: -one.share * one.off)
    assert poor.report.against_photo.mean > planned.plan.report.against_photo.mean


@pytest.mark.parametrize(
    ("more", "words"),
    [(-3.0, "comes as near"), (0.6, "comes as near"), (1.9, "nearly as near"),
     (3.9, "clearly further"), (4.1, "far from the photo")],
)  # fmt: skip
def test_nearness_goes_by_the_difference_of_means(
    planned: PhotoPlan, more: float, words: str
) -> None:
    plan = planned.plan
    last = plan.report.rungs[-1]
    off = replace(last.against_photo, mean=last.against_photo.mean + more)
    rungs = (*plan.report.rungs[:-1], replace(last, against_photo=off))
    other = replace(plan, report=replace(plan.report, rungs=rungs))
    assert words in nearness_words(other, plan)


def test_plans_of_other_pictures_are_not_compared(planned: PhotoPlan) -> None:
    other = plan_photo(
        encode_png(data.chelsea()), Wishes(sheet="10x8cm", limits=Limits(shapes=12, puddles=4))
    )
    with pytest.raises(ValueError, match="same drawing"):
        shortfalls(planned.plan, other.plan)
