"""A measured paint left out and added again [Chen2019]: how well and how honestly it is predicted.

Bounds are the project's own aims; the figures met are in docs/decisions/0014. The data set is
fetched, or FIRSTWASH_OFFLINE=1 skips these tests.
"""

import importlib
import os
import sys
from pathlib import Path

import numpy as np
import pytest

from firstwash.paints.posterior import Belief

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tool():
    if os.environ.get("FIRSTWASH_OFFLINE") == "1":
        pytest.skip("FIRSTWASH_OFFLINE=1: the measured spectra are not fetched")
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("add_paint")
    finally:
        sys.path.remove(str(ROOT / "tools"))


@pytest.fixture(scope="module")
def added(tool):
    return [tool.add_with_mixes(p) for p in range(13)]


def test_series_and_four_mixtures_predict_the_other_mixtures(added) -> None:
    error = np.concatenate([a.error for a in added])
    assert len(error) == 13 * (120 - 4)
    assert (error <= 5.0).mean() >= 0.84  # asked: 0.79
    assert np.median(error) <= 2.8


def test_three_dilution_levels_predict_the_others(tool) -> None:
    error = np.concatenate([tool.add_by_levels(p) for p in range(13)])
    assert len(error) == 13 * 9
    assert np.median(error) <= 1.7


def test_the_range_holds_nine_of_ten_unseen_mixtures(tool, added) -> None:
    off = np.concatenate([a.off for a in added])
    covariance = np.concatenate([a.covariance for a in added])
    assert 0.85 <= tool.coverage(off, covariance) <= 0.95
    assert 0.85 <= tool.held_by_joint_fit() <= 0.95


def test_the_swatches_told_are_not_among_those_judged(tool, added) -> None:
    data = tool._data()
    for p in range(13):
        told = {tuple(data.amounts[i].round(3)) for i in tool._mix_rows(data, p)}
        assert len(told) == 4
        assert all(row[p] > 0 for row in map(np.array, told))
        assert len(added[p].error) == 116


def test_swatches_shrink_the_doubt(tool) -> None:
    k, s, _ = tool.box_without(9)
    before: Belief = tool._belief(9, k, s)
    data = tool._data()
    rows = np.flatnonzero(tool.series(data, 9))
    after = tool._learned(9, rows, tool.Instrument(data.reflectance[rows])).beliefs[9]
    sizes = [float(np.sqrt((b.spread[:, :36] ** 2).sum(axis=0).mean())) for b in (before, after)]
    assert sizes[1] < 0.5 * sizes[0]
