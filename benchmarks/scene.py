"""A still life of our own, rendered as a 12-megapixel photo.

An enamel jug, two lemons (one cut), a plum and a folded linen towel on a wooden table, lit
by a window on the left. Rays are cast at the shapes of `scene_shapes`, coloured by
`scene_surfaces`; soft shadows, the window's reflection, slight depth blur, shot noise and
a tone curve follow, so that the file behaves like one from a camera.

Nothing in it is random: every run writes the same picture.

Run: python benchmarks/scene.py          (writes .cache/still-life-12mp.jpg)
"""

import math
import time
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from scene_shapes import (
    CUT,
    HANDLE,
    JUG,
    LEMON,
    PLUM,
    TABLE,
    TOWEL,
    TOWEL_MIDDLE,
    TOWEL_TURN,
    WALL,
    blocked,
    build_world,
    first_hit,
    lathe_surface,
    towel_normal,
)
from scene_surfaces import enamel, flesh, hash01, peel, plaster, plum_skin, weave, wood

__all__ = ["PHOTO", "photo", "render"]

PHOTO: Final = Path(__file__).parents[1] / ".cache" / "still-life-12mp.jpg"
WIDTH, HEIGHT = 4000, 3000

EYE = (1.0, -82.0, 43.0)
LOOK_AT = (0.2, 3.0, 7.9)
HALF_VIEW = 0.272  # tangent of half the horizontal angle of view
WINDOW_X, WINDOW = -78.0, (-64.0, 12.0, 16.0, 104.0)  # its plane; near, far, bottom, top
BAR = 2.6  # half the width of the window's bars
SKY = (1.00, 1.03, 1.09)
SUN = (1.00, 0.80, 0.52)
TO_SUN = (-0.815, -0.335, 0.473)
SUN_WINDOW = (22.0, 54.0, 44.0, 92.0)
STRATA = (4, 3)  # light samples across and up the window
EDGE_RAYS = 3  # rays through a pixel on an outline, each way
SHINE = (0.050, 0.042, 0.045, 0.020, 0.050, 0.0, 0.030, 0.0)  # mirror share, by shape

Picture = NDArray[np.float32]


# --- light -----------------------------------------------------------------------


@njit(cache=True, nogil=True)
def in_pane(y, z, window, bars):  # type: ignore[no-untyped-def]
    """How much of a window's pane there is at (y, z): 0 on its bars and beyond its frame."""
    if not (window[0] < y < window[1] and window[2] < z < window[3]):
        return 0.0
    middle = 0.5 * (window[0] + window[1])
    third = (window[3] - window[2]) / 3.0
    up = (z - window[2]) % third
    on_bar = abs(y - middle) < bars or min(up, third - up) < 0.5 * bars
    return 0.0 if on_bar else 1.0


@njit(cache=True, nogil=True)
def sky_light(px, py, pz, nx, ny, nz, column, row, world):  # type: ignore[no-untyped-def]
    """Light (one number) from the window on a surface, with its soft shadows."""
    across, up = (WINDOW[1] - WINDOW[0]) / STRATA[0], (WINDOW[3] - WINDOW[2]) / STRATA[1]
    total = 0.0
    for i in range(STRATA[0]):
        for j in range(STRATA[1]):
            k = 12 * (i * STRATA[1] + j)
            y = WINDOW[0] + (i + hash01(column, row, k)) * across
            z = WINDOW[2] + (j + hash01(column, row, k + 1)) * up
            dx, dy, dz = WINDOW_X - px, y - py, z - pz
            far = math.sqrt(dx * dx + dy * dy + dz * dz)
            dx, dy, dz = dx / far, dy / far, dz / far
            falls = dx * nx + dy * ny + dz * nz
            if falls <= 0.0 or in_pane(y, z, WINDOW, BAR) == 0.0:
                continue
            ray = (px + 1e-3 * nx, py + 1e-3 * ny, pz + 1e-3 * nz, dx, dy, dz)
            if not blocked(ray, far, world):
                total += falls * -dx / (far * far)
    return total * across * up / math.pi


@njit(cache=True, nogil=True)
def sun_light(px, py, pz, nx, ny, nz, world):  # type: ignore[no-untyped-def]
    """Sunlight (one number) that falls through another window, blurred by the sun's disc."""
    falls = TO_SUN[0] * nx + TO_SUN[1] * ny + TO_SUN[2] * nz
    if falls <= 0.0:
        return 0.0
    far = (WINDOW_X - px) / TO_SUN[0]
    blur = 0.0047 * far + 0.15
    y, z = py + far * TO_SUN[1], pz + far * TO_SUN[2]
    near, beyond, low, high = SUN_WINDOW
    if not (near - 2 < y < beyond + 2 and low - 2 < z < high + 2):
        return 0.0
    lit = 0.0
    for i in range(-2, 3):
        for j in range(-2, 3):
            lit += in_pane(y + 0.5 * blur * i, z + 0.5 * blur * j, SUN_WINDOW, 1.6) / 25.0
    if lit == 0.0:
        return 0.0
    ray = (px + 1e-3 * nx, py + 1e-3 * ny, pz + 1e-3 * nz, TO_SUN[0], TO_SUN[1], TO_SUN[2])
    return 0.0 if blocked(ray, far, world) else lit * falls


@njit(cache=True, nogil=True)
def openness(px, py, pz, nx, ny, nz, what):  # type: ignore[no-untyped-def]
    """Share of the room's light that neighbours leave, by balls that stand for them."""
    open_ = 1.0
    for x, y, z, r, own in (
        (-5.0, 9.5, 6.2, 6.6, JUG),
        (-5.0, 9.5, 16.5, 4.9, JUG),
        (9.8, 4.6, 3.0, 3.3, LEMON),
        (13.9, -6.4, 2.6, 2.8, CUT),
        (4.2, -6.2, 2.6, 2.6, PLUM),
    ):
        if own == what:
            continue
        dx, dy, dz = x - px, y - py, z - pz
        d2 = dx * dx + dy * dy + dz * dz
        facing = (dx * nx + dy * ny + dz * nz) / math.sqrt(d2)
        open_ *= 1.0 - min(max(0.5 + 0.5 * facing, 0.0) * r * r / max(d2, r * r), 0.92)
    return open_


@njit(cache=True, nogil=True)
def room_light(px, py, pz, nx, ny, nz, what):  # type: ignore[no-untyped-def]
    """Light (r, g, b) that walls, ceiling and table throw back."""
    open_ = openness(px, py, pz, nx, ny, nz, what)
    above = 0.5 + 0.5 * nz
    right = max(nx, 0.0)
    near_table = math.exp(-max(pz, 0.0) / 9.0) if what not in (TABLE, WALL) else 0.0
    room = (0.034 * above + 0.016 * right) * open_
    bounce = 0.060 * (1.0 - above) * (0.35 + 0.65 * open_) * near_table
    return room + 1.0 * bounce, room * 0.97 + 0.55 * bounce, room * 0.95 + 0.27 * bounce


# --- surfaces --------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _tilted(nx, ny, nz, tx, ty, tz):  # type: ignore[no-untyped-def]
    x, y, z = nx - tx, ny - ty, nz - tz
    size = math.sqrt(x * x + y * y + z * z)
    return x / size, y / size, z / size


@njit(cache=True, nogil=True)
def flat_surface(what, px, py, pz, world):  # type: ignore[no-untyped-def]
    """(normal, colour) of the wall, the table and the towel."""
    if what == WALL:
        r, g, b, tx, tz = plaster(px, pz)
        return _tilted(0.0, -1.0, 0.0, tx, 0.0, tz), (r, g, b)
    if what == TABLE:
        return (0.0, 0.0, 1.0), wood(px, py)
    nx, ny, nz = towel_normal(px, py, world[4])
    turn = math.radians(TOWEL_TURN)
    x, y = px - TOWEL_MIDDLE[0], py - TOWEL_MIDDLE[1]
    u, v = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    r, g, b, tu, tv = weave(u, v)
    tx, ty = tu * math.cos(turn) - tv * math.sin(turn), tu * math.sin(turn) + tv * math.cos(turn)
    return _tilted(nx, ny, nz, -tx * 2.0, -ty * 2.0, 0.0), (r, g, b)


@njit(cache=True, nogil=True)
def handle_surface(piece, px, py, pz, world):  # type: ignore[no-untyped-def]
    """(normal, colour) of the jug's handle."""
    c = world[3][piece]
    ax, ay, az = c[3] - c[0], c[4] - c[1], c[5] - c[2]
    along = ((px - c[0]) * ax + (py - c[1]) * ay + (pz - c[2]) * az) / (ax * ax + ay * ay + az * az)
    along = min(max(along, 0.0), 1.0)
    nx, ny, nz = px - c[0] - along * ax, py - c[1] - along * ay, pz - c[2] - along * az
    size = math.sqrt(nx * nx + ny * ny + nz * nz)
    return (nx / size, ny / size, nz / size), (0.014, 0.030, 0.095)


@njit(cache=True, nogil=True)
def round_surface(what, piece, px, py, pz, world):  # type: ignore[no-untyped-def]
    """(normal, colour) of a lathed shape."""
    nx, ny, nz, x, y, z = lathe_surface(what, piece, px, py, pz, world)
    normal = (nx, ny, nz)
    if what == JUG:
        start = int(world[1][JUG, 0])
        return normal, enamel(x, y, z, piece - start >= 11 * 7)
    if what == PLUM:
        return normal, plum_skin(x, y, z)
    if what == CUT and piece == int(world[1][CUT, 0]):
        return normal, flesh(x, y)
    r, g, b, tx, ty, tz = peel(x, y, z, 800 + 10 * what)
    f = world[2][what]
    wx = f[0, 0] * tx + f[1, 0] * ty + f[2, 0] * tz
    wy = f[0, 1] * tx + f[1, 1] * ty + f[2, 1] * tz
    wz = f[0, 2] * tx + f[1, 2] * ty + f[2, 2] * tz
    return _tilted(nx, ny, nz, wx, wy, wz), (r, g, b)


@njit(cache=True, nogil=True)
def surface(what, piece, px, py, pz, world):  # type: ignore[no-untyped-def]
    """(normal, colour) of whatever was met."""
    if what == HANDLE:
        return handle_surface(piece, px, py, pz, world)
    if what in (WALL, TABLE, TOWEL):
        return flat_surface(what, px, py, pz, world)
    return round_surface(what, piece, px, py, pz, world)


@njit(cache=True, nogil=True)
def mirrored(px, py, pz, nx, ny, nz, dx, dy, dz, world):  # type: ignore[no-untyped-def]
    """What a glossy surface mirrors (r, g, b), and how steeply it is looked at."""
    facing = -(dx * nx + dy * ny + dz * nz)
    rx, ry, rz = dx + 2 * facing * nx, dy + 2 * facing * ny, dz + 2 * facing * nz
    if rx < -1e-6:
        far = (WINDOW_X - px) / rx
        if in_pane(py + far * ry, pz + far * rz, WINDOW, BAR) > 0.0:
            ray = (px + 1e-3 * nx, py + 1e-3 * ny, pz + 1e-3 * nz, rx, ry, rz)
            if not blocked(ray, far, world):
                return 11.0 * SKY[0], 11.0 * SKY[1], 11.0 * SKY[2], facing
    if rz < 0.0 and pz > 0.02:
        tx, ty = px - rx * pz / rz, py - ry * pz / rz
        r, g, b = wood(tx, ty)
        light = 0.75 * openness(tx, ty, 0.0, 0.0, 0.0, 1.0, TABLE)
        return r * light, g * light, b * light, facing
    dim = 0.16 + 0.10 * max(rz, 0.0)
    return dim, 0.95 * dim, 0.88 * dim, facing


@njit(cache=True, nogil=True)
def shade(t, what, piece, ray, column, row, world):  # type: ignore[no-untyped-def]
    """Light (r, g, b) that leaves towards the camera from where a ray ends."""
    px, py, pz = ray[0] + t * ray[3], ray[1] + t * ray[4], ray[2] + t * ray[5]
    (nx, ny, nz), (cr, cg, cb) = surface(what, piece, px, py, pz, world)
    if nx * ray[3] + ny * ray[4] + nz * ray[5] > 0.0 and what < TOWEL:
        nx, ny, nz = -nx, -ny, -nz
    sky = 7.6 * sky_light(px, py, pz, nx, ny, nz, column, row, world)
    sun = 1.5 * sun_light(px, py, pz, nx, ny, nz, world)
    r, g, b = room_light(px, py, pz, nx, ny, nz, what)
    r = cr * (r + sky * SKY[0] + sun * SUN[0])
    g = cg * (g + sky * SKY[1] + sun * SUN[1])
    b = cb * (b + sky * SKY[2] + sun * SUN[2])
    shine = SHINE[what]
    if shine > 0.0:
        mr, mg, mb, facing = mirrored(px, py, pz, nx, ny, nz, ray[3], ray[4], ray[5], world)
        shine += (1.0 - shine) * 0.55 * (1.0 - min(max(facing, 0.0), 1.0)) ** 5
        if what == TABLE:
            mr, mg, mb = min(mr, 3.0), min(mg, 3.0), min(mb, 3.0)
            shine *= 0.6
        r, g, b = r + shine * mr, g + shine * mg, b + shine * mb
    return r, g, b


# --- camera ----------------------------------------------------------------------


def _camera() -> NDArray[np.float64]:
    """Rows: right, down, forward."""
    forward = np.array(LOOK_AT) - np.array(EYE)
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(forward, right), forward])


@njit(cache=True, nogil=True)
def ray_through(x, y, width, height, camera):  # type: ignore[no-untyped-def]
    """The ray through a place on the picture, in pixels from its top left corner."""
    u = HALF_VIEW * (2.0 * x - width) / width
    v = HALF_VIEW * (2.0 * y - height) / width
    dx = camera[2, 0] + u * camera[0, 0] + v * camera[1, 0]
    dy = camera[2, 1] + u * camera[0, 1] + v * camera[1, 1]
    dz = camera[2, 2] + u * camera[0, 2] + v * camera[1, 2]
    size = math.sqrt(dx * dx + dy * dy + dz * dz)
    return EYE[0], EYE[1], EYE[2], dx / size, dy / size, dz / size


@njit(cache=True, nogil=True, parallel=True)
def cast(camera, world, light, depth, what):  # type: ignore[no-untyped-def]
    """One ray through the middle of every pixel."""
    height, width = depth.shape
    for i in prange(height):
        for j in range(width):
            ray = ray_through(j + 0.5, i + 0.5, width, height, camera)
            t, kind, piece = first_hit(ray, world)
            depth[i, j] = t
            what[i, j] = kind
            r, g, b = shade(t, kind, piece, ray, j, i, world)
            light[i, j, 0], light[i, j, 1], light[i, j, 2] = r, g, b


@njit(cache=True, nogil=True, parallel=True)
def cast_again(camera, world, light, rows, cols):  # type: ignore[no-untyped-def]
    """Several rays through each pixel of an outline, averaged."""
    height, width = light.shape[:2]
    for k in prange(rows.size):
        i, j = rows[k], cols[k]
        total = np.zeros(3)
        for a in range(EDGE_RAYS):
            for c in range(EDGE_RAYS):
                x, y = j + (a + 0.5) / EDGE_RAYS, i + (c + 0.5) / EDGE_RAYS
                ray = ray_through(x, y, width, height, camera)
                t, kind, piece = first_hit(ray, world)
                r, g, b = shade(t, kind, piece, ray, EDGE_RAYS * j + a, EDGE_RAYS * i + c, world)
                total[0] += min(r, 2.0)
                total[1] += min(g, 2.0)
                total[2] += min(b, 2.0)
        for c in range(3):
            light[i, j, c] = total[c] / EDGE_RAYS**2


def _outlines(depth: Picture, what: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Pixels where one thing ends or a surface jumps."""
    near = cv2.erode(depth, np.ones((3, 3)))
    far = cv2.dilate(depth, np.ones((3, 3)))
    mixed = cv2.erode(what, np.ones((3, 3))) != cv2.dilate(what, np.ones((3, 3)))
    return np.asarray(mixed | (far - near > 0.02 * depth))


# --- developing ------------------------------------------------------------------


def _out_of_focus(light: Picture, depth: Picture) -> Picture:
    """Blur that grows with distance from the plane of focus, up to 4 pixels."""
    scale = light.shape[1] / WIDTH
    spread = np.clip(np.abs(1.0 / depth - 1.0 / 91.0) * 900.0 - 0.5, 0.0, 4.0)
    spread = cv2.GaussianBlur(spread, (0, 0), 3.0 * scale)
    result, before = light, light
    for low, high in ((0.0, 1.3), (1.3, 4.0)):
        blurred = cv2.GaussianBlur(light, (0, 0), high * scale)
        share = np.clip((spread - low) / (high - low), 0.0, 1.0)[..., None]
        result = np.where(share > 0, before * (1 - share) + blurred * share, result)
        before = blurred
    return result


def _through_lens(light: Picture) -> Picture:
    """A little glare and fall-off, and the softness of a sensor's mosaic."""
    rows, cols = light.shape[:2]
    scale = cols / WIDTH
    # Glare is wide: an eighth of the size is plenty to blur it at.
    small = cv2.resize(np.minimum(light, 2.0), (cols // 8, rows // 8), interpolation=cv2.INTER_AREA)
    glare = cv2.resize(cv2.GaussianBlur(small, (0, 0), 7.5 * scale), (cols, rows))
    y, x = np.ogrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    fall_off = 1.0 - 0.16 * (x**2 + 0.6 * y**2)
    mixed = (0.975 * light + 0.025 * glare) * fall_off[..., None]
    return np.asarray(cv2.GaussianBlur(mixed, (0, 0), 0.55), dtype=np.float32)


def _noisy(light: Picture) -> Picture:
    """Shot and read noise, slightly correlated between neighbours as after demosaicing."""
    random = np.random.default_rng(20)
    grain = random.standard_normal(light.shape, dtype=np.float32)
    grain = 1.6 * cv2.GaussianBlur(grain, (0, 0), 0.6)
    return light + grain * np.sqrt(0.00016 * np.maximum(light, 0) + 2.5e-6)


def _toned(light: Picture) -> Picture:
    """A camera's S-curve: deep shadows, a shoulder before white. In and out linear."""
    x = np.maximum(light, 0.0) * 1.3
    curved = x * (2.51 * x + 0.03) / (x * (2.43 * x + 0.59) + 0.14)
    return np.asarray(np.clip(curved, 0.0, 1.0), dtype=np.float32)


def render(width: int = WIDTH) -> NDArray[np.uint8]:
    """The still life as sRGB (rows, cols, 3), 4 to 3, `width` pixels wide."""
    height = width * 3 // 4
    camera, world = _camera(), build_world()
    light = np.empty((height, width, 3), dtype=np.float32)
    depth = np.empty((height, width), dtype=np.float32)
    what = np.empty((height, width), dtype=np.uint8)
    cast(camera, world, light, depth, what)
    rows, cols = np.nonzero(_outlines(depth, what))
    cast_again(camera, world, light, rows, cols)
    picture = _noisy(_through_lens(_out_of_focus(light, depth)))
    return linear_to_srgb8(_toned(picture))


def photo(path: Path = PHOTO) -> Path:
    """The photo's file, rendered if it is not there yet."""
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(encode_jpeg(render(), quality=92))
    return path


if __name__ == "__main__":
    start = time.perf_counter()
    PHOTO.unlink(missing_ok=True)
    size = photo().stat().st_size
    print(f"{PHOTO.name}: {size / 1e6:.1f} MB in {time.perf_counter() - start:.0f} s")
