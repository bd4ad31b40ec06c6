"""Maps are drawn on the outline's lines: closed areas, no stairs, kinds of edges kept."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from firstwash.handout.contours import OUTSIDE
from firstwash.handout.layer_map import Ruling, layer_map, ruling
from firstwash.tracing.lines import trace
from firstwash.tracing.model import Tracing
from firstwash.tracing.on_outline import drawn_on


@pytest.fixture(scope="module")
def nets(drawn) -> tuple[Ruling, Ruling, Tracing]:  # type: ignore[no-untyped-def]
    """A plan's borders as traced, the same on its outline, and that outline."""
    traced = trace(drawn.made.plan, drawn.made.reference, 0.5)
    old = ruling(drawn.made.plan)
    return old, drawn_on(old, traced), traced


def test_borders_meet_as_before(nets: tuple[Ruling, Ruling, Tracing]) -> None:
    """Arcs go on without a gap and end in one point with those that they ended with."""
    old, new, _ = nets
    c = new.contours
    at: dict[int, list[np.ndarray]] = {}
    for i in range(c.arcs):
        own = c.curves[c.start[i] : c.start[i + 1]]
        np.testing.assert_allclose(own[1:, 0], own[:-1, 3], atol=1e-9)
        at.setdefault(int(c.ends[i, 0]), []).append(own[0, 0])
        at.setdefault(int(c.ends[i, 1]), []).append(own[-1, 3])
    for ends in at.values():
        np.testing.assert_allclose(ends, np.broadcast_to(ends[0], (len(ends), 2)), atol=1e-9)
    np.testing.assert_array_equal(c.left, old.contours.left)
    assert len(new.kinds) == len(c.curves) == len(c.straight)


def test_the_sheet_s_border_stays(nets: tuple[Ruling, Ruling, Tracing]) -> None:
    old, new, _ = nets
    sheet = old.plan.sheet
    for i in np.flatnonzero((new.contours.left == OUTSIDE) | (new.contours.right == OUTSIDE)):
        x, y = new.contours.curves_of((int(i), False))[0].reshape(-1, 2).T
        rim = np.minimum(
            np.minimum(abs(x), abs(x - sheet.width_mm)),
            np.minimum(abs(y), abs(y - sheet.height_mm)),
        )
        assert rim.max() < 1e-6
    assert new.contours.areas_mm2.sum() == pytest.approx(sheet.width_mm * sheet.height_mm)


def test_what_an_outline_draws_a_map_draws_there(nets: tuple[Ruling, Ruling, Tracing]) -> None:
    """Hard borders beside the outline come to lie on it; they lay up to a mm off before."""
    old, new, traced = nets
    tree = cKDTree(np.concatenate([line.points(60) for line in traced.lines]))
    found = []
    for ruled in (old, new):
        lines = layer_map(ruled.plan, 1, ruled).lines["hard"]
        points = np.concatenate([run.curves[:, :4].mean(axis=1) for run in lines])
        away = tree.query(points)[0]
        found.append(float(np.median(away[away < 1.5])))
    assert found[1] < 0.1  # mm: a third of the pencil's line
    assert found[1] < found[0]


def test_there_are_fewer_stairs(nets: tuple[Ruling, Ruling, Tracing]) -> None:
    """Turning to and fro, radians to a mm, summed over all lines of the first map."""
    waver = []
    for ruled in nets[:2]:
        turned = total = 0.0
        for run in layer_map(ruled.plan, 1, ruled).lines["hard"]:
            points = np.concatenate([run.curves[:, 0], run.curves[-1:, 3]])
            way = np.diff(points, axis=0)
            way = way[np.linalg.norm(way, axis=1) > 1e-6]
            turn = np.angle(np.exp(1j * np.diff(np.arctan2(way[:, 1], way[:, 0]))))
            turned += float(np.abs(turn).sum() - abs(turn.sum()))
            total += float(np.linalg.norm(way, axis=1).sum())
        waver.append(turned / total)
    assert waver[1] < 0.8 * waver[0]


def test_without_an_outline_areas_keep_their_size(nets: tuple[Ruling, Ruling, Tracing]) -> None:
    old, _, traced = nets
    smooth = drawn_on(old, Tracing((), traced.width_mm, traced.height_mm, 0.5)).contours.areas_mm2
    large = old.contours.areas_mm2 > 400.0
    np.testing.assert_allclose(smooth[large], old.contours.areas_mm2[large], rtol=0.05)
