"""The wet look: darker than the dry one for scattering alone, within what theories of wetting say.

Nothing here compares with measured wet washes, for no open measurement of them is known; the
prediction calls itself unvalidated.
"""

import importlib
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper, enter_surface
from firstwash.optics.wet import WATER, WET_LOOK, Water, wet_paper, wet_stages

ROOT = Path(__file__).parents[2]
WHITE = np.linspace(0.80, 0.92, N_BANDS)
PAPER = Paper("soaking", WHITE, k2=0.67, soak=0.7, fibre_scattering=1.7)
NOTHING = np.zeros((0, N_BANDS))

flat = st.floats(0.0, 4.0)


def same_as_dry(paper: Paper) -> Water:
    """Water that changes nothing."""
    return Water(paint=1.0, fibre=1.0, k1=paper.k1, k2=paper.k2)


def coats(*depths: float) -> np.ndarray:
    return np.array([np.full(N_BANDS, d) for d in depths])


@pytest.fixture(scope="module")
def tool():
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("fit_wet")
    finally:
        sys.path.remove(str(ROOT / "tools"))


# ------------------------------------------------------------------ limits


def test_the_prediction_says_that_nothing_confirms_it() -> None:
    assert WET_LOOK == "unvalidated"
    assert "unvalidated" in wet_paper(PAPER).provenance


@given(kx=flat, sx=flat)
def test_water_that_changes_nothing_leaves_the_dry_look(kx: float, sx: float) -> None:
    k, s = coats(kx, 0.2), coats(sx, 0.1)
    wet = wet_stages(PAPER, k, s, same_as_dry(PAPER))
    # The paper is turned inside out and back once more: a few roundings of numbers near 1.
    np.testing.assert_allclose(wet, stages(PAPER, k, s), rtol=1e-11)


@given(kx=flat, share=st.floats(0.05, 1.0))
def test_clear_paint_has_no_scattering_to_lose(kx: float, share: float) -> None:
    k, s = coats(kx, 0.3), coats(0.0, 0.0)
    whole = wet_stages(PAPER, k, s, replace(WATER, paint=1.0))
    np.testing.assert_array_equal(wet_stages(PAPER, k, s, replace(WATER, paint=share)), whole)


@given(kx=flat, sx=flat)
def test_energy(kx: float, sx: float) -> None:
    wet = wet_stages(PAPER, coats(kx, kx), coats(sx, sx))
    assert wet.shape == (3, N_BANDS)
    assert (wet > 0).all()
    assert (wet < 1).all()


def test_row_0_is_the_bare_wet_paper() -> None:
    bare = wet_stages(PAPER, NOTHING, NOTHING)
    np.testing.assert_allclose(bare[0], wet_paper(PAPER).reflectance, rtol=1e-12)
    clear = wet_stages(PAPER, coats(0.0), coats(0.0))
    np.testing.assert_allclose(clear[1], bare[0], rtol=1e-12)


def test_soaked_fibres_absorb_as_before_and_scatter_less() -> None:
    wet = wet_paper(PAPER)
    np.testing.assert_allclose(wet.fibre_absorption, PAPER.fibre_absorption, rtol=1e-9)
    assert wet.fibre_scattering == pytest.approx(WATER.fibre * PAPER.fibre_scattering)
    assert wet.soak == PAPER.soak


# ------------------------------------------------------------------ darker, deeper


@given(white=st.floats(0.05, 0.97), k2=st.floats(0.3, 0.7))
def test_wet_paper_is_darker(white: float, k2: float) -> None:
    # k2 up to what the measured paints gave (0.67); above 0.75 the surface wins over the fibres.
    paper = Paper("any", np.full(N_BANDS, white), k2=k2)
    assert (wet_paper(paper).reflectance < paper.reflectance).all()


@given(kx=st.floats(0.0, 4.0), sx=st.floats(0.05, 4.0), soak=st.floats(0.0, 1.0))
def test_a_scattering_coat_is_darker_wet(kx: float, sx: float, soak: float) -> None:
    # On a paper whose surface stays as it is. Where the dry one throws more back inside, as
    # PAPER does, single bands of a pale coat may gain up to a hundredth; colours are below.
    paper = replace(PAPER, k1=WATER.k1, k2=WATER.k2, soak=soak)
    dry, wet = (f(paper, coats(kx), coats(sx))[-1] for f in (stages, wet_stages))
    assert (wet < dry).all()
    dry, wet = (f(PAPER, coats(kx), coats(sx))[-1] for f in (stages, wet_stages))
    assert (wet < dry + 0.01).all()


@given(kx=st.floats(0.01, 2.0), sx=st.floats(0.05, 2.0), more=st.floats(0.05, 0.9))
def test_the_less_wet_paint_scatters_the_darker_it_is(kx: float, sx: float, more: float) -> None:
    black = Paper("black", np.full(N_BANDS, 0.03), k2=0.6)
    less, plain = (
        wet_stages(black, coats(kx), coats(sx), replace(WATER, paint=share))[-1]
        for share in (more * WATER.paint, WATER.paint)
    )
    assert (less < plain).all()


def test_the_surface_alone_has_the_wrong_sign() -> None:
    # Where the dry sheet throws more back inside than water does, wetting its surface alone
    # makes it lighter; the loss of scattering turns that round.
    surface = replace(same_as_dry(PAPER), k1=WATER.k1, k2=WATER.k2)
    assert (wet_paper(PAPER, surface).reflectance > PAPER.reflectance).all()
    assert (wet_paper(PAPER).reflectance < PAPER.reflectance).all()


@given(white=st.floats(0.2, 0.95))
def test_wetting_is_what_the_missing_scattering_makes_of_it(white: float) -> None:
    # Same surface, so that only K/S changes: it grows by one part in `fibre`.
    paper = Paper("any", np.full(N_BANDS, white))
    wet = wet_paper(paper, replace(same_as_dry(paper), fibre=0.25))
    inside = enter_surface(wet.reflectance, paper.k1, paper.k2)
    ratios = [(1 - r) ** 2 / (2 * r) for r in (paper.inside, inside)]
    np.testing.assert_allclose(ratios[1], 4 * ratios[0], rtol=1e-9)


# ------------------------------------------------------------------ published theories


def lightness(y: float) -> float:
    return float(reflectance_to_lab(np.full(N_BANDS, y))[0])


def test_wet_paper_lies_where_theories_of_wetting_put_it() -> None:
    dry = 0.865  # a white paper, seen as grey for these one-band theories
    paper = Paper("white", np.full(N_BANDS, dry), k2=0.6738)
    ours = lightness(wet_paper(paper).reflectance[0])
    # [Lekner1988], in its simplest form: a share `a` of the light that reaches the surface is
    # absorbed each time, a share `p` of the rest is thrown back down by the water.
    inner = 2 * quad(lambda c: c * both(c, 1 / 1.333), 0, 1, limit=200)[0]
    a, outer = 1.0 - dry, 0.0204
    film = lightness(1.0 - (1.0 - outer) * a / (1.0 - inner * (1.0 - a)))
    # [Twomey1986]: no surface at all, but scattering that turns more to the front.
    ratio = (1 - dry) ** 2 / (2 * dry) / WATER.fibre
    front = lightness(1 + ratio - np.sqrt(ratio**2 + 2 * ratio))
    # The two differ by two L*, and measured sands by more [Zhang2006]; nearer than three L* to
    # each says no more than that wetting is as strong as it should be.
    assert lightness(dry) - ours > 2
    assert film == pytest.approx(90.6, abs=0.2)
    assert front == pytest.approx(88.4, abs=0.2)
    assert ours == pytest.approx(film, abs=3)
    assert ours == pytest.approx(front, abs=3)


def both(cosine: float, index: float) -> float:
    """Fresnel's reflectance of unpolarised light, from inside where index < 1."""
    sine = np.sqrt(1 - cosine**2) / index
    if sine >= 1:
        return 1.0
    far = np.sqrt(1 - sine**2)
    s = (cosine - index * far) / (cosine + index * far)
    p = (index * cosine - far) / (index * cosine + far)
    return float((s**2 + p**2) / 2)


# ------------------------------------------------------------------ where the numbers come from


def test_the_numbers_are_those_the_tool_derives(tool) -> None:
    found = tool.derived()
    # Rounded in the code to two or three digits.
    assert WATER.k1 == pytest.approx(found.k1, abs=1e-4)
    assert WATER.k2 == pytest.approx(found.k2, abs=1e-3)
    assert WATER.fibre == pytest.approx(found.fibre, abs=0.005)
    assert WATER.paint == pytest.approx(found.paint, abs=0.005)


def test_fresnel_by_another_integration(tool) -> None:
    for index in (1.333, 1.5):
        direct = 2 * quad(lambda c, n=index: c * both(c, n), 0, 1)[0]
        assert tool.diffuse(index) == pytest.approx(direct, abs=1e-5)
        # What goes in comes out the same way: (1 − inside) n² = 1 − outside.
        assert 1 - tool.diffuse(1 / index) == pytest.approx((1 - direct) / index**2, abs=1e-5)
        assert both(1.0, index) == pytest.approx(tool.straight(index))


def test_rays_through_a_fibre(tool) -> None:
    assert tool.forwardness(1.0001) == pytest.approx(1, abs=1e-3)  # nothing there to turn them
    around = [tool.forwardness(n) for n in (1.1, 1.2, 1.4, 1.6)]
    assert (np.diff(around) < 0).all()
    # A mirror (index without end): reflection alone, ⟨cos⟩ = ⟨2·height² − 1⟩ over height
    # = −1/3 in two dimensions.
    assert tool.forwardness(1e6) == pytest.approx(-1 / 3, abs=1e-3)


# ------------------------------------------------------------------ the catalogue's paints


def test_paints_at_full_strength_shift_by_the_published_mean(tool) -> None:
    # [DryingShifts75]: 2.3 L* over 75 paints. Fitted, so this guards the fit.
    darker, _ = tool.shifts(tool.all_paints(), 1.0, WATER)
    assert darker.mean() == pytest.approx(2.3, abs=0.05)


@pytest.mark.parametrize("strength", [0.06, 0.125, 0.25, 0.5, 1.0])
def test_every_wash_dries_lighter(tool, strength: float) -> None:
    darker, _ = tool.shifts(tool.all_paints(), strength, WATER)
    # Prussian blue at full strength is all but black, and stays as it is.
    assert darker.min() > -0.05
    assert 1.5 < darker.mean() < 3.0


@pytest.mark.parametrize("strength", [0.125, 0.25, 0.5])
def test_typical_washes_are_more_chromatic_wet(tool, strength: float) -> None:
    _, clearer = tool.shifts(tool.all_paints(), strength, WATER)
    assert clearer.mean() > 0
    assert np.median(clearer) > 0


def test_an_almost_black_wash_seen_past_its_shine() -> None:
    # The one published figure for a black: lightness rises by 180 % on drying, to L* 22 (lamp
    # black, S06 in docs/reference/pigment-sources.md), so from about 8. Scattering cannot do
    # that; light that the flat wet surface throws elsewhere (k1 = 0) does.
    black = Paper("any", WHITE, k2=0.6738)
    k, s = coats(9.0), coats(0.9)
    dry = reflectance_to_lab(stages(black, k, s)[-1])[0]
    shining, past = (
        reflectance_to_lab(wet_stages(black, k, s, replace(WATER, k1=k1))[-1])[0]
        for k1 in (WATER.k1, 0.0)
    )
    assert dry == pytest.approx(22, abs=0.5)
    assert dry - shining < 5
    assert past == pytest.approx(22 / 2.8, abs=2)


# ------------------------------------------------------------------ hostile input


@pytest.mark.parametrize(
    "wrong",
    [
        {"paint": 0.0}, {"paint": -1.0}, {"paint": np.nan}, {"fibre": 0.0}, {"fibre": np.inf},
        {"k1": 1.0}, {"k1": -0.1}, {"k2": 1.0}, {"k2": np.nan},
    ],
)  # fmt: skip
def test_water_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must be"):
        replace(WATER, **wrong)


@pytest.mark.parametrize(
    ("kx", "sx"),
    [
        (coats(1.0), coats(1.0, 1.0)),
        (coats(-1.0), coats(1.0)),
        (coats(np.nan), coats(1.0)),
        (coats(1.0), coats(np.inf)),
        (np.ones((1, 35)), np.ones((1, 35))),
    ],
)
def test_depths_that_cannot_be_are_refused(kx: np.ndarray, sx: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"must|last axis|36"):
        wet_stages(PAPER, kx, sx)
