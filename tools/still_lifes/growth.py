"""Fruit, flowers, leaves, fur, bread, eggs, and a flame: what is not turned on a wheel."""

import numpy as np
from numpy.typing import NDArray

from still_lifes.scene import Mesh
from still_lifes.shapes import ball, joined, moved, sheet, tube, turned

__all__ = [
    "apple",
    "blossom",
    "egg",
    "flame",
    "fur",
    "leaf",
    "leaf_mass",
    "lemon",
    "loaf",
    "pear",
    "sprig",
]

Array = NDArray[np.float64]


def lemon(radius: float = 3.4) -> Mesh:
    """A lemon lying along x, nipples at both ends."""

    def profile(t: Array) -> Array:
        a = np.pi * (t - 0.5)
        tip = np.abs(np.sin(a)) ** 14
        return np.stack(
            [radius * np.cos(a) + 0 * t, 1.25 * radius * np.sin(a) * (1 + 0.16 * tip)], -1
        )

    mesh = turned(profile, 64, 80)
    return moved(mesh._replace(places=mesh.points.copy()), (0, 0, radius), tilt=90)


def apple(radius: float = 4.0) -> Mesh:
    """An apple with a dent and a stalk."""

    def profile(t: Array) -> Array:
        a = np.pi * (t - 0.5)
        wide = np.cos(a) * (1 + 0.12 * np.sin(a))
        dent = np.exp(-((wide / 0.28) ** 2)) * np.where(a > 0, 0.32, 0.16)
        return np.stack([radius * wide, radius * 0.92 * (np.sin(a) - np.sign(a) * dent)], -1)

    body = turned(profile, 80, 80)
    body = body._replace(places=body.points.copy())
    foot = float(body.points[:, 2].min())
    return moved(joined(body, _stalk(0.45 * radius, 0.9 * radius, 0.6)), (0, 0, -foot))


def _stalk(low: float, high: float, lean: float) -> Mesh:
    t = np.linspace(0, 1, 12)
    return tube(np.stack([lean * t**2, 0.3 * t, low + (high - low) * t], -1), 0.22 - 0.06 * t, 10)


def pear(height: float = 10.0, radius: float = 3.9) -> Mesh:
    """A pear standing."""

    def profile(t: Array) -> Array:
        a = np.pi * (t - 0.5)
        z = 0.5 + 0.5 * np.sin(a)
        slim = 1.0 - 0.52 / (1 + np.exp(-(z - 0.58) / 0.08))
        return np.stack([radius * np.cos(a) ** 0.9 * slim * 1.03, height * z], -1)

    body = turned(lambda t: profile(np.clip(t, 1e-5, 1 - 1e-5)), 80, 72)
    body = body._replace(places=body.points.copy())
    return joined(body, _stalk(0.97 * height, 1.18 * height, 0.9))


def egg(length: float = 5.6) -> Mesh:
    """An egg lying along x."""

    def profile(t: Array) -> Array:
        a = np.pi * (t - 0.5)
        return np.stack(
            [0.39 * length * np.cos(a) * (1 - 0.12 * np.sin(a)), 0.5 * length * np.sin(a)], -1
        )

    mesh = turned(profile)
    return moved(mesh._replace(places=mesh.points.copy()), (0, 0, 0.395 * length), tilt=90)


def loaf(length: float = 18.0, width: float = 9.0, height: float = 7.0) -> Mesh:
    """A loaf with slanting cuts in its crust, lying along x."""

    def surface(u: Array, v: Array) -> Array:
        a, b = 2 * np.pi * u, np.pi * (np.clip(v, 0, 1) - 0.5)
        c = np.sign(np.cos(b)) * np.abs(np.cos(b)) ** 0.8
        x = length / 2 * np.sin(b)
        y, z = width / 2 * c * np.cos(a), height / 2 * c * np.sin(a)
        cut = np.exp(-(((((x + 0.6 * y) / length * 5.0 + 0.5) % 1.0 - 0.5) / 0.12) ** 2))
        z = np.where(z > 0, z * (1 - 0.14 * cut * np.clip(z / (height / 2), 0, 1)), 0.6 * z)
        return np.stack([x, y, z + 0.3 * height], -1)

    return sheet(surface, 96, 120)


def petal(length: float, width: float, curl: float, cup: float) -> Mesh:
    """A petal from the origin along y, rising by `curl`; places: across -1..1, 0 heart to 1 rim."""

    def surface(u: Array, v: Array) -> Array:
        x = (2 * u - 1) * np.sqrt(
            np.clip(np.sin(np.pi * (0.06 + 0.86 * np.clip(v, 0, 1.05))), 0.01, 1)
        )
        frill = 0.05 * np.sin(9 * u + 2 * v) * v**3
        z = curl * v**2 + cup * x**2 * v + frill * length * 0.4
        return np.stack([x * width / 2, length * v, z], -1)

    u, v = np.meshgrid(np.linspace(0, 1, 20), np.linspace(0, 1, 26), indexing="ij")
    return sheet(surface, 20, 26, np.stack([2 * u - 1, v, 0 * u], -1))


def blossom(
    radius: float = 5.0, petals: int = 7, layers: int = 2, seed: int = 0
) -> tuple[Mesh, Mesh]:
    """An open flower looking up: its petals and its heart."""
    rng, found = np.random.default_rng(seed), []
    for layer in range(layers):
        size, lift = radius * (1 - 0.25 * layer), 18 + 28 * layer
        for k in range(petals):
            p = petal(size, 0.85 * size, 0.15 * size * rng.uniform(-0.6, 1.2), 0.12 * size)
            turn = 360 * (k + 0.5 * layer + rng.uniform(-0.08, 0.08)) / petals
            found.append(
                moved(moved(p, lean=lift + rng.uniform(-6, 6)), (0, 0, 0.15 * layer), turn=turn)
            )
    heart = moved(ball(0.2 * radius, 0.7, rows=24, cols=32), (0, 0, 0.05 * radius))
    return joined(*found), heart


def leaf(
    length: float = 8.0, width: float = 3.5, bend: float = 0.8, fold: float = 0.5,
    grid: tuple[int, int] = (13, 26),
) -> Mesh:  # fmt: skip
    """A leaf from the origin along y that droops by `bend`; places: across, along, of its veins."""

    def surface(u: Array, v: Array) -> Array:
        half = width / 2 * np.sin(np.pi * np.clip(v, 0.0, 1.0) ** 0.8) ** 0.9 + 0.03
        x = (2 * u - 1) * half
        z = bend * length * (0.5 * v - 0.75 * v**2) + fold * np.abs(2 * u - 1) * half * 0.6
        return np.stack([x, length * v, z + 0.08 * np.sin(14 * v) * np.abs(2 * u - 1)], -1)

    across, along = np.linspace(0, 1, grid[0]), np.linspace(0.01, 0.99, grid[1])
    u, v = np.meshgrid(across, along, indexing="ij")
    places = np.stack([(2 * u - 1) * 0.5, v, 0 * u], -1)
    return sheet(lambda u, v: surface(u, 0.01 + 0.98 * v), *grid, places)


def sprig(height: float, leaves: int, size: float, seed: int) -> tuple[Mesh, Mesh]:
    """A stem with leaves to all sides: leaves, stem."""
    rng, found = np.random.default_rng(seed), []
    t = np.linspace(0, 1, 30)
    sway = rng.uniform(-0.25, 0.25, 2) * height
    path = np.stack([sway[0] * t**2, sway[1] * t**2, height * t], -1)
    for k in range(leaves):
        at = path[int(29 * (0.2 + 0.8 * k / leaves))]
        one = leaf(
            size * rng.uniform(0.7, 1.1), 0.45 * size * rng.uniform(0.8, 1.1), rng.uniform(0.4, 1.2)
        )
        up = rng.uniform(5, 55)
        found.append(moved(moved(one, lean=up), at, turn=137.5 * k + rng.uniform(-15, 15)))
    return joined(*found), tube(path, 0.3 - 0.15 * t, 10)


def leaf_mass(size: tuple[float, float, float], leaves: int, leaf_size: float, seed: int) -> Mesh:
    """Leaves strewn over a half ellipsoid, as on a bush or tree."""
    rng, found = np.random.default_rng(seed), []
    for _ in range(leaves):
        way = rng.normal(size=3)
        way[2] = abs(way[2])
        way *= rng.uniform(0.6, 1.0) ** 0.5 / np.linalg.norm(way)
        one = leaf(leaf_size * rng.uniform(0.6, 1.1), leaf_size * 0.5, 0.6, grid=(5, 8))
        tilted = moved(one, lean=rng.uniform(-50, 50), tilt=rng.uniform(-40, 40))
        found.append(moved(tilted, list(way * size), turn=rng.uniform(0, 360)))
    return joined(*found)


def fur(body: Mesh, count: int, length: float, seed: int, thick: float = 0.09) -> Mesh:
    """Hairs on the outside of a body: bent ribbons in tufts, combed towards -z and +x.

    Places: (x, y of the root, 0 at the root to 1 at the tip).
    """
    rng = np.random.default_rng(seed)
    corners = body.points[body.faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    pick = rng.choice(len(area), count, p=area / area.sum())
    w = rng.dirichlet([1, 1, 1], count)
    root = (corners[pick] * w[..., None]).sum(1)
    out = (body.normals[body.faces[pick]] * w[..., None]).sum(1)
    tuft = np.sin(1.7 * root[:, [1, 2, 0]] + 1.1 * root) * 0.45
    comb = out + np.array([0.35, 0.0, -0.45]) + tuft + rng.normal(0, 0.22, (count, 3))
    comb /= np.linalg.norm(comb, axis=1, keepdims=True)
    side = np.cross(comb, rng.normal(size=(count, 3)))
    side *= thick / np.linalg.norm(side, axis=1, keepdims=True)
    return _ribbons(root, out, comb * (length * rng.uniform(0.6, 1.1, (count, 1))), side)


def _ribbons(root: Array, out: Array, run: Array, side: Array) -> Mesh:
    """Three-step ribbons: five points each, ends in a tip."""
    droop = np.array([0.0, 0.0, -0.18]) * np.linalg.norm(run, axis=1, keepdims=True)
    middle = root + 0.5 * run + 0.25 * out * np.linalg.norm(run, axis=1, keepdims=True) * 0.5
    tip = root + run + droop
    points = np.stack([root - side, root + side, middle - 0.8 * side, middle + 0.8 * side, tip], 1)
    normal = out + 0.35 * side / np.linalg.norm(side, axis=1, keepdims=True)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    along = np.array([0.0, 0.0, 0.55, 0.55, 1.0])
    places = np.empty_like(points)
    places[..., :2], places[..., 2] = root[:, None, :2], along
    one = np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]])
    faces = (5 * np.arange(len(root)))[:, None, None] + one
    normals = np.repeat(normal[:, None], 5, axis=1)
    return Mesh(
        points.reshape(-1, 3), normals.reshape(-1, 3), places.reshape(-1, 3), faces.reshape(-1, 3)
    )


def flame(height: float = 3.2) -> Mesh:
    """A candle's flame."""

    def profile(t: Array) -> Array:
        return np.stack(
            [0.32 * height * np.sin(np.pi * np.clip(t, 0, 1) ** 0.6) ** 1.2, height * t], -1
        )

    return turned(profile, 24, 24)
