"""Glazes typed by hand: what may be written, and what the physics must say about it."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from firstwash.errors import FirstwashError, PaintError, RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, light
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints, default_paper, paint
from firstwash.picture.values import value_step
from firstwash.plan.glaze import MOST_COATS, Coat, parse_coat, predict_glazes

KEYS = [p.key for p in all_paints()]
CLEAR = [p for p in all_paints() if p.key != "PW4"]  # all but the one that is meant to cover
every_clear_paint = pytest.mark.parametrize("one", CLEAR, ids=lambda p: p.key)


def parts(text: str) -> list[tuple[str, float]]:
    return [(p.key, strength) for p, strength in parse_coat(text).parts]


# --- what may be written -----------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("PB29 30%", [("PB29", 0.3)]),
        ("PB29 at 30 %", [("PB29", 0.3)]),
        ("  pb29\t12,5%  ", [("PB29", 0.125)]),
        ("PB29", [("PB29", 1.0)]),
        ("Ultramarine Blue 30%", [("PB29", 0.3)]),
        ("PR255 20% + PY154 10%", [("PR255", 0.2), ("PY154", 0.1)]),
        ("PR255 20%+PY154", [("PR255", 0.2), ("PY154", 1.0)]),
        ("PB15:3 1000%", [("PB15:3", 10.0)]),
        ("phthalo green (blue shade) 5%", [("PG7", 0.05)]),
    ],
)
def test_a_coat_is_read_as_painters_write_it(text: str, expected: list[tuple[str, float]]) -> None:
    assert parts(text) == expected


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("", RequestError, "is not a coat"),
        ("PB29 +", RequestError, "is not a coat"),
        ("PB29 30% PR255", PaintError, "There is no paint"),
        ("PB29 0%", RequestError, "above 0 %"),
        ("PB29 1001%", RequestError, "at most 1000 %"),
        ("PB29 " + "9" * 5000 + "%", RequestError, "at most 1000 %"),
        ("PB29 step 0", RequestError, "Value steps run from 1"),
        ("PB29 step 11", RequestError, "Value steps run from 1"),
        ("PB29 step " + "9" * 5000, RequestError, "Value steps run from 1"),
        ("PY154 step 2", RequestError, "at full strength dries to value step 9"),
        ("PB29 10% + ultramarine blue 5%", PaintError, "twice"),
        ("PB92 30%", PaintError, "Near:"),
    ],
)
def test_what_is_no_coat_is_refused_in_a_sentence(
    text: str, kind: type[FirstwashError], said: str
) -> None:
    with pytest.raises(kind, match=said) as refused:
        parse_coat(text)
    assert "\n" not in str(refused.value)


@given(st.text(max_size=60))
@example("PB29 ٣٠%")  # digits of other scripts are digits
@example("PB29 step ²")
@example("+" * 50)
@example("\N{NULL}")
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        coat = parse_coat(text)
    except FirstwashError:
        return
    assert all(strength > 0 for _, strength in coat.parts)


words = st.sampled_from(
    [*KEYS, "step", "at", "+", "%", "7", "0", "30%", "-5%", "1e9%", ".5%", "10"]
)


@given(st.lists(words, max_size=7).map(" ".join))
def test_no_order_of_its_own_words_breaks_the_reader(text: str) -> None:
    try:
        coat = parse_coat(text)
    except FirstwashError:
        return
    assert all(0 < strength <= 10 for _, strength in coat.parts)


@given(
    st.lists(st.sampled_from(KEYS), min_size=1, max_size=4, unique=True),
    st.lists(st.floats(1e-4, 10), min_size=4, max_size=4),
)
def test_a_coat_can_be_read_back(keys: list[str], strengths: list[float]) -> None:
    text = " + ".join(f"{k} {100 * s:f}%" for k, s in zip(keys, strengths, strict=False))
    coat = parse_coat(text)
    again = parse_coat(str(coat))
    assert [p for p, _ in again.parts] == [p for p, _ in coat.parts]
    # A coat tells its strengths to three digits.
    for (_, told), (_, meant) in zip(again.parts, coat.parts, strict=True):
        assert told == pytest.approx(meant, rel=5.1e-3)


# --- value steps -------------------------------------------------------------------


@every_clear_paint
def test_a_step_is_what_one_coat_dries_to(one: Paint) -> None:
    full = predict_glazes([parse_coat(one.key)])[1].value_step
    strengths = []
    for step in range(full, 11):
        coat = parse_coat(f"{one.key} step {step}")
        stage = predict_glazes([coat])[1]
        assert stage.value_step == step
        strengths.append(coat.parts[0][1])
        if full < step < 10:  # the middle of the step, to the rounding of 60 halvings
            assert stage.lab[0] == pytest.approx(10 * step - 5, abs=1e-6)
    assert strengths == sorted(strengths, reverse=True)  # darker steps take more paint
    if full > 1:
        with pytest.raises(RequestError, match=f"value step {full}"):
            parse_coat(f"{one.key} step {full - 1}")


def test_no_paint_is_paler_than_its_paper() -> None:
    grey = Paper("grey", np.full(36, 0.4))
    assert int(value_step(predict_glazes([parse_coat("PB29")], paper=grey)[0].lab[0])) == 7
    with pytest.raises(RequestError, match="the paper is step 7"):
        parse_coat("PB29 step 9", grey)


# --- what it looks like ------------------------------------------------------------


@every_clear_paint
def test_more_paint_is_darker(one: Paint) -> None:
    shares = (1, 3, 10, 30, 100)
    stages = [predict_glazes([parse_coat(f"{one.key} {s}%")])[1] for s in shares]
    light = [s.xyz_d65[1] for s in stages]
    assert all(more < less for less, more in pairwise(light))


@every_clear_paint
def test_a_glaze_that_does_not_scatter_only_darkens(one: Paint) -> None:
    """Opaque yellows and reds do lighten a dark; without their scattering nothing may."""
    clear = replace(one, s=np.full(36, 1e-9))
    for ground in ("PY154 30%", "PR101-transparent 40%", "PB60 60%"):
        coats = [parse_coat(ground), Coat(((clear, 0.2),))]
        _, below, above = predict_glazes(coats)
        assert above.xyz_d65[1] < below.xyz_d65[1]


def test_an_opaque_paint_shows_on_a_dark_one() -> None:
    _, below, above = predict_glazes([parse_coat("PB60"), parse_coat("PY35")])
    assert above.lab[0] > below.lab[0]


def test_two_half_coats_on_dry_paint_look_about_like_one_whole_coat() -> None:
    """Depths add; only the first coat soaks in, so the two differ, by little."""
    half, whole = parse_coat("PB29 15%"), parse_coat("PB29 30%")
    twice, once = predict_glazes([half, half])[-1], predict_glazes([whole])[-1]
    # The paper's soak moves 15 % of a coat from the fibres to the top: a visible but small step.
    assert float(delta_e_2000(twice.lab, once.lab)) < 6.0


def test_the_first_stage_is_the_bare_paper() -> None:
    stages = predict_glazes([parse_coat("PB29 30%")])
    paper = default_paper().reflectance @ light("D65").weights
    assert stages[0].coat is None
    assert stages[0].doubt == 0.0
    assert stages[0].value_step == 10
    np.testing.assert_allclose(stages[0].xyz_d65, paper, atol=1e-9)  # rounding of the inversion


@every_clear_paint
def test_the_range_grows_from_nothing_and_brackets_the_prediction(one: Paint) -> None:
    bare, thin, thick = predict_glazes([parse_coat(f"{one.key} 5%"), parse_coat(f"{one.key} 20%")])
    assert bare.lighter[0] == bare.lab[0] == bare.darker[0]
    for stage in (thin, thick):
        assert stage.doubt > 0
        assert stage.darker[0] < stage.lab[0] < stage.lighter[0]
        # The ends lie on the region's rim, so the doubt of all directions is of their size.
        ends = [float(delta_e_2000(stage.lab, b)) for b in (stage.lighter, stage.darker)]
        assert 0.3 * max(ends) < stage.doubt < 4 * max(ends)


def test_estimated_paints_are_less_sure_than_measured_ones() -> None:
    measured, estimated = paint("PB29"), paint("PB60")
    assert measured.sigma < estimated.sigma
    doubts = [predict_glazes([parse_coat(f"{k} step 6")])[1].doubt for k in ("PB29", "PB60")]
    assert doubts[0] < doubts[1]


def test_lights_show_it_differently_and_a_screen_always_the_same() -> None:
    coats = [parse_coat("PB29 20%"), parse_coat("PR255 10%")]
    seen = {under: predict_glazes(coats, under) for under in ("D65", "D50", "A", "LED")}
    labs = [stages[-1].lab for stages in seen.values()]
    assert all(
        float(delta_e_2000(labs[i], labs[j])) > 0.1 for i in range(4) for j in range(i)
    )  # 0.1: far above rounding
    for stages in seen.values():
        for stage, daylight in zip(stages, seen["D65"], strict=True):
            np.testing.assert_array_equal(stage.xyz_d65, daylight.xyz_d65)
    for stage in seen["D65"]:  # under daylight the screen's colour is the colour
        np.testing.assert_allclose(lab_to_xyz(stage.lab), stage.xyz_d65, atol=1e-9)


@pytest.mark.parametrize("count", [0, MOST_COATS + 1])
def test_too_few_or_too_many_coats_are_refused(count: int) -> None:
    with pytest.raises(RequestError, match="1 to 12 coats"):
        predict_glazes([parse_coat("PB29 10%")] * count)


def test_twelve_coats_of_anything_stay_in_bounds() -> None:
    coats = [parse_coat(f"{k} 1000%") for k in KEYS[:MOST_COATS]]
    stages = predict_glazes(coats)
    assert len(stages) == MOST_COATS + 1
    for stage in stages:
        assert np.isfinite([*stage.lab, *stage.lighter, *stage.darker, stage.doubt]).all()
        assert 0 <= stage.lab[0] <= 100
        assert (stage.xyz_d65 > 0).all()
