"""A small picture with known light: balls of given colours on a floor, one lamp and one sky."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

COLOURS = ((0.6, 0.1, 0.08), (0.1, 0.35, 0.12), (0.12, 0.2, 0.55), (0.7, 0.55, 0.1))
FLOOR = (0.45, 0.4, 0.42)


@dataclass(frozen=True, eq=False)
class SmallScene:
    """rgb = reflectance·light + gloss, (rows, cols, 3); kind: 0 lit, 1 form, 2 cast shadow;
    thing: (rows, cols), 0 the floor, then the balls.
    """

    rgb: NDArray[np.float64]
    reflectance: NDArray[np.float64]
    light: NDArray[np.float64]
    gloss: NDArray[np.float64]
    kind: NDArray[np.int64]
    thing: NDArray[np.int64]


def small_scene(key: tuple[float, ...], sky: tuple[float, ...], shine: float = 0.9) -> SmallScene:
    """Four balls seen from above, the lamp low on the left: 180 rows, 240 columns.

    key, sky: (3,) linear sRGB of the lamp and of the light from everywhere.
    """
    rows, cols = 180, 240
    y, x = np.mgrid[0:rows, 0:cols].astype(float)
    way = np.array([-0.75, -0.35, 0.56])  # to the lamp: left, up the picture, towards the eye
    way /= np.linalg.norm(way)
    paint = np.broadcast_to(FLOOR, (rows, cols, 3)).copy()
    facing = np.full((rows, cols), way[2])
    blocked = np.zeros((rows, cols))
    normal = np.broadcast_to([0.0, 0.0, 1.0], (rows, cols, 3)).copy()
    thing = np.zeros((rows, cols), dtype=int)
    for i, colour in enumerate(COLOURS):
        cx, cy, r = 50 + 120 * (i % 2), 45 + 85 * (i // 2), 26.0
        away = np.hypot(x - cx - 30, y - cy - 14)  # its shadow on the floor, soft at the rim
        blocked = np.maximum(blocked, np.clip((r - away) / 6.0 + 0.5, 0, 1))
        z = np.sqrt(np.maximum(r * r - (x - cx) ** 2 - (y - cy) ** 2, 0.0))
        ball = z > 0
        normal[ball] = (np.stack([x - cx, y - cy, z], -1) / r)[ball]
        thing[ball], paint[ball] = i + 1, colour
    facing = normal @ way
    on_ball = thing > 0
    blocked = np.where(on_ball, 0.0, blocked)
    lit = np.maximum(facing, 0.0) * (1.0 - blocked)
    light = lit[..., None] * np.array(key) + np.array(sky)
    half = way + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half)
    spot = np.maximum(normal @ half, 0.0) ** 60 * on_ball * shine
    gloss = spot[..., None] * np.array(key)
    rgb = paint * light + gloss
    scale = 1.0 / np.quantile(rgb.max(-1), 0.995)
    kind = np.where(facing <= 0, 1, np.where(blocked > 0.5, 2, 0))
    return SmallScene(rgb * scale, paint, light * scale, gloss * scale, kind, thing)
