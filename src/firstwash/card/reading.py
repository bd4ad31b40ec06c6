"""A photo of a swatch card becomes swatch colours, or one sentence on why it cannot."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.camera import CameraBelief, learn_camera, usual_camera
from firstwash.card.doubts import check_picture, left_bare
from firstwash.card.finding import CardMap, find_card, map_from_touches
from firstwash.card.layout import COLUMNS, Box, slot_box
from firstwash.card.straight import LightField, bare_paper, straighten
from firstwash.card.target import find_target
from firstwash.card.windows import Window, paper_texture, read_windows
from firstwash.errors import PhotoError
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import light as light_of
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import default_paper
from firstwash.picture.load import Photo
from firstwash.picture.profile import linear_to_srgb8

__all__ = ["Reading", "read_card"]

# Chosen by trials on made-up photos (tools/card_trials.py).
SMALLEST: Final = 4.0  # pixels per mm, in the direction the card is most foreshortened
TARGET_POOR: Final = 2.2  # of `CameraBelief.misfit` above which the light is to be doubted
TARGET_MISFIT: Final = 3.5  # of `CameraBelief.misfit` above which the target is not believed

BRIGHT: Final = (
    "The colour target is too bright in the photo, so it was not used; expose for its whitest "
    "patch."
)
UNLIKE: Final = (
    "The colour target looks unlike the usual one, so it was not used; keep glare and shadow off "
    "it."
)
ODD_LIGHT: Final = (
    "This light shows colours oddly, as the colour target tells; photograph the card by daylight."
)

Progress = Callable[[str, float], None]


def _silent(step: str, done: float) -> None:
    del step, done


@dataclass(frozen=True, eq=False)
class Reading:
    """What a photo of a card says.

    windows: of every row that can be read, without places that nobody painted. camera, paper:
    what is thought of them now. card, light: how the card lies and is lit. warnings: sentences;
    a photo without any can be trusted. left_out: rows (0-7) that cannot be read. texture: share
    by which bare paper is speckled, by its tooth and the camera's noise.
    """

    windows: tuple[Window, ...]
    camera: CameraBelief
    paper: Paper
    card: CardMap
    light: LightField
    warnings: tuple[str, ...]
    left_out: tuple[int, ...]
    texture: float | None = None

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows that were read."""
        return tuple(sorted({w.row for w in self.windows}))


def read_card(
    photo: Photo,
    rows: int,
    touches: FloatArray | None = None,
    frame: Box | None = None,
    progress: Progress = _silent,
) -> Reading:
    """Read the first `rows` rows of the card in a photo.

    touches, frame: (4, 2) pixels and the pencil frame in mm, for a card drawn by hand; else the
    printed markers are looked for. Raises PhotoError where the photo is of no use.
    """
    progress("Finding the card", 0.1)
    linear = _own(photo)
    size = (linear.shape[1], linear.shape[0])
    printed = False
    if touches is None or frame is None:
        printed = True
        mean = cv2.transform(linear, np.full((1, 3), 1 / 3, dtype=np.float32))
        grey = linear_to_srgb8(np.asarray(mean, dtype=np.float32))
        card = find_card(np.ascontiguousarray(grey.reshape(linear.shape[:2])))
    else:
        card = map_from_touches(touches, frame, size)
    if float(card.scale()[0]) < SMALLEST:
        raise PhotoError(
            "The card is too small in the photo; go closer, so that it fills the picture."
        )
    shown = [row for row in range(rows) if card.inside(slot_box(row))]
    progress("Straightening it", 0.3)
    picture = straighten(linear, card)
    bare = bare_paper(picture, shown)
    if len(bare.colour) < 2 * COLUMNS // 2:
        raise PhotoError("The card's windows are not in the photo; photograph the whole card.")
    light = LightField.of(bare, len(shown))
    windows = read_windows(picture, light, shown)
    found = check_picture(picture, linear, card, bare, light, windows, rows, printed)
    if found.refused:
        raise PhotoError(found.refused)
    progress("Reading its colours", 0.5)
    camera, paper, target = _camera(linear, card, light, usual_camera(photo.to_srgb))
    kept = tuple(w for w in windows if w.row not in found.left_out and not left_bare(w))
    read = sorted({w.row for w in kept})
    return Reading(
        kept, camera, paper, card, light, (*found.warnings, *target), found.left_out,
        paper_texture(picture, light, read),
    )  # fmt: skip


def _own(photo: Photo) -> NDArray[np.float32]:
    """The photo in its own primaries: there each channel's tones were bent by themselves."""
    if np.array_equal(photo.to_srgb, np.eye(3)):
        return photo.linear
    back = np.linalg.inv(photo.to_srgb).astype(np.float32)
    return np.asarray(cv2.transform(photo.linear, back), dtype=np.float32)


def _camera(
    linear: NDArray[np.float32], card: CardMap, light: LightField, usual: CameraBelief
) -> tuple[CameraBelief, Paper, tuple[str, ...]]:
    """What is thought of camera and paper, and what is odd about a target in the photo."""
    paper = default_paper()
    patches = find_target(linear, card)
    if patches is None:
        return usual, paper, ()
    if patches.clipped > 2:
        return usual, paper, (BRIGHT,)
    camera = learn_camera(usual, patches.colour, patches.place)
    if camera.misfit is not None and camera.misfit > TARGET_MISFIT:
        return usual, paper, (UNLIKE,)
    paper = paper_seen(camera, *light.beyond(patches.centre))
    poor = camera.misfit is not None and camera.misfit > TARGET_POOR
    return camera.told_of(_level(paper)), paper, (ODD_LIGHT,) if poor else ()


def _level(paper: Paper) -> float:
    return float(paper.reflectance @ light_of("D65").weights[:, 1])


def paper_seen(camera: CameraBelief, seen: FloatArray, unsure: float) -> Paper:
    """The bare paper as a camera that knows a target sees it.

    seen: (3,) linear light of paper where the target lies; unsure: of its logarithm. Its colour
    is told well, its lightness less, for the light runs on unseen from the card to the target.
    """
    usual = default_paper()
    nm = np.linspace(-1.0, 1.0, N_BANDS)
    ways = np.stack([np.ones(N_BANDS), nm, nm**2 - 1.0 / 3.0])
    pull, level = np.array([0.04, 0.05, 0.04]), float(np.hypot(0.03, unsure))
    share = np.maximum(np.asarray(seen), 1e-4) / np.asarray(camera.white)
    look = camera.looking(share[None], np.ones((1, 3)), np.ones(N_BANDS)).now(
        np.zeros(len(camera.responses) + len(camera.bends) + 2)
    )
    goal = look.shares(share[None])[0]
    noise = np.linalg.inv(0.01**2 * np.eye(3) + level**2 * np.ones((3, 3)))
    c = np.zeros(3)
    for _ in range(8):
        reflectance = usual.reflectance * np.exp(c @ ways)
        given = reflectance @ look.response
        off = goal - np.log(given / look.response.sum(axis=0))
        slope = (look.response.T * reflectance) @ ways.T / given[:, None]
        lhs = slope.T @ noise @ slope + np.diag(pull**-2.0)
        c = c + np.linalg.solve(lhs, slope.T @ noise @ off - c / pull**2)
    white = np.clip(usual.reflectance * np.exp(c @ ways), 0.3, 0.98)
    return replace(
        usual, name="your paper", reflectance=white,
        provenance="white as seen beside a colour target; surface of the built-in paper",
    )  # fmt: skip
