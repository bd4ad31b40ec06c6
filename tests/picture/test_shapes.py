"""Shapes and levels: large enough for a brush, nested, where the picture has its edges."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from skimage import data

from firstwash.optics.observer import linear_srgb_to_xyz, srgb_decode, xyz_to_lab
from firstwash.picture.regions import connected_parts
from firstwash.picture.shapes import Cells, ShapeLimits, find_cells, find_shapes, lightest

PPMM = 2.0
LIMITS = ShapeLimits()
# Areas are whole pixels of a quarter of a square millimetre; sums of them carry no more error.
ROUNDING = 1e-6


def photo_lab(name: str, width: int) -> NDArray[np.float64]:
    """A photo that scikit-image carries, `width` pixels wide, as CIELAB."""
    picture = getattr(data, name)().astype(np.float32) / 255.0
    size = (width, round(width * picture.shape[0] / picture.shape[1]))
    linear = cv2.resize(srgb_decode(picture), size, interpolation=cv2.INTER_AREA)
    return xyz_to_lab(linear_srgb_to_xyz(linear))


@pytest.fixture(scope="module")
def lab() -> NDArray[np.float64]:
    return photo_lab("coffee", 360)  # 18 × 12 cm at 2 pixels per mm


@pytest.fixture(scope="module")
def shapes(lab: NDArray[np.float64]) -> NDArray[np.int32]:
    return find_shapes(lab, PPMM, LIMITS)


@pytest.fixture(scope="module")
def cells(lab: NDArray[np.float64], shapes: NDArray[np.int32]) -> Cells:
    return find_cells(lab, shapes, PPMM, LIMITS)


def poster(noise: float = 1.5) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """A picture of known shapes (CIELAB, labels): sky, ground, a disc, a lit and a dark side."""
    rows, cols = 160, 220
    y, x = np.mgrid[0:rows, 0:cols]
    labels = np.where(y > 100 + 0.15 * x, 1, 0)
    labels[(y - 60) ** 2 + (x - 60) ** 2 < 30**2] = 2
    labels[(np.abs(y - 70) < 40) & (np.abs(x - 160) < 25)] = 3
    colours = np.array([[80.0, -5, -20], [45, -20, 30], [65, 35, 30], [40, 5, 8]])
    lab = colours[labels] + np.random.default_rng(0).normal(0.0, noise, (rows, cols, 3))
    return lab, labels.astype(np.int32)


def borders(labels: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Pixels whose right or lower neighbour is in another region."""
    out = np.zeros(labels.shape, dtype=np.bool_)
    out[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    out[:-1] |= labels[:-1] != labels[1:]
    return out


def away_from(border: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Distance in pixels of every pixel from a border."""
    return np.asarray(
        cv2.distanceTransform((~border).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    )


# --- what a brush can paint ------------------------------------------------------


def test_shapes_are_few_whole_and_large_enough(shapes: NDArray[np.int32]) -> None:
    count = int(shapes.max()) + 1
    assert set(shapes.ravel()) == set(range(count))
    assert 20 < count <= LIMITS.count
    assert connected_parts(shapes).max() + 1 == count
    areas = np.bincount(shapes.ravel()) / PPMM**2
    assert areas.min() >= LIMITS.min_area_mm2 - ROUNDING


def test_every_piece_of_a_cell_is_large_enough(cells: Cells) -> None:
    pieces = connected_parts(cells.index)
    areas = np.bincount(pieces.ravel()) / PPMM**2
    assert areas.min() >= LIMITS.min_area_mm2 - ROUNDING


def share_wide_enough(labels: NDArray[np.int32], width_mm: float) -> float:
    """Share of the picture where a disc of that width fits inside its own region."""
    reach = round(width_mm * PPMM / 2)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    fits = np.zeros(labels.shape, dtype=np.bool_)
    for region in range(int(labels.max()) + 1):
        mask = np.pad((labels == region).astype(np.uint8), reach, mode="edge")
        opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc)
        fits |= opened[reach:-reach, reach:-reach] > 0
    return float(fits.mean())


@pytest.mark.parametrize("width_mm", [1.5, 2.0, 4.0])
def test_nearly_all_is_as_wide_as_asked(lab: NDArray[np.float64], width_mm: float) -> None:
    limits = ShapeLimits(min_width_mm=width_mm)
    found = find_shapes(lab, PPMM, limits)
    # What is left are the tips of corners and the wedges where three shapes meet, where a round
    # brush never reaches: more of them the wider the brush.
    assert share_wide_enough(found, width_mm) > (0.96 if width_mm <= 2.0 else 0.93)
    cells = find_cells(lab, found, PPMM, limits)
    # Levels are smoothed once, not twice: thin crescents along a shape's border stay.
    assert share_wide_enough(cells.index, width_mm) > (0.9 if width_mm <= 2.0 else 0.8)


def test_finer_hands_get_more_shapes(lab: NDArray[np.float64]) -> None:
    counts = [
        find_shapes(lab, PPMM, ShapeLimits(count=2000, min_area_mm2=area)).max()
        for area in (100.0, 50.0, 25.0)
    ]
    assert counts[0] < counts[1] < counts[2]
    for count in (5, 20, 60):
        assert find_shapes(lab, PPMM, ShapeLimits(count=count)).max() + 1 <= count


# --- where the borders lie -------------------------------------------------------


@pytest.mark.parametrize("noise", [0.0, 1.5, 3.0])
def test_known_edges_are_found_where_they_are(noise: float) -> None:
    picture, labels = poster(noise)
    found = find_shapes(picture, PPMM, ShapeLimits(count=4))
    assert found.max() + 1 == 4
    ours, theirs = borders(found), borders(labels)
    # A pixel is half a millimetre. Corners of the upright box are rounded by up to a millimetre
    # and a half, which is what a brush of 2 mm does to them.
    found_off, true_off = away_from(ours)[theirs], away_from(theirs)[ours]
    assert np.mean(found_off <= 1.0) > 0.97
    assert np.mean(true_off <= 1.0) > 0.97
    assert max(found_off.max(), true_off.max()) <= 1.5 * PPMM


@pytest.mark.parametrize("noise", [0.0, 1.5, 3.0])
def test_a_simple_picture_is_not_cut_into_more_shapes_than_it_has(noise: float) -> None:
    picture, _ = poster(noise)
    for count in (4, 150, 2000):
        found = find_shapes(picture, PPMM, ShapeLimits(count=count)).max() + 1
        # Strong noise may leave a border or two that seems to be worth its while.
        assert found == 4 if noise < 2.0 else 4 <= found <= 6


@pytest.mark.parametrize("noise", [0.0, 1e-6, 1.0])
def test_a_picture_of_one_colour_is_one_cell(noise: float) -> None:
    flat = np.full((80, 100, 3), 60.0)
    flat += np.random.default_rng(2).normal(0.0, noise, flat.shape)
    found = find_shapes(flat, PPMM, LIMITS)
    cells = find_cells(flat, found, PPMM, LIMITS)
    assert cells.count == cells.shapes == 1
    assert (cells.index == 0).all()
    # The mean of 8000 pixels of the noise.
    np.testing.assert_allclose(cells.mean(flat), [[60.0, 60.0, 60.0]], atol=0.05 * noise + 1e-9)
    assert cells.areas_mm2() == pytest.approx(80 * 100 / 4)


@pytest.mark.parametrize("size", [(2, 2), (3, 60), (60, 3)])
def test_tiny_pictures_give_cells(size: tuple[int, int]) -> None:
    picture = np.random.default_rng(1).uniform(20.0, 80.0, (*size, 3))
    found = find_shapes(picture, PPMM, LIMITS)
    cells = find_cells(picture, found, PPMM, LIMITS)
    assert cells.index.shape == size
    assert cells.count >= 1


# --- zones and the focal area ----------------------------------------------------


def test_no_shape_crosses_a_zone(lab: NDArray[np.float64]) -> None:
    y, x = np.mgrid[0 : lab.shape[0], 0 : lab.shape[1]]
    zones = ((y - 120) ** 2 + (x - 170) ** 2 < 70**2).astype(np.int32)
    found = find_shapes(lab, PPMM, LIMITS, fixed=zones)
    pairs = np.unique(np.column_stack([found.ravel(), zones.ravel()]), axis=0)
    assert len(pairs) == found.max() + 1
    # A zone too small to paint still keeps to itself.
    dot = np.zeros_like(zones)
    dot[50:53, 50:53] = 1
    found = find_shapes(lab, PPMM, LIMITS, fixed=dot)
    assert len(np.unique(found[dot == 1])) == 1
    assert (found == found[51, 51]).sum() == 9


def test_a_focal_area_gets_more_and_smaller_shapes(lab: NDArray[np.float64]) -> None:
    weight = np.ones(lab.shape[:2])
    focal = np.zeros(weight.shape, dtype=np.bool_)
    focal[60:180, 100:250] = True
    weight[focal] = 3.0
    plain = find_shapes(lab, PPMM, LIMITS)
    focused = find_shapes(lab, PPMM, LIMITS, weight)
    inside = [len(np.unique(s[focal])) for s in (plain, focused)]
    assert inside[1] > inside[0]
    # A third of the smallest area is allowed where the picture matters three times as much.
    areas = np.bincount(focused.ravel()) / PPMM**2
    weighted = np.bincount(focused.ravel(), weights=weight.ravel()) / PPMM**2
    assert areas.min() >= LIMITS.min_area_mm2 / 3.0 - ROUNDING
    assert weighted.min() >= LIMITS.min_area_mm2 - ROUNDING


# --- levels ----------------------------------------------------------------------


def test_cells_are_numbered_by_shape_then_from_light_to_dark(cells: Cells) -> None:
    assert set(cells.index.ravel()) == set(range(cells.count))
    assert (np.diff(cells.shape_of) >= 0).all()
    for shape in range(cells.shapes):
        levels = cells.level_of[cells.shape_of == shape]
        np.testing.assert_array_equal(levels, np.arange(len(levels)))
        assert len(levels) <= LIMITS.levels


def test_every_cell_lies_in_its_shape(cells: Cells, shapes: NDArray[np.int32]) -> None:
    np.testing.assert_array_equal(cells.shape_of[cells.index], shapes)


def test_darker_levels_lie_inside_lighter_ones(cells: Cells, lab: NDArray[np.float64]) -> None:
    # A level's mask is everything of its shape at that level or darker, so masks nest; what
    # needs a check is that deeper levels really are darker.
    light = cells.mean(lab)[:, 0]
    same = np.diff(cells.shape_of) == 0
    assert same.sum() > 20
    assert (np.diff(light)[same] < 0).all()


def test_levels_reduce_the_error_they_are_paid_for(
    lab: NDArray[np.float64], shapes: NDArray[np.int32]
) -> None:
    def error(cells: Cells) -> float:
        miss = lab[..., 0] - cells.mean(lab)[cells.index][..., 0]
        return float((miss**2).sum()) / PPMM**2

    n = int(shapes.max()) + 1
    flat = find_cells(lab, shapes, PPMM, LIMITS, np.ones(n, dtype=int))
    assert flat.count == n
    full = find_cells(lab, shapes, PPMM, LIMITS)
    # Each level was paid for with squared error of the smoothed plane; smoothing borders and
    # absorbing small pieces may give half of it back.
    assert error(flat) - error(full) > 0.5 * LIMITS.level_gain * (full.count - n)
    dear = find_cells(lab, shapes, PPMM, ShapeLimits(level_gain=5000.0))
    assert n <= dear.count < full.count


def test_each_shape_may_have_its_own_number_of_levels(
    lab: NDArray[np.float64], shapes: NDArray[np.int32]
) -> None:
    most = np.arange(shapes.max() + 1) % 3 + 1
    cells = find_cells(lab, shapes, PPMM, LIMITS, most)
    assert (np.bincount(cells.shape_of) <= most).all()


def test_a_ramp_is_cut_into_even_levels() -> None:
    ramp = np.zeros((80, 240, 3))
    ramp[..., 0] = np.linspace(90.0, 30.0, 240)
    shapes = np.zeros((80, 240), dtype=np.int32)
    cells = find_cells(ramp, shapes, PPMM, ShapeLimits(levels=4))
    assert cells.count == 4
    # Equal steps are optimal for an even ramp; bins of half a unit are two pixels wide.
    starts = np.flatnonzero(np.diff(cells.index[40])) + 1
    np.testing.assert_allclose(starts, [60, 120, 180], atol=3)


# --- the same every time, and what cells tell ------------------------------------


def test_the_same_picture_gives_the_same_cells(
    lab: NDArray[np.float64], shapes: NDArray[np.int32], cells: Cells
) -> None:
    np.testing.assert_array_equal(find_shapes(lab.copy(), PPMM, LIMITS), shapes)
    again = find_cells(lab.copy(), shapes.copy(), PPMM, LIMITS)
    np.testing.assert_array_equal(again.index, cells.index)


def test_cells_tell_areas_and_means(cells: Cells, lab: NDArray[np.float64]) -> None:
    assert cells.areas_mm2().sum() == pytest.approx(lab.shape[0] * lab.shape[1] / PPMM**2)
    some = cells.count // 2
    inside = lab[cells.index == some]
    np.testing.assert_allclose(cells.mean(lab)[some], inside.mean(axis=0))
    weight = np.random.default_rng(0).uniform(1.0, 3.0, lab.shape[:2])
    np.testing.assert_allclose(
        cells.mean(lab, weight)[some],
        np.average(inside, axis=0, weights=weight[cells.index == some]),
    )


def test_the_lightest_share_of_a_shape() -> None:
    plane = np.zeros((10, 20, 3))
    plane[..., 0] = np.arange(200).reshape(10, 20)
    shapes = np.repeat(np.array([[0, 1]], dtype=np.int32), 10, axis=1).repeat(10, axis=0)
    tops = lightest(plane, shapes, share=0.1)
    for shape in (0, 1):
        own = np.sort(plane[..., 0][shapes == shape])
        assert tops[shape] == own[-11]  # a tenth of the hundred are lighter
    np.testing.assert_array_equal(lightest(plane, shapes, share=0.0), [189.0, 199.0])
