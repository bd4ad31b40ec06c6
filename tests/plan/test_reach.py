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
    found = reach(bench, picture((0.5, 0, 0), (60, 0, 0), (60, 5, 5), (90, 0, 0)))
    assert found.floor > 0.5
    assert found.too_dark == pytest.approx(0.25)
    assert "25 % of the photo lies below" in found.words
    assert found.lost == int(value_step(found.floor)) - int(value_step(found.darkest))
    told = re.search(r"down to value (\d+)", found.words)
    assert told is not None
    assert int(told[1]) == int(value_step(found.floor))
    # The map a plan would use keeps darks in order and none below the floor.
    mapped = found.tone.lightness(np.arange(0.0, 101.0))
    assert (np.diff(mapped) > 0).all()
    assert mapped.min() >= found.floor - 1e-9


def test_a_light_picture_is_wholly_within_reach(bench: Bench) -> None:
    found = reach(bench, picture((80, 0, 0), (90, 2, 5), (70, 3, -4)))
    assert found.too_dark == 0.0
    assert found.lost == 0
    assert found.words.startswith("These paints reach all the darks")


def test_colours_too_strong_are_told(bench: Bench) -> None:
    screen_green = (88.0, -86.0, 83.0)  # of sRGB at its strongest; no paint on paper is that
    found = reach(bench, picture(screen_green, (80, 0, 0), (70, 0, 0), (90, 0, 0)))
    nearest = mix_freely(bench, np.array([screen_green]), rounds=40)
    assert float(delta_e_2000(nearest, np.array([screen_green]))[0]) > MISSED
    assert found.too_strong == pytest.approx(0.25)
    assert "25 % of the photo has colours stronger" in found.words
