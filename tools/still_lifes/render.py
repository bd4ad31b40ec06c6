"""From a scene to a picture with its truth.

First the light on every mesh point: lamps, then bounce after bounce [Goral1984]; then one gather of
rays from every part of a pixel into that light (final gather), so what reaches the eye has been
thrown back up to `BOUNCES` + 1 times. Gathered light alone is smoothed, within one thing and one
turn of its surface, and never across texture: reflectance is multiplied afterwards.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.parallel import in_parallel
from still_lifes.drawing import Counts, Planes, draw_rows, empty_planes, keep_bounce, keep_lamps
from still_lifes.packed import Packed, fingerprint, pack
from still_lifes.scene import SOLID, Eye, Scene
from still_lifes.smoothing import smoothed_light
from still_lifes.truth import Rendered

__all__ = ["made_of", "render"]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
VERSION: Final = 2  # raise it when kernels or patterns change: pictures kept on disk are redrawn
BOUNCES: Final = 4
LUMINANCE: Final = linear_srgb_to_xyz(np.eye(3))[:, 1]
BAND = 8  # rows or points that a thread takes at a time


def made_of(scene: Scene, width: int, seed: int = 0) -> str:
    """A mark (16 hex digits) of everything that a picture depends on."""
    return fingerprint(
        pack(scene), scene.eye, scene.exposure, scene.balance, width, seed, VERSION,
        [t.name for t in scene.things],
    )  # fmt: skip


def render(
    scene: Scene, width: int = 320, fine: int = 2, counts: Counts | None = None, seed: int = 0,
    aspect: float = 0.75, bounces: int = BOUNCES,
) -> Rendered:  # fmt: skip
    """The picture of a scene, `width` pixels wide. The same seed gives the same bytes."""
    packed, sampling = pack(scene), counts or Counts()
    cache = _kept_light(packed, bounces)
    rows, cols = round(width * aspect) * fine, width * fine
    planes = empty_planes(rows, cols)
    eye = _view(scene.eye, cols)
    _in_bands(rows, lambda a, b: draw_rows(packed, cache, eye, planes, a, b, sampling, seed))
    planes = planes._replace(gathered=smoothed_light(planes, _pixel_size(scene.eye, cols)))
    return _finished(scene, planes, fine)


def _in_bands(count: int, work: Callable[[int, int], None], size: int = BAND) -> None:
    starts = range(0, count, size)
    in_parallel(lambda a: work(a, min(a + size, count)), starts)


def _kept_light(packed: Packed, bounces: int) -> Array:
    """Light (points, 2 sides, 3) on every mesh point."""
    n = len(packed.points)
    lamps = np.zeros((n, 2, 3))
    _in_bands(n, lambda a, b: keep_lamps(packed, lamps, a, b, 6), 512)
    light = lamps
    for bounce in range(bounces):
        light = _bounced(packed, lamps, light, bounce)
    return light


def _bounced(packed: Packed, lamps: Array, before: Array, bounce: int) -> Array:
    out = np.zeros_like(before)
    count = min(16, max(4, 900_000 // len(before)))  # fur has very many points
    _in_bands(
        len(before), lambda a, b: keep_bounce(packed, lamps, before, out, a, b, count, bounce), 512
    )
    return out


def _view(eye: Eye, cols: int) -> Array:
    """Place, middle of the view, and a part's step right and down, (4, 3)."""
    place, at = np.asarray(eye.place), np.asarray(eye.at)
    ahead = (at - place) / np.linalg.norm(at - place)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    step = 2.0 * np.tan(np.radians(eye.half_angle)) / cols
    return np.stack([place, ahead, right * step, np.cross(ahead, right) * step])


def _pixel_size(eye: Eye, cols: int) -> float:
    """Width (cm) of a part of a pixel at the middle of the scene."""
    far = float(np.linalg.norm(np.asarray(eye.at) - np.asarray(eye.place)))
    return far * 2.0 * float(np.tan(np.radians(eye.half_angle))) / cols


def _mean(plane: Floats, fine: int) -> Floats:
    """Means over blocks of `fine` x `fine` parts."""
    rows, cols = plane.shape[0] // fine, plane.shape[1] // fine
    blocks = plane.reshape(rows, fine, cols, fine, -1).mean(axis=(1, 3))
    return np.ascontiguousarray(blocks.reshape(rows, cols, *plane.shape[2:]), dtype=np.float32)


def _finished(scene: Scene, planes: Planes, fine: int) -> Rendered:
    light = (planes.key + planes.lamps + planes.gathered) * planes.passes[..., None]
    body = _mean(planes.reflectance * light, fine)
    colour = _mean(planes.reflectance, fine)
    shine = _mean(planes.gloss, fine)
    seen = np.divide(body, colour, out=np.zeros_like(body), where=colour > 1e-6)
    things = planes.thing[fine // 2 :: fine, fine // 2 :: fine]
    sky, names = len(scene.things), tuple(t.name for t in scene.things)
    solid = np.array([t.stuff.kind == SOLID for t in scene.things] + [False])
    key, fill = _light_colours(scene, planes, solid)
    scale = _camera(scene, body + shine)
    rgb = (colour * (seen * scale) + shine * scale).astype(np.float32)
    return Rendered(
        rgb,
        colour,
        (seen * scale).astype(np.float32),
        (shine * scale).astype(np.float32),
        np.where(things < 0, sky, things).astype(np.int32),
        (*names, "sky"),
        _mean(planes.shadow, fine),
        _mean(planes.facing, fine),
        _balanced(key, scene, scale),
        _balanced(fill, scene, scale),
        _mean(solid[planes.thing].astype(np.float32), fine) > 0.999,
    )


def _camera(scene: Scene, rgb: Floats) -> Array:
    """Factor (3,) that a camera puts on linear light: exposure and white balance."""
    key = np.asarray(scene.lamps[0].rgb)
    gains = (key @ LUMINANCE / np.maximum(key, 1e-3 * key.max())) ** scene.balance
    brightest = float(np.percentile((rgb * gains).max(axis=-1), 99.5))
    return np.asarray(gains * scene.exposure / brightest)


def _balanced(colour: Array, scene: Scene, scale: Array) -> Array:
    """A light's colour (3,) as the camera has it; the key's luminance is 1 before and after."""
    key = np.asarray(scene.lamps[0].rgb)
    return np.asarray(colour * scale * (key @ LUMINANCE) / ((key * scale) @ LUMINANCE))


def _light_colours(scene: Scene, planes: Planes, solid: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Colours (3,) of the key, luminance 1, and of the mean of all other light beside it."""
    key = np.asarray(scene.lamps[0].rgb)
    there = solid[planes.thing]
    other = (planes.lamps + planes.gathered)[there]
    fill = other.mean(axis=0, dtype=np.float64) if len(other) else np.zeros(3)
    middle = _strength(scene)
    return key / (key @ LUMINANCE), np.asarray(fill / middle)


def _strength(scene: Scene) -> float:
    """Luminance of the light that the key gives to what faces it at the table's middle."""
    lamp = scene.lamps[0]
    rgb, place = np.asarray(lamp.rgb), np.asarray(lamp.place)
    if lamp.kind == 1:
        return float(rgb @ LUMINANCE)
    distance2 = float(place @ place)
    if lamp.kind == 0:
        return float(rgb @ LUMINANCE) / distance2
    size = np.linalg.norm(lamp.across) * np.linalg.norm(lamp.up)
    cosine = np.hypot(place[0], place[1]) / np.sqrt(distance2)
    return float(rgb @ LUMINANCE) * float(size * cosine) / distance2
