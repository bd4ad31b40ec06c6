"""The newcomer's page: what it says follows from the plan and from the picture's truth."""

import numpy as np
import pytest

from firstwash.lessons.tutorial import Told, told_of, tutorial
from firstwash.lessons.workshop import Workshop
from firstwash.light.split import LightSplit, split_light


@pytest.fixture(scope="module")
def found(shop: Workshop) -> Told:
    return told_of(shop, split_light(shop.reference.xyz))


def test_numbers_are_those_of_the_plan(found: Told, shop: Workshop) -> None:
    plan = shop.plan
    assert sum(found.shares) == pytest.approx(1.0)
    for n in range(1, plan.layers + 1):
        painted = {c for w in plan.washes_of(n) for c in w.cells}
        share = shop.areas[sorted(painted)].sum() / shop.areas.sum()
        # A dropped-in colour shares its area with its wash; nothing else may be counted twice.
        assert found.covered[n - 1] == pytest.approx(share, abs=0.02)
    assert list(found.lightness) == sorted(found.lightness, reverse=True)


def test_sentences_follow(found: Told, shop: Workshop) -> None:
    values, _, reach, layers, end = found.sentences
    assert f"{max(found.shares):.0%}" in values
    darkest = np.percentile(shop.reference.lab[..., 0], 1.0)
    assert ("reach the darkest dark" in reach) == (shop.plan.tone.floor <= darkest + 1.0)
    drops = -np.diff(found.lightness)
    assert layers.endswith(f"largest step to dark is layer {int(np.argmax(drops)) + 1}.")
    assert f"{shop.plan.report.against_photo.mean:.1f} from the photo" in end


def test_a_perfect_split_is_told_to_help(shop: Workshop) -> None:
    rows, cols = shop.reference.xyz.shape[:2]
    high, wide = shop.scene.local.shape[:2]
    down = ((np.arange(rows) + 0.5) * high / rows).astype(int)
    across = ((np.arange(cols) + 0.5) * wide / cols).astype(int)
    truth = shop.scene.local[np.ix_(down, across)]
    one = np.ones_like(truth)
    told = told_of(shop, LightSplit(0.3 * truth, one, 0 * one, one[..., 0]))
    # Local colour is found but for one number, which no picture tells: that is not held against it.
    assert told.split_off < 1e-3
    assert "comes nearer to the true one" in told.sentences[1]


def test_a_split_that_is_sure_of_nothing_is_told_so(shop: Workshop) -> None:
    one = np.ones((*shop.reference.xyz.shape[:2], 3), dtype=np.float32)
    told = told_of(shop, LightSplit(one, one, 0 * one, 0 * one[..., 0]))
    assert "is not sure here" in told.sentences[1]


def test_the_page_goes_in_the_order_of_work(shop: Workshop) -> None:
    body = tutorial(shop).body
    places = [body.index(f"<h2>{n}. ") for n in range(1, 6)]
    assert places == sorted(places)
