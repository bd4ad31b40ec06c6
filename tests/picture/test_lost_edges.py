"""Lost and found edges: lost where one value runs on across an edge of colour."""

import re

import numpy as np
import pytest
from skimage import data
from skimage.color import rgb2lab

from firstwash.picture.lost_edges import lost_edges
from firstwash.picture.places import share_words
from firstwash.picture.value_pattern import value_pattern


def two_things() -> np.ndarray:
    """On a middle ground a light square upper left, and lower right a red one of its value."""
    lab = np.zeros((180, 240, 3))
    lab[..., 0] = 45.0
    lab[90:, :120, 0] = 12.0
    lab[20:70, 20:80, 0] = 92.0
    lab[120:165, 170:220, 1:] = (60.0, 40.0)
    return lab


def test_an_edge_of_colour_alone_is_lost_and_one_of_value_found() -> None:
    lab = two_things()
    found = lost_edges(lab, value_pattern(lab[..., 0]))
    rows, cols = np.nonzero(found.lost)
    assert len(rows) > 0
    # Blurring rounds the corners by a few pixels.
    assert rows.min() >= 114
    assert rows.max() <= 171
    assert cols.min() >= 164
    assert cols.max() <= 226
    round_red = 2 * (45 + 50)
    assert 0.75 * round_red < len(rows) < 1.1 * round_red
    assert found.found[15:75, 15:85].sum() > 150
    assert (
        "All of those lie inside the middle value; more lower right than anywhere else"
        in found.words
    )


def test_words_hold_of_the_lines() -> None:
    lab = rgb2lab(data.coffee())
    pattern = value_pattern(lab[..., 0], 4)
    found = lost_edges(lab, pattern)
    assert found.lost.shape == found.found.shape == pattern.tones.shape
    assert not (found.lost & found.found).any()
    total = found.lost.sum() + found.found.sum()
    assert found.share == pytest.approx(float(found.lost.sum() / total))
    assert found.words.lower().startswith(share_words(found.share))
    told = re.search(r"(Most|All|More)[a-z ]* lie inside the ([a-z ]+?) value", found.words)
    assert told is not None
    counts = np.bincount(pattern.tones[found.lost], minlength=len(pattern.shares))
    assert pattern.names[int(counts.argmax())] == told[2]
    assert (2 * counts.max() > found.lost.sum()) == (told[1] in ("Most", "All"))


def test_no_edge_inside_one_tone_is_called_found() -> None:
    lab = rgb2lab(data.chelsea())
    pattern = value_pattern(lab[..., 0])
    found = lost_edges(lab, pattern)
    for row, col in np.argwhere(found.found):
        near = pattern.tones[max(row - 3, 0) : row + 4, max(col - 3, 0) : col + 4]
        assert len(np.unique(near)) > 1


def test_edges_of_value_only_are_all_found() -> None:
    lab = np.zeros((120, 180, 3))
    lab[..., 0] = np.repeat([15.0, 50.0, 88.0], 60)
    found = lost_edges(lab, value_pattern(lab[..., 0]))
    assert found.share == 0.0
    assert found.words == "Every edge that is plain to see is an edge of a mass too."


def test_a_picture_of_one_value_parts_by_colour() -> None:
    lab = np.full((120, 180, 3), 50.0)
    lab[:, 90:, 1:] = -40.0
    found = lost_edges(lab, value_pattern(lab[..., 0]))
    assert found.share == 1.0
    assert "part colours, not values" in found.words


@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 2), (3, 700)])
def test_tiny_and_flat_pictures(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(0)
    for lab in (np.full((*shape, 3), 40.0), 90 * rng.random((*shape, 3))):
        found = lost_edges(lab, value_pattern(lab[..., 0]))
        assert 0.0 <= found.share <= 1.0
        assert found.words.endswith(".")
