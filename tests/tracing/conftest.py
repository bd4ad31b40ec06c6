"""One small drawn picture with known contours, and its plan."""

import io
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo

WIDE, HIGH = 150.0, 110.0  # mm
PX = 8  # pixels to a mm, before it is made smaller


@dataclass(frozen=True, eq=False)
class Drawn:
    """A plan of a picture, and points (n, 2) mm on the contours drawn in it."""

    made: PhotoPlan
    plate: NDArray[np.float64]
    box: NDArray[np.float64]
    shadow: NDArray[np.float64]
    fold: NDArray[np.float64]


def ellipse(x: float, y: float, a: float, b: float) -> NDArray[np.float64]:
    t = np.linspace(0.0, 2.0 * np.pi, 400)
    return np.column_stack([x + a * np.cos(t), y + b * np.sin(t)])


def polygon(*corners: tuple[float, float]) -> NDArray[np.float64]:
    """Points half a mm apart or less along a closed polygon."""
    ends = np.array([*corners, corners[0]])
    sides = [np.linspace(a, b, 200) for a, b in pairwise(ends)]
    return np.concatenate(sides)


PLATE = ellipse(52.0, 60.0, 36.0, 28.0)
BOX = polygon((95.0, 25.0), (128.0, 30.0), (124.0, 78.0), (98.0, 74.0))
SHADOW = polygon((124.0, 78.0), (98.0, 74.0), (86.0, 92.0), (118.0, 98.0))
FOLD = np.column_stack(
    [np.linspace(34.0, 70.0, 100), 60.0 + 6.0 * np.sin(np.linspace(0, 3.0, 100))]
)


def picture() -> Image.Image:
    """A red plate with a dark line across it and a pale box with its shadow, on a light cloth."""
    out = Image.new("RGB", (round(WIDE * PX), round(HIGH * PX)), (214, 205, 190))
    draw = ImageDraw.Draw(out)

    def at(points: NDArray[np.float64]) -> list[tuple[float, float]]:
        return [(float(x) * PX, float(y) * PX) for x, y in points]

    draw.polygon(at(SHADOW), fill=(120, 116, 118))
    draw.polygon(at(BOX), fill=(96, 128, 178))
    draw.polygon(at(PLATE), fill=(168, 52, 44))
    draw.line(at(FOLD), fill=(70, 22, 20), width=PX)
    return out.filter(ImageFilter.GaussianBlur(0.3 * PX)).resize((600, 440))


@pytest.fixture(scope="session")
def drawn() -> Drawn:
    out = io.BytesIO()
    picture().save(out, "png")
    limits = Limits(shapes=30, puddles=8, washes=20)
    made = plan_photo(out.getvalue(), Wishes(sheet=f"{WIDE:g}x{HIGH:g}mm", limits=limits))
    return Drawn(made, PLATE, BOX, SHADOW, FOLD)
