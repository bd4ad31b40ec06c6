"""Neutral glazes are neutral in prediction, and lean as told."""

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.paints.catalogue import load_set
from firstwash.plan.bench import Bench
from firstwash.plan.neutral import NEUTRAL, Neutral, Spot, hue_angle, neutralisers
from firstwash.plan.result import Plan


def by_hand(plan: Plan, under: np.ndarray, parts: list[tuple[str, float]]) -> np.ndarray:
    """CIELAB of a glaze over coats (n, palette), through `Bench.labs`."""
    keys = [p.key for p in plan.paints]
    bench = Bench.of(plan.paints, plan.paper)
    row = np.zeros((1, bench.colours))
    for key, amount in parts:
        row[0, keys.index(key)] = amount
    return bench.labs(np.vstack([under, row]))[-1]


def amounts(neutral: Neutral, p: int = 0, by: float = 0.0) -> list[tuple[str, float]]:
    """Its paints as laid, one part changed by a share and the whole as strong as before."""
    changed = [a * (1 + by if i == p else 1) for i, (_, a) in enumerate(neutral.parts)]
    loads = [sum(a / q.full_coat for (q, _), a in zip(neutral.parts, each, strict=True))
             for each in ([a for _, a in neutral.parts], changed)]  # fmt: skip
    scale = neutral.strength * loads[0] / loads[1]
    return [(q.key, a * scale) for (q, _), a in zip(neutral.parts, changed, strict=True)]


def spots(plan: Plan) -> list[Spot]:
    biggest = np.argsort(-plan.cells.areas_mm2())[:6].tolist()
    return [Spot(cell, layer) for cell in biggest for layer in (1, plan.layers)]


def stack(plan: Plan, spot: Spot) -> np.ndarray:
    rows = [plan.recipes[q] * s for n, q, s in plan.coats[spot.cell] if n <= spot.layer]
    return np.array(rows).reshape(-1, len(plan.paints))


@pytest.mark.parametrize("name", ["block_plan", "coffee_plan"])
def test_they_are_neutral_and_lean_as_told(name: str, request: pytest.FixtureRequest) -> None:
    plan: Plan = request.getfixturevalue(name)
    told = 0
    for spot in spots(plan):
        under = stack(plan, spot)
        for one in neutralisers(plan, spot):
            told += 1
            lab = by_hand(plan, under, amounts(one))
            np.testing.assert_allclose(one.lab, lab, atol=1e-6)
            assert np.hypot(*lab[1:]) == pytest.approx(one.chroma, abs=1e-6)
            assert one.chroma <= NEUTRAL
            assert one.strength <= 1 + 1e-9
            np.testing.assert_allclose(one.before, plan.stage_labs[spot.layer][spot.cell])
            for p, lean in enumerate(one.leans):
                for by, seen, hue in (
                    (-0.25, lean.less, lean.less_hue),
                    (0.25, lean.more, lean.more_hue),
                ):
                    moved = by_hand(plan, under, amounts(one, p, by))
                    np.testing.assert_allclose(seen, moved, atol=1e-6)
                    turn = hue_angle(*(moved - lab)[1:]) - hue
                    assert abs((turn + 180) % 360 - 180) < 0.1
    assert told > 3


def test_two_paints_lean_opposite_ways(coffee_plan: Plan) -> None:
    """More of one of two is less of the other: directions differ by half a turn or nearly."""
    pairs = [n for s in spots(coffee_plan) for n in neutralisers(coffee_plan, s)]
    pairs = [n for n in pairs if len(n.parts) == 2]
    assert pairs
    for one in pairs:
        turn = one.leans[0].more_hue - one.leans[1].more_hue
        assert abs((turn + 180) % 360 - 180) > 150


def test_one_puddle_on_bare_paper(coffee_plan: Plan) -> None:
    nothing = np.zeros((0, len(coffee_plan.paints)))
    for lightness in (None, 70.0):
        found = neutralisers(coffee_plan, lightness=lightness)
        assert found
        for one in found:
            assert abs(one.lab[0] - (lightness or 55.0)) <= 5.0
            assert one.chroma <= NEUTRAL
            np.testing.assert_allclose(
                one.lab, by_hand(coffee_plan, nothing, amounts(one)), atol=1e-6
            )


def test_a_colour_stands_for_the_spectrum_the_palette_gives_it(coffee_plan: Plan) -> None:
    wanted = (70.0, 25.0, 30.0)
    for one in neutralisers(coffee_plan, wanted):
        # The palette reaches this orange; the fit stops within a tenth or so.
        np.testing.assert_allclose(one.before, wanted, atol=0.5)
        assert one.chroma <= NEUTRAL
        assert one.darker > 0


def test_fewest_paints_then_palest(coffee_plan: Plan) -> None:
    for spot in spots(coffee_plan):
        found = neutralisers(coffee_plan, spot, owned=load_set("starter").paints, most=8)
        order = [(len(n.parts), n.darker) for n in found]
        assert order == sorted(order)
        sets = [frozenset(p.key for p, _ in n.parts) for n in found]
        assert not any(a < b for a in sets for b in sets)


@pytest.mark.parametrize("ground", [Spot(-1, 1), Spot(0, 99), (50.0, 0.0), (np.nan, 0, 0)])
def test_a_place_that_is_not_there_is_refused(coffee_plan: Plan, ground: object) -> None:
    with pytest.raises(RequestError):
        neutralisers(coffee_plan, ground)
