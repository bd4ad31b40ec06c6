"""Flatness: every measure recomputed another way, and sentences that follow from them."""

import re
from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from firstwash.lessons.flatness import distinct_colours, flatness_of
from firstwash.lessons.hand import one_layer_work, rise_by_hand
from firstwash.lessons.layers import Painting, layers, paintings, sentences_of
from firstwash.lessons.scene import NAMES
from firstwash.lessons.workshop import BARE, Workshop
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab


@pytest.fixture(scope="module")
def made(shop: Workshop) -> tuple[Painting, ...]:
    return paintings(shop)


def test_range_steps_spread_and_turn_recomputed(made: Sequence[Painting], shop: Workshop) -> None:
    for painting in made:
        lab = np.asarray(xyz_to_lab(painting.xyz)).reshape(-1, 3)
        ordered = np.sort(lab[:, 0])
        n = len(ordered) - 1
        low, high = (np.interp(q * n, np.arange(n + 1), ordered) for q in (0.02, 0.98))
        told = painting.flatness
        assert told.value_range == pytest.approx(high - low, abs=1e-6)
        counts = [((lab[:, 0] >= 10 * k) & (lab[:, 0] < 10 * k + 10)).mean() for k in range(9)]
        counts.append((lab[:, 0] >= 90).mean())
        assert told.steps == sum(c >= 0.005 for c in counts)
        spread = np.sqrt(sum(lab[:, c].var() for c in range(3)))
        assert told.spread == pytest.approx(spread, rel=1e-6)
        shown = shop.things[shop.plan.cells.index].ravel()
        total, pixels = 0.0, 0
        for thing in ("jug", "lemon", "plum"):
            own = lab[shown == NAMES.index(thing), 0]
            total, pixels = total + own.std() * own.size, pixels + own.size
        assert told.turn == pytest.approx(total / pixels, rel=1e-6)


def test_the_error_recomputed_on_a_picture_made_small_by_hand(
    made: Sequence[Painting], shop: Workshop
) -> None:
    high, wide = shop.reference.judge_xyz.shape[:2]
    for painting in made:
        small = cv2.resize(painting.xyz, (wide, high), interpolation=cv2.INTER_AREA)
        off = delta_e_2000(xyz_to_lab(small), shop.reference.judge_lab)
        assert painting.flatness.error == pytest.approx(float(off.mean()), abs=1e-3)


def test_the_photo_is_its_own_yardstick(made: Sequence[Painting]) -> None:
    photo = made[0]
    assert photo.flatness.error < 0.3  # one picture at two sizes
    assert photo.puddles is photo.washes is photo.by_hand is None


def test_colours_that_can_be_told_apart() -> None:
    greys = np.array([[float(v), 0.0, 0.0] for v in range(0, 101, 10)])
    even = np.full(len(greys), 1.0 / len(greys))
    assert distinct_colours(greys, even) == len(greys)
    # Ten times the same colour is one colour; what is rare does not count.
    assert distinct_colours(np.repeat(greys[:1], 10, axis=0), np.full(10, 0.1)) == 1
    assert distinct_colours(greys, np.array([0.996, *[0.0004] * 10])) == 1
    # Whatever is counted, each is at least 3 from every other: never more than a brute count.
    rng = np.random.default_rng(5)
    many = rng.uniform((20, -30, -30), (90, 30, 30), size=(60, 3))
    count = distinct_colours(many, np.full(60, 1 / 60))
    kept: list[np.ndarray] = []
    for lab in many:
        if all(float(delta_e_2000(lab, k)) >= 3.0 for k in kept):
            kept.append(lab)
    assert count == len(kept)


def test_one_layer_is_one_coat_and_whites_stay_paper(
    made: Sequence[Painting], shop: Workshop
) -> None:
    paper = shop.bench.white_xyz()
    white = np.flatnonzero(shop.plan.aims[:, 0] >= BARE)
    inside = np.isin(shop.plan.cells.index, white)
    inside = cv2.erode(inside.astype(np.uint8), np.ones((25, 25))).astype(bool)
    for painting in made[1:4]:
        # Wet edges run some millimetres into the whites; their hearts stay paper.
        off = np.abs(painting.xyz[inside] - paper).max(axis=1)
        assert float(off.min()) < 1e-3


def test_puddles_and_washes_are_counted(made: Sequence[Painting], shop: Workshop) -> None:
    _, flat, plain, thinned, four = made
    limit = len(shop.plan.puddles)
    assert four.puddles == limit
    assert four.washes == len(shop.plan.washes)
    assert flat.washes == flat.puddles
    assert flat.washes <= len(NAMES)
    assert plain.washes <= plain.puddles <= limit
    assert thinned.puddles <= limit < thinned.washes


def test_flat_coats_are_the_flattest(made: Sequence[Painting]) -> None:
    _, flat, *others = made
    assert flat.flatness.turn < min(p.flatness.turn for p in others)
    assert flat.flatness.colours < min(p.flatness.colours for p in others)


def test_sentences_follow_from_the_measures(made: Sequence[Painting]) -> None:
    said = sentences_of(made)
    *_, four = made
    for one in made[1:4]:
        told = next(s for s in said if s.lower().startswith(one.name.lower() + ":"))
        fewer = re.search(r"(\d+) colours? (fewer|more)", told)
        difference = four.flatness.colours - one.flatness.colours
        if difference:
            assert fewer is not None
            sign = 1 if fewer[2] == "fewer" else -1
            assert int(fewer[1]) * sign == difference
        gap = one.flatness.error - four.flatness.error
        assert ("as near" in told) == (abs(gap) <= 0.25)
        assert ("further from" in told) == (gap > 0.25)
    washes = next(s for s in said if s.startswith(("Thinned", "Even")))
    if made[3].flatness.error <= four.flatness.error + 0.25:
        assert str(made[3].washes) in washes
        assert str(four.washes) in washes


def test_hands_that_never_err_change_nothing(shop: Workshop) -> None:
    bench = shop.bench
    coats = np.zeros((5, bench.colours))
    coats[1, 0], coats[2, 0], coats[3, 1] = 0.02, 0.04, 0.1
    work = one_layer_work(bench, coats)
    assert len(work.recipes) == 2  # one puddle at two strengths, and another
    planned = work.planned()[work.cell_nodes]
    for row, lab in zip(coats, planned, strict=True):
        stack = row[None] if row.any() else np.zeros((0, bench.colours))
        np.testing.assert_allclose(lab, bench.labs(stack)[-1], atol=1e-6)
    # Against its own plan every slip is a miss.
    assert rise_by_hand(work, planned, np.ones(5)) > 0.1
    assert rise_by_hand(one_layer_work(bench, np.zeros((3, bench.colours))), planned[:3],
                        np.ones(3)) == 0.0  # fmt: skip


def test_the_lesson_tells_every_painting(shop: Workshop) -> None:
    lesson = layers(shop)
    assert len(lesson.numbers) == 5
    for name in lesson.numbers:
        assert name.capitalize() in lesson.body
    assert flatness_of(shop.reference.xyz, shop).steps == lesson.numbers["the photo"]["steps"]
