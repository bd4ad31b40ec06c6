"""The light on a sheet, judged from the bare paper of its margin."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["MarginLight", "Samples", "margin_samples", "strip_samples"]

# Own judgement, tried on made-up photos (tools/board_trials.py).
BOXES: Final = 48  # of bare paper along each side
BURNT: Final = 0.985  # linear light in some channel from which a camera may have clipped
FEWEST: Final = 10  # good boxes on each side
ODD: Final = 0.04  # share by which bare paper may stray from a smooth light: paint, glare, shadow
STIFF: Final = 0.02  # ridge on cubic terms: a margin says little of how light bends in the middle
INSET_MM: Final = 1.2  # from the sheet's edge and the picture's border: shadows, paint, tape
TERMS: Final = tuple((i, j) for i in range(4) for j in range(4) if i + j <= 3)
COARSE: Final = 24  # boxes along the longer side that the light is worked out for


@dataclass(frozen=True, eq=False)
class Samples:
    """Bare paper: place (n, 2), -1 to 1 across and down the sheet; side (n,) 0 to 3 from the
    upper one clockwise; colour (n, 3) linear light; burnt (n,) whether the camera clipped it.
    """

    place: NDArray[np.float64]
    side: NDArray[np.int64]
    colour: NDArray[np.float64]
    burnt: NDArray[np.bool_]

    @property
    def burnt_share(self) -> float:
        """Share (0-1) of the samples in which a channel is at its end."""
        return float(self.burnt.mean()) if len(self.burnt) else 0.0


def strip_samples(flat: NDArray[np.float32], strip: tuple[float, float], ppmm: float) -> Samples:
    """Boxes along the sheet's edges, so deep (shares of the shorter side); see `margin_samples`."""
    rows, cols = flat.shape[:2]
    near, far = (share * min(rows, cols) / ppmm for share in strip)
    wide, high = cols / ppmm, rows / ppmm
    inner = np.array([[far, far], [wide - far, far], [wide - far, high - far], [far, high - far]])
    return margin_samples(flat, inner, ppmm, (near, 0.0))


def margin_samples(
    flat: NDArray[np.float32], picture: FloatArray, ppmm: float,
    inset_mm: tuple[float, float] = (INSET_MM, INSET_MM),
) -> Samples:  # fmt: skip
    """Boxes of bare paper between the sheet's edges and the picture's.

    flat: (rows, cols, 3) linear light of the whole sheet. picture: its corners (4, 2) mm, upper
    left first, then clockwise. inset_mm: from the sheet's edge and from the picture.
    """
    rows, cols = flat.shape[:2]
    corners = np.asarray(picture, dtype=np.float64)
    outer = np.array([[0, 0], [cols, 0], [cols, rows], [0, rows]]) / ppmm
    places, sides, colours, burnt = [], [], [], []
    for side in range(4):
        for k in range(BOXES):
            box = _box(outer, corners, side, k, inset_mm)
            if box is None:
                continue
            left, top, right, bottom = (round(v * ppmm) for v in box)
            pixels = flat[max(top, 0) : bottom, max(left, 0) : right].reshape(-1, 3)
            if len(pixels) < 6 or not np.isfinite(pixels).all():
                continue
            middle = (0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3]))
            places.append((2 * middle[0] * ppmm / cols - 1, 2 * middle[1] * ppmm / rows - 1))
            sides.append(side)
            colours.append(np.median(pixels, axis=0))
            burnt.append(bool((pixels.max(axis=1) >= BURNT).mean() > 0.2))
    return Samples(
        np.array(places, dtype=np.float64).reshape(-1, 2), np.array(sides, dtype=np.int64),
        np.array(colours, dtype=np.float64).reshape(-1, 3), np.array(burnt, dtype=np.bool_),
    )  # fmt: skip


def _box(
    outer: NDArray[np.float64], inner: NDArray[np.float64], side: int, k: int,
    inset_mm: tuple[float, float],
) -> tuple[float, float, float, float] | None:  # fmt: skip
    """Left, top, right, bottom in mm of box k of a side; None where the margin is too narrow."""
    across = side % 2 == 0
    ends = (outer[side], outer[(side + 1) % 4])
    start, end = sorted(ends, key=lambda p: float(p[0 if across else 1]))
    axis = 0 if across else 1
    length = end[axis] - start[axis]
    low, high = start[axis] + length * k / BOXES, start[axis] + length * (k + 1) / BOXES
    own = inner[[side, (side + 1) % 4], 1 - axis]
    edge = outer[side][1 - axis]
    depth = (own.min() - edge) if side in (0, 3) else (edge - own.max())
    near, far = inset_mm[0], depth - inset_mm[1]
    if far - near < 0.5:
        return None
    a, b = (edge + near, edge + far) if side in (0, 3) else (edge - far, edge - near)
    return (low, a, high, b) if across else (a, low, b, high)


@dataclass(frozen=True, eq=False)
class MarginLight:
    """How bright bare paper is anywhere on the sheet: a smooth polynomial through its margin.

    coefficients: (terms, 3) of the logarithm. odd: (n,) samples that stray from it. uneven:
    greatest over least light on the sheet. ragged: rms share by which the others stray.
    """

    coefficients: NDArray[np.float64]
    odd: NDArray[np.bool_]
    uneven: float
    ragged: float

    @classmethod
    def of(cls, samples: Samples) -> "MarginLight | None":
        """The light from samples of bare paper; None where too few on some side are good."""
        good = ~samples.burnt & (samples.colour.min(axis=1, initial=1.0) > 1e-4)
        if any((good & (samples.side == side)).sum() < FEWEST for side in range(4)):
            return None
        place, log = samples.place[good], np.log(samples.colour[good])
        design = _design(place)
        ridge = np.diag([STIFF * len(log) if i + j == 3 else 1e-6 for i, j in TERMS])
        weight = np.ones(len(log))
        found = np.zeros((len(TERMS), 3))
        for _ in range(15):  # the common light decides, not the few odd ones
            heavy = design * weight[:, None]
            found = np.linalg.solve(heavy.T @ design + ridge, heavy.T @ log)
            off = np.abs(log - design @ found).max(axis=1)
            spread = max(1.5 * float(np.median(off)), 0.3 * ODD)
            weight = np.clip(1.0 - (off / (3.0 * spread)) ** 2, 0.0, 1.0) ** 2
        odd = np.ones(len(samples.side), dtype=np.bool_)
        odd[good] = off > ODD
        if any((~odd & (samples.side == side)).sum() < FEWEST for side in range(4)):
            return None
        ragged = float(np.sqrt(np.mean(off[off <= ODD] ** 2)))
        light = cls(found, odd, 1.0, ragged)
        field = light.field(COARSE, COARSE).mean(axis=2)
        return cls(found, odd, float(field.max() / field.min()), ragged)

    def field(self, rows: int, cols: int) -> NDArray[np.float32]:
        """(rows, cols, 3) linear light of bare paper over the whole sheet."""
        y, x = np.meshgrid(
            2 * (np.arange(rows) + 0.5) / rows - 1, 2 * (np.arange(cols) + 0.5) / cols - 1,
            indexing="ij",
        )  # fmt: skip
        log = _design(np.stack([x, y], axis=-1).reshape(-1, 2)) @ self.coefficients
        return np.asarray(np.exp(log).reshape(rows, cols, 3), dtype=np.float32)

    def relative(self, flat: NDArray[np.float32]) -> NDArray[np.float32]:
        """Light (rows, cols, 3) of the whole sheet as a share of what bare paper would give."""
        rows, cols = flat.shape[:2]
        field = self.field(max(4 * COARSE, 8), max(4 * COARSE, 8))
        whole = cv2.resize(field, (cols, rows), interpolation=cv2.INTER_LINEAR)
        return np.asarray(flat / whole)

    def departure(self, flat: NDArray[np.float32], ppmm: float) -> NDArray[np.float32]:
        """(rows, cols) how far the light strays from bare paper's: the largest |logarithm| of
        the three channels, over about half a millimetre.
        """
        soft = cv2.GaussianBlur(self.relative(flat), (0, 0), max(0.2 * ppmm, 0.4))
        return np.asarray(np.abs(np.log(np.maximum(soft, 1e-4))).max(axis=2))


def _design(place: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y = place[:, 0], place[:, 1]
    return np.stack([x**i * y**j for i, j in TERMS], axis=1)
