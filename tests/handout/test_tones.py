"""Tones: greys and lines apart from each other, and from bare paper's hatching."""

from itertools import combinations

import numpy as np
import pytest

from firstwash.handout.layer_map import ruling
from firstwash.handout.tones import TONES, Tone, tone_lines, tones_of
from firstwash.usecases import PhotoPlan

BOX = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]])


def test_no_two_tones_are_alike_and_none_is_hatched_as_bare_paper_is() -> None:
    assert len(set(TONES)) == len(TONES)
    for tone in TONES:
        assert 45.0 not in tone.degrees
        assert tone.grey[1:3] == tone.grey[3:5] == tone.grey[5:7]
        assert 0.06 <= tone.dark <= 0.25
    plain = sorted(t.dark for t in TONES if not t.degrees)
    # Tints a tenth of the scale apart are told apart side by side in print. From memory.
    assert min(b - a for a, b in combinations(plain, 2)) >= 0.1


@pytest.mark.parametrize("tone", TONES)
def test_lines_stay_inside(tone: Tone) -> None:
    lines = tone_lines(tone, [BOX], 1.5)
    assert bool(len(lines)) == bool(tone.degrees)
    assert (lines >= -1e-9).all()
    assert (lines <= np.array([20.0, 10.0, 20.0, 10.0]) + 1e-9).all()


def test_dots_of_areas_beside_each_other_are_in_step() -> None:
    dotted = next(t for t in TONES if t.dotted)
    for left in (0.0, 0.4, 3.1):
        lines = tone_lines(dotted, [BOX + np.array([left, 0.0])], 1.5)
        place = lines[:, 0] / 1.5
        np.testing.assert_allclose(2 * place, np.rint(2 * place), atol=1e-9)


def test_the_same_plan_has_the_same_tones(planned: PhotoPlan) -> None:
    plan = planned.plan
    contours = ruling(plan).contours
    for layer in range(1, plan.layers + 1):
        found = tones_of(plan, layer, contours)
        assert found == tones_of(plan, layer, contours)
        assert set(found) == {w.puddle for w in plan.washes_of(layer)}
