"""A scene as plain arrays for the kernels.

A row of `stuff` holds: 0 pattern, 1-3 and 4-6 first and second colour, 9 pitch, 10-11 knobs,
12 shine, 13 rough, 14 bump, 15 bump pitch, 16 thin, 17 through, 18 kind, 20-22 third colour.
A row of `lamps`: 0 kind, 1-3 place, 4-6 and 7-9 across and up, 10 radius, 11-13 rgb, 14-15 cone,
16-18 way a window or spot looks.
"""

import hashlib
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from still_lifes.bvh import build_tree
from still_lifes.scene import Lamp, Scene, Sky, Stuff
from still_lifes.surfaces import PATTERNS

__all__ = ["Packed", "fingerprint", "pack"]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


class Packed(NamedTuple):
    """boxes, jump: the tree; faces: (m, 9) a corner and two sides; corners: (m, 3) indices of
    points; thing_of: (m,); points, normals, places: (n, 3); stuff_of_point: (n,);
    stuff: (things, 24); lamps: (lamps, 19); sky: (10,).
    """

    boxes: Array
    jump: Ints
    faces: Array
    corners: Ints
    thing_of: Ints
    points: Array
    normals: Array
    places: Array
    stuff_of_point: Ints
    stuff: Array
    lamps: Array
    sky: Array


def _stuff_row(stuff: Stuff) -> Array:
    row = np.zeros(24)
    colours = (*stuff.colours, *([stuff.colours[-1]] * 2))[:3]
    row[0] = PATTERNS.index(stuff.pattern)
    row[1:4], row[4:7], row[20:23] = colours
    row[9], row[10:12] = stuff.pitch, stuff.knobs
    row[12:16] = stuff.shine, stuff.rough, stuff.bump, stuff.bump_pitch
    row[16:19] = float(stuff.thin), stuff.through, stuff.kind
    return row


def _lamp_row(lamp: Lamp) -> Array:
    row = np.zeros(19)
    row[0], row[1:4], row[4:7], row[7:10] = lamp.kind, lamp.place, lamp.across, lamp.up
    row[10], row[11:14], row[14:16] = lamp.radius, lamp.rgb, lamp.cone
    looks = np.cross(lamp.across, lamp.up) if lamp.kind == 2 else -np.asarray(lamp.place)
    row[16:19] = looks / max(float(np.linalg.norm(looks)), 1e-12)
    return row


def _sky_row(sky: Sky) -> Array:
    return np.array([*sky.top, *sky.edge, *sky.ground, sky.cloud])


def pack(scene: Scene) -> Packed:
    """The arrays of a scene with at least one thing and one lamp."""
    meshes = [thing.mesh for thing in scene.things]
    first = np.cumsum([0] + [len(m.points) for m in meshes])
    corners = np.concatenate([m.faces + n for m, n in zip(meshes, first[:-1], strict=True)])
    points = np.concatenate([m.points for m in meshes])
    owner = np.repeat(np.arange(len(meshes)), [len(m.points) for m in meshes])
    tree = build_tree(points[corners])
    corners = corners[tree.order]
    three = points[corners]
    sides = np.concatenate([three[:, 0], three[:, 1] - three[:, 0], three[:, 2] - three[:, 0]], 1)
    return Packed(
        tree.boxes,
        tree.jump,
        np.ascontiguousarray(sides),
        np.ascontiguousarray(corners),
        np.ascontiguousarray(owner[corners[:, 0]]),
        points,
        np.concatenate([m.normals for m in meshes]),
        np.concatenate([m.places for m in meshes]),
        owner,
        np.stack([_stuff_row(thing.stuff) for thing in scene.things]),
        np.stack([_lamp_row(lamp) for lamp in scene.lamps]),
        _sky_row(scene.sky),
    )


def fingerprint(packed: Packed, *more: object) -> str:
    """16 hex digits that change with anything in the scene or in `more`."""
    mill = hashlib.sha256(repr(more).encode())
    for part in packed:
        mill.update(np.ascontiguousarray(part).tobytes())
    return mill.hexdigest()[:16]
