"""Meshes: sheets, turned pots, tubes, balls, boxes. Lengths in cm, z up, standing on z = 0."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from still_lifes.scene import Mesh

__all__ = [
    "ball",
    "box",
    "joined",
    "moved",
    "plane",
    "reshaped",
    "scaled",
    "sheet",
    "tube",
    "turned",
    "turned_pot",
]

Array = NDArray[np.float64]
Surface = Callable[[Array, Array], Array]


def _faces(rows: int, cols: int) -> NDArray[np.int64]:
    """Two triangles for every cell of a grid of (rows, cols) points."""
    a = (np.arange(rows - 1)[:, None] * cols + np.arange(cols - 1)).ravel()
    one = np.stack([a, a + cols, a + cols + 1], axis=1)
    two = np.stack([a, a + cols + 1, a + 1], axis=1)
    return np.concatenate([one, two])


def _unit(v: Array) -> Array:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12))


def sheet(surface: Surface, rows: int, cols: int, places: Array | None = None) -> Mesh:
    """The surface (u, v in 0..1, arrays) → (..., 3) on a grid; outside is where ∂u × ∂v points.

    places: (rows, cols, 3); by default the points themselves. u runs along rows, v along columns.
    """
    u, v = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, cols), indexing="ij")
    points, e = surface(u, v), 1e-4
    along = surface(u + e, v) - surface(u - e, v)
    across = surface(u, v + e) - surface(u, v - e)
    normals = _unit(np.cross(along, across))
    lost = np.linalg.norm(normals, axis=-1) < 0.5  # where a side shrinks to a point
    normals[lost] = _unit(normals[~lost].mean(axis=0))
    where = points if places is None else places
    flat = [np.ascontiguousarray(a.reshape(-1, 3)) for a in (points, normals, where)]
    return Mesh(flat[0], flat[1], flat[2], _faces(rows, cols))


def plane(
    corner: Sequence[float], along: Sequence[float], across: Sequence[float], cells: int = 40
) -> Mesh:
    """A flat sheet from a corner; seen from where along × across points."""
    c, a, b = (np.asarray(v, dtype=np.float64) for v in (corner, along, across))
    wide, high = np.linalg.norm(a), np.linalg.norm(b)
    grid = np.linspace(0, 1, cells)
    u, v = np.meshgrid(grid, grid, indexing="ij")
    places = np.stack([u * wide, v * high, 0 * u], axis=-1)
    return sheet(lambda u, v: c + u[..., None] * a + v[..., None] * b, cells, cells, places)


def turned(
    profile: Callable[[Array], Array], rows: int = 64, cols: int = 96, squash: float = 1.0
) -> Mesh:
    """A turned body: profile (t in 0..1) → (..., 2) radius and height, from the foot's middle
    outwards and up; squash flattens it along y. Places: (along the rim, height, 0) in cm.
    """

    def surface(u: Array, v: Array) -> Array:
        t, angle = np.clip(v, 0, 1), 2 * np.pi * u
        rz = profile(t)
        x, y = rz[..., 0] * np.cos(angle), squash * rz[..., 0] * np.sin(angle)
        return np.stack([x, y, rz[..., 1]], axis=-1)

    t, u = np.linspace(0, 1, rows), np.linspace(0, 1, cols)
    rz = profile(t)
    rim = float(rz[:, 0].max())
    around = np.broadcast_to((((u + 0.25) % 1.0) - 0.5)[:, None] * 2 * np.pi * rim, (cols, rows))
    places = np.stack([around, np.broadcast_to(rz[:, 1], (cols, rows)), 0 * around], axis=-1)
    return _smooth_ends(sheet(surface, cols, rows, places), cols, rows)


def _smooth_ends(mesh: Mesh, cols: int, rows: int) -> Mesh:
    """At the axis a turned body's normal is up or down, whatever the differences say."""
    normals = mesh.normals.reshape(cols, rows, 3).copy()
    points = mesh.points.reshape(cols, rows, 3)
    for end, near in ((0, 1), (rows - 1, rows - 2)):
        if np.hypot(points[:, end, 0], points[:, end, 1]).max() < 1e-6:
            middle = normals[:, near].mean(axis=0)
            normals[:, end] = _unit(np.array([0.0, 0.0, middle[2]]))
    return mesh._replace(normals=normals.reshape(-1, 3))


def turned_pot(
    outline: Sequence[tuple[float, float]], wall: float = 0.0, rows: int = 72, cols: int = 96
) -> Mesh:
    """A pot from points (radius, height) of its outline, joined by a smooth curve through them.

    With a wall > 0 the outline turns at its last point and comes back inside, `wall` cm thick.
    """
    line = np.asarray(outline, dtype=np.float64)
    step = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    curve = PchipInterpolator(step / step[-1], line)
    if wall == 0.0:
        return turned(lambda t: np.asarray(curve(t)), rows, cols)
    t = np.linspace(0, 1, 60)
    outer = np.asarray(curve(t))
    back = outer[::-1] - wall * _outward(outer)[::-1]
    back[:, 0] = np.maximum(back[:, 0], 0.0)
    back[:, 1] = np.maximum(back[:, 1], wall)
    back[-1, 0] = 0.0
    both = np.concatenate([outer, back])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(both, axis=0), axis=1) + 1e-6)])
    closed = PchipInterpolator(way / way[-1], both)
    return turned(lambda t: np.asarray(closed(t)), 2 * rows, cols)


def _outward(line: Array) -> Array:
    """Unit vectors square to a line (n, 2) that runs up with its body on the left."""
    along = np.gradient(line, axis=0)
    return _unit(np.stack([along[:, 1], -along[:, 0]], axis=1))


def ball(
    radius: float, squash: float = 1.0, dent: float = 0.0, rows: int = 56, cols: int = 80
) -> Mesh:
    """A ball standing on z = 0, `squash` times as high as wide, with dents at both poles."""

    def profile(t: Array) -> Array:
        a = np.pi * (t - 0.5)
        reach = radius * (1.0 - dent * np.abs(np.sin(a)) ** 12)
        return np.stack([radius * np.cos(a), squash * (radius + reach * np.sin(a))], axis=-1)

    mesh = turned(profile, rows, cols)
    return mesh._replace(places=mesh.points - [0, 0, squash * radius])


def tube(path: Array, radii: Array, cols: int = 20) -> Mesh:
    """A tube along points (n, 3) with radii (n,): handles, spouts, stems."""
    along = _unit(np.gradient(path, axis=0))
    side = np.zeros_like(path)
    start = np.array([0.0, 0.0, 1.0]) if abs(along[0, 2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    for i, way in enumerate(along):
        start = start - (start @ way) * way
        start /= np.linalg.norm(start)
        side[i] = start
    other = np.cross(along, side)
    angle = np.linspace(0, 2 * np.pi, cols)[:, None, None]
    out = np.cos(angle) * side + np.sin(angle) * other
    points = path + radii[:, None] * out
    rows, count = points.shape[:2]
    run = np.broadcast_to(np.linspace(0, 1, count) * _length(path), (rows, count))
    places = np.stack([np.broadcast_to(angle[..., 0], (rows, count)), run, 0 * run], axis=-1)
    flat = [a.reshape(-1, 3) for a in (points, np.broadcast_to(out, points.shape), places)]
    return Mesh(flat[0], flat[1].copy(), flat[2], _faces(rows, count))


def _length(path: Array) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def box(size: tuple[float, float, float], cells: int = 14) -> Mesh:
    """A box (x, y, z) standing on z = 0, middle of its foot at the origin."""
    x, y, z = size
    a, b = x / 2, y / 2
    sides = [
        plane((-a, -b, 0), (x, 0, 0), (0, 0, z), cells),
        plane((a, -b, 0), (0, y, 0), (0, 0, z), cells),
        plane((a, b, 0), (-x, 0, 0), (0, 0, z), cells),
        plane((-a, b, 0), (0, -y, 0), (0, 0, z), cells),
        plane((-a, -b, z), (x, 0, 0), (0, y, 0), cells),
        plane((-a, b, 0), (x, 0, 0), (0, -y, 0), cells),
    ]
    whole = joined(*sides)
    return whole._replace(places=np.asarray(whole.points))


def joined(*meshes: Mesh) -> Mesh:
    """Several meshes as one thing."""
    first = np.cumsum([0] + [len(m.points) for m in meshes])
    return Mesh(
        np.concatenate([m.points for m in meshes]),
        np.concatenate([m.normals for m in meshes]),
        np.concatenate([m.places for m in meshes]),
        np.concatenate([m.faces + n for m, n in zip(meshes, first[:-1], strict=True)]),
    )


def _matrix(about: str, degrees: float) -> Array:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[about]
    m = np.eye(3)
    m[i, i], m[i, j], m[j, i], m[j, j] = c, -s, s, c
    return m


def moved(
    mesh: Mesh,
    to: Sequence[float] = (0, 0, 0),
    turn: float = 0.0,
    tilt: float = 0.0,
    lean: float = 0.0,
) -> Mesh:
    """The mesh leaned about x, tilted about y, turned about z (degrees), then moved."""
    m = _matrix("z", turn) @ _matrix("y", tilt) @ _matrix("x", lean)
    return mesh._replace(points=mesh.points @ m.T + np.asarray(to), normals=mesh.normals @ m.T)


def reshaped(mesh: Mesh, points: Array) -> Mesh:
    """The mesh with its points (n, 3) elsewhere; normals anew, alike where points coincide."""
    three = points[mesh.faces]
    flat = np.cross(three[:, 1] - three[:, 0], three[:, 2] - three[:, 0])
    _, same = np.unique(np.round(points, 6), axis=0, return_inverse=True)
    total = np.zeros((int(same.max()) + 1, 3))
    for corner in range(3):
        np.add.at(total, same.ravel()[mesh.faces[:, corner]], flat)
    normals = _unit(total[same.ravel()])
    turn = np.sign((normals * mesh.normals).sum(axis=1, keepdims=True).mean())
    return mesh._replace(points=points, normals=normals * turn)


def scaled(mesh: Mesh, by: Sequence[float]) -> Mesh:
    """The mesh stretched along x, y, z."""
    f = np.asarray(by, dtype=np.float64)
    return mesh._replace(points=mesh.points * f, normals=_unit(mesh.normals / f))
