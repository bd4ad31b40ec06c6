"""First washes for the areas of a finished plan: a shelf with a jug, a brass pot and a plant."""

import io

import numpy as np
import pytest
from PIL import Image

from firstwash.advice.first_on_plan import MOST_SHAPES, first_washes_for
from firstwash.advice.first_words import verdict_words, wash_words
from firstwash.errors import RequestError
from firstwash.light.split import LightSplit
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import srgb_decode
from firstwash.paints.catalogue import load_set
from firstwash.picture.load import load_photo
from firstwash.picture.reference import Reference, lay_on_sheet
from firstwash.picture.sheet import parse_sheet
from firstwash.plan.bench import Bench
from firstwash.plan.layin import open_borders
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan

# Own light and shade of three things on a grey wall, as sRGB: light, half light, shadow.
THINGS = {
    "jug": [(250, 248, 244), (212, 216, 226), (150, 155, 172)],
    "brass": [(238, 208, 130), (190, 140, 60), (90, 60, 35)],
    "plant": [(214, 224, 130), (120, 150, 70), (40, 70, 35)],
}


def picture() -> np.ndarray:
    """Three upright things, each turning from light to shadow; (rows, cols, 3) uint8."""
    out = np.full((180, 240, 3), (200, 196, 190), dtype=np.uint8)
    out[150:] = (150, 135, 120)
    for i, tones in enumerate(THINGS.values()):
        left = 15 + 75 * i
        for j, tone in enumerate(tones):
            out[40:155, left + 20 * j : left + 20 * j + 20] = tone
    return out


@pytest.fixture(scope="module")
def reference() -> Reference:
    out = io.BytesIO()
    Image.fromarray(picture()).save(out, "png")
    return lay_on_sheet(load_photo(out.getvalue()), parse_sheet("16x12cm"))


@pytest.fixture(scope="module")
def plan(reference: Reference) -> Plan:
    limits = Limits(shapes=16, washes=24, puddles=10, touches=0)
    return make_plan(reference, load_set("starter-6").paints, limits)


def test_every_first_wash_and_shape_gets_advice(plan: Plan) -> None:
    for where in (*plan.washes_of(1), *range(plan.cells.shapes)):
        advice = first_washes_for(plan, where)
        assert advice.area.share.sum() == pytest.approx(1.0)
        assert 0.0 < advice.covered <= 1.0
        assert len(advice.area.patches) <= MOST_SHAPES
        assert advice.plans is not None
        assert verdict_words(advice)
        assert all(wash_words(w, advice) for w in advice.washes)


def test_the_plans_own_wash_is_what_the_plan_lays(plan: Plan) -> None:
    bench = Bench.of(plan.paints, plan.paper)
    for wash in plan.washes_of(1):
        if wash.kind == "graded wash":
            continue
        own = first_washes_for(plan, wash).plans
        assert own is not None
        laid = plan.recipes[own.judged.tint.puddle] * own.judged.tint.strength
        np.testing.assert_allclose(own.judged.tint.amounts, laid)
        np.testing.assert_allclose(own.judged.lab, bench.labs(laid[None])[1])
        # Its shapes may hold another first wash too; the one that covers most is told.
        assert (own.judged.tint.puddle, own.judged.tint.strength) in {
            plan.coats[c][0][1:] for s in wash.shapes for c in cells_of(plan, s) if plan.coats[c]
        }


def cells_of(plan: Plan, shape: int) -> list[int]:
    return np.flatnonzero(plan.cells.shape_of == shape).tolist()


def test_what_the_plan_ends_in_is_told_beside(plan: Plan) -> None:
    areas = plan.cells.areas_mm2()
    for shape in range(plan.cells.shapes):
        cells = cells_of(plan, shape)
        off = delta_e_2000(plan.stage_labs[-1][cells], plan.aims[cells])
        expected = float(areas[cells] @ off / areas[cells].sum())
        assert first_washes_for(plan, shape).as_planned == pytest.approx(expected)


def test_coats_fitted_to_the_plans_own_wash_come_as_near_as_the_plan(plan: Plan) -> None:
    # The plan shares its puddles, an area here has all paints to itself: it is not further off
    # by more than handling and one coat are worth.
    for shape in range(plan.cells.shapes):
        advice = first_washes_for(plan, shape)
        assert advice.plans is not None
        assert advice.as_planned is not None
        assert advice.plans.judged.error <= advice.as_planned + 1.0


def test_neighbours_are_those_of_open_borders(plan: Plan) -> None:
    open_mm = open_borders(plan.cells, plan.edges)
    for shape in range(plan.cells.shapes):
        around = first_washes_for(plan, shape).area.neighbours
        total = sum(n.open_mm for n in around)
        assert total <= open_mm[shape].sum() + 1e-9
        assert [n.open_mm for n in around] == sorted((n.open_mm for n in around), reverse=True)
        assert all(n.puddle is not None for n in around)


def test_looking_at_the_pixels_finds_a_tint_as_light_as_the_cells(
    plan: Plan, reference: Reference
) -> None:
    for shape in range(plan.cells.shapes):
        looked = first_washes_for(plan, shape, reference).area.looked
        cells = first_washes_for(plan, shape).area.palest
        if looked is not None and cells is not None:
            assert looked[0] >= cells[0]


def split(plan: Plan, own: tuple[float, float, float], sure: float) -> LightSplit:
    """A split by hand: everything of one colour, under a warm lamp."""
    size = plan.cells.index.shape
    local = np.broadcast_to(np.array(own, dtype=np.float32), (*size, 3)).copy()
    light = np.broadcast_to(np.array((1.0, 0.9, 0.7), dtype=np.float32), (*size, 3)).copy()
    zero = np.zeros((*size, 3), dtype=np.float32)
    return LightSplit(local, light, zero, np.full(size, sure, dtype=np.float32))


def test_the_light_split_tells_local_colour_and_light(plan: Plan) -> None:
    green = tuple(float(v) for v in srgb_decode(np.array([60, 140, 60]) / 255.0))
    dark = int(np.argmin([plan.aims[cells_of(plan, s), 0].min() for s in range(plan.cells.shapes)]))
    sure = first_washes_for(plan, dark, light=split(plan, green, 1.0))
    unsure = first_washes_for(plan, dark, light=split(plan, green, 0.0))
    plain = first_washes_for(plan, dark)
    local = {o: w.judged.lab for w in sure.washes for o in w.judged.origins}["local colour"]
    assert local[1] < -8.0  # green
    # White under that lamp is warm.
    lamp = next(w for w in sure.washes if "tint of the light" in w.judged.origins)
    assert lamp.judged.lab[2] > 4.0
    for advice in (unsure, plain):
        told = {o: w.judged.lab for w in advice.washes for o in w.judged.origins}
        assert "local colour" not in told or abs(told["local colour"][1] - local[1]) > 2.0


@pytest.mark.parametrize("where", [10_000, -1, [], [10_000], [-3]])
def test_an_area_that_is_not_there_is_refused(plan: Plan, where: int | list[int]) -> None:
    with pytest.raises(RequestError):
        first_washes_for(plan, where)


def test_the_jug_and_the_pot_on_the_shelf(plan: Plan) -> None:
    shapes = {name: shape_at(plan, i) for i, name in enumerate(THINGS)}
    jug = first_washes_for(plan, shapes["jug"]).best.judged
    assert jug.step >= 9 or jug.kept_bare > 0.3
    pot = first_washes_for(plan, shapes["brass"]).best.judged
    assert pot.lab[2] > 10.0
    plant = first_washes_for(plan, shapes["plant"]).best.judged
    assert plant.lab[1] < 0.0 < plant.lab[2]


def shape_at(plan: Plan, i: int) -> int:
    """The shape in the light of a thing."""
    rows, cols = plan.cells.index.shape
    place = plan.cells.index[int(rows * 100 / 180), int(cols * (25 + 75 * i) / 240)]
    return int(plan.cells.shape_of[place])
