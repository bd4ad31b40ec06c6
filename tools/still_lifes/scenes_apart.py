"""Set-ups kept apart: nobody looks at a result on them while anything is tuned."""

from still_lifes.growth import blossom, sprig
from still_lifes.pots import book, bottle, bowl, cup, jug, kettle, pan, vase
from still_lifes.scene import (
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
)
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
from still_lifes.shapes import ball, box, moved

__all__ = [
    "dark_plums",
    "fish_kettle",
    "marble_slab",
    "morning_sun",
    "red_room",
    "striped_cloth",
    "tea_by_lamplight",
    "white_flowers",
]


def marble_slab() -> Scene:
    """Peaches and grapes on a marble slab, a pewter-grey wall; neutral window from the right."""
    fuzz = matte(
        (0.72, 0.42, 0.16), (0.55, 0.12, 0.08), pattern="blush", pitch=3.0, knobs=(0.1, 0.1)
    )
    grape = glazed((0.06, 0.02, 0.06), (0.12, 0.06, 0.12), pattern="streaks", pitch=1.2, rough=0.3)
    spots = [
        (-8, 0, 0),
        (-5.6, 0.6, 0),
        (-7, -2.2, 0),
        (-4.6, -1.8, 0),
        (-6.4, -0.8, 2),
        (-9.6, -1.6, 0),
        (-8.4, -4, 0),
        (-6, -4.2, 0.1),
    ]
    return Scene(
        (
            table(Stuff(((0.7, 0.69, 0.66), (0.3, 0.31, 0.33), (0.58, 0.57, 0.55)), "marble",
                14.0, shine=0.04, rough=0.3)),
            backdrop(matte((0.28, 0.29, 0.3), (0.22, 0.23, 0.25), pattern="streaks", pitch=32)),
            fruit("ball", fuzz, (3, 1), 4.1, name="peach", lift=0), fruit("ball", fuzz, (10, -4),
                4, turn=120, name="second peach", lift=0),
            *[Thing(f"grape {i + 1}", moved(ball(1.25, 1.1, rows=28, cols=36), s), grape) for i,
                s in enumerate(spots)],
            Thing("jug", moved(jug(16, 5.6), (-1, 9, 0), turn=15), glazed((0.62, 0.58, 0.46),
                (0.14, 0.2, 0.3), pattern="bands", knobs=(6, 7.5))),
        ),
        (window((68, -46, 50), (50, 60), glow(5900)),),
        Sky(glow(5800, strength=0.14), glow(5800, strength=0.12), glow(5400, strength=0.06)),
        Eye((0, -78, 36), (0, 0, 6), 18.5),
    )  # fmt: skip


def striped_cloth() -> Scene:
    """A striped cloth, a blue jug, onions, a lemon; cool light from the upper left."""
    cloth = matte(
        (0.7, 0.66, 0.56),
        (0.55, 0.1, 0.08),
        (0.1, 0.12, 0.3),
        pattern="stripes",
        pitch=9,
        knobs=(0.35, 0.12),
    )
    onion = glazed(
        (0.58, 0.3, 0.1), (0.44, 0.2, 0.06), pattern="stripes", pitch=1.9, knobs=(0.4, 0), rough=0.3
    )
    return Scene(
        (
            table(matte((0.22, 0.17, 0.12))),
            backdrop(matte((0.3, 0.34, 0.22), (0.26, 0.3, 0.19), pattern="streaks", pitch=24)),
            cloth_on_table(cloth, seed=77, height=3.4, turn=32),
            Thing("jug", moved(jug(17, 6), (5, 4, 0.2), turn=205), glazed((0.08, 0.16, 0.42))),
            fruit("ball", onion, (-6, -2), 3.7, name="onion"), fruit("ball", onion, (-12, 4), 3.3,
                turn=70, name="second onion"),
            fruit("lemon", peel((0.8, 0.58, 0.06)), (-1, -10), turn=-30),
        ),
        (window((-58, -60, 68), (40, 40), glow(7600, strength=0.95)),),
        Sky(glow(5000, strength=0.1), glow(5000, strength=0.09), glow(4200, strength=0.05)),
        Eye((0, -78, 36), (-1, 0, 6.5), 18.5),
    )  # fmt: skip


def red_room() -> Scene:
    """Green pears and a white cup in a room with red walls; lamp from above, no daylight."""
    pear_ = glazed(
        (0.36, 0.46, 0.1),
        (0.16, 0.18, 0.05),
        (0.5, 0.44, 0.1),
        pattern="speckle",
        pitch=0.8,
        knobs=(0.17, 0),
        rough=0.36,
    )
    red = matte((0.44, 0.05, 0.045), (0.38, 0.04, 0.04), pattern="streaks", pitch=28)
    return Scene(
        (
            table(wood((0.5, 0.32, 0.16), (0.3, 0.17, 0.08))), backdrop(red, 30),
            Thing("side wall", moved(backdrop(red).mesh, (-78, 0, 0), turn=90), red),
            Thing("cup", moved(cup(4.4, 7), (-7, -2, 0), turn=20), glazed((0.82, 0.81, 0.78))),
            fruit("pear", pear_, (3, 2), 3.9, lift=0), fruit("pear", pear_, (9, -4), 3.6,
                turn=140, lift=0, name="second pear"),
            *eggs([(-2, -10, 25)], matte((0.8, 0.75, 0.66)), 0),
        ),
        (ball_lamp((24, -40, 78), glow(3500), 10.0),),
        Sky(glow(4000, strength=0.05), glow(4000, strength=0.05), glow(4000, strength=0.03)),
        Eye((0, -76, 34), (0, 0, 6.5), 18),
        balance=0.7,
    )  # fmt: skip


def dark_plums() -> Scene:
    """Low key: plums, a dark bottle and a copper pan before black-brown; one narrow warm light."""
    plum = glazed((0.06, 0.02, 0.07), (0.16, 0.14, 0.22), pattern="streaks", pitch=2.0, rough=0.34)
    return Scene(
        (
            table(wood((0.17, 0.09, 0.05), (0.08, 0.04, 0.025))), backdrop(matte((0.06, 0.05,
                0.04))),
            Thing("bottle", moved(bottle(24, 3.9), (-8, 5, 0)), glazed((0.03, 0.035, 0.025),
                rough=0.12)),
            Thing("pan", moved(pan(6.5, 7), (4, 5, 0), turn=40), Stuff(((0.9, 0.5, 0.34),),
                kind=METAL, rough=0.26)),
            fruit("ball", plum, (-2, -6), 2.9, name="plum", lift=0), fruit("ball", plum, (4, -9),
                2.8, name="second plum", lift=0),
            fruit("ball", plum, (10, -5), 3, name="third plum", lift=0),
            fruit("apple", apple_stuff((0.5, 0.4, 0.08), (0.42, 0.05, 0.03), 0.2), (-13, -5), 3.8,
                turn=200, lift=0),
        ),
        (ball_lamp((-58, -40, 60), glow(3700), 4.0, (7.0, 20.0)),),
        Sky(glow(6000, strength=0.03), glow(6000, strength=0.025), glow(4000, strength=0.01)),
        Eye((0, -76, 32), (0, 0, 8), 18.5),
        exposure=0.8, balance=0.5,
    )  # fmt: skip


def morning_sun() -> Scene:
    """Low warm sun across a violet-grey cloth; bread-brown bowl, eggs, long blue shadows."""
    return Scene(
        (
            table(matte((0.5, 0.46, 0.55))),
            backdrop(matte((0.62, 0.6, 0.5), (0.55, 0.54, 0.46), pattern="streaks", pitch=30)),
            cloth_on_table(matte((0.46, 0.42, 0.54)), seed=91, height=1.6),
            Thing("bowl", moved(bowl(7, 6.5), (-6, 2, 0.2)), glazed((0.4, 0.22, 0.1), (0.7, 0.62,
                0.42), pattern="bands", knobs=(4.2, 5.2))),
            *eggs([(4, -4, 10), (8, 2, 65), (-2, -10, -35)], matte((0.74, 0.66, 0.56))),
            Thing("box", moved(box((6, 6, 6)), (14, 7, 0.2), turn=28), matte((0.12, 0.32, 0.2))),
        ),
        (sun((-0.95, -0.35, 0.36), glow(3600)),),
        Sky(glow(13000, strength=0.15), glow(9000, strength=0.16), glow(5000, strength=0.06)),
        Eye((0, -78, 36), (0, 0, 5.5), 18.5),
    )  # fmt: skip


def fish_kettle() -> Scene:
    """A blue enamel kettle, tomatoes and a checked green cloth in strong neutral light."""
    cloth = matte(
        (0.74, 0.72, 0.62),
        (0.2, 0.36, 0.2),
        (0.05, 0.16, 0.08),
        pattern="checks",
        pitch=3.6,
        knobs=(1, 0),
    )
    tomato = glazed(
        (0.5, 0.06, 0.03),
        (0.54, 0.2, 0.05),
        pattern="blush",
        pitch=3,
        knobs=(-0.4, 0.2),
        rough=0.18,
    )
    return Scene(
        (
            table(matte((0.34, 0.3, 0.25))), curtain(matte((0.5, 0.42, 0.3)), seed=14),
            cloth_on_table(cloth, seed=101, height=2.4, turn=15),
            Thing("kettle", moved(kettle(12, 8), (-4, 5, 0.2), turn=165), enamel((0.05, 0.1,
                0.28))),
            fruit("ball", tomato, (8, -3), 3.6, name="tomato"), fruit("ball", tomato, (3, -10),
                3.3, turn=90, name="second tomato"),
            fruit("ball", tomato, (-10, -9), 3.4, turn=45, name="third tomato"),
        ),
        (ball_lamp((46, -60, 76), glow(5800), 9.0),),
        Sky(glow(6300, strength=0.13), glow(6300, strength=0.11), glow(5500, strength=0.05)),
        Eye((0, -80, 38), (0, 0, 7), 18.5),
    )  # fmt: skip


def tea_by_lamplight() -> Scene:
    """A book, a flowered cup, a tin under a lamp; dusk through a window."""
    lids, pages = book((15, 20, 3.4))
    return Scene(
        (
            table(wood((0.34, 0.18, 0.08), (0.16, 0.07, 0.035))),
            backdrop(matte((0.5, 0.5, 0.36), (0.3, 0.36, 0.26), (0.5, 0.4, 0.2),
                pattern="rosettes", pitch=14)),
            Thing("book", moved(lids, (4, 4, 0), turn=62), matte((0.1, 0.2, 0.2), (0.6, 0.46,
                0.18), pattern="bands", knobs=(3, 3.5))),
            Thing("pages", moved(pages, (4, 4, 0), turn=62), matte((0.74, 0.68, 0.55), (0.62,
                0.56, 0.44), pattern="stripes", pitch=0.25, knobs=(0.3, 0))),
            Thing("cup", moved(cup(4.2, 6.8), (4, 3, 3.4), turn=-20), glazed((0.8, 0.78, 0.72),
                (0.5, 0.08, 0.1), (0.1, 0.24, 0.12), pattern="rosettes", pitch=4.4)),
            Thing("tin", moved(pan(5.5, 8), (-11, 3, 0)), enamel((0.32, 0.4, 0.36))),
            fruit("apple", apple_stuff((0.52, 0.46, 0.1), (0.42, 0.05, 0.04), 0.25), (-4, -9),
                3.9, turn=15, lift=0),
        ),
        (ball_lamp((-30, -46, 62), glow(2700), 7.0, (22.0, 50.0)), window((74, -26, 40), (40, 50),
            tinted(glow(12000), 0.25))),
        Sky(glow(8000, strength=0.05), glow(8000, strength=0.05), glow(4000, strength=0.02)),
        Eye((0, -78, 36), (-1, 0, 7), 18.5),
        balance=0.6,
    )  # fmt: skip


def white_flowers() -> Scene:
    """White flowers and leaves in a vase before a coloured cloth; sky light, a pale sun."""
    white = Stuff(
        ((0.82, 0.81, 0.77), (0.7, 0.66, 0.58), (0.7, 0.72, 0.4)), "veins", thin=True, through=0.3
    )
    green = Stuff(
        ((0.09, 0.19, 0.06), (0.2, 0.3, 0.12)),
        "leaf",
        shine=0.03,
        rough=0.4,
        thin=True,
        through=0.25,
    )
    heart = matte((0.6, 0.44, 0.06))
    leaves, stem = sprig(17, 9, 7.5, 21)
    places = [((-5, 0, 17), 40, 0), ((4, 1, 15), 38, 40), ((10, -9, 1.5), 24, 20)]
    flowers = [(blossom(5 + 0.4 * i, 8, 3 - i % 2, 30 + i), *p) for i, p in enumerate(places)]
    return Scene(
        (
            table(matte((0.56, 0.5, 0.42))), curtain(matte((0.3, 0.12, 0.2)), seed=23, depth=5),
            Thing("vase", moved(vase(14, 5), (0, 4, 0)), glazed((0.3, 0.36, 0.28))),
            Thing("leaves", moved(leaves, (0, 4, 5)), green), Thing("stem", moved(stem, (0, 4,
                5)), green),
            *[Thing(f"flower {i + 1}", moved(f[0], at, turn=turn, lean=lean), white) for i, (f,
                at, lean, turn) in enumerate(flowers)],
            *[Thing(f"heart {i + 1}", moved(f[1], at, turn=turn, lean=lean), heart) for i, (f, at,
                lean, turn) in enumerate(flowers)],
        ),
        (sun((0.55, -0.6, 0.7), glow(5200, strength=0.5), 5.0),),
        Sky(glow(7500, strength=0.36), glow(7000, strength=0.3), glow(6000, strength=0.12)),
        Eye((0, -78, 32), (1, 0, 10), 18.5),
    )  # fmt: skip
