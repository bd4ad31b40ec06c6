"""Whole plans: three open photos against the figures of the planning problem study, and limits.

The study is the project's own: a throw-away prototype that set the targets below. Photos:
coffee and chelsea (scikit-image), flower (scikit-learn), on 28 × 38 cm, four layers, six
paints. "measured" are paints fitted to published spectra; "all" adds estimated ones, so its
figures say how much a fuller box would help, no more.
"""

from collections.abc import Callable
from dataclasses import asdict, replace
from functools import cache

import cv2
import numpy as np
import pytest

from firstwash.errors import PaintError
from firstwash.optics.observer import lab_to_xyz, reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, load_set, paint
from firstwash.picture.reference import (
    Background,
    Reference,
    focal_rectangle,
    with_background,
    with_focal_area,
)
from firstwash.plan.bench import Bench
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS

PHOTOS = ("coffee", "chelsea", "flower")
# Mean over the three photos of mean CIEDE2000 against the unmapped photo, from the study.
TARGETS = {
    ("measured", None): 6.3,
    ("all", None): 4.6,
    ("measured", 16): 6.9,
    ("all", 16): 5.2,
}
VALUE_PATTERN = 0.85

Asked = tuple[str, int | None]
Planned = Callable[[str, str, int | None], Plan]


@pytest.fixture(scope="module")
def planned(on_sheet: Callable[..., Reference]) -> Planned:
    """The plan of a photo with a set of paints and a number of puddles, made once each."""
    lay = cache(on_sheet)

    @cache
    def plan(photo: str, paints: str, puddles: int | None) -> Plan:
        # Which paints are chosen does not depend on the puddles (a test below), so the search
        # for them is made once.
        owned = load_set(paints).paints if puddles else plan(photo, paints, 16).paints
        return make_plan(lay(photo), owned, Limits(layers=4, paints=6, puddles=puddles))

    return plan


# --- the study's figures ---------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("asked", TARGETS)
def test_plans_are_as_close_to_the_photo_as_the_study_asks(planned: Planned, asked: Asked) -> None:
    plans = {photo: planned(photo, *asked) for photo in PHOTOS}
    means = {photo: plan.report.against_photo.mean for photo, plan in plans.items()}
    mean = float(np.mean(list(means.values())))
    figures = ", ".join(f"{photo} {m:.2f}" for photo, m in means.items())
    print(f"\n{asked}: {figures}; mean {mean:.2f}, at most {TARGETS[asked]}")
    assert mean <= TARGETS[asked]
    for photo, plan in plans.items():
        agreement = plan.report.agreement
        print(
            f"  {photo}: against target {plan.report.against_target.mean:.2f}, values agree "
            f"{agreement.value_pattern:.3f}, edges found {agreement.edges_found:.3f}, "
            f"{len(plan.puddles)} puddles, {len(plan.washes)} washes"
        )
        assert agreement.value_pattern >= VALUE_PATTERN


every_plan = pytest.mark.parametrize("asked", TARGETS)
every_photo = pytest.mark.parametrize("photo", PHOTOS)


@pytest.mark.slow
@every_plan
@every_photo
def test_limits_are_kept(planned: Planned, photo: str, asked: Asked) -> None:
    plan = planned(photo, *asked)
    assert len(plan.paints) <= 6
    assert len({p.key for p in plan.paints}) == len(plan.paints)
    assert plan.layers == 4
    if asked[1]:
        assert len(plan.puddles) <= asked[1]
    for puddle in plan.puddles:
        assert 1 <= len(puddle.parts) <= 3
        assert all(amount > 0 for _, amount in puddle.parts)
        assert 0 < puddle.strength_range[0] <= puddle.strength_range[1]
        # A coat over its load is priced, not forbidden.
        assert puddle.strength_range[1] <= 1.05
    used = {paint for puddle in plan.puddles for paint, _ in puddle.parts}
    assert used <= set(range(len(plan.paints)))
    assert plan.cells.shapes <= plan.limits.shapes


@pytest.mark.slow
@every_plan
@every_photo
def test_darker_levels_get_the_lighter_levels_coats_and_more(
    planned: Planned, photo: str, asked: Asked
) -> None:
    plan = planned(photo, *asked)
    shape_of = plan.cells.shape_of
    for cell, own in enumerate(plan.coats):
        layers = [layer for layer, _, _ in own]
        assert layers == sorted(set(layers))  # one coat a layer at most
        assert all(1 <= layer <= plan.layers for layer in layers)
        if cell and shape_of[cell] == shape_of[cell - 1]:
            lighter = plan.coats[cell - 1]
            assert own[: len(lighter)] == lighter


@pytest.mark.slow
@every_plan
@every_photo
def test_layers_only_darken(planned: Planned, photo: str, asked: Asked) -> None:
    plan = planned(photo, *asked)
    rise = np.diff(plan.stage_labs[..., 0], axis=0).max(axis=0)
    areas = plan.cells.areas_mm2()
    # The measured paints scatter: a half-opaque coat over a dark may dry a little lighter. Where
    # no cell ends with a coat its colour is only drawn to the middle of its neighbours, so a few
    # small places rise by a unit or two.
    assert areas[rise > 0.5].sum() < 0.005 * areas.sum()
    assert rise.max() < 5.0


@pytest.mark.slow
@every_plan
@every_photo
def test_first_washes_are_pale(planned: Planned, photo: str, asked: Asked) -> None:
    plan = planned(photo, *asked)
    first = [bool(own) and own[0][0] == 1 for own in plan.coats]
    light = plan.stage_labs[1][first, 0]
    print(f"{light.min():.1f}")
    assert light.min() >= FIRST_WASH_LIGHTNESS - 0.5  # priced: settles a little below
    assert np.mean(first) > 0.5


@pytest.mark.slow
@every_plan
@every_photo
def test_every_stage_is_what_the_optics_say(planned: Planned, photo: str, asked: Asked) -> None:
    plan = planned(photo, *asked)
    recipes = np.zeros((len(plan.puddles), len(plan.paints)))
    for q, puddle in enumerate(plan.puddles):
        for p, amount in puddle.parts:
            recipes[q, p] = amount
    k, s = (recipes @ np.array([getattr(p, c) for p in plan.paints]) for c in "ks")
    for cell in range(0, plan.cells.count, 5):
        puddles = [q for _, q, _ in plan.coats[cell]]
        strengths = np.array([x for _, _, x in plan.coats[cell]])[:, None]
        seen = stages(plan.paper, strengths * k[puddles], strengths * s[puddles])
        done = [sum(c[0] <= n for c in plan.coats[cell]) for n in range(plan.layers + 1)]
        # The same arithmetic in another order.
        labs = reflectance_to_lab(seen)[done]
        np.testing.assert_allclose(plan.stage_labs[:, cell], labs, atol=1e-9)


@pytest.mark.slow
@every_photo
def test_sixteen_puddles_cost_little(planned: Planned, photo: str) -> None:
    for paints in ("measured", "all"):
        own, shared = (planned(photo, paints, n).report.against_photo.mean for n in (None, 16))
        # The study's prototype paid 0.9; sharing fits its recipes anew, so it may even gain.
        assert shared < own + 0.6


@pytest.mark.slow
@pytest.mark.parametrize(("puddles", "cost"), [(16, 0.35), (12, 0.6)])
@pytest.mark.parametrize("paints", ["measured", "all"])
def test_few_puddles_cost_little_on_the_whole(
    planned: Planned, paints: str, puddles: int, cost: float
) -> None:
    own, shared = (
        np.mean([planned(photo, paints, n).report.against_photo.mean for photo in PHOTOS])
        for n in (None, puddles)
    )
    print(f"{paints}, {puddles} puddles: {own:.2f} to {shared:.2f}")
    assert shared <= own + cost


# Mean over the three photos of mean CIEDE2000 against the photo, washes alone.
SOFT = {
    ("all", 60): 5.6,
    ("measured", 60): 7.2,
    ("all", None): 4.8,
    ("measured", None): 6.6,
}


@pytest.mark.slow
@pytest.mark.parametrize("asked", SOFT)
def test_sixty_soft_shapes_do(
    planned: Planned, on_sheet: Callable[..., Reference], asked: tuple[str, int | None]
) -> None:
    paints, washes = asked
    means = []
    for photo in PHOTOS:
        owned = planned(photo, paints, 16).paints
        limits = Limits(shapes=60, puddles=16, washes=washes, touches=0)
        plan = make_plan(on_sheet(photo), owned, limits)
        assert plan.cells.shapes <= 60
        assert len(plan.puddles) <= 16
        means.append(plan.report.against_photo.mean)
    print(f"{asked}: {means}, mean {np.mean(means):.2f}, at most {SOFT[asked]}")
    assert np.mean(means) <= SOFT[asked]


# --- the same plan -----------------------------------------------------------------


MEASURED = load_set("measured").paints
FEW = Limits(puddles=6, shapes=40)


@pytest.fixture(scope="module")
def small(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("coffee", "6x9cm")


def same(a: Plan, b: Plan) -> bool:
    return (
        [p.key for p in a.paints] == [p.key for p in b.paints]
        and a.coats == b.coats
        and [asdict(w) for w in a.washes] == [asdict(w) for w in b.washes]
        and [p.parts for p in a.puddles] == [p.parts for p in b.puddles]
        and np.array_equal(a.cells.index, b.cells.index)
        and np.array_equal(a.stage_labs, b.stage_labs)
    )


@pytest.fixture(scope="module")
def small_plan(small: Reference) -> Plan:
    return make_plan(small, MEASURED, FEW)


def test_the_same_photo_gives_the_same_plan(small: Reference, small_plan: Plan) -> None:
    again = make_plan(replace(small), MEASURED, FEW)
    assert same(again, small_plan)
    assert again.report == small_plan.report


def test_owning_only_the_chosen_paints_gives_the_same_plan(
    small: Reference, small_plan: Plan
) -> None:
    again = make_plan(small, small_plan.paints, FEW)
    assert same(again, small_plan)


def test_puddles_have_no_say_in_the_paints(small: Reference, small_plan: Plan) -> None:
    for puddles in (1, None):
        plan = make_plan(small, MEASURED, replace(FEW, puddles=puddles))
        assert [p.key for p in plan.paints] == [p.key for p in small_plan.paints]


# --- what the painter asks ---------------------------------------------------------


@pytest.mark.parametrize("layers", [2, 3, 8])
def test_any_number_of_layers_can_be_asked(small: Reference, layers: int) -> None:
    plan = make_plan(small, MEASURED, replace(FEW, layers=layers))
    assert plan.layers == layers
    assert max(wash.layer for wash in plan.washes) <= layers
    assert np.bincount(plan.cells.shape_of).max() <= layers


@pytest.mark.parametrize(("paints", "puddles", "per_puddle"), [(1, 1, 1), (2, 2, 1), (6, 8, 5)])
def test_few_or_many_paints_can_be_asked(
    small: Reference, paints: int, puddles: int, per_puddle: int
) -> None:
    limits = replace(FEW, paints=paints, puddles=puddles, paints_per_puddle=per_puddle)
    plan = make_plan(small, MEASURED, limits)
    assert len(plan.paints) == paints
    assert 1 <= len(plan.puddles) <= puddles
    assert max(len(p.parts) for p in plan.puddles) <= per_puddle


def test_one_pale_paint_still_gives_an_ordered_plan(small: Reference) -> None:
    plan = make_plan(small, [paint("lemon-yellow")], FEW)
    assert np.isfinite(plan.stage_labs).all()
    order = np.argsort(plan.targets[:, 0])
    assert (np.diff(plan.aims[order, 0]) >= 0).all()
    assert plan.tone.slope < 1.0


def test_wrong_paints_are_refused(small: Reference) -> None:
    with pytest.raises(PaintError, match="no paint"):
        make_plan(small, [])
    with pytest.raises(PaintError, match="twice"):
        make_plan(small, [paint("PB29"), paint("PB29")])


def half(reference: Reference) -> np.ndarray:
    mask = np.zeros(reference.xyz.shape[:2], dtype=np.float32)
    mask[:, : mask.shape[1] // 2] = 1.0
    return mask


@pytest.mark.parametrize("treatment", ["painted", "bare", "graded"])
def test_the_background_is_treated_as_asked(small: Reference, treatment: Background) -> None:
    white = Bench.of([], default_paper()).white_xyz()
    edited = with_background(small, half(small), treatment, white)
    plan = make_plan(edited, MEASURED, FEW)
    behind = np.unique(plan.cells.index[edited.zone == 1])
    assert not set(behind) & set(np.unique(plan.cells.index[edited.zone == 0]))
    if treatment == "bare":
        assert all(plan.coats[cell] == () for cell in behind)
        assert plan.reserve_share() >= 0.49
    if treatment == "graded":
        washes = [w for w in plan.washes if w.kind == "graded wash"]
        assert len(washes) == 1
        assert set(washes[0].cells) == set(behind)
        assert washes[0].layer == 1
        assert all(len(plan.coats[cell]) == 1 for cell in behind)
        strengths = [plan.coats[cell][0][2] for cell in washes[0].cells]
        steps = np.diff(strengths)
        assert (steps >= 0).all() or (steps <= 0).all()
        assert len(plan.puddles) <= 6


def test_a_focal_area_is_painted_finer(small: Reference, small_plan: Plan) -> None:
    box = focal_rectangle(small, (0.25, 0.25, 0.5, 0.5))
    focused = make_plan(with_focal_area(small, box), MEASURED, FEW)
    cells = [len(np.unique(p.cells.index[box > 0])) for p in (small_plan, focused)]
    assert cells[1] > cells[0]


# --- hostile pictures --------------------------------------------------------------


def flat(reference: Reference, lab: tuple[float, float, float]) -> Reference:
    xyz = lab_to_xyz(np.array(lab)).astype(np.float32)
    return replace(
        reference,
        xyz=np.broadcast_to(xyz, reference.xyz.shape).copy(),
        judge_xyz=np.broadcast_to(xyz, reference.judge_xyz.shape).copy(),
    )


@pytest.mark.parametrize("lab", [(0, 0, 0), (50, 0, 0), (60, 90, -90), (100, 0, 0)])
def test_a_picture_of_one_colour_gives_a_plan(
    small: Reference, lab: tuple[float, float, float]
) -> None:
    plan = make_plan(flat(small, lab), MEASURED, replace(FEW, washes=8))
    assert plan.cells.count == 1
    assert np.isfinite(plan.stage_labs).all()
    assert np.isfinite(plan.report.against_photo.mean)


@pytest.mark.parametrize("limits", [FEW, replace(FEW, puddles=None), replace(FEW, washes=8)])
def test_white_paper_is_left_alone(small: Reference, limits: Limits) -> None:
    white = Bench.of([], default_paper()).white_xyz()
    lab = tuple(float(v) for v in reflectance_to_lab(default_paper().reflectance))
    assert lab_to_xyz(np.array(lab)) == pytest.approx(white)
    plan = make_plan(flat(small, lab), MEASURED, limits)
    assert plan.washes == ()
    assert plan.puddles == ()
    assert plan.reserve_share() == 1.0
    assert plan.report.against_photo.mean < 0.01  # float32 photo


def test_noise_gives_a_plan(small: Reference) -> None:
    rng = np.random.default_rng(0)
    xyz = rng.uniform(0.0, 1.0, small.xyz.shape).astype(np.float32)
    rows, cols = small.judge_xyz.shape[:2]
    judge = cv2.resize(xyz, (cols, rows), interpolation=cv2.INTER_AREA)
    noisy = replace(small, xyz=xyz, judge_xyz=judge)
    plan = make_plan(noisy, MEASURED, FEW)
    assert np.isfinite(plan.stage_labs).all()
    areas = np.bincount(plan.cells.index.ravel()) / small.ppmm**2
    assert areas.min() >= plan.limits.min_area_mm2 - 1e-6


# --- telling how far it is ---------------------------------------------------------


def test_progress_rises_and_what_it_raises_stops_the_work(small: Reference) -> None:
    told: list[tuple[str, float]] = []
    make_plan(small, [paint("PB29")], FEW, progress=lambda what, done: told.append((what, done)))
    shares = [done for _, done in told]
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert shares[-1] == 1.0
    assert all(what for what, _ in told)

    class StopError(Exception):
        pass

    def stop(what: str, done: float) -> None:
        if done > 0.4:
            raise StopError(what)

    with pytest.raises(StopError):
        make_plan(small, [paint("PB29")], FEW, progress=stop)


@pytest.mark.parametrize("limits", ["few", "no limit on washes", "too long at first"])
def test_a_first_look_changes_nothing(small: Reference, limits: str) -> None:
    asked = {
        "few": replace(FEW, washes=12),
        "no limit on washes": replace(FEW, washes=None),
        "too long at first": replace(FEW, puddles=12, shapes=100, washes=60, hours=0.25),
    }[limits]
    seen: list[Plan] = []
    steps: list[str] = []
    plan = make_plan(
        small, MEASURED, asked, progress=lambda step, _: steps.append(step), look=seen.append
    )
    assert len(seen) == 1  # at the first attempt alone, however many there were
    assert ("Fitting the plan into the hours" in steps) == (limits == "too long at first")
    alone = make_plan(small, MEASURED, asked)
    np.testing.assert_array_equal(plan.stage_labs, alone.stage_labs)
    assert plan.report.against_photo == alone.report.against_photo
    (early,) = seen
    assert early.touches == ()
    assert early.sheet == plan.sheet
