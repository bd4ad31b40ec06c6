"""Why a glaze looks as it does: every statement against the prediction it was made from.

The checks here predict anew, by `optics.stack` and not by the planner's bench, so that a mistake
in what is explained cannot hide in what it is checked by.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.advice.glaze_light import ENDS_NM, THIRDS, light_told, thirds_of
from firstwash.advice.glaze_order import TELLS, swapped
from firstwash.advice.glaze_path import DROWNED, GREYISH, HALVED, NEUTRAL, TURNED
from firstwash.advice.glaze_reasons import LESS, MORE, WhyGlaze, explain_glaze, why_glaze
from firstwash.advice.glaze_shift import WAYS, Shift, chroma, shift
from firstwash.errors import RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints, default_paper, paint
from firstwash.plan.glaze import Coat, parse_coat

PAPER = default_paper()
DRY_PAPER = replace(PAPER, soak=0.0)  # nothing sinks in
CLOSE = 1e-6  # the same physics by another road: rounding only


def lab_of(why: WhyGlaze, amounts: np.ndarray, paper: Paper | None = None) -> np.ndarray:
    """CIELAB (3,) of a stack, predicted anew."""
    k, s = (np.array([getattr(p, c) for p in why.paints]) for c in ("k", "s"))
    seen = stages(paper or why.paper, amounts @ k, amounts @ s)[-1]
    return reflectance_to_lab(seen)


def clear(one: Paint) -> Paint:
    """The same paint as if it scattered nothing (a paint's S must be above 0)."""
    return replace(one, s=np.full_like(one.s, 1e-14))


strengths = st.floats(-3.0, 0.0).map(lambda p: 10.0**p)
coats = st.tuples(st.sampled_from(all_paints()), strengths).map(lambda part: Coat((part,)))
mixed = st.lists(
    st.tuples(st.sampled_from(all_paints()), strengths),
    min_size=1,
    max_size=3,
    unique_by=lambda part: part[0].key,
).map(lambda parts: Coat(tuple(parts)))
stacks = st.tuples(st.lists(mixed, min_size=0, max_size=3), mixed)
few = settings(max_examples=40)


# --- the light -------------------------------------------------------------------


def test_the_thirds_cover_every_band_once() -> None:
    bands = [nm for low, high in ENDS_NM for nm in range(low, high + 1, 10)]
    assert bands == WAVELENGTHS_NM.tolist()


def test_light_of_one_third_only() -> None:
    paper = np.full(36, 0.9)
    for i, (low, high) in enumerate(ENDS_NM):
        bands = np.where((low <= WAVELENGTHS_NM) & (high >= WAVELENGTHS_NM), 0.45, 0.0)
        assert thirds_of(bands, paper) == pytest.approx([0.5 if j == i else 0.0 for j in range(3)])


@few
@given(stacks)
def test_light_adds_up(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    told = why.light
    for under, passed, own, after, taken in zip(
        told.under, told.passed, told.own, told.after, told.taken, strict=True
    ):
        assert passed + own == pytest.approx(after, abs=1e-12)
        assert -1e-12 <= own <= after + 1e-12
        # What comes up through a glaze is never more than what went up into it.
        assert -1e-12 <= passed <= under + 1e-9
        assert 0.0 <= taken <= 1.0
        assert taken == pytest.approx(1.0 - passed / under, abs=1e-9)


@few
@given(coats, coats)
def test_a_clear_glaze_never_sends_back_more_than_it_gets(lower: Coat, upper: Coat) -> None:
    (one, strength), (other, more) = lower.parts[0], upper.parts[0]
    why = explain_glaze(Coat(((one, strength),)), Coat(((clear(other), more),)))
    if one.key == other.key:
        return
    assert all(a <= u + 1e-9 for a, u in zip(why.light.after, why.light.under, strict=True))
    assert max(why.light.own) < 1e-9
    assert why.change.lightness <= 1e-9


def test_bare_paper_sends_back_all_the_light() -> None:
    k = s = np.zeros(36)
    spectra = np.repeat(PAPER.reflectance[None], 3, axis=0)
    told = light_told(PAPER, spectra, k, s)
    assert told.under == told.passed == pytest.approx((1.0, 1.0, 1.0))
    assert told.taken == told.own == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)


# What a painter expects of paints of one hue: which thirds a middle coat leaves and takes.
LEAVES = [
    ("PB29", "blue", "red"), ("PB15:3", "blue", "red"), ("PY154", "red", "blue"),
    ("lemon-yellow", "red", "blue"), ("PR255", "red", "blue"), ("PR108", "red", "blue"),
    ("PG7", "green", "red"), ("PR122", "red", "green"), ("PV19-rose", "red", "green"),
    ("PBr7-burnt", "red", "blue"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "most", "least"), LEAVES)
def test_which_light_paints_leave(key: str, most: str, least: str) -> None:
    told = dict(zip(THIRDS, explain_glaze([], parse_coat(f"{key} 10%")).light.after, strict=True))
    assert told[least] == min(told.values())
    # Greens leave about as much blue as green.
    assert told[most] >= max(told.values()) - 0.02


# --- colours beside each other -----------------------------------------------------


def centres() -> dict[str, float]:
    """The middle of each hue's stretch of the CIELAB circle, degrees."""
    tops = [0.0] + [top for top, _ in WAYS]
    found = {
        w: 0.5 * (a + b) for a, b, (_, w) in zip(tops[:-2], tops[1:-1], WAYS[:-1], strict=True)
    }
    return {**found, "rose": 0.0}


def apart(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)


def hue(lab: np.ndarray | tuple[float, float, float]) -> float:
    return float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)


def check_shift(told: Shift, plain: np.ndarray, moved: np.ndarray, paper: np.ndarray) -> None:
    """A shift says what is so of the two colours."""
    np.testing.assert_allclose(told.lab, moved, atol=CLOSE)
    assert told.lightness == pytest.approx(moved[0] - plain[0], abs=CLOSE)
    assert told.seen == pytest.approx(float(delta_e_2000(moved, plain)), abs=CLOSE)
    if told.towards is None:
        return
    if told.towards == "grey":
        assert chroma(moved) < chroma(plain)
    elif told.towards == "pale":
        assert chroma(moved) < chroma(plain)
        assert moved[0] >= plain[0]
        assert np.linalg.norm(moved - paper) < np.linalg.norm(plain - paper)
    elif told.towards in ("brown", "olive"):
        # Brown is a dark orange, olive a dark yellow: the colour ends on that side of the circle.
        assert moved[2] > 0.0
        assert moved[0] < 60.0
    else:
        goal = centres()[told.towards]
        nearer = apart(hue(moved), goal) < apart(hue(plain), goal)
        onward = apart(told.turn, goal) < 90.0
        assert nearer or onward


@few
@given(stacks)
def test_leanings_are_what_is_predicted(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    plain, paper = lab_of(why, why.amounts), np.array(why.labs[0])
    np.testing.assert_allclose(plain, why.labs[2], atol=CLOSE)
    ways = [(why.glaze, slice(-1, None))]
    if why.under is not None:
        ways.append((why.under, slice(None, -1)))
    for leans, which in ways:
        for told, by in ((leans.less, LESS), (leans.more, MORE)):
            amounts = why.amounts.copy()
            amounts[which] *= by
            check_shift(told, plain, lab_of(why, amounts), paper)


labs = st.tuples(st.floats(10.0, 92.0), st.floats(-60.0, 60.0), st.floats(-60.0, 60.0))
moves = st.tuples(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0), st.floats(-8.0, 8.0))


@settings(max_examples=400)
@given(labs, moves)
def test_any_shift_says_what_is_so(plain: tuple[float, ...], move: tuple[float, ...]) -> None:
    here, paper = np.array(plain), np.array([95.0, 0.0, 2.0])
    check_shift(shift(here, here + move, paper), here, here + np.array(move), paper)


WAY_CASES = [
    # plain, moved, way: what a painter would say of it
    ((50, 0, 0), (50, 0, -6), "blue"),
    ((50, 0, 0), (48, -6, 1), "green"),
    ((35, 1, 1), (34, 6, 8), "brown"),
    ((50, 0, -50), (49, 0, -42), "grey"),
    ((90, -10, 60), (91, -9, 52), "pale"),
    ((60, -40, 20), (60, -34, 28), "yellow"),
    ((50, 40, 10), (50, 40, 10), None),
    ((50, 40, 10), (40, 40.2, 10), None),
]


@pytest.mark.parametrize(("plain", "moved", "way"), WAY_CASES)
def test_ways_by_name(plain: tuple[float, ...], moved: tuple[float, ...], way: str | None) -> None:
    assert shift(np.array(plain), np.array(moved), (95.0, 0.0, 2.0)).towards == way


# --- opposites -------------------------------------------------------------------


@few
@given(stacks)
def test_how_near_to_grey_is_what_is_predicted(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    path = why.path
    if path is None:
        assert not stack[0]
        return
    amounts = why.amounts.copy()
    amounts[-1] *= path.times
    there = lab_of(why, amounts)
    np.testing.assert_allclose(there, path.lab, atol=CLOSE)
    assert path.chroma == pytest.approx(chroma(there), abs=CLOSE)
    below = np.array(why.labs[1])
    assert there[0] >= DROWNED * below[0] - CLOSE
    if path.opposed == "complementary":
        assert chroma(there) <= NEUTRAL
        assert chroma(below) > NEUTRAL
    elif path.opposed == "nearly":
        assert NEUTRAL < chroma(there) <= GREYISH
        assert chroma(there) <= HALVED * chroma(below) + CLOSE
    elif path.opposed == "in part":
        assert GREYISH < chroma(there) <= HALVED * chroma(below) + CLOSE
    if path.opposed in ("complementary", "nearly", "in part"):
        # It is passed by, not merely sunk into: on either side of it the hue is another.
        sides = []
        for times in (0.5, 2.0):
            amounts[-1] = why.amounts[-1] * path.times * times
            sides.append(lab_of(why, amounts))
        assert apart(hue(sides[0]), hue(sides[1])) >= TURNED - 1e-3
        assert path.turned == pytest.approx(apart(hue(sides[0]), hue(sides[1])), abs=1e-3)
    # No strength that leaves enough light comes nearer to grey, but for what lies between those
    # tried: they are a few per cent apart, which moves C* by less than one.
    load = why.amounts[-1] @ [1.0 / p.full_coat for p in why.paints]
    for strength in np.geomspace(1e-3, 1.0, 15):
        amounts[-1] = why.amounts[-1] * strength / load
        lab = lab_of(why, amounts)
        assert lab[0] < DROWNED * below[0] or chroma(lab) > path.chroma - 1.0


@pytest.mark.parametrize(
    # Pairs that the trade uses to make greys: common practice, no source. The warm one is laid
    # over the cool one and the other way round.
    ("lower", "upper"),
    [("PB29 10%", "PBr7-burnt 5%"), ("PBr7-burnt 10%", "PB29 5%"), ("PB29 3%", "PBr7-burnt 2%")],
)
def test_ultramarine_and_burnt_sienna_make_grey(lower: str, upper: str) -> None:
    path = explain_glaze(parse_coat(lower), parse_coat(upper)).path
    assert path is not None
    # Laid last, the strong ultramarine leaves a trace of violet: C* up to 5.
    assert path.opposed in ("complementary", "nearly")
    assert path.chroma < 5.5
    assert path.strength < 0.2


@pytest.mark.parametrize("rose", ["PV19-rose", "PR122", "PR209"])
def test_phthalo_green_and_a_quinacridone_take_each_others_colour(rose: str) -> None:
    # Near-neutral darks: common practice, no source. With the catalogue's estimates the darkest is
    # greyish, not grey (C* 8 to 18 of 50), and the paints' doubt leaves open whether it is.
    why = explain_glaze(parse_coat("PG7 20%"), parse_coat(f"{rose} 15%"))
    assert why.path is not None
    assert why.path.opposed in ("complementary", "nearly", "in part")
    assert why.path.chroma < 0.4 * chroma(why.labs[1])


@pytest.mark.parametrize(
    ("lower", "upper"), [("PB15:3 10%", "PY154 20%"), ("PY154 20%", "PB15:3 10%")]
)
def test_yellow_and_blue_read_green_and_are_no_opposites(lower: str, upper: str) -> None:
    why = explain_glaze(parse_coat(lower), parse_coat(upper))
    assert why.path is not None
    assert why.path.opposed == "no"
    assert 130.0 < hue(why.labs[2]) < 200.0  # a green


def test_orange_over_blue_reads_brown_or_grey() -> None:
    # As solid yellow and magenta over cyan do in print, L* 23 and no hue [FOGRA39]: opposites.
    why = explain_glaze(parse_coat("PB29 10%"), parse_coat("PR255 20% + PY154 60%"))
    assert why.path is not None
    assert why.path.opposed in ("complementary", "nearly", "in part")
    told = dict(zip(THIRDS, why.light.taken, strict=True))
    assert told["blue"] == max(told.values())
    assert told["blue"] > 0.8


def test_a_black_has_no_hue_to_grey_with() -> None:
    path = explain_glaze(parse_coat("PY154 20%"), parse_coat("PBk9 2%")).path
    assert path is not None
    assert path.opposed == "no hue above"


def test_a_near_black_has_nothing_more_to_tell() -> None:
    path = explain_glaze(parse_coat("PB27 100%"), parse_coat("PY154 20%")).path
    assert path is not None
    assert path.opposed == "too dark"


def test_two_that_only_darken_each_other_are_no_opposites() -> None:
    for lower, upper in [("PB29 5%", "PB27 5%"), ("PG7 20%", "PB15:3 20%"), ("PV23 3%", "PB29 5%")]:
        path = explain_glaze(parse_coat(lower), parse_coat(upper)).path
        assert path is not None
        assert path.opposed == "no"


def test_a_grey_has_no_hue_to_lose() -> None:
    path = explain_glaze(parse_coat("PBk9 1%"), parse_coat("PY154 20%")).path
    assert path is not None
    assert path.opposed == "no hue beneath"


# --- puddle and order ------------------------------------------------------------


@few
@given(stacks)
def test_puddle_and_order_are_what_is_predicted(stack: tuple[list[Coat], Coat]) -> None:
    why = explain_glaze(*stack)
    plain, paper = lab_of(why, why.amounts), np.array(why.labs[0])
    if why.order is None or why.puddle is None:
        assert len(why.amounts) == 1
        return
    check_shift(why.puddle, plain, lab_of(why, why.amounts.sum(axis=0)[None]), paper)
    turned = lab_of(why, swapped(why.amounts))
    check_shift(why.order.other, plain, turned, paper)
    seen = float(delta_e_2000(plain, turned))
    assert why.order.matters == (seen >= TELLS)
    if not why.order.matters:
        assert not why.order.scatters
        assert not why.order.sinks
    if why.order.veils == "glaze":
        assert plain[0] > turned[0]
    if why.order.veils == "beneath":
        assert turned[0] > plain[0]
    if why.order.covers is not None:
        top, other = (plain, turned) if why.order.covers == "glaze" else (turned, plain)
        which = why.amounts[-1:] if why.order.covers == "glaze" else why.amounts[:-1]
        own = lab_of(why, which)
        assert delta_e_2000(top, own) < delta_e_2000(other, own)


@few
@given(coats, coats)
def test_order_and_puddle_of_clear_paints_do_not_matter(lower: Coat, upper: Coat) -> None:
    # S = 0, and a paper that nothing sinks into: paint only takes light away, [Kubelka1954].
    (one, strength), (other, more) = lower.parts[0], upper.parts[0]
    why = why_glaze(DRY_PAPER, (clear(one), clear(other)), np.array([[strength, 0.0], [0.0, more]]))
    assert why.order is not None
    assert why.puddle is not None
    assert not why.order.matters
    # Rounding, and what a scattering of 1e-14 does.
    assert why.order.other.seen < 1e-6
    assert why.puddle.seen < 1e-6
    assert why.order.scatters == ()
    assert not why.order.sinks


@few
@given(coats, coats)
def test_where_nothing_sinks_in_only_scattering_makes_order_matter(
    lower: Coat, upper: Coat
) -> None:
    why = explain_glaze(lower, upper, DRY_PAPER)
    assert why.order is not None
    assert not why.order.sinks
    assert why.order.unscattered < 1e-6
    if why.order.matters:
        assert why.order.scatters


@few
@given(coats, coats)
def test_where_nothing_scatters_only_sinking_in_does(lower: Coat, upper: Coat) -> None:
    parts = [Coat(((clear(c.parts[0][0]), c.parts[0][1]),)) for c in (lower, upper)]
    why = explain_glaze(parts[0], parts[1])
    if lower.parts[0][0].key == upper.parts[0][0].key:
        return
    assert why.order is not None
    assert why.order.scatters == ()
    assert why.order.matters == why.order.sinks


@few
@given(coats, coats)
def test_paint_that_sinks_in_works_less_strongly(lower: Coat, upper: Coat) -> None:
    # As is said of it: alone, a coat that sinks in is no darker than one that lies on top.
    why = explain_glaze(lower, upper)
    if why.order is not None and why.order.sinks:
        assert why.order.sunk > -0.5


def test_an_opaque_paint_laid_last_veils() -> None:
    for lower, upper, who in [
        ("PB29 10%", "PR108 10%", "glaze"),
        ("PR108 10%", "PB29 10%", "beneath"),
        ("PB29 3%", "PW4 10%", "glaze"),
    ]:
        order = explain_glaze(parse_coat(lower), parse_coat(upper)).order
        assert order is not None
        assert order.veils == who


# --- how sure --------------------------------------------------------------------


def test_doubt_is_that_of_the_paints() -> None:
    sure = explain_glaze(parse_coat("PB29 10%"), parse_coat("PY154 30%")).sure
    assert sure.known == (("PB29", "measured"), ("PY154", "estimated"))
    assert sure.beyond == ("PB29",)  # measured from a quarter coat up
    assert sure.lighter[0] > sure.darker[0]
    assert sure.doubt > 0.0
    assert {claim for claim, _ in sure.holds} == {"value", "lean", "greys", "puddle", "order"}


def certain(key: str) -> Paint:
    return replace(paint(key), spread=np.full((1, 72), 1e-9))


def test_what_is_known_for_certain_holds_in_every_draw() -> None:
    under, glaze = Coat(((certain("PB29"), 0.1),)), Coat(((certain("PBr7-burnt"), 0.1),))
    sure = explain_glaze(under, glaze).sure
    assert all(share == 1.0 for _, share in sure.holds)


def test_more_doubt_about_a_paint_makes_less_sure() -> None:
    wild = replace(paint("PBr7-burnt"), spread=2.0 * paint("PBr7-burnt").doubt)
    under = Coat(((paint("PB29"), 0.1),))
    tame, loose = (
        explain_glaze(under, Coat(((p, 0.05),))).sure for p in (paint("PBr7-burnt"), wild)
    )
    assert loose.doubt > tame.doubt
    assert sum(s for _, s in loose.holds) < sum(s for _, s in tame.holds)


# --- what may be asked -----------------------------------------------------------


def test_coats_without_paint_are_left_out() -> None:
    paints = (paint("PB29"), paint("PY154"))
    whole = why_glaze(PAPER, paints, np.array([[0.1, 0.0], [0.0, 0.1]]))
    gaps = why_glaze(PAPER, paints, np.array([[0.0, 0.0], [0.1, 0.0], [0.0, 0.0], [0.0, 0.1]]))
    assert gaps.labs == whole.labs
    assert gaps.order == whole.order


def test_a_coat_on_bare_paper_has_nothing_beneath() -> None:
    why = explain_glaze([], parse_coat("PB29 10%"))
    assert why.on_paper
    assert (why.under, why.path, why.puddle, why.order) == (None, None, None, None)
    assert why.labs[0] == why.labs[1]


def test_the_same_paint_twice_is_one_paint() -> None:
    why = explain_glaze(parse_coat("PB29 10%"), parse_coat("PB29 5%"))
    full = paint("PB29").full_coat
    assert why.amounts.tolist() == [[pytest.approx(0.1 * full)], [pytest.approx(0.05 * full)]]


def test_no_paint_or_too_many_coats_are_refused() -> None:
    with pytest.raises(RequestError, match="1 to 12 coats"):
        why_glaze(PAPER, (paint("PB29"),), np.zeros((2, 1)))
    with pytest.raises(RequestError, match="1 to 12 coats"):
        explain_glaze([parse_coat("PB29 1%")] * 12, parse_coat("PB29 1%"))


@pytest.mark.parametrize("amounts", [[[-0.1]], [[np.nan]], [[np.inf]], [0.1], [[0.1, 0.1]]])
def test_amounts_that_are_none_are_refused(amounts: list[object]) -> None:
    with pytest.raises(ValueError, match="amounts"):
        why_glaze(PAPER, (paint("PB29"),), np.array(amounts, dtype=float))
