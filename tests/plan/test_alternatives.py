"""Other mixtures for a wash: true predictions, ordered, of other paints."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.errors import PaintError
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import load_set, paint
from firstwash.plan.alternatives import Alternative, alternatives, manner_of
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash


@pytest.fixture(params=["block_plan", "coffee_plan"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return request.getfixturevalue(request.param)


def by_hand(plan: Plan, wash: Wash, other: Alternative) -> np.ndarray:
    """Final CIELAB of the wash's cells, coat by coat through `Bench.labs`."""
    box = list(plan.paints)
    box += [p for p in other.paints if p.key not in {q.key for q in box}]
    keys = [p.key for p in box]
    bench = Bench.of(box, plan.paper)
    recipe = np.zeros(len(box))
    for one, amount in other.parts:
        recipe[keys.index(one.key)] = amount
    factor = {(layer, puddle): f for layer, puddle, f in other.later}
    out = []
    for cell in wash.cells:
        rows = []
        for layer, puddle, strength in plan.coats[cell]:
            row = np.zeros(len(box))
            if layer == wash.layer:
                row = recipe * other.strength * strength / wash.strength
            else:
                row[: len(plan.paints)] = plan.recipes[puddle] * strength
                row *= factor.get((layer, puddle), 1.0)
            rows.append(row)
        out.append(bench.labs(np.array(rows))[-1])
    return np.array(out)


def test_predictions_are_those_of_the_model(plan: Plan) -> None:
    for wash in plan.washes:
        for other in alternatives(plan, wash):
            expected = by_hand(plan, wash, other)
            np.testing.assert_allclose(other.finals, expected, atol=1e-9)
            areas = plan.cells.areas_mm2()[list(wash.cells)]
            for targets, told in (
                (plan.aims, other.then.against_aims),
                (plan.targets, other.then.against_photo),
            ):
                errors = delta_e_2000(expected, targets[list(wash.cells)])
                assert told == pytest.approx(float(errors @ areas / areas.sum()), abs=1e-9)


def test_they_are_ordered_and_of_other_paints(plan: Plan) -> None:
    for wash in plan.washes:
        found = alternatives(plan, wash)
        own = {plan.paints[p].key for p, _ in plan.puddles[wash.puddle].parts}
        sets = [frozenset(p.key for p in a.paints) for a in found]
        ranks = [a.then.rank for a in found]
        assert ranks == sorted(ranks)
        assert len(set(sets)) == len(sets) <= 5
        assert own not in sets
        for one in found:
            assert one.puddle != wash.puddle
            assert 1 <= len(one.parts) <= 3
            # A full coat, or a puddle of the plan as it is mixed anyway.
            load = one.strength * sum(a / p.full_coat for p, a in one.parts)
            assert 0 < load <= 1 + 1e-9
            assert one.paint_count_change == len(one.parts) - len(own)
            assert not one.new_paints


def test_nearest_is_no_worse_than_the_plan_with_any_paint_of_its_puddle_alone(
    block_plan: Plan,
) -> None:
    """Fitting works: the best alternative beats every single paint at any of 60 strengths."""
    bench = Bench.of(block_plan.paints, block_plan.paper)
    for wash in [
        w for w in block_plan.washes if all(len(block_plan.coats[c]) == 1 for c in w.cells)
    ]:
        best = alternatives(block_plan, wash)[0]
        areas = block_plan.cells.areas_mm2()[list(wash.cells)]
        own = {p for p, _ in block_plan.puddles[wash.puddle].parts}
        for p in range(bench.colours):
            if {p} == own:
                continue
            labs = [
                bench.labs(np.eye(bench.colours)[p : p + 1] * s)[1]
                for s in np.geomspace(1e-3, 1.0, 60)
            ]
            errors = [
                float(delta_e_2000(lab, block_plan.aims[list(wash.cells)]) @ areas / areas.sum())
                for lab in labs
            ]
            # The fit minimises squares and keeps a little of the look, the scan means: 0.3 apart.
            assert best.then.against_aims <= min(errors) + 0.3


def test_the_sheet_changes_by_what_the_cells_change(plan: Plan) -> None:
    areas = plan.cells.areas_mm2()
    for wash in plan.washes[:6]:
        for other in alternatives(plan, wash, most=2):
            share = wash.area_mm2 / areas.sum()
            change = other.then.sheet - other.now.sheet
            assert change == pytest.approx(share * other.rise, abs=1e-9)
            moved = delta_e_2000(other.finals, plan.stage_labs[-1][list(wash.cells)])
            weighted = moved * areas[list(wash.cells)]
            shift = other.largest
            assert shift.difference * shift.area_mm2 == pytest.approx(float(weighted.max()))


def test_refitted_later_washes_are_told_and_help(coffee_plan: Plan) -> None:
    areas = coffee_plan.cells.areas_mm2()
    compared = 0
    for wash in coffee_plan.washes_of(1):
        own = list(wash.cells)
        plain = {frozenset(a.paints): a for a in alternatives(coffee_plan, wash, most=40)}
        for other in alternatives(coffee_plan, wash, most=3, refit=True):
            assert all(0.2 - 1e-9 <= f <= 5.0 + 1e-9 for _, _, f in other.later)
            same = plain.get(frozenset(other.paints))
            if same is not None and same.parts == other.parts:
                # What falls are the squares; the mean may rise a little where they do.
                squares = [
                    delta_e_2000(a.finals, coffee_plan.aims[own]) ** 2 @ areas[own]
                    for a in (other, same)
                ]
                assert squares[0] <= squares[1] * (1 + 1e-9)
                compared += 1
    assert compared


def test_other_paints_the_painter_owns(coffee_plan: Plan) -> None:
    owned = load_set("starter").paints
    wash = coffee_plan.washes_of(2)[0]
    found = alternatives(coffee_plan, wash, owned=owned)
    palette = {p.key for p in coffee_plan.paints}
    keys = {p.key for p in owned}
    for other in found:
        assert {p.key for p in other.new_paints} == {p.key for p in other.paints} - palette
        assert other.puddle is not None or {p.key for p in other.paints} <= keys
        np.testing.assert_allclose(other.finals, by_hand(coffee_plan, wash, other), atol=1e-9)


def test_other_mixtures_keep_the_largest_shares(coffee_plan: Plan) -> None:
    wash = coffee_plan.washes[0]
    used = {p.key for a in alternatives(coffee_plan, wash, most=40) for p in a.paints}
    for key in sorted(used):
        limits = replace(coffee_plan.limits, caps=((key, 0.3),))
        for other in alternatives(replace(coffee_plan, limits=limits), wash, most=40):
            if other.puddle is None:
                loads = {p.key: a / p.full_coat for p, a in other.parts}
                assert loads.get(key, 0.0) <= 0.3 * sum(loads.values()) * (1 + 1e-6)


def test_banned_paints_are_not_offered(coffee_plan: Plan) -> None:
    limits = replace(coffee_plan.limits, ban=("ultramarine blue",))
    plan = replace(coffee_plan, limits=limits)
    for other in alternatives(plan, plan.washes[0], owned=load_set("starter").paints, most=40):
        assert other.puddle is not None or "PB29" not in {p.key for p in other.paints}


def test_black_and_white_stay_out_unless_the_plan_has_them(coffee_plan: Plan) -> None:
    wash = coffee_plan.washes[0]
    with pytest.raises(PaintError, match="only black and white"):
        alternatives(coffee_plan, wash, owned=[paint("PBk9")])
    allowed = replace(coffee_plan.limits, black_and_white=True)
    plan = replace(coffee_plan, limits=allowed)
    found = alternatives(plan, wash, owned=[paint("PBk9")], most=40)
    assert any([p.key for p in a.paints] == ["PBk9"] for a in found)


def test_no_more_paints_than_a_puddle_may_hold(coffee_plan: Plan) -> None:
    plan = replace(coffee_plan, limits=replace(coffee_plan.limits, paints_per_puddle=1))
    for other in alternatives(plan, plan.washes[0], most=40):
        assert len(other.parts) == 1 or other.puddle is not None


def test_a_mixture_handles_as_its_worst_paint_does() -> None:
    green, red = paint("PG7"), paint("PR108")
    both = manner_of([green, red])
    assert both.staining == 4
    assert both.transparency == 1
    assert both.granulation == 1
    assert both.lightfast == "I"
    assert both.hazard == "toxic"
    assert both.paints == 2


def test_what_is_not_known_of_one_paint_is_not_known_of_the_mixture() -> None:
    unknown, known = paint("lemon-yellow"), paint("PG7")
    assert unknown.handling.staining is None
    both = manner_of([unknown, known])
    assert both.staining is None
    assert both.lightfast is None


def test_twice_the_same(coffee_plan: Plan) -> None:
    wash = coffee_plan.washes[0]
    one, two = (alternatives(coffee_plan, wash) for _ in range(2))
    assert [a.strength for a in one] == [a.strength for a in two]
