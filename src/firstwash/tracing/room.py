"""The room that lines leave for others."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["Room"]

CLEAR_MM: Final = 1.6  # from a contour, so that no border is drawn twice
BESIDE_MM: Final = 3.6  # from a line, what runs along it


class Room:
    """Where lines may still be drawn: not beside one that is drawn already."""

    def __init__(self, shape: tuple[int, int], ppmm: float) -> None:
        """Nothing is drawn yet on a sheet of (rows, cols) pixels."""
        self._taken = np.zeros(shape, dtype=np.uint8)
        self._beside = np.zeros(shape, dtype=np.uint8)
        self._ppmm = ppmm

    def take(self, points: FloatArray, clear_mm: float = CLEAR_MM) -> None:
        """A line (n, 2) mm is drawn, and so much beside it is to be left clear."""
        places = np.rint((points * self._ppmm - 0.5) * 8.0).astype(np.int32)
        for plane, reach in ((self._taken, clear_mm), (self._beside, BESIDE_MM)):
            wide = max(round(2.0 * reach * self._ppmm), 1)
            cv2.polylines(plane, [places[:, None]], False, 1, wide, cv2.LINE_8, 3)

    def _at(self, plane: NDArray[np.uint8], points: FloatArray) -> NDArray[np.bool_]:
        rows, cols = plane.shape
        at = np.floor(points * self._ppmm).astype(np.int64)
        return np.asarray(plane[at[:, 1].clip(0, rows - 1), at[:, 0].clip(0, cols - 1)] > 0)

    def alongside(self, points: FloatArray) -> float:
        """Share of the points (n, 2) mm of a line that have another line at their side."""
        return float(self._at(self._beside, points).mean())

    def free(self, points: FloatArray) -> NDArray[np.bool_]:
        """Which points (n, 2) mm lie clear of all lines drawn."""
        return ~self._at(self._taken, points)
