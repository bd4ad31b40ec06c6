"""What paints and paper reach of a photo: statements against what is mixed."""

import re

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.palette import mix_freely
from firstwash.plan.reach import MISSED, reach


@pytest.fixture(scope="module")
def bench() -> Bench:
    paints = [
        p for p in load_set("measured").paints if not p.pigments or "PBk" not in p.pigments[0]
    ]
    return Bench.of(paints, default_paper())


def picture(*labs: tuple[float, float, float]) -> np.ndarray:
    return np.repeat(np.array(labs), 50, axis=0)


def test_what_can_be_mixed_is_within_reach(bench: Bench) -> None:
    rng = np.random.default_rng(4)
    amounts = 0.3 * rng.random((12, bench.colours)) ** 4
    labs = np.array([bench.labs(a[None])[1] for a in amounts])
    found = reach(bench, labs)
    assert found.too_strong == 0.0
    assert "All its colours can be mixed" in found.words


def test_darks_beyond_reach_are_told_with_their_share(bench: Bench) -> None:
    labs = picture((0.5, 0, 0), (60, 0, 0), (60, 5, 5), (90, 0, 0))
    found = reach(bench, labs)
    assert found.floor > 0.5
    assert found.too_dark == pytest.approx(0.25)
    assert "25 % of the photo lies below" in found.words
    assert found.lost == int(value_step(found.floor)) - int(value_step(found.darkest))
    told = re.search(r"down to value (\d+) of 10", found.words)
    assert told is not None
    assert int(told[1]) == int(value_step(found.floor))
    flipped = re.search(r"down to value (\d+) of 10", reach(bench, labs, "light").words)
    assert flipped is not None
    assert int(flipped[1]) == 11 - int(told[1])
    # The map a plan would use keeps darks in order and none below the floor.
    mapped = found.tone.lightness(np.arange(0.0, 101.0))
    assert (np.diff(mapped) > 0).all()
    assert mapped.min() >= found.floor - 1e-9


def test_values_said_to_be_painted_as_they_are_are(bench: Bench) -> None:
    labs = picture(*((float(light), 0.0, 0.0) for light in range(2, 100, 3)))
    found = reach(bench, labs)
    told = re.search(r"Values (\d+) to (\d+) of 10 are painted as they are", found.words)
    assert told is not None
    low, high = 10.0 * (int(told[1]) - 1), 10.0 * int(told[2])
    inside = np.linspace(low, high, 50)
    np.testing.assert_allclose(found.tone.lightness(inside), inside, atol=1e-9)
    # One value step more on either side would not be.
    for beyond in (low - 10.0, high + 10.0):
        if 0.0 < beyond < 100.0:
            assert abs(float(found.tone.lightness([beyond])[0]) - beyond) > 0.1
    moved = np.abs(found.tone.lightness(labs[:, 0]) - labs[:, 0]) > 1.0
    assert found.changed == pytest.approx(float(moved.mean()))


def test_painted_values_follow_the_map_in_order(bench: Bench) -> None:
    found = reach(bench, picture((3, 0, 0), (47, 0, 0), (98, 0, 0)))
    photo, painted = np.array(found.painted()).T
    assert photo[0] == pytest.approx(found.darkest)
    assert photo[-1] == pytest.approx(found.lightest)
    assert (np.diff(photo) > 0).all()
    assert (np.diff(painted) > 0).all()
    np.testing.assert_allclose(painted, found.tone.lightness(photo))
    assert len(reach(bench, picture((50, 0, 0))).painted()) == 2


def test_a_light_picture_is_wholly_within_reach(bench: Bench) -> None:
    found = reach(bench, picture((80, 0, 0), (90, 2, 5), (70, 3, -4)))
    assert found.too_dark == 0.0
    assert found.lost == 0
    assert found.words.startswith("These paints reach all the darks")
    assert found.changed == 0.0
    assert "Every value can be painted as it is" in found.words


def test_one_pale_paint_draws_all_values_together() -> None:
    paints = load_set("measured").paints
    yellow = next(p for p in paints if p.pigments and "PY" in p.pigments[0])
    found = reach(Bench.of([yellow], default_paper()), picture((5, 0, 0), (50, 0, 0), (95, 0, 0)))
    assert found.tone.slope < 1.0
    assert "none keeps its distance" in found.words
    photo, painted = np.array(found.painted()).T
    assert (np.diff(painted) < np.diff(photo)).all()


def test_colours_too_strong_are_told(bench: Bench) -> None:
    screen_green = (88.0, -86.0, 83.0)  # of sRGB at its strongest; no paint on paper is that
    found = reach(bench, picture(screen_green, (80, 0, 0), (70, 0, 0), (90, 0, 0)))
    nearest = mix_freely(bench, np.array([screen_green]), rounds=40)
    assert float(delta_e_2000(nearest, np.array([screen_green]))[0]) > MISSED
    assert found.too_strong == pytest.approx(0.25)
    assert "25 % of the photo has colours stronger" in found.words
