"""How millimetres on a flat thing become pixels of a photo: perspective, and a lens that bends."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from firstwash.arrays import FloatArray

__all__ = ["LENS_SPREAD", "PlaneMap", "fitted_plane", "project"]

KNOTS_MM: Final = 2.0
FOCALS: Final = (0.5, 3.0, 80)  # of the photo's longer side: the widest, the longest, how many
LENS_SPREAD: Final = 0.03  # of a phone lens's k1 before the picture is seen; assumed, no source


@dataclass(frozen=True, eq=False)
class PlaneMap:
    """How mm on a plane become pixels of the photo.

    homography: (3, 3) from mm to pixels of a lens without distortion; k1 bends them outwards
    by k1·r², r in half diagonals from the centre. size: width and height of the photo, pixels.
    """

    homography: NDArray[np.float64]
    k1: float
    size: tuple[int, int]

    def pixels(self, mm: FloatArray) -> NDArray[np.float64]:
        """(..., 2) x, y in pixels (centre of the first pixel 0, 0) of (..., 2) mm."""
        return project(self.homography, self.k1, self.size, np.asarray(mm, dtype=np.float64))

    def pixel_maps(
        self, x: FloatArray, y: FloatArray
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Pixels x and y (rows, cols) of every mm in a grid of evenly spaced x (cols,), y (rows,).

        Worked out about every 2 mm and drawn straight between: a lens and a slant bend the map by
        less than a tenth of a pixel there.
        """
        across, along_x = _between(np.asarray(x))
        down, along_y = _between(np.asarray(y))
        coarse = self.pixels(np.stack(np.meshgrid(along_x, along_y), axis=-1)).astype(np.float32)
        maps = (down @ coarse[..., i] @ across.T for i in (0, 1))
        first, second = (np.ascontiguousarray(m, dtype=np.float32) for m in maps)
        return first, second

    def scale_at(self, mm: FloatArray) -> NDArray[np.float64]:
        """(2,) least and greatest pixels per mm at places (n, 2) mm."""
        step = 0.5
        points = np.atleast_2d(np.asarray(mm, dtype=np.float64))
        jac = np.stack(
            [
                (self.pixels(points + d) - self.pixels(points - d)) / (2 * step)
                for d in (np.array([step, 0.0]), np.array([0.0, step]))
            ],
            axis=2,
        )
        values = np.linalg.svd(jac, compute_uv=False)
        return np.array([values.min(), values.max()])

    def tilt_at(self, mm: FloatArray) -> float:
        """Degrees off square at a place (2,) mm, from how much it is foreshortened."""
        low, high = self.scale_at(mm)
        return float(np.degrees(np.arccos(np.clip(low / high, 0.0, 1.0))))

    def shape_off(self) -> float:
        """How far this is from what some camera sees: the logarithm of width over height by which
        the plane seems drawn out, or the cosine by which it seems askew, whichever is more.

        Pixels are square and the camera's axis meets the middle of the photo, so one focal length
        at least must show both sides of a square as long and upright to each other [Zhang2000].
        """
        centre = 0.5 * (np.array(self.size) - 1.0)
        shift = np.array([[1.0, 0.0, -centre[0]], [0.0, 1.0, -centre[1]], [0.0, 0.0, 1.0]])
        sides = (shift @ self.homography)[:, :2].T[:, None] * np.ones((1, FOCALS[2], 1))
        sides[..., 2] *= np.geomspace(*FOCALS) * max(self.size)
        right, down = sides
        wide, high = np.linalg.norm(sides, axis=2)
        lean = np.abs((right * down).sum(axis=1)) / (wide * high)
        return float(np.maximum(np.abs(np.log(wide / high)), lean).min())


def _between(values: NDArray[np.float64]) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Weights (n, knots) that draw straight lines between knots about 2 mm apart, and the knots."""
    low, high = float(values[0]), float(values[-1])
    knots = np.linspace(low, high, max(int((high - low) / KNOTS_MM) + 1, 2))
    at = (values - low) / (high - low) * (len(knots) - 1)
    left = np.clip(np.floor(at).astype(np.int64), 0, len(knots) - 2)
    weights = np.zeros((len(values), len(knots)), dtype=np.float32)
    rows = np.arange(len(values))
    weights[rows, left] = 1.0 - (at - left)
    weights[rows, left + 1] = at - left
    return weights, knots


def project(
    homography: FloatArray, k1: float, size: tuple[int, int], mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(..., 2) pixels of (..., 2) mm; see `PlaneMap`."""
    homogeneous = np.concatenate([mm, np.ones((*mm.shape[:-1], 1))], axis=-1) @ homography.T
    flat = homogeneous[..., :2] / homogeneous[..., 2:]
    centre = 0.5 * (np.array(size) - 1.0)
    half = 0.5 * float(np.hypot(*size))
    away = (flat - centre) / half
    return np.asarray(centre + half * away * (1.0 + k1 * (away**2).sum(axis=-1, keepdims=True)))


def fitted_plane(
    start: FloatArray, mm: FloatArray, px: FloatArray, size: tuple[int, int]
) -> PlaneMap:
    """Homography and distortion together, robust against a point badly found.

    start: (3, 3) homography to begin from. mm, px: (n, 2) the same points on the plane and in
    the photo.
    """
    whole = np.asarray(start, dtype=np.float64) / start[2, 2]
    scales = np.maximum(np.abs(whole.ravel()[:8]), 1e-7)

    def unpack(x: FloatArray) -> tuple[NDArray[np.float64], float]:
        return np.append(x[:8] * scales, 1.0).reshape(3, 3), float(x[8]) * LENS_SPREAD

    def residuals(x: FloatArray) -> NDArray[np.float64]:
        h, k1 = unpack(x)
        off = project(h, k1, size, np.asarray(mm)) - px
        return np.append(off.ravel(), x[8])

    x0 = np.append(whole.ravel()[:8] / scales, 0.0)
    found = least_squares(residuals, x0, loss="soft_l1", f_scale=1.0)
    return PlaneMap(*unpack(found.x), size)
