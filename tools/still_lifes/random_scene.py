"""Still lifes set up by chance, so that what works can be tried where nobody has looked."""

from collections.abc import Callable
from typing import Final

import numpy as np

from still_lifes.growth import blossom, loaf
from still_lifes.pots import bottle, bowl, cup, jug, kettle, pan, vase
from still_lifes.random_stuff import (
    FRUIT,
    colour,
    random_cloth,
    random_fruit,
    random_glaze,
    random_ground,
    tuple_by,
    varied,
)  # fmt: skip
from still_lifes.scene import (
    Eye,
    Lamp,
    Mesh,
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
from still_lifes.sets import backdrop, cloth_on_table, curtain, fruit, table
from still_lifes.shapes import box, moved

__all__ = ["random_scene"]

Rng = np.random.Generator
Spot = tuple[float, float, float]  # x, y, radius it takes

POTS: Final[dict[str, tuple[Callable[[float], Mesh], float, float]]] = {
    "jug": (lambda s: jug(17 * s, 6 * s), 8.5, 17),
    "bowl": (lambda s: bowl(7.5 * s, 6 * s), 7.5, 6),
    "bottle": (lambda s: bottle(23 * s, 3.9 * s), 4.2, 23),
    "cup": (lambda s: cup(4.2 * s, 7 * s), 5.5, 7),
    "vase": (lambda s: vase(15 * s, 5 * s), 5.2, 15),
    "pan": (lambda s: pan(7 * s, 7 * s), 9.0, 7),
    "kettle": (lambda s: kettle(13 * s, 8 * s), 10.5, 13),
    "box": (lambda s: box((8 * s, 6 * s, 6 * s)), 5.2, 6),
}


def random_scene(seed: int) -> Scene:
    """The set-up of this seed (any int ≥ 0): 2 to 7 things on a table, lamps, sky and eye."""
    rng = np.random.default_rng([seed, 7_919])
    things = [table(random_ground(rng, False))]
    things.append(_behind(rng))
    lift = 0.0
    if rng.random() < 0.6:
        things.append(_cloth(rng))
        lift = 0.2
    things += _objects(rng, lift)
    lamps, sky = _lights(rng)
    eye = Eye(
        (rng.uniform(-9, 9), rng.uniform(-86, -72), rng.uniform(24, 46)),
        (rng.uniform(-2, 2), 0.0, rng.uniform(4.5, 8.5)),
        rng.uniform(17, 21),
    )
    balance = float(rng.choice([0.0, 0.0, 0.4, 0.8]))
    return Scene(tuple(things), lamps, sky, eye, float(np.exp(rng.normal(0, 0.15))), balance)


def _behind(rng: Rng) -> Thing:
    if rng.random() < 0.35:
        return curtain(random_cloth(rng), seed=int(rng.integers(1 << 30)), depth=rng.uniform(2, 5))
    return backdrop(random_ground(rng, True), rng.uniform(22, 55))


def _cloth(rng: Rng) -> Thing:
    size = (rng.uniform(50, 84), rng.uniform(40, 60))
    return cloth_on_table(
        random_cloth(rng), size, rng.uniform(1.2, 3.8), int(rng.integers(1 << 30)),
        (rng.uniform(-5, 5), rng.uniform(-6, 0), 0.0), rng.uniform(-40, 40),
    )  # fmt: skip


def _objects(rng: Rng, lift: float) -> list[Thing]:
    """Pots behind, fruit before, none within another."""
    found: list[Thing] = []
    taken: list[Spot] = []
    for _ in range(int(rng.integers(1, 4))):
        kind, size = str(rng.choice(list(POTS))), rng.uniform(0.75, 1.15)
        make, radius, height = POTS[kind]
        spot = _free(rng, taken, radius * size, (-1, 12))
        if spot is not None:
            mesh = moved(make(size), (*spot, lift), turn=rng.uniform(0, 360))
            found.append(
                Thing(f"{kind} {len(found) + 1}", mesh, _pot_stuff(rng, kind, height * size))
            )
    for _ in range(int(rng.integers(1, 5))):
        found += _small(rng, taken, lift, len(found) + 1)
    return found


def _pot_stuff(rng: Rng, kind: str, height: float) -> Stuff:
    return random_cloth(rng) if kind == "box" else random_glaze(rng, height)


def _small(rng: Rng, taken: list[Spot], lift: float, number: int) -> list[Thing]:
    """A fruit, an egg, a loaf or a flower, if there is room."""
    kind = str(rng.choice([*FRUIT, "loaf", "flower"]))
    size = rng.uniform(0.8, 1.15)
    spot = _free(rng, taken, 4.4 * size * (2.0 if kind == "loaf" else 1.0), (-13, 4))
    if spot is None:
        return []
    turn, name = rng.uniform(0, 360), f"{kind} {number}"
    if kind == "loaf":
        crust = varied(rng, (0.43, 0.21, 0.08))
        stuff = Stuff(
            (crust, varied(rng, (0.6, 0.38, 0.17)), tuple_by(crust, 0.6)),
            "streaks",
            2.0,
            bump=0.16,
            bump_pitch=0.6,
        )
        return [
            Thing(name, moved(loaf(15 * size, 8 * size, 7 * size), (*spot, lift), turn=turn), stuff)
        ]
    if kind == "flower":
        return _flower(rng, spot, lift, 4 * size, name)
    bodies = {"lemon": "lemon", "pear": "pear", "egg": "egg", "apple": "apple"}
    length = 5.6 if kind == "egg" else 3.7
    return [
        fruit(
            bodies.get(kind, "ball"),
            random_fruit(rng, kind),
            spot,
            length * size,
            turn,
            0.0,
            lift,
            name,
        )
    ]


def _flower(
    rng: Rng, spot: tuple[float, float], lift: float, size: float, name: str
) -> list[Thing]:
    petal = colour(rng, 0.3, 0.8, 0.8)
    stuff = Stuff((petal, tuple_by(petal, 0.5), (0.76, 0.68, 0.3)), "veins", thin=True, through=0.3)
    layers = int(rng.integers(1, 4))
    leaves, heart = blossom(size, int(rng.integers(5, 10)), layers, int(rng.integers(1 << 30)))
    at, lean = (*spot, lift + 0.35 * size), rng.uniform(0, 25)
    dark = Stuff((varied(rng, (0.5, 0.32, 0.05), 0.3),), bump=0.2)
    return [
        Thing(name, moved(leaves, at, lean=lean), stuff),
        Thing(f"heart of {name}", moved(heart, at, lean=lean), dark),
    ]


def _free(
    rng: Rng, taken: list[Spot], radius: float, depth: tuple[float, float]
) -> tuple[float, float] | None:
    """A place at least `radius` from all that is taken; None after forty tries."""
    for _ in range(40):
        x, y = rng.uniform(-16, 16), rng.uniform(*depth)
        if all(np.hypot(x - a, y - b) > radius + r for a, b, r in taken):
            taken.append((x, y, radius))
            return x, y
    return None


def _lights(rng: Rng) -> tuple[tuple[Lamp, ...], Sky]:
    """A key, its sky or room light, and a second lamp at times."""
    kind = rng.choice(["lamp", "lamp", "spot", "window", "window", "sun"])
    side = rng.choice([-1.0, 1.0])
    off = rng.normal(0, 0.004)  # fluorescent and LED lamps lie off the glowing bodies' line
    if kind == "window":
        place = (side * rng.uniform(45, 80), rng.uniform(-70, -20), rng.uniform(34, 70))
        key = window(
            place, (rng.uniform(25, 80), rng.uniform(35, 80)), glow(rng.uniform(4800, 9500), off)
        )
    elif kind == "sun":
        key = sun(
            (side * rng.uniform(0.3, 1), -rng.uniform(0.3, 1), rng.uniform(0.35, 1)),
            glow(rng.uniform(3400, 5900)),
        )
    else:
        place = (side * rng.uniform(25, 75), rng.uniform(-75, -25), rng.uniform(38, 90))
        spot = (rng.uniform(8, 20), rng.uniform(25, 45)) if kind == "spot" else None
        key = ball_lamp(place, glow(rng.uniform(2500, 6500), off), rng.uniform(2, 12), spot)
    fill = np.exp(rng.uniform(np.log(0.03), np.log(0.35)))
    high = 12000.0 if kind == "sun" else 9000.0
    top, edge = glow(1e6 / rng.uniform(1e6 / high, 250)), glow(1e6 / rng.uniform(1e6 / high, 250))
    sky = Sky(tinted(top, fill), tinted(edge, 0.85 * fill), tinted(edge, 0.4 * fill))
    return (key, *_second_lamp(rng, side)), sky


def _second_lamp(rng: Rng, side: float) -> tuple[Lamp, ...]:
    if rng.random() > 0.35:
        return ()
    light = glow(1e6 / rng.uniform(90, 380), rng.normal(0, 0.004), rng.uniform(0.08, 0.45))
    place = (-side * rng.uniform(35, 75), rng.uniform(-60, 10), rng.uniform(25, 60))
    return (ball_lamp(place, light, rng.uniform(3, 12)),)
