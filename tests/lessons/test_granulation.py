"""Granulation, staining, lifting: what is known, what is drawn, what is assumed."""

import numpy as np

from firstwash.lessons.granulation import (
    LIFTED,
    granulation,
    handled,
    paper_height,
    sentences_of,
)
from firstwash.lessons.workshop import Workshop


def test_a_stronger_stain_gives_up_less() -> None:
    assert list(LIFTED) == sorted(LIFTED, reverse=True)
    assert 0.0 < LIFTED[-1] < LIFTED[0] < 1.0


def test_lifting_lightens(shop: Workshop) -> None:
    for one in handled(shop):
        if one.lifted is not None:
            assert one.lifted[0] > one.stroke[0]


def test_the_paper_is_level_on_the_whole_and_the_same_every_time() -> None:
    height = paper_height()
    np.testing.assert_array_equal(height, paper_height())
    assert abs(float(height.mean())) < 1e-9
    assert abs(float(height.std()) - 1.0) < 1e-9


def test_sentences_name_those_the_catalogue_names(shop: Workshop) -> None:
    said = " ".join(sentences_of(handled(shop)))
    for one in shop.owned:
        grade = one.handling.granulation
        first = said.partition("Use them where")[0]
        assert (one.name in first) == (grade is not None and grade >= 2), one.key
        stain = one.handling.staining
        listed = said.partition("These stain: ")[2].partition(".")[0]
        assert (one.name in listed) == (stain is not None and stain >= 3), one.key


def test_what_is_no_prediction_says_so(shop: Workshop) -> None:
    body = granulation(shop).body
    assert "An illustration, not a prediction." in body
    assert "<strong>an assumption</strong>" in body
