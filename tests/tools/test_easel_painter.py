"""The made-up painter and the photos of what it paints: is the judge fair, and independent?

A small drawn still life is planned once. The colours need the measured spectra
(`python tools/fetch_reference.py`); if they cannot be had these tests fail, and FIRSTWASH_OFFLINE=1
skips them.
"""

import ast
import importlib
import os
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import colour
import cv2
import numpy as np
import pytest

from firstwash.picture.load import load_photo
from firstwash.plan.result import Plan

ROOT = Path(__file__).parents[2]
NAMES = ("painter", "hand", "optics", "sheet", "photo", "spoil", "subjects")


def tool_named(name: str) -> ModuleType:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(ROOT / "tools"))


painter, hand, optics, sheet, photo, spoil, subjects = (tool_named(f"easel_{n}") for n in NAMES)
camera, fetch = tool_named("card_camera"), tool_named("fetch_reference")
Hand = hand.Hand
SMALL = 0.6  # megapixels


@pytest.fixture(scope="module")
def jug() -> tuple[Plan, np.ndarray]:
    if os.environ.get("FIRSTWASH_OFFLINE") == "1":
        pytest.skip("FIRSTWASH_OFFLINE=1: the measured spectra are not fetched")
    fetch.wheel()
    return subjects.planned("jug")


@pytest.fixture(scope="module")
def plan(jug) -> Plan:
    return jug[0]


@pytest.fixture(scope="module")
def painted(plan):
    return sheet.painting(plan, Hand(7), plan.layers, 4.0)


def taken(plan, seed=3, done=1, **how):
    return painter.progress_photo(plan, Hand(7), done, np.random.default_rng(seed), SMALL, **how)


def pixels(jpeg: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR).astype(float)


# ------------------------------------------------------------------ independence


def test_the_judge_uses_nothing_of_the_planners_optics() -> None:
    allowed = {"firstwash.plan.result", "firstwash.plan.wash", "firstwash.optics.grid"}
    for name in NAMES[:-1]:  # the subjects are planned, and so use the planner
        tree = ast.parse((ROOT / f"tools/easel_{name}.py").read_text("utf-8"))
        modules = {n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
        assert {m for m in modules if m and m.startswith("firstwash")} <= allowed


# ------------------------------------------------------------------ colours


def test_the_table_is_close_to_the_solver(plan, painted) -> None:
    rng = np.random.default_rng(0)
    lays = painted.lays
    amounts = np.vstack([np.zeros(13), *[lay.laid for lay in lays.lays]])
    own = amounts[np.unique(lays.of, axis=0) + 1]
    white = optics.sheet_of(np.asarray(plan.paper.reflectance))
    times = np.exp(rng.normal(0, 0.2, (plan.layers, len(own), 8))).astype(np.float32)
    times = np.clip(times, 0.4, 1.85)
    number = np.repeat(np.arange(len(own), dtype=np.int32)[:, None], 8, axis=1)
    told = optics.table_of(white, own).colours(camera.xyz_d65(np.eye(36)), number, times)
    laid = own[number] * np.moveaxis(times, 0, -1)[..., None]
    true = camera.lab_d65(optics.seen(white, laid.reshape(-1, plan.layers, 13)))
    found = camera.lab_of(told.reshape(-1, 3).astype(float))
    off = colour.difference.delta_E_CIE2000(found, true)
    # σ 0.2 is more than the unevenness of 0.08 with grain; a photo's own error is above 1.
    assert off.mean() < 0.1
    assert np.quantile(off, 0.99) < 0.6


def test_an_empty_layer_changes_nothing(plan, painted) -> None:
    lay = painted.lays.lays[0].laid
    white = optics.sheet_of(np.asarray(plan.paper.reflectance))
    none = np.zeros(13)
    first, second, bare = optics.seen(white, np.array([[lay, none], [none, lay], [none, none]]))
    assert np.array_equal(first, second)
    assert np.array_equal(bare, white.seen)
    assert (first <= bare + 1e-6).all()  # nothing in the jug's paints is lighter than paper


# ------------------------------------------------------------------ the hand


def test_errors_have_the_spread_that_they_are_said_to_have() -> None:
    strengths = np.log([Hand(s).strength(1, 1) for s in range(2000)])
    assert abs(strengths.mean()) < 0.02  # three standard errors
    assert abs(strengths.std() - 0.25) < 0.012
    meant = np.array([0.2, 0.1, *[0.0] * 11])
    mixed = np.array([Hand(s).mixed("A", meant) for s in range(500)])
    assert np.allclose(mixed.sum(axis=1), 0.3)
    assert 0.08 < np.log(mixed[:, 0] / mixed[:, 1] / 2).std() / np.sqrt(2) < 0.12


def test_a_wash_errs_by_layer_and_number_alone() -> None:
    assert Hand(3).strength(2, 4) == Hand(3).strength(2, 4)
    several = {Hand(3).strength(n, m) for n in (1, 2) for m in (1, 2)} | {Hand(4).strength(1, 1)}
    assert len(several) == 5


def test_a_steady_hand_lays_what_is_meant(plan) -> None:
    steady = Hand.steady()
    amounts = hand.cell_amounts(plan, steady)
    recipes = np.zeros((len(plan.puddles), 13))
    for row, puddle in zip(recipes, plan.puddles, strict=True):
        for paint, amount in puddle.parts:
            row[hand.KEYS.index(plan.paints[paint].key)] += amount
    meant = np.zeros_like(amounts)
    for cell, coats in enumerate(plan.coats):
        for layer, puddle, strength in coats:
            meant[cell, layer - 1] += strength * recipes[puddle]
    assert np.allclose(amounts, meant)
    truth = sheet.painting(plan, replace(steady, pencil=False), plan.layers, 2.0).truth
    known = truth.ratios[np.isfinite(truth.ratios)]
    assert np.allclose(known, 1.0, atol=1e-4)


def test_washes_wander_by_less_than_they_may(plan) -> None:
    frame = sheet._frame(plan, 2.0)
    x, y = sheet._wander(frame, Hand(7), 1, plan.cells.ppmm)
    far = np.hypot(x - frame.x, y - frame.y) / plan.cells.ppmm
    assert far.max() <= 2.0
    assert far.mean() > 0.4
    other = sheet._wander(frame, Hand(7), 2, plan.cells.ppmm)[0]
    assert abs(np.corrcoef((x - frame.x).ravel(), (other - frame.x).ravel())[0, 1]) < 0.4


def test_hard_borders_dry_darker_with_paint_from_beside() -> None:
    labels = np.zeros((60, 200), np.int32)
    labels[:, 100:] = 1
    most = np.full(labels.shape, 0.35, np.float32)
    row = sheet._rim(labels, np.ones(labels.shape, np.uint8), most, 10.0)[30, 100:]
    assert 1.30 < row.max() <= 1.36
    assert row[10:25].min() < 0.95  # 1 to 2.5 mm away
    assert abs(row.mean() - 1.0) < 0.01  # nothing is gained or lost
    soft = sheet._rim(labels, np.zeros(labels.shape, np.uint8), most, 10.0)
    assert np.allclose(soft, 1.0)


def test_what_is_forgotten_is_told_as_nothing(plan) -> None:
    careless = Hand(11, left_out=1.0)
    lays = hand.lays_of(plan, careless)
    gone = (lays.of == hand.NOTHING) & (lays.meant != hand.NOTHING)
    assert 1 <= gone.sum() <= 3
    ratios = sheet.painting(plan, careless, plan.layers, 2.0).truth.ratios
    assert (ratios[gone] == 0.0).all()
    assert np.isnan(ratios[lays.meant == hand.NOTHING]).all()
    assert not ((hand.lays_of(plan, Hand(11)).of == hand.NOTHING) & gone).any()


def test_paint_that_nobody_measured_is_refused(plan) -> None:
    strange = replace(plan.paints[0], key="PV19")
    with pytest.raises(ValueError, match="not in tuple"):
        hand.lays_of(replace(plan, paints=(strange, *plan.paints[1:])), Hand(1))


def test_by_eye_a_stroke_looks_as_planned(plan) -> None:
    white = optics.sheet_of(np.asarray(plan.paper.reflectance))
    off = {}
    for by_eye in (False, True):
        lays = {(v.layer, v.number): v for v in hand.lays_of(plan, Hand.steady(by_eye)).lays}
        coats = np.array([lays[w.layer, w.number].meant[None] for w in plan.washes])
        labs = camera.lab_d65(optics.seen(white, coats))
        strokes = np.array([w.stroke for w in plan.washes])
        off[by_eye] = colour.difference.delta_E_CIE2000(labs, strokes).mean()
    assert off[True] < 0.5 * off[False]


# ------------------------------------------------------------------ the sheet and its truth


def test_cells_and_pixels_tell_the_same_truth(plan, painted) -> None:
    amounts = hand.cell_amounts(plan, Hand(7))
    labs = painter.cell_labs(plan, amounts)
    large = plan.cells.areas_mm2() > 400
    off = colour.difference.delta_E_CIE2000(labs[large], painted.truth.labs[large])
    assert np.median(off) < 1.0  # rims, grain and soft borders are the pixels' alone
    lays = painted.lays
    for layer in range(plan.layers):
        for cell in np.flatnonzero(large & (lays.of[:, layer] != hand.NOTHING)):
            lay = lays.lays[lays.of[cell, layer]]
            by_cell = amounts[cell, layer].sum() / lay.meant.sum()
            assert painted.truth.ratios[cell, layer] == pytest.approx(by_cell, rel=0.12)


def test_no_layer_is_bare_paper_with_pencil(plan) -> None:
    bare = sheet.painting(plan, Hand(7), 0, 2.0)
    labs = bare.labs()
    white = camera.lab_d65(np.asarray(plan.paper.reflectance)[None])[0]
    assert np.allclose(np.median(labs, axis=(0, 1)), white, atol=0.05)
    assert labs[..., 0].min() < white[0] - 3
    assert (labs[..., 0] < white[0] - 1).mean() < 0.2
    with pytest.raises(ValueError, match="no stage"):
        sheet.painting(plan, Hand(7), plan.layers + 1)


def test_going_on_keeps_what_lies_there(jug) -> None:
    plan, aims = jug
    lying = painter.laid_so_far(plan, Hand(7), 1)
    other = painter.repaint(plan, Hand(8), lying, aims)
    assert np.array_equal(other.amounts[:, :1], lying)
    same = painter.repaint(plan, Hand(7), lying, aims)
    whole = painter.repaint(plan, Hand(7), None, aims)
    assert np.array_equal(same.amounts, whole.amounts)
    assert same.error == whole.error != other.error
    with pytest.raises(ValueError, match="drawn otherwise"):
        painter.repaint(plan, Hand(7), lying[1:], aims)


def test_by_eye_errors_of_the_hand_cost_something(jug) -> None:
    plan, aims = jug
    steady = painter.repaint(plan, Hand.steady(by_eye=True), None, aims).error
    errors = [painter.repaint(plan, Hand(s, by_eye=True), None, aims).error for s in range(12)]
    assert np.mean(errors) > steady


# ------------------------------------------------------------------ the photo


@pytest.mark.parametrize("how", [None, "mirrored", "upside-down", "sideways", "tiny"])
def test_the_map_leads_to_the_picture(plan, how) -> None:
    """Taken back to the sheet by the map, the photo fits the painting to a part of a pixel."""
    found = taken(plan, 5, 2, spoil=how)
    grey = pixels(found.jpeg).mean(axis=2).astype(np.float32)
    light = sheet.painting(plan, Hand(7), 2, 5.0).labs()[..., 0]
    fine = 4  # pixels per mm; the light's slope pulls coarser ones aside
    x, y = np.meshgrid(*((np.arange(n * fine) + 0.5) / fine for n in (320, 240)))
    at = found.to_photo(np.stack([x, y], axis=-1).reshape(-1, 2)).reshape(*x.shape, 2)
    back = cv2.remap(grey, at.astype(np.float32), None, cv2.INTER_LINEAR)
    flat = cv2.resize(light, back.shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32)
    for rows, cols in (((20, 140), (100, 220)), ((130, 230), (10, 150)), ((130, 230), (180, 310))):
        part = slice(rows[0] * fine, rows[1] * fine), slice(cols[0] * fine, cols[1] * fine)
        soft = [cv2.GaussianBlur((v[part] - v[part].mean()) / v[part].std(), (0, 0), 1.0)
                for v in (flat, back)]  # fmt: skip
        window = cv2.createHanningWindow(soft[0].shape[::-1], cv2.CV_32F)
        shift = np.hypot(*cv2.phaseCorrelate(*soft, window)[0]) / fine
        # A pixel of the photo is 0.4 mm on the sheet, of the tiny one about 1 mm.
        assert shift < (0.3 if how == "tiny" else 0.1)


def test_a_photo_has_a_margin_and_no_steep_tilt(plan) -> None:
    for seed in range(4):
        facts = taken(plan, seed).facts
        assert 8 <= facts["margin_mm"] <= 25
        assert facts["tilt"] <= 35
    assert load_photo(taken(plan).jpeg).linear.ndim == 3


def test_the_same_numbers_make_the_same_photo(plan) -> None:
    assert taken(plan).jpeg == taken(plan).jpeg
    assert taken(plan, 4).jpeg != taken(plan).jpeg


def test_what_goes_wrong_goes_wrong(plan) -> None:
    good = pixels(taken(plan).jpeg)
    assert pixels(taken(plan, spoil="night").jpeg).mean() < 0.45 * good.mean()
    assert max(pixels(taken(plan, spoil="tiny").jpeg).shape) == 400
    assert taken(plan, spoil="hand").facts["hidden"] >= 0.10
    blurred = taken(plan, spoil="blur")
    assert blurred.facts["shake_mm"] >= 3.0
    sharp = [cv2.Laplacian(p, cv2.CV_64F).std() for p in (good, pixels(blurred.jpeg))]
    assert sharp[1] < 0.8 * sharp[0]
    shining = pixels(taken(plan, spoil="glare").jpeg).min(axis=2)
    assert (shining > 250).mean() > (good.min(axis=2) > 250).mean() + 0.005


def test_spoiled_photos_lie_as_they_say(plan) -> None:
    corners = np.array([[0, 0], [320, 0], [320, 240], [0, 240]], float)

    def area(found) -> float:
        return float(cv2.contourArea(found.to_photo(corners).astype(np.float32), oriented=True))

    assert area(taken(plan)) > 0 > area(taken(plan, spoil="mirrored"))
    upside = taken(plan, spoil="upside-down").to_photo(corners)
    assert upside[0, 1] > upside[3, 1]
    cropped = taken(plan, spoil="cropped")
    wide, high = cropped.facts["size"]
    grid = np.stack(np.meshgrid(np.linspace(0, 320, 30), np.linspace(0, 240, 30)), -1)
    seen = cropped.to_photo(grid.reshape(-1, 2))
    inside = ((seen >= 0) & (seen < (wide, high))).all(axis=1).mean()
    assert 0.2 < inside < 0.7  # a third of the sheet with its margin lies outside


def test_another_painting_needs_its_plan(plan) -> None:
    with pytest.raises(ValueError, match="other painting"):
        taken(plan, spoil="other")
    assert taken(plan, spoil="empty").truth.ratios.shape[1] == 0


def test_subjects_are_pictures() -> None:
    assert len(subjects.SUBJECTS) == 6
    for name in subjects.SUBJECTS:
        picture = subjects.subject_pixels(name)
        assert picture.dtype == np.uint8
        assert picture.shape[2] == 3
