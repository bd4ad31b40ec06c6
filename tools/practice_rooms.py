"""Rooms with balls and blocks in chance colours, patterns and light, to practise on.

The judgement of steps (`firstwash.light.steps`) is fitted on these pictures, see
`tools/fit_light.py`, and on nothing else: they come from another renderer than the still lifes
it is judged by, and share neither things nor colours nor lamps with them.

    picture = practice_room(7)          # drawn, or read from .cache/practice_rooms

Run: python tools/practice_rooms.py FIRST LAST
"""

import colorsys
import sys
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from practice_rays import BALL, BLOCK, COLUMNS, FLOOR, WALL, trace

__all__ = ["Room", "practice_room"]

STORE: Final = Path(__file__).parents[1] / ".cache" / "practice_rooms"
ROWS, COLS, PATHS = 210, 300, 96
EYE: Final = np.array([0.0, 2.3, 4.6])
# Rooms from the one number on have no crumpled things; those from the other on are easy as well:
# one lamp that is not small, a good deal of light from the sky, nothing in the way.
SMOOTH_FROM, EASY_FROM = 48, 96
EASY_LAMP, EASY_SKY = 0.15, 0.2  # radius; green against the lamp's
NOISE: Final = (1e-6, 2e-5)  # a camera's: variance of darkness, and per unit of light

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Room:
    """A picture and its truth, (rows, cols, 3) each: rgb = reflectance · light + gloss, and noise.

    valid: (rows, cols), where something is seen. Linear light, white about 1.
    """

    rgb: NDArray[np.float32]
    reflectance: NDArray[np.float32]
    light: NDArray[np.float32]
    gloss: NDArray[np.float32]
    valid: NDArray[np.bool_]


def practice_room(seed: int) -> Room:
    """The room of that number."""
    path = STORE / f"{seed}.npz"
    if path.exists():
        with np.load(path) as found:
            return Room(**{f.name: found[f.name] for f in fields(Room)})
    room = _drawn(np.random.default_rng(seed), seed < SMOOTH_FROM, seed >= EASY_FROM)
    STORE.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(path, **{f.name: getattr(room, f.name) for f in fields(Room)})
    return room


def _drawn(rng: np.random.Generator, crumpled: bool, easy: bool) -> Room:
    lamps, sky = _lamps(rng)
    things, between = _things(rng), _in_the_way(rng, lamps[0, :3])
    if easy:
        lamps[0, 3] = max(lamps[0, 3], EASY_LAMP)
        lamps[1, 4:] = 0.0
        sky *= max(1.0, EASY_SKY / sky[1])
    else:
        things = np.vstack([things, *between])
    if not crumpled:
        things[:, COLUMNS["bumps"]] = 0.0
    focal = COLS * (1.05 if easy else rng.uniform(0.9, 1.6))
    paint, light, gloss, seen = trace(ROWS, COLS, PATHS, things, lamps, sky, EYE, focal)
    exposure = 1.0 / np.percentile((paint * light + gloss).max(axis=-1), 99.5)
    light, gloss = light * exposure, gloss * exposure
    rgb = paint * light + gloss
    rgb += rng.normal(size=rgb.shape) * np.sqrt(NOISE[0] + NOISE[1] * rgb)
    parts = (np.clip(rgb, 0.0, 1.0), paint, light, gloss)
    shown, reflectance, lit, shine = (np.asarray(part, dtype=np.float32) for part in parts)
    return Room(shown, reflectance, lit, shine, np.asarray(seen >= 0))


def _colour(rng: np.random.Generator) -> Floats:
    """Reflectance (3,) of a paint: three in ten nearly grey."""
    if rng.random() < 0.3:
        return np.clip(rng.uniform(0.04, 0.85) * (1.0 + rng.normal(0.0, 0.04, 3)), 0.03, 0.9)
    hsv = rng.random(), rng.uniform(0.15, 0.9), rng.uniform(0.2, 0.85)
    return np.clip(np.array(colorsys.hsv_to_rgb(*hsv)) ** 1.6, 0.02, 0.9)


def _thing(
    rng: np.random.Generator, kind: int, place: list[float], patterns: list[int],
    often: tuple[float, float], shines: bool = True,
) -> list[float]:  # fmt: skip
    """One row of the table, see `practice_rays.COLUMNS`."""
    one = _colour(rng)
    two = _colour(rng) if rng.random() < 0.6 else np.clip(one * rng.uniform(0.3, 0.7), 0.02, 0.9)
    shine = rng.choice([0.0, 0.0, 0.3, 1.0]) if shines else 0.0
    bumps = rng.uniform(0.15, 0.8) if rng.random() < 0.3 else 0.0
    return [
        kind, *place, *([0.0] * (6 - len(place))), *one, *two, rng.choice(patterns),
        rng.uniform(*often), shine, rng.choice([20, 60, 200]), bumps, rng.uniform(1.5, 8.0),
    ]  # fmt: skip


def _things(rng: np.random.Generator) -> Floats:
    rows = [
        _thing(rng, FLOOR, [0.0], [0, 0, 1, 2, 3, 5], (0.6, 3.0), shines=False),
        _thing(rng, WALL, [-2.5], [0, 0, 0, 2, 3, 4], (0.8, 3.0), shines=False),
    ]
    for _ in range(rng.integers(4, 8)):
        x, z = rng.uniform(-2.0, 2.0), rng.uniform(-1.8, 1.2)
        patterns = [0, 0, 0, 0, 1, 2, 3, 4, 5]
        if rng.random() < 0.6:
            r = rng.uniform(0.3, 0.7)
            rows.append(_thing(rng, BALL, [x, r, z, r], patterns, (2.0, 7.0)))
        else:
            w, h, d = rng.uniform(0.2, 0.6), rng.uniform(0.2, 1.4), rng.uniform(0.2, 0.5)
            corners = [x - w, 0.0, z - d, x + w, h, z + d]
            rows.append(_thing(rng, BLOCK, corners, patterns, (2.0, 7.0)))
    return np.array(rows)


def _lamps(rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Key and perhaps a second lamp (2, 7), and the sky (3,): warm or cool, hard or soft."""
    side = rng.choice([-1.0, 1.0])
    lamps = np.zeros((2, 7))
    size = rng.choice([0.05, 0.15, 0.5, 1.2])
    lamps[0, :4] = side * rng.uniform(2, 6), rng.uniform(2.5, 7), rng.uniform(0, 5), size
    lamps[0, 4:] = _warm(rng.uniform(-0.15, 0.45))
    lamps[1, :4] = -side * rng.uniform(2, 6), rng.uniform(2.5, 5), rng.uniform(0, 5), size
    if rng.random() < 0.3:
        lamps[1, 4:] = _warm(rng.uniform(-0.2, 0.5)) * rng.uniform(0.1, 0.5)
    cool = rng.uniform(-0.1, 0.4)
    strength = rng.uniform(0.04, 0.15) if rng.random() < 0.5 else rng.uniform(0.15, 0.5)
    return lamps, np.array([1.0 - 0.5 * cool, 1.0, 1.0 + 0.8 * cool]) * strength


def _warm(by: float) -> Floats:
    return np.array([1.0 + by, 1.0, 1.0 - 0.8 * by])


def _in_the_way(rng: np.random.Generator, lamp: Floats) -> list[list[float]]:
    """Bars, leaves or somebody out of sight between the lamp and the table, in half the rooms."""
    out: list[list[float]] = []
    for _ in range(rng.integers(1, 4) if rng.random() < 0.5 else 0):
        t, wide = rng.uniform(0.35, 0.6), rng.uniform(0.04, 0.4)
        x, y, z = lamp * t + (1 - t) * np.array([rng.uniform(-1.5, 1.5), 0.5, rng.uniform(-1.5, 1)])
        if y < 2.0:
            continue
        left, right = rng.uniform(0.05, 1.5, 2)
        block = [x - left, y - 0.03, z - wide, x + right, y + 0.03, z + wide]
        kind, place = (BALL, [x, y, z, wide, 0, 0]) if rng.random() < 0.4 else (BLOCK, block)
        out.append([kind, *place, *[0.4] * 6, 0, 1, 0, 20, 0, 1])
    return out


if __name__ == "__main__":
    for number in range(int(sys.argv[1]), int(sys.argv[2])):
        practice_room(number)
        print(number, flush=True)
