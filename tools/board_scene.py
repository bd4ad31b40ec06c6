"""Made-up phone photos of a painted sheet on a table: margin, light, lens, phone.

    painted = Painted(index, spectra, paper, ppmm=3.0, margin_mm=15.0)
    photo = photograph_sheet(painted, rng)

The same table, light, lens and phone as for swatch cards (`tools/card_scene.py`), none of which
the program that reads the photo knows. Millimetres run from the sheet's upper left corner.
"""

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from card_camera import (
    Camera,
    Pixels,
    develop,
    jpeg,
    lab_d65,
    local_gain,
    random_camera,
    random_light,
    smooth_field,
)
from card_flat import Flat, draw_table, raw_of
from card_optics import Floats
from card_scene import Photo, falling_light, put, spread
from card_view import random_view, where_pixels_lie

__all__ = ["Painted", "photograph_sheet"]

BARE: Final = 0.85  # encoded value at which bare paper lands, or somewhat more


@dataclass(frozen=True, eq=False)
class Painted:
    """A painted sheet. index: (rows, cols) number of the colour of every pixel of the picture.
    spectra: (n, 36) reflectance of the colours; paper: (36,). ppmm: pixels per mm of index.
    margin_mm: bare paper all round; grain: relative spread of the paper's tooth.
    """

    index: NDArray[np.int64]
    spectra: Floats
    paper: Floats
    ppmm: float
    margin_mm: float
    grain: float = 0.015

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the sheet with its margin."""
        rows, cols = self.index.shape
        both = 2 * self.margin_mm
        return cols / self.ppmm + both, rows / self.ppmm + both

    @property
    def corners(self) -> Floats:
        """(4, 2) mm, upper left first, then clockwise."""
        wide, high = self.size_mm
        return np.array([[0, 0], [wide, 0], [wide, high], [0, high]], float)

    def labs(self) -> Floats:
        """(n, 3) CIELAB of the colours in D65."""
        return lab_d65(self.spectra)

    def flat(self, camera: Camera, rng: np.random.Generator) -> Flat:
        """The sheet in the camera's raw colours."""
        colours = raw_of(camera, np.vstack([self.spectra, self.paper]))
        edge = round(self.margin_mm * self.ppmm)
        whole = np.pad(self.index, edge, constant_values=len(self.spectra))
        pixels = colours[whole]
        tooth = 1 + self.grain * smooth_field(rng, whole.shape, max(whole.shape) / 3)
        pixels *= tooth.astype(np.float32)[..., None]
        shift = np.eye(3)  # a whole number of pixels is left out of the margin's rounding
        shift[:2, 2] = edge / self.ppmm - self.margin_mm
        return Flat(np.asarray(pixels, np.float32), self.ppmm, shift)


def photograph_sheet(
    painted: Painted, rng: np.random.Generator, megapixels: float = 12.0, table: str | None = None
) -> Photo:
    """A photo of the sheet by somebody with some phone in some light; table: "none" for a
    white one that the sheet cannot be told from.
    """
    draws = [np.random.default_rng(s) for s in rng.integers(2**63, size=5)]
    light = random_light(draws[0])
    camera = random_camera(draws[1], light)
    view, facts = random_view(draws[2], megapixels, painted.corners)
    where = where_pixels_lie(view)
    board, kind = draw_table(camera, draws[3])
    picture = spread(where, board)
    if table == "none":
        picture[:] = raw_of(camera, painted.paper)
    put(picture, where, view, painted.flat(camera, draws[3]))
    falling, uneven = falling_light(draws[4], camera, view)
    scale = _exposed(painted, camera, falling, draws[4])
    small = cv2.resize(picture, falling.shape[1::-1], interpolation=cv2.INTER_AREA) * falling
    falling *= local_gain(small, camera.local)[..., None]
    cv2.multiply(picture, cv2.resize(falling, picture.shape[1::-1]), dst=picture)
    final = develop(camera, picture, scale, draws[4])
    told: dict[str, Any] = facts | uneven | {"table": kind, "light": light.kind}
    return Photo(jpeg(final, camera.space), told, view.to_photo)


def _exposed(painted: Painted, camera: Camera, falling: Pixels, rng: np.random.Generator) -> float:
    """Scale that brings bare paper to a usual value, less where its lightest place would clip."""
    paper = (raw_of(camera, painted.paper) * camera.balance) @ camera.matrix.T
    code = float(rng.uniform(BARE, 0.96))
    brightest = np.quantile(falling.max(axis=2), 0.98) * paper.max()
    middle = float(np.median(falling)) * paper.mean()
    return float(min(camera.exposure(code) / middle, camera.exposure(0.985) / brightest))
