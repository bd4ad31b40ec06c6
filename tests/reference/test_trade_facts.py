"""What every watercolourist knows, asked of the optics and of real paints.

All facts here: common practice, no source.

How strong a wash is, is told as painters see it: by the lightness of one dry coat of it on white
paper (`wash`). "Full glaze strength" is L* 60 alone on paper for an orange, a blue underneath
L* 50, the middle of the scale. It is not the paint's "full-strength coat", which is what the
measurements call the paint straight from the tube, near enough opaque for every measured paint:
see the two tests on full coats at the end.
"""

from typing import NamedTuple

import numpy as np
import pytest
from scipy.optimize import brentq

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import all_paints, default_paper, paint

Mix = dict[str, float]
Coat = tuple[np.ndarray, np.ndarray]

REDDISH_ORANGE: Mix = {"PR108": 0.58, "PY35": 0.42}  # cadmium red and cadmium yellow
CLEAR_REDDISH_ORANGE: Mix = {"PR255": 0.6, "PY154": 0.4}  # organic pigments, estimated curves
BLUES = ["PB29", "PB35", "PB28", "PB15:3"]
GREENISH_BLUES = ["PB35", "PB15:3"]
NO_SCATTER, AS_IT_IS = 0.0, 1.0


class Look(NamedTuple):
    """L*, C* and hue angle in degrees, under D65."""

    lightness: float
    chroma: float
    hue: float


def coat(mix: Mix, scatter: float = AS_IT_IS, strength: float = 1.0) -> Coat:
    """Absorption and scattering depth (36,) of the mix; `scatter` 0 makes it transparent."""
    k = sum(amount * paint(key).k for key, amount in mix.items())
    s = sum(amount * paint(key).s for key, amount in mix.items())
    return np.asarray(strength * k), np.asarray(strength * scatter * s)


def lab_of(*coats: Coat) -> np.ndarray:
    """CIELAB (3,) of coats on white paper, first one lowest."""
    kx, sx = (np.reshape([c[i] for c in coats], (len(coats), 36)) for i in (0, 1))
    return reflectance_to_lab(stages(default_paper(), kx, sx)[-1])


def look(*coats: Coat) -> Look:
    lightness, a, b = lab_of(*coats)
    return Look(lightness, float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a))) % 360)


def wash(mix: Mix, lightness: float, scatter: float = AS_IT_IS) -> Coat:
    """The mix with so much water that one coat of it on white paper has that lightness."""

    def off(amount: float) -> float:
        return look(coat(mix, scatter, amount)).lightness - lightness

    return coat(mix, scatter, brentq(off, 1e-5, 2.0))


def thinner(one: Coat, share: float) -> Coat:
    return share * one[0], share * one[1]


# Cadmium orange without its scattering is no real paint; over the greenish blues, its exact
# complements, it goes past brown to a grey (C* 7) and is left out there.
@pytest.mark.parametrize(
    ("orange", "scatter", "blue"),
    [
        *((REDDISH_ORANGE, NO_SCATTER, blue) for blue in BLUES if blue not in GREENISH_BLUES),
        *((CLEAR_REDDISH_ORANGE, NO_SCATTER, blue) for blue in BLUES),
        *((CLEAR_REDDISH_ORANGE, AS_IT_IS, blue) for blue in BLUES),
    ],
)
def test_reddish_orange_over_blue_is_brown(orange: Mix, scatter: float, blue: str) -> None:
    under, glaze = wash({blue: 1.0}, 50, scatter), wash(orange, 60, scatter)
    assert look(glaze).chroma > 60  # a clean orange by itself
    assert look(under).hue > 200  # a blue by itself
    seen = look(under, glaze)
    print(f"{blue}: L* {seen.lightness:.0f}, C* {seen.chroma:.0f}, hue {seen.hue:.0f}")
    assert 40 <= seen.hue <= 80
    assert 8 <= seen.chroma <= 30
    assert seen.lightness < 50
    # Greyer with less orange, on the way to blue.
    lesser = [look(under, thinner(glaze, v)).chroma for v in np.linspace(0.1, 0.9, 17)]
    print(f"greyest of the lesser glazes: C* {min(lesser):.0f}")
    assert min(lesser) < seen.chroma - 1


def test_a_thin_glaze_of_opaque_paint_is_still_a_glaze() -> None:
    # The cadmiums as they were measured, scattering and all: thinned to a glaze they behave.
    under, glaze = wash({"PB35": 1.0}, 55), wash(REDDISH_ORANGE, 60)
    full, half = look(under, glaze), look(under, thinner(glaze, 0.5))
    print(f"cadmium orange over PB35: {full}, half the orange: {half}")
    assert 40 <= full.hue <= 80
    assert 8 <= full.chroma <= 30
    assert full.lightness < 50
    assert half.chroma < full.chroma - 5


def test_burnt_sienna_over_ultramarine_is_a_warm_grey() -> None:
    under, glaze = wash({"PB29": 1.0}, 55), wash({"PBr7-burnt": 1.0}, 60)
    seen = look(under, glaze)
    print(f"burnt sienna over PB29: {seen}")
    assert 40 <= seen.hue <= 80
    assert 8 <= seen.chroma <= 30
    # With a little less sienna the pair passes through grey.
    assert min(look(under, thinner(glaze, v)).chroma for v in np.linspace(0, 1, 21)) < 8


@pytest.mark.parametrize(
    ("warm", "cool"),
    [
        (REDDISH_ORANGE, "PB29"),
        (CLEAR_REDDISH_ORANGE, "PB35"),
        ({"PBr7-burnt": 1.0}, "PB29"),
        ({"PBr7-burnt": 1.0}, "PB28"),
        ({"PR254": 1.0}, "PG7"),
        ({"PR83": 1.0}, "PG18"),
    ],
    ids=["orange PB29", "orange PB35", "PBr7 PB29", "PBr7 PB28", "PR254 PG7", "PR83 PG18"],
)
def test_complementary_glazes_neutralise(warm: Mix, cool: str) -> None:
    one, two = wash(warm, 70), wash({cool: 1.0}, 70)
    alone = min(look(one).chroma, look(two).chroma)
    together = min(look(thinner(one, v), thinner(two, 1 - v)).chroma for v in np.linspace(0, 1, 41))
    print(f"{cool}: alone {alone:.0f}, together down to {together:.1f}")
    assert alone > 25
    # In the right proportion hardly any colour is left; a chroma of 8 reads as a grey.
    assert together < 8


def test_glazes_that_are_not_complementary_stay_coloured() -> None:
    # The control: yellow and blue, red and (yellowish) sap green pass through a strong colour.
    for one, two in (("lemon-yellow", "PB35"), ("PR83", "sap-green")):
        first, second = wash({one: 1.0}, 88 if one == "lemon-yellow" else 70), wash({two: 1.0}, 70)
        chroma = [look(thinner(first, v), thinner(second, 1 - v)).chroma for v in (0.3, 0.5, 0.7)]
        assert min(chroma) > 20


@pytest.mark.parametrize("scatter", [AS_IT_IS, NO_SCATTER], ids=["as it is", "without scatter"])
@pytest.mark.parametrize("blue", BLUES)
@pytest.mark.parametrize("yellow", ["lemon-yellow", "PY154"])
def test_yellow_over_blue_is_green(yellow: str, blue: str, scatter: float) -> None:
    under, glaze = wash({blue: 1.0}, 53, scatter), wash({yellow: 1.0}, 88, scatter)
    seen = look(under, glaze)
    print(f"{yellow} over {blue}: {seen}")
    assert 95 < seen.hue < 180
    assert seen.chroma > 30
    if blue in GREENISH_BLUES:
        # A greenish blue gives the purer green, nearer to 140° than to yellow.
        assert seen.hue > look(wash({"PB29": 1.0}, 70, scatter), glaze).hue


@pytest.mark.parametrize("key", [p.key for p in all_paints()])
def test_more_water_is_lighter_on_white(key: str) -> None:
    strengths = [1, 0.7, 0.5, 0.3, 0.2, 0.1, 0.05, 0.02, 0.01, 0.001, 1e-6, 0]
    lightness = [look(coat({key: 1.0}, strength=v)).lightness for v in strengths]
    assert (np.diff(lightness) > 0).all()
    # Hardly any paint is hardly any change.
    assert lightness[-2] == pytest.approx(lightness[-1], abs=0.1)


@pytest.mark.parametrize("key", ["PR83", "PB29", "PB35", "PBr7-burnt", "sap-green"])
def test_a_second_glaze_of_the_same_deepens_the_first(key: str) -> None:
    one = wash({key: 1.0}, 75)
    assert look(one, one).lightness < look(one).lightness - 5
    # ... and is what one coat of double strength would be, but for the paint that sank in.
    # The paper takes up 71 % of a first coat, where it dulls; burnt sienna differs most, by 6.8.
    np.testing.assert_allclose(lab_of(one, one), lab_of(thinner(one, 2)), atol=7)


def test_white_paint_lightens_a_dark_and_a_transparent_glaze_never_does() -> None:
    dark = wash({"PB29": 1.0}, 30)
    assert look(dark, coat({"PW4": 1.0})).lightness > 60
    for one in all_paints():
        clear = coat({one.key: 1.0}, NO_SCATTER, 0.1)
        assert look(dark, clear).lightness < look(dark).lightness


def test_a_full_coat_of_opaque_cadmium_hides_the_blue() -> None:
    # Why the brown above needs a glaze: at the strength of the tube the cadmiums scatter so much
    # that the blue does not show, so the fact about brown does not and should not hold.
    # Compared over two grounds that are both painted: on bare paper the coat would sink in.
    full = coat(REDDISH_ORANGE)
    over_blue, over_ochre = (lab_of(wash({key: 1.0}, 55), full) for key in ("PB29", "PBr7-raw"))
    assert np.hypot(*over_blue[1:]) > 45
    # 3: a difference one has to look for.
    assert delta_e_2000(over_blue, over_ochre) < 3


def test_a_full_coat_without_scatter_is_nearly_black_over_blue() -> None:
    # ... and without scattering the same amount absorbs nearly all: too dark to be called brown.
    seen = look(wash({"PB29": 1.0}, 55), coat(REDDISH_ORANGE, NO_SCATTER))
    assert seen.lightness < 25
