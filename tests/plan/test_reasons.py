"""What is claimed of a first wash agrees with numbers worked out again here."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.reasons import THRESHOLDS, Lab, Reason, claims, hue_relation, warmth, why
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash


@pytest.fixture(params=["block_plan", "coffee_plan"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return request.getfixturevalue(request.param)


def finals(plan: Plan, wash: Wash, kept: bool) -> np.ndarray:
    """Final CIELAB (cells, 3) with the wash or without it, coat by coat."""
    bench = Bench.of(plan.paints, plan.paper)
    out = []
    for cell in wash.cells:
        coats = [c for c in plan.coats[cell] if kept or c[0] != wash.layer]
        rows = np.array([plan.recipes[q] * s for _, q, s in coats])
        out.append(bench.labs(rows.reshape(-1, bench.colours))[-1])
    return np.array(out)


def test_the_numbers_are_those_of_the_plan(plan: Plan) -> None:
    areas = plan.cells.areas_mm2()
    for wash in plan.washes_of(1):
        reason = why(plan, wash)
        cells = np.array(wash.cells)
        share = areas[cells] / areas[cells].sum()
        lightest = {}
        for cell in sorted(wash.cells, key=lambda c: -plan.cells.level_of[c]):
            lightest[plan.cells.shape_of[cell]] = cell
        own = np.array([lightest[plan.cells.shape_of[c]] for c in cells])
        np.testing.assert_allclose(reason.palest.lab, share @ plan.targets[own])
        off = share @ delta_e_2000(plan.stage_labs[1][own], plan.targets[own])
        assert reason.off == pytest.approx(float(off))
        bare = np.array([len(plan.coats[c]) == 1 for c in cells])
        assert reason.seen == pytest.approx(float(share[bare].sum()))
        errors = share @ delta_e_2000(finals(plan, wash, True), plan.aims[cells])
        assert reason.misses.planned == pytest.approx(float(errors), abs=1e-9)
        assert reason.look == wash.after


def test_without_it_is_no_worse_than_without_it_and_nothing_adjusted(plan: Plan) -> None:
    """Squared differences only fall when later strengths are fitted; root means are compared."""
    areas = plan.cells.areas_mm2()
    for wash in plan.washes_of(1):
        reason = why(plan, wash)
        share = areas[list(wash.cells)] / areas[list(wash.cells)].sum()
        errors = delta_e_2000(finals(plan, wash, False), plan.aims[list(wash.cells)])
        assert reason.misses.without <= np.sqrt(share @ errors**2) + 1e-9


def test_the_effect_is_what_is_seen_with_and_without_it(plan: Plan) -> None:
    areas = plan.cells.areas_mm2()
    seen = 0
    for wash in plan.washes_of(1):
        reason = why(plan, wash)
        if reason.glaze is None or reason.effect is None:
            assert reason.seen == 1.0
            continue
        seen += 1
        over = np.array([len(plan.coats[c]) - 1 for c in wash.cells])
        use = over > 0
        if reason.glaze.alone:
            tops = [plan.coats[c][-1][:2] for c in wash.cells]
            chief = [top == (reason.glaze.layer, reason.glaze.puddle) for top in tops]
            if len({plan.coats[c][-1] for c, ok in zip(wash.cells, chief, strict=True) if ok}) > 1:
                continue  # two strengths of one puddle: which is meant is told by area
            use = (over == 1) & np.array(chief)
        weight = areas[list(wash.cells)] * use / (areas[list(wash.cells)] * use).sum()
        np.testing.assert_allclose(reason.effect.with_it, weight @ finals(plan, wash, True))
        np.testing.assert_allclose(reason.effect.without, weight @ finals(plan, wash, False))
    assert seen


def test_claims_hold(plan: Plan) -> None:
    t = THRESHOLDS
    for wash in plan.washes_of(1):
        r = why(plan, wash)
        said = set(r.claims)
        assert ("palest tint" in said) == (r.off <= t.tint)
        assert ("stays seen" in said) == (r.seen >= t.most)
        assert ("needed" in said) == (r.misses.without - r.misses.refitted >= t.rise)
        assert ("needed" in said) != ("not needed" in said)
        if "pale hint" in said:
            assert r.look[0] >= r.palest.lab[0] + t.hint
        if r.effect is not None and r.glaze is not None and r.glaze.covered >= t.share:
            assert ("makes darker" in said) == (
                r.effect.with_it[0] - r.effect.without[0] <= -t.change
            )
        assert (r.second is None) == (wash.into is None)
        if r.misses.other_rise is not None:
            assert ("poor substitute" in said) == (r.misses.other_rise >= t.clear)
            assert ("better substitute" in said) == (r.misses.other_rise <= -t.rise)


@pytest.fixture
def reason(coffee_plan: Plan) -> Reason:
    return why(coffee_plan, coffee_plan.washes_of(1)[0])


def test_a_claim_goes_when_its_number_goes(reason: Reason) -> None:
    """The same reason with other numbers claims other things."""
    needed = replace(reason, misses=replace(reason.misses, refitted=1.0, without=1.31))
    idle = replace(reason, misses=replace(reason.misses, refitted=1.0, without=1.29))
    assert "needed" in claims(needed)
    assert "not needed" in claims(idle)
    assert "palest tint" in claims(replace(reason, off=4.9))
    assert "palest tint" not in claims(replace(reason, off=5.1))
    only = replace(reason, glaze=None, effect=None, relation=None, seen=1.0)
    assert not any(c.startswith("makes") or c.endswith("later") for c in claims(only))
    assert "stays seen" in claims(only)
    no_other = replace(reason, misses=replace(reason.misses, other=None), next_best=None)
    assert not any("substitute" in c for c in claims(no_other))


def test_reasons_are_for_first_washes(coffee_plan: Plan) -> None:
    with pytest.raises(RequestError, match="first washes only"):
        why(coffee_plan, coffee_plan.washes_of(2)[0])


def test_second_colours_are_held_against_their_host(on_sheet: object, coffee_plan: Plan) -> None:
    """Any first wash told as dropped into another compares their palest tints."""
    del on_sheet
    first, other = coffee_plan.washes_of(1)[:2]
    dropped = why(coffee_plan, replace(other, into=first.number))
    host, own = why(coffee_plan, first).palest, why(coffee_plan, other).palest
    assert dropped.second is not None
    assert dropped.second.host == first.number
    assert dropped.second.lightness == pytest.approx(own.lab[0] - host.lab[0])
    warmer = warmth(own.lab) - warmth(host.lab)
    assert dropped.second.warmth == pytest.approx(warmer)
    assert ("turns warmer" in dropped.claims) == (warmer >= THRESHOLDS.change)
    assert ("turns cooler" in dropped.claims) == (warmer <= -THRESHOLDS.change)


def polar(hue: float, chroma: float = 40.0) -> Lab:
    turn = np.radians(hue)
    return 60.0, float(chroma * np.cos(turn)), float(chroma * np.sin(turn))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (90.0, 75.0, "same"),
        (90.0, 150.0, "warmer"),  # yellow against green
        (270.0, 150.0, "cooler"),  # blue against green
        (60.0, 240.0, "opposite"),
        (20.0, 90.0, "beside"),  # red and yellow lie at either side of orange
        (350.0, 10.0, "same"),  # across the seam of the circle
    ],
)
def test_hues_stand_to_each_other_as_painters_say(one: float, other: float, expected: str) -> None:
    assert hue_relation(polar(one), polar(other)) == expected


def test_a_grey_has_no_hue() -> None:
    assert hue_relation(polar(50.0, 4.0), polar(50.0)) == "grey"


@given(st.floats(0, 360), st.floats(0, 360), st.floats(6, 100), st.floats(6, 100))
def test_hue_relations_are_mirrored(h1: float, h2: float, c1: float, c2: float) -> None:
    mirror = {"warmer": "cooler", "cooler": "warmer"}
    there = hue_relation(polar(h1, c1), polar(h2, c2))
    assert hue_relation(polar(h2, c2), polar(h1, c1)) == mirror.get(there, there)


def test_orange_is_warm_and_blue_is_not() -> None:
    assert warmth(polar(55.0)) == pytest.approx(40.0)
    assert warmth(polar(235.0)) == pytest.approx(-40.0)
