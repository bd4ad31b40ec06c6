"""Borders told apart: hard, soft, lost, as the plan's edges say, and long enough to follow."""

import numpy as np
import pytest

from firstwash.handout.border_kinds import Run, curve_kinds, runs_by_kind, whole_runs
from firstwash.handout.contours import OUTSIDE, trace_contours
from firstwash.picture.edges import EDGE_KINDS, all_hard, find_edges
from firstwash.picture.shapes import Cells
from firstwash.usecases import PhotoPlan


def length(runs: list[Run]) -> float:
    return sum(float(np.linalg.norm(r.curves[:, 3] - r.curves[:, 0], axis=1).sum()) for r in runs)


def halves() -> Cells:
    index = np.zeros((80, 120), dtype=np.int32)
    index[:, 60:] = 1
    return Cells(index, np.arange(2, dtype=np.int32), np.zeros(2, np.int32), 2.0)


def ramp(cells: Cells, sigma_px: float) -> np.ndarray:
    """A picture (rows, cols, 3) dark on the left, light on the right, with a soft step."""
    x = (np.arange(cells.index.shape[1]) - 59.5) / sigma_px
    lightness = 30.0 + 40.0 / (1.0 + np.exp(-1.7 * x))  # near a normal integral of width 1
    lab = np.zeros((*cells.index.shape, 3))
    lab[..., 0] = lightness
    return lab


@pytest.mark.parametrize(("sigma_px", "kind"), [(0.2, "hard"), (5.0, "soft"), (16.0, "lost")])
def test_a_border_is_drawn_as_the_picture_shows_it(sigma_px: float, kind: str) -> None:
    cells = halves()
    contours = trace_contours(cells.index, cells.ppmm)
    kinds = curve_kinds(contours, find_edges(ramp(cells, sigma_px), cells))
    runs = runs_by_kind(contours, kinds, np.ones(contours.arcs, dtype=np.bool_))
    assert {name: round(length(runs[name]), 6) for name in EDGE_KINDS} == {
        name: 40.0 if name == kind else 0.0 for name in EDGE_KINDS
    }


def test_where_all_is_hard_nothing_is_broken(planned: PhotoPlan) -> None:
    cells = planned.plan.cells
    contours = trace_contours(cells.index, cells.ppmm)
    runs = runs_by_kind(
        contours, curve_kinds(contours, all_hard(cells)), np.ones(contours.arcs, dtype=np.bool_)
    )
    assert runs["soft"] == []
    assert runs["lost"] == []
    inner = (contours.left != OUTSIDE) & (contours.right != OUTSIDE)
    own = [Run(contours.curves_of((i, False))[0], np.empty(0)) for i in np.flatnonzero(inner)]
    assert length(runs["hard"]) == pytest.approx(length(own))  # every border once


def test_kinds_keep_their_share_of_a_real_plan(planned: PhotoPlan) -> None:
    """Within a seventh: stretches shorter than a brush follows are given away."""
    plan = planned.plan
    contours = trace_contours(plan.cells.index, plan.cells.ppmm)
    runs = runs_by_kind(
        contours, curve_kinds(contours, plan.edges), np.ones(contours.arcs, dtype=np.bool_)
    )
    total = sum(map(length, runs.values()))
    for name, share in plan.edges.shares().items():
        assert length(runs[name]) / total == pytest.approx(share, abs=0.15)  # type: ignore[index]


def test_outlines_close(planned: PhotoPlan) -> None:
    cells = planned.plan.cells
    contours = trace_contours(cells.index, cells.ppmm)
    for run in whole_runs(contours, np.arange(cells.count) % 3 == 0):
        assert run.closed
        np.testing.assert_allclose(run.curves[0, 0], run.curves[-1, 3])
        np.testing.assert_allclose(run.curves[1:, 0], run.curves[:-1, 3])
