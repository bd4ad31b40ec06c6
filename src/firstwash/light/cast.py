"""The colour of a picture's light as a whole, guessed from all its colours together.

The paints of a picture are believed to be grey on the whole [Buchsbaum1980] and the lightest of
them white [Land1971]: the mean and nearly the maximum of a picture, the ends of one family of
means [Finlayson2004Grey], each tell a light, and the geometric mean of the two is less often far
off than either. Lights glow, so the guess is brought near the line of glowing bodies
([Krystek1985]); and cameras and people have mostly taken the light's colour out of a photo
already, so the guess is taken back a little towards white.
"""

from functools import cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.light.lamp_words import glow_rgb

__all__ = ["colour_of_light"]

NEARLY_MAXIMUM: Final = 12.0  # the order of the mean
WARMEST, COOLEST = 2200.0, 15000.0  # K, as for a touched grey (`firstwash.picture.white_balance`)
# Settled on the practice rooms (`tools/practice_rooms.py`): what is kept of a guess's distance
# from the line of glowing bodies, and of the whole.
OFF_THE_LINE: Final = 0.3
KEPT: Final = 0.7


@cache
def _glowing() -> NDArray[np.float64]:
    """Logarithms (n, 2) of red and blue against green along the line of glowing bodies."""
    return _against_green(glow_rgb(np.geomspace(WARMEST, COOLEST, 200)))


def _against_green(rgb: FloatArray) -> NDArray[np.float64]:
    logs = np.log(np.maximum(rgb, 1e-6))
    return np.asarray(logs[..., (0, 2)] - logs[..., 1:2])


def colour_of_light(rgb: FloatArray) -> NDArray[np.float64]:
    """Linear sRGB (3,) of the light, mean of the channels 1; rgb: (rows, cols, 3), not negative."""
    soft = cv2.GaussianBlur(np.asarray(rgb, dtype=np.float32), (0, 0), 1.0).reshape(-1, 3)
    top = max(float(soft.max()), 1e-9)
    share = (soft / np.float32(top)).astype(np.float64)
    white = (share**NEARLY_MAXIMUM).mean(axis=0) ** (1.0 / NEARLY_MAXIMUM)
    guess = 0.5 * (_against_green(white) + _against_green(share.mean(axis=0)))
    line = _glowing()
    near = line[((line - guess) ** 2).sum(axis=1).argmin()]
    red, blue = KEPT * (near + OFF_THE_LINE * np.clip(guess - near, -1.0, 1.0))
    light = np.exp([red, 0.0, blue])
    return np.asarray(light / light.mean())
