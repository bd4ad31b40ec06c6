"""Locks, edits and planning again: what is kept is kept to the last bit, the rest fits better."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.reference import BACKGROUND, Reference, with_background
from firstwash.plan.bench import Bench
from firstwash.plan.edits import (
    change_recipe,
    change_strength,
    recolour,
    replace_puddle,
    wish_for,
)
from firstwash.plan.fitting import in_a_hurry
from firstwash.plan.locks import Locks, find_puddle, find_wash, held, same_locks
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.rebuild import rebuilt
from firstwash.plan.replan import _as_fitted, replan
from firstwash.plan.result import Plan
from firstwash.plan.shape_coats import EditDesk, solve_shape
from firstwash.plan.stacks import solve_stack
from firstwash.plan.wash import Wash

LIMITS = Limits(washes=30, shapes=40, puddles=8, touches=12)
# Coats that lighten the sheet are priced in every fit; what is left is what planner tests allow.
LIGHTENS = 0.5


@pytest.fixture(scope="module")
def coffee(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("coffee", "14x19cm")


@pytest.fixture(scope="module")
def plan(coffee: Reference) -> Plan:
    """At most 30 washes, all of them taken."""
    return make_plan(coffee, load_set("measured").paints, LIMITS)


@pytest.fixture(scope="module")
def loose(coffee: Reference) -> Plan:
    """As many washes as the picture likes."""
    return make_plan(coffee, load_set("measured").paints, replace(LIMITS, washes=None))


def snapshot(plan: Plan) -> tuple[Any, ...]:
    """All that an edit could change by mistake."""
    return (
        plan.coats,
        tuple((p.name, p.parts, p.strength_range) for p in plan.puddles),
        tuple((w.layer, w.number, w.puddle, w.strength, w.cells) for w in plan.washes),
        plan.stage_labs.tobytes(),
        plan.aims.tobytes(),
        plan.doubts.tobytes(),
        tuple((t.puddle, t.strength, t.lab) for t in plan.touches),
        plan.schedule.steps,
    )


def named(plan: Plan, cell: int) -> list[tuple[int, str, float]]:
    return [(layer, plan.puddles[q].name, s) for layer, q, s in plan.coats[cell]]


def mixture(plan: Plan, q: int) -> dict[str, float]:
    return {plan.paints[p].key: amount for p, amount in plan.puddles[q].parts}


def check_consistent(plan: Plan) -> None:
    """Washes, puddles, coats and colours tell the same story."""
    graded = {c for w in plan.washes if w.kind == "graded wash" for c in w.cells}
    laid = {(w.layer, w.puddle, w.strength) for w in plan.washes if w.kind != "graded wash"}
    coats = {c for i, own in enumerate(plan.coats) if i not in graded for c in own}
    assert coats == laid
    for wash in plan.washes:
        if wash.kind == "graded wash":
            continue
        key = (wash.layer, wash.puddle, wash.strength)
        assert list(wash.cells) == [i for i, own in enumerate(plan.coats) if key in own]
        assert set(wash.shapes) == {int(plan.cells.shape_of[c]) for c in wash.cells}
    for layer in range(1, plan.layers + 1):
        numbers = [w.number for w in plan.washes_of(layer)]
        assert numbers == list(range(1, len(numbers) + 1))
        painted = {n for s in plan.schedule.steps[layer - 1] if hasattr(s, "ids") for n in s.ids}
        assert painted == set(numbers)
    assert {w.puddle for w in plan.washes} == set(range(len(plan.puddles)))
    assert len({p.name for p in plan.puddles}) == len(plan.puddles)
    assert all(t.puddle is None or t.puddle < len(plan.puddles) for t in plan.touches)
    for own in plan.coats:
        layers = [layer for layer, _, _ in own]
        assert layers == sorted(set(layers))
        assert all(0.0 < s <= 1.0 for _, _, s in own)
    check_colours(plan)


def check_colours(plan: Plan) -> None:
    """Stage colours recomputed from the coats, and only darker."""
    bench = Bench.of(plan.paints, plan.paper).puddles(plan.recipes)
    for cell, own in enumerate(plan.coats):
        amounts = np.zeros((len(own), bench.colours))
        for i, (_, q, s) in enumerate(own):
            amounts[i, q] = s
        labs = bench.labs(amounts)
        done = np.searchsorted([c[0] for c in own], np.arange(plan.layers + 1), side="right")
        # 1e-9: the same kernel on the same numbers, but puddles' curves may be summed anew.
        np.testing.assert_allclose(plan.stage_labs[:, cell], labs[done], atol=1e-9)


def rises(plan: Plan) -> np.ndarray:
    return np.diff(plan.stage_labs[..., 0], axis=0).max(axis=0)


def check_nested(plan: Plan, shape: int) -> None:
    """Of any two cells of a shape one has the other's coats, and maybe more."""
    own = [plan.coats[c] for c in np.flatnonzero(plan.cells.shape_of == shape)]
    ordered = sorted(own, key=len)
    for less, more in pairwise(ordered):
        assert more[: len(less)] == less


# --- locks -----------------------------------------------------------------------


def test_locks_take_any_collection_and_tell_whether_there_are_any() -> None:
    locks = Locks(washes=[(1, 2)], puddles=["A"], paints=("PB29",), layers={1})  # type: ignore[arg-type]
    assert locks.washes == frozenset({(1, 2)})
    assert locks
    assert not Locks()


@pytest.mark.parametrize(
    "wrong",
    [
        {"puddles": "AB"},
        {"washes": (1, 2)},
        {"washes": [(1,)]},
        {"washes": [(1, 2.0)]},
        {"washes": [(True, 2)]},
        {"layers": 3},
        {"layers": [1.5]},
        {"layers": [True]},
        {"paints": [None]},
    ],
)
def test_locks_that_name_nothing_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(RequestError):
        Locks(**wrong)


@pytest.mark.parametrize(
    ("locks", "words"),
    [
        (Locks(washes=frozenset({(9, 1)})), "layers 1 to 4"),
        (Locks(washes=frozenset({(1, 99)})), "Layer 1 has washes 1 to"),
        (Locks(puddles=frozenset({"ZZ"})), "There is no puddle"),
        (Locks(paints=frozenset({"nothing"})), "not on the palette"),
        (Locks(layers=frozenset({0})), "layers 1 to 4"),
    ],
)
def test_locks_are_checked_against_the_plan(plan: Plan, locks: Locks, words: str) -> None:
    with pytest.raises(RequestError, match=words):
        held(plan, locks)


def test_a_locked_wash_closes_its_places_and_its_puddle(plan: Plan) -> None:
    wash = plan.washes_of(2)[0]
    keep = held(plan, Locks(washes=frozenset({(2, wash.number)})))
    assert set(np.flatnonzero(keep.closed[:, 1])) == set(wash.cells)
    assert not keep.closed[:, [0, 2, 3]].any()
    assert keep.recipes == {wash.puddle}
    assert keep.paints == {p for p, _ in plan.puddles[wash.puddle].parts}


def test_a_locked_paint_is_tied_to_the_puddles_that_hold_it(plan: Plan) -> None:
    p = plan.puddles[0].parts[0][0]
    keep = held(plan, Locks(paints=frozenset({plan.paints[p].key})))
    expected = [p in {n for n, _ in puddle.parts} for puddle in plan.puddles]
    assert keep.tied[:, p].tolist() == expected
    assert not keep.recipes


# --- putting a plan together again -----------------------------------------------


def test_nothing_changed_shares_everything(plan: Plan) -> None:
    again = rebuilt(plan, plan.coats)
    for name in ("washes", "puddles", "touches"):
        old, new = getattr(plan, name), getattr(again, name)
        assert len(old) == len(new)
        assert all(a is b for a, b in zip(old, new, strict=True)), name
    assert again.schedule.steps == plan.schedule.steps
    assert again.schedule.minutes == plan.schedule.minutes
    np.testing.assert_array_equal(again.stage_labs, plan.stage_labs)


# --- another colour for a shape --------------------------------------------------


def painted_shapes(plan: Plan) -> list[int]:
    return sorted({int(plan.cells.shape_of[c]) for c, own in enumerate(plan.coats) if own})


def shifted(plan: Plan, shape: int, *by: float) -> np.ndarray:
    """What a shape shows on average, moved in L*, a*, b*."""
    return mean_of(plan, shape) + np.array(by)


def mean_of(plan: Plan, shape: int) -> np.ndarray:
    cells = [c for c in np.flatnonzero(plan.cells.shape_of == shape) if plan.coats[c]]
    areas = plan.cells.areas_mm2()[cells]
    return np.asarray(areas @ plan.aims[cells] / areas.sum())


@settings(max_examples=60)
@given(data=st.data())
def test_only_the_recoloured_shape_changes(plan: Plan, loose: Plan, data: st.DataObject) -> None:
    before = data.draw(st.sampled_from([plan, loose]))
    shape = data.draw(st.sampled_from(painted_shapes(before)))
    far = st.floats(-60.0, 60.0)
    lab = np.array([data.draw(st.floats(0.0, 100.0)), data.draw(far), data.draw(far)])
    was = snapshot(before)
    try:
        found = recolour(before, shape, lab)
    except RequestError as refused:
        said = str(refused)
    else:
        said, after = "", found.plan
    assert snapshot(before) == was
    if said:  # a wild colour that only a coat which dries lighter would come near
        assert "dry lighter" in said
        return
    elsewhere = np.flatnonzero(before.cells.shape_of != shape)
    np.testing.assert_array_equal(after.stage_labs[:, elsewhere], before.stage_labs[:, elsewhere])
    for cell in elsewhere.tolist():
        assert named(after, cell) == named(before, cell)
        same_numbers = [p.name for p in after.puddles] == [p.name for p in before.puddles]
        assert after.coats[cell] is before.coats[cell] or not same_numbers
    bare = [c for c in np.flatnonzero(before.cells.shape_of == shape) if not before.coats[c]]
    assert all(after.coats[c] == () for c in bare)
    letters = {p.name: mixture(before, q) for q, p in enumerate(before.puddles)}
    assert all(mixture(after, q) == letters[p.name] for q, p in enumerate(after.puddles))
    check_nested(after, shape)
    check_consistent(after)
    assert (rises(after) <= np.maximum(rises(before), LIGHTENS) + 1e-9).all()
    if before.limits.washes is not None:
        assert len(after.washes) <= before.limits.washes


def test_untouched_washes_and_puddles_are_the_same_objects(plan: Plan) -> None:
    shape = painted_shapes(plan)[5]
    after = recolour(plan, shape, shifted(plan, shape, -6.0, 8.0, 0.0)).plan
    old = {id(w) for w in plan.washes}
    changed = [w for w in after.washes if id(w) not in old]
    touched = {w.layer for w in (*plan.washes, *after.washes) if shape in w.shapes}
    assert all(w.layer in touched for w in changed)


@pytest.mark.parametrize("which", ["plan", "loose"])
def test_the_shape_moves_towards_the_wish(which: str, request: pytest.FixtureRequest) -> None:
    before: Plan = request.getfixturevalue(which)
    rng = np.random.default_rng(11)
    was, now, free = [], [], []
    bench = Bench.of(before.paints, before.paper)
    desk = EditDesk(before)
    for shape in painted_shapes(before):
        lab = mean_of(before, shape) + rng.normal(0.0, [10.0, 12.0, 12.0])
        wish = wish_for(before, shape, np.clip(lab, [5.0, -60.0, -60.0], [98.0, 60.0, 60.0]))
        areas = desk.areas[wish.cells]
        share = areas / areas.sum()
        found = solve_shape(desk, wish)
        was.append(float(delta_e_2000(before.stage_labs[-1][wish.cells], wish.aims) @ share))
        now.append(found.miss)
        ideal = solve_stack(bench, shape, wish.cells, wish.aims, areas, before.layers)
        labs = bench.labs(ideal.amounts)[ideal.coats_of]
        free.append(float(delta_e_2000(labs, wish.aims) @ share))
    print(f"{which}: {np.mean(was):.2f} → {np.mean(now):.2f}, all paints free {np.mean(free):.2f}")
    # A lead-in under a dark shape may cost a little of the match, as in the planner.
    assert np.mean(np.array(now) <= np.array(was) + 0.5) > 0.97
    assert np.mean(now) < (0.75 if which == "plan" else 0.45) * np.mean(was)
    # Measured: eight given puddles cost 2 to 3 CIEDE2000 against mixing anew for each wish.
    if which == "loose":
        assert np.mean(now) < np.mean(free) + 4.0


def test_a_wish_already_met_changes_little(loose: Plan) -> None:
    desk = EditDesk(loose)
    worse = []
    for shape in painted_shapes(loose):
        wish = wish_for(loose, shape, mean_of(loose, shape))
        share = desk.areas[wish.cells] / desk.areas[wish.cells].sum()
        old = float(delta_e_2000(loose.stage_labs[-1][wish.cells], wish.aims) @ share)
        worse.append(solve_shape(desk, wish).miss - old)
    # Squared errors and lead-ins are what is minimised, so the mean may lose a little.
    assert np.mean(worse) < 0.1
    assert max(worse) < 3.0


def test_where_no_wash_is_left_the_shape_joins_others(plan: Plan) -> None:
    plan = replace(plan, limits=replace(plan.limits, washes=len(plan.washes)))
    sharing = [s for s in painted_shapes(plan) if all(len(w.shapes) > 1 for w in own(plan, s))]
    found = recolour(plan, sharing[0], shifted(plan, sharing[0], -5.0, 10.0, 5.0))
    assert not found.own
    assert "laid with" in found.words.lower()
    more = replace(plan, limits=replace(plan.limits, washes=40))
    better = recolour(more, sharing[0], shifted(plan, sharing[0], -5.0, 10.0, 5.0))
    assert better.miss <= found.miss + 0.1
    assert len(better.plan.washes) <= 40


def own(plan: Plan, shape: int) -> list[Wash]:
    return [w for w in plan.washes if shape in w.shapes]


def test_a_single_cell_may_be_recoloured(loose: Plan) -> None:
    shape = next(s for s in painted_shapes(loose) if (loose.cells.shape_of == s).sum() > 1)
    cells = np.flatnonzero(loose.cells.shape_of == shape)
    target = loose.aims[cells[-1]] + np.array([-10.0, 0.0, 5.0])
    after = recolour(loose, shape, target, cells=[int(cells[-1])]).plan
    low, high = loose.tone.floor, loose.tone.ceiling
    np.testing.assert_allclose(after.aims[cells[-1], 0], np.clip(target[0], low, high))
    np.testing.assert_array_equal(after.aims[cells[:-1]], loose.aims[cells[:-1]])
    check_nested(after, shape)


def test_white_leaves_bare_paper_that_stays_bare_until_named(loose: Plan) -> None:
    white = loose.stage_labs[0, 0]
    shape = next(
        s
        for s in painted_shapes(loose)
        if (loose.cells.shape_of == s).sum() > 1 and loose.coats[first_cell(loose, s)]
    )
    lightest = first_cell(loose, shape)
    reserved = recolour(loose, shape, white, cells=[lightest]).plan
    assert reserved.coats[lightest] == ()
    darker = recolour(reserved, shape, shifted(reserved, shape, -5.0, 5.0, 5.0)).plan
    assert darker.coats[lightest] == ()
    named_ = recolour(reserved, shape, np.array([70.0, 5.0, 20.0]), cells=[lightest]).plan
    assert named_.coats[lightest]
    for after in (reserved, darker, named_):
        check_nested(after, shape)
        check_consistent(after)


def first_cell(plan: Plan, shape: int) -> int:
    return int(np.flatnonzero(plan.cells.shape_of == shape)[0])


def test_a_bare_shape_may_be_painted(loose: Plan) -> None:
    shape = next(s for s in painted_shapes(loose) if (loose.cells.shape_of == s).sum() == 1)
    bare = recolour(loose, shape, loose.stage_labs[0, 0])
    assert bare.plan.coats[first_cell(loose, shape)] == ()
    assert bare.words == "Left as bare paper."
    assert recolour(bare.plan, shape, np.array([60.0, 0.0, 20.0])).plan.coats[
        first_cell(loose, shape)
    ]


def test_locked_coats_stay_under_a_new_colour(loose: Plan) -> None:
    rng = np.random.default_rng(5)
    for shape in painted_shapes(loose)[:20]:
        washes = own(loose, shape)
        kept = washes[int(rng.integers(len(washes)))]
        locks = Locks(washes=frozenset({(kept.layer, kept.number)}))
        lab = mean_of(loose, shape) + rng.normal(0.0, 12.0, 3)
        lab[0] = np.clip(lab[0], 5.0, 95.0)
        after = recolour(loose, shape, lab, locks=locks).plan
        moved = same_locks(locks, loose, after)
        assert len(moved.washes) == 1
        assert find_wash(after, next(iter(moved.washes))).cells == kept.cells


def test_a_locked_layer_takes_no_new_coat(loose: Plan) -> None:
    locks = Locks(layers=frozenset({1}))
    for shape in painted_shapes(loose)[:15]:
        if all(
            c[0] == 1 for i in np.flatnonzero(loose.cells.shape_of == shape) for c in loose.coats[i]
        ):
            continue
        lab = shifted(loose, shape, -8.0, 6.0, 6.0)
        after = recolour(loose, shape, np.maximum(lab, [3.0, -90.0, -90.0]), locks=locks).plan
        for cell in range(loose.cells.count):
            before = [c for c in named(loose, cell) if c[0] == 1]
            assert [c for c in named(after, cell) if c[0] == 1] == before


def test_a_shape_locked_in_every_layer_cannot_be_recoloured(loose: Plan) -> None:
    with pytest.raises(RequestError, match="is kept as it is"):
        recolour(loose, 0, np.array([50.0, 0, 0]), locks=Locks(layers=frozenset({1, 2, 3, 4})))


def test_nobody_joins_a_locked_wash(plan: Plan) -> None:
    locks = Locks(washes=frozenset((w.layer, w.number) for w in plan.washes_of(1)))
    rng = np.random.default_rng(8)
    for shape in painted_shapes(plan)[:15]:
        lab = mean_of(plan, shape) + rng.normal(0.0, 12.0, 3)
        lab[0] = np.clip(lab[0], 5.0, 95.0)
        try:
            after = recolour(plan, shape, lab, locks=locks).plan
        except RequestError:
            continue
        assert same_locks(locks, plan, after).washes
        assert {w.cells for w in plan.washes_of(1)} <= {w.cells for w in after.washes_of(1)}


@pytest.mark.parametrize(
    ("shape", "lab", "cells"),
    [
        (-1, (50.0, 0.0, 0.0), None),
        (10_000, (50.0, 0.0, 0.0), None),
        (0, (np.nan, 0.0, 0.0), None),
        (0, (50.0, np.inf, 0.0), None),
        (0, (150.0, 0.0, 0.0), None),
        (0, (50.0, 0.0), None),
        (0, "red", None),
        (0, (50.0, 0.0, 0.0), []),
        (0, (50.0, 0.0, 0.0), [9_999]),
    ],
)
def test_wishes_that_cannot_be_are_refused(plan: Plan, shape: Any, lab: Any, cells: Any) -> None:
    with pytest.raises(RequestError):
        recolour(plan, shape, lab, cells=cells)


# --- another puddle, recipe or strength ------------------------------------------


def test_another_strength_reaches_just_its_cells(plan: Plan) -> None:
    wash = max(plan.washes_of(2), key=lambda w: w.strength)
    was = snapshot(plan)
    after = change_strength(plan, (2, wash.number), 0.7 * wash.strength)
    assert snapshot(plan) == was
    rest = np.setdiff1d(np.arange(plan.cells.count), wash.cells)
    np.testing.assert_array_equal(after.stage_labs[:, rest], plan.stage_labs[:, rest])
    cells = list(wash.cells)
    assert (after.stage_labs[2, cells, 0] > plan.stage_labs[2, cells, 0]).all()
    check_consistent(after)
    assert change_strength(after, _key(after, wash), wash.strength).coats == plan.coats


def _key(plan: Plan, wash: Wash) -> tuple[int, int]:
    same = next(w for w in plan.washes if w.layer == wash.layer and w.cells == wash.cells)
    return same.layer, same.number


def test_fitting_later_washes_again_makes_up_for_an_edit(plan: Plan) -> None:
    def missed(after: Plan) -> float:
        errors = delta_e_2000(after.stage_labs[-1], plan.aims)
        return float((errors**2) @ plan.cells.areas_mm2())

    wash = max(plan.washes_of(1), key=lambda w: w.area_mm2)
    plain = change_strength(plan, (1, wash.number), 0.5 * wash.strength)
    fitted = change_strength(plan, (1, wash.number), 0.5 * wash.strength, refit=True)
    assert missed(fitted) < missed(plain)
    check_consistent(fitted)
    later = Locks(layers=frozenset({2, 3, 4}))
    locked = change_strength(plan, (1, wash.number), 0.5 * wash.strength, later, refit=True)
    assert locked.coats == plain.coats


def _out_of_first(plan: Plan, wash: Wash) -> tuple[Wash, Plan] | None:
    """A wash laid from the first puddle instead; None where that would lighten the sheet."""
    try:
        return wash, replace_puddle(plan, (2, wash.number), plan.puddles[0].name)
    except RequestError:  # what it says is tested with the other refusals
        return None


def test_a_wash_out_of_another_puddle(plan: Plan) -> None:
    wash, after = next(
        found for w in plan.washes_of(2) if w.puddle != 0 and (found := _out_of_first(plan, w))
    )
    check_consistent(after)
    assert all((2, plan.puddles[0].name, wash.strength) in named(after, c) for c in wash.cells)


def test_a_new_mixture_gets_a_new_letter(plan: Plan) -> None:
    shared = next(
        w for w in plan.washes_of(2) if sum(v.puddle == w.puddle for v in plan.washes) > 1
    )
    clear = plan.puddles[shared.puddle].parts[0][0]
    parts = {plan.paints[clear].key: 3, plan.paints[(clear + 1) % len(plan.paints)].key: 1}
    after = replace_puddle(plan, (2, shared.number), parts)
    check_consistent(after)
    new = {p.name for p in after.puddles} - {p.name for p in plan.puddles}
    assert len(new) == 1
    made = mixture(after, find_puddle(after, next(iter(new))))
    coats = {p.key: p.full_coat for p in plan.paints}
    # Three parts to one of each paint's own full coat, to rounding.
    assert {k: a / coats[k] for k, a in made.items()} == pytest.approx(
        {k: n / 4 for k, n in parts.items()}
    )


def test_another_recipe_changes_every_wash_of_the_puddle(plan: Plan) -> None:
    q = plan.washes_of(2)[0].puddle
    key = plan.paints[plan.puddles[q].parts[0][0]].key
    after = change_recipe(plan, plan.puddles[q].name, {key: 1})
    check_consistent(after)
    assert mixture(after, q) == {
        key: pytest.approx(plan.paints[plan.puddles[q].parts[0][0]].full_coat)
    }
    changed = (after.stage_labs != plan.stage_labs).any(axis=(0, 2))
    users = {c for w in plan.washes if w.puddle == q for c in w.cells}
    assert set(np.flatnonzero(changed)) <= users


def test_what_is_locked_cannot_be_edited(plan: Plan) -> None:
    wash = plan.washes_of(2)[0]
    letter = plan.puddles[wash.puddle].name
    paint = plan.paints[plan.puddles[wash.puddle].parts[0][0]].key
    other = next(p.key for p in plan.paints if p.key != paint)
    key = (2, wash.number)
    for locks in (Locks(washes=frozenset({key})), Locks(layers=frozenset({2}))):
        with pytest.raises(RequestError, match="kept as it is"):
            change_strength(plan, key, 0.1, locks)
        with pytest.raises(RequestError, match="kept as it is"):
            replace_puddle(plan, key, {other: 1}, locks)
        with pytest.raises(RequestError, match="kept as it is"):
            change_recipe(plan, letter, {other: 1}, locks)
    with pytest.raises(RequestError, match="kept as it is"):
        change_recipe(plan, letter, {other: 1}, Locks(puddles=frozenset({letter})))
    with pytest.raises(RequestError, match="must stay"):
        change_recipe(plan, letter, {other: 1}, Locks(paints=frozenset({paint})))


@pytest.mark.parametrize("strength", [0.0, -1.0, 1.5, np.nan, np.inf, "strong", None])
def test_strengths_that_cannot_be_are_refused(plan: Plan, strength: Any) -> None:
    with pytest.raises(RequestError, match="strength"):
        change_strength(plan, (1, 1), strength)


@pytest.mark.parametrize(
    "parts",
    [
        {},
        {"nothing": 1},
        {"first": 0},
        {"first": np.nan},
        {"first": "a lot"},
        {"first": 100, "next": 1},
        7,
    ],
)
def test_recipes_that_cannot_be_are_refused(plan: Plan, parts: Any) -> None:
    if isinstance(parts, dict):
        names = {"first": plan.paints[0].key, "next": plan.paints[1].key}
        parts = {names.get(k, k): v for k, v in parts.items()}
    with pytest.raises(RequestError):
        replace_puddle(plan, (1, 1), parts)


def test_a_limited_share_is_kept_in_new_recipes(plan: Plan) -> None:
    key, other = plan.paints[0].key, plan.paints[1].key
    capped = replace(plan, limits=replace(plan.limits, caps=((key, 0.25),)))
    with pytest.raises(RequestError, match="25%"):
        change_recipe(capped, "A", {key: 1, other: 1})
    check_consistent(change_recipe(capped, "A", {key: 1, other: 3}))


def test_too_many_paints_for_a_puddle_are_refused(plan: Plan) -> None:
    with pytest.raises(RequestError, match="at most 3"):
        change_recipe(plan, "A", {p.key: 1 for p in plan.paints[:4]})


# --- planning again --------------------------------------------------------------


def check_kept(before: Plan, after: Plan, locks: Locks) -> None:
    """Everything locked is in the new plan to the last bit."""
    keep = held(before, locks)
    for cell in range(before.cells.count):
        now = {c[0]: c for c in named(after, cell)}
        for coat in named(before, cell):
            if keep.closed[cell, coat[0] - 1]:
                assert now[coat[0]] == coat
        for layer in locks.layers:
            if layer not in {c[0] for c in named(before, cell)}:
                assert layer not in now
    for q in keep.recipes:
        name = before.puddles[q].name
        if name in {p.name for p in after.puddles}:
            assert mixture(after, find_puddle(after, name)) == mixture(before, q)
        else:
            assert any(name in note for note in after.notes)
    moved = same_locks(locks, before, after)
    assert len(moved.washes) == len(locks.washes)
    assert {before.paints[p].key for p in keep.paints} <= {p.key for p in after.paints}


def test_without_locks_the_plan_comes_out_the_same(plan: Plan, coffee: Reference) -> None:
    again = replan(plan, coffee)
    assert again.coats == plan.coats
    np.testing.assert_array_equal(again.stage_labs, plan.stage_labs)


def test_a_plan_made_simpler_for_its_hours_stays_as_simple(plan: Plan) -> None:
    asked = replace(plan.limits, hours=3.0, puddles=14, washes=99)
    told = plan.told_more(limits=asked)
    assert _as_fitted(told, asked) == asked  # fitted as it was
    quick = in_a_hurry(told)
    again = _as_fitted(quick, asked)
    assert (again.layers, again.puddles, again.washes) == (
        plan.layers, len(plan.puddles), len(plan.washes),
    )  # fmt: skip
    assert _as_fitted(quick, replace(asked, hours=None)).washes == 99  # no hours, no haste


def test_all_layers_locked_is_the_same_painting(plan: Plan, coffee: Reference) -> None:
    locks = Locks(layers=frozenset({1, 2, 3, 4}))
    again = replan(plan, coffee, locks=locks)
    check_kept(plan, again, locks)
    assert [named(again, c) for c in range(plan.cells.count)] == [
        named(plan, c) for c in range(plan.cells.count)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("which", ["plan", "loose"])
@pytest.mark.parametrize("what", ["layer", "washes", "puddles", "paint", "all"])
def test_locked_things_stay_and_the_rest_fits(
    which: str, what: str, coffee: Reference, request: pytest.FixtureRequest
) -> None:
    before: Plan = request.getfixturevalue(which)
    two = frozenset((w.layer, w.number) for w in before.washes[::9][:3])
    letters = frozenset(p.name for p in before.puddles[1::3])
    paint = frozenset({before.paints[before.puddles[0].parts[0][0]].key})
    locks = {
        "layer": Locks(layers=frozenset({1})),
        "washes": Locks(washes=two),
        "puddles": Locks(puddles=letters),
        "paint": Locks(paints=paint),
        "all": Locks(two, letters, paint, frozenset({1})),
    }[what]
    after = replan(before, coffee, locks=locks)
    check_kept(before, after, locks)
    check_consistent(after)
    if before.limits.washes is not None:
        assert len(after.washes) <= before.limits.washes
    assert len(after.puddles) <= (before.limits.puddles or len(after.puddles))
    for q, puddle in enumerate(after.puddles):
        assert len(puddle.parts) <= before.limits.paints_per_puddle, q
    print(
        f"{which}, {what}: {before.report.against_target.mean:.3f} → "
        f"{after.report.against_target.mean:.3f}"
    )
    # Measured: within 0.1 of the free plan; the search is not exact, so either may be better.
    assert after.report.against_target.mean < before.report.against_target.mean + 0.4


def test_a_locked_paint_stays_in_its_puddles(plan: Plan, coffee: Reference) -> None:
    p = plan.puddles[0].parts[0][0]
    key = plan.paints[p].key
    after = replan(plan, coffee, locks=Locks(paints=frozenset({key})))
    assert key in {q.key for q in after.paints}
    assert any(key in mixture(after, q) for q in range(len(after.puddles)))


def test_fewer_washes_around_a_locked_layer(plan: Plan, coffee: Reference) -> None:
    locks = Locks(layers=frozenset({1}))
    fewer = replace(plan.limits, washes=22)
    after = replan(plan, coffee, fewer, locks)
    check_kept(plan, after, locks)
    assert len(after.washes) <= 22


def test_wishes_survive_planning_again(loose: Plan, coffee: Reference) -> None:
    shape = painted_shapes(loose)[3]
    edited = recolour(loose, shape, shifted(loose, shape, -8.0, 10.0, -10.0)).plan
    after = replan(edited, coffee)
    np.testing.assert_array_equal(after.aims, edited.aims)


def test_refining_aims_at_the_wish_not_at_the_photo(plan: Plan, coffee: Reference) -> None:
    shape = max(painted_shapes(plan), key=lambda s: float(areas_of(plan, s).sum()))
    edited = recolour(plan, shape, shifted(plan, shape, -15.0, -20.0, -20.0)).plan
    after = replan(edited, coffee)  # washes are limited, so what is shared is refined
    own, share = np.flatnonzero(plan.cells.shape_of == shape), areas_of(plan, shape)

    def off(finals: np.ndarray, wanted: np.ndarray) -> float:
        return float(np.average(delta_e_2000(finals[own], wanted[own]), weights=share))

    finals = after.stage_labs[-1]
    assert off(finals, edited.aims) < 0.5 * off(finals, plan.aims)


def areas_of(plan: Plan, shape: int) -> np.ndarray:
    return plan.cells.areas_mm2()[plan.cells.shape_of == shape]


def test_the_same_locks_give_the_same_plan(plan: Plan, coffee: Reference) -> None:
    locks = Locks(washes=frozenset({(2, 1)}))
    one, two = (replan(plan, coffee, locks=locks) for _ in range(2))
    assert one.coats == two.coats


def test_contradictions_are_told(plan: Plan, coffee: Reference) -> None:
    every = Locks(layers=frozenset({1, 2, 3, 4}))
    for limits, words in (
        (replace(plan.limits, layers=3), "at least 4 layers"),
        (replace(plan.limits, washes=5), "washes are locked"),
        (replace(plan.limits, puddles=2), "puddles are locked"),
        (replace(plan.limits, paints=1), "paints are locked"),
        (replace(plan.limits, paints_per_puddle=1), "holds"),
        (replace(plan.limits, shapes=20), "as they are drawn"),
    ):
        with pytest.raises(RequestError, match=words):
            replan(plan, coffee, limits, every)
    key = plan.paints[plan.puddles[0].parts[0][0]].key
    others = [p for p in plan.paints if p.key != key]
    with pytest.raises(RequestError, match="not among the paints"):
        replan(plan, coffee, locks=Locks(paints=frozenset({key})), owned=others)


def test_another_picture_is_refused(plan: Plan, on_sheet: Callable[..., Reference]) -> None:
    with pytest.raises(RequestError, match="not the picture"):
        replan(plan, on_sheet("coffee", "28x38cm"))


# --- a graded background ---------------------------------------------------------


@pytest.fixture(scope="module")
def graded(coffee: Reference) -> tuple[Plan, Reference]:
    rows, cols = coffee.zone.shape
    zone = np.zeros((rows, cols), dtype=np.int32)
    zone[: rows // 4] = BACKGROUND
    reference = with_background(
        coffee, zone == BACKGROUND, "graded", Bench.of([], default_paper()).white_xyz()
    )
    return make_plan(reference, load_set("measured").paints, LIMITS), reference


def test_a_graded_wash_is_edited_as_one(graded: tuple[Plan, Reference]) -> None:
    plan, reference = graded
    wash = next(w for w in plan.washes if w.kind == "graded wash")
    with pytest.raises(RequestError, match="graded"):
        recolour(plan, wash.shapes[0], np.array([60.0, 0.0, 10.0]))
    ends = (wash.strength, wash.end_strength or 0.0)
    after = change_strength(plan, (wash.layer, wash.number), 0.5 * max(ends))
    again = next(w for w in after.washes if w.kind == "graded wash")
    assert again.cells == wash.cells
    # The ratio of the ends is the gradient: only rounding may change it.
    assert again.strength / (again.end_strength or 1.0) == pytest.approx(ends[0] / ends[1])
    shape = next(s for s in painted_shapes(plan) if s not in wash.shapes)
    check_consistent(recolour(plan, shape, shifted(plan, shape, -4.0, 5.0, 5.0)).plan)
    locks = Locks(layers=frozenset({1}))
    kept = replan(plan, reference, locks=locks)
    check_kept(plan, kept, locks)
