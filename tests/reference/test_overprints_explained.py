"""What is said of one layer over another, against printed inks: the one measured case [FOGRA39].

Cyan, magenta and yellow inks, laid over each other as transparent layers, are explained as paints
are. What is said of the light, of opposites and of the order must agree with the measured
overprints (CIELAB, D50): cyan over yellow is a green (50, -65, 27), magenta over yellow a red
(47, 68, 48), cyan over magenta a blue (24, 22, -46), and all three together have no hue
(23, 0, 0). It is ink, not watercolour: the darks come out too dark, the hues and words do not.
"""

from functools import cache

import numpy as np
import pytest
from tests.reference.test_process_ink_overprints import CHOSEN, LAB, ink_depth, paper_inside

from firstwash.advice.glaze_light import THIRDS
from firstwash.advice.glaze_reasons import WhyGlaze, why_glaze
from firstwash.advice.glaze_words import why_words
from firstwash.optics.surface import Paper, leave_surface
from firstwash.paints.catalogue import Paint


@cache
def ink(name: str) -> Paint:
    """A solid ink as a paint that scatters nothing."""
    depth = ink_depth(name, *CHOSEN)
    clear = np.full(36, 1e-14)
    return Paint(name, name, (), np.maximum(depth, 1e-9), clear, "measured", "[FOGRA39]")


@cache
def coated() -> Paper:
    white = np.minimum(leave_surface(paper_inside(*CHOSEN), *CHOSEN), 1.0)
    return Paper("coated", white, k1=CHOSEN[0], k2=CHOSEN[1])


def printed(*layers: str, depth: float = 1.0) -> WhyGlaze:
    """Inks over each other, solid at depth 1; "MY" is one layer of two inks at once."""
    inks = tuple(dict.fromkeys("".join(layers)))
    amounts = depth * np.array([[float(i in layer) for i in inks] for layer in layers])
    return why_glaze(coated(), tuple(ink(i) for i in inks), amounts)


@pytest.mark.parametrize(
    # Each ink takes its own third of the spectrum and leaves the others most of their light.
    ("name", "takes"),
    [("C", "red"), ("M", "green"), ("Y", "blue")],
)
def test_each_ink_takes_its_third(name: str, takes: str) -> None:
    taken = dict(zip(THIRDS, printed(name).light.taken, strict=True))
    assert max(taken, key=lambda third: taken[third]) == takes
    assert taken[takes] > 0.6
    assert max(printed(name).light.own) < 1e-9


@pytest.mark.parametrize(
    # The measured overprints have a hue: chroma 83 and 51 (C over M), so the pairs are no opposites
    # that meet in grey; what is left is the third that neither takes.
    ("layers", "left"),
    [(("Y", "C"), "green"), (("Y", "M"), "red"), (("M", "C"), "blue")],
)
def test_two_inks_leave_the_third_that_neither_takes(layers: tuple[str, str], left: str) -> None:
    why = printed(*layers)
    after = dict(zip(THIRDS, why.light.after, strict=True))
    assert max(after, key=lambda third: after[third]) == left
    assert why.path is not None
    assert why.path.opposed == "no"
    measured = LAB["".join(sorted(layers))]
    assert np.hypot(*measured[1:]) > 20


@pytest.mark.parametrize(("lower", "upper"), [("C", "MY"), ("MY", "C"), ("M", "CY"), ("CM", "Y")])
def test_an_ink_and_the_two_others_are_opposites(lower: str, upper: str) -> None:
    # An orange-red over cyan, and so on: the measured end has no hue at all. Solids, predicted too
    # dark, drown before they are grey; inks half as deep meet in grey, or with C* up to 6.
    solid = printed(lower, upper)
    assert solid.path is not None
    assert solid.path.opposed != "no"
    assert solid.path.now < 6.0
    half = printed(lower, upper, depth=0.5)
    assert half.path is not None
    assert half.path.opposed in ("complementary", "nearly")
    # In equal parts they are near the balance.
    assert 0.7 < half.path.times < 1.4


@pytest.mark.parametrize(("lower", "upper"), [("C", "MY"), ("Y", "M"), ("M", "C")])
def test_the_order_of_inks_does_not_matter(lower: str, upper: str) -> None:
    why = printed(lower, upper)
    assert why.order is not None
    assert not why.order.matters
    assert "does not matter" in why_words(why).order
