"""What is looked for before any colour, told for the page: masses, ends, reach, light."""

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from tests.worksheet.small import SHEET, cup_png, is_sentence, png, studio_in

from firstwash.picture.profile import linear_to_srgb8
from firstwash.worksheet.brief import Values
from firstwash.worksheet.looking import light_looked_at, looked_at
from firstwash.worksheet.studio import Looked, Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(tmp_path / "data")
    yield made
    made.store.close()


@pytest.fixture
def sunlit(studio: Studio) -> Looked:
    """An ochre wall with a dark grey pot; a hard shadow lies over its right third."""
    local = np.full((220, 300, 3), (0.6, 0.42, 0.2))
    cv2.circle(local, (110, 120), 50, (0.08, 0.08, 0.09), -1)
    light = np.ones((220, 300, 3))
    light[:, 200:] = (0.16, 0.18, 0.24)
    light = cv2.GaussianBlur(light, (0, 0), 2.0)
    noise = 1.0 + 0.01 * np.random.default_rng(5).standard_normal((220, 300, 1))
    return studio.new(png(linear_to_srgb8(local * light * noise)), "Wall", "wall.png", SHEET)


def test_ends_are_told_by_the_painters_own_steps(studio: Studio, sunlit: Looked) -> None:
    told = {}
    for steps in (5, 10):
        brief = sunlit.brief.but(values=Values(steps=steps))
        told[steps] = looked_at(studio, brief)
        assert f"of {steps})" in told[steps].ends
        for said in (told[steps].pattern, told[steps].ends, told[steps].reach):
            assert said[0].isupper()
            assert said.endswith(".")
    assert told[5].pattern == told[10].pattern  # the big masses do not hang on the counting


def test_reach_goes_by_the_paints_that_are_ticked(studio: Studio, sunlit: Looked) -> None:
    """A yellow alone comes nowhere near the pot's dark; a dark blue beside it comes nearer."""
    shelf = studio.paints.shelf().to_set().paints
    yellow = next(p.key for p in shelf if "PY" in "".join(p.pigments))
    blue = next(p.key for p in shelf if "PB15:3" in p.pigments or "PB15" in p.pigments)
    one, both = (
        looked_at(studio, sunlit.brief.but(paints=keys)).reach
        for keys in ((yellow,), (yellow, blue))
    )
    assert one != both


def test_the_light_is_told_with_how_sure_it_is(studio: Studio, sunlit: Looked) -> None:
    found = light_looked_at(studio, sunlit.brief)
    numbers = dict(found.numbers)
    assert 0.0 <= float(numbers["how sure, mean, 0 to 1"]) <= 1.0
    # 1 against 0.18 of the light; what the split leaves in the paint is the doubt here
    assert float(numbers["light, brightest twentieth over darkest"]) > 2.5
    assert "times the light of the shadows" in found.sentences[0]
    assert "in shadow" in found.sentences[1]
    assert light_looked_at(studio, sunlit.brief) == found


def test_even_light_is_told_as_even(studio: Studio) -> None:
    flat = np.full((220, 300, 3), 128, dtype=np.uint8)
    flat[60:160, 80:200] = (150, 60, 40)
    made = studio.new(png(flat), "Flat", "flat.png", SHEET)
    found = light_looked_at(studio, made.brief)
    assert "no clear lamp" in found.sentences[1]


def test_a_photo_is_looked_at_in_sentences(studio: Studio) -> None:
    made = studio.new(cup_png(), "Cup", "cup.png", SHEET)
    for said in light_looked_at(studio, made.brief).sentences:
        for sentence in said.replace("? ", ". ").split(". "):
            assert is_sentence(sentence.rstrip(".") + ".")
