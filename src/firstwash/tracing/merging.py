"""A plan's shapes joined into the fewer shapes that an outline shows.

Two shapes with little difference along their common border are one to the eye, and a small
shape is not worth its outline unless it stands out. Paper left bare stays apart.
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.picture.regions import connected_parts

__all__ = ["Ground", "MergeRule", "link_contrast", "merged"]

ASIDE_MM: Final = 1.0  # from a border, where its two sides are compared
STANDS_OUT: Final = 2.5  # times the least contrast from which a shape may be small
WHOLE: Final = 0.6  # of the distance of two regions' mean colours, at least, lies between them
THIN_MM, THIN_BARE_MM = 2.0, 1.4  # regions that are thinner are part of what is beside them
STAIRS: Final = 0.8  # length of a slanting border, of the sides of the pixels along it
SMALLER: Final = 0.25  # of the least area that such a shape must have still


@dataclass(frozen=True)
class MergeRule:
    """What is drawn apart: contrast (CIELAB, chroma compressed) and area (mm²) at least."""

    contrast: float
    area_mm2: float


def link_contrast(
    picture: FloatArray, ppmm: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Difference across each link of pixels of a picture (rows, cols, 3), `ASIDE_MM` to each side.

    Returns it across (rows, cols − 1) and down (rows − 1, cols).
    """
    reach = max(round(ASIDE_MM * ppmm), 1)
    return _across(picture, reach), _across(picture.swapaxes(0, 1), reach).T


def _across(picture: FloatArray, reach: int) -> NDArray[np.float32]:
    at = np.arange(picture.shape[1] - 1)
    left = np.maximum(at - reach + 1, 0)
    right = np.minimum(at + reach, picture.shape[1] - 1)
    return np.asarray(np.linalg.norm(picture[:, right] - picture[:, left], axis=2), np.float32)


@dataclass(frozen=True, eq=False)
class Ground:
    """What shapes are joined by.

    shape, bare: (rows, cols) its shape, and whether paper is left. picture: (rows, cols, 3) CIELAB
    with chroma compressed. contrast: across and down each link of pixels, see `link_contrast`.
    """

    shape: IntArray
    bare: BoolArray
    picture: FloatArray
    contrast: tuple[FloatArray, FloatArray]
    ppmm: float


class _Regions:
    """Regions, and of neighbours the length of their border and the contrast summed along it."""

    def __init__(self, parts: IntArray, ground: Ground) -> None:
        flat = parts.ravel()
        pixels = np.bincount(flat)
        self.area: list[float] = (pixels / ground.ppmm**2).tolist()
        self.bare: list[bool] = (np.bincount(flat, ground.bare.ravel()) > 0).tolist()
        self.colour = np.column_stack(
            [np.bincount(flat, ground.picture[..., c].ravel()) / pixels for c in range(3)]
        )
        self.ppmm = ground.ppmm
        self.borders: list[dict[int, tuple[float, float]]] = [{} for _ in pixels]
        self.changed = [0] * len(pixels)  # how often a region has grown
        for (a, b), border in _borders(parts, ground.contrast).items():
            self.borders[a][b] = self.borders[b][a] = border

    def contrast(self, a: int, b: int) -> float:
        """Between neighbours: along their border, or between them on the whole if that is more."""
        many, whole = self.borders[a][b]
        apart = float(np.linalg.norm(self.colour[a] - self.colour[b]))
        return max(whole / many, WHOLE * apart)

    def thickness(self, a: int) -> float:
        """Mean width of a region, mm, if it is long."""
        around = sum(many for many, _ in self.borders[a].values()) / self.ppmm
        return 2.0 * self.area[a] / max(STAIRS * around, 1e-9)

    def join(self, a: int, b: int) -> None:
        """Region b becomes part of a."""
        for c, (many, whole) in self.borders[b].items():
            del self.borders[c][b]
            if c != a:
                old = self.borders[a].get(c, (0.0, 0.0))
                self.borders[a][c] = self.borders[c][a] = (old[0] + many, old[1] + whole)
        self.borders[b] = {}
        share = self.area[b] / (self.area[a] + self.area[b])
        self.colour[a] += share * (self.colour[b] - self.colour[a])
        self.area[a] += self.area[b]
        self.changed[a] += 1
        self.changed[b] += 1


def _borders(
    parts: IntArray, contrast: tuple[FloatArray, FloatArray]
) -> dict[tuple[int, int], tuple[float, float]]:
    """Pairs of neighbours → how many links lie between them, and the contrast along them."""
    pairs = ((parts[:, :-1], parts[:, 1:]), (parts[:-1], parts[1:]))
    differ = [a != b for a, b in pairs]
    one = np.concatenate([a[d] for (a, _), d in zip(pairs, differ, strict=True)])
    other = np.concatenate([b[d] for (_, b), d in zip(pairs, differ, strict=True)])
    values = np.concatenate([c[d] for c, d in zip(contrast, differ, strict=True)])
    size = int(parts.max()) + 1
    keys = np.minimum(one, other).astype(np.int64) * size + np.maximum(one, other)
    found, slot = np.unique(keys, return_inverse=True)
    many, whole = np.bincount(slot).tolist(), np.bincount(slot, values).tolist()
    return {
        divmod(key, size): (float(m), w)
        for key, m, w in zip(found.tolist(), many, whole, strict=True)
    }


def merged(ground: Ground, rule: MergeRule) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Regions (rows, cols) left of a plan's shapes, 0 …, and which of them are bare paper.

    The two with least between them are joined first. Parts of a shape that do not hang together
    are regions of their own.
    """
    parts = connected_parts(ground.shape.astype(np.int64) * 2 + ground.bare)
    regions = _Regions(parts, ground)
    owner = np.arange(len(regions.area))
    waiting = [pair for a in range(len(owner)) for pair in _pairs(regions, a, rule)]
    heapq.heapify(waiting)
    while waiting:
        _, a, b, *as_they_were = heapq.heappop(waiting)
        if as_they_were != [regions.changed[a], regions.changed[b]]:
            continue
        regions.join(a, b)
        owner[owner == b] = a
        for c in (a, *regions.borders[a]):
            for pair in _pairs(regions, c, rule):
                if a in pair[1:3]:
                    heapq.heappush(waiting, pair)
    names, index = np.unique(owner[parts], return_inverse=True)
    return index.reshape(parts.shape), np.array(regions.bare, dtype=np.bool_)[names]


_Pair = tuple[float, int, int, int, int]


def _pairs(regions: _Regions, b: int, rule: MergeRule) -> Iterator[_Pair]:
    """The pairs in which a region may become part of a larger neighbour, and how they were."""
    area = regions.area[b]
    thin = regions.thickness(b) < (THIN_BARE_MM if regions.bare[b] else THIN_MM)
    for a in regions.borders[b]:
        if (regions.area[a], a) < (area, b):
            continue
        between = regions.contrast(a, b)
        least = rule.area_mm2 * (SMALLER if between >= STANDS_OUT * rule.contrast else 1.0)
        alike = between < rule.contrast and regions.bare[a] == regions.bare[b]
        if alike or thin or area < least:
            yield between, a, b, regions.changed[a], regions.changed[b]
