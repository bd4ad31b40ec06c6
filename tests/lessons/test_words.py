"""Words for changes agree with the numbers they stand for."""

import numpy as np
import pytest

from firstwash.lessons.words import (
    HARDLY,
    article,
    change_told,
    chroma_change,
    hue_change,
    hue_name,
    joined,
    value_change,
)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (0.0, "as light"),
        (-1.4, "as light"),
        (-2.0, "a touch darker"),
        (2.0, "a touch lighter"),
        (-5.0, "half a value step darker"),
        (9.0, "one value step lighter"),
        (-21.0, "two value steps darker"),
    ],
)
def test_a_change_of_value(change: float, words: str) -> None:
    assert value_change(change) == words


def test_a_change_of_chroma() -> None:
    assert chroma_change(1.0) == ""
    assert chroma_change(-3.0) == "a little greyer"
    assert chroma_change(7.0) == "stronger in colour"
    assert chroma_change(-12.0) == "much greyer"


def lch(lightness: float, chroma: float, hue: float) -> np.ndarray:
    turn = np.radians(hue)
    return np.array([lightness, chroma * np.cos(turn), chroma * np.sin(turn)])


def test_a_turn_names_the_hue_it_goes_to() -> None:
    assert hue_change(lch(60, 40, 95), lch(60, 40, 97)) == ""
    assert hue_change(lch(60, 40, 95), lch(60, 40, 108)) == "turned towards yellow green"
    assert hue_change(lch(60, 40, 108), lch(60, 40, 95)) == "turned towards orange"
    assert hue_change(lch(60, 40, 95), lch(60, 40, 160)) == f"turned to {hue_name(160)}"
    assert hue_change(lch(60, 40, 95), lch(60, 1, 95)) == "gone grey"
    assert hue_change(lch(60, 1, 95), lch(60, 40, 270)).startswith("turned to ")
    assert hue_change(lch(60, 1, 95), lch(60, 2, 200)) == ""


def test_the_shorter_way_round_is_taken() -> None:
    # From 350 to 10 degrees is 20 forwards, towards red, not 340 back.
    assert hue_change(lch(50, 50, 350), lch(50, 50, 10)) in ("turned towards red", "")


def test_a_change_in_all() -> None:
    grey = lch(60, 30, 95)
    assert change_told(grey, grey) == HARDLY
    assert change_told(grey, lch(50, 20, 95)) == "one value step darker and much greyer"
    # A colour that goes grey is not also told to be greyer.
    assert change_told(grey, lch(60, 1, 95)) == "as light and gone grey"


def test_lists_and_articles() -> None:
    assert joined([]) == ""
    assert joined(["a"]) == "a"
    assert joined(["a", "b"], "or") == "a or b"
    assert joined(["a", "b", "c"]) == "a, b and c"
    assert (article("ivory black"), article("lamp black")) == ("an ivory black", "a lamp black")
