"""The colour of a light in figures and words."""

import numpy as np
import pytest

from firstwash.light.lamp_words import (
    angle_between,
    glow_rgb,
    kelvin_of,
    light_words,
    warmth_of,
    xy_of,
)


@pytest.mark.parametrize(
    ("xy", "kelvin"),
    [
        ((0.44758, 0.40745), 2856.0),  # illuminant A, [CIE15]
        ((0.34567, 0.35850), 5003.0),  # D50, [CIE15]
        ((0.31272, 0.32903), 6504.0),  # D65, [CIE15]
    ],
)
def test_temperatures_of_standard_lights(xy: tuple[float, float], kelvin: float) -> None:
    found, away = kelvin_of(xy)
    # the polynomials of [Krystek1985] and the steps of the search leave a few kelvin
    assert found == pytest.approx(kelvin, rel=0.004)
    assert away < 0.004  # daylight lies 0.003 beside the glowing bodies


@pytest.mark.parametrize("kelvin", [2500.0, 3000.0, 4000.0, 6500.0, 10000.0])
def test_a_glowing_body_has_its_own_temperature(kelvin: float) -> None:
    found, away = kelvin_of(xy_of(glow_rgb(kelvin)))
    assert found == pytest.approx(kelvin, rel=0.01)
    assert away < 0.001


def test_angle_is_the_angular_error() -> None:
    # the definition: arc cosine of the dot product of unit vectors
    assert angle_between(np.ones(3), np.array([1.0, 0.0, 0.0])) == pytest.approx(54.7356, abs=1e-3)
    assert angle_between(np.ones(3), 7.0 * np.ones(3)) == pytest.approx(0.0, abs=1e-5)
    assert angle_between(np.array([1.0, 0, 0]), np.array([0, 1.0, 0])) == pytest.approx(90.0)


def test_words_run_from_candle_to_blue_sky() -> None:
    kelvins = [1900.0, 2700.0, 3200.0, 4200.0, 5200.0, 6500.0, 8500.0, 15000.0]
    words = [light_words(glow_rgb(k)) for k in kelvins]
    assert words[0].startswith("very warm")
    assert words[2].startswith("warm, like a lamp") or words[2].startswith("very warm")
    assert words[5] == "neutral"
    assert words[6].startswith("cool")
    warmth = [warmth_of(glow_rgb(k)) for k in kelvins]
    assert warmth == sorted(warmth, reverse=True)


@pytest.mark.parametrize(
    ("rgb", "words"), [((0.6, 1.0, 0.6), "greenish"), ((1.0, 0.6, 1.0), "pinkish")]
)
def test_lights_that_do_not_glow(rgb: tuple[float, float, float], words: str) -> None:
    assert light_words(np.array(rgb)) == words
