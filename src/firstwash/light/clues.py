"""What a picture shows about each of its steps: is it the light that changes, or the paint?

Clues known from the literature, at several scales: how steep the step is and how steep from
farther off (a shadow's rim is soft, paint's is sharp; [Horn1974]); how much the chromaticity
changes ([Funt1992]), and how much of that lies off the way on which this picture's light changes
its colour between lit and shadow ([Finlayson2009]); whether steps all around cancel, as in a
pattern, or add up, as in form ([Xu2012]); and how light and how colourful the place is.

Pictures come at working size, see `firstwash.light.split`. Logarithms are natural.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray

__all__ = ["Logs", "clues", "logs_of", "way_of_light"]

Plane = NDArray[np.float32]

DARKEST: Final = 0.004  # of the picture's white, added to all light: below it is noise
FLOOR: Final = np.float32(0.003)  # added to steps before their logarithm is taken: the same
SCALES: Final = (1.0, 2.0, 4.0)  # px, standard deviations of the blurs
PATTERN_SCALES: Final = (2.0, 4.0, 8.0, 16.0)
NEAR, FAR = 9, 31  # px, sides of the windows of the lightest and darkest
# The way of the light: search range, cells and breadth of the belief that light is nearly white.
REACH, CELLS, BELIEF = 0.61, 61, 0.2


@dataclass(frozen=True, eq=False)
class Logs:
    """Logarithms of a picture: lightness (the mean of three), red and blue against green.

    level, red, blue: (rows, cols).
    """

    level: Plane
    red: Plane
    blue: Plane


def logs_of(rgb: FloatArray) -> Logs:
    """Logarithms of linear light (rows, cols, 3); 1 is the picture's white."""
    three = np.log(np.maximum(rgb, 0.0) + DARKEST).astype(np.float32)
    green = three[..., 1]
    return Logs(three.mean(axis=-1), three[..., 0] - green, three[..., 2] - green)


def _blur(plane: Plane, sigma: float) -> Plane:
    return np.asarray(
        cv2.GaussianBlur(plane, (0, 0), sigma, borderType=cv2.BORDER_REFLECT), dtype=np.float32
    )


def _slope(plane: Plane) -> tuple[Plane, Plane]:
    """Slopes to the right and downwards, per pixel."""
    across = cv2.Sobel(plane, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(plane, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


def _length(*parts: Plane) -> Plane:
    return np.asarray(np.sqrt(sum(part * part for part in parts)), dtype=np.float32)


def _log(steps: Plane) -> Plane:
    return np.asarray(np.log(steps + FLOOR), dtype=np.float32)


def way_of_light(logs: Logs) -> tuple[float, float]:
    """Change of red and of blue against green per step of level as the light changes.

    (0, 0) for light of one colour. Steps of the paint go all ways, those of the light one way:
    it is the way that most of the picture's slopes go, not far from none. A mode in place of
    the least entropy of [Finlayson2009].
    """
    planes = [_slope(_blur(plane, 2.0)) for plane in (logs.level, logs.red, logs.blue)]
    (x, y), *colours = planes
    steep = _length(x, y)
    good = (steep > 0.008) & (logs.level > -3.5) & (logs.level < -0.03)
    if not good.any():
        return 0.0, 0.0
    along = [
        np.asarray((cx * x + cy * y)[good] / (steep * steep)[good], dtype=np.float64)
        for cx, cy in colours
    ]
    weight = np.asarray(np.minimum(steep, 0.06)[good], dtype=np.float64)
    reach = np.array([[-REACH, REACH]] * 2)
    counts, edges, _ = np.histogram2d(along[0], along[1], bins=CELLS, range=reach, weights=weight)
    middle = 0.5 * (edges[1:] + edges[:-1])
    belief = np.exp(-0.5 * (middle[:, None] ** 2 + middle[None, :] ** 2) / BELIEF**2)
    found = np.argmax(_blur(counts.astype(np.float32), 1.5) * belief)
    red, blue = np.unravel_index(int(found), counts.shape)
    return float(middle[red]), float(middle[blue])


def clues(logs: Logs) -> NDArray[np.float32]:
    """Clues (rows, cols, 25) at every pixel, in the order of the table of weights."""
    planes = [*_steepness(logs), *_patterns(logs), *_surroundings(logs)]
    return np.stack(planes, axis=-1)


def _steepness(logs: Logs) -> list[Plane]:
    """Per scale: steepness of level, of colour, and of colour off the way of the light."""
    way_red, way_blue = way_of_light(logs)
    out = []
    for sigma in SCALES:
        x, y = _slope(_blur(logs.level, sigma))
        red, blue = _slope(_blur(logs.red, sigma)), _slope(_blur(logs.blue, sigma))
        off = [c - way_red * s for c, s in zip(red, (x, y), strict=True)]
        off += [c - way_blue * s for c, s in zip(blue, (x, y), strict=True)]
        out += [_log(_length(x, y)), _log(_length(*red, *blue)), _log(_length(*off))]
    return out


def _patterns(logs: Logs) -> list[Plane]:
    """Per scale: the share of all steps about that do not cancel, and their mean steepness."""
    x, y = _slope(logs.level)
    steep, out = _length(x, y), []
    for sigma in PATTERN_SCALES:
        mean = _blur(steep, sigma)
        out += [_length(_blur(x, sigma), _blur(y, sigma)) / (mean + FLOOR), _log(mean)]
    colour = _length(*_slope(logs.red), *_slope(logs.blue))
    return [*out, _log(_blur(colour, 4.0)), _log(_blur(colour, 12.0))]


def _surroundings(logs: Logs) -> list[Plane]:
    """How light the place is, the lightest and darkest near and farther off, how colourful."""
    level = _blur(logs.level, 1.0)
    out = [_blur(logs.level, 1.5)]
    for side in (NEAR, FAR):
        window = np.ones((side, side), dtype=np.uint8)
        out += [np.asarray(find(level, window), np.float32) for find in (cv2.dilate, cv2.erode)]
    return [*out, _length(_blur(logs.red, 1.5), _blur(logs.blue, 1.5))]
