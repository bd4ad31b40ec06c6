"""The five first washes: the prediction recomputed apart, and sentences that follow from it."""

import numpy as np
import pytest

from firstwash.lessons.underpainting import (
    FIRST,
    NONE,
    OPPOSITE,
    OWN,
    FiveWashes,
    five_washes,
    mixture_of,
    sentences_of,
)
from firstwash.lessons.words import value_change
from firstwash.lessons.workshop import BARE, Workshop
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages


@pytest.fixture(scope="module")
def found(shop: Workshop) -> FiveWashes:
    return five_washes(shop)


def test_the_stages_are_those_of_the_optics(found: FiveWashes, shop: Workshop) -> None:
    bench = shop.bench
    for wash in range(5):
        for i in range(0, len(found.cells), 7):
            coats = [found.first[wash, i], found.glazes[i], found.glazes[i]]
            stack = np.array([c for c in coats if c.any()])
            labs = reflectance_to_lab(stages(shop.paper, stack @ bench.k, stack @ bench.s))
            # Wider than rounding: a pale first coat is taken to fill only part of the paper's
            # soak in pictures (`plan.fields`), the whole of it in a stack.
            assert float(delta_e_2000(labs[-1], found.stages[wash, i, -1])) < 1.0


def test_the_glazes_are_the_same_over_all_five_and_whites_stay_bare(
    found: FiveWashes, shop: Workshop
) -> None:
    assert found.glazes.shape == (len(found.cells), shop.bench.colours)
    assert (shop.plan.targets[found.cells, 0] < BARE).all()
    assert not found.first[NONE].any()
    assert float(np.ptp(found.stages[:, :, 0].reshape(-1, 3), axis=0).max()) < 1e-9


def test_the_four_washes_dry_about_equally_light(found: FiveWashes) -> None:
    light = found.stages[1:, :, 1, 0]
    # Six paints meet L* 84 with a hue within two units; no wash may win by being darker.
    assert float(np.abs(light - 84.0).max()) < 2.0


def test_own_and_opposite_differ_in_hue(found: FiveWashes, shop: Workshop) -> None:
    lemons = np.isin(found.cells, shop.cells_of("lemon"))
    own, other = found.stages[OWN, lemons, 1], found.stages[OPPOSITE, lemons, 1]
    assert own[:, 2].min() > 8.0  # yellow
    assert other[:, 2].max() < 0.0  # blue to violet


def test_errors_are_means_by_area(found: FiveWashes) -> None:
    for wash in range(5):
        off = delta_e_2000(found.stages[wash, :, -1], found.targets)
        assert found.errors[wash] == pytest.approx(np.average(off, weights=found.areas))
    # What is mixed for one wash alone comes at least as near as what is mixed for all five, up
    # to the tone map between aims and photo.
    assert (found.best <= found.errors + 0.3).all()


def test_sentences_follow_from_the_numbers(found: FiveWashes, shop: Workshop) -> None:
    said = sentences_of(found, shop)
    for wash in range(1, 5):
        one = next(s for s in said if s.startswith(f"Over {FIRST[wash]} "))
        change = found.end(wash)[0] - found.end(NONE)[0]
        assert value_change(float(change)) in one
    ranked = next((s for s in said if s.startswith("Nearest")), None)
    if ranked is not None:
        assert f"comes {FIRST[found.nearest]}" in ranked
        assert ranked.endswith(f"from it {FIRST[int(np.argmax(found.errors))]}.")
    else:
        assert float(np.ptp(found.errors)) < 1.0


def test_a_mixture_is_told_in_parts(shop: Workshop) -> None:
    amounts = np.zeros(len(shop.palette))
    assert mixture_of(shop.palette, amounts) == ""
    amounts[0] = 0.4 * shop.palette[0].full_coat
    assert mixture_of(shop.palette, amounts) == shop.palette[0].name
    amounts[1] = 0.2 * shop.palette[1].full_coat
    told = mixture_of(shop.palette, amounts)
    assert told == f"2 {shop.palette[0].name}, 1 {shop.palette[1].name}"
    amounts[2] = 0.001 * shop.palette[2].full_coat  # a trace that no hand measures
    assert mixture_of(shop.palette, amounts) == told
