"""Plain pictures with known light, drawn at random: a second opinion on the still lifes.

Balls, blocks and a wall on a table under one broad lamp, a sky or a bounce, and one bounce
from the table. No path tracing: the light is summed directly, so these pictures err in other ways
than those of `still_lifes`, which is the point: what works on both was not fitted to either.

Gloss: [TrowbridgeReitz1975] with Schlick's Fresnel factor [Schlick1994].
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.picture.white_balance import glowing_uv

__all__ = ["Balls", "glow_rgb", "random_balls"]

Array = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
LAMP_RAYS, SKY_RAYS = 16, 14
FAR = 1e9


@dataclass(frozen=True, eq=False)
class Balls:
    """A drawn picture and its truth; the fields are those of `still_lifes`' `Rendered`.

    rgb, reflectance, light, gloss: (rows, cols, 3) linear sRGB, rgb = reflectance·light + gloss.
    objects: (rows, cols) int32. shadow: (rows, cols) 0-1, share of the lamp blocked by something
    else. facing: (rows, cols) cosine to the lamp. key, fill: (3,) linear sRGB.
    """

    rgb: NDArray[np.float32]
    reflectance: NDArray[np.float32]
    light: NDArray[np.float32]
    gloss: NDArray[np.float32]
    objects: NDArray[np.int32]
    shadow: NDArray[np.float32]
    facing: NDArray[np.float32]
    key: NDArray[np.float64]
    fill: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Solid:
    """One thing: a ball (centre, radius) or a block (centre, half sizes, turned by `turn`)."""

    centre: Array
    half: Array
    turn: float
    ball: bool
    colours: Array  # (2, 3)
    pattern: int  # 0 plain, 1 stripes, 2 checks, 3 blotches
    pitch: float
    rough: float
    shine: float  # reflectance at right angles; 0 = matte


def glow_rgb(kelvin: float, off: float = 0.0) -> Array:
    """Linear sRGB (3,), luminance 1, of a glowing body moved `off` in v; see `glowing_uv`."""
    u, v = glowing_uv(np.array(kelvin)) + np.array([0.0, off])
    rest = 2.0 * u - 8.0 * v + 4.0
    x, y = 3.0 * u / rest, 2.0 * v / rest
    rgb = xyz_to_linear_srgb(np.array([x / y, 1.0, (1.0 - x - y) / y]))
    return np.asarray(np.maximum(rgb, 0.01))


def random_balls(seed: int, rows: int = 240, cols: int = 320) -> Balls:
    """The picture of this seed (any int)."""
    rng = np.random.default_rng(seed)
    solids = _solids(rng)
    key = glow_rgb(1e6 / rng.uniform(85, 410), rng.normal(0, 0.004))
    fill = glow_rgb(1e6 / rng.uniform(70, 350), rng.normal(0, 0.006)) * rng.uniform(0.08, 0.5)
    lamp = _lamp(rng)
    eye = np.array([rng.uniform(-0.6, 0.6), -5.5, rng.uniform(1.6, 3.4)])
    rays = _rays(eye, rows, cols)
    return _draw(solids, (lamp, rng.uniform(0.15, 0.8)), (key, fill), eye, rays)


def _colour(rng: np.random.Generator) -> Array:
    """A reflectance (3,): more often dull than strong, and a third of them nearly grey."""
    if rng.random() < 0.35:
        grey = rng.uniform(0.04, 0.85) * np.array([1.06, 1.0, 0.9]) ** rng.normal(0.5, 1.0)
        return np.asarray(np.clip(grey, 0.02, 0.9))
    hue, strength = rng.uniform(0, 2 * np.pi), rng.beta(1.3, 1.6)
    wheel = 0.5 + 0.5 * np.cos(hue - np.array([0, 2 * np.pi / 3, 4 * np.pi / 3]))
    return np.asarray(rng.uniform(0.12, 0.88) * ((1 - strength) + strength * wheel) + 0.015)


def _stuff(rng: np.random.Generator) -> tuple[Array, int, float, float, float]:
    colours = np.stack([_colour(rng), _colour(rng)])
    pattern = int(rng.choice([0, 0, 0, 0, 0, 1, 2, 3]))
    shine = float(rng.choice([0.0, 0.03, 0.04, 0.05]))
    return colours, pattern, rng.uniform(0.1, 0.6), float(rng.uniform(0.08, 0.5)), shine


def _solids(rng: np.random.Generator) -> list[_Solid]:
    big = 40.0
    found = [
        _Solid(np.array([0, 0, -1.0]), np.array([big, big, 1.0]), 0.0, False, *_stuff(rng)),
        _Solid(np.array([0, big + 2.5, 0]), np.array([big, big, big]), 0.0, False, *_stuff(rng)),
    ]
    for _ in range(rng.integers(3, 7)):
        size, ball = rng.uniform(0.35, 0.85), bool(rng.random() < 0.6)
        half = np.full(3, size) if ball else size * rng.uniform(0.5, 1.1, 3)
        spot = np.array([rng.uniform(-2.0, 2.0), rng.uniform(-1.2, 1.6), half[2]])
        found.append(_Solid(spot, half, rng.uniform(0, np.pi), ball, *_stuff(rng)))
    return found


def _lamp(rng: np.random.Generator) -> Array:
    around, high = rng.uniform(-2.4, 2.4), rng.uniform(0.35, 1.2)
    way = np.array([np.sin(around) * np.cos(high), -np.cos(around) * np.cos(high), np.sin(high)])
    return np.asarray(way * 7.0)


def _rays(eye: Array, rows: int, cols: int) -> Array:
    ahead = np.array([0.0, 0.0, 0.5]) - eye
    ahead /= np.linalg.norm(ahead)
    right = np.cross(ahead, UP)
    right /= np.linalg.norm(right)
    down, across = np.mgrid[0:rows, 0:cols]
    x, y = (across - cols / 2) / cols * 0.95, -(down - rows / 2) / cols * 0.95
    ways = ahead + x[..., None] * right + y[..., None] * np.cross(right, ahead)
    return np.asarray((ways / np.linalg.norm(ways, axis=-1, keepdims=True)).reshape(-1, 3))


def _turned(points: Array, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]))


def _reach(solid: _Solid, start: Array, way: Array) -> Array:
    """Distance (n,) at which rays meet the solid; `FAR` where they miss."""
    if solid.ball:
        off = start - solid.centre
        b, c = (off * way).sum(1), (off * off).sum(1) - solid.half[0] ** 2
        root = b * b - c
        near = -b - np.sqrt(np.maximum(root, 0))
        return np.where((root > 0) & (near > 1e-4), near, FAR)
    off, ray = _turned(start - solid.centre, solid.turn), _turned(way, solid.turn)
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (-solid.half - off) / ray, (solid.half - off) / ray
    near, far = np.minimum(one, two).max(1), np.maximum(one, two).min(1)
    return np.where((near < far) & (near > 1e-4), near, FAR)


def _normals(solid: _Solid, points: Array) -> Array:
    off = points - solid.centre
    if solid.ball:
        return np.asarray(off / solid.half[0])
    inside = _turned(off, solid.turn) / solid.half
    side = np.abs(inside).argmax(1)
    flat = np.zeros_like(inside)
    flat[np.arange(len(side)), side] = np.sign(inside[np.arange(len(side)), side])
    return _turned(flat, -solid.turn)


def _painted(solid: _Solid, points: Array) -> Array:
    """Reflectance (n, 3) of points on the solid."""
    p = (points - solid.centre) / solid.pitch
    if solid.pattern == 1:
        pick = np.sin(6 * p[:, 0] + 2 * p[:, 2]) > 0.3
    elif solid.pattern == 2:
        pick = (np.floor(p + 1e-6).sum(1).astype(int) % 2) > 0
    elif solid.pattern == 3:
        pick = np.sin(5 * p[:, 0]) + np.sin(4 * p[:, 1] + 1) + np.sin(6 * p[:, 2]) > 0.6
    else:
        pick = np.zeros(len(p), dtype=bool)
    return np.asarray(solid.colours[pick.astype(int)])


def _seen(solids: list[_Solid], start: Array, goal: Array, own: Array, thing: Array) -> Array:
    """Share 0/1 (n,) of rays to `goal` that nothing but the own solid blocks."""
    way = goal - start
    far = np.linalg.norm(way, axis=1)
    way = way / far[:, None]
    free = np.ones(len(start))
    for i, solid in enumerate(solids):
        hit = _reach(solid, start + 1e-3 * own, way) < far - 1e-3
        free[hit & (thing != i)] = 0.0
    return free


def _shine(solid: _Solid, normal: Array, view: Array, to_lamp: Array) -> Array:
    """Gloss (n,) towards the eye of a lamp of irradiance π, cosine included."""
    half = view + to_lamp
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    nh, vh = np.maximum((normal * half).sum(1), 0), np.maximum((view * half).sum(1), 0)
    nv, nl = np.maximum((normal * view).sum(1), 0.05), np.maximum((normal * to_lamp).sum(1), 0)
    a2 = solid.rough**4
    spread = a2 / (np.pi * ((nh * nh) * (a2 - 1) + 1) ** 2)
    fresnel = solid.shine + (1 - solid.shine) * (1 - vh) ** 5
    k = solid.rough**2 / 2
    mask = 1 / ((nv * (1 - k) + k) * (nl * (1 - k) + k))
    return np.asarray(np.pi * spread * fresnel * mask * nl / 4)


def _draw(
    solids: list[_Solid],
    lamp: tuple[Array, float],
    lights: tuple[Array, Array],
    eye: Array,
    rays: Array,
) -> Balls:
    start = np.broadcast_to(eye, rays.shape)
    reach = np.stack([_reach(s, start, rays) for s in solids])
    thing = reach.argmin(0)
    points = start + reach.min(0)[:, None] * rays
    normal, paint = np.zeros_like(points), np.zeros_like(points)
    for i, solid in enumerate(solids):
        mine = thing == i
        normal[mine], paint[mine] = _normals(solid, points[mine]), _painted(solid, points[mine])
    to_lamp = lamp[0] - points
    to_lamp /= np.linalg.norm(to_lamp, axis=1, keepdims=True)
    facing = (normal * to_lamp).sum(1)
    free = np.zeros(len(points))
    for place in _spread_out(LAMP_RAYS):  # the same for every point: steps instead of grain
        goal = lamp[0] + lamp[1] * place
        free += _seen(solids, points, goal, normal, thing) / LAMP_RAYS
    free = _calmed(free, 0.4)
    open_sky = _calmed(_open_sky(solids, points, normal, thing), 0.25)
    key, fill = lights
    table = solids[0].colours[0] * (key * max(lamp[0][2] / 7.0, 0.1) * 0.7 + fill)
    bounce = table * (0.5 * (1 - normal[:, 2]) * (thing != 0))[:, None] * 0.7
    light = key * (np.maximum(facing, 0) * free)[:, None] + fill * open_sky[:, None] + bounce
    gloss = np.zeros_like(light)
    for i, solid in enumerate(solids):
        mine = thing == i
        if solid.shine > 0 and mine.any():
            view = -rays[mine]
            shine = _shine(solid, normal[mine], view, to_lamp[mine]) * free[mine]
            rim = 0.6 * solid.shine + (1 - (view * normal[mine]).sum(1)).clip(0) ** 5 * 0.4
            gloss[mine] = shine[:, None] * key + (rim * open_sky[mine])[:, None] * fill
    return _picture(paint, light, gloss, (thing, 1 - free, facing), (key, fill))


def _open_sky(solids: list[_Solid], points: Array, normal: Array, thing: Array) -> Array:
    """Share (n,) of the sky that a point sees, weighted by the cosine."""
    total = np.zeros(len(points))
    for place in _spread_out(SKY_RAYS):
        way = place + normal * 1.001
        way /= np.linalg.norm(way, axis=1, keepdims=True)
        sky = 0.35 + 0.65 * (way[:, 2] > 0)
        total += _seen(solids, points, points + way * 3.0, normal, thing) * sky / SKY_RAYS
    return total


def _picture(
    paint: Array,
    light: Array,
    gloss: Array,
    truth: tuple[FloatArray, ...],
    lights: tuple[Array, ...],
) -> Balls:

    def plane(values: FloatArray) -> NDArray[np.float32]:
        shaped = values.reshape(*_sides(len(values)), -1).astype(np.float32)
        return np.asarray(shaped.squeeze())

    smooth, shine, colour = plane(light), plane(gloss), plane(paint)
    rgb = colour * smooth + shine
    scale = np.float32(1.0 / np.percentile(rgb.max(-1), 99.5))
    thing, shadow, facing = truth
    return Balls(
        rgb * scale,
        colour,
        smooth * scale,
        shine * scale,
        plane(thing).astype(np.int32),
        plane(shadow),
        plane(facing),
        lights[0],
        lights[1],
    )


def _spread_out(count: int) -> Array:
    """Points (count, 3) spread evenly over the unit ball's skin, on Fibonacci's spiral."""
    step = np.arange(count) + 0.5
    up, around = 1 - 2 * step / count, np.pi * (1 + 5**0.5) * step
    flat = np.sqrt(1 - up * up)
    return np.column_stack([flat * np.cos(around), flat * np.sin(around), up])


def _calmed(values: Array, apart: float) -> Array:
    """Values (n,) without the grain that few rays leave; steps of more than `apart` stay."""
    shaped = values.reshape(_sides(len(values))).astype(np.float32)
    return np.asarray(cv2.bilateralFilter(shaped, 9, apart, 3.0), dtype=np.float64).ravel()


def _sides(count: int) -> tuple[int, int]:
    rows = round((count * 0.75) ** 0.5)
    return rows, count // rows
