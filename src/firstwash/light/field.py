"""The light of a picture, put together from its share of each step.

Steps of which it is plain whose they are count for more. Then local colours are drawn towards the
picture's few paints (`firstwash.light.palette`), the more softly the farther off they are, and
the light is put together anew, a few times over.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.light.clues import Logs
from firstwash.light.palette import nearest_paints
from firstwash.light.relax import Springs, put_together

__all__ = ["light_logs"]

Picture = NDArray[np.float32]

# A step of size g counts SURE_STEP / (SURE_STEP + (p (1 − p) + UNSURE)·g²), p the light's share.
SURE_STEP: Final = np.float32(0.0006)
UNSURE: Final = np.float32(0.02)
# Against a sure step: how much a pixel's paint counts, and how far off (natural logarithm) half
# as much; how often; settled, like the two above, on the practice rooms and the tuning scenes.
PAINT: Final = 0.02
FAR_OFF: Final = 0.15
ROUNDS: Final = 3
FIRST_MOST, NEXT_MOST = 20, 8  # rounds of the solver
LIGHT_RANGE: Final = 8.0  # natural logarithm: light is not told farther from its mean


def light_logs(logs: Logs, shares: tuple[Picture, Picture]) -> Picture:
    """Logarithm (rows, cols, 3) of the light's red, green and blue; its mean is 0.

    shares: the light's of each step in level and colour, see `firstwash.light.steps`.
    """
    seen = np.stack([logs.level, logs.red, logs.blue], axis=-1).astype(np.float64)
    (across, across_counts), (down, down_counts) = (
        _steps(seen, share, axis) for axis, share in ((1, shares[0]), (0, shares[1]))
    )
    held = Springs(across_counts, down_counts, np.zeros(logs.level.shape, dtype=np.float32))
    light = put_together(across, down, held, most=FIRST_MOST)
    for _ in range(ROUNDS):
        paint = nearest_paints(seen - light, logs.level)
        off = ((seen - light - paint) ** 2).sum(axis=-1)
        pull = np.asarray(PAINT / (1.0 + off / FAR_OFF**2), dtype=np.float32)
        held = Springs(across_counts, down_counts, pull)
        light = put_together(across, down, held, seen - paint, light, most=NEXT_MOST)
    level, red, blue = np.moveaxis(light, -1, 0)
    green = level - (red + blue) / 3.0
    three = np.stack([green + red, green, green + blue], axis=-1)
    three -= three.mean(axis=(0, 1))
    return np.asarray(np.clip(three, -LIGHT_RANGE, LIGHT_RANGE), dtype=np.float32)


def _steps(
    seen: NDArray[np.float64], share: Picture, axis: int
) -> tuple[NDArray[np.float64], Picture]:
    """The light's steps along an axis, and how much each counts."""
    step = np.diff(seen, axis=axis)
    level = share[..., 0]
    doubt = (level * (1 - level) + UNSURE) * step[..., 0] ** 2
    counts = np.asarray(SURE_STEP / (SURE_STEP + doubt), dtype=np.float32)
    step *= share[..., (0, 1, 1)]
    return step, counts
