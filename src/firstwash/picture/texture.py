"""How rough the surface of each shape looks, at the scale at which a granulating paint speckles."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.picture.regions import smooth_within

__all__ = ["roughness", "roughness_of"]

# Millimetres on the sheet. Grain is seen at about one to three: finer is a camera's noise,
# coarser is form, which is painted. Common practice, no source.
FINEST_MM: Final = 0.5
COARSEST_MM: Final = 3.0
# Standard deviations of L* that count as quite smooth and as quite rough. Own judgement, by
# looking at photos: skin, cups and skies lie below the first, bark and gravel above the other.
SMOOTH: Final = 0.7
ROUGH: Final = 3.0
OF_MEDIAN: Final = 1.4826  # standard deviation of a normal distribution by its median deviation
SAMPLES_PPMM: Final = 1.0  # grain is looked at in so many places per mm; more tell no more


def roughness(lightness: FloatArray, labels: IntArray, ppmm: float) -> NDArray[np.float64]:
    """Roughness (n_shapes,) of each shape: 0 is smooth, 1 is rough.

    lightness (rows, cols) L*; labels (rows, cols) 0 … n − 1; ppmm: pixels per mm. By the
    median of the deviations, so that an edge or a highlight inside a shape counts for little.
    A shape too small to hold a sample counts as rough: nothing is known against it.
    """
    fine = smooth_within(lightness, labels, FINEST_MM * ppmm)
    step = max(1, int(ppmm / SAMPLES_PPMM))
    fine, here = fine[::step, ::step], np.ascontiguousarray(labels[::step, ::step])
    coarse = smooth_within(fine, here, COARSEST_MM * ppmm / step)
    deviation = OF_MEDIAN * _medians(np.abs(fine - coarse), here, int(labels.max()) + 1)
    return roughness_of(deviation)


def roughness_of(deviation: FloatArray) -> NDArray[np.float64]:
    """Roughness 0-1 of a standard deviation of L* at the scale of grain."""
    return np.clip((np.asarray(deviation, dtype=np.float64) - SMOOTH) / (ROUGH - SMOOTH), 0.0, 1.0)


def _medians(values: FloatArray, labels: IntArray, count: int) -> NDArray[np.float64]:
    """Median (count,) of the values under each label; infinite where there is none."""
    order = np.lexsort((values.ravel(), labels.ravel()))
    sizes = np.bincount(labels.ravel(), minlength=count)
    out = np.full(count, np.inf)
    found = sizes > 0
    middle = np.cumsum(sizes) - 1 - sizes // 2
    out[found] = values.ravel()[order][middle[found]]
    return out
