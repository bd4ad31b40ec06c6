"""What a brush can paint: a picture cut into shapes, each into value levels.

A shape is one passage of similar colour; its levels (light to dark) come from one
smoothed lightness plane, so the mask of a darker level always lies inside the mask of
the lighter ones. Every (shape, level) that occurs is a cell: one colour to aim at.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import slic

from firstwash.arrays import FloatArray, IntArray, as_float
from firstwash.picture import regions
from firstwash.picture.values import even_space

__all__ = ["Cells", "ShapeLimits", "find_cells", "find_shapes", "lightest"]

BORDER_WORTH = 1.0  # squared colour error × mm² that each mm of border must take away


@dataclass(frozen=True)
class ShapeLimits:
    """How fine a hand may work.

    count: shapes at most; levels: value levels per shape at most.
    min_area_mm2, min_width_mm: nothing smaller is asked of a brush.
    level_gain: a level must take away at least this much of the picture's squared
    lightness error (L*² × mm²) to be worth painting.
    """

    count: int = 150
    levels: int = 4
    min_area_mm2: float = 25.0
    min_width_mm: float = 2.0
    level_gain: float = 600.0


@dataclass(frozen=True)
class Cells:
    """The picture as cells.

    index: int32 (rows, cols), cell of each pixel; shape_of, level_of: (n_cells,) the
    shape and level (0 = lightest) of each cell; cells of a shape are consecutive, light
    to dark. ppmm: pixels per mm on the sheet. rough: (n_shapes,) 0-1 how rough each shape
    looks (`texture.roughness`), or (0,) where nobody looked.
    """

    index: NDArray[np.int32]
    shape_of: NDArray[np.int32]
    level_of: NDArray[np.int32]
    ppmm: float
    rough: NDArray[np.float64] = field(default_factory=lambda: np.empty(0), repr=False)

    @property
    def count(self) -> int:
        """Number of cells."""
        return len(self.shape_of)

    @property
    def shapes(self) -> int:
        """Number of shapes."""
        return int(self.shape_of.max()) + 1

    def roughness(self, cells: Sequence[int]) -> float:
        """How rough some cells look on the whole, 0-1; 0 where nobody looked."""
        own = np.asarray(cells, dtype=np.int64)
        if not len(self.rough) or not len(own):
            return 0.0
        return float(np.average(self.rough[self.shape_of[own]], weights=self.areas_mm2()[own]))

    def areas_mm2(self) -> NDArray[np.float64]:
        """Area (n_cells,) of each cell on the sheet, mm²."""
        return self._areas_mm2.copy()

    @cached_property
    def _areas_mm2(self) -> NDArray[np.float64]:
        return np.asarray(np.bincount(self.index.ravel(), minlength=self.count) / self.ppmm**2)

    def mean(self, picture: FloatArray, weight: FloatArray | None = None) -> NDArray[np.float64]:
        """Mean (n_cells, channels) of a picture (rows, cols, channels) over each cell."""
        flat = self.index.ravel()
        w = np.ones(flat.size) if weight is None else np.asarray(weight, float).ravel()
        total = np.bincount(flat, weights=w, minlength=self.count)
        sums = [
            np.bincount(flat, weights=w * picture[..., c].ravel(), minlength=self.count)
            for c in range(picture.shape[-1])
        ]
        return np.column_stack(sums) / total[:, None]


def find_shapes(
    lab: FloatArray,
    ppmm: float,
    limits: ShapeLimits,
    weight: FloatArray | None = None,
    fixed: IntArray | None = None,
) -> NDArray[np.int32]:
    """Shapes of a picture as a label map (rows, cols).

    lab: CIELAB (rows, cols, 3); weight: (rows, cols) importance (a focal area weighs
    more and gets more and smaller shapes), default 1; fixed: (rows, cols) zones that no
    shape may cross (background against subject).
    """
    w = np.ones(lab.shape[:2]) if weight is None else np.asarray(weight, dtype=np.float64)
    zones = np.zeros(lab.shape[:2], dtype=np.int32) if fixed is None else fixed
    colour = regions.soften(even_space(lab), ppmm, 1.0)
    seeds = _superpixels(colour, ppmm, limits, zones)
    labels = _merge(seeds, colour, w, ppmm, zones, limits)
    labels = regions.mode_filter(labels, limits.min_width_mm * ppmm, zones, times=2)
    parts = regions.connected_parts(labels)
    return _merge(parts, colour, w, ppmm, zones, limits)


def _superpixels(
    colour: FloatArray, ppmm: float, limits: ShapeLimits, zones: IntArray
) -> NDArray[np.int32]:
    area_mm2 = zones.size / ppmm**2
    # About a third of the smallest shape each, within what a merge can chew.
    wanted = int(np.clip(3 * area_mm2 / limits.min_area_mm2, 64, 6000))
    labels = slic(
        colour,
        n_segments=wanted,
        compactness=0.08,
        max_num_iter=5,
        channel_axis=-1,
        convert2lab=False,
        enforce_connectivity=True,
        start_label=0,
    )
    return regions.connected_parts(labels.astype(np.int64) * (int(zones.max()) + 1) + zones)


def _merge(
    labels: IntArray,
    colour: FloatArray,
    weight: FloatArray,
    ppmm: float,
    zones: IntArray,
    limits: ShapeLimits,
) -> NDArray[np.int32]:
    first = np.unique(labels, return_index=True)[1]
    # A focal area's pixels count for more area too, so smaller shapes survive there.
    area = weight / ppmm**2
    rule = regions.MergeRule(limits.count, limits.min_area_mm2, worth=BORDER_WORTH * ppmm)
    return regions.merge_regions(labels, colour, weight, area, rule, groups=zones.ravel()[first])


def find_cells(
    lab: FloatArray,
    shapes: IntArray,
    ppmm: float,
    limits: ShapeLimits,
    most: IntArray | None = None,
    weight: FloatArray | None = None,
) -> Cells:
    """Split every shape into value levels.

    lab: (rows, cols, 3); shapes: label map; most: (n_shapes,) levels each shape may have;
    weight: (rows, cols) importance: where it is higher, levels are finer and smaller.
    """
    area = (np.ones(shapes.shape) if weight is None else as_float(weight)) / ppmm**2
    lightness = regions.soften(lab, ppmm, 1.0)[..., 0]
    plane = regions.smooth_within(lightness, shapes, limits.min_width_mm * ppmm * 0.75)
    levels = _levels(plane, shapes, area, limits, most)
    levels = regions.mode_filter(levels, limits.min_width_mm * ppmm, shapes)
    return _to_cells(_absorb_small(levels, shapes, plane, area, limits), shapes, ppmm)


def _levels(
    plane: FloatArray,
    shapes: IntArray,
    area: FloatArray,
    limits: ShapeLimits,
    most: IntArray | None,
) -> NDArray[np.int32]:
    """Level (rows, cols) of each pixel from the best few thresholds of its shape."""
    n = int(shapes.max()) + 1
    bins = np.clip(plane * 2.0, 0, 199).astype(np.int64)  # half a unit of L* a bin
    slot = shapes.ravel() * 200 + bins.ravel()
    mass = np.bincount(slot, weights=area.ravel(), minlength=n * 200)
    table = np.zeros((n, 200), dtype=np.int32)
    allowed = np.full(n, limits.levels) if most is None else most
    for shape, histogram in enumerate(np.asarray(mass, dtype=np.float64).reshape(n, 200)):
        table[shape] = _best_levels(histogram, int(allowed[shape]), limits.level_gain)
    return np.asarray(table[shapes, bins], dtype=np.int32)


def _best_levels(histogram: FloatArray, most: int, gain: float) -> NDArray[np.int32]:
    """Level of each lightness bin (200,), 0 = lightest: exact 1-D clustering.

    Dynamic programming over cut points; one more level is taken only while it removes
    at least `gain` of squared error. Source: [Wang2011], optimal 1-D k-means.
    """
    used = np.flatnonzero(histogram)
    if len(used) < 2 or most == 1:
        return np.zeros(len(histogram), dtype=np.int32)
    mass, value = histogram[used], used / 2.0
    cost = _interval_costs(mass, value)
    best, cut = [cost[0]], []
    for _ in range(1, most):
        total = best[-1][:-1, None] + cost[1:, :]
        total[np.tril_indices(total.shape[0], -1, total.shape[1])] = np.inf
        cut.append(total.argmin(axis=0))
        best.append(total.min(axis=0))
        if best[-2][-1] - best[-1][-1] < gain:
            best.pop()
            cut.pop()
            break
    return _label_bins(used, cut, len(histogram))


def lightest(lab: FloatArray, shapes: IntArray, share: float = 0.1) -> NDArray[np.float64]:
    """L* (n_shapes,) that the lightest `share` of each shape starts at."""
    order = np.lexsort((lab[..., 0].ravel(), shapes.ravel()))
    sizes = np.bincount(shapes.ravel())
    ends = np.cumsum(sizes)
    return np.asarray(lab[..., 0].ravel()[order][ends - 1 - (share * sizes).astype(np.int64)])


def _interval_costs(mass: FloatArray, value: FloatArray) -> FloatArray:
    """Squared error (m, m) of making bins i … j one level; ∞ for j < i."""
    c0, c1, c2 = (np.concatenate([[0.0], np.cumsum(mass * value**p)]) for p in (0, 1, 2))
    i, j = np.arange(len(mass))[:, None], np.arange(len(mass))[None, :]
    w = np.maximum(c0[j + 1] - c0[i], 1e-12)
    error = c2[j + 1] - c2[i] - (c1[j + 1] - c1[i]) ** 2 / w
    return np.where(j >= i, np.maximum(error, 0.0), np.inf)


def _label_bins(used: IntArray, cuts: list[IntArray], bins: int) -> NDArray[np.int32]:
    end, starts = len(used) - 1, []
    for cut in reversed(cuts):
        start = int(cut[end]) + 1
        starts.append(start)
        end = start - 1
    edges = used[sorted(starts)] if starts else np.empty(0, dtype=np.int64)
    darkness = np.searchsorted(edges, np.arange(bins), side="right")
    return np.asarray(len(edges) - darkness, dtype=np.int32)


def _absorb_small(
    levels: IntArray, shapes: IntArray, plane: FloatArray, area: FloatArray, limits: ShapeLimits
) -> NDArray[np.int32]:
    """Level map without pieces too small to paint; a piece takes a neighbour's level."""
    span = int(levels.max()) + 1
    parts = regions.connected_parts(shapes.astype(np.int64) * span + levels)
    first = np.unique(parts, return_index=True)[1]
    colour = np.zeros((*plane.shape, 3), dtype=np.float32)
    colour[..., 0] = plane
    rule = regions.MergeRule(len(first), limits.min_area_mm2, light_levels=1.0)
    merged = regions.merge_regions(
        parts, colour, np.ones(plane.shape), area, rule, groups=shapes.ravel()[first]
    )
    # The merged piece takes the level that fills most of it.
    n = int(merged.max()) + 1
    votes = np.bincount(merged.ravel() * span + levels.ravel(), minlength=n * span)
    return np.asarray(votes.reshape(n, span).argmax(axis=1)[merged], dtype=np.int32)


def _to_cells(levels: IntArray, shapes: IntArray, ppmm: float) -> Cells:
    span = int(levels.max()) + 1
    keys, inverse = np.unique(shapes.astype(np.int64) * span + levels, return_inverse=True)
    shape_of = (keys // span).astype(np.int32)
    starts = np.searchsorted(shape_of, shape_of)
    level_of = (np.arange(len(keys)) - starts).astype(np.int32)
    index = inverse.reshape(shapes.shape).astype(np.int32)
    return Cells(index=index, shape_of=shape_of, level_of=level_of, ppmm=ppmm)
