"""Amounts are found that show the colours asked for."""

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.lessons.fitting import MOST_IN_PUDDLE, fit_amounts, fit_few
from firstwash.lessons.workshop import labs_of
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.plan.bench import Bench

BENCH = Bench.of(load_set("starter-6").paints, default_paper())


def seen(amounts: FloatArray) -> FloatArray:
    return labs_of(BENCH, amounts[:, None])[:, -1]


def test_what_can_be_mixed_is_met() -> None:
    true = np.zeros((3, BENCH.colours))
    true[0, [0, 2]] = 0.05, 0.02
    true[1, [1, 5]] = 0.1, 0.3
    true[2, [2, 3, 5]] = 0.04, 0.01, 0.2
    wanted = seen(true)
    found = fit_few(BENCH, seen, wanted, (0.3,))
    # A quarter of what the eye sees: the fit ends where a round gains less than a hundredth.
    assert float(delta_e_2000(seen(found), wanted).max()) < 0.25
    assert int((found > 0.0).sum(axis=1).max()) <= MOST_IN_PUDDLE


def test_no_place_comes_out_further_off_than_it_starts() -> None:
    start = np.full((4, BENCH.colours), 0.02)
    wanted = np.array([[5.0, 0.0, 0.0], [99.0, 0.0, 0.0], [50.0, 80.0, -80.0], [60.0, -60.0, 60.0]])
    found = fit_amounts(seen, start, wanted, 1.0 / BENCH.loads)
    before, after = delta_e_2000(seen(start), wanted), delta_e_2000(seen(found), wanted)
    assert (after <= before + 1e-9).all()
    assert (found >= 0.0).all()
    assert (found <= 1.0 / BENCH.loads + 1e-9).all()


def test_white_is_left_paper() -> None:
    paper = labs_of(BENCH, np.zeros((1, 1, BENCH.colours)))[:, -1]
    found = fit_amounts(seen, np.full((1, BENCH.colours), 1e-3), paper, 1.0 / BENCH.loads)
    assert float(delta_e_2000(seen(found), paper)[0]) < 0.2
