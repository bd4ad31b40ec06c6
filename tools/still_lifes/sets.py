"""Common ground of the set-ups: tables, walls, fruit in their colours."""

from collections.abc import Sequence
from dataclasses import replace

from still_lifes.cloth import hanging, laid
from still_lifes.growth import apple, egg, lemon, pear
from still_lifes.scene import Mesh, Stuff, Thing
from still_lifes.shapes import ball, moved, plane

__all__ = [
    "apple_stuff",
    "backdrop",
    "cloth_on_table",
    "curtain",
    "eggs",
    "enamel",
    "fruit",
    "glazed",
    "matte",
    "peel",
    "table",
    "wood",
]  # fmt: skip

Colour = tuple[float, float, float]


def matte(
    *colours: Colour,
    pattern: str = "plain",
    pitch: float = 1.0,
    knobs: tuple[float, float] = (0, 0),
) -> Stuff:
    """Cloth, plaster, paper, bread: no coat, a little relief."""
    return Stuff(colours, pattern, pitch, knobs, bump=0.04, bump_pitch=0.35)


def glazed(
    *colours: Colour, pattern: str = "plain", pitch: float = 1.0, knobs: tuple[float, float] = (0,
        0),
    rough: float = 0.16,
) -> Stuff:  # fmt: skip
    """Glazed earthenware: a coat of index 1.5."""
    return Stuff(colours, pattern, pitch, knobs, shine=0.04, rough=rough)


def enamel(colour: Colour) -> Stuff:
    """Enamel on iron, smooth as glass but never quite flat."""
    return Stuff((colour,), shine=0.045, rough=0.13, bump=0.012, bump_pitch=3.0)


def peel(
    *colours: Colour,
    pattern: str = "plain",
    pitch: float = 1.0,
    knobs: tuple[float, float] = (0, 0),
) -> Stuff:
    """Citrus peel: pores and a wide highlight."""
    return Stuff(colours, pattern, pitch, knobs, shine=0.04, rough=0.36, bump=0.12, bump_pitch=0.32)


def apple_stuff(ground: Colour, red: Colour, lean: float = 0.1) -> Stuff:
    """A waxed apple, red on one side."""
    fleck = (0.62, 0.5, 0.26)
    return Stuff((ground, red, fleck), "blush", 2.6, (lean, 0.8), shine=0.04, rough=0.24)


def wood(light: Colour, dark: Colour, pitch: float = 4.0, shine: float = 0.03) -> Stuff:
    """A planed board, waxed."""
    pore = tuple(0.4 * c for c in dark)
    return Stuff((light, dark, (pore[0], pore[1], pore[2])), "wood", pitch, shine=shine, rough=0.42)


def table(stuff: Stuff, size: float = 170.0) -> Thing:
    """The table's top, z = 0."""
    return Thing("table", plane((-size / 2, -70, 0), (size, 0, 0), (0, 115, 0), 64), stuff)


def backdrop(stuff: Stuff, y: float = 45.0) -> Thing:
    """A wall behind the table, seen from -y."""
    return Thing("wall", plane((-140, y, -30), (280, 0, 0), (0, 0, 190), 56), stuff)


def curtain(stuff: Stuff, y: float = 38.0, depth: float = 4.0, seed: int = 0) -> Thing:
    """A hanging cloth behind the table."""
    return Thing("curtain", moved(hanging(190, 130, depth, seed), (0, y, -15)), stuff)


def cloth_on_table(
    stuff: Stuff, size: tuple[float, float] = (74.0, 56.0), height: float = 2.6, seed: int = 1,
    at: Sequence[float] = (0, 0, 0), turn: float = 0.0, name: str = "cloth", clear: float = 0.45,
) -> Thing:  # fmt: skip
    """A cloth on the table with folds round its edge."""
    stuff = replace(stuff, thin=True)  # at an edge that lifts the other side is seen
    return Thing(name, moved(laid(size, height, seed, clear=clear), at, turn=turn), stuff)


def _body(kind: str, size: float) -> Mesh:
    if kind == "lemon":
        return lemon(size)
    if kind == "apple":
        return apple(size)
    if kind == "pear":
        return pear(2.5 * size, size)
    if kind == "egg":
        return egg(size)
    return ball(size, 0.94, 0.08)


def fruit(
    kind: str, stuff: Stuff, at: tuple[float, float], size: float = 3.8, turn: float = 0.0,
        tilt: float = 0.0,
    lift: float = 0.2, name: str | None = None,
) -> Thing:  # fmt: skip
    """A lemon, apple, pear, egg or round fruit at (x, y) on the table."""
    mesh = moved(_body(kind, size), (at[0], at[1], lift), turn=turn, tilt=tilt)
    return Thing(name or kind, mesh, stuff)


def eggs(
    places: Sequence[tuple[float, float, float]], stuff: Stuff, lift: float = 0.2
) -> list[Thing]:
    """Eggs at (x, y, turn in degrees)."""
    return [
        fruit("egg", stuff, (x, y), 5.6, turn, lift=lift, name=f"egg {i + 1}")
        for i, (x, y, turn) in enumerate(places)
    ]
