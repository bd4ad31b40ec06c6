"""A few spots per cell stand for the photo's pixels."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.optics.difference import delta_e_2000
from firstwash.picture.reference import with_focal_area
from firstwash.plan.report import as_judged, flat_xyz
from firstwash.plan.spots import Spots, cell_spots, gather, halfway, photo_spots

Shared = Any  # the small plan of conftest.py


def misses(spots: Spots, cell_labs: np.ndarray) -> float:
    off = delta_e_2000(cell_labs[spots.cells], spots.labs)
    return float(spots.weights @ np.sqrt(off**2 + spots.spreads))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 9), st.integers(1, 12))
def test_weights_and_means_are_kept(seed: int, cells: int, most: int) -> None:
    rng = np.random.default_rng(seed)
    pixels = int(rng.integers(cells, 200))
    index = np.concatenate([np.arange(cells), rng.integers(0, cells, pixels - cells)])
    labs = rng.uniform((0, -40, -40), (100, 40, 40), (pixels, 3))
    weight = rng.uniform(0.1, 3.0, pixels)
    spots = gather(index, labs, weight, cells, most)
    assert spots.weights.sum() == pytest.approx(1.0)
    assert np.all(spots.weights > 0)
    assert np.all(np.diff(spots.cells) >= 0)
    assert np.bincount(spots.cells, minlength=cells).max() <= most
    own = np.bincount(index, weight, cells) / weight.sum()
    np.testing.assert_allclose(spots.cell_weights(cells), own)
    for c in range(3):
        mean = np.bincount(spots.cells, spots.weights * spots.labs[:, c], cells)
        np.testing.assert_allclose(
            mean, np.bincount(index, weight * labs[:, c], cells) / weight.sum(), atol=1e-9
        )


def test_pixels_of_one_colour_are_one_spot() -> None:
    index = np.repeat([0, 2], 50)
    labs = np.repeat([[50.0, 10.0, 0.0], [70.0, 0.0, 5.0]], 50, axis=0)
    spots = gather(index, labs, np.ones(100), 3, 8)
    np.testing.assert_array_equal(spots.cells, [0, 2])  # a cell without pixels has no spot
    np.testing.assert_allclose(spots.labs, labs[[0, -1]])
    # Means are rounded at 1e-14; CIEDE2000 of that is not quite nothing.
    np.testing.assert_allclose(spots.spreads, 0.0, atol=1e-20)


def test_two_colours_in_a_cell_are_told_apart() -> None:
    rng = np.random.default_rng(0)
    pale, dark = np.array([80.0, 5.0, 5.0]), np.array([30.0, 5.0, 5.0])
    which = rng.random(400) < 0.3
    labs = np.where(which[:, None], dark, pale) + rng.normal(0.0, 0.1, (400, 3))
    spots = gather(np.zeros(400, dtype=np.int64), labs, np.ones(400), 1, 2)
    order = np.argsort(spots.labs[:, 0])
    np.testing.assert_allclose(spots.labs[order], [dark, pale], atol=0.05)
    assert spots.weights[order[0]] == pytest.approx(which.mean())


def test_scatter_counts_as_the_pixels_do() -> None:
    """One spot with its scatter against the pixels themselves, near and far from the colour."""
    rng = np.random.default_rng(1)
    labs = np.array([60.0, 10.0, 10.0]) + rng.normal(0.0, 2.0, (5000, 3))
    spots = gather(np.zeros(5000, dtype=np.int64), labs, np.ones(5000), 1, 1)
    for away in (0.0, 2.0, 6.0, 15.0):
        painted = np.array([[60.0 - away, 10.0, 10.0]])
        pixels = float(delta_e_2000(painted, labs).mean())
        # The share that counts is one number for all distances: within 6 % of the truth.
        assert misses(spots, painted) == pytest.approx(pixels, rel=0.06)


@pytest.mark.slow
def test_spots_judge_as_the_pixels_do(shared: Shared) -> None:
    plan, reference = shared.plan, shared.reference
    rng = np.random.default_rng(0)
    for off in (0.0, 2.0, 4.0):
        painted = plan.stage_labs[-1] + rng.normal(0.0, off, plan.stage_labs[-1].shape)
        pixels = float(
            delta_e_2000(
                as_judged(flat_xyz(plan.cells, painted), reference), reference.judge_lab
            ).mean()
        )
        few, many = (misses(photo_spots(plan.cells, reference, n), painted) for n in (4, 12))
        print(f"off by {off}: pixels {pixels:.3f}, 12 spots {many:.3f}, 4 spots {few:.3f}")
        # Borders are blended in the painting and not in the spots; on whole sheets the
        # difference is 0.0 to 0.2, and a postcard has more border.
        assert many == pytest.approx(pixels, abs=0.35)
        assert few == pytest.approx(many, abs=0.1)


def test_spots_cover_the_sheet(shared: Shared) -> None:
    plan, reference = shared.plan, shared.reference
    spots = photo_spots(plan.cells, reference)
    areas = plan.cells.areas_mm2()
    # Shared pixels at borders count half, so small cells weigh a little less than their area.
    np.testing.assert_allclose(spots.cell_weights(plan.cells.count), areas / areas.sum(), atol=0.01)
    mean = np.array([spots.weights @ spots.labs[:, c] for c in range(3)])
    np.testing.assert_allclose(mean, reference.judge_lab.mean(axis=(0, 1)), atol=1.0)


def test_a_focal_area_weighs_more_when_asked(shared: Shared) -> None:
    cells = shared.plan.cells
    mask = np.zeros(cells.index.shape, dtype=np.float32)
    mask[:, : mask.shape[1] // 2] = 1.0
    focal = with_focal_area(shared.reference, mask)
    plain = photo_spots(cells, focal).cell_weights(cells.count)
    heavy = photo_spots(cells, focal, weighted=True).cell_weights(cells.count)
    left = np.array(
        [(np.nonzero(cells.index == c)[1] < mask.shape[1] // 2).all() for c in range(cells.count)]
    )
    assert heavy[left].sum() > 1.2 * plain[left].sum()
    assert heavy.sum() == pytest.approx(1.0)


def test_means_of_cells() -> None:
    spots = cell_spots(np.array([[50.0, 0.0, 0.0], [60.0, 1.0, 2.0]]), np.array([3.0, 1.0]))
    np.testing.assert_allclose(spots.weights, [0.75, 0.25])
    np.testing.assert_array_equal(spots.spreads, 0.0)


def test_halfway_is_the_mean_of_both(shared: Shared) -> None:
    photo = shared.spots
    target = photo.mapped(shared.plan.tone(photo.labs))
    both = halfway(photo, target)
    painted = shared.plan.stage_labs[-1]
    expected = 0.5 * (misses(photo, painted) + misses(target, painted))
    assert misses(both, painted) == pytest.approx(expected)
    assert np.all(np.diff(both.cells) >= 0)
