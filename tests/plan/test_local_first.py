"""First washes under shadows go by the object's own colour, as far as the split is sure of it.

The pictures are made here, so that light and local colour are known: a yellow cloth, half of it
under the bluish light of a shadow. The split handed to the planner is the true one.
"""

from dataclasses import asdict, replace

import numpy as np
import pytest

from firstwash.handout.local_first import local_first_section, local_first_words
from firstwash.light.split import LightSplit
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.paints.catalogue import load_set
from firstwash.picture.load import load_photo
from firstwash.picture.profile import encode_png, linear_to_srgb8
from firstwash.picture.reference import Reference, lay_on_sheet
from firstwash.picture.shapes import Cells
from firstwash.picture.sheet import crop_box, parse_sheet
from firstwash.plan import planner
from firstwash.plan.bench import Bench
from firstwash.plan.local_first import CHANGED, SURE, OwnColours, compared, own_colours
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.plan.stacks import lead_in

YELLOW = np.array([0.75, 0.52, 0.12])  # linear sRGB
SHADE = np.array([0.10, 0.13, 0.20])  # the light there


def split_of(local: np.ndarray, light: np.ndarray, sure: float) -> LightSplit:
    rows, cols = local.shape[:2]
    return LightSplit(
        local.astype(np.float32),
        light.astype(np.float32),
        np.zeros((rows, cols, 3), dtype=np.float32),
        np.full((rows, cols), sure, dtype=np.float32),
    )


@pytest.fixture(scope="module")
def cloth() -> tuple[np.ndarray, np.ndarray]:
    """Local colour and light of a yellow cloth whose right half lies in shadow."""
    local = np.broadcast_to(YELLOW, (80, 120, 3)).copy()
    light = np.ones((80, 120, 3))
    light[:, 60:] = SHADE
    return local, light


@pytest.fixture(scope="module")
def halves() -> np.ndarray:
    shapes = np.zeros((80, 120), dtype=np.int32)
    shapes[:, 60:] = 1
    return shapes


def lab_of(linear: np.ndarray) -> np.ndarray:
    return xyz_to_lab(linear_srgb_to_xyz(linear))


def test_a_shape_in_shadow_has_the_colour_of_its_lit_half(
    cloth: tuple[np.ndarray, np.ndarray], halves: np.ndarray
) -> None:
    own = own_colours(split_of(*cloth, 1.0), halves)
    # Float32 light and local colour: a thousandth of L*.
    np.testing.assert_allclose(own.labs, np.tile(lab_of(YELLOW), (2, 1)), atol=1e-2)
    np.testing.assert_allclose(own.sure, 1.0)


def test_only_what_is_sure_counts(cloth: tuple[np.ndarray, np.ndarray], halves: np.ndarray) -> None:
    seen = lab_of(YELLOW * SHADE)
    apart = []
    for sure in (0.0, SURE[0], 0.5 * sum(SURE), SURE[1], 1.0):
        own = own_colours(split_of(*cloth, sure), halves)
        apart.append(float(delta_e_2000(own.lead_in(1, seen), lead_in(seen))))
    assert apart[0] == 0.0
    assert apart[1] == pytest.approx(0.0, abs=1e-5)  # the split tells how sure it is in float32
    assert 0.0 < apart[2] < apart[3]
    assert apart[3] == pytest.approx(apart[4], abs=1e-5)
    full = own_colours(split_of(*cloth, 1.0), halves).lead_in(1, seen)
    np.testing.assert_allclose(full, lead_in(lab_of(YELLOW)), atol=1e-2)


def test_no_first_wash_is_lighter_than_paper(halves: np.ndarray) -> None:
    bright = split_of(np.full((80, 120, 3), 2.0), np.full((80, 120, 3), 3.0), 1.0)
    assert (own_colours(bright, halves).labs[:, 0] <= 100.0 + 1e-6).all()


@pytest.fixture(scope="module")
def two(
    cloth: tuple[np.ndarray, np.ndarray], halves: np.ndarray
) -> tuple[Cells, np.ndarray, OwnColours]:
    cells = Cells(halves, np.array([0, 1], np.int32), np.array([0, 0], np.int32), 1.0)
    aims = np.stack([lab_of(YELLOW), lab_of(YELLOW * SHADE)])
    return cells, aims, own_colours(split_of(*cloth, 1.0), halves)


def test_with_and_without_are_told_area_by_area(
    palette: Bench, two: tuple[Cells, np.ndarray, OwnColours]
) -> None:
    cells, aims, own = two
    found = compared(palette, cells, aims, own, 4, [0, 1])
    (change,) = found.changes  # the lit half is its own first wash
    assert (change.shape, change.area_mm2, found.share) == (1, 80 * 60, 0.5)
    assert change.sure == 1.0
    goal = lead_in(lab_of(YELLOW))
    with_it, without = (
        float(delta_e_2000(np.array(tint), goal))
        for tint in (change.tint_with, change.tint_without)
    )
    assert with_it + CHANGED < without  # the first wash turns towards the object's own yellow
    # The yellow below does not keep the glazes over it from the dark: nothing is given up that
    # an eye could see.
    assert change.error_with < change.error_without + 0.5
    assert compared(palette, cells, aims, own, 4, [0]).changes == ()


def test_where_nothing_is_sure_nothing_changes(
    palette: Bench, two: tuple[Cells, np.ndarray, OwnColours]
) -> None:
    cells, aims, own = two
    found = compared(palette, cells, aims, replace(own, sure=np.zeros(2)), 4, [0, 1])
    assert found.changes == ()
    assert found.share == 0.0


@pytest.mark.parametrize("sure", np.linspace(*SURE, 13))
def test_a_first_wash_stays_or_is_another_one(sure: float) -> None:
    """Nothing between: small moves would shake the sharing of puddles and gain nothing."""
    own = OwnColours(lab_of(YELLOW)[None], np.array([sure]))
    lab = lab_of(YELLOW * SHADE)
    seen, told = lead_in(lab), own.lead_in(0, lab)
    moved = float(delta_e_2000(told, seen))
    assert np.array_equal(told, seen) or moved >= CHANGED
    if sure == SURE[1]:
        assert moved >= CHANGED


# --- in a plan ---------------------------------------------------------------------


@pytest.fixture(scope="module")
def reference(cloth: tuple[np.ndarray, np.ndarray]) -> Reference:
    """The cloth on a white ground, on a small sheet."""
    local, light = cloth
    picture = np.full((120, 160, 3), 0.9)
    picture[20:100, 20:140] = local * light
    picture *= 1.0 + 0.01 * np.random.default_rng(3).standard_normal((120, 160, 1))
    png = encode_png(linear_to_srgb8(np.clip(picture, 0.0, 1.0)))
    sheet = parse_sheet("12x16cm").oriented_for(160, 120)
    return lay_on_sheet(load_photo(png, crop=crop_box(160, 120, sheet)), sheet)


@pytest.fixture(scope="module")
def plans(reference: Reference, cloth: tuple[np.ndarray, np.ndarray]) -> tuple[Plan, Plan]:
    """With the true split, and with first washes as seen."""
    rows, cols = reference.xyz.shape[:2]
    local, light = np.full((120, 160, 3), 0.9), np.ones((120, 160, 3))
    local[20:100, 20:140], light[20:100, 20:140] = cloth

    def true_split(xyz: np.ndarray) -> LightSplit:
        assert xyz.shape == (rows, cols, 3)
        row, col = np.arange(rows) * 120 // rows, np.arange(cols) * 160 // cols
        return split_of(local[row][:, col], light[row][:, col], 1.0)

    paints = load_set("measured").paints
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planner, "split_light", true_split)
        limits = Limits(layers=3, puddles=8, shapes=8, touches=0)
        told = make_plan(reference, paints, limits)
        seen = make_plan(reference, paints, replace(limits, local_first=False))
    return told, seen


def first_wash_under(plan: Plan, x_mm: float, y_mm: float) -> np.ndarray:
    ppmm = plan.cells.ppmm
    return plan.stage_labs[1, plan.cells.index[int(y_mm * ppmm), int(x_mm * ppmm)]]


def test_the_plan_lays_the_own_colour_under_the_shadow(plans: tuple[Plan, Plan]) -> None:
    told, seen = plans
    lit = lead_in(lab_of(YELLOW))
    near, far = (float(delta_e_2000(first_wash_under(p, 110, 60), lit)) for p in plans)
    assert near + CHANGED < far
    # What is painted in the end is as near to the photo, within what the eye can see.
    assert told.report.against_photo.mean < seen.report.against_photo.mean + 0.5


def test_the_report_shows_with_and_without(plans: tuple[Plan, Plan]) -> None:
    told, seen = plans
    assert seen.report.local_first is None
    assert "as you asked" in local_first_words(seen)
    found = told.report.local_first
    assert found is not None
    assert found.changes
    assert 0.15 < found.share < 0.35  # half of a cloth that covers half of the sheet
    words = local_first_words(told)
    assert f"{found.share:.0%} of the sheet" in words
    page = local_first_section(told)
    assert page.count("<tr>") == 1 + len(found.changes)
    assert set(asdict(found.changes[0])) >= {"tint_with", "tint_without"}
