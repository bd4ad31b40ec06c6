"""Wet against dry: shifts by the theory, and edges as wide as paint is taken to run."""

from statistics import NormalDist, mean

import numpy as np
import pytest

from firstwash.lessons.wet_dry import STRENGTHS, Shift, edge_of, sentences_of, shifts_of, wet_dry
from firstwash.lessons.workshop import Workshop
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.wet import wet_stages
from firstwash.paints.catalogue import paint
from firstwash.plan.bench import Bench


@pytest.fixture(scope="module")
def shifts(shop: Workshop) -> list[Shift]:
    return [s for p in shop.palette for s in shifts_of(p, shop)]


def test_shifts_are_those_of_the_wet_optics(shifts: list[Shift], shop: Workshop) -> None:
    for one in shifts[:4]:
        # The amount is found again from the dry colour by bisection.
        low, high = 1e-6, one.paint.full_coat
        for _ in range(60):
            amount = 0.5 * (low + high)
            dry = Bench.of([one.paint], shop.paper).labs(np.array([[amount]]))[-1]
            low, high = (amount, high) if dry[0] > one.dry[0] else (low, amount)
        kx, sx = (amount * one.paint.k)[None], (amount * one.paint.s)[None]
        wet = reflectance_to_lab(wet_stages(shop.paper, kx, sx)[-1])
        np.testing.assert_allclose(wet, one.wet, atol=0.05)
        assert one.between[0] <= one.dries <= one.between[1]


def test_strengths_are_distinct_and_named(shifts: list[Shift]) -> None:
    names = [name for name, _ in STRENGTHS]
    for one in {s.paint.key: s.paint for s in shifts}.values():
        own = [s for s in shifts if s.paint is one]
        assert [s.strength for s in own] == [n for n in names if n in {s.strength for s in own}]
        light = [float(s.dry[0]) for s in own]
        assert light == sorted(light, reverse=True)


def test_an_edge_is_as_wide_as_paint_runs(shop: Workshop) -> None:
    bench = Bench.of([paint("PY154")], shop.paper)
    amounts = np.array([[0.02], [0.021]])  # so alike that colour goes as amount does
    assert edge_of("hard", bench, amounts, 0.0).width_mm == 0.0
    soft = edge_of("soft", bench, amounts, 3.0)
    # A blurred step goes from a tenth to nine tenths within 2.56 sigma, read off 0.2 mm pixels.
    wide = 3.0 * 2.0 * NormalDist().inv_cdf(0.9)
    assert soft.width_mm == pytest.approx(wide, abs=0.5)


def test_sentences_follow(shifts: list[Shift], shop: Workshop) -> None:
    bench = Bench.of([paint("PY154"), paint("PB29")], shop.paper)
    both = np.diag([0.1, 0.1])
    edges = [edge_of("beside a dry wash", bench, both, 0.0),
             edge_of("into a wet wash", bench, both, 3.0)]  # fmt: skip
    said = sentences_of(shifts, edges)
    assert f"by {mean(s.dries for s in shifts):.1f} L*" in said[0]
    most = max(shifts, key=lambda s: s.dries)
    least = min(shifts, key=lambda s: s.dries)
    named = any(f"the {most.strength} {most.paint.name}" in s for s in said)
    assert named == (most.dries - least.dries >= 1.5)
    assert f"about {edges[1].width_mm:.0f} mm" in said[-1]


def test_the_page_says_that_it_is_not_validated(shop: Workshop) -> None:
    assert "<strong>Not validated.</strong>" in wet_dry(shop).body
