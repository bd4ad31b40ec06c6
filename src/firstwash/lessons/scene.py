"""The lessons' own still life, drawn from formulas: a jug, two lemons, a plum, a linen towel.

Everything stands on a wooden table by a window on the left. Shapes are outlines with a normal
at every place, so that local colour, light and gloss are known apart from one another. Places
are in millimetres on a sheet of 160 × 120, across and down. Nothing is random.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.picture.reference import Reference
from firstwash.picture.sheet import Sheet

__all__ = ["HEIGHT_MM", "NAMES", "WIDTH_MM", "StillLife", "reference_of", "still_life"]

WIDTH_MM, HEIGHT_MM = 160.0, 120.0
PPMM: Final = 3.0  # pixels per mm, after averaging
FINER: Final = 2  # rays a pixel, each way
NAMES: Final = ("wall", "table", "towel", "jug", "blue enamel", "lemon", "plum")
WALL, TABLE, TOWEL, JUG, ENAMEL, LEMON, PLUM = range(7)

TO_KEY: Final = np.array([-0.60, 0.56, 0.57])  # right, up, towards the eye
KEY: Final = np.array([0.93, 0.98, 1.06])  # window light
ROOM: Final = np.array([0.155, 0.140, 0.125])
BOUNCE: Final = np.array([0.115, 0.070, 0.038])  # off the table, to what looks down
COLOURS: Final = {  # linear sRGB reflectance
    WALL: (0.34, 0.37, 0.335),
    TABLE: (0.36, 0.215, 0.115),
    TOWEL: (0.72, 0.67, 0.57),
    JUG: (0.80, 0.80, 0.755),
    ENAMEL: (0.035, 0.075, 0.23),
    LEMON: (0.83, 0.60, 0.045),
    PLUM: (0.115, 0.035, 0.085),
}
SHINE: Final = {JUG: 0.55, ENAMEL: 0.55, LEMON: 0.16, PLUM: 0.22}
EDGE_OF_TABLE: Final = 72.0
# Half width of the jug at heights down the sheet.
JUG_AT: Final = ((23.0, 13.5), (27.0, 12.4), (40.0, 10.6), (56.0, 15.5), (74.0, 20.0), (86.0, 18.0),
                 (93.0, 14.5))  # fmt: skip
JUG_MIDDLE: Final = 57.0

Picture = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class StillLife:
    """A picture with its truth.

    rgb: (rows, cols, 3) linear sRGB as seen = local · light + gloss. things: (rows, cols) index
    into `NAMES`. ppmm: pixels per mm of a sheet of 160 × 120 mm.
    """

    rgb: Picture
    local: Picture
    light: Picture
    things: NDArray[np.int32]
    ppmm: float


class _Canvas:
    """Fine planes that things are laid on, the nearest last."""

    def __init__(self) -> None:
        per_mm = PPMM * FINER
        rows, cols = round(HEIGHT_MM * per_mm), round(WIDTH_MM * per_mm)
        down, across = np.mgrid[0:rows, 0:cols]
        self.x, self.y = (across + 0.5) / per_mm, (down + 0.5) / per_mm
        self.what = np.zeros((rows, cols), dtype=np.int32)
        self.local = np.zeros((rows, cols, 3))
        self.normal = np.zeros((rows, cols, 3))
        self.normal[..., 2] = 1.0
        self.lit = np.ones((rows, cols))  # share of the key light that arrives
        self.open = np.ones((rows, cols))  # share of the room's light that arrives

    def lay(self, inside: BoolArray, thing: int, normal: FloatArray, dapple: FloatArray) -> None:
        """One thing; normal (rows, cols, 3), dapple (rows, cols) times its colour."""
        self.what[inside] = thing
        self.local[inside] = (np.array(COLOURS[thing]) * dapple[..., None])[inside]
        size = np.linalg.norm(normal, axis=-1, keepdims=True)
        self.normal[inside] = (normal / np.maximum(size, 1e-9))[inside]
        self.lit[inside] = self.open[inside] = 1.0

    def shade(self, where: BoolArray, at: FloatArray, soft: float, key: float, room: float) -> None:
        """A soft shadow: at (rows, cols) below 0 inside, in mm; key, room: shares taken away."""
        cover = 1.0 / (1.0 + np.exp(np.clip(at / soft, -30.0, 30.0)))
        self.lit[where] *= (1.0 - key * cover)[where]
        self.open[where] *= (1.0 - room * cover)[where]


Plane = FloatArray | float


def _stack(right: Plane, up: Plane, near: Plane) -> FloatArray:
    return np.stack(np.broadcast_arrays(right, up, near), axis=-1)


def _ellipse(c: _Canvas, x: float, y: float, a: float, b: float, turn: float) -> FloatArray:
    """(2, rows, cols): places in an ellipse's own units, 1 on its outline."""
    t = np.radians(turn)
    dx, dy = c.x - x, c.y - y
    return np.stack([(dx * np.cos(t) + dy * np.sin(t)) / a, (dy * np.cos(t) - dx * np.sin(t)) / b])


def _shadow_at(c: _Canvas, x: float, y: float, a: float, b: float, turn: float) -> FloatArray:
    """Roughly the distance in mm (rows, cols) from an ellipse, below 0 inside."""
    u, v = _ellipse(c, x, y, a, b, turn)
    return np.asarray((np.hypot(u, v) - 1.0) * min(a, b))


def _room(c: _Canvas) -> None:
    """Wall and table, and what the things cast on them."""
    plain = np.ones_like(c.x)
    c.lay(c.y < EDGE_OF_TABLE, WALL, _stack(0.0, 0.0, plain), plain)
    grain = 1.0 + 0.10 * np.sin(c.y * 1.1 + 0.9 * np.sin(c.x * 0.05)) * np.sin(c.x * 0.03 + 1.0)
    c.lay(c.y >= EDGE_OF_TABLE, TABLE, _stack(0.0, plain, 0.45), grain)
    wall, table = c.what == WALL, c.what == TABLE
    c.lit[wall] *= np.clip(1.12 - 0.0042 * c.x, 0.3, 1.1)[wall]
    c.shade(wall, _shadow_at(c, 118.0, 74.0, 40.0, 30.0, -12.0), 5.0, 0.62, 0.10)
    for x, y, a, b, turn, soft in (
        (88.0, 93.0, 38.0, 8.5, -3.0, 1.8),  # the jug's
        (112.0, 98.5, 17.0, 5.0, 0.0, 1.2),  # a lemon's
        (40.0, 104.5, 14.5, 4.4, 0.0, 1.0),  # the plum's
    ):
        c.shade(table, _shadow_at(c, x, y, a, b, turn), soft, 0.86, 0.25)


def _towel(c: _Canvas) -> None:
    """A linen towel folded twice, its near edge towards the eye."""
    across = (c.x - 102.0 - 0.28 * (c.y - 86.0)) / 52.0
    top = 85.0 + 2.6 * across + 0.7 * np.sin(7.0 * across)
    ridge = np.sin(across * 9.0 + 0.10 * (c.y - 85.0)) + 0.5 * np.sin(across * 17.0 + 1.3)
    inside = (across > 0.0) & (across < 1.0) & (c.y > top) & (c.y < top + 17.0)
    weave = 1.0 + 0.03 * np.sin(c.x * 7.0) * np.sin(c.y * 7.0)
    c.lay(inside, TOWEL, _stack(-0.30 * ridge, np.ones_like(c.x), 0.45), weave)
    for fold in range(3):
        low = top + 17.0 + 2.6 * fold
        edge = (across > 0.004 * fold) & (across < 1.0) & (c.y >= low) & (c.y < low + 2.6)
        round_ = np.clip((c.y - low) / 2.6 * 2.0 - 0.8, -1.0, 1.0)
        c.lay(edge, TOWEL, _stack(-0.25, -0.9 * round_, 0.7 + 0.0 * c.x), weave)
    stripe = (c.what == TOWEL) & (np.abs(across - 0.80) < 0.045)
    c.local[stripe] = np.array([0.10, 0.16, 0.30])
    c.shade(c.what == TOWEL, _shadow_at(c, 131.0, 95.5, 15.0, 4.6, 3.0), 1.0, 0.86, 0.3)


def _jug(c: _Canvas) -> None:
    """An enamel jug, seen a little from above, with a dark blue rim and handle."""
    u, v = _ellipse(c, 77.0, 50.0, 15.0, 19.0, 8.0)
    out = np.hypot(u, v)
    ring = (np.abs(out - 0.9) < 0.13) & (c.x > JUG_MIDDLE + 8.0)
    side = (out - 0.9) / 0.13
    depth = np.sqrt(np.clip(1.0 - side**2, 0.0, 1.0))
    c.lay(ring, ENAMEL, _stack(side * u / out, -side * v / out, depth), np.ones_like(c.x))
    heights, halves = np.array(JUG_AT).T
    half = np.interp(c.y, heights, halves)
    half = cv2.GaussianBlur(half, (0, 0), 3.0 * PPMM * FINER)
    slope = np.gradient(half, axis=0) * PPMM * FINER
    u = (c.x - JUG_MIDDLE) / half
    foot = 93.0 + 3.0 * np.sqrt(np.clip(1.0 - u**2, 0.0, 1.0))
    mouth = 24.0 + 3.0 * np.sqrt(np.clip(1.0 - u**2, 0.0, 1.0))
    body = (np.abs(u) < 1.0) & (c.y > mouth) & (c.y < foot)
    near = np.sqrt(np.clip(1.0 - u**2, 0.0, 1.0))
    c.lay(body, JUG, _stack(u, slope, near), np.ones_like(c.x))
    c.lay(body & (c.y < mouth + 2.4), ENAMEL, _stack(u, slope, near), np.ones_like(c.x))
    u, v = _ellipse(c, JUG_MIDDLE, 24.0, 13.5, 3.0, 0.0)
    hole = np.hypot(u, v) < 1.0
    c.lay(hole, JUG, _stack(-u, 0.2 + 0.0 * u, np.full_like(u, 0.5)), np.full_like(u, 0.72))
    c.shade(hole, -(c.x - JUG_MIDDLE + 2.0), 2.5, 0.0, 0.0)
    c.lit[hole] *= np.clip((c.x - JUG_MIDDLE + 14.0) / 30.0, 0.1, 0.8)[hole]


def _plum(c: _Canvas) -> None:
    u, v = _ellipse(c, 31.0, 96.0, 10.6, 10.0, 0.0)
    out = np.hypot(u, v)
    near = np.sqrt(np.clip(1.0 - out**2, 0.0, 1.0))
    bloom = 1.0 + 0.6 * np.clip(0.3 - v, 0.0, 1.0)
    c.lay(out < 1.0, PLUM, _stack(u, -v, near), bloom)


def _lemon(c: _Canvas, x: float, y: float, half: float, turn: float) -> None:
    """A lemon turned about its own length, drawn out to a nipple at both ends."""
    u, v = _ellipse(c, x, y, half, half, turn)
    along = np.linspace(-1.0, 1.0, 401)
    body = 0.70 * np.sqrt(np.clip(1.0 - (along / 0.93) ** 2, 0.0, 1.0))
    nipple = 0.16 * np.sqrt(np.clip(1.0 - along**2, 0.0, 1.0))
    thick = cv2.GaussianBlur((body**6 + nipple**6) ** (1.0 / 6.0), (1, 0), 0, sigmaY=8.0).ravel()
    thick[[0, -1]] = 0.0
    wide = np.interp(u, along, thick, 0.0, 0.0)
    slope = -np.interp(u, along, np.gradient(thick, along))
    v = np.clip(v / np.maximum(wide, 1e-6), -2.0, 2.0)
    near = np.sqrt(np.clip(1.0 - v**2, 0.0, 1.0))
    t = np.radians(turn)
    right, down = slope * np.cos(t) - v * np.sin(t), slope * np.sin(t) + v * np.cos(t)
    pores = 1.0 + 0.03 * np.sin(c.x * 5.1) * np.sin(c.y * 5.7)
    c.lay((np.abs(v) < 1.0) & (wide > 0.0), LEMON, _stack(right, -down, near), pores)


def _light(c: _Canvas) -> tuple[FloatArray, FloatArray]:
    """Light (rows, cols, 3) that falls on everything, and what is thrown back as gloss."""
    faces = c.normal @ TO_KEY
    key = np.clip((faces + 0.12) / 1.12, 0.0, None) * c.lit
    down = np.clip(0.35 - c.normal[..., 1], 0.0, 1.3) * (c.what != WALL)
    light = key[..., None] * KEY * 1.02 + (c.open[..., None] * ROOM) + down[..., None] * BOUNCE
    half = TO_KEY + np.array([0.0, 0.0, 1.0])
    shines = np.clip(c.normal @ (half / np.linalg.norm(half)), 0.0, 1.0)
    amount = np.array([SHINE.get(i, 0.0) for i in range(len(NAMES))])[c.what]
    gloss = amount * np.where(c.what == JUG, shines**90, shines**45) * c.lit
    return light, gloss[..., None] * KEY


def still_life() -> StillLife:
    """The still life, 480 × 360 pixels; the same at every call."""
    c = _Canvas()
    _room(c)
    _towel(c)
    _jug(c)
    _lemon(c, 96.0, 89.0, 16.0, -12.0)
    _lemon(c, 122.0, 94.0, 15.0, 20.0)
    _plum(c)
    light, gloss = _light(c)
    rows, cols = (n // FINER for n in c.what.shape)
    rgb, local, lit = (_smaller(p, rows, cols) for p in (c.local * light + gloss, c.local, light))
    things = c.what[FINER // 2 :: FINER, FINER // 2 :: FINER]
    return StillLife(rgb, local, lit, np.ascontiguousarray(things), PPMM)


def _smaller(plane: FloatArray, rows: int, cols: int) -> Picture:
    fine = np.ascontiguousarray(plane, dtype=np.float32)
    return np.asarray(cv2.resize(fine, (cols, rows), interpolation=cv2.INTER_AREA), np.float32)


def reference_of(scene: StillLife) -> Reference:
    """The still life laid on its sheet of 160 × 120 mm, as a plan takes it."""
    rows, cols = (round(n * 2.0 / scene.ppmm) for n in scene.rgb.shape[:2])
    small = (round(n / scene.ppmm) for n in scene.rgb.shape[:2])
    xyz = np.maximum(linear_srgb_to_xyz(_smaller(scene.rgb, rows, cols)), 0.0)
    judge = np.maximum(linear_srgb_to_xyz(_smaller(scene.rgb, *small)), 0.0)
    return Reference(
        xyz=xyz.astype(np.float32),
        judge_xyz=judge.astype(np.float32),
        weight=np.ones((rows, cols), dtype=np.float32),
        zone=np.zeros((rows, cols), dtype=np.int32),
        ppmm=2.0,
        judge_ppmm=1.0,
        sheet=Sheet(WIDTH_MM, HEIGHT_MM, fixed=True),
        photo_px=(scene.rgb.shape[1], scene.rgb.shape[0]),
    )
