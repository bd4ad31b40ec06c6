"""Jugs, kettles, bottles, bowls, cups: turned bodies with handles and spouts."""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from still_lifes.scene import Mesh
from still_lifes.shapes import ball, box, joined, moved, reshaped, tube, turned_pot

__all__ = ["book", "bottle", "bowl", "candlestick", "cup", "jug", "kettle", "pan", "vase"]

Array = NDArray[np.float64]


def _bow(points: list[tuple[float, float, float]], radii: list[float], count: int = 40) -> Mesh:
    """A tube through points in space, by a smooth curve."""
    p = np.asarray(points)
    t = np.linspace(0, 1, len(p))
    fine = np.linspace(0, 1, count)
    return tube(CubicSpline(t, p)(fine), np.interp(fine, np.linspace(0, 1, len(radii)), radii))


def jug(height: float = 18.0, belly: float = 6.5) -> Mesh:
    """A jug with a lip towards -x and a handle at +x."""
    h, b = height, belly
    body = turned_pot(
        [
            (0, 0), (0.6 * b, 0), (0.66 * b, 0.02 * h), (b, 0.34 * h), (0.86 * b, 0.62 * h),
            (0.56 * b, 0.82 * h), (0.6 * b, 0.93 * h), (0.7 * b, h),
        ],
        wall=0.35,
    )  # fmt: skip
    points = body.points.copy()
    lip = np.clip((points[:, 2] - 0.8 * h) / (0.2 * h), 0, 1) ** 2
    front = np.exp(-((np.arctan2(points[:, 1], -points[:, 0]) / 0.5) ** 2))
    points[:, 0] -= 0.42 * b * lip * front
    points[:, 2] += 0.05 * h * lip * front
    handle = _bow(
        [
            (0.55 * b, 0, 0.9 * h), (1.15 * b, 0, 0.95 * h), (1.6 * b, 0, 0.72 * h),
            (1.4 * b, 0, 0.45 * h), (0.94 * b, 0, 0.32 * h),
        ],
        [0.75, 0.65, 0.6, 0.6, 0.8],
    )  # fmt: skip
    return joined(reshaped(body, points), handle)


def kettle(height: float = 14.0, belly: float = 9.0) -> Mesh:
    """A kettle: lid and knob, spout towards -x, bow over the top."""
    h, b = height, belly
    body = turned_pot(
        [
            (0, 0), (0.86 * b, 0), (0.95 * b, 0.04 * h), (b, 0.25 * h), (0.9 * b, 0.6 * h),
            (0.55 * b, 0.86 * h), (0.5 * b, 0.88 * h), (0.5 * b, 0.91 * h), (0.3 * b, 0.97 * h),
            (0.1 * b, h), (0, h),
        ],
        rows=110,
    )  # fmt: skip
    knob = moved(ball(0.12 * b, 0.9, rows=24, cols=32), (0, 0, 0.985 * h))
    spout = _bow(
        [
            (-0.8 * b, 0, 0.3 * h),
            (-1.25 * b, 0, 0.42 * h),
            (-1.45 * b, 0, 0.72 * h),
            (-1.75 * b, 0, 0.9 * h),
        ],
        [0.24 * b, 0.16 * b, 0.12 * b, 0.1 * b],
    )
    bow = _bow(
        [
            (-0.62 * b, 0, 0.78 * h), (-0.72 * b, 0, 1.2 * h), (0, 0, 1.62 * h),
            (0.72 * b, 0, 1.2 * h), (0.62 * b, 0, 0.78 * h),
        ],
        [0.3, 0.4, 0.55, 0.4, 0.3], 60,
    )  # fmt: skip
    return joined(body, knob, spout, bow)


def bottle(height: float = 26.0, belly: float = 4.0, wall: float = 0.0) -> Mesh:
    """A bottle; with a wall it is hollow, for glass."""
    h, b = height, belly
    return turned_pot(
        [
            (0, 0.3), (0.8 * b, 0), (0.97 * b, 0.03 * h), (b, 0.08 * h), (b, 0.52 * h),
            (0.9 * b, 0.62 * h), (0.42 * b, 0.74 * h), (0.34 * b, 0.82 * h), (0.34 * b, 0.95 * h),
            (0.42 * b, 0.96 * h), (0.42 * b, h),
        ],
        wall, rows=90,
    )  # fmt: skip


def bowl(rim: float = 8.0, height: float = 6.0, wall: float = 0.35) -> Mesh:
    """A bowl on a foot ring."""
    r, h = rim, height
    return turned_pot(
        [
            (0, 0), (0.42 * r, 0), (0.44 * r, 0.06 * h), (0.48 * r, 0.1 * h), (0.75 * r, 0.33 * h),
            (0.93 * r, 0.68 * h), (r, h),
        ],
        wall,
    )  # fmt: skip


def cup(rim: float = 4.0, height: float = 7.0) -> Mesh:
    """A cup with an ear at +x."""
    r, h = rim, height
    body = turned_pot(
        [(0, 0), (0.6 * r, 0), (0.85 * r, 0.15 * h), (0.97 * r, 0.6 * h), (r, h)], 0.3
    )
    ear = _bow(
        [
            (0.95 * r, 0, 0.82 * h),
            (1.5 * r, 0, 0.8 * h),
            (1.5 * r, 0, 0.4 * h),
            (0.9 * r, 0, 0.25 * h),
        ],
        [0.4, 0.35, 0.35, 0.4],
    )
    return joined(body, ear)


def vase(height: float = 16.0, belly: float = 5.0) -> Mesh:
    """A round vase with a narrow neck."""
    h, b = height, belly
    return turned_pot(
        [
            (0, 0), (0.5 * b, 0), (0.55 * b, 0.02 * h), (0.95 * b, 0.3 * h), (b, 0.42 * h),
            (0.75 * b, 0.65 * h), (0.36 * b, 0.82 * h), (0.34 * b, 0.9 * h), (0.5 * b, h),
        ],
        0.3,
    )  # fmt: skip


def pan(rim: float = 9.0, height: float = 7.0) -> Mesh:
    """A straight pot with two loops for the hands."""
    r, h = rim, height
    body = turned_pot(
        [(0, 0), (0.9 * r, 0), (0.98 * r, 0.05 * h), (r, 0.15 * h), (r, 0.93 * h), (1.03 * r, h)],
        0.25,
    )
    loop = _bow(
        [
            (0.98 * r, -2, 0.75 * h),
            (1.3 * r, -1.4, 0.8 * h),
            (1.3 * r, 1.4, 0.8 * h),
            (0.98 * r, 2, 0.75 * h),
        ],
        [0.4, 0.4, 0.4, 0.4],
    )
    return joined(body, loop, moved(loop, turn=180))


def candlestick(height: float = 14.0, foot: float = 5.0) -> Mesh:
    """A turned candlestick."""
    h, f = height, foot
    return turned_pot(
        [
            (0, 0), (f, 0), (f, 0.04 * h), (0.5 * f, 0.12 * h), (0.2 * f, 0.2 * h), (0.32 * f,
                0.35 * h),
            (0.16 * f, 0.5 * h), (0.18 * f, 0.7 * h), (0.36 * f, 0.82 * h), (0.24 * f, 0.9 * h),
            (0.4 * f, h), (0, h),
        ],
        rows=120,
    )  # fmt: skip


def book(size: tuple[float, float, float] = (15.0, 21.0, 3.0)) -> tuple[Mesh, Mesh]:
    """A closed book lying down: its cover and its block of pages."""
    x, y, z = size
    lids = joined(box((x, y, 0.3)), moved(box((x, y, 0.3)), (0, 0, z - 0.3)))
    back = moved(box((0.3, y, z)), (-x / 2, 0, 0))
    return joined(lids, back), moved(box((x - 0.8, y - 0.6, z - 0.6)), (0.2, 0, 0.3))
