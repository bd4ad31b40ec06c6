"""A touched spot tells what the plan predicts there, and what the edits would make of it."""

import json
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

from firstwash.errors import RequestError
from firstwash.handout.reasons import reason_words
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab
from firstwash.paints.doubt import GLAZE_LAB, MODEL_LAB, NINE_OF_TEN
from firstwash.plan.assemble import stages_of
from firstwash.plan.bench import Bench
from firstwash.plan.edits import change_strength
from firstwash.plan.locks import Locks
from firstwash.plan.problem import Limits
from firstwash.plan.reasons import why
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_photo
from firstwash.worksheet.near_spot import near_strokes
from firstwash.worksheet.other_mixtures import alternatives_at, with_mixture
from firstwash.worksheet.section import LESS, MORE, section_of
from firstwash.worksheet.spot import answer_at, cell_at, photo_lab, reason_for
from firstwash.worksheet.strength import moved_stages, moved_strength
from firstwash.worksheet.words import (
    apart_words,
    area_told,
    effect_words,
    hex_of,
    hexes,
    length_told,
    sure_words,
)


@pytest.fixture
def plan(cup: PhotoPlan) -> Plan:
    return cup.plan


def middle(plan: Plan, cell: int) -> tuple[float, float]:
    """A place inside a cell, mm."""
    rows, cols = np.nonzero(plan.cells.index == cell)
    i = len(rows) // 2
    return (cols[i] + 0.5) / plan.cells.ppmm, (rows[i] + 0.5) / plan.cells.ppmm


def deepest(plan: Plan) -> int:
    """The cell with most coats."""
    return max(range(plan.cells.count), key=lambda c: len(plan.coats[c]))


# --- the answer ------------------------------------------------------------------


def test_every_cell_is_told_as_the_plan_predicts_it(plan: Plan) -> None:
    for cell in range(plan.cells.count):
        found = answer_at(plan, *middle(plan, cell))
        assert found.cell == cell
        assert found.shape == plan.cells.shape_of[cell]
        assert [(b.layer, b.strength) for b in found.bands] == [
            (layer, s) for layer, _, s in plan.coats[cell]
        ]
        seen = [plan.stage_labs[b.layer, cell] for b in found.bands]
        assert [b.seen.hex for b in found.bands] == [hex_of(lab) for lab in seen]
        assert found.stages == hexes(plan.stage_labs[:, cell])
        assert found.shown.hex == hex_of(plan.stage_labs[-1, cell])
        assert found.photo.hex == hex_of(plan.targets[cell])


def test_an_answer_is_plain_data(plan: Plan) -> None:
    told = json.loads(json.dumps(asdict(answer_at(plan, *middle(plan, deepest(plan))))))
    assert told["bands"][0]["parts"][0]["key"] in {p.key for p in plan.paints}
    shares = [part["share"] for part in told["bands"][0]["parts"]]
    assert sum(shares) == pytest.approx(1.0)


def test_bare_paper_has_no_bands(plan: Plan) -> None:
    bare = next(c for c in range(plan.cells.count) if not plan.coats[c])
    found = answer_at(plan, *middle(plan, bare))
    assert found.bands == ()
    assert found.shown == found.paper
    assert found.lighter == found.darker == found.paper.hex


@pytest.mark.parametrize(
    "spot", [(-5.0, 5.0), (5.0, 1e9), (float("nan"), 1.0), (1.0, float("inf")), (500.0, 5.0)]
)
def test_a_spot_off_the_sheet_is_refused(plan: Plan, spot: tuple[float, float]) -> None:
    with pytest.raises(RequestError, match="touch"):
        answer_at(plan, *spot)


def test_the_very_edge_is_on_the_sheet(plan: Plan) -> None:
    corner = cell_at(plan, plan.sheet.width_mm, plan.sheet.height_mm)
    assert corner == plan.cells.index[-1, -1]


def test_the_photo_is_looked_at_where_the_finger_is(cup: PhotoPlan) -> None:
    """A picture of one colour but for a spot of another: both ways of giving it see the spot."""
    reference = cup.reference
    xyz = np.full_like(reference.xyz, 0.5)
    x, y = 40.0, 30.0
    row, col = int(y * reference.ppmm), int(x * reference.ppmm)
    xyz[row - 6 : row + 7, col - 6 : col + 7] = (0.2, 0.1, 0.05)
    marked = replace(reference, xyz=xyz)
    expected = hex_of(xyz_to_lab(np.array([0.2, 0.1, 0.05])))
    for lab in (photo_lab(marked, x, y), marked.lab):
        assert answer_at(cup.plan, x, y, lab).photo.hex == expected
    assert answer_at(cup.plan, 100.0, 80.0, marked.lab).photo.hex != expected
    for x, y in ((0.0, 0.0), (150.0, 110.0)):
        assert np.isfinite(photo_lab(marked, x, y)).all()


def test_a_picture_of_another_form_is_refused(plan: Plan) -> None:
    with pytest.raises(ValueError, match="reference_lab"):
        answer_at(plan, 10.0, 10.0, np.zeros((4, 3)))


def test_leans_are_what_the_edit_would_give(plan: Plan) -> None:
    """To the last digit of the screen: the same model, only fewer stacks."""
    checked = 0
    for wash in plan.washes:
        for by, side in ((LESS, "less"), (MORE, "more")):
            if wash.strength * by > 1.0:
                continue
            cell = wash.cells[0]
            try:
                after = change_strength(plan, (wash.layer, wash.number), wash.strength * by)
            except RequestError:
                continue
            band = next(
                b for b in answer_at(plan, *middle(plan, cell)).bands if b.layer == wash.layer
            )
            lean = getattr(band, side)
            assert lean.seen == hex_of(after.stage_labs[wash.layer, cell])
            assert lean.end == hex_of(after.stage_labs[-1, cell])
            checked += 1
    assert checked > len(plan.washes)


def test_locks_are_shown(plan: Plan) -> None:
    cell = deepest(plan)
    first = answer_at(plan, *middle(plan, cell)).bands[0]
    locks = Locks(washes={(first.layer, first.wash)}, puddles={first.letter})  # type: ignore[arg-type]
    band = answer_at(plan, *middle(plan, cell), locks=locks).bands[0]
    assert (first.locked, first.puddle_locked) == (False, False)
    assert (band.locked, band.puddle_locked) == (True, True)


# --- the range -------------------------------------------------------------------


def sure(plan: Plan) -> Plan:
    """The plan with paints that are known exactly; what stays is the model's own doubt."""
    known = [
        replace(p, sigma=0.0, spread=np.zeros((1, 72)), provenance="calibrated")
        for p in plan.paints
    ]
    return replace(plan, paints=tuple(known))


def test_the_hand_widens_the_range_as_many_painters_would(plan: Plan) -> None:
    """Slips drawn as `plan.hands` defines them give the same spread of lightness.

    Within a tenth: the range takes the answer to a slip for a straight line, and 4000 draws are
    sure to about a fiftieth.
    """
    exact = sure(plan)
    coats = plan.coats[deepest(plan)]
    section = section_of(exact, coats)
    shown = painted(exact, coats, np.random.default_rng(5), 4000)
    model = MODEL_LAB**2 + GLAZE_LAB**2 * (len(coats) - 1)
    expected = NINE_OF_TEN * np.sqrt(shown.var() + model)
    assert section.lighter[-1, 0] - section.labs[-1, 0] == pytest.approx(expected, rel=0.1)
    assert section.labs[-1, 0] - section.darker[-1, 0] == pytest.approx(expected, rel=0.1)


def painted(plan: Plan, coats: object, rng: np.random.Generator, count: int) -> np.ndarray:
    """L* of a stack as so many painters lay it: loads off, and parts off with the load kept."""
    bench, sigma = Bench.of(plan.paints, plan.paper), plan.limits.hand
    out = np.empty(count)
    for n in range(count):
        slips = {}
        rows = []
        for _, q, strength in coats:  # type: ignore[attr-defined]
            if q not in slips:
                mixed = plan.recipes[q] * np.exp(sigma * rng.standard_normal(bench.colours))
                slips[q] = mixed * (plan.recipes[q] @ bench.loads) / (mixed @ bench.loads)
            rows.append(slips[q] * strength * np.exp(sigma * rng.standard_normal()))
        out[n] = bench.labs(np.array(rows))[-1, 0]
    return out


def test_a_hand_that_never_errs_leaves_the_doubt_of_the_paints(plan: Plan) -> None:
    coats = plan.coats[deepest(plan)]
    calm = replace(plan, limits=replace(plan.limits, hand=0.0))
    with_hand, without = section_of(plan, coats), section_of(calm, coats)
    np.testing.assert_allclose(with_hand.labs, without.labs)
    reach = [s.lighter[1:, 0] - s.darker[1:, 0] for s in (with_hand, without)]
    assert (reach[0] > reach[1]).all()


def test_a_stronger_coat_is_drawn_thicker(plan: Plan) -> None:
    layer, q, strength = plan.coats[deepest(plan)][0]
    pale, deep = (section_of(plan, [(layer, q, f * strength)]).thickness[0] for f in (0.5, 1.0))
    assert 0.0 < pale < deep <= 1.0
    assert deep == pytest.approx(2.0 * pale)


def refusal(
    edit: Callable[[Plan, tuple[int, int], float], object],
    plan: Plan,
    key: tuple[int, int],
    strength: float,
) -> str | None:
    """What an edit is refused with, or None."""
    try:
        edit(plan, key, strength)
    except RequestError as error:
        return str(error)
    return None


# --- strength --------------------------------------------------------------------


@pytest.mark.parametrize("factor", [0.4, 0.9, 1.0, 1.3])
def test_a_moved_strength_is_what_the_edit_gives(plan: Plan, factor: float) -> None:
    for wash in plan.washes:
        key, strength = (wash.layer, wash.number), min(wash.strength * factor, 1.0)
        if (said := refusal(change_strength, plan, key, strength)) is not None:
            assert refusal(moved_stages, plan, key, strength) == said
            continue
        found = moved_stages(plan, key, strength)
        after = change_strength(plan, key, strength)
        expected = after.stage_labs[:, list(wash.cells)].transpose(1, 0, 2)
        np.testing.assert_allclose(found, expected, atol=1e-9)


def test_a_graded_wash_keeps_its_grade(tmp_path: Path) -> None:
    """Its strength is that of its stronger end, as in the edit; the other end goes along."""
    photo = data.coffee()
    mask = np.full(photo.shape[:2], 255, dtype=np.uint8)
    mask[80:300, 100:480] = 0
    for name, pixels in (("photo", photo), ("mask", mask)):
        Image.fromarray(pixels).save(tmp_path / f"{name}.png")
    plan = plan_photo(
        tmp_path / "photo.png",
        Wishes(
            sheet="15x10cm",
            limits=Limits(shapes=20, washes=16, puddles=8),
            background="graded",
            background_mask=tmp_path / "mask.png",
        ),
    ).plan
    wash = next(w for w in plan.washes if w.kind == "graded wash")
    key = (wash.layer, wash.number)
    for strength in (0.1, 0.5):
        found = moved_stages(plan, key, strength)
        after = change_strength(plan, key, strength)
        expected = after.stage_labs[:, list(wash.cells)].transpose(1, 0, 2)
        np.testing.assert_allclose(found, expected, atol=1e-9)
    band = answer_at(plan, *middle(plan, wash.cells[-1])).bands[0]
    assert band.kind == "graded wash"
    assert band.strength <= band.wash_strength
    same = moved_strength(plan, key, strength=band.wash_strength, cell=wash.cells[-1])
    assert same.seen[1] == band.seen.hex


def test_what_would_lighten_the_sheet_is_refused_as_the_edit_does(plan: Plan) -> None:
    """Paints that scatter thirty times as much: over a dark, a full coat of them is paler."""
    opaque = tuple(replace(p, s=30.0 * p.s) for p in plan.paints)
    ready = Bench.of(opaque, plan.paper).puddles(plan.recipes)
    labs = stages_of(ready, plan.coats, plan.layers)
    chalky = replace(plan, paints=opaque, stage_labs=labs)
    refused = 0
    for wash in plan.washes:
        key = (wash.layer, wash.number)
        said = refusal(change_strength, chalky, key, 1.0)
        assert refusal(moved_stages, chalky, key, 1.0) == said
        refused += said is not None
    assert refused


def test_a_moved_strength_tells_the_page_what_to_repaint(plan: Plan) -> None:
    wash = max(plan.washes, key=lambda w: len(w.cells))
    key = (wash.layer, wash.number)
    same = moved_strength(plan, key, factor=1.0)
    assert same.words == "as planned"
    assert same.strength == pytest.approx(wash.strength)
    assert same.cells == wash.cells
    for cell, row in zip(same.cells, same.colours, strict=True):
        assert row == hexes(plan.stage_labs[1:, cell])
    paler = moved_strength(plan, key, strength=wash.strength / 2, cell=wash.cells[-1])
    assert paler.cell == wash.cells[-1]
    assert paler.step >= same.step
    assert paler.seen[-1] == paler.colours[-1][-1]
    json.dumps(asdict(paler))


def test_a_strength_that_cannot_be_is_refused(plan: Plan) -> None:
    for strength in (0.0, -1.0, 1.5, float("nan")):
        with pytest.raises(RequestError, match="strength"):
            moved_strength(plan, (1, 1), strength=strength)
    with pytest.raises(RequestError, match="either"):
        moved_strength(plan, (1, 1))
    with pytest.raises(RequestError, match="either"):
        moved_strength(plan, (1, 1), strength=0.5, factor=1.0)
    with pytest.raises(RequestError, match="times"):
        moved_strength(plan, (1, 1), factor=float("nan"))
    with pytest.raises(RequestError):
        moved_strength(plan, (9, 1), factor=1.0)
    elsewhere = next(c for c in range(plan.cells.count) if c not in plan.washes[0].cells)
    with pytest.raises(RequestError, match="does not lie there"):
        moved_strength(plan, (1, 1), factor=1.0, cell=elsewhere)
    with pytest.raises(RequestError, match="kept as it is"):
        moved_strength(plan, (1, 1), factor=1.0, locks=Locks(layers={1}))  # type: ignore[arg-type]


# --- other mixtures and reasons --------------------------------------------------


def test_other_mixtures_end_as_told_when_taken(plan: Plan) -> None:
    """The colour shown for a mixture is that of the plan in which it was taken."""
    taken = 0
    for wash in plan.washes[::3]:
        for other in alternatives_at(plan, wash.layer, wash.number, most=3, cell=wash.cells[0]):
            json.dumps(asdict(other))
            try:
                after = with_mixture(plan, wash.layer, wash.number, other)
            except RequestError:
                continue  # what stands between may lighten the sheet
            assert other.end.hex == hex_of(after.stage_labs[-1, wash.cells[0]])
            taken += 1
    assert taken > len(plan.washes[::3])


def test_other_mixtures_are_for_washes_that_are_there(plan: Plan) -> None:
    with pytest.raises(RequestError):
        alternatives_at(plan, 7, 1)
    elsewhere = next(c for c in range(plan.cells.count) if c not in plan.washes[0].cells)
    with pytest.raises(RequestError, match="does not lie there"):
        alternatives_at(plan, 1, 1, cell=elsewhere)


def test_reasons_are_the_plans_own_for_first_washes(plan: Plan) -> None:
    for wash in plan.washes:
        told = reason_for(plan, wash.layer, wash.number)
        assert told.endswith(".")
        if wash.layer == 1:
            assert told == reason_words(why(plan, wash), plan)
    with pytest.raises(RequestError):
        reason_for(plan, 1, 999)


# --- fine strokes ----------------------------------------------------------------


def test_a_stroke_under_the_finger_is_found(plan: Plan) -> None:
    assert plan.touches
    for i, touch in enumerate(plan.touches):
        points = touch.stroke.points_mm
        x, y = points[len(points) // 2]
        found = near_strokes(plan, float(x), float(y))
        here = [s for s in found if s.index == i]
        assert here or len(found) == 4  # four others may lie as near
        assert found[0].distance_mm == 0.0
        if here:
            assert here[0].letter == (
                None if touch.puddle is None else plan.puddles[touch.puddle].name
            )


def test_strokes_far_away_are_not_told(plan: Plan) -> None:
    empty = replace(plan, touches=plan.touches[:1])
    x, y = plan.touches[0].stroke.points_mm[0]
    assert near_strokes(empty, float(x) + 60.0, float(y)) == ()


# --- words -----------------------------------------------------------------------


def lab(lightness: float, a: float = 0.0, b: float = 0.0) -> np.ndarray:
    return np.array([lightness, a, b])


def test_words_follow_the_numbers() -> None:
    grey, paper = lab(60.0), lab(95.0, 0.0, 2.0)
    assert apart_words(grey, grey) == "the same to the eye"
    assert apart_words(lab(70.0), grey) == "one value step lighter"
    assert apart_words(lab(39.0), grey) == "two value steps darker"
    assert "warmer" in apart_words(lab(60.0, 10.0, 14.0), grey)
    assert effect_words(paper, lab(85.0, 4.0, 40.0), paper) == "tints the paper pale yellow"
    assert effect_words(grey, lab(50.0, -4.0, -20.0), paper).startswith("cools and")
    assert sure_words(grey, lab(61.0), lab(59.0)).startswith("close; nobody")
    assert sure_words(grey, lab(62.0), lab(50.0)) == "could come out one value step darker"


def test_inches_are_told_as_a_ruler_shows_them() -> None:
    assert length_told(3.2, "in") == "⅛ inch"
    assert length_told(25.4, "in") == "1 inch"
    assert length_told(254.0, "in") == "10 inches"
    assert length_told(2540.0, "in") == "8 feet"
    assert area_told(2 * 25.4**2, "in") == "2.0 sq in"
    assert area_told(200.0) == "2.0 cm²"


def test_what_is_called_the_same_is_the_same() -> None:
    """Random pairs: the words for no difference go with a small CIEDE2000 and only with that."""
    rng = np.random.default_rng(3)
    for _ in range(200):
        one = np.array([rng.uniform(10, 95), *rng.normal(0, 25, 2)])
        other = one + rng.normal(0, 2, 3)
        same = apart_words(one, other) == "the same to the eye"
        assert same == (float(delta_e_2000(one, other)) < 1.5)
