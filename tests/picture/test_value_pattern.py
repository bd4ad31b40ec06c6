"""The value pattern: few big masses, words that hold of them."""

import numpy as np
import pytest
from skimage import data
from skimage.color import rgb2lab
from skimage.measure import label

from firstwash.errors import RequestError
from firstwash.picture.value_pattern import LEAST, NAMES, WIDTH, value_pattern


def three() -> np.ndarray:
    """Left third dark, middle third middle, right third light, with specks everywhere."""
    plane = np.repeat([15.0, 50.0, 88.0], 60)[None, :].repeat(120, axis=0)
    rng = np.random.default_rng(1)
    rows, cols = rng.integers(0, 120, 80), rng.integers(0, 180, 80)
    plane[rows, cols] = rng.uniform(0, 100, 80)
    return plane


def test_masses_are_found_without_their_specks() -> None:
    found = value_pattern(three())
    assert [len(m) for m in (found.shares, found.masses)] == [3, 3]
    np.testing.assert_allclose(found.shares, 1 / 3, atol=0.02)
    np.testing.assert_allclose(found.lightness, [15, 50, 88], atol=3)
    assert found.words == (
        "Squinted at, it is a third dark, a third middle and a third light. The dark is one "
        "mass, on the left. The light is one mass, on the right."
    )


@pytest.mark.parametrize("tones", [3, 4, 5])
@pytest.mark.parametrize("photo", ["coffee", "chelsea"])
def test_photos_become_few_large_masses(photo: str, tones: int) -> None:
    lightness = rgb2lab(getattr(data, photo)())[..., 0]
    found = value_pattern(lightness, tones)
    assert found.tones.shape[1] == min(WIDTH, lightness.shape[1])
    assert len(found.shares) <= tones
    assert sum(found.shares) == pytest.approx(1.0)
    assert list(found.lightness) == sorted(found.lightness)
    assert found.names == NAMES[len(found.shares)]
    for tone in range(len(found.shares)):
        pieces = label(found.tones == tone, connectivity=2)
        sizes = np.bincount(pieces.ravel())[1:]
        own = sorted((m.share for m in found.masses if m.tone == tone), reverse=True)
        np.testing.assert_allclose(own, sorted(sizes / found.tones.size, reverse=True))
        assert (sizes >= LEAST * found.tones.size).all()
    for mass in found.masses:
        rows, cols = found.tones.shape
        at = found.tones[int(mass.y * rows), int(mass.x * cols)]
        assert at == mass.tone  # its heart lies in it


def test_pictures_keep_their_order_of_values() -> None:
    grey = value_pattern(three()).picture()
    assert grey.shape == (120, 180, 3)
    assert (grey[..., 0] == grey[..., 2]).all()
    assert int(grey[60, 20, 0]) < int(grey[60, 90, 0]) < int(grey[60, 160, 0])


@pytest.mark.parametrize("level", [0.0, 50.0, 100.0])
def test_one_value_is_no_pattern(level: float) -> None:
    found = value_pattern(np.full((40, 60), level))
    assert found.shares == (1.0,)
    assert "one value" in found.words
    assert found.picture().shape == (40, 60, 3)


def test_two_values_are_two_masses() -> None:
    plane = np.full((60, 60), 20.0)
    plane[:, 30:] = 80.0
    found = value_pattern(plane, 5)
    assert len(found.shares) == 2
    assert found.names == ("dark", "light")


@pytest.mark.parametrize("tones", [-1, 2, 6])
def test_other_numbers_are_refused(tones: int) -> None:
    with pytest.raises(RequestError, match="3 to 5 tones"):
        value_pattern(np.zeros((5, 5)), tones)


@pytest.mark.parametrize("shape", [(1, 1), (1, 30), (2, 900), (900, 2)])
def test_tiny_and_long_pictures(shape: tuple[int, int]) -> None:
    found = value_pattern(100 * np.random.default_rng(0).random(shape))
    assert found.words.endswith(".")
    assert sum(found.shares) == pytest.approx(1.0)
