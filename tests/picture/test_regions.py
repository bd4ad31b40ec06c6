"""Region bookkeeping against plain implementations of the same ideas."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from firstwash.picture import regions
from firstwash.picture.regions import (
    MergeRule,
    border_edges,
    compact_labels,
    connected_parts,
    merge_regions,
    mode_filter,
    region_moments,
    smooth_within,
    soften,
)

maps = arrays(
    np.int32, st.tuples(st.integers(1, 9), st.integers(1, 9)), elements=st.integers(0, 3)
).map(lambda labels: np.unique(labels, return_inverse=True)[1].reshape(labels.shape))
label_maps = maps.map(lambda labels: labels.astype(np.int32))


def same_partition(a: np.ndarray, b: np.ndarray) -> bool:
    """Whether two label maps cut the picture in the same way, whatever the numbers."""
    pairs = np.unique(np.column_stack([a.ravel(), b.ravel()]), axis=0)
    return len(pairs) == len(np.unique(a)) == len(np.unique(b))


def refines(fine: np.ndarray, coarse: np.ndarray) -> bool:
    """Whether every region of `fine` lies in one region of `coarse`."""
    pairs = np.unique(np.column_stack([fine.ravel(), coarse.ravel()]), axis=0)
    return len(pairs) == len(np.unique(fine))


# --- borders ---------------------------------------------------------------------


@given(labels=label_maps)
def test_border_edges_count_every_pixel_side(labels: np.ndarray) -> None:
    sides: dict[tuple[int, int], int] = {}
    rows, cols = labels.shape
    for i in range(rows):
        for j in range(cols):
            for y, x in ((i + 1, j), (i, j + 1)):
                if y < rows and x < cols and labels[i, j] != labels[y, x]:
                    pair = tuple(sorted((int(labels[i, j]), int(labels[y, x]))))
                    sides[pair] = sides.get(pair, 0) + 1
    us, vs, lengths = border_edges(labels)
    found = {(int(u), int(v)): int(n) for u, v, n in zip(us, vs, lengths, strict=True)}
    assert found == sides


# --- connected parts -------------------------------------------------------------


@given(labels=label_maps)
def test_connected_parts_are_those_of_an_independent_labelling(labels: np.ndarray) -> None:
    parts = connected_parts(labels)
    expected = np.zeros(labels.shape, dtype=int)
    for value in np.unique(labels):
        own, n = ndimage.label(labels == value)  # 4-connected
        expected[own > 0] = own[own > 0] + expected.max()
        assert n > 0
    assert same_partition(parts, expected)


@given(labels=label_maps)
def test_parts_are_numbered_in_reading_order(labels: np.ndarray) -> None:
    parts = connected_parts(labels)
    assert parts.dtype == np.int32
    _, first = np.unique(parts, return_index=True)
    assert (np.diff(first) > 0).all()
    np.testing.assert_array_equal(connected_parts(parts), parts)


def test_a_spiral_is_one_part() -> None:
    spiral = np.ones((9, 9), dtype=np.int32)
    spiral[1, :8] = spiral[1:8, 7] = spiral[7, 2:8] = spiral[3:8, 2] = spiral[3, 2:6] = 0
    assert len(np.unique(connected_parts(spiral))) == 2


def test_corners_do_not_connect() -> None:
    board = (np.indices((4, 4)).sum(axis=0) % 2).astype(np.int32)
    assert len(np.unique(connected_parts(board))) == 16


# --- numbering and moments -------------------------------------------------------


@given(arrays(np.int64, (4, 5), elements=st.integers(-50, 50)))
def test_compact_labels_keep_regions_and_order(labels: np.ndarray) -> None:
    compact = compact_labels(labels)
    assert same_partition(labels, compact)
    assert set(compact.ravel()) == set(range(compact.max() + 1))
    order = np.argsort(labels.ravel(), kind="stable")
    assert (np.diff(compact.ravel()[order]) >= 0).all()


def test_moments_are_weighted_sums(rng: np.random.Generator) -> None:
    labels = rng.integers(0, 4, (7, 6)).astype(np.int32)
    colour, weight = rng.normal(size=(7, 6, 3)), rng.uniform(0.5, 2.0, (7, 6))
    moments = region_moments(labels, colour, weight)
    for region in range(4):
        w, c = weight[labels == region], colour[labels == region]
        second = (w[:, None, None] * c[:, :, None] * c[:, None, :]).sum(axis=0)
        expected = [
            w.sum(), *(w @ c), second[0, 0], second[1, 1], second[2, 2], second[0, 1], second[0, 2]
        ]  # fmt: skip
        np.testing.assert_allclose(moments[region, :9], expected, rtol=1e-12, atol=1e-12)


# --- merging ---------------------------------------------------------------------


def slow_merge(labels: np.ndarray, light: np.ndarray, rule: MergeRule) -> np.ndarray:
    """Merging of a grey picture, every cost worked out from the pixels at every step."""
    now = labels.copy()
    edges = [[int(u), int(v), float(n)] for u, v, n in zip(*border_edges(now), strict=True)]
    share = 1.0 / rule.light_levels**2

    def spread(regions: list[int]) -> float:
        inside = light[np.isin(now, regions)]
        return share * float(((inside - inside.mean()) ** 2).sum())

    def cost(u: int, v: int, length: float) -> float:
        gain = (spread([u, v]) - spread([u]) - spread([v])) / length
        small = min((now == u).sum(), (now == v).sum()) < rule.min_area
        return gain * 1e-9 if small else gain

    while edges:
        costs = [cost(*e) for e in edges]
        u, v, _ = edges[int(np.argmin(costs))]
        smallest = min((now == u).sum(), (now == v).sum())
        if len(np.unique(now)) <= rule.target and smallest >= rule.min_area:
            break
        now[now == v] = u
        joined: dict[tuple[int, int], list[float]] = {}
        for a, b, n in edges:
            a, b = (u if x == v else x for x in (a, b))
            if a != b:
                key = (min(a, b), max(a, b))
                joined.setdefault(key, [a, b, 0.0])[2] += n
        edges = [list(e) for e in joined.values()]
    return now


@pytest.mark.parametrize("seed", range(25))
def test_merging_follows_the_plain_rule(seed: int) -> None:
    rng = np.random.default_rng(seed)
    labels = connected_parts(rng.integers(0, 4, (8, 9)).astype(np.int32))
    light = rng.uniform(0.0, 100.0, labels.shape)  # random: no two costs are equal
    rule = MergeRule(int(rng.integers(1, 9)), float(rng.integers(0, 6)), 2.5)
    colour = np.zeros((*labels.shape, 3))
    colour[..., 0] = light
    ones = np.ones(labels.shape)
    merged = merge_regions(labels, colour, ones, ones, rule)
    assert same_partition(merged, slow_merge(labels, light, rule))


@settings(max_examples=60)
@given(labels=label_maps, seed=st.integers(0, 999), target=st.integers(1, 6))
def test_merged_regions_are_whole_connected_and_large_enough(
    labels: np.ndarray, seed: int, target: int
) -> None:
    rng = np.random.default_rng(seed)
    parts = connected_parts(labels)
    colour = rng.normal(0.0, 20.0, (*labels.shape, 3)).round()  # ties occur
    area = rng.uniform(0.5, 1.5, labels.shape)
    smallest = float(rng.uniform(0.0, 8.0))
    merged = merge_regions(parts, colour, np.ones(labels.shape), area, MergeRule(target, smallest))
    assert merged.dtype == np.int32
    assert set(merged.ravel()) == set(range(merged.max() + 1))
    assert refines(parts, merged)
    np.testing.assert_array_equal(compact_labels(connected_parts(merged)).max(), merged.max())
    count = merged.max() + 1
    assert count <= max(target, 1) or count == parts.max() + 1 == 1
    if count > 1:
        areas = np.bincount(merged.ravel(), weights=area.ravel())
        assert areas.min() >= smallest - 1e-9  # sums in another order


@given(labels=label_maps, seed=st.integers(0, 999))
def test_regions_of_different_groups_never_join(labels: np.ndarray, seed: int) -> None:
    rng = np.random.default_rng(seed)
    parts = connected_parts(labels)
    groups = rng.integers(0, 2, parts.max() + 1)
    ones = np.ones(labels.shape)
    colour = rng.normal(size=(*labels.shape, 3))
    merged = merge_regions(parts, colour, ones, ones, MergeRule(1, 100.0), groups)
    assert refines(merged, groups[parts])
    # With no target left to respect, each group's connected part is one region.
    assert same_partition(merged, connected_parts(groups[parts].astype(np.int32)))


def test_small_regions_join_their_nearest_neighbour_first() -> None:
    labels = np.zeros((6, 9), dtype=np.int32)
    labels[:, 4:] = 1
    labels[2:4, 4:6] = 2  # a small patch between both, closer in colour to region 0
    colour = np.zeros((6, 9, 3))
    colour[..., 0] = np.array([20.0, 60.0, 25.0])[labels]
    ones = np.ones(labels.shape)
    merged = merge_regions(labels, colour, ones, ones, MergeRule(3, 10.0))
    assert merged[2, 4] == merged[0, 0] != merged[0, 8]


def test_lightness_that_levels_will_follow_counts_less() -> None:
    # Two steps of lightness against one step of hue, equal in distance: hue keeps its border.
    labels = np.repeat(np.arange(3, dtype=np.int32), 4)[None, :].repeat(6, axis=0)
    colour = np.array([[40.0, 0, 0], [55.0, 0, 0], [55.0, 15.0, 0]])[labels]
    ones = np.ones(labels.shape)
    merged = merge_regions(labels, colour, ones, ones, MergeRule(2, 0.0, light_levels=2.5))
    assert merged[0, 0] == merged[0, 5] != merged[0, 11]


def test_borders_worth_nothing_go_below_the_target_too() -> None:
    labels = np.repeat(np.arange(3, dtype=np.int32), 4)[None, :].repeat(6, axis=0)
    colour = np.array([[50.0, 0, 0], [50.0, 1.0, 0], [50.0, 9.0, 0]])[labels]
    ones = np.ones(labels.shape)
    # Joining 24 and 24 pixels one apart adds 24·24/48 = 12 of squared error over 6 sides.
    for worth, left in ((1.9, 3), (2.1, 2), (1e6, 1)):
        rule = MergeRule(10, 0.0, worth=worth)
        assert merge_regions(labels, colour, ones, ones, rule).max() + 1 == left


# --- smoothing -------------------------------------------------------------------


def disc(radius: float) -> list[tuple[int, int, float]]:
    """Offsets and weights of the soft disc: Gaussian of two thirds of its radius."""
    reach, sigma = max(1, math.ceil(radius)), max(radius / 1.5, 0.5)
    span = range(-reach, reach + 1)
    return [
        (y, x, math.exp(-(y * y + x * x) / (2 * sigma * sigma)))
        for y in span
        for x in span
        if y * y + x * x <= radius * radius + 0.5
    ]


def slow_mode(labels: np.ndarray, radius: float, groups: np.ndarray) -> np.ndarray:
    rows, cols = labels.shape
    out = labels.copy()
    for i in range(rows):
        for j in range(cols):
            votes: dict[int, float] = {}
            for y, x, w in disc(radius):
                u, v = i + y, j + x
                if 0 <= u < rows and 0 <= v < cols and groups[u, v] == groups[i, j]:
                    votes[int(labels[u, v])] = votes.get(int(labels[u, v]), 0.0) + w
            top = max(votes.values())
            if votes[int(labels[i, j])] < top:  # a tie leaves the pixel as it is
                out[i, j] = next(label for label, n in votes.items() if n == top)
    return out


@settings(max_examples=60)
@given(
    labels=label_maps,
    radius=st.floats(0.5, 3.5),
    seed=st.integers(0, 99),
    times=st.integers(1, 2),
)
def test_the_mode_filter_is_a_vote_in_a_soft_disc(
    labels: np.ndarray, radius: float, seed: int, times: int
) -> None:
    groups = np.random.default_rng(seed).integers(0, 2, labels.shape).astype(np.int32)
    expected = labels
    for _ in range(times):
        expected = slow_mode(expected, radius, groups)
    np.testing.assert_array_equal(mode_filter(labels, radius, groups, times), expected)
    plain = slow_mode(labels, radius, np.zeros_like(groups))
    np.testing.assert_array_equal(mode_filter(labels, radius), plain)


@pytest.mark.parametrize(("width", "stays"), [(1, False), (2, False), (7, True), (10, True)])
def test_the_mode_filter_takes_out_thin_stripes(width: int, stays: bool) -> None:
    # Radius 4: a stripe keeps its pixels while it holds half of the disc's weight, that is
    # from about 0.9 of the radius on.
    labels = np.zeros((40, 40), dtype=np.int32)
    labels[:, 15 : 15 + width] = 1
    assert (mode_filter(labels, 4.0) == 1).any() == stays


def test_the_mode_filter_leaves_straight_borders_alone() -> None:
    labels = np.zeros((30, 30), dtype=np.int32)
    labels[:, 13:] = 1
    np.testing.assert_array_equal(mode_filter(labels, 5.0, times=3), labels)


@given(labels=label_maps, radius=st.floats(0.5, 3.5), seed=st.integers(0, 99))
def test_blurring_never_crosses_a_border(labels: np.ndarray, radius: float, seed: int) -> None:
    plane = np.random.default_rng(seed).uniform(0.0, 100.0, labels.shape).astype(np.float32)
    found = smooth_within(plane, labels, radius)
    rows, cols = labels.shape
    for i in range(rows):
        for j in range(cols):
            near = [
                (w, plane[i + y, j + x])
                for y, x, w in disc(radius)
                if 0 <= i + y < rows and 0 <= j + x < cols and labels[i + y, j + x] == labels[i, j]
            ]
            expected = sum(w * float(v) for w, v in near) / sum(w for w, _ in near)
            assert found[i, j] == pytest.approx(expected, rel=1e-6)  # kept as float32


def test_blurring_keeps_flat_regions_flat() -> None:
    labels = (np.indices((12, 12)).sum(axis=0) > 11).astype(np.int32)
    plane = np.where(labels == 1, 80.0, 20.0).astype(np.float32)
    np.testing.assert_array_equal(smooth_within(plane, labels, 4.0), plane)


def test_softening_removes_specks_and_keeps_edges() -> None:
    colour = np.zeros((20, 20, 3), dtype=np.float32)
    colour[:, 10:] = 50.0
    clean = colour.copy()
    colour[5, 5] = 90.0
    np.testing.assert_array_equal(soften(colour, 2.0, 1.0), clean)
    # Below a pixel's width there is nothing to remove.
    np.testing.assert_array_equal(soften(colour, 0.3, 1.0), colour)


def test_one_pixel_is_one_region() -> None:
    one = np.zeros((1, 1), dtype=np.int32)
    ones = np.ones((1, 1))
    assert border_edges(one)[0].size == 0
    np.testing.assert_array_equal(connected_parts(one), one)
    np.testing.assert_array_equal(mode_filter(one, 3.0), one)
    merged = merge_regions(one, np.zeros((1, 1, 3)), ones, ones, MergeRule(1, 25.0))
    np.testing.assert_array_equal(merged, one)
    assert regions.compact_labels(one).dtype == np.int32
