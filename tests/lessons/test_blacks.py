"""Darks beside a black of equal value."""

from types import SimpleNamespace

import numpy as np
import pytest

from firstwash.lessons.blacks import Darks, blacks, darks_of, sentences_of
from firstwash.lessons.workshop import Workshop
from firstwash.optics.observer import reflectance_to_lab
from firstwash.paints.catalogue import default_paper, load_set, paint


@pytest.fixture(scope="module")
def darks() -> Darks:
    shop = SimpleNamespace(owned=load_set("starter").paints, paper=default_paper())
    return darks_of(shop)  # type: ignore[arg-type]


def test_all_are_of_equal_value(darks: Darks) -> None:
    assert darks.mixed
    for dark in (darks.black, *darks.mixed):
        assert dark.thinned[0, 0] == pytest.approx(22.0, abs=2.0)
        # Thinned to L* 45 and 70 as nearly as 300 steps come.
        np.testing.assert_allclose(dark.thinned[1:, 0], [45.0, 70.0], atol=0.3)


def test_colours_are_those_of_the_curves(darks: Darks) -> None:
    for dark in (darks.black, *darks.mixed):
        np.testing.assert_allclose(reflectance_to_lab(dark.curves), dark.thinned, atol=0.5)
        seen = dark.curves[1][(np.arange(380, 731, 10) >= 430) & (np.arange(380, 731, 10) < 690)]
        assert dark.uneven == pytest.approx(seen.max() / seen.min())


def test_the_black_is_the_greyest_when_thin(darks: Darks) -> None:
    # Bone black is a neutral pigment; every mixture of two coloured ones is further from it.
    assert darks.black.chroma[2] < min(d.chroma[2] for d in darks.mixed)


def test_sentences_follow(darks: Darks) -> None:
    shop = SimpleNamespace(owned=load_set("starter").paints, paper=default_paper())
    said = sentences_of(darks, shop)  # type: ignore[arg-type]
    for dark in darks.mixed:
        one = next(s for s in said if s.startswith(f"At equal value {dark.name} "))
        assert ("looks black" in one) == (dark.chroma[0] <= 3.0)
        assert ("it is grey, like" in one) == (dark.chroma[2] <= 3.0)
        assert ("at least twice" in one) == (
            dark.chroma[2] > 3.0 and dark.chroma[2] >= 2.0 * darks.black.chroma[2]
        )
    why = next(s for s in said if s.startswith("Why"))
    assert f"{darks.black.uneven:.1f} times" in why


def test_too_few_paints_are_told_what_it_takes() -> None:
    for keys, word in ((("PB29",), "one"), (("PBk9", "PW4"), "none")):
        shop = SimpleNamespace(owned=tuple(paint(k) for k in keys), paper=default_paper())
        found = darks_of(shop)  # type: ignore[arg-type]
        assert found.mixed == ()
        assert f"you have {word}" in sentences_of(found, shop)[-1]  # type: ignore[arg-type]
        assert found.owned == ("PBk9" in keys)


def test_the_lesson(shop: Workshop) -> None:
    lesson = blacks(shop)
    assert "<svg" in lesson.body
    assert "ivory black" in lesson.numbers
