"""Patterns of the things' surfaces: reflectances, linear sRGB, from places in cm.

Each takes a place (x, y, z) already divided by the pattern's pitch, two knobs, and says how much
of the second and of the third colour is seen there; all detail comes from hashed noise.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from still_lifes.grain import hash01, layers3, noise3
from still_lifes.kernel import kernel

__all__ = ["PATTERNS", "reflectance"]

Array = NDArray[np.float64]
Parts = tuple[float, float]

PATTERNS: Final = (
    "plain", "checks", "stripes", "wood", "marble", "speckle", "rosettes", "veins", "blush",
    "label", "bands", "leaf", "weave", "bricks", "streaks", "strands",
)  # fmt: skip


@kernel
def _step(edge: float, x: float, soft: float) -> float:
    t = min(1.0, max(0.0, (x - edge) / soft + 0.5))
    return t * t * (3.0 - 2.0 * t)


@kernel
def _saw(x: float) -> float:
    return x - math.floor(x)


@kernel
def _checks(x: float, y: float, gingham: float) -> Parts:
    """Two colours by turns; with gingham 1 the woven kind, third colour where bands cross."""
    a, b = _step(0.5, _saw(x), 0.03), _step(0.5, _saw(y), 0.03)
    if gingham > 0.5:
        return a + b - 2.0 * a * b, a * b
    return a + b - 2.0 * a * b, 0.0


@kernel
def _stripes(x: float, share: float, fine: float) -> Parts:
    """Bands of the second colour, `share` wide, each with fine lines of the third beside it."""
    t = _saw(x)
    band = _step(0.5 - 0.5 * share, t, 0.03) - _step(0.5 + 0.5 * share, t, 0.03)
    line = (_step(0.06, t, 0.02) - _step(0.06 + 0.5 * fine, t, 0.02)) if fine > 0.0 else 0.0
    return band, max(line, 0.0)


@kernel
def _wood(x: float, y: float, z: float) -> Parts:
    """Growth rings cut lengthwise along x, with pores."""
    bend = 0.6 * layers3(0.15 * x, y * 0.6, z * 0.6, 3)
    ring = _saw(1.4 * y + 1.4 * z + 2.0 * bend)
    pores = max(0.0, noise3(x * 0.9, y * 14.0, z * 14.0) - 0.35) * 1.3
    return 0.15 + 0.7 * ring * ring, min(1.0, pores)


@kernel
def _marble(x: float, y: float, z: float) -> Parts:
    warp = layers3(0.5 * x, 0.5 * y, 0.5 * z, 4)
    vein = 1.0 - abs(noise3(x * 0.7 + 2.5 * warp, y * 0.7 + 1.5 * warp, z * 0.7))
    cloud = 0.5 + layers3(x * 0.3 + 9.0, y * 0.3, z * 0.3, 3)
    return min(1.0, max(0.0, vein) ** 9), min(1.0, max(0.0, 0.6 * cloud))


@kernel
def _speckle(x: float, y: float, z: float, size: float) -> Parts:
    """Dots on a slow drift towards the third colour, as on pears and eggs."""
    i, j, k = math.floor(x), math.floor(y), math.floor(z)
    dot = 0.0
    for n in range(27):
        a, b, c = i + n % 3 - 1, j + n // 3 % 3 - 1, k + n // 9 - 1
        dx = x - a - hash01(a, b, c)
        dy = y - b - hash01(a + 7, b, c)
        dz = z - c - hash01(a, b + 7, c)
        r = size * (0.4 + 0.6 * hash01(a, b, c + 7))
        dot = max(dot, 1.0 - _step(r, math.sqrt(dx * dx + dy * dy + dz * dz), 0.4 * r))
    drift = 0.5 + 0.9 * layers3(0.12 * x, 0.12 * y, 0.12 * z + 5.0, 3)
    return 0.8 * dot, min(1.0, max(0.0, drift))


@kernel
def _rosettes(x: float, y: float, turned: float) -> Parts:
    """Printed flowers in a half drop: five petals of the second colour, a heart of the third."""
    col = math.floor(x)
    v = y + 0.5 * (col - 2.0 * math.floor(col / 2.0))
    dx, dy = _saw(x) - 0.5, _saw(v) - 0.5
    r, angle = math.sqrt(dx * dx + dy * dy), math.atan2(dy, dx) + turned
    petals = 0.24 + 0.08 * math.cos(5.0 * angle)
    heart = 1.0 - _step(0.08, r, 0.02)
    stem = 0.0
    if abs(dx) < 0.03 and dy < -0.25:
        stem = 1.0
    return (1.0 - _step(petals, r, 0.03)) * (1.0 - heart), max(heart, stem)


@kernel
def _veins(x: float, y: float) -> Parts:
    """A petal: x across in -1..1, y from heart (0) to rim (1)."""
    fan = math.sin(26.0 * x / (0.35 + 0.65 * y) + 2.0 * noise3(3.0 * x, 2.0 * y, 0.0))
    line = max(0.0, fan) ** 6 * (1.0 - y) * 1.1
    return min(1.0, max(0.0, line)), (1.0 - _step(0.28, y + 0.08 * noise3(6.0 * x, 0.0, 3.0), 0.35))


@kernel
def _blush(x: float, y: float, z: float, lean: float, hard: float) -> Parts:
    """One side reddened, in streaks along the height, as on an apple or a peach."""
    side = lean + 0.55 * layers3(0.5 * x, 0.5 * y, 0.2 * z, 3) + 0.18 * x
    around = math.atan2(y, x)
    streak = 0.35 * hard * noise3(9.0 * math.cos(around), 9.0 * math.sin(around), 0.35 * z)
    fleck = max(0.0, noise3(3.0 * x, 3.0 * y, 3.0 * z) - 0.62) * 2.0
    return _step(0.0, side + streak, 0.35 + 0.4 * (1.0 - hard)), fleck


@kernel
def _label(x: float, y: float, low: float, high: float) -> Parts:
    """A paper label between two heights: lines of writing, a frame; x along the rim in cm."""
    wide = 3.2
    if y < low or y > high or abs(x) > wide:
        return 0.0, 0.0
    t = (y - low) / (high - low)
    edge = min(min(t, 1.0 - t) * (high - low), wide - abs(x))
    if 0.25 < edge < 0.4:
        return 1.0, 1.0
    row = _saw(t * 6.0)
    word = noise3(2.2 * x, math.floor(t * 6.0) * 3.7, 1.0) > -0.15
    inked = edge > 0.7 and 0.3 < row < 0.7 and word
    return 1.0, (1.0 if inked else 0.0)


@kernel
def _bands(y: float, low: float, high: float) -> Parts:
    """Glaze bands round a pot between two heights: one broad, two fine."""
    broad = _step(low, y, 0.08) - _step(high, y, 0.08)
    fine = _step(high + 0.4, y, 0.06) - _step(high + 0.65, y, 0.06)
    fine += _step(low - 0.65, y, 0.06) - _step(low - 0.4, y, 0.06)
    return broad, fine


@kernel
def _leaf(x: float, y: float) -> Parts:
    """A leaf: midrib and slanting side veins of the second colour, blotches of the third."""
    rib = 1.0 - _step(0.035, abs(x), 0.03)
    side = abs(_saw(7.0 * (y - 0.45 * abs(x))) - 0.5)
    vein = (1.0 - _step(0.05, side, 0.05)) * 0.6
    return max(rib, vein), min(1.0, max(0.0, 0.4 + 1.2 * layers3(3.0 * x, 3.0 * y, 1.0, 3)))


@kernel
def _weave(x: float, y: float) -> Parts:
    """Linen: threads over and under, some thicker than others."""
    warp = abs(_saw(x + 0.15 * noise3(0.1 * x, 0.6 * y, 0.0)) - 0.5)
    weft = abs(_saw(y + 0.15 * noise3(0.6 * x, 0.1 * y, 4.0)) - 0.5)
    over = hash01(math.floor(x), math.floor(y), 3)
    gap = min(1.0, 1.6 * max(warp, weft) - 0.1)
    slub = max(0.0, noise3(0.15 * x, 1.0 * y, 8.0) - 0.25)
    return min(1.0, 0.35 * gap + 0.25 * over), min(1.0, slub)


@kernel
def _bricks(x: float, y: float) -> Parts:
    """Bricks or tiles, twice as long as high, in running bond, joints of the third colour."""
    row = math.floor(y)
    u = 0.5 * x + 0.5 * (row - 2.0 * math.floor(row / 2.0))
    edge = min(min(_saw(u), 1.0 - _saw(u)) * 2.0, min(_saw(y), 1.0 - _saw(y)))
    joint = 1.0 - _step(0.05, edge, 0.04)
    tone = hash01(math.floor(u), int(row), 5) * (1.0 - joint)
    return min(1.0, tone + 0.3 * layers3(3.0 * x, 3.0 * y, 0.0, 3)), joint


@kernel
def _streaks(x: float, y: float, z: float) -> Parts:
    """Worn plaster or old paint: clouds, and runs down the wall."""
    cloud = 0.5 + 0.9 * layers3(0.6 * x, 0.6 * y, 0.6 * z, 4)
    run = max(0.0, layers3(2.0 * x + 3.0, 2.0 * y, 0.12 * z, 3))
    return min(1.0, max(0.0, cloud)), min(1.0, run)


@kernel
def _strands(x: float, y: float, z: float) -> Parts:
    """Fur: z runs 0 (root) to 1 (tip); every hair (x, y) has its own tone."""
    tone = hash01(math.floor(x * 50.0), math.floor(y * 50.0), 2)
    return min(1.0, max(0.0, 0.25 + 0.6 * z + 0.6 * (tone - 0.5))), _step(0.8, tone, 0.1)


@kernel
def _parts(pattern: int, x: float, y: float, z: float, a: float, b: float) -> Parts:
    if pattern == 1:
        return _checks(x, y, a)
    if pattern == 2:
        return _stripes(x, a, b)
    if pattern == 3:
        return _wood(x, y, z)
    if pattern == 4:
        return _marble(x, y, z)
    if pattern == 5:
        return _speckle(x, y, z, a)
    if pattern == 6:
        return _rosettes(x, y, a)
    if pattern == 7:
        return _veins(x, y)
    if pattern == 8:
        return _blush(x, y, z, a, b)
    return _more_parts(pattern, x, y, z, a, b)


@kernel
def _more_parts(pattern: int, x: float, y: float, z: float, a: float, b: float) -> Parts:
    if pattern == 9:
        return _label(x, y, a, b)
    if pattern == 10:
        return _bands(y, a, b)
    if pattern == 11:
        return _leaf(x, y)
    if pattern == 12:
        return _weave(x, y)
    if pattern == 13:
        return _bricks(x, y)
    if pattern == 14:
        return _streaks(x, y, z)
    if pattern == 15:
        return _strands(x, y, z)
    return 0.0, 0.0


@kernel
def reflectance(stuff: Array, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Reflectance, each channel 0.005 to 0.9, at a place (cm) of a row of `packed`'s stuff."""
    s = 1.0 / stuff[9]
    b, c = _parts(int(stuff[0]), x * s, y * s, z * s, stuff[10], stuff[11])
    b, c = min(1.0, max(0.0, b)), min(1.0, max(0.0, c))
    rest = 1.0 - b
    out0 = (stuff[1] * rest + stuff[4] * b) * (1.0 - c) + stuff[20] * c
    out1 = (stuff[2] * rest + stuff[5] * b) * (1.0 - c) + stuff[21] * c
    out2 = (stuff[3] * rest + stuff[6] * b) * (1.0 - c) + stuff[22] * c
    low, high = 0.005, 0.9
    return (
        min(high, max(low, out0)), min(high, max(low, out1)), min(high, max(low, out2)),
    )  # fmt: skip
