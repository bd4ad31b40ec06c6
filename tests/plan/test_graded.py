"""A graded background: one puddle, one wash, and close to a picture that is a gradient."""

from itertools import pairwise

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import srgb_decode
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.load import Photo
from firstwash.picture.reference import BACKGROUND, Reference, lay_on_sheet, with_background
from firstwash.picture.sheet import CropBox, parse_sheet
from firstwash.plan.bench import Bench
from firstwash.plan.graded import STRIPS, fit_graded_wash, strips
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.report import as_judged
from firstwash.plan.result import Plan

ROWS, COLS = 140, 180
FEW = Limits(shapes=8, layers=3, puddles=6)
PLACE = (np.arange(STRIPS) + 0.5) / STRIPS


def gradient(top: tuple[int, int, int], bottom: tuple[int, int, int]) -> np.ndarray:
    """sRGB (rows, cols, 3): even steps of light from top to bottom, a brown block before it."""
    ends = [srgb_decode(np.array(c) / 255) for c in (top, bottom)]
    down = np.linspace(0, 1, ROWS)[:, None, None]
    light = (1 - down) * ends[0] + down * ends[1] + np.zeros((ROWS, COLS, 3))
    light[80:130, 60:110] = srgb_decode(np.array([150, 60, 40]) / 255)
    return light.astype(np.float32)


def subject() -> np.ndarray:
    mask = np.ones((ROWS, COLS), dtype=np.float32)
    mask[80:130, 60:110] = 0
    return mask


def reference(light: np.ndarray) -> Reference:
    box = CropBox(0, 0, COLS, ROWS)
    photo = Photo(light, COLS, ROWS, box, 8, "PNG", "sRGB", ())
    laid = lay_on_sheet(photo, parse_sheet("18x14cm"))
    white = Bench.of([], default_paper()).white_xyz()
    return with_background(laid, subject(), "graded", white)


@pytest.fixture(scope="module")
def sky() -> Reference:
    return reference(gradient((90, 140, 215), (225, 235, 245)))


@pytest.fixture(scope="module")
def plan(sky: Reference) -> Plan:
    return make_plan(sky, load_set("starter").paints, FEW)


def behind(plan: Plan, sky: Reference) -> list[int]:
    """Cells of the background, from the first end of the gradient to the other."""
    cells = np.unique(plan.cells.index[sky.zone == BACKGROUND])
    return sorted(int(c) for c in cells)


def test_one_puddle_and_one_wash_paint_the_background(plan: Plan, sky: Reference) -> None:
    cells = behind(plan, sky)
    assert {len(plan.coats[c]) for c in cells} == {1}
    assert {plan.coats[c][0][:2] for c in cells} == {(1, 0)}  # the first layer, the first puddle
    washes = [w for w in plan.washes if set(w.cells) & set(cells)]
    assert [(w.kind, w.layer) for w in washes] == [("graded wash", 1)]
    assert sorted(washes[0].cells) == cells
    assert washes[0].end_strength is not None


def test_the_subject_keeps_its_own_paint(plan: Plan, sky: Reference) -> None:
    inside = np.unique(plan.cells.index[sky.zone != BACKGROUND])
    assert not set(inside) & set(behind(plan, sky))
    assert all(plan.coats[c] for c in inside)


def test_it_runs_one_way_without_a_step_to_see(plan: Plan, sky: Reference) -> None:
    light = [float(plan.stage_labs[-1][c][0]) for c in behind(plan, sky)]
    assert all(above < below for above, below in pairwise(light))
    assert max(below - above for above, below in pairwise(light)) < 3  # L*; a soft edge hides it
    strengths = [plan.coats[c][0][2] for c in behind(plan, sky)]
    ratios = [after / before for before, after in pairwise(strengths)]
    # Every stroke takes the same share more water.
    np.testing.assert_allclose(ratios, ratios[0], rtol=1e-6)


def test_it_is_close_to_a_picture_that_is_a_gradient(plan: Plan, sky: Reference) -> None:
    """2 CIEDE2000: one mixture cannot keep its hue from a mid blue to nearly white."""
    painted = as_judged(plan.stage_xyz[-1], sky)
    away = np.ones(painted.shape[:2], dtype=bool)
    away[75:135, 55:115] = False  # the block, and the pixels its edge falls on
    errors = delta_e_2000(painted, sky.judge_lab)[away]
    assert errors.mean() < 2
    assert np.percentile(errors, 95) < 5


def test_strips_follow_the_gradient(sky: Reference) -> None:
    found = strips(sky)[:, 0]
    assert found[0] == 0
    assert found[-1] == STRIPS - 1
    assert (np.diff(found) >= 0).all()


# --- the fit alone -----------------------------------------------------------------


@pytest.mark.parametrize("paints_per_puddle", [1, 2, 3])
def test_a_gradient_these_paints_made_is_found_again(
    palette: Bench, paints_per_puddle: int
) -> None:
    recipe = np.zeros(palette.colours)
    recipe[[4, 1, 3][:paints_per_puddle]] = [0.05, 0.03, 0.01][:paints_per_puddle]
    run = recipe * np.exp(-2.0 * (PLACE - 0.5))[:, None]
    aims = np.array([palette.labs(row[None, :])[1] for row in run])
    wash = fit_graded_wash(palette, aims, PLACE, paints_per_puddle)
    assert (wash.recipe > 0).sum() <= paints_per_puddle
    np.testing.assert_allclose(wash.recipe @ palette.loads, 1.0)
    made = wash.strengths[:, None] * wash.recipe
    found = np.array([palette.labs(row[None, :])[1] for row in made])
    # Other mixtures of the box can look the same; half a CIEDE2000 nobody sees.
    assert delta_e_2000(found, aims).max() < 0.5


@pytest.mark.parametrize(
    "ends",
    [
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ((100.0, 0.0, 0.0), (100.0, 0.0, 0.0)),
        ((0.0, 0.0, 0.0), (100.0, 0.0, 0.0)),
        ((40.0, 90.0, -90.0), (60.0, -90.0, 90.0)),
    ],
    ids=["black", "white", "black to white", "beyond every paint"],
)
def test_impossible_gradients_get_a_possible_wash(
    palette: Bench, ends: tuple[tuple[float, float, float], tuple[float, float, float]]
) -> None:
    aims = np.linspace(*np.array(ends), STRIPS)
    wash = fit_graded_wash(palette, aims, PLACE, 3)
    assert np.isfinite(wash.recipe).all()
    assert (wash.recipe >= 0).all()
    assert 1 <= (wash.recipe > 0).sum() <= 3
    assert (wash.strengths > 0).all()
    assert (wash.strengths <= 1 + 1e-9).all()  # one coat carries no more
    assert len(wash.strengths) == STRIPS


def test_an_even_background_is_one_strength(palette: Bench) -> None:
    aim = palette.labs(np.eye(palette.colours)[[4]] * 0.02)[1]
    wash = fit_graded_wash(palette, np.tile(aim, (STRIPS, 1)), PLACE, 3)
    np.testing.assert_allclose(wash.strengths, wash.strengths[0], rtol=1e-3)


def test_the_same_gradient_gets_the_same_wash(palette: Bench) -> None:
    aims = np.linspace([50.0, -5.0, -30.0], [90.0, 0.0, -3.0], STRIPS)
    one, other = (fit_graded_wash(palette, aims, PLACE, 3) for _ in range(2))
    np.testing.assert_array_equal(one.recipe, other.recipe)
    np.testing.assert_array_equal(one.strengths, other.strengths)
