"""Set-ups to tune with: the painter's cases."""

from functools import partial

import numpy as np
from numpy.typing import NDArray

from still_lifes.growth import blossom, fur, leaf_mass, loaf, sprig
from still_lifes.pots import bottle, bowl, jug, kettle, vase
from still_lifes.scene import (
    GLASS,
    METAL,
    Eye,
    Mesh,
    Scene,
    Sky,
    Stuff,
    Thing,
    ball_lamp,
    glow,
    sun,
    window,
)  # fmt: skip
from still_lifes.sets import (
    apple_stuff,
    backdrop,
    cloth_on_table,
    curtain,
    eggs,
    enamel,
    fruit,
    glazed,
    matte,
    peel,
    table,
    wood,
)  # fmt: skip
from still_lifes.shapes import ball, box, joined, moved, plane, scaled, sheet

__all__ = [
    "black_kettle",
    "brass",
    "foliage",
    "fur_hat",
    "glass_bottle",
    "linen",
    "overcast",
    "petals",
    "white_jug",
]

Array = NDArray[np.float64]


def white_jug() -> Scene:
    """A white jug on a red cloth, lemons; warm lamp from the left, cool room."""
    return Scene(
        (
            table(wood((0.32, 0.19, 0.1), (0.17, 0.09, 0.045))),
            backdrop(matte((0.34, 0.33, 0.29), (0.27, 0.26, 0.24), pattern="streaks", pitch=30)),
            cloth_on_table(matte((0.52, 0.05, 0.04)), at=(2, -4, 0), turn=12, seed=3),
            Thing("jug", moved(jug(19, 6.6), (-4, 3, 0.2), turn=-25), glazed((0.82, 0.8, 0.74))),
            fruit("lemon", peel((0.82, 0.58, 0.05)), (9, -3), turn=35, name="lemon 1"),
            fruit("lemon", peel((0.78, 0.56, 0.07)), (5, -10), turn=-40, name="lemon 2"),
        ),
        (ball_lamp((-60, -45, 62), glow(3100, strength=1.0), 5.0),),
        Sky(glow(7500, strength=0.14), glow(7000, strength=0.1), glow(5000, strength=0.04)),
        Eye((0, -78, 34), (1, 0, 8.5), 18.5),
        balance=0.5,
    )


def black_kettle() -> Scene:
    """A black enamel kettle and eggs on checked cloth by a cool window."""
    return Scene(
        (
            table(matte((0.4, 0.38, 0.33))),
            backdrop(matte((0.42, 0.36, 0.22), (0.34, 0.29, 0.19), pattern="streaks", pitch=34)),
            cloth_on_table(
                matte((0.78, 0.76, 0.7), (0.3, 0.42, 0.55), (0.08, 0.16, 0.36), pattern="checks",
                    pitch=5, knobs=(1, 0)),
                at=(0, -4, 0), turn=-8, seed=5,
            ),
            Thing("kettle", moved(kettle(14, 9), (2, 5, 0.2), turn=20), enamel((0.022, 0.022,
                0.026))),
            *eggs([(-13, -4, 20), (-8, -10, -50), (12, -9, 80)], matte((0.72, 0.52, 0.38), (0.5,
                0.3, 0.2), (0.76, 0.58, 0.44), pattern="speckle", pitch=0.5, knobs=(0.12, 0))),
        ),
        (window((-75, -25, 48), (44, 60), glow(6600, strength=0.95)),),
        Sky(glow(5200, strength=0.1), glow(5200, strength=0.09), glow(4600, strength=0.05)),
        Eye((4, -80, 36), (0, 0, 8), 19),
    )  # fmt: skip


def brass() -> Scene:
    """A brass bowl of oranges, an apple, a dark green curtain; a warm lamp from the right."""
    metal = Stuff(((0.86, 0.62, 0.26),), rough=0.2, kind=METAL, bump=0.02, bump_pitch=2.5)
    return Scene(
        (
            table(wood((0.24, 0.12, 0.06), (0.1, 0.05, 0.03))),
            curtain(matte((0.05, 0.11, 0.07)), seed=2),
            Thing("bowl", moved(bowl(9.5, 7), (3, 3, 0.0)), metal),
            fruit("orange", peel((0.75, 0.28, 0.03)), (0.5, 1.5), 3.6, lift=3.0, name="orange 1"),
            fruit("orange", peel((0.72, 0.3, 0.035)), (6.8, 2.0), 3.5, lift=3.2, name="orange 2"),
            fruit("orange", peel((0.76, 0.27, 0.03)), (3.2, 7.0), 3.6, lift=3.4, name="orange 3"),
            fruit(
                "apple",
                apple_stuff((0.5, 0.45, 0.08), (0.42, 0.03, 0.03)),
                (-11, -3),
                4,
                turn=40,
                lift=0,
            ),
            fruit("orange", peel((0.74, 0.29, 0.03)), (14, -8), 3.5, lift=0.0, name="orange 4"),
        ),
        (ball_lamp((58, -40, 55), glow(3300), 5.0),),
        Sky(glow(5600, strength=0.06), glow(5600, strength=0.05), glow(4000, strength=0.02)),
        Eye((0, -78, 36), (1, 0, 6), 19),
        balance=0.6,
    )


def glass_bottle() -> Scene:
    """A green glass bottle and fruit on white cloth before blue; light from a window."""
    clear = Stuff(((0.8, 0.93, 0.84),), shine=0.04, rough=0.06, kind=GLASS)
    return Scene(
        (
            table(matte((0.3, 0.26, 0.2))),
            backdrop(matte((0.13, 0.22, 0.4), (0.16, 0.26, 0.43), pattern="streaks", pitch=26)),
            cloth_on_table(matte((0.78, 0.77, 0.74)), seed=9, turn=4),
            Thing("bottle", moved(bottle(25, 4.2, 0.35), (-5, 4, 0.2)), clear),
            fruit("apple", apple_stuff((0.55, 0.5, 0.12), (0.45, 0.04, 0.035), 0.3), (6, 0), 4,
                turn=110),
            fruit("ball", glazed((0.6, 0.34, 0.12), (0.48, 0.24, 0.07), pattern="stripes",
                pitch=2.1, knobs=(0.4, 0), rough=0.3), (13, 5), 3.4, name="onion"),
            fruit("pear", glazed((0.5, 0.52, 0.1), (0.2, 0.16, 0.06), (0.6, 0.42, 0.1),
                pattern="speckle", pitch=0.7, knobs=(0.16, 0), rough=0.38), (-13, -4), 3.7, tilt=8),
        ),
        (window((70, -34, 52), (50, 66), glow(6200, strength=0.9)),),
        Sky(glow(5000, strength=0.13), glow(5000, strength=0.11), glow(4600, strength=0.05)),
        Eye((0, -80, 32), (0, 0, 9.5), 18.5),
    )  # fmt: skip


def linen() -> Scene:
    """A loaf on a folded linen cloth, a wooden bowl; soft daylight from the left, low."""
    flax = Stuff(
        ((0.6, 0.55, 0.45), (0.5, 0.45, 0.36), (0.68, 0.63, 0.53)),
        "weave",
        0.45,
        bump=0.1,
        bump_pitch=0.22,
    )
    crust = Stuff(
        ((0.42, 0.2, 0.07), (0.62, 0.4, 0.18), (0.25, 0.1, 0.04)),
        "streaks",
        2.2,
        bump=0.16,
        bump_pitch=0.6,
    )
    return Scene(
        (
            table(wood((0.42, 0.27, 0.14), (0.24, 0.13, 0.06))),
            backdrop(matte((0.2, 0.17, 0.14), (0.16, 0.13, 0.11), pattern="streaks", pitch=28)),
            cloth_on_table(flax, (62, 50), 4.2, 21, turn=-10, clear=0.36),
            Thing("loaf", moved(loaf(19, 10, 8), (2, 1, 0.2), turn=18), crust),
            Thing(
                "bowl",
                moved(bowl(6, 5), (-15, 5, 0.2)),
                wood((0.38, 0.2, 0.09), (0.2, 0.09, 0.04), 2.5),
            ),
            *eggs([(-7, -9, 10)], matte((0.8, 0.76, 0.68))),
        ),
        (window((-72, -40, 34), (36, 50), glow(5600, strength=0.95)),),
        Sky(glow(6500, strength=0.11), glow(6000, strength=0.09), glow(5000, strength=0.04)),
        Eye((0, -76, 36), (0, 0, 5), 18.5),
    )


def fur_hat() -> Scene:
    """A fur hat and a red scarf on a chest of wood; one lamp from the upper right."""
    head = moved(ball(8.0, 0.72), (-3, 2, 0))
    hair = fur(head, 13_000, 2.6, 7, 0.13)
    return Scene(
        (
            table(wood((0.3, 0.18, 0.09), (0.15, 0.08, 0.04))),
            backdrop(matte((0.24, 0.28, 0.24))),
            Thing("hat", head, matte((0.09, 0.065, 0.045))),
            Thing("fur", hair, Stuff(((0.07, 0.05, 0.035), (0.4, 0.3, 0.2), (0.5, 0.42, 0.32)),
                "strands", thin=True, through=0.15)),
            cloth_on_table(matte((0.5, 0.06, 0.05), (0.66, 0.5, 0.3), pattern="stripes", pitch=7,
                knobs=(0.25, 0)), (34, 22), 3.4, 13, (13, -5, 0.1), 24, "scarf", 0.1),
            Thing("button box", moved(bowl(3.4, 3.4), (-16, -8, 0)), glazed((0.1, 0.2, 0.34))),
        ),
        (ball_lamp((48, -46, 66), glow(4000), 7.0), ball_lamp((-70, -30, 30), glow(7500,
            strength=0.12), 12.0)),
        Sky(glow(6500, strength=0.08), glow(6000, strength=0.07), glow(4000, strength=0.03)),
        Eye((0, -74, 38), (1, 0, 4.5), 18),
    )  # fmt: skip


def petals() -> Scene:
    """Pink and white flowers, one in a small blue vase; soft warm afternoon light."""
    pink = Stuff(
        ((0.74, 0.34, 0.4), (0.5, 0.1, 0.2), (0.8, 0.72, 0.5)), "veins", thin=True, through=0.3
    )
    white = Stuff(
        ((0.82, 0.8, 0.76), (0.66, 0.6, 0.55), (0.78, 0.74, 0.4)), "veins", thin=True, through=0.35
    )
    heart = matte(
        (0.62, 0.42, 0.05), (0.4, 0.22, 0.03), pattern="speckle", pitch=0.4, knobs=(0.35, 0)
    )
    green = Stuff(
        ((0.1, 0.2, 0.05), (0.2, 0.32, 0.12)),
        "leaf",
        shine=0.03,
        rough=0.4,
        thin=True,
        through=0.25,
    )
    one, one_heart = blossom(6, 8, 3, 1)
    two, two_heart = blossom(5.2, 7, 2, 2)
    leaves, stem = sprig(15, 7, 7, 4)
    tilt, up, side = 34.0, (-3, 2, 15.5), (10, -7, 1.6)
    return Scene(
        (
            table(matte((0.62, 0.58, 0.5))),
            backdrop(matte((0.5, 0.5, 0.42), (0.44, 0.46, 0.4), pattern="streaks", pitch=36)),
            Thing("vase", moved(vase(13, 4.6), (-3, 3, 0)), glazed((0.06, 0.12, 0.32), (0.7, 0.7,
                0.68), pattern="bands", knobs=(5.2, 6.0))),
            Thing("leaves", moved(leaves, (-3, 4, 4)), green), Thing("stem", moved(stem, (-3, 4,
                4)), green),
            Thing("pink flower", moved(one, up, lean=tilt), pink), Thing("pink heart",
                moved(one_heart, up, lean=tilt), heart),
            Thing("white flower", moved(two, side, lean=20), white), Thing("white heart",
                moved(two_heart, side, lean=20), heart),
        ),
        (ball_lamp((-52, -50, 70), glow(4400, strength=0.95), 9.0),),
        Sky(glow(7000, strength=0.2), glow(6500, strength=0.16), glow(5500, strength=0.08)),
        Eye((0, -76, 34), (1, 0, 9.5), 18),
    )  # fmt: skip


def foliage() -> Scene:
    """A plant in a clay pot against an ochre wall in the noon sun, its shadow on the wall."""
    green = Stuff(
        ((0.07, 0.17, 0.035), (0.16, 0.28, 0.09), (0.1, 0.2, 0.04)),
        "leaf",
        shine=0.035,
        rough=0.35,
        thin=True,
        through=0.25,
    )
    clay = Stuff(((0.46, 0.2, 0.11), (0.52, 0.3, 0.2)), "streaks", 9.0, bump=0.06, bump_pitch=0.5)
    pairs = [sprig(21, 13, 8.5, s) for s in (11, 12, 15)]
    spots = [(-3, 2, 9), (1, 5, 9), (2, 1, 9)]
    plants = [
        Thing(f"{what} {k + 1}", moved(mesh, spots[k], turn=100 * k, tilt=(-14, 3, 16)[k]), green)
        for k, pair in enumerate(pairs)
        for what, mesh in zip(("leaves", "stem"), pair, strict=True)
    ]
    return Scene(
        (
            table(matte((0.5, 0.45, 0.38), (0.42, 0.36, 0.3), (0.3, 0.28, 0.25), pattern="bricks",
                pitch=9)),
            backdrop(matte((0.56, 0.38, 0.14), (0.5, 0.32, 0.12), (0.6, 0.48, 0.26),
                pattern="streaks", pitch=30), 22),
            Thing("pot", moved(bowl(7.5, 11, 0.6), (0, 3, 0)), clay),
            Thing("soil", moved(ball(6.2, 0.12), (0, 3, 8.6)), matte((0.07, 0.045, 0.03))),
            *plants,
        ),
        (sun((-0.5, -0.62, 0.85), glow(5500)),),
        Sky(glow(11000, strength=0.2), glow(8000, strength=0.24), glow(5200, strength=0.1)),
        Eye((4, -84, 30), (0, 0, 15), 19.5),
    )  # fmt: skip


def overcast() -> Scene:
    """Fields under an overcast sky: a white house, a bush, a wet lane; a pale sun."""
    bush = Stuff(
        ((0.06, 0.12, 0.035), (0.1, 0.17, 0.06), (0.08, 0.14, 0.03)), "leaf", thin=True, through=0.2
    )
    grass = Stuff(
        ((0.16, 0.22, 0.06), (0.26, 0.28, 0.09), (0.12, 0.17, 0.05)),
        "streaks",
        8.0,
        bump=0.2,
        bump_pitch=0.6,
    )
    far = Stuff(((0.12, 0.17, 0.1), (0.2, 0.23, 0.11)), "streaks", 30.0)
    return Scene(
        (
            Thing("field", plane((-260, -80, 0), (520, 0, 0), (0, 420, 0), 60), grass),
            Thing("hill", moved(scaled(ball(40), (4.0, 1.2, 0.62)), (-60, 300, -26)), far),
            Thing("far hill", moved(scaled(ball(40), (5.0, 1.0, 0.75)), (120, 330, -32)),
                Stuff(((0.17, 0.21, 0.2),))),
            Thing("house", moved(box((16, 12, 9)), (9, 24, 0), turn=24), matte((0.74, 0.72, 0.66))),
            Thing("roof", moved(_roof(17.5, 13.5, 6.5), (9, 24, 9), turn=24), matte((0.34, 0.15,
                0.09), (0.24, 0.1, 0.07), (0.18, 0.1, 0.08), pattern="bricks", pitch=1.3)),
            Thing("bush", moved(leaf_mass((8, 7, 10), 900, 2.6, 3), (-15, 20, 0)), bush),
            Thing("hedge", moved(leaf_mass((26, 4, 5), 1100, 2.2, 4), (28, 44, 0)), bush),
            Thing("lane", moved(plane((-4, -70, 0.1), (8, 0, 0), (0, 130, 0), 30), turn=-8),
                Stuff(((0.3, 0.27, 0.22), (0.36, 0.33, 0.28)), "streaks", 5, shine=0.03,
                rough=0.3, bump=0.1)),
        ),
        (sun((0.5, -0.4, 0.9), glow(6000, strength=0.35), 9.0),),
        Sky(glow(6800, strength=0.95), glow(6500, strength=0.7), glow(5500, strength=0.1), 0.8),
        Eye((0, -62, 13), (0, 0, 13), 24),
    )  # fmt: skip


def _roof(wide: float, deep: float, high: float) -> Mesh:
    """A saddle roof, gables closed."""
    a, b = wide / 2, deep / 2
    slopes = [
        plane((-a, -b, 0), (wide, 0, 0), (0, b, high), 16), plane((a, b, 0), (-wide, 0, 0), (0,
            -b, high), 16),
    ]  # fmt: skip
    gables = [sheet(partial(_gable, x=s * a, deep=b, high=high), 6, 6) for s in (-1.0, 1.0)]
    return joined(*slopes, *gables)


def _gable(u: Array, v: Array, x: float, deep: float, high: float) -> Array:
    return np.stack([x + 0 * u, np.sign(x) * (2 * u - 1) * deep * (1 - v), high * v], -1)
