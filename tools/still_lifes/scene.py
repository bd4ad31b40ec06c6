"""What a still life is made of: things of some stuff, lamps, sky, eye. Lengths in cm, z up."""

from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.picture.white_balance import glowing_uv

__all__ = [
    "GLASS", "GLOW", "METAL", "SOLID", "Eye", "Lamp", "Mesh", "Scene", "Sky", "Stuff", "Thing",
    "ball_lamp", "glow", "sun", "tinted", "window",
]  # fmt: skip

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Colour = tuple[float, float, float]  # linear sRGB primaries

SOLID: Final = 0
METAL: Final = 1
GLASS: Final = 2
GLOW: Final = 3  # gives light to the eye only; the lamp it stands for lights the scene

BALL: Final = 0
SUN: Final = 1
WINDOW: Final = 2


class Mesh(NamedTuple):
    """points, normals, places: (n, 3); faces: (m, 3) indices of points, seen from outside.

    places are where a point lies in the thing's own pattern, in cm.
    """

    points: Array
    normals: Array
    places: Array
    faces: Ints


@dataclass(frozen=True)
class Stuff:
    """What a thing is made of.

    colours: reflectances of up to three parts of the `pattern` (see `surfaces`), `pitch` cm wide;
    knobs: two numbers of the pattern's own. shine: reflectance of the coat at right angles, 0
    matte; rough: 0.05 a mirror's, 0.6 an eggshell's. bump: steepness of relief `bump_pitch` cm
    wide. thin: both sides are seen, `through` is the share of light that comes through.
    """

    colours: tuple[Colour, ...]
    pattern: str = "plain"
    pitch: float = 1.0
    knobs: tuple[float, float] = (0.0, 0.0)
    shine: float = 0.0
    rough: float = 0.3
    bump: float = 0.0
    bump_pitch: float = 0.3
    thin: bool = False
    through: float = 0.0
    kind: int = SOLID


@dataclass(frozen=True)
class Lamp:
    """A lamp. `rgb` times its geometry is irradiance/π; its makers take the light at the origin.

    kind: BALL of `radius` cm, a SUN of `radius` = tangent of half its width, or a WINDOW spanned
    by `across` and `up` from its middle, with a cross of bars. cone: cosines where a
    spot begins to fade and where it ends.
    """

    kind: int
    place: Colour
    rgb: Colour
    radius: float = 0.0
    across: Colour = (0.0, 0.0, 0.0)
    up: Colour = (0.0, 0.0, 0.0)
    cone: tuple[float, float] = (-2.0, -3.0)


@dataclass(frozen=True)
class Sky:
    """Radiance from where nothing is: overhead, at the horizon, from below; cloud 0-1."""

    top: Colour = (0.1, 0.1, 0.1)
    edge: Colour = (0.1, 0.1, 0.1)
    ground: Colour = (0.05, 0.05, 0.05)
    cloud: float = 0.0


@dataclass(frozen=True)
class Eye:
    """Where the painter sits, what is looked at, and half the angle of view across (degrees)."""

    place: Colour = (0.0, -75.0, 32.0)
    at: Colour = (0.0, 0.0, 8.0)
    half_angle: float = 20.0


@dataclass(frozen=True, eq=False)
class Thing:
    """One thing: a name, a mesh, its stuff."""

    name: str
    mesh: Mesh
    stuff: Stuff


@dataclass(frozen=True, eq=False)
class Scene:
    """A set-up. The first lamp is the key. exposure: on top of white at the 99.5th percentile;
    balance: share of the key's colour that the camera takes out, 0-1.
    """

    things: tuple[Thing, ...]
    lamps: tuple[Lamp, ...]
    sky: Sky = field(default_factory=Sky)
    eye: Eye = field(default_factory=Eye)
    exposure: float = 1.0
    balance: float = 0.0


def glow(kelvin: float, off: float = 0.0, strength: float = 1.0) -> Colour:
    """Light of a glowing body in linear sRGB, luminance `strength`, moved `off` in CIE 1960 v.

    Below about 1900 K blue lies outside sRGB and is cut at 0.
    """
    u, v = glowing_uv(np.array(kelvin)) + np.array([0.0, off])
    rest = 2.0 * u - 8.0 * v + 4.0
    x, y = 3.0 * u / rest, 2.0 * v / rest
    rgb = np.maximum(xyz_to_linear_srgb(np.array([x / y, 1.0, (1.0 - x - y) / y])), 0.004)
    r, g, b = (float(c) * strength for c in rgb)
    return r, g, b


def tinted(colour: Colour, by: float) -> Colour:
    """The colour times a number."""
    return colour[0] * by, colour[1] * by, colour[2] * by


def ball_lamp(
    place: Colour, rgb: Colour, radius: float = 4.0, spot: tuple[float, float] | None = None
) -> Lamp:
    """A lamp giving `rgb` at the origin; spot: half angles (degrees) of full and no light."""
    cone = (-2.0, -3.0) if spot is None else tuple(float(np.cos(np.radians(a))) for a in spot)
    return Lamp(
        BALL, place, tinted(rgb, float(np.dot(place, place))), radius, cone=(cone[0], cone[1])
    )


def sun(way: Colour, rgb: Colour, half_degrees: float = 0.27) -> Lamp:
    """The sun in the direction `way` (any length); 0.27° is half its true width."""
    unit = np.asarray(way) / np.linalg.norm(way)
    return Lamp(SUN, (unit[0], unit[1], unit[2]), rgb, float(np.tan(np.radians(half_degrees))))


def window(place: Colour, size: tuple[float, float], rgb: Colour) -> Lamp:
    """An upright window (width, height cm) facing the origin, that gives `rgb` light there."""
    middle = np.asarray(place)
    away = np.array([middle[0], middle[1], 0.0]) / np.hypot(middle[0], middle[1])
    side = np.array([-away[1], away[0], 0.0]) * size[0]
    distance = float(np.linalg.norm(middle))
    cosine = float(middle @ away) / distance
    radiance = tinted(rgb, distance**2 / (size[0] * size[1] * cosine))
    return Lamp(WINDOW, place, radiance, 0.0, (side[0], side[1], 0.0), (0.0, 0.0, size[1]))
