"""The report: what its figures mean, and that the ladder only loses."""

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis.extra.numpy import arrays

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.hands import Painters, handiwork_of_plan
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.report import as_judged, edges_agree, errors, flat_xyz, make_report
from firstwash.plan.result import Plan


@pytest.fixture(scope="module")
def reference(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("chelsea", "10x15cm")


@pytest.fixture(scope="module")
def plan(reference: Reference) -> Plan:
    return make_plan(reference, load_set("measured").paints, Limits(puddles=8))


# --- errors ----------------------------------------------------------------------


def test_errors_are_the_mean_the_median_and_the_worst_twentieth() -> None:
    grey = np.zeros((10, 10, 3))
    grey[..., 0] = 50.0
    other = grey.copy()
    other[:3, :, 0] = 60.0
    found = errors(other, grey)
    step = float(delta_e_2000(other[0, 0], grey[0, 0]))
    assert found.mean == pytest.approx(0.3 * step)
    assert found.median == 0.0
    assert found.p95 == pytest.approx(step)
    same = errors(grey, grey)
    assert (same.mean, same.median, same.p95) == (0.0, 0.0, 0.0)


# --- edges -----------------------------------------------------------------------

planes = arrays(np.float64, (24, 32), elements={"min_value": 0.0, "max_value": 100.0})


def step_at(column: int) -> np.ndarray:
    plane = np.full((80, 120), 30.0)
    plane[:, column:] = 70.0
    return plane


@given(planes)
def test_a_picture_agrees_with_itself(plane: np.ndarray) -> None:
    assert edges_agree(plane, plane, 1.0) == (1.0, 1.0)


@given(planes, planes)
def test_finding_and_being_true_change_places(one: np.ndarray, other: np.ndarray) -> None:
    found, true = edges_agree(one, other, 1.0)
    assert edges_agree(other, one, 1.0) == (true, found)
    assert 0.0 <= found <= 1.0
    assert 0.0 <= true <= 1.0


def test_edges_elsewhere_are_not_found() -> None:
    assert edges_agree(step_at(30), step_at(90), 1.0) == (0.0, 0.0)


def test_a_shift_within_reach_is_forgiven() -> None:
    # An edge blurred by 0.7 mm is a band some 4 mm wide, so all of it is near up to 1.5 mm, and
    # none once the bands are farther apart than that.
    assert edges_agree(step_at(60), step_at(61), 1.0) == (1.0, 1.0)
    shifted = [edges_agree(step_at(60), step_at(60 + n), 1.0)[0] for n in range(0, 14, 2)]
    assert shifted == sorted(shifted, reverse=True)
    assert shifted[-1] == 0.0


def test_unrelated_textures_agree_by_chance_only(rng: np.random.Generator) -> None:
    def texture() -> np.ndarray:
        coarse = rng.uniform(20.0, 80.0, (12, 16)).astype(np.float32)
        return cv2.resize(coarse, (320, 240), interpolation=cv2.INTER_CUBIC).astype(float)

    # Strong edges fill 8 % of the area; with 1.5 mm around them a fifth is near one by chance.
    assert max(edges_agree(texture(), texture(), 1.0)) < 0.35


def test_flat_pictures_have_no_edges_to_find() -> None:
    flat = np.full((40, 40), 50.0)
    assert edges_agree(flat, flat, 1.0) == (1.0, 1.0)
    edge = flat.copy()
    edge[:, 20:] = 80.0
    assert edges_agree(flat, edge, 1.0) == (0.0, 0.0)


def test_edges_do_not_depend_on_lightness_or_contrast() -> None:
    quiet = 40.0 + 0.1 * (step_at(60) - 30.0)
    assert edges_agree(quiet, step_at(60), 1.0) == (1.0, 1.0)


# --- judged at the sheet's size --------------------------------------------------


def test_cells_are_judged_by_the_light_they_send_back(plan: Plan, reference: Reference) -> None:
    flat = np.full((plan.cells.count, 3), [60.0, 20.0, -10.0])
    judged = as_judged(flat_xyz(plan.cells, flat), reference)
    assert judged.shape == reference.judge_xyz.shape
    np.testing.assert_allclose(judged, np.broadcast_to(flat[0], judged.shape), atol=1e-3)  # float32
    # A fine pattern of black and white looks as light as the mean of its light.
    board = replace(plan.cells, index=np.indices(plan.cells.index.shape).sum(axis=0) % 2)
    labs = np.full((plan.cells.count, 3), 0.0)
    labs[1, 0] = 100.0
    judged = as_judged(flat_xyz(board, labs), reference)
    assert np.median(lab_to_xyz(judged)[..., 1]) == pytest.approx(0.5, abs=1e-3)


# --- the ladder ------------------------------------------------------------------


def test_every_rung_gives_something_up(plan: Plan) -> None:
    rungs = plan.report.rungs
    assert rungs[-1].puddles == len(plan.puddles)
    assert rungs[-1].washes == len(plan.washes)
    for way in ("against_photo", "against_target"):
        means = [getattr(r, way).mean for r in rungs]
        print(way, [f"{m:.2f}" for m in means])
        # The rungs are found by search, and a flat cell may by luck hit its photo better than
        # the mean colour does; what a rung loses to the next by that is small.
        assert min(np.diff(means)) > -0.15
        assert means[0] < 0.7 * means[-1]
    for rung in rungs:
        for found in (rung.against_photo, rung.against_target):
            assert 0 <= found.median <= found.p95
            assert found.mean <= found.p95


def test_the_last_rung_is_this_plan(plan: Plan, reference: Reference) -> None:
    painted = as_judged(plan.finished_xyz, reference)
    report = plan.report
    assert report.against_photo == errors(painted, reference.judge_lab)
    assert report.against_target == errors(painted, plan.tone(reference.judge_lab))
    assert report.against_photo is report.rungs[-1].against_photo


def test_shares_are_shares(plan: Plan, reference: Reference) -> None:
    report = plan.report
    assert 0 <= report.off_gamut_share <= 1
    light = reference.judge_lab[..., 0]
    assert report.darkened_from == plan.tone.knees[0]
    assert report.lifted_share == pytest.approx((light < plan.tone.knees[0]).mean())
    assert 0 < report.doubt < 20
    areas = plan.cells.areas_mm2()
    assert report.doubt == pytest.approx(np.average(plan.doubts, weights=areas))
    for share in (report.agreement.value_pattern, report.agreement.edges_found):
        assert 0.5 < share <= 1


def test_the_same_plan_gets_the_same_report(plan: Plan, reference: Reference) -> None:
    box = Bench.of(load_set("measured").paints, default_paper())
    assert make_report(plan, reference, box) == replace(plan.report, palette=None, local_first=None)


def _new_places(cells: tuple[int, ...], order: np.ndarray) -> tuple[int, ...]:
    return tuple(np.flatnonzero(np.isin(order, cells)).tolist())


def test_a_spoiled_painting_is_told_so(plan: Plan, reference: Reference) -> None:
    box = Bench.of(load_set("measured").paints, default_paper())
    order = np.random.default_rng(0).permutation(plan.cells.count)
    coats = tuple(plan.coats[i] for i in order)
    washes = tuple(replace(w, cells=_new_places(w.cells, order)) for w in plan.washes)
    spoiled = make_report(replace(plan, coats=coats, washes=washes), reference, box)
    assert spoiled.against_photo.mean > 2 * plan.report.against_photo.mean
    assert spoiled.agreement.value_pattern < plan.report.agreement.value_pattern - 0.2
    assert spoiled.rungs[0] == plan.report.rungs[0]


def test_the_choice_of_paints_is_judged_where_there_was_one(plan: Plan) -> None:
    worth = plan.report.palette
    assert worth is not None
    assert worth.compared > len(plan.paints)
    assert worth.whole <= worth.bound <= worth.score
    assert 0.0 <= worth.gap <= 0.01  # as promised
    assert "layers" in worth.covers


# --- by hand ---------------------------------------------------------------------


def test_what_hands_make_of_it_is_what_their_pixels_show(plan: Plan, reference: Reference) -> None:
    found = plan.report.by_hand
    assert found is not None
    assert found.sigma == plan.limits.hand
    assert len(found.washes) == len(plan.washes)
    assert found.whole.low < found.whole.mean < found.whole.high
    assert found.whole.mean > plan.report.against_photo.mean  # errors help nobody on average
    # The same painters' pictures, pixel by pixel, with soft edges.
    work = handiwork_of_plan(plan)
    labs = work.labs(work.slips(Painters(found.sigma)))[:, work.cell_nodes]
    means = np.array(
        [
            delta_e_2000(
                as_judged(lab_to_xyz(plan.edges.spread(own[plan.cells.index])), reference),
                reference.judge_lab,
            ).mean()
            for own in labs
        ]
    )
    # Spots stand for most painters' pixels; strokes are left out here. An interval of 200
    # painters is known to about 0.1.
    strokes = plan.report.against_photo.mean - plan.report.rungs[-2].against_photo.mean
    assert found.whole.mean - strokes == pytest.approx(means.mean(), abs=0.1)
    assert found.whole.low - strokes == pytest.approx(np.percentile(means, 5), abs=0.25)
    assert found.whole.high - strokes == pytest.approx(np.percentile(means, 95), abs=0.25)


def test_hands_that_never_err_have_no_range(plan: Plan, reference: Reference) -> None:
    steady = replace(plan, limits=replace(plan.limits, hand=0.0))
    bench = Bench.of(load_set("measured").paints, default_paper())
    assert make_report(steady, reference, bench).by_hand is None
