"""Stuff drawn at random: cloth, glazes, fruit, wood, in likely colours."""

import numpy as np

from still_lifes.scene import METAL, Stuff
from still_lifes.sets import apple_stuff, enamel, glazed, matte, peel, wood

__all__ = ["colour", "random_cloth", "random_fruit", "random_glaze", "random_ground", "varied"]

Colour = tuple[float, float, float]
Rng = np.random.Generator

FRUIT = {
    "lemon": (0.8, 0.57, 0.05),
    "orange": (0.74, 0.29, 0.03),
    "pear": (0.46, 0.47, 0.1),
    "onion": (0.56, 0.29, 0.1),
    "plum": (0.08, 0.03, 0.09),
    "tomato": (0.5, 0.06, 0.03),
    "egg": (0.76, 0.64, 0.52),
    "apple": (0.45, 0.44, 0.08),
}


def _rgb(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Colour:
    r, g, b = (float(np.clip(v, 0.02, 0.88)) for v in values)
    return r, g, b


def colour(rng: Rng, low: float = 0.04, high: float = 0.8, strong: float = 0.5) -> Colour:
    """A reflectance: any hue, value between low and high, up to `strong` of full strength."""
    hue, strength = rng.uniform(0, 2 * np.pi), strong * rng.beta(1.4, 1.4)
    wheel = 0.5 + 0.5 * np.cos(hue - np.array([0.0, 2 * np.pi / 3, 4 * np.pi / 3]))
    value = np.exp(rng.uniform(np.log(low), np.log(high)))
    return _rgb(value * ((1 - strength) + strength * (0.08 + 1.5 * wheel**1.5)))


def varied(rng: Rng, base: Colour, by: float = 0.12) -> Colour:
    """The colour a little lighter or darker and a little off in hue."""
    return _rgb(np.asarray(base) * np.exp(rng.normal(0, by) + rng.normal(0, 0.5 * by, 3)))


def random_cloth(rng: Rng) -> Stuff:
    """Plain, checked, striped, printed or woven cloth."""
    one, two, three = colour(rng, 0.15), colour(rng, 0.04, 0.6, 0.9), colour(rng, 0.03, 0.7, 0.9)
    kind = rng.choice(["plain", "plain", "checks", "stripes", "rosettes", "weave"])
    if kind == "weave":
        pale = varied(rng, one)
        return Stuff((one, varied(rng, tuple_by(one, 0.8)), pale), "weave", 0.45, bump=0.08)
    knobs = {
        "checks": (float(rng.integers(0, 2)), 0.0),
        "stripes": (rng.uniform(0.2, 0.5), rng.choice([0.0, 0.15])),
        "rosettes": (rng.uniform(0, 6), 0.0),
    }.get(str(kind), (0.0, 0.0))
    if kind == "plain":
        one = colour(rng, 0.06, 0.82, 0.9)
    if kind == "checks" and knobs[0] > 0:
        three = tuple_by(two, 0.5)
    return matte(one, two, three, pattern=str(kind), pitch=rng.uniform(3, 9), knobs=knobs)


def tuple_by(c: Colour, by: float) -> Colour:
    """The colour times a number, kept within what things reflect."""
    return _rgb(np.asarray(c) * by)


def random_glaze(rng: Rng, height: float) -> Stuff:
    """A pot's glaze: plain, banded, blotched or flowered; enamel or metal now and then."""
    base = colour(rng, 0.025, 0.82, 0.8)
    kind = rng.choice(["plain", "plain", "bands", "streaks", "rosettes", "enamel", "metal"])
    if kind == "metal":
        tint = [(0.86, 0.62, 0.28), (0.9, 0.52, 0.36), (0.75, 0.74, 0.7)][int(rng.integers(3))]
        return Stuff((tint,), kind=METAL, rough=rng.uniform(0.15, 0.35))
    if kind == "enamel":
        return enamel(base)
    low = height * rng.uniform(0.3, 0.6)
    knobs = (low, low + rng.uniform(0.5, 2.0)) if kind == "bands" else (0.0, 0.0)
    second = varied(rng, base, 0.3) if kind == "streaks" else colour(rng, 0.05, 0.8, 0.9)
    pitch = 1.0 if kind == "bands" else rng.uniform(3, 6)
    rough = rng.uniform(0.1, 0.45)
    return glazed(base, second, pattern=str(kind), pitch=pitch, knobs=knobs, rough=rough)


def random_fruit(rng: Rng, kind: str) -> Stuff:
    """Stuff of a kind in `FRUIT`."""
    base = varied(rng, FRUIT[kind])
    if kind in ("lemon", "orange"):
        return peel(base)
    if kind == "apple":
        red = varied(rng, (0.42, 0.04, 0.035), 0.2)
        return apple_stuff(base, red if rng.random() < 0.8 else base, rng.uniform(-0.3, 0.4))
    if kind == "onion":
        skin = tuple_by(base, 0.7)
        return glazed(base, skin, pattern="stripes", pitch=1.9, knobs=(0.4, 0), rough=0.3)
    if kind == "egg":
        size = rng.uniform(0.05, 0.16)
        return matte(base, tuple_by(base, 0.7), pattern="speckle", pitch=0.5, knobs=(size, 0))
    if kind == "pear":
        spots, side = tuple_by(base, 0.45), varied(rng, (0.54, 0.36, 0.1), 0.2)
        spot_size = (rng.uniform(0.1, 0.2), 0.0)
        return glazed(base, spots, side, pattern="speckle", pitch=0.7, knobs=spot_size, rough=0.38)
    return glazed(base, varied(rng, base, 0.4), pattern="streaks", pitch=2.0, rough=0.25)


def random_ground(rng: Rng, wall: bool) -> Stuff:
    """A table's or a wall's stuff."""
    kind = rng.choice(["wood", "plain", "streaks", "bricks", "cloth"])
    if kind == "wood":
        light = varied(rng, (0.38, 0.23, 0.12), 0.35)
        return wood(light, tuple_by(light, rng.uniform(0.4, 0.7)))
    if kind == "cloth" and not wall:
        return random_cloth(rng)
    base = colour(rng, 0.05, 0.75, 0.7)
    near = varied(rng, base, 0.12)
    if kind == "bricks":
        return matte(
            base, near, colour(rng, 0.2, 0.6, 0.2), pattern="bricks", pitch=rng.uniform(6, 10)
        )
    if kind == "plain":
        return matte(base)
    return matte(base, near, pattern="streaks", pitch=rng.uniform(20, 40))
