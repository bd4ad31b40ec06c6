"""Sheets of paper on a board as a camera of known place and lens sees them, in linear light.

Nothing here is noise or judgement: every pixel is the mean of four points, each of them worked out
by undoing the map in `firstwash.picture.plane_map`. What is found in such a photo can be compared
with what was drawn, to a fraction of a pixel.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np

from firstwash.picture.plane_map import PlaneMap

Light = Callable[[Any, Any], Any]
PAPER = np.array([0.84, 0.83, 0.79])
BOARD = np.array([0.16, 0.13, 0.10])
SIZE = (960, 720)


def even(u: Any, _v: Any) -> Any:
    """Light 1 everywhere; u from -1 to 1 across and down the sheet."""
    return np.ones_like(u)[..., None]


def warm(u: Any, _v: Any) -> Any:
    """A lamp's light, even."""
    return np.ones_like(u)[..., None] * (1.0, 0.78, 0.5)


def sideways(u: Any, v: Any) -> Any:
    """From the left, 1.6 times as much as at the right, and a little less below."""
    return np.exp(-0.235 * u - 0.05 * v + 0.03 * u * v)[..., None] * 0.8


def camera(
    wide: float, high: float, *, size: tuple[int, int] = SIZE, tilt: float = 0.0,
    towards: float = 0.0, turn: float = 0.0, k1: float = 0.0, room: float = 0.8,
) -> PlaneMap:  # fmt: skip
    """A camera over the middle of a sheet in mm, as far away as brings it to `room` of the photo.

    tilt, towards, turn: degrees off square, the direction, and how far the sheet is turned.
    """
    spin = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(turn)]))[0]
    way = np.radians(towards)
    lean = np.radians(tilt) * np.array([np.cos(way), np.sin(way), 0.0])
    rotation = cv2.Rodrigues(lean)[0] @ spin
    focal = 1.1 * max(size)
    lens = np.array([[focal, 0, 0.5 * (size[0] - 1)], [0, focal, 0.5 * (size[1] - 1)], [0, 0, 1.0]])
    low, far = 50.0, 20_000.0
    for _ in range(40):
        distance = float(np.sqrt(low * far))
        move = np.array([0, 0, distance]) - rotation[:, :2] @ np.array([0.5 * wide, 0.5 * high])
        plane = PlaneMap(lens @ np.column_stack([rotation[:, :2], move]), k1, size)
        seen = np.abs(plane.pixels(corners(wide, high)) - 0.5 * (np.array(size) - 1))
        fits = bool((seen < 0.5 * room * np.array(size)).all())
        low, far = (low, distance) if fits else (distance, far)
    return plane


def corners(wide: float, high: float) -> Any:
    """(4, 2) mm, upper left first, then clockwise."""
    return np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])


@dataclass(frozen=True, eq=False)
class Drawn:
    """A sheet wide × high mm with a picture of patches within a margin (upper, right, lower, left).

    askew: degrees by which the picture is turned on its sheet, about its middle. patches:
    (rows, cols, 3) reflectance. paper, board: (3,).
    """

    wide: float = 300.0
    high: float = 220.0
    margin: tuple[float, float, float, float] = (15.0, 15.0, 15.0, 15.0)
    askew: float = 0.0
    patches: Any = field(default_factory=lambda: patchwork())
    paper: Any = field(default_factory=lambda: PAPER)
    board: Any = field(default_factory=lambda: BOARD)

    @property
    def inner(self) -> tuple[float, float]:
        """Width and height of the picture, mm."""
        upper, right, lower, left = self.margin
        return self.wide - left - right, self.high - upper - lower

    @property
    def border(self) -> Any:
        """(4, 2) mm on the sheet of the picture's corners."""
        return self.on_sheet(corners(*self.inner))

    def on_sheet(self, mm: Any) -> Any:
        """(n, 2) mm on the sheet of mm on the picture."""
        middle, origin = 0.5 * np.array(self.inner), np.array([self.margin[3], self.margin[0]])
        return (np.asarray(mm) - middle) @ _turn(self.askew).T + middle + origin

    def colour(self, x: Any, y: Any) -> Any:
        """(..., 3) reflectance at mm on the sheet; the board's beyond."""
        mm = np.stack([x, y], axis=-1)
        middle, origin = 0.5 * np.array(self.inner), np.array([self.margin[3], self.margin[0]])
        own = (mm - origin - middle) @ _turn(self.askew) + middle
        rows, cols = self.patches.shape[:2]
        at = own / self.inner * (cols, rows)
        inside = ((at >= 0) & (at < (cols, rows))).all(axis=-1)
        col, row = (np.clip(at[..., i].astype(int), 0, (cols, rows)[i] - 1) for i in (0, 1))
        on = (mm >= 0).all(axis=-1) & (mm < (self.wide, self.high)).all(axis=-1)
        shown = np.where(inside[..., None], self.patches[row, col], self.paper)
        return np.where(on[..., None], shown, self.board)

    def photo(self, plane: PlaneMap, light: Light = even) -> Any:
        """(rows, cols, 3) float32 linear light."""
        cols, rows = plane.size
        whole = np.zeros((rows, cols, 3))
        for dx in (-0.25, 0.25):
            for dy in (-0.25, 0.25):
                across, down = np.meshgrid(np.arange(cols) + dx, np.arange(rows) + dy)
                x, y = on_plane(plane, across, down, rounds=5)  # to a thousandth of a pixel
                u, v = 2 * x / self.wide - 1, 2 * y / self.high - 1
                lit = light(np.clip(u, -1.4, 1.4), np.clip(v, -1.4, 1.4))
                whole += 0.25 * self.colour(x, y) * lit
        return whole.astype(np.float32)

    def flat(self, ppmm: float, light: Light = even) -> Any:
        """(rows, cols, 3) float32: the sheet alone, squarely from above."""
        cols, rows = round(self.wide * ppmm), round(self.high * ppmm)
        x, y = np.meshgrid((np.arange(cols) + 0.5) / ppmm, (np.arange(rows) + 0.5) / ppmm)
        lit = light(2 * x / self.wide - 1, 2 * y / self.high - 1)
        return (self.colour(x, y) * lit).astype(np.float32)

    def expected(self) -> Any:
        """(rows, cols, 3) linear light of the picture alone, 2 pixels per mm."""
        wide, high = (round(2 * side) for side in self.inner)
        return cv2.resize(
            self.patches.astype(np.float32), (wide, high), interpolation=cv2.INTER_NEAREST
        )


def patchwork(rows: int = 5, cols: int = 7, seed: int = 1) -> Any:
    """(rows, cols, 3) reflectance of paints, none of them near the paper's."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0.05, 0.55, (rows, cols, 3))


def on_plane(plane: PlaneMap, px: Any, py: Any, rounds: int = 12) -> tuple[Any, Any]:
    """mm of pixels: `PlaneMap.pixels` undone."""
    centre, half = 0.5 * (np.array(plane.size) - 1.0), 0.5 * float(np.hypot(*plane.size))
    seen = (np.stack([px, py], axis=-1) - centre) / half
    straight = seen
    for _ in range(rounds):  # k1 is a few hundredths: each round brings another digit
        straight = seen / (1.0 + plane.k1 * (straight**2).sum(axis=-1, keepdims=True))
    flat = centre + half * straight
    homogeneous = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1)
    there = homogeneous @ np.linalg.inv(plane.homography).T
    return there[..., 0] / there[..., 2], there[..., 1] / there[..., 2]


def _turn(degrees: float) -> Any:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s], [s, c]])
