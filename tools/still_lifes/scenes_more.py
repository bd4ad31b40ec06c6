"""Set-ups to tune with: other lights, grounds and patterns."""

import numpy as np

from still_lifes.growth import blossom, flame, loaf
from still_lifes.pots import book, bottle, bowl, candlestick, cup, jug, pan, vase
from still_lifes.scene import (
    GLOW,
    METAL,
    Eye,
    Scene,
    Sky,
    Stuff,
    Thing,
    ball_lamp,
    glow,
    sun,
    tinted,
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
from still_lifes.shapes import box, moved, tube

__all__ = ["blue_checks", "candle", "high_key", "no_grey", "printed_cloth", "two_lamps"]


def candle() -> Scene:
    """A candle, two pears and a book at night: deep shadows, nothing else but a little dusk."""
    t = np.linspace(0, 1, 8)[:, None]
    wick = tube(np.array([[0, 0, 21.9]]) + t * [0, 0, 0.9], np.full(8, 0.1), 8)
    lids, pages = book((14, 19, 3.2))
    spot = (-6.0, 4.0)
    return Scene(
        (
            table(wood((0.3, 0.17, 0.08), (0.14, 0.07, 0.035))),
            backdrop(matte((0.2, 0.2, 0.19), (0.24, 0.22, 0.2), pattern="streaks", pitch=30)),
            Thing("candlestick", moved(candlestick(12, 5), (*spot, 0)), Stuff(((0.8, 0.56,
                0.24),), kind=METAL, rough=0.24)),
            Thing("candle", moved(bottle(10, 1.3), (*spot, 12)), matte((0.8, 0.76, 0.62))),
            Thing("wick", moved(wick, (*spot, 0)), matte((0.03, 0.03, 0.03))),
            Thing("flame", moved(flame(3.4), (*spot, 22.6)), Stuff(((1.0, 0.62, 0.2),), kind=GLOW,
                shine=3.0)),
            fruit("pear", glazed((0.5, 0.48, 0.1), (0.24, 0.16, 0.06), (0.56, 0.3, 0.08),
                pattern="speckle", pitch=0.7, knobs=(0.15, 0), rough=0.4), (5, -3), 3.8, turn=20,
                lift=0),
            fruit("pear", glazed((0.44, 0.42, 0.09), (0.2, 0.12, 0.05), (0.5, 0.18, 0.07),
                pattern="speckle", pitch=0.7, knobs=(0.15, 0), rough=0.4), (1, -11), 3.6, turn=80,
                lift=0, name="second pear"),
            Thing("book", moved(lids, (15, 5, 0), turn=-24), matte((0.3, 0.05, 0.04), (0.6, 0.45,
                0.15), pattern="bands", knobs=(4, 4.4))),
            Thing("pages", moved(pages, (15, 5, 0), turn=-24), matte((0.72, 0.66, 0.52), (0.6,
                0.54, 0.42), pattern="stripes", pitch=0.25, knobs=(0.3, 0))),
        ),
        (ball_lamp((spot[0], spot[1], 24.4), glow(1950), 0.9),),
        Sky(glow(9000, strength=0.012), glow(9000, strength=0.012), glow(6000, strength=0.004)),
        Eye((0, -78, 34), (2, 0, 10), 18.5),
        balance=0.35,
    )  # fmt: skip


def blue_checks() -> Scene:
    """Lemons and a white cup on blue checks outdoors, low sun from the right, blue sky."""
    fold = matte((0.76, 0.76, 0.74), (0.1, 0.17, 0.4), pattern="checks", pitch=4.4)
    return Scene(
        (
            table(matte((0.45, 0.42, 0.36))),
            backdrop(matte((0.52, 0.48, 0.4), (0.38, 0.2, 0.13), (0.5, 0.46, 0.4),
                pattern="bricks", pitch=8), 40),
            cloth_on_table(fold, seed=31, height=2.2, turn=20),
            Thing("cup", moved(cup(4.6, 7.5), (-6, 2, 0.2), turn=-30), glazed((0.8, 0.8, 0.78),
                (0.1, 0.2, 0.5), pattern="bands", knobs=(5.4, 6.2))),
            fruit("lemon", peel((0.8, 0.56, 0.05)), (5, -5), turn=15),
            fruit("lemon", peel((0.76, 0.6, 0.08)), (10, 3), turn=-60, name="second lemon"),
            fruit("apple", apple_stuff((0.3, 0.42, 0.06), (0.3, 0.4, 0.07)), (-13, -7), 3.9,
                turn=60, name="green apple"),
        ),
        (sun((0.9, -0.55, 0.55), glow(4600)),),
        Sky(glow(12000, strength=0.17), glow(8500, strength=0.2), glow(5000, strength=0.1)),
        Eye((0, -80, 38), (0, 0, 5.5), 18),
        exposure=1.15,
    )  # fmt: skip


def high_key() -> Scene:
    """White on white: eggs, bowl, cloth and wall in the even light of a big north window."""
    return Scene(
        (
            table(matte((0.74, 0.73, 0.7))),
            backdrop(matte((0.7, 0.7, 0.69), (0.64, 0.64, 0.64), pattern="streaks", pitch=40)),
            cloth_on_table(matte((0.82, 0.81, 0.78)), seed=17, height=3.0),
            Thing("bowl", moved(bowl(8, 6), (-4, 4, 0.2)), glazed((0.8, 0.79, 0.75))),
            Thing("jug", moved(jug(14, 4.8), (9, 8, 0.2), turn=200), glazed((0.72, 0.75, 0.78))),
            *eggs([(6, -6, 30), (-9, -9, -20), (-3, -12, 70)], matte((0.8, 0.7, 0.6), (0.66, 0.5,
                0.38), pattern="speckle", pitch=0.5, knobs=(0.1, 0))),
        ),
        (window((-66, -52, 56), (90, 80), glow(7200, strength=0.75)),),
        Sky(glow(6800, strength=0.3), glow(6500, strength=0.26), glow(6000, strength=0.15)),
        Eye((0, -78, 38), (0, 0, 6), 18.5),
    )  # fmt: skip


def no_grey() -> Scene:
    """Nothing grey: orange wall, violet cloth, green and red fruit, blue-green vase, warm light."""
    return Scene(
        (
            table(matte((0.3, 0.13, 0.3))),
            backdrop(matte((0.6, 0.27, 0.07), (0.52, 0.21, 0.06), pattern="streaks", pitch=30)),
            cloth_on_table(matte((0.28, 0.1, 0.36)), seed=41, height=3.4, turn=-14),
            Thing("vase", moved(vase(17, 5.4), (-6, 4, 0.2)), glazed((0.04, 0.32, 0.34))),
            fruit("apple", apple_stuff((0.3, 0.42, 0.05), (0.34, 0.44, 0.06)), (5, -2), 4.1,
                turn=30, name="green apple"),
            fruit("apple", apple_stuff((0.46, 0.1, 0.03), (0.42, 0.025, 0.03)), (12, 3), 4,
                turn=80, name="red apple"),
            fruit("lemon", peel((0.8, 0.55, 0.03)), (-2, -10), turn=50),
        ),
        (ball_lamp((55, -55, 70), glow(3900), 8.0),),
        Sky(glow(6000, strength=0.15), glow(6000, strength=0.12), glow(4500, strength=0.05)),
        Eye((0, -78, 36), (0, 0, 7), 18.5),
        balance=0.3,
    )  # fmt: skip


def printed_cloth() -> Scene:
    """A flower-printed cloth, a brown pot, onions; a window at the upper left."""
    print_ = ((0.6, 0.55, 0.42), (0.55, 0.12, 0.12), (0.12, 0.2, 0.1))
    return Scene(
        (
            table(matte((0.3, 0.26, 0.2))),
            curtain(matte((0.16, 0.22, 0.25), (0.4, 0.36, 0.26), pattern="stripes", pitch=6,
                knobs=(0.3, 0.2)), seed=8),
            cloth_on_table(matte(*print_, pattern="rosettes", pitch=6.5, knobs=(0.4, 0)), seed=52,
                height=2.8, turn=9),
            Thing("pot", moved(pan(7, 9), (-5, 4, 0.2), turn=15), glazed((0.3, 0.13, 0.06), (0.55,
                0.42, 0.22), pattern="bands", knobs=(6.2, 7.8), rough=0.2)),
            fruit("ball", glazed((0.55, 0.28, 0.1), (0.42, 0.18, 0.06), pattern="stripes",
                pitch=1.8, knobs=(0.4, 0), rough=0.3), (7, 0), 3.6, name="onion"),
            fruit("ball", glazed((0.4, 0.1, 0.2), (0.3, 0.06, 0.14), pattern="stripes", pitch=1.6,
                knobs=(0.4, 0), rough=0.28), (11, -7), 3.1, name="red onion"),
        ),
        (window((-60, -50, 66), (34, 44), glow(5400, strength=0.95)),),
        Sky(glow(6000, strength=0.12), glow(6000, strength=0.1), glow(5000, strength=0.05)),
        Eye((0, -78, 40), (0, 0, 5.5), 18.5),
    )  # fmt: skip


def two_lamps() -> Scene:
    """Evening: a warm lamp right, a blue window left; bottle, loaf, enamel cup."""
    label = glazed(
        (0.1, 0.06, 0.035),
        (0.7, 0.64, 0.5),
        (0.2, 0.12, 0.08),
        pattern="label",
        knobs=(5.0, 11.0),
        rough=0.12,
    )
    crust = Stuff(
        ((0.44, 0.22, 0.08), (0.6, 0.38, 0.17), (0.26, 0.11, 0.04)),
        "streaks",
        2.0,
        bump=0.16,
        bump_pitch=0.6,
    )
    flower, heart = blossom(3.4, 7, 2, 9)
    return Scene(
        (
            table(matte((0.5, 0.48, 0.44), (0.22, 0.28, 0.24), pattern="stripes", pitch=8,
                knobs=(0.3, 0.2))),
            backdrop(matte((0.44, 0.42, 0.4))),
            Thing("bottle", moved(bottle(25, 3.9), (-7, 6, 0), turn=180), label),
            Thing("loaf", moved(loaf(17, 9, 7.5), (5, 3, 0), turn=-12), crust),
            Thing("cup", moved(cup(4, 6), (-11, -7, 0), turn=160), enamel((0.68, 0.68, 0.66))),
            Thing("box", moved(box((7, 5, 4)), (13, -8, 0), turn=33), matte((0.16, 0.3, 0.3))),
            Thing("flower", moved(flower, (4, -10, 0.6)), Stuff(((0.72, 0.66, 0.2), (0.6, 0.4,
                0.05), (0.5, 0.3, 0.04)), "veins", thin=True, through=0.3)),
            Thing("heart", moved(heart, (4, -10, 0.6)), matte((0.3, 0.12, 0.03))),
        ),
        (ball_lamp((56, -34, 58), glow(2900, strength=0.9), 6.0), window((-74, -30, 44), (40, 56),
            tinted(glow(9500), 0.4))),
        Sky(glow(7000, strength=0.07), glow(7000, strength=0.06), glow(4000, strength=0.02)),
        Eye((0, -80, 34), (0, 0, 8.5), 19),
        balance=0.3,
    )  # fmt: skip
