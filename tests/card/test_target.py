"""The colour target beside the card: found however it lies, and not found where there is none.

A drawn table seen squarely from above, 4 pixels to the mm: a card's sheet, and a chart whose
patches' linear light is known.
"""

import cv2
import numpy as np
import pytest

from firstwash.card.camera import target_reflectance
from firstwash.card.finding import CardMap
from firstwash.card.layout import HEIGHT_MM, WIDTH_MM
from firstwash.card.target import Patches, find_target
from firstwash.optics.observer import light, xyz_to_linear_srgb

SCALE = 4.0  # pixels per mm
LEFT, TOP = 120, 120  # pixels of table left of and above the card
SIZE = (1500, 1300)  # width, height of the photo
CARD = CardMap(np.array([[SCALE, 0, LEFT], [0, SCALE, TOP], [0, 0, 1.0]]), 0.0, SIZE, 0.0)
# The patches as a screen would show them under D65: linear light, white near 0.8.
TRUE = 0.85 * np.clip(xyz_to_linear_srgb(target_reflectance() @ light("D65").weights), 0.002, None)
PATCH, GAP = 12.0, 2.0  # mm
CENTRE = np.array([WIDTH_MM + 60.0, 120.0])  # of the chart, mm on the card


def table() -> np.ndarray:
    """(rows, cols, 3) linear light: a brown table with the card's white sheet on it."""
    out = np.empty((SIZE[1], SIZE[0], 3), np.float32)
    out[:] = (0.30, 0.22, 0.16)
    low = CARD.pixels(np.array([-5.0, -5.0])).astype(int)
    high = CARD.pixels(np.array([WIDTH_MM + 5, HEIGHT_MM + 5])).astype(int)
    out[low[1] : high[1], low[0] : high[0]] = 0.75
    return out


def chart(colours: np.ndarray) -> np.ndarray:
    """The chart alone, 10 pixels to the mm, on its black board."""
    d = 10
    out = np.full((round((4 * PATCH + 5 * GAP) * d), round((6 * PATCH + 7 * GAP) * d), 3), 0.03)
    for i, colour in enumerate(colours):
        x, y = (GAP + (i % 6) * (PATCH + GAP)) * d, (GAP + (i // 6) * (PATCH + GAP)) * d
        out[round(y) : round(y + PATCH * d), round(x) : round(x + PATCH * d)] = colour
    return cv2.GaussianBlur(out.astype(np.float32), (0, 0), 1.0)


def photo(turn: float, colours: np.ndarray = TRUE, centre: np.ndarray = CENTRE) -> np.ndarray:
    """The table with a chart on it, turned by degrees."""
    flat, scene = chart(colours), table()
    angle, scale = np.radians(turn), SCALE / 10
    spin = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = 0.5 * np.array(flat.shape[1::-1])
    move = CARD.pixels(centre) - spin @ middle
    lie = np.column_stack([spin, move])
    inside = cv2.warpAffine(np.ones(flat.shape[:2], np.float32), lie, SIZE)[..., None]
    seen = cv2.warpAffine(flat, lie, SIZE, flags=cv2.INTER_AREA)
    scene = np.where(inside > 0.99, seen, scene)
    noise = np.random.default_rng(3).normal(0, 0.004, scene.shape)
    return (cv2.GaussianBlur(scene, (0, 0), 0.7) + noise).astype(np.float32)


def found(picture: np.ndarray) -> Patches:
    patches = find_target(picture, CARD)
    assert patches is not None
    return patches


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 4, 187])
def test_a_target_is_found_and_read_in_its_own_order(turn: float) -> None:
    patches = found(photo(turn))
    assert patches.clipped == 0
    # Some hundred pixels of each patch: the noise is gone, and no board is mixed in.
    np.testing.assert_allclose(patches.colour, TRUE, rtol=0.02, atol=0.003)
    np.testing.assert_allclose(patches.centre, CENTRE, atol=2.0)
    assert patches.place.shape == (24, 2)
    assert np.abs(patches.place).max() == 1.0


def test_clipped_patches_are_no_numbers() -> None:
    bright = np.minimum(TRUE * 1.45, 1.0)
    patches = found(photo(0, bright))
    clipped = (bright >= 0.995).any(axis=1)
    assert patches.clipped == clipped.sum() > 0
    np.testing.assert_array_equal(np.isnan(patches.colour).any(axis=1), clipped)


def test_a_table_without_a_target_has_none() -> None:
    assert find_target(table(), CARD) is None
    noise = np.random.default_rng(1).random(table().shape, dtype=np.float32)
    assert find_target(noise, CARD) is None


@pytest.mark.parametrize("what", ["greys", "negative"])
def test_a_chart_of_other_colours_is_not_believed(what: str) -> None:
    colours = {
        "greys": TRUE.mean(axis=1, keepdims=True) * np.ones(3),
        "negative": 0.85 - TRUE,
    }[what]
    assert find_target(photo(0, colours), CARD) is None


def test_a_target_on_the_card_itself_or_cut_off_is_none() -> None:
    assert find_target(photo(0, centre=np.array([93.0, 125.0])), CARD) is None
    assert find_target(photo(0, centre=np.array([WIDTH_MM + 130.0, 120.0])), CARD) is None
