"""White balance from a touched grey."""

import math

import colour
import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.white_balance import (
    balanced,
    glowing_uv,
    neutral_balance,
    neutralised,
)


def in_light(kelvin: float, grey: float = 0.4) -> np.ndarray:
    """Linear sRGB (3,) of a grey in the light of a glowing body."""
    u, v = glowing_uv(np.array(kelvin))
    # CIE 1960 back to x, y: [CIE15].
    x, y = 3 * u / (2 * u - 8 * v + 4), 2 * v / (2 * u - 8 * v + 4)
    return xyz_to_linear_srgb(np.array([x / y, 1.0, (1 - x - y) / y]) * grey)


def plain(light: np.ndarray, rows: int = 60, cols: int = 80) -> np.ndarray:
    return np.broadcast_to(light, (rows, cols, 3)).astype(np.float32)


@pytest.mark.parametrize("kelvin", [2500.0, 3200.0, 4500.0, 6500.0, 9000.0, 14000.0])
@pytest.mark.parametrize("grey", [0.05, 0.3, 0.4])
def test_the_touched_grey_becomes_neutral_and_stays_as_light(kelvin: float, grey: float) -> None:
    spot = in_light(kelvin, grey)
    after, balance = neutralised(plain(spot), (0.5, 0.5))
    xyz = linear_srgb_to_xyz(after[0, 0])
    assert xyz[1] == pytest.approx(grey, rel=1e-5)  # float32
    # D65 summed from a table of the light and D65 as sRGB defines it differ in the fifth digit.
    assert np.abs(xyz_to_lab(xyz)[1:]).max() < 0.02
    # 400 steps, even in mired, from 2200 to 15000 K; a choice of neighbour is within 1 %.
    assert balance.numbers["kelvin"] == pytest.approx(kelvin, rel=0.01)


@pytest.mark.parametrize("kelvin", [2800.0, 5000.0, 12000.0])
def test_a_balanced_picture_needs_no_second_balance(kelvin: float) -> None:
    picture = np.random.default_rng(3).uniform(0.05, 0.5, (60, 80, 3)) * in_light(kelvin, 1.0)
    picture[20:40, 20:40] = in_light(kelvin, 0.3)
    once, _ = neutralised(picture, (30 / 80, 0.5))
    twice, balance = neutralised(once, (30 / 80, 0.5))
    np.testing.assert_allclose(twice, once, atol=2e-5)  # float32
    assert balance.light == "neutral"
    assert "hardly changed" in balance.words


def test_the_transform_is_bradfords() -> None:
    """Against the colour-science package; a grey in lamp light to D65."""
    lamp = linear_srgb_to_xyz(in_light(3000.0, 0.4))
    balance = neutral_balance(plain(in_light(3000.0, 0.4)), (0.5, 0.5))
    white = linear_srgb_to_xyz(np.ones(3))
    expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        lamp / lamp[1], white, transform="Bradford"
    )
    colours = np.random.default_rng(4).random((20, 3))
    found = linear_srgb_to_xyz(colours @ balance.matrix.T)
    # float32 pixels tell the light; double precision afterwards.
    np.testing.assert_allclose(found, linear_srgb_to_xyz(colours) @ expected.T, atol=1e-6)


def test_the_line_of_glowing_bodies() -> None:
    """Against the package's own Krystek, and its Planck to the accuracy Krystek states."""
    kelvin = np.array([1500.0, 2856.0, 4000.0, 6500.0, 12000.0])
    found = glowing_uv(kelvin)
    np.testing.assert_allclose(found, colour.temperature.CCT_to_uv_Krystek1985(kelvin), atol=1e-12)
    # 8e-5 in u and 9e-5 in v, [Krystek1985]; the package's constants differ in the last digits.
    np.testing.assert_allclose(found, colour.temperature.CCT_to_uv_Planck1900(kelvin), atol=2e-4)


@pytest.mark.parametrize(
    ("spot", "light", "done"),
    [
        (in_light(2800), "warm", "cooled strongly"),
        (np.array([0.42, 0.40, 0.375]), "warm", "cooled a little"),
        (in_light(7400), "cool", "warmed clearly"),
        (np.array([0.36, 0.42, 0.37]), "greenish", "made pinker clearly"),
        (np.array([0.40, 0.37, 0.395]), "pinkish", "made greener"),
        (np.full(3, 0.4), "neutral", "hardly changed"),
    ],
)
def test_the_light_is_told_in_words(spot: np.ndarray, light: str, done: str) -> None:
    balance = neutral_balance(plain(spot), (0.5, 0.5))
    assert balance.light == light
    assert done in balance.words
    assert balance.words.endswith(".")


def test_the_median_leaves_out_specks_and_glints() -> None:
    picture = plain(in_light(3500.0)).copy()
    rng = np.random.default_rng(5)
    bad = rng.random(picture.shape[:2])
    picture[bad < 0.2] = 1.0
    picture[bad > 0.85] = 0.0
    spotted = neutral_balance(picture, (0.5, 0.5), 0.2)
    even = neutral_balance(plain(in_light(3500.0)), (0.5, 0.5))
    np.testing.assert_allclose(spotted.matrix, even.matrix, atol=1e-6)


def test_only_the_touched_place_counts() -> None:
    picture = plain(np.array([0.5, 0.02, 0.02])).copy()
    picture[:12, -12:] = in_light(5000.0)
    balance = neutral_balance(picture, (0.95, 0.05))
    assert balance.numbers["kelvin"] == pytest.approx(5000.0, rel=0.01)


@pytest.mark.parametrize("point", [(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.5, 1.0)])
@pytest.mark.parametrize("shape", [(1, 1), (2, 300), (60, 80)])
def test_the_very_edge_can_be_touched(point: tuple[float, float], shape: tuple[int, int]) -> None:
    assert neutral_balance(plain(in_light(5000.0), *shape), point).light == "warm"


def test_nothing_comes_out_negative_or_changes_the_input() -> None:
    picture = np.random.default_rng(6).uniform(-0.05, 1.0, (40, 60, 3)).astype(np.float32)
    picture[:20] = in_light(2700.0)
    before = picture.copy()
    after, balance = neutralised(picture, (0.5, 0.2))
    assert after.min() >= 0.0
    assert after.dtype == np.float32
    np.testing.assert_array_equal(picture, before)
    np.testing.assert_array_equal(balanced(picture, balance), after)


@pytest.mark.parametrize(
    ("spot", "said"),
    [
        (np.full(3, 0.005), "too dark"),
        (np.zeros(3), "too dark"),
        (np.full(3, -0.1), "too dark"),
        (np.full(3, math.nan), "burnt out|too dark"),
        (np.ones(3), "burnt out"),
        (np.array([1.0, 0.6, 0.3]), "burnt out"),
        (np.array([0.5, 0.02, 0.02]), "colour of its own"),
        (np.array([0.05, 0.4, 0.05]), "colour of its own"),
        (np.array([0.02, 0.05, 0.6]), "colour of its own"),
        (np.array([0.5, 0.1, 0.6]), "colour of its own"),
        (np.array([0.6, 0.5, 0.0]), "colour of its own"),
        (np.array([0.9, 0.3, -0.4]), "colour of its own"),
    ],
)
def test_a_spot_that_says_nothing_is_refused(spot: np.ndarray, said: str) -> None:
    with pytest.raises(RequestError, match=said) as caught:
        neutral_balance(plain(spot), (0.5, 0.5))
    assert str(caught.value).count(".") == 1


@pytest.mark.parametrize("point", [(-0.1, 0.5), (0.5, 1.2), (math.nan, 0.5)])
def test_a_spot_off_the_picture_is_refused(point: tuple[float, float]) -> None:
    with pytest.raises(RequestError, match="outside"):
        neutral_balance(plain(np.full(3, 0.4)), point)
