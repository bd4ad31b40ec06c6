"""Pairs that grey each other: found by prediction, checked by prediction."""

from types import SimpleNamespace

import numpy as np
import pytest

from firstwash.lessons.complements import Pair, complements, grey_pairs, sentences_of
from firstwash.lessons.workshop import Workshop
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, load_set, paint


@pytest.fixture(scope="module")
def pairs() -> list[Pair]:
    return grey_pairs(load_set("starter").paints, default_paper())


def test_every_grey_is_grey(pairs: list[Pair]) -> None:
    assert len(pairs) >= 3
    for pair in pairs:
        parts = pair.neutral.parts
        k = sum(a * p.k for p, a in parts) * pair.neutral.strength
        s = sum(a * p.s for p, a in parts) * pair.neutral.strength
        lab = reflectance_to_lab(stages(default_paper(), k[None], s[None])[-1])
        assert np.hypot(lab[1], lab[2]) <= 3.0
        assert abs(lab[0] - 55.0) <= 6.0
        np.testing.assert_allclose(lab, pair.neutral.lab, atol=1e-6)


def test_ladders_run_from_one_paint_to_the_other(pairs: list[Pair]) -> None:
    for pair in pairs:
        for ladder in (pair.mixed, pair.glazed, pair.turned):
            # Alone at the ends, glazed and mixed are one coat. A picture takes a coat on a
            # coat of nothing as the first, as it is.
            assert float(delta_e_2000(ladder[0], pair.mixed[0])) < 0.1
            assert float(delta_e_2000(ladder[-1], pair.mixed[-1])) < 0.1
        middle = pair.mixed[4]
        assert float(delta_e_2000(middle, np.array(pair.neutral.lab))) < 0.3
        # Both ends have more colour than the middle, or nothing would have been greyed.
        ends = np.hypot(*pair.mixed[[0, -1], 1:].T)
        assert ends.min() > 3.0 * max(np.hypot(*middle[1:]), 1.0)


def test_ultramarine_and_burnt_sienna_are_among_them(pairs: list[Pair]) -> None:
    # Every teacher's grey: common practice, no source; the prediction should find it.
    assert {"PB29", "PBr7-burnt"} in [{p.one.key, p.other.key} for p in pairs]


def test_leans_go_where_they_are_said_to(pairs: list[Pair]) -> None:
    for pair in pairs:
        for lean in pair.neutral.leans:
            moved = np.subtract(lean.more, pair.neutral.lab)
            angle = np.degrees(np.arctan2(moved[2], moved[1])) % 360.0
            assert angle == pytest.approx(lean.more_hue, abs=0.5)


def of(*keys: str) -> SimpleNamespace:
    return SimpleNamespace(owned=tuple(paint(k) for k in keys), paper=default_paper())


def test_sentences_of_pairs(pairs: list[Pair]) -> None:
    said = sentences_of(pairs, of("PB29"))  # the paints do not matter where pairs were found
    for pair in pairs[:4]:
        one = next(s for s in said if s.lower().startswith(f"{pair.one.name.lower()} and "))
        assert ("a plain grey" in one) == (pair.neutral.chroma < 1.0)


def test_one_paint_is_told_which_would_grey_it() -> None:
    said = sentences_of([], of("PB29"))
    assert "second" in said[0]
    assert "greys your ultramarine blue best" in said[1]
    two = sentences_of(grey_pairs([paint("PB29"), paint("PY154")], default_paper()),
                       of("PB29", "PY154"))  # fmt: skip
    assert two[0].startswith("No two of your 2 paints")
    assert "nothing to grey" in sentences_of([], of("PBk9", "PW4"))[0]


def test_the_lesson_shows_why(shop: Workshop) -> None:
    lesson = complements(shop)
    assert lesson.numbers
    assert "<details>" in lesson.body
    assert "greyest" in lesson.body
