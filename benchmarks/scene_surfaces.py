"""What the still life's surfaces look like close up: wood, weave, enamel, peel, flesh, plaster.

Every function takes a place on a surface in centimetres and returns linear sRGB
reflectances; all detail comes from hashed noise, so it is the same at every run and keeps
appearing down to a tenth of a millimetre.
"""

import math

from numba import njit

__all__ = ["enamel", "flesh", "hash01", "peel", "plaster", "plum_skin", "weave", "wood"]


@njit(cache=True, nogil=True)
def hash01(i, j, k):  # type: ignore[no-untyped-def]
    """A number in [0, 1) that looks random, from three whole numbers."""
    h = (i * 374761393 + j * 668265263 + k * 2147483647 + 1274126177) & 0xFFFFFFFF
    h = ((h ^ (h >> 13)) * 1274126177) & 0xFFFFFFFF
    h = ((h ^ (h >> 15)) * 2246822519) & 0xFFFFFFFF
    return ((h ^ (h >> 16)) & 0xFFFFFF) / 16777216.0


@njit(cache=True, nogil=True)
def _ease(t):  # type: ignore[no-untyped-def]
    return t * t * t * (t * (6.0 * t - 15.0) + 10.0)


@njit(cache=True, nogil=True)
def noise2(x, y, seed):  # type: ignore[no-untyped-def]
    """Smooth noise in [-1, 1] with features about 1 wide."""
    i, j = math.floor(x), math.floor(y)
    u, v = _ease(x - i), _ease(y - j)
    i, j = int(i), int(j)
    low = hash01(i, j, seed) * (1 - u) + hash01(i + 1, j, seed) * u
    high = hash01(i, j + 1, seed) * (1 - u) + hash01(i + 1, j + 1, seed) * u
    return 2.0 * (low * (1 - v) + high * v) - 1.0


@njit(cache=True, nogil=True)
def noise3(x, y, z, seed):  # type: ignore[no-untyped-def]
    """Smooth noise in [-1, 1] in space, features about 1 wide."""
    k = math.floor(z)
    w = _ease(z - k)
    k = int(k)
    return noise2(x, y, seed + 57 * k) * (1 - w) + noise2(x, y, seed + 57 * (k + 1)) * w


@njit(cache=True, nogil=True)
def layers2(x, y, seed, octaves):  # type: ignore[no-untyped-def]
    """Noise of `octaves` scales, each twice as fine and half as strong."""
    total, size, scale = 0.0, 0.5, 1.0
    for o in range(octaves):
        total += size * noise2(x * scale, y * scale, seed + o)
        size *= 0.5
        scale *= 2.03
    return total


@njit(cache=True, nogil=True)
def _blend(a, b, t):  # type: ignore[no-untyped-def]
    return a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, a[2] + (b[2] - a[2]) * t


@njit(cache=True, nogil=True)
def _scaled(a, t):  # type: ignore[no-untyped-def]
    return a[0] * t, a[1] * t, a[2] * t


@njit(cache=True, nogil=True)
def _step(low, high, x):  # type: ignore[no-untyped-def]
    t = min(max((x - low) / (high - low), 0.0), 1.0)
    return t * t * (3.0 - 2.0 * t)


@njit(cache=True, nogil=True)
def wood(x, y):  # type: ignore[no-untyped-def]
    """A table of three boards along x: rings, fibres, pores, joints, wear."""
    board = math.floor((y + 44.0) / 14.5)
    across = (y + 44.0) / 14.5 - board
    seed = 900 + 31 * int(board)
    u, v = x * 0.045 + 7.3 * board, (across - 0.5) * 14.5
    bend = 2.2 * layers2(u, v * 0.12, seed, 3)
    ring = (v + bend) * 0.55 + 0.04 * x + 0.35 * layers2(x * 0.12, v * 0.9, seed + 7, 3)
    saw = ring - math.floor(ring)
    late = _step(0.45, 0.92, saw) * (1.0 - _step(0.93, 1.0, saw))
    fibre = layers2(x * 0.7, v * 13.0, seed + 11, 3)
    fine = layers2(x * 3.0, v * 55.0, seed + 17, 2)
    pore = _step(0.42, 0.75, noise2(x * 1.6, v * 22.0, seed + 23))
    colour = _blend((0.42, 0.225, 0.105), (0.205, 0.090, 0.038), late)
    colour = _scaled(colour, 1.0 + 0.10 * noise2(board * 9.1, 0.5, 77) + 0.16 * fibre + 0.13 * fine)
    colour = _scaled(colour, (1.0 - 0.42 * pore) * (1.0 + 0.14 * layers2(x * 0.05, y * 0.06, 5, 3)))
    edge = min(across, 1.0 - across) * 14.5
    return _scaled(colour, 1.0 - 0.9 * (1.0 - _step(0.05, 0.16, edge)))


@njit(cache=True, nogil=True)
def weave(u, v):  # type: ignore[no-untyped-def]
    """Linen: colour, then how its threads tilt the surface along u and v."""
    pitch = 0.058
    thick_u = 1.0 + 0.22 * noise2(u * 2.0, math.floor(v / pitch), 301)
    thick_v = 1.0 + 0.22 * noise2(v * 2.0, math.floor(u / pitch), 302)
    p = u / pitch + 0.25 * noise2(u * 1.1, v * 0.8, 303)
    q = v / pitch + 0.25 * noise2(u * 0.8, v * 1.1, 304)
    over = (math.floor(p) + math.floor(q)) % 2 == 0
    fp, fq = p - math.floor(p) - 0.5, q - math.floor(q) - 0.5
    body = math.cos(2.2 * fq) * thick_u if over else math.cos(2.2 * fp) * thick_v
    shade = 0.72 + 0.30 * body + 0.05 * noise2(u * 40.0, v * 40.0, 305)
    colour = (0.74, 0.705, 0.62)
    stripe = _step(5.35, 5.45, abs(u)) * (1.0 - _step(6.75, 6.85, abs(u)))
    stripe += _step(7.35, 7.45, abs(u)) * (1.0 - _step(7.75, 7.85, abs(u)))
    colour = _blend(colour, (0.055, 0.115, 0.235), min(stripe, 1.0) * (0.86 if over else 0.97))
    colour = _scaled(colour, shade * (1.0 + 0.05 * layers2(u * 0.4, v * 0.4, 306, 3)))
    tilt_u = 0.16 * fp if not over else 0.05 * fp
    tilt_v = 0.16 * fq if over else 0.05 * fq
    return colour[0], colour[1], colour[2], tilt_u, tilt_v


@njit(cache=True, nogil=True)
def enamel(x, y, z, inside):  # type: ignore[no-untyped-def]
    """Duck-egg enamel with a dark blue rim, a cream inside and a few chips down to iron."""
    angle = math.atan2(y, x)
    cloud = 0.05 * noise3(x * 0.5, y * 0.5, z * 0.5, 401) + 0.01 * noise3(x * 9, y * 9, z * 9, 402)
    colour = (0.72, 0.68, 0.56) if inside else (0.33, 0.50, 0.475)
    colour = _scaled(colour, 1.0 + cloud)
    wave = 0.10 * noise2(angle * 5.0, 0.5, 403) + 0.03 * noise2(angle * 31.0, 0.5, 404)
    rim = _step(21.55 + wave, 21.68 + wave, z) + 1.0 - _step(0.75 + wave, 0.88 + wave, z)
    colour = _blend(colour, (0.012, 0.026, 0.085), min(rim, 1.0))
    chip = noise3(x * 1.3, y * 1.3, z * 1.3, 405) + 0.35 * noise3(x * 7, y * 7, z * 7, 406)
    place = 0.97 - 0.16 * _step(20.6, 22.6, z) - 0.16 * (1.0 - _step(0.2, 2.6, z))
    chipped = _step(place, place + 0.04, chip)
    rust = 0.5 + 0.5 * noise3(x * 14, y * 14, z * 14, 407)
    colour = _blend(colour, (0.02 + 0.05 * rust, 0.016 + 0.02 * rust, 0.014), chipped)
    speck = _step(0.90, 0.96, noise3(x * 11, y * 11, z * 11, 408))
    return _scaled(colour, 1.0 - 0.18 * speck)


@njit(cache=True, nogil=True)
def peel(x, y, z, seed):  # type: ignore[no-untyped-def]
    """Lemon peel: colour, greener at the tips, and its pores' tilt along x, y, z."""
    tip = _step(2.9, 4.5, abs(z))
    colour = _blend((0.86, 0.53, 0.022), (0.56, 0.48, 0.040), tip)
    colour = _scaled(colour, 1.0 + 0.10 * noise3(x * 0.8, y * 0.8, z * 0.8, seed))
    freq = 6.2
    here = noise3(x * freq, y * freq, z * freq, seed + 1)
    e = 0.03
    tx = noise3((x + e) * freq, y * freq, z * freq, seed + 1) - here
    ty = noise3(x * freq, (y + e) * freq, z * freq, seed + 1) - here
    tz = noise3(x * freq, y * freq, (z + e) * freq, seed + 1) - here
    pore = _step(-0.75, -0.35, here)
    fine = 1.0 + 0.05 * noise3(x * 31, y * 31, z * 31, seed + 2)
    colour = _scaled(colour, (0.86 + 0.14 * pore) * fine)
    bump = 0.020 / e
    return colour[0], colour[1], colour[2], tx * bump, ty * bump, tz * bump


@njit(cache=True, nogil=True)
def flesh(x, y):  # type: ignore[no-untyped-def]
    """The cut face of a lemon: rind, pith, nine segments with their juice cells."""
    r, angle = math.hypot(x, y), math.atan2(y, x)
    slot = (angle + 0.05 * noise2(r * 2, angle * 3, 501)) * 9.0 / (2.0 * math.pi)
    side = abs(slot - math.floor(slot) - 0.5) * 2.0  # 1 at a membrane
    gap = (1.0 - side) * r * math.pi / 9.0  # cm to the nearest membrane
    cell = layers2(r * 5.0 + 0.4 * noise2(x * 5, y * 5, 502), slot * 9.0, 503, 3)
    juice = _blend((0.72, 0.56, 0.13), (0.90, 0.80, 0.36), 0.5 + 0.9 * cell)
    pith = (0.86, 0.80, 0.58)
    inner = _step(0.035, 0.10, gap) * _step(0.22, 0.34, r) * (1.0 - _step(2.48, 2.62, r))
    colour = _blend(pith, juice, inner)
    rind = _step(2.86, 2.95, r + 0.04 * noise2(x * 6, y * 6, 504))
    return _blend(colour, (0.83, 0.58, 0.03), rind)


@njit(cache=True, nogil=True)
def plum_skin(x, y, z):  # type: ignore[no-untyped-def]
    """Dark skin, nearly black, reddish on one side, under a bloom rubbed off in places."""
    red = _step(-0.6, 0.9, noise3(x * 0.5, y * 0.5, z * 0.5, 601) + 0.3 * x)
    colour = _blend((0.020, 0.012, 0.040), (0.095, 0.010, 0.020), red)
    rub = noise3(x * 0.9, y * 0.9, z * 0.9, 602) + 0.45 * noise3(x * 4, y * 4, z * 4, 603)
    bloom = _step(-0.25, 0.75, rub + 0.2 * noise3(x * 26, y * 26, z * 26, 604))
    colour = _blend(colour, (0.105, 0.105, 0.19), 0.55 * bloom)
    speck = _step(0.72, 0.8, noise3(x * 7.5, y * 7.5, z * 7.5, 605))
    return _blend(colour, (0.16, 0.11, 0.09), 0.5 * speck)


@njit(cache=True, nogil=True)
def plaster(x, z):  # type: ignore[no-untyped-def]
    """Limewashed wall: colour, then the tilt of its brush marks along x and z."""
    cloud = layers2(x * 0.045, z * 0.05, 701, 4)
    brush = layers2(x * 0.35 + 0.3 * z, z * 1.2 - 0.25 * x, 702, 4)
    grain = layers2(x * 7.0, z * 7.0, 703, 3)
    colour = _blend((0.40, 0.375, 0.335), (0.30, 0.295, 0.29), 0.5 + 0.8 * cloud)
    colour = _scaled(colour, 1.0 + 0.09 * brush + 0.10 * grain)
    return colour[0], colour[1], colour[2], 0.10 * brush + 0.12 * grain, 0.12 * grain - 0.1 * brush
