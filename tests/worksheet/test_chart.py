"""Charts of glazes, greys and two stacks agree with stacks worked out one by one."""

import json
from dataclasses import asdict, replace

import colour
import numpy as np
import pytest

from firstwash.errors import PaintError, RequestError
from firstwash.optics.observer import LIGHTS, LightName, light, reflectance_to_xyz, xyz_to_lab
from firstwash.paints.catalogue import Paint, all_paints, default_paper, paint
from firstwash.plan.bench import Bench
from firstwash.plan.glaze import Coat, parse_coat, predict_glazes
from firstwash.plan.problem import is_black_or_white
from firstwash.worksheet.chart import glaze_chart, shares_of
from firstwash.worksheet.grey import GREY, neutral_with
from firstwash.worksheet.lamps import to_daylight, to_screen
from firstwash.worksheet.two_stacks import compared
from firstwash.worksheet.words import hex_of

PAPER = default_paper()
KEYS = ("PY154", "PR255", "PB29", "PG7", "PBr7-burnt", "PR122")
PAINTS = tuple(paint(k) for k in KEYS)


def coat(one: Paint, share: float) -> Coat:
    return Coat(((one, share),))


# --- the chart -------------------------------------------------------------------


def test_every_field_is_that_stack_by_daylight() -> None:
    chart = glaze_chart(PAINTS, PAPER, (0.08, 0.2))
    for r, under in enumerate(PAINTS):
        for c, over in enumerate(PAINTS):
            last = predict_glazes([coat(under, 0.08), coat(over, 0.2)], "D65", PAPER)[-1]
            field = chart.fields[r][c]
            assert field.hex == hex_of(last.lab)
            assert field.step == last.value_step
            assert (field.lighter, field.darker) == (hex_of(last.lighter), hex_of(last.darker))
            other = predict_glazes([coat(over, 0.2), coat(under, 0.08)], "D65", PAPER)[-1]
            off = colour.delta_E(last.lab, other.lab, method="CIE 2000")
            assert field.order == pytest.approx(float(off), abs=0.006)  # told to two digits


def test_the_diagonal_is_two_coats_of_one_paint_in_either_order() -> None:
    chart = glaze_chart(PAINTS, PAPER, (0.1, 0.1))
    for i in range(len(PAINTS)):
        assert chart.fields[i][i].order == 0.0
    for r in range(len(PAINTS)):
        for c in range(len(PAINTS)):
            # Equal strengths: the other order is the field across the diagonal.
            assert chart.fields[r][c].order == chart.fields[c][r].order


def test_order_does_not_matter_for_what_only_absorbs() -> None:
    """Clear coats on paper that nothing sinks into multiply [Kubelka1954]: no order is told."""
    clear = [replace(p, s=1e-9 * p.s) for p in PAINTS]
    chart = glaze_chart(clear, replace(PAPER, soak=0.0, fibre_scattering=0.0), (0.1, 0.2))
    assert max(f.order for row in chart.fields for f in row) < 0.01
    assert chart.orders == ()


def test_orders_are_told_once_the_plainest_first() -> None:
    chart = glaze_chart(PAINTS, PAPER, (0.1, 0.3))
    sizes = [chart.fields[r][c].order for r, c in chart.orders]
    assert sizes == sorted(sizes, reverse=True)
    assert all(size > 2.0 for size in sizes)
    assert len({frozenset(pair) for pair in chart.orders}) == len(chart.orders)


def test_greys_are_grey_and_made_of_colours() -> None:
    chart = glaze_chart(all_paints(), PAPER, (0.1, 0.1))
    assert chart.greys
    for r, c in chart.greys:
        assert r != c
        assert "grey" in chart.fields[r][c].words or chart.fields[r][c].words.startswith("near")


@pytest.mark.parametrize("step", [6, 7, 8, 9])
def test_value_steps_are_met_where_a_paint_comes_that_far(step: int) -> None:
    for one, share in zip(PAINTS, shares_of(PAINTS, PAPER, step), strict=True):
        lightness = Bench.of([one], PAPER).labs(np.array([[share * one.full_coat]]))[1, 0]
        try:
            typed = parse_coat(f"{one.key} step {step}", PAPER)
        except RequestError:  # it does not reach that step
            assert share == pytest.approx(1.0)
            continue
        goal = Bench.of([one], PAPER).labs(np.array([[typed.parts[0][1] * one.full_coat]]))[1, 0]
        # Strengths are interpolated between 96 tried ones: a tenth of L* is left.
        if abs(10 * step - 5 - goal) < 0.01:
            assert lightness == pytest.approx(goal, abs=0.1)
        assert 10 * (step - 1) - 0.5 <= lightness <= 10 * step + 0.5


@pytest.mark.parametrize("strength", [0.0, -0.1, 1.5, 11, float("nan"), float("inf")])
def test_other_strengths_are_refused(strength: float) -> None:
    with pytest.raises(RequestError, match="strength"):
        glaze_chart(PAINTS, PAPER, (0.1, strength))


def test_hostile_charts_are_refused() -> None:
    with pytest.raises(RequestError, match="no light"):
        glaze_chart(PAINTS, PAPER, light="<b>")
    with pytest.raises(PaintError, match="twice"):
        glaze_chart([PAINTS[0], PAINTS[0]], PAPER)
    with pytest.raises(PaintError, match="1 to 40"):
        glaze_chart([], PAPER)


def test_a_chart_is_plain_data() -> None:
    for name in LIGHTS:
        told = json.dumps(asdict(glaze_chart(PAINTS, PAPER, light=name)), allow_nan=False)
        assert told


# --- other lights ----------------------------------------------------------------


@pytest.mark.parametrize("name", LIGHTS)
def test_a_light_s_own_white_stays_white(name: LightName) -> None:
    np.testing.assert_allclose(to_daylight(light(name).white, name), (100.0, 0.0, 0.0), atol=1e-6)
    # Greys stay grey and keep their lightness: the adaptation is linear.
    half = to_daylight(0.18 * light(name).white, name)
    np.testing.assert_allclose(half, xyz_to_lab(0.18 * light("D65").white), atol=1e-6)


def test_daylight_changes_nothing() -> None:
    lab = np.array([[50.0, 20.0, -30.0], [80.0, -5.0, 60.0]])
    np.testing.assert_allclose(to_screen(lab, "D65"), lab, atol=1e-9)


@pytest.mark.parametrize("name", ["D50", "A", "LED"])
def test_the_adaptation_is_that_of_an_independent_implementation(name: LightName) -> None:
    """[colour] has the same matrix to four digits; it is inverted there, so a ten-thousandth."""
    xyz = reflectance_to_xyz(PAPER.reflectance * np.linspace(0.1, 1.0, 36), name)
    theirs = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, light(name).white, light("D65").white, transform="Bradford"
    )
    np.testing.assert_allclose(to_daylight(xyz, name), xyz_to_lab(theirs), atol=1e-3)


# --- greys -----------------------------------------------------------------------


@pytest.mark.parametrize("ground", [("PB29", 0.1), ("PR255", 0.1), ("PY154", 0.05), None])
def test_greys_are_grey_by_hand(ground: tuple[str, float] | None) -> None:
    """Laid again coat by coat from what is told, they show what is told."""
    found = neutral_with(PAINTS, PAPER, ground)
    assert found
    for one in found:
        assert 1 <= len(one.parts) <= 2
        lab = laid(ground, one.strength, [(p.key, p.share) for p in one.parts])
        # Whole parts stand for the exact shares within a tenth each: some colour comes back.
        assert np.hypot(*lab[1:]) < GREY + 6.0
        assert one.shown.step <= one.before.step
        assert one.words.endswith(".")
        assert "grey" in one.shown.words or one.shown.words.startswith("near")
    json.dumps([asdict(g) for g in found], allow_nan=False)


def laid(
    ground: tuple[str, float] | None, strength: float, parts: list[tuple[str, float]]
) -> np.ndarray:
    coats = [] if ground is None else [coat(paint(ground[0]), ground[1])]
    coats.append(Coat(tuple((paint(k), strength * share) for k, share in parts)))
    return predict_glazes(coats, "D65", PAPER)[-1].lab


def test_two_paints_make_their_own_grey() -> None:
    (found,) = neutral_with(PAINTS, PAPER, between=("PB29", "PBr7-burnt"))
    assert {p.key for p in found.parts} == {"PB29", "PBr7-burnt"}
    leans = {lean.key: lean for lean in found.leans}
    assert leans["PB29"].more_word == "cooler"
    assert leans["PBr7-burnt"].more_word in ("warmer", "redder")


def test_two_paints_that_make_no_grey_say_so() -> None:
    assert neutral_with(PAINTS, PAPER, between=("PY154", "PR255")) == ()


def test_black_and_white_are_not_offered() -> None:
    box = (*PAINTS, paint("PBk9"), paint("PW4"))
    for one in neutral_with(box, PAPER, ("PB29", 0.1), most=20):
        assert not any(is_black_or_white(paint(p.key)) for p in one.parts)


def test_hostile_greys_are_refused() -> None:
    with pytest.raises(PaintError, match="not among"):
        neutral_with(PAINTS, PAPER, ("nothing", 0.1))
    for share in (0.0, 1.5, float("nan")):
        with pytest.raises(RequestError, match="share"):
            neutral_with(PAINTS, PAPER, ("PB29", share))
    with pytest.raises(PaintError, match="different"):
        neutral_with(PAINTS, PAPER, between=("PB29", "PB29"))
    with pytest.raises(RequestError, match="lightness"):
        neutral_with(PAINTS, PAPER, lightness=float("nan"))
    with pytest.raises(PaintError, match="1 to 40"):
        neutral_with((), PAPER)


# --- two stacks ------------------------------------------------------------------


def test_a_stack_matches_itself_in_every_light() -> None:
    stack = [coat(PAINTS[0], 0.1), coat(PAINTS[2], 0.2)]
    found = compared(stack, stack, PAPER)
    assert found.words == "They match in every light shown."
    assert [u.light for u in found.lights] == list(LIGHTS)
    assert all(u.match == "match" for u in found.lights)
    json.dumps(asdict(found), allow_nan=False)


def test_two_greys_of_other_paints_part_by_lamplight() -> None:
    """Metamers: fitted to one grey by daylight, they absorb elsewhere and part under the lamp."""
    first = [Coat(((paint("PB29"), 0.4), (paint("PBr7-burnt"), 0.18)))]
    goal = predict_glazes(first, "D65", PAPER)[-1].lab
    others = [paint(k) for k in ("PG7", "PR254", "PV19-violet")]
    bench = Bench.of(others, PAPER)
    aims = np.array([[1.0, *goal, 1.0]])
    amounts, _ = bench.fit(np.full((1, 3), 0.03) / bench.loads, aims, rounds=200)
    shares = (amounts[0] * bench.loads).tolist()
    used = tuple((p, s) for p, s in zip(others, shares, strict=True) if s > 0)
    found = compared(first, [Coat(used)], PAPER, ("D65", "A"))
    assert [u.match for u in found.lights] == ["match", "part"]
    assert found.words.startswith("They match by daylight and part by lamplight: there the second")


def test_hostile_comparisons_are_refused() -> None:
    stack = [coat(PAINTS[0], 0.1)]
    with pytest.raises(RequestError):
        compared([], stack, PAPER)
    with pytest.raises(RequestError, match="light"):
        compared(stack, stack, PAPER, ())
    with pytest.raises(RequestError, match="no light"):
        compared(stack, stack, PAPER, ("neon",))
