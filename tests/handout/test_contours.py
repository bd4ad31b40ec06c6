"""Borders of a label map: once each, smooth, where the pixels put them, and closed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from firstwash.handout.contours import OUTSIDE, Contours, trace_contours


def blobs(seed: int, rows: int = 120, cols: int = 160, labels: int = 9) -> np.ndarray:
    """A map of soft patches, such as shapes are after their smoothing."""
    rng = np.random.default_rng(seed)
    planes = [gaussian_filter(rng.normal(size=(rows, cols)), 6) for _ in range(labels)]
    return np.argmax(planes, axis=0).astype(np.int32)


def disc(size: int, radius: float) -> np.ndarray:
    rows, cols = np.indices((size, size)) - (size - 1) / 2
    return (np.hypot(rows, cols) < radius).astype(np.int32)


def sampled(contours: Contours) -> np.ndarray:
    """Points (n, 2; row, column) in pixels, close together along all curves."""
    t = np.linspace(0, 1, 400)
    basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
    points = np.einsum("tk,nkx->ntx", basis, contours.curves)
    return points.reshape(-1, 2)[:, ::-1] * contours.ppmm


def sides(contours: Contours) -> np.ndarray:
    """Middles (n, 2; row, column) in pixels of all the pixel sides that are border."""
    arcs = [
        contours.steps[a:b].astype(float)
        for a, b in zip(contours.step_start[:-1], contours.step_start[1:], strict=True)
    ]
    return np.concatenate([(p[1:] + p[:-1]) / 2 for p in arcs])


@pytest.mark.parametrize("seed", range(4))
def test_a_border_stays_beside_the_pixel_sides_it_follows(seed: int) -> None:
    """Half a pixel is lost where stairs become a slope, some more where a curve rounds a turn."""
    contours = trace_contours(blobs(seed), 2.0)
    away, _ = cKDTree(sampled(contours)).query(sides(contours))
    assert np.mean(away <= 0.7) > 0.99
    assert away.max() < 1.2
    back, _ = cKDTree(sides(contours)).query(sampled(contours))
    assert back.max() < 1.0


@pytest.mark.parametrize("seed", range(4))
def test_every_pixel_side_between_labels_is_walked_once(seed: int) -> None:
    labels = blobs(seed)
    contours = trace_contours(labels, 1.0)
    inner = np.count_nonzero(np.diff(labels, axis=0)) + np.count_nonzero(np.diff(labels, axis=1))
    own = sides(contours)
    assert len(own) == inner + 2 * sum(labels.shape)
    assert len(np.unique(own, axis=0)) == len(own)


@pytest.mark.parametrize("seed", range(4))
def test_areas_are_kept(seed: int) -> None:
    """Together exactly; each to the width of a tenth of a pixel along its border."""
    labels = blobs(seed)
    contours = trace_contours(labels, 2.0)
    pixels = np.bincount(labels.ravel())
    assert contours.areas_mm2.sum() == pytest.approx(labels.size / 4)
    length = np.zeros(len(pixels))
    count = np.diff(contours.step_start)
    for beside in (contours.left, contours.right):
        np.add.at(length, beside[beside != OUTSIDE], count[beside != OUTSIDE])
    assert (np.abs(contours.areas_mm2 * 4 - pixels) < 0.1 * length + 1.0).all()


def test_curves_join_and_junctions_are_shared_exactly() -> None:
    contours = trace_contours(blobs(7), 2.0)
    at: dict[int, np.ndarray] = {}
    for i in range(contours.arcs):
        curves, _ = contours.curves_of((i, False))
        np.testing.assert_allclose(curves[1:, 0], curves[:-1, 3], atol=1e-12)
        for node, point in zip(contours.ends[i], (curves[0, 0], curves[-1, 3]), strict=True):
            np.testing.assert_array_equal(at.setdefault(int(node), point), point)
    corners = {(0.0, 0.0), (80.0, 0.0), (0.0, 60.0), (80.0, 60.0)}
    assert corners <= {(float(x), float(y)) for x, y in at.values()}


def test_the_same_map_gives_the_same_curves() -> None:
    one, other = trace_contours(blobs(3), 2.0), trace_contours(blobs(3), 2.0)
    np.testing.assert_array_equal(one.curves, other.curves)
    np.testing.assert_array_equal(one.ends, other.ends)


def test_a_disc_becomes_a_circle() -> None:
    """Stairs around it are 4/π = 27 % longer; half a per cent is left for the fit."""
    contours = trace_contours(disc(100, 40.0), 1.0)
    assert contours.areas_mm2[1] == pytest.approx(disc(100, 40.0).sum(), rel=0.005)
    (walk,) = contours.loops(np.array([False, True]))
    points = contours.points(walk)
    assert np.abs(np.linalg.norm(points - 50.0, axis=1) - 40.0).max() < 0.6
    length = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum()
    assert length == pytest.approx(2 * np.pi * 40, rel=0.005)
    assert len(contours.curves) < 60  # from some 320 steps


def test_corners_stay_sharp() -> None:
    labels = np.zeros((60, 80), dtype=np.int32)
    labels[10:40, 20:70] = 1
    contours = trace_contours(labels, 1.0)
    (walk,) = contours.loops(np.array([False, True]))
    points = contours.points(walk)
    assert contours.areas_mm2[1] == pytest.approx(30 * 50, abs=2.0)
    for corner in ((20, 10), (70, 10), (70, 40), (20, 40)):
        assert np.linalg.norm(points - corner, axis=1).min() < 0.1


def test_a_slanting_border_becomes_one_line_or_two() -> None:
    """One step in 17 pixels, the hardest stairs to see through."""
    rows, cols = np.indices((200, 300))
    labels = (rows > 40 + cols / 17).astype(np.int32)
    contours = trace_contours(labels, 1.0)
    (inner,) = np.flatnonzero((contours.left != OUTSIDE) & (contours.right != OUTSIDE))
    curves, _ = contours.curves_of((int(inner), False))
    assert len(curves) < 8  # of 17 steps down and 300 across
    x, y = curves[:, 3].T
    assert np.abs(y - (40.5 + x / 17)).max() < 0.8


def test_a_sheet_of_one_label_is_its_border() -> None:
    contours = trace_contours(np.zeros((30, 40), dtype=np.int32), 2.0)
    assert contours.areas_mm2.tolist() == [pytest.approx(300.0)]
    assert contours.straight.all()
    assert not contours.between(np.zeros(1, dtype=np.int64)).any() or contours.arcs == 4


def test_single_pixels_and_chequers_are_not_lost() -> None:
    labels = np.zeros((9, 9), dtype=np.int32)
    labels[4, 4] = 1
    assert trace_contours(labels, 1.0).areas_mm2[1] == pytest.approx(1.0, abs=0.5)
    chequers = np.indices((6, 6)).sum(axis=0).astype(np.int32) % 2
    contours = trace_contours(chequers, 1.0)
    assert contours.areas_mm2.sum() == pytest.approx(36.0)
    assert (contours.areas_mm2 > 17.0).all()


@given(st.integers(0, 10_000), st.integers(1, 12), st.integers(1, 12), st.integers(1, 5))
def test_any_small_map_gives_closed_outlines(seed: int, rows: int, cols: int, most: int) -> None:
    labels = np.random.default_rng(seed).integers(0, most, (rows, cols)).astype(np.int32)
    contours = trace_contours(labels, 1.0)
    assert np.isfinite(contours.curves).all()
    assert contours.areas_mm2.sum() == pytest.approx(rows * cols)
    for label in range(int(labels.max()) + 1):
        walks = contours.loops(np.arange(labels.max() + 1) == label)
        for walk in walks:
            ends = [contours.curves_of(arc)[0] for arc in walk]
            for one, other in zip(ends, ends[1:] + ends[:1], strict=True):
                np.testing.assert_allclose(one[-1, 3], other[0, 0], atol=1e-9)


def test_outlines_of_a_union_leave_out_what_lies_between() -> None:
    labels = np.zeros((40, 60), dtype=np.int32)
    labels[10:30, 10:30], labels[10:30, 30:50], labels[15:20, 15:20] = 1, 2, 3
    contours = trace_contours(labels, 1.0)
    walks = contours.loops(np.array([False, True, True, False]))
    assert len(walks) == 2  # around both, and around the hole
    sizes = sorted(len(contours.points(walk)) for walk in walks)
    assert sizes[0] >= 4
    between = contours.between(np.array([0, 1, 1, 0]))
    parted = {(int(a), int(b)) for a, b in zip(contours.left, contours.right, strict=True)}
    assert (1, 2) in parted or (2, 1) in parted
    touching = [{int(a), int(b)} == {1, 2} for a, b in zip(
        contours.left[between], contours.right[between], strict=True)]  # fmt: skip
    assert not any(touching)
