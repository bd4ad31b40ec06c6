"""Where the camera is: millimetres on the card to pixels of the photo, and back.

Pixel centres have whole coordinates, column first. The sheet may curl a little, the lens
bends straight lines a little.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from card_camera import Pixels
from card_optics import Floats

__all__ = ["View", "random_view", "where_pixels_lie"]


@dataclass(frozen=True, eq=False)
class View:
    """A camera over a card.

    plane: (3, 3) flat mm to the pixels of a perfect lens. k1: radial distortion at the
    picture's corner. curl: (2, 2) how the sheet's rise moves what is seen: the axis along
    which it rises and the shift, mm at 100 mm from the middle.
    """

    plane: Floats
    k1: float
    width: int
    height: int
    curl: Floats
    middle: Floats

    @property
    def centre(self) -> Floats:
        """(2,) pixels of the optical axis."""
        return 0.5 * (np.array([self.width, self.height]) - 1)

    def _rise(self, mm: Floats) -> Floats:
        along = (mm - self.middle) @ self.curl[0] / 100.0
        return np.asarray(np.minimum(along**2, 2.5)[..., None] * self.curl[1])

    def to_photo(self, mm: Floats) -> Floats:
        """(n, 2) mm on the card → (n, 2) pixels."""
        mm = np.asarray(mm, float).reshape(1, -1, 2)
        flat = cv2.perspectiveTransform(mm + self._rise(mm), self.plane)[0]
        away = flat - self.centre
        return np.asarray(self.centre + away * (1 + self.k1 * self._squared(away)))

    def to_card(self, xy: Floats) -> Floats:
        """(n, 2) pixels → (n, 2) mm on the card; what `to_photo` undoes."""
        away = np.asarray(xy, float) - self.centre
        straight = away
        for _ in range(8):
            straight = away / (1 + self.k1 * self._squared(straight))
        ideal = (self.centre + straight).reshape(1, -1, 2)
        flat = cv2.perspectiveTransform(ideal, np.linalg.inv(self.plane))[0]
        mm = flat
        for _ in range(4):
            mm = flat - self._rise(mm)
        return np.asarray(mm)

    def _squared(self, away: Floats) -> Floats:
        """Squared distance from the axis, 1 in the picture's corner."""
        return np.asarray((away**2).sum(axis=-1, keepdims=True) / (self.centre**2).sum())


def _turned(rng: np.random.Generator) -> tuple[Floats, float, float]:
    """A rotation (3, 3), its tilt and its turn in degrees: seldom steep, seldom askew."""
    tilt = float(rng.uniform(0, 15) if rng.random() < 0.75 else rng.uniform(15, 45))
    square = rng.choice([0, 90, 180, 270], p=[0.5, 0.2, 0.15, 0.15]) + rng.normal(0, 5)
    turn = float(square if rng.random() < 0.8 else rng.uniform(0, 360))
    spin = cv2.Rodrigues(np.array([0, 0, np.radians(turn)]))[0]
    towards = rng.uniform(0, 2 * np.pi)
    lean = cv2.Rodrigues(np.radians(tilt) * np.array([np.cos(towards), np.sin(towards), 0]))[0]
    return lean @ spin, tilt, turn % 360


def _curl(rng: np.random.Generator, tilt: float) -> Floats:
    angle, towards = rng.uniform(0, 2 * np.pi, 2)
    height = rng.uniform(0, 1.5)  # mm at 100 mm from the middle
    shift = height * (0.1 + np.tan(np.radians(tilt)))
    axis = np.array([np.cos(angle), np.sin(angle)])
    return np.array([axis, shift * np.array([np.cos(towards), np.sin(towards)])])


def random_view(
    rng: np.random.Generator, megapixels: float, corners: Floats
) -> tuple[View, dict[str, Any]]:
    """A view that holds all corners (n, 2) mm, with some table around them; and its facts."""
    long, short = np.sqrt(megapixels * 1e6 * 4 / 3), np.sqrt(megapixels * 1e6 * 3 / 4)
    rotation, tilt, turn = _turned(rng)
    k1, focal, room = (
        rng.uniform(-0.03, 0.03),
        rng.uniform(0.7, 1.5) * long,
        rng.uniform(0.86, 0.96),
    )
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    spread = np.ptp(rotation[:2, :2] @ (corners - middle).T, axis=1)
    sides = (short, long) if spread[1] > spread[0] else (long, short)
    width, height = round(sides[0]), round(sides[1])
    lens = np.array([[focal, 0, 0.5 * (width - 1)], [0, focal, 0.5 * (height - 1)], [0, 0, 1]])
    curl = _curl(rng, tilt)

    def at(distance: float, aim: Floats) -> View:
        move = np.array([0, 0, distance]) - rotation[:, :2] @ aim
        plane = lens @ np.column_stack([rotation[:, :2], move])
        return View(plane, float(k1), width, height, curl, middle)

    found = _backed_off(at, corners, middle, room)
    facts = {
        "tilt": tilt, "turn": turn, "k1": float(k1), "focal": float(focal / long),
        "size": (width, height),
    }  # fmt: skip
    return found, facts


def _backed_off(at: Any, corners: Floats, aim: Floats, room: float) -> View:
    """The nearest view in which the corners fill `room` of the picture, in its middle."""
    near, far = 120.0, 6000.0
    for _ in range(36):
        distance = float(np.sqrt(near * far))
        view = at(distance, aim)
        for _ in range(3):
            seen = view.to_photo(corners)
            shown = 0.5 * (seen.min(axis=0) + seen.max(axis=0))
            there = view.to_card(np.stack([shown, view.centre]))
            aim = aim + there[0] - there[1]
            view = at(distance, aim)
        size = np.ptp(view.to_photo(corners), axis=0)
        fits = bool(np.all(size < room * np.array([view.width, view.height])))
        near, far = (near, distance) if fits else (distance, far)
    return at(far, aim)  # type: ignore[no-any-return]


def where_pixels_lie(view: View) -> tuple[Pixels, Pixels]:
    """mm on the card of every pixel, x and y (rows, cols), filled in from every 8th.

    Straight filling is off by less than 0.002 mm at 12 megapixels.
    """
    step = 8
    x = (np.arange(-1, -(-view.width // step) + 1) + 0.5) * step - 0.5
    y = (np.arange(-1, -(-view.height // step) + 1) + 0.5) * step - 0.5
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    mm = view.to_card(grid.reshape(-1, 2)).reshape(grid.shape).astype(np.float32)
    size = (step * grid.shape[1], step * grid.shape[0])
    full = cv2.resize(mm, size, interpolation=cv2.INTER_LINEAR)
    cut = full[step : step + view.height, step : step + view.width]
    return np.ascontiguousarray(cut[..., 0]), np.ascontiguousarray(cut[..., 1])
